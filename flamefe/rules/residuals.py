"""Is what is left over chance, or does the form miss something?

Three looks at the standardised residuals: runs of one sign along the prediction, their mean along
each input (in groups of rows, so that trends and bends both show), and their size along the
prediction. As several are made, the level is divided by their number (Bonferroni).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

Array = NDArray[np.float64]

LEVEL = 0.02
"""Chance of finding structure somewhere although there is none."""

FEWEST_ROWS = 10
"""With fewer rows nothing can be told."""

MOST_GROUPS = 5


@dataclass(frozen=True, kw_only=True)
class Structure:
    """One look at the residuals.

    Args:
        along: what they were put in order by: "prediction" or the name of an input's column.
        what: "mean" (trend or bend), "runs" or "size".
        chance: probability of as much by chance alone.
        found: True where that is less than its share of ``LEVEL``.
        words: what was found, in words.
    """

    along: str
    what: str
    chance: float
    found: bool
    words: str


def structure_in(
    residuals: Array, predictions: Array, inputs: Mapping[str, Array]
) -> tuple[Structure, ...]:
    """Look for structure in residuals.

    Args:
        residuals: (n,) observed less fitted, by the scatter of each row.
        predictions: (n,) fitted values.
        inputs: (n,) of each input by the name of its column; those that do not vary are passed
            over.

    Returns:
        All looks, those with something found first; none with fewer than ``FEWEST_ROWS`` rows.

    Examples:
        A bend that a straight line leaves behind:

        >>> x = np.linspace(-1, 1, 30)
        >>> found = structure_in(x**2 - np.mean(x**2), x, {"speed_mm_s": x})[0]
        >>> found.found, found.along
        (True, 'prediction')
    """
    if len(residuals) < FEWEST_ROWS:
        return ()
    looks = [_runs(residuals, predictions), _size(residuals, predictions)]
    for name, values in {"prediction": predictions, **inputs}.items():
        if np.ptp(values) > 1e-9 * max(float(np.abs(values).max()), 1e-300):
            looks.append(_mean(residuals, values, name))
    share = LEVEL / len(looks)
    judged = [
        Structure(along=along, what=what, chance=chance, found=chance < share, words=words)
        for along, what, chance, words in looks
    ]
    return tuple(sorted(judged, key=lambda one: (not one.found, one.chance)))


Look = tuple[str, str, float, str]


def _runs(residuals: Array, predictions: Array) -> Look:
    """Wald and Wolfowitz' test of runs of signs (fewer runs than chance makes)."""
    signs = residuals[np.argsort(predictions, kind="stable")] > 0
    above, count = int(signs.sum()), len(signs)
    below = count - above
    if above == 0 or below == 0:
        return "prediction", "runs", 1.0, "all residuals have one sign"
    runs = 1 + int(np.count_nonzero(signs[1:] != signs[:-1]))
    expected = 1 + 2 * above * below / count
    variance = (expected - 1) * (expected - 2) / (count - 1)
    score = (runs + 0.5 - expected) / math.sqrt(max(variance, 1e-12))
    words = (
        f"the residuals keep their sign over long stretches of the prediction: {runs} runs, "
        f"chance makes about {expected:.0f}"
    )
    return "prediction", "runs", float(stats.norm.cdf(score)), words


def _size(residuals: Array, predictions: Array) -> Look:
    """Rank correlation of the residuals' size with the prediction's size."""
    sizes = np.abs(predictions)
    if np.ptp(sizes) == 0:
        return "prediction", "size", 1.0, "the prediction does not vary"
    found = stats.spearmanr(np.abs(residuals), sizes)
    rank, chance = float(found.statistic), float(found.pvalue)
    if not math.isfinite(rank):
        rank, chance = 0.0, 1.0
    way = "grow" if rank > 0 else "shrink"
    words = (
        f"the residuals {way} with the size of the prediction beyond what the scatter holds "
        f"(rank correlation {rank:+.2f}); another kind of scatter fits better"
    )
    return "prediction", "size", chance, words


def _mean(residuals: Array, values: Array, name: str) -> Look:
    """F test of the residuals' means over groups of rows along an input."""
    levels = np.unique(values)
    if len(levels) <= MOST_GROUPS:
        groups = [residuals[values == level] for level in levels]
    else:
        number = max(2, min(MOST_GROUPS, len(values) // 5))
        edges = np.quantile(values, np.linspace(0, 1, number + 1)[1:-1])
        place = np.searchsorted(edges, values, side="right")
        groups = [residuals[place == i] for i in range(number)]
    groups = [group for group in groups if len(group)]
    inside = sum(len(group) - 1 for group in groups)
    if len(groups) < 2 or inside < 3:
        return name, "mean", 1.0, f"too few rows along {name}"
    within = sum(float(((group - group.mean()) ** 2).sum()) for group in groups)
    means = np.array([group.mean() for group in groups])
    if within <= 1e-24 * float(residuals @ residuals):
        chance = 0.0 if float(np.ptp(means)) > 0 else 1.0
    else:
        chance = float(stats.f_oneway(*groups).pvalue)
    low, high = int(means.argmin()), int(means.argmax())
    last = len(groups) - 1
    if {low, high} == {0, last}:
        shape = f"{'rise' if high == last else 'fall'} with"
    else:
        shape = "bend along"
    words = (
        f"the residuals {shape} {name}: their mean goes from {means[low]:+.1f} to "
        f"{means[high]:+.1f} times the scatter"
    )
    return name, "mean", chance, words
