"""What a flame leaves on a face: the stated power, where the torch was, and no more."""

from collections.abc import Callable
from itertools import pairwise
from math import erf, exp, pi

import numpy as np
import pytest
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.heating.deposit import LEAST_FOOTPRINT, Deposit
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.path import TorchPath
from flamefe.heating.surface import FacePoints
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]
Metal = Callable[..., Material]
Box = Callable[..., Body]
POWER, RADIUS, SPEED = 5000.0, 0.012, 0.008
LENGTH, WIDTH, HEIGHT = 0.2, 0.1, 0.01


@pytest.fixture(scope="module")
def plate(metal: Metal, box: Box) -> Body:
    steel = metal(conductivity=40.0, density=7850.0, specific_heat=600.0)
    return box(
        steel,
        np.linspace(0.0, LENGTH, 51),
        np.linspace(0.0, WIDTH, 26),
        [0.0, 0.5 * HEIGHT, HEIGHT],
    )


def _deposit(plate: Body, path: TorchPath, *, radius: float = RADIUS, face: str = "top") -> Deposit:
    return Deposit(
        flame=GaussianFlame(power=POWER, radius=radius),
        path=path,
        face=FacePoints.of(plate.mesh, plate.mesh.boundaries[face], order=5),
        name="the heat",
    )


def _line(start: float = 0.05, end: float = 0.15, y: float = 0.05) -> TorchPath:
    return TorchPath.moving([(start, y, HEIGHT), (end, y, HEIGHT)], speed=SPEED)


@pytest.mark.parametrize("length", [0.013, 0.25, 1.7, 40.0])
def test_power_is_exact_whatever_the_steps(length: float, plate: Body) -> None:
    """Steps that don't fit the burning time bring the stated heat, to rounding.

    The last step lasts beyond the torch's end, and one begins before its start.
    """
    deposit = _deposit(plate, _line())
    assert deposit.path.duration == pytest.approx(12.5)
    edges = np.arange(-0.6 * length, 12.5 + length, length)
    heat = stated = 0.0
    for start, end in pairwise(edges):
        powers, _, _ = deposit.over(start, end)
        heat += float(powers.sum()) * (end - start)
        stated += deposit.energy(start, end)
        assert powers.min() >= -1e-9
    assert heat == pytest.approx(POWER * 12.5, rel=1e-12)
    assert stated == pytest.approx(POWER * 12.5, rel=1e-12)


def test_start_and_stop_within_a_step(plate: Body) -> None:
    """A step of 2 s of which the torch burns 0.5 s has a quarter of the power."""
    deposit = _deposit(plate, _line())
    for start, end in ((-1.5, 0.5), (12.0, 14.0)):
        powers, _, _ = deposit.over(start, end)
        assert float(powers.sum()) == pytest.approx(0.25 * POWER, rel=1e-12)
        assert deposit.energy(start, end) == pytest.approx(0.5 * POWER, rel=1e-12)
    for start, end in ((-3.0, -1.0), (12.5, 20.0)):
        powers, footprint, _ = deposit.over(start, end)
        assert not powers.any()
        assert (footprint, deposit.energy(start, end)) == (1.0, 0.0)


def test_only_the_heated_face_gets_heat(plate: Body) -> None:
    powers, _, _ = _deposit(plate, _line()).over(0.0, 5.0)
    heated = np.isin(np.arange(powers.size), plate.nodes_of("top"))
    assert powers[heated].sum() == pytest.approx(POWER)
    assert not powers[~heated].any()


def test_spread_is_that_of_a_gaussian(plate: Body) -> None:
    """Mean at the torch, mean square distance R^2: the moments of exp(-r^2 / R^2) / (pi R^2).

    Nodal powers hold the first moment exactly; the second is larger by about a sixth of the
    square of the 4 mm elements in each direction (linear shape functions). Tolerance 2 %.
    """
    deposit = _deposit(plate, TorchPath.standing((0.093, 0.052, HEIGHT), duration=10.0))
    powers, footprint, _ = deposit.over(0.0, 1.0)
    share = powers / powers.sum()
    mean = share @ plate.points
    np.testing.assert_allclose(mean, [0.093, 0.052, HEIGHT], atol=2e-5)
    distance = ((plate.points - [0.093, 0.052, HEIGHT]) ** 2).sum(axis=1)
    blur = 2.0 * 0.004**2 / 6.0
    assert float(share @ distance) == pytest.approx(RADIUS**2 + blur, rel=0.02)
    assert footprint == pytest.approx(1.0, abs=2e-3)


def test_one_long_step_is_many_short_ones(plate: Body) -> None:
    """The mean over a step of 4 s (2.7 radii) is that of 400 steps of 0.01 s.

    Eight places a radius of travel: within 0.1 % of the largest nodal power; also round a corner.
    """
    corner = TorchPath.moving(
        [(0.06, 0.03, HEIGHT), (0.10, 0.03, HEIGHT), (0.10, 0.07, HEIGHT)], speed=SPEED
    )
    for path, start in ((_line(), 3.0), (corner, 3.0)):
        deposit = _deposit(plate, path)
        long, _, _ = deposit.over(start, start + 4.0)
        edges = np.linspace(start, start + 4.0, 401)
        short = np.mean([deposit.over(a, b)[0] for a, b in pairwise(edges)], axis=0)
        assert np.abs(long - short).max() < 1e-3 * short.max()


