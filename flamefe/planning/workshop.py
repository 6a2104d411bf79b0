"""Whole jobs played from the first measurement to the last: plan, heat, measure, learn."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.planning.belief import Belief
from flamefe.planning.candidate import Heat, Library, heat_from, heats_given
from flamefe.planning.learning import Lesson, learn
from flamefe.planning.limits import CycleRules, allowed_in
from flamefe.planning.places import Places
from flamefe.planning.plan import CyclePlan, Effort, plan_cycle
from flamefe.planning.search import free_to_add

Array = NDArray[np.float64]
Treat = Callable[[Sequence[Heat]], Array]
"""Give the heats of a cycle to the true part and measure it."""
MOST_AGAIN = 2
"""How often a part is measured again before it is heated on or given up."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Played:
    """A job that was played.

    Args:
        cycles: heats of each cycle.
        plans, lessons: of each cycle; empty for a rule of thumb.
        done: whether it ended because the part counts as within tolerance.
        reachable: whether the outlook never called it out of reach.
    """

    cycles: tuple[tuple[Heat, ...], ...]
    plans: tuple[CyclePlan, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    done: bool
    reachable: bool = True

    @property
    def heats(self) -> int:
        """Number of heats of the whole job."""
        return sum(len(heats) for heats in self.cycles)


def play(
    belief: Belief,
    places: Places,
    library: Library,
    rules: CycleRules,
    treat: Treat,
    covariance: Array | Callable[[Array], Array],
    given: Mapping[str, int] | None = None,
    most_cycles: int = 15,
    effort: Effort = "quick",
) -> Played:
    """Play a job with plans and learning until it is done, out of reach or out of cycles.

    Where a plan says so, the part is measured again, up to twice, before it is heated.

    Args:
        belief: after the first measurement.
        places: with tolerances.
        library: heats that could be given.
        rules: of the trade.
        treat: gives heats to the true part and returns what is measured after; with no heats it
            measures again.
        covariance: (n, n) m2 of the measuring errors, or what tells it of a measurement.
        given: number of heats that each place had before.
        most_cycles: after which the job is given up.
        effort: of the plans.

    Example:
        >>> from flamefe.planning.belief import first_belief
        >>> from flamefe.planning.candidate import Candidate, HeatKind
        >>> from flamefe.planning.places import places_of
        >>> heats = tuple(Candidate(name=f"wedge {x}", kind="wedge", size="", place=f"{x} m",
        ...     side="top", position=(float(x), 0.0, 0.0), moves=np.array([-2e-3]))
        ...     for x in range(1, 12))
        >>> library = Library(kinds=(HeatKind(name="wedge"),), candidates=heats)
        >>> true = np.array([0.014])
        >>> def treat(given):
        ...     true[:] += sum((0.8 * heat.moves for heat in given), np.zeros(1))
        ...     return true.copy()
        >>> belief = first_belief(library.kinds, true.copy(), np.array([3e-4]))
        >>> job = play(belief, places_of(["middle"], 0.003), library, CycleRules(), treat,
        ...            np.array([[9e-8]]))
        >>> job.done, len(job.cycles), abs(true[0]) < 0.003
        (True, 3, np.True_)
    """
    had = dict(given or {})
    cycles: list[tuple[Heat, ...]] = []
    plans: list[CyclePlan] = []
    lessons: list[Lesson] = []
    again, reachable = 0, True
    while len(cycles) < most_cycles:
        plan = plan_cycle(belief, places, library, rules, had, effort=effort)
        reachable = reachable and (plan.done or plan.outlook.reachable)
        if plan.done:
            return Played(
                cycles=tuple(cycles),
                plans=tuple(plans),
                lessons=tuple(lessons),
                done=True,
                reachable=reachable,
            )
        heats = () if plan.measure_again and again < MOST_AGAIN else plan.heats
        if not heats and again >= MOST_AGAIN:
            break
        again = 0 if heats else again + 1
        measured = treat(heats)
        errors = covariance(measured) if callable(covariance) else covariance
        lesson = learn(belief, heats, measured, errors, places)
        belief = lesson.belief
        if heats:
            cycles.append(plan.heats)
            plans.append(plan)
            lessons.append(lesson)
            for heat in plan.heats:
                had[heat.place] = had.get(heat.place, 0) + 1
    return Played(
        cycles=tuple(cycles),
        plans=tuple(plans),
        lessons=tuple(lessons),
        done=False,
        reachable=reachable,
    )


def play_by_halves(
    measured: Array,
    places: Places,
    library: Library,
    rules: CycleRules,
    treat: Treat,
    most_cycles: int = 15,
    aim: Array | None = None,
    share: float = 0.5,
) -> Played:
    """Play a job by the usual rule of thumb: half of what is needed, measure, again.

    Every cycle takes the heats whose expected change, at a factor of 1, comes nearest to half of
    the measured deviation (least squares over the places), under the same rules but without any
    thought of spread. It ends when what is measured lies within tolerance.

    Args:
        measured: (n,) m, first measurement.
        places, library, rules: as ``play``.
        treat: as ``play``.
        most_cycles: after which the job is given up.
        aim: (n,) m, deviations that are wanted; None: the middle of the tolerance.
        share: of the way there that a cycle is to go.

    Source: common practice, no source.
    """
    had: dict[str, int] = {}
    cycles: list[tuple[Heat, ...]] = []
    for _ in range(most_cycles):
        if not bool((places.outside(measured) > 0.0).any()):
            return Played(cycles=tuple(cycles), done=True)
        heats = halving(measured, places, library, rules, had, aim, share)
        if not heats:
            break
        measured = treat(heats)
        cycles.append(heats)
        had = heats_given(cycles)
    return Played(cycles=tuple(cycles), done=not bool((places.outside(measured) > 0.0).any()))


def halving(
    measured: Array,
    places: Places,
    library: Library,
    rules: CycleRules,
    given: Mapping[str, int],
    aim: Array | None = None,
    share: float = 0.5,
) -> tuple[Heat, ...]:
    """The heats whose expected change comes nearest to half of the measured deviation.

    Args:
        measured: (n,) m.
        places, library, rules: as ``play``.
        given: number of heats that each place had.
        aim: (n,) m, deviations that are wanted; None: the middle of the tolerance.
        share: of the way there that a cycle is to go.

    Returns:
        One heat at least, where any is allowed.
    """
    off = measured - (places.centre if aim is None else aim)
    allowed = allowed_in(library, rules, given, off, places.half)
    repeats = library.repeats(given)
    moves = repeats[:, None] * np.array([one.moves for one in library.candidates])
    left = share * off
    chosen: list[int] = []
    while len(chosen) < allowed.most:
        free = free_to_add(allowed, chosen)
        if free.size == 0:
            break
        after = np.sum((left + moves[free]) ** 2, axis=1)
        best = int(np.argmin(after))
        if chosen and after[best] >= left @ left:
            break
        chosen.append(int(free[best]))
        left = left + moves[free[best]]
    return tuple(heat_from(library.candidates[i], float(repeats[i])) for i in chosen)


def drawn_shop(
    belief: Belief, covariance: Array, random: np.random.Generator
) -> tuple[Callable[[Sequence[Heat]], Array], Callable[[], Array]]:
    """A part and a shop drawn from a belief, to be played with.

    Args:
        belief: of shape and factors.
        covariance: (n, n) m2 of the measuring errors.
        random: source of chance.

    Returns:
        What gives heats and measures, and what tells the true deviations (n,) m.
    """
    drawn = random.multivariate_normal(belief.mean, belief.covariance, method="eigh")
    shape, factors = drawn[: belief.count].copy(), np.maximum(drawn[belief.count :], 0.05)
    order = {kind.name: index for index, kind in enumerate(belief.kinds)}

    def treat(heats: Sequence[Heat]) -> Array:
        days = np.array([1.0 + kind.day * random.standard_normal() for kind in belief.kinds])
        for heat in heats:
            index = order[heat.kind]
            own = 1.0 + belief.kinds[index].scatter * random.standard_normal()
            shape[:] += factors[index] * days[index] * own * heat.moves
        noise = random.multivariate_normal(np.zeros(belief.count), covariance, method="eigh")
        return np.asarray(shape + noise)

    return treat, lambda: shape.copy()
