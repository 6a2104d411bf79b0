"""Anderson mixing against what it must do on linear problems.

Source: H. F. Walker, P. Ni, Anderson acceleration for fixed-point iterations, SIAM J. Numer.
Anal. 49 (2011) 1715-1735: on a linear problem it is in essence GMRES, which needs at most n steps
for n unknowns.
"""

import numpy as np
import pytest
from numpy.typing import NDArray

from flamefe.basics.anderson import Anderson

Array = NDArray[np.float64]


def _problem(size: int, seed: int) -> tuple[Array, Array, Array]:
    """A well-conditioned matrix whose plain iteration x + (b - A x) diverges; b; solution."""
    random = np.random.default_rng(seed)
    turn, _ = np.linalg.qr(random.normal(size=(size, size)))
    matrix = turn @ np.diag(np.linspace(0.5, 4.0, size)) @ turn.T
    solution = random.normal(size=size)
    return matrix, matrix @ solution, solution


@pytest.mark.parametrize("size", [1, 2, 5, 8])
@pytest.mark.parametrize("seed", [0, 1])
def test_linear_problem_ends_in_n_plus_one(size: int, seed: int) -> None:
    """n + 1 corrections give the solution of n unknowns; the plain iteration runs away."""
    matrix, right, solution = _problem(size, seed)
    x, mixer = np.zeros(size), Anderson(depth=size)
    for _ in range(size + 1):
        x = mixer.next(x, right - matrix @ x)
    np.testing.assert_allclose(x, solution, atol=1e-6 * np.abs(solution).max())
    if size > 1:
        plain = np.zeros(size)
        for _ in range(size + 20):
            plain = plain + right - matrix @ plain
        assert np.abs(plain - solution).max() > 10.0


def test_fewer_corrections_than_that_do_not_do() -> None:
    matrix, right, solution = _problem(8, 0)
    x, mixer = np.zeros(8), Anderson(depth=8)
    for _ in range(6):
        x = mixer.next(x, right - matrix @ x)
    assert np.abs(x - solution).max() > 1e-3


def test_first_step_is_the_plain_one() -> None:
    x = np.array([1.0, 2.0])
    assert Anderson(depth=3).next(x, np.array([0.5, -1.0])).tolist() == [1.5, 1.0]


def test_short_memory_still_converges() -> None:
    """Two differences for twenty unknowns: more steps, but it gets there."""
    matrix, right, solution = _problem(20, 3)
    x, mixer = np.zeros(20), Anderson(depth=2)
    for _ in range(120):
        x = mixer.next(x, 0.4 * (right - matrix @ x))
    np.testing.assert_allclose(x, solution, atol=1e-8)
    assert len(mixer._steps) == 2


def test_faster_than_plain_on_a_curved_problem() -> None:
    """x = cos(x) in many scales: Anderson needs less than half of the plain corrections."""
    scale = np.linspace(0.5, 0.95, 30)

    def count(mixer: Anderson | None) -> int:
        x = np.zeros(30)
        for number in range(500):
            correction = scale * np.cos(x) - x
            if np.abs(correction).max() < 1e-10:
                return number
            x = x + correction if mixer is None else mixer.next(x, correction)
        raise AssertionError("did not converge")

    assert 2 * count(Anderson(depth=5)) < count(None)


def test_shapes_are_kept_and_inputs_left_alone() -> None:
    """Any shape; the arguments are not changed, and the answer does not depend on the shape."""
    random = np.random.default_rng(5)
    flat, square = Anderson(depth=4), Anderson(depth=4)
    for _ in range(4):
        x, f = random.normal(size=12), random.normal(size=12)
        kept = x.copy(), f.copy()
        answer = square.next(x.reshape(3, 4), f.reshape(3, 4))
        assert answer.shape == (3, 4)
        np.testing.assert_allclose(answer.ravel(), flat.next(x, f), rtol=1e-12)
        np.testing.assert_array_equal(x, kept[0])
        np.testing.assert_array_equal(f, kept[1])


def test_a_step_that_changes_nothing_does_no_harm() -> None:
    """The same iterate twice: no division by zero, the plain step stays."""
    mixer = Anderson(depth=3)
    x, f = np.array([1.0, 1.0]), np.array([0.1, 0.2])
    for _ in range(3):
        answer = mixer.next(x, f)
    np.testing.assert_allclose(answer, [1.1, 1.2])
