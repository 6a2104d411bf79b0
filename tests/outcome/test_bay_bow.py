"""Bow of the bays between a panel's stiffeners."""

from pathlib import Path

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.bay_bow import PLATE_FACE, TIP_FACE, bay_bows
from flamefe.outcome.measure import find_measure
from flamefe.straining.history import EndState
from flamefe.study.case import Case, Flame, SpotHeat
from flamefe.study.case_tubes import Panel
from flamefe.study.measuring import measures_of
from flamefe.study.parts import body_of, material_of
from flamefe.workpiece.extrude import extruded
from flamefe.workpiece.section_shapes import stiffened_panel

LINES = (0.1, 0.3, 0.5)


def panel():
    section = stiffened_panel(
        width=0.6, plate_thickness=0.01, stiffeners=3, stiffener_height=0.08,
        stiffener_thickness=0.01, size=0.02,
    )  # fmt: skip
    mesh = extruded(section, np.linspace(0.0, 0.8, 9)).mesh
    return mesh.p.T, np.unique(mesh.facets[:, mesh.boundaries[PLATE_FACE]])


def lifted(points, heights):
    moved = np.zeros_like(points)
    moved[:, 2] = heights
    return moved


def test_a_bay_that_bulges_to_the_stiffeners_is_positive_and_its_neighbour_is_not():
    points, face = panel()
    x, y, _ = points.T
    wave = np.cos(np.pi * (y - 0.2) / 0.2) * ((y > 0.1) & (y < 0.5))
    moved = lifted(points, 0.0004 * np.sin(np.pi * x / 0.8) * wave)
    second, third = bay_bows(points, moved, face=face, lines=LINES)
    assert (second.name, third.name) == ("bow of bay 2", "bow of bay 3")
    assert second.value == pytest.approx(0.4, rel=1e-3)
    assert third.value == pytest.approx(-0.4, rel=1e-3)


def test_it_is_told_where_it_is_largest_either_way():
    points, face = panel()
    x, y, _ = points.T
    bulge = np.clip(1.0 - np.abs(y - 0.2) / 0.1, 0.0, 1.0)
    moved = lifted(points, bulge * np.where(x > 0.65, 0.0002, -0.0005 * (np.abs(x - 0.3) < 0.01)))
    assert bay_bows(points, moved, face=face, lines=LINES)[0].value == pytest.approx(-0.5, rel=1e-3)


def test_a_panel_bent_along_twisted_and_laid_askew_has_none():
    points, face = panel()
    x, y, _ = points.T
    moved = lifted(points, 0.002 * (x - 0.4) ** 2 + 0.004 * x * (y - 0.3) + 0.003 * y)
    found = bay_bows(points, moved, face=face, lines=LINES)
    assert all(abs(one.value) < 2e-3 for one in found)


def test_a_fold_at_a_stiffener_bows_no_bay():
    points, face = panel()
    moved = lifted(points, 0.003 * np.abs(points[:, 1] - 0.3))
    assert all(abs(one.value) < 2e-3 for one in bay_bows(points, moved, face=face, lines=LINES))


def test_one_stiffener_has_no_inner_bay():
    points, face = panel()
    assert bay_bows(points, 0 * points, face=face, lines=[0.3]) == ()


@pytest.mark.parametrize("lines", [(0.3, 0.1), (0.1, 0.7)])
def test_stiffeners_in_the_wrong_place_are_refused(lines):
    points, face = panel()
    with pytest.raises(OutOfRange, match="must rise and lie within the plate, 0 to 600 mm"):
        bay_bows(points, 0 * points, face=face, lines=lines)


def test_faces_are_those_of_panels():
    assert PLATE_FACE in (Panel.__doc__ or "")
    assert TIP_FACE.format(number=1) in (Panel.__doc__ or "")


def test_a_case_of_a_panel_tells_its_inner_bays():
    """From the case to its measures: the stiffeners are found by their faces."""
    piece = Panel(
        length_mm=600, width_mm=500, plate_thickness_mm=10, stiffeners=3, stiffener_height_mm=80,
        stiffener_thickness_mm=10, material="S235", spacing_mm=150,
    )  # fmt: skip
    heat = SpotHeat(flame="torch", face="underside of plate", at_mm=[300, 100], time_s=5)
    flames = {"torch": Flame(power_kW=3, radius_mm=24)}
    case = Case(title="a deck", workpiece=piece, flames=flames, heats=[heat])
    body, _ = body_of(case, material_of(case), Path())
    x, y, _ = body.points.T
    bulge = np.clip(1.0 - np.abs(y - 0.175) / 0.075, 0.0, 1.0) * (np.abs(x - 0.3) < 0.05)
    cells = (body.mesh.nelements, 8)
    end = EndState(
        name="cycle 1", time=0.0, displacement=lifted(body.points, -0.0003 * bulge),
        stress=np.zeros((*cells, 6)), plastic_strain=np.zeros((*cells, 6)),
        equivalent_plastic_strain=np.zeros(cells),
    )  # fmt: skip
    found = measures_of(case, body, end, 1)
    assert find_measure(found, "bow of bay 2").value == pytest.approx(-0.3, abs=0.02)
    assert find_measure(found, "bow of bay 3").value == pytest.approx(0.0, abs=0.02)
