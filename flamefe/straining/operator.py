"""The factored operator that turns a residual into a correction, incompatible modes condensed."""

from dataclasses import dataclass, field

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
        places: sparse (m, 3 n), movements at which artificial springs are put in, so that a part
            held by one-sided contact alone can be factored; the contact problem takes them out.
        more: rows, columns and values (lower triangle of 3 n, N/m) of what resists beside the
            hexes.
    """

    def __init__(
        self,
        operator: StrainOperator,
        fixed: NDArray[np.bool_],
        solver: str | None = None,
        places: csr_matrix | None = None,
        more: tuple[IntArray, IntArray, Array] | None = None,
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
        self._more = np.zeros(0)
        if more is not None:
            own, other = number[more[0]], number[more[1]]
            both = (own >= 0) & (other >= 0)
            self._more = more[2][both]
            low, high = np.maximum(own, other)[both], np.minimum(own, other)[both]
            keys = np.concatenate((keys, high * self.free.size + low))
        self._places = None if places is None else csr_matrix(places[:, self.free])
        if self._places is not None:
            self._pairs = _pairs(self._places)
            keys = np.concatenate((keys, self._pairs.columns * self.free.size + self._pairs.rows))
        unique, self._slot = np.unique(keys, return_inverse=True)
        self._indices = (unique % self.free.size).astype(np.int32)
        counts = np.bincount(unique // self.free.size, minlength=self.free.size)
        self._pointers = np.concatenate(([0], np.cumsum(counts))).astype(np.int32)
        self._lift_columns = np.repeat(dofs, 3 * MODES, axis=0).reshape(-1)
        self._lift_pointers = np.arange(0, operator.elements * 3 * MODES * 24 + 1, 24)
        self.factoriser = Factoriser(solver)

    def condense(
        self, stiffness: Array, *, careful: bool = False, brace: Array | None = None
    ) -> "CondensedOperator":
        """Condense the modes out of (ne, 33, 33) element stiffness and factor the rest.

        Args:
            stiffness: of the elements, N/m.
            careful: factor in full precision.
            brace: (m,) N/m, stiffness of the places instead of that of the artificial springs;
                infinite: as stiff as does no harm.

        Raises:
            SingularOperator: the part can move without resistance.
        """
        condensed, inverse, lift = _without_modes(stiffness)
        weights = np.concatenate((condensed.reshape(-1)[self._kept], self._more))
        springs = np.zeros(0)
        if self._places is not None:
            springs = self._springs(weights)
            if brace is not None:
                springs = np.clip(brace, SLACK * springs, STIFF * springs)
            weights = np.concatenate((weights, self._pairs.values * springs[self._pairs.places]))
        values = np.bincount(self._slot, weights=weights, minlength=self._indices.size)
        size = self.free.size
        factor = self.factoriser.factor if careful else self.factoriser.factor_roughly
        lower = csc_matrix((values, self._indices, self._pointers), shape=(size, size))
        shape = (self.operator.elements * 3 * MODES, 3 * self.operator.nodes)
        lifting = csr_matrix((lift.reshape(-1), self._lift_columns, self._lift_pointers), shape)
        return CondensedOperator(
            free=self.free,
            nodes=self.operator.nodes,
            factor=factor(lower),
            inverse=inverse,
            lift=lifting,
            lift_transposed=csr_matrix(lifting.T),
            springs=springs,
        )

    def _springs(self, weights: Array) -> Array:
        """Artificial springs, N/m: a small share of the stiffness of the nodes they sit on."""
        assert self._places is not None
        size = self.free.size
        start, slots = self._pointers[:-1], self._slot[: weights.size]
        values = np.bincount(slots, weights=weights, minlength=self._indices.size)
        diagonal = np.where(self._indices[start] == np.arange(size), values[start], 0.0)
        parts = abs(self._places)
        total = np.maximum(np.asarray(parts.sum(axis=1)).reshape(-1), 1e-300)
        return np.asarray(SPRING_SHARE * (parts @ diagonal) / total)


def _without_modes(stiffness: Array) -> tuple[Array, Array, Array]:
    """Condensed (ne, 24, 24), inverse of the modes' block, and its product with the coupling."""
    nodal = 24
    coupling = stiffness[:, nodal:, :nodal]
    inverse = np.asarray(np.linalg.inv(stiffness[:, nodal:, nodal:]), dtype=float)
    lift = inverse @ coupling
    return stiffness[:, :nodal, :nodal] - coupling.transpose(0, 2, 1) @ lift, inverse, lift


def assembled(operator: StrainOperator, stiffness: Array) -> csr_matrix:
    """The whole stiffness (3 n, 3 n) N/m of element stiffness (ne, 33, 33), modes condensed out."""
    condensed = _without_modes(stiffness)[0]
    dofs = (3 * operator.mesh.t.T[:, :, None] + np.arange(3)).reshape(-1, 24).astype(np.int32)
    rows, columns = np.repeat(dofs, 24, axis=1).reshape(-1), np.tile(dofs, (1, 24)).reshape(-1)
    return csr_matrix((condensed.reshape(-1), (rows, columns)), shape=(3 * operator.nodes,) * 2)


STIFF = 1e6
"""Stiffness of a rigid place by that of its artificial spring."""
SLACK = 1e-6
"""Stiffness of an open place by that of its artificial spring: a loose part stays."""
SPRING_SHARE = 1e-3
"""Artificial springs by the stiffness of the nodes they sit on."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _Pairs:
    """Entries of the lower triangle that the springs of places fill."""

    rows: IntArray
    columns: IntArray
    values: Array
    places: IntArray


def _pairs(places: csr_matrix) -> _Pairs:
    """Every product of two entries of one row of ``places``, lower triangle."""
    found: list[tuple[Array, ...]] = []
    for number in range(places.shape[0]):
        part = slice(places.indptr[number], places.indptr[number + 1])
        index, value = places.indices[part].astype(np.int64), places.data[part]
        rows, columns = np.meshgrid(index, index, indexing="ij")
        lower = rows >= columns
        product = np.outer(value, value)[lower]
        found.append((rows[lower], columns[lower], product, np.full(product.size, number)))
    rows, columns, values, owner = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return _Pairs(rows=rows, columns=columns, values=values, places=owner)


@dataclass(frozen=True, kw_only=True, eq=False)
class CondensedOperator:
    """A factored stiffness on the free unknowns with the modes recovered element by element.

    Args:
        free: indices of the free unknowns among 3 n.
        nodes: number of mesh nodes n.
        factor: the factored condensed stiffness.
        inverse: (ne, 9, 9) inverse stiffness of each element's modes.
        lift, lift_transposed: sparse maps from nodal to mode amplitudes and back.
        springs: (m,) N/m, artificial springs at the places of devices.
    """

    free: IntArray
    nodes: int
    factor: Factor
    inverse: Array
    lift: csr_matrix
    lift_transposed: csr_matrix
    springs: Array = field(default_factory=lambda: np.zeros(0))

    def following(self, moved: Array) -> Array:
        """Extended field (rows, 3) of free unknowns ``moved``, its modes following unloaded."""
        nodal = np.zeros(3 * self.nodes)
        nodal[self.free] = moved
        return np.concatenate((nodal, -(self.lift @ nodal))).reshape(-1, 3)

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
