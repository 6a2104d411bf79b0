"""Heat sheets: what they say is what the case asks and the run found."""

import dataclasses
import re
from pathlib import Path

import meshio
import numpy as np
import pytest
from numpy.testing import assert_allclose

from flamefe.outcome.measure import find_measure
from flamefe.reporting.heat_faces import sketch_of
from flamefe.reporting.heat_files import sheet_words
from flamefe.reporting.heat_measures import sheet_measures, signed
from flamefe.reporting.heat_page import heat_page
from flamefe.reporting.heat_rows import drive_words, heat_rows, ranges
from flamefe.reporting.heat_scale import fit
from flamefe.reporting.heat_sheet import Meshed, NoHeats, case_sheets, result_sheets
from flamefe.reporting.heat_table import ORDER
from flamefe.reporting.summary import measure_rows
from flamefe.study.case import (
    Bar,
    Case,
    Clamp,
    Flame,
    IBeam,
    Jack,
    Limits,
    LineHeat,
    Mesh,
    MeshFile,
    OwnWeight,
    Plate,
    Points,
    RoundTube,
    SineShape,
    SpotField,
    SpotHeat,
    WedgeHeat,
)
from flamefe.study.casefile import load_case
from flamefe.study.examples import example_names, example_path
from flamefe.study.parts import body_of, material_of
from flamefe.study.result import RunResult
from flamefe.study.run import run
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.meshfile import to_meshio_order

COARSE = Mesh(size_at_heat_mm=10, size_away_mm=60, layers=1)
FLAMES = {
    "torch": Flame(fuel="propane", consumption_L_h=600),
    "small": Flame(power_kW=2, radius_mm=15),
}
PLATE = Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355")


def asked(heats, **more) -> Case:
    parts = {"title": "A job", "workpiece": PLATE, "mesh": COARSE, "flames": FLAMES}
    return Case(heats=heats, **(parts | more))


def sketched(case: Case):
    body, _ = body_of(case, material_of(case), Path())
    return sketch_of(Meshed(case=case, mesh=body.mesh), 1)


@pytest.mark.parametrize("name", example_names())
def test_every_ready_case_has_a_sheet_of_each_cycle(name):
    case = load_case(example_path(name))
    sheets = case_sheets(case)
    assert [one.cycle for one in sheets] == sorted({heat.cycle for heat in case.heats})
    for one in sheets:
        assert not one.computed
        assert one.state.startswith("NOT COMPUTED")
        assert {measure.predicted for measure in one.measures} == {""}
        assert len(one.measures) >= 3
        assert all(measure.how and measure.sign for measure in one.measures)
        told = {n for row in one.rows for n in row.numbers.replace("-", ", ").split(", ")}
        here = [i for i, heat in enumerate(case.heats, start=1) if heat.cycle == one.cycle]
        assert {str(here[0]), str(here[-1])} <= told
        assert {view.face for view in one.sketch.views} == {
            heat.face for heat in case.heats if heat.cycle == one.cycle
        }
        words = sheet_words(one)
        assert "NEVER EXCEED" in words
        assert "not computed" in words


def test_channel_says_order_sides_speed_and_what_to_wait_for():
    (one,) = case_sheets(load_case(example_path("frame_channel_wedges")))
    wedges, bands = one.rows
    assert (wedges.numbers, bands.numbers) == ("1, 3", "2, 4")
    assert wedges.face == "BOTH SIDES at once: web inside and web back"
    # the back of the web runs down past the flange, 9 mm thick
    assert wedges.places[0] == (
        "1: apex (1000, 20) to base (1000, 96), on the other side: apex (1000, 29) to "
        "base (1000, 105)"
    )
    assert wedges.target_C == 560
    assert "76 deep, base 41 (30 deg)" in wedges.what
    assert wedges.wait == "next heat: hottest place below 350 C"
    assert bands.wait == "next heat: hottest place below 200 C; after 4: let it cool fully"
    assert one.torches[0].startswith('"torch": TWO alike, one a side; each: 1.1 kW')
    assert one.holding[0].startswith("S1 rest: at (50, 5, 0), (50, 45, 0), (2950, 5, 0)")
    assert "may carry 5 kN" in one.holding[0]
    assert any(text.startswith("Stored force") for text in one.cautions)
    words = [text.get_text() for text in heat_page(one).axes.texts]
    assert ORDER in words, "rows are read downwards, heats are given by their numbers"


