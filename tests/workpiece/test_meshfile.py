"""Meshes from files: formats, named faces and nodes, repairs, and what is refused.

The files in ``meshes/`` were written by gmsh 4.15: a plate of 30 (top end edge 36) x 20 x 5 with
3 x 2 x 2 elements.
"""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import meshio
import numpy as np
import pytest
from skfem import Basis, ElementHex1, FacetBasis, MeshHex

from flamefe.basics.errors import MeshError
from flamefe.workpiece.faces import named_sides
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.meshfile import PartMesh, from_meshio_order, read_mesh, to_meshio_order

HERE = Path(__file__).parent / "meshes"
AREA = 0.5 * (30 + 36) * 20


def box() -> tuple[np.ndarray, np.ndarray]:
    """Points and hexahedra of a 40 x 20 x 10 box of 4 x 2 x 2 elements, file order."""
    mesh = box_mesh(np.linspace(0, 40, 5), [0, 10, 20], [0, 4, 10])
    return mesh.p.T.copy(), to_meshio_order(mesh)


def write(folder: Path, name: str = "part.vtu", **changes: Any) -> Path:
    points, hexes = box()
    given: dict[str, Any] = {"points": points, "cells": {"hexahedron": hexes}, **changes}
    path = folder / name
    meshio.Mesh(**given).write(path)
    return path


def area(mesh: MeshHex, facets: np.ndarray) -> float:
    return float(FacetBasis(mesh, ElementHex1(), facets=facets).dx.sum()) * 1e6


@pytest.mark.parametrize(
    ("file", "edge", "lower"),
    [
        ("slanted_22.msh", "clamped edge", "lower end edge"),
        ("slanted_41.msh", "clamped edge", "lower end edge"),
        ("slanted.inp", "clamped_edge", "lower_end_edge"),
    ],
)
def test_named_groups_of_a_mesher(file: str, edge: str, lower: str) -> None:
    part = read_mesh(HERE / file)
    mesh = part.mesh
    assert (mesh.p.shape[1], mesh.nelements) == (36, 12)
    assert float(Basis(mesh, ElementHex1()).dx.sum()) * 1e9 == pytest.approx(AREA * 5)
    assert area(mesh, mesh.boundaries["top"]) == pytest.approx(AREA)
    assert area(mesh, mesh.boundaries["bottom"]) == pytest.approx(AREA)
    assert area(mesh, mesh.boundaries[edge]) == pytest.approx(30 * 5)
    assert set(mesh.boundaries[edge]) == set(mesh.boundaries["near"])
    assert area(mesh, mesh.boundaries["end"]) == pytest.approx(np.hypot(6, 20) * 5)
    assert area(mesh, mesh.boundaries["far"]) == pytest.approx(36 * 5)
    np.testing.assert_allclose(mesh.p[2, mesh.facets[:, mesh.boundaries["top"]]], 5e-3)
    corner = part.node_sets["corner"]
    np.testing.assert_allclose(mesh.p[:, corner], 0.0, atol=1e-12)
    assert corner.size == 1
    line = part.node_sets[lower]
    np.testing.assert_allclose(mesh.p[2, line], 0.0, atol=1e-12)
    assert line.size == 3
    np.testing.assert_array_equal(part.element_sets["plate"], np.arange(12))
    assert part.remarks == ()


def test_all_points_of_a_part_are_no_face() -> None:
    part = read_mesh(HERE / "slanted.inp")
    assert part.node_sets["plate"].size == 36
    assert "plate" not in part.mesh.boundaries


def test_numbers_and_unit_of_the_file_are_kept(tmp_path: Path) -> None:
    points, hexes = box()
    shuffle = np.random.default_rng(3).permutation(len(points))
    path = write(
        tmp_path, points=points[shuffle] / 1000, cells={"hexahedron": np.argsort(shuffle)[hexes]}
    )
    part = read_mesh(path, unit_mm=1000.0)
    np.testing.assert_allclose(part.mesh.p.T, points[shuffle] / 1000)
    np.testing.assert_array_equal(to_meshio_order(part.mesh), np.argsort(shuffle)[hexes])
    np.testing.assert_array_equal(part.point_numbers, np.arange(len(points)))


