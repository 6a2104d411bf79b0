"""Where the torch is, and what faces lose."""

from math import pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.heating.path import TorchPath
from flamefe.heating.surface import STEFAN_BOLTZMANN, Cooling, FacePoints
from flamefe.workpiece.mesh import box_mesh

Array = NDArray[np.float64]
NOWHERE, NAN = (0.0, 0.0, 0.0), float("nan")


def test_moving_path_keeps_its_speed_round_corners() -> None:
    """3, 4 and 12 cm at 1 cm/s: 19 s; the places are on the legs, by the distance travelled."""
    path = TorchPath.moving(
        [(0.0, 0.0, 0.0), (0.03, 0.0, 0.0), (0.03, 0.04, 0.0), (0.03, 0.04, 0.12)], speed=0.01
    )
    assert path.duration == pytest.approx(19.0)
    assert path.times == pytest.approx((0.0, 3.0, 7.0, 19.0))
    assert path.fastest == pytest.approx(0.01)
    places = path.at([0.0, 1.0, 3.0, 5.0, 7.0, 13.0, 19.0])
    np.testing.assert_allclose(
        places,
        [NOWHERE, (0.01, 0, 0), (0.03, 0, 0), (0.03, 0.02, 0), (0.03, 0.04, 0), (0.03, 0.04, 0.06),
         (0.03, 0.04, 0.12)],
        atol=1e-15,
    )  # fmt: skip
    times = np.linspace(0.0, 19.0, 1901)
    travelled = np.linalg.norm(np.diff(path.at(times), axis=0), axis=1)
    assert travelled.sum() == pytest.approx(0.19)
    assert travelled.max() == pytest.approx(0.01 * 0.01)


def test_slanted_path() -> None:
    path = TorchPath.moving([(0.1, 0.1, 0.02), (0.2, 0.2, 0.02)], speed=0.005)
    assert path.duration == pytest.approx(0.1 * sqrt(2.0) / 0.005)
    np.testing.assert_allclose(path.at(0.5 * path.duration), [0.15, 0.15, 0.02])


def test_timed_path_has_its_own_speeds() -> None:
    path = TorchPath(times=(0.0, 2.0, 6.0), points=(NOWHERE, (0.02, 0.0, 0.0), (0.1, 0.0, 0.0)))
    assert path.fastest == pytest.approx(0.02)
    assert path.at(1.0)[0] == pytest.approx(0.01)
    assert path.at(4.0)[0] == pytest.approx(0.06)


def test_standing_path() -> None:
    path = TorchPath.standing((0.1, 0.2, 0.3), duration=7.0)
    assert (path.duration, path.fastest) == (7.0, 0.0)
    np.testing.assert_allclose(path.at([0.0, 3.0, 7.0]), [(0.1, 0.2, 0.3)] * 3)


def test_places_have_the_shape_of_the_times() -> None:
    path = TorchPath.standing(NOWHERE, duration=1.0)
    assert path.at(0.5).shape == (3,)
    assert path.at(np.zeros((4, 2))).shape == (4, 2, 3)


@pytest.mark.parametrize(
    ("times", "points"),
    [
        ((0.0,), (NOWHERE,)),
        ((0.0, 1.0), (NOWHERE,)),
        ((1.0, 2.0), (NOWHERE, NOWHERE)),
        ((0.0, 2.0, 2.0), (NOWHERE, NOWHERE, NOWHERE)),
        ((0.0, 2.0, 1.0), (NOWHERE, NOWHERE, NOWHERE)),
        ((0.0, NAN), (NOWHERE, NOWHERE)),
    ],
)
def test_impossible_paths_are_refused(
    times: tuple[float, ...], points: tuple[tuple[float, float, float], ...]
) -> None:
    with pytest.raises(OutOfRange, match="torch path"):
        TorchPath(times=times, points=points)


@pytest.mark.parametrize("speed", [0.0, -1.0, NAN])
def test_impossible_speeds_are_refused(speed: float) -> None:
    with pytest.raises(OutOfRange, match="speed must be above 0"):
        TorchPath.moving([NOWHERE, (1.0, 0.0, 0.0)], speed=speed)


def test_a_path_needs_length_and_a_spot_needs_time() -> None:
    for points in ([NOWHERE, NOWHERE], [NOWHERE]):
        with pytest.raises(OutOfRange):
            TorchPath.moving(points, speed=0.01)
    with pytest.raises(OutOfRange):
        TorchPath.standing(NOWHERE, duration=0.0)


