"""Room for words on a drawing, so that none lies on another or is cut at the edge."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from flamefe.reporting.skin import Array

CHARACTER = 0.62
"""Mean width of a character, by the size of its font."""
ALONG = 0.85
"""Most of a line's length that words on it may take."""
ASIDE = 10.0
"""From a line to words beside it, points of 1/72 inch."""


@dataclass(frozen=True, kw_only=True)
class Discs:
    """A row of discs that covers words, a line or a mark.

    Args:
        middles: (k, 2) in the plane of the picture, mm.
        radius: of each, mm.
    """

    middles: Array
    radius: float


@dataclass(kw_only=True, eq=False)
class Room:
    """What of a picture is taken.

    Args:
        low, high: (2,) corners of the picture, mm in its plane.
        point: mm in its plane that a point of 1/72 inch takes.

    Example:
        >>> room = Room(low=np.zeros(2), high=np.array([100.0, 60.0]), point=0.5)
        >>> first = room.words(np.array([50.0, 30.0]), "S1", 10.0)
        >>> room.take(first)
        >>> room.is_clear(first), room.is_clear(room.words(np.array([80.0, 30.0]), "S2", 10.0))
        (False, True)
    """

    low: Array
    high: Array
    point: float
    taken: list[Discs] = field(default_factory=list)

    @classmethod
    def of(cls, axes: Any, low: Array, high: Array) -> "Room":
        """The room of axes that show what lies between two corners."""
        wide = axes.get_position().width * axes.figure.get_figwidth() * 72.0
        return cls(low=low, high=high, point=float(high[0] - low[0]) / wide)

    def length(self, text: str, size: float) -> float:
        """How long words are, mm in the plane."""
        return CHARACTER * size * len(text) * self.point

    def words(
        self, middle: Array, text: str, size: float, along: Sequence[float] = (1.0, 0.0)
    ) -> Discs:
        """The discs that words cover, about their middle.

        Args:
            middle: (2,) mm.
            text: the words.
            size: of the font, points.
            along: (2,) unit vector in which they run.
        """
        radius = 0.7 * size * self.point
        reach = max(0.5 * self.length(text, size) - 0.5 * radius, 0.0)
        steps = np.linspace(-reach, reach, 2 + int(2.0 * reach / radius))
        return Discs(middles=middle + steps[:, None] * np.asarray(along), radius=radius)

    def line(self, start: Array, end: Array, width: float = 3.0) -> Discs:
        """The discs that a line covers; its width in points."""
        radius = 0.5 * width * self.point
        count = 2 + int(float(np.linalg.norm(end - start)) / (2.0 * radius))
        return Discs(middles=np.linspace(start, end, min(count, 200)), radius=radius)

    def take(self, discs: Discs) -> None:
        """Note that this room is taken."""
        self.taken.append(discs)

    def overlap(self, discs: Discs) -> float:
        """How deep discs lie in what is taken or beyond the edge, mm; 0: not at all."""
        inside = np.minimum(discs.middles - self.low, self.high - discs.middles)
        worst = max(0.0, discs.radius - float(inside.min()))
        for other in self.taken:
            away = np.linalg.norm(discs.middles[:, None] - other.middles[None], axis=2)
            worst = max(worst, discs.radius + other.radius - float(away.min()))
        return worst

    def is_clear(self, discs: Discs) -> bool:
        """Whether discs lie in the picture and on nothing."""
        return self.overlap(discs) <= 0.0

    def best(self, choices: Sequence[Discs]) -> int:
        """The first choice that is clear, else the one that overlaps least; it is taken."""
        deep = [self.overlap(one) for one in choices]
        chosen = int(np.argmin(deep))
        self.take(choices[chosen])
        return chosen


def beside(a: Array, b: Array, text: str, size: float, room: Room) -> list[Array]:
    """Middles (2,) of level words beside a dimension line that is too short to carry them: on
    its outer side first; none where the words fit on it.

    Args:
        a, b: (2,) ends of the line, mm in the plane.
        text: the words.
        size: of their font, points.
        room: of the picture.
    """
    long = room.length(text, size)
    if long <= ALONG * float(np.linalg.norm(b - a)):
        return []
    aside = ASIDE * room.point
    leftmost, rightmost = float(min(a[0], b[0])), float(max(a[0], b[0]))
    middle = 0.5 * (a + b)
    level = float(middle[1])
    left = np.array([0.5 * (leftmost + middle[0]) - aside - 0.5 * long, level])
    right = np.array([0.5 * (rightmost + middle[0]) + aside + 0.5 * long, level])
    below = np.array([middle[0], min(a[1], b[1]) - aside - 0.5 * size * room.point])
    steep = abs(b[1] - a[1]) > abs(b[0] - a[0])
    outer_left = middle[0] < 0.5 * (room.low[0] + room.high[0])
    first = left if outer_left else right
    if not steep:
        return [below, left, right]
    return [first, below, right if outer_left else left]
