"""Pictures: what they say, that they are drawn both ways, and that nothing can break them."""

import base64
import dataclasses
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.image import imread
from numpy.testing import assert_allclose

from flamefe.reporting.drawing import PART
from flamefe.reporting.history_picture import history_picture
from flamefe.reporting.picture_kind import NoSuchPicture
from flamefe.reporting.pictures import (
    hottest_picture,
    hottest_scene,
    peak_scene,
    peak_temperature_picture,
    plastic_strain_picture,
    plastic_strain_scene,
    shape_picture,
    shape_scene,
)
from flamefe.reporting.probe import why_no_3d
from flamefe.reporting.scene import dimension_lines, round_factor, view_of
from flamefe.study.case import LineHeat, SpotHeat

ALL = [hottest_picture, peak_temperature_picture, plastic_strain_picture, shape_picture]
HOSTILE = "<b>$\\frac{1$ _^{ \\alpha %s [red] 漢字 " + "W" * 150


def ways():
    return [False] if why_no_3d() else [False, True]


def part_of(picture):
    height, width = picture.shape[:2]
    left, bottom, across, up = PART
    rows = slice(int(height * (1 - bottom - up)), int(height * (1 - bottom)))
    return picture[rows, int(width * left) : int(width * (left + across)), :3]


@pytest.mark.parametrize("picture", ALL)
def test_both_ways_draw_the_same_part_in_colours(picture, result, tmp_path):
    inks = []
    for three_d in ways():
        file = picture(result, tmp_path / f"{three_d}.png", three_d=three_d)
        drawn = imread(file)
        assert drawn.shape[:2] == (900, 1400)
        part = part_of(drawn)
        coloured = part.max(axis=2) - part.min(axis=2) > 0.1
        assert coloured.mean() > 0.01
        inks.append(part.min(axis=2) < 0.95)
    if len(inks) == 2:
        assert (inks[0] != inks[1]).mean() < 0.02


def test_titles_say_what_and_how_much(make_result):
    result = make_result(hot=900.0, cycles=2)
    hot = hottest_scene(result)
    assert "Peak 920 °C" in hot.notes[1]
    assert "ABOVE the limit of 650 °C" in hot.notes[1]
    assert hot.level == 650
    assert hot.colour_label == "temperature (°C)"
    moment = result.heat.temperatures[result.heat.temperatures.max(axis=1).argmax()]
    assert hot.span == (moment.min(), moment.max())
    assert "hottest moment" in hot.title
    everywhere = peak_scene(result)
    assert everywhere.span == (result.heat.peak.min(), result.heat.peak.max())
    assert "each place" in everywhere.title
    assert "below" in hottest_scene(make_result()).notes[1]
    strain = plastic_strain_scene(result)
    assert strain.title.endswith("after cycle 2")
    assert plastic_strain_scene(result, 1).values.max() == pytest.approx(strain.values.max() / 2)
    assert strain.values.max() <= 100 * result.strain.ends[1].equivalent_plastic_strain.max()
    with pytest.raises(IndexError, match="cycle 1, 2"):
        plastic_strain_scene(result, 3)


def test_distortion_is_drawn_as_a_twelfth_of_the_length_by_a_round_factor(result):
    scene = shape_scene(result)
    factor = float(scene.title.split("drawn ")[1].split(" ")[0])
    drawn = np.linalg.norm(scene.points - scene.before, axis=1).max()
    assert 0.08 * 400 / 1.6 < drawn < 0.08 * 400 * 1.6
    assert drawn == pytest.approx(factor * scene.values.max())
    assert factor == round_factor(factor)
    assert "Largest distortion" in scene.notes[1]


def test_rigid_motion_does_not_show(make_result):
    result = make_result()
    end = result.strain.ends[0]
    quarter = np.array([[0.0, -1, 0], [1, 0, 0], [0, 0, 1]])
    turned = (result.mesh.p.T + end.displacement) @ quarter.T + 0.3 - result.mesh.p.T
    moved = dataclasses.replace(
        result.strain, ends=(dataclasses.replace(end, displacement=turned),)
    )
    assert_allclose(
        shape_scene(make_result(strain=moved)).values, shape_scene(result).values, atol=1e-9
    )


