"""How far a panel stands from flat: before, after, and what changed."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.outcome.box import DisplacedBox
from flamefe.outcome.line import band_about_plane
from flamefe.outcome.measure import Measure

Array = NDArray[np.float64]

TO_MM = 1e3
ALONG, ACROSS = 61, 41


def dishing_measures(points: ArrayLike, before: ArrayLike, after: ArrayLike) -> tuple[Measure, ...]:
    """Dishing and flatness of a panel against the flat shape it should have, mm.

    Seen from an edge::

        z ^          o--o                 dishing > 0: the place farthest from the plane of the
          |       o        o              edges stands towards the top face (z max)
          +--> . o..........o .           dotted: plane that fits the four edges best

    Args:
        points: (n, 3) m, nodes of the flat panel: x, y in its plane, z through the thickness.
        before: (n, 3) m, from flat to the shape at the start of the job.
        after: (n, 3) m, from flat to the shape that was reached.

    Returns:
        Dishing before, after and its change at the place that was highest; flatness before and
        after.

    Examples:
        >>> from flamefe.outcome.measure import find_measure
        >>> grid = np.meshgrid(np.linspace(0, 1, 5), np.linspace(0, 1, 5), [0, 0.01])
        >>> points = np.array(grid).reshape(3, -1).T
        >>> bulge = np.zeros_like(points)
        >>> bulge[:, 2] = 0.004 * np.sin(np.pi * points[:, 0]) * np.sin(np.pi * points[:, 1])
        >>> found = dishing_measures(points, bulge, 0.5 * bulge)
        >>> print(find_measure(found, "dishing before the job"))
        dishing before the job 4 mm
        >>> print(find_measure(found, "change of dishing"))
        change of dishing -2 mm
    """
    first, last = _surface(points, before), _surface(points, after)
    then, now = _above_edges(first), _above_edges(last)
    top = np.unravel_index(int(np.argmax(np.abs(then))), then.shape)
    way = 1.0 if then[top] >= 0.0 else -1.0
    rule = (
        "distance from the plane of the four edges of the place farthest from it, at "
        "mid-thickness; positive towards the top face"
    )
    band = "width of the band that holds the mid-surface, about its best-fitting plane; never < 0"
    return (
        _measure("dishing before the job", _farthest(then), rule),
        _measure("dishing", _farthest(now), rule),
        _measure(
            "change of dishing",
            way * float(now[top] - then[top]),
            "change of the distance from the plane of the four edges at the place that was "
            "farthest from it; negative: it came nearer to flat",
        ),
        _measure("flatness before the job", band_about_plane(first.reshape(-1, 3)), band),
        _measure("flatness of the panel", band_about_plane(last.reshape(-1, 3)), band),
    )


def _surface(points: ArrayLike, moved: ArrayLike) -> Array:
    """Places of the mid-surface, (across, along, 3) m."""
    box = DisplacedBox(points=np.asarray(points), displacements=np.asarray(moved))
    along, across = np.meshgrid(np.linspace(0, 1, ALONG), np.linspace(0, 1, ACROSS))
    return box.at(np.stack((along, across, np.full(along.shape, 0.5)), axis=-1))


def _above_edges(surface: Array) -> Array:
    """Height above the plane that fits the four edges best, (across, along) m."""
    rim = np.concatenate((surface[0], surface[-1], surface[:, 0], surface[:, -1]))
    middle = rim.mean(axis=0)
    normal = np.linalg.svd(rim - middle)[2][2]
    return np.asarray((surface - middle) @ (normal if normal[2] >= 0.0 else -normal))


def _farthest(height: Array) -> float:
    return float(height.reshape(-1)[int(np.argmax(np.abs(height)))])


def _measure(name: str, value: float, meaning: str) -> Measure:
    return Measure(name=name, value=TO_MM * value, unit="mm", meaning=meaning)
