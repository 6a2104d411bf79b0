"""What is said of a case before it is run: how hot, how long, held how, and that nothing solves."""

import math
import sys
from dataclasses import replace
from pathlib import Path

import meshio
import pytest

import flamefe
from flamefe.heating.phase import Burn
from flamefe.study import run as running
from flamefe.study.case import (
    Case,
    Clamp,
    Flame,
    IBeam,
    InherentStrain,
    LineHeat,
    Mesh,
    MeshFile,
    OwnWeight,
    Plate,
    Solve,
    SpotHeat,
    WedgeHeat,
    mesh_plan,
)
from flamefe.study.casefile import load_case
from flamefe.study.describe import describe
from flamefe.study.examples import example_names, example_path
from flamefe.study.how_long import SPREAD, how_long, steps_of
from flamefe.study.parts import body_of, material_of
from flamefe.study.phases import phases_of
from flamefe.study.quick_peak import quick_peaks, share_on_face
from flamefe.workpiece.meshfile import to_meshio_order

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import how_long as measured

STORED = measured.stored()


@pytest.mark.parametrize("row", STORED, ids=lambda row: f"{row['case']} {row['mesh']}")
def test_measured_runs_lie_within_the_stated_factors(row):
    """Time, memory, steps and peaks of stored runs; the nodes exactly."""
    assert measured.off(measured.ratios(row)) == []


def test_stored_runs_are_of_all_ready_cases():
    assert {(row["case"], row["mesh"]) for row in STORED} == {
        (name, mesh) for name in example_names() for mesh in ("coarse", "as it is")
    }


def test_the_comparison_can_fail():
    row = next(row for row in STORED if row["case"] == "mixer_pipe_oval")
    for column, wrong, said in (
        ("cpu_s", "99", "time"), ("peak_MB", "9999", "memory"), ("nodes", "6397", "nodes"),
        ("steps", "4", "steps"), ("peak_C", "1200", "rise"),
    ):  # fmt: skip
        assert measured.off(measured.ratios(row | {column: wrong})) == [said]


PLATE = Plate(length_mm=90, width_mm=60, thickness_mm=8, material="S355")
SPOT = Case(
    title="a spot",
    workpiece=PLATE,
    mesh=Mesh(size_at_heat_mm=8, size_away_mm=16, layers=2),
    flames={"torch": Flame(power_kW=1.9, radius_mm=15)},
    heats=[SpotHeat(flame="torch", face="top", at_mm=[45, 30], time_s=8)],
)
LINE = replace(
    SPOT,
    heats=[LineHeat(flame="torch", face="top", path_mm=[[20, 30], [70, 30]], speed_mm_s=3)],
)


@pytest.fixture(scope="module", params=[SPOT, LINE], ids=["spot", "line"])
def ran(request):
    return request.param, flamefe.run(request.param)


def test_runs_that_were_not_fitted_to(ran):
    """Peak and steps of cheap cases that no constant has seen; the unknowns exactly."""
    case, result = ran
    told = describe(case)
    (peak,) = told.peaks
    assert peak.low_C <= result.heats[0].peak_C <= peak.high_C
    steps = result.figures["heat_steps"]
    assert steps / SPREAD <= told.cost.steps <= steps * SPREAD
    assert told.cost.temperatures == result.heat.temperatures.shape[1]
    assert told.cost.displacements == result.strain.displacements[0].size


def test_warnings_told_before_are_in_the_result(ran):
    case, result = ran
    sure = [words for words in describe(case).expected if not words.startswith(("Perhaps", "Rule"))]
    assert set(sure) <= set(result.warnings)


@pytest.mark.parametrize("name", example_names())
def test_unknowns_are_those_of_the_mesh_that_is_built(name):
    case = load_case(example_path(name))
    body, _ = body_of(case, material_of(case), example_path(name).parent)
    cost = how_long(case, body)
    assert cost.temperatures == body.mesh.p.shape[1] == mesh_plan(case).nodes
    assert cost.displacements == body.mesh.p.size


def test_steps_of_a_timed_line_are_those_of_its_burn():
    """A sixth of the flame's radius each: known exactly."""
    body, _ = body_of(LINE, material_of(LINE), Path())
    burn = phases_of(LINE, body)[0]
    assert isinstance(burn, Burn)
    slower = replace(LINE, heats=[replace(LINE.heats[0], path_mm=[[20, 30], [45, 30]])])
    half = 0.5 * burn.duration / burn.step
    assert steps_of(LINE) - steps_of(slower) == pytest.approx(half)


def test_nothing_is_solved(monkeypatch):
    for name in ("heat_along", "strain_along"):
        monkeypatch.setattr(running, name, lambda *_, **__: pytest.fail("solved"))
    assert "How hot, about" in describe(SPOT).text


def test_what_is_said():
    case = replace(
        SPOT,
        title="<b>wall</b>",
        supports=[Clamp(face="start", released="after cooling"), Clamp(face="end")],
        loads=[OwnWeight()],
        heats=[
            *SPOT.heats,
            WedgeHeat(
                flame="torch", face="top", apex_mm=[45, 10], base_mm=[45, 60], angle_deg=40,
                target_C=600, cycle=2,
            ),
        ],
    )  # fmt: skip
    told = describe(case)
    text = " ".join(told.text.split())
    assert all(len(line) <= 100 for line in told.text.splitlines())
    assert told.title == "<b>wall</b>"
    for words in (
        'cycle 1, heat 1: spot of 8 s, "torch" on top, at (45, 30) mm; then cools to 30 C, then to',
        "cycle 2, heat 2: wedge of 40 degrees, 50 mm deep",
        "apex (45, 10), base (45, 60) mm",
        "heat 2: the torch is driven to 600 C",
        "clamp on start, released after cooling",
        "clamp on end, never released",
        "own weight",
        "Rough: a flame that stands on a wide round plate",
        f"{3 * told.nodes} unknown displacements",
    ):
        assert words in text


