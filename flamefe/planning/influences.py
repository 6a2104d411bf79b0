"""What a kink does to the measured deviations of a member, a column or a ring."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]


def string_offsets(stations: ArrayLike, kink: float, length: float) -> Array:
    """Offsets from a string between the ends, by a kink of one radian in the member.

    y(x) = x (L - s) / L up to the kink at s, then s (L - x) / L

    Args:
        stations: (n,) m, where is measured.
        kink: m, where the member turns.
        length: m, between the ends of the string.

    Returns:
        (n,) m/rad, positive.

    Raises:
        OutOfRange: a station or the kink lies off the member.

    Source: exact for small angles.

    Example:
        >>> string_offsets([0, 3, 6, 12], 6.0, 12.0).tolist()
        [0.0, 1.5, 3.0, 0.0]
    """
    x = np.asarray(stations, float)
    if not length > 0.0 or not 0.0 <= kink <= length or x.min() < 0.0 or x.max() > length:
        raise OutOfRange(
            f"Stations from {x.min():g} to {x.max():g} m and a kink at {kink:g} m on a member of "
            f"{length:g} m; all must lie on it."
        )
    return np.where(x <= kink, x * (length - kink), kink * (length - x)) / length


def plumb_offsets(heights: ArrayLike, kink: float) -> Array:
    """Offsets from the plumb line over the foot, by a kink of one radian in a column.

    y(z) = max(0, z - s): the rotation times the lever above it

    Args:
        heights: (n,) m over the foot, where is measured.
        kink: m over the foot.

    Returns:
        (n,) m/rad.

    Raises:
        OutOfRange: a height below the foot.

    Source: exact for small angles.

    Example:
        >>> plumb_offsets([1.0, 5.0, 9.0], 3.0).tolist()
        [0.0, 2.0, 6.0]
    """
    z = np.asarray(heights, float)
    if z.min() < 0.0 or kink < 0.0:
        raise OutOfRange("Heights of a column count from its foot: 0 or more.")
    return np.maximum(z - kink, 0.0)


def radial_offsets(angles: ArrayLike, kink: float, radius: float) -> Array:
    """Departures from round of a thin ring, by a kink of one radian that closes it tighter.

    w'' + w = R (1 / (2 pi) + cos / pi part - delta) solved by modes n = 2, 3, ...:
    w(t) = (R / pi) sum cos(n (t - t0)) / (n^2 - 1); size and place of the ring are fitted out

    Args:
        angles: (n,) rad, where is measured.
        kink: rad, where it turns.
        radius: m.

    Returns:
        (n,) m/rad, outwards at the kink.

    Raises:
        OutOfRange: a radius that is not above 0.

    Source: bending of a thin ring without stretch (textbook, re-derived); the sum has the closed
    form 1/2 + cos(t)/4 - (pi - t) sin(t)/2 for 0 <= t <= 2 pi.

    Example:
        >>> (radial_offsets([0.0], 0.0, 1.0) * np.pi).round(3).tolist()
        [0.75]
    """
    if not radius > 0.0:
        raise OutOfRange(f"A ring of radius {radius:g} m; needed: above 0.")
    turn = np.mod(np.asarray(angles, float) - kink, 2.0 * np.pi)
    total = 0.5 + 0.25 * np.cos(turn) - 0.5 * (np.pi - turn) * np.sin(turn)
    return radius / np.pi * total
