"""Least squares of a form's coefficients: weighted, with covariance, and with a prior.

The scatter about the form is either the same everywhere ("constant"), grows with the value
("proportional", as heats and simulations mostly do), or is as the table's deviations say
("stated"), each times one number s that is estimated. For "proportional" the weights follow the
fitted values until they settle, which unlike dividing by the value once leaves no bias.

With a prior (mean b0, covariance C0) the coefficients maximise the posterior,

    min  sum ((y - f(b)) / (s w))^2 + (b - b0)' C0^-1 (b - b0),

whose covariance is (J' W J / s^2 + C0^-1)^-1; s^2 is pooled from the prior scatter, which counts
for ``PRIOR_FREEDOM`` rows, and the rows.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from flamefe.basics.errors import FlamefeError
from flamefe.rules.form import Form

Array = NDArray[np.float64]
Scatter = Literal["proportional", "constant", "stated"]

PRIOR_FREEDOM = 4.0
"""Degrees of freedom that a prior scatter counts for: enough to steady a few rows, no more."""

SETTLED = 1e-8
SETTLED_WEIGHTS = 1e-6
FREELY = 8
MOST_ROUNDS = 100
SMALLEST = 1e-3
"""Least size of a value against the table's typical one in a proportional weight."""


class CalibrationError(FlamefeError, ValueError):
    """Coefficients can't be fitted to a table."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Prior:
    """What is known of the coefficients beforehand.

    Args:
        mean: (terms,).
        covariance: (terms, terms); rows of fixed coefficients are 0.
        scatter: s about the form that is expected; None: not known.
    """

    mean: Array
    covariance: Array
    scatter: float | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit:
    """Fitted coefficients and how well they are known.

    Args:
        coefficients: (terms,), fixed ones at their start.
        covariance: (terms, terms); rows of fixed coefficients are 0.
        scatter: s: a share of the value, in the quantity's unit, or times the stated deviation.
        freedom: degrees of freedom of s.
        entries: (n, 1 + terms), see `Form.entries`.
        values: (n,), fitted.
        spreads: (n,), standard deviation of each row about the form.
        determined: share of each coefficient's spread in the data alone, 1 where the table tells
            it well; below about 0.1 the prior does. (terms,)
    """

    coefficients: Array
    covariance: Array
    scatter: float
    freedom: float
    entries: Array
    values: Array
    spreads: Array
    determined: Array


def weights_of(scatter: Scatter, values: Array, given: Array, typical: float) -> Array:
    """Size of each row's scatter but for s, (n,).

    Args:
        scatter: how it goes.
        values: (n,) of the form.
        given: (n,) relative size that the table gives: 1, 1 / sqrt(weight), or the deviation.
        typical: size of a typical value of the table.
    """
    if scatter == "proportional":
        return np.maximum(np.abs(values), SMALLEST * typical) * given
    return given


def fit_form(
    form: Form,
    entries: Array,
    observed: Array,
    *,
    scatter: Scatter,
    given: Array,
    prior: Prior | None = None,
) -> Fit:
    """Fit the free coefficients of a form.

    Args:
        form: with its free coefficients.
        entries: (n, 1 + terms), see `Form.entries`.
        observed: (n,) in the form's unit.
        scatter: how the scatter goes.
        given: (n,) relative size of the scatter, see `weights_of`.
        prior: what is known beforehand.

    Returns:
        The fit. Its covariance is the one of linearised least squares.

    Raises:
        CalibrationError: too few rows, a coefficient that the rows don't tell, or no settling.

    Examples:
        Twice a rule's number, without scatter:

        >>> from flamefe.rules.forms import find_form
        >>> form = find_form("two layers", coefficients=("factor",))
        >>> rows = np.column_stack((np.array([1.0, 2.0, 3.0]), np.ones(3), np.zeros((3, 6))))
        >>> fit = fit_form(form, rows, 2 * rows[:, 0], scatter="constant", given=np.ones(3))
        >>> round(float(fit.coefficients[0]), 6)
        2.0
    """
    free = form.free_mask
    number, count = int(free.sum()), len(observed)
    if prior is None and count < number + 2:
        raise CalibrationError(
            f"{count} usable rows are too few for {number} coefficients; give at least "
            f"{number + 2}, fit fewer coefficients, or give a prior."
        )
    if count < 1:
        raise CalibrationError("No row can be used; see what was left out and why.")
    typical = float(np.sqrt(np.mean(observed**2))) or 1.0
    whitening, start = _whitened(form, prior)
    coefficients = start.copy()
    s = prior.scatter if prior is not None and prior.scatter else 1.0
    sizes = weights_of(scatter, form.values(coefficients, entries), given, typical)
    for turn in range(MOST_ROUNDS):
        before, s_before = coefficients, s
        coefficients = _solved(form, entries, observed, s * sizes, before, start, whitening)
        values, slopes = form.gradient(coefficients, entries)
        wanted = weights_of(scatter, values, given, typical)
        restless = float(np.abs(np.log(wanted / sizes)).max())
        # half way where they do not settle by themselves: weights near 0 swing
        sizes = wanted if turn < FREELY else np.sqrt(sizes * wanted)
        jacobian = slopes[:, free] / sizes[:, None]
        s, freedom, inverse = _pooled(jacobian, (observed - values) / sizes, whitening, prior)
        moved = np.abs(coefficients - before).max() / max(np.abs(coefficients).max(), 1e-3)
        still = prior is None or abs(s - s_before) <= 1e-6 * s
        if moved <= SETTLED and restless <= SETTLED_WEIGHTS and still:
            break
    else:
        raise CalibrationError(
            f"The coefficients of {form.rule.name!r} don't settle; fit fewer of them, or take "
            "scatter 'constant'."
        )
    covariance = np.zeros((len(free), len(free)))
    covariance[np.ix_(free, free)] = inverse
    alone = np.diag(jacobian.T @ jacobian) / s**2
    determined = np.zeros(len(free))
    determined[free] = np.clip(1 - np.diag(inverse) * np.diag(whitening.T @ whitening), 0, 1)
    determined[free] = np.where(alone > 0, determined[free], 0.0)
    return Fit(
        coefficients=coefficients,
        covariance=covariance,
        scatter=s,
        freedom=freedom,
        entries=entries,
        values=values,
        spreads=s * sizes,
        determined=determined,
    )


def _whitened(form: Form, prior: Prior | None) -> tuple[Array, Array]:
    """Square root of the prior's inverse covariance over the free ones, and where to start."""
    free = form.free_mask
    number = int(free.sum())
    if prior is None:
        return np.zeros((number, number)), form.starts
    covariance = prior.covariance[np.ix_(free, free)]
    try:
        lower = np.linalg.cholesky(covariance)
    except np.linalg.LinAlgError:
        raise CalibrationError(
            "The prior's covariance isn't positive; give each free coefficient a doubt above 0."
        ) from None
    return np.linalg.inv(lower), np.where(free, prior.mean, form.starts)


