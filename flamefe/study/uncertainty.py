"""How far residual distortion scatters when power, radius, yield and restraint do.

By simulation: the runs of a study whose factors are spreads, tens of them. By a rule card:
thousands of samples from the same spreads. Both are told as a band that holds a share of all
parts, from its lower to its upper quantile, and where the card claims to hold they must agree.

The ends of a band from few runs are uncertain themselves; how far is told by resampling the runs
(percentile bootstrap, B. Efron, Annals of Statistics 7, 1979). The runs of a Latin hypercube lie
more evenly than by chance, so the true doubt is somewhat smaller.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from flamefe.basics.errors import FlamefeError
from flamefe.rules.card import Grade, RuleCard
from flamefe.rules.inputs import RuleInputs
from flamefe.study.measuring import rule_inputs
from flamefe.study.parts import material_of
from flamefe.study.sweep import Sweep
from flamefe.study.sweep_design import design_points, leaders
from flamefe.study.sweep_study import Study
from flamefe.study.variation import case_with

Array = NDArray[np.float64]

RESAMPLES = 2000
FEWEST_RUNS = 8
"""Fewer runs than this tell no band."""
LEVEL_OF_DOUBT = 0.95
PEAK_DOUBT_C = 25.0
"""Scatter about the line through the simulated peaks from which the peak counts as not known."""


class UncertaintyError(FlamefeError, ValueError):
    """A band can't be told from what is there."""


@dataclass(frozen=True, kw_only=True)
class Band:
    """Between which values a share of all parts lies.

    Args:
        quantity: name of the measure.
        unit: its unit.
        level: share of parts within the band.
        ends: lower end, middle (median) and upper end.
        doubts: half width of the 95 % interval of each of the three.
        deviation: standard deviation of the values.
        samples: how many runs or samples it comes from.

    Example:
        >>> print(Band(quantity="camber", unit="mm", level=0.9, ends=(1.0, 2.0, 3.0),
        ...     doubts=(0.2, 0.1, 0.2), deviation=0.6, samples=32))
        camber: 1 to 3 mm, middle 2 (ends +- 0.2 and 0.2), from 32
    """

    quantity: str
    unit: str
    level: float
    ends: tuple[float, float, float]
    doubts: tuple[float, float, float]
    deviation: float
    samples: int

    def __str__(self) -> str:
        low, middle, high = (f"{value:.4g}" for value in self.ends)
        doubt = f"ends +- {self.doubts[0]:.2g} and {self.doubts[2]:.2g}"
        return (
            f"{self.quantity}: {low} to {high} {self.unit}, middle {middle} ({doubt}), "
            f"from {self.samples}"
        )


@dataclass(frozen=True, kw_only=True)
class CardBand:
    """A band by a rule card, and whether the simulated runs agree with it.

    Args:
        rule: name of the card's rule.
        grade: of the card: "good", "rough" or "poor".
        band: by the samples inside the card's range. Its doubts are the card's own, less the
            simulations' error by mesh and steps, which the runs beside it have as well.
        outside: share of samples outside the card's range, for which it claims nothing.
        runs_inside: simulated runs within the card's range.
        runs_met: how many of these fell into the card's interval of a single heat.
        simulated: band by these runs alone; None: too few.
        unseen: factors that change nothing of what the card reads.
        remarks: what else to know.
    """

    rule: str
    grade: Grade
    band: Band
    outside: float
    runs_inside: int
    runs_met: int
    simulated: Band | None
    unseen: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def agrees(self) -> bool | None:
        """Whether both ends and the middle agree within both doubts.

        None: nothing to compare, or the card is poor and so claims nothing.
        """
        if self.simulated is None or self.unseen or self.grade == "poor":
            return None
        return all(
            abs(one - other) <= math.hypot(doubt, too)
            for one, other, doubt, too in zip(
                self.band.ends, self.simulated.ends, self.band.doubts, self.simulated.doubts,
                strict=True,
            )
        )  # fmt: skip


def check_spreads(study: Study) -> None:
    """Make sure that all factors of a study are spreads.

    Raises:
        UncertaintyError: one is a list of values or a range.
    """
    if not study.spreads:
        raise UncertaintyError(
            "A band follows from spreads, but a factor is a list of values or a range; give each "
            'as a value and a spread, for instance {value = 4, spread = "10 %"}.'
        )


