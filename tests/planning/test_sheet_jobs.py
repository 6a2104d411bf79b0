"""Jobs on rings, panels and bays: their surveys, what is fitted out, and area that is counted."""

import numpy as np
import pytest
from typer.testing import CliRunner

from flamefe import cli
from flamefe.basics.errors import OutOfRange
from flamefe.planning.bays import (
    BayHeat,
    Bays,
    counted_by_area,
    heights_by_area,
    measured_by_area,
)
from flamefe.planning.belief import first_belief
from flamefe.planning.defined import problem_of, reading_of
from flamefe.planning.defined_formed import formed_target
from flamefe.planning.defined_sheets import panel_sheet, plane_fitted
from flamefe.planning.definition import Definition, DefinitionError, read_definition
from flamefe.planning.effect import HeatEffect, line_effect, spot_effect
from flamefe.planning.job import Job
from flamefe.planning.plan import plan_cycle
from flamefe.planning.reading import as_deviations
from flamefe.planning.rings import Ring
from flamefe.planning.seats import SheetHeat
from flamefe.study.job_examples import job_path
from flamefe.study.job_measuring import measured_in
from flamefe.workpiece.standard import material


def told(name):
    return read_definition(job_path(name))


@pytest.fixture(scope="module")
def panel():
    return told("platform_panel"), problem_of(told("platform_panel"))


def test_bays_counted_by_area_come_flat_as_the_bookkeeping_says():
    definition = told("hopper_wall_bays")
    problem = problem_of(definition)
    heights = np.array([3.8, -2.5, 0.6, 2.9, 3.6, -1.0]) * 1e-3
    tolerance = 1.2e-3
    spots = [heat for heat in problem.library.candidates if heat.place.startswith("A2")]
    after = counted_by_area(heights, tolerance) + sum(heat.moves for heat in spots[:2])
    spot = spot_effect(area_change=-5e-6, thickness=0.004, source="assumed")
    bays = Bays(names=definition.part.bays, sides=np.full((6, 2), 0.4), heights=heights)
    given = [BayHeat(name=str(i), bay="A2", effect=spot) for i in range(2)]
    assert heights_by_area(after, tolerance) == pytest.approx(np.abs(bays.after(given)), rel=1e-12)
    assert abs(bays.after(given)[1]) < 0.7 * abs(heights[1])
    assert problem.shown(after) == pytest.approx(np.abs(bays.after(given)))


def test_squares_of_measured_heights_are_right_on_average_and_as_unsure_as_they_say():
    random = np.random.default_rng(4)
    true, error, tolerance = 0.0011, 1.5e-4, 1.2e-3
    read = true + random.normal(0.0, error, 4000)
    made = [measured_by_area(np.array([w]), np.array([[error**2]]), tolerance) for w in read]
    values = np.array([one[0][0] for one in made])
    assert values.mean() == pytest.approx(true**2 / tolerance, abs=3 * values.std() / 4000**0.5)
    said = np.sqrt(np.mean([one[1][0, 0] for one in made]))
    assert values.std() == pytest.approx(said, rel=0.06)


def test_a_flat_bay_is_within_and_needs_no_more_heats():
    problem = problem_of(told("hopper_wall_bays"))
    reading = reading_of(told("hopper_wall_bays"))
    seen, errors = as_deviations(1e-3 * np.array([0.1, 0.0, -0.2, 0, 0, 0]), None, 1.5e-4, reading)
    belief = first_belief(problem.library.kinds, seen, errors, problem.common)
    plan = plan_cycle(belief, problem.places, problem.library, problem.rules, effort="quick")
    assert plan.done
    assert not plan.heats


