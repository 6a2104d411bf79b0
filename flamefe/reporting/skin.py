"""The outer skin of a hex mesh, and fields brought onto it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex

from flamefe.workpiece.meshfile import to_meshio_order

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

FACES_OF_HEX = ((0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7))
SHARP_COSINE = 0.87  # edges between faces that differ by more than about 30 degrees


@dataclass(frozen=True, kw_only=True)
class Skin:
    """Outer quads of a mesh.

    Args:
        quads: (nq, 4) node numbers, counted so that the normal points outwards.
        edges: (nb, 2) node numbers of the sharp edges.
        edge_quads: (nb, 2) the two quads that meet at each sharp edge.
    """

    quads: Indices
    edges: Indices
    edge_quads: Indices


def hexes_of(mesh: MeshHex) -> Indices:
    """Node numbers of each hex, (ne, 8), bottom ring then top ring as VTK counts them."""
    return np.asarray(to_meshio_order(mesh), dtype=np.int64)


def skin_of(mesh: MeshHex) -> Skin:
    """Find the outer quads and the sharp edges of ``mesh``.

    Example:
        >>> skin = skin_of(MeshHex().refined(1))
        >>> skin.quads.shape, skin.edges.shape
        ((24, 4), (24, 2))
    """
    hexes = hexes_of(mesh)
    points = mesh.p.T
    faces = hexes[:, np.asarray(FACES_OF_HEX)].reshape(-1, 4)
    _, first, count = np.unique(
        np.sort(faces, axis=1), axis=0, return_index=True, return_counts=True
    )
    once = np.sort(first[count == 1])
    quads = faces[once]
    middle = points[hexes].mean(axis=1)[once // 6]
    outwards = np.einsum("qi,qi->q", _normals(points, quads), points[quads].mean(axis=1) - middle)
    quads[outwards < 0] = quads[outwards < 0][:, ::-1]
    edges, edge_quads = _sharp_edges(points, quads)
    return Skin(quads=quads, edges=edges, edge_quads=edge_quads)


def _sharp_edges(points: Array, quads: Indices) -> tuple[Indices, Indices]:
    sides = np.stack((quads, np.roll(quads, -1, axis=1)), axis=2).reshape(-1, 2)
    owner = np.repeat(np.arange(len(quads)), 4)
    ends = np.sort(sides, axis=1)
    order = np.lexsort((ends[:, 1], ends[:, 0]))
    same = (ends[order[:-1]] == ends[order[1:]]).all(axis=1)
    left, right = order[:-1][same], order[1:][same]
    normals = _normals(points, quads)
    cosine = np.einsum("ei,ei->e", normals[owner[left]], normals[owner[right]])
    sharp = cosine < SHARP_COSINE
    pairs = np.stack((owner[left], owner[right]), axis=1)
    return ends[left][sharp], pairs[sharp]


def _normals(points: Array, quads: Indices) -> Array:
    a, b, c, d = (points[quads[:, i]] for i in range(4))
    normals = np.cross(c - a, d - b)
    return np.asarray(normals / np.linalg.norm(normals, axis=1, keepdims=True))


def facing(points: Array, quads: Indices, towards: Array) -> NDArray[np.bool_]:
    """Tell which quads face a viewer in direction ``towards``, (nq,).

    Args:
        points: (n, 3).
        quads: (nq, 4) node numbers, outward.
        towards: (3,) direction from the part to the viewer.
    """
    return np.asarray(_normals(points, quads) @ towards > 1e-9)


def volumes_of(mesh: MeshHex) -> Array:
    """Volume of each hex in the cube of the mesh's unit, (ne,), from its five tetrahedra."""
    corner = mesh.p.T[hexes_of(mesh)]
    tets = ((0, 1, 2, 5), (0, 2, 3, 7), (0, 5, 7, 4), (2, 7, 5, 6), (0, 2, 7, 5))
    total = np.zeros(len(corner))
    for a, b, c, d in tets:
        origin = corner[:, a]
        sides = (corner[:, b] - origin, corner[:, c] - origin, corner[:, d] - origin)
        total += np.abs(np.einsum("ei,ei->e", np.cross(sides[0], sides[1]), sides[2])) / 6
    return total


def at_elements(values: Array) -> Array:
    """Average a quadrature-point field over each element: (ne, 8) to (ne,)."""
    return np.asarray(values.mean(axis=1))


def at_nodes(mesh: MeshHex, values: Array) -> Array:
    """Average a field of elements to the nodes, weighted by volume.

    Args:
        mesh: of ne elements and n nodes.
        values: (ne,), any unit.

    Returns:
        (n,), same unit.

    Example:
        >>> mesh = MeshHex().refined(1)
        >>> float(at_nodes(mesh, np.full(8, 3.0)).max())
        3.0
    """
    weight = volumes_of(mesh)
    nodes = mesh.t.ravel()
    total = np.bincount(nodes, weights=np.tile(weight * values, 8), minlength=mesh.p.shape[1])
    shares = np.bincount(nodes, weights=np.tile(weight, 8), minlength=mesh.p.shape[1])
    return np.asarray(total / np.maximum(shares, 1e-300))


def level_lines(points: Array, quads: Indices, values: Array, level: float) -> Array:
    """Find where a nodal field crosses ``level`` on some quads.

    Args:
        points: (n, 3).
        quads: (nq, 4) node numbers.
        values: (n,) the field.
        level: same unit.

    Returns:
        (ns, 2, 3) ends of the straight pieces; empty where the field stays on one side.

    Example:
        >>> square = np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]])
        >>> lines = level_lines(square, np.array([[0, 1, 2, 3]]), np.array([0.0, 1, 1, 0]), 0.25)
        >>> sorted({round(float(x), 2) for x in lines[..., 0].ravel()})
        [0.25]
    """
    triangles = np.concatenate((quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]))
    above = values[triangles] > level
    cut = triangles[above.any(axis=1) & ~above.all(axis=1)]
    pieces = []
    for a, b, c in cut:
        ends = [
            points[i] + (level - values[i]) / (values[j] - values[i]) * (points[j] - points[i])
            for i, j in ((a, b), (b, c), (c, a))
            if (values[i] > level) != (values[j] > level)
        ]
        pieces.append(ends)
    return np.asarray(pieces, dtype=float).reshape(-1, 2, 3)


def along_face(corners: Array, values: Array, where: Array) -> Array:
    """Bring nodal values of a flat face to places on it, linear in triangles.

    Args:
        corners: (nt, 3, 2) corners of triangles in the face's own two coordinates.
        values: (nt, 3, k) values there.
        where: (np, 2) places; one beside the face gets what the nearest triangle would have.

    Returns:
        (np, k).

    Example:
        >>> corners = np.array([[[0.0, 0], [2, 0], [0, 2]]])
        >>> along_face(corners, corners, np.array([[0.5, 1.0]]))
        array([[0.5, 1. ]])
    """
    origin, first, second = corners[:, 0], corners[:, 1], corners[:, 2]
    sides = np.stack((first - origin, second - origin), axis=2)
    shares = np.einsum("tij,ptj->pti", np.linalg.inv(sides), where[:, None] - origin)
    weights = np.concatenate((1.0 - shares.sum(axis=2, keepdims=True), shares), axis=2)
    best = weights.min(axis=2).argmax(axis=1)
    taken = weights[np.arange(len(where)), best]
    return np.asarray(np.einsum("pc,pck->pk", taken, values[best]))
