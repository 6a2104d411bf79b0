"""Deviations of a measured part from its target, with their uncertainty, and what they mean."""

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.measure import Measure
from flamefe.outcome.tolerance import ShapeClass, iso_13920_limit_mm

Array = NDArray[np.float64]

TO_MM = 1e3
SURE = 0.95
"""Probability from which a verdict counts as sure."""
Word = Literal["within", "outside", "not sure"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Placement:
    """What is left of readings when the part's place is fitted out: a linear map.

    Args:
        left: (n, n), from readings to what is left of them.
        about: what was fitted out, in words.

    Example:
        >>> level = Placement.fitted(np.ones((4, 1)), np.ones(4), about="its height")
        >>> level.of(np.array([1.0, 2.0, 3.0, 6.0])).round(12).tolist()
        [-2.0, -1.0, 0.0, 3.0]
    """

    left: Array
    about: str

    @classmethod
    def fitted(cls, modes: Array, errors: Array, *, about: str, weak: float = 1e-9) -> "Placement":
        """Fit movements out by weighted least squares.

        left = I - M (M^T W M)^-1 M^T W with W = 1 / errors^2; modes that say the same, or
        nothing, count once.

        Args:
            modes: (n, p) readings by unit movements.
            errors: (n,) standard uncertainties; only their ratios count.
            about: what is fitted out, in words.
            weak: combinations of modes that do less than this share of the strongest are left.
        """
        root = errors.min() / errors
        basis, sizes, _ = np.linalg.svd(root[:, None] * modes, full_matrices=False)
        basis = basis[:, sizes > weak * sizes.max(initial=1e-300)]
        inside = (basis @ basis.T) * root[None, :] / root[:, None]
        return cls(left=np.eye(len(errors)) - inside, about=about)

    def of(self, readings: Array) -> Array:
        """What is left of readings (n,) or of columns of readings (n, m).

        Args:
            readings: or influences of heats: both must be placed alike.
        """
        return np.asarray(self.left @ readings)

    def covariance(self, errors: Array) -> Array:
        """(n, n), of what is left of independent readings.

        Args:
            errors: (n,) standard uncertainties of the readings.
        """
        spread = self.left * errors
        return np.asarray(spread @ spread.T)


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """Whether a part keeps a tolerance, as far as the measurement can tell.

    Args:
        word: "within", "outside" or "not sure".
        within: probability that every place keeps it (a lower bound: places fail one by one).
        outside: probability that the worst place fails it.
        worst: name of that place.
        limit: m, tolerance.
        words: the verdict in words.
    """

    word: Word
    within: float
    outside: float
    worst: str
    limit: float
    words: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Deviations:
    """Deviations at measuring places, placement fitted out.

    Args:
        what: "straightness", "flatness", "roundness", "plumb" or "form".
        names: of the places.
        places: (n, k) where they are, in the survey's own coordinates (m; rad round a ring).
        values: (n,) m.
        covariance: (n, n) m2; singular, as the fitted placement is out of it.
        placement: what was fitted out; a heat's influence must be placed alike: ``of``.
        length: m, on which a tolerance by class counts.
        remarks: what to doubt, in words.

    Raises:
        OutOfRange: shapes don't fit.

    Example:
        >>> found = Deviations(what="straightness", names=("1 m", "2 m"), places=np.ones((2, 1)),
        ...     values=np.array([0.004, -0.001]), covariance=1e-8 * np.eye(2),
        ...     placement=Placement(left=np.eye(2), about="nothing"), length=3.0)
        >>> print(found.largest)
        largest deviation 4 mm
        >>> found.verdict(0.003).word, found.verdict("F").word
        ('outside', 'within')
    """

    what: str
    names: tuple[str, ...]
    places: Array
    values: Array
    covariance: Array
    placement: Placement
    length: float
    remarks: tuple[str, ...] = ()
    meaning: str = "from the target"
    summary: tuple[tuple[Measure, float], ...] = field(default=())

    def __post_init__(self) -> None:
        count = len(self.names)
        if self.values.shape != (count,) or self.covariance.shape != (count, count):
            raise OutOfRange(
                f"{count} names with values of shape {self.values.shape} and a covariance of shape "
                f"{self.covariance.shape}; they must fit."
            )

    @property
    def uncertainty(self) -> Array:
        """(n,) m, standard uncertainty of each deviation."""
        return np.asarray(np.sqrt(np.maximum(np.diag(self.covariance), 0.0)))

    def of(self, influence: Array) -> Array:
        """Influence (n, m) of heats on the readings as influence on the deviations.

        Args:
            influence: change of the readings by each heat.
        """
        return self.placement.of(influence)

    @property
    def largest(self) -> Measure:
        """The largest deviation, with its sign."""
        worst = int(np.argmax(np.abs(self.values)))
        return Measure(
            name="largest deviation",
            value=TO_MM * float(self.values[worst]),
            unit="mm",
            meaning=f"{self.meaning}, at {self.names[worst]}; {self.placement.about} fitted out",
        )

    def limit(self, tolerance: float | ShapeClass) -> float:
        """Tolerance in m: the number itself, or that of a class of ISO 13920 for the length.

        Args:
            tolerance: m, or "E", "F", "G", "H" for straightness and flatness.

        Raises:
            OutOfRange: not above 0, or a class for something that ISO 13920 has no class for.
        """
        if isinstance(tolerance, str):
            if self.what not in ("straightness", "flatness"):
                raise OutOfRange(
                    f"ISO 13920 has no class for {self.what}; give a tolerance in m, for instance "
                    "from the drawing."
                )
            return 1e-3 * iso_13920_limit_mm(tolerance, TO_MM * self.length)
        if not (math.isfinite(tolerance) and tolerance > 0.0):
            raise OutOfRange(f"A tolerance of {tolerance} m; it must be above 0.")
        return float(tolerance)

    def verdict(self, tolerance: float | ShapeClass) -> Verdict:
        """Whether the part keeps a tolerance, +- at every place.

        The probability that all places keep it is at least 1 minus the sum of the probabilities
        that each fails (Boole's inequality); with what the reading says as the mean of what is
        true.

        Args:
            tolerance: m, or a class of ISO 13920 ("E" to "H").

        Raises:
            OutOfRange: see ``limit``.
        """
        limit = self.limit(tolerance)
        spread = np.maximum(self.uncertainty, 1e-12)
        fails = norm.sf((limit - self.values) / spread) + norm.cdf((-limit - self.values) / spread)
        worst = int(np.argmax(fails))
        within, outside = max(0.0, 1.0 - float(fails.sum())), float(fails[worst])
        word: Word = "not sure"
        if within >= SURE:
            word = "within"
        elif outside >= SURE:
            word = "outside"
        at = f"{TO_MM * self.values[worst]:+.1f} mm at {self.names[worst]}"
        words = f"{self.what}: {word}, {at} (+- {TO_MM * limit:g} mm allowed"
        words += f", standard uncertainty {TO_MM * spread[worst]:.2g} mm)"
        return Verdict(
            word=word,
            within=within,
            outside=outside,
            worst=self.names[worst],
            limit=limit,
            words=words,
        )


def band_of(values: Array, covariance: Array, *, name: str, meaning: str) -> tuple[Measure, float]:
    """Width of the band that holds all values, and its standard uncertainty, mm.

    The difference of the largest and the smallest; noise makes it too large by about its own
    uncertainty where the true band is narrow.

    Args:
        values: (n,) m.
        covariance: (n, n) m2.
        name, meaning: of the measure.

    Example:
        >>> band, error = band_of(np.array([0.0, 0.002]), 1e-8 * np.eye(2), name="flatness",
        ...                       meaning="width of the band")
        >>> print(band, round(error, 3))
        flatness 2 mm 0.141
    """
    high, low = int(np.argmax(values)), int(np.argmin(values))
    spread = covariance[high, high] + covariance[low, low] - 2.0 * covariance[high, low]
    return (
        Measure(name=name, value=TO_MM * float(np.ptp(values)), unit="mm", meaning=meaning),
        TO_MM * math.sqrt(max(float(spread), 0.0)),
    )
