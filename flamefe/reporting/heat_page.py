"""The heat sheet on paper: one A4 page with everything in its place, however much there is."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from math import cos, sin, tau

from flamefe.reporting.charts import INK, PALE
from flamefe.reporting.heat_before import SHORT
from flamefe.reporting.heat_drawing import Remarks, draw_sketch, height_needed, height_wanted
from flamefe.reporting.heat_legend import legend_words
from flamefe.reporting.heat_sheet import HeatSheet
from flamefe.reporting.heat_table import BAND, LOUD, HeatTable
from flamefe.reporting.paper import (
    HEIGHT,
    WIDTH,
    Box,
    Paper,
    fitted,
    rule,
    text_height,
    text_width,
    wrapped,
)
from flamefe.reporting.summary import DISCLAIMER

MARGIN = 9.0
JOB = 19.0
"""Width of a box that the shop fills in, mm."""
LEFT, RIGHT, LOW, HIGH = MARGIN, WIDTH - MARGIN, MARGIN, HEIGHT - MARGIN
LABEL = 22.0
"""Width of the names of temperatures, mm."""
GAP = 4.0
"""Between columns, mm."""
SMALL, PLAIN = 7.0, 7.5
MOST_SKETCH = 118.0
FEW_HELD = 16
"""Where no more lines tell of restraint, what to look at before is told short, too."""
TONES = {"bad": LOUD, "doubt": "#7a5200", "good": "#1d5c2e"}


@dataclass(frozen=True, kw_only=True)
class Dense:
    """How much is told where room is short.

    Args:
        places: most lines of long lists of places.
        sketch: least height of the sketch, mm.
        measures: most measures.
        held: most lines about restraint.
    """

    places: int
    sketch: float
    measures: int
    held: int


DENSITIES = (
    Dense(places=16, sketch=76.0, measures=12, held=40),
    Dense(places=16, sketch=66.0, measures=12, held=40),
    Dense(places=16, sketch=66.0, measures=10, held=40),
    Dense(places=16, sketch=58.0, measures=10, held=40),
    Dense(places=16, sketch=58.0, measures=8, held=40),
    Dense(places=16, sketch=52.0, measures=8, held=40),
    Dense(places=14, sketch=50.0, measures=7, held=40),
    Dense(places=12, sketch=48.0, measures=6, held=40),
    Dense(places=12, sketch=46.0, measures=5, held=40),
    Dense(places=12, sketch=44.0, measures=4, held=40),
    Dense(places=10, sketch=42.0, measures=4, held=24),
    Dense(places=8, sketch=40.0, measures=4, held=16),
    Dense(places=5, sketch=40.0, measures=3, held=10),
    Dense(places=3, sketch=40.0, measures=3, held=8),
    Dense(places=0, sketch=40.0, measures=3, held=5),
)
"""Tried one after the other until the page holds all."""


def heat_page(sheet: HeatSheet) -> Paper:
    """A sheet on one A4 page.

    Where there are many heats, places in the table are told up to where they fit and stand in
    the sketch by their numbers; where room is short, the sketch shrinks and less usual measures
    are left out. Cautions are never cut.

    Args:
        sheet: its facts.

    Example:
        >>> paper = heat_page(sheet)  # doctest: +SKIP
    """
    for dense in DENSITIES:
        blocks = _Blocks(sheet, dense)
        if blocks.left_for_sketch() >= blocks.least_sketch():
            break
    return blocks.drawn()


@dataclass(frozen=True, kw_only=True)
class _Said:
    """A line of the left column."""

    label: str = ""
    words: str
    loud: bool = False


Block = tuple[str, list[_Said]]
"""A heading with its lines."""


def _height(blocks: Sequence[Block]) -> float:
    return sum(
        text_height(8.0) + 0.9 + len(lines) * text_height(SMALL) + 1.2 for _, lines in blocks
    )


class _Blocks:
    """The parts of a page, each of which knows its height before it is drawn."""

    def __init__(self, sheet: HeatSheet, dense: Dense) -> None:
        self.sheet, self.dense = sheet, dense
        self.table = HeatTable(sheet.rows, LEFT, RIGHT, dense.places)
        self.measures = sheet.measures[: dense.measures]
        middle = LEFT + 0.41 * (RIGHT - LEFT)
        self.words_box = (LEFT, middle - 0.5 * GAP)
        self.measure_box = (middle + 0.5 * GAP, RIGHT)
        self.said, self.beside = self._shared()
        self.alerts = list(self._alerts())

    def left_for_sketch(self) -> float:
        """Height that is left for the sketch, mm."""
        taken = self._head_height() + self._alert_height() + 8.5 + self.table.height + 1.5
        right = self._measures_height() + _height(self.beside)
        taken += max(_height(self.said), right) + 2.0
        return HIGH - LOW - taken - self._cautions_height() - 4.5

    def least_sketch(self) -> float:
        """Height that the sketch should have, mm."""
        needed = max(self.dense.sketch, height_needed(self.sheet.sketch))
        return min(needed, height_wanted(self.sheet.sketch, RIGHT - LEFT) + 2.0)

    def drawn(self) -> Paper:
        paper = Paper()
        y = self._head(paper, HIGH)
        y = self._draw_alerts(paper, y)
        room = min(self.left_for_sketch(), MOST_SKETCH)
        wanted = height_wanted(self.sheet.sketch, RIGHT - LEFT)
        room = min(room, wanted + 2.0)
        remarks = draw_sketch(paper, self.sheet.sketch, Box(LEFT, y - room, RIGHT, y - 1.0))
        y = self._legend(paper, y - room, remarks)
        y = self.table.draw(paper, y) - 1.5
        said = self._draw_said(paper, y, self.words_box, self.said)
        measured = self._draw_measures(paper, y)
        self._draw_said(paper, measured - 1.0, self.measure_box, self.beside)
        low = LOW + 4.5 + self._cautions_height()
        self._draw_notes(paper, said, low + 2.0)
        self._draw_cautions(paper, low)
        self._foot(paper)
        return paper

    def _head_room(self) -> float:
        return RIGHT - 3 * JOB - 4.0 - LEFT

    def _title(self) -> list[str]:
        lines = wrapped(self.sheet.title, self._head_room(), 9.5, bold=True)
        if len(lines) > 2:
            lines = [lines[0], fitted(" ".join(lines[1:]), self._head_room(), 9.5, bold=True)]
        return lines

    def _head_height(self) -> float:
        return 11.3 + 4.1 * len(self._title())

    def _head(self, paper: Paper, y: float) -> float:
        sheet = self.sheet
        of = f"cycle {sheet.cycle} of {sheet.cycles}"
        paper.text(LEFT, y - 5.0, "HEAT SHEET", size=14, bold=True)
        paper.text(LEFT + text_width("HEAT SHEET", 14, bold=True) + 4, y - 5.0, of, size=11)
        for number, name in enumerate(("job no.", "date", "made by")):
            left = RIGHT - JOB * (3 - number)
            paper.rectangle(Box(left, y - 13.6, left + JOB, y), width=0.5, over=2)
            paper.text(left + 1.0, y - 3.0, name, size=SMALL, colour=PALE)
        at = y - 5.7
        for line in self._title():
            at -= 4.1
            paper.text(LEFT, at, line, size=9.5, bold=True)
        paper.text(LEFT, at - 3.8, fitted(sheet.part, self._head_room(), 8), size=8)
        y -= self._head_height()
        rule(paper, LEFT, RIGHT, y + 0.3, strong=True)
        return y

    def _alerts(self) -> Iterator[tuple[str, bool, str]]:
        """Lines over the sketch: words, whether they are loud, colour."""
        width = RIGHT - LEFT - 3.0
        for alert in self.sheet.alerts[:4]:
            for line in wrapped(f"STOP: {alert}.", width, 8.5, bold=True)[:3]:
                yield line, True, TONES["bad"]
        colour = TONES.get(self.sheet.tone, PALE)
        for line in wrapped(self.sheet.state, width, PLAIN, bold=True)[:3]:
            yield line, False, colour
        for doubt in self.sheet.doubts:
            lines = _whole_sentences(doubt, width)
            yield from ((line, False, INK) for line in lines)

    def _alert_height(self) -> float:
        return sum(text_height(8.5 if loud else PLAIN) for _, loud, _ in self.alerts) + 2.4

    def _draw_alerts(self, paper: Paper, y: float) -> float:
        low = y - self._alert_height() + 0.4
        paper.rectangle(Box(LEFT, low, RIGHT, y - 0.4), fill=BAND, edge=None, over=0.5)
        at = y - 1.2
        for words, loud, colour in self.alerts:
            size = 8.5 if loud else PLAIN
            at -= text_height(size)
            paper.text(LEFT + 1.5, at + 0.8, words, size=size, bold=colour != INK, colour=colour)
        return low - 0.4

    def _legend(self, paper: Paper, y: float, remarks: Remarks) -> float:
        views = self.sheet.sketch.views
        said = legend_words(self.sheet.sketch, remarks)
        x, middle = LEFT, y - 1.6
        moving = any(len(one.points) > 1 for view in views for one in view.strokes)
        if moving:
            self._start(paper, x + 1.0, middle)
            paper.text(x + 2.8, middle, "start", size=SMALL, upright="center")
            for sign in (1.0, -1.0):
                paper.line(
                    [(x + 11.0, middle - sign), (x + 13.0, middle + sign)], width=1.3
                )  # fmt: skip
            paper.text(x + 14.0, middle, "end", size=SMALL, upright="center")
            paper.arrow((x + 20.5, middle), (x + 26.0, middle), width=1.3, head=8.0)
            paper.text(x + 27.0, middle, "way of the torch", size=SMALL, upright="center")
            x += 49.5
        lines = wrapped("; ".join(said), RIGHT - x, SMALL)[:2]
        for number, line in enumerate(lines):
            at = middle - number * text_height(SMALL)
            paper.text(x, at, line, size=SMALL, upright="center", colour="#333333")
        return y - 2.2 - len(lines) * text_height(SMALL)

    @staticmethod
    def _start(paper: Paper, x: float, y: float) -> None:
        ring = [(x + 0.9 * a, y + 0.9 * b) for a, b in _CIRCLE]
        paper.shape(ring, fill="white", width=1.1)

    def _said(self, wide: float) -> Iterator[Block]:
        """Headings with their lines, for a column so wide."""
        sheet = self.sheet
        before = sheet.before if self.dense.held > FEW_HELD else (SHORT,)
        yield "Before lighting", self._plain(before, wide)
        yield "Torch and gas", self._plain(sheet.torches, wide)
        lines = []
        width = wide - LABEL
        for name, words in sheet.temperatures:
            loud = name.isupper()
            for number, line in enumerate(wrapped(words, width, SMALL, bold=loud)):
                lines.append(_Said(label="" if number else name, words=line, loud=loud))
        yield "Temperature", lines
        holding, most = self._plain(sheet.holding, wide), self.dense.held
        if len(holding) > most:
            more = _Said(words="... more in the case file: READ IT BEFORE HOLDING", loud=True)
            holding = [*holding[: most - 1], more]
        yield "Holding", holding
        yield "After the last heat", self._plain(sheet.after, wide)

    @staticmethod
    def _plain(texts: Sequence[str], width: float) -> list[_Said]:
        return [
            _Said(words=line, loud="OVERLOADED" in text)
            for text in texts
            for line in wrapped(text, width, SMALL, bold="OVERLOADED" in text)
        ]

    def _shared(self) -> tuple[list[Block], list[Block]]:
        """Blocks of the left column, and those under the measures, so that both are as short."""
        measures = self._measures_height()
        lefts = list(self._said(self.words_box[1] - self.words_box[0]))
        rights = list(self._said(self.measure_box[1] - self.measure_box[0]))
        made = []
        for moved in product((0, 1), repeat=len(lefts) - 1):
            away = (0, *moved)  # what comes before lighting stays on the left
            left = [one for one, is_away in zip(lefts, away, strict=True) if not is_away]
            right = [one for one, is_away in zip(rights, away, strict=True) if is_away]
            made.append((max(_height(left), measures + _height(right)), len(right), left, right))
        return min(made, key=lambda one: one[:2])[2:]

    def _draw_said(
        self, paper: Paper, y: float, box: tuple[float, float], blocks: Sequence[Block]
    ) -> float:
        left, right = box
        for name, lines in blocks:
            labelled = LABEL if any(one.label for one in lines) else 0.0
            y = _heading(paper, left, right, y, name)
            for one in lines:
                y -= text_height(SMALL)
                colour = TONES["bad"] if one.loud else INK
                if one.label:
                    paper.text(left, y + 0.8, one.label, size=SMALL, bold=True, colour=colour)
                paper.text(
                    left + labelled, y + 0.8, one.words, size=SMALL, bold=one.loud, colour=colour
                )
            y -= 1.2
        return y

    def _draw_notes(self, paper: Paper, y: float, low: float) -> None:
        """Lines to write on, where the left column leaves room."""
        left, right = self.words_box
        if y - low < 14.0:
            return
        y = _heading(paper, left, right, y, "Notes")
        while y - 6.5 > low:
            y -= 6.5
            rule(paper, left, right, y)

    def _measure_rows(self) -> list[tuple[list[str], list[str]]]:
        """Of each measure its name with unit, and how it is taken, as lines."""
        left, right = self.measure_box
        width = right - left - 3 * _VALUE - 1.0
        rows = []
        for one in self.measures:
            name = wrapped(f"{one.name}, {one.unit}", width, SMALL, bold=True)
            how = wrapped(f"{one.how} ({one.sign})", width, SMALL)
            rows.append((name, how))
        return rows

    def _measures_height(self) -> float:
        rows = self._measure_rows()
        lines = sum(len(name) + len(how) for name, how in rows)
        return text_height(8.0) + 6.6 + lines * text_height(SMALL) + 1.2 * len(rows)

    def _draw_measures(self, paper: Paper, y: float) -> float:
        sheet = self.sheet
        left, right = self.measure_box
        left_out = len(sheet.measures) - len(self.measures)
        title = "Measure before lighting and after cooling"
        y = _heading(paper, left, right, y, title)
        columns = [right - 3 * _VALUE, right - 2 * _VALUE, right - _VALUE, right]
        names = ("predicted", "before", "after")
        note = "change since the first lighting, or AS IT IS"
        paper.text(left, y - 2.8, fitted(note, columns[0] - left - 1, SMALL), size=SMALL)
        more = f"{left_out} more: in the report of a run" if left_out else "+ and - as told"
        paper.text(left, y - 5.6, fitted(more, columns[0] - left - 1, SMALL), size=SMALL)
        for head, (a, b) in zip(names, pairwise(columns), strict=True):
            paper.text(0.5 * (a + b), y - 4.0, head, size=SMALL, bold=True, align="center")
        y -= 6.4
        rule(paper, left, right, y)
        for one, (name, how) in zip(self.measures, self._measure_rows(), strict=True):
            tall = (len(name) + len(how)) * text_height(SMALL) + 1.2
            at = y - 0.3
            for lines, bold in ((name, True), (how, False)):
                for line in lines:
                    at -= text_height(SMALL)
                    paper.text(left, at + 0.8, line, size=SMALL, bold=bold)
            middle = y - 0.5 * tall
            for number, (a, b) in enumerate(pairwise(columns)):
                paper.rectangle(Box(a, y - tall, b, y), width=0.6 if number else 0.3, over=2)
            centre = 0.5 * (columns[0] + columns[1])
            if not sheet.computed:
                paper.text(centre, middle + 0.3, "not", size=SMALL, align="center", colour=PALE)
                paper.text(
                    centre, middle - 2.6, "computed", size=SMALL, align="center", colour=PALE
                )
            else:
                value = one.predicted
                paper.text(centre, middle + 0.3, value, size=PLAIN, bold=True, align="center")
                unit = f"now {one.of_this_cycle} {one.unit}" if one.of_this_cycle else one.unit
                paper.text(centre, middle - 2.7, unit, size=SMALL, align="center")
            y -= tall
            rule(paper, left, columns[0], y)
        return y

    def _caution_columns(self) -> list[list[str]]:
        width = 0.5 * (RIGHT - LEFT - GAP)
        blocks = [wrapped(text, width - 3.0, SMALL) for text in self.sheet.cautions]
        total = sum(map(len, blocks))
        columns: list[list[str]] = [[], []]
        for block in blocks:
            full = columns[1] or (columns[0] and 2 * (len(columns[0]) + len(block) // 2) > total)
            columns[1 if full else 0] += [
                f"{'• ' if number == 0 else '   '}{line}" for number, line in enumerate(block)
            ]
        return columns

    def _cautions_height(self) -> float:
        return text_height(8.0) + 1.4 + max(map(len, self._caution_columns())) * text_height(SMALL)

    def _draw_cautions(self, paper: Paper, y: float) -> None:
        y = _heading(paper, LEFT, RIGHT, y, "Cautions")
        for number, lines in enumerate(self._caution_columns()):
            x = LEFT + number * 0.5 * (RIGHT - LEFT + GAP)
            for row, line in enumerate(lines, start=1):
                paper.text(x, y - row * text_height(SMALL) + 0.8, line, size=SMALL)

    def _foot(self, paper: Paper) -> None:
        rule(paper, LEFT, RIGHT, LOW + 3.4)
        words = fitted(f"flamefe. {DISCLAIMER}", RIGHT - LEFT, SMALL)
        paper.text(LEFT, LOW + 0.4, words, size=SMALL, colour="#333333")


_VALUE = 17.0
"""Width of a column of values, mm."""
_CIRCLE = [(cos(tau * i / 20), sin(tau * i / 20)) for i in range(20)]


def _whole_sentences(text: str, width: float) -> list[str]:
    """A text on two lines: as many of its sentences as fit, at least a part of the first."""
    sentences = re.split(r"(?<=[.!]) (?=[A-Z])", text)
    for count in range(len(sentences), 0, -1):
        left = "" if count == len(sentences) else " (more in the report)"
        lines = wrapped(" ".join(sentences[:count]) + left, width, PLAIN)
        if len(lines) <= 2:
            return lines
    return [lines[0], fitted(" ".join(lines[1:]), width, PLAIN)]


def _heading(paper: Paper, left: float, right: float, y: float, words: str) -> float:
    y -= text_height(8.0)
    paper.text(left, y + 0.9, words, size=8.0, bold=True)
    rule(paper, left, right, y)
    return y - 0.9