def test_a_survey_of_the_wall_gives_heights_of_bays_whatever_its_tilt(tmp_path):
    definition = told("hopper_wall_bays")
    reading = reading_of(definition)
    heights = dict(zip(reading["bays_mm"], (3.8, -2.5, 0.6, 2.9, 3.6, -1.0), strict=True))
    lines = ["x_mm,y_mm,z_mm"]
    for x in range(0, 1201, 200):
        for y in range(0, 801, 200):
            bay = [n for n, (a, b, c, d) in reading["bays_mm"].items() if a < x < c and b < y < d]
            z = 5 + 0.002 * x - 0.003 * y + (heights[bay[0]] if bay else 0.0)
            lines.append(f"{x},{y},{z:.6f}")
    file = tmp_path / "wall.csv"
    file.write_text("\n".join(lines))
    read, spread, _ = measured_in(file, list(heights), 1.5e-4, reading)
    assert 1e3 * read == pytest.approx(list(heights.values()), abs=1e-5)
    found, covariance = as_deviations(read, spread, 1.5e-4, reading)
    wanted = counted_by_area(1e-3 * np.array(list(heights.values())), 1.2e-3)
    # what the instrument adds to a square on average is taken off
    assert found == pytest.approx(wanted - 1.5e-4**2 * (1 + 1 / 8) / 1.2e-3, abs=1e-8)
    spread = np.sqrt(np.diag(covariance))
    assert spread[0] == pytest.approx(2 * 3.8 / 1.2 * 1.5e-4 * np.sqrt(1 + 1 / 8), rel=0.01)
    assert covariance[0, 1] != 0.0  # neighbours share their stiffener
    assert measured_in(file, list(heights), 1.5e-4, reading)[2] == ()
    lines[1 + 5 * 2 + 1] = "400,200,35"  # on the frame between A1 and A2, 30 mm off
    (tmp_path / "off.csv").write_text("\n".join(lines))
    (doubt,) = measured_in(tmp_path / "off.csv", list(heights), 1.5e-4, reading)[2]
    assert doubt.startswith("(400, 200) mm on the frame")
    (tmp_path / "few.csv").write_text("\n".join(line for line in lines if line[:4] != "200,"))
    with pytest.raises(OutOfRange, match="'A1' has 0 points in its middle"):
        measured_in(tmp_path / "few.csv", list(heights), 1.5e-4, reading)


def test_radii_measured_from_a_wrong_middle_give_the_same_deviations(tmp_path):
    definition = told("drum_ring")
    problem, reading = problem_of(definition), reading_of(definition)
    degrees = np.array(definition.part.measured_at_deg)
    t = np.radians(degrees)
    oval = 9.0 * np.cos(2 * (t - 0.4))
    file = tmp_path / "ring.csv"
    rows = zip(degrees[::-1], (1003 + oval + 4 * np.cos(t) - 3 * np.sin(t))[::-1], strict=True)
    file.write_text("angle_deg,radius_mm\n" + "".join(f"{a},{r:.5f}\n" for a, r in rows))
    found, covariance, _ = measured_in(file, problem.places.names, 3e-4, reading)
    assert 1e3 * found == pytest.approx(oval, abs=0.02)
    typed, by_hand = as_deviations(1e-3 * (oval + 2 * np.sin(t) - 7), None, 3e-4, reading)
    assert 1e3 * typed == pytest.approx(oval, abs=1e-9)
    assert by_hand == pytest.approx(covariance)
    file.write_text("angle_deg,radius_mm\n" + "".join(f"{a},1000\n" for a in range(0, 360, 30)))
    with pytest.raises(OutOfRange, match="12 readings, the job 16 places"):
        measured_in(file, problem.places.names, 3e-4, reading)


def test_a_heat_of_a_ring_moves_what_the_ring_says_less_the_circle():
    problem = problem_of(told("drum_ring"))
    heat = next(
        h for h in problem.library.candidates if h.name == "line all the height inside 45 deg"
    )
    t = np.radians(told("drum_ring").part.measured_at_deg)
    ring = Ring(radius=1.0, angles=t)
    effect = HeatEffect(kind="line", rotation_y=-7e-3, shortening=2.1e-5, source="assumed")
    moved = ring.influence([ring.heat("l", effect, angle=np.pi / 4)])[:, 0]
    circle = np.column_stack((np.ones(t.size), np.cos(t), np.sin(t)))
    moved -= circle @ np.linalg.lstsq(circle, moved, rcond=None)[0]
    assert heat.moves == pytest.approx(moved, abs=1e-12)
    assert heat.moves[2] > 0.0  # inside: rounder, outwards where it is heated


