"""Direct solvers behind one door: the same answers, honest failures."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.sparse import csc_matrix, diags_array, eye_array, kron, tril

from flamefe.basics import linear
from flamefe.basics.errors import FlamefeError
from flamefe.basics.linear import SOLVERS, Factoriser, SingularOperator

Array = NDArray[np.float64]
with_rslab = pytest.mark.skipif("rslab" not in SOLVERS, reason="rslab is not installed")


def _chain(n: int, ends: float) -> Any:
    """Springs in a row; ``ends`` is the stiffness that holds the two ends."""
    diagonal = np.full(n, 2.0)
    diagonal[[0, -1]] = 1.0 + ends
    return diags_array([np.full(n - 1, -1.0), diagonal, np.full(n - 1, -1.0)], offsets=[-1, 0, 1])


def _net(n: int, seed: int = 0) -> csc_matrix:
    """A net of springs n by n by 4, held at its ends, with uneven stiffness."""
    random = np.random.default_rng(seed)
    chain = _chain(n, 1.0)
    one = eye_array(n)
    net = kron(chain, one) + kron(one, chain)
    block = kron(net, eye_array(4)) + kron(eye_array(n * n), _chain(4, 0.0))
    scale = diags_array(random.uniform(0.5, 2.0, 4 * n * n))
    return csc_matrix(scale @ block @ scale)


def _lower(full: Any) -> csc_matrix:
    lower = csc_matrix(tril(full))
    lower.sort_indices()
    return lower


def test_scipy_is_always_there() -> None:
    assert SOLVERS[-1] == "scipy"
    assert Factoriser().solver == SOLVERS[0]


@pytest.mark.parametrize("solver", SOLVERS)
def test_solves_what_numpy_solves(solver: str) -> None:
    """Against a dense solve, for one and several right-hand sides, 1e-10."""
    full = _net(6)
    rights = np.random.default_rng(1).normal(size=(full.shape[0], 3))
    exact = np.linalg.solve(full.toarray(), rights)
    factor = Factoriser(solver).factor(_lower(full))
    np.testing.assert_allclose(factor.solve(rights), exact, rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(factor.solve(rights[:, 1]), exact[:, 1], rtol=1e-10, atol=1e-12)
    assert factor.solve(rights[:, 1]).shape == (full.shape[0],)


@with_rslab
def test_both_solvers_give_the_same() -> None:
    lower = _lower(_net(12))
    right = np.random.default_rng(2).normal(size=lower.shape[0])
    answers = [Factoriser(solver).factor(lower).solve(right) for solver in ("rslab", "scipy")]
    np.testing.assert_allclose(answers[0], answers[1], rtol=1e-9, atol=1e-11)


@pytest.mark.parametrize("solver", SOLVERS)
def test_pattern_is_kept_and_old_factors_stay_valid(solver: str) -> None:
    """New values, same pattern; then another pattern; the first factor still solves its own."""
    factoriser = Factoriser(solver)
    matrices = [_net(5, seed=0), _net(5, seed=1), csc_matrix(_chain(40, 1.0)), _net(5, seed=2)]
    factors = [factoriser.factor(_lower(full)) for full in matrices]
    for full, factor in zip(matrices, factors, strict=True):
        solution = np.arange(1.0, full.shape[0] + 1.0)
        np.testing.assert_allclose(factor.solve(full @ solution), solution, rtol=1e-9)


@with_rslab
def test_pattern_is_analysed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    calls = []
    analyze = linear._rslab.analyze  # type: ignore[union-attr]

    def counted(*args: Any, **options: Any) -> Any:
        calls.append(1)
        return analyze(*args, **options)

    monkeypatch.setattr(linear._rslab, "analyze", counted)
    factoriser = Factoriser("rslab")
    for seed in range(3):
        factoriser.factor(_lower(_net(5, seed=seed)))
    assert len(calls) == 1
    factoriser.factor(_lower(_net(4)))
    assert len(calls) == 2


@pytest.mark.parametrize("solver", SOLVERS)
@pytest.mark.parametrize("negative", [0, 1, 3])
def test_negative_pivots_are_negative_eigenvalues(solver: str, negative: int) -> None:
    """Sylvester's law of inertia, the shift being put between two eigenvalues."""
    full = _net(4)
    values = np.linalg.eigvalsh(full.toarray())
    shift = 0.0 if negative == 0 else 0.5 * (values[negative - 1] + values[negative])
    assert values[negative] - shift > 1e-3
    shifted = csc_matrix(full - shift * eye_array(full.shape[0]))
    assert Factoriser(solver).factor(_lower(shifted)).negative_pivots == negative


@pytest.mark.parametrize("solver", SOLVERS)
def test_singular_is_refused(solver: str) -> None:
    """A chain that nothing holds, and a matrix with an empty row."""
    for full in (_chain(6, 0.0), diags_array([1.0, 0.0, 2.0])):
        with pytest.raises(SingularOperator, match="can move without resistance"):
            Factoriser(solver).factor(_lower(full))


def test_unknown_solver_is_refused() -> None:
    with pytest.raises(FlamefeError, match="'abacus' is not installed; there are"):
        Factoriser("abacus")


def _hard(hold: float) -> csc_matrix:
    """A long chain that only a soft spring holds: single precision loses its rigid motion."""
    diagonal = np.full(4000, 2.0)
    diagonal[0], diagonal[-1] = 1.0 + hold, 1.0
    off = np.full(3999, -1.0)
    return csc_matrix(diags_array([off, diagonal, off], offsets=[-1, 0, 1]))


@with_rslab
def test_rough_factor_is_single_precision_where_that_will_do() -> None:
    """Close to the solution, but not to double precision; as a preconditioner that is enough."""
    full = _net(8)
    solution = np.random.default_rng(3).normal(size=full.shape[0])
    factor = Factoriser("rslab").factor_roughly(_lower(full))
    error = np.abs(factor.solve(full @ solution) - solution).max()
    assert 1e-10 < error < 1e-3
    better = solution * 0.0
    for _ in range(6):
        better = better + factor.solve(full @ (solution - better))
    np.testing.assert_allclose(better, solution, atol=1e-9)


@with_rslab
def test_rough_factor_falls_back_to_double_precision() -> None:
    """Where single precision fails the field that only the support holds, double is used."""
    full = _hard(1e-7)
    factoriser = Factoriser("rslab")
    factor = factoriser.factor_roughly(_lower(full))
    ones = np.ones(full.shape[0])
    np.testing.assert_allclose(factor.solve(full @ ones), ones, rtol=1e-3)
    single = factoriser._factor_rslab(_lower(full), factor_dtype="float32")
    assert np.abs(single.solve(full @ ones) - ones).max() > 0.05
    assert not factoriser._single


@pytest.mark.parametrize("solver", SOLVERS)
def test_rough_factor_refuses_singular(solver: str) -> None:
    with pytest.raises(SingularOperator):
        Factoriser(solver).factor_roughly(_lower(diags_array([1.0, 0.0, 2.0])))


def test_rough_factor_of_scipy_is_a_plain_one() -> None:
    full = _net(5)
    solution = np.arange(1.0, full.shape[0] + 1.0)
    factor = Factoriser("scipy").factor_roughly(_lower(full))
    np.testing.assert_allclose(factor.solve(full @ solution), solution, rtol=1e-10)
