"""Flames fitted to trials: readings made by the engine, by a closed form, and faulty ones."""

from dataclasses import replace
from functools import cache
from math import pi
from pathlib import Path

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.heating.conduction import Conductor
from flamefe.heating.flame import AbsorbedFlame, GaussianFlame, HotGasFlame
from flamefe.heating.march import collected, heat_along
from flamefe.heating.readings import Readings, ReadingsError
from flamefe.heating.sampling import Sampler
from flamefe.heating.shape import ByRadius, Gaussian, Ring, Rows, Twin
from flamefe.study.air_round import coolings_of
from flamefe.study.case import (
    Case,
    CaseError,
    Flame,
    HeldLine,
    LineHeat,
    MaterialTables,
    Mesh,
    OwnMaterial,
    Plate,
    Solve,
    SpotField,
    SpotHeat,
    Surroundings,
)
from flamefe.study.case_flames import nozzle_of
from flamefe.study.parts import body_of, material_of
from flamefe.study.phases import phases_of
from flamefe.study.trial import fit_flame
from flamefe.study.trial_search import search_of
from flamefe.study.trial_simulation import TrialSimulation, sampler_of, trial_phases
from flamefe.workpiece.mesh import plate_mesh

SPOT = SpotHeat(flame="torch", face="top", at_mm=[32, 32], time_s=8)
LINE = LineHeat(flame="torch", face="top", path_mm=[[24, 32], [64, 32]], speed_mm_s=4)


def case_of(heat=SPOT, length=64, **changes):
    given = {
        "title": "trial on an offcut of a hopper wall",
        "workpiece": Plate(length_mm=length, width_mm=64, thickness_mm=6, material="S355"),
        "mesh": Mesh(size_at_heat_mm=8, size_away_mm=8, layers=2),
        "flames": {"torch": Flame(power_kW=1.5, radius_mm=18)},
        "heats": [heat],
        "solve": Solve(heat_step_s=0.5),
    }
    return Case(**{**given, **changes})


def made_of(case):
    body, _ = body_of(case, material_of(case), Path("."))
    return body


def read(places_mm, times, temperatures, **more):
    """Readings of several thermocouples at the same times; temperatures (times, places)."""
    return Readings(
        places=1e-3 * np.repeat(np.asarray(places_mm, dtype=float), len(times), axis=0),
        times=np.tile(times, len(places_mm)),
        temperatures=np.asarray(temperatures).T.reshape(-1),
        **more,
    )


FAR_AND_NEAR = ([32, 32, 0], [40, 32, 6], [48, 40, 0], [56, 32, 6])
TIMES = np.arange(1.0, 17.0)


def simulated(case, flame, places_mm=FAR_AND_NEAR, times=TIMES):
    """Temperatures (times, places) of a flame in the trial of a case."""
    body = made_of(case)
    blank = read(places_mm, times, np.full((len(times), len(places_mm)), 20.0))
    simulation = TrialSimulation(
        case=case, body=body, phases=trial_phases(case, body), sampler=sampler_of(body, blank),
        last=float(times[-1]),
    )  # fmt: skip
    return simulation.run(flame).at(blank).reshape(len(places_mm), -1).T


def noisy(temperatures, deviation, seed=1):
    return temperatures + np.random.default_rng(seed).normal(0.0, deviation, temperatures.shape)


TRUE = GaussianFlame(power=2000.0, radius=0.0155)


@cache
def spot_fit():
    measured = noisy(simulated(case_of(), TRUE), 3.0)
    return fit_flame(case_of(), read(FAR_AND_NEAR, TIMES, measured))