def test_temperatures_limits_and_how_to_check_them():
    heats = [SpotHeat(flame="torch", face="top", at_mm=[200, 100], target_C=600)]
    sheet = case_sheets(asked(heats))[0]
    said = dict(sheet.temperatures)
    assert said["Target"].startswith("600 C")
    assert said["NEVER EXCEED"] == "650 C"
    assert any("650 C (FHWA" in caution for caution in sheet.cautions)
    assert "one for 600 C must melt, one for 650 C must not" in said["Check"]
    assert "dark red" in said["Check"]
    own = dict(case_sheets(asked(heats, limits=Limits(temperature_C=620)))[0].temperatures)
    assert own["NEVER EXCEED"] == "620 C (set in the case)"
    assert "only 20 K apart" in own["Check"]
    more = dict(case_sheets(asked(heats, limits=Limits(temperature_C=700)))[0].temperatures)
    assert "ABOVE the material's own 650 C" in more["NEVER EXCEED"]


def test_metals_that_do_not_glow_are_not_judged_by_colour():
    soft = dataclasses.replace(PLATE, material="6082-T6")
    heats = [SpotHeat(flame="torch", face="top", at_mm=[200, 100], target_C=140)]
    (one,) = case_sheets(asked(heats, workpiece=soft))
    assert "It does NOT glow" in dict(one.temperatures)["Check"]
    assert any(text.startswith("Aluminium") for text in one.cautions)
    tempered = dataclasses.replace(PLATE, material="S690QL")
    (two,) = case_sheets(asked(heats, workpiece=tempered))
    assert "any brighter is too hot" in dict(two.temperatures)["Check"]
    assert any(text.startswith("Quenched and tempered") for text in two.cautions)


def test_a_target_above_the_limit_stops_the_job_before_it_is_run():
    heats = [SpotHeat(flame="torch", face="top", at_mm=[200, 100], target_C=800)]
    assert case_sheets(asked(heats))[0].alerts == (
        "Target of 800 C is above the limit of 650 C (heat 1)",
    )
    assert case_sheets(asked([dataclasses.replace(heats[0], target_C=600)]))[0].alerts == ()


def test_gas_settings_are_told_or_asked_for():
    heats = [
        SpotHeat(flame="torch", face="top", at_mm=[100, 100], time_s=5),
        SpotHeat(flame="small", face="top", at_mm=[300, 100], time_s=5),
    ]
    known, unknown = case_sheets(asked(heats))[0].torches
    assert "propane 600 L/h, oxygen 2580 L/h" in known
    assert "fuel ______ L/h" in unknown


def test_a_thermometer_read_late_shows_less_than_the_metal_had(real: RunResult):
    """At the limit it would show so much less, by the run's own cooling scaled to the limit."""
    said = dict(result_sheets(real)[0].temperatures)["Thermometer"]
    two, five = (int(word) for word in re.findall(r"(\d+) C \d", said))
    times, fields = real.heat.times, real.heat.temperatures
    row, node = divmod(int(fields.argmax()), fields.shape[1])
    peak = fields[row, node]
    for seconds, told in ((2, two), (5, five)):
        later = np.interp(times[row] + seconds, times, fields[:, node])
        may = 20 + (later - 20) * (650 - 20) / (peak - 20)
        assert may - 5 <= told <= may
    assert five < two < 650


def test_a_driven_torch_is_told_to_stand_before_it_goes(real: RunResult):
    (log, *_) = real.heat.logs
    stood = log.stands[0]
    way = 30.0 / (real.heats[0].burned_s - stood)
    words = result_sheets(real)[0].rows[0].predicted
    assert log.speeds[0] == 0.0
    if stood >= 1.0:
        told = f"{stood:.0f}" if stood >= 10 else f"{stood:.2g}"
        assert f"stand {told} s at the start" in words
    assert f"mean {way:.2g} mm/s" in words


def test_a_finished_run_fills_the_sheet(real: RunResult):
    (one,) = result_sheets(real)
    assert one.computed
    assert one.state.startswith("Computed. Not as it stands")
    peak = real.cycles[0].heat_check.peak_C
    assert dict(one.temperatures)["Predicted"].startswith(f"{peak:.0f} C")
    assert any("above the limit" in alert for alert in one.alerts)
    shown = {row.name: float(row.values[0]) for row in measure_rows(real)}
    for measure in one.measures:
        assert_allclose(float(measure.predicted), shown[measure.name], atol=0.0051)
    assert "MPa" not in {measure.unit for measure in one.measures}
    assert any("OVERLOADED, DO NOT USE" in line for line in one.holding)
    assert any("RELEASE when all of it is cold" in line for line in one.holding)
    burned = real.heats[1].burned_s
    assert one.rows[1].predicted.startswith(f"{burned:.0f}" if burned >= 10 else f"{burned:.2g}")
    assert "mm/s" in one.rows[0].predicted
    assert one.cautions == real.cautions
    many = dataclasses.replace(real, warnings=("first", "second", "third", "fourth"))
    assert result_sheets(many)[0].doubts == (
        "first", "second", "2 more warnings: see the report.",
    )  # fmt: skip


