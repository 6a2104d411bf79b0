"""Through the thickness, how deep, and against practice."""

import numpy as np
import pytest

from flamefe.outcome.columns import Columns, depth_reached, hottest_through
from flamefe.outcome.limits import longest_above
from flamefe.outcome.practice import against_practice
from flamefe.workpiece.mesh import plate_mesh
from flamefe.workpiece.practice import practice_for
from flamefe.workpiece.standard import material, material_names


@pytest.fixture(scope="module")
def points():
    mesh = plate_mesh(
        0.1, 0.06, 0.012, heated={}, reach=0.02, size_at_heat=0.01, size_away=0.02, layers=4,
        layer_ratio=1.0,
    )  # fmt: skip
    return mesh.p.T


def test_columns_of_a_plate(points):
    columns = Columns.of(points, 2)
    depth, values = columns.profiles(points[:, 2])
    assert (depth == values).all()
    assert depth.shape[1] == 5
    assert np.allclose(depth, np.linspace(0.0, 0.012, 5))


def test_no_columns_where_nodes_stand_anywhere():
    rng = np.random.default_rng(1)
    assert Columns.of(rng.random((50, 3)), 2) is None


def test_hottest_full_section_is_the_coldest_of_its_column(points):
    columns = Columns.of(points, 2)
    gradient = 300.0 + 30_000.0 * points[:, 2]  # 300 below, 660 on top
    fields = np.stack((gradient, 400.0 + 0.0 * gradient))
    through, _ = hottest_through(columns, fields)
    assert through == pytest.approx(400.0)


def test_depth_on_a_line_of_temperature(points):
    columns = Columns.of(points, 2)
    everywhere = np.ones(len(columns.starts), dtype=bool)
    hot = 300.0 + 30_000.0 * points[:, 2]
    depth, greatest, thickness = depth_reached(columns, hot, everywhere, from_end=True, level=600.0)
    assert depth == pytest.approx(0.002)
    assert thickness == pytest.approx(0.012)
    assert greatest == pytest.approx(depth)
    below, deepest, _ = depth_reached(columns, hot, everywhere, from_end=False, level=600.0)
    assert below == deepest == 0.0
    through, _, _ = depth_reached(columns, hot, everywhere, from_end=True, level=250.0)
    assert through == pytest.approx(0.012)


def test_longest_above_adds_up():
    times = [0.0, 10.0, 20.0, 30.0, 40.0]
    assert longest_above(times, [[600], [700], [600], [700], [600]], 650.0) == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("family", "surface", "through", "long", "within"),
    [
        ("carbon steel", 880.0, 500.0, 20.0, [True, True, True]),
        ("carbon steel", 880.0, 720.0, 20.0, [True, False, True]),
        ("carbon steel", 660.0, 500.0, 600.0, [True, True, False]),
        ("strong thermomechanical steel", 880.0, 620.0, 20.0, [True, False, True]),
        ("quenched and tempered steel", 560.0, 300.0, 20.0, [False, True, True]),
        ("stainless steel", 690.0, 600.0, 20.0, [True, True, True]),
    ],
)
def test_practice_by_kind_depth_and_duration(points, family, surface, through, long, within):
    columns = Columns.of(points, 2)
    shape = through + (surface - through) * points[:, 2] / 0.012
    times = np.array([0.0, 1.0, 1.0 + long, 2.0 + long])
    cold = np.full_like(shape, 20.0)
    found = against_practice(
        practice_for(family), times, np.stack((cold, shape, shape, cold)), columns
    )
    assert [finding.within for finding in found] == within
    for finding in found[:2]:
        assert finding.margin_C == pytest.approx(finding.limit_C - finding.reached_C)


def test_every_ready_material_has_a_known_practice_and_says_where_it_comes_from():
    for name in material_names():
        practice = practice_for(material(name).family)
        assert practice.known, name
        assert "from memory" in practice.source or "temper" in practice.source


def test_only_quenched_and_tempered_steel_is_kept_from_water():
    kept = {
        material(name).family
        for name in material_names()
        if not practice_for(material(name).family).water
    }
    assert kept == {"quenched and tempered steel"}
