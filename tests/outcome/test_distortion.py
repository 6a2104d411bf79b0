"""Distortion measures of shapes whose distortion is known exactly."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.distortion import measure_distortion
from flamefe.outcome.measure import Measure, find_measure

Array = NDArray[np.float64]

LENGTH, WIDTH, THICKNESS = 0.4, 0.2, 0.012
DEPTH = 0.1
KINDS = ("plate", "bar", "mesh file")
TURNS = ((0.0, 0.0, 4.0), (5.0, -8.0, 20.0), (-3.0, 170.0, 60.0))


def graded_box(width: float = WIDTH, count: int = 25) -> Array:
    """Nodes of a graded grid, (n, 3) m, with none at mid-thickness and some at mid-width."""
    spread = np.linspace(-1, 1, count)
    x = 0.5 * LENGTH * (1 + np.sign(spread) * np.abs(spread) ** 1.5)
    y = 0.5 * width * (1 + np.sign(spread) * np.abs(spread) ** 1.3)
    z = THICKNESS * np.array([0.0, 0.3, 0.7, 1.0])
    return np.array(np.meshgrid(x, y, z, indexing="ij")).reshape(3, -1).T


def jittered_box(width: float = WIDTH) -> Array:
    """Fewer such nodes, those inside moved at random, so that they form no grid."""
    points = graded_box(width, count=11)
    size = np.array([LENGTH, width, THICKNESS])
    inside = (points > 1e-9) & (points < size - 1e-9)
    moves = np.random.default_rng(7).uniform(-1, 1, points.shape) * size * [0.005, 0.005, 0.05]
    return points + inside * moves


def rigidly_moved(points: Array, displacements: Array, degrees: tuple[float, ...]) -> Array:
    """Displacements with a large turn about the origin and a shift added."""
    turn = Rotation.from_euler("xyz", degrees, degrees=True)
    shift = np.array([0.3, -1.2, 0.7])
    return np.asarray(turn.apply(points + displacements) + shift - points)


def folded(points: Array, half_angle: float) -> Array:
    """Both wings of a plate turned up rigidly about the line at mid-width, mid-thickness."""
    y, z = points[:, 1] - WIDTH / 2, points[:, 2] - THICKNESS / 2
    side = np.sign(y)
    turn = half_angle * side
    new_y = y * np.cos(turn) - z * np.sin(turn)
    new_z = y * np.sin(turn) + z * np.cos(turn)
    return np.column_stack((0 * y, new_y - y, new_z - z))


def kinked(points: Array, angle: float) -> Array:
    """The half of a bar beyond mid-length turned rigidly about z, towards +y."""
    x, y = points[:, 0] - LENGTH / 2, points[:, 1] - DEPTH / 2
    turn = np.where(x > 0, angle, 0.0)
    new_x, new_y = x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)
    return np.column_stack((new_x - x, new_y - y, 0 * x))


def rough(points: Array) -> Array:
    """A distortion with a bit of everything, up to some millimetres."""
    x, y, z = (points / [LENGTH, WIDTH, THICKNESS]).T
    return 1e-3 * np.column_stack(
        (
            -0.5 * x * (1 + y**2) + 0.05 * z,
            0.3 * np.sin(3 * x) - 0.2 * y * x,
            2 * x * (1 - x) + np.abs(y - 0.5) * (1 + x) + 0.7 * x * y,
        )
    )


def values(measures: tuple[Measure, ...]) -> Array:
    return np.array([measure.value for measure in measures])


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("degrees", TURNS)
@pytest.mark.parametrize("box", [graded_box, jittered_box])
def test_rigid_motion_alone_measures_nothing(kind, degrees, box):
    points = box()
    found = measure_distortion(points, rigidly_moved(points, 0 * points, degrees), kind=kind)
    assert np.abs(values(found)).max() < 1e-9


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("degrees", TURNS)
@pytest.mark.parametrize("box", [graded_box, jittered_box])
def test_rigid_motion_added_changes_nothing(kind, degrees, box):
    points = box()
    distortion = rough(points)
    still = measure_distortion(points, distortion, kind=kind)
    turned = measure_distortion(points, rigidly_moved(points, distortion, degrees), kind=kind)
    assert np.abs(values(still)).max() > 0.1
    np.testing.assert_allclose(values(turned), values(still), atol=1e-9)


@pytest.mark.parametrize("half_degrees", [0.3, 3.0, -2.0])
def test_folded_plate(half_degrees):
    points = graded_box()
    half = np.radians(half_degrees)
    found = measure_distortion(points, folded(points, half), kind="plate")

    def value(name: str) -> float:
        return find_measure(found, name).value

    assert value("angular change at mid length") == pytest.approx(2 * half_degrees, abs=1e-9)
    assert value("mean angular change in mrad") == pytest.approx(2e3 * half, abs=1e-7)
    assert value("edge rise at mid length") == pytest.approx(1e3 * WIDTH / 2 * np.sin(half))
    assert value("transverse shrinkage at mid length") == pytest.approx(
        1e3 * WIDTH * (1 - np.cos(half)), rel=1e-7
    )
    for name in ("mean developed width shrinkage", "camber of the line", "twist"):
        assert value(name) == pytest.approx(0, abs=1e-9)
    # The best plane halves the rise of a symmetric fold; its band is the whole rise.
    assert value("flatness") == pytest.approx(abs(value("edge rise at mid length")), rel=1e-9)


def test_fold_on_a_mesh_that_is_no_grid():
    points = jittered_box()
    found = measure_distortion(points, folded(points, 0.01), kind="plate")
    # Places on the outside are read 1e-9 of the size within it.
    assert find_measure(found, "mean angular change in mrad").value == pytest.approx(20, abs=1e-6)


def test_torch_below_turns_the_signs():
    points = graded_box()
    distortion = rough(points)
    above = measure_distortion(points, distortion, kind="plate")
    below = measure_distortion(points, distortion, kind="plate", torch_face="bottom")
    turned = ("angular", "rise", "camber", "bow")
    for one, other in zip(above, below, strict=True):
        sign = -1 if any(word in one.name for word in turned) else 1
        assert other.value == pytest.approx(sign * one.value, abs=1e-12)


def test_line_across_the_plate_is_the_same_plate_turned():
    points = graded_box()
    distortion = rough(points)
    quarter = np.array([[0, -1, 0], [1, 0, 0], [0, 0, 1.0]])
    strip = (0.06, 0.15)
    along = measure_distortion(points, distortion, kind="plate", heated=strip)
    across = measure_distortion(
        points @ quarter.T,
        distortion @ quarter.T,
        kind="plate",
        heated=(-strip[1], -strip[0]),
        line_along="y",
    )
    np.testing.assert_allclose(values(across), values(along), atol=1e-9)


def test_bowed_and_twisted_plate():
    points = graded_box()
    share = points[:, 0] / LENGTH
    bow = 4 * 0.003 * share * (1 - share)
    found = measure_distortion(points, np.outer(bow, [0, 0, 1]), kind="plate")
    for name in ("camber of the line", "bow of the near edge", "bow of the far edge", "flatness"):
        assert find_measure(found, name).value == pytest.approx(3.0, abs=1e-9)
    turn = Rotation.from_rotvec(np.outer(np.radians(2.0) * share, [1, 0, 0]))
    centre = np.array([0, WIDTH / 2, THICKNESS / 2])
    twisted = turn.apply(points - centre) + centre - points
    for kind in ("plate", "bar"):
        found = measure_distortion(points, twisted, kind=kind)
        assert find_measure(found, "twist").value == pytest.approx(2.0, abs=1e-9)


def test_longitudinal_shrinkage_at_line_and_edges():
    points = graded_box()
    share = points[:, 1] / WIDTH
    strain = 1e-3 * np.where(share <= 0.5, 1 + 2 * share, 2.0 - 3 * (share - 0.5))
    distortion = np.outer(-strain * (points[:, 0] - LENGTH / 2), [1, 0, 0])
    found = measure_distortion(points, distortion, kind="plate")
    for where, expected in (("near edge", 0.4), ("line", 0.8), ("far edge", 0.2)):
        loss = find_measure(found, f"longitudinal shrinkage of the {where}").value
        assert loss == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("angle", [0.004, 0.05, -0.02])
def test_kinked_bar(angle):
    points = graded_box(DEPTH)
    distortion = kinked(points, angle)
    found = measure_distortion(points, distortion, kind="bar", heated=(0.15, 0.25))

    def value(name: str) -> float:
        return find_measure(found, name).value

    rise = 1e3 * LENGTH / 2 * np.sin(angle / 2)
    assert value("closing rotation") == pytest.approx(1e3 * angle, abs=1e-8)
    assert value("camber") == pytest.approx(-rise, abs=1e-8)
    assert value("bow") == pytest.approx(abs(rise), abs=1e-8)
    assert value("shortening") == pytest.approx(1e3 * LENGTH * (1 - np.cos(angle / 2)), abs=1e-8)
    for name in ("sweep", "twist", "shortening along the axis"):
        assert value(name) == pytest.approx(0, abs=1e-8)


def test_swept_bar():
    points = graded_box(DEPTH)
    share = points[:, 0] / LENGTH
    found = measure_distortion(
        points, np.outer(4 * 0.002 * share * (1 - share), [0, 0, 1]), kind="bar"
    )
    assert find_measure(found, "sweep").value == pytest.approx(2.0, abs=1e-9)
    assert find_measure(found, "camber").value == pytest.approx(0.0, abs=1e-9)


def test_part_of_any_shape_in_any_direction():
    """A bent, shortened bar that stands askew in its file, and was a box along no axis."""
    straight = graded_box(DEPTH)
    share = straight[:, 0] / LENGTH
    distortion = np.column_stack(
        (-0.001 * straight[:, 0], 4 * 0.002 * share * (1 - share), 0 * share)
    )
    askew = Rotation.from_euler("xyz", (10, 20, 30), degrees=True)
    found = measure_distortion(askew.apply(straight), askew.apply(distortion), kind="mesh file")
    plain = measure_distortion(straight, distortion, kind="mesh file")
    for name in ("shortening", "camber", "sweep", "flatness"):
        assert find_measure(found, name).value == pytest.approx(
            find_measure(plain, name).value, abs=1e-6
        )
    assert find_measure(plain, "camber").value == pytest.approx(2.0, rel=0.02)
    assert find_measure(plain, "shortening").value == pytest.approx(0.4, abs=1e-6)
    assert find_measure(plain, "change of extent in x").value == pytest.approx(-0.4, abs=1e-3)


def test_what_cannot_be_measured_says_why():
    points = graded_box()
    with pytest.raises(OutOfRange, match="no node at the corner"):
        measure_distortion(points[1:], 0 * points[1:], kind="plate")
    with pytest.raises(OutOfRange, match="leave a wing"):
        measure_distortion(points, 0 * points, kind="plate", heated=(0.0, 0.1))
    with pytest.raises(OutOfRange, match="leave at least 5 %"):
        measure_distortion(points, 0 * points, kind="bar", heated=(0.01, 0.3))
    with pytest.raises(OutOfRange, match="unknown"):
        measure_distortion(points, 0 * points, kind="ring")
    with pytest.raises(OutOfRange, match="not a finite number"):
        measure_distortion(points, np.nan * points, kind="plate")
    with pytest.raises(OutOfRange, match="must be"):
        measure_distortion(points, points[:-1], kind="bar")
