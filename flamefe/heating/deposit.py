"""Heat that a moving flame leaves on a face within a time step, as nodal powers."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.path import TorchPath
from flamefe.heating.surface import FacePoints

Array = NDArray[np.float64]

LEAST_FOOTPRINT = 0.05
"""Below this share on the face the flame counts as having left the part."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Deposit:
    """A flame that follows a path over a face.

    The flux is integrated along the path within each step and scaled so that the power that
    enters the mesh is the stated absorbed power, also at an edge where part of the flame passes
    the part by (``footprint`` tells how much of it lay on the face).

    Args:
        flame: power and shape.
        path: timed positions.
        face: quadrature points of the face that is heated.
        name: for messages.
    """

    flame: GaussianFlame
    path: TorchPath
    face: FacePoints
    name: str = "heat"

    def over(self, start: float, end: float) -> tuple[Array, float]:
        """Mean nodal powers (n,) W over [start, end] s of burning, and the footprint's share.

        Raises:
            OutOfRange: the flame has left the face.
        """
        burning = max(min(end, self.path.duration) - max(start, 0.0), 0.0)
        if burning == 0.0:
            return np.zeros(self.face.nodes), 1.0
        first = max(start, 0.0)
        travel = self.path.fastest * burning
        count = max(1, int(np.ceil(8.0 * travel / self.flame.radius)))
        moments = first + burning * (np.arange(count) + 0.5) / count
        flux = np.zeros(self.face.areas.shape)
        for place in self.path.at(moments):
            flux += self.flame.flux(((self.face.points - place) ** 2).sum(axis=1)) / count
        landed = float(flux @ self.face.areas) / self.flame.power
        if landed < LEAST_FOOTPRINT:
            raise OutOfRange(
                f"{self.name}: between {first:g} and {first + burning:g} s of burning only "
                f"{100 * landed:.1f} % of the flame lies on its face; the flame has left the "
                "part. Move the path onto the face."
            )
        powers = self.face.gather(flux / landed) * (burning / (end - start))
        return powers, landed

    def energy(self, start: float, end: float) -> float:
        """Heat that the flame is stated to bring in [start, end] s of burning, J."""
        burning = max(min(end, self.path.duration) - max(start, 0.0), 0.0)
        return self.flame.power * burning
