"""One small door to sparse direct solvers: factor a symmetric matrix once, solve many times."""

import importlib
from dataclasses import dataclass
from types import ModuleType
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_matrix, spmatrix, tril
from scipy.sparse.linalg import splu

from flamefe.basics.errors import FlamefeError

Array = NDArray[np.float64]


class SingularOperator(FlamefeError):
    """A matrix is exactly singular: the part can move without resistance.

    A part that is loose but for rounding may factor all the same; what holds it is checked before.
    """


class Factor(Protocol):
    """A factored matrix."""

    def solve(self, right_side: Array) -> Array:
        """Solve for one right-hand side, (n,) or (n, k)."""
        ...

    @property
    def negative_pivots(self) -> int | None:
        """How many negative eigenvalues the matrix has; None where the solver can't tell."""
        ...


def _find(name: str) -> ModuleType | None:
    try:
        return importlib.import_module(name)
    except ImportError:
        return None


_rslab = _find("rslab")

SOLVERS: tuple[str, ...] = ("rslab", "scipy") if _rslab is not None else ("scipy",)
"""Solvers that are installed, fastest first."""


@dataclass(frozen=True, eq=False)
class _RslabFactor:
    handle: Any

    def solve(self, right_side: Array) -> Array:
        if right_side.ndim == 1:
            return np.asarray(self.handle.solve(np.ascontiguousarray(right_side)))
        return np.asarray(self.handle.solve_many(np.ascontiguousarray(right_side)))

    @property
    def negative_pivots(self) -> int | None:
        return int(self.handle.inertia[1])


@dataclass(frozen=True, eq=False)
class _ScipyFactor:
    handle: Any

    def solve(self, right_side: Array) -> Array:
        return np.asarray(self.handle.solve(right_side))

    @property
    def negative_pivots(self) -> int | None:
        return int(np.count_nonzero(self.handle.U.diagonal() < 0.0))


class Factoriser:
    """Factors symmetric matrices of one sparsity pattern; the pattern is analysed only once.

    Args:
        solver: one of ``SOLVERS``; the fastest installed one by default.

    Example:
        >>> from scipy.sparse import diags_array
        >>> matrix = diags_array([2.0, 4.0]).tocsc()
        >>> Factoriser().factor(matrix).solve(np.array([2.0, 2.0])).tolist()
        [1.0, 0.5]
    """

    def __init__(self, solver: str | None = None) -> None:
        self.solver = solver or SOLVERS[0]
        if self.solver not in SOLVERS:
            raise FlamefeError(
                f"The linear solver {self.solver!r} is not installed; there are: {SOLVERS}."
            )
        self._pattern: tuple[NDArray[Any], NDArray[Any]] | None = None
        self._symbolic: Any = None
        self._single = True

    def factor(self, matrix: spmatrix) -> Factor:
        """Factor a symmetric (n, n) matrix of which the lower triangle is stored (CSC, sorted).

        Raises:
            SingularOperator: the matrix is singular.
        """
        if self.solver == "rslab":
            return self._factor_rslab(matrix)
        # minimum degree on A + A^T without row exchanges: the matrix is symmetric
        full = csc_matrix(matrix + tril(matrix, k=-1).T)
        try:
            handle = splu(
                full,
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                options={"SymmetricMode": True},
            )
        except RuntimeError as problem:
            raise SingularOperator(_SINGULAR) from problem
        return _ScipyFactor(handle)

    def factor_roughly(self, matrix: spmatrix, *, allowed: float = 0.05) -> Factor:
        """Factor for use inside an iteration: in half the memory and time where that will do.

        The factor is kept in single precision if it gives back a constant field within
        ``allowed``; that field is the hardest to give back, since only the supports hold it.

        Args:
            matrix: as for ``factor``.
            allowed: relative error of the constant field.

        Raises:
            SingularOperator: the matrix is singular.
        """
        if self.solver != "rslab" or not self._single:
            return self.factor(matrix)
        lower = csc_matrix(matrix)
        constant = np.ones(lower.shape[0])
        force = lower @ constant + tril(lower, k=-1).T @ constant
        factor = self._factor_rslab(lower, factor_dtype="float32")
        error = np.linalg.norm(factor.solve(force) - constant) / np.linalg.norm(constant)
        if error <= allowed:
            return factor
        self._single = False
        return self.factor(matrix)

    def _factor_rslab(self, matrix: spmatrix, **options: Any) -> Factor:
        assert _rslab is not None
        lower = csc_matrix(matrix)
        same = (
            self._pattern is not None
            and np.array_equal(self._pattern[0], lower.indptr)
            and np.array_equal(self._pattern[1], lower.indices)
        )
        try:
            if not same:
                self._symbolic = _rslab.analyze(lower, path="ldlt", threads=1)
                self._pattern = (lower.indptr.copy(), lower.indices.copy())
            return _RslabFactor(self._symbolic.factor(lower, **options))
        except RuntimeError as problem:
            raise SingularOperator(_SINGULAR) from problem


_SINGULAR = (
    "The stiffness can't be factored: the part, or a piece of it, can move without resistance. "
    "Hold it against every shift and turn (or give no supports at all: "
    "then only the rigid-body modes are held)."
)
