"""What a mesh file holds, read through meshio, and refused if it is not 8-node hexahedra."""

import io
import re
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import meshio
import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import MeshError

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

_SMALL_CELLS = {"vertex", "line", "quad"}
_HIGHER_HEXES = re.compile(r"hexahedron\d+|VTK_LAGRANGE_HEXAHEDRON")
_SPOKEN = {"hexahedron": "8-node hexahedra", "tetra": "tetrahedra", "wedge": "wedges"}


@dataclass(frozen=True, kw_only=True)
class MeshContent:
    """Points, hexahedra and named groups of a mesh file, numbered as in the file from 0.

    Args:
        points: (n, 3), file units.
        hexes: (number of elements, 8), in the order of mesh files.
        quad_groups: named quadrilaterals, each (k, 4).
        point_groups: named points, each (k,): sets of points, and the points of named
            quadrilaterals, lines and single points.
        hex_groups: named hexahedra, each (k,).
    """

    points: Array
    hexes: Indices
    quad_groups: dict[str, Indices]
    point_groups: dict[str, Indices]
    hex_groups: dict[str, Indices]


def read_content(path: Path) -> MeshContent:
    """Read a mesh file of 8-node hexahedra.

    Args:
        path: of the file; its extension tells the format.

    Returns:
        Its points, hexahedra and named groups.

    Raises:
        MeshError: no such file, a format that can't be read, or elements that are no 8-node
            hexahedra.
    """
    found = _read(path)
    cells = {block.type: 0 for block in found.cells}
    for block in found.cells:
        cells[block.type] += len(block.data)
    _check_cells(path, cells)
    points = np.asarray(found.points, dtype=float)
    if points.ndim != 2 or points.shape[1] != 3:
        raise MeshError(f"{path.name}: its points have no three coordinates each.")
    by_type = {kind: _joined(found, kind) for kind in ("hexahedron", "quad", "line", "vertex")}
    quad_groups: dict[str, Indices] = {}
    hex_groups: dict[str, Indices] = {}
    point_groups = {
        name: np.unique(np.asarray(members, dtype=np.int64))
        for name, members in found.point_sets.items()
    }
    for name, members_of in _groups(found).items():
        if members_of.get("hexahedron", np.empty(0)).size:
            hex_groups[name] = np.unique(members_of["hexahedron"])
        reached = []
        for kind, members in members_of.items():
            if kind in ("quad", "line", "vertex") and members.size:
                nodes = by_type[kind][members]
                reached.append(nodes.ravel())
                if kind == "quad":
                    quad_groups[name] = nodes
        if reached:
            known = point_groups.get(name, np.empty(0, dtype=np.int64))
            point_groups[name] = np.unique(np.concatenate([known, *reached]))
    return MeshContent(
        points=points,
        hexes=by_type["hexahedron"],
        quad_groups=quad_groups,
        point_groups=point_groups,
        hex_groups=hex_groups,
    )


def _read(path: Path) -> meshio.Mesh:
    """Read through meshio, which prints its reasons and ends the process when it fails."""
    if not path.is_file():
        raise MeshError(f"There is no mesh file {str(path)!r}.")
    said = io.StringIO()
    try:
        with redirect_stdout(said), redirect_stderr(said):
            return meshio.read(path)
    except (Exception, SystemExit) as fault:
        reasons = [said.getvalue(), "" if isinstance(fault, SystemExit) else str(fault)]
        reason = " ".join(" ".join(reasons).split()).rstrip(".") or type(fault).__name__
        raise MeshError(
            f"{path.name} can't be read as a mesh: {reason}. Save it as gmsh .msh (version 2.2 or "
            "4.1), Abaqus .inp or .vtu."
        ) from fault


def _check_cells(path: Path, cells: dict[str, int]) -> None:
    higher = [kind for kind in cells if _HIGHER_HEXES.fullmatch(kind)]
    if higher or "quad8" in cells or "quad9" in cells:
        kinds = ", ".join(f"{cells[kind]} {kind}" for kind in cells if kind not in _SMALL_CELLS)
        raise MeshError(
            f"{path.name} has elements of second order ({kinds}); only 8-node hexahedra are "
            "read, which bend as well here through extra modes inside them. Save the mesh with "
            "elements of first order."
        )
    others = [kind for kind in cells if kind not in _SMALL_CELLS and kind != "hexahedron"]
    if others or not cells.get("hexahedron"):
        kinds = ", ".join(f"{cells[kind]} {_SPOKEN.get(kind, kind)}" for kind in cells) or "nothing"
        raise MeshError(
            f"{path.name} holds {kinds}; the part must be meshed with 8-node hexahedra alone "
            "(beside them only quadrilaterals, lines and points that name faces and nodes). "
            "Mesh it by sweeping or extruding quadrilaterals."
        )


def _joined(found: meshio.Mesh, kind: str) -> Indices:
    return np.asarray(found.get_cells_type(kind), dtype=np.int64)


def _groups(found: meshio.Mesh) -> dict[str, dict[str, Indices]]:
    """Named cells by type: cell sets, else the physical groups of older gmsh files."""
    sets = {
        name: _members(found, members)
        for name, members in found.cell_sets.items()
        if not name.startswith("gmsh:")
    }
    tags = found.cell_data.get("gmsh:physical")
    if tags is None:
        return sets
    dimension = {"vertex": 0, "line": 1, "quad": 2, "hexahedron": 3}
    for name, (tag, size) in found.field_data.items():
        if name not in sets:
            chosen = [
                np.flatnonzero(np.asarray(tag_of_cell) == tag)
                if dimension.get(block.type) == size
                else np.empty(0, dtype=np.int64)
                for block, tag_of_cell in zip(found.cells, tags, strict=True)
            ]
            sets[name] = _members(found, chosen)
    return sets


def _members(found: meshio.Mesh, by_block: Sequence[Indices | None]) -> dict[str, Indices]:
    """Numbers of a set's cells among all cells of their type, from its members block by block."""
    before: dict[str, int] = {}
    gathered: dict[str, list[Indices]] = {}
    for block, members in zip(found.cells, by_block, strict=False):
        offset = before.get(block.type, 0)
        before[block.type] = offset + len(block.data)
        if members is not None and len(members):
            numbers = np.asarray(members, dtype=np.int64) + offset
            gathered.setdefault(block.type, []).append(numbers)
    return {kind: np.concatenate(parts) for kind, parts in gathered.items()}
