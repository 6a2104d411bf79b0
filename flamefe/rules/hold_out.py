"""How well a fit meets rows that it has not seen: k-fold cross-validation."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from flamefe.rules.card import HoldOut
from flamefe.rules.fitting import CalibrationError, Prior, Scatter, fit_form, weights_of
from flamefe.rules.form import Form

Array = NDArray[np.float64]

SEED = 20_240_501


def hold_out(
    form: Form,
    entries: Array,
    observed: Array,
    *,
    scatter: Scatter,
    given: Array,
    prior: Prior | None,
    folds: int,
    level: float,
) -> HoldOut | None:
    """Leave each of ``folds`` parts of the rows out once and meet it from the others.

    The division is random but always the same.

    Args:
        form, entries, observed, scatter, given, prior: as for `fit_form`.
        folds: number of parts; with fewer rows each is left out by itself.
        level: chance of the intervals that are checked.

    Returns:
        Errors over all rows; None where the rows that remain are too few to fit.

    Examples:
        >>> from flamefe.rules.forms import find_form
        >>> form = find_form("two layers", coefficients=("factor",))
        >>> base = np.linspace(1, 2, 20)
        >>> rows = np.column_stack((base, np.ones(20), np.zeros((20, 6))))
        >>> seen = base * (1 + 0.1 * np.where(np.arange(20) % 2, 1, -1))
        >>> found = hold_out(form, rows, seen, scatter="proportional", given=np.ones(20),
        ...     prior=None, folds=10, level=0.95)
        >>> round(found.share, 2), found.inside
        (0.1, 1.0)
    """
    count = len(observed)
    parts = min(folds, count)
    if parts < 2:
        return None
    order = np.random.default_rng(SEED).permutation(count)
    predicted, halves = np.empty(count), np.empty(count)
    typical = float(np.sqrt(np.mean(observed**2))) or 1.0
    try:
        for part in range(parts):
            left = order[part::parts]
            kept = np.setdiff1d(order, left)
            fit = fit_form(
                form,
                entries[kept],
                observed[kept],
                scatter=scatter,
                given=given[kept],
                prior=prior,
            )
            values, slopes = form.gradient(fit.coefficients, entries[left])
            own = fit.scatter * weights_of(scatter, values, given[left], typical)
            variance = np.einsum("ni,ij,nj->n", slopes, fit.covariance, slopes)
            predicted[left] = values
            factor = float(stdtrit(fit.freedom, 0.5 + level / 2))
            halves[left] = factor * np.sqrt(np.maximum(variance, 0.0) + own**2)
    except CalibrationError:
        return None
    errors = observed - predicted
    error = float(np.sqrt(np.mean(errors**2)))
    if scatter == "proportional":
        sizes = np.maximum(np.abs(predicted), 1e-3 * typical)
        share = float(np.sqrt(np.mean((errors / sizes) ** 2)))
    else:
        share = error / typical
    return HoldOut(
        error=error,
        share=share,
        inside=float(np.mean(np.abs(errors) <= halves + 1e-12 * typical)),
        folds=parts,
    )