def test_spot_trial_with_noise():
    fit = spot_fit()
    assert fit.case_values["power_kW"] == pytest.approx(2.0, rel=0.02)
    assert fit.case_values["radius_mm"] == pytest.approx(15.5, rel=0.05)
    assert (fit.fitted.lower < [2.0, 15.5]).all()
    assert (fit.fitted.upper > [2.0, 15.5]).all()
    assert fit.fitted.clear
    assert fit.fitted.rms == pytest.approx(3.0, rel=0.25)
    assert fit.energy.error < 0.005
    assert len(fit.fitted.trials) < 30
    assert fit.readings.temperatures - fit.fitted.predicted == pytest.approx(fit.fitted.residuals)
    assert fit.times[-1] >= TIMES[-1]
    assert fit.curves.shape == (fit.times.size, 4)


def test_line_trial_against_the_march_of_a_run():
    """Readings from the heat stage as a run makes it, at nodes, with noise."""
    true = case_of(LINE, 88, flames={"torch": Flame(power_kW=1.2, radius_mm=20)})
    body = made_of(true)
    conductor = Conductor(body, coolings_of(true, body))
    heat = collected(list(heat_along(conductor, phases_of(true, body), ambient=20.0)))
    nodes = [
        int(np.argmin(((body.points - 1e-3 * np.asarray(place)) ** 2).sum(axis=1)))
        for place in ([44, 32, 0], [52, 40, 6], [60, 16, 0])
    ]
    times = np.arange(1.0, 25.0, 1.0)
    measured = noisy(np.array([heat.at(t)[nodes] for t in times]), 2.0, seed=5)
    start = case_of(LINE, 88)
    fit = fit_flame(start, read(1e3 * body.points[nodes], times, measured))
    assert fit.case_values == pytest.approx({"power_kW": 1.2, "radius_mm": 20}, rel=0.02)
    assert (fit.fitted.lower < [1.2, 20]).all()
    assert (fit.fitted.upper > [1.2, 20]).all()
    assert fit.fitted.rms == pytest.approx(2.0, rel=0.25)


CONDUCTIVITY, DENSITY, HEAT = 30.0, 7850.0, 650.0
DIFFUSIVITY = CONDUCTIVITY / (DENSITY * HEAT)
NODES, WEIGHTS = np.polynomial.legendre.leggauss(160)


def moving_on_a_plate(power, radius, place, time, *, start, speed, burning, thickness):
    """Temperature rise, K, of a Gaussian flame that moves along x over an insulated plate.

    dT = P / (rho c) int ds exp(-((xi + v s)^2 + y^2) / (R^2 + 4 D s)) / (pi (R^2 + 4 D s))
         sum_n exp(-(z - 2 n h)^2 / (4 D s)) / sqrt(pi D s)

    over the ages s of the heat, xi from where the flame is now, z from its face; after T. W.
    Eagar, N.-S. Tsai, Temperature fields produced by traveling distributed heat sources, Welding
    Journal 62 (1983) 346-s, with images in the faces (from memory). Taken over sqrt(s).
    """
    low, high = np.sqrt(max(time - burning, 0.0)), np.sqrt(time)
    root = 0.5 * (high + low) + 0.5 * (high - low) * NODES
    age = root**2
    along = place[0] - (start[0] + speed * (time - age))
    spread = radius**2 + 4.0 * DIFFUSIVITY * age
    flat = np.exp(-(along**2 + (place[1] - start[1]) ** 2) / spread) / (pi * spread)
    image = 2.0 * thickness * np.arange(-8, 9)[:, None]
    deep = np.exp(-((thickness - place[2] - image) ** 2) / (4.0 * DIFFUSIVITY * age)).sum(axis=0)
    integral = 0.5 * (high - low) * float(WEIGHTS @ (flat * deep * 2.0 / np.sqrt(pi * DIFFUSIVITY)))
    return power / (DENSITY * HEAT) * integral


