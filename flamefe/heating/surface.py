"""Faces of the part as heat sees them: quadrature points, and what they lose to the air."""

from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from skfem import ElementHex1, FacetBasis, MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.basics.table import Table
from flamefe.workpiece.face_map import FaceMap

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

STEFAN_BOLTZMANN = 5.670374419e-8
"""W/(m2 K4), CODATA 2018, exact."""
ZERO_CELSIUS = 273.15
"""K."""


@dataclass(frozen=True, kw_only=True, eq=False)
class FacePoints:
    """Quadrature points of some faces of a mesh.

    Args:
        nodes: number of mesh nodes n.
        points: (k, 3) m.
        areas: (k,) m2 that each point stands for.
        values: sparse (k, n), from nodal values to points.
        normals: (k, 3), outward.
        period: length after which the second coordinate comes round to the same place, m; None:
            never. Of a face that was rolled out.
    """

    nodes: int
    points: Array
    areas: Array
    normals: Array
    values: csr_matrix
    period: float | None = None
    _back: csr_matrix = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_back", csr_matrix(self.values.T))

    @classmethod
    def of(cls, mesh: MeshHex, facets: IntArray, *, order: int = 3) -> "FacePoints":
        """Points of ``facets`` (indices), exact for polynomials of ``order`` on flat faces.

        Example:
            >>> mesh = MeshHex()
            >>> face = FacePoints.of(mesh, mesh.boundary_facets())
            >>> round(float(face.areas.sum()), 12)
            6.0
        """
        basis = FacetBasis(mesh, ElementHex1(), facets=np.asarray(facets), intorder=order)
        count = basis.dx.size
        corners = mesh.t[:, basis.tind]
        shape = np.stack([np.broadcast_to(basis.basis[a][0], basis.dx.shape) for a in range(8)])
        rows = np.broadcast_to(np.arange(count).reshape(basis.dx.shape), shape.shape)
        columns = np.broadcast_to(corners[:, :, None], shape.shape)
        keep = np.abs(shape) > 1e-14
        values = csr_matrix(
            (shape[keep], (rows[keep], columns[keep])), shape=(count, mesh.p.shape[1])
        )
        places = np.asarray(basis.global_coordinates()).reshape(3, -1).T
        return cls(
            nodes=mesh.p.shape[1],
            points=np.ascontiguousarray(places),
            areas=basis.dx.reshape(-1).copy(),
            normals=np.ascontiguousarray(
                np.broadcast_to(np.asarray(basis.normals), (3, *basis.dx.shape)).reshape(3, -1).T
            ),
            values=values,
        )

    def rolled_out(self, face: FaceMap) -> "FacePoints":
        """The same points on the face rolled out flat: u, v and 0 for x, y and z.

        A torch whose way is given in these coordinates then follows the face, and its flame spreads
        along it, on a curved face too, and heats no other side of the part.

        Args:
            face: the face that the points lie on.

        Example:
            >>> from flamefe.workpiece.extrude import extruded
            >>> from flamefe.workpiece.rolled_face import RolledFace
            >>> from flamefe.workpiece.section_shapes import round_tube
            >>> mesh = extruded(
            ...     round_tube(outer_diameter=0.1, thickness=0.01, size=0.02), [0.0, 0.5, 1.0]
            ... ).mesh
            >>> outside = mesh.boundaries["outside"]
            >>> wall = RolledFace.of_mesh(mesh, outside)
            >>> flat = FacePoints.of(mesh, outside).rolled_out(wall)
            >>> float(abs(flat.points[:, 2]).max()), bool(flat.points[:, 1].max() < wall.period)
            (0.0, True)
        """
        flat = np.column_stack((face.back(self.points), np.zeros(len(self.points))))
        normals = np.tile([0.0, 0.0, face.handed], (len(flat), 1))
        return replace(self, points=flat, normals=normals, period=face.period)

    def offsets(self, place: Array) -> Array:
        """Way from a place (3,) m to each point, the short way round on a closed face, (k, 3) m."""
        offset = self.points - place
        if self.period is not None:
            offset[:, 1] -= self.period * np.round(offset[:, 1] / self.period)
        return np.asarray(offset)

    def gather(self, flux: Array) -> Array:
        """Nodal powers (n,) W of a flux (k,) W/m2 at the points."""
        return np.asarray(self._back @ (flux * self.areas))

    def conductance(self, coefficient: Array) -> csr_matrix:
        """Sparse (n, n) W/K of a film coefficient (k,) W/(m2 K) at the points."""
        weighted = self.values.multiply((coefficient * self.areas)[:, None])
        return csr_matrix(self._back @ weighted)


