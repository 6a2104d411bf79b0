"""A plain verdict on a calibration: good inside its range or not, and why."""

import math
from collections.abc import Sequence

import numpy as np
from scipy.special import stdtrit

from flamefe.rules.card import Grade, HoldOut
from flamefe.rules.fitting import Fit, Prior, Scatter
from flamefe.rules.form import Form
from flamefe.rules.residuals import FEWEST_ROWS, Structure
from flamefe.rules.samples import Samples
from flamefe.rules.span import Span

GOOD = 0.10
"""Hold-out error, a share of the value, up to which a fit is called good (chosen here)."""

ROUGH = 0.30
"""Up to which it is called rough; above it is poor (chosen here)."""

LOOSE = 0.5
"""Half width of an interval from which a coefficient is called loose: of a share by its value, of
a power by the greater of its value and 1 (chosen here)."""

FAR_OFF = 10.0
"""Factor by which a rule may be off; with fitted powers its third power (chosen here)."""

FAR_FROM_PRIOR = 2.0
"""Deviations from the prior at which a coefficient is worth a word."""

OVERFIT = 1.5
TOGETHER = 0.98
BY_THE_PRIOR = 0.1
FEWEST_FOR_GOOD = 8
"""Rows, without a prior, below which no fit is called good."""


def verdict_on(
    form: Form,
    fit: Fit,
    samples: Samples,
    scatter: Scatter,
    unseen: HoldOut | None,
    structure: Sequence[Structure],
    span: Span,
    *,
    level: float,
    prior: Prior | None,
    simulation_error: float | None = None,
    beyond: int = 0,
) -> tuple[Grade, tuple[str, ...]]:
    """Judge a fit.

    It is *good* when unseen rows are met within 10 %, nothing is left over but chance, every
    coefficient is told and the simulations' own error is no more than 10 %; *rough* up to 30 %, or
    where something is left over or not told; else *poor*. A factor that turns the rule round, or
    that lies a power of ten from it, is poor: a wrong sign or unit.

    Args:
        form: that was fitted.
        fit: what came out.
        samples: from which rows.
        scatter: how the scatter goes.
        unseen: how well unseen rows were met.
        structure: looks at the residuals.
        span: range of the rows.
        level: chance of the intervals.
        prior: what was known beforehand.
        simulation_error: of the simulated rows, a share of the value; None: not known.
        beyond: number of rows outside the prior's range.

    Returns:
        The grade inside the range, and sentences: the verdict first, the range last.
    """
    troubles = [*_loose(form, fit, level, prior), *_tied(form, fit)]
    troubles += [f"What is left over is not chance: {one.words}." for one in structure if one.found]
    mistaken = _mistaken(form, fit)
    troubles = [*mistaken, *troubles, *_outliers(fit, samples), *_against(form, fit, prior)]
    rows = len(samples.observed)
    own = simulation_error or 0.0
    if own > GOOD:
        troubles.append(
            f"The simulations' own error by mesh and steps is {_percent(own)}; it is in every row "
            "alike, so unseen rows don't show it."
        )
    troubles += _lost_in_scatter(form, fit, samples, scatter, level)
    if beyond:
        troubles.append(
            f"{beyond} of {rows} rows lie outside the prior's range, which is the range told here."
        )
    scatter_share = _scatter_share(fit, samples, scatter)
    if unseen is not None and unseen.share > OVERFIT * scatter_share and unseen.share > 0.01:
        troubles.append(
            f"Unseen rows are met worse ({_percent(unseen.share)}) than seen ones "
            f"({_percent(scatter_share)}): too many coefficients for the rows, or a few rows "
            "decide."
        )
    if unseen is not None and rows >= FEWEST_ROWS and unseen.inside < level - _play(rows, level):
        troubles.append(
            f"Only {_percent(unseen.inside)} of unseen rows fall into their {_percent(level)} "
            "intervals: the intervals are too narrow."
        )
    grade: Grade = "good"
    if unseen is None or max(unseen.share, own) > ROUGH or mistaken or beyond == rows:
        grade = "poor"
    elif unseen.share > GOOD or troubles or (prior is None and rows < FEWEST_FOR_GOOD):
        grade = "rough"
    met = "" if unseen is None else _met(form, unseen, scatter)
    return grade, (_headline(grade, unseen, met, rows, level, prior), *troubles, _limits(span))


def _met(form: Form, unseen: HoldOut, scatter: Scatter) -> str:
    """How near unseen rows are met: as a share of each, or in the unit."""
    if scatter == "proportional":
        return _percent(unseen.share)
    return (
        f"{unseen.error:.2g} {form.rule.unit}, {_percent(unseen.share)} of a typical value; small "
        "values by more"
    )


def _mistaken(form: Form, fit: Fit) -> list[str]:
    """Factors that no heat has: the sign turned round, or a power of ten away."""
    found = []
    for i, term in enumerate(form.terms):
        if term.coefficient != "factor" or term.coefficient not in form.free:
            continue
        value = float(fit.coefficients[i])
        if value < 0.0:
            found.append(
                f"The factor is {value:.3g}: the rows go the other way than the rule. Look which "
                "way is positive."
            )
            continue
        most = FAR_OFF if _alone(form) else FAR_OFF**3
        if not 1.0 / most <= value <= most:
            found.append(
                f"The factor is {value:.3g}, far from the rule's 1. Look for a wrong unit."
            )
    return found


def _alone(form: Form) -> bool:
    """Whether the factor is all that is fitted of what scales the number."""
    return not any(term.kind == "power" and term.coefficient in form.free for term in form.terms)