def test_mean_over_a_step_against_the_error_function(plate: Body) -> None:
    """Heat within a strip across the path: the closed form of a Gaussian drawn along a line.

    The share of the power at x < X, averaged over travel from a to b, is the mean of
    (1 + erf((X - s) / R)) / 2. X lies on an element boundary; half of its nodes' power belongs
    to each side. Tolerance 0.2 % of the power.
    """
    deposit = _deposit(plate, _line())
    powers, _, _ = deposit.over(2.0, 8.0)
    x = plate.points[:, 0]
    for border in (0.072, 0.088, 0.1, 0.12):
        weight = np.where(np.isclose(x, border), 0.5, (x < border).astype(float))
        places = 0.05 + SPEED * np.linspace(2.0, 8.0, 4001)
        exact = np.mean([0.5 * (1.0 + erf((border - s) / RADIUS)) for s in places])
        assert float(powers @ weight) / POWER == pytest.approx(exact, abs=2e-3)


def test_uneven_speeds_leave_heat_by_time(plate: Body) -> None:
    """A torch that dwells at one end leaves there the share of the time that it dwells."""
    path = TorchPath(
        times=(0.0, 6.0, 8.0),
        points=((0.05, 0.05, HEIGHT), (0.05, 0.05, HEIGHT), (0.15, 0.05, HEIGHT)),
    )
    powers, _, _ = _deposit(plate, path).over(0.0, 8.0)
    exact = (6.0 * 0.05 + 2.0 * 0.10) / 8.0
    assert float(powers @ plate.points[:, 0]) / POWER == pytest.approx(exact, abs=2e-4)


def test_near_an_edge_the_power_stays_and_the_footprint_tells(plate: Body) -> None:
    """Centre on the edge: half of the flame; d outside: (1 - erf(d / R)) / 2 of it (0.2 %)."""
    for outside in (-0.012, 0.0, 0.006, 0.010):
        path = TorchPath.standing((0.1, -outside, HEIGHT), duration=5.0)
        powers, footprint, _ = _deposit(plate, path).over(0.0, 1.0)
        assert float(powers.sum()) == pytest.approx(POWER, rel=1e-12)
        assert footprint == pytest.approx(0.5 * (1.0 - erf(outside / RADIUS)), abs=2e-3)


def test_flame_off_the_part_is_refused(plate: Body) -> None:
    """It is named, with how little of it still lies on the face."""
    leaving = TorchPath.moving([(0.18, 0.05, HEIGHT), (0.24, 0.05, HEIGHT)], speed=SPEED)
    deposit = _deposit(plate, leaving)
    deposit.over(0.0, 1.0)
    assert 0.5 * (1.0 - erf(0.02 / RADIUS)) < LEAST_FOOTPRINT
    with pytest.raises(OutOfRange, match=r"the heat: .* left the part"):
        deposit.over(6.0, 7.0)


def test_flame_wide_against_the_mesh_needs_no_scaling(plate: Body) -> None:
    """A flame of one and a half elements still lands within 0.1 %; one of a quarter is scaled."""
    for radius, tolerance in ((0.006, 1e-3), (0.012, 1e-6)):
        path = TorchPath.standing((0.101, 0.0507, HEIGHT), duration=5.0)
        _, footprint, _ = _deposit(plate, path, radius=radius).over(0.0, 1.0)
        assert footprint == pytest.approx(1.0, abs=tolerance)
    sharp = _deposit(plate, TorchPath.standing((0.101, 0.0507, HEIGHT), duration=5.0), radius=1e-3)
    powers, footprint, _ = sharp.over(0.0, 1.0)
    assert abs(footprint - 1.0) > 0.05
    assert float(powers.sum()) == pytest.approx(POWER, rel=1e-12)


def test_flame_formula() -> None:
    """Peak P / (pi R^2); within a circle of R 1 - 1/e of the power, by integration over rings."""
    flame = GaussianFlame(power=POWER, radius=RADIUS)
    assert float(flame.flux(0.0)) == pytest.approx(POWER / (pi * RADIUS**2))
    edges = np.linspace(0.0, RADIUS, 2001)
    middle, ring = 0.5 * (edges[1:] + edges[:-1]), pi * np.diff(edges**2)
    assert flame.footprint(middle**2, ring) == pytest.approx(1.0 - exp(-1.0), rel=1e-6)
    for power, radius in ((0.0, 0.01), (-1.0, 0.01), (1.0, 0.0), (float("nan"), 0.01)):
        with pytest.raises(OutOfRange):
            GaussianFlame(power=power, radius=radius)
