"""Where rows of a table lie: a box in every input, and the convex hull of those that vary.

A fit says something where it was made. The box holds the least and greatest value of each input
in the trade's units; the hull cuts the corners of the box that no row was near. It is taken over
logarithms, of inputs that are above 0, so that products of them (the heat per length is power by
speed) do not make it round. Both are told in columns of a table (see `flamefe.rules.columns`), so
that any program can check them.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from flamefe.basics.errors import OutOfRange
from flamefe.rules.columns import COLUMNS
from flamefe.rules.inputs import RuleInputs

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

TOLERANCE = 0.005
"""How far outside counts as inside still, by the width of the range (of its value where a
column does not vary)."""

ANOTHER_WORD = 1.0
"""Distance at which another word (kind of metal, side) counts to lie."""

STEADY = 0.01
"""Share of its value within which an input counts as one that did not vary."""

FLAT = 1e-6
"""Extent of points, by their greatest, from which they count as lying in a plane."""

MOST_HULL_COLUMNS = 5
"""In more dimensions a hull has too many sides to be of use."""

WORDS = ("part", "geometry", "family", "wedge_base", "wedge_driven", "one_sided", "heat_outline")
"""Inputs that are words: inside where the same word stood in a row."""

_ONLY_WITH = {
    "wedge_base": "wedge_angle",
    "wedge_driven": "wedge_angle",
    "one_sided": "restraint",
    "heat_outline": "heat_arc",
}

_NUMBERS = {c.field: (c.name, float(c.scale)) for c in COLUMNS if c.scale and "." not in c.field}


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where the inputs of one heat lie against a range.

    Args:
        distance: greatest distance outside by the width of the range (by the value itself where
            an input did not vary); 1 at least where a word is another one; 0 inside.
        reasons: why it is outside, in words; none inside.
        unchecked: inputs of the range that aren't known.
    """

    distance: float
    reasons: tuple[str, ...]
    unchecked: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Span:
    """The range that rows cover.

    Args:
        fields: rule inputs that are numbers, of the box.
        low: least value of each, trade units.
        high: greatest value of each, trade units.
        words: (input, its values) of those that are words.
        hull_fields: inputs of the hull, two to five that vary; none: there is no hull.
        hull_points: (k, inputs) its corners, trade units.

    Raises:
        OutOfRange: the numbers contradict each other.
    """

    fields: tuple[str, ...]
    low: Array
    high: Array
    words: tuple[tuple[str, tuple[str, ...]], ...] = ()
    hull_fields: tuple[str, ...] = ()
    hull_points: Array = field(default_factory=lambda: np.zeros((0, 0)))
    _sides: Array = field(init=False, repr=False)
    _box: tuple[tuple[str, str, float, float, float, float], ...] = field(init=False, repr=False)
    _widths: Array = field(init=False, repr=False)
    _hull_places: tuple[int, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        count = len(self.fields)
        unknown = [name for name in self.fields if name not in _NUMBERS]
        if unknown:
            raise OutOfRange(f"The range names {', '.join(unknown)}, which are no rule inputs.")
        shaped = self.low.shape == self.high.shape == (count,)
        if not shaped or not (self.low <= self.high).all():
            raise OutOfRange("The range needs one least and one greatest value of each input.")
        widths = self.high - self.low
        steady = widths <= STEADY * np.maximum(np.abs(self.high), 1e-300)
        widths = np.where(steady, np.maximum(np.abs(self.high), 1e-12), widths)
        object.__setattr__(self, "_widths", widths)
        box = tuple(
            (name, *_NUMBERS[name], float(low), float(high), float(width))
            for name, low, high, width in zip(self.fields, self.low, self.high, widths, strict=True)
        )
        object.__setattr__(self, "_box", box)
        places = tuple(self.fields.index(name) for name in self.hull_fields)
        object.__setattr__(self, "_hull_places", places)
        sides = np.zeros((0, len(places) + 1))
        if places:
            try:
                sides, _ = _hull(self._boxed(self.hull_points))
            except (QhullError, ValueError, IndexError) as error:
                raise OutOfRange("The corners of the range span no hull.") from error
        object.__setattr__(self, "_sides", sides)

    def _boxed(self, points: Array) -> Array:
        """Trade units to shares of the box along the hull's inputs, by logarithms above 0."""
        places = list(self._hull_places)
        return _shares(points, self.low[places], self.high[places])

    @property
    def hull_logarithmic(self) -> tuple[bool, ...]:
        """Which inputs of the hull count by their logarithm: those that are above 0 throughout."""
        return tuple(bool(self.low[i] > 0) for i in self._hull_places)

    @property
    def columns(self) -> tuple[str, ...]:
        """Column names of the box."""
        return tuple(_NUMBERS[name][0] for name in self.fields)

    @property
    def hull_columns(self) -> tuple[str, ...]:
        """Column names of the hull."""
        return tuple(_NUMBERS[name][0] for name in self.hull_fields)

    def place(self, inputs: RuleInputs) -> "Place":
        """Whether inputs of one heat lie inside, how far outside, and why.

        Args:
            inputs: of one heat.
        """
        reasons: list[str] = []
        unchecked: list[str] = []
        for name, seen in self.words:
            word = getattr(inputs, name)
            if word is None:
                unchecked.append(f"{name.replace('_', ' ')} isn't known")
            elif _word(word) not in seen:
                had = " and ".join(seen)
                reasons.append(f"{name.replace('_', ' ')} is {_word(word)}, the table had {had}")
        other = ANOTHER_WORD if reasons else 0.0
        worst, places = 0.0, []
        for name, column, scale, low, high, width in self._box:
            value = getattr(inputs, name)
            if value is None:
                unchecked.append(f"{column} isn't known")
                places.append(math.nan)
                continue
            place = value / scale
            places.append(place)
            beyond = max(low - place, place - high) / width
            worst = max(worst, beyond)
            if beyond > TOLERANCE:
                had = f"{low:.4g}" if low == high else f"{low:.4g} to {high:.4g}"
                reasons.append(f"{column} is {place:.4g}, the table had {had}")
        if worst <= TOLERANCE and len(self._sides):
            boxed = self._boxed(np.array([places[i] for i in self._hull_places]))
            worst = float((self._sides[:, :-1] @ boxed + self._sides[:, -1]).max())
            if worst > TOLERANCE:
                told = ", ".join(f"{self.columns[i]} {places[i]:.4g}" for i in self._hull_places)
                reasons.append(f"no row was near this corner of the range: {told} together")
        distance = max(worst if worst > TOLERANCE else 0.0, other)
        return Place(distance=distance, reasons=tuple(reasons), unchecked=tuple(unchecked))


def span_of(rows: Sequence[RuleInputs], fields: Sequence[str]) -> Span:
    """The range of some inputs over rows.

    Args:
        rows: one or more.
        fields: names of rule inputs; those that no row knows are left out, and so are those that
            only some rows know (the range would not hold for the others).

    Returns:
        Box, words and hull. The hull is that of the first five inputs that vary.

    Raises:
        OutOfRange: there is no row.

    Examples:
        >>> rows = [RuleInputs(thickness=h, speed=v) for h, v in
        ...     ((0.006, 0.004), (0.025, 0.004), (0.006, 0.010))]
        >>> span = span_of(rows, ("thickness", "speed"))
        >>> span.columns, span.low.tolist(), span.high.tolist()
        (('thickness_mm', 'speed_mm_s'), [6.0, 4.0], [25.0, 10.0])
        >>> span.place(RuleInputs(thickness=0.01, speed=0.005)).distance
        0.0
        >>> span.place(RuleInputs(thickness=0.025, speed=0.010)).reasons
        ('no row was near this corner of the range: thickness_mm 25, speed_mm_s 10 together',)
    """
    if not rows:
        raise OutOfRange("There is no row, so there is no range.")
    known = [
        name
        for name in dict.fromkeys(fields)
        if name in _NUMBERS and all(getattr(row, name) is not None for row in rows)
    ]
    values = np.array(
        [[getattr(row, name) / _NUMBERS[name][1] for name in known] for row in rows], dtype=float
    ).reshape(len(rows), len(known))
    values = np.array([float(f"{value:.10g}") for value in values.ravel()]).reshape(values.shape)
    low, high = values.min(axis=0), values.max(axis=0)
    varying = [i for i in range(len(known)) if high[i] - low[i] > STEADY * abs(high[i])]
    words = tuple(
        (name, tuple(sorted({_word(getattr(row, name)) for row in rows})))
        for name in WORDS
        if all(
            getattr(row, name) is not None and getattr(row, _ONLY_WITH.get(name, name)) is not None
            for row in rows
        )
    )
    chosen, points = _hull_of(values, varying[:MOST_HULL_COLUMNS])
    return Span(
        fields=tuple(known),
        low=low,
        high=high,
        words=words,
        hull_fields=tuple(known[i] for i in chosen),
        hull_points=points,
    )


def _hull_of(values: Array, chosen: list[int]) -> tuple[list[int], Array]:
    """Columns and corners of the hull of rows; none where less than two inputs vary."""
    if len(chosen) < 2:
        return [], np.zeros((0, 0))
    points = np.unique(values[:, chosen], axis=0)
    _, corners = _hull(_shares(points, points.min(axis=0), points.max(axis=0)))
    return chosen, np.asarray(points[corners])


def _shares(points: Array, low: Array, high: Array) -> Array:
    """Where points lie between low (0) and high (1), by logarithms where low is above 0."""
    logs = low > 0
    safe = np.where(logs, np.maximum(points, 1e-12 * np.abs(low)), 1.0)
    bottom, top = np.where(logs, low, 1.0), np.where(logs, high, 2.0)
    by_logs = np.log(safe / bottom) / np.log(top / bottom)
    return np.asarray(np.where(logs, by_logs, (points - low) / (high - low)))


def _hull(points: Array) -> tuple[Array, IntArray]:
    """Sides of a hull, outward normals and offsets (sides, inputs + 1), and its corners.

    Points that lie in a plane or on a line have the hull in it; its two sides are sides as well.
    """
    middle = points.mean(axis=0)
    _, sizes, axes = np.linalg.svd(points - middle, full_matrices=True)
    rank = int(np.count_nonzero(sizes > FLAT * sizes.max()))
    inside, across = axes[:rank], axes[rank:]
    within = (points - middle) @ inside.T
    if rank == 1:
        corners = np.array([within[:, 0].argmin(), within[:, 0].argmax()])
        sides = np.array([[-1.0, within.min()], [1.0, -within.max()]])
    else:
        hull = ConvexHull(within)
        corners, sides = hull.vertices, hull.equations
    normals = np.concatenate((sides[:, :-1] @ inside, across, -across))
    offsets = np.concatenate((sides[:, -1], np.zeros(2 * len(across)))) - normals @ middle
    equations = np.column_stack((normals, offsets))
    return np.unique(np.round(equations, 12), axis=0), np.sort(corners)


def _word(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
