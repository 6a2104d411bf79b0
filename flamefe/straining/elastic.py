"""A cold elastic part that answers to shrinkage: factored once, solved for each heat."""

import numpy as np
from numpy.typing import NDArray

from flamefe.straining.carrier import Carrier, shares_of
from flamefe.straining.element import StrainOperator
from flamefe.straining.lumps import Lumps
from flamefe.straining.operator import Assembler
from flamefe.straining.plasticity import PointProperties, tangent
from flamefe.straining.restraint import RestraintError, Support, holds_rigid_body, rigid_modes
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]


class ElasticPart:
    """A part in small geometry, without temperature, and what moves when a place of it shrinks.

    The movement u by an inherent strain e solves K u = integral of B^T C e dV, with the same
    hexes as a full run, their incompatible modes condensed out. Movements of heats add up.

    Args:
        body: mesh and materials; their moduli at ``temperature`` count.
        support: what holds it; None: the six rigid-body modes at three nodes.
        temperature: C.

    Raises:
        RestraintError: the support leaves the part loose.
        SingularOperator: a piece of the part is loose.

    Example:
        >>> from flamefe.workpiece.mesh import box_mesh
        >>> from flamefe.workpiece.standard import material
        >>> sizes = ((1.0, 21), (0.1, 3), (0.1, 3))
        >>> mesh = box_mesh(*(np.linspace(0.0, size, n) for size, n in sizes))
        >>> part = ElasticPart(Body(mesh=mesh, materials=(material("S355"),)))
        >>> lump = Lumps(places=[[0.5, 0.05, 0.05]], strains=[[-1e-6, 0, 0, 0, 0, 0]])
        >>> u = part.movement(lump)                     # 1e-6 m3 on 0.01 m2 take 0.1 mm
        >>> ends = [u[body_end, 0].mean() for body_end in (mesh.p[0] == 0.0, mesh.p[0] == 1.0)]
        >>> round(1e3 * float(ends[0] - ends[1]), 6)
        0.1
    """

    def __init__(
        self, body: Body, support: Support | None = None, *, temperature: float = 20.0
    ) -> None:
        self.body = body
        self.held = (support or rigid_modes(body)).held
        if not holds_rigid_body(body.points, self.held):
            raise RestraintError(
                "The part is not held against every shift and turn; hold more, or give no "
                "support: then the six rigid-body modes are held."
            )
        self.carrier = Carrier(body.mesh)
        self.operator = StrainOperator.on(body.mesh)
        points = self.operator.weights.size
        cold = np.full(points, temperature)
        parts = [PointProperties.of(metal, cold, cold) for metal in body.materials]
        chosen = parts[0]
        if body.owner is not None:
            chosen = PointProperties.chosen(parts, np.repeat(body.owner, 8))
        self.moduli = tangent(chosen)
        assembler = Assembler(self.operator, self.held)
        stiffness = self.operator.stiffness(self.moduli, None)
        self._condensed = assembler.condense(stiffness, careful=True)

    def movement(self, lumps: Lumps, *, normals: Array | None = None, slack: float = 1e-6) -> Array:
        """Movement of every node by the lumps of one or several heats, (n, 3) m.

        Args:
            lumps: shrinkage.
            normals: of the wall in which they are shared with neighbours, see `Carrier.spread`.
            slack: m by which a lump may lie off the mesh.

        Raises:
            OutOfRange: a lump lies farther off.
        """
        return self.movement_by(self.carrier.spread(lumps, normals=normals, slack=slack))

    def movement_by(self, inherent: Array) -> Array:
        """Movement of every node by an inherent strain at the quadrature points, (n, 3) m.

        Args:
            inherent: (6, ne * 8), shear doubled, contraction negative.
        """
        stress = np.einsum("pij,jp->ip", self.moduli, inherent)
        extended = self._condensed.correct(self.operator.forces(stress, None))
        return np.asarray(extended[: self.operator.nodes])

    def at(self, places: Array, *, slack: float = 1e-3) -> "Watched":
        """Places of the part whose movement is wanted.

        Args:
            places: (k, 3) m, on or in the part.
            slack: m by which they may lie off the mesh.

        Raises:
            OutOfRange: a place lies farther off.
        """
        hexes, local = self.carrier.find(places, slack=slack)
        return Watched(nodes=self.body.mesh.t[:, hexes].T, shares=shares_of(local))


class Watched:
    """Places within hexes, and how their movement follows from that of the nodes.

    Args:
        nodes: (k, 8).
        shares: (k, 8).

    Example:
        >>> watched = Watched(nodes=np.array([[0, 1]]), shares=np.array([[0.5, 0.5]]))
        >>> watched.moved(np.array([[0.0, 0, 0], [0, 0, 2e-3]])).tolist()
        [[0.0, 0.0, 0.001]]
    """

    def __init__(self, *, nodes: NDArray[np.int64], shares: Array) -> None:
        self.nodes, self.shares = nodes, shares

    def moved(self, movement: Array) -> Array:
        """(k, 3) m from the movement of the nodes (n, 3) m.

        Args:
            movement: of the nodes.
        """
        return np.asarray(np.einsum("ka,kai->ki", self.shares, movement[self.nodes]))
