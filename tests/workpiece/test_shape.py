"""Initial shapes: measured heights read, fitted smoothly, and their faults."""

from pathlib import Path

import numpy as np
import pytest
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.workpiece.shape import (
    ShapeError,
    SmoothSurface,
    bent,
    heights_from_text,
    on_panel,
    read_heights,
    sine_height,
)

SIZE = (0.4, 0.3)


def _grid(step: int = 9) -> np.ndarray:
    x, y = np.meshgrid(np.linspace(0, SIZE[0], step), np.linspace(0, SIZE[1], step))
    places = np.column_stack((x.ravel(), y.ravel()))
    return np.column_stack((places, sine_height(places, SIZE, height=4e-3, waves=(1, 1))))


def test_a_noisy_survey_is_smoothed_to_its_accuracy() -> None:
    """The surface lies nearer to the true shape than the readings do, and misses them as told."""
    exact = _grid(15)
    noise = np.random.default_rng(3).normal(scale=1e-4, size=len(exact))
    measured = exact + np.column_stack((np.zeros((len(exact), 2)), noise))
    surface = SmoothSurface(measured=measured, accuracy=1e-4)
    missed = surface.height(measured) - measured[:, 2]
    assert 0.6e-4 < np.sqrt(np.mean(missed**2)) < 1.001e-4, "about the noise, never more"
    inner = (np.abs(exact[:, 0] - 0.2) < 0.15) & (np.abs(exact[:, 1] - 0.15) < 0.1)
    error = (surface.height(exact) - exact[:, 2])[inner]
    assert np.sqrt(np.mean(error**2)) < 0.6 * np.sqrt(np.mean(noise[inner] ** 2))
    assert surface.largest_miss == pytest.approx(np.abs(missed).max())


def test_a_plane_is_kept_and_reach_is_told() -> None:
    """Whatever the accuracy, a tilted plane stays one; the plate may reach beyond the points."""
    points = _grid()
    points[:, 2] = 0.001 + 0.01 * points[:, 0] - 0.02 * points[:, 1]
    surface = SmoothSurface(measured=points, accuracy=1e-3)
    far = [[0.6, -0.2], [0.0, 0.4]]
    np.testing.assert_allclose(surface.height(far), [0.011, -0.007], atol=1e-7)
    assert surface.beyond(SIZE) == 0.0
    assert surface.beyond((0.45, 0.3)) == pytest.approx(0.05)


def test_what_is_no_survey_is_refused() -> None:
    points = _grid()
    with pytest.raises(OutOfRange, match="above 0"):
        SmoothSurface(measured=points, accuracy=0.0)
    with pytest.raises(ShapeError, match="on one line"):
        SmoothSurface(measured=points[:9], accuracy=1e-4)
    with pytest.raises(ShapeError, match="same x and y"):
        SmoothSurface(measured=np.vstack((points, points[:1])), accuracy=1e-4)
    with pytest.raises(ShapeError, match="5 measured points; allowed: 6 to 2000"):
        SmoothSurface(measured=points[:5], accuracy=1e-4)


def test_files_tell_all_their_faults(tmp_path: Path) -> None:
    rows = [f"{1e3 * x:.6g},{1e3 * y:.6g},{1e3 * z:.6g}" for x, y, z in _grid(4)]
    file = tmp_path / "panel.csv"
    file.write_text("\ufeffx_mm, y_mm,z_mm\n" + "\n".join(rows) + "\n", encoding="utf-8")
    np.testing.assert_allclose(read_heights(file), _grid(4), rtol=1e-5, atol=1e-9)
    with pytest.raises(ShapeError, match="no column z_mm"):
        heights_from_text("x_mm,y_mm\n1,2\n")
    with pytest.raises(ShapeError) as caught:
        heights_from_text("x_mm,y_mm,z_mm\n1,2,three\n4,,6\n", "panel.csv")
    words = str(caught.value)
    assert "line 2: z_mm is 'three'" in words
    assert "line 3: y_mm is ''" in words
    assert "2 points; allowed: 6 to 2000" in words
    with pytest.raises(ShapeError, match="can't be read"):
        read_heights(tmp_path / "none.csv")


def test_heights_of_another_panel_are_refused(tmp_path: Path) -> None:
    """A wrong unit, swapped columns, or points beside the panel."""
    points = _grid()
    assert on_panel(points, SIZE) is points
    tilted = points + np.column_stack((np.zeros((len(points), 2)), 0.5 * points[:, 0]))
    assert on_panel(tilted, SIZE) is tilted, "a tilt is no depth"
    with pytest.raises(ShapeError, match="departs from a plane by"):
        on_panel(points * [1, 1, 10], SIZE)
    with pytest.raises(ShapeError, match="beside the panel"):
        on_panel(points[:, [1, 0, 2]] * [1.0, 1.2, 1.0], SIZE, "panel.csv")
    with pytest.raises(ShapeError, match="and 78 more"):
        on_panel(points + np.array([0.2, 0.4, 0.0]), SIZE)


def test_bent_meshes_keep_their_faces() -> None:
    flat = MeshHex().refined(1).with_defaults()
    raised = bent(flat, 0.1 * flat.p[0])
    assert set(raised.boundaries) == set(flat.boundaries)
    np.testing.assert_allclose(raised.p[2], flat.p[2] + 0.1 * flat.p[0])


@pytest.mark.parametrize("step", [9, 15, 30])
def test_an_exact_survey_keeps_its_crown(step: int) -> None:
    """Whatever the accuracy that is allowed: the heights themselves tell that they are smooth."""
    exact = _grid(step)
    surface = SmoothSurface(measured=exact, accuracy=1e-4)
    crown = surface.height([[SIZE[0] / 2, SIZE[1] / 2]])[0]
    assert crown == pytest.approx(4e-3, rel=0.01)


def test_a_survey_of_a_corner_is_refused() -> None:
    with pytest.raises(ShapeError, match="covers 25 % of the panel's length"):
        on_panel(_grid() * [0.25, 1.0, 1.0], SIZE)
