"""How good a set of heats is, and what it risks, in closed form."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr
from scipy.stats import norm

from flamefe.planning.belief import FORM_ERROR, Belief
from flamefe.planning.candidate import Library
from flamefe.planning.limits import CycleRules
from flamefe.planning.places import Places

Array = NDArray[np.float64]
Index = NDArray[np.int_]
CLOSE = 1e-9
TINY = 1e-24
LEAST_AIM = 0.3
"""Share of half the tolerance that is aimed at, at least, however unsure the measurement."""


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
    2 cross . g + g . spread g + scatter. With v_i the expected distance of place i beyond what is
    aimed at, v_i = E max(0, |d_i - centre_i| - aim_i) / half_i, the score is max v + mean v +
    worth * heats. For a Gaussian of mean m off the centre and deviation s, E max(0, d - a) =
    s (phi(u) - u Phi(-u)) with u = (a - m) / s, and the same for the other side.

    Args:
        moves: (m, n) m, of each candidate at a factor of 1, repeats counted in.
        kind: (m,) index of its kind.
        scatter: (m,) variance of its own share.
        factors: (K,) expected; spread: (K, K) their covariance with the day and the form.
        mean0, variance0: (n,) before the heats; cross: (n, K).
        centre, half: (n,) m, of the tolerance.
        aim: (n,) m, half the width that is aimed at: the tolerance less what the next
            measurement will be unsure of.
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
    aim: Array
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
        """(..., n) expected distances beyond what is aimed at, by half the tolerance.

        Args:
            mean, variance: (..., n).
        """
        deviation = np.sqrt(np.maximum(variance, TINY))
        off = mean - self.centre
        above, below = (self.aim - off) / deviation, (self.aim + off) / deviation
        return np.asarray(deviation * (_beyond(above) + _beyond(below)) / self.half)

    def slopes(self, mean: Array, variance: Array) -> tuple[Array, Array]:
        """(n,) slopes of ``beyond`` by the mean and by the standard deviation, 1/m.

        Args:
            mean, variance: (n,).
        """
        deviation = np.sqrt(np.maximum(variance, TINY))
        off = mean - self.centre
        above, below = (self.aim - off) / deviation, (self.aim + off) / deviation
        by_mean = (ndtr(-above) - ndtr(-below)) / self.half
        by_deviation = (_density(above) + _density(below)) / self.half
        return by_mean, by_deviation

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

    @cached_property
    def risky_now(self) -> Array:
        """(n,) how far the guarded band lies beyond the opposite tolerance before any heat."""
        return np.maximum(self._risk(self.mean0, self.variance0), 0.0)


def _density(u: Array) -> Array:
    return np.asarray(np.exp(-0.5 * u**2) / np.sqrt(2.0 * np.pi))


def _beyond(u: Array) -> Array:
    """Expected distance of a standard Gaussian beyond ``u``."""
    return np.asarray(_density(u) - u * ndtr(-u))


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
    sure = float(norm.ppf(1.0 - (1.0 - rules.confidence) / belief.count))
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
        aim=np.maximum(places.half - sure * unsure, LEAST_AIM * places.half),
        guard=float(norm.ppf(1.0 - rules.overcorrection)) if guard is None else guard,
        worth=rules.worth,
        below=off > -unsure,
        above=off < unsure,
    )
