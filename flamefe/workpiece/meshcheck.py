"""Whether hexahedra are fit to compute with: order of their nodes, volume, connection, size."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from skfem import MeshHex

from flamefe.basics.errors import MeshError

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

# For each corner of a hexahedron in file order, its three neighbours, right-handed.
_NEIGHBOURS = np.array(
    [(1, 3, 4), (2, 0, 5), (3, 1, 6), (0, 2, 7), (7, 5, 0), (4, 6, 1), (5, 7, 2), (6, 4, 3)]
)
_INSIDE_OUT = np.array([4, 5, 6, 7, 0, 1, 2, 3])


def corner_volumes(points: Array, hexes: Indices) -> Array:
    """Triple product of the three edges at each corner, over the product of their lengths.

    It is 1 in a box, 0 where the corner is flat, below 0 where the element is inside out; the
    determinant of the trilinear map at the corner has the same sign.

    Args:
        points: (n, 3), m.
        hexes: (number of elements, 8), nodes in the order of mesh files.

    Returns:
        (number of elements, 8), from -1 to 1; 0 at an edge without length.

    Example:
        >>> import numpy as np
        >>> points = np.array([(0, 0, 0), (2, 0, 0), (2, 1, 0), (0, 1, 0),
        ...                    (0, 0, 3), (2, 0, 3), (2, 1, 3), (0, 1, 3)], dtype=float)
        >>> corner_volumes(points, np.arange(8)[None, :]).tolist()
        [[1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0]]
    """
    corners = points[hexes]
    edges = corners[:, _NEIGHBOURS] - corners[:, :, None, :]
    triple = np.einsum("eci,eci->ec", edges[:, :, 0], np.cross(edges[:, :, 1], edges[:, :, 2]))
    lengths = np.linalg.norm(edges, axis=-1).prod(axis=-1)
    return np.asarray(np.divide(triple, lengths, out=np.zeros_like(triple), where=lengths > 0.0))


def upright(points: Array, hexes: Indices) -> tuple[Indices, int]:
    """Hexahedra with their nodes in right-handed order, and how many had to be turned.

    An element that is inside out at all its corners (a mirrored mesh) gets its two layers of
    nodes swapped. One that is inside out or flat at some corners can't be put right.

    Args:
        points: (n, 3), m.
        hexes: (number of elements, 8), nodes in the order of mesh files.

    Returns:
        The hexahedra and the number of those that were turned.

    Raises:
        MeshError: an element is folded or flat at a corner.

    Example:
        >>> import numpy as np
        >>> points = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0),
        ...                    (0, 0, -1), (1, 0, -1), (1, 1, -1), (0, 1, -1)], dtype=float)
        >>> upright(points, np.arange(8)[None, :])
        (array([[4, 5, 6, 7, 0, 1, 2, 3]]), 1)
    """
    volumes = corner_volumes(points, hexes)
    mirrored = np.asarray((volumes < 0.0).all(axis=1))
    turned = np.where(mirrored[:, None], hexes[:, _INSIDE_OUT], hexes)
    sound = np.where(mirrored[:, None], -volumes, volumes).min(axis=1) > 1e-6
    if not sound.all():
        bad = np.flatnonzero(~sound)
        middle = points[hexes[bad[0]]].mean(axis=0) * 1e3
        raise MeshError(
            f"{bad.size} of {len(hexes)} elements are folded or flat at a corner, first element "
            f"{bad[0]} (counted from 0) near ({middle[0]:.4g}, {middle[1]:.4g}, {middle[2]:.4g}) "
            "mm. Repair them in the mesher; if all are listed, the file may name the nodes of a "
            "hexahedron in another order (needed: four round one face, then the four above them)."
        )
    return turned, int(mirrored.sum())


def count_pieces(number_of_points: int, hexes: Indices) -> int:
    """Number of pieces that share no node.

    Args:
        number_of_points: all of them used by some element.
        hexes: (number of elements, 8), nodes in any order.

    Example:
        >>> import numpy as np
        >>> count_pieces(16, np.arange(16).reshape(2, 8))
        2
    """
    first = np.repeat(hexes[:, 0], 7)
    links = coo_matrix(
        (np.ones(first.size), (first, hexes[:, 1:].ravel())),
        shape=(number_of_points, number_of_points),
    )
    return int(connected_components(links, directed=False)[0])


@dataclass(frozen=True, kw_only=True)
class MeshSummary:
    """Size and shape of a mesh in a few numbers.

    Args:
        nodes: number of nodes.
        elements: number of elements.
        smallest_edge: shortest element edge, m.
        largest_edge: longest element edge, m.
        worst_aspect_ratio: largest ratio of the longest to the shortest edge of one element.
        extent: size of the part along x, y and z, m.
    """

    nodes: int
    elements: int
    smallest_edge: float
    largest_edge: float
    worst_aspect_ratio: float
    extent: tuple[float, float, float]


def mesh_summary(mesh: MeshHex) -> MeshSummary:
    """Count a mesh's nodes and elements and measure its edges.

    Args:
        mesh: the mesh, m.

    Example:
        >>> from skfem import MeshHex
        >>> mesh_summary(MeshHex.init_tensor([0, 1, 3], [0, 1], [0, 0.5])).worst_aspect_ratio
        4.0
    """
    ends = mesh.p[:, mesh.edges]
    lengths = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=0)
    by_element = lengths[mesh.t2e]
    x, y, z = (float(side) for side in np.ptp(mesh.p, axis=1))
    return MeshSummary(
        nodes=mesh.p.shape[1],
        elements=mesh.nelements,
        smallest_edge=float(lengths.min()),
        largest_edge=float(lengths.max()),
        worst_aspect_ratio=float((by_element.max(axis=0) / by_element.min(axis=0)).max()),
        extent=(x, y, z),
    )
