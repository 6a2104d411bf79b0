"""The quick models of a passing and a standing flame against closed forms and the 3-D engine."""

from math import atan, pi, sqrt
from pathlib import Path

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.heating.conduction import Conductor
from flamefe.heating.flame import AbsorbedFlame, GaussianFlame, HotGasFlame
from flamefe.heating.march import collected, heat_along
from flamefe.heating.passing import WidePlate, extent_of, passing
from flamefe.heating.shape import Gaussian, Ring, Rows, Twin
from flamefe.heating.standing import standing
from flamefe.study.air_round import coolings_of
from flamefe.study.case import BandHeat, Case, Flame, LineHeat, Mesh, Plate, SpotHeat
from flamefe.study.case_flames import flame_of
from flamefe.study.parts import body_of, material_of
from flamefe.study.phases import phases_of
from flamefe.workpiece.own import own_material
from flamefe.workpiece.standard import material

CONDUCTIVITY, CAPACITY = 40.0, 7850.0 * 600.0


@pytest.fixture(scope="module")
def constant():
    return own_material(
        name="constant",
        tables={
            "conductivity_W_mK": [[20, CONDUCTIVITY]],
            "specific_heat_J_kgK": [[20, 600]],
            "thermal_strain": [[20, 0], [1000, 0.012]],
            "youngs_modulus_GPa": [[20, 210]],
            "poisson": [[20, 0.3]],
            "yield_MPa": [[20, 355]],
        },
        density_kg_m3=7850,
        heating_limit_C=650,
    )


def test_standing_flame_on_a_thick_plate(constant):
    """Gaussian on a half space: P / (pi^1.5 k R) atan(sqrt(4 D t) / R), derived."""
    plate = WidePlate(material=constant, thickness=0.2, film=0.0, emissivity=0.0)
    found = standing(
        GaussianFlame(power=4000.0, radius=0.015), plate, longest=30.0, until=5000.0, depth=0.0
    )
    for time in (1.0, 5.0, 10.0, 30.0):
        reach = sqrt(4.0 * CONDUCTIVITY / CAPACITY * time) / 0.015
        rise = 4000.0 / (pi**1.5 * CONDUCTIVITY * 0.015) * atan(reach)
        assert found.at(time, 0.0) - 20.0 == pytest.approx(rise, rel=0.02)
    # and the time comes back from the temperature
    assert found.reaches(found.at(7.0, 0.0), 0.0) == pytest.approx(7.0, abs=0.05)


def test_passing_flame_on_a_thin_plate_leaves_the_rise_of_a_line_source(constant):
    """Far behind on a thin plate: q' / (h sqrt(4 pi k rho c t)), with the flame's width as a head
    start of R^2 / (4 D) (Carslaw and Jaeger, instantaneous plane source, derived)."""
    thickness, speed, power, radius = 0.003, 0.02, 3000.0, 0.012
    plate = WidePlate(material=constant, thickness=thickness, film=0.0, emissivity=0.0)
    found = passing(GaussianFlame(power=power, radius=radius), plate, speed=speed)
    # at its peak the back has had all the heat above it and spread by the flame's width alone
    per_length = power / speed
    rise = per_length / (thickness * CAPACITY * sqrt(pi) * radius)
    assert 0.80 * rise < found.at(thickness) - 20.0 < rise
    assert found.at(0.0) > found.at(thickness)


def simulated(heat, flame, thickness=12.0):
    """Peaks by depth under the middle of the way in the 3-D engine."""
    case = Case(
        title="check of the quick model",
        workpiece=Plate(length_mm=300, width_mm=240, thickness_mm=thickness, material="S355"),
        mesh=Mesh(size_at_heat_mm=5, size_away_mm=25, layers=6),
        flames={"torch": flame},
        heats=[heat],
    )
    body, _ = body_of(case, material_of(case), Path())
    conductor = Conductor(body, coolings_of(case, body))
    history = collected(list(heat_along(conductor, phases_of(case, body)[:1], ambient=20.0)))
    points = body.points
    middle = points[np.abs(points[:, 0] - 0.15).argmin(), 0]
    side = points[np.abs(points[:, 1] - 0.12).argmin(), 1]
    here = (points[:, 0] == middle) & (points[:, 1] == side)
    return 1e-3 * thickness - points[here, 2], history.peak[here]


PATH = [[50, 120], [250, 120]]


