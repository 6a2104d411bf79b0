"""Shrinkage as lumps: integrals of inherent strain at places.

A lump is the integral of an inherent strain over a small volume, at the volume's place. Lumps are
put on a mesh by `Carrier`.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import Basis, ElementHex1, MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.straining.element import POINTS

Array = NDArray[np.float64]


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
