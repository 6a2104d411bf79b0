"""A half space under even and Gaussian flux, and a block that cools as one lump."""

from collections.abc import Callable
from math import exp, pi

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from flamefe.heating.conduction import Conductor
from flamefe.heating.deposit import Deposit
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.march import collected, heat_along
from flamefe.heating.path import TorchPath
from flamefe.heating.phase import Burn
from flamefe.heating.surface import STEFAN_BOLTZMANN, Cooling, FacePoints
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material
from flamefe.workpiece.mesh import graded

Array = NDArray[np.float64]
Metal = Callable[..., Material]
Box = Callable[..., Body]
CONDUCTIVITY, DENSITY, HEAT = 40.0, 7850.0, 600.0
DIFFUSIVITY = CONDUCTIVITY / (DENSITY * HEAT)


@pytest.fixture
def steel(metal: Metal) -> Material:
    return metal(conductivity=CONDUCTIVITY, density=DENSITY, specific_heat=HEAT)


def _downwards(depth: float, fine: float, coarse: float) -> Array:
    """Heights of a block, fine at its top."""
    return graded(depth, fine_spans=[(depth, depth)], fine=fine, coarse=coarse)


def _even_flux(steel: Material, box: Box, steps: int) -> tuple[Array, Array]:
    """Times, and surface temperatures, under 1 MW/m2 for 10 s; steps grow with the time."""
    body = box(steel, [0.0, 0.01], [0.0, 0.01], _downwards(0.12, 0.5e-3, 5e-3))
    top = FacePoints.of(body.mesh, body.mesh.boundaries["top"])
    power = top.gather(np.full(top.areas.shape, 1e6))
    times = 10.0 * (np.arange(steps + 1) / steps) ** 2
    conductor = Conductor(body)
    temperature = np.zeros(len(body.points))
    surface = [0.0]
    for duration in np.diff(times):
        temperature = conductor.step(temperature, power=power, duration=duration).temperature
        surface.append(float(temperature[body.nodes_of("top")].mean()))
    return times, np.array(surface)


def test_even_flux_into_a_half_space(steel: Material, box: Box) -> None:
    """Surface temperature 2 q sqrt(D t / pi) / k.

    Source: H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, 2.9 (the
    number of the section from memory).

    From 1 s on 120 steps are within 1 % and at 10 s within 0.4 % (the error of the first steps
    dies out as 1 / t). A conductivity or a capacity 2 % wrong would be 1 % at 10 s.
    """
    times, surface = _even_flux(steel, box, 120)
    exact = 2e6 * np.sqrt(DIFFUSIVITY * times / pi) / CONDUCTIVITY
    assert np.interp([1.0, 5.0, 10.0], times, exact) == pytest.approx([82.208, 183.823, 259.965],
                                                                      rel=1e-3)  # fmt: skip
    later = times >= 1.0
    np.testing.assert_allclose(surface[later], exact[later], rtol=0.010)
    assert surface[-1] == pytest.approx(exact[-1], rel=0.004)


def test_standing_gaussian_on_a_half_space(steel: Material, box: Box) -> None:
    """Centre: P / (pi^1.5 k R) atan(sqrt(4 D t) / R); a quarter of a block carries P / 4.

    Source: H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, the
    instantaneous point source of 10.2 (number from memory) integrated over flux and time.

    Steps of at most 30 K and 4 mm elements: within 0.5 % at every moment after 1 s, of which
    the mesh has 0.2 to 0.4 %. A radius 1 % wrong would be 1 % early on, a power always.
    """
    power, radius, side = 4000.0, 0.015, 0.12
    across = graded(side, fine_spans=[(0.0, 0.025)], fine=0.004, coarse=0.02)
    body = box(steel, across, across, _downwards(side, 0.002, 0.02))
    deposit = Deposit(
        flame=GaussianFlame(power=power / 4.0, radius=radius),
        path=TorchPath.standing((0.0, 0.0, side), duration=10.0),
        face=FacePoints.of(body.mesh, body.mesh.boundaries["top"], order=5),
    )
    burn = Burn(deposits=(deposit,), step=None, name="spot")
    history = collected(list(heat_along(Conductor(body), [burn], ambient=0.0)))
    centre = int(np.linalg.norm(body.points - [0.0, 0.0, side], axis=1).argmin())
    later = history.times >= 1.0
    times = history.times[later]
    reach = np.arctan(np.sqrt(4.0 * DIFFUSIVITY * times) / radius)
    exact = power / (pi**1.5 * CONDUCTIVITY * radius) * reach
    assert times[-1] == pytest.approx(10.0)
    assert np.diff(times).max() < 1.01
    np.testing.assert_allclose(history.temperatures[later, centre], exact, rtol=0.005)
    assert exact[-1] == pytest.approx(1062.761, abs=1e-3)
    assert history.footprint_on_part == pytest.approx(0.25, abs=0.005)


@pytest.mark.parametrize("emissivity", [0.0, 0.8])
def test_a_small_block_cools_as_one_lump(emissivity: float, metal: Metal, box: Box) -> None:
    """exp(-h A t / (rho c V)), with radiation its integral over temperature instead.

    Source: the lumped-capacity solution of any heat-transfer textbook. A block of 20 mm with a
    Biot number h V / (A k) below 1e-3; 200 steps of a hundredth of the time constant h A / rho c V
    end 1 % high, as backward Euler must (3 % with radiation, which starts faster); extrapolated
    from 100 and 200, within 0.1 %.
    """
    block = metal(conductivity=400.0, density=7850.0, specific_heat=600.0)
    side = np.linspace(0.0, 0.02, 3)
    body = box(block, side, side, side)
    faces = FacePoints.of(body.mesh, body.mesh.boundary_facets())
    cooling = Cooling(face=faces, film=20.0, emissivity=emissivity, ambient=20.0)
    conductor = Conductor(body, [cooling])
    capacity, area = 7850.0 * 600.0 * 0.02**3, 6.0 * 0.02**2
    end = 2.0 * capacity / (20.0 * area)

    def cooled(steps: int) -> float:
        temperature = np.full(len(body.points), 620.0)
        for _ in range(steps):
            temperature = conductor.step(
                temperature, power=np.zeros(temperature.size), duration=end / steps
            ).temperature
        assert np.ptp(temperature) < 0.5
        return float(temperature.mean()) - 20.0

    few, many = cooled(100), cooled(200)
    if emissivity == 0.0:
        exact = 600.0 * exp(-2.0)
    else:
        kelvin = 293.15

        def rate(_: float, t: Array) -> Array:
            radiated = emissivity * STEFAN_BOLTZMANN * ((t + 20.0 + 273.15) ** 4 - kelvin**4)
            return -area * (20.0 * t + radiated) / capacity

        exact = float(solve_ivp(rate, (0.0, end), [600.0], rtol=1e-9, atol=1e-9).y[0, -1])
    assert few - exact == pytest.approx(2.0 * (many - exact), rel=0.1)
    assert 2.0 * many - few == pytest.approx(exact, rel=1e-3)
