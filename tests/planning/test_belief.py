"""The update of what is believed, against conjugate closed forms and against draws."""

import numpy as np
import pytest
from scipy.stats import kstest

from flamefe.basics.errors import OutOfRange
from flamefe.planning.belief import Belief, error_covariance, first_belief, inverse_of
from flamefe.planning.candidate import Heat, HeatKind


def heat(kind, moves, name="h"):
    return Heat(
        name=name, kind=kind, size="", place=name, side="", position=(0.0, 0.0, 0.0),
        moves=np.asarray(moves, float),
    )  # fmt: skip


def test_one_factor_is_the_scalar_conjugate_update():
    """Prior N(1, s); d known; y = d + f c + v, v ~ N(0, r): textbook posterior."""
    s, c, r, y = 0.3, -0.004, 5e-4, 0.0071
    kind = HeatKind(name="w", uncertain=s, scatter=0.0, day=0.0)
    start = first_belief([kind], np.array([0.01]), np.array([1e-9]))
    end = start.after([heat("w", [c])], form_error=0.0).seen(np.array([y]), np.array([[r**2]]))
    precision = 1.0 / s**2 + c**2 / r**2
    mean = (1.0 / s**2 + c * (y - 0.01) / r**2) / precision
    assert end.factors[0] == pytest.approx(mean, rel=1e-9)
    assert end.factor_deviation[0] == pytest.approx(precision**-0.5, rel=1e-6)


def test_first_measurement_error_counts_too():
    """The change is seen through two measurements: its variance is the sum of both."""
    s, c, r0, r = 0.3, -0.004, 4e-4, 3e-4
    kind = HeatKind(name="w", uncertain=s, scatter=0.0, day=0.0)
    start = first_belief([kind], np.array([0.01]), np.array([r0]))
    end = start.after([heat("w", [c])], form_error=0.0)
    end = end.seen(np.array([0.0065]), np.array([[r**2]]))
    precision = 1.0 / s**2 + c**2 / (r0**2 + r**2)
    mean = (1.0 / s**2 + c * (0.0065 - 0.01) / (r0**2 + r**2)) / precision
    assert end.factors[0] == pytest.approx(mean, rel=1e-9)


def test_several_cycles_are_one_linear_regression():
    """Without scatter the last belief is that of all measurements at once (normal equations)."""
    random = np.random.default_rng(4)
    kinds = [HeatKind(name=n, uncertain=0.2, scatter=0.0, day=0.0) for n in ("a", "b")]
    n, r = 4, 3e-4
    measured = random.normal(0.0, 0.01, n)
    belief = first_belief(kinds, measured, np.full(n, r), common=0.25)
    rows = [np.hstack([np.eye(n), np.zeros((n, 2))])]
    seen = [measured]
    moved = np.zeros((n, 2))
    for _ in range(3):
        heats = [heat("ab"[k], random.normal(0.0, 0.003, n), f"h{k}") for k in (0, 1, 1)]
        for one in heats:
            moved[:, "ab".index(one.kind)] += one.moves
        value = random.normal(0.0, 0.01, n)
        belief = belief.after(heats, form_error=0.0).seen(value, r**2 * np.eye(n))
        rows.append(np.hstack([np.eye(n), moved]))
        seen.append(value)
    # unknowns: shape before the job and factors; prior on the factors alone
    prior = np.zeros((n + 2, n + 2))
    prior[n:, n:] = np.linalg.inv(0.2**2 * np.eye(2) + 0.25**2)
    design, data = np.vstack(rows), np.concatenate(seen)
    information = prior + design.T @ design / r**2
    mean = np.linalg.solve(information, prior @ np.r_[np.zeros(n), 1, 1] + design.T @ data / r**2)
    covariance = np.linalg.inv(information)
    assert belief.factors == pytest.approx(mean[n:], rel=1e-7)
    assert belief.factor_covariance == pytest.approx(covariance[n:, n:], rel=1e-6)
    now = np.hstack([np.eye(n), moved])
    assert belief.shape == pytest.approx(now @ mean, abs=1e-10)
    assert belief.shape_covariance == pytest.approx(now @ covariance @ now.T, rel=1e-6, abs=1e-14)


def test_measuring_again_averages():
    kind = HeatKind(name="w")
    belief = first_belief([kind], np.array([0.010]), np.array([4e-4]))
    for value in (0.011, 0.012, 0.009):
        belief = belief.after([]).seen(np.array([value]), np.array([[16e-8]]))
    assert belief.shape[0] == pytest.approx(0.0105)
    assert belief.shape_deviation[0] == pytest.approx(4e-4 / 2.0)
    assert belief.factors[0] == 1.0


