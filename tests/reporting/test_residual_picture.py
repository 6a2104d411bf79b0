"""The picture of residual stress: signs, sizes, and both ways of drawing."""

import numpy as np
import pytest
from matplotlib.image import imread

from flamefe.basics.errors import OutOfRange
from flamefe.reporting.residual_picture import residual_stress_picture, residual_stress_scene


def test_tension_and_pressure_have_the_ends_of_a_map_that_is_even_about_nothing(make_result):
    result = make_result(cycles=2)
    scene = residual_stress_scene(result)
    stress = 1e-6 * result.strain.ends[1].stress[..., 0]
    assert scene.span[0] == -scene.span[1]
    assert 0.0 < scene.values.max() <= stress.max() * (1 + 1e-12)
    assert scene.values.max() > 0.5 * stress.max()
    assert "along x after cycle 2" in scene.title
    first = residual_stress_scene(result, cycle=1)
    assert first.values == pytest.approx(scene.values / 2)
    across = residual_stress_scene(result, stress="along y")
    assert np.abs(across.values).max() == 0.0


def test_equivalent_stress_of_one_pull_is_the_pull(make_result):
    result = make_result()
    scene = residual_stress_scene(result, stress="von Mises")
    assert scene.values == pytest.approx(residual_stress_scene(result).values)
    assert scene.span[0] == 0.0


def test_what_is_not_there_is_refused(make_result):
    result = make_result()
    with pytest.raises(IndexError, match="no cycle 3; there are 1"):
        residual_stress_scene(result, cycle=3)
    with pytest.raises(OutOfRange, match="along x, along y, along z, von Mises"):
        residual_stress_scene(result, stress="hoop")


def test_it_is_drawn(make_result, tmp_path):
    file = residual_stress_picture(make_result(), tmp_path / "stress.png", three_d=False)
    assert imread(file).shape[:2] == (900, 1400)
