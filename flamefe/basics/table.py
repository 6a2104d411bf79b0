"""A property against temperature: piecewise linear, with slope and integral."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import MaterialError

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Table:
    """A property against temperature, linear between its points and constant outside them.

    Args:
        temperature_C: rising temperatures of the points, C.
        values: the property at those temperatures, SI unit of the property.
        source: where the numbers come from.

    Raises:
        MaterialError: fewer than one point, lengths differ, temperatures not rising, a value
            not finite.

    Example:
        >>> stiffness = Table(temperature_C=(20, 120), values=(210e9, 190e9), source="demo")
        >>> float(stiffness(70.0)) / 1e9
        200.0
        >>> float(stiffness.slope(70.0)) / 1e9
        -0.2
        >>> float(stiffness.integral(120.0)) / 1e9
        20000.0
    """

    temperature_C: tuple[float, ...]
    values: tuple[float, ...]
    source: str
    _x: Array = field(init=False, repr=False, compare=False)
    _y: Array = field(init=False, repr=False, compare=False)
    _area: Array = field(init=False, repr=False, compare=False)
    _slope: Array = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        x = np.asarray(self.temperature_C, dtype=float)
        y = np.asarray(self.values, dtype=float)
        if x.ndim != 1 or x.shape != y.shape or x.size == 0:
            raise MaterialError(
                f"A table has {x.size} temperatures and {y.size} values; "
                "it needs as many values as temperatures, at least one."
            )
        if not (np.isfinite(x).all() and np.isfinite(y).all()):
            raise MaterialError("A table holds a number that is not finite; give plain numbers.")
        if (np.diff(x) <= 0).any():
            where = float(x[1:][np.diff(x) <= 0][0])
            raise MaterialError(
                f"A table's temperatures must rise from point to point; they don't at {where:g} C."
            )
        object.__setattr__(self, "temperature_C", tuple(float(v) for v in x))
        object.__setattr__(self, "values", tuple(float(v) for v in y))
        object.__setattr__(self, "_x", x)
        object.__setattr__(self, "_y", y)
        steps = np.diff(x) * 0.5 * (y[1:] + y[:-1])
        object.__setattr__(self, "_area", np.concatenate(([0.0], np.cumsum(steps))))
        slopes = np.diff(y) / np.diff(x)
        object.__setattr__(self, "_slope", np.concatenate(([0.0], slopes, [0.0])))

    @classmethod
    def constant(cls, value: float, *, source: str) -> "Table":
        """Make a table with one value at every temperature.

        Example:
            >>> float(Table.constant(0.3, source="demo")(500.0))
            0.3
        """
        return cls(temperature_C=(20.0,), values=(value,), source=source)

    def __call__(self, temperature: ArrayLike) -> Array:
        """Property at ``temperature`` (any shape, C), same shape."""
        t = np.asarray(temperature, dtype=float)
        if self._x.size == 1:
            return np.full(t.shape, self._y[0])
        return np.asarray(np.interp(t, self._x, self._y))

    def slope(self, temperature: ArrayLike) -> Array:
        """Derivative by temperature at ``temperature`` (any shape, C); 0 outside the points."""
        t = np.asarray(temperature, dtype=float)
        return np.asarray(self._slope[np.searchsorted(self._x, t, side="right")])

    def integral(self, temperature: ArrayLike) -> Array:
        """Integral over temperature from 20 C to ``temperature`` (any shape, C)."""
        t = np.asarray(temperature, dtype=float)
        return self._from_first(t) - self._from_first(np.asarray(20.0))

    def _from_first(self, t: Array) -> Array:
        x, y = self._x, self._y
        i = np.clip(np.searchsorted(x, t, side="right") - 1, 0, x.size - 1)
        ahead = t - x[i]
        slope = np.where(t < x[0], 0.0, self._slope[i + 1])
        return np.asarray(self._area[i] + ahead * (y[i] + 0.5 * slope * ahead))

    def scaled(self, factor: float) -> "Table":
        """Return a copy with every value multiplied by ``factor``."""
        return Table(
            temperature_C=self.temperature_C,
            values=tuple(factor * v for v in self.values),
            source=self.source,
        )
