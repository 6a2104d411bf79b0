"""Shapes of a flame on a surface: how its heat is spread along and across its way.

Offsets are taken in the torch's own frame: along the way it travels, and across it. Each density
integrates to 1 over an unbounded surface.
"""

from dataclasses import dataclass, field
from math import erf, exp, pi, sqrt
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]


class Shape(Protocol):
    """A distribution of heat on a surface."""

    @property
    def size(self) -> float:
        """Length that mesh and steps must resolve, m."""
        ...

    def density(self, along: ArrayLike, across: ArrayLike) -> Array:
        """Share of the heat by area, 1/m2, at offsets (any equal shapes) m from the axis."""
        ...


def _positive(what: str, **lengths: float) -> None:
    for name, length in lengths.items():
        if not (np.isfinite(length) and length > 0.0):
            raise OutOfRange(f"{what}: {name} is {length:g} m; it must be above 0.")


@dataclass(frozen=True, kw_only=True)
class Gaussian:
    """One normal flame: density = exp(-r^2 / R^2) / (pi R^2).

    Args:
        radius: R, m; 63 % of the heat falls within it.

    Source: N. N. Rykalin, Berechnung der Waermevorgaenge beim Schweissen, Berlin 1957 (from
    memory).

    Example:
        >>> round(float(Gaussian(radius=0.01).density(0.0, 0.0)), 1)
        3183.1
    """

    radius: float

    def __post_init__(self) -> None:
        _positive("Gaussian flame", radius=self.radius)

    @property
    def size(self) -> float:
        """The radius, m."""
        return self.radius

    def density(self, along: ArrayLike, across: ArrayLike) -> Array:
        """Share by area, 1/m2, at offsets in m."""
        squared = np.square(along) + np.square(across)
        return np.asarray(np.exp(-squared / self.radius**2) / (pi * self.radius**2))


@dataclass(frozen=True, kw_only=True)
class Ring:
    """A ring of jets that run together: density = exp(-((r - a) / w)^2) / n.

    With n = 2 pi (w^2/2 exp(-a^2/w^2) + a w sqrt(pi)/2 (1 + erf(a/w))), so that it integrates to 1.

    Args:
        radius: a, m, of the ring's middle.
        width: w, m, of its normal profile.

    Example:
        >>> ring = Ring(radius=0.02, width=0.005)
        >>> bool(ring.density(0.02, 0.0) > 100 * ring.density(0.0, 0.0))
        True
    """

    radius: float
    width: float

    def __post_init__(self) -> None:
        _positive("Ring flame", radius=self.radius, width=self.width)

    @property
    def size(self) -> float:
        """Width of the ring, m."""
        return self.width

    def density(self, along: ArrayLike, across: ArrayLike) -> Array:
        """Share by area, 1/m2, at offsets in m."""
        a, w = self.radius, self.width
        whole = 0.5 * w**2 * exp(-((a / w) ** 2)) + 0.5 * a * w * sqrt(pi) * (1.0 + erf(a / w))
        r = np.hypot(along, across)
        return np.asarray(np.exp(-(((r - a) / w) ** 2)) / (2.0 * pi * whole))


@dataclass(frozen=True, kw_only=True)
class Rows:
    """A multi-flame head: rows of equal jets, each a Gaussian.

    Args:
        rows: number of rows, one behind the other along the way.
        jets: jets a row, side by side across the way.
        pitch: distance of jets in a row, m.
        row_distance: distance of rows, m; not used with one row.
        jet_radius: R of each jet, m.

    Example:
        >>> head = Rows(rows=2, jets=3, pitch=0.01, row_distance=0.01, jet_radius=0.006)
        >>> float(head.density(0.005, 0.0)) == float(head.density(-0.005, 0.0))
        True
    """

    rows: int
    jets: int
    pitch: float
    row_distance: float = 0.01
    jet_radius: float

    def __post_init__(self) -> None:
        if self.rows < 1 or self.jets < 1:
            raise OutOfRange(
                f"A head has {self.rows} rows of {self.jets} jets; it needs at least one of each."
            )
        _positive(
            "Multi-flame head",
            pitch=self.pitch,
            row_distance=self.row_distance,
            jet_radius=self.jet_radius,
        )

    @property
    def size(self) -> float:
        """Radius of a jet, m."""
        return self.jet_radius

    def density(self, along: ArrayLike, across: ArrayLike) -> Array:
        """Share by area, 1/m2, at offsets in m."""
        jet = Gaussian(radius=self.jet_radius)
        total = np.zeros(np.broadcast_shapes(np.shape(along), np.shape(across)))
        for row in _spread(self.rows, self.row_distance):
            for place in _spread(self.jets, self.pitch):
                total = total + jet.density(np.subtract(along, row), np.subtract(across, place))
        return np.asarray(total / (self.rows * self.jets))