def test_heats_of_a_panel_move_what_the_elastic_sheet_says_less_the_plane(panel):
    definition, problem = panel
    name = "line between stiffeners one pass top (400, 400) mm along x"
    heat = next(h for h in problem.library.candidates if h.name == name)
    sheet = panel_sheet(definition.part, material("S355"))
    low = sheet.part.carrier.mesh.p.min(axis=1)
    effect = line_effect(
        length=0.4, thickness=0.008, transverse_shrinkage=8e-5, angular_change=8e-3, source="same"
    )
    seat = SheetHeat(
        name="l", effect=effect, origin=low + np.array([0.4, 0.4, 0.004]), along=(1, 0, 0),
        normal=(0, 0, 1),
    )  # fmt: skip
    xy = np.array(definition.part.measured_at_mm) / 1e3
    wanted = plane_fitted(xy).of(sheet.influence([seat])[:, 0])
    assert heat.moves == pytest.approx(wanted, rel=1e-5, abs=1e-9)
    modes = np.column_stack((np.ones(15), xy))
    assert np.abs(modes.T @ heat.moves).max() < 1e-12
    assert heat.moves[6] < 0.0 < heat.moves[1]  # edges rise towards the torch


def test_a_panel_goes_through_a_cycle_on_the_command_line(tmp_path, panel):
    definition, _ = panel
    xy = np.array(definition.part.measured_at_mm)
    bow = 6.0 * (1 - ((xy[:, 1] - 600) / 600) ** 2) + 0.002 * xy[:, 0] + 40
    file, survey = tmp_path / "deck.job", tmp_path / "deck.csv"
    survey.write_text(
        "x_mm,y_mm,z_mm\n"
        + "".join(f"{x},{y},{z:.4f}\n" for (x, y), z in zip(xy, bow, strict=True))
    )

    def call(*words):
        done = CliRunner().invoke(cli.app, ["job", *map(str, words)])
        assert done.exit_code == 0, done.output
        return done.stdout

    call("start", file, "platform_panel")
    call("measure", file, survey)
    text = call("plan", file, "--quick")
    assert "best-fitting plane" in text
    heats = [line for line in call("sheet", file).splitlines() if line.startswith("  [ ]")]
    assert heats
    # it stands out upwards in the middle: the edges must rise towards the torch on top
    assert all(" top " in line for line in heats)


def test_what_is_missing_is_told():
    base = told("hopper_wall_bays").model_dump(exclude_none=True)
    for change, words in (
        ({"tolerance": {"plus_mm": 1, "minus_mm": 2}}, "same both ways"),
        ({"heats": [{"kind": "spot", "area_mm2": {"l": 5}}]}, "need area_mm2 and every_mm"),
        ({"heats": [{"kind": "s", "area_mm2": {"l": 5}, "every_mm": 5}]}, "make every_mm larger"),
        ({"part": {"kind": "bays", "thickness_mm": 4, "bays": {"A": [0, 0, 0, 9]}}}, "no width"),
    ):
        with pytest.raises(DefinitionError, match=words):
            problem_of(Definition.model_validate({**base, **change}))
    panel = told("platform_panel").model_dump(exclude_none=True)
    for change, words in (
        ({"stiffener_height_mm": None}, "needs stiffener_height_mm"),
        ({"measured_at_mm": [(0, 0), (1, 0), (0, 1), (2500, 0)]}, "lies off the panel"),
    ):
        with pytest.raises(DefinitionError, match=words):
            problem_of(Definition.model_validate({**panel, "part": {**panel["part"], **change}}))


