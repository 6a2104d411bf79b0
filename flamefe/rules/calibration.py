"""Calibration: a rule's coefficients from a table of simulated or measured heats.

The table is described in `flamefe.rules.columns`. A row may carry ``deviation``, the standard
deviation of what came out in its unit, or ``weight``, how much the row counts; without either all
rows count alike, and the scatter is taken as a share of the value.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.rules.card import Grade, HoldOut, RuleCard
from flamefe.rules.fitting import CalibrationError, Fit, Prior, Scatter, fit_form
from flamefe.rules.form import Form
from flamefe.rules.forms import find_form
from flamefe.rules.hold_out import hold_out
from flamefe.rules.residuals import Structure, structure_in
from flamefe.rules.samples import Samples, samples_of
from flamefe.rules.span import Span, span_of
from flamefe.rules.verdict import verdict_on

Array = NDArray[np.float64]
Row = Mapping[str, Any]

FOLDS = 10
STEADY = 1e-6
HELPS = 0.85
"""Share of the hold-out error to which a further coefficient must bring it to be named."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Calibration:
    """A rule fitted to a table.

    Args:
        form: the rule with the coefficients that were fitted.
        samples: the rows that were used, and what was left out and why.
        scatter: how the scatter about the form goes.
        fit: coefficients, covariance, scatter.
        span: range of the inputs.
        level: chance of intervals.
        hold_out: how well unseen rows were met; None: too few rows.
        structure: looks at the residuals, those with something found first.
        grade: "good", "rough" or "poor", inside the range.
        verdict: plain sentences.
        notes: what was decided on the way, in words.
        prior: what was known beforehand; None: nothing.
        provenance: study, versions and the like, by name.
        simulation_error: of the simulation itself, a share of the value.
    """

    form: Form
    samples: Samples
    scatter: Scatter
    fit: Fit
    span: Span
    level: float
    hold_out: HoldOut | None
    structure: tuple[Structure, ...]
    grade: Grade
    verdict: tuple[str, ...]
    notes: tuple[str, ...] = ()
    prior: Prior | None = None
    provenance: Mapping[str, str | float] = field(default_factory=dict)
    simulation_error: float | None = None

    def card(self, **provenance: str | float) -> RuleCard:
        """The rule card of this fit.

        Args:
            provenance: more to say where it comes from, by name.
        """
        return RuleCard(
            form=self.form,
            quantity=self.samples.quantity,
            coefficients=self.fit.coefficients,
            covariance=self.fit.covariance,
            scatter=self.scatter,
            spread=self.fit.scatter * self.samples.typical_size,
            freedom=self.fit.freedom,
            span=self.span,
            rows=len(self.samples.observed),
            level=self.level,
            hold_out=self.hold_out,
            structure=tuple(one.words for one in self.structure if one.found),
            grade=self.grade,
            verdict=self.verdict,
            simulation_error=self.simulation_error,
            provenance={**self.provenance, **provenance},
        )


