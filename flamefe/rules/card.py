"""Rule cards: a fitted rule with its error bars and its range, small enough to keep and pass on.

A card answers in microseconds what a simulation answers in minutes, with an interval, and only
inside the range in which it was made. Its file is described in `flamefe.rules.card_file`.

    half width of the interval = t sqrt(g' C g + r^2 + (e value)^2)

with g the derivatives of the value by the coefficients, C their covariance, r the scatter of a
single heat there, t Student's factor, e the simulation's own error (root mean square, so it counts
as a standard deviation). Outside the range, where it is asked to widen, the half width becomes
(1 + 5 d) times as much plus d |value|, with d the distance outside by the width of the range
(chosen here: a warning in numbers, nothing derived).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray
from rich.console import Group
from scipy.special import stdtrit

from flamefe.basics.errors import OutOfRange
from flamefe.basics.glance import Glance, Tone
from flamefe.rules.fitting import Scatter
from flamefe.rules.form import Form
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.span import Span

Array = NDArray[np.float64]
Grade = Literal["good", "rough", "poor"]

TONES: dict[Grade, Tone] = {"good": "good", "rough": "doubt", "poor": "bad"}
WIDENING = 5.0
ADVICE = "This is advice; local codes and licensed practice decide."


class OutsideCard(OutOfRange):
    """A card was asked outside its range and refuses to answer.

    ``reasons`` holds what lies outside, in words.
    """

    def __init__(self, message: str, reasons: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.reasons = reasons


@dataclass(frozen=True, kw_only=True)
class CardValue:
    """What a card says for one heat.

    Args:
        quantity: what it is.
        unit: trade unit of all numbers.
        value: most likely.
        lower: of the interval in which one heat falls.
        upper: of that interval.
        mean_lower: of the interval in which the mean of many such heats lies.
        mean_upper: of that interval.
        level: chance of the intervals.
        in_range: False when it was asked outside its range and the intervals were widened.
        reasons: why it is outside; none inside.
        unchecked: inputs of the range that aren't known, in words.

    Examples:
        >>> print(CardValue(quantity="camber", unit="mm", value=2.0, lower=1.5, upper=2.5,
        ...     mean_lower=1.9, mean_upper=2.1, level=0.95, in_range=True))
        camber 2 mm (1.5 to 2.5)
    """

    quantity: str
    unit: str
    value: float
    lower: float
    upper: float
    mean_lower: float
    mean_upper: float
    level: float
    in_range: bool
    reasons: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()

    def __str__(self) -> str:
        mark = "" if self.in_range else f" - OUT OF RANGE: {'; '.join(self.reasons)}"
        if self.unchecked:
            mark += f" - RANGE NOT CHECKED: {'; '.join(self.unchecked)}"
        numbers = f"{self.value:.4g} {self.unit} ({self.lower:.4g} to {self.upper:.4g})"
        return f"{self.quantity} {numbers}{mark}"


@dataclass(frozen=True, kw_only=True)
class HoldOut:
    """How well rows were met that the fit had not seen.

    Args:
        error: root mean square, in the quantity's unit.
        share: the same by the size of the value (root mean square of error by prediction where
            the scatter is proportional; else by the root mean square of what was observed).
        inside: share of them that fell into their interval.
        folds: into how many parts the rows were divided.
    """

    error: float
    share: float
    inside: float
    folds: int


@dataclass(frozen=True, kw_only=True, eq=False)
class RuleCard:
    """A fitted rule: its numbers, error bars, range and where they come from.

    Args:
        form: the rule with its coefficients' names; see `flamefe.rules.forms`.
        quantity: what it gives, as the measure is called.
        coefficients: (terms,) values, fixed ones among them.
        covariance: (terms, terms); rows of fixed coefficients are 0.
        scatter: "proportional": ``spread`` is a share of the value; else in the unit of it.
        spread: standard deviation of a single heat about the form.
        freedom: degrees of freedom.
        span: range in which it was made.
        rows: number of rows it was made from.
        level: chance of its intervals.
        hold_out: how well unseen rows were met; None: too few rows to tell.
        structure: what the residuals hold beyond chance, in words.
        grade: "good", "rough" or "poor", inside the range.
        verdict: plain sentences.
        simulation_error: the simulation's own error by its mesh and steps, a share of the value;
            None: not known, or measured.
        provenance: study, versions, dates and the like, by name.

    Raises:
        OutOfRange: the numbers contradict each other.

    Examples:
        >>> from flamefe.rules.calibration import calibrate
        >>> rows = [{"part": "plate", "material": "S355", "thickness_mm": h, "speed_mm_s": v,
        ...     "net_power_kW": 3, "flame_radius_mm": 15, "angular change at mid length [deg]":
        ...     0.3 * 12**2 / h**2 * 6 / v} for h in (8, 10, 12, 15) for v in (5, 6, 8)]
        >>> card = calibrate(rows, rule="two layers", coefficients=("factor",)).card()
        >>> from flamefe.rules.columns import inputs_of_columns
        >>> asked = {name: cell for name, cell in rows[4].items() if "[" not in name}
        >>> print(card.predict(inputs_of_columns(asked)))
        angular change at mid length 0.432 deg (0.432 to 0.432)
        >>> card.predict(inputs_of_columns(asked | {"thickness_mm": 25}))
        Traceback (most recent call last):
            ...
        flamefe.rules.card.OutsideCard: The card of 'two layers' is asked outside its range: \