def _lost_in_scatter(
    form: Form, fit: Fit, samples: Samples, scatter: Scatter, level: float
) -> list[str]:
    """Small values whose interval reaches beyond 0, where the scatter is the same for all."""
    if scatter == "proportional":
        return []
    half = float(stdtrit(fit.freedom, 0.5 + level / 2)) * fit.spreads
    lost = int((np.abs(fit.values) < half).sum())
    if not lost:
        return []
    return [
        f"{lost} of {len(fit.values)} heats are so small that their interval reaches beyond 0: "
        f"less than some {float(np.median(half)):.2g} {form.rule.unit} is not told."
    ]


def _outliers(fit: Fit, samples: Samples) -> list[str]:
    """Rows that lie farther off than chance puts one row in a hundred tables."""
    rows = len(samples.observed)
    if rows < FEWEST_ROWS:
        return []
    away = (samples.observed - fit.values) / fit.spreads
    # a row far off blows up the scatter, so its distance is taken against that of the others
    middle = float(np.median(np.abs(away))) / 0.6745
    if middle <= 0.0:
        return []
    far = np.flatnonzero(np.abs(away) / max(middle, 1e-12) > float(stdtrit(rows, 1 - 0.005 / rows)))
    if not far.size or far.size > max(3, rows // 10):
        return []
    return [
        f"Row {samples.numbers[i]} lies {abs(away[i]) / middle:.1f} times the usual scatter off "
        f"(it has {samples.observed[i]:.4g}, the fit says {fit.values[i]:.4g}); look at it again."
        for i in far
    ]


def _against(form: Form, fit: Fit, prior: Prior | None) -> list[str]:
    """Coefficients that the rows put far from where the prior had them."""
    if prior is None:
        return []
    found = []
    for i, term in enumerate(form.terms):
        deviation = math.sqrt(max(float(prior.covariance[i, i]), 0.0))
        if term.coefficient not in form.free or deviation <= 0.0:
            continue
        away = (float(fit.coefficients[i]) - float(prior.mean[i])) / deviation
        if abs(away) > FAR_FROM_PRIOR:
            found.append(
                f"The rows put {term.coefficient} at {fit.coefficients[i]:.3g}, "
                f"{abs(away):.1f} deviations from the prior's {prior.mean[i]:.3g}: another heat, "
                "or a fault in the rows."
            )
    return found


def _headline(
    grade: Grade, unseen: HoldOut | None, met: str, rows: int, level: float, prior: Prior | None
) -> str:
    start = {"good": "Good", "rough": "Rough", "poor": "Poor"}[grade]
    from_rows = f"{rows} row{'' if rows == 1 else 's'}{'' if prior is None else ' and a prior'}"
    if unseen is None:
        return f"{start}: from {from_rows}, too few to try it on rows it has not seen."
    return (
        f"{start} inside its range, not outside: unseen rows are met within {met} "
        f"(root mean square, {unseen.folds}-fold), "
        f"{_percent(unseen.inside)} of them within their {_percent(level)} intervals; "
        f"from {from_rows}."
    )


def _limits(span: Span) -> str:
    parts = [
        f"{name} {low:.4g} to {high:.4g}" if low < high else f"{name} {low:.4g}"
        for name, low, high in zip(span.columns, span.low, span.high, strict=True)
    ]
    parts += [f"{name.replace('_', ' ')} {' or '.join(words)}" for name, words in span.words]
    hull = " and between the rows' corners" if span.hull_fields else ""
    return f"Outside this range it says nothing: {', '.join(parts)}{hull}."


def _loose(form: Form, fit: Fit, level: float, prior: Prior | None) -> list[str]:
    factor = float(stdtrit(fit.freedom, 0.5 + level / 2))
    found = []
    for i, term in enumerate(form.terms):
        if term.coefficient not in form.free:
            continue
        half = factor * math.sqrt(max(float(fit.covariance[i, i]), 0.0))
        value = float(fit.coefficients[i])
        if half > LOOSE * (max(abs(value), 1e-12) if term.kind == "share" else max(abs(value), 1)):
            found.append(
                f"The coefficient {term.coefficient} is hardly told: {value:.3g}, give or take "
                f"{half:.2g}."
            )
        if prior is not None and fit.determined[i] < BY_THE_PRIOR:
            found.append(f"The coefficient {term.coefficient} is what the prior says.")
    return found


def _tied(form: Form, fit: Fit) -> list[str]:
    mask = form.free_mask
    deviations = np.sqrt(np.maximum(np.diag(fit.covariance)[mask], 1e-300))
    correlation = fit.covariance[np.ix_(mask, mask)] / np.outer(deviations, deviations)
    names = [name for name in form.names if name in form.free]
    return [
        f"The coefficients {names[i]} and {names[j]} are hardly told apart (correlation "
        f"{correlation[i, j]:+.2f})."
        for i in range(len(names))
        for j in range(i)
        if abs(correlation[i, j]) > TOGETHER
    ]


def _scatter_share(fit: Fit, samples: Samples, scatter: Scatter) -> float:
    if scatter == "proportional":
        return fit.scatter * samples.typical_size
    typical = float(np.sqrt(np.mean(samples.observed**2))) or 1.0
    return float(np.sqrt(np.mean(fit.spreads**2))) / typical


def _play(rows: int, level: float) -> float:
    """How far a share of rows may fall below its level by chance (three deviations)."""
    return 3 * math.sqrt(level * (1 - level) / rows)


def _percent(share: float) -> str:
    return f"{100 * share:.2g} %" if share < 0.095 else f"{100 * share:.0f} %"
