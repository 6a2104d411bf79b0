"""Beams, pipes and panels in cases: dimensions, faces, meshing, heats, what comes out."""

import tomllib
from typing import Any

import jsonschema
import numpy as np
import pytest

from flamefe.outcome.measure import find_measure
from flamefe.reporting.asked import asked_lines
from flamefe.reporting.files import write_result
from flamefe.study.beam_sections import section_of, values_of
from flamefe.study.case import (
    Case,
    CaseError,
    Fault,
    Flame,
    IBeam,
    InherentStrain,
    Mesh,
    RoundTube,
    Solve,
    SpotHeat,
    case_schema,
    mesh_plan,
    notes,
)
from flamefe.study.casefile import case_from_text, dump_case
from flamefe.study.laying import laid_on
from flamefe.study.parts import body_of, material_of
from flamefe.study.result import RunResult
from flamefe.study.run import run
from flamefe.workpiece.section_properties import section_properties

KINDS = {
    "I beam": "height_mm = 200\nwidth_mm = 100\nweb_thickness_mm = 6\nflange_thickness_mm = 9",
    "channel": "height_mm = 200\nwidth_mm = 75\nweb_thickness_mm = 8\nflange_thickness_mm = 11",
    "T beam": "height_mm = 100\nwidth_mm = 100\nweb_thickness_mm = 10\nflange_thickness_mm = 10",
    "angle": "height_mm = 100\nwidth_mm = 65\nthickness_mm = 9",
    "box": "height_mm = 300\nwidth_mm = 200\nweb_thickness_mm = 8\nflange_thickness_mm = 12",
    "round tube": "outer_diameter_mm = 114.3\nthickness_mm = 6.3",
    "rectangular tube": "height_mm = 100\nwidth_mm = 60\nthickness_mm = 4\nouter_radius_mm = 8",
    "round bar": "diameter_mm = 60",
    "panel": "width_mm = 600\nplate_thickness_mm = 8\nstiffeners = 2\nstiffener_height_mm = 80\n"
    "stiffener_thickness_mm = 8",
}
FACES = {"round tube": "outside", "round bar": "outside", "rectangular tube": "top outside",
         "panel": "stiffener 2 left", "angle": "top of flat leg", "T beam": "web left",
         "box": "inside of left web", "channel": "web back", "I beam": "web right"}  # fmt: skip


def text_of(kind: str, face: str | None = None, **changes: str) -> str:
    text = f"""\
title = "A heat on a member of a grain mill's platform"
[workpiece]
kind = "{kind}"
length_mm = 2000
{KINDS[kind]}
material = "S355"
[flames.torch]
power_kW = 4
radius_mm = 15
[[heats]]
kind = "spot"
flame = "torch"
face = "{FACES[kind] if face is None else face}"
at_mm = [1000, 20]
time_s = 10
"""
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    return text


def faults_of(text: str) -> tuple[Fault, ...]:
    with pytest.raises(CaseError) as caught:
        case_from_text(text, "beam.toml")
    return caught.value.faults


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_read_written_and_meshed(kind: str) -> None:
    text = text_of(kind)
    jsonschema.Draft202012Validator(case_schema()).validate(tomllib.loads(text))
    case = case_from_text(text)
    assert case_from_text(dump_case(case)) == case
    body, _ = body_of(case, material_of(case), None)  # type: ignore[arg-type]
    plan = mesh_plan(case)
    assert plan is not None
    assert plan.nodes == len(body.points) < 40_000
    extent = 1e3 * np.ptp(body.points, axis=0)
    assert extent == pytest.approx(case.workpiece.size_mm, rel=0.01)  # type: ignore[union-attr]
    beam = case.workpiece
    section = section_of(values_of(beam), size=0.05)  # type: ignore[arg-type]
    assert body.mass == pytest.approx(section_properties(section).area * 2.0 * 7850.0, rel=0.002)


def test_fine_where_heat_goes_coarse_elsewhere() -> None:
    case = case_from_text(text_of("I beam", "web left"))
    plan = mesh_plan(case)
    assert plan is not None
    assert plan.beam is not None
    steps = 1e3 * np.diff(plan.beam.stations)
    middle = 500.0 * (plan.beam.stations[1:] + plan.beam.stations[:-1])
    near = np.abs(middle - 1000.0) < 30.0
    assert steps[near].max() <= plan.size_at_heat_mm == 5.0
    assert 50.0 < steps.max() <= plan.size_away_mm == 100.0
    points, section = plan.beam.section.points, plan.beam.section
    along_web = np.unique(np.round(points[section.quads[section.parts["web"]], 1], 9))
    assert np.diff(along_web).max() <= 0.005 + 1e-9
    below = np.unique(np.round(points[section.quads[section.parts["bottom flange"]], 0], 9))
    assert np.diff(below).max() > 0.012
    own = case_from_text(text_of("I beam", "web left") + "[mesh]\nlayers = 3\nsize_away_mm = 60\n")
    assert mesh_plan(own).layers == 3  # type: ignore[union-attr]
    assert mesh_plan(own).size_away_mm == 60.0  # type: ignore[union-attr]