@dataclass(frozen=True, kw_only=True)
class Twin:
    """Two equal heads side by side (or one behind the other), at a distance.

    Args:
        head: shape of each.
        distance: between their axes, m.
        behind: one behind the other instead of side by side.

    Example:
        >>> pair = Twin(head=Gaussian(radius=0.01), distance=0.06)
        >>> bool(pair.density(0.0, 0.03) > 50 * pair.density(0.0, 0.0))
        True
    """

    head: Shape
    distance: float
    behind: bool = False

    def __post_init__(self) -> None:
        _positive("Twin flame", distance=self.distance)

    @property
    def size(self) -> float:
        """Size of one head, m."""
        return self.head.size

    def density(self, along: ArrayLike, across: ArrayLike) -> Array:
        """Share by area, 1/m2, at offsets in m."""
        total = np.zeros(np.broadcast_shapes(np.shape(along), np.shape(across)))
        for place in _spread(2, self.distance):
            shift = (place, 0.0) if self.behind else (0.0, place)
            total = total + 0.5 * self.head.density(
                np.subtract(along, shift[0]), np.subtract(across, shift[1])
            )
        return np.asarray(total)


@dataclass(frozen=True, kw_only=True)
class ByRadius:
    """A user's table of heat by distance from the axis, linear between its points, 0 beyond.

    The table's height does not matter; it is scaled so that the density integrates to 1.

    Args:
        radii: rising from 0, m.
        values: at those radii, any unit, 0 or more.

    Raises:
        OutOfRange: radii don't rise from 0, a value is below 0, or all are 0.

    Example:
        >>> cone = ByRadius(radii=(0.0, 0.03), values=(1.0, 0.0))
        >>> round(float(cone.density(0.0, 0.0)), 2)      # 3 / (pi R^2)
        1061.03
    """

    radii: tuple[float, ...]
    values: tuple[float, ...]
    _whole: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        r, q = np.asarray(self.radii, dtype=float), np.asarray(self.values, dtype=float)
        if r.shape != q.shape or r.size < 2 or r[0] != 0.0 or (np.diff(r) <= 0.0).any():
            raise OutOfRange(
                f"A flame table needs as many values as radii, at least two, radii rising from 0; "
                f"given: {self.radii}."
            )
        if (q < 0.0).any() or not np.isfinite(q).all() or not q.any():
            raise OutOfRange(
                f"A flame table's values must be 0 or more, not all 0; given: {self.values}."
            )
        # integral of 2 pi r q over each piece, q linear
        r0, r1, q0, q1 = r[:-1], r[1:], q[:-1], q[1:]
        pieces = (r1 - r0) * (q0 * (2 * r0 + r1) + q1 * (r0 + 2 * r1)) / 6.0
        object.__setattr__(self, "_whole", 2.0 * pi * float(pieces.sum()))

    @property
    def size(self) -> float:
        """Radius within which 63 % of the heat falls, m."""
        r = np.linspace(0.0, self.radii[-1], 2001)
        share = np.cumsum(r * np.interp(r, self.radii, self.values))
        return float(np.interp(0.632, share / share[-1], r))

    def density(self, along: ArrayLike, across: ArrayLike) -> Array:
        """Share by area, 1/m2, at offsets in m."""
        r = np.hypot(along, across)
        return np.asarray(np.interp(r, self.radii, self.values, right=0.0) / self._whole)


def _spread(count: int, distance: float) -> Array:
    """``count`` places ``distance`` apart about 0."""
    return np.asarray(distance * (np.arange(count) - 0.5 * (count - 1)), dtype=float)
