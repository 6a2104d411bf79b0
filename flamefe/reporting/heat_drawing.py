"""Draw the sketch of a heat sheet: faces with heats, dimensions, supports; and the section."""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from flamefe.reporting.charts import PALE
from flamefe.reporting.heat_labels import Taken, around, spread
from flamefe.reporting.heat_scale import THINNEST, Fit, fit
from flamefe.reporting.heat_section import SECTION_WIDTH, draw_section
from flamefe.reporting.heat_shapes import (
    ROW,
    arrow_on,
    chosen_places,
    dimension,
    nearest,
    weave,
    zigzag,
)
from flamefe.reporting.heat_sketch import Drawn, FaceView, Sketch
from flamefe.reporting.marks import HOLDING
from flamefe.reporting.paper import Box, Paper, fitted, text_width
from flamefe.reporting.part_picture import HEATED

Array = NDArray[np.float64]

LEFT, BELOW, ABOVE, RIGHT = 15.0, 12.5, 8.5, 5.0
"""Room round a face for dimensions and names, mm."""
LETTERS = 7.0
METAL = "#f1f1ef"
SPOTTED = "#f3dcb6"
SPOT = 2.0
"""Least radius of a spot on paper, mm."""
FAR = 7.0
"""A label farther from what it names than this seems to name something else, mm."""
TIGHT = 13.0
"""Face drawn no thinner where there are several, mm."""


@dataclass(frozen=True, kw_only=True)
class Remarks:
    """What a drawing leaves to be said beside it.

    Args:
        cut: cold lengths were cut out.
        uneven: length and width of a face have different scales.
        unnumbered: spots without a number, because they stand too close.
        undimensioned: places without a dimension.
        left_out: faces that had no room.
    """

    cut: bool = False
    uneven: bool = False
    unnumbered: int = 0
    undimensioned: int = 0
    left_out: tuple[str, ...] = ()


def height_needed(sketch: Sketch) -> float:
    """Height under which faces of a sketch are left out, mm."""
    return len(sketch.views) * (ABOVE + BELOW + TIGHT) + 1.0


def height_wanted(sketch: Sketch, width: float) -> float:
    """Height that a sketch takes at its largest useful scale, mm.

    Args:
        sketch: the sketch.
        width: of the field, mm.
    """
    field = _field(sketch, width)
    heights = [fit(view, field, 150.0).size[1] + ABOVE + BELOW for view in sketch.views]
    section = 0.0 if sketch.section is None else 44.0
    return max(sum(heights), section)


def draw_sketch(paper: Paper, sketch: Sketch, box: Box) -> Remarks:
    """Draw a sketch into a box of the paper.

    Args:
        paper: where to.
        sketch: what.
        box: mm.

    Returns:
        What is left to be said beside it.
    """
    width, height = box.right - box.left, box.high - box.low
    field = _field(sketch, width)
    most = max(int(height / (ABOVE + BELOW + TIGHT)), 1)
    views = sketch.views[:most]
    wanted = [fit(view, field, 150.0).size[1] for view in views]
    room = _shared(wanted, height - len(wanted) * (ABOVE + BELOW))
    remarks = Remarks(left_out=(*(view.face for view in sketch.views[most:]), *sketch.left_out))
    top = box.high
    for view, share in zip(views, room, strict=True):
        place = Box(box.left, top - share - ABOVE - BELOW, box.left + field + LEFT + RIGHT, top)
        found = _Face(paper, view, place, share).draw()
        remarks = replace(
            remarks,
            cut=remarks.cut or found.cut,
            uneven=remarks.uneven or found.uneven,
            unnumbered=remarks.unnumbered + found.unnumbered,
            undimensioned=remarks.undimensioned + found.undimensioned,
        )
        top = place.low
    if sketch.section is not None:
        low = max(box.low, box.high - 60.0)
        draw_section(
            paper, sketch.section, Box(box.right - SECTION_WIDTH, low, box.right, box.high)
        )
    return remarks


def _field(sketch: Sketch, width: float) -> float:
    beside = 0.0 if sketch.section is None else SECTION_WIDTH + 3.0
    names = [words for view in sketch.views for _, words in view.guides]
    beside += max((text_width(words, LETTERS) for words in names), default=0.0)
    return width - LEFT - RIGHT - beside


def _shared(wanted: list[float], room: float) -> list[float]:
    """Room given to each, the small ones first what they want."""
    given = [0.0] * len(wanted)
    left, number = room, len(wanted)
    for i in sorted(range(len(wanted)), key=lambda i: wanted[i]):
        given[i] = max(min(wanted[i], left / number), TIGHT if number > 1 else THINNEST)
        left, number = left - given[i], number - 1
    return given