def calibrate(
    table: Sequence[Row],
    *,
    rule: str,
    quantity: str | None = None,
    coefficients: Sequence[str] | None = None,
    scatter: Scatter | None = None,
    prior: "Sequence[Row] | RuleCard | Calibration | None" = None,
    doubts: Mapping[str, float] | None = None,
    level: float = 0.95,
    simulation_error: float | None = None,
    provenance: Mapping[str, str | float] | None = None,
) -> Calibration:
    """Fit the coefficients of a rule to a table.

    Args:
        table: rows, column name to number or text; see `flamefe.rules.columns`.
        rule: name of the rule, see `RULES`.
        quantity: what to fit, where the rule gives several.
        coefficients: names of those to fit; None: the rule's default, see `flamefe.rules.forms`.
        scatter: "proportional", "constant" or "stated"; None: as stated where every row has a
            deviation, else proportional.
        prior: what is known beforehand, for few measured rows: a table of simulations, a card or
            a calibration of the same rule. Its covariance is widened by the doubts.
        doubts: how far the shop may lie from the prior, one standard deviation by coefficient:
            of a share (a factor) as a part of its value, of a power in its own units; those not
            given are the form's (0.3 and 0.2, chosen here: default efficiency and radius of a
            flame are uncertain by some 30 %).
        level: chance of the intervals.
        simulation_error: of simulated rows by their mesh and steps, a share of the value.
        provenance: study, versions and the like, for the card.

    Returns:
        Coefficients with covariance, hold-out error, residual structure, range and verdict.

    Raises:
        CalibrationError: rows are too few, lack what is asked, or don't tell the coefficients.
        TableError: a cell can't be read.
        OutOfRange: there is no such rule, quantity or coefficient, or a number is impossible.

    Examples:
        Invented heats that make 0.1577 times what two layers say, with 5 % of scatter:

        >>> noise = np.random.default_rng(1).normal(1, 0.05, 24)
        >>> heats = [(h, v) for h in (8, 10, 12, 16) for v in (4, 5, 6, 7, 8, 10)]
        >>> rows = [{"part": "plate", "material": "S355", "thickness_mm": h, "speed_mm_s": v,
        ...     "net_power_kW": 3, "flame_radius_mm": 15,
        ...     "angular change at mid length [deg]": round(0.3 * 144 / h**2 * 6 / v * e, 4)}
        ...     for (h, v), e in zip(heats, noise, strict=True)]
        >>> found = calibrate(rows, rule="two layers", coefficients=("factor", "heat"))
        >>> for name, value, low, high in found.card().intervals():
        ...     print(name, round(value, 3), "from", round(low, 3), "to", round(high, 3))
        factor 0.158 from 0.156 to 0.161
        heat -0.006 from -0.029 to 0.017
        >>> found.grade
        'good'
    """
    if doubts and prior is None:
        raise CalibrationError("Doubts are about a prior; give one, or leave them out.")
    form = find_form(rule, quantity, None if coefficients is None else tuple(coefficients))
    before = _calibrated(prior, rule, quantity, form, level)
    if before is not None:
        form = form.fitting(coefficients or before.form.free).starting_at(before.coefficients)
    samples = samples_of(table, form)
    kind: Scatter = scatter or ("stated" if samples.stated else "proportional")
    notes = list(samples.notes)
    known = None if before is None else _prior_of(before, form, kind, doubts or {})
    if known is None:
        form, dropped = _told_apart(form, samples)
        notes += dropped
    if kind == "stated" and not samples.stated:
        raise CalibrationError(
            "Scatter 'stated' needs a deviation above 0 in every row; fill the column, or take "
            "'proportional' or 'constant'."
        )
    fit = fit_form(
        form,
        samples.entries,
        samples.observed,
        scatter=kind,
        given=samples.given,
        prior=known,
    )
    fields = (*form.needs, *form.watched)
    span = span_of(samples.inputs, fields) if before is None else before.span
    beyond = 0
    if before is not None:
        beyond = sum(bool(span.place(inputs).reasons) for inputs in samples.inputs)
        if simulation_error is None:
            simulation_error = before.simulation_error
    if np.ptp(samples.given) > 1e-9:
        notes.append(
            "rows count differently; the card's interval of a single heat is that of a row with "
            "the median weight or deviation"
        )
    notes += _twice(samples)
    standard = (samples.observed - fit.values) / fit.spreads
    columns = {name: samples.column(name) for name in samples.varying(fields)}
    structure = structure_in(standard, fit.values, columns)
    unseen = hold_out(
        form,
        samples.entries,
        samples.observed,
        scatter=kind,
        given=samples.given,
        prior=known,
        folds=FOLDS,
        level=level,
    )
    grade, verdict = verdict_on(
        form, fit, samples, kind, unseen, structure, span, level=level, prior=known,
        simulation_error=simulation_error, beyond=beyond,
    )  # fmt: skip
    if grade != "good" and known is None and unseen is not None:
        notes += _better(form, samples, kind, unseen, level)
    return Calibration(
        form=form,
        samples=samples,
        scatter=kind,
        fit=fit,
        span=span,
        level=level,
        hold_out=unseen,
        structure=structure,
        grade=grade,
        verdict=verdict,
        notes=tuple(notes),
        prior=known,
        provenance=dict(provenance or {}),
        simulation_error=simulation_error,
    )


