"""The order of a hexahedron's nodes: proved on a distorted element and against skfem's own."""

import numpy as np
import pytest
import skfem
import skfem.io.meshio
from skfem import Basis, ElementHex1, FacetBasis, MeshHex

from flamefe.basics.errors import MeshError
from flamefe.workpiece.meshfile import from_meshio_order, to_meshio_order

CORNERS = np.array(
    [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]],
    dtype=float,
)


def distorted() -> np.ndarray:
    shift = np.random.default_rng(7).uniform(-0.2, 0.2, size=CORNERS.shape)
    return np.asarray(CORNERS * [2.0, 1.0, 3.0] + shift)


def volume_by_tetrahedra(points: np.ndarray) -> float:
    """Mean of the two cuts of a hexahedron into five tetrahedra: exact for trilinear ones."""
    cuts = [
        [(0, 1, 2, 5), (0, 2, 7, 5), (0, 2, 3, 7), (0, 5, 7, 4), (2, 7, 5, 6)],
        [(1, 2, 3, 6), (1, 3, 0, 4), (1, 6, 4, 5), (3, 4, 6, 7), (1, 3, 4, 6)],
    ]
    total = 0.0
    for cut in cuts:
        for a, b, c, d in cut:
            edges = points[[b, c, d]] - points[a]
            total += 0.5 * float(np.linalg.det(edges)) / 6.0
    return total


def area_of_bilinear(quad: np.ndarray) -> float:
    """Area of a bilinear face by a fine Gauss rule, from its own corner formula."""
    g, w = np.polynomial.legendre.leggauss(12)
    u, v = np.meshgrid(0.5 * (g + 1), 0.5 * (g + 1))
    ww = 0.25 * np.outer(w, w)
    a, b, c, d = quad
    du = (1 - v)[..., None] * (b - a) + v[..., None] * (c - d)
    dv = (1 - u)[..., None] * (d - a) + u[..., None] * (c - b)
    return float((np.linalg.norm(np.cross(du, dv), axis=-1) * ww).sum())


def test_volume_of_a_distorted_element() -> None:
    points = distorted()
    mesh = from_meshio_order(points, [range(8)])
    volume = Basis(mesh, ElementHex1(), intorder=5).dx.sum()
    assert volume == pytest.approx(volume_by_tetrahedra(points), rel=1e-12)


def test_face_areas_of_a_distorted_element() -> None:
    points = distorted()
    mesh = from_meshio_order(points, [range(8)])
    quads = [(0, 1, 2, 3), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)]
    found = {frozenset(mesh.facets[:, i]): i for i in range(mesh.nfacets)}
    assert len(found) == 6
    for quad in quads:
        facet = found[frozenset(quad)]
        area = FacetBasis(mesh, ElementHex1(), facets=np.array([facet]), intorder=16).dx.sum()
        assert area == pytest.approx(area_of_bilinear(points[list(quad)]), rel=1e-7)


def test_points_and_elements_keep_their_numbers() -> None:
    box = MeshHex().refined(2)
    shuffle = np.random.default_rng(1).permutation(box.p.shape[1])
    points = box.p.T[shuffle]
    hexes = np.argsort(shuffle)[to_meshio_order(box)][::-1]
    mesh = from_meshio_order(points, hexes)
    np.testing.assert_array_equal(mesh.p.T, points)
    np.testing.assert_array_equal(to_meshio_order(mesh), hexes)


def test_agrees_with_skfems_own_conversion() -> None:
    box = MeshHex().refined(1)
    written = skfem.io.meshio.to_meshio(box)
    np.testing.assert_array_equal(written.cells_dict["hexahedron"], to_meshio_order(box))
    again = skfem.io.meshio.from_meshio(written)
    ours = from_meshio_order(written.points, written.cells_dict["hexahedron"])
    np.testing.assert_array_equal(again.t, ours.t)


@pytest.mark.parametrize(
    ("points", "hexes", "text"),
    [
        (CORNERS[:, :2], [list(range(8))], "shape"),
        (CORNERS, [list(range(7))], "whole"),
        (CORNERS, [[0, 1, 2, 3, 4, 5, 6, 8]], "point 8"),
        (CORNERS, [[0, 1, 2, 3, 4, 5, 6, -1]], "point -1"),
        (CORNERS, [[0.0, 1, 2, 3, 4, 5, 6, 7]], "float64"),
    ],
)
def test_refuses_impossible_arrays(points: np.ndarray, hexes: list, text: str) -> None:
    with pytest.raises(MeshError, match=text):
        from_meshio_order(points, hexes)