def test_a_wrong_face_is_told_with_the_nearest_name() -> None:
    (fault,) = faults_of(text_of("I beam", "web lft"))
    assert (fault.place, fault.line) == ("heats[0].face", 16)
    assert "web left" in fault.advice
    (fault,) = faults_of(text_of("round tube", "outsde"))
    assert (fault.allowed, "outside" in fault.advice) == (
        'one of "end", "inside", "outside", "start"', True,
    )  # fmt: skip
    (fault,) = faults_of(text_of("angle") + '[[supports]]\nkind = "clamp"\nface = "strat"\n')
    assert fault.place == "supports[0].face"
    assert '"start"' in fault.advice


def test_points_off_a_face_are_told_in_its_own_coordinates() -> None:
    (fault,) = faults_of(text_of("I beam", **{"[1000, 20]": "[2050, 190]"}))
    assert "50 mm beyond station = 2000 and 8 mm beyond v = 182" in fault.given
    assert fault.allowed == "station from 0 to 2000, v from 0 to 182 mm"
    (fault,) = faults_of(text_of("channel", "end", **{"[1000, 20]": "[80, 100]"}))
    assert "5 mm beyond y = 75" in fault.given
    assert case_from_text(text_of("round tube", **{"[1000, 20]": "[1000, -30]"}))
    (fault,) = faults_of(text_of("round tube", **{"[1000, 20]": "[1000, 900]"}))
    assert "v from -359.084 to 718.168 mm" in fault.allowed, "once round is pi D"


def test_dimensions_that_contradict_each_other_are_told_in_mm() -> None:
    thick = {"flange_thickness_mm = 9": "flange_thickness_mm = 120"}
    (fault,) = faults_of(text_of("I beam", **thick))
    assert "flanges take 240 mm of the height, 200 mm" in fault.given
    assert "Give thinner flanges" in fault.advice
    (fault,) = faults_of(text_of("round tube", **{"thickness_mm = 6.3": "thickness_mm = 60"}))
    assert fault.place == "workpiece.thickness_mm"
    assert (fault.given, fault.line) == ("60 mm", 6)
    assert "half of the outer_diameter, 57.15 mm" in fault.allowed
    (fault,) = faults_of(text_of("panel", **{"stiffeners = 2": "stiffeners = 2\nspacing_mm = 700"}))
    assert "at most the width, 600 mm" in fault.allowed


def test_a_missing_or_strange_dimension_is_told_alone() -> None:
    both = faults_of(text_of("angle", **{"thickness_mm = 9": "thicknes_mm = 9"}))
    assert len(both) == 2
    assert any('Did you mean "thickness_mm"' in fault.advice for fault in both)
    (fault,) = faults_of(text_of("T beam", **{'kind = "T beam"': 'kind = "T bem"'}))
    assert 'Did you mean "T beam"' in fault.advice


def test_both_faces_need_one_face_across() -> None:
    both = {"time_s = 10": "time_s = 10\nboth_faces = true"}
    web = case_from_text(text_of("I beam", "web left", **both))
    assert [laid.face for laid in laid_on(web.workpiece, web.heats[0])] == ["web left", "web right"]
    flange = case_from_text(text_of("I beam", "top of top flange", **both))
    (_, other) = laid_on(flange.workpiece, flange.heats[0])
    assert other.face == "underside of top flange left"
    assert other.points(((1.0, 0.02),))[0] == pytest.approx((1.0, 0.02))
    pipe = case_from_text(text_of("round tube", **both))
    (_, inside) = laid_on(pipe.workpiece, pipe.heats[0])
    assert inside.points(((1.0, 0.1),))[0][1] == pytest.approx(0.1 * (57.15 - 6.3) / 57.15)
    over_web = {**both, "[1000, 20]": "[1000, 50]"}
    (fault,) = faults_of(text_of("I beam", "top of top flange", **over_web))
    assert fault.place == "heats[0].both_faces"
    assert "no opposite face there" in fault.given