def test_a_column_is_measured_from_its_foot(tmp_path):
    told_by = {"kind": "column", "length_mm": 20000, "heights_mm": [10000, 20000]}
    names = ("X at 10 m", "X at 20 m", "Y at 10 m", "Y at 20 m")
    file = tmp_path / "plumb.csv"
    rows = ["0,100,0", "5000,105,0", "10000,120,0", "20000,170,0"]
    file.write_text("height_mm,offset_x_mm,offset_y_mm\n" + "\n".join(rows))
    found, _, _ = measured_in(file, names, 1e-3, told_by)
    assert 1e3 * found == pytest.approx([20, 70, 0, 0])
    file.write_text("height_mm,offset_x_mm,offset_y_mm\n" + "\n".join(rows[1:]))
    with pytest.raises(OutOfRange, match="lowest reading is at 5000 mm"):
        measured_in(file, names, 1e-3, told_by)


FORMED = {
    "title": "Formed apron of a hopper", "material": "S355", "uncertainty_mm": 0.5,
    "tolerance": {"plus_mm": 2},
    "part": {
        "kind": "formed", "length_mm": 1200, "width_mm": 800, "thickness_mm": 10,
        "radius_x_mm": 6000, "radius_y_mm": 2500, "size_mm": 150,
        "measured_at_mm": [(x, y) for x in (0, 300, 600, 900, 1200) for y in (0, 400, 800)],
    },
    "heats": [{
        "kind": "line", "sizes_mrad": {"one pass": 6}, "shortening_mm": 0.01, "length_mm": 400,
        "along": "x", "sides": ["top", "bottom"],
        "at_xy_mm": [(300, 400), (900, 400), (300, 250), (900, 250), (300, 550), (900, 550)],
    }],
}  # fmt: skip


def test_a_formed_plate_is_measured_against_its_target_and_brought_in(tmp_path):
    """A plate that is flatter across than it should be: lines on top, along, close it."""
    problem = problem_of(Definition.model_validate(FORMED))
    job = Job.start(tmp_path / "apron.job", problem)
    points = np.array(FORMED["part"]["measured_at_mm"], float)
    target = formed_target((1200, 800), (6000, 2500))
    z = 1e3 * target(points[:, 0] / 1e3, points[:, 1] / 1e3)
    flatter = -6.0 * (np.abs(points[:, 1] - 400) / 400) ** 2
    tilted = z + flatter + 0.004 * points[:, 0] + 12.0
    file = tmp_path / "apron.csv"
    rows = zip(*points.T, tilted, strict=True)
    file.write_text("x_mm,y_mm,z_mm\n" + "".join(f"{x},{y},{h:.5f}\n" for x, y, h in rows))
    found, spread, _ = measured_in(file, problem.places.names, 5e-4, job.reading)
    job.measure(found, spread)
    seen = 1e3 * job.standing.belief.shape
    middle = np.flatnonzero(points[:, 1] == 400)
    edge = np.flatnonzero(points[:, 1] == 0)
    assert seen[middle].mean() - seen[edge].mean() == pytest.approx(6.0, abs=0.5)
    plan = job.plan(effort="quick")
    assert plan.heats
    assert {heat.side for heat in plan.heats} == {"top"}
    assert np.abs(plan.after.shape).max() < np.abs(job.standing.belief.shape).max()


@pytest.mark.parametrize(
    ("part", "heats", "told"),
    [
        ({"radius_y_mm": 500}, {}, "1.2 times the side"),
        ({}, {"sides": ["far"]}, "there are top, bottom"),
        ({}, {"at_xy_mm": []}, "need sizes_mrad"),
    ],
)
def test_a_formed_plate_that_can_not_be_is_refused(part, heats, told):
    made = {
        **FORMED,
        "part": {**FORMED["part"], **part},
        "heats": [{**FORMED["heats"][0], **heats}],
    }
    with pytest.raises((DefinitionError, ValueError), match=told):
        problem_of(Definition.model_validate(made))
