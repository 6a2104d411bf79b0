"""The drawing of the part: heats large enough to see, and no word on another or cut."""

import dataclasses
from itertools import combinations

import numpy as np
from numpy.testing import assert_allclose

from flamefe.reporting.focus import heated_part, heated_parts
from flamefe.reporting.part_picture import part_chart
from flamefe.reporting.pictures import shape_scene, surroundings_of
from flamefe.reporting.scene import dimension_lines, view_of
from flamefe.study.case import Clamp, OwnWeight, Plate, SpotHeat


def slender(make_result, *places, **changes):
    """A flat bar of 2 m with a spot at each of some places along it."""
    result = make_result(**changes)
    heats = tuple(SpotHeat(flame="torch", face="top", at_mm=[x, 100], time_s=5) for x in places)
    piece = Plate(length_mm=2000, width_mm=200, thickness_mm=12, material="S355")
    case = dataclasses.replace(result.case, workpiece=piece, heats=heats)
    return dataclasses.replace(result, case=case, mesh=result.mesh.scaled((5.0, 1.0, 1.0)))


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
    boxes, field = drawn(part_chart(slender(make_result, 1000)))
    assert {"x  2000 mm", "y  200 mm"} <= set(boxes)
    for box in boxes.values():
        assert field.x0 <= box.x0
        assert box.x1 <= field.x1
        assert field.y0 <= box.y0
        assert box.y1 <= field.y1


def test_labels_leave_dimensions_readable(make_result):
    result = slender(make_result, 1000)
    case = dataclasses.replace(
        result.case, supports=[Clamp(face="near"), Clamp(face="far")], loads=[OwnWeight()]
    )
    boxes, _ = drawn(part_chart(dataclasses.replace(result, case=case)))
    words = boxes["x  2000 mm"]
    long = np.linspace([words.x0, words.y0], [words.x1, words.y1], 60)  # its lower left to right
    for name in ("S1", "S2", "L1"):
        middle = np.array([boxes[name].x0 + boxes[name].x1, boxes[name].y0 + boxes[name].y1]) / 2
        assert np.linalg.norm(long - middle, axis=1).min() > 9.0 * 150 / 72


def test_a_dimension_is_the_size_that_was_given(result):
    scene = dataclasses.replace(shape_scene(result), size=(400.0, 199.6, 12.0))
    view = view_of(scene, width_to_height=1.6)
    assert dimension_lines(scene, view.right, view.up)[1][1] == "y  199.6 mm"
