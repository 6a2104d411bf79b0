"""Faces rolled out flat: two coordinates on every face, also on curved ones, and back to space.

A torch is laid on a face in two coordinates, u and v, both lengths along the surface, so that
distances on the rolled-out face are those that the torch goes and the flame spreads over.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.workpiece.faces import FACE_AXES, FACE_SIDES

Array = NDArray[np.float64]

OVERRUN = 1e-9
"""A place this far beyond a face, by its size, still lies on it."""


class FaceMap(Protocol):
    """A face with two coordinates u and v, m."""

    @property
    def handed(self) -> float:
        """1 where u, v and the outward normal are right-handed, else -1."""
        ...

    @property
    def period(self) -> float | None:
        """Length after which v comes round to the same place, m; None on an open face."""
        ...

    @property
    def stretch(self) -> float:
        """What v on the mesh is longer than on the true face (a circle meshed as a polygon)."""
        ...

    @property
    def span(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """From where to where u and v of the face's mesh run, m."""
        ...

    def place(self, uv: ArrayLike) -> Array:
        """Places in space (k, 3) m of points (k, 2) m of the face."""
        ...

    def normal(self, uv: ArrayLike) -> Array:
        """Outward unit normals (k, 3) at points (k, 2) m of the face."""
        ...

    def back(self, places: ArrayLike) -> Array:
        """Points of the face (k, 2) m nearest to places in space (k, 3) m."""
        ...

    def holds(self, uv: ArrayLike) -> NDArray[np.bool_]:
        """Which points (k, 2) m lie on the face, (k,)."""
        ...

    def along(self, uv: ArrayLike) -> Array:
        """A polyline of the face (k, 2) m as one in space (m, 3) m that does not leave it."""
        ...


@dataclass(frozen=True, kw_only=True)
class FlatFace:
    """A flat face across an axis, its two coordinates those of the part along the other axes.

    Args:
        axes: the two axes of u and v (0 x, 1 y, 2 z).
        normal_axis: the third.
        side: 1 where it looks along the axis, -1 where against it.
        level: place along the normal axis, m.
        span: from where to where u and v run, m.

    Example:
        >>> top = FlatFace.of_box("top", (0.0, 0.0, 0.0), (0.4, 0.2, 0.012))
        >>> top.place([(0.1, 0.05)]).tolist(), top.handed
        ([[0.1, 0.05, 0.012]], 1.0)
    """

    axes: tuple[int, int]
    normal_axis: int
    side: int
    level: float
    span: tuple[tuple[float, float], tuple[float, float]]
    period: None = None
    stretch: float = 1.0

    @classmethod
    def of_box(cls, name: str, low: ArrayLike, high: ArrayLike) -> "FlatFace":
        """One of the six faces of a box between its lowest and highest corner, (3,) m each."""
        normal, side = FACE_SIDES[name]
        ends = np.stack([np.asarray(low, dtype=float), np.asarray(high, dtype=float)])
        first, second = FACE_AXES[name]
        return cls(
            axes=(first, second),
            normal_axis=normal,
            side=side,
            level=float(ends[1 if side > 0 else 0, normal]),
            span=(_pair(ends[:, first]), _pair(ends[:, second])),
        )

    @property
    def handed(self) -> float:
        """1 where u, v and the outward normal are right-handed, else -1."""
        order = (*self.axes, self.normal_axis)
        cyclic = order in ((0, 1, 2), (1, 2, 0), (2, 0, 1))
        return float(self.side if cyclic else -self.side)

    def place(self, uv: ArrayLike) -> Array:
        """Places in space (k, 3) m of points (k, 2) m of the face."""
        points = points_of(uv)
        places = np.empty((len(points), 3))
        places[:, list(self.axes)] = points
        places[:, self.normal_axis] = self.level
        return places

    def normal(self, uv: ArrayLike) -> Array:
        """Outward unit normals (k, 3) at points (k, 2) m of the face."""
        normals = np.zeros((len(points_of(uv)), 3))
        normals[:, self.normal_axis] = self.side
        return normals

    def back(self, places: ArrayLike) -> Array:
        """Points of the face (k, 2) m nearest to places in space (k, 3) m."""
        return np.ascontiguousarray(np.asarray(places, dtype=float)[:, list(self.axes)])

    def holds(self, uv: ArrayLike) -> NDArray[np.bool_]:
        """Which points (k, 2) m lie between the face's ends, (k,)."""
        return between(points_of(uv), self.span)

    def along(self, uv: ArrayLike) -> Array:
        """A polyline of the face (k, 2) m in space, (k, 3) m."""
        return self.place(uv)


def _pair(values: Array) -> tuple[float, float]:
    return float(values[0]), float(values[1])


def points_of(uv: ArrayLike) -> Array:
    """Points of a face as (k, 2) m."""
    return np.asarray(uv, dtype=float).reshape(-1, 2)


def between(points: Array, spans: tuple[tuple[float, float], ...]) -> NDArray[np.bool_]:
    """Which points lie within a span in each of their coordinates, (k,)."""
    inside = np.ones(len(points), dtype=bool)
    for column, (low, high) in enumerate(spans):
        slack = OVERRUN * (high - low)
        inside &= (points[:, column] >= low - slack) & (points[:, column] <= high + slack)
    return inside