thickness_mm is 25, the table had 8 to 15. Simulate there, or ask it with outside="widen".
    """

    form: Form
    quantity: str
    coefficients: Array
    covariance: Array
    scatter: Scatter
    spread: float
    freedom: float
    span: Span
    rows: int
    level: float = 0.95
    hold_out: HoldOut | None = None
    structure: tuple[str, ...] = ()
    grade: Grade = "rough"
    verdict: tuple[str, ...] = ()
    simulation_error: float | None = None
    provenance: Mapping[str, str | float] = field(default_factory=dict)
    _factors: dict[float, float] = field(init=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        count = len(self.form.terms)
        if self.coefficients.shape != (count,) or self.covariance.shape != (count, count):
            raise OutOfRange(
                f"The card of {self.form.rule.name!r} needs {count} coefficients and a covariance "
                f"of {count} x {count}."
            )
        if not (np.isfinite(self.coefficients).all() and np.isfinite(self.covariance).all()):
            raise OutOfRange("A coefficient or covariance of the card is not finite.")
        eigenvalues = np.linalg.eigvalsh((self.covariance + self.covariance.T) / 2)
        if eigenvalues.min() < -1e-9 * max(float(eigenvalues.max()), 1e-300):
            raise OutOfRange("The covariance of the card has a direction of negative variance.")
        if self.scatter not in get_args(Scatter) or self.grade not in get_args(Grade):
            raise OutOfRange(
                f"The card has scatter {self.scatter!r} and grade {self.grade!r}; allowed are "
                f"{', '.join(get_args(Scatter))} and {', '.join(get_args(Grade))}."
            )
        if self.simulation_error is not None and not self.simulation_error >= 0:
            raise OutOfRange(
                f"The simulation's error is {self.simulation_error:g}; it must be a share of at "
                "least 0, or None when it isn't known."
            )
        if not (0 < self.level < 1 and self.freedom > 0 and self.spread >= 0):
            raise OutOfRange(
                f"The card has the level {self.level:g}, {self.freedom:g} degrees of freedom and "
                f"the spread {self.spread:g}; the level lies between 0 and 1, freedom above 0, "
                "the spread at least at 0."
            )

    @property
    def rule(self) -> str:
        """Name of the rule."""
        return self.form.rule.name

    @property
    def unit(self) -> str:
        """Trade unit of what it gives."""
        return self.form.rule.unit

    def predict(
        self,
        inputs: RuleInputs,
        *,
        level: float | None = None,
        outside: Literal["refuse", "widen"] = "refuse",
    ) -> CardValue:
        """Value and intervals for one heat.

        Args:
            inputs: numbers of the part, its material and the heat, SI.
            level: chance of the intervals; None: the card's.
            outside: what to do outside the range: "refuse", or "widen" the intervals and mark
                the value as out of range.

        Raises:
            OutsideCard: asked outside its range, and not to widen.
            OutOfRange: the formula needs an input that isn't known, or one is impossible.
        """
        if outside not in ("refuse", "widen"):
            raise OutOfRange(f'outside is {outside!r}; allowed: "refuse" or "widen".')
        missing = self.form.missing(inputs)
        if missing:
            raise OutOfRange(f"The card of {self.rule!r} needs {', '.join(missing)}.")
        place = self.span.place(inputs)
        if place.reasons and outside != "widen":
            raise OutsideCard(
                f"The card of {self.rule!r} is asked outside its range: "
                f'{"; ".join(place.reasons)}. Simulate there, or ask it with outside="widen".',
                place.reasons,
            )
        values, slopes = self.form.gradient(self.coefficients, self.form.entries(inputs))
        value = float(values)
        variance = max(float(slopes @ self.covariance @ slopes), 0.0)
        single = self.spread * (abs(value) if self.scatter == "proportional" else 1.0)
        chance = self.level if level is None else level
        factor = self._student(chance)
        own = (self.simulation_error or 0.0) * value
        mean_half = factor * math.sqrt(variance + own**2)
        half = factor * math.sqrt(variance + single**2 + own**2)
        if place.reasons:
            more, plus = 1 + WIDENING * place.distance, place.distance * abs(value)
            mean_half, half = more * mean_half + plus, more * half + plus
        return CardValue(
            quantity=self.quantity,
            unit=self.unit,
            value=value,
            lower=value - half,
            upper=value + half,
            mean_lower=value - mean_half,
            mean_upper=value + mean_half,
            level=chance,
            in_range=not place.reasons,
            reasons=place.reasons,
            unchecked=place.unchecked,
        )

    @property
    def student_factor(self) -> float:
        """Student's factor at the card's level."""
        return self._student(self.level)

    def _student(self, level: float) -> float:
        """Student's factor of a two-sided interval."""
        if level not in self._factors:
            if not 0 < level < 1:
                raise OutOfRange(f"The level is {level:g}, it must lie between 0 and 1.")
            self._factors[level] = float(stdtrit(self.freedom, 0.5 + level / 2))
        return self._factors[level]

    def intervals(self) -> tuple[tuple[str, float, float, float], ...]:
        """Name, value, lower and upper end of each fitted coefficient, at the card's level."""
        factor = self._student(self.level)
        return tuple(
            (name, float(value), float(value - factor * sd), float(value + factor * sd))
            for name, value, sd in zip(
                self.form.names,
                self.coefficients,
                np.sqrt(np.maximum(np.diag(self.covariance), 0.0)),
                strict=True,
            )
            if name in self.form.free
        )

    @property
    def glance(self) -> Glance:
        """Verdict, then form, coefficients and range with their intervals."""
        rows = [("gives", f"{self.quantity}, {self.unit}"), ("form", self.form.expression)]
        for name, value, low, high in self.intervals():
            rows.append((name, f"{value:.4g} ({low:.4g} to {high:.4g})"))
        for name, low, high in zip(self.span.columns, self.span.low, self.span.high, strict=True):
            rows.append((name, f"{low:.4g}" if low == high else f"{low:.4g} to {high:.4g}"))
        rows += [(name, " or ".join(words)) for name, words in self.span.words]
        tone = TONES[self.grade]
        return Glance(
            title=f"Rule card: {self.rule} ({self.grade})",
            verdict=tuple((words, tone) for words in self.verdict),
            rows=tuple(rows),
            note=ADVICE,
        )

    def __rich__(self) -> Group:
        """For a terminal: verdict, then a short table."""
        return self.glance.rich

    def _repr_html_(self) -> str:
        """For notebooks: verdict, then a short table."""
        return self.glance.html
