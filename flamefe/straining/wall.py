"""Where the wall of a meshed part lies: its two faces along a line through it.

On a coarse mesh a curved wall is a polygon. A heat must sit in the middle of the polygon's wall,
not of the true one: a shrinkage off the middle by a twentieth of the thickness bends.
"""

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]

CLOSE = 0.25
"""Share by which the wall may differ from the thickness expected and still count as one wall."""
MUCH = 2.0
"""Thickness by the expected one from which something stands behind the wall."""
_STEPS = 20
_CHUNK = 2_000_000


class Wall:
    """The skin of a mesh, to be looked through.

    Args:
        mesh: hexes, m.

    Example:
        >>> from flamefe.workpiece.mesh import box_mesh
        >>> plate = box_mesh(np.linspace(0, 1, 3), np.linspace(0, 1, 3), [0.0, 0.01])
        >>> up = np.array([[0, 0, 1.0]])
        >>> Wall(plate).middles(np.array([[0.3, 0.4, 0.001]]), up, 0.01).round(12).tolist()
        [[0.3, 0.4, 0.005]]
    """

    def __init__(self, mesh: MeshHex) -> None:
        facets = mesh.facets[:, mesh.boundary_facets()]
        corners = mesh.p[:, facets].transpose(2, 1, 0)  # (f, 4, 3)
        self.corners: Array = _ringed(corners)

    def middles(self, places: Array, normals: Array, thickness: float) -> Array:
        """Places moved along their normals into the middle of the wall, (k, 3) m.

        Where the wall along the normal is as thick as expected (within a quarter) the middle
        between its faces counts; where it is much thicker, as over a stiffener, half the thickness
        below the face on the normal's side.

        Args:
            places: (k, 3) m, within a thickness of the middle.
            normals: (k, 3), unit vectors towards the heated face.
            thickness: expected, m.

        Raises:
            OutOfRange: no face is found where a heat is said to be, or the wall is of another
                thickness there.
        """
        step = max(1, _CHUNK // max(1, len(self.corners)))
        parts = [
            self._middles(places[at : at + step], normals[at : at + step], thickness)
            for at in range(0, len(places), step)
        ]
        return np.concatenate(parts) if parts else np.zeros((0, 3))

    def _middles(self, places: Array, normals: Array, thickness: float) -> Array:
        which, distance = self._crossings(places, normals, 3.0 * thickness)
        result = places.copy()
        lost = []
        for index in range(len(places)):
            found = np.sort(distance[which == index])
            face = found[np.argmin(np.abs(found - 0.5 * thickness))] if found.size else np.inf
            if abs(face - 0.5 * thickness) > thickness:
                lost.append(index)
                continue
            depth = (face - found)[face - found > 1e-3 * thickness]
            own = float(depth.min()) if depth.size else np.inf
            if own < MUCH * thickness and abs(own - thickness) > CLOSE * thickness:
                raise OutOfRange(
                    f"The wall is {1e3 * own:.3g} mm thick where a heat stands whose effect was "
                    f"found on {1e3 * thickness:.3g} mm; take a heat for this thickness, or turn "
                    "its normal towards the heated face."
                )
            own = own if own < MUCH * thickness else thickness
            result[index] += (face - 0.5 * own) * normals[index]
        if lost:
            x, y, z = 1e3 * places[lost[0]]
            raise OutOfRange(
                f"{len(lost)} places of heat lie off the workpiece, the first at ({x:.4g}, "
                f"{y:.4g}, {z:.4g}) mm: no face of it is found there. Move the heat, shorten it "
                "at the edge, or turn its normal."
            )
        return result

    def _crossings(
        self, places: Array, normals: Array, reach: float
    ) -> tuple[NDArray[np.intp], Array]:
        """Where lines through places cross the skin: numbers of the lines, and distances."""
        corners = self.corners
        low, high = corners.min(axis=1) - 1e-9, corners.max(axis=1) + 1e-9
        ends = places[:, None] + reach * np.array([-1.0, 1.0])[None, :, None] * normals[:, None]
        first, last = ends.min(axis=1), ends.max(axis=1)
        near = np.ones((len(places), len(corners)), dtype=bool)
        for axis in range(3):
            near &= (first[:, axis, None] <= high[:, axis]) & (last[:, axis, None] >= low[:, axis])
        which, facets = np.nonzero(near)
        quad, start, way = corners[facets], places[which], normals[which]
        unknown = np.tile([0.5, 0.5, 0.0], (len(which), 1))
        flat = np.zeros(len(which), dtype=bool)
        for _ in range(_STEPS):
            a, b, t = unknown.T
            shapes = np.stack(((1 - a) * (1 - b), a * (1 - b), a * b, (1 - a) * b), axis=1)
            along = np.stack((b - 1, 1 - b, b, -b), axis=1)
            across = np.stack((a - 1, -a, a, 1 - a), axis=1)
            off = np.einsum("mc,mci->mi", shapes, quad) - start - t[:, None] * way
            slope = np.stack(
                (
                    np.einsum("mc,mci->mi", along, quad),
                    np.einsum("mc,mci->mi", across, quad),
                    -way,
                ),
                axis=-1,
            )
            sizes = np.linalg.norm(slope, axis=1).prod(axis=1)
            flat = np.abs(np.linalg.det(slope)) < 1e-6 * sizes
            slope[flat] = np.eye(3)
            change = np.linalg.solve(slope, -off[..., None])[..., 0]
            unknown = np.clip(unknown + change, -9.0, 9.0)
            if np.abs(change[~flat]).max(initial=0.0) < 1e-12:
                break
        inside = ((unknown[:, :2] > -1e-6) & (unknown[:, :2] < 1.0 + 1e-6)).all(axis=1) & ~flat
        return which[inside], unknown[inside, 2]


def _ringed(corners: Array) -> Array:
    """Corners of quads (f, 4, 3) in order round each, whatever order they came in."""
    result = corners.copy()
    area = np.full(len(corners), -1.0)
    for order in ((0, 1, 2, 3), (0, 2, 1, 3), (0, 1, 3, 2)):
        tried = corners[:, order]
        cross = np.cross(tried[:, 2] - tried[:, 0], tried[:, 3] - tried[:, 1])
        size = np.linalg.norm(cross, axis=1)
        better = size > area * (1.0 + 1e-9)
        result[better], area[better] = tried[better], size[better]
    return result