def _twice(samples: Samples) -> list[str]:
    """Rows that repeat another one in all that counts, its outcome included."""
    whole = np.column_stack((samples.entries, samples.observed))
    _, first, counts = np.unique(whole, axis=0, return_index=True, return_counts=True)
    again = [i for i, count in zip(first, counts, strict=True) if count > 1]
    if not again:
        return []
    numbers = [
        [samples.numbers[j] for j in np.flatnonzero((whole == whole[i]).all(axis=1))] for i in again
    ]
    said = "; ".join(" and ".join(map(str, same)) for same in numbers[:3])
    more = f" and {len(numbers) - 3} more" if len(numbers) > 3 else ""
    return [f"rows {said}{more} are the same to the last figure; each counts"]


def _better(
    form: Form, samples: Samples, kind: Scatter, unseen: HoldOut, level: float
) -> list[str]:
    """The further coefficient that would meet unseen rows best, if it helps enough."""
    best: tuple[float, str] | None = None
    for name in form.names:
        if name in form.free:
            continue
        wider = form.fitting((*form.free, name))
        if any(wider.missing(one) for one in samples.inputs):
            continue
        try:
            entries = np.array([wider.entries(one) for one in samples.inputs])
        except OutOfRange:
            continue
        if np.ptp(entries[:, 1 + form.names.index(name)]) <= STEADY:
            continue
        tried = hold_out(
            wider,
            entries,
            samples.observed,
            scatter=kind,
            given=samples.given,
            prior=None,
            folds=FOLDS,
            level=level,
        )
        if tried is not None and tried.share < (best[0] if best else HELPS * unseen.share):
            best = (tried.share, name)
    if best is None:
        return []
    return [
        f"fitting {best[1]} as well would meet unseen rows within {100 * best[0]:.2g} % instead of "
        f"{100 * unseen.share:.2g} %"
    ]


def _calibrated(
    prior: "Sequence[Row] | RuleCard | Calibration | None",
    rule: str,
    quantity: str | None,
    form: Form,
    level: float,
) -> RuleCard | None:
    """The prior as a card of the same rule."""
    if prior is None:
        return None
    if isinstance(prior, Calibration):
        card = prior.card()
    elif isinstance(prior, RuleCard):
        card = prior
    else:
        card = calibrate(
            prior, rule=rule, quantity=quantity, coefficients=form.free, level=level
        ).card()
    if (card.form.rule.name, card.form.rule.quantity) != (form.rule.name, form.rule.quantity):
        raise CalibrationError(
            f"The prior is of {card.rule!r} ({card.quantity}), but {form.rule.name!r} "
            f"({form.rule.quantity}) is to be fitted; give a prior of the same rule."
        )
    return card


def _prior_of(card: RuleCard, form: Form, kind: Scatter, doubts: Mapping[str, float]) -> Prior:
    """Mean and covariance of a prior, widened by how far a shop may lie from it."""
    unknown = [name for name in doubts if name not in form.names]
    if unknown:
        raise CalibrationError(
            f"There is no coefficient {', '.join(map(repr, unknown))}; {form.rule.name!r} has "
            f"{', '.join(map(repr, form.names))}."
        )
    widths = []
    for term, value in zip(form.terms, card.coefficients, strict=True):
        doubt = doubts.get(term.coefficient, term.doubt)
        if not doubt > 0:
            raise CalibrationError(
                f"The doubt about {term.coefficient!r} is {doubt:g}, it must be above 0."
            )
        widths.append(doubt * (abs(float(value)) or 1.0 if term.kind == "share" else 1.0))
    free = form.free_mask
    covariance = (card.covariance + np.diag(np.square(widths))) * np.outer(free, free)
    scatter = card.spread if card.scatter == kind and card.spread > 0 else None
    return Prior(mean=card.coefficients, covariance=covariance, scatter=scatter)


def _told_apart(form: Form, samples: Samples) -> tuple[Form, list[str]]:
    """Leave at their start those coefficients whose entry does not vary in the table."""
    kept, notes = [], []
    for i, (name, term) in enumerate(zip(form.names, form.terms, strict=True)):
        if name not in form.free:
            continue
        entry = samples.entries[:, 1 + i]
        steady = float(np.ptp(entry)) <= STEADY * max(float(np.abs(entry).max()), 1.0)
        if term.group is not None and steady:
            notes.append(f"{name} is left at {term.start:g}: the {term.group.name} does not vary")
        else:
            kept.append(name)
    return (form.fitting(kept) if notes and kept else form), notes
