"""Reading the surface under the torch, as the operator does with a temperature stick."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.heating.path import Pose
from flamefe.workpiece.face_map import FaceMap

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

SEAM = 0.3
"""Share of a closed face's circumference that is read across its seam."""
BEHIND, AHEAD = -0.5, 0.5
"""The stretch under the torch that is read, by the flame's size along its way."""


@dataclass(frozen=True, kw_only=True, eq=False)
class FaceProbe:
    """Temperatures at any place of a flat, or flatly rolled out, face, linear between its nodes.

    Args:
        nodes: (m,) nodes of the face.
        origin: (3,) m, a place on it.
        axes: (2, 3) unit vectors in it.
        points: (m, 3) m, where the nodes lie.
        face: the face, where the points are those of it rolled out; None: places are in space.
    """

    nodes: IntArray
    origin: Array
    axes: Array
    _triangles: Delaunay = field(init=False, repr=False)
    points: Array
    face: FaceMap | None = None

    def __post_init__(self) -> None:
        flat = (self.points - self.origin) @ self.axes.T
        object.__setattr__(self, "_triangles", Delaunay(flat))

    @classmethod
    def of(cls, mesh: MeshHex, facets: IntArray) -> "FaceProbe":
        """Probe of the face made of ``facets`` (indices).

        Raises:
            OutOfRange: the face is not flat.

        Example:
            >>> import numpy as np
            >>> mesh = MeshHex().with_defaults()
            >>> probe = FaceProbe.of(mesh, mesh.boundaries["right"])
            >>> height = mesh.p[2]
            >>> round(float(probe.at(height, np.array([[1.0, 0.5, 0.25]]))[0]), 12)
            0.25
        """
        nodes = np.unique(mesh.facets[:, np.asarray(facets)])
        points = mesh.p[:, nodes].T
        origin = points.mean(axis=0)
        _, sizes, axes = np.linalg.svd(points - origin, full_matrices=False)
        if sizes[2] > 1e-6 * sizes[0]:
            raise OutOfRange(
                "A torch that is driven by temperature needs a flat face to be read; "
                "this one is curved."
            )
        return cls(nodes=nodes, origin=origin, axes=axes[:2], points=points)

    @classmethod
    def rolled_out(cls, mesh: MeshHex, facets: IntArray, face: FaceMap) -> "FaceProbe":
        """Probe of a face, flat or curved, rolled out flat: places are its u, v and 0.

        Args:
            mesh: the mesh, m.
            facets: that make up the face (indices).
            face: where they lie.

        Example:
            >>> from flamefe.workpiece.extrude import extruded
            >>> from flamefe.workpiece.rolled_face import RolledFace
            >>> from flamefe.workpiece.section_shapes import round_tube
            >>> mesh = extruded(
            ...     round_tube(outer_diameter=0.1, thickness=0.01, size=0.01), [0.0, 0.5, 1.0]
            ... ).mesh
            >>> wall = RolledFace.of_mesh(mesh, mesh.boundaries["outside"])
            >>> probe = FaceProbe.rolled_out(mesh, mesh.boundaries["outside"], wall)
            >>> top = np.array([[0.3, 0.5 * wall.period, 0.0]])
            >>> round(float(probe.at(mesh.p[2], top)[0]), 3)    # its height z, m
            0.1
        """
        nodes = np.unique(mesh.facets[:, np.asarray(facets)])
        flat = face.back(mesh.p[:, nodes].T)
        if face.period is not None:  # once more on both sides of the seam
            margin = SEAM * face.period
            before, after = flat[:, 1] > face.period - margin, flat[:, 1] < margin
            shift = np.array([0.0, face.period])
            flat = np.concatenate((flat, flat[before] - shift, flat[after] + shift))
            nodes = np.concatenate((nodes, nodes[before], nodes[after]))
        return cls(
            nodes=nodes,
            origin=np.zeros(3),
            axes=np.array([[1.0, 0.0, 0.0], [0.0, face.handed, 0.0]]),
            points=np.column_stack((flat, np.zeros(len(flat)))),
            face=face,
        )

    def at(self, temperature: Array, places: Array) -> Array:
        """Nodal temperatures (n,) C read at places (k, 3) m; NaN off the face."""
        if self.face is not None and self.face.period is not None:
            places = places.copy()
            places[:, 1] = np.mod(places[:, 1], self.face.period)
        flat = (places - self.origin) @ self.axes.T
        # a hair inside, so that places on an edge are not lost to rounding
        simplex = self._triangles.find_simplex(flat, tol=1e-9)
        inside = simplex >= 0
        if self.face is not None:
            inside &= self.face.holds(places[:, :2])
        result = np.full(len(places), np.nan)
        chosen = simplex[inside]
        transform = self._triangles.transform[chosen]
        first = np.einsum("kij,kj->ki", transform[:, :2], flat[inside] - transform[:, 2])
        shares = np.column_stack((first, 1.0 - first.sum(axis=1)))
        corners = self.nodes[self._triangles.simplices[chosen]]
        result[inside] = (shares * temperature[corners]).sum(axis=1)
        return result

    def under(self, temperature: Array, pose: Pose, size: float) -> float:
        """Hottest place under a torch of ``size`` m at one pose, C.

        Raises:
            OutOfRange: the torch stands off the face.
        """
        width = float(pose.width)
        along = size * np.linspace(BEHIND, AHEAD, 7)
        across = np.linspace(-0.5, 0.5, 1 + int(np.ceil(2.0 * width / size))) * width
        if across.size == 1:
            across = np.zeros(1)
        normal = np.cross(self.axes[0], self.axes[1])
        side = np.cross(normal, pose.way)
        places = (
            pose.place + along[:, None, None] * pose.way + across[None, :, None] * side
        ).reshape(-1, 3)
        read = self.at(temperature, places)
        if np.isnan(read).all():
            raise OutOfRange("The torch stands off its face, so nothing can be read under it.")
        return float(np.nanmax(read))
