"""A box-shaped part with a displacement at any of its places, whatever its mesh."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import LinearNDInterpolator, RegularGridInterpolator

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.rigid import checked_shape, without_rigid_motion

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class DisplacedBox:
    """A box along the axes x, y, z, and where its places went, rigid motion taken out.

    Places are given as shares (0 to 1) of the box's length, width and thickness. On a grid of
    nodes the displacement is linear in each direction between nodes; on any other cloud of nodes
    it is linear in the tetrahedra between them.

    Args:
        points: (n, 3) m, before; with a node in each of the box's corners.
        displacements: (n, 3) m.

    Raises:
        OutOfRange: shapes don't fit, a number is not finite, or a corner has no node.

    Examples:
        >>> corners = np.array(np.meshgrid([0, 2.0], [0, 1.0], [0, 0.1])).reshape(3, -1).T
        >>> box = DisplacedBox(points=corners, displacements=0.0 * corners + [0, 0, 5.0])
        >>> box.size.tolist()
        [2.0, 1.0, 0.1]
        >>> [round(x, 12) for x in box.at([0.25, 0.5, 0.5]).tolist()]
        [0.5, 0.5, 0.05]
    """

    points: Array
    displacements: Array
    low: Array = field(init=False, repr=False)
    size: Array = field(init=False, repr=False)
    _field: Callable[[Array], Array] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        points, displacements = checked_shape(self.points, self.displacements)
        low, size = points.min(axis=0), np.ptp(points, axis=0)
        if (size <= 0).any():
            raise OutOfRange("The points lie in one plane; a box needs extent in x, y and z.")
        shares = (points - low) / size
        for corner in np.array(np.meshgrid([0, 1], [0, 1], [0, 1])).reshape(3, 8).T:
            if np.abs(shares - corner).max(axis=1).min() > 1e-6:
                raise OutOfRange(
                    f"The part has no node at the corner {(low + corner * size).tolist()} m of "
                    "its bounding box, so it isn't a box along x, y and z; "
                    "measure it as a part of any shape."
                )
        left = without_rigid_motion(points, displacements)
        object.__setattr__(self, "low", low)
        object.__setattr__(self, "size", size)
        object.__setattr__(self, "_field", _interpolator(shares, left))

    def at(self, shares: ArrayLike) -> Array:
        """Places after distortion.

        Args:
            shares: (..., 3), of length, width and thickness.

        Returns:
            (..., 3) m.
        """
        where = np.asarray(shares, dtype=float)
        moved = self._field(where.reshape(-1, 3)).reshape(where.shape)
        return np.asarray(self.low + where * self.size + moved)

    def line(self, axis: int, others: tuple[float, float], points: int = 81) -> Array:
        """Places along one axis from end to end, the other two shares held, (points, 3) m.

        Args:
            axis: 0, 1 or 2 for x, y or z.
            others: the other two shares, in the order of the axes.
            points: how many, evenly spaced.
        """
        shares = np.insert(np.tile(others, (points, 1)), axis, np.linspace(0, 1, points), axis=1)
        return self.at(shares)


def _interpolator(shares: Array, values: Array) -> Callable[[Array], Array]:
    axes, places = [], []
    for column in shares.T:
        _, first, place = np.unique(np.round(column, 7), return_index=True, return_inverse=True)
        axis = column[first]
        axis[0], axis[-1] = 0.0, 1.0
        axes.append(axis)
        places.append(place)
    shape = tuple(len(axis) for axis in axes)
    code = np.ravel_multi_index(tuple(places), shape)
    if len(values) == np.prod(shape) == len(np.unique(code)):
        grid = np.empty((len(values), 3))
        grid[code] = values
        between = RegularGridInterpolator(axes, grid.reshape(*shape, 3))
        return lambda where: np.asarray(between(where))
    cloud = LinearNDInterpolator(shares, values)
    inside = 1e-9

    def linear(where: Array) -> Array:
        found = np.asarray(cloud(np.clip(where, inside, 1 - inside)))
        if np.isnan(found).any():
            raise OutOfRange(
                "A place inside the box lies outside all nodes; the mesh has a hole or a dent."
            )
        return found

    return linear