def test_spread_after_heats_is_that_of_draws():
    """Means and covariances of products of factor, day and scatter, against 200,000 draws."""
    random = np.random.default_rng(7)
    kinds = [HeatKind(name="a", uncertain=0.2, scatter=0.25, day=0.1), HeatKind(name="b", day=0.2)]
    belief = first_belief(kinds, np.array([0.012, 0.008]), np.array([5e-4, 4e-4]), common=0.2)
    heats = [
        heat("a", [-2e-3, -1e-3], "1"),
        heat("a", [-1e-3, -3e-3], "2"),
        heat("b", [1e-3, -2e-3], "3"),
    ]
    after = belief.after(heats, form_error=0.0)
    count = 200_000
    drawn = random.multivariate_normal(belief.mean, belief.covariance, size=count)
    days = 1.0 + random.standard_normal((count, 2)) * [0.1, 0.2]
    shape = drawn[:, :2].copy()
    for one in heats:
        k = "ab".index(one.kind)
        own = 1.0 + kinds[k].scatter * random.standard_normal(count)
        shape += (drawn[:, 2 + k] * days[:, k] * own)[:, None] * one.moves
    assert shape.mean(axis=0) == pytest.approx(after.shape, abs=2e-5)
    assert np.cov(shape.T) == pytest.approx(after.shape_covariance, rel=0.02)
    both = np.hstack([shape, drawn[:, 2:]])
    assert np.cov(both.T)[:2, 2:] == pytest.approx(after.cross, rel=0.03)


def test_surprise_is_chi_square_when_the_belief_is_right():
    random = np.random.default_rng(11)
    kind = HeatKind(name="w")
    belief = first_belief([kind], np.array([0.01, 0.008, 0.004]), np.full(3, 5e-4))
    after = belief.after([heat("w", [-3e-3, -2e-3, -1e-3])])
    errors = 25e-8 * np.eye(3)
    total = after.shape_covariance + errors
    draws = random.multivariate_normal(after.shape, total, size=600)
    values = [after.surprise(draw, errors) for draw in draws]
    assert kstest(values, "chi2", args=(3,)).pvalue > 0.01


def test_a_new_shape_alone_leaves_the_factors():
    belief = first_belief([HeatKind(name="w")], np.array([0.01]), np.array([5e-4]))
    after = belief.after([heat("w", [-3e-3])])
    again = after.remeasured(np.array([0.02]), np.array([[1e-6]]))
    assert again.shape[0] == 0.02
    assert again.factors[0] == 1.0
    assert again.factor_deviation[0] == after.factor_deviation[0]
    assert again.cross[0, 0] == 0.0


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: error_covariance(np.array([0.0, 1.0]), 2), "above 0"),
        (lambda: error_covariance(np.ones(3), 2), "2 places"),
        (lambda: first_belief([HeatKind(name="w")], np.array([np.nan]), np.ones(1)), "not numbers"),
        (lambda: first_belief([HeatKind(name="w")], np.ones(1), np.ones(1), common=2), "0 to 0.6"),
        (lambda: Belief(kinds=(), mean=np.ones(2), covariance=np.eye(3)), "covariance"),
        (
            lambda: first_belief([HeatKind(name="w")], np.ones(1), np.ones(1)).after(
                [heat("x", [1])]
            ),
            "kind 'x'",
        ),
        (
            lambda: first_belief([HeatKind(name="w")], np.ones(1), np.ones(1)).after(
                [heat("w", [1, 2])]
            ),
            "moves 2 places",
        ),
        (lambda: HeatKind(name="w", scatter=2.0), "scatter is 2"),
        (lambda: HeatKind(name="w", repeats=()), "repeats"),
    ],
)
def test_what_cannot_be_is_refused(make, told):
    with pytest.raises(OutOfRange, match=told):
        make()


def test_what_a_placement_leaves_out_counts_for_nothing():
    """Readings with their mean fitted out: n - 1 directions, and no noise in the last."""
    left = np.eye(5) - 0.2
    covariance = 1e-8 * left @ left.T
    inverse, rank = inverse_of(covariance)
    assert rank == 4
    assert inverse @ covariance @ inverse == pytest.approx(inverse, rel=1e-6)
    assert np.ones(5) @ inverse @ np.ones(5) == pytest.approx(0.0, abs=1.0)
    with pytest.raises(OutOfRange, match="not positive"):
        inverse_of(np.diag([1.0, -1.0]))
