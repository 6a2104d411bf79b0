"""Charts: their axis of time, the places they follow, what they say, and what can't break them."""

import dataclasses
import re
from itertools import pairwise

import numpy as np
import pytest
from matplotlib.image import imread
from numpy.testing import assert_allclose
from PIL import Image

from flamefe.basics.errors import OutOfRange
from flamefe.heating.history import Span
from flamefe.reporting.animation import heat_animation
from flamefe.reporting.charts import TimeScale, as_bytes, scale_of
from flamefe.reporting.forces_picture import forces_chart, forces_picture
from flamefe.reporting.held import device_words
from flamefe.reporting.history_picture import followed_places, history_chart, history_picture
from flamefe.reporting.marks import marks_of
from flamefe.reporting.part_picture import part_chart, part_picture
from flamefe.reporting.rules_picture import rules_chart, rules_picture
from flamefe.reporting.signed_forces import signed_force
from flamefe.reporting.torch_picture import torch_chart, torch_picture
from flamefe.study.case import (
    Ballast,
    Clamp,
    Force,
    Jack,
    LineHeat,
    OwnWeight,
    Points,
    PressedSpot,
    Pressure,
    Push,
    Rest,
    Spring,
    Strongback,
    Template,
    Traction,
    VacuumPlate,
)
from flamefe.study.device_outcomes import DeviceOutcome

ALWAYS = [part_picture, history_picture, rules_picture]


@pytest.mark.parametrize("suffix", ["png", "svg"])
@pytest.mark.parametrize("picture", ALWAYS)
def test_charts_are_drawn_as_png_and_svg(picture, suffix, result, tmp_path):
    file = picture(result, tmp_path / f"chart.{suffix}")
    if suffix == "svg":
        assert file.read_text("utf-8").count("<text") > 4  # text stays text
        return
    drawn = imread(file)
    assert drawn.shape[1] == 1140
    assert (drawn[..., :3].min(axis=2) < 0.9).mean() > 0.01


def test_what_does_not_apply_is_not_drawn(make_result, tmp_path):
    result = make_result(rules=())
    still = dataclasses.replace(
        result.heat, times=result.heat.times[:1], temperatures=result.heat.temperatures[:1]
    )
    assert history_picture(make_result(heat=still), tmp_path / "none.png") is None
    for picture in (rules_picture, forces_picture, torch_picture):
        assert picture(result, tmp_path / "none.png") is None
    assert list(tmp_path.iterdir()) == []


def test_real_run_has_all_charts(real, tmp_path):
    for picture in (*ALWAYS[:2], forces_picture, torch_picture):
        assert picture(real, tmp_path / "chart.png").stat().st_size > 10_000
    assert rules_chart(real) is None


def test_axis_of_time_rises_and_gives_burns_their_share():
    spans = [
        Span(name="a", start=0.0, end=10.0, burning=True),
        Span(name="b", start=10.0, end=500.0, burning=False),
        Span(name="c", start=500.0, end=530.0, burning=True),
        Span(name="d", start=530.0, end=9000.0, burning=False),
    ]
    scale = TimeScale.of(spans, 9000.0)
    assert (np.diff(scale.knots) > 0).all()
    assert (np.diff(scale.places) > 0).all()
    assert_allclose(scale.at([0.0, 9000.0]), [0.0, 1.0], atol=1e-12)
    burnt = np.diff(scale.at([0.0, 10.0, 500.0, 530.0]))
    assert_allclose(burnt[[0, 2]], [0.15, 0.45])
    assert_allclose(scale.time(scale.at([3.0, 77.0, 512.0])), [3.0, 77.0, 512.0], rtol=1e-3)
    ticks = scale.ticks()
    assert {0.0, 10.0, 500.0, 530.0, 9000.0} <= set(ticks)
    assert (np.diff(scale.at(ticks)) > 0.06).all()
    cold = TimeScale.of([], 50.0)
    assert cold.burns == ()
    assert_allclose(cold.at([25.0]), [0.5])


def test_times_are_told_in_whole_seconds_and_none_is_cut(make_result):
    result = make_result()
    spans = (
        Span(name="a", start=0.0, end=83.79, burning=True),
        Span(name="b", start=83.79, end=4000.3, burning=False),
    )
    times = np.append(result.heat.times[:-1], 4000.3)
    heat = dataclasses.replace(result.heat, spans=spans, times=times)
    chart = history_chart(dataclasses.replace(result, heat=heat))
    chart.figure.canvas.draw()
    labels = [one for one in chart.figure.axes[0].get_xticklabels() if one.get_text()]
    told = [one.get_text() for one in labels]
    assert {"0", "84", "4000"} <= set(told)
    assert all("." not in one for one in told)
    boxes = [one.get_window_extent() for one in labels]
    assert boxes[-1].x1 <= chart.figure.bbox.x1 - 5
    assert all(a.x1 < b.x0 for a, b in pairwise(boxes))