@pytest.mark.parametrize(
    ("flame", "speed", "weave", "allowed"),
    [
        (Flame(power_kW=4, radius_mm=18), 6.0, 0.0, 0.04),
        (Flame(power_kW=2.5, radius_mm=18), 2.5, 0.0, 0.06),
        (Flame(gas_C=2200, film_W_m2K=1500, radius_mm=18), 4.0, 0.0, 0.05),
        (Flame(power_kW=5, radius_mm=14, head="twin", twin_distance_mm=36), 6.0, 0.0, 0.05),
        (Flame(power_kW=5, radius_mm=18), 4.0, 40.0, 0.05),
    ],
)
def test_passing_flame_against_the_engine(flame, speed, weave, allowed):
    plate = WidePlate(material=material("S355"), thickness=0.012)
    found = passing(flame_of(flame), plate, speed=1e-3 * speed, weave=1e-3 * weave)
    assert found.peclet > 0.8
    heat = LineHeat(flame="torch", face="top", path_mm=PATH, speed_mm_s=speed)
    if weave:
        heat = BandHeat(
            flame="torch", face="top", from_mm=PATH[0], to_mm=PATH[1], width_mm=weave,
            speed_mm_s=speed,
        )  # fmt: skip
    depths, peaks = simulated(heat, flame)
    for depth, peak in zip(depths, peaks, strict=True):
        assert found.at(depth) - 20.0 == pytest.approx(peak - 20.0, rel=allowed)


def test_standing_flame_against_the_engine():
    plate = WidePlate(material=material("S355"), thickness=0.012)
    flame = Flame(power_kW=4, radius_mm=18)
    found = standing(flame_of(flame), plate, longest=12.0, until=2000.0, depth=0.0)
    heat = SpotHeat(flame="torch", face="top", at_mm=[150, 120], time_s=12)
    depths, peaks = simulated(heat, flame)
    for depth, peak in zip(depths, peaks, strict=True):
        assert found.at(12.0, depth) - 20.0 == pytest.approx(peak - 20.0, rel=0.04)


def test_both_faces_are_alike_in_depth():
    plate = WidePlate(material=material("S355"), thickness=0.01, both_faces=True)
    found = passing(GaussianFlame(power=3000.0, radius=0.018), plate, speed=0.005)
    assert found.at(0.0) == pytest.approx(found.at(0.01), rel=1e-3)
    assert found.at(0.005) < found.at(0.0)
    alone = WidePlate(material=material("S355"), thickness=0.01)
    one = passing(GaussianFlame(power=3000.0, radius=0.018), alone, speed=0.005)
    assert found.at(0.005) > one.at(0.01) + 50.0


def test_slow_torches_say_so():
    plate = WidePlate(material=material("S355"), thickness=0.012)
    slow = passing(GaussianFlame(power=1300.0, radius=0.018), plate, speed=0.0007)
    assert slow.peclet < 0.8


@pytest.mark.parametrize(
    ("flame", "reach"),
    [
        (GaussianFlame(power=1.0, radius=0.01), 0.027),
        (HotGasFlame(coefficient=500.0, radius=0.01, gas_C=2000.0), 0.027),
        (AbsorbedFlame(power=1.0, shape=Ring(radius=0.03, width=0.01)), 0.057),
        (
            AbsorbedFlame(
                power=1.0,
                shape=Rows(rows=1, jets=5, pitch=0.02, row_distance=0.02, jet_radius=0.01),
            ),
            0.067,
        ),
        (
            AbsorbedFlame(power=1.0, shape=Twin(head=Gaussian(radius=0.01), distance=0.06)),
            0.057,
        ),
    ],
)
def test_extent_of_a_flame(flame, reach):
    assert extent_of(flame) == pytest.approx(reach, abs=0.002)


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda p, f: passing(f, p, speed=0.0), "passes at 0 mm/s"),
        (lambda p, f: standing(f, p, longest=0.0, until=500.0, depth=0.0), "stands for 0 s"),
        (lambda p, f: standing(f, p, longest=1.0, until=500.0, depth=0.02), "20 mm deep"),
        (lambda p, f: WidePlate(material=p.material, thickness=0.0), "A plate of 0 mm"),
    ],
)
def test_what_cannot_be_is_refused(make, told):
    plate = WidePlate(material=material("S355"), thickness=0.012)
    with pytest.raises(OutOfRange, match=told):
        make(plate, GaussianFlame(power=1000.0, radius=0.01))