def _solved(
    form: Form,
    entries: Array,
    observed: Array,
    spreads: Array,
    start: Array,
    prior_mean: Array,
    whitening: Array,
) -> Array:
    free = form.free_mask

    def whole(x: Array) -> Array:
        made = prior_mean.copy()
        made[free] = x
        return made

    def misfits(x: Array) -> Array:
        of_rows = (form.values(whole(x), entries) - observed) / spreads
        return np.concatenate((of_rows, whitening @ (x - prior_mean[free])))

    def slopes(x: Array) -> Array:
        of_rows = form.gradient(whole(x), entries)[1][:, free] / spreads[:, None]
        return np.vstack((of_rows, whitening))

    found = least_squares(misfits, start[free], jac=slopes, method="lm", xtol=1e-12, ftol=1e-14)
    if not np.isfinite(found.x).all():
        raise CalibrationError(f"The coefficients of {form.rule.name!r} run away; fit fewer.")
    return whole(np.asarray(found.x))


def _pooled(
    jacobian: Array, misfits: Array, whitening: Array, prior: Prior | None
) -> tuple[float, float, Array]:
    """s, its degrees of freedom, and the covariance of the free coefficients."""
    count, number = jacobian.shape
    normal = jacobian.T @ jacobian
    if prior is None:
        scales = np.sqrt(np.diag(normal))
        if (scales == 0).any() or np.linalg.cond(normal / np.outer(scales, scales)) > 1e12:
            raise CalibrationError(
                "The table doesn't tell the coefficients apart: what they go with does not vary, "
                "or varies together. Fit fewer, or add rows that vary one thing alone."
            )
        freedom = float(count - number)
        s = float(np.sqrt(misfits @ misfits / freedom))
        s = max(s, 1e-12)
        return s, freedom, np.asarray(np.linalg.inv(normal) * s**2)
    s = prior.scatter or max(float(np.sqrt(np.mean(misfits**2))), 1e-12)
    known = PRIOR_FREEDOM if prior.scatter else 0.0
    for _ in range(MOST_ROUNDS):
        inverse = np.linalg.inv(normal / s**2 + whitening.T @ whitening)
        spent = float(np.trace(inverse @ normal)) / s**2
        freedom = max(known + count - spent, 1.0)
        pooled = (known * (prior.scatter or 0.0) ** 2 + float(misfits @ misfits)) / freedom
        before, s = s, max(float(np.sqrt(pooled)), 1e-12)
        if abs(s - before) <= 1e-9 * s:
            break
    return s, freedom, np.asarray(np.linalg.inv(normal / s**2 + whitening.T @ whitening))