class Exchange(Protocol):
    """Something that takes heat from the part's faces."""

    def loss(self, temperature: Array) -> Array:
        """Nodal losses (n,) W at nodal temperatures (n,) C; below 0 where heat comes in."""
        ...

    def slope(self, temperature: Array) -> csr_matrix:
        """Derivative of the losses by nodal temperature, sparse (n, n) W/K."""
        ...


@dataclass(frozen=True, kw_only=True, eq=False)
class GasFilm:
    """Gas or liquid over faces, by place: q = h (T - Tg).

    Args:
        face: quadrature points of the faces.
        coefficient: (k,) h, W/(m2 K).
        gas: (k,) Tg, C.
        by_surface: factor on h against surface temperature; None: 1.
    """

    face: FacePoints
    coefficient: Array
    gas: Array
    by_surface: Table | None = None

    def loss(self, temperature: Array) -> Array:
        """Nodal losses (n,) W at nodal temperatures (n,) C; below 0 where the gas heats."""
        at = self.face.values @ temperature
        return self.face.gather(self._film(at) * (at - self.gas))

    def slope(self, temperature: Array) -> csr_matrix:
        """Derivative of the losses by nodal temperature, sparse (n, n) W/K.

        Where a film falls so steeply that a hotter face loses less, 0 stands in.
        """
        at = self.face.values @ temperature
        slope = self._film(at)
        if self.by_surface is not None:
            rising = self.coefficient * self.by_surface.slope(at)
            slope = np.maximum(slope + rising * (at - self.gas), 0.0)
        return self.face.conductance(slope)

    def _film(self, at: Array) -> Array:
        if self.by_surface is None:
            return self.coefficient
        return np.asarray(self.coefficient * self.by_surface(at))


@dataclass(frozen=True, kw_only=True, eq=False)
class Cooling:
    """What faces lose by convection and radiation.

    Formula: q = h (T - Ta) + e s ((T + 273.15)^4 - (Ta + 273.15)^4).

    Args:
        face: quadrature points of the faces.
        film: h, W/(m2 K); a number, or a table against the surface's temperature.
        emissivity: e, 0 to 1.
        ambient: Ta, C.

    Raises:
        OutOfRange: film below 0 or emissivity outside 0 to 1.
    """

    face: FacePoints
    film: float | Table
    emissivity: float
    ambient: float

    def __post_init__(self) -> None:
        lowest = min(self.film.values) if isinstance(self.film, Table) else self.film
        if not (lowest >= 0.0 and 0.0 <= self.emissivity <= 1.0):
            raise OutOfRange(
                f"A face has a film coefficient of {lowest:g} W/(m2 K) and an emissivity of "
                f"{self.emissivity:g}; allowed: 0 or more, and 0 to 1."
            )

    def loss(self, temperature: Array) -> Array:
        """Nodal losses (n,) W at nodal temperatures (n,) C."""
        at = self.face.values @ temperature
        return self.face.gather(self._flux(at))

    def slope(self, temperature: Array) -> csr_matrix:
        """Derivative of the losses by nodal temperature, sparse (n, n) W/K."""
        at = self.face.values @ temperature
        radiative = 4.0 * self.emissivity * STEFAN_BOLTZMANN * (at + ZERO_CELSIUS) ** 3
        return self.face.conductance(self._film(at) + radiative)

    def _flux(self, at: Array) -> Array:
        radiative = (at + ZERO_CELSIUS) ** 4 - (self.ambient + ZERO_CELSIUS) ** 4
        return np.asarray(
            self._film(at) * (at - self.ambient) + self.emissivity * STEFAN_BOLTZMANN * radiative
        )

    def _film(self, at: Array) -> Array:
        if isinstance(self.film, Table):
            return self.film(at)
        return np.full(at.shape, self.film)
