"""Why a plan holds no more heats: what binds."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from flamefe.planning.limits import Allowed, CycleRules
from flamefe.planning.places import Places
from flamefe.planning.scoring import Scoring
from flamefe.planning.search import free_to_add, score_of

Array = NDArray[np.float64]


def why_not_more(
    scoring: Scoring,
    allowed: Allowed,
    places: Places,
    rules: CycleRules,
    chosen: Sequence[int],
    done: bool,
    risk: Callable[[Sequence[int]], float],
) -> tuple[str, ...]:
    """Say what stands against one more heat, the thing that binds first.

    Each candidate that was not chosen is tried on top of the plan: whether it would help, and
    which rule forbids it.

    Args:
        scoring: what sets are worth and risk.
        allowed: which heats may be chosen together.
        places: measuring places.
        rules: of the cycle.
        chosen: indices of the plan.
        done: whether the part counts as within tolerance.
        risk: probability that a set overcorrects the part anywhere.
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
        if not better.any():
            said.append(_good_enough(scoring, chosen))
        elif len(chosen) >= allowed.most:
            full = "in a cycle" if allowed.most == rules.most_heats else "left for the job"
            said.append(f"the largest number of heats {full} is reached: {allowed.most}")
        elif (better & free & ~safe).any():
            worth = np.flatnonzero(better & free & ~safe)
            risks = scoring.risk(means, variances)[worth]
            least = int(np.argmin(risks.max(axis=1)))
            place = places.names[int(np.argmax(risks[least]))]
            chance = risk([*chosen, int(open_ones[worth[least]])])
            said.append(
                f"one more would raise the probability of overcorrection to {100 * chance:.2g} % "
                f"or more, first at {place}; allowed: {100 * rules.overcorrection:g} %"
            )
        elif (better & ~free).any():
            said.append(
                "what would still help lies too near to a chosen heat, on its place, or needs a "
                "device that is taken"
            )
    shut = [allowed.reasons[int(i)] for i in others if allowed.reasons[int(i)]]
    for reason in dict.fromkeys(shut):
        count = shut.count(reason)
        heats = "1 heat is" if count == 1 else f"{count} heats are"
        said.append(f"{heats} left out: {reason}")
    if scoring.count == 0:
        said.append("the library holds no heat")
    return tuple(said)


def _good_enough(scoring: Scoring, chosen: Sequence[int]) -> str:
    mean, _ = scoring.shape(scoring.of(chosen))
    if bool((np.abs(mean - scoring.centre) <= scoring.aim).all()):
        return "every place is expected where it was aimed; a further heat earns less than it costs"
    return "no single further heat that is left brings it nearer"
