"""Names for the faces of a mesh by the side of the part on which they lie."""

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex

FACE_SIDES: dict[str, tuple[int, int]] = {
    "start": (0, -1),
    "end": (0, 1),
    "near": (1, -1),
    "far": (1, 1),
    "bottom": (2, -1),
    "top": (2, 1),
}
"""Each face name with its axis (0 x, 1 y, 2 z) and the side of it (-1 lowest, 1 highest)."""

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


def side_facets(mesh: MeshHex, name: str) -> NDArray[np.int64]:
    """Outer facets that lie flat on one side of the mesh's bounding box.

    Args:
        mesh: the mesh, m.
        name: "top", "bottom", "start", "end", "near" or "far".

    Returns:
        Indices of the facets, (number of facets,); empty where the part only touches that side
        with an edge or not at all flat.

    Raises:
        KeyError: the name is none of the six.

    Example:
        >>> from skfem import MeshHex
        >>> len(side_facets(MeshHex().refined(1), "top"))
        4
    """
    axis, side = FACE_SIDES[name]
    along = mesh.p[axis]
    level = along.max() if side > 0 else along.min()
    slack = 1e-6 * float(np.ptp(mesh.p, axis=1).max())
    outer = mesh.boundary_facets()
    flat = (np.abs(along[mesh.facets[:, outer]] - level) <= slack).all(axis=0)
    return np.asarray(outer[flat], dtype=np.int64)