def test_line_trial_against_a_closed_form():
    """No engine made these readings: a moving Gaussian on a wide insulated plate."""
    places = ([75, 50, 0], [75, 60, 0], [70, 65, 8], [90, 55, 0])
    times = np.arange(2.0, 20.5, 1.5)
    measured = [
        [
            20.0 + moving_on_a_plate(2400.0, 0.013, 1e-3 * np.array(place), time,
                                     start=(0.045, 0.05), speed=0.006, burning=10.0,
                                     thickness=0.008)
            for place in places
        ]
        for time in times
    ]  # fmt: skip
    even = OwnMaterial(
        base="S355", density_kg_m3=DENSITY,
        tables=MaterialTables(conductivity_W_mK=[[20, CONDUCTIVITY]],
                              specific_heat_J_kgK=[[20, HEAT]]),
    )  # fmt: skip
    case = case_of(
        LineHeat(flame="torch", face="top", path_mm=[[45, 50], [105, 50]], speed_mm_s=6),
        workpiece=Plate(length_mm=160, width_mm=100, thickness_mm=8, material="even"),
        materials={"even": even},
        mesh=Mesh(size_at_heat_mm=5, size_away_mm=16, layers=3),
        surroundings=Surroundings(film_W_m2K=0, emissivity=0),
        flames={"torch": Flame(power_kW=2.0, radius_mm=12)},
        solve=Solve(),
    )
    fit = fit_flame(case, read(places, times, measured))
    assert fit.case_values["power_kW"] == pytest.approx(2.4, rel=0.02)
    assert fit.case_values["radius_mm"] == pytest.approx(13.0, rel=0.03)
    assert (fit.fitted.lower < [2.4, 13.0]).all()
    assert (fit.fitted.upper > [2.4, 13.0]).all()
    assert fit.fitted.rms < 5.0  # of a rise of up to 300 K
    assert any("larger than the noise" in words for words in fit.fitted.verdict)


GAS = HotGasFlame(coefficient=1500.0, radius=0.018, gas_C=1600.0)


@cache
def gas_fit(seed, deviation, places=FAR_AND_NEAR, burning=8.0):
    case = case_of(replace(SPOT, time_s=burning))
    times = np.linspace(1.0, 1.5 * burning, 16)
    measured = noisy(simulated(case, GAS, places, times), deviation, seed)
    return fit_flame(case, read(places, times, measured), model="hot gas")


def test_hot_gas_from_a_surface_that_becomes_hot():
    """Coefficient and gas act apart as the surface becomes hot: found, but with a warning."""
    fit = gas_fit(3, 1.0)
    assert fit.fitted.names == ("film coefficient", "gas temperature")
    assert (fit.fitted.lower < [1500.0, 1600.0]).all()
    assert (fit.fitted.upper > [1500.0, 1600.0]).all()
    assert fit.case_values["radius_mm"] == pytest.approx(18.0)
    assert fit.case_values["film_W_m2K"] == pytest.approx(1500.0, rel=0.2)
    assert fit.fitted.correlation[0, 1] < -0.99
    assert not fit.fitted.told_apart
    assert "can hardly be told apart: noise alone leaves each within" in fit.fitted.verdict[0]


def test_hot_gas_from_cool_readings_alone_can_not_be_told_apart():
    """On a face that stays cool only coefficient times overheat is known, and that well."""
    fit = gas_fit(4, 2.0, places=((56, 32, 0), (56, 48, 0)), burning=4.0)
    assert not fit.fitted.told_apart
    assert "can't be told apart" in fit.fitted.verdict[0]
    assert fit.fitted.upper[1] / fit.fitted.lower[1] > 3.0
    values = fit.case_values
    overheat = values["film_W_m2K"] * (values["gas_C"] - 200.0)
    assert overheat == pytest.approx(1500.0 * 1400.0, rel=0.2)


def test_simulations_follow_the_values_smoothly():
    """Time steps don't jump with the flame: 1 % to both sides cancels within a quarter of a K."""
    case = case_of()
    base = simulated(case, TRUE)
    assert base.max() > 250.0
    for name in ("power", "radius"):
        more, less = (
            simulated(case, replace(TRUE, **{name: getattr(TRUE, name) * (1.0 + h)})) - base
            for h in (0.01, -0.01)
        )
        assert np.abs(more).max() > 1.0
        assert np.abs(more + less).max() < 0.25