@pytest.mark.parametrize("suffix", ["vtu", "vtk", "inp", "msh", "xdmf"])
def test_a_file_without_names_gets_the_six_sides(tmp_path: Path, suffix: str) -> None:
    part = read_mesh(write(tmp_path, f"part.{suffix}"))
    areas = {name: area(part.mesh, facets) for name, facets in part.mesh.boundaries.items()}
    assert areas == pytest.approx(
        {"top": 800, "bottom": 800, "near": 400, "far": 400, "start": 200, "end": 200}
    )
    assert part.remarks == ()


def test_sets_of_points_that_make_up_facets_are_faces(tmp_path: Path) -> None:
    points, _ = box()
    half = np.flatnonzero((points[:, 2] == 10) & (points[:, 0] <= 20))
    sets = {
        "half_top": half,
        "TOP": np.flatnonzero(points[:, 2] == 10),
        "edge": np.flatnonzero((points[:, 2] == 10) & (points[:, 1] == 0)),
        "half_and_one": np.append(half, np.flatnonzero(points[:, 2] == 0)[0]),
    }
    part = read_mesh(write(tmp_path, "part.inp", point_sets=sets))
    for name, nodes in sets.items():
        np.testing.assert_array_equal(part.node_sets[name], np.sort(nodes))
    faces = part.mesh.boundaries
    assert area(part.mesh, faces["half_top"]) == pytest.approx(400)
    assert area(part.mesh, faces["top"]) == pytest.approx(800)
    assert {"edge", "half_and_one"}.isdisjoint(faces)


def test_a_files_own_top_wins_over_position(tmp_path: Path) -> None:
    """A face named "Top" in the file is the top, even if it is only a part of the upper side."""
    points, _ = box()
    half = np.flatnonzero((points[:, 2] == 10) & (points[:, 0] <= 20))
    part = read_mesh(write(tmp_path, "part.inp", point_sets={"Top": half}))
    assert area(part.mesh, part.mesh.boundaries["top"]) == pytest.approx(400)


def test_points_that_no_element_uses_are_left_out(tmp_path: Path) -> None:
    points, hexes = box()
    extra = np.vstack([[1e6, 0, 0], points[:10], [5, 5, 5], points[10:]])
    number = np.concatenate([np.arange(1, 11), np.arange(12, len(extra))])
    top = np.flatnonzero(extra[:, 2] == 10)
    path = write(
        tmp_path,
        "part.inp",
        points=extra,
        cells={"hexahedron": number[hexes]},
        point_sets={"top": top, "reference": [0], "mixed": [0, 1]},
    )
    part = read_mesh(path)
    np.testing.assert_array_equal(part.point_numbers, number)
    np.testing.assert_allclose(part.mesh.p.T * 1e3, points)
    np.testing.assert_allclose(part.mesh.p[2, part.node_sets["top"]], 0.010)
    assert part.node_sets["top"].size == top.size
    np.testing.assert_array_equal(part.node_sets["mixed"], [0])
    assert "reference" not in part.node_sets
    text = " ".join(part.remarks)
    assert "2 points that no hexahedron uses" in text
    assert "'reference' is empty" in text
    assert "'mixed': 1 of its points" in text


def test_mirrored_elements_are_turned(tmp_path: Path) -> None:
    points, hexes = box()
    some = hexes.copy()
    some[:5] = some[:5][:, [4, 5, 6, 7, 0, 1, 2, 3]]
    part = read_mesh(write(tmp_path, cells={"hexahedron": some}))
    np.testing.assert_array_equal(to_meshio_order(part.mesh), hexes)
    assert "5 mirrored elements" in part.remarks[0]
    mirrored = read_mesh(write(tmp_path, points=points * [1, -1, 1]))
    assert "16 mirrored elements" in mirrored.remarks[0]
    assert float(Basis(mirrored.mesh, ElementHex1()).dx.sum()) == pytest.approx(8e-6)


