"""The outer skin, and fields brought onto it."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from skfem import MeshHex

from flamefe.reporting.skin import along_face, at_nodes, facing, level_lines, skin_of, volumes_of
from flamefe.workpiece.mesh import box_mesh


@pytest.fixture
def skewed():
    mesh = box_mesh(np.linspace(0, 4, 5), np.linspace(0, 2, 4), [0.0, 0.3, 1.0])
    x, y, z = mesh.p
    return MeshHex(np.stack((x + 0.2 * z, y + 0.1 * x, z)), mesh.t)


def test_quads_enclose_the_volume_outwards(skewed):
    quads = skin_of(skewed).quads
    a, b, c, d = (skewed.p.T[quads[:, i]] for i in range(4))
    normal_area = 0.5 * np.cross(c - a, d - b)
    middle = (a + b + c + d) / 4
    volume = np.einsum("qi,qi->", middle, normal_area) / 3  # divergence theorem
    assert_allclose(volume, 4 * 2 * 1.0)
    assert_allclose(volumes_of(skewed).sum(), volume)


def test_sharp_edges_are_those_of_the_box(skewed):
    skin = skin_of(skewed)
    assert len(skin.edges) == 4 * (4 + 3 + 2)
    lengths = np.linalg.norm(np.diff(skewed.p.T[skin.edges], axis=1), axis=-1)
    box_edges = (4 * np.hypot(1, 0.1), 2, np.hypot(1, 0.2))
    assert_allclose(lengths.sum(), 4 * sum(box_edges))


def test_a_bent_sheet_has_no_edge_along_a_gentle_bend():
    mesh = box_mesh(np.linspace(-1, 1, 21), [0.0, 1.0], [0.0, 0.1])
    bent = MeshHex(mesh.p + np.stack((0 * mesh.p[0], 0 * mesh.p[0], 0.2 * mesh.p[0] ** 2)), mesh.t)
    assert len(skin_of(bent).edges) == 4 * (20 + 1 + 1)


def test_three_sides_of_a_box_face_a_viewer():
    mesh = MeshHex().refined(1)
    quads = skin_of(mesh).quads
    seen = facing(mesh.p.T, quads, np.array([1.0, -2.0, 3.0]))
    assert seen.sum() == 3 * 4
    assert facing(mesh.p.T, quads, np.array([0.0, 0.0, 1.0])).sum() == 4


def test_averages_at_nodes_are_weighted_by_volume():
    mesh = box_mesh([0.0, 1.0, 4.0], [0.0, 1.0], [0.0, 1.0])
    by_middle = np.argsort(mesh.p[:, mesh.t].mean(axis=1)[0])
    values = np.empty(2)
    values[by_middle] = 10.0, 20.0
    found = at_nodes(mesh, values)
    for x, expected in ((0.0, 10.0), (1.0, 17.5), (4.0, 20.0)):
        assert_allclose(found[mesh.p[0] == x], expected)


def test_level_line_lies_at_its_level(skewed):
    quads = skin_of(skewed).quads
    points = skewed.p.T
    pieces = level_lines(points, quads, points[:, 0], 1.7)
    assert len(pieces) > 10
    assert_allclose(pieces[..., 0], 1.7)
    assert level_lines(points, quads, points[:, 0], 99.0).shape == (0, 2, 3)


def test_values_along_a_face_are_linear_between_nodes():
    mesh = box_mesh([0.0, 0.1, 2.0, 4.0], [0.0, 0.01, 2.0], [0.0, 1.0])
    quads = skin_of(mesh).quads
    points = mesh.p.T
    top = quads[(points[quads][:, :, 2] == 1.0).all(axis=1)]
    triangles = np.concatenate((top[:, [0, 1, 2]], top[:, [0, 2, 3]]))
    field = np.stack((3 * points[:, 0] - points[:, 1], 0 * points[:, 0] + 7.0), axis=1)
    where = np.array([[0.0, 0.0], [4.0, 2.0], [3.3, 0.005], [0.05, 1.1]])
    found = along_face(points[triangles][:, :, :2], field[triangles], where)
    assert_allclose(found, np.stack((3 * where[:, 0] - where[:, 1], 7.0 + 0 * where[:, 0]), axis=1))
