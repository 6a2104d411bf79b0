"""Patterns of a case: fields, bands, ovals, rings; what is driven, in which order, what is said."""

import pytest

from flamefe.outcome.measure import find_measure
from flamefe.reporting.document import result_document
from flamefe.reporting.summary import summary_text
from flamefe.study.case import (
    BandHeat,
    Case,
    CaseError,
    Flame,
    LineHeat,
    Mesh,
    OvalHeat,
    Plate,
    RingHeat,
    SpotField,
    SpotHeat,
    WedgeHeat,
    burn_time_s,
    mesh_plan,
    notes,
    outline_of,
    path_length_mm,
)
from flamefe.study.case_strokes import paths_of
from flamefe.study.casefile import case_from_text, dump_case
from flamefe.study.run import run

TORCH = Flame(power_kW=3, radius_mm=15)
FIELD = SpotField(
    flame="torch", face="top", from_mm=[50, 40], to_mm=[150, 120], spacing_mm=100,
    arrangement="square", time_s=5, order="symmetric",
)  # fmt: skip
BAND = BandHeat(
    flame="torch", face="top", from_mm=[60, 80], to_mm=[140, 80], width_mm=40, speed_mm_s=4
)
OVAL = OvalHeat(
    flame="torch", face="top", from_mm=[60, 80], to_mm=[140, 80], width_mm=40, target_C=500
)
RING = RingHeat(flame="torch", face="top", centre_mm=[100, 80], ring_mm=40, speed_mm_s=8)


def case_with(*heats, **changes):
    given = {
        "title": "pattern on a platform plate",
        "workpiece": Plate(length_mm=200, width_mm=160, thickness_mm=8, material="S355"),
        "mesh": Mesh(size_at_heat_mm=10, size_away_mm=30, layers=2),
        "flames": {"torch": TORCH},
        "heats": heats,
    }
    return Case(**{**given, **changes})


@pytest.mark.parametrize("heat", [FIELD, BAND, OVAL, RING], ids=lambda heat: heat.kind)
def test_every_pattern_runs_and_tells_its_dimensions(heat):
    result = run(case_with(heat))
    assert result.heat.energy.error < 0.005
    assert 300.0 < result.heat.peak.max() < 1200.0
    (outcome,) = result.heats
    assert outcome.kind.startswith(heat.kind)
    assert outcome.dimensions
    assert outcome.words in " ".join(summary_text(result).split())
    # a top face that was heated shrinks: the middle of the plate ends up the other way
    assert abs(find_measure(result.cycles[0].measures, "flatness").value) > 0.01
    assert case_from_text(dump_case(result.case)) == result.case


@pytest.fixture(scope="module")
def field():
    return run(case_with(FIELD))


def test_spots_burn_one_after_the_other_in_their_order(field):
    burning = [span for span in field.heat.spans if span.burning]
    assert [span.name for span in burning] == [f"heat 1, spot {n}" for n in (1, 2, 3, 4)]
    for span in burning:
        assert span.end - span.start == pytest.approx(5.0)
        # while it burns the hottest place lies under it
        end = int(abs(field.heat.times - span.end).argmin())
        hottest = field.mesh.p[:2, field.heat.temperatures[end].argmax()] * 1e3
        place = paths_of(FIELD)[burning.index(span)][0]
        assert hottest == pytest.approx(place, abs=10.0)
    assert burn_time_s(FIELD) == 20.0
    told_in_order = ", ".join(f"({u:g}, {v:g})" for ((u, v),) in paths_of(FIELD))
    assert f"in order at {told_in_order}" in " ".join(summary_text(field).split())
    (told,) = result_document(field)["heats"]
    assert told["ways_mm"] == [[[u, v]] for ((u, v),) in paths_of(FIELD)]
    assert field.heats[0].burned_s == pytest.approx(20.0)


def test_spots_can_wait_for_each_other():
    waiting = SpotField(**{**vars(FIELD), "between_C": 150.0, "to_mm": (150, 40)})
    result = run(case_with(waiting))
    resting = [span for span in result.heat.spans if not span.burning]
    assert len(resting) == 2
    end = int(abs(result.heat.times - resting[0].end).argmin())
    assert result.heat.temperatures[end].max() == pytest.approx(150.0, abs=5.0)


def test_spots_until_they_are_hot():
    driven = SpotField(**{**vars(FIELD), "time_s": None, "target_C": 450.0, "to_mm": (150, 40)})
    result = run(case_with(driven))
    assert [log.name for log in result.heat.logs] == ["heat 1, spot 1", "heat 1, spot 2"]
    for log in result.heat.logs:
        assert log.stood
        assert log.readings[-1] == pytest.approx(450.0, abs=12.0)
    alone = SpotHeat(flame="torch", face="top", at_mm=[100, 80], target_C=450.0)
    (log,) = run(case_with(alone)).heat.logs
    assert log.readings[-1] == pytest.approx(450.0, abs=12.0)