def test_heats_that_lie_on_one_another_through_a_plate_are_noted() -> None:
    both = text_of("I beam", "web left", **{"time_s = 10": "time_s = 10\nboth_faces = true"})
    again = '[[heats]]\nkind = "spot"\nflame = "torch"\nface = "web right"\nat_mm = [1000, 20]\n'
    said = notes(case_from_text(both + again + "time_s = 10\ncycle = 2\n"))
    assert any("Heat 2 repeats heat 1" in note for note in said)
    beside = both + again.replace("[1000, 20]", "[1000, 120]") + "time_s = 10\ncycle = 2\n"
    assert not any("repeats" in note for note in notes(case_from_text(beside)))


def value(result: RunResult, name: str) -> float:
    return find_measure(result.cycles[-1].measures, name).value


TUBE = RoundTube(length_mm=400, outer_diameter_mm=60.3, thickness_mm=4, material="S355")


def tube_case(around: float, **changes: Any) -> Case:
    """A spot on the outside of a tube, at a share of its circumference."""
    spot = SpotHeat(
        flame="torch", face="outside", at_mm=[200, around * np.pi * 60.3], time_s=6, **changes
    )
    return Case(
        title="A spot on a spout",
        workpiece=TUBE,
        mesh=Mesh(size_at_heat_mm=9, size_away_mm=60, layers=1),
        flames={"torch": Flame(power_kW=1.8, radius_mm=15)},
        heats=[spot],
    )


@pytest.fixture(scope="module")
def spot_on_top() -> RunResult:
    return run(tube_case(0.5))


def test_a_spot_on_the_wall_of_a_tube_bends_it_towards_the_spot(spot_on_top: RunResult) -> None:
    """The heated side shortens: from the top the middle sags; from the right it gives way left."""
    assert value(spot_on_top, "closing rotation, upright") > 0.1
    assert value(spot_on_top, "camber") < -0.01
    assert abs(value(spot_on_top, "sweep")) < 0.02 * abs(value(spot_on_top, "camber"))
    assert abs(value(spot_on_top, "twist")) < 1e-3
    assert value(spot_on_top, "shortening") > 0.0
    assert spot_on_top.heat.energy.error < 0.005
    assert spot_on_top.heat.energy.supplied == pytest.approx(1800.0 * 6.0, rel=1e-9)
    (heat,) = spot_on_top.heats
    assert heat.thickness_mm == pytest.approx(4.0, rel=0.01), "at the corners of a polygon"
    assert heat.soft_depth_mm == pytest.approx(heat.thickness_mm), "so thin, hot throughout"
    peak = spot_on_top.heat.peak
    inside = np.unique(spot_on_top.mesh.facets[:, spot_on_top.mesh.boundaries["inside"]])
    below = spot_on_top.mesh.p[2] < 0.01
    assert peak[inside].max() > 500.0
    assert peak[below].max() < 0.3 * peak.max()


def test_a_spot_elsewhere_round_the_tube_does_the_same_turned(spot_on_top: RunResult) -> None:
    """A quarter of the circumference on the right side: camber becomes sweep, to mesh symmetry."""
    right = run(tube_case(0.25))
    top = value(spot_on_top, "closing rotation, upright")
    assert value(right, "closing rotation, sideways") == pytest.approx(top, rel=1e-3)
    assert value(right, "sweep") == pytest.approx(value(spot_on_top, "camber"), rel=1e-3)


def test_a_beam_is_told_and_drawn(spot_on_top: RunResult, tmp_path: Any) -> None:
    told = asked_lines(spot_on_top)
    assert told[0].startswith("round tube 60.3 x 4 mm, 400 mm long, S355")
    write_result(spot_on_top, tmp_path)
    for name in ("peak_temperature.png", "plastic_strain.png", "shape.png", "result.json"):
        assert (tmp_path / name).stat().st_size > 1000, name


