"""The strain operator: hexes with three vector incompatible modes, as one sparse gradient.

Each hex carries, beside its eight nodes, three modes (1 - xi_i^2) whose vector amplitudes are
treated like the displacements of three extra nodes of the element. They let the hex bend without
locking and shrink plastically without locking. Their gradient uses the Jacobian at the centre,
scaled by its determinant, so that a distorted patch still passes the patch test.

Source: R. L. Taylor, P. J. Beresford, E. L. Wilson, A non-conforming element for stress analysis,
Int. J. Numer. Meth. Eng. 10 (1976) 1211-1219.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from skfem import Basis, ElementHex1, MeshHex

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

POINTS = 8
"""Quadrature points of a hex."""
MODES = 3
"""Incompatible vector modes of a hex."""
LOCAL = 8 + MODES
"""Nodes of a hex, extra ones included."""


@dataclass(frozen=True, kw_only=True, eq=False)
class StrainOperator:
    """Gradient of a field on the nodes and extra nodes of a hex mesh.

    "Extended" fields have one row a mesh node, then three rows an element (its modes).

    Args:
        mesh: the hexes, m.
        gradient: sparse (ne * 8 * 3, n + 3 ne): extended field to derivatives at the points.
        weights: (ne * 8,) m3, quadrature weight times volume.
        local: (ne, 8, 3, 11) derivative of each local shape function at each point, 1/m.
    """

    mesh: MeshHex
    gradient: csr_matrix
    weights: Array
    local: Array
    transposed: csr_matrix = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "transposed", csr_matrix(self.gradient.T))

    @classmethod
    def on(cls, mesh: MeshHex) -> "StrainOperator":
        """Build the operator of ``mesh``.

        Example:
            >>> operator = StrainOperator.on(MeshHex())
            >>> round(float(operator.weights.sum()), 12)
            1.0
            >>> operator.gradient.shape
            (24, 11)
        """
        basis = Basis(mesh, ElementHex1(), intorder=3)
        count, n = mesh.t.shape[1], mesh.p.shape[1]
        local = np.empty((count, POINTS, 3, LOCAL))
        for a in range(8):
            local[..., a] = np.moveaxis(basis.basis[a][0].grad, 0, -1)
        centre = np.full((3, 1), 0.5)
        inverse = mesh.mapping().invDF(centre)[..., 0]  # (3, 3, ne): d xi_i / d x_j
        ratio = mesh.mapping().detDF(centre) / mesh.mapping().detDF(basis.X)  # (ne, points)
        for mode in range(MODES):
            along = -4.0 * (2.0 * basis.X[mode] - 1.0)  # d(1 - xi^2)/dX with xi = 2X - 1
            local[..., 8 + mode] = (
                along[None, :, None] * ratio[..., None] * inverse[mode].T[:, None, :]
            )
        columns = np.concatenate(
            (mesh.t.T, n + MODES * np.arange(count)[:, None] + np.arange(MODES)), axis=1
        )
        rows = count * POINTS * 3
        gradient = csr_matrix(
            (
                local.reshape(-1),
                np.repeat(columns, POINTS * 3, axis=0).reshape(-1),
                np.arange(0, rows * LOCAL + 1, LOCAL),
            ),
            shape=(rows, n + MODES * count),
        )
        return cls(mesh=mesh, gradient=gradient, weights=basis.dx.reshape(-1), local=local)

    @property
    def nodes(self) -> int:
        """Number of mesh nodes."""
        return int(self.mesh.p.shape[1])

    @property
    def elements(self) -> int:
        """Number of hexes."""
        return int(self.mesh.t.shape[1])

    @property
    def rows(self) -> int:
        """Number of rows of an extended field: n + 3 ne."""
        return self.nodes + MODES * self.elements

    def slopes(self, extended: Array) -> Array:
        """Gradient (3, 3, np), [j, i] = d u_i / d x_j, of an extended field (rows, 3)."""
        return np.ascontiguousarray((self.gradient @ extended).reshape(-1, 3, 3).transpose(1, 2, 0))

    def at_nodes(self, values: Array) -> Array:
        """Means (k, n) at the nodes of values (k, np) at the points of the hexes round them.

        Example:
            >>> operator = StrainOperator.on(MeshHex())
            >>> operator.at_nodes(np.full((1, 8), 3.0))[0].tolist() == [3.0] * 8
            True
        """
        corners = np.repeat(self.mesh.t.T, POINTS, axis=0).reshape(-1)
        shares = np.repeat(self.weights, 8)
        whole = np.bincount(corners, weights=shares, minlength=self.nodes)
        return np.array([
            np.bincount(corners, weights=shares * np.repeat(one, 8), minlength=self.nodes) / whole
            for one in values
        ])  # fmt: skip

    def forces(self, stress: Array, slopes: Array | None) -> Array:
        """Extended nodal forces (rows, 3) N of ``stress`` (6, np) Pa.

        With ``slopes`` the stress is the second Piola-Kirchhoff stress and the forces act on the
        deformed part; without, strain is small.
        """
        flux = np.empty((self.weights.size, 3, 3))
        weighted = stress * self.weights
        for j in range(3):
            for i in range(3):
                total = weighted[_INDEX[i][j]]
                if slopes is not None:
                    total = total + sum(slopes[k, i] * weighted[_INDEX[k][j]] for k in range(3))
                flux[:, j, i] = total
        return np.asarray(self.transposed @ flux.reshape(-1, 3))

    def stiffness(self, moduli: Array, slopes: Array | None, tension: Array | None = None) -> Array:
        """Element stiffness (ne, 33, 33) N/m, degrees of freedom node by node (x, y, z).

        Args:
            moduli: (np, 6, 6) Pa, symmetric.
            slopes: displacement gradient (3, 3, np) to linearise about; None: undeformed.
            tension: (6, np) Pa stress whose geometric stiffness is added; None: none.
        """
        result = np.empty((self.elements, 3 * LOCAL, 3 * LOCAL))
        chunk = 1024
        for start in range(0, self.elements, chunk):
            part = slice(start, min(start + chunk, self.elements))
            points = slice(part.start * POINTS, part.stop * POINTS)
            count = part.stop - part.start
            g = self.local[part].reshape(count * POINTS, 3, LOCAL)
            turn = np.eye(3)[None].repeat(count * POINTS, 0)
            if slopes is not None:
                turn = turn + slopes[:, :, points].transpose(2, 0, 1)  # [p, j, i] = F_ij
            rates = np.empty((count * POINTS, 6, LOCAL, 3))
            for row, (j, k) in enumerate(_PAIRS):
                rates[:, row] = g[:, j, :, None] * turn[:, k, None, :]
                if j != k:
                    rates[:, row] += g[:, k, :, None] * turn[:, j, None, :]
            b = rates.reshape(count * POINTS, 6, 3 * LOCAL)
            weighted = moduli[points] * self.weights[points, None, None]
            right = (weighted @ b).reshape(count, POINTS * 6, 3 * LOCAL)
            left = b.reshape(count, POINTS * 6, 3 * LOCAL).transpose(0, 2, 1)
            result[part] = left @ right
            if tension is not None:
                s = (tension[:, points] * self.weights[points])[np.array(_INDEX)]  # (3, 3, p)
                pulled = (s.transpose(2, 0, 1) @ g).reshape(count, POINTS * 3, LOCAL)
                scalar = g.reshape(count, POINTS * 3, LOCAL).transpose(0, 2, 1) @ pulled
                view = result[part].reshape(count, LOCAL, 3, LOCAL, 3)
                for i in range(3):
                    view[:, :, i, :, i] += scalar
        return result


def values_at_points(mesh: MeshHex) -> Array:
    """Values (8, 8) of the nodes' shape functions, [node, point] of any hex.

    Example:
        >>> values_at_points(MeshHex()).sum(axis=0).round(12).tolist() == [1.0] * 8
        True
    """
    basis = Basis(mesh, ElementHex1(), intorder=3, elements=np.array([0]))
    return np.stack([np.broadcast_to(basis.basis[a][0], basis.dx.shape)[0] for a in range(8)])


_INDEX = ((0, 3, 5), (3, 1, 4), (5, 4, 2))
_PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (2, 0))


def small_strain(slopes: Array) -> Array:
    """Strain (6, np), shear doubled, of a small displacement gradient (3, 3, np)."""
    return np.stack(
        [
            slopes[0, 0],
            slopes[1, 1],
            slopes[2, 2],
            slopes[0, 1] + slopes[1, 0],
            slopes[1, 2] + slopes[2, 1],
            slopes[2, 0] + slopes[0, 2],
        ]
    )


def green_lagrange_strain(slopes: Array) -> Array:
    """Green-Lagrange strain (6, np), shear doubled: rigid turns give none.

    Formula: E = (H + H^T + H H^T) / 2 with H[j, i] = d u_i / d x_j.

    Example:
        >>> turn = np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])  # 90 degrees
        >>> bool(abs(green_lagrange_strain((turn - np.eye(3))[..., None])).max() < 1e-15)
        True
    """
    strain = small_strain(slopes)
    for row, (j, k) in enumerate(_PAIRS):
        product = np.einsum("in,in->n", slopes[j], slopes[k])
        strain[row] += 0.5 * product if j == k else product
    return strain
