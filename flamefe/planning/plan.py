"""The plan of a cycle: which heats, in which order, what they bring, and why not more."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from flamefe.basics.errors import OutOfRange
from flamefe.planning.belief import FORM_ERROR, Belief
from flamefe.planning.candidate import Heat, Library, heat_from
from flamefe.planning.even import spread_evenly
from flamefe.planning.exact import exact
from flamefe.planning.limits import Allowed, CycleRules, allowed_in
from flamefe.planning.outlook import Outlook, outlook
from flamefe.planning.places import Places
from flamefe.planning.reasons import why_not_more
from flamefe.planning.scoring import Scoring, scoring_for
from flamefe.planning.search import KICKS, score_of, search
from flamefe.planning.sequence import in_order

Array = NDArray[np.float64]
Effort = Literal["quick", "thorough"]

BAND = 0.9
"""Probability with which a place ends in the band that a plan shows."""
DRAWS = 4096
PERHAPS = 0.4
"""Probability of being within tolerance from which it is worth measuring again before heating."""
LEAST_HITS = 20
"""Draws that are overcorrected where as many are as allowed, at least (half of them)."""
SEED = 1947
TRIES = 4
FEW_KICKS = 6
SPARED, SPARING = 0.8, 0.5
"""Share of the believed effect, less so many standard deviations, at which all places together must
still do; else the strongest heat is kept for each."""
SAVED = "is weaker than another on its place, and places are scarce"
SPARE = 0.2
"""Standard deviations more than the surest bound for Gaussians, since draws have tails of their
own."""


@dataclass(frozen=True, kw_only=True, eq=False)
class CyclePlan:
    """A plan for one cycle.

    Args:
        heats: in order.
        before: belief before them; after: belief after them.
        band: (n,) m, half the width of the band of ``BAND`` probability after the cycle.
        within: probability that all places are within tolerance after the cycle; within_now:
            before it.
        overcorrected: probability that any place ends beyond the opposite tolerance.
        why: why not more, in words.
        outlook: whether it can be brought in at all, and with how many heats.
        done: whether the part counts as within tolerance already.
        measure_again: whether it may well be within tolerance already, so that another
            measurement is the cheaper next step.
        gap: how much better the best plan could score at most, in halves of the tolerance; None:
            not asked.
        considered: number of heats that could be chosen.
    """

    heats: tuple[Heat, ...]
    before: Belief
    after: Belief
    band: Array
    within: float
    within_now: float
    overcorrected: float
    why: tuple[str, ...]
    outlook: Outlook
    done: bool
    measure_again: bool
    gap: float | None
    considered: int

    @property
    def contributions(self) -> Array:
        """(heats, n) m, expected change of each place by each heat at the factors believed."""
        order = {kind.name: index for index, kind in enumerate(self.before.kinds)}
        made = [self.before.factors[order[heat.kind]] * heat.moves for heat in self.heats]
        return np.array(made).reshape(len(self.heats), self.before.count)


def plan_cycle(
    belief: Belief,
    places: Places,
    library: Library,
    rules: CycleRules,
    given: Mapping[str, int] | None = None,
    effort: Effort = "thorough",
    seconds: float = 4.0,
    centre: Sequence[float] | None = None,
) -> CyclePlan:
    """Plan the next cycle.

    A set of heats is sought that keeps all rules and makes max v + mean v + worth * heats least,
    where v is the expected distance of each place beyond what is aimed at (``Scoring``). The
    probability of overcorrection is kept for the part as a whole: where the draws of the belief
    show more, all places are guarded more. Nothing is planned once the part is within tolerance
    with the asked confidence.

    Args:
        belief: of shape and factors.
        places: measuring places with tolerances.
        library: heats that could be given.
        rules: of the trade.
        given: number of heats that each place had so far.
        effort: "quick": local search; "thorough": also mixed-integer programming.
        seconds: that the programming may take.
        centre: m, middle of the part for the order of heats; None: of all candidates.

    Raises:
        OutOfRange: a library for other places or kinds.

    Example:
        >>> from flamefe.planning.belief import first_belief
        >>> from flamefe.planning.candidate import Candidate, HeatKind
        >>> from flamefe.planning.places import places_of
        >>> heats = tuple(Candidate(name=f"wedge {x}", kind="wedge", size="", place=f"{x} m",
        ...     side="top", position=(float(x), 0.0, 0.0), moves=np.array([-2e-3]))
        ...     for x in range(1, 8))
        >>> library = Library(kinds=(HeatKind(name="wedge"),), candidates=heats)
        >>> belief = first_belief(library.kinds, np.array([0.014]), np.array([5e-4]))
        >>> plan = plan_cycle(belief, places_of(["middle"], 0.003), library, CycleRules())
        >>> len(plan.heats), plan.overcorrected <= 0.01, plan.outlook.reachable
        (4, True, True)
    """
    had = dict(given or {})
    names = [kind.name for kind in belief.kinds]
    if [kind.name for kind in library.kinds] != names:
        raise OutOfRange(f"A library of {[k.name for k in library.kinds]} for factors of {names}.")
    if any(one.moves.size != belief.count for one in library.candidates):
        raise OutOfRange(f"Heats that move other than the {belief.count} measured places.")
    if len(places.names) != belief.count:
        raise OutOfRange(f"Tolerances of {len(places.names)} places for {belief.count} measured.")
    allowed = allowed_in(library, rules, had, belief.shape - places.centre, places.half)
    ahead = outlook(belief, places, library, rules, allowed, had)
    if ahead.reachable and _short_of_places(belief, places, library, rules, allowed, had):
        allowed = _spared(library, allowed)
    repeats = library.repeats(had)
    draws = max(DRAWS, 2 * int(LEAST_HITS / rules.overcorrection))
    now = drawn_ends(belief, (), draws)
    within_now = float(np.mean(_inside(places, now)))
    done = within_now >= rules.confidence
    base = scoring_for(belief, places, library, rules, repeats)
    chosen: tuple[int, ...] = ()
    scoring, gap = base, None
    if not done and bool(allowed.open.any()) and allowed.most > 0:
        risk_now = _overcorrected(base, now)
        kicks = KICKS if effort == "thorough" else FEW_KICKS
        scoring, chosen = _guarded(
            belief, library, rules, base, allowed, repeats, risk_now, kicks, draws
        )
        if effort == "thorough":
            proof = exact(scoring, allowed, chosen, seconds)
            if _risk(belief, library, scoring, proof.chosen, repeats, draws) <= max(
                rules.overcorrection, risk_now
            ):
                chosen = proof.chosen
            gap = max(0.0, score_of(scoring, chosen) - proof.bound)
    chosen = spread_evenly(chosen, library, allowed, repeats)
    heats = _heats(library, repeats, chosen)
    after = belief.after(heats)
    ends = drawn_ends(belief, heats, draws)
    positions = np.array([one.position for one in library.candidates]).reshape(-1, 3)
    if centre is None:
        centre = (
            0.5 * (positions.min(axis=0) + positions.max(axis=0)) if len(positions) else (0,) * 3
        )
    return CyclePlan(
        heats=in_order(heats, rules.sequence, centre),
        before=belief,
        after=after,
        band=float(norm.ppf(0.5 + 0.5 * BAND)) * after.shape_deviation,
        within=float(np.mean(_inside(places, ends))),
        within_now=within_now,
        overcorrected=_overcorrected(base, ends),
        why=why_not_more(
            scoring,
            allowed,
            places,
            rules,
            chosen,
            done,
            lambda more: _risk(belief, library, base, more, repeats, draws),
        ),
        outlook=ahead,
        done=done,
        measure_again=not done and within_now >= PERHAPS,
        gap=gap,
        considered=int(allowed.open.sum()),
    )


def _short_of_places(
    belief: Belief,
    places: Places,
    library: Library,
    rules: CycleRules,
    allowed: Allowed,
    had: Mapping[str, int],
) -> bool:
    """Whether the places that are left would not do with heats somewhat weaker than believed."""
    mean = belief.mean.copy()
    share = SPARING * np.minimum(belief.factor_deviation / np.maximum(belief.factors, 1e-9), 0.5)
    mean[belief.count :] *= SPARED - share
    weaker = replace(belief, mean=mean)
    return not outlook(weaker, places, library, rules, allowed, had).reachable


def _spared(library: Library, allowed: Allowed) -> Allowed:
    """Only the strongest kind of heat on each place, since there are few places left."""
    strongest: dict[str, float] = {}
    sizes = [float(np.abs(one.moves).sum()) for one in library.candidates]
    for one, size, reason in zip(library.candidates, sizes, allowed.reasons, strict=True):
        if not reason:
            strongest[one.place] = max(strongest.get(one.place, 0.0), size)
    reasons = tuple(
        reason or (SAVED if size < 0.999 * strongest[one.place] else "")
        for one, size, reason in zip(library.candidates, sizes, allowed.reasons, strict=True)
    )
    return replace(allowed, reasons=reasons)


def _guarded(
    belief: Belief,
    library: Library,
    rules: CycleRules,
    base: Scoring,
    allowed: Allowed,
    repeats: Array,
    risk_now: float,
    kicks: int,
    draws: int,
) -> tuple[Scoring, tuple[int, ...]]:
    """A scoring that guards each place enough for the whole part, and a set found with it."""
    most = max(rules.overcorrection, risk_now)
    chosen, _ = search(base, allowed, kicks)
    if _risk(belief, library, base, chosen, repeats, draws) <= most:
        return base, chosen
    low = base.guard
    high = float(norm.ppf(1.0 - rules.overcorrection / belief.count)) + SPARE
    best: tuple[Scoring, tuple[int, ...], float] = (replace(base, guard=high), (), np.inf)
    for step in range(TRIES):
        guard = high if step == 0 else 0.5 * (low + high)
        scoring = replace(base, guard=guard)
        chosen, score = search(scoring, allowed, kicks)
        if _risk(belief, library, base, chosen, repeats, draws) <= most:
            high = guard
            if score < best[2]:
                best = (scoring, chosen, score)
        else:
            low = guard
            if step == 0:
                high = guard + 1.0
    return best[0], best[1]


def _heats(library: Library, repeats: Array, chosen: Sequence[int]) -> tuple[Heat, ...]:
    return tuple(heat_from(library.candidates[i], float(repeats[i])) for i in chosen)


def _risk(
    belief: Belief,
    library: Library,
    scoring: Scoring,
    chosen: Sequence[int],
    repeats: Array,
    draws: int,
) -> float:
    """Probability of overcorrection of a set."""
    return _overcorrected(scoring, drawn_ends(belief, _heats(library, repeats, chosen), draws))


def drawn_ends(belief: Belief, heats: Sequence[Heat], draws: int = DRAWS) -> Array:
    """Deviations after heats, drawn as they come about: factor times day times scatter.

    The same question gets the same draws.

    Args:
        belief: before the heats.
        heats: of one cycle; none: the shape as it is.
        draws: number of draws.

    Returns:
        (draws, n) m.
    """
    random = np.random.default_rng(SEED)
    values, vectors = np.linalg.eigh(belief.covariance)
    kept = values > 1e-12 * max(float(values.max()), 1e-30)
    root = vectors[:, kept] * np.sqrt(values[kept])
    half = random.standard_normal((draws // 2, int(kept.sum())))
    joint = belief.mean + np.vstack([half, -half]) @ root.T
    shape, factors = joint[:, : belief.count], joint[:, belief.count :]
    if not heats:
        return np.asarray(shape)
    order = {kind.name: index for index, kind in enumerate(belief.kinds)}
    kind = np.array([order[heat.kind] for heat in heats])
    day = np.array([one.day for one in belief.kinds])
    scatter = np.array([one.scatter for one in belief.kinds])[kind]
    days = 1.0 + day * random.standard_normal((len(shape), day.size))
    form = FORM_ERROR * random.standard_normal(shape.shape)
    own = 1.0 + scatter * random.standard_normal((len(shape), len(heats)))
    moved = ((factors * days)[:, kind] * own) @ np.array([heat.moves for heat in heats])
    return np.asarray(shape + moved * (1.0 + form))


def _inside(places: Places, draws: Array) -> NDArray[np.bool_]:
    return np.asarray(((draws >= places.lower) & (draws <= places.upper)).all(axis=1))


def _overcorrected(scoring: Scoring, draws: Array) -> float:
    low = scoring.below & (draws < scoring.centre - scoring.half)
    high = scoring.above & (draws > scoring.centre + scoring.half)
    return float(np.mean((low | high).any(axis=1)))
