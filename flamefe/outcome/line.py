"""A line of points on the displaced part: its chord, sagitta, length and direction."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def chord_length(line: Array) -> float:
    """Straight distance between the first and last point of ``line`` (m, 3), m."""
    return float(np.linalg.norm(line[-1] - line[0]))


def developed_length(line: Array) -> float:
    """Length along ``line`` (m, 3) from point to point, m.

    Examples:
        >>> developed_length(np.array([[0, 0, 0], [3, 4, 0], [3, 4, 1.0]]))
        6.0
    """
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def offsets(line: Array, towards: Array) -> Array:
    """Distance of each point of ``line`` from the chord through its ends, along ``towards``.

    ::

              o   o        ^ towards, made perpendicular to the chord
           o   |     o     |
         o-----+-------o   offset > 0 here
        first        last

    Args:
        line: (m, 3) m.
        towards: (3,), direction of positive offsets.

    Returns:
        (m,) m, 0 at both ends.

    Examples:
        >>> bent = np.array([[0, 0, 0], [1, 0, 0.1], [2, 0, 0]])
        >>> offsets(bent, np.array([0, 0, 1.0])).tolist()
        [0.0, 0.1, 0.0]
    """
    chord = line[-1] - line[0]
    along = chord / np.linalg.norm(chord)
    out = towards - (towards @ along) * along
    return np.asarray((line - line[0]) @ (out / np.linalg.norm(out)))


def sagitta(line: Array, towards: Array) -> float:
    """Offset of the point half way along ``line`` from its chord, along ``towards``, m.

    Args:
        line: (m, 3) m, points from end to end.
        towards: (3,), direction of a positive sagitta.

    Examples:
        >>> bent = np.array([[0, 0, 0], [1, 0, 0.1], [2, 0, 0]])
        >>> sagitta(bent, np.array([0, 0, 1.0]))
        0.1
    """
    away = offsets(line, towards)
    way = np.concatenate(([0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))))
    return float(np.interp(0.5 * way[-1], way, away))


def direction(line: Array) -> Array:
    """Unit vector of the best-fitting straight line, pointing from first to last point, (3,).

    Args:
        line: (m, 3) m.

    Examples:
        >>> direction(np.array([[0, 0, 0], [0, 1, 0], [0, 2.0, 0]])).round(12).tolist()
        [0.0, 1.0, 0.0]
    """
    _, _, axes = np.linalg.svd(line - line.mean(axis=0), full_matrices=False)
    unit = axes[0]
    return np.asarray(unit * np.sign(unit @ (line[-1] - line[0])) + 0.0)


def band_about_plane(surface: Array) -> float:
    """Width of the band between the farthest points either side of the best-fitting plane, m.

    Args:
        surface: (m, 3) m, at least 3 points.

    Examples:
        >>> corners = np.array([[0, 0, 0.1], [1, 0, -0.1], [1, 1, 0.1], [0, 1, -0.1]])
        >>> round(band_about_plane(corners), 12)
        0.2
    """
    _, _, axes = np.linalg.svd(surface - surface.mean(axis=0), full_matrices=False)
    return float(np.ptp(surface @ axes[2]))
