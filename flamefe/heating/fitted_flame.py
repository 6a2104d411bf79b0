"""What a fit found: values of a flame with intervals, residuals, and a plain verdict."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]

WIDE = 1.5
"""An interval whose end is this many times the value, or more, leaves the value open."""
NEAR_ONE = 0.99
"""Correlation of two values from which only a combination of them is known."""
CLOSE_TO_ONE = 0.9
"""Correlation from which two values with a wide interval count as not told apart."""
HANGING_TOGETHER = 0.5
"""Share of independent readings below which it is said that residuals hang together."""


@dataclass(frozen=True, kw_only=True)
class FitTrial:
    """One simulation of a fit.

    Args:
        values: what was tried, in the units of the fit.
        rms: root mean square of measured minus simulated, K.
    """

    values: tuple[float, ...]
    rms: float


@dataclass(frozen=True, kw_only=True, eq=False)
class FittedFlame:
    """Fitted values with what is known about them.

    Intervals: value exp(+- t s), with s the standard deviation of the value's logarithm and t
    Student's quantile. They cover what noise does, not an error that all thermocouples share
    (a wrong place, material or power that drifts).

    Args:
        names, units: of the values.
        start, values: (p,) before and after.
        covariance: (p, p) of the logarithms of the values.
        confidence: of ``lower`` and ``upper``.
        predicted: (k,) C at the readings.
        residuals: (k,) K, measured minus predicted.
        deviations: (k,) K, stated standard deviations; None: none stated.
        independent: readings that the residuals are worth, at most k (``effective_count``).
        at_bound: names of the values that ended at the edge of where they were looked for.
        trials: every simulation of the fit, newest last.

    Example:
        >>> from flamefe.heating.flame_fit import fit_parameters
        >>> times = np.linspace(1.0, 20.0, 40)
        >>> noise = np.tile([1.0, -1.0], 20)
        >>> fitted = fit_parameters(lambda p: p[0] * (1 - np.exp(-times / p[1])), [300.0, 5.0],
        ...     lower=[10.0, 0.5], upper=[3000.0, 50.0], names=["rise", "time"],
        ...     units=["K", "s"], temperatures=400.0 * (1 - np.exp(-times / 8.0)) + noise)
        >>> [round(float(value)) for value in fitted.values], round(fitted.rms, 1)
        ([400, 8], 1.0)
        >>> bool(fitted.lower[0] < 400.0 < fitted.upper[0]), fitted.clear
        (True, True)
    """

    names: tuple[str, ...]
    units: tuple[str, ...]
    start: Array
    values: Array
    covariance: Array
    confidence: float
    predicted: Array
    residuals: Array
    deviations: Array | None = None
    independent: float
    at_bound: tuple[str, ...] = ()
    trials: tuple[FitTrial, ...] = field(default=(), repr=False)

    @property
    def rms(self) -> float:
        """Root mean square of the residuals, K."""
        return float(np.sqrt(np.mean(self.residuals**2)))

    @property
    def rms_by_deviation(self) -> float | None:
        """Residuals by the stated deviations; near 1 when the model and they are right."""
        if self.deviations is None:
            return None
        return float(np.sqrt(np.mean((self.residuals / self.deviations) ** 2)))

    @property
    def degrees_of_freedom(self) -> float:
        """Independent readings less values, at least 1."""
        return max(self.independent - self.values.size, 1.0)

    @property
    def lower(self) -> Array:
        """Lower ends of the intervals, (p,)."""
        return self.interval(self.confidence)[0]

    @property
    def upper(self) -> Array:
        """Upper ends of the intervals, (p,)."""
        return self.interval(self.confidence)[1]

    @property
    def correlation(self) -> Array:
        """Correlation matrix of the logarithms of the values, (p, p)."""
        spread = np.sqrt(np.diag(self.covariance))
        return np.asarray(self.covariance / np.outer(spread, spread))

    def interval(self, confidence: float) -> tuple[Array, Array]:
        """Lower and upper ends, (p,) each, that hold the true values so often, above 0 below 1."""
        half = self._quantile(confidence) * np.sqrt(np.diag(self.covariance))
        with np.errstate(over="ignore"):
            return self.values * np.exp(-half), self.values * np.exp(half)

    @property
    def told_apart(self) -> bool:
        """Whether each value is known by itself, not only a combination of them."""
        return not self._mixed()

    @property
    def clear(self) -> bool:
        """Whether nothing stands against the values: told apart, narrow, off their bounds."""
        return not (self._mixed() or self._wide() or self.at_bound or self._guessed)

    @property
    def verdict(self) -> tuple[str, ...]:
        """What the values are worth, in plain words."""
        said = [self._mixed_words(i, j) for i, j in self._mixed()]
        mixed = {i for pair in self._mixed() for i in pair}
        said += [
            f"The readings leave the {self.names[i]} open: {self.lower[i]:.3g} to "
            f"{self.upper[i]:.3g} {self.units[i]}. Add readings that depend on it."
            for i in self._wide()
            if i not in mixed
        ]
        said += [
            f"The {name} ended at the edge of where it was looked for; its interval means nothing. "
            "Start nearer, or look for a mistake in places, times or material."
            for name in self.at_bound
        ]
        if self._guessed:
            said.append(
                "The residuals hang together so much that they are worth no more independent "
                f"readings ({self.independent:.1f}) than there are values: the intervals are "
                "guesses. The model does not follow the readings; look at the picture."
            )
        elif self.independent < HANGING_TOGETHER * self.residuals.size:
            said.append(
                f"The residuals hang together along time: {self.residuals.size} readings count as "
                f"{self.independent:.0f} independent ones, and the intervals are wider for it. "
                "The model misses something that is larger than the noise."
            )
        if self.clear:
            widest = 100.0 * float(np.max(self.upper / self.values - 1.0))
            said.insert(0, f"The values are told apart; each is known within {widest:.2g} %.")
        return tuple(said)

    @property
    def _guessed(self) -> bool:
        return self.independent < self.values.size + 1.0

    def _quantile(self, confidence: float) -> float:
        check_confidence(confidence)
        return float(stdtrit(self.degrees_of_freedom, 0.5 + 0.5 * confidence))

    def _wide(self) -> list[int]:
        return [i for i in range(self.values.size) if self.upper[i] >= WIDE * self.values[i]]

    def _mixed(self) -> list[tuple[int, int]]:
        wide, count = self._wide(), self.values.size
        close = np.abs(self.correlation)
        return [
            (i, j)
            for i in range(count)
            for j in range(i + 1, count)
            if close[i, j] >= NEAR_ONE or (close[i, j] >= CLOSE_TO_ONE and (i in wide or j in wide))
        ]

    def _mixed_words(self, i: int, j: int) -> str:
        """That two values are not told apart, and what of them the readings do fix."""
        both = f"The {self.names[i]} and the {self.names[j]}"
        tied = f"(correlation {self.correlation[i, j]:+.3f})"
        if {i, j} & set(self._wide()):
            first = f"{both} can't be told apart by these readings {tied}"
        else:
            within = 100.0 * max(float(self.upper[n] / self.values[n]) - 1.0 for n in (i, j))
            first = (
                f"{both} can hardly be told apart: noise alone leaves each within {within:.2g} %, "
                f"but they hang together so closely {tied} that a small error of the model shifts "
                "one far against the other"
            )
        sizes, ways = np.linalg.eigh(self.covariance[np.ix_([i, j], [i, j])])
        exponent = ways[1, 0] / ways[0, 0]
        half = self._quantile(self.confidence) * np.sqrt(max(sizes[0], 0.0)) / abs(ways[0, 0])
        return (
            f"{first}. What these readings do fix is {self.names[i]} x "
            f"{self.names[j]}^{exponent:.2g}, within {100 * np.expm1(half):.2g} %. Add "
            "readings nearer to the flame and on its face, or hold one of the two at a known value."
        )


def check_confidence(confidence: float) -> None:
    """Refuse a confidence that is none.

    Raises:
        OutOfRange: not above 0 and below 1.

    Example:
        >>> check_confidence(0.95)
    """
    if not 0.0 < confidence < 1.0:
        raise OutOfRange(f"The confidence is {confidence:g}; allowed: above 0, below 1, e.g. 0.95.")
