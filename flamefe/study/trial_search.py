"""What is fitted to a trial: two values of a flame, where they start and where they may go."""

from dataclasses import dataclass, replace
from math import pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.heating.flame import AbsorbedFlame, Flame, GaussianFlame, HotGasFlame
from flamefe.heating.shape import Gaussian, Ring, Rows, Shape, Twin
from flamefe.study.parts import MM

Array = NDArray[np.float64]
Model = Literal["absorbed", "hot gas"]

START_GAS_C = 2200.0
"""Gas temperature from which a fit starts where the case has none; from memory, uncertain."""
FINEST_BY_MESH = 1.5
"""Smallest flame radius that is tried, by the size of elements at the heat."""

_START_SURFACE_C = 300.0


@dataclass(frozen=True, kw_only=True)
class Search:
    """What is fitted, and between which values.

    Args:
        model: "absorbed" (kW, mm) or "hot gas" (W/(m2 K), C).
        shape: of a flame that is not round; None: round.
        radius: of the flame at the start, m; held with hot gas.
        names, units: of the two values.
        start, lower, upper: of the two values.
    """

    model: Model
    shape: Shape | None
    radius: float
    names: tuple[str, str]
    units: tuple[str, str]
    start: tuple[float, float]
    lower: tuple[float, float]
    upper: tuple[float, float]

    def flame(self, values: Array) -> Flame:
        """The flame of two values."""
        first, second = float(values[0]), float(values[1])
        if self.model == "hot gas":
            return HotGasFlame(coefficient=first, radius=self.radius, gas_C=second)
        if self.shape is None:
            return GaussianFlame(power=1e3 * first, radius=MM * second)
        return AbsorbedFlame(power=1e3 * first, shape=_of_radius(self.shape, MM * second))


def search_of(flame: Flame, model: Model, element: float | None = None) -> Search:
    """Start from a flame, and look no further than what the mesh can show.

    Args:
        flame: of the case.
        model: what is fitted.
        element: size of elements at the heat, m; None: not known.

    Raises:
        OutOfRange: a flame of a shape that can't be fitted.

    Example:
        >>> search = search_of(GaussianFlame(power=3000.0, radius=0.015), "hot gas")
        >>> [round(value) for value in search.start]
        [2234, 2200]
    """
    radius = flame.size
    shape = flame.shape if isinstance(flame, AbsorbedFlame) else None
    if shape is not None and (model == "hot gas" or not isinstance(shape, Gaussian)):
        _check_shape(shape, model)
    if model == "hot gas":
        coefficient, gas = _start_film(flame, radius)
        return Search(
            model=model,
            shape=None,
            radius=radius,
            names=("film coefficient", "gas temperature"),
            units=("W/(m2 K)", "C"),
            start=(coefficient, gas),
            lower=(min(10.0, coefficient), min(200.0, gas)),
            upper=(max(20_000.0, coefficient), max(3500.0, gas)),
        )
    power = flame.power
    if power is None:
        assert isinstance(flame, HotGasFlame)
        power = flame.cold_power(_START_SURFACE_C)
    finest = 0.5 * radius if element is None else FINEST_BY_MESH * element
    return Search(
        model=model,
        shape=shape,
        radius=radius,
        names=("net power", "flame radius"),
        units=("kW", "mm"),
        start=(power / 1e3, radius / MM),
        lower=(power / 20e3, min(finest, 0.9 * radius) / MM),
        upper=(power / 50.0, 4.0 * radius / MM),
    )


def _start_film(flame: Flame, radius: float) -> tuple[float, float]:
    """Film coefficient, W/(m2 K), and gas temperature, C, to start from."""
    if isinstance(flame, HotGasFlame):
        return flame.coefficient, flame.gas_C
    over = START_GAS_C - _START_SURFACE_C
    return (flame.power or 0.0) / (pi * radius**2 * over), START_GAS_C


def _check_shape(shape: Shape, model: Model) -> None:
    if model == "hot gas":
        raise OutOfRange("Hot gas is fitted for a round flame; the case's flame has another shape.")
    if not isinstance(shape, Ring | Rows | Twin):
        raise OutOfRange(
            f"The radius of a flame spread as {type(shape).__name__} can't be fitted; allowed: a "
            "round flame, a ring, rows of jets, twin heads."
        )


def _of_radius(shape: Shape, radius: float) -> Shape:
    """The same shape with another radius of each jet, m."""
    if isinstance(shape, Ring):
        return replace(shape, width=radius)
    if isinstance(shape, Rows):
        return replace(shape, jet_radius=radius)
    if isinstance(shape, Twin):
        return replace(shape, head=_of_radius(shape.head, radius))
    return Gaussian(radius=radius)
