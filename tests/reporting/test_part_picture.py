"""The drawing of the part: heats large enough to see, and no word on another or cut."""

import dataclasses
from itertools import combinations

import numpy as np
from numpy.testing import assert_allclose

from flamefe.reporting.focus import heated_part, heated_parts
from flamefe.reporting.part_picture import part_chart, part_picture
from flamefe.reporting.pictures import shape_scene, surroundings_of
from flamefe.reporting.scene import dimension_lines, view_of
from flamefe.study import run as heating
from flamefe.study.case import Clamp, Plate, SpotHeat
from flamefe.study.casefile import load_case
from flamefe.study.examples import example_path


def slender(make_result, *places, long=2.0):
    """A flat bar, by default of 2 m, with a spot at each of some places along it."""
    result = make_result()
    heats = tuple(SpotHeat(flame="torch", face="top", at_mm=[x, 100], time_s=5) for x in places)
    piece = Plate(length_mm=1e3 * long, width_mm=200, thickness_mm=12, material="S355")
    case = dataclasses.replace(result.case, workpiece=piece, heats=heats)
    return dataclasses.replace(result, case=case, mesh=result.mesh.scaled((long / 0.4, 1.0, 1.0)))


def drawn(chart):
    """Texts of the first field of a chart and their boxes, in dots; and the field's own box."""
    canvas = chart.figure.canvas
    canvas.draw()
    axes = chart.figure.axes[0]
    texts = [one for one in axes.texts if one.get_text()]
    return {one.get_text(): one.get_window_extent() for one in texts}, axes.get_window_extent()


def test_heats_far_apart_on_a_long_part_are_shown_one_by_one(make_result):
    result = slender(make_result, 400, 430, 1600)
    _, trails, _ = surroundings_of(result)
    first, second = heated_parts(result, trails)
    assert_allclose([first[0][0], first[1][0]], [328, 502])  # four radii of 18 mm beside
    assert_allclose([second[0][0], second[1][0]], [1528, 1672])
    assert heated_part(result, trails, (1500.0, 100, 12))[0][0] == second[0][0]
    titles = [axes.get_title(loc="left") for axes in part_chart(result).figure.axes]
    assert "Where it is heated: heats 1, 2" in titles
    assert "Where it is heated: heat 3" in titles
    everywhere = slender(make_result, *range(100, 2000, 100))
    assert heated_parts(everywhere, surroundings_of(everywhere)[1]) == ()


def test_numbers_of_heats_don_t_cover_each_other(make_result):
    boxes, _ = drawn(part_chart(slender(make_result, 1000, 1012, 1024)))
    assert {"1", "2", "3"} <= set(boxes)
    middles = {name: np.array([(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2]) for name, b in boxes.items()}
    for one, other in combinations("123", 2):
        assert np.linalg.norm(middles[one] - middles[other]) > 2 * 9.0 * 150 / 72  # two radii


def test_words_of_dimensions_are_whole(make_result):
    boxes, field = drawn(part_chart(slender(make_result, 1000, long=8.0)))
    assert {"x  8000 mm", "y  200 mm"} <= set(boxes)
    for box in boxes.values():
        assert field.x0 <= box.x0
        assert box.x1 <= field.x1
        assert field.y0 <= box.y0
        assert box.y1 <= field.y1


def test_labels_leave_dimensions_readable(make_result):
    result = make_result()
    piece = Plate(length_mm=300, width_mm=300, thickness_mm=2.4, material="S355")
    supports = [Clamp(face=face) for face in ("near", "far", "start", "end")]
    spot = SpotHeat(flame="torch", face="top", at_mm=[150, 150], time_s=5)
    case = dataclasses.replace(result.case, workpiece=piece, heats=[spot], supports=supports)
    mesh = result.mesh.scaled((0.75, 1.5, 0.2))
    chart = part_chart(dataclasses.replace(result, case=case, mesh=mesh))
    boxes, _ = drawn(chart)
    texts = {one.get_text(): one for one in chart.figure.axes[0].texts}
    words = texts["x  300 mm"]
    turn = np.radians(words.get_rotation())
    words.set_rotation(0.0)
    half = words.get_window_extent().width / 2 * np.array([np.cos(turn), np.sin(turn)])
    middle = chart.figure.axes[0].transData.transform(words.get_position())
    row = np.linspace(middle - half, middle + half, 60)
    for name in ("S1", "S2", "S3", "S4"):
        box = boxes[name]
        at = np.array([box.x0 + box.x1, box.y0 + box.y1]) / 2
        assert np.linalg.norm(row - at, axis=1).min() > 10.0 * 150 / 72


def test_a_dimension_is_the_size_that_was_given(result):
    scene = dataclasses.replace(shape_scene(result), size=(400.0, 199.6, 12.0))
    view = view_of(scene, width_to_height=1.6)
    assert dimension_lines(scene, view.right, view.up)[1][1] == "y  199.6 mm"


def test_a_case_is_drawn_before_it_is_run(real, monkeypatch, tmp_path):
    """The same drawing as of its run, without solving anything."""
    boxes, _ = drawn(part_chart(real))
    monkeypatch.setattr(heating, "heat_along", None)
    before, _ = drawn(part_chart(real.case))
    assert set(before) == set(boxes)
    assert part_chart(real.case).words == part_chart(real).words
    text = part_picture(real.case, tmp_path / "part.svg").read_text("utf-8")
    assert "The part before the job" in text


def test_ready_cases_are_drawn_with_their_holding():
    for name, labels in (("deck_panel_bands", {"S1", "S2"}), ("frame_channel_wedges", {"L1"})):
        case = load_case(example_path(name))
        assert labels <= set(drawn(part_chart(case))[0]), name
