"""Choose the best heats of all, by mixed-integer programming with cuts along the spread."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from time import monotonic

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, vstack

from flamefe.planning.limits import Allowed
from flamefe.planning.scoring import Scoring, Tally
from flamefe.planning.search import score_of

Array = NDArray[np.float64]
TOLERANCE = 1e-6
ROUNDS = 60


@dataclass(frozen=True, kw_only=True)
class Proof:
    """The best set that was found, and how good any set can be at most.

    Args:
        chosen: indices, rising.
        score: of the set.
        bound: no set has a lower score.

    Example:
        >>> Proof(chosen=(1,), score=0.5, bound=0.4).gap
        0.09999999999999998
    """

    chosen: tuple[int, ...]
    score: float
    bound: float

    @property
    def gap(self) -> float:
        """How much lower the best score could be at most."""
        return max(0.0, self.score - self.bound)


def exact(
    scoring: Scoring, allowed: Allowed, start: Sequence[int] = (), seconds: float = 5.0
) -> Proof:
    """The best set of heats, or the best one found in the time with a bound on what is better.

    Unknowns are a yes or no for each candidate, the excess e_i of each place and their largest.
    Standard deviations are norms of affine functions of the choice, so they are convex, and so is
    the expected excess. Each round solves the linear problem (HiGHS through SciPy) and cuts it
    along the tangents at what it found, until the answer keeps every curved limit itself.

    Args:
        scoring: what a set is worth and risks.
        allowed: which heats may be chosen together.
        start: a set that is allowed, to fall back on.
        seconds: time to search.

    Source: outer approximation, Duran and Grossmann, Mathematical Programming 36 (1986) 307
    (from memory).
    """
    cuts = _Cuts(scoring)
    m, n = scoring.count, scoring.mean0.size
    best = tuple(sorted(start))
    best_score = score_of(scoring, best)
    bound = 0.0
    cost = np.concatenate([np.full(m, scoring.worth), np.full(n, 1.0 / n), [1.0]])
    whole = np.concatenate([np.ones(m), np.zeros(n + 1)])
    upper = np.concatenate([allowed.open.astype(float), np.full(n + 1, np.inf)])
    fixed = _rules(allowed, m, n)
    for choice in (scoring.nothing(), scoring.of(best), *_spread_out(scoring, allowed)):
        cuts.at(choice)
    end = monotonic() + seconds
    for _ in range(ROUNDS):
        left = end - monotonic()
        if left <= 0.0:
            break
        solved = milp(
            cost,
            integrality=whole,
            bounds=Bounds(np.zeros_like(cost), upper),
            constraints=[*fixed, cuts.constraint()],
            options={"time_limit": left, "mip_rel_gap": 1e-7},
        )
        if solved.mip_dual_bound is not None and np.isfinite(solved.mip_dual_bound):
            bound = max(bound, float(solved.mip_dual_bound))
        if solved.x is None:
            break
        chosen = tuple(int(one) for one in np.flatnonzero(solved.x[:m] > 0.5))
        tally = scoring.of(chosen)
        mean, variance = scoring.shape(tally)
        score = float(scoring.value(mean, variance, len(chosen)))
        if bool(scoring.safe(mean, variance)) and score < best_score - TOLERANCE:
            best, best_score = chosen, score
        if best_score - bound <= TOLERANCE or solved.status != 0:
            break
        if not cuts.at(tally):
            break
    return Proof(chosen=best, score=best_score, bound=min(bound, best_score))


def _spread_out(scoring: Scoring, allowed: Allowed) -> Iterable[Tally]:
    """Sets to cut at from the beginning: the strongest allowed candidates of each place."""
    open_ones = np.flatnonzero(allowed.open)
    if open_ones.size == 0:
        return ()
    order = open_ones[np.argsort(-np.abs(scoring.moves[open_ones]).max(axis=1))]
    most = max(1, allowed.most)
    ranked = [int(one) for one in order]
    return (scoring.of(ranked[: max(1, most // 2)]), scoring.of(ranked[:most]))


def _rules(allowed: Allowed, m: int, n: int) -> list[LinearConstraint]:
    """Number of heats, devices and what excludes what, as linear rows."""
    rows = [np.ones(m)]
    uppers = [float(allowed.most)]
    for device, served in allowed.served.items():
        needs = np.array([name == device for name in allowed.devices], dtype=float)
        if needs.any():
            rows.append(needs)
            uppers.append(float(served))
    for clique in cliques(allowed):
        row = np.zeros(m)
        row[list(clique)] = 1.0
        rows.append(row)
        uppers.append(1.0)
    matrix = np.hstack([np.array(rows), np.zeros((len(rows), n + 1))])
    return [LinearConstraint(csr_array(matrix), -np.inf, np.array(uppers))]


def cliques(allowed: Allowed) -> list[tuple[int, ...]]:
    """Sets of candidates of which one at most may be chosen, that hold every excluded pair.

    Args:
        allowed: which heats may be chosen together.
    """
    left = allowed.excludes & allowed.open[:, None] & allowed.open[None, :]
    np.fill_diagonal(left, False)
    excludes = left.copy()
    found = []
    while left.any():
        first, second = (int(one) for one in np.argwhere(left)[0])
        clique = [first, second]
        common = excludes[first] & excludes[second]
        while common.any():
            added = int(np.flatnonzero(common)[0])
            clique.append(added)
            common &= excludes[added]
        left[np.ix_(clique, clique)] = False
        found.append(tuple(sorted(clique)))
    return found


class _Cuts:
    """Rows that bound the excesses and the risk from below, by tangents at tried sets."""

    def __init__(self, scoring: Scoring) -> None:
        self.scoring = scoring
        m, n = scoring.count, scoring.mean0.size
        self.slope = scoring.factors[scoring.kind, None] * scoring.moves
        self.rows: list[csr_array] = []
        self.uppers: list[Array] = []
        largest = np.hstack([np.zeros((n, m)), np.eye(n), -np.ones((n, 1))])
        self._add(largest, np.zeros(n))
        self.slack = scoring.risky_now
        self.tried: set[tuple[int, ...]] = set()

    def _add(self, rows: Array, uppers: Array) -> None:
        self.rows.append(csr_array(rows))
        self.uppers.append(uppers)

    def constraint(self) -> LinearConstraint:
        """All rows so far."""
        return LinearConstraint(
            vstack(self.rows, format="csr"), -np.inf, np.concatenate(self.uppers)
        )

    def at(self, tally: Tally) -> bool:
        """Tangents at a set; whether the set is a new one."""
        key = tuple(sorted(tally.chosen))
        if key in self.tried:
            return False
        self.tried.add(key)
        made = self.scoring
        m, n = made.count, made.mean0.size
        mean, variance = made.shape(tally)
        deviation = np.sqrt(np.maximum(variance, 1e-24))
        pulled = made.spread @ tally.sums + made.cross.T
        x = np.zeros(m)
        x[list(tally.chosen)] = 1.0
        # half the gradient of the variance; the own scatter counts as x^2, which is convex
        half_gradient = pulled[made.kind] * made.moves
        half_gradient += (made.scatter * x)[:, None] * made.moves**2
        tangent = (half_gradient / deviation).T
        base = deviation - tangent @ x
        scale = made.half[:, None]
        by_mean, by_deviation = made.slopes(mean, variance)
        rows = by_mean[:, None] * self.slope.T + by_deviation[:, None] * tangent
        uppers = rows @ x - made.beyond(mean, variance)
        self._add(np.hstack([rows, -np.eye(n), np.zeros((n, 1))]), uppers)
        for sign in (1.0, -1.0):
            guarded = made.below if sign < 0.0 else made.above
            if guarded.any():
                rows = (sign * self.slope.T + made.guard * tangent) / scale
                rows = np.hstack([rows, np.zeros((n, n + 1))])
                off = sign * (made.mean0 - made.centre) + made.guard * base
                uppers = 1.0 - off / made.half + self.slack + 1e-9
                self._add(rows[guarded], uppers[guarded])
        return True
