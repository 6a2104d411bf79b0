"""What a measured cycle teaches, or why it is not believed."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2, norm

from flamefe.planning.belief import Belief, inverse_of
from flamefe.planning.candidate import Heat
from flamefe.planning.places import Places

Array = NDArray[np.float64]
Choice = Literal["as it fits", "learn", "leave"]

DOUBT = 1e-3
"""A cycle less likely than this under what was believed is not learnt from."""
LEAST_SHARE = 0.2
"""Share of the expected movement below which a cycle counts as one in which nothing moved."""
CLEAR = 0.08
"""Standard deviation of the share by measurements alone, up to which that is clear."""
REST_FITS = 0.02
"""Without one reading the others must be at least this likely for that one to be blamed."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Lesson:
    """What a measurement did to the belief.

    Args:
        belief: after it.
        expected: the belief just before it, heats counted in.
        learnt: whether factors were updated.
        fits: whether the measurement was likely enough.
        likelihood: probability of a misfit at least as large, the smallest of three tests times
            three: of all places together, along the expected movement, of the worst place.
        surprise: chi-square of all places together, with as many degrees of freedom as places.
        movement: share of the expected movement that was seen, and its standard deviation; None
            where no heat was given.
        why: what the misfit looks like; empty: nothing to say.
    """

    belief: Belief
    expected: Belief
    learnt: bool
    fits: bool
    likelihood: float
    surprise: float
    movement: tuple[float, float] | None
    why: tuple[str, ...]


def learn(
    before: Belief,
    heats: Sequence[Heat],
    measured: Array,
    covariance: Array,
    places: Places,
    choice: Choice = "as it fits",
) -> Lesson:
    """Update the belief by a measurement after heats, unless the measurement does not fit.

    Three tests, each at a third of ``DOUBT``: the squared innovation in its own covariance
    (chi-square, n degrees of freedom); the share of the expected movement that was seen,
    a = e . S^-1 o / (e . S^-1 e) with e expected and o observed movement, against 1; the largest
    innovation of one place by its deviation, times n. Besides, a cycle that clearly moved less
    than ``LEAST_SHARE`` of what was expected does not fit: no shop is as weak as that, but jacks
    slip. What doesn't fit gives the new shape alone and leaves the factors as they were.

    Args:
        before: belief before the heats.
        heats: given since; none: measured again.
        measured: (n,) m.
        covariance: (n, n) m2 of the measuring errors.
        places: for their names.
        choice: "learn" or "leave" overrule the tests.

    Raises:
        OutOfRange: sizes that don't fit.

    Example:
        >>> from flamefe.planning.belief import first_belief
        >>> from flamefe.planning.candidate import HeatKind
        >>> from flamefe.planning.places import places_of
        >>> kinds = [HeatKind(name="wedge", scatter=0.0, day=0.0)]
        >>> belief = first_belief(kinds, np.array([0.012]), np.array([1e-5]))
        >>> heat = Heat(name="w", kind="wedge", size="", place="2 m", side="",
        ...             position=(2.0, 0.0, 0.0), moves=np.array([-0.004]))
        >>> lesson = learn(belief, [heat], np.array([0.0092]), np.array([[1e-10]]),
        ...                places_of(["middle"], 0.003))
        >>> lesson.fits, round(float(lesson.belief.factors[0]), 2)
        (True, 0.73)
    """
    expected = before.after(heats)
    surprise = expected.surprise(measured, covariance)
    off = np.asarray(measured, float) - expected.shape
    total = expected.shape_covariance + covariance
    overall = float(chi2.sf(surprise, inverse_of(total)[1]))
    each = np.abs(off) / np.sqrt(np.diag(total))
    single = min(1.0, off.size * 2.0 * float(norm.sf(each.max())))
    moved, seen = expected.shape - before.shape, measured - before.shape
    movement = _movement(moved, seen, total)
    along = 1.0
    if movement is not None:
        along = 2.0 * float(norm.sf(abs(movement[0] - 1.0) / movement[1]))
    likelihood = min(1.0, 3.0 * min(overall, along, single))
    clear = _movement(moved, seen, before.shape_covariance + covariance)
    still = clear is not None and clear[0] < LEAST_SHARE and clear[1] < CLEAR
    fits = likelihood >= DOUBT and not still
    learnt = fits if choice == "as it fits" else choice == "learn"
    if learnt:
        belief = expected.seen(measured, covariance)
    else:
        belief = before.remeasured(measured, covariance)
    why = () if fits else _reasons(moved, off, total, movement, places)
    return Lesson(
        belief=belief,
        expected=expected,
        learnt=learnt,
        fits=fits,
        likelihood=likelihood,
        surprise=surprise,
        movement=movement,
        why=why,
    )


def _movement(expected: Array, seen: Array, total: Array) -> tuple[float, float] | None:
    """Share of the expected movement that was seen, with its standard deviation."""
    if not bool(np.any(np.abs(expected) > 1e-12)):
        return None
    weighed = inverse_of(total)[0] @ expected
    size = float(weighed @ expected)
    if not size > 0.0:
        return None
    return float(weighed @ seen) / size, size**-0.5


def _reasons(
    moved: Array, off: Array, total: Array, movement: tuple[float, float] | None, places: Places
) -> tuple[str, ...]:
    """What a misfit looks like, the likeliest first."""
    said = []
    worst = int(np.argmax(np.abs(off) / np.sqrt(np.diag(total))))
    rest = np.delete(np.arange(off.size), worst)
    if rest.size:
        part = total[np.ix_(rest, rest)]
        inverse, known = inverse_of(part)
        left = float(off[rest] @ inverse @ off[rest])
        others = _movement(moved[rest], moved[rest] + off[rest], part)
        usual = others is None or abs(others[0] - 1.0) < 2.0 * others[1]
        if usual and chi2.sf(left, known) > REST_FITS:
            said.append(
                f"only the reading at {places.names[worst]} is off, by {1e3 * off[worst]:+.1f} mm: "
                "measure it again"
            )
    if not said and movement is not None:
        share, unsure = movement
        seen = f"{100 * share:.0f} % of the expected movement was seen"
        if share < -0.25:
            said.append(f"{seen}: the part went the other way, as if heated on the wrong side")
        elif share < 0.25 and unsure < 0.5:
            said.append(
                f"{seen}: as if a jack had slipped, a heat had not reached its temperature, or the "
                "part had not been free to move"
            )
        elif share > 1.75:
            said.append(f"{seen}: as if heated hotter, larger or more often than planned")
    if not said:
        said.append(
            "the form of the movement is another than that of the heats: a support, the string or "
            "the places of the heats may differ from what was planned"
        )
    return tuple(said)
