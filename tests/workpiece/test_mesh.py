"""Graded axes, boxes and plates: sizes, names, heated faces, summary."""

from typing import Any

import numpy as np
import pytest
from skfem import Basis, ElementHex1, FacetBasis, MeshHex

from flamefe.basics.errors import MeshError
from flamefe.workpiece.mesh import box_mesh, graded, layer_heights, plate_mesh
from flamefe.workpiece.meshcheck import corner_volumes, mesh_summary
from flamefe.workpiece.meshfile import to_meshio_order


def distance_from(spans: list[tuple[float, float]], x: np.ndarray) -> np.ndarray:
    """Distance of each element (between neighbouring x) from the nearest span, 0 if it touches."""
    gaps = [np.maximum(0.0, np.maximum(a - x[1:], x[:-1] - b)) for a, b in spans]
    return np.min(gaps, axis=0) if gaps else np.full(x.size - 1, np.inf)


@pytest.mark.parametrize("seed", range(60))
def test_graded_sizes_keep_to_what_is_allowed(seed: int) -> None:
    random = np.random.default_rng(seed)
    length = float(10 ** random.uniform(-2, 1))
    fine = float(length * 10 ** random.uniform(-2.5, -0.1))
    coarse = float(fine * random.choice([1.0, 1.5, 4.0, 30.0]))
    growth = float(random.uniform(1.05, 2.5))
    starts = random.uniform(-0.2, 1.2, int(random.integers(0, 4))) * length
    spans = [(float(a), float(a + random.uniform(0, 0.3) * length)) for a in starts]
    x = graded(length, fine_spans=spans, fine=fine, coarse=coarse, growth=growth)
    size = np.diff(x)
    assert x[0] == 0.0
    assert x[-1] == length
    assert (size > 0).all()
    within = [(max(a, 0.0), min(b, length)) for a, b in spans if b >= 0 and a <= length]
    distance = distance_from(within, x)
    slack = 1.0 + 1e-9
    # A geometric series that starts beside the span: its element k has fine growth^k and begins
    # fine (growth + ... + growth^(k-1)) away.
    allowed = np.minimum(coarse, growth * fine + (growth - 1.0) * distance)
    allowed = np.where(distance == 0.0, fine, allowed)
    assert (size <= allowed * slack).all()
    assert (size[1:] <= size[:-1] * growth * slack).all()
    assert (size[:-1] <= size[1:] * growth * slack).all()
    assert size.min() >= min(0.5 * fine, length) / slack


def test_graded_does_not_waste_elements() -> None:
    """With nothing fine: as few equal elements as the coarse size allows."""
    x = graded(1.0, fine_spans=[], fine=0.01, coarse=0.15)
    np.testing.assert_allclose(np.diff(x), 1.0 / 7.0)
    x = graded(0.4, fine_spans=[(0.0, 0.4)], fine=0.005, coarse=0.05)
    np.testing.assert_allclose(np.diff(x), 0.005)
    x = graded(2.0, fine_spans=[(0.9, 1.1)], fine=0.01, coarse=0.2, growth=1.3)
    # fine span with a border of one element: 22; each side ln(20) / ln(1.3) = 11.4 growing
    # and the rest of 0.89 - 0.19 / ln 1.3 = 0.166 m coarse: 0.8 -> 46.5
    assert x.size - 1 == 47
    x = graded(0.5, fine_spans=[(0.1, 0.2), (0.3, 0.4)], fine=0.01, coarse=1.0, growth=1.3)
    # fine with borders 24, between the spans 2 ln(1 + 4 ln 1.3) / ln 1.3 = 5.47 (8 if it were
    # fine throughout), outside twice ln(1 + 9 ln 1.3) / ln 1.3 = 4.62
    assert x.size - 1 == 39


def test_graded_is_symmetric_when_its_spans_are() -> None:
    x = graded(1.0, fine_spans=[(0.1, 0.2), (0.8, 0.9)], fine=0.01, coarse=0.1)
    np.testing.assert_allclose(x + x[::-1], 1.0, atol=1e-12)


def test_an_axis_shorter_than_half_an_element() -> None:
    np.testing.assert_array_equal(
        graded(0.001, fine_spans=[(0, 1)], fine=0.01, coarse=0.02), [0.0, 0.001]
    )


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"length": 0.0}, "length is 0"),
        ({"length": np.nan}, "length is nan"),
        ({"fine": -1.0}, "fine size is -1"),
        ({"coarse": 0.005}, "above the coarse size"),
        ({"growth": 1.0}, "growth is 1"),
        ({"fine_spans": [(0.5, 0.4)]}, "runs from 0.5 to 0.4"),
        ({"fine_spans": [(np.nan, 0.4)]}, "nan"),
    ],
)
def test_graded_refuses(changes: dict[str, Any], text: str) -> None:
    given: dict[str, Any] = {
        "length": 1.0, "fine_spans": [(0.4, 0.6)], "fine": 0.01, "coarse": 0.1, **changes
    }  # fmt: skip
    with pytest.raises(MeshError, match=text):
        graded(given.pop("length"), **given)


def test_box_faces_lie_where_their_names_say() -> None:
    mesh = box_mesh([-1.0, 0.0, 2.0], [1.0, 1.5], [0.0, 0.1, 0.2, 0.5])
    assert Basis(mesh, ElementHex1()).dx.sum() == pytest.approx(3.0 * 0.5 * 0.5)
    expected = {
        "start": (0, -1.0, 0.25), "end": (0, 2.0, 0.25), "near": (1, 1.0, 1.5),
        "far": (1, 1.5, 1.5), "bottom": (2, 0.0, 1.5), "top": (2, 0.5, 1.5),
    }  # fmt: skip
    assert set(mesh.boundaries) == set(expected)
    for name, (axis, level, area) in expected.items():
        facets = mesh.boundaries[name]
        np.testing.assert_allclose(mesh.p[axis, mesh.facets[:, facets]], level)
        assert FacetBasis(mesh, ElementHex1(), facets=facets).dx.sum() == pytest.approx(area)


