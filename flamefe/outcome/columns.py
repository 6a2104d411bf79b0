"""Nodes that lie under one another: what goes on through the thickness."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
ROUNDING = 1e-6
"""Nodes of a column lie on one line to this, m."""
LARGEST_TEMPERATURE_BLOCK = 20_000_000


@dataclass(frozen=True, kw_only=True, eq=False)
class Columns:
    """Columns of nodes along an axis, each sorted along it.

    Args:
        nodes: indices of the nodes, column by column.
        starts: where each column begins in them.
        axis: 0, 1 or 2.
        places: (columns, 2) m, where each column stands across the axis.
        along: coordinates along the axis in the order of ``nodes``, m.

    Example:
        >>> points = np.array([[0, 0, 0.0], [0, 0, 1.0], [1, 0, 0.0], [1, 0, 1.0]])
        >>> columns = Columns.of(points, 2)
        >>> columns.lowest(np.array([3.0, 4.0, 7.0, 5.0])).tolist()
        [3.0, 5.0]
    """

    nodes: IntArray
    starts: IntArray
    axis: int
    places: Array
    along: Array

    @classmethod
    def of(cls, points: Array, axis: int) -> "Columns | None":
        """Columns of nodes at (n, 3) m; None where nodes don't stand in columns."""
        across = [other for other in range(3) if other != axis]
        keys = np.round(points[:, across] / ROUNDING).astype(np.int64)
        order = np.lexsort((points[:, axis], keys[:, 1], keys[:, 0]))
        changed = np.any(np.diff(keys[order], axis=0) != 0, axis=1)
        starts = np.concatenate(([0], np.flatnonzero(changed) + 1))
        counts = np.diff(np.append(starts, len(order)))
        if counts.min() < 2 or counts.min() != counts.max():
            return None
        return cls(
            nodes=order,
            starts=starts,
            axis=axis,
            places=points[order[starts]][:, across],
            along=points[order, axis],
        )

    def lowest(self, values: Array) -> Array:
        """Lowest nodal value in each column, (..., n) to (..., columns)."""
        return np.asarray(np.minimum.reduceat(values[..., self.nodes], self.starts, axis=-1))

    def profiles(self, values: Array) -> tuple[Array, Array]:
        """Coordinates along the axis and values of each column, both (columns, nodes in it)."""
        shape = (len(self.starts), -1)
        return self.along.reshape(shape), values[self.nodes].reshape(shape)


def hottest_through(columns: Columns, temperatures: Array) -> tuple[float, tuple[float, float]]:
    """Highest temperature that a whole column had at once, C, and where it stands, m.

    Args:
        columns: through the thickness.
        temperatures: (nt, n) C.
    """
    best, place = -np.inf, (0.0, 0.0)
    block = max(1, LARGEST_TEMPERATURE_BLOCK // temperatures.shape[1])
    for first in range(0, len(temperatures), block):
        low = columns.lowest(temperatures[first : first + block])
        column = int(np.argmax(low.max(axis=0)))
        if low[:, column].max() > best:
            best = float(low[:, column].max())
            place = (float(columns.places[column, 0]), float(columns.places[column, 1]))
    return best, place


def depth_reached(
    columns: Columns, peaks: Array, chosen: NDArray[np.bool_], *, from_end: bool, level: float
) -> tuple[float, float, float]:
    """How deep below a face columns became hotter than a temperature.

    Linear between nodes; a column whose face did not reach the temperature counts as 0.

    Args:
        columns: along the face's normal.
        peaks: highest temperature of each node, (n,) C.
        chosen: which columns count, (columns,).
        from_end: the face is where the coordinate along the axis is greatest.
        level: C.

    Returns:
        Median and greatest depth over the chosen columns, and the thickness there, m.

    Example:
        >>> points = np.array([[0, 0, 0.0], [0, 0, 0.01], [0, 0, 0.02]])
        >>> columns = Columns.of(points, 2)
        >>> depth, greatest, thickness = depth_reached(columns, np.array([200.0, 400.0, 800.0]),
        ...     np.array([True]), from_end=True, level=600.0)
        >>> round(depth, 4), round(greatest, 4), thickness
        (0.005, 0.005, 0.02)
    """
    along, hot = columns.profiles(peaks)
    along, hot = along[chosen], hot[chosen]
    if from_end:
        along, hot = along[:, ::-1], hot[:, ::-1]
    depth = np.abs(along - along[:, :1])
    reached = np.zeros(len(depth))
    for row in range(len(depth)):
        below = np.flatnonzero(hot[row] < level)
        if below.size == 0:
            reached[row] = depth[row, -1]
        elif below[0] > 0:
            i = int(below[0])
            share = (hot[row, i - 1] - level) / (hot[row, i - 1] - hot[row, i])
            reached[row] = depth[row, i - 1] + share * (depth[row, i] - depth[row, i - 1])
    thickness = float(np.median(depth[:, -1]))
    return float(np.median(reached)), float(reached.max()), thickness