def test_tendon_force_in_a_flange_bends_and_shortens_a_beam() -> None:
    """A shrunk flange of a 6 m beam from its case: sag F e L^2 / (8 E I), shortening F L / (E A).

    Derived for plane sections; F is E times the strain times the area it is in, here 129 kN as a
    line heat of 0.6 kJ/mm leaves along it (0.2 kN mm/J times heat, White, Leggatt and Dwight 1980,
    from memory). 0.5 %: the ends of the beam are free to warp.
    """
    piece = IBeam(
        length_mm=6000, height_mm=200, width_mm=100, web_thickness_mm=5.6,
        flange_thickness_mm=8.5, material="S355",
    )  # fmt: skip
    modulus, flange = 210e9, 0.1 * 0.0085
    strain = 129e3 / (modulus * flange)
    case = Case(
        title="Shrunk flange",
        workpiece=piece,
        inherent_strain=[
            InherentStrain(
                from_mm=[0, 0, 191.5], to_mm=[6000, 100, 200], strain=[-strain, 0, 0, 0, 0, 0]
            )
        ],
        mesh=Mesh(size_away_mm=150),
        solve=Solve(geometry="small"),
    )
    result = run(case)
    section = section_of(values_of(piece), size=0.02)
    p = section_properties(section)
    lever = 0.2 - 0.5 * 0.0085 - p.centroid[1]
    sag = 129e3 * lever * 6.0**2 / (8.0 * modulus * p.second_moment_y)
    assert sag == pytest.approx(14.3e-3, rel=0.1), "as of a rolled one with fillets"
    assert value(result, "camber") == pytest.approx(-1e3 * sag, rel=0.005)
    # without a heat the ends' turns are means over the outer eighths: 7/8 of the length between
    turn = 7.0 / 8.0 * 8e3 * sag / 6.0
    assert value(result, "closing rotation, upright") == pytest.approx(turn, rel=0.005)
    shorter = 1e3 * 129e3 * 6.0 / (modulus * p.area)
    assert value(result, "shortening") == pytest.approx(shorter, rel=0.005)
    assert abs(value(result, "twist")) < 1e-6


WEDGE_AND_BAND = """\
title = "Wedge in the web of a conveyor rail, band on the flange it opens to"
[workpiece]
kind = "I beam"
length_mm = 600
height_mm = 120
width_mm = 64
web_thickness_mm = 4.4
flange_thickness_mm = 6.3
material = "S355"
[mesh]
size_at_heat_mm = 15
size_away_mm = 80
layers = 1
[flames.torch]
power_kW = 3
radius_mm = 23
[[heats]]
name = "wedge"
kind = "wedge"
flame = "torch"
face = "web left"
both_faces = true
apex_mm = [300, 25]
base_mm = [300, 105]
angle_deg = 30
target_C = 550
[[heats]]
name = "band"
kind = "band"
flame = "torch"
face = "top of top flange"
from_mm = [300, 4]
to_mm = [300, 60]
width_mm = 42
target_C = 550
"""


def test_a_wedge_through_a_web_and_a_band_on_its_flange() -> None:
    """Both sides of the web, then the flange: the top closes, less than with perfect confinement.

    Nothing turns about the beam's axis, as both sides of the web are heated alike. The flange is
    done from left to right, so that it bends a little sideways too.
    """
    case = case_from_text(WEDGE_AND_BAND)
    result = run(case)
    wedge, band = result.heats
    assert (wedge.thickness_mm, band.thickness_mm) == (4.4, 6.3)
    assert wedge.peak_C > 525.0
    assert result.heat.energy.error < 0.005
    closing = value(result, "closing rotation, upright")
    # strain alpha T - yield / E at 550 C is about 7e-3; the wedge opens by 2 tan 15 degrees
    assert 0.1 < closing < 1e3 * 7e-3 * 2.0 * np.tan(np.radians(15.0))
    assert value(result, "camber") < 0.0
    assert value(result, "shortening") > 0.0
    assert abs(value(result, "twist")) < 0.02
    hot = result.mesh.p[:, result.heat.peak > 400.0]
    assert np.abs(hot[0] - 0.3).max() < 0.06
    assert hot[2].min() > 0.01, "the bottom flange stays cold"


def test_a_clamped_beam_runs_with_its_own_weight() -> None:
    """Elastic: a cantilever of 2 m under its own weight, w L^4 / (8 E I) and shear: within 2 %."""
    text = text_of("rectangular tube").split("[flames.torch]")[0] + (
        '[[supports]]\nkind = "clamp"\nface = "start"\n[[loads]]\nkind = "own weight"\n'
        "[mesh]\nsize_away_mm = 50\n"
    )
    result = run(case_from_text(text))
    piece = result.case.workpiece
    p = section_properties(section_of(values_of(piece), size=0.01))  # type: ignore[arg-type]
    load = p.area * 7850.0 * 9.80665
    bending = load * 2.0**4 / (8.0 * 210e9 * p.second_moment_y)
    shear = load * 2.0**2 / (2.0 * 80.8e9 * 2 * 0.096 * 0.004)
    end = np.unique(result.mesh.facets[:, result.mesh.boundaries["end"]])
    found = -result.strain.displacements[-1][end, 2].mean()
    assert found == pytest.approx(bending + shear, rel=0.02)