@pytest.mark.parametrize("x", [[0.0], [0.0, 0.0, 1.0], [1.0, 0.0], [[0.0, 1.0]], [0.0, np.nan]])
def test_box_refuses_axes_that_do_not_rise(x: Any) -> None:
    with pytest.raises(MeshError, match="x coordinates"):
        box_mesh(x, [0, 1], [0, 1])


def steps(mesh: MeshHex, axis: int) -> tuple[np.ndarray, np.ndarray]:
    levels = np.unique(np.round(mesh.p[axis], 12))
    return levels, np.diff(levels)


def heated_plate(**changes: Any) -> MeshHex:
    given: dict[str, Any] = {
        "heated": {"top": [[(0.1, 0.05), (0.3, 0.05)]]},
        "reach": 0.03,
        "size_at_heat": 0.006,
        "size_away": 0.03,
        **changes,
    }
    return plate_mesh(0.4, 0.2, 0.012, **given)


def test_plate_is_fine_along_the_path_and_coarse_away_from_it() -> None:
    mesh = heated_plate()
    for axis, (low, high) in {0: (0.07, 0.33), 1: (0.02, 0.08)}.items():
        levels, sizes = steps(mesh, axis)
        touching = (levels[1:] > low) & (levels[:-1] < high)
        assert sizes[touching].max() <= 0.006 * (1 + 1e-9)
    assert steps(mesh, 1)[1].max() > 0.02
    np.testing.assert_allclose(mesh.p.max(axis=1), [0.4, 0.2, 0.012])
    np.testing.assert_array_equal(mesh.p.min(axis=1), 0.0)
    assert (corner_volumes(mesh.p.T, to_meshio_order(mesh)) > 0.999).all()


def test_layers_follow_the_heated_faces() -> None:
    path = [[(0.1, 0.05), (0.3, 0.05)]]
    top = steps(heated_plate(), 2)[1]
    assert top.size == 4
    assert (np.diff(top) < 0).all()
    assert top[-1] / top[0] == pytest.approx(0.6)
    np.testing.assert_allclose(top[1:] / top[:-1], 0.6 ** (1 / 3))
    bottom = steps(heated_plate(heated={"bottom": path}), 2)[1]
    np.testing.assert_allclose(bottom, top[::-1])
    both = steps(heated_plate(heated={"top": path, "bottom": path}, layers=5), 2)[1]
    np.testing.assert_allclose(both, both[::-1])
    assert both[0] / both[2] == pytest.approx(0.6)
    none = steps(heated_plate(heated={"near": [[(0.1, 0.006)]], "top": []}), 2)[1]
    np.testing.assert_allclose(none, 0.003)
    one = layer_heights(0.01, 1, faces={"top"}, ratio=0.5)
    np.testing.assert_array_equal(one, [0.0, 0.01])


def test_a_heat_on_an_edge_makes_that_edge_fine() -> None:
    mesh = heated_plate(heated={"far": [[(0.2, 0.006)]], "start": [[(0.1, 0.006)]]})
    levels, sizes = steps(mesh, 1)
    assert sizes[levels[1:] > 0.17].max() <= 0.006 * (1 + 1e-9)
    assert sizes[(levels[1:] > 0.07) & (levels[:-1] < 0.13)].max() <= 0.006 * (1 + 1e-9)
    assert sizes[0] > 0.006
    levels, sizes = steps(mesh, 0)
    assert sizes[levels[:-1] < 0.03].max() <= 0.006 * (1 + 1e-9)
    assert sizes[(levels[1:] > 0.17) & (levels[:-1] < 0.23)].max() <= 0.006 * (1 + 1e-9)
    assert sizes[-1] > 0.006


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"heated": {"upside": [[(0.1, 0.1)]]}}, "no face 'upside'"),
        ({"heated": {"top": [[(0.5, 0.1), (0.6, 0.1)]]}}, "0.5 to 0.6 m along x"),
        ({"heated": {"near": [[(0.1, 0.1)]]}}, "along z"),
        ({"heated": {"top": [[0.1, 0.1]]}}, "two coordinates"),
        ({"heated": {"top": [np.empty((0, 2))]}}, "list of points"),
        ({"heated": {"top": [[(np.nan, 0.1)]]}}, "nan"),
        ({"reach": 0.0}, "reach is 0"),
        ({"layers": 0}, "0 layers"),
        ({"layer_ratio": 1.5}, "ratio is 1.5"),
        ({"size_at_heat": 0.05}, "above the coarse size"),
    ],
)
def test_plate_refuses(changes: dict[str, Any], text: str) -> None:
    with pytest.raises(MeshError, match=text):
        heated_plate(**changes)


def test_layers_refuse_a_plate_without_thickness() -> None:
    with pytest.raises(MeshError, match="thickness is 0"):
        layer_heights(0.0, 3, faces={"top"})


def test_summary() -> None:
    summary = mesh_summary(box_mesh([0, 1, 5], [0, 2], [0, 0.5]))
    assert (summary.nodes, summary.elements) == (12, 2)
    assert (summary.smallest_edge, summary.largest_edge) == (0.5, 4.0)
    assert summary.worst_aspect_ratio == 8.0
    assert summary.extent == (5.0, 2.0, 0.5)
