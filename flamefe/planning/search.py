"""Choose heats quickly: the best heat more, less or exchanged, until nothing is better."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from flamefe.planning.limits import Allowed
from flamefe.planning.scoring import Scoring, Tally

Array = NDArray[np.float64]
Index = NDArray[np.int_]
GAIN = 1e-9
KICKS = 24
WALK = 1.1
"""A kick starts from the last set while that is at most this much worse than the best one."""
SEED = 20240717


def search(
    scoring: Scoring,
    allowed: Allowed,
    kicks: int = KICKS,
    start: Sequence[int] = (),
) -> tuple[tuple[int, ...], float]:
    """A good set of heats, by local search from nothing (or a start) with a few random kicks.

    Every step takes the best heat more, else the best exchange or the best heat less; a kick
    forces a random heat into the best set, takes out what that excludes, and climbs again. The
    same input gives the same answer.

    Args:
        scoring: what a set is worth and risks.
        allowed: which heats may be chosen together.
        kicks: number of kicks.
        start: a set that is allowed.

    Returns:
        Indices of the heats, rising, and their score.

    Example:
        >>> import numpy as np
        >>> from flamefe.planning.belief import first_belief
        >>> from flamefe.planning.candidate import Candidate, HeatKind, Library
        >>> from flamefe.planning.limits import CycleRules, allowed_in
        >>> from flamefe.planning.places import places_of
        >>> from flamefe.planning.scoring import scoring_for
        >>> heats = tuple(Candidate(name=str(i), kind="spot", size="", place=str(i), side="",
        ...     position=(i, 0, 0), moves=np.array([-1e-3])) for i in range(9))
        >>> library = Library(kinds=(HeatKind(name="spot", uncertain=0.1),), candidates=heats)
        >>> belief = first_belief(library.kinds, np.array([0.006]), np.array([1e-4]))
        >>> rules, places = CycleRules(), places_of(["middle"], 0.003)
        >>> scoring = scoring_for(belief, places, library, rules, library.repeats({}))
        >>> allowed = allowed_in(library, rules, {}, belief.shape, places.half)
        >>> len(search(scoring, allowed)[0])
        5
    """
    best = _climb(scoring, allowed, scoring.of(tuple(start)))
    if start:
        other = _climb(scoring, allowed, scoring.nothing())
        best = min(best, other, key=lambda one: one[1])
    random = np.random.default_rng(SEED)
    here = best
    for _ in range(kicks):
        kicked = _kicked(scoring, allowed, here[0].chosen, random)
        if kicked is None:
            break
        tried = _climb(scoring, allowed, kicked)
        here = tried if tried[1] < WALK * best[1] else best
        if tried[1] < best[1] - GAIN:
            best = tried
    return tuple(sorted(best[0].chosen)), best[1]


def _kicked(
    scoring: Scoring, allowed: Allowed, chosen: Sequence[int], random: np.random.Generator
) -> Tally | None:
    """A set with a random heat forced in, and out what it excludes or what makes it risky."""
    others = np.setdiff1d(np.flatnonzero(allowed.open), np.asarray(chosen, dtype=int))
    if others.size == 0 or allowed.most == 0:
        return None
    forced = int(random.choice(others))
    kept = [one for one in chosen if not allowed.excludes[forced, one]]
    random.shuffle(kept)
    while kept and (
        len(kept) + 1 > allowed.most
        or forced not in free_to_add(allowed, kept)
        or not _fits(scoring, scoring.of((*kept, forced)))
    ):
        kept.pop()
    made = scoring.of((*kept, forced))
    return made if _fits(scoring, made) else scoring.of(kept)


def score_of(scoring: Scoring, chosen: Sequence[int]) -> float:
    """Score of one set.

    Args:
        scoring: what a set is worth.
        chosen: indices.
    """
    tally = scoring.of(chosen)
    return float(scoring.value(*scoring.shape(tally), len(tally.chosen)))


def _fits(scoring: Scoring, tally: Tally) -> bool:
    return bool(scoring.safe(*scoring.shape(tally)))


def free_to_add(allowed: Allowed, chosen: Sequence[int]) -> Index:
    """Candidates that may come to a set, but for their number and what they risk.

    Args:
        allowed: which heats may be chosen together.
        chosen: the set.

    Returns:
        Indices, rising.
    """
    free = allowed.open.copy()
    picked = list(chosen)
    if picked:
        free &= ~allowed.excludes[picked].any(axis=0)
    for device, served in allowed.served.items():
        used = sum(1 for one in picked if allowed.devices[one] == device)
        if used >= served:
            free &= np.array([name != device for name in allowed.devices], dtype=bool)
    return np.flatnonzero(free)


def _best_added(
    scoring: Scoring, allowed: Allowed, tally: Tally, heats: int
) -> tuple[int, float] | None:
    """Best candidate to add to a set, and the score it makes."""
    free = free_to_add(allowed, tally.chosen)
    if free.size == 0 or heats > allowed.most:
        return None
    means, variances = scoring.with_one_more(tally, free)
    scores = np.where(
        scoring.safe(means, variances), scoring.value(means, variances, heats), np.inf
    )
    place = int(np.argmin(scores))
    return None if not np.isfinite(scores[place]) else (int(free[place]), float(scores[place]))


def _climb(scoring: Scoring, allowed: Allowed, tally: Tally) -> tuple[Tally, float]:
    """Local search from one set until no step is better."""
    score = score_of(scoring, tally.chosen)
    while True:
        count = len(tally.chosen)
        added = _best_added(scoring, allowed, tally, count + 1)
        if added is not None and added[1] < score - GAIN:
            tally, score = scoring.of((*tally.chosen, added[0])), added[1]
            continue
        step = _exchanged(scoring, allowed, tally, score)
        if step is None:
            return tally, score
        tally, score = step


def _exchanged(
    scoring: Scoring, allowed: Allowed, tally: Tally, score: float
) -> tuple[Tally, float] | None:
    """Best set with one heat less, or with one exchanged for another; None: none is better."""
    found: tuple[Tally, float] | None = None
    for place in range(len(tally.chosen)):
        rest = scoring.of(tally.chosen[:place] + tally.chosen[place + 1 :])
        mean, variance = scoring.shape(rest)
        less = float(scoring.value(mean, variance, len(rest.chosen)))
        if less < score - GAIN and bool(scoring.safe(mean, variance)):
            found, score = (rest, less), less
        other = _best_added(scoring, allowed, rest, len(tally.chosen))
        if other is not None and other[1] < score - GAIN:
            found, score = (scoring.of((*rest.chosen, other[0])), other[1]), other[1]
    return found
