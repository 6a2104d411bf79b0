"""The peak of steel's specific heat at 735 C, and heat that is accounted for.

Source of the specific heat: EN 1993-1-2:2005, 3.4.1.2 (at second hand).
"""

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import cumulative_simpson, quad
from skfem import Basis, ElementHex1, FacetBasis, LinearForm

from flamefe.heating.conduction import Conductor
from flamefe.heating.deposit import Deposit
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.march import HeatMoment, collected, heat_along
from flamefe.heating.path import TorchPath
from flamefe.heating.phase import Burn, Rest
from flamefe.heating.surface import STEFAN_BOLTZMANN, Cooling, FacePoints
from flamefe.workpiece.body import Body
from flamefe.workpiece.eurocode import steel_specific_heat
from flamefe.workpiece.mesh import graded
from flamefe.workpiece.standard import material

Array = NDArray[np.float64]
Box = Callable[..., Body]
DENSITY = 7850.0


def heat_content(end: float) -> float:
    """J/kg from 20 C to ``end`` C, by quadrature of the standard's formula."""
    breaks = [t for t in (600.0, 720.0, 730.0, 735.0, 740.0, 760.0, 900.0) if t < end]
    edges = [20.0, *breaks, end]
    return float(sum(quad(steel_specific_heat, a, b, epsrel=1e-10)[0] for a, b in pairwise(edges)))


def _spread(body: Body, watts_per_volume: float) -> Array:
    """Nodal powers of an even heat source."""
    form = LinearForm(lambda v, w: watts_per_volume * v)
    return np.asarray(form.assemble(Basis(body.mesh, ElementHex1())))


@pytest.mark.parametrize("end", [650.0, 730.0, 736.0, 745.0, 800.0, 950.0])
def test_peak_is_not_stepped_over(end: float, box: Box) -> None:
    """Heated from 20 C in one step of an hour, a block ends where its heat content says.

    Against the inverse of the standard's own integral: 0.2 K, of which the steel's table of 209
    points has 0.11. With the specific heat of the step's start it would end 60 % too hot.
    """
    line = np.linspace(0.0, 0.03, 4)
    body = box(material("S355"), line, line, line)
    energy = DENSITY * 0.03**3 * heat_content(end)
    power = _spread(body, energy / 0.03**3 / 3600.0)
    step = Conductor(body).step(np.full(64, 20.0), power=power, duration=3600.0)
    np.testing.assert_allclose(step.temperature, end, rtol=0, atol=0.2)
    assert step.stored == pytest.approx(energy, rel=1e-5)


def test_peak_holds_on_the_way_down_too(box: Box) -> None:
    """From 900 C back to 500 C in one step, by the heat that was in between: 0.2 K."""
    line = np.linspace(0.0, 0.03, 4)
    body = box(material("S355"), line, line, line)
    taken = DENSITY * (heat_content(500.0) - heat_content(900.0))
    step = Conductor(body).step(
        np.full(64, 900.0), power=_spread(body, taken / 600.0), duration=600.0
    )
    np.testing.assert_allclose(step.temperature, 500.0, rtol=0, atol=0.2)


FLUX = 2.8e6


def test_a_moving_front_of_the_peak_keeps_its_heat(box: Box) -> None:
    """A bar heated at one end, its temperatures astride the peak, holds what was put in.

    The heat content of the final field, integrated with the standard's formula by other points,
    is the heat supplied: 0.1 %, the difference of the two quadratures over the narrow peak.
    """
    steel = material("S355")
    body = box(steel, np.linspace(0.0, 0.05, 41), [0.0, 0.01], [0.0, 0.01])
    face = FacePoints.of(body.mesh, body.mesh.boundaries["start"])
    power = face.gather(np.full(face.areas.shape, FLUX))
    conductor = Conductor(body)
    temperature = np.full(len(body.points), 20.0)
    for _ in range(20):
        temperature = conductor.step(temperature, power=power, duration=1.0).temperature
    assert temperature.max() > 800.0
    assert temperature.min() < 650.0
    basis = Basis(body.mesh, ElementHex1(), intorder=12)
    here = np.asarray(basis.interpolate(temperature))
    known = np.linspace(20.0, 1150.0, 113_001)
    contents = DENSITY * cumulative_simpson(steel_specific_heat(known), x=known, initial=0.0)
    held = float((np.interp(here, known, contents) * basis.dx).sum())
    assert held == pytest.approx(FLUX * 1e-4 * 20.0, rel=1e-3)


AMBIENT, FILM, EMISSIVITY = 20.0, 20.0, 0.8


def _spot(box: Box) -> tuple[Body, Conductor, list[HeatMoment]]:
    across = graded(0.06, fine_spans=[(0.02, 0.04)], fine=0.005, coarse=0.01)
    body = box(material("S355"), across, across, [0.0, 0.004, 0.007, 0.01])
    faces = FacePoints.of(body.mesh, body.mesh.boundary_facets())
    cooling = Cooling(face=faces, film=FILM, emissivity=EMISSIVITY, ambient=AMBIENT)
    deposit = Deposit(
        flame=GaussianFlame(power=2000.0, radius=0.012),
        path=TorchPath.standing((0.03, 0.03, 0.01), duration=20.0),
        face=FacePoints.of(body.mesh, body.mesh.boundaries["top"], order=5),
    )
    conductor = Conductor(body, [cooling])
    phases: list[Burn | Rest] = [
        Burn(deposits=(deposit,), step=None, name="spot"),
        Rest(until=150.0, cold=False, name="rest"),
    ]
    return body, conductor, list(heat_along(conductor, phases, ambient=AMBIENT))


def _radiated_and_convected(body: Body, temperature: Array) -> float:
    """Power lost from the faces, by a facet integral of its own, W."""
    basis = FacetBasis(body.mesh, ElementHex1(), intorder=6)
    here = np.asarray(basis.interpolate(temperature))
    radiated = (here + 273.15) ** 4 - (AMBIENT + 273.15) ** 4
    flux = FILM * (here - AMBIENT) + EMISSIVITY * STEFAN_BOLTZMANN * radiated
    return float((flux * basis.dx).sum())


def test_heat_is_accounted_for(box: Box) -> None:
    """Spot heat through the peak, then a rest, with convection and radiation.

    Supplied = stored + lost to 5e-5 (each step is balanced to 1e-5 of what flows). Each of the
    three is checked on its own: power times time; the heat content of the last field; the
    losses at the ends of the steps by another quadrature (0.01 %).
    """
    body, conductor, moments = _spot(box)
    burning = [moment for moment in moments if moment.phase == "spot"]
    history = collected(moments)
    assert history.peak.max() > 800.0
    assert np.sort(history.peak)[-9] > 735.0  # the peak is passed by more than one place
    energy = history.energy
    assert burning[-1].time == pytest.approx(20.0)
    assert energy.supplied == pytest.approx(2000.0 * 20.0, rel=1e-9)
    assert energy.error < 5e-5
    assert energy.stored == pytest.approx(
        conductor.enthalpy(history.temperatures[-1]) - conductor.enthalpy(history.temperatures[0]),
        rel=1e-6,
    )
    lost = sum(
        (now.time - before.time) * _radiated_and_convected(body, now.temperature)
        for before, now in pairwise(moments)
    )
    assert energy.lost == pytest.approx(lost, rel=1e-4)
    assert energy.lost > 0.3 * energy.supplied
