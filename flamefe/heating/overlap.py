"""Heats that lie on one another: what was heated once gives less the second time."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import STRtree, contains_xy
from shapely.geometry import MultiPoint, Point
from shapely.ops import unary_union

from flamefe.heating.pattern import Pattern, Stroke

REPEATED, TOUCHED = 0.6, 0.15
"""Shares of the smaller heat from which on it counts as repeated, and as overlapping."""


@dataclass(frozen=True, kw_only=True)
class Overlap:
    """Two heats, or strokes, on one place.

    Args:
        first, second: their positions in what was given.
        share: of the smaller one's area that both cover, 0 to 1.
    """

    first: int
    second: int
    share: float

    @property
    def repeated(self) -> bool:
        """Whether the second lies so much on the first that it repeats it."""
        return self.share >= REPEATED


def overlaps(patterns: Sequence[Pattern], reaches: Sequence[float]) -> tuple[Overlap, ...]:
    """Pairs of patterns on one face that lie on one another.

    A pattern covers what lies within ``reach`` of the strip over which the torch goes.

    Args:
        patterns: on one face.
        reaches: for each, how far its flame reaches beside its way, m: its radius.

    Example:
        >>> from flamefe.heating.pattern import line
        >>> one, other = line([(0.0, 0.0), (0.2, 0.0)]), line([(0.1, 0.01), (0.3, 0.01)])
        >>> [(o.first, o.second, o.repeated) for o in overlaps([one, other], [0.02, 0.02])]
        [(0, 1, False)]
    """
    covered = [_covered(p, reach) for p, reach in zip(patterns, reaches, strict=True)]
    return _pairs(covered)


def overlapping_spots(pattern: Pattern, reach: float) -> tuple[Overlap, ...]:
    """Pairs of standing strokes of one pattern that lie on one another."""
    standing = [stroke for stroke in pattern.strokes if stroke.stands]
    return _pairs([Point(stroke.points[0]).buffer(reach) for stroke in standing])


def within(pattern: Pattern, reach: float, places: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which places (k, 2) m lie within ``reach`` m of the strip over which the torch goes.

    Example:
        >>> from flamefe.heating.pattern import line
        >>> places = np.array([[0.1, 0.005], [0.1, 0.02]])
        >>> within(line([(0.0, 0.0), (0.2, 0.0)]), 0.01, places).tolist()
        [True, False]
    """
    return np.asarray(contains_xy(_covered(pattern, reach), places[:, 0], places[:, 1]))


def _pairs(covered: Sequence[Any]) -> tuple[Overlap, ...]:
    if len(covered) < 2:
        return ()
    first, second = STRtree(covered).query(covered, predicate="intersects")
    found = []
    for i, j in zip(np.asarray(first).tolist(), np.asarray(second).tolist(), strict=True):
        if i >= j:
            continue
        both = covered[i].intersection(covered[j]).area
        share = both / min(covered[i].area, covered[j].area)
        if share >= TOUCHED:
            found.append(Overlap(first=i, second=j, share=min(float(share), 1.0)))
    return tuple(sorted(found, key=lambda overlap: (overlap.second, overlap.first)))


def _covered(pattern: Pattern, reach: float) -> Any:
    pieces = []
    for stroke in pattern.strokes:
        if stroke.stands:
            pieces.append(Point(stroke.points[0]).buffer(reach))
            continue
        for number in range(len(stroke.points) - 1):
            part = Stroke(
                points=stroke.points[number : number + 2],
                widths=stroke.widths[number : number + 2],
            )
            pieces.append(MultiPoint(part.outline).convex_hull.buffer(reach))
    return unary_union(pieces)
