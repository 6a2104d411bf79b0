"""The heats of a sheet as a table on paper, long lists of places told below it."""

from collections.abc import Callable, Sequence
from itertools import pairwise

from flamefe.reporting.heat_rows import HeatRow
from flamefe.reporting.paper import Box, Paper, fitted, rule, text_height, wrapped

SMALL = 7.0
BAND, LOUD = "#e9e9e6", "#9b1c1c"
MOST_ROWS = 8
FEW = 4
"""Places are told in their row on so many lines, else below the table."""
ORDER = "ORDER: heat 1, then 2, then 3 and so on, whichever row they stand in."
UNBROKEN = 24
"""Letters up to which a place is kept on one line."""
NAMES = ("No.", "what", "where (mm)", "torch", "how to go", "then wait")
SHARES = (0.06, 0.165, 0.265, 0.075, 0.285, 0.15)

Cell = tuple[list[str], int]
"""Lines, and how many of them are in bold."""


class HeatTable:
    """The table, which knows its height before it is drawn.

    Args:
        rows: heats, alike ones together.
        left, right: edges, mm.
        lines: how many lines long lists of places may take in all.
    """

    def __init__(self, rows: Sequence[HeatRow], left: float, right: float, lines: int) -> None:
        self.rows = rows[:MOST_ROWS]
        self.edges = [left]
        for share in SHARES:
            self.edges.append(self.edges[-1] + share * (right - left))
        self.cells = [self._cells(row) for row in self.rows]
        self.below = self._below(rows, lines)

    @property
    def height(self) -> float:
        """Of all of it, mm."""
        head = text_height(SMALL) + 1.2
        below = len(self.below) * text_height(SMALL) + (1.2 if self.below else 0.0)
        return head + sum(map(_tall, self.cells)) + below

    def draw(self, paper: Paper, y: float) -> float:
        """Draw it from y downwards; where it ends."""
        left, right = self.edges[0], self.edges[-1]
        tall = text_height(SMALL) + 1.2
        paper.rectangle(Box(left, y - tall, right, y), fill=BAND, edge=None, over=0.5)
        for x, name in zip(self.edges, NAMES, strict=False):
            paper.text(x + 0.8, y - tall + 1.2, name, size=SMALL, bold=True)
        y -= tall
        rule(paper, left, right, y)
        for cells in self.cells:
            for x, (lines, bold) in zip(self.edges, cells, strict=False):
                for number, line in enumerate(lines, start=1):
                    at = y - 0.5 - number * text_height(SMALL) + 0.8
                    paper.text(x + 0.8, at, line, size=SMALL, bold=number <= bold)
            y -= _tall(cells)
            rule(paper, left, right, y)
        for line in self.below:
            y -= text_height(SMALL)
            loud = line.startswith(("NOT TOLD", "ORDER"))
            paper.text(
                left + 0.8, y + 0.5, line, size=SMALL, bold=loud, colour=LOUD if loud else "black"
            )
        return y - (1.2 if self.below else 0.0)

    def _cells(self, row: HeatRow) -> list[Cell]:
        width = [b - a - 1.6 for a, b in pairwise(self.edges)]

        def put(words: str, column: int, most: int = 9, *, bold: bool = False) -> Cell:
            lines = _short(wrapped(words, width[column], SMALL, bold=bold), most)
            return lines, len(lines) if bold else 0

        face, _ = put(row.face, 2, bold=True)
        places = self._in_row(row)
        drive = row.drive + (f". PREDICTED: {row.predicted}" if row.predicted else "")
        return [
            put(row.numbers, 0, 4, bold=True),
            put(row.what, 1, 5),
            ([*face, *(places or ["see the list below"])], len(face)),
            put(row.torch, 3, 4),
            put(drive, 4),
            put(row.wait, 5),
        ]

    def _in_row(self, row: HeatRow) -> list[str]:
        """Places as lines of their cell; none where they don't fit."""
        width = self.edges[3] - self.edges[2] - 1.6
        lines = [line for place in row.places for line in wrapped(place, width, SMALL)]
        if len(lines) > FEW:
            lines = wrapped(_list(row.places), width, SMALL)
        return lines if len(lines) <= FEW else []

    def _below(self, rows: Sequence[HeatRow], lines: int) -> list[str]:
        """Lists of places that don't fit their rows, and rows beyond the table."""
        lists: list[tuple[str, str, Sequence[str]]] = []
        for number, row in enumerate(rows):
            if number >= MOST_ROWS:
                head = (
                    f"{row.numbers}: {row.what}; {row.face}; torch {row.torch}; {row.drive}; "
                    f"{row.wait}; at "
                )
                lists.append((row.numbers, head, row.places))
            elif not self._in_row(row):
                lists.append((row.numbers, f"Places of {row.numbers}: ", row.places))
        width = self.edges[-1] - self.edges[0] - 1.6

        def put(words: str) -> list[str]:
            return wrapped(words, width, SMALL)

        wanted = [len(put(head + _list(places))) for _, head, places in lists]
        told: list[str] = []
        missing: list[str] = []
        for (numbers, head, places), want in zip(lists, wanted, strict=True):
            most = want if sum(wanted) <= lines else max(want * lines // sum(wanted), 1)
            made = _as_many(head, places, put, most)
            if made:
                told += made
            else:
                missing.append(numbers)
        if len(rows) > 1 and any("," in row.numbers for row in rows):
            told.insert(0, ORDER)
        if missing:
            words = f"NOT TOLD HERE, see the case file: heats {', '.join(missing)}"
            told.append(fitted(words, width, SMALL, bold=True))
        return told


def _tall(cells: Sequence[Cell]) -> float:
    return max(len(lines) for lines, _ in cells) * text_height(SMALL) + 1.4


def _short(lines: list[str], most: int) -> list[str]:
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], lines[most - 1][:-3] + "..."]


def _list(places: Sequence[str]) -> str:
    kept = [one.replace(" ", "\u00a0") if len(one) < UNBROKEN else one for one in places]
    return ";  ".join(kept)


def _as_many(
    head: str, places: Sequence[str], put: Callable[[str], list[str]], most: int
) -> list[str]:
    """Places on as many lines as are allowed; how many more there are is said. None where not even
    their head has room."""
    lines = put(head + _list(places))
    if len(lines) <= most:
        return lines
    few, many = -1, len(places) - 1
    while few < many:
        middle = (few + many + 1) // 2
        if len(put(head + _cut(places, middle))) <= most:
            few = middle
        else:
            many = middle - 1
    return [] if few < 0 else put(head + _cut(places, few))


def _cut(places: Sequence[str], few: int) -> str:
    left = len(places) - few
    return _list([*places[:few], f"{'and ' if few else ''}{left}{' more' if few else ''} as drawn"])