def test_a_part_that_did_not_move_is_drawn(make_result, tmp_path):
    result = make_result()
    end = dataclasses.replace(
        result.strain.ends[0], displacement=0.0 * result.strain.ends[0].displacement,
        equivalent_plastic_strain=0.0 * result.strain.ends[0].equivalent_plastic_strain,
    )  # fmt: skip
    still = make_result(strain=dataclasses.replace(result.strain, ends=(end,)))
    for picture in (shape_picture, plastic_strain_picture):
        picture(still, tmp_path / "still.png", three_d=False)
    scene = shape_scene(still)
    assert "drawn 1 times" in scene.title
    assert np.isfinite(scene.points).all()


def test_torch_paths_lie_on_their_faces_in_order(make_result):
    heats = [
        SpotHeat(flame="torch", face="bottom", at_mm=[80, 50], time_s=5),
        LineHeat(flame="torch", face="far", path_mm=[[50, 6], [350, 6]], speed_mm_s=6),
        SpotHeat(flame="torch", face="bottom", at_mm=[90, 60], time_s=5),
    ]
    scene = hottest_scene(make_result(heats=heats))
    assert scene.face == "bottom"
    assert [trail.number for trail in scene.trails] == [1, 2, 3]
    assert_allclose(scene.trails[0].points, [[80, 50, 0]])
    assert_allclose(scene.trails[1].points, [[50, 200, 6], [350, 200, 6]])


def test_torch_path_goes_along_with_the_shape(result):
    scene = shape_scene(result)
    trail = scene.trails[0].points
    top = scene.before[:, 2] > 11.9
    for place in (trail[0], trail[-1]):
        distance = np.linalg.norm(scene.points[top] - place, axis=1).min()
        assert distance < 20  # of an element's size, where the shape stands off by up to 30 mm


def test_view_holds_all_and_dimensions_keep_clear(result):
    scene = shape_scene(result)
    view = view_of(scene, width_to_height=1.6)
    flat = view.flat(np.concatenate((scene.points, scene.before)))
    assert (flat > view.low).all()
    assert (flat < view.high).all()
    lines = dimension_lines(scene, view.right, view.up)
    assert [text for _, text in lines] == ["x  400 mm", "y  200 mm"]
    part = view.flat(scene.before)
    for ends, _ in lines:
        a, b = view.flat(ends)
        along = b - a
        aside = (part - a) @ np.array([-along[1], along[0]])
        assert (aside > 0).all() or (aside < 0).all()


@pytest.mark.parametrize("picture", ALL)
def test_hostile_titles_break_nothing(picture, make_result, tmp_path):
    for three_d in ways():
        file = picture(make_result(title=HOSTILE), tmp_path / "x.png", three_d=three_d)
        assert imread(file).shape[:2] == (900, 1400)


def test_probe_outlives_a_trial_that_dies():
    assert why_no_3d("import os; os.kill(os.getpid(), 11)") == "the trial was killed by signal 11"
    assert why_no_3d("raise OSError('no screen')") == "the trial failed: OSError: no screen"
    assert why_no_3d("pass") is None


@pytest.mark.parametrize("picture", ALL)
def test_an_svg_holds_the_same_dots(picture, result, tmp_path):
    dots = picture(result, tmp_path / "a.png", three_d=False).read_bytes()
    root = ElementTree.fromstring(picture(result, tmp_path / "a.svg", three_d=False).read_text())
    space = "{http://www.w3.org/2000/svg}"
    assert root.tag == f"{space}svg"
    assert (root.get("width"), root.get("height")) == ("1400", "900")
    assert len(root.findtext(f"{space}title")) > 10
    kind, _, data = root.find(f"{space}image").get("href").partition(",")
    assert kind == "data:image/png;base64"
    assert base64.b64decode(data) == dots


@pytest.mark.parametrize("picture", [*ALL, history_picture])
def test_a_file_of_another_kind_is_refused(picture, result, tmp_path):
    with pytest.raises(NoSuchPicture, match=r"'a\.jpg'; give a file that ends in \.png or \.svg"):
        picture(result, tmp_path / "a.jpg")
    assert not any(tmp_path.iterdir())
