"""Where the mid-surface of a sheet stands, above a plane through what holds it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FLAT = 0.25
"""Thinnest over second extent of a box below which a part counts as a sheet."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Upright:
    """Columns of nodes through a sheet that lies across one axis.

    Args:
        axis: across the sheet: 0, 1 or 2.
        plane: (n, 2) m, the other two coordinates of the nodes.
        middle: (columns,) m, mid height of each column before any displacement.
        column: (n,) column of each node.
        above: (n,) m, of each node over the middle of its column before any displacement.
    """

    axis: int
    plane: Array
    middle: Array
    column: NDArray[np.int64]
    above: Array

    @classmethod
    def of(cls, points: Array) -> "Upright | None":
        """Columns of the nodes (n, 3) m of a sheet; None where it is none, or has no columns.

        Example:
            >>> grid = np.meshgrid([0, 1.0], [0, 1.0], [0, 0.1], indexing="ij")
            >>> Upright.of(np.array(grid).reshape(3, -1).T).middle.tolist()
            [0.05, 0.05, 0.05, 0.05]
        """
        extents = np.ptp(points, axis=0)
        axis = int(np.argmin(extents))
        if extents[axis] > FLAT * np.sort(extents)[1]:
            return None
        plane = np.delete(points, axis, axis=1)
        grain = 1e-6 * float(extents.max())
        _, column, count = np.unique(
            np.round(plane / grain), axis=0, return_inverse=True, return_counts=True
        )
        column = column.reshape(-1).astype(np.int64)
        if count.min() < 2 or count.min() != count.max():
            return None
        middle = np.bincount(column, weights=points[:, axis]) / count
        above = points[:, axis] - middle[column]
        return cls(axis=axis, plane=plane, middle=middle, column=column, above=above)

    def height(self, displacement: Array, held: NDArray[np.bool_] | None = None) -> Array:
        """Height (n,) m of the mid-surface at each node.

        It counts from the plane that fits what is held across the sheet best (level where that
        leaves it open); where nothing is held, from the one that fits the whole sheet best.

        Args:
            displacement: (n, 3) m.
            held: (n, 3) bool, what supports hold.
        """
        count = np.bincount(self.column)
        rise = np.bincount(self.column, weights=displacement[:, self.axis]) / count
        height = (self.middle + rise)[self.column]
        chosen = np.ones(len(height), dtype=bool)
        if held is not None and held[:, self.axis].any():
            chosen = held[:, self.axis]
        base = np.column_stack((np.ones(len(height)), self.plane - self.plane[chosen].mean(axis=0)))
        fit, *_ = np.linalg.lstsq(base[chosen], height[chosen], rcond=None)
        return np.asarray(height - base @ fit)
