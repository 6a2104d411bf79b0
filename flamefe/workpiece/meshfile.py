"""Meshes from files, and the order in which files name the nodes of a hexahedron."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import MeshHex

from flamefe.basics.errors import MeshError
from flamefe.workpiece.faces import FACE_SIDES, facets_of_nodes, facets_of_quads, named_sides
from flamefe.workpiece.meshcheck import count_pieces, upright
from flamefe.workpiece.meshcontent import MeshContent, read_content

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

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


@dataclass(frozen=True, kw_only=True)
class PartMesh:
    """A part's mesh from a file.

    Args:
        mesh: 8-node hexahedra, m, with named faces.
        node_sets: named nodes of the file (columns of ``mesh.p``, rising): sets of points, and
            the nodes of named lines and quadrilaterals.
        element_sets: named hexahedra of the file (columns of ``mesh.t``, rising).
        point_numbers: for each node its place among the points of the file, from 0, (n,).
        remarks: what was put right or left out while reading, one sentence each.

    Raises:
        MeshError: a node set names a node that the mesh does not have.
    """

    mesh: MeshHex
    node_sets: dict[str, Indices]
    element_sets: dict[str, Indices] = field(default_factory=dict)
    point_numbers: Indices
    remarks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        number = self.mesh.p.shape[1]
        if self.point_numbers.shape != (number,):
            raise MeshError(
                f"{number} nodes have {self.point_numbers.size} point numbers; give each one."
            )
        for name, nodes in self.node_sets.items():
            if nodes.size and (nodes.min() < 0 or nodes.max() >= number):
                raise MeshError(
                    f"Node set {name!r} names nodes {nodes.min()} to {nodes.max()}; the mesh has "
                    f"0 to {number - 1}."
                )


def read_mesh(path: str | Path, *, unit_mm: float = 1.0) -> PartMesh:
    """Read a part's mesh of 8-node hexahedra, with its named faces and nodes.

    Any format that meshio reads by its extension: gmsh .msh (2.2 and 4.1), Abaqus .inp, VTK .vtk
    and .vtu and more. Faces come from named quadrilaterals (physical surfaces, element sets of
    shells or membranes), and from sets of points which make up outer facets completely. Of the
    six names "start", "end" (x), "near", "far" (y), "bottom", "top" (z) those that the file does
    not give (in lower or upper case) are found by position, see ``named_sides``.

    Nodes keep the order of the points in the file; points that no hexahedron uses are left out.
    Mirrored elements are turned. Everything else that is wrong is refused.

    Args:
        path: of the mesh file.
        unit_mm: size of one unit of the file, mm (1000 for a file in metres).

    Returns:
        The mesh, m, its node sets, and remarks on what was left out or put right.

    Raises:
        MeshError: no such file, not readable, elements other than 8-node hexahedra, folded or
            flat elements, pieces that share no nodes, a named quadrilateral that is no facet, or
            a part smaller than 2 mm or larger than 100 m.

    Example:
        >>> import tempfile, meshio
        >>> from pathlib import Path
        >>> points = [(0, 0, 0), (200, 0, 0), (200, 50, 0), (0, 50, 0),
        ...           (0, 0, 8), (200, 0, 8), (200, 50, 8), (0, 50, 8)]
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     file = Path(folder) / "flat.vtu"
        ...     meshio.write_points_cells(file, points, {"hexahedron": [list(range(8))]})
        ...     part = read_mesh(file)
        >>> part.mesh.p.max(axis=1).tolist(), sorted(part.mesh.boundaries)[:3]
        ([0.2, 0.05, 0.008], ['bottom', 'end', 'far'])
    """
    if not (np.isfinite(unit_mm) and unit_mm > 0.0):
        raise MeshError(f"unit_mm is {unit_mm:g}; give the size of a file unit in mm, above 0.")
    content = read_content(Path(path))
    remarks: list[str] = []
    used = np.unique(content.hexes)
    number = np.full(len(content.points), -1, dtype=np.int64)
    number[used] = np.arange(used.size)
    if used.size < len(content.points):
        left_out = len(content.points) - used.size
        remarks.append(f"{left_out} points that no hexahedron uses were left out.")
    points = content.points[used] * (unit_mm * 1e-3)
    _check_extent(points, unit_mm)
    hexes, turned = upright(points, number[content.hexes])
    if turned:
        remarks.append(f"{turned} mirrored elements were turned the right way round.")
    pieces = count_pieces(len(points), hexes)
    if pieces > 1:
        raise MeshError(
            f"The mesh is in {pieces} pieces that share no nodes; merge the coincident nodes in "
            "the mesher (each piece alone could move freely)."
        )
    mesh = from_meshio_order(points, hexes)
    node_sets = _node_sets(content, number, remarks)
    faces = _named_faces(mesh, content, number, node_sets, remarks)
    return PartMesh(
        mesh=mesh.with_boundaries(faces),
        node_sets=node_sets,
        element_sets=content.hex_groups,
        point_numbers=used,
        remarks=tuple(remarks),
    )


def _check_extent(points: Array, unit_mm: float) -> None:
    if not np.isfinite(points).all():
        raise MeshError("The mesh file holds coordinates that are not finite numbers.")
    largest = float(np.ptp(points, axis=0).max())
    if not 2e-3 <= largest <= 100.0:
        raise MeshError(
            f"With a file unit of {unit_mm:g} mm the part is {largest * 1e3:.4g} mm long; it must "
            "be 2 mm to 100 m. Give the unit of the file: unit_mm = 1000 for metres, 1 for "
            "millimetres, 25.4 for inches."
        )


def _node_sets(content: MeshContent, number: Indices, remarks: list[str]) -> dict[str, Indices]:
    sets = {}
    for name, points in content.point_groups.items():
        nodes = number[points]
        kept = np.unique(nodes[nodes >= 0])
        if kept.size < np.unique(points).size:
            left_out = np.unique(points).size - kept.size
            remarks.append(f"Set {name!r}: {left_out} of its points belong to no hexahedron.")
        if kept.size:
            sets[name] = kept
        else:
            remarks.append(f"Set {name!r} is empty and was left out.")
    return sets


def _named_faces(
    mesh: MeshHex,
    content: MeshContent,
    number: Indices,
    node_sets: dict[str, Indices],
    remarks: list[str],
) -> dict[str, Indices]:
    faces: dict[str, Indices] = {}
    outer = mesh.boundary_facets()
    for name, quads in content.quad_groups.items():
        facets = facets_of_quads(mesh, number[quads])
        if (facets < 0).any():
            raise MeshError(
                f"{int((facets < 0).sum())} of the {len(quads)} quadrilaterals named {name!r} are "
                "not facets of any hexahedron; mesh surface and volume together."
            )
        if not np.isin(facets, outer).all():
            remarks.append(f"{name!r} lies inside the part and is no face; its nodes are a set.")
        else:
            faces[name] = np.unique(facets)
    for name, nodes in node_sets.items():
        if name not in content.quad_groups:
            facets = facets_of_nodes(mesh, nodes)
            if facets.size:
                faces[name] = facets
    sides = named_sides(mesh)
    for side in FACE_SIDES:
        given = [name for name in faces if name.casefold() == side]
        if given and side not in faces:
            faces[side] = faces[given[0]]
        elif not given and side in sides:
            faces[side] = sides[side]
        elif not given:
            remarks.append(f"The part has no face {side!r}.")
    return faces
