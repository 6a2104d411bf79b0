"""Water that trails the torch."""

from dataclasses import dataclass

import numpy as np

from flamefe.basics.errors import OutOfRange
from flamefe.basics.table import Table
from flamefe.heating.path import Pose
from flamefe.heating.surface import FacePoints, GasFilm


@dataclass(frozen=True, kw_only=True, eq=False)
class Trailing:
    """A water spray at a distance straight behind the torch, on the same face.

    Formula: q = h(T) exp(-r^2 / R^2) (T - Tw), r from the middle of the spray.

    Args:
        face: quadrature points of the sprayed face.
        distance: behind the torch, m.
        radius: R, m.
        film: h against surface temperature, W/(m2 K).
        water_C: Tw, C.

    Raises:
        OutOfRange: distance below 0 or radius not above 0.
    """

    face: FacePoints
    distance: float
    radius: float
    film: Table
    water_C: float = 15.0

    def __post_init__(self) -> None:
        if not (self.distance >= 0.0 and self.radius > 0.0):
            raise OutOfRange(
                f"Water trails at {self.distance:g} m with a radius of {self.radius:g} m; the "
                "distance must be 0 or more, the radius above 0."
            )

    def behind(self, pose: Pose) -> GasFilm:
        """What the spray does, mean over the torch's poses."""
        share = np.zeros(self.face.areas.shape)
        for place, way in zip(pose.place, pose.way, strict=True):
            offset = self.face.offsets(place - self.distance * way)
            squared = np.einsum("ki,ki->k", offset, offset)
            share += np.exp(-squared / self.radius**2) / len(pose.place)
        return GasFilm(
            face=self.face,
            coefficient=share,
            gas=np.full(share.shape, self.water_C),
            by_surface=self.film,
        )
