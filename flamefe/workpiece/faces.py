"""Faces of a mesh: named by the side on which they lie, by quadrilaterals or by nodes."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from skfem import MeshHex

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

FACE_SIDES: dict[str, tuple[int, int]] = {
    "start": (0, -1),
    "end": (0, 1),
    "near": (1, -1),
    "far": (1, 1),
    "bottom": (2, -1),
    "top": (2, 1),
}
"""Each face name with its axis (0 x, 1 y, 2 z) and the side of it (-1 lowest, 1 highest)."""

OPPOSITE: dict[str, str] = {
    "start": "end",
    "end": "start",
    "near": "far",
    "far": "near",
    "bottom": "top",
    "top": "bottom",
}
"""The face across from each."""

FACE_AXES: dict[str, tuple[int, int]] = {
    "start": (1, 2),
    "end": (1, 2),
    "near": (0, 2),
    "far": (0, 2),
    "bottom": (0, 1),
    "top": (0, 1),
}
"""The two axes in which points on a face are given: top and bottom (x, y), near and far
(x, z), start and end (y, z)."""

_HALF_ANGLE = np.cos(np.radians(45.0)) * (1.0 - 1e-9)


def outward_normals(mesh: MeshHex, facets: Indices) -> Array:
    """Unit normals of facets in their middle, pointing away from the element they belong to.

    Args:
        mesh: the mesh.
        facets: indices of outer facets, (k,).

    Returns:
        (k, 3); of a facet between two elements, the normal that leaves the first of them.

    Example:
        >>> from skfem import MeshHex
        >>> mesh = MeshHex()
        >>> sorted(outward_normals(mesh, mesh.boundary_facets()).sum(axis=1).tolist())
        [-1.0, -1.0, -1.0, 1.0, 1.0, 1.0]
    """
    corners = mesh.p[:, mesh.facets[:, facets]]
    normals = np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1], axis=0)
    inside = mesh.p[:, mesh.t[:, mesh.f2t[0, facets]]].mean(axis=1)
    outward = ((corners.mean(axis=1) - inside) * normals).sum(axis=0)
    normals = normals * np.where(outward < 0.0, -1.0, 1.0)
    return np.asarray((normals / np.linalg.norm(normals, axis=0)).T)


def named_sides(mesh: MeshHex) -> dict[str, Indices]:
    """Outer facets on each of the six sides of a part, flat or curved.

    A side is what can be reached over shared edges from its outermost place (the highest, for
    "top") without leaving the facets whose outward normal lies within 45 degrees of that
    direction. So a dished plate has one top, and the top of a stiffened panel ends at its edges.

    Args:
        mesh: the mesh, m.

    Returns:
        Facet indices of "start", "end", "near", "far", "bottom" and "top", rising; a side that
        the part does not have is left out.

    Example:
        >>> from skfem import MeshHex
        >>> {name: len(facets) for name, facets in named_sides(MeshHex().refined(1)).items()}
        {'start': 4, 'end': 4, 'near': 4, 'far': 4, 'bottom': 4, 'top': 4}
    """
    outer = np.asarray(mesh.boundary_facets(), dtype=np.int64)
    normals = outward_normals(mesh, outer)
    slack = 1e-6 * float(np.ptp(mesh.p, axis=1).max())
    sides = {}
    for name, (axis, side) in FACE_SIDES.items():
        facing = outer[side * normals[:, axis] >= _HALF_ANGLE]
        if facing.size == 0:
            continue
        height = side * mesh.p[axis, mesh.facets[:, facing]]
        outermost = (height >= (side * mesh.p[axis]).max() - slack).any(axis=0)
        patch = _patches(mesh, facing)
        kept = np.isin(patch, patch[outermost])
        if kept.any():
            sides[name] = np.sort(facing[kept])
    return sides


def _patches(mesh: MeshHex, facets: Indices) -> Indices:
    """For each facet the number of the patch it belongs to; patches are joined by whole edges."""
    corners = mesh.facets[:, facets]
    edges = np.sort(np.stack([corners, np.roll(corners, -1, axis=0)]).reshape(2, -1), axis=0)
    _, edge = np.unique(edges, axis=1, return_inverse=True)
    edge = edge.reshape(-1)
    owner = np.tile(np.arange(facets.size), 4)
    links = coo_matrix((np.ones(owner.size), (owner, edge)), shape=(facets.size, edge.max() + 1))
    patch = connected_components(links @ links.T, directed=False)[1]
    return np.asarray(patch, dtype=np.int64)


def facets_of_quads(mesh: MeshHex, quads: Indices) -> Indices:
    """Facets of a mesh that have the given corners.

    Args:
        mesh: the mesh.
        quads: nodes of quadrilaterals in any order, (k, 4).

    Returns:
        Facet index of each quadrilateral, (k,); -1 where no element has such a facet.

    Example:
        >>> from skfem import MeshHex
        >>> mesh = MeshHex()
        >>> facets_of_quads(mesh, mesh.facets.T[[2, 0]]).tolist()
        [2, 0]
    """
    number = {
        tuple(corners): i for i, corners in enumerate(np.sort(mesh.facets.T, axis=1).tolist())
    }
    wanted = np.sort(np.asarray(quads).reshape(-1, 4), axis=1).tolist()
    return np.array([number.get(tuple(corners), -1) for corners in wanted], dtype=np.int64)


def facets_of_nodes(mesh: MeshHex, nodes: Indices) -> Indices:
    """Outer facets that make up a set of nodes exactly.

    Args:
        mesh: the mesh.
        nodes: node numbers, (k,).

    Returns:
        Outer facets with all corners in the set; empty if these leave a node of the set over,
        or if the set holds every node of the mesh, for then it is no face.

    Example:
        >>> from skfem import MeshHex
        >>> mesh = MeshHex().refined(1)
        >>> import numpy as np
        >>> len(facets_of_nodes(mesh, np.flatnonzero(mesh.p[2] == 1.0)))
        4
        >>> len(facets_of_nodes(mesh, np.array([0, 1])))
        0
    """
    inside = np.zeros(mesh.p.shape[1], dtype=bool)
    inside[nodes] = True
    outer = np.asarray(mesh.boundary_facets(), dtype=np.int64)
    facets: Indices = outer[inside[mesh.facets[:, outer]].all(axis=0)]
    complete = np.array_equal(np.unique(mesh.facets[:, facets]), np.flatnonzero(inside))
    return facets if complete and not inside.all() else facets[:0]