def test_rows_in_any_order_give_the_same():
    fit = spot_fit()
    order = np.random.default_rng(9).permutation(fit.readings.times.size)
    mixed = Readings(
        places=fit.readings.places[order], times=fit.readings.times[order],
        temperatures=fit.readings.temperatures[order],
        labels=tuple(fit.readings.labels[row] for row in order),
    )  # fmt: skip
    again = fit_flame(case_of(), mixed)
    assert again.fitted.values == pytest.approx(fit.fitted.values, rel=1e-6)
    assert again.fitted.residuals == pytest.approx(fit.fitted.residuals[order], abs=1e-3)
    assert again.fitted.independent == pytest.approx(fit.fitted.independent)


def test_readings_after_an_insulated_part_has_become_even():
    case = case_of(surroundings=Surroundings(film_W_m2K=0, emissivity=0))
    times = np.array([4.0, 8.0, 60.0, 4000.0])
    late = simulated(case, TRUE, times=times)[-1]
    assert np.ptp(late) < 0.01
    mass = 0.064 * 0.064 * 0.006 * 7850.0
    assert mass * 450.0 * (late[0] - 20.0) < 2000.0 * 8.0 < mass * 650.0 * (late[0] - 20.0)


def test_what_to_doubt_is_said():
    body = case_of()
    places = ([32, 32, 0], [48, 32, 6.6])
    measured = noisy(simulated(body, TRUE, places), 2.0)
    measured[:, 1] = 11.0
    fit = fit_flame(case_of(), read(places, TIMES, measured))
    words = " ".join(fit.remarks)
    assert "shows 11 C in all of its 16 readings" in words
    assert "0.6 mm off the part" in words
    assert "the coldest reading then is 11 C" in words
    assert "coarse for a flame radius" in words


def faulty(case, **more):
    with pytest.raises(CaseError) as caught:
        fit_flame(case, spot_fit().readings, **more)
    return str(caught.value)


def test_a_case_that_is_no_trial_is_refused():
    assert "2 heats" in faulty(case_of(heats=[SPOT, SPOT]))
    driven = HeldLine(flame="torch", face="top", path_mm=[[16, 32], [48, 32]], target_C=500)
    assert "heats[0].target_C" in faulty(case_of(driven))
    assert "driven by temperature" in faulty(case_of(driven))
    with pytest.raises(OutOfRange, match='"absorbed", "hot gas"'):
        fit_flame(case_of(), spot_fit().readings, model="warm air")


def test_thermocouples_off_the_part_are_all_named():
    places = ([32, 32, 0], [32, 320, 0], [32, 32, 60])
    with pytest.raises(ReadingsError) as caught:
        fit_flame(case_of(), read(places, TIMES, np.full((16, 3), 50.0)))
    assert len(caught.value.faults) == 2
    assert caught.value.faults[0].startswith('row 17: thermocouple "place 2" at (32, 320, 0) mm')
    assert "y 0 to 64" in caught.value.faults[0]


def test_a_flame_of_several_jets_keeps_its_shape():
    head = Rows(rows=1, jets=3, pitch=0.01, row_distance=0.01, jet_radius=0.006)
    for shape, sized in (
        (head, replace(head, jet_radius=0.007)),
        (Ring(radius=0.02, width=0.006), Ring(radius=0.02, width=0.007)),
        (
            Twin(head=Gaussian(radius=0.006), distance=0.03, behind=False),
            Twin(head=Gaussian(radius=0.007), distance=0.03, behind=False),
        ),
    ):
        search = search_of(AbsorbedFlame(power=4000.0, shape=shape), "absorbed", 0.002)
        assert search.start == pytest.approx((4.0, 6.0))
        assert search.lower == pytest.approx((0.2, 3.0))
        assert search.flame(np.array([5.0, 7.0])) == AbsorbedFlame(power=5000.0, shape=sized)
    with pytest.raises(OutOfRange, match="another shape"):
        search_of(AbsorbedFlame(power=4000.0, shape=head), "hot gas")
    table = ByRadius(radii=(0.0, 0.02), values=(1.0, 0.0))
    with pytest.raises(OutOfRange, match="can't be fitted"):
        search_of(AbsorbedFlame(power=4000.0, shape=table), "absorbed")


