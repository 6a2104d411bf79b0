"""Places for labels on paper, so that none covers another."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import cos, radians, sin

from flamefe.reporting.paper import Box

AROUND = (135, 45, 225, 315, 90, 270, 180, 0)
"""Directions in which a place is looked for, degrees."""


class Taken:
    """What is taken on a piece of paper, mm.

    Example:
        >>> taken = Taken([Box(0, 0, 10, 10)])
        >>> taken.is_free(Box(9, 9, 12, 12)), taken.is_free(Box(11, 11, 12, 12))
        (False, True)
    """

    def __init__(self, boxes: Iterable[Box] = ()) -> None:
        self.boxes: list[Box] = list(boxes)
        self.lines: list[Box] = []

    def is_free(self, box: Box, *, lines: bool = False) -> bool:
        """Whether nothing stands there; with ``lines``, whether also no line passes."""
        seen = [*self.boxes, *self.lines] if lines else self.boxes
        return not any(box.meets(other) for other in seen)

    def take(self, box: Box) -> None:
        """Something stands there now."""
        self.boxes.append(box)

    def line(self, places: Sequence[tuple[float, float]]) -> None:
        """A line passes these places; words should rather not stand on it."""
        for (a, b), (c, d) in pairwise(places):
            pieces = max(int(max(abs(c - a), abs(d - b))), 1)
            for i in range(pieces + 1):
                x, y = a + (c - a) * i / pieces, b + (d - b) * i / pieces
                self.lines.append(Box(x - 0.3, y - 0.3, x + 0.3, y + 0.3))

    def place_near(
        self, x: float, y: float, width: float, height: float, *, within: Box
    ) -> tuple[float, float] | None:
        """Middle of a free place for a label near a place, and take it; None where none is free.

        Args:
            x, y: the place.
            width, height: of the label.
            within: it may not leave.
        """
        for lines in (True, False):
            for reach in (0.6, 2.2, 4.2, 7.0, 11.0):
                for turn in AROUND:
                    way = cos(radians(turn)), sin(radians(turn))
                    middle = (
                        x + way[0] * (reach + 0.5 * width), y + way[1] * (reach + 0.5 * height)
                    )  # fmt: skip
                    box = around(*middle, width, height)
                    inside = (
                        within.left <= box.left and box.right <= within.right
                        and within.low <= box.low and box.high <= within.high
                    )  # fmt: skip
                    if inside and self.is_free(box, lines=lines):
                        self.take(box)
                        return middle
        return None


def around(x: float, y: float, width: float, height: float) -> Box:
    """The box of a size about its middle.

    Example:
        >>> around(10, 10, 4, 2)
        Box(left=8.0, low=9.0, right=12.0, high=11.0)
    """
    return Box(x - 0.5 * width, y - 0.5 * height, x + 0.5 * width, y + 0.5 * height)


def spread(places: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Places moved as little as serves, so that neighbours are ``apart``; rising in, rising out.

    Args:
        places: rising.
        apart: least distance.
        low, high: between which they stay, where there is room.

    Example:
        >>> spread([1.0, 1.5, 9.0], 2.0, 0.0, 10.0)
        [0.25, 2.25, 9.0]
        >>> spread([0.0, 0.1], 3.0, 0.0, 10.0)
        [0.0, 3.0]
    """
    groups: list[list[float]] = []  # each: wanted places of neighbours that touch
    for place in places:
        groups.append([place])
        while len(groups) > 1:
            before, last = groups[-2], groups[-1]
            end = _start(before, apart, low, high) + apart * len(before)
            if end <= _start(last, apart, low, high) + 1e-9:
                break
            groups[-2:] = [before + last]
    return [
        _start(group, apart, low, high) + apart * i for group in groups for i in range(len(group))
    ]


def _start(group: Sequence[float], apart: float, low: float, high: float) -> float:
    middle = sum(place - apart * i for i, place in enumerate(group)) / len(group)
    return max(min(middle, high - apart * (len(group) - 1)), low)