def test_band_in_passes_goes_to_and_fro():
    band = BandHeat(**{**vars(BAND), "manner": "passes", "passes": 3})
    there, back, again = paths_of(band)
    assert there[0][0] == again[0][0] == 60.0
    assert back[0][0] == 140.0
    assert path_length_mm(band) == pytest.approx(240.0)
    result = run(case_with(band))
    assert result.heats[0].burned_s == pytest.approx(60.0)
    # all of it is one heat: the part is not left to cool between its passes
    assert [span.burning for span in result.heat.spans] == [True, True, True, False]


def test_a_woven_band_is_cooler_and_wider_than_a_line():
    band = run(case_with(BAND))
    line = run(
        case_with(LineHeat(flame="torch", face="top", path_mm=[[60, 80], [140, 80]], speed_mm_s=4))
    )
    assert band.heat.energy.supplied == pytest.approx(line.heat.energy.supplied)
    assert band.heat.peak.max() < 0.85 * line.heat.peak.max()


def test_heating_both_faces_brings_twice_the_heat_and_no_angle():
    line = LineHeat(
        flame="torch", face="top", path_mm=[[60, 80], [140, 80]], speed_mm_s=8, both_faces=True
    )
    result = run(case_with(line))
    assert result.heat.energy.supplied == pytest.approx(2 * 3e3 * 10.0)
    assert result.heats[0].net_kJ == pytest.approx(60.0)
    rise = find_measure(result.cycles[0].measures, "angular change at mid length")
    assert abs(rise.value) < 1e-3


def test_mesh_is_fine_wherever_a_pattern_goes():
    plan = mesh_plan(case_with(RING))
    assert plan.reach_mm == 30.0
    corners = outline_of(RING)
    assert min(u for u, _ in corners) == pytest.approx(60.0)
    assert max(v for _, v in corners) == pytest.approx(120.0)


def test_repeated_and_overlapping_heats_are_warned_of():
    line = LineHeat(flame="torch", face="top", path_mm=[[60, 80], [140, 80]], speed_mm_s=8)
    again = LineHeat(flame="torch", face="top", path_mm=[[140, 80], [60, 80]], speed_mm_s=8)
    beside = LineHeat(flame="torch", face="top", path_mm=[[60, 100], [140, 100]], speed_mm_s=8)
    below = LineHeat(flame="torch", face="bottom", path_mm=[[60, 80], [140, 80]], speed_mm_s=8)
    said = notes(case_with(line, again, beside, below))
    assert any("Heat 2 repeats heat 1 (100 %" in note for note in said)
    assert any("Heat 3 overlaps heat 1" in note for note in said)
    assert not any("Heat 4" in note for note in said)
    assert not any("overlaps" in note for note in notes(case_with(line, below)))


def test_spots_that_run_together_are_warned_of():
    close = SpotField(**{**vars(FIELD), "spacing_mm": 20.0})
    assert any("run together" in note for note in notes(case_with(close)))
    assert not any("run together" in note for note in notes(case_with(FIELD)))


FAULTS = [
    ({**vars(FIELD), "time_s": None}, ("heats", 0, "time_s"), "neither time_s nor target_C"),
    ({**vars(FIELD), "target_C": 500.0}, ("heats", 0, "time_s"), "time_s and target_C"),
    ({**vars(BAND), "speed_mm_s": None}, ("heats", 0, "speed_mm_s"), "neither speed_mm_s"),
    ({**vars(OVAL), "width_mm": 90.0}, ("heats", 0), "no more than its length"),
    ({**vars(RING), "ring_mm": 90.0}, ("heats", 0, "ring_mm"), "leaves the face top"),
    ({**vars(FIELD), "to_mm": (250.0, 120.0)}, ("heats", 0, "to_mm"), "50 mm beyond x = 200"),
]  # fmt: skip


@pytest.mark.parametrize(("values", "place", "told"), FAULTS)
def test_patterns_that_cannot_be_are_refused_at_their_place(values, place, told):
    kinds = {one.kind: type(one) for one in (FIELD, BAND, OVAL, RING)}
    with pytest.raises(CaseError) as caught:
        case_with(kinds[values["kind"]](**values))
    faults = {fault.path: fault.given for fault in caught.value.faults}
    assert told in faults[place]


def test_target_reached_on_the_surface_only_is_said():
    """A strong flame, held, heats a thick plate on its skin; both faces of a thin bar through."""
    held = WedgeHeat(
        flame="torch", face="top", apex_mm=[100, 40], base_mm=[100, 120], angle_deg=20,
        target_C=650,
    )  # fmt: skip
    thick = run(
        case_with(
            held,
            workpiece=Plate(length_mm=200, width_mm=160, thickness_mm=25, material="S355"),
            flames={"torch": Flame(power_kW=9, radius_mm=15)},
            mesh=Mesh(size_at_heat_mm=10, size_away_mm=30, layers=5),
        )
    )
    (outcome,) = thick.heats
    assert 0.0 < outcome.depth_mm < 0.25 * 25
    assert outcome.depth_mm < outcome.soft_depth_mm < 25
    assert any("reached on the surface only" in warning for warning in thick.warnings)
    through = run(
        case_with(
            WedgeHeat(**{**vars(held), "both_faces": True}),
            flames={"torch": Flame(power_kW=1.5, radius_mm=15)},
        )
    )
    assert through.heats[0].depth_mm == pytest.approx(8.0)
    assert not any("on the surface only" in warning for warning in through.warnings)