def test_surface_inside_the_part_is_no_face(tmp_path: Path) -> None:
    _, hexes = box()
    inner = hexes[:1, 4:]
    cells = [("quad", inner), ("hexahedron", hexes)]
    path = write(tmp_path, "part.inp", cells=cells, cell_sets={"core": [[0], []]})
    part = read_mesh(path)
    assert "core" not in part.mesh.boundaries
    np.testing.assert_array_equal(part.node_sets["core"], np.sort(inner[0]))
    assert "inside the part" in part.remarks[0]


def folded(points: np.ndarray, hexes: np.ndarray) -> tuple[np.ndarray, dict[str, Any]]:
    points[hexes[3, 0]] = points[hexes[3, 6]] + [1, 1, 1]
    return points, {"hexahedron": hexes}


def flat(points: np.ndarray, hexes: np.ndarray) -> tuple[np.ndarray, dict[str, Any]]:
    points[:, 2] = 0.0
    return points, {"hexahedron": hexes}


def zigzag(points: np.ndarray, hexes: np.ndarray) -> tuple[np.ndarray, dict[str, Any]]:
    return points, {"hexahedron": hexes[:, [0, 1, 3, 2, 4, 5, 7, 6]]}


def two_pieces(points: np.ndarray, hexes: np.ndarray) -> tuple[np.ndarray, dict[str, Any]]:
    both = np.vstack([points, points + np.array([40, 0, 0])])
    return both, {"hexahedron": np.vstack([hexes, hexes + len(points)])}


def with_tetrahedra(points: np.ndarray, hexes: np.ndarray) -> tuple[np.ndarray, dict[str, Any]]:
    return points, {"hexahedron": hexes, "tetra": hexes[:2, :4]}


def tetrahedra_alone(points: np.ndarray, hexes: np.ndarray) -> tuple[np.ndarray, dict[str, Any]]:
    return points, {"tetra": hexes[:2, :4]}


def shell_alone(points: np.ndarray, hexes: np.ndarray) -> tuple[np.ndarray, dict[str, Any]]:
    return points, {"quad": hexes[:, :4], "triangle": hexes[:, :3]}


def wild_number(points: np.ndarray, hexes: np.ndarray) -> tuple[np.ndarray, dict[str, Any]]:
    points[5, 1] = np.nan
    return points, {"hexahedron": hexes}


def twenty_nodes(points: np.ndarray, hexes: np.ndarray) -> tuple[np.ndarray, dict[str, Any]]:
    return points, {"hexahedron20": np.tile(hexes, 3)[:, :20]}


@pytest.mark.parametrize(
    ("spoil", "text"),
    [
        (folded, "of 16 elements are folded or flat"),
        (flat, "16 of 16 elements are folded or flat"),
        (zigzag, "another order"),
        (two_pieces, "2 pieces that share no nodes"),
        (with_tetrahedra, "16 8-node hexahedra, 2 tetrahedra"),
        (tetrahedra_alone, "2 tetrahedra; the part must be meshed with 8-node hexahedra"),
        (shell_alone, "16 quad, 16 triangle"),
        (wild_number, "not finite"),
        (twenty_nodes, "second order (16 hexahedron20)"),
    ],
)
def test_meshes_that_are_refused(
    tmp_path: Path, spoil: Callable[..., tuple[np.ndarray, dict[str, Any]]], text: str
) -> None:
    points, cells = spoil(*box())
    with pytest.raises(MeshError, match=re.escape(text)):
        read_mesh(write(tmp_path, points=points, cells=cells))


def test_second_order_of_a_mesher_is_refused() -> None:
    with pytest.raises(MeshError, match="12 hexahedron27"):
        read_mesh(HERE / "slanted_second_order.msh")


