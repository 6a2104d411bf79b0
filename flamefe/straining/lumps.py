"""Shrinkage as lumps: integrals of inherent strain at places, put on any mesh without loss.

A lump is the integral of an inherent strain over a small volume, at the volume's place. It is put
on the eight quadrature points of the hex that holds it, by the weights of the trilinear
interpolation between them, so that every virtual strain which is trilinear in the hex does the
same work on the points as on the lump. Hence the mesh carries the strain's resultants (forces)
and its first moments (moments) exactly, however coarse it is.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import Basis, ElementHex1, MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.straining.element import POINTS

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

_CHUNK = 2_000_000
_STEPS = 12
_CORNERS = np.array(ElementHex1().doflocs)


@dataclass(frozen=True, kw_only=True, eq=False)
class Lumps:
    """Integrals of an inherent strain at places.

    Args:
        places: (k, 3) m.
        strains: (k, 6) m3, integrals of xx, yy, zz, xy, yz, zx over the volume of each lump,
            shear doubled, contraction negative.

    Raises:
        OutOfRange: shapes don't fit, or a value is no number.

    Example:
        >>> one = Lumps(places=[[0, 0, 1.0]], strains=[[-2e-9, 0, 0, 0, 0, 0]])
        >>> one.total.tolist()[0], one.moment([0, 0, 1.0]).tolist()[0]
        (-2e-09, -2e-09)
    """

    places: Array
    strains: Array

    def __post_init__(self) -> None:
        for name in ("places", "strains"):
            object.__setattr__(self, name, np.array(getattr(self, name), dtype=float))
        count = len(self.places)
        if self.places.shape != (count, 3) or self.strains.shape != (count, 6):
            raise OutOfRange(
                f"Lumps at places of shape {self.places.shape} with strains of shape "
                f"{self.strains.shape}; needed: (k, 3) and (k, 6)."
            )
        if not (np.isfinite(self.places).all() and np.isfinite(self.strains).all()):
            raise OutOfRange("Lumps hold values that are no numbers.")

    @property
    def total(self) -> Array:
        """(6,) m3, the integral of the strain over the whole volume."""
        return np.asarray(self.strains.sum(axis=0))

    def moment(self, lever: ArrayLike, origin: ArrayLike = (0.0, 0.0, 0.0)) -> Array:
        """(6,) m4, integral of the strain times its lever (place - origin) . lever.

        Args:
            lever: (3,) direction in which the lever counts.
            origin: (3,) m.
        """
        away = (self.places - np.asarray(origin, float)) @ np.asarray(lever, float)
        return np.asarray(away @ self.strains)

    def scaled(self, factor: float) -> "Lumps":
        """The same lumps, their strains times a factor.

        Args:
            factor: any number.
        """
        return Lumps(places=self.places, strains=factor * self.strains)

    @staticmethod
    def together(parts: Iterable["Lumps"]) -> "Lumps":
        """All lumps of several heats: their shrinkages add up.

        Args:
            parts: one or more.
        """
        kept = list(parts)
        return Lumps(
            places=np.concatenate([np.zeros((0, 3)), *(part.places for part in kept)]),
            strains=np.concatenate([np.zeros((0, 6)), *(part.strains for part in kept)]),
        )


def lumps_of(mesh: MeshHex, strain: Array) -> Lumps:
    """Lumps of an inherent strain that stands at the quadrature points of a mesh.

    Args:
        mesh: hexes, m.
        strain: (ne, 8, 6), for instance the plastic strain of an end state.

    Raises:
        OutOfRange: the shape doesn't fit the mesh.

    Example:
        >>> strain = np.zeros((1, 8, 6))
        >>> strain[..., 0] = -1e-3
        >>> float(lumps_of(MeshHex(), strain).total[0])
        -0.001
    """
    count = mesh.t.shape[1]
    values = np.asarray(strain, dtype=float)
    if values.shape != (count, POINTS, 6):
        raise OutOfRange(
            f"Strain of shape {values.shape} on a mesh of {count} hexes; needed: "
            f"({count}, {POINTS}, 6)."
        )
    basis = Basis(mesh, ElementHex1(), intorder=3)
    where = np.asarray(basis.global_coordinates()).reshape(3, -1).T
    flat = values.reshape(-1, 6)
    used = np.any(flat != 0.0, axis=1)
    weight = np.asarray(basis.dx).reshape(-1, 1)
    return Lumps(places=where[used], strains=(flat * weight)[used])


class Carrier:
    """A mesh that takes lumps.

    Args:
        mesh: hexes, m.

    Example:
        >>> carrier = Carrier(MeshHex().refined(1))
        >>> lump = Lumps(places=[[0.3, 0.2, 0.9]], strains=[[-1e-6, 0, 0, 0, 0, 0]])
        >>> field = carrier.spread(lump)
        >>> back = lumps_of(carrier.mesh, field.T.reshape(-1, 8, 6))
        >>> bool(np.allclose(back.total, lump.total, atol=1e-18))
        True
        >>> bool(np.allclose(back.moment([0, 0, 1.0]), lump.moment([0, 0, 1.0]), atol=1e-18))
        True
    """

    def __init__(self, mesh: MeshHex) -> None:
        self.mesh = mesh
        basis = Basis(mesh, ElementHex1(), intorder=3)
        self.weights: Array = np.asarray(basis.dx)
        self.gauss: Array = np.asarray(basis.X)
        corners = mesh.p[:, mesh.t]  # (3, 8, ne)
        self._corners: Array = np.ascontiguousarray(corners.transpose(2, 1, 0))
        self._low: Array = corners.min(axis=1).T
        self._high: Array = corners.max(axis=1).T

    def spread(self, lumps: Lumps, *, slack: float = 1e-6) -> Array:
        """Inherent strain (6, ne * 8) at the quadrature points that stands for the lumps.

        Args:
            lumps: to be put on the mesh.
            slack: m by which a lump may lie beyond the mesh; it is then moved onto it.

        Raises:
            OutOfRange: a lump lies farther off the mesh.
        """
        hexes, local = self.find(lumps.places, slack=slack)
        share = np.ones((len(hexes), POINTS))
        for axis in range(3):
            here = self.gauss[axis]
            share *= (local[:, axis, None] - (1.0 - here)) / (2.0 * here - 1.0)
        field = np.zeros((self.mesh.t.shape[1], POINTS, 6))
        np.add.at(field, hexes, share[:, :, None] * lumps.strains[:, None, :])
        field /= self.weights[:, :, None]
        return np.ascontiguousarray(field.reshape(-1, 6).T)

    def find(self, places: Array, *, slack: float = 1e-6) -> tuple[IntArray, Array]:
        """The hex of each place and where in it.

        Args:
            places: (k, 3) m.
            slack: m by which a place may lie beyond the mesh.

        Returns:
            Hexes (k,) and coordinates in them (k, 3), 0 to 1; of a place beyond the mesh those of
            the nearest place on it.

        Raises:
            OutOfRange: a place lies farther off the mesh.
        """
        points = np.asarray(places, dtype=float).reshape(-1, 3)
        step = max(1, _CHUNK // max(1, self.mesh.t.shape[1]))
        owners: list[IntArray] = []
        inside: list[Array] = []
        for start in range(0, len(points), step):
            found = self._find(points[start : start + step], slack)
            owners.append(found[0])
            inside.append(found[1])
        if not owners:
            return np.zeros(0, dtype=np.int64), np.zeros((0, 3))
        return np.concatenate(owners), np.concatenate(inside)

    def _find(self, points: Array, slack: float) -> tuple[IntArray, Array]:
        near = np.ones((len(points), self._low.shape[0]), dtype=bool)
        for axis in range(3):
            value = points[:, axis, None]
            near &= (value >= self._low[:, axis] - slack) & (value <= self._high[:, axis] + slack)
        which, hexes = np.nonzero(near)
        local = np.clip(self._inverse(points[which], hexes), 0.0, 1.0)
        off = np.linalg.norm(self._place(hexes, local) - points[which], axis=1)
        order = np.lexsort((off, which))
        first = np.unique(which[order], return_index=True)[1]
        best = order[first]
        far = np.ones(len(points), dtype=bool)
        far[which[best]] = off[best] > slack * (1.0 + 1e-9) + 1e-12
        if far.any():
            x, y, z = 1e3 * points[int(np.flatnonzero(far)[0])]
            raise OutOfRange(
                f"{int(far.sum())} places of heat lie off the workpiece, the first at "
                f"({x:.4g}, {y:.4g}, {z:.4g}) mm; move the heat, or shorten it at the edge."
            )
        return np.asarray(hexes[best], dtype=np.int64), local[best]

    def _inverse(self, points: Array, hexes: IntArray) -> Array:
        """Coordinates in the hexes by Newton's method, (m, 3)."""
        local = np.full(points.shape, 0.5)
        for _ in range(_STEPS):
            off = points - self._place(hexes, local)
            change = np.linalg.solve(self._slope(hexes, local), off[..., None])[..., 0]
            local = np.clip(local + change, -1.0, 2.0)
            if np.abs(change).max(initial=0.0) < 1e-14:
                break
        return local

    def _place(self, hexes: IntArray, local: Array) -> Array:
        return np.asarray(np.einsum("ma,mai->mi", shares_of(local), self._corners[hexes]))

    def _slope(self, hexes: IntArray, local: Array) -> Array:
        """d place_i / d local_j, (m, 3, 3)."""
        factors = _factors(local)
        slopes = np.empty((len(local), 8, 3))
        for j in range(3):
            sign = np.where(_CORNERS[:, j] > 0.5, 1.0, -1.0)
            others = [factors[:, :, i] for i in range(3) if i != j]
            slopes[:, :, j] = sign * others[0] * others[1]
        return np.asarray(np.einsum("maj,mai->mij", slopes, self._corners[hexes]))


def _factors(local: Array) -> Array:
    """(m, 8, 3) one-dimensional factors of the shape functions."""
    high = _CORNERS[None] > 0.5
    return np.where(high, local[:, None, :], 1.0 - local[:, None, :])


def shares_of(local: Array) -> Array:
    """Shape functions (m, 8) of a hex at coordinates (m, 3) in it, 0 to 1.

    Args:
        local: coordinates.

    Example:
        >>> shares_of(np.full((1, 3), 0.5))[0, :3].tolist()
        [0.125, 0.125, 0.125]
    """
    return np.asarray(_factors(np.asarray(local, dtype=float)).prod(axis=2))
