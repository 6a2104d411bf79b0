"""Whether a part can be brought in at all, and with how many heats at least."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import csr_array

from flamefe.planning.belief import Belief
from flamefe.planning.candidate import Library
from flamefe.planning.limits import Allowed, CycleRules
from flamefe.planning.places import Places

Array = NDArray[np.float64]
NEAR = 1e-6
ENDLESS = 1000


@dataclass(frozen=True, kw_only=True, eq=False)
class Outlook:
    """What all further heats that the rules allow could do, at the expected factors.

    Args:
        reachable: whether they bring the expected shape within tolerance.
        heats: that it takes at least; None where it can't be reached.
        cycles: that it takes at least; None where it can't be reached.
        left: (n,) m, how far each place stays outside the tolerance at best.
        why: what it is that can't be; "": it can.
    """

    reachable: bool
    heats: int | None
    cycles: int | None
    left: Array
    why: str


def outlook(
    belief: Belief,
    places: Places,
    library: Library,
    rules: CycleRules,
    allowed: Allowed,
    given: Mapping[str, int],
) -> Outlook:
    """Look at all cycles to come as one linear problem.

    Each place may get as many further heats as its metal still takes, each with its repeat
    factor; parts of heats are allowed, so that the answer is an optimistic bound: what it calls
    unreachable can't be reached on the expected factors.

    Args:
        belief: before the cycle.
        places: with their tolerances.
        library: heats that could be given.
        rules: of the cycle and the job.
        allowed: what may be heated, in this cycle.
        given: number of heats that each place had.
    """
    moves, place = _further(belief, library, rules, allowed, given)
    left, used = _solved(belief, places, moves, place, rules, given)
    if not bool((left > NEAR * places.half).any()):
        count = ceil(used - 1e-6)
        cycles = ceil(count / rules.most_heats) if count else 0
        return Outlook(reachable=True, heats=count, cycles=cycles, left=left, why="")
    every = _all_first(belief, library, allowed)
    free, needed = _solved(belief, places, every, None, rules, None)
    worst = int(np.argmax(left / places.half))
    stays = f"at best {places.names[worst]} stays {1e3 * left[worst]:.1f} mm outside its tolerance"
    if bool((free > NEAR * places.half).any()):
        why = f"{_no_way(allowed)}; {stays}"
    elif rules.most_in_job is not None and needed > rules.most_in_job - sum(given.values()):
        left_over = rules.most_in_job - sum(given.values())
        why = f"it needs about {ceil(needed)} heats and {left_over} are left; {stays}"
    else:
        spoilt = sum(1 for count in given.values() if count >= rules.most_at_a_place)
        had = f", of which {spoilt} have had theirs" if spoilt else ""
        why = (
            f"it needs about {ceil(needed)} heats' worth, more than the allowed places take at "
            f"{rules.most_at_a_place} a place{had}; {stays}"
        )
    return Outlook(reachable=False, heats=None, cycles=None, left=left, why=why)


def _no_way(allowed: Allowed) -> str:
    """Why heats without any bound on their number don't do."""
    if bool(allowed.open.any()):
        return "no set of the allowed heats gives the shape that it has to take"
    shut = [reason for reason in allowed.reasons if reason]
    if not shut:
        return "there is no heat to choose from"
    most = max(dict.fromkeys(shut), key=shut.count)
    return f"no heat is allowed ({shut.count(most)} of {len(shut)}: {most})"


def _further(
    belief: Belief,
    library: Library,
    rules: CycleRules,
    allowed: Allowed,
    given: Mapping[str, int],
) -> tuple[Array, list[tuple[str, int]]]:
    """(h, n) expected changes of all further heats, and each one's place and turn there."""
    order = {kind.name: index for index, kind in enumerate(belief.kinds)}
    moves: list[Array] = []
    place: list[tuple[str, int]] = []
    for one, reason in zip(library.candidates, allowed.reasons, strict=True):
        if reason:
            continue
        kind = library.kind(one.kind)
        had = given.get(one.place, 0)
        for turn in range(had, rules.most_at_a_place):
            share = kind.repeat(turn)
            if share > 0.0:
                moves.append(belief.factors[order[one.kind]] * share * one.moves)
                place.append((one.place, turn))
    return np.array(moves).reshape(-1, belief.count), place


def _all_first(belief: Belief, library: Library, allowed: Allowed) -> Array:
    """(h, n) expected changes of heats that are allowed or were so before their places were hot."""
    order = {kind.name: index for index, kind in enumerate(belief.kinds)}
    moves = [
        belief.factors[order[one.kind]] * one.moves
        for one, reason, spent in zip(
            library.candidates, allowed.reasons, allowed.spent, strict=True
        )
        if spent or not reason
    ]
    return np.array(moves).reshape(-1, belief.count)


def _solved(
    belief: Belief,
    places: Places,
    moves: Array,
    place: list[tuple[str, int]] | None,
    rules: CycleRules,
    given: Mapping[str, int] | None,
) -> tuple[Array, float]:
    """(n,) m what stays outside at best, and how many heats that takes; no places: no bounds."""
    count, n = moves.shape[0], belief.count
    if count == 0:
        return places.outside(belief.shape), 0.0
    scale = places.half[:, None]
    # unknowns: heats, excess of each place, largest excess (both by half the tolerance)
    change = moves.T / scale
    eye, column = np.eye(n), np.zeros((n, 1))
    off = (belief.shape - places.centre) / places.half
    rows = [
        np.hstack([change, -eye, column]),
        np.hstack([-change, -eye, column]),
        np.hstack([np.zeros((n, count)), eye, -np.ones((n, 1))]),
    ]
    uppers = [1.0 - off, 1.0 + off, np.zeros(n)]
    highest: float | None = float(ENDLESS)
    if place is not None and given is not None:
        highest = 1.0
        turns = sorted(set(place))
        row = np.array([[float(here == turn) for here in place] for turn in turns])
        rows.append(np.hstack([row, np.zeros((len(turns), n + 1))]))
        uppers.append(np.ones(len(turns)))
        if rules.most_in_job is not None:
            rows.append(np.concatenate([np.ones(count), np.zeros(n + 1)])[None, :])
            uppers.append(np.array([max(0.0, float(rules.most_in_job - sum(given.values())))]))
    cost = np.concatenate([np.full(count, 1e-4), np.full(n, 0.1 / n), [1.0]])
    solved = linprog(
        cost,
        A_ub=csr_array(np.vstack(rows)),
        b_ub=np.concatenate(uppers),
        bounds=[(0.0, highest)] * count + [(0.0, None)] * (n + 1),
        method="highs",
    )
    if solved.x is None:
        return places.outside(belief.shape), 0.0
    return solved.x[count : count + n] * places.half, float(solved.x[:count].sum())
