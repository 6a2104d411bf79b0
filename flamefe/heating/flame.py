"""The flame: how its power is spread over the surface under it."""

from dataclasses import dataclass
from math import inf, pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class GaussianFlame:
    """Absorbed power with a Gaussian distribution on the surface.

    Formula: q(r) = P / (pi R^2) exp(-r^2 / R^2); 63 % of the power falls within R, 95 % within
    1.73 R.

    Args:
        power: P, absorbed by the part, W.
        radius: R, m.

    Raises:
        OutOfRange: power or radius not above 0.

    Source: the normal distribution of a gas flame's heat after N. N. Rykalin, Berechnung der
    Waermevorgaenge beim Schweissen, VEB Verlag Technik, Berlin 1957 (from memory).

    Example:
        >>> round(float(GaussianFlame(power=4000.0, radius=0.010).flux(0.0)) / 1e6, 3)  # MW/m2
        12.732
    """

    power: float
    radius: float

    def __post_init__(self) -> None:
        if not (0.0 < self.power < inf and 0.0 < self.radius < inf):
            raise OutOfRange(
                f"A flame has {self.power:g} W and a radius of {self.radius:g} m; "
                "both must be above 0 and finite."
            )

    def flux(self, distance_squared: ArrayLike) -> Array:
        """Heat flux W/m2 at the squared distance (any shape, m2) from the flame's axis."""
        share = np.exp(-np.asarray(distance_squared, dtype=float) / self.radius**2)
        return np.asarray(self.power / (pi * self.radius**2) * share)

    def footprint(self, distance_squared: ArrayLike, area: ArrayLike) -> float:
        """Share of the power that falls on pieces of surface of ``area`` m2 at those distances."""
        return float(np.sum(self.flux(distance_squared) * np.asarray(area)) / self.power)
