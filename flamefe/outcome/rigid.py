"""Take rigid motion out of a displaced shape, so that only distortion is left."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]


def checked_shape(points: ArrayLike, displacements: ArrayLike) -> tuple[Array, Array]:
    """Return points and displacements as (n, 3) arrays of finite numbers.

    Raises:
        OutOfRange: shapes differ, fewer than 4 points, or a number is not finite.

    Examples:
        >>> points, moved = checked_shape(np.eye(4, 3), np.zeros((4, 3)))
        >>> points.shape
        (4, 3)
    """
    p = np.asarray(points, dtype=float)
    u = np.asarray(displacements, dtype=float)
    if p.ndim != 2 or p.shape[1:] != (3,) or p.shape != u.shape or len(p) < 4:
        raise OutOfRange(
            f"Points have shape {p.shape} and displacements {u.shape}; "
            "both must be (n, 3) with at least 4 points."
        )
    if not (np.isfinite(p).all() and np.isfinite(u).all()):
        raise OutOfRange("A point or displacement is not a finite number; the run has failed.")
    return p, u


def without_rigid_motion(points: ArrayLike, displacements: ArrayLike) -> Array:
    """Displacements that are left when the best-fitting rigid motion is taken out.

    The rotation R and shift that bring the displaced points nearest to the points, in the sense
    of least squares, are found by the singular value decomposition of sum (p - pm)(q - qm)^T;
    any rotation is allowed, small or large. A rigid motion that is added to ``displacements``
    changes nothing in the result.

    Args:
        points: (n, 3) m, before.
        displacements: (n, 3) m.

    Returns:
        (n, 3) m, R (p + u) + shift - p.

    Raises:
        OutOfRange: shapes don't fit or a number is not finite.

    Source: W. Kabsch, Acta Crystallographica A32 (1976) 922; the solution by singular values
        after K. S. Arun, T. S. Huang, S. D. Blostein, IEEE PAMI 9 (1987) 698 (from memory).

    Examples:
        A quarter turn about z of four points leaves nothing:

        >>> points = np.array([[0, 0, 0], [2, 0, 0], [0, 1, 0], [0, 0, 3.0]])
        >>> turned = points @ np.array([[0, 1, 0], [-1, 0, 0], [0, 0, 1.0]])
        >>> bool(abs(without_rigid_motion(points, turned - points)).max() < 1e-15)
        True
    """
    p, u = checked_shape(points, displacements)
    centre = p.mean(axis=0)
    before = p - centre
    after = p + u
    after = after - after.mean(axis=0)
    left, _, right = np.linalg.svd(after.T @ before)
    mirror = np.array([1.0, 1.0, np.sign(np.linalg.det(left @ right))])
    return np.asarray(after @ ((left * mirror) @ right) - before)


def signed_angle(first: Array, second: Array, axis: Array) -> float:
    """Angle from ``first`` to ``second`` about ``axis``, right-handed, rad.

    Parts of the vectors along the axis don't count.

    Args:
        first: (3,), any length.
        second: (3,), any length.
        axis: (3,), any length.

    Examples:
        >>> x, y, z = np.eye(3)
        >>> round(signed_angle(x, x + y, z), 6)
        0.785398
    """
    unit = axis / np.linalg.norm(axis)
    a = first - (first @ unit) * unit
    b = second - (second @ unit) * unit
    return float(np.arctan2(np.cross(a, b) @ unit, a @ b))