class _Face:
    """One face on paper."""

    def __init__(self, paper: Paper, view: FaceView, place: Box, height: float) -> None:
        self.paper, self.view, self.place = paper, view, place
        width = place.right - place.left - LEFT - RIGHT
        self.fit: Fit = fit(view, width, height)
        across, up = self.fit.size
        self.left = place.left + LEFT + 0.5 * (width - across)
        self.low = place.low + BELOW + 0.5 * max(height - up, 0.0)
        self.rim = Box(self.left, self.low, self.left + across, self.low + up)
        self.taken = Taken()

    def on(self, points: Array) -> list[tuple[float, float]]:
        """Points of the face, mm, on paper."""
        x, y = self.x(points[:, 0]), self.y(points[:, 1])
        return list(zip(x.tolist(), y.tolist(), strict=True))

    def x(self, values: Array) -> Array:
        run = self.fit.along.at(values) * self.fit.scales[0]
        return np.asarray(self.rim.right - run if self.view.mirrored else self.rim.left + run)

    def y(self, values: Array) -> Array:
        run = self.fit.across.at(values) * self.fit.scales[1]
        return np.asarray(self.rim.high - run if self.view.upside_down else self.rim.low + run)

    def draw(self) -> Remarks:
        view = self.view
        self._names()
        self.paper.rectangle(self.rim, fill=METAL, width=1.1, over=1)
        left, low, right, high = self.rim
        self.taken.line([(left, low), (right, low), (right, high), (left, high), (left, low)])
        self._behind()
        spots = [one for one in view.strokes if len(one.points) == 1]
        for stroke in view.strokes:
            if len(stroke.points) > 1:
                self._way(stroke)
        unnumbered = self._spots(spots)
        self._breaks()
        for stroke in view.strokes:
            if len(stroke.points) > 1:
                unnumbered += self._number(stroke)
        self._held()
        missing = self._dimensions_along() + self._dimensions_across()
        return Remarks(
            cut=self.fit.is_cut, uneven=not self.fit.even, unnumbered=unnumbered,
            undimensioned=missing,
        )  # fmt: skip

    def _names(self) -> None:
        paper, view, rim = self.paper, self.view, self.rim
        room = self.place.right - self.place.left
        title = fitted(view.title, room, LETTERS, bold=True)
        paper.text(self.place.left, self.place.high - 2.8, title, size=LETTERS, bold=True)
        first, last = view.ends[::-1] if view.mirrored else view.ends
        above = rim.high + 1.2
        if rim.right - rim.left > 22.0:
            paper.text(rim.left, above, first, size=LETTERS)
            paper.text(rim.right, above, last, size=LETTERS, align="right")
            for words, left in ((first, True), (last, False)):
                wide = text_width(words, LETTERS) + 0.6 if words else 0.0
                start = rim.left if left else rim.right - wide
                self.taken.take(Box(start, rim.high, start + wide, rim.high + 4.2))
        low, high = view.sides[::-1] if view.upside_down else view.sides
        if rim.high - rim.low > 22.0:
            paper.text(rim.right + 3.4, rim.low, low, size=LETTERS, turned=90.0)
            paper.text(rim.right + 3.4, rim.high, high, size=LETTERS, turned=90.0, align="right")

    def _behind(self) -> None:
        """Hidden lines of plates behind the face, and the sides of a tube."""
        for low, high in self.view.hidden:
            for v in (low, high):
                y = float(self.y(np.array([v]))[0])
                self.paper.line(
                    [(self.rim.left, y), (self.rim.right, y)], width=0.6, style=(0, (5, 2.5)),
                    over=1.5,
                )  # fmt: skip
        named: list[float] = []
        for v, words in self.view.guides:
            y = float(self.y(np.array([v]))[0])
            self.paper.line(
                [(self.rim.left, y), (self.rim.right, y)], width=0.5, style=(0, (9, 2, 2, 2)),
                over=1.5,
            )  # fmt: skip
            if any(abs(y - other) < ROW for other in named):
                continue
            named.append(y)
            self.paper.text(
                self.rim.right + 1.5, y, words, size=LETTERS, upright="center", colour=PALE
            )

    def _way(self, stroke: Drawn) -> None:
        """A stroke that moves: what it covers, its way, start ring, arrow and end cross."""
        paper, way = self.paper, self.on(stroke.points)
        if len(stroke.rim):
            rim = self.on(stroke.rim)
            paper.shape(rim, fill=HEATED, edge=None, alpha=0.45, over=2)
            paper.shape(rim, width=0.8, over=4)
            paper.line(weave(rim), width=0.35, over=3)
            self.taken.line([*rim, rim[0]])
        paper.line(way, width=1.5, over=4)
        self.taken.line(way)
        tail, tip = arrow_on(way)
        long = sum(float(np.hypot(c - a, d - b)) for (a, b), (c, d) in pairwise(way))
        if long > 3.0:
            paper.arrow(tail, tip, width=1.5, head=min(11.0, 1.6 * long), over=6)
        (x, y), (u, v) = way[0], way[-1]
        turn = np.linspace(0.0, 2.0 * np.pi, 25)
        ring = list(zip((x + 1.0 * np.cos(turn)).tolist(), (y + 1.0 * np.sin(turn)).tolist(),
                        strict=True))  # fmt: skip
        for sign in (1.0, -1.0):
            paper.line([(u - 1.1, v - sign * 1.1), (u + 1.1, v + sign * 1.1)], width=1.5, over=7)
        paper.shape(ring, fill="white", width=1.2, over=7)
        self.taken.take(around(x, y, 2.2, 2.2))
        self.taken.take(around(u, v, 2.4, 2.4))

    def _spots(self, spots: list[Drawn]) -> int:
        """Spots with their numbers; how many of them have none."""
        if not spots:
            return 0
        centres = [self.on(one.points)[0] for one in spots]
        apart = nearest(np.array(centres))
        order = [0, len(spots) - 1, *range(1, len(spots) - 1)]
        numbered: dict[int, Box] = {}
        for i in dict.fromkeys(order[: len(spots)]):
            x, y = centres[i]
            box = around(x, y, text_width(spots[i].label, LETTERS, bold=True) + 0.5, 3.0)
            if self.taken.is_free(box):
                self.taken.take(box)
                numbered[i] = box
        for i, one in enumerate(spots):
            x, y = centres[i]
            true = max(min(one.radius * min(self.fit.scales), 5.0), SPOT)
            radius = min(true, 0.48 * apart)
            if radius < SPOT and i not in numbered:
                radius = min(radius, 0.6)
            turn = np.linspace(0.0, 2.0 * np.pi, 25)
            ring = [(x + radius * np.cos(t), y + radius * np.sin(t)) for t in turn]
            self.paper.shape(ring, fill=SPOTTED, width=0.8, over=4)
            self.taken.lines.append(around(x, y, 2.0 * radius, 2.0 * radius))
            if i in numbered:
                self.paper.text(
                    x, y, one.label, size=LETTERS, bold=apart > 2 * SPOT, align="center",
                    upright="center", halo=radius < SPOT,
                )  # fmt: skip
        return len(spots) - len(numbered)

    def _number(self, stroke: Drawn) -> int:
        """The number of a stroke in a circle near its start; 1 where there is no room for it."""
        x, y = self.on(stroke.points[:1])[0]
        wide, tall = max(text_width(stroke.label, 8.5, bold=True) + 1.8, 4.4), 4.4
        left, low, right, high = self.rim
        bounds = Box(left - 2.0, low, right + 4.5, min(high + 4.6, self.place.high - 3.8))
        found = self.taken.place_near(x, y, wide, tall, within=bounds)
        if found is None:
            return 1
        turn = np.linspace(0.0, 2.0 * np.pi, 41)
        ring = [
            (found[0] + 0.5 * wide * np.cos(t), found[1] + 0.5 * tall * np.sin(t)) for t in turn
        ]
        self.paper.shape(ring, fill="white", width=0.9, over=8)
        self.paper.text(*found, stroke.label, size=8.5, bold=True, align="center", upright="center")
        return 0

    def _breaks(self) -> None:
        """White gaps with break lines where cold lengths are cut out."""
        for at in self.fit.along.breaks:
            run = at * self.fit.scales[0]
            x = self.rim.right - run if self.view.mirrored else self.rim.left + run
            low, high = self.rim.low - 0.9, self.rim.high + 0.9
            self.taken.take(Box(x - 2.0, low, x + 2.0, high))
            self._break(zigzag(x - 1.0, low, high), zigzag(x + 1.0, low, high))
        for at in self.fit.across.breaks:
            run = at * self.fit.scales[1]
            y = self.rim.high - run if self.view.upside_down else self.rim.low + run
            low, high = self.rim.left - 0.9, self.rim.right + 0.9
            self.taken.take(Box(low, y - 2.0, high, y + 2.0))
            turned = [[(b, a) for a, b in zigzag(y + side, low, high)] for side in (-1.0, 1.0)]
            self._break(*turned)

    def _break(self, one: list[tuple[float, float]], other: list[tuple[float, float]]) -> None:
        self.paper.shape([*one, *reversed(other)], fill="white", edge=None, over=4.5)
        for line in (one, other):
            self.paper.line(line, width=0.7, over=4.6)

    def _held(self) -> None:
        """Where supports touch."""
        for holder in self.view.holders:
            if holder.over is not None:
                self._held_over(holder.label, np.array(holder.over))
                continue
            places = self.on(np.array(holder.places))
            for x, y in places:
                self.paper.rectangle(
                    around(x, y, 2.2, 2.2), fill=HOLDING, edge="white", width=0.5, over=8
                )
                self.taken.take(around(x, y, 2.2, 2.2))
            left, low, right, high = self.rim
            bounds = Box(left, low, right + 4.5, min(high + 4.0, self.place.high - 3.8))
            wide = text_width(holder.label, LETTERS, bold=True) + 0.8
            for x, y in places:
                found = self.taken.place_near(x, y, wide, 3.2, within=bounds)
                if found is None:
                    continue
                self.paper.text(
                    *found, holder.label, size=LETTERS, bold=True, colour=HOLDING, align="center",
                    upright="center", halo=True,
                )  # fmt: skip

    def _held_over(self, label: str, over: Array) -> None:
        """A support all along a side of the face, or all over it."""
        (a, b), (c, d) = self.on(over)
        left, right, low, high = min(a, c), max(a, c), min(b, d), max(b, d)
        wide = text_width(label, LETTERS, bold=True) + 0.8
        if min(right - left, high - low) < 1.0:
            self.paper.line([(left, low), (right, high)], width=3.2, colour=HOLDING, over=7.5)
            at = 0.7 * left + 0.3 * right, 0.7 * low + 0.3 * high
        else:
            left, right, low, high = left + 1.3, right - 1.3, low + 1.3, high - 1.3
            ring = [(left, low), (right, low), (right, high), (left, high)]
            self.paper.line(
                [*ring, ring[0]], width=1.0, colour=HOLDING, style=(0, (2, 2)), over=3
            )  # fmt: skip
            at = left + 0.5 * wide, high - 1.6
        rim = self.rim
        most = min(rim.high + 4.0, self.place.high - 3.8)
        bounds = Box(rim.left - 2.0, rim.low, rim.right + 4.5, most)
        found = self.taken.place_near(*at, wide, 3.2, within=bounds)
        if found is not None and abs(found[0] - at[0]) + abs(found[1] - at[1]) > FAR:
            found = (right - wide, low + 2.2)  # on its line, rather than at something else
        if found is not None:
            self.paper.text(
                *found, label, size=LETTERS, bold=True, colour=HOLDING, align="center",
                upright="center", halo=True,
            )  # fmt: skip

    def _dimensions_along(self) -> int:
        """Places along the face under it, all from the same end; how many had no room."""
        low, high = self.rim.left - 3.0, self.rim.right + 3.0
        chosen, missing = chosen_places(self.view.keys_along, self.x, int((high - low) / ROW) + 1)
        values = np.array(chosen)
        at = self.x(values)
        order = np.argsort(at)
        base = self.low - 1.0
        places = spread(at[order].tolist(), ROW, low, high)
        for value, x, place in zip(values[order].tolist(), at[order].tolist(), places, strict=True):
            self.paper.line(
                [(x, base), (x, base - 1.0), (place, base - 2.4), (place, base - 2.9)], width=0.4
            )
            self.paper.text(
                place + 0.9, base - 3.2, dimension(value), size=LETTERS, turned=90.0, align="right"
            )
        if self.view.along[0] <= 0.0 <= self.view.along[1]:
            self._datum(float(self.x(np.zeros(1))[0]), base - 0.5)
        return missing

    def _dimensions_across(self) -> int:
        """Places across the face at its left."""
        low, high = self.rim.low - 1.5, self.rim.high + 2.5
        chosen, missing = chosen_places(self.view.keys_across, self.y, int((high - low) / ROW) + 1)
        values = np.array(chosen)
        at = self.y(values)
        order = np.argsort(at)
        base = self.left - 1.0
        places = spread(at[order].tolist(), ROW, low, high)
        for value, y, place in zip(values[order].tolist(), at[order].tolist(), places, strict=True):
            self.paper.line(
                [(base, y), (base - 1.0, y), (base - 2.4, place), (base - 2.9, place)], width=0.4
            )
            self.paper.text(
                base - 3.3, place, dimension(value), size=LETTERS, align="right", upright="center"
            )
        if self.view.across[0] <= 0.0 <= self.view.across[1]:
            self._datum(base - 0.5, float(self.y(np.zeros(1))[0]))
        return missing

    def _datum(self, x: float, y: float) -> None:
        turn = np.linspace(0.0, 2.0 * np.pi, 21)
        ring = [(x + 0.6 * np.cos(t), y + 0.6 * np.sin(t)) for t in turn]
        self.paper.shape(ring, fill="white", width=0.6, over=6)
