"""A meshed part and what each of its hexes is made of."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementHex1, MeshHex

from flamefe.basics.errors import MaterialError, OutOfRange
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

POINTS_OF_A_HEX = 8


@dataclass(frozen=True, kw_only=True, eq=False)
class Body:
    """A mesh with named faces, its materials, and which hex is made of which.

    Args:
        mesh: hexes, m; faces named in ``mesh.boundaries``.
        materials: one or several.
        owner: (ne,) index into ``materials``; all of the first when left out.
        node_sets: named nodes, beside the named faces.

    Raises:
        MaterialError: no material, or an owner that does not exist.

    Example:
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex(), materials=(material("S355"),))
        >>> round(body.mass, 6)
        7850.0
    """

    mesh: MeshHex
    materials: tuple[Material, ...]
    owner: IntArray | None = None
    node_sets: dict[str, IntArray] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self.materials:
            raise MaterialError("A part needs at least one material; none was given.")
        if self.owner is not None and (
            self.owner.shape != (self.mesh.t.shape[1],)
            or self.owner.min() < 0
            or self.owner.max() >= len(self.materials)
        ):
            raise MaterialError(
                f"Every hex must own one of the {len(self.materials)} materials: "
                f"owner must be {self.mesh.t.shape[1]} indices from 0."
            )

    @property
    def points(self) -> Array:
        """Node coordinates, (n, 3) m."""
        return np.asarray(self.mesh.p.T)

    @property
    def mass(self) -> float:
        """Mass, kg."""
        volumes = Basis(self.mesh, ElementHex1(), intorder=3).dx.sum(axis=1)
        return float(np.sum(volumes * self.per_hex(lambda m: m.density)))

    def per_hex(self, value: Callable[[Material], float]) -> Array:
        """One number a hex, (ne,), from one number a material."""
        numbers = np.array([value(m) for m in self.materials])
        if self.owner is None:
            return np.full(self.mesh.t.shape[1], numbers[0])
        return np.asarray(numbers[self.owner])

    def at_points(self, value: Callable[[Material, Array], Array], temperature: Array) -> Array:
        """A property at quadrature points, (ne * 8,), from ``value(material, temperature)``."""
        if self.owner is None:
            return value(self.materials[0], temperature)
        owner = np.repeat(self.owner, POINTS_OF_A_HEX)
        result = np.empty_like(temperature)
        for index, material in enumerate(self.materials):
            mine = owner == index
            result[mine] = value(material, temperature[mine])
        return result

    def nodes_of(self, name: str) -> IntArray:
        """Nodes of a named face or node set.

        Raises:
            OutOfRange: there is no such face or set.
        """
        boundaries = self.mesh.boundaries or {}
        if name in boundaries:
            return np.asarray(np.unique(self.mesh.facets[:, boundaries[name]]))
        if name in self.node_sets:
            return self.node_sets[name]
        known = ", ".join(sorted({*boundaries, *self.node_sets})) or "none"
        raise OutOfRange(f"There is no face or node set {name!r}; there are: {known}.")
