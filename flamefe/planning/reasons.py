"""Why a plan holds no more heats: what binds."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from flamefe.planning.candidate import Library
from flamefe.planning.limits import Allowed, CycleRules
from flamefe.planning.places import Places
from flamefe.planning.scoring import Scoring
from flamefe.planning.search import free_to_add, score_of

Array = NDArray[np.float64]


def why_not_more(
    scoring: Scoring,
    allowed: Allowed,
    library: Library,
    places: Places,
    rules: CycleRules,
    chosen: Sequence[int],
    done: bool,
) -> tuple[str, ...]:
    """Say what stands against one more heat, the thing that binds first.

    Each candidate that was not chosen is tried on top of the plan: whether it would help, and
    which rule forbids it.

    Args:
        scoring: what sets are worth and risk.
        allowed: which heats may be chosen together.
        library: heats that could be given.
        places: measuring places.
        rules: of the cycle.
        chosen: indices of the plan.
        done: whether the part counts as within tolerance.
    """
    if done:
        return ("the part is within tolerance with the asked confidence: no more heats",)
    said: list[str] = []
    tally = scoring.of(chosen)
    score = score_of(scoring, chosen)
    others = np.setdiff1d(np.arange(scoring.count), np.asarray(chosen, dtype=int))
    open_ones = others[allowed.open[others]]
    if open_ones.size:
        means, variances = scoring.with_one_more(tally, open_ones)
        better = scoring.value(means, variances, len(chosen) + 1) < score - 1e-9
        safe = scoring.safe(means, variances)
        free = np.isin(open_ones, free_to_add(allowed, chosen))
        said += _bound(
            scoring, allowed, places, rules, chosen, better, safe, free, means, variances
        )
    shut = [allowed.reasons[int(i)] for i in others if allowed.reasons[int(i)]]
    for reason in dict.fromkeys(shut):
        count = shut.count(reason)
        heats = "1 heat is" if count == 1 else f"{count} heats are"
        said.append(f"{heats} left out: {reason}")
    if scoring.count == 0:
        said.append("the library holds no heat")
    return tuple(said)


def _bound(
    scoring: Scoring,
    allowed: Allowed,
    places: Places,
    rules: CycleRules,
    chosen: Sequence[int],
    better: NDArray[np.bool_],
    safe: NDArray[np.bool_],
    free: NDArray[np.bool_],
    means: Array,
    variances: Array,
) -> list[str]:
    """Which of the rules binds, among heats that may be chosen at all."""
    said = []
    if not better.any():
        mean, _ = scoring.shape(scoring.of(chosen))
        reached = bool((np.abs(mean - scoring.centre) <= scoring.aim).all())
        said.append(
            "every place is expected where it was aimed; a further heat earns less than it costs"
            if reached
            else "no single further heat that is left brings it nearer"
        )
        return said
    if len(chosen) >= allowed.most:
        full = "in a cycle" if allowed.most == rules.most_heats else "left for the job"
        said.append(f"the largest number of heats {full} is reached: {allowed.most}")
    risky = better & free & ~safe
    if risky.any():
        risk = scoring.risk(means, variances)[risky]
        best = int(np.argmin(risk.max(axis=1)))
        place = int(np.argmax(risk[best]))
        chance = _chance(scoring, means[risky][best], variances[risky][best], place)
        said.append(
            f"one more would raise the probability that {places.names[place]} is overcorrected "
            f"to {100 * chance:.2g} % or more; allowed for the whole part: "
            f"{100 * rules.overcorrection:g} %"
        )
    near = better & safe & ~free
    if near.any() and not bool((better & safe & free).any()):
        said.append(
            "what would still help lies too near to a chosen heat, on its place, or needs a device "
            "that is taken"
        )
    return said


def _chance(scoring: Scoring, mean: Array, variance: Array, place: int) -> float:
    """Probability that one place ends beyond the opposite tolerance."""
    deviation = max(float(np.sqrt(variance[place])), 1e-12)
    low = float(scoring.centre[place] - scoring.half[place])
    high = float(scoring.centre[place] + scoring.half[place])
    below = float(norm.cdf((low - mean[place]) / deviation)) if scoring.below[place] else 0.0
    above = float(norm.sf((high - mean[place]) / deviation)) if scoring.above[place] else 0.0
    return max(below, above)
