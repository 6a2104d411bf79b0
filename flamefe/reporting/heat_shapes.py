"""Small shapes of a heat sheet's drawing, and which places get a dimension."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

Array = NDArray[np.float64]
Point = tuple[float, float]

ROW = 3.3
"""Least distance of dimensions, mm."""
WHOLE = 1000.0
"""From here on dimensions are told in whole mm; the table has them in full."""
WEAVES = 9
FAR = 99.0


def chosen_places(
    tiers: Sequence[Sequence[float]], on: Callable[[Array], Array], most: int
) -> tuple[list[float], int]:
    """Places that get a dimension, and how many are left out.

    Of a group that is too large only those are chosen that stand apart on paper.

    Args:
        tiers: places in groups, mm, the most important first.
        on: where they lie on paper, mm.
        most: how many there is room for.

    Example:
        >>> chosen_places([(0, 100), (10, 20, 30, 40)], lambda values: 0.1 * values, 3)
        ([0, 100, 40], 3)
        >>> chosen_places([(0, 100), (10, 20, 30, 40)], lambda values: 0.1 * values, 9)[1]
        0
    """
    chosen: list[float] = []
    for tier in tiers:
        if len(chosen) + len(tier) <= most:
            chosen += tier
            continue
        taken = on(np.array(chosen)).tolist() if chosen else []
        for value in tier:
            at = float(on(np.array([value]))[0])
            if len(chosen) < most and all(abs(at - other) >= ROW for other in taken):
                taken.append(at)
                chosen.append(value)
    return chosen, sum(map(len, tiers)) - len(chosen)


def dimension(value: float) -> str:
    """A dimension as it is written, mm.

    Example:
        >>> dimension(268.9), dimension(1979.6), dimension(100.0)
        ('268.9', '1980', '100')
    """
    return f"{value:.0f}" if abs(value) >= WHOLE else f"{value + 0.0:.5g}"


def weave(rim: list[Point]) -> list[Point]:
    """A way to and fro between the two sides of a woven pattern.

    Args:
        rim: its left side from start to end, then its right side back, mm.
    """
    half = len(rim) // 2
    left, right = np.array(rim[:half]), np.array(rim[half:][::-1])
    shares = np.linspace(0.0, half - 1, WEAVES * 2 + 1)
    places = []
    for number, share in enumerate(shares.tolist()):
        side = left if number % 2 else right
        low = min(int(share), half - 2)
        place = side[low] + (share - low) * (side[low + 1] - side[low])
        places.append((float(place[0]), float(place[1])))
    return places


def arrow_on(way: list[Point]) -> tuple[Point, Point]:
    """Tail and tip of an arrow a little beyond the middle of a way.

    Example:
        >>> arrow_on([(0.0, 0.0), (10.0, 0.0)])
        ((3.0, 0.0), (6.0, 0.0))
    """
    points = np.array(way)
    runs = np.concatenate(([0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))))
    total = float(runs[-1])
    ends = []
    for run in (max(0.6 * total - 3.0, 0.0), 0.6 * total):
        ends.append(tuple(float(np.interp(run, runs, points[:, axis])) for axis in (0, 1)))
    return (ends[0][0], ends[0][1]), (ends[1][0], ends[1][1])


def nearest(centres: Array) -> float:
    """Least distance of places (k, 2) that do not coincide; large where there is one alone.

    Example:
        >>> nearest(np.array([(0.0, 0.0), (3.0, 4.0), (30.0, 0.0)]))
        5.0
    """
    if len(centres) < 2:
        return FAR
    found = cKDTree(centres).query(centres, k=min(len(centres), 2))[0][:, -1]
    apart = found[found > 1e-6]
    return float(apart.min()) if apart.size else FAR


def zigzag(x: float, low: float, high: float) -> list[Point]:
    """An upright break line from low to high, mm.

    Example:
        >>> zigzag(0.0, 0.0, 20.0)[0], zigzag(0.0, 0.0, 20.0)[-1]
        ((0.0, 0.0), (0.0, 20.0))
    """
    middle, size = 0.5 * (low + high), min(2.2, 0.2 * (high - low))
    return [
        (x, low), (x, middle - size), (x - 0.9, middle - 0.4 * size),
        (x + 0.9, middle + 0.4 * size), (x, middle + size), (x, high),
    ]  # fmt: skip