def test_hot_gas_of_a_case_is_its_own_start():
    assert search_of(GAS, "hot gas").start == (1500.0, 1600.0)
    assert search_of(GAS, "absorbed").start == pytest.approx((1.985, 18.0), rel=1e-3)


def test_the_model_is_that_of_the_flame_unless_another_is_asked_for():
    gas = Flame(gas_C=1600, film_W_m2K=1500, radius_mm=18)
    case = case_of(flames={"torch": gas})
    measured = noisy(simulated(case, GAS), 2.0)
    fit = fit_flame(case, read(FAR_AND_NEAR, TIMES, measured))
    assert fit.model == "hot gas"
    assert fit.case_values["gas_C"] == pytest.approx(1600.0, rel=0.1)
    fitted = fit.fitted_case.flames["torch"]
    assert (fitted.gas_C, fitted.film_W_m2K) == tuple(fit.fitted.values[::-1])
    assert fitted.power_kW is None
    assert fit.efficiency is None
    assert spot_fit().model == "absorbed"


def test_a_nozzle_gets_its_efficiency():
    """Propane, 500 L/h: gross power by its heating value, net by the fit."""
    nozzle = Flame(fuel="propane", consumption_L_h=500)
    fit = replace(spot_fit(), case=case_of(flames={"torch": nozzle}))
    gross = nozzle_of(nozzle).gross_power / 1e3
    value, low, high = fit.efficiency
    assert value == pytest.approx(fit.fitted.values[0] / gross)
    assert low < value < high < 1.0
    fitted = fit.fitted_case.flames["torch"]
    assert (fitted.fuel, fitted.power_kW) == (None, pytest.approx(2.0, rel=0.02))
    assert spot_fit().efficiency is None


def test_a_field_of_spots_is_a_trial_too():
    """Two spots at once after each other: the second warms its own thermocouple later."""
    field = SpotField(
        flame="torch", face="top", from_mm=[16, 32], to_mm=[48, 32], spacing_mm=32, time_s=5,
        order="rows",
    )  # fmt: skip
    rise = simulated(case_of(field), TRUE, ([16, 32, 0], [48, 32, 0]), np.arange(1.0, 15.0)) - 20.0
    assert rise[4, 0] > 3.0 * rise[4, 1]
    assert rise[:, 1].argmax() > rise[:, 0].argmax() + 2


def test_places_in_a_skewed_mesh():
    """A linear field is read exactly, in hexes that are no boxes too."""
    mesh = plate_mesh(
        0.1, 0.08, 0.01, heated={"top": [[(0.05, 0.04)]]}, reach=0.02, size_at_heat=0.01,
        size_away=0.02, layers=2,
    )  # fmt: skip
    x, y, z = mesh.p
    skewed = replace(mesh, doflocs=np.array([x + 0.3 * y + 2.0 * y * x, y + 0.2 * z, z - 0.1 * x]))
    inside = np.random.default_rng(6).uniform([0, 0, 0], [0.1, 0.08, 0.01], (50, 3))
    u, v, w = inside.T
    places = np.array([u + 0.3 * v + 2.0 * v * u, v + 0.2 * w, w - 0.1 * u]).T
    field = skewed.p.T @ [3.0, -2.0, 5.0] + 1.0
    sampler = Sampler.of(skewed, places)
    assert sampler.at(field) == pytest.approx(places @ [3.0, -2.0, 5.0] + 1.0, abs=1e-9)
    assert sampler.off.max() < 1e-9
