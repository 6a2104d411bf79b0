"""Manufactured solutions with conductivity and specific heat that change with temperature.

Method: P. J. Roache, Code verification by the method of manufactured solutions, J. Fluids Eng.
124 (2002) 4-10. A temperature is chosen; the heat source that it needs follows from the equation
rho c(T) dT/dt - div(k(T) grad T) = source, and the solver must give the temperature back.
"""

from collections.abc import Callable
from math import pi

import numpy as np
import pytest
from numpy.typing import NDArray
from skfem import Basis, ElementHex1, LinearForm

from flamefe.basics.table import Table
from flamefe.heating.conduction import Conductor
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]
Metal = Callable[..., Material]
Box = Callable[..., Body]
Field = Callable[[Array], Array]

LOW, HIGH, DENSITY = 0.0, 1000.0, 7850.0
K_SLOPE, C_SLOPE = -0.025, 0.5
"""k = 55 - 0.025 T, c = 420 + 0.5 T, over the whole range used."""


@pytest.fixture
def steel(metal: Metal) -> Material:
    ends = (LOW, HIGH)
    return metal(
        conductivity=Table(temperature_C=ends, values=(55.0, 30.0), source="the test"),
        density=DENSITY,
        specific_heat=Table(temperature_C=ends, values=(420.0, 920.0), source="the test"),
    )


def conductivity(t: Array) -> Array:
    return 55.0 + K_SLOPE * t


def content(t: Array) -> Array:
    """Heat per volume; its zero is of no importance."""
    return DENSITY * (420.0 * t + 0.5 * C_SLOPE * t**2)


def _power(body: Body, source: Field) -> Array:
    """Nodal powers of a heat source per volume, with many more points than the solver has."""
    basis = Basis(body.mesh, ElementHex1(), intorder=8)
    return np.asarray(LinearForm(lambda v, w: source(np.asarray(w.x)) * v).assemble(basis))


SIZE = 0.1


def bumpy(p: Array) -> Array:
    """T = 300 + 200 sin(pi x / L) cos(pi y / L) + 100 x z^2 / L^3."""
    x, y, z = p / SIZE
    return np.asarray(300.0 + 200.0 * np.sin(pi * x) * np.cos(pi * y) + 100.0 * x * z**2)


def bumpy_conduction(p: Array) -> Array:
    """-div(k grad T) of it: -(k laplace T + k' |grad T|^2)."""
    x, y, z = p / SIZE
    wave = 200.0 * np.sin(pi * x) * np.cos(pi * y)
    along = (200.0 * pi * np.cos(pi * x) * np.cos(pi * y) + 100.0 * z**2) / SIZE
    across = -200.0 * pi * np.sin(pi * x) * np.sin(pi * y) / SIZE
    through = 200.0 * x * z / SIZE
    laplace = (-2.0 * pi**2 * wave + 200.0 * x) / SIZE**2
    steepness = along**2 + across**2 + through**2
    return np.asarray(-(conductivity(bumpy(p)) * laplace + K_SLOPE * steepness))


def _error_in_space(steel: Material, box: Box, number: int) -> float:
    """Root mean square error, K, after one step whose source is exact for backward Euler."""
    line = np.linspace(0.0, SIZE, number + 1)
    body = box(steel, line, line, line)
    duration = 20.0
    start = 200.0

    def source(p: Array) -> Array:
        return (content(bumpy(p)) - content(np.full(p.shape[1:], start))) / duration + (
            bumpy_conduction(p)
        )

    held = body.mesh.boundary_nodes()
    exact = bumpy(body.mesh.p)
    step = Conductor(body, tolerance=1e-9).step(
        np.full(exact.shape, start),
        power=_power(body, source),
        duration=duration,
        held=held,
        held_at=exact[held],
    )
    basis = Basis(body.mesh, ElementHex1(), intorder=6)
    places = np.asarray(basis.global_coordinates())
    difference = np.asarray(basis.interpolate(step.temperature)) - bumpy(places)
    return float(np.sqrt((difference**2 * basis.dx).sum() / SIZE**3))


def test_second_order_in_space(steel: Material, box: Box) -> None:
    """Halving the elements quarters the error: order 2 within 0.1, as trilinear hexes have.

    The step's source holds the difference of heat contents, so there is no error in time.
    """
    errors = np.array([_error_in_space(steel, box, number) for number in (4, 8, 16)])
    assert errors[-1] < 0.6
    np.testing.assert_allclose(np.log2(errors[:-1] / errors[1:]), 2.0, atol=0.1)


def _error_in_time(steel: Material, box: Box, steps: int) -> float:
    """Largest error at a node, K, of T = 100 + (300 + 400 sin(w t)) x / L after a quarter wave.

    It is linear in x, so two elements hold it exactly, and the source is integrated exactly.
    """
    body = box(steel, [0.0, 0.04, SIZE], [0.0, 0.02], [0.0, 0.02])
    conductor = Conductor(body, tolerance=1e-10)
    end = 40.0
    turn = 0.5 * pi / end

    def swing(t: float) -> float:
        return float((300.0 + 400.0 * np.sin(turn * t)) / SIZE)

    def at(t: float) -> Array:
        return np.asarray(100.0 + swing(t) * body.mesh.p[0])

    held = body.nodes_of("start")
    temperature = at(0.0)
    for i in range(steps):
        t0, t1 = end * i / steps, end * (i + 1) / steps
        nodes, weights = np.polynomial.legendre.leggauss(4)
        power = np.zeros(temperature.size)
        for node, weight in zip(nodes, weights, strict=True):
            t = 0.5 * (t0 + t1) + 0.5 * (t1 - t0) * node
            power += 0.5 * weight * _source_of_wave(body, swing, t, turn)
        temperature = conductor.step(
            temperature, power=power, duration=t1 - t0, held=held, held_at=at(t1)[held]
        ).temperature
    return float(np.abs(temperature - at(end)).max())


def _source_of_wave(body: Body, swing: Callable[[float], float], t: float, turn: float) -> Array:
    """Nodal powers at a moment: what is stored, what is conducted, and the flux at the far end."""
    s, rate = swing(t), 400.0 * turn * np.cos(turn * t) / SIZE

    def source(p: Array) -> Array:
        temperature = 100.0 + s * p[0]
        capacity = DENSITY * (420.0 + C_SLOPE * temperature)
        return np.asarray(capacity * rate * p[0] - K_SLOPE * s**2)

    power = _power(body, source)
    end = body.nodes_of("end")
    flux = conductivity(np.array(100.0 + s * SIZE)) * s
    power[end] += float(flux) * 0.02**2 / end.size
    return power


def test_first_order_in_time(steel: Material, box: Box) -> None:
    """Halving the step halves the error: order 1 within 0.1, as backward Euler has."""
    errors = np.array([_error_in_time(steel, box, steps) for steps in (8, 16, 32)])
    assert errors[-1] < 0.8
    np.testing.assert_allclose(np.log2(errors[:-1] / errors[1:]), 1.0, atol=0.1)
