"""How good a set of heats is, and what it risks, in closed form."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from flamefe.planning.belief import FORM_ERROR, Belief
from flamefe.planning.candidate import Library
from flamefe.planning.limits import CycleRules
from flamefe.planning.places import Places

Array = NDArray[np.float64]
Index = NDArray[np.int_]
CLOSE = 1e-9


@dataclass(frozen=True, kw_only=True, eq=False)
class Tally:
    """Sums over a set of heats, from which means and variances follow.

    Args:
        chosen: indices of the heats.
        sums: (K, n) m, summed moves of each kind.
        squares: (n,) m2, summed variances by the scatter of the heats.
    """

    chosen: tuple[int, ...]
    sums: Array
    squares: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class Scoring:
    """Everything that the score of a set of heats needs.

    With sums g_k of the moves of each kind: mean = mean0 + sum_k f_k g_k, variance = variance0 +
    2 cross . g + g . spread g + scatter. With v_i how far |mean_i - centre_i| + z sd_i lies beyond
    half the tolerance, by half the tolerance, the score is max v + mean v + worth * heats.

    Args:
        moves: (m, n) m, of each candidate at a factor of 1, repeats counted in.
        kind: (m,) index of its kind.
        scatter: (m,) variance of its own share.
        factors: (K,) expected; spread: (K, K) their covariance with the day and the form.
        mean0, variance0: (n,) before the heats; cross: (n, K).
        centre, half: (n,) m, of the tolerance.
        aim: standard deviations that are kept inside the tolerance.
        guard: standard deviations that are kept from the opposite side of it.
        worth: of a heat.
        below, above: (n,) whether the lower (upper) tolerance lies on the opposite side.
    """

    moves: Array
    kind: Index
    scatter: Array
    factors: Array
    spread: Array
    mean0: Array
    variance0: Array
    cross: Array
    centre: Array
    half: Array
    aim: float
    guard: float
    worth: float
    below: NDArray[np.bool_]
    above: NDArray[np.bool_]

    @property
    def count(self) -> int:
        """Number of candidates."""
        return int(self.moves.shape[0])

    def nothing(self) -> Tally:
        """The tally of no heat."""
        shape = (self.factors.size, self.mean0.size)
        return Tally(chosen=(), sums=np.zeros(shape), squares=np.zeros(self.mean0.size))

    def of(self, chosen: Sequence[int]) -> Tally:
        """The tally of a set of heats.

        Args:
            chosen: indices.
        """
        picked = np.asarray(chosen, dtype=int)
        sums = np.zeros((self.factors.size, self.mean0.size))
        np.add.at(sums, self.kind[picked], self.moves[picked])
        squares = self.scatter[picked] @ self.moves[picked] ** 2
        return Tally(chosen=tuple(int(one) for one in picked), sums=sums, squares=squares)

    def shape(self, tally: Tally) -> tuple[Array, Array]:
        """(n,) means and (n,) variances after a set of heats.

        Args:
            tally: of the set.
        """
        mean = self.mean0 + self.factors @ tally.sums
        variance = self.variance0 + 2.0 * np.einsum("ik,ki->i", self.cross, tally.sums)
        variance += np.einsum("ki,kl,li->i", tally.sums, self.spread, tally.sums)
        return mean, np.maximum(variance + tally.squares, 0.0)

    def with_one_more(self, tally: Tally, added: Index) -> tuple[Array, Array]:
        """(a, n) means and variances with each of some candidates added to a set.

        Args:
            tally: of the set.
            added: (a,) indices.
        """
        mean, variance = self.shape(tally)
        moves, kind = self.moves[added], self.kind[added]
        pulled = self.spread @ tally.sums + self.cross.T
        means = mean + self.factors[kind, None] * moves
        own = self.spread[kind, kind] + self.scatter[added]
        variances = variance + 2.0 * pulled[kind] * moves + own[:, None] * moves**2
        return means, np.maximum(variances, 0.0)

    def value(self, mean: Array, variance: Array, heats: int) -> Array:
        """Scores of (..., n) means and variances; smaller is better.

        Args:
            mean, variance: (..., n).
            heats: number of heats of the set.
        """
        beyond = self.beyond(mean, variance)
        made = beyond.max(axis=-1) + beyond.mean(axis=-1) + self.worth * heats
        return np.asarray(made)

    def beyond(self, mean: Array, variance: Array) -> Array:
        """(..., n) how far the aimed band lies beyond the tolerance, by half the tolerance.

        Args:
            mean, variance: (..., n).
        """
        reach = np.abs(mean - self.centre) + self.aim * np.sqrt(variance)
        return np.maximum(reach / self.half - 1.0, 0.0)

    def risk(self, mean: Array, variance: Array) -> Array:
        """(..., n) how far the guarded band lies beyond the opposite tolerance, by its half.

        What no heat would bring inside is let be: a place may be as risky as it is now.

        Args:
            mean, variance: (..., n).
        """
        return self._risk(mean, variance) - self.risky_now

    def safe(self, mean: Array, variance: Array) -> NDArray[np.bool_]:
        """(...) whether no place is guarded too little.

        Args:
            mean, variance: (..., n).
        """
        return np.asarray((self.risk(mean, variance) <= CLOSE).all(axis=-1))

    def _risk(self, mean: Array, variance: Array) -> Array:
        reach = self.guard * np.sqrt(variance)
        low = np.where(self.below, self.centre - self.half - mean + reach, -np.inf)
        high = np.where(self.above, mean + reach - self.centre - self.half, -np.inf)
        return np.asarray(np.maximum(low, high) / self.half)

    @property
    def risky_now(self) -> Array:
        """(n,) how far the guarded band lies beyond the opposite tolerance before any heat."""
        return np.maximum(self._risk(self.mean0, self.variance0), 0.0)


def scoring_for(
    belief: Belief,
    places: Places,
    library: Library,
    rules: CycleRules,
    repeats: Array,
    guard: float | None = None,
) -> Scoring:
    """The scoring of a cycle.

    Args:
        belief: before the cycle.
        places: with their tolerances.
        library: heats that could be given.
        rules: of the cycle.
        repeats: (m,) share of its effect that each candidate has left.
        guard: standard deviations from the opposite tolerance; None: as many as the allowed
            probability of overcorrection is for one place.
    """
    kinds = belief.kinds
    order = {kind.name: index for index, kind in enumerate(kinds)}
    kind = np.array([order[one.kind] for one in library.candidates], dtype=int)
    square = belief.factors**2 + np.diag(belief.factor_covariance)
    day = np.array([one.day**2 for one in kinds])
    own = np.array([one.scatter**2 for one in kinds])
    spread = belief.factor_covariance + np.diag(day * square)
    spread = spread + FORM_ERROR**2 * np.outer(belief.factors, belief.factors)
    moves = np.array([one.moves for one in library.candidates]).reshape(-1, belief.count)
    off = belief.shape - places.centre
    unsure = belief.shape_deviation
    return Scoring(
        moves=repeats[:, None] * moves,
        kind=kind,
        scatter=(own * (1.0 + day) * square)[kind],
        factors=belief.factors,
        spread=spread,
        mean0=belief.shape,
        variance0=np.diag(belief.shape_covariance).copy(),
        cross=belief.cross,
        centre=places.centre,
        half=places.half,
        aim=float(norm.ppf(rules.confidence)),
        guard=float(norm.ppf(1.0 - rules.overcorrection)) if guard is None else guard,
        worth=rules.worth,
        below=off > -unsure,
        above=off < unsure,
    )
