"""What an inherent strain does to a prismatic member: turn, shortening, twist, by its section.

Plane sections (E. Winkler, J. Duhamel; see B. A. Boley, J. H. Weiner, Theory of Thermal Stresses,
Wiley 1960, ch. 10, there for thermal strain) give the turn and the shortening exactly for every
member with statically determinate supports, whatever the shape of the strained part, because the
stress of an end force or end moment is the same in all sections (reciprocity). The same holds for
the twist with St Venant's stress of a torque.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_matrix, tril
from skfem import Basis, ElementHex1, ElementQuad2, LinearForm, MeshHex, MeshQuad
from skfem.models.poisson import laplace

from flamefe.basics.errors import MeshError, OutOfRange
from flamefe.basics.linear import Factoriser
from flamefe.straining.element import POINTS

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class MemberShrinkage:
    """What an inherent strain does to a prismatic member of one metal; x along it.

    Args:
        rotation_y: rad, turn of the end against the start, positive when the top (+z) shortens.
        rotation_z: rad, positive when the side of large y shortens.
        shortening: m, at the centroid, positive = shorter.
        twist: rad, of the end's section against the start's about +x, right-handed.
        middle: m, x at which the shrinkage sits, weighted by its size.
        extent: m, length of an even spread with the same second moment along x.
    """

    rotation_y: float
    rotation_z: float
    shortening: float
    twist: float
    middle: float
    extent: float

    def minus(self, other: "MemberShrinkage") -> "MemberShrinkage":
        """What came on since another state of the same member; its place is this one's.

        Args:
            other: the state before.
        """
        return MemberShrinkage(
            rotation_y=self.rotation_y - other.rotation_y,
            rotation_z=self.rotation_z - other.rotation_z,
            shortening=self.shortening - other.shortening,
            twist=self.twist - other.twist,
            middle=self.middle,
            extent=self.extent,
        )


class Prism:
    """A prismatic member as it is meshed: its section, and what strains in it do.

    Args:
        mesh: hexes in slices along x that repeat one section, m.

    Raises:
        MeshError: the mesh is no such prism.

    Example:
        >>> from flamefe.workpiece.mesh import box_mesh
        >>> bar = Prism(box_mesh(np.linspace(0, 0.6, 7), [0, 0.01], np.linspace(0, 0.1, 5)))
        >>> round(1e4 * bar.area, 9), round(1e8 * float(bar.second_moments[0, 0]), 6)
        (10.0, 83.333333)
    """

    def __init__(self, mesh: MeshHex) -> None:
        self.mesh = mesh
        basis = Basis(mesh, ElementHex1(), intorder=3)
        self.places: Array = np.asarray(basis.global_coordinates()).transpose(1, 2, 0)
        self.weights: Array = np.asarray(basis.dx)
        x = mesh.p[0]
        self.length = float(np.ptp(x))
        self._section, self._quad = _section_of(mesh)
        total = float(self.weights.sum())
        self.area = total / self.length
        levers = self.places[..., [2, 1]]
        self.centroid: Array = np.einsum("eq,eqi->i", self.weights, levers) / total
        self.levers: Array = levers - self.centroid
        self.second_moments: Array = (
            np.einsum("eq,eqi,eqj->ij", self.weights, self.levers, self.levers) / self.length
        )

    def shrinkage(self, strain: Array) -> MemberShrinkage:
        """Turn, shortening and twist by an inherent strain.

        With section strain e0 + b z + a y: A e0 = int e dV,
        [Iyy Iyz; Iyz Izz] (b, a) = (int e z dV, int e y dV); rotation_y = -b, rotation_z = -a,
        shortening = -e0; twist = (1/J) int (p,y - z) g_xy + (p,z + y) g_xz dV, p the warping.

        Args:
            strain: (ne, 8, 6), contraction negative, shear doubled.

        Raises:
            OutOfRange: the shape doesn't fit the mesh.
        """
        values = np.asarray(strain, dtype=float)
        if values.shape != (*self.weights.shape, 6):
            raise OutOfRange(
                f"Strain of shape {values.shape} on a mesh of {len(self.weights)} hexes; needed: "
                f"({len(self.weights)}, {POINTS}, 6)."
            )
        along = self.weights * values[..., 0]
        bent = np.linalg.solve(self.second_moments, np.einsum("eq,eqi->i", along, self.levers))
        middle, extent = self._spread(values)
        twist = 0.0
        if np.any(values[..., [3, 5]] != 0.0):
            work, constant = self._twisting()
            shear = np.stack((values[..., 3], values[..., 5]), axis=-1)
            twist = float(np.einsum("eq,eqi,eqi->", self.weights, work, shear)) / constant
        return MemberShrinkage(
            rotation_y=-float(bent[0]),
            rotation_z=-float(bent[1]),
            shortening=-float(along.sum()) / self.area,
            twist=twist,
            middle=middle,
            extent=extent,
        )

    def _spread(self, strain: Array) -> tuple[float, float]:
        size = self.weights * np.abs(strain[..., 0])
        total = float(size.sum())
        x = self.places[..., 0]
        if total == 0.0:
            return float(self.mesh.p[0].min() + 0.5 * self.length), 0.0
        middle = float((size * x).sum()) / total
        return middle, float(np.sqrt(12.0 * (size * (x - middle) ** 2).sum() / total))

    def _twisting(self) -> tuple[Array, float]:
        """(ne, 8, 2) shears xy and zx by a unit of twist a length, and the torsion constant."""
        basis = Basis(self._section, ElementQuad2())
        load = LinearForm(lambda v, w: w.x[1] * v.grad[0] - w.x[0] * v.grad[1]).assemble(basis)
        free = csc_matrix(laplace.assemble(basis))[1:, 1:]
        warping = np.zeros(load.size)
        warping[1:] = Factoriser().factor(tril(free, format="csc")).solve(load[1:])
        shears, where, _ = _shears_of(Basis(self._section, ElementQuad2(), intorder=3), warping)
        exact, _, dx = _shears_of(basis, warping)
        constant = float(np.einsum("eqi,eqi,eq->", exact, exact, dx))
        quads = self._quad
        away = self.places[:, :, None, 1:] - where[quads][:, None]  # (ne, 8, 4, 2)
        nearest = np.argmin((away**2).sum(axis=-1), axis=-1)
        return shears[quads[:, None], nearest], constant


def _shears_of(basis: Basis, warping: Array) -> tuple[Array, Array, Array]:
    """Shears (m, q, 2) of a unit twist at the quadrature points, their y, z, their weights."""
    slope = np.asarray(basis.interpolate(warping).grad)
    where = np.asarray(basis.global_coordinates())
    shears = np.stack((slope[0] - where[1], slope[1] + where[0]), axis=-1)
    return shears, np.moveaxis(where, 0, -1), np.asarray(basis.dx)


def _section_of(mesh: MeshHex) -> tuple[MeshQuad, IntArray]:
    """The section as quads in y and z, and the quad that each hex grows from."""
    corners = mesh.p[:, mesh.t]  # (3, 8, ne)
    order = np.argsort(corners[0], axis=0, kind="stable")
    grain = 1e-7 * float(np.ptp(mesh.p, axis=1).max())
    x = np.take_along_axis(corners[0], order, axis=0)
    level = np.ptp(x[:4], axis=0).max() < 10 * grain and np.ptp(x[4:], axis=0).max() < 10 * grain
    keys = np.round(mesh.p[1:].T / grain).astype(np.int64)
    unique, number = np.unique(keys, axis=0, return_inverse=True)
    number = number.reshape(-1)
    low = number[np.take_along_axis(mesh.t, order[:4], axis=0)].T
    high = number[np.take_along_axis(mesh.t, order[4:], axis=0)].T
    same = level and np.array_equal(np.sort(low, axis=1), np.sort(high, axis=1))
    quads, quad = np.unique(np.sort(low, axis=1), axis=0, return_inverse=True)
    if not same or low.shape[0] % len(quads):
        raise MeshError(
            "The part is no prism along x: its hexes don't repeat one section from slice to "
            "slice. Take the elastic solve for parts of other shapes."
        )
    points = np.empty((len(unique), 2))
    points[number] = mesh.p[1:].T
    middle = points[quads].mean(axis=1, keepdims=True)
    away = points[quads] - middle
    turn = np.argsort(np.arctan2(away[..., 1], away[..., 0]), axis=1)
    ring = np.take_along_axis(quads, turn, axis=1)
    return MeshQuad(points.T.copy(), ring.T.copy()), np.asarray(quad.reshape(-1), dtype=np.int64)