@pytest.fixture
def slab() -> MeshHex:
    return box_mesh(np.linspace(0.0, 0.3, 7), [0.0, 0.02, 0.1, 0.2], [0.0, 0.01, 0.05])


def test_face_points_integrate(slab: MeshHex) -> None:
    """Area, first and second moments of each face, the last through points of order 5."""
    sizes = {"top": 0.3 * 0.2, "end": 0.2 * 0.05, "near": 0.3 * 0.05}
    for name, area in sizes.items():
        face = FacePoints.of(slab, slab.boundaries[name], order=5)
        assert face.areas.sum() == pytest.approx(area)
        np.testing.assert_allclose(face.values @ slab.p.T, face.points, atol=1e-15)
        np.testing.assert_allclose(np.asarray(face.values.sum(axis=1)).ravel(), 1.0)
    top = FacePoints.of(slab, slab.boundaries["top"], order=5)
    assert top.points[:, 0] ** 2 @ top.areas == pytest.approx(0.3**3 / 3.0 * 0.2)
    assert top.points[:, 0] ** 3 * top.points[:, 1] ** 2 @ top.areas == pytest.approx(
        0.3**4 / 4.0 * 0.2**3 / 3.0
    )


def test_gathered_flux_keeps_power_and_moment(slab: MeshHex) -> None:
    """A linear flux on the top: nodal powers have its total, and stay on the top."""
    top = FacePoints.of(slab, slab.boundaries["top"], order=5)
    powers = top.gather(1e5 * top.points[:, 0])
    assert powers.sum() == pytest.approx(1e5 * 0.5 * 0.3**2 * 0.2)
    assert powers @ slab.p[0] == pytest.approx(1e5 * 0.3**3 / 3.0 * 0.2)
    assert not powers[slab.p[2] < 0.049].any()


def test_loss_of_an_even_temperature(slab: MeshHex) -> None:
    """h A (T - Ta) + e s A (T^4 - Ta^4), worked out by hand for 600 C in 20 C."""
    area = 2.0 * (0.3 * 0.2 + 0.3 * 0.05 + 0.2 * 0.05)
    face = FacePoints.of(slab, slab.boundary_facets())
    cooling = Cooling(face=face, film=15.0, emissivity=0.7, ambient=20.0)
    n = slab.p.shape[1]
    by_hand = area * (15.0 * 580.0 + 0.7 * 5.670374e-8 * (873.15**4 - 293.15**4))
    assert cooling.loss(np.full(n, 600.0)).sum() == pytest.approx(by_hand, rel=1e-6)
    assert by_hand == pytest.approx(area * 31_479.0, rel=1e-3)
    np.testing.assert_allclose(cooling.loss(np.full(n, 20.0)), 0.0, atol=1e-9)
    assert cooling.loss(np.full(n, 0.0)).sum() < 0.0


def test_slope_is_the_derivative_of_the_loss(slab: MeshHex) -> None:
    """Central differences of 0.01 K, any direction, 1e-6."""
    random = np.random.default_rng(4)
    face = FacePoints.of(slab, slab.boundary_facets())
    cooling = Cooling(face=face, film=15.0, emissivity=0.7, ambient=20.0)
    field = random.uniform(20.0, 900.0, slab.p.shape[1])
    way = random.normal(size=field.size)
    rise = cooling.loss(field + 0.01 * way) - cooling.loss(field - 0.01 * way)
    slope = cooling.slope(field)
    np.testing.assert_allclose(slope @ way, rise / 0.02, rtol=1e-6, atol=1e-8)
    assert abs(slope - slope.T).max() < 1e-12


def test_stefan_boltzmann_from_the_constants_of_nature() -> None:
    """2 pi^5 k^4 / (15 h^3 c^2) with the exact values of the SI of 2019 (CODATA 2018)."""
    boltzmann, planck, light = 1.380649e-23, 6.62607015e-34, 299_792_458.0
    exact = 2.0 * pi**5 * boltzmann**4 / (15.0 * planck**3 * light**2)
    assert pytest.approx(exact, rel=1e-9) == STEFAN_BOLTZMANN


@pytest.mark.parametrize(
    ("film", "emissivity"), [(-1.0, 0.5), (10.0, -0.1), (10.0, 1.1), (NAN, 0.5), (10.0, NAN)]
)
def test_impossible_losses_are_refused(film: float, emissivity: float, slab: MeshHex) -> None:
    face = FacePoints.of(slab, slab.boundaries["top"])
    with pytest.raises(OutOfRange, match="0 to 1"):
        Cooling(face=face, film=film, emissivity=emissivity, ambient=20.0)
