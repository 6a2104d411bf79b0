"""Meshes from files, and the order in which files name the nodes of a hexahedron."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import MeshHex

from flamefe.basics.errors import MeshError

# Files (VTK, gmsh, Abaqus, meshio): 0-3 round one face, 4-7 above them. scikit-fem: node 0, then
# its three neighbours 1, 2, 3, then 4 (next to 1 and 2), 5 (1 and 3), 6 (2 and 3), then 7.
_FILE_FROM_SKFEM = np.array([0, 3, 6, 2, 1, 5, 7, 4])
_SKFEM_FROM_FILE = np.argsort(_FILE_FROM_SKFEM)


def from_meshio_order(points: ArrayLike, hexes: ArrayLike) -> MeshHex:
    """Mesh from points and hexahedra in the order of mesh files; numbers of both are kept.

    Args:
        points: (n, 3), m. Column i of the mesh's p is point i.
        hexes: (number of elements, 8), indices of points: four round one face, then the four
            above them (the order of VTK, gmsh, Abaqus and meshio).

    Returns:
        Mesh without named faces; element i is hexahedron i.

    Raises:
        MeshError: arrays of another shape, or an index of a point that does not exist.

    Example:
        >>> points = [(0, 0, 0), (2, 0, 0), (2, 1, 0), (0, 1, 0),
        ...           (0, 0, 3), (2, 0, 3), (2, 1, 3), (0, 1, 3)]
        >>> mesh = from_meshio_order(points, [range(8)])
        >>> mesh.p[:, 6].tolist(), to_meshio_order(mesh).tolist()
        ([2.0, 1.0, 3.0], [[0, 1, 2, 3, 4, 5, 6, 7]])
    """
    p = np.asarray(points, dtype=float)
    t = np.asarray(hexes)
    if p.ndim != 2 or p.shape[1] != 3:
        raise MeshError(f"The points have the shape {p.shape}; it must be (number of points, 3).")
    if t.ndim != 2 or t.shape[1] != 8 or not np.issubdtype(t.dtype, np.integer):
        raise MeshError(
            f"The hexahedra have the shape {t.shape} and the type {t.dtype}; they must be whole "
            "numbers, (number of elements, 8)."
        )
    if t.size and (t.min() < 0 or t.max() >= len(p)):
        raise MeshError(
            f"A hexahedron names point {int(t.max() if t.max() >= len(p) else t.min())}; "
            f"the points are numbered 0 to {len(p) - 1}."
        )
    return MeshHex(
        np.ascontiguousarray(p.T), np.ascontiguousarray(t[:, _SKFEM_FROM_FILE].T.astype(np.int64))
    )


def to_meshio_order(mesh: MeshHex) -> NDArray[np.int64]:
    """Hexahedra of a mesh in the order of mesh files.

    Args:
        mesh: any hexahedral mesh.

    Returns:
        Indices of nodes (columns of ``mesh.p``), (number of elements, 8): four round one face,
        then the four above them.

    Example:
        >>> from skfem import MeshHex
        >>> to_meshio_order(MeshHex()).tolist()
        [[0, 3, 6, 2, 1, 5, 7, 4]]
    """
    return np.ascontiguousarray(mesh.t[_FILE_FROM_SKFEM].T.astype(np.int64))