def test_places_of_a_buckled_sheet_are_those_of_the_flat_one(make_result):
    flat = make_result()
    initial = np.zeros((flat.mesh.p.shape[1], 3))
    initial[:, 2] = 2e-4
    mesh = type(flat.mesh)(flat.mesh.p + initial.T, flat.mesh.t, _boundaries=flat.mesh.boundaries)
    buckled = dataclasses.replace(flat, mesh=mesh, initial_shape=initial)
    assert followed_places(buckled)[0].at_mm == followed_places(flat)[0].at_mm


def test_places_are_the_hottest_its_back_and_one_beside(real):
    places = followed_places(real)
    assert [(place.heat, place.kind) for place in places] == [
        (1, 0),
        (1, 1),
        (2, 0),
        (2, 1),
        (2, 2),
    ]
    spot, back, away = places[2:]
    check = real.cycles[0].heat_check
    assert spot.at_mm == pytest.approx(check.peak_at_mm)
    assert spot.at_mm[2] == 0.0  # heated from below
    assert back.at_mm == pytest.approx((*spot.at_mm[:2], 6.0))
    assert away.at_mm[2] == 0.0
    distance = np.hypot(away.at_mm[0] - 60, away.at_mm[1] - 40)
    assert distance == pytest.approx(36.0, rel=0.35)
    assert f"{distance:.0f} mm beside heat 2" in away.what
    words = history_chart(real).words
    assert (
        f"heat 2: hottest place at most {check.peak_C:.0f} C at {check.peak_time_s:.4g} s" in words
    )


def test_force_before_a_release_is_drawn(real):
    chart = forces_chart(real)
    jack = chart.figure.axes[0].get_lines()
    drawn = next(line for line in jack if "jack" in str(line.get_label()))
    x, y = drawn.get_data()
    assert y[-1] == 0.0
    assert y[-2] == pytest.approx(0.2)
    assert x[-1] == x[-2] == 1.0
    assert "OVERLOADED" in chart.words
    assert scale_of(real.heat).burns[0][0] == 0.0


def held_by(make_result, forces, kind="clamp"):
    """A result with a clamp on the face "start" (x = 0) that acted on the part by some forces."""
    result = make_result()
    case = dataclasses.replace(result.case, supports=[Clamp(face="start")])
    sizes = tuple(float(np.linalg.norm(force)) for force in forces)
    one = DeviceOutcome(
        name=f"support 1 ({kind})", kind=kind, times_s=tuple(np.linspace(0.0, 4000.0, len(forces))),
        force_kN=sizes, largest_kN=max(sizes), largest_at_s=0.0, hottest_then_C=500.0,
        pulls_kN=0.0, final_kN=sizes[-1], against_capacity_kN=max(sizes),
        force_on_part_kN=tuple(forces), moment_on_part_kNm=((0.0, 0.0, 0.0),) * len(forces),
    )  # fmt: skip
    return dataclasses.replace(result, case=case, devices=(one,))


def test_holding_forces_tell_push_from_pull(make_result):
    """A clamp that pushes along +x at x = 0 pushes the part, and then pulls it."""
    result = held_by(make_result, [(8.0, 0.1, 0.0), (0.5, 0.0, 0.0), (-6.0, 0.0, 0.1)])
    chart = forces_chart(result)
    axes = chart.figure.axes[0]
    line = next(one for one in axes.get_lines() if "clamp" in str(one.get_label()))
    assert_allclose(line.get_ydata(), [8.0, 0.5, -6.0], atol=0.05)  # straight through zero
    assert "+ pushes the part, - pulls it" in axes.get_title(loc="left")
    assert "from -6 to 8 kN" in chart.words
    other = dataclasses.replace(result, case=dataclasses.replace(
        result.case, supports=[Clamp(face="end")]
    ))  # fmt: skip
    assert_allclose(signed_force(other, other.devices[0]).values, [-8.0, -0.5, 6.0], atol=0.05)


def test_a_force_that_turns_is_told_as_a_size(make_result):
    result = held_by(make_result, [(8.0, 0.0, 0.0), (0.0, 5.0, 0.0), (-6.0, 0.0, 0.0)])
    signed = signed_force(result, result.devices[0])
    assert signed.manner == "size"
    assert_allclose(signed.values, [8.0, 5.0, 6.0])
    aside = held_by(make_result, [(0.0, 0.0, -3.0), (0.0, 0.0, 2.0)])
    signed = signed_force(aside, aside.devices[0])
    assert signed.manner == "+ mostly along +z"
    assert_allclose(signed.values, [-3.0, 2.0])
    assert "clamp) (+ mostly along +z)" in str(
        [line.get_label() for line in forces_chart(aside).figure.axes[0].get_lines()]
    )


def test_moments_in_units_that_can_be_read(make_result):
    result = held_by(make_result, [(8.0, 0.0, 0.0), (8.0, 0.0, 0.0)])

    def said(moment):
        one = dataclasses.replace(result.devices[0], moment_on_part_kNm=((0.0, moment, 0.0),))
        return device_words(one)

    assert " m" not in said(6.85e-4).split(" kN", 1)[1]
    assert "8 kN and 68.5 N m" in said(0.0685)
    assert "8 kN and 1.5 kN m" in said(1.5)