def test_a_named_quadrilateral_apart_from_the_part_is_refused(tmp_path: Path) -> None:
    _, hexes = box()
    cells = [("quad", [[0, 5, 17, 23]]), ("hexahedron", hexes)]
    path = write(tmp_path, "part.inp", cells=cells, cell_sets={"rest": [[0], []]})
    with pytest.raises(MeshError, match="1 of the 1 quadrilaterals named 'rest'"):
        read_mesh(path)


@pytest.mark.parametrize(("unit", "length"), [(0.001, "0.04"), (1e6, "4e")])
def test_a_slip_of_the_unit_is_caught(tmp_path: Path, unit: float, length: str) -> None:
    with pytest.raises(MeshError, match=f"part is {length}.*Give the unit of the file"):
        read_mesh(write(tmp_path), unit_mm=unit)


@pytest.mark.parametrize("unit", [0.0, -1.0, np.nan])
def test_an_impossible_unit(tmp_path: Path, unit: float) -> None:
    with pytest.raises(MeshError, match="unit_mm is"):
        read_mesh(write(tmp_path), unit_mm=unit)


@pytest.mark.parametrize(
    ("name", "text", "expected"),
    [
        ("part.inp", "*NODE\n1, 0, 0\n*ELEMENT, TYPE=C3D99\n1, 1\n", "C3D99"),
        ("part.msh", "$MeshFormat\n9.9 0 8\n$EndMeshFormat\n", "can't be read as a mesh"),
        ("part.vtu", "<no mesh", "can't be read as a mesh"),
        ("part.xyz123", "", "can't be read as a mesh"),
        ("part.inp", "", "nothing|can't be read"),
    ],
)
def test_broken_files(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], name: str, text: str, expected: str
) -> None:
    path = tmp_path / name
    path.write_text(text)
    with pytest.raises(MeshError, match=expected):
        read_mesh(path)
    assert capfd.readouterr() == ("", "")


def test_no_file_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(MeshError, match="no mesh file"):
        read_mesh(tmp_path / "missing.msh")
    with pytest.raises(MeshError, match="no mesh file"):
        read_mesh(tmp_path)


def test_sides_of_a_curved_and_a_stiffened_part() -> None:
    """A dished plate has one top; the plate of a tee ends the top at its edges."""
    flat_plate = box_mesh(np.linspace(0, 1, 9), np.linspace(0, 1, 9), [0, 0.01, 0.02])
    p = flat_plate.p.copy()
    p[2] += 0.1 * np.sin(np.pi * p[0]) * np.sin(np.pi * p[1])
    dished = MeshHex(p, flat_plate.t)
    for name, facets in named_sides(dished).items():
        np.testing.assert_array_equal(facets, np.sort(flat_plate.boundaries[name]))
    grid = box_mesh(np.linspace(0, 1, 3), np.linspace(0, 0.5, 6), np.linspace(0, 0.3, 4))
    middle = grid.p[:, grid.t].mean(axis=1)
    tee = grid.restrict(np.flatnonzero((middle[2] > 0.2) | (np.abs(middle[1] - 0.25) < 0.05)))
    sides = named_sides(tee)
    areas = {
        name: float(FacetBasis(tee, ElementHex1(), facets=facets).dx.sum())
        for name, facets in sides.items()
    }
    end = 0.5 * 0.1 + 0.1 * 0.2
    assert areas == pytest.approx(
        {"top": 0.5, "bottom": 0.1, "near": 0.1, "far": 0.1, "start": end, "end": end}
    )


def test_part_mesh_checks_itself() -> None:
    mesh = from_meshio_order(*box())
    count = mesh.p.shape[1]
    with pytest.raises(MeshError, match="'rim' names nodes"):
        PartMesh(mesh=mesh, node_sets={"rim": np.array([count])}, point_numbers=np.arange(count))
    with pytest.raises(MeshError, match="point numbers"):
        PartMesh(mesh=mesh, node_sets={}, point_numbers=np.arange(3))
