"""A plate formed in two curvatures: what lines do to it as it stands, measured by heights.

A flat plate does not bend when it shrinks evenly through its thickness; a bent one does. Lines
whose two faces shrink unlike turn the plate across them; shrinkage along its edges or along its
middle gives the second curvature (Gauss: shapes of two curvatures need area that is not everywhere
the same). So the elastic answer is taken on the plate as it stands, not on the flat one.
"""

from collections.abc import Callable, Sequence
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.planning.effect import SheetEffect
from flamefe.planning.elastic_sheet import ElasticSheet
from flamefe.planning.seats import SheetHeat
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material
from flamefe.workpiece.mesh import box_mesh

Array = NDArray[np.float64]
Surface = Callable[[Array, Array], Array]

STEEPEST = 0.5
"""Slope of the plate against its x-y plane up to which it counts as shallow."""


class FormedPlate:
    """A curved plate over a rectangle in x and y, measured by heights square to it.

    Args:
        length, width: extent along x and y, m.
        thickness: m.
        shape: height of its mid-surface as it stands, from x and y, all in m; take the target
            surface plus the measured deviation.
        metal: of the plate.
        places: (n, 2) m, x and y of the measuring places.
        size: edge length of the coarse hexes, m; None: a sixteenth of the longer side.

    Raises:
        OutOfRange: sizes that are not above 0, a place off the plate, a plate too steep.

    Example:
        >>> from flamefe.planning.effect import line_effect
        >>> from flamefe.workpiece.standard import material
        >>> plate = FormedPlate(length=2.0, width=1.0, thickness=0.012, metal=material("S355"),
        ...     shape=lambda x, y: (y - 0.5) ** 2 / 8, places=[[0, 0.5], [1, 0.5], [2, 0.5]])
        >>> line = line_effect(length=0.3, thickness=0.012, transverse_shrinkage=3e-4,
        ...                    angular_change=0.0, source="a rule")
        >>> edges = [plate.heat("n", line, at=(1.0, 0.2), along="y"),
        ...          plate.heat("f", line, at=(1.0, 0.8), along="y")]
        >>> rise = plate.influence(edges).sum(axis=1)
        >>> bool(0.5 * (rise[0] + rise[2]) > rise[1])         # shrunk high edges: the ends rise
        True
    """

    def __init__(
        self,
        *,
        length: float,
        width: float,
        thickness: float,
        shape: Surface,
        metal: Material,
        places: ArrayLike,
        size: float | None = None,
    ) -> None:
        step = max(length, width) / 16.0 if size is None else size
        if not min(length, width, thickness, step) > 0.0:
            raise OutOfRange("A formed plate needs a length, width, thickness and size above 0.")
        self.length, self.width, self.thickness, self.shape = length, width, thickness, shape
        axes = (
            np.linspace(0.0, length, 1 + max(2, round(length / step))),
            np.linspace(0.0, width, 1 + max(2, round(width / step))),
            np.array([-0.5, 0.5]) * thickness,
        )
        mesh = raised(box_mesh(*axes), shape, 1e-4 * step)
        xy = np.asarray(places, dtype=float).reshape(-1, 2)
        self._inside(xy, "A measuring place")
        normals = normals_of(shape, xy, 1e-4 * step)
        self._step = 1e-4 * step
        self.sheet = ElasticSheet(
            Body(mesh=mesh, materials=(metal,)),
            np.column_stack((xy, shape(xy[:, 0], xy[:, 1]))),
            normals,
            names=[f"({1e3 * x:.4g}, {1e3 * y:.4g}) mm" for x, y in xy],
            slack=thickness + _sagging(shape, axes[0], axes[1]),
        )

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the measuring places."""
        return self.sheet.names

    def heat(
        self,
        name: str,
        effect: SheetEffect,
        *,
        at: tuple[float, float],
        along: Literal["x", "y"] = "x",
        face: Literal["top", "bottom"] = "top",
    ) -> SheetHeat:
        """A heat on the plate.

        Args:
            name: unique.
            effect: what it does, in its own frame.
            at: x and y of its middle, m.
            along: axis along which it runs.
            face: that is heated; "top" is that of +z.

        Raises:
            OutOfRange: it lies off the plate.
        """
        xy = np.array([at], dtype=float)
        self._inside(xy, f"Heat {name!r}")
        (normal,) = normals_of(self.shape, xy, self._step)
        way = np.array([1.0, 0.0, 0.0]) if along == "x" else np.array([0.0, 1.0, 0.0])
        height = float(np.asarray(self.shape(xy[:, 0], xy[:, 1])).reshape(-1)[0])
        return SheetHeat(
            name=name,
            effect=effect,
            origin=np.array([xy[0, 0], xy[0, 1], height]),
            along=way - (way @ normal) * normal,
            normal=normal if face == "top" else -normal,
        )

    def influence(self, heats: Sequence[SheetHeat]) -> Array:
        """Change of each height by each heat, (n, m) m; the plate's place is not fitted out.

        Args:
            heats: candidates; each with its first effect.

        Raises:
            OutOfRange: a heat lies off the plate.
        """
        return self.sheet.influence(heats)

    def _inside(self, xy: Array, what: str) -> None:
        if not (
            np.isfinite(xy).all()
            and (xy >= 0.0).all()
            and (xy[:, 0] <= self.length).all()
            and (xy[:, 1] <= self.width).all()
        ):
            raise OutOfRange(
                f"{what} lies off the plate, which reaches from 0 to {self.length:g} and "
                f"{self.width:g} m."
            )


def raised(mesh: MeshHex, shape: Surface, step: float) -> MeshHex:
    """A flat plate's mesh laid over a surface; its z counts along the surface's normal.

    Args:
        mesh: x, y in the plane, z from the mid-surface, m.
        shape: height of the mid-surface from x and y, m.
        step: m, for slopes.

    Raises:
        OutOfRange: the surface is too steep.

    Example:
        >>> flat = box_mesh(np.linspace(0, 1, 3), np.linspace(0, 1, 3), [-0.01, 0.01])
        >>> bent = raised(flat, lambda x, y: 0.1 * x, 1e-5)
        >>> bool(abs(bent.p[2].max() - 0.1 - 0.01 / np.sqrt(1.01)) < 1e-9)
        True
    """
    points = np.array(mesh.p)
    normals = normals_of(shape, points[:2].T, step)
    slope = float(np.hypot(normals[:, 0], normals[:, 1]).max())
    if slope > STEEPEST:
        raise OutOfRange(
            f"The plate rises by {slope:.2g} against x and y; up to {STEEPEST:g} can be laid over "
            "a rectangle. Turn it, or cut it into plates."
        )
    height = np.asarray(shape(points[0], points[1]), dtype=float)
    places = np.stack((points[0], points[1], np.broadcast_to(height, points[0].shape)))
    places = places + normals.T * points[2]
    return MeshHex(np.ascontiguousarray(places), mesh.t).with_boundaries(mesh.boundaries or {})


def normals_of(shape: Surface, xy: Array, step: float) -> Array:
    """Unit normals (k, 3) of a surface, upwards.

    Args:
        shape: height from x and y, m.
        xy: (k, 2) m.
        step: m, for central differences.
    """
    x, y = xy[:, 0], xy[:, 1]
    slope_x = (shape(x + step, y) - shape(x - step, y)) / (2.0 * step)
    slope_y = (shape(x, y + step) - shape(x, y - step)) / (2.0 * step)
    normals = np.column_stack((-slope_x + 0 * x, -slope_y + 0 * y, np.ones(len(x))))
    return np.asarray(normals / np.linalg.norm(normals, axis=1, keepdims=True))


def _sagging(shape: Surface, x: Array, y: Array) -> float:
    """How far the surface may lie off its mesh between nodes, m."""
    gx, gy = np.meshgrid(x, y, indexing="ij")
    height = np.asarray(shape(gx, gy)) + 0.0 * gx
    bends = [np.abs(np.diff(height, n=2, axis=axis)).max(initial=0.0) for axis in (0, 1)]
    return float(sum(bends))
