"""A heat against the practice for its kind of metal: surface, full section, duration."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.outcome.columns import Columns, hottest_through
from flamefe.outcome.limits import longest_above
from flamefe.workpiece.practice import SHORT_S, HeatingPractice

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One limit of practice, and what was reached.

    Args:
        what: which limit, in words.
        limit_C: C.
        reached_C: C; of a limit for longer heating the limit itself where it was passed for long.
        within: whether it was kept.
        words: the finding in words.
    """

    what: str
    limit_C: float
    reached_C: float
    within: bool
    words: str

    @property
    def margin_C(self) -> float:
        """Limit minus what was reached, K."""
        return self.limit_C - self.reached_C


def against_practice(
    practice: HeatingPractice,
    times: Array,
    temperatures: Array,
    columns: Columns | None,
) -> tuple[Finding, ...]:
    """Compare a cycle's temperatures with the practice for its kind of metal.

    Args:
        practice: limits by depth and duration.
        times: (nt,) s.
        temperatures: (nt, n) C.
        columns: of nodes through the thickness; None: the full section is not judged.

    Example:
        >>> from flamefe.workpiece.practice import practice_for
        >>> points = np.array([[0, 0, 0.0], [0, 0, 0.01]])
        >>> found = against_practice(practice_for("carbon steel"), np.array([0.0, 10.0, 20.0]),
        ...     np.array([[20.0, 20.0], [800.0, 720.0], [300.0, 300.0]]), Columns.of(points, 2))
        >>> [(finding.what, finding.within) for finding in found]
        [('short, surface', True), ('short, full section', False), ('longer', True)]
    """
    found = []
    peak = float(temperatures.max())
    if practice.short_C is not None:
        found.append(_finding("short, surface", practice.short_C, peak, "the surface reached"))
    if practice.through_C is not None and columns is not None:
        through, _ = hottest_through(columns, temperatures)
        words = "the full thickness reached"
        found.append(_finding("short, full section", practice.through_C, through, words))
    if practice.long_C is not None:
        longest = longest_above(times, temperatures, practice.long_C)
        words = f"nowhere above {practice.long_C:g} C, its bound for longer heating"
        if longest > 0.0:
            words = (
                f"up to {longest:.3g} s above {practice.long_C:g} C at one place, where its bound "
                f"is {SHORT_S:g} s"
            )
        found.append(
            Finding(
                what="longer",
                limit_C=practice.long_C,
                reached_C=peak,
                within=longest <= SHORT_S,
                words=words,
            )
        )
    return tuple(found)


def _finding(what: str, limit: float, reached: float, words: str) -> Finding:
    return Finding(
        what=what,
        limit_C=limit,
        reached_C=reached,
        within=reached <= limit,
        words=f"{words} {reached:.0f} C, where its bound for short heating is {limit:g} C",
    )