def test_a_later_cycle_says_what_it_adds(make_result):
    heats = [LineHeat(flame="torch", face="top", path_mm=[[50, 100], [350, 100]], speed_mm_s=6)]
    heats.append(dataclasses.replace(heats[0], cycle=2))
    one, two = result_sheets(make_result(cycles=2, heats=heats))
    assert [m.of_this_cycle for m in one.measures] == ["", ""]
    assert (two.measures[0].predicted, two.measures[0].of_this_cycle) == ("+1.00", "+0.50")
    assert (one.cycle, two.cycle, two.cycles) == (1, 2, 2)
    assert (one.rows[0].numbers, two.rows[0].numbers) == ("1", "2")


def test_without_heats_there_is_no_sheet(make_result):
    with pytest.raises(NoHeats, match="no heats"):
        case_sheets(asked([], loads=[OwnWeight()]))
    result = make_result()
    bare = dataclasses.replace(result.case, heats=(), loads=(OwnWeight(),))
    assert result_sheets(dataclasses.replace(result, case=bare)) == ()


def test_sixty_spots_fold_into_one_row_that_tells_all_places():
    heats = [
        SpotHeat(
            flame="torch", face="top", at_mm=[20 + 36 * (i % 10), 20 + 30 * (i // 10)], time_s=4
        )
        for i in range(60)
    ]
    (row,) = heat_rows(asked(heats), 1)
    assert (row.numbers, len(row.places)) == ("1-60", 60)
    assert row.places[59] == "60: (344, 170)"
    assert row.wait.endswith("after 60: let it cool fully")


def test_heats_that_differ_do_not_fold():
    spot = SpotHeat(flame="torch", face="top", at_mm=[100, 100], time_s=4)
    for change in ({"time_s": 5}, {"flame": "small"}, {"face": "bottom"}, {"both_faces": True}):
        assert len(heat_rows(asked([spot, dataclasses.replace(spot, **change)]), 1)) == 2
    three = [spot, dataclasses.replace(spot, cool_to_C=200), spot]
    assert [row.numbers for row in heat_rows(asked(three), 1)] == ["1", "2-3"]


def test_words_of_how_the_torch_goes():
    field = SpotField(flame="torch", face="top", from_mm=[50, 50], to_mm=[350, 150],
                      spacing_mm=100, target_C=600, between_C=80)  # fmt: skip
    assert drive_words(field) == "each: stand until 600 C, 120 s at most; next spot below 80 C"
    line = LineHeat(flame="torch", face="top", path_mm=[[50, 100], [350, 100]], speed_mm_s=6)
    assert drive_words(line) == "6 mm/s (50 s)"
    assert ranges([2, 4, 6, 8, 10]) == "2, 4 ... 10"
    assert (signed(-0.0051), signed(12.34), signed(0.0)) == ("-0.01", "+12.3", "0.00")


def test_supports_alike_fold_and_say_when_they_are_released():
    supports = [Points(at_mm=[[x, 0, 0]], directions=["z"]) for x in (0, 200, 400)]
    supports.append(
        Jack(at_mm=[200, 0, 0], pushes="z", force_kN=2, fitted="hot", released="after cooling")
    )
    spot = SpotHeat(flame="torch", face="top", at_mm=[100, 100], time_s=4)
    held = case_sheets(asked([spot], supports=supports, loads=[OwnWeight()]))[0].holding
    assert held[0].startswith("S1-3 points: at (0, 0, 0), (200, 0, 0), (400, 0, 0), held along z")
    assert "fit right after the last heat, hot; RELEASE when all of it is cold" in held[1]
    assert held[2] == "L1 own weight acts along -z: lay it that way down"
    assert "Not held" in case_sheets(asked([spot]))[0].holding[0]
    (clamp,) = case_sheets(asked([spot], supports=[Clamp(face="start")]))[0].holding
    assert "stays on, also while measuring" in clamp
    hot = case_sheets(asked([spot], supports=[Clamp(face="start", released="hot")]))[0].holding
    assert "RELEASE right after the last heat, still hot" in hot[0]


def test_faces_are_drawn_as_they_are_seen_from_the_torch():
    spot = {"flame": "small", "time_s": 4}
    beam = IBeam(length_mm=800, height_mm=200, width_mm=120, web_thickness_mm=8,
                 flange_thickness_mm=12, material="S355")  # fmt: skip
    ways = {}
    for face in ("web left", "web right", "top of top flange", "underside of bottom flange"):
        case = asked([SpotHeat(face=face, at_mm=[300, 60], **spot)], workpiece=beam)
        (view,) = sketched(case).views
        ways[face] = (view.mirrored, view.upside_down)
    assert ways == {
        "web left": (False, False), "web right": (True, False),
        "top of top flange": (False, False), "underside of bottom flange": (False, True),
    }  # fmt: skip
    (top,) = sketched(
        asked([SpotHeat(face="top of top flange", at_mm=[300, 60], **spot)], workpiece=beam)
    ).views
    ((low, high),) = top.hidden  # the web, 56 to 64 mm from the edge
    assert_allclose([low, high], [56, 64], atol=1.5)
    assert (top.first, top.second) == ("from the start", "from the near side (y = 0)")


def test_sketch_has_ways_rims_dimensions_and_the_section():
    wedge = WedgeHeat(flame="small", face="top", both_faces=True, apex_mm=[200, 50],
                      base_mm=[200, 200], angle_deg=30, target_C=600)  # fmt: skip
    drawn = sketched(asked([wedge]))
    (view,) = drawn.views
    (stroke,) = view.strokes
    assert_allclose(stroke.points[[0, -1]], [[200, 50], [200, 200]])
    half = 150 * np.tan(np.radians(15))
    assert_allclose(np.ptp(stroke.rim[:, 0]), 2 * half)
    keys = [value for tier in view.keys_along for value in tier]
    assert {0.0, 400.0, 200.0, round(200 - half), round(200 + half)} == set(keys)
    assert '"bottom"' in view.title
    assert drawn.section is not None
    assert drawn.section.size == (200, 12)
    up, down = drawn.section.heated
    assert_allclose(sorted([up.outward[1], down.outward[1]]), [-1, 1])
    assert {up.label, down.label} == {"1"}
    assert_allclose(np.ptp(drawn.section.loops[0], axis=0), [200, 12])


def test_what_holds_the_rim_is_marked_and_what_holds_all_of_a_face_is_told():
    spot = SpotHeat(flame="small", face="top", at_mm=[100, 100], time_s=4)
    held = [
        Clamp(face="start"),
        Clamp(face="bottom"),
        Points(at_mm=[[400, 20, 0]], directions=["y"]),
    ]
    (view,) = sketched(asked([spot], supports=held)).views
    assert [(one.label, one.places, one.over) for one in view.holders] == [
        ("S1", (), ((0.0, 0.0), (0.0, 200.0))),
        ("(S2)", (), ((0.0, 0.0), (400.0, 200.0))),
        ("(S3)", ((400.0, 20.0),), None),
    ]
    told = case_sheets(asked([spot], supports=held))[0].holding
    assert len(told) == 3
    assert told[0].startswith('S1 clamp: all over face "start"')


def test_a_sheet_says_which_side_must_be_too_long():
    spot = SpotHeat(flame="small", face="bottom", at_mm=[100, 100], time_s=4)
    buckled = asked([spot], initial_shape=SineShape(height_mm=-3, state="stress-free"))
    long, bulge, turned = case_sheets(buckled)[0].before
    assert 'where "bottom" is heated it must be too long (bulged out)' in long
    assert "bulge of 3 mm towards the bottom" in bulge
    assert "looks down as it is drawn" in turned
    wedge = WedgeHeat(flame="small", face="top", both_faces=True, apex_mm=[200, 50],
                      base_mm=[200, 150], angle_deg=30, target_C=600)  # fmt: skip
    (through,) = case_sheets(asked([wedge]))[0].before
    assert "the base must stand at the edge that is too long" in through


def test_measures_of_a_line_are_not_asked_for_where_there_is_none():
    spot = SpotHeat(flame="small", face="top", at_mm=[100, 100], time_s=4)
    line = LineHeat(flame="small", face="top", path_mm=[[100, 100], [300, 100]], speed_mm_s=5)
    asked_for = [
        [one.name for one in case_sheets(asked([heat]))[0].measures] for heat in (spot, line)
    ]
    assert not any("angular" in name or "of the line" in name for name in asked_for[0])
    assert any("angular" in name for name in asked_for[1])


def test_long_parts_are_cut_and_stretches_with_heats_keep_their_scale():
    long = dataclasses.replace(PLATE, length_mm=4000)
    spots = [SpotHeat(flame="small", face="top", at_mm=[x, 100], time_s=4) for x in (1000, 3000)]
    (view,) = sketched(asked(spots, workpiece=long)).views
    made = fit(view, 130, 60)
    assert made.is_cut
    assert made.size[0] <= 130
    assert made.size[1] <= 60
    at = made.along.at([0, 950, 1050, 2950, 3050, 4000])
    assert_allclose(np.diff(at)[[1, 3]], 100)
    assert (np.diff(at) > 0).all()
    assert len(made.along.breaks) == 3
    (short,) = sketched(
        asked(spots[:1], workpiece=dataclasses.replace(PLATE, length_mm=1200))
    ).views
    whole = fit(short, 130, 60)
    assert not whole.across.breaks


def test_a_heat_over_the_seam_of_a_tube_is_not_cut_apart():
    tube = RoundTube(length_mm=600, outer_diameter_mm=100, thickness_mm=6, material="S355")
    line = LineHeat(flame="small", face="outside", path_mm=[[300, -40], [300, 40]], speed_mm_s=4)
    (view,) = sketched(asked([line], workpiece=tube)).views
    low, high = view.across
    assert low < -40 < 40 < high
    assert_allclose(high - low, np.pi * 100, rtol=1e-4)
    assert [words for _, words in view.guides] == [
        "top", "side of small y", "lowest", "side of large y", "top"
    ]  # fmt: skip


def test_measures_of_a_sheet_with_a_buckle_say_how_high_it_is():
    sheet = Plate(length_mm=200, width_mm=200, thickness_mm=2, material="S235")
    spot = SpotHeat(flame="small", face="top", at_mm=[100, 100], time_s=2)
    case = asked([spot], workpiece=sheet, initial_shape=SineShape(height_mm=3))
    names = [one.name for one in case_sheets(case)[0].measures]
    body, _ = body_of(case, material_of(case), Path())
    every = sheet_measures(case, body.mesh, material_of(case), 1)
    assert names[:3] == ["dishing", "change of dishing", "flatness of the panel"]
    assert not any("before the job" in name for name in names)
    assert [one.name for one in every] == names


def test_part_from_a_mesh_file_has_a_sheet_without_a_section(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    mesh = box_mesh(np.linspace(0, 0.12, 7), np.linspace(0, 0.2, 9), [0.0, 0.012])
    meshio.write("part.vtu", meshio.Mesh(1e3 * mesh.p.T, [("hexahedron", to_meshio_order(mesh))]))
    spot = SpotHeat(flame="small", face="top", at_mm=[60, 60], time_s=2)
    case = asked([spot], workpiece=MeshFile(file="part.vtu", material="S355"), mesh=Mesh())
    (one,) = case_sheets(case)
    assert one.part.startswith("part from a mesh file 120 x 200 x 12 mm")
    assert one.sketch.section is None


def test_sag_that_is_there_before_lighting_is_no_predicted_change():
    spot = SpotHeat(flame="small", face="top", at_mm=[1200, 20], time_s=12)
    hangs = Case(
        title="a flat bar on two trestles",
        workpiece=Bar(length_mm=2400, depth_mm=40, thickness_mm=10, material="S355"),
        mesh=Mesh(size_at_heat_mm=10, size_away_mm=100, layers=1),
        flames=FLAMES, heats=[spot], loads=[OwnWeight(direction="-y")],
        supports=[
            Points(at_mm=[[0, 0, 0], [0, 0, 10]], directions=["y", "z"]),
            Points(at_mm=[[2400, 0, 0]], directions=["y", "z"]),
            Points(at_mm=[[0, 0, 0]], directions=["x"]),
        ],
    )  # fmt: skip
    result = run(hangs)
    (sheet,) = result_sheets(result)
    told = {one.name: float(one.predicted) for one in sheet.measures}
    found = find_measure(result.cycles[0].measures, "camber").value
    # 5 w L^4 / 384 E I of a beam under its own weight, w = rho g A
    sag = 1e3 * 5 / 384 * 12 * 7850 * 9.81 * 2.4**4 / (210e9 * 0.04**2)
    assert found - told["camber"] == pytest.approx(-sag, rel=0.02)
