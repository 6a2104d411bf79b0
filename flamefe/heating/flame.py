"""The flame: what it does to the surface under it.

Two models stand behind one interface: absorbed power with a shape, and hot gas, which limits
itself as the surface heats up. Both say what the surface is bathed in: q = flux + h (gas - T).
"""

from dataclasses import dataclass
from math import inf, pi
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.heating.shape import Gaussian, Shape

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Bath:
    """What a surface is bathed in: q = flux + coefficient (gas - surface temperature).

    Args:
        flux: W/m2, taken up at any temperature.
        coefficient: film coefficient of hot gas, W/(m2 K).
        gas: its temperature, C.
    """

    flux: Array
    coefficient: Array
    gas: Array


class Flame(Protocol):
    """A flame of either model."""

    @property
    def power(self) -> float | None:
        """Power that it is stated to bring into the part, W; None where that comes of itself."""
        ...

    @property
    def size(self) -> float:
        """Length that mesh and steps must resolve, m."""
        ...

    def bath(self, along: Array, across: Array) -> Bath:
        """What it bathes places in, at offsets (k,) m along and across its way."""
        ...


def _power_and_radius(power: float, radius: float) -> None:
    if not (0.0 < power < inf and 0.0 < radius < inf):
        raise OutOfRange(
            f"A flame has {power:g} W and a radius of {radius:g} m; "
            "both must be above 0 and finite."
        )


@dataclass(frozen=True, kw_only=True)
class AbsorbedFlame:
    """Absorbed power with a shape: q = P density(along, across).

    Args:
        power: P, absorbed by the part, W.
        shape: how it is spread.

    Raises:
        OutOfRange: power not above 0.

    Example:
        >>> from flamefe.heating.shape import Gaussian
        >>> flame = AbsorbedFlame(power=4000.0, shape=Gaussian(radius=0.010))
        >>> bath = flame.bath(np.zeros(1), np.zeros(1))
        >>> round(float(bath.flux[0]) / 1e6, 3)                     # MW/m2
        12.732
    """

    power: float
    shape: Shape

    def __post_init__(self) -> None:
        _power_and_radius(self.power, self.shape.size)

    @property
    def size(self) -> float:
        """Size of its shape, m."""
        return self.shape.size

    def bath(self, along: Array, across: Array) -> Bath:
        """Flux at offsets (k,) m; no gas."""
        flux = self.power * self.shape.density(along, across)
        return Bath(flux=flux, coefficient=np.zeros_like(flux), gas=np.zeros_like(flux))


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
        _power_and_radius(self.power, self.radius)

    @property
    def size(self) -> float:
        """The radius, m."""
        return self.radius

    def flux(self, distance_squared: ArrayLike) -> Array:
        """Heat flux W/m2 at the squared distance (any shape, m2) from the flame's axis."""
        share = np.exp(-np.asarray(distance_squared, dtype=float) / self.radius**2)
        return np.asarray(self.power / (pi * self.radius**2) * share)

    def footprint(self, distance_squared: ArrayLike, area: ArrayLike) -> float:
        """Share of the power that falls on pieces of surface of ``area`` m2 at those distances."""
        return float(np.sum(self.flux(distance_squared) * np.asarray(area)) / self.power)

    def bath(self, along: Array, across: Array) -> Bath:
        """Flux at offsets (k,) m; no gas."""
        flux = self.power * Gaussian(radius=self.radius).density(along, across)
        return Bath(flux=flux, coefficient=np.zeros_like(flux), gas=np.zeros_like(flux))


@dataclass(frozen=True, kw_only=True)
class HotGasFlame:
    """Hot gas over the surface: q = h(r) (Tg - T), so it limits itself as the surface heats up.

    Formula: h(r) = h0 exp(-r^2 / R^2). On a cold surface at Ta it brings pi R^2 h0 (Tg - Ta).

    Args:
        coefficient: h0, film coefficient on the axis, W/(m2 K).
        radius: R, m.
        gas_C: Tg, C.

    Raises:
        OutOfRange: a value not above 0, or gas no hotter than 100 C.

    Source: gas flames as a convective boundary with film coefficient and gas temperature by
    radius, identified from back-face thermocouples: Osawa and others, line heating by gas flame,
    PRADS proceedings (from memory); values of h0 some hundred W/(m2 K), Tg 1800 to 2500 C (from
    memory, uncertain).

    Example:
        >>> flame = HotGasFlame(coefficient=600.0, radius=0.02, gas_C=2200.0)
        >>> round(flame.cold_power(20.0))
        1644
    """

    coefficient: float
    radius: float
    gas_C: float

    def __post_init__(self) -> None:
        _power_and_radius(self.coefficient, self.radius)
        if not 100.0 < self.gas_C < 4000.0:
            raise OutOfRange(f"The gas is at {self.gas_C:g} C; allowed: above 100, up to 4000.")

    @property
    def power(self) -> float | None:
        """None: what it brings depends on the surface."""
        return None

    @property
    def size(self) -> float:
        """The radius, m."""
        return self.radius

    def cold_power(self, surface_C: float) -> float:
        """Power on a wide surface at ``surface_C`` C, W."""
        return pi * self.radius**2 * self.coefficient * (self.gas_C - surface_C)

    def bath(self, along: Array, across: Array) -> Bath:
        """Film coefficient and gas at offsets (k,) m; no flux."""
        squared = np.square(along) + np.square(across)
        film = self.coefficient * np.exp(-squared / self.radius**2)
        return Bath(flux=np.zeros_like(film), coefficient=film, gas=np.full_like(film, self.gas_C))