def band_of(
    values: Sequence[float], *, quantity: str, unit: str, level: float = 0.9, seed: int = 1
) -> Band:
    """The band of simulated or measured values.

    Args:
        values: one a part.
        quantity: name of the measure.
        unit: its unit.
        level: share of parts within the band.
        seed: of the resampling.

    Raises:
        UncertaintyError: there are fewer than eight values, or the level is no share.

    Example:
        >>> print(band_of(range(1, 100), quantity="camber", unit="mm", level=0.8))
        camber: 10.8 to 89.2 mm, middle 50 (ends +- ...), from 99
    """
    numbers = np.asarray(values, dtype=float)
    if numbers.size < FEWEST_RUNS:
        raise UncertaintyError(
            f"A band of {quantity} is asked from {numbers.size} runs with a result; at least "
            f"{FEWEST_RUNS} are needed. Make more runs."
        )
    if not 0.0 < level < 1.0:
        raise UncertaintyError(f"The level is {level:g}; allowed: between 0 and 1, such as 0.9.")
    shares = _shares(level)
    random = np.random.default_rng(seed)
    drawn = random.choice(numbers, size=(RESAMPLES, numbers.size))
    tails = [0.5 - 0.5 * LEVEL_OF_DOUBT, 0.5 + 0.5 * LEVEL_OF_DOUBT]
    intervals = np.quantile(np.quantile(drawn, shares, axis=1), tails, axis=1)
    low, middle, high = np.quantile(numbers, shares).tolist()
    doubts = (0.5 * (intervals[1] - intervals[0])).tolist()
    return Band(
        quantity=quantity, unit=unit, level=level, ends=(low, middle, high),
        doubts=(doubts[0], doubts[1], doubts[2]), deviation=float(numbers.std(ddof=1)),
        samples=int(numbers.size),
    )  # fmt: skip


def simulated_band(sweep: Sweep, quantity: str, *, level: float = 0.9) -> Band:
    """The band of a measure over the runs of a study.

    Args:
        sweep: a study whose factors are all spreads.
        quantity: name of the measure.
        level: share of parts within the band.

    Raises:
        UncertaintyError: a factor is no spread, or too few runs hold the measure.
    """
    check_spreads(sweep.study)
    measures = [m for row in sweep.rows for m in row.measures if m.name == quantity]
    unit = measures[0].unit if measures else ""
    return band_of([m.value for m in measures], quantity=quantity, unit=unit, level=level)


def drivers(sweep: Sweep, quantity: str) -> tuple[tuple[str, float], ...]:
    """What moves a measure: rank correlation with each factor, the strongest first.

    Args:
        sweep: a finished study.
        quantity: name of the measure.

    Returns:
        Place and Spearman's coefficient, -1 to 1, of each factor that moves by itself.
    """
    whole = [run for run in sweep.runs if run.row.value(quantity) is not None]
    values = [run.row.value(quantity) for run in whole]
    found = []
    for number, place in enumerate(leaders(sweep.study.varied)):
        shares = [run.shares[number] for run in whole]
        if len(set(shares)) > 1 and len(set(values)) > 1:
            found.append((place, float(stats.spearmanr(shares, values).statistic)))
    return tuple(sorted(found, key=lambda one: -abs(one[1])))


def card_band(
    sweep: Sweep, card: RuleCard, *, samples: int = 2000, level: float = 0.9, seed: int = 1
) -> CardBand:
    """The band by a rule card, beside that of the simulated runs.

    The card is asked for each of many samples of the spreads (a Latin hypercube). A peak that the
    card reads is taken from a line through the simulated peaks.

    Args:
        sweep: the simulated runs of a study whose factors are all spreads.
        card: a rule card for a measure of them.
        samples: how many.
        level: share of parts within the band.
        seed: of the samples.

    Raises:
        UncertaintyError: a factor is no spread, the card can't read the case, or too few samples
            lie within its range.
    """
    study = sweep.study
    check_spreads(study)
    quantity, unit = card.quantity, card.unit
    peak_of, remarks = _peaks(sweep)
    read = _reader(study, peak_of)
    unseen = tuple(place for place in leaders(study.varied) if not _seen(study, card, read, place))
    points = design_points(study.varied, "Latin hypercube", runs=samples, seed=seed)
    values, halves, outside = [], [], 0
    bare = replace(card, simulation_error=None)
    for point in points:
        said = _asked(bare, read(point.changes))
        if said is None:
            outside += 1
        else:
            values.append(said[0])
            halves.append(said[1])
    if len(values) < max(FEWEST_RUNS, 0.01 * samples):
        raise UncertaintyError(
            f"Of {samples} samples {outside} lie outside the range of the card of {card.rule!r}: "
            f"{_why_outside(card, read(points[0].changes))}. Make a card for this range."
        )
    numbers, widths = np.array(values), np.array(halves)
    low, middle, high = np.quantile(numbers, _shares(level)).tolist()
    doubts = [float(widths[np.abs(numbers - end).argmin()]) for end in (low, middle, high)]
    band = Band(
        quantity=quantity, unit=unit, level=level, ends=(low, middle, high),
        doubts=(doubts[0], doubts[1], doubts[2]), deviation=float(numbers.std(ddof=1)),
        samples=len(values),
    )  # fmt: skip
    inside, met = [], 0
    for run in sweep.runs:
        value = run.row.value(quantity)
        said = None if value is None else _asked(card, read(run.row.changed))
        if value is not None and said is not None:
            inside.append(value)
            met += abs(value - said[0]) <= said[1]
    simulated = None
    if len(inside) >= FEWEST_RUNS:
        simulated = band_of(inside, quantity=quantity, unit=unit, level=level)
    return CardBand(
        rule=card.rule, grade=card.grade, band=band, outside=outside / samples,
        runs_inside=len(inside), runs_met=met, simulated=simulated, unseen=unseen, remarks=remarks,
    )  # fmt: skip


