"""Heat that a flame brings to a face within a time step, integrated along its way."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.heating.flame import Flame
from flamefe.heating.path import Pose, TorchPath
from flamefe.heating.surface import FacePoints, GasFilm

Array = NDArray[np.float64]

LEAST_FOOTPRINT = 0.05
"""Below this share on the face the flame counts as having left the part."""


class Bathing(NamedTuple):
    """What a flame does to a part within a step.

    Args:
        powers: (n,) W, mean nodal powers of absorbed flux.
        footprint: share of the flame that lay on its face; 1 for hot gas.
        film: hot gas over the face; None without.
    """

    powers: Array
    footprint: float
    film: GasFilm | None


@dataclass(frozen=True, kw_only=True, eq=False)
class Deposit:
    """A flame over a face.

    The flux is integrated along the path within each step and scaled so that the power that
    enters the mesh is the stated absorbed power, also at an edge where part of the flame passes
    the part by (``footprint`` tells how much of it lay on the face). A woven flame swings to and
    fro over its width like a pendulum, quickly against the heating.

    Args:
        flame: power and shape, or hot gas.
        path: timed positions; not needed where the torch is driven by temperature.
        face: quadrature points of the face that is heated.
        name: for messages.
    """

    flame: Flame
    path: TorchPath | None = None
    face: FacePoints
    name: str = "heat"

    @property
    def timed(self) -> TorchPath:
        """The timed path.

        Raises:
            OutOfRange: the torch has none.
        """
        if self.path is None:
            raise OutOfRange(f"{self.name} has no timed path; give one, or drive it.")
        return self.path

    def over(self, start: float, end: float) -> Bathing:
        """Mean over [start, end] s of burning along the timed path.

        Raises:
            OutOfRange: the flame has left the face.
        """
        burning = max(min(end, self.timed.duration) - max(start, 0.0), 0.0)
        if burning == 0.0:
            return Bathing(np.zeros(self.face.nodes), 1.0, None)
        first = max(start, 0.0)
        travel = self.timed.fastest * burning
        count = max(1, int(np.ceil(8.0 * travel / self.flame.size)))
        moments = first + burning * (np.arange(count) + 0.5) / count
        when = f"between {first:g} and {first + burning:g} s of burning"
        return self.at(self.timed.pose(moments), share=burning / (end - start), when=when)

    def at(
        self,
        pose: Pose,
        *,
        share: float = 1.0,
        when: str = "at some moment",
        whole: bool = True,
    ) -> Bathing:
        """Mean over the poses given, burning for a ``share`` of the step.

        Args:
            pose: (m,) poses, each as long as the others.
            share: of the step in which the flame burns.
            when: for messages.
            whole: all of the stated power enters the part, even where some of the flame passes
                it by; False: what passes it by is lost.

        Raises:
            OutOfRange: the flame has left the face.
        """
        flux = np.zeros(self.face.areas.shape)
        film, gas = np.zeros_like(flux), np.zeros_like(flux)
        count = len(pose.place)
        for place, way, width in zip(pose.place, pose.way, pose.width, strict=True):
            offset = self.face.offsets(place)
            along = offset @ way
            side = np.cross(self.face.normals, way)
            across = np.einsum("ki,ki->k", offset, side)
            shifts = weave_places(float(width), self.flame.size)
            for shift in shifts:
                bath = self.flame.bath(along, across - shift)
                part = 1.0 / (count * len(shifts))
                flux += part * bath.flux
                film += part * bath.coefficient
                gas += part * bath.coefficient * bath.gas
        if self.flame.power is None:
            warm = film > 0.0
            gas[warm] /= film[warm]
            return Bathing(
                np.zeros(self.face.nodes),
                1.0,
                GasFilm(face=self.face, coefficient=share * film, gas=gas),
            )
        landed = float(flux @ self.face.areas) / self.flame.power
        if landed < LEAST_FOOTPRINT:
            raise OutOfRange(
                f"{self.name}: {when} only {100 * landed:.1f} % of the flame lies on its face; "
                "the flame has left the part. Move the path onto the face."
            )
        scale = 1.0 / landed if whole else 1.0
        return Bathing(self.face.gather(flux) * (scale * share), landed, None)

    def energy(self, start: float, end: float) -> float:
        """Heat that the flame is stated to bring in [start, end] s of burning, J."""
        burning = max(min(end, self.timed.duration) - max(start, 0.0), 0.0)
        return (self.flame.power or 0.0) * burning


def weave_places(width: float, size: float) -> Array:
    """Places of a torch swung to and fro over a width, as often as it is there.

    A swinging hand is slowest where it turns, so the sides of the strip get more than its middle.
    """
    count = max(1, int(np.ceil(4.0 * width / size)))
    return 0.5 * width * np.sin(np.pi * ((np.arange(count) + 0.5) / count - 0.5))
