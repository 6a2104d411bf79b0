"""Heats driven by temperature in a case: held lines and wedges."""

import math
from dataclasses import replace

import pytest

from flamefe.outcome.measure import find_measure
from flamefe.reporting.document import result_document
from flamefe.reporting.summary import summary_text
from flamefe.study.case import (
    Bar,
    Case,
    CaseError,
    Flame,
    HeldLine,
    Mesh,
    Plate,
    WedgeHeat,
    base_width_mm,
    mesh_plan,
    outline_of,
)
from flamefe.study.casefile import case_from_text, dump_case
from flamefe.study.run import run

WEDGE = WedgeHeat(
    flame="torch", face="top", both_faces=True, apex_mm=[120, 15], base_mm=[120, 60],
    angle_deg=45, target_C=650, cool_to_C=80,
)  # fmt: skip


def bar_case(**changes):
    given = {
        "title": "wedge on a short bar of a frame",
        "workpiece": Bar(length_mm=240, depth_mm=60, thickness_mm=8, material="S355"),
        "mesh": Mesh(size_at_heat_mm=6, size_away_mm=30, layers=2),
        "flames": {"torch": Flame(power_kW=0.9, radius_mm=10)},
        "heats": [WEDGE],
    }
    return Case(**{**given, **changes})


@pytest.fixture(scope="module")
def wedge():
    return run(bar_case())


def test_wedge_closes_towards_its_base_and_shortens(wedge):
    """Driven from apex to base the far edge shortens; never above perfect confinement."""
    measures = wedge.cycles[0].measures
    closing = find_measure(measures, "closing rotation").value
    assert closing > 0.1
    assert find_measure(measures, "shortening").value > 0.0
    bound = next(rule for rule in wedge.rules if rule.rule == "perfect confinement")
    assert closing < bound.value
    plane = [rule for rule in wedge.rules if rule.rule == "plane sections"]
    assert {rule.quantity for rule in plane} == {"closing rotation", "shortening"}
    assert all(0.0 < rule.ratio < 1.0 for rule in plane)


def test_front_is_held_at_the_target(wedge):
    log = wedge.heat.logs[0]
    read = log.on_the_way()
    assert abs(float(read[len(read) // 4 :].mean()) - 650.0) < 15.0
    assert float(read.max()) < 650.0 + 75.0
    assert log.runs[-1] == pytest.approx(0.045)
    assert wedge.heat.energy.error < 0.005


def test_both_faces_are_heated_alike(wedge):
    """No sweep and no twist: what one face does the other does too."""
    measures = wedge.cycles[0].measures
    closing = find_measure(measures, "closing rotation").value
    assert abs(find_measure(measures, "sweep").value) < 1e-3
    assert abs(find_measure(measures, "twist").value) < 1e-3 * abs(math.degrees(closing * 1e-3))


def test_wedge_the_other_way_up_closes_the_other_way(wedge):
    """Mirrored in the depth: the same rotation with the other sign."""
    other = run(
        bar_case(heats=[WedgeHeat(
            flame="torch", face="top", both_faces=True, apex_mm=[120, 45], base_mm=[120, 0],
            angle_deg=45, target_C=650, cool_to_C=80,
        )])
    )  # fmt: skip
    one = find_measure(wedge.cycles[0].measures, "closing rotation").value
    two = find_measure(other.cycles[0].measures, "closing rotation").value
    assert two == pytest.approx(-one, rel=0.1)


def test_summary_and_document_tell_how_the_torch_was_driven(wedge):
    text = summary_text(wedge)
    assert "wedge of 45 degrees, 45 mm deep" in text
    assert "target 650 C" in text
    torch = result_document(wedge)["torches"][0]
    assert torch["target_C"] == 650.0
    assert len(torch["times_s"]) == len(torch["surface_C"]) == len(torch["speed_mm_s"])
    assert torch["burned_s"] == pytest.approx(torch["times_s"][-1])


def test_held_line_on_a_plate_holds_its_target():
    case = Case(
        title="held line on a hopper wall",
        workpiece=Plate(length_mm=160, width_mm=100, thickness_mm=8, material="S355"),
        mesh=Mesh(size_at_heat_mm=8, size_away_mm=25, layers=2),
        flames={"torch": Flame(power_kW=2.0, radius_mm=14)},
        heats=[HeldLine(flame="torch", face="top", path_mm=[[30, 50], [130, 50]], target_C=600,
                        cool_to_C=100)],
    )  # fmt: skip
    result = run(case)
    assert find_measure(result.cycles[0].measures, "edge rise at mid length").value > 0.0
    read = result.heat.logs[0].on_the_way()
    assert abs(float(read[len(read) // 4 :].mean()) - 600.0) < 15.0


def test_too_weak_a_torch_is_a_warning():
    case = bar_case(
        flames={"torch": Flame(power_kW=0.1, radius_mm=10)},
        heats=[WedgeHeat(flame="torch", face="top", apex_mm=[120, 15], base_mm=[120, 60],
                         angle_deg=30, target_C=700, longest_dwell_s=10)],
    )  # fmt: skip
    result = run(case)
    assert any("not reached within the longest stand" in warning for warning in result.warnings)


def test_outline_and_mesh_follow_the_wedge():
    assert base_width_mm(WEDGE) == pytest.approx(2 * 45 * math.tan(math.radians(22.5)))
    corners = outline_of(WEDGE)
    assert corners[0] == (120.0, 15.0)
    assert abs(corners[1][0] - corners[2][0]) == pytest.approx(base_width_mm(WEDGE))
    assert mesh_plan(bar_case()).size_at_heat_mm == 6.0


def test_file_and_objects_are_the_same():
    line = HeldLine(flame="torch", face="far", path_mm=[[60, 4], [180, 4]], target_C=600,
                    manner="dwell", advance_mm=8)  # fmt: skip
    case = bar_case(heats=[WEDGE, line])
    assert case_from_text(dump_case(case)) == case


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"base_mm": [120, 80]}, "base_mm"),
        ({"apex_mm": [120, -5]}, "apex_mm"),
        ({"base_mm": [120, 15]}, "base_mm"),
        ({"angle_deg": 90, "apex_mm": [20, 15], "base_mm": [20, 60]}, "base_mm"),
        ({"target_C": 50}, "target_C"),
        ({"cool_to_C": 700}, "target_C"),
    ],
)
def test_wedges_that_can_not_be_are_faults(change, place):
    given = {"flame": "torch", "face": "top", "apex_mm": [120, 15], "base_mm": [120, 60],
             "angle_deg": 45, "target_C": 650, **change}  # fmt: skip
    with pytest.raises(CaseError) as caught:
        bar_case(heats=[WedgeHeat(**given)])
    assert any(place in fault.path for fault in caught.value.faults)


def test_the_hand_has_a_least_speed():
    """Below its least speed the torch stands, so it moves at that speed or more."""
    line = HeldLine(
        flame="torch", face="top", path_mm=[[40, 30], [120, 30]], target_C=500, slowest_mm_s=3,
        fastest_mm_s=12,
    )  # fmt: skip
    (log,) = run(bar_case(heats=[line])).heat.logs
    moving = [speed for speed in log.speeds if speed > 0]
    assert min(moving) > 0.0029
    assert max(moving) < 0.0121
    assert any(speed == 0 for speed in log.speeds)
    with pytest.raises(CaseError, match="not below the greatest speed of 2"):
        bar_case(heats=[replace(line, fastest_mm_s=2)])