def test_hotter_flames_are_told_as_too_hot():
    (peak,) = quick_peaks(SPOT)
    hot = replace(SPOT, flames={"torch": Flame(power_kW=4, radius_mm=15)})
    (hotter,) = quick_peaks(hot)
    assert hotter.about_C > peak.about_C
    assert any(words.startswith("Too hot: about") for words in describe(hot).expected)
    cool = replace(SPOT, flames={"torch": Flame(power_kW=0.8, radius_mm=15)})
    assert not any("too hot" in words.lower() for words in describe(cool).expected)


def test_a_flame_over_an_edge_is_told():
    off = replace(SPOT, heats=[replace(SPOT.heats[0], at_mm=[45, 4])])
    said = "falls beside it (heat 1: about 65 % on its face)"
    assert any(said in words for words in describe(off).expected)
    assert not any("falls beside" in words for words in describe(SPOT).expected)


EDGE = replace(
    SPOT,
    workpiece=Plate(length_mm=100, width_mm=60, thickness_mm=6, material="S355"),
    mesh=Mesh(size_at_heat_mm=9, size_away_mm=20, layers=1),
    flames={"torch": Flame(power_kW=1.5, radius_mm=14)},
    heats=[LineHeat(flame="torch", face="far", path_mm=[[80, 3], [20, 3]], speed_mm_s=5)],
    solve=Solve(largest_temperature_step_C=120, tolerance=3e-3),
)


@pytest.mark.parametrize(("power", "time"), [(1.5, None), (0.35, 15)])
def test_a_face_narrower_than_the_flame_gets_as_hot_as_told(power, time):
    """The edge of a plate, with a line and with a spot: all the power enters 6 mm."""
    heats = EDGE.heats
    if time is not None:
        heats = [SpotHeat(flame="torch", face="far", at_mm=[50, 3], time_s=time)]
    case = replace(EDGE, flames={"torch": Flame(power_kW=power, radius_mm=14)}, heats=heats)
    (peak,) = quick_peaks(case)
    assert peak.share == pytest.approx(math.erf(3 / 14), rel=1e-3)
    assert peak.low_C < float(flamefe.run(case).heat.peak.max()) < peak.high_C
    words = " ".join(describe(case).text.split())
    assert "only about 24 % of the flame lies on its face, which takes all its power" in words
    assert any("heat 1: about 24 % on its face" in words for words in describe(case).expected)
    if power > 1.0:
        assert any(words.startswith("Too hot") for words in describe(case).expected)


def test_a_face_that_hardly_takes_any_of_the_flame_gets_no_estimate():
    thin = replace(EDGE.workpiece, thickness_mm=2)
    heat = replace(EDGE.heats[0], path_mm=[[80, 1], [20, 1]])
    told = describe(replace(EDGE, workpiece=thin, heats=[heat]))
    assert told.peaks == (None,)
    words = "can't be told before the run: only about 8 % of the flame lies on its face"
    assert words in " ".join(told.text.split())


def test_the_share_on_the_face_of_a_beam_is_that_across_its_outline():
    beam = IBeam(
        length_mm=400, height_mm=120, width_mm=80, web_thickness_mm=6, flange_thickness_mm=10,
        material="S355",
    )  # fmt: skip
    heat = LineHeat(
        flame="torch", face="top flange left edge", path_mm=[[100, 5], [300, 5]], speed_mm_s=5
    )
    case = replace(EDGE, workpiece=beam, heats=[heat], mesh=Mesh())
    assert share_on_face(case, heat) == pytest.approx(math.erf(5 / 14), rel=1e-6)
    middle = replace(heat, face="top of top flange", path_mm=[[100, 40], [300, 40]])
    assert share_on_face(case, middle) == pytest.approx(math.erf(40 / 14), rel=1e-6)


def test_a_part_from_a_mesh_file_has_no_thickness(tmp_path):
    mesh = body_of(SPOT, material_of(SPOT), Path())[0].mesh
    hexes = [("hexahedron", to_meshio_order(mesh))]
    meshio.write(tmp_path / "part.vtu", meshio.Mesh(mesh.p.T * 1e3, hexes))
    case = replace(SPOT, workpiece=MeshFile(file="part.vtu", material="S355"), mesh=Mesh())
    told = describe(case, tmp_path)
    assert told.peaks == (None,)
    assert "can't be told before the run" in told.text
    assert told.cost.displacements == 3 * mesh.p.shape[1]
    assert "part from a mesh file of 90 x 60 x 8 mm" in told.text


def test_without_heats_nothing_is_heated():
    strain = [0.001, 0, 0, 0, 0, 0]
    box = InherentStrain(from_mm=[0, 0, 0], to_mm=[90, 60, 4], strain=strain)
    told = describe(replace(SPOT, heats=[], flames={}, inherent_strain=[box]))
    assert told.peaks == ()
    assert "nothing is heated" in told.text