def _shares(level: float) -> tuple[float, float, float]:
    return 0.5 - 0.5 * level, 0.5, 0.5 + 0.5 * level


def _reader(
    study: Study, peak_of: Callable[[Mapping[str, Any]], float | None]
) -> Callable[[Mapping[str, Any]], RuleInputs]:
    """Rule inputs of the base with some values replaced."""

    def read(changes: Mapping[str, Any]) -> RuleInputs:
        case = case_with(study.case, changes)
        inputs = rule_inputs(case, material_of(case), peak_C=peak_of(changes))
        if inputs is None:
            raise UncertaintyError(
                "Rule cards read plates and bars that are heated; this base case is neither. "
                "Leave the card out."
            )
        return inputs

    return read


def _asked(card: RuleCard, inputs: RuleInputs) -> tuple[float, float] | None:
    """Value and half width of its interval; None outside the card's range."""
    missing = card.form.missing(inputs)
    if missing:
        raise UncertaintyError(
            f"The card of {card.rule!r} needs {', '.join(missing)}, which the case does not tell "
            "before it is run. Leave the card out."
        )
    if card.span.place(inputs).reasons:
        return None
    said = card.predict(inputs, level=LEVEL_OF_DOUBT)
    return said.value, 0.5 * (said.upper - said.lower)


def _why_outside(card: RuleCard, inputs: RuleInputs) -> str:
    return "; ".join(card.span.place(inputs).reasons) or "at the ends of the spreads"


def _seen(
    study: Study,
    card: RuleCard,
    read: Callable[[Mapping[str, Any]], RuleInputs],
    place: str,
) -> bool:
    """Whether anything that the card reads or watches changes with a factor."""
    ends = []
    for share in (0.2, 0.8):
        changes = {
            name: factor.at(share if place in (name, factor.tied_to) else 0.5)
            for name, factor in study.varied.items()
        }
        inputs = read(changes)
        watched = (*card.form.needs, *card.form.watched, *card.span.fields)
        ends.append([getattr(inputs, name) for name in dict.fromkeys(watched)])
    return ends[0] != ends[1]


def _peaks(
    sweep: Sweep,
) -> tuple[Callable[[Mapping[str, Any]], float | None], tuple[str, ...]]:
    """The peak temperature by a line through those of the runs, and what to say of it."""
    whole = [run for run in sweep.runs if run.row.peak_C is not None]
    places = tuple(sweep.study.varied)
    if len(whole) < len(places) + 2:
        return (lambda changes: None), ()
    rows = np.array([_numbers(run.row.changed, places) for run in whole])
    peaks = np.array([run.row.peak_C for run in whole], dtype=float)
    slopes, *_ = np.linalg.lstsq(rows, peaks, rcond=None)
    scatter = float(np.sqrt(((peaks - rows @ slopes) ** 2).sum() / (len(whole) - len(slopes))))
    if scatter > PEAK_DOUBT_C:
        words = f"peaks scatter by {scatter:.0f} K about a line in the factors: not known"
        return (lambda changes: None), (words,)
    return (lambda changes: float(np.array(_numbers(changes, places)) @ slopes)), ()


def _numbers(changes: Mapping[str, Any], places: Sequence[str]) -> list[float]:
    return [1.0, *(float(changes[place]) for place in places)]
