"""How a face comes on paper: at what scale, and where cold lengths are cut out by break lines."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.reporting.heat_sketch import FaceView, Span

Array = NDArray[np.float64]

WORTH_A_BREAK = 1.6
"""A face is cut only where it comes out this much larger for it."""
WIDER = (24.0, 16.0, 12.0, 8.0, 6.0, 4.0, 3.0, 2.0, 1.5)
"""Margins beside heats that are tried where there is room, by the usual one."""
STUB = 0.07
"""Length that is left of what is cut out, by what is kept."""
SHORT = 0.5
"""Gaps up to this length, by what is kept, are not cut out."""
MARGIN = 0.10
"""What is kept beside heats, by their extent."""
THINNEST = 15.0
"""A face is never drawn thinner, mm of paper: its two coordinates then differ in scale."""
MOST_KEPT_PLACES = 8
CLEAR = 7.0
"""Heats that come out this large on paper need no larger scale, mm."""
ENOUGH = 100.0
"""A face drawn at up to so many times its size is large enough."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Axis:
    """A coordinate of a face with stretches cut out.

    Args:
        knots: rising, mm of the part.
        places: of these, mm of the part with the cuts taken out, from 0.
        breaks: middles of the cuts, in the same measure as the places.

    Example:
        >>> axis = cut((0.0, 3000.0), [(900.0, 1100.0)])
        >>> len(axis.breaks), axis.length < 600
        (2, True)
        >>> a, b = axis.at([900.0, 1100.0])
        >>> round(float(b - a), 6)
        200.0
    """

    knots: Array
    places: Array
    breaks: tuple[float, ...] = ()

    @property
    def length(self) -> float:
        """With the cuts taken out, mm of the part."""
        return float(self.places[-1])

    def at(self, values: ArrayLike) -> Array:
        """Places of coordinates, mm of the part with the cuts taken out."""
        given = np.asarray(values, dtype=float)
        inner = np.interp(given, self.knots, self.places)
        low, high = np.minimum(given - self.knots[0], 0.0), np.maximum(given - self.knots[-1], 0.0)
        return np.asarray(inner + low + high)


def uncut(span: Span) -> Axis:
    """A coordinate as it is.

    Example:
        >>> uncut((100.0, 400.0)).length
        300.0
    """
    return Axis(knots=np.array(span), places=np.array([0.0, span[1] - span[0]]))


def cut(span: Span, kept: Sequence[Span]) -> Axis:
    """A coordinate with what lies between the kept stretches cut out, its ends kept a little.

    Args:
        span: from where to where it runs, mm.
        kept: stretches that are drawn at their full length, mm.
    """
    low, high = span
    stretches = _joined([(max(a, low), min(b, high)) for a, b in kept])
    shown_whole = max(sum(b - a for a, b in stretches), 1e-6)
    stub = STUB * shown_whole
    stretches = _joined([(low, min(low + stub, high)), *stretches, (max(high - stub, low), high)])
    knots, places, breaks = [stretches[0][0]], [0.0], []
    for number, (start, end) in enumerate(stretches):
        if number:
            gap = start - stretches[number - 1][1]
            shown = min(gap, stub)
            if gap > SHORT * shown_whole:
                breaks.append(places[-1] + 0.5 * shown)
            else:
                shown = gap
            knots.append(start)
            places.append(places[-1] + shown)
        knots.append(end)
        places.append(places[-1] + end - start)
    unique = np.concatenate(([True], np.diff(knots) > 1e-9))
    return Axis(
        knots=np.array(knots)[unique], places=np.array(places)[unique], breaks=tuple(breaks)
    )


def _joined(stretches: Sequence[Span]) -> list[Span]:
    result: list[Span] = []
    for start, end in sorted(stretches):
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(end, result[-1][1]))
        else:
            result.append((start, end))
    return result


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit:
    """A face on paper.

    Args:
        along, across: its two coordinates.
        scales: mm of paper by mm of the part, along and across.
    """

    along: Axis
    across: Axis
    scales: tuple[float, float]

    @property
    def size(self) -> tuple[float, float]:
        """On paper, mm."""
        return self.along.length * self.scales[0], self.across.length * self.scales[1]

    @property
    def even(self) -> bool:
        """Whether both coordinates have the same scale."""
        return abs(self.scales[0] / self.scales[1] - 1.0) < 1e-6

    @property
    def is_cut(self) -> bool:
        """Whether something is cut out."""
        return bool(self.along.breaks or self.across.breaks)


def fit(view: FaceView, width: float, height: float) -> Fit:
    """How a face comes on a field of paper: cut as little as serves, at the largest scale.

    Args:
        view: the face.
        width, height: of the field, mm.
    """
    wide = [uncut(view.along), cut(view.along, _kept(view, 0))]
    tall = [uncut(view.across), cut(view.across, _kept(view, 1))]
    found = []
    for cuts, (one, other) in enumerate(product(wide, tall)):
        scale = min(width / one.length, height / other.length, ENOUGH)
        found.append((scale, cuts, one, other))
    best = max(scale for scale, *_ in found)
    wanted = min(best / WORTH_A_BREAK, CLEAR / _smallest(view))
    enough = [item for item in found if item[0] >= wanted]
    scale, _, one, other = min(enough, key=lambda item: (item[1].bit_count(), -item[0]))
    one = _filled(view, 0, one, width / scale)
    other = _filled(view, 1, other, height / scale)
    scales = (
        max(scale, min(THINNEST, width) / one.length),
        max(scale, min(THINNEST, height) / other.length),
    )
    return Fit(along=one, across=other, scales=scales)


def _filled(view: FaceView, axis: int, made: Axis, room: float) -> Axis:
    """A coordinate that is cut, with as much of it kept beside the heats as there is room for."""
    if not made.breaks:
        return made
    span = view.along if axis == 0 else view.across
    for wider in WIDER:
        tried = cut(span, _kept(view, axis, wider))
        if tried.breaks and tried.length <= room:
            return tried
    return made


def _smallest(view: FaceView) -> float:
    """The smallest size of a heat, or distance of spots, that a sketch must show, mm."""
    sizes = []
    spots = np.array([one.points[0] for one in view.strokes if len(one.points) == 1])
    for stroke in view.strokes:
        if len(stroke.points) == 1:
            apart = np.linalg.norm(spots - stroke.points[0], axis=1)
            near = apart[apart > 1e-6]
            sizes.append(min(float(near.min()) if near.size else np.inf, 4.0 * stroke.radius))
        elif len(stroke.rim):
            sizes.append(float(np.ptp(stroke.rim, axis=0).min()))
        else:
            sizes.append(float(np.ptp(stroke.points, axis=0).max()))
    return max(min(sizes), 1e-3)


def _kept(view: FaceView, axis: int, wider: float = 1.0) -> list[Span]:
    """Stretches of a coordinate that heats and single supports need."""
    ends = []
    for stroke in view.strokes:
        places = np.concatenate((stroke.points, stroke.rim))[:, axis]
        reach = stroke.radius if len(stroke.points) == 1 else 0.0
        ends.append((float(places.min()) - reach, float(places.max()) + reach))
    covered = sum(b - a for a, b in _joined(ends))
    low, high = view.along if axis == 0 else view.across
    margin = wider * max(MARGIN * covered, 0.01 * (high - low) / max(len(ends), 1), 5.0)
    kept = [(a - margin, b + margin) for a, b in ends]
    held = {place[axis] for one in view.holders for place in one.places}
    if axis == 0 and len(held) <= MOST_KEPT_PLACES:
        kept += [(place - 0.3 * margin, place + 0.3 * margin) for place in held]
    return kept
