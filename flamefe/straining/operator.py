"""The factored operator that turns a residual into a correction, incompatible modes condensed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_matrix, csr_matrix

from flamefe.basics.linear import Factor, Factoriser
from flamefe.straining.element import MODES, StrainOperator

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Assembler:
    """Scatters condensed element stiffness into one sparse matrix on the free unknowns.

    Args:
        operator: the mesh's strain operator.
        fixed: (n, 3) bool, True where a displacement is prescribed.
        solver: linear solver; the fastest installed one by default.
    """

    def __init__(
        self, operator: StrainOperator, fixed: NDArray[np.bool_], solver: str | None = None
    ) -> None:
        self.operator = operator
        self.free = np.flatnonzero(~fixed.reshape(-1))
        number = np.full(fixed.size, -1, dtype=np.int64)
        number[self.free] = np.arange(self.free.size)
        dofs = (3 * operator.mesh.t.T[:, :, None] + np.arange(3)).reshape(-1, 24)
        local = number[dofs]
        rows = np.repeat(local, 24, axis=1).reshape(-1)
        columns = np.tile(local, (1, 24)).reshape(-1)
        self._kept = np.flatnonzero((rows >= columns) & (columns >= 0))
        keys = columns[self._kept] * self.free.size + rows[self._kept]
        unique, self._slot = np.unique(keys, return_inverse=True)
        self._indices = (unique % self.free.size).astype(np.int32)
        counts = np.bincount(unique // self.free.size, minlength=self.free.size)
        self._pointers = np.concatenate(([0], np.cumsum(counts))).astype(np.int32)
        self._lift_columns = np.repeat(dofs, 3 * MODES, axis=0).reshape(-1)
        self._lift_pointers = np.arange(0, operator.elements * 3 * MODES * 24 + 1, 24)
        self.factoriser = Factoriser(solver)

    def condense(self, stiffness: Array, *, careful: bool = False) -> "CondensedOperator":
        """Condense the modes out of (ne, 33, 33) element stiffness and factor the rest.

        Args:
            stiffness: of the elements, N/m.
            careful: factor in full precision.

        Raises:
            SingularOperator: the part can move without resistance.
        """
        nodal = 24
        coupling = stiffness[:, nodal:, :nodal]
        inverse = np.linalg.inv(stiffness[:, nodal:, nodal:])
        lift = inverse @ coupling
        condensed = stiffness[:, :nodal, :nodal] - coupling.transpose(0, 2, 1) @ lift
        values = np.bincount(
            self._slot, weights=condensed.reshape(-1)[self._kept], minlength=self._indices.size
        )
        size = self.free.size
        factor = self.factoriser.factor if careful else self.factoriser.factor_roughly
        lower = csc_matrix((values, self._indices, self._pointers), shape=(size, size))
        shape = (self.operator.elements * 3 * MODES, 3 * self.operator.nodes)
        lifting = csr_matrix((lift.reshape(-1), self._lift_columns, self._lift_pointers), shape)
        return CondensedOperator(
            free=self.free,
            nodes=self.operator.nodes,
            factor=factor(lower),
            inverse=np.asarray(inverse, dtype=float),
            lift=lifting,
            lift_transposed=csr_matrix(lifting.T),
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class CondensedOperator:
    """A factored stiffness on the free unknowns with the modes recovered element by element.

    Args:
        free: indices of the free unknowns among 3 n.
        nodes: number of mesh nodes n.
        factor: the factored condensed stiffness.
        inverse: (ne, 9, 9) inverse stiffness of each element's modes.
        lift, lift_transposed: sparse maps from nodal to mode amplitudes and back.
    """

    free: IntArray
    nodes: int
    factor: Factor
    inverse: Array
    lift: csr_matrix
    lift_transposed: csr_matrix

    def correct(self, residual: Array) -> Array:
        """Extended correction (rows, 3) that would balance the extended ``residual`` (rows, 3)."""
        nodal = residual[: self.nodes].reshape(-1)
        modal = residual[self.nodes :].reshape(-1)
        reduced = nodal - self.lift_transposed @ modal
        correction = np.zeros(residual.size)
        moved = correction[: 3 * self.nodes]
        moved[self.free] = self.factor.solve(reduced[self.free])
        own = (self.inverse @ modal.reshape(-1, 3 * MODES, 1)).reshape(-1)
        correction[3 * self.nodes :] = own - self.lift @ moved
        return correction.reshape(residual.shape)
