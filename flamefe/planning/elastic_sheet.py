"""Panels, drums, shells and frames of plates: heats on a coarse elastic part, measured anywhere."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.planning.seats import SheetHeat, sheet_lumps, together
from flamefe.straining.elastic import ElasticPart
from flamefe.straining.lumps import Lumps
from flamefe.straining.restraint import Support
from flamefe.straining.wall import Wall
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]


class ElasticSheet:
    """A workpiece of plates, measured at places along given directions.

    Each heat's resultants are put on a coarse mesh without loss (see ``Lumps``), in the middle of
    its wall, and the cold elastic part is solved for them; heats add up. Small geometry: movements
    must be small against the thickness where the part is flat and unstiffened, and what buckles is
    out of reach.

    Args:
        body: coarse mesh, one hex or more through each plate.
        places: (n, 3) m, where it is measured; on the part.
        directions: (n, 3) or (3,), positive deviation along it.
        names: of the places; none: numbered.
        support: what holds the part after the heat; None: free.
        slack: m by which places may lie off a coarse mesh.

    Raises:
        OutOfRange: shapes don't fit, or a place lies off the part.
        RestraintError: the support leaves the part loose.

    Example:
        >>> from flamefe.planning.effect import line_effect
        >>> from flamefe.planning.seats import seated
        >>> from flamefe.workpiece.mesh import box_mesh
        >>> from flamefe.workpiece.standard import material
        >>> axes = (np.linspace(0, 0.6, 7), np.linspace(0, 0.6, 7), [0.0, 0.01])
        >>> body = Body(mesh=box_mesh(*axes), materials=(material("S355"),))
        >>> sheet = ElasticSheet(body, [[0.3, 0, 0], [0.3, 0.45, 0], [0.3, 0.6, 0]], (0, 0, 1))
        >>> line = line_effect(length=0.6, thickness=0.01, transverse_shrinkage=0.0,
        ...                    angular_change=0.01, source="a rule")
        >>> moved = sheet.influence([seated(line, "l", (0.3, 0.3), middle=0.005)])[:, 0]
        >>> round(1e3 * float(0.25 * moved[0] + 0.75 * moved[2] - moved[1]), 2)   # mm under a ruler
        0.75
    """

    def __init__(
        self,
        body: Body,
        places: ArrayLike,
        directions: ArrayLike,
        *,
        names: Sequence[str] = (),
        support: Support | None = None,
        slack: float = 1e-3,
    ) -> None:
        self.places: Array = np.asarray(places, dtype=float).reshape(-1, 3)
        ways = np.broadcast_to(np.asarray(directions, dtype=float), self.places.shape)
        sizes = np.linalg.norm(ways, axis=1, keepdims=True)
        if not (sizes > 0.0).all() or not len(self.places):
            raise OutOfRange("A sheet needs one measuring place at least, each with a direction.")
        self.directions: Array = ways / sizes
        self.names = tuple(names) or tuple(f"place {i + 1}" for i in range(len(self.places)))
        if len(self.names) != len(self.places):
            raise OutOfRange(f"{len(self.names)} names for {len(self.places)} places.")
        self.part = ElasticPart(body, support)
        self.watched = self.part.at(self.places, slack=slack)
        self._wall = Wall(body.mesh)

    def lumps(self, heat: SheetHeat, share: float = 1.0) -> Lumps:
        """Lumps of a heat in the middle of the mesh's wall.

        Args:
            heat: where it stands.
            share: of its effect that is left.

        Raises:
            OutOfRange: it lies off the part.
        """
        thickness = heat.effect.thickness
        lumps = sheet_lumps(heat, share)
        normal = heat.axes[2]
        away = (lumps.places - heat.origin) @ normal
        on = lumps.places - away[:, None] * normal
        middles = self._wall.middles(on, np.tile(normal, (len(on), 1)), thickness)
        return Lumps(places=middles + away[:, None] * normal, strains=lumps.strains)

    def influence(self, heats: Sequence[SheetHeat]) -> Array:
        """Change of each deviation by each heat, (n, m) m.

        Args:
            heats: candidates; each with its first effect.

        Raises:
            OutOfRange: a heat lies off the part.
        """
        columns = [self.at_places(self.movement([heat])) for heat in heats]
        return np.asarray(np.array(columns).reshape(len(heats), len(self.places)).T)

    def after(self, heats: Sequence[SheetHeat], earlier: Sequence[int] = ()) -> Array:
        """Change of the deviations by heats that are given together, (n,) m.

        Where they overlap or repeat they give less, see ``together``.

        Args:
            heats: in the order in which they are given.
            earlier: number of heats that the place of each had before.

        Raises:
            OutOfRange: a heat lies off the part.
        """
        shares = together(heats, earlier).shares
        return self.at_places(self.movement(heats, shares))

    def doubts(self, heats: Sequence[SheetHeat], earlier: Sequence[int] = ()) -> tuple[str, ...]:
        """What to doubt of the answer for heats that are given together, in words.

        Overlaps and repeats (see ``together``), and places nearer to a heat than one hex, where a
        coarse mesh smears what the heat does.

        Args:
            heats: in the order in which they are given.
            earlier: number of heats that the place of each had before.

        Raises:
            OutOfRange: a heat lies off the part.

        Example:
            >>> from flamefe.planning.effect import spot_effect
            >>> from flamefe.planning.seats import seated
            >>> from flamefe.workpiece.mesh import box_mesh
            >>> from flamefe.workpiece.standard import material
            >>> axes = (np.linspace(0, 0.6, 7), np.linspace(0, 0.6, 7), [0.0, 0.01])
            >>> body = Body(mesh=box_mesh(*axes), materials=(material("S355"),))
            >>> sheet = ElasticSheet(body, [[0.3, 0, 0], [0.3, 0.33, 0]], (0, 0, 1))
            >>> spot = spot_effect(area_change=-6e-6, thickness=0.01, source="a rule")
            >>> print(*sheet.doubts([seated(spot, "s", (0.3, 0.3), middle=0.005)]))
            1 places lie within one hex (100 mm) of s: what it does there is smeared; take ...hexes.
        """
        said = list(together(heats, earlier).notes)
        for heat in heats:
            (hexa,), _ = self.part.carrier.find(self.lumps(heat).places[:1], slack=1e-2)
            volume = float(self.part.carrier.weights[hexa].sum())
            size = float(np.sqrt(volume / heat.effect.thickness))
            axes = heat.axes
            half = np.append(heat.effect.extent, 0.5 * heat.effect.thickness)
            off = np.abs((self.places - heat.origin) @ axes.T) - half
            near = int((np.linalg.norm(np.maximum(off, 0.0), axis=1) < size).sum())
            if near:
                said.append(
                    f"{near} places lie within one hex ({1e3 * size:.3g} mm) of {heat.name}: what "
                    "it does there is smeared; take smaller hexes."
                )
        return tuple(said)

    def inherent_strain(self, heats: Sequence[SheetHeat], shares: Sequence[float] = ()) -> Array:
        """Inherent strain (6, ne * 8) that stands for heats on the coarse mesh.

        Args:
            heats: given.
            shares: of the effect of each that is left; none: all.

        Raises:
            OutOfRange: a heat lies off the part.
        """
        carrier = self.part.carrier
        total = np.zeros((6, carrier.weights.size))
        for number, heat in enumerate(heats):
            lumps = self.lumps(heat, shares[number] if shares else 1.0)
            slack = 0.1 * heat.effect.thickness
            total += carrier.spread(lumps, normals=heat.axes[2], slack=slack)
        return total

    def movement(self, heats: Sequence[SheetHeat], shares: Sequence[float] = ()) -> Array:
        """Movement of every node by heats together, (n, 3) m.

        Args:
            heats: given.
            shares: of the effect of each that is left; none: all.

        Raises:
            OutOfRange: a heat lies off the part.
        """
        return self.part.movement_by(self.inherent_strain(heats, shares))

    def at_places(self, movement: Array) -> Array:
        """Deviations (n,) m from the movement of the nodes.

        Args:
            movement: (nodes, 3) m, of this mesh, for instance of a full run on it.
        """
        moved = self.watched.moved(movement)
        return np.asarray(np.einsum("ki,ki->k", moved, self.directions))