def test_driven_torch_shows_its_target_and_speed(real):
    chart = torch_chart(real)
    above, below = chart.figure.axes
    log = real.heat.logs[0]
    assert_allclose(above.get_lines()[0].get_ydata(), log.readings)
    assert_allclose(above.get_lines()[1].get_ydata(), [500.0, 500.0])
    assert_allclose(below.patches[0].get_data().values, 1e3 * np.array(log.speeds))


def test_rules_carry_their_band_and_a_flag(result):
    chart = rules_chart(result)
    svg = as_bytes(chart, "svg").decode()
    assert "OUT OF RANGE" in svg
    assert "angular change, deg" in svg
    bands = chart.figure.axes[1].patches
    assert any(bar.get_x() == 1.0 and bar.get_x() + bar.get_width() == 2.0 for bar in bands)
    simulated = bands[0]
    assert simulated.get_width() == pytest.approx(1.12)


def test_marks_stand_where_things_hold(make_result):
    result = make_result()
    supports = [
        Clamp(face="start"), Points(at_mm=[[0, 0, 0], [0, 200, 0]], directions=["z"]),
        Push(face="end", direction="z", displacement_mm=[[10, -2]]),
        Rest(at_mm=[[100, 50, 0]]), Rest(face="bottom"),
        Spring(at_mm=[[100, 50, 0]], direction="y", stiffness_kN_mm=5),
        Jack(at_mm=[200, 0, 6], against_mm=[200, 200, 6]), VacuumPlate(face="top", suction_kPa=50),
        Template(face="bottom", holes_mm=[[200, 100, 40]]),
        Strongback(at_mm=[[50, 50, 0], [200, 50, 0], [350, 50, 0]], direction="z",
                   stiffness_kN_mm=20),
        PressedSpot(face="top", at_mm=[200, 100], radius_mm=30),
    ]  # fmt: skip
    loads = [
        OwnWeight(), Force(at_mm=[400, 100, 12], force_N=[0, 0, -500]),
        Pressure(face="top", pressure_kPa=-80), Traction(face="end", traction_kPa=[20, 0, 0]),
        Ballast(mass_kg=10, at_mm=[200, 100, 12]), Ballast(mass_kg=10, face="top"),
    ]  # fmt: skip
    case = dataclasses.replace(result.case)
    for name, value in (("supports", tuple(supports)), ("loads", tuple(loads))):
        object.__setattr__(case, name, value)  # more than one case would hold together
    marks = {mark.label: mark for mark in marks_of(dataclasses.replace(result, case=case))}
    assert len(marks) == 17
    ways = {label: mark.way.tolist() for label, mark in marks.items() if mark.way is not None}
    assert ways["S4"] == ways["S5"] == [0, 0, 1]
    assert ways["S6"] == [0, 1, 0]
    assert ways["S7"] == [0, -1, 0]
    assert ways["S8"] == ways["S11"] == ways["L2"] == ways["L5"] == [0, 0, -1]
    assert ways["L3"] == [0, 0, 1]  # suction pulls outwards
    assert ways["L4"] == [1, 0, 0]
    assert marks["S3"].away
    assert_allclose(marks["S3"].places, [[400, 100, 6]])
    assert len(marks["S1"].faces) == 20
    assert marks["S10"].joined
    assert_allclose(np.linalg.norm(marks["S11"].ring - marks["S11"].places, axis=1), 30.0)
    part_chart(dataclasses.replace(result, case=case))


def test_hostile_names_are_text_in_charts(make_result):
    name = "$\\frac{1$ _^{ 漢字 עברית"
    heats = [LineHeat(flame="torch", face="top", path_mm=[[50, 100], [350, 100]], speed_mm_s=6,
                      name="two words")]  # fmt: skip
    result = make_result(heats=heats, title=name)
    rules = (dataclasses.replace(result.rules[0], rule="<b>&$x^", quantity="<script>"),)
    svg = as_bytes(rules_chart(dataclasses.replace(result, rules=rules)), "svg").decode()
    assert "<script" not in svg
    assert "&lt;script&gt;, mm" in svg
    assert not re.search(r"<b>", svg)
    as_bytes(part_chart(result), "svg")


def test_animation_goes_through_the_heat(real, tmp_path):
    file = heat_animation(real, tmp_path / "heat.gif", frames=4, three_d=False)
    with Image.open(file) as moving:
        assert moving.n_frames == 4
        assert moving.size == (900, 579)
        assert moving.info["loop"] == 0
        pictures = []
        for number in range(4):
            moving.seek(number)
            pictures.append(np.asarray(moving.convert("RGB"), dtype=float))
    steps = [np.abs(a - b).max(axis=2) > 40 for a, b in pairwise(pictures)]
    assert all(step.mean() > 0.005 for step in steps)
    with pytest.raises(OutOfRange, match="2 to 400"):
        heat_animation(real, file, frames=1)
    assert [one.name for one in tmp_path.iterdir()] == ["heat.gif"]
