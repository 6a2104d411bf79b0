"""Wedge heats and spot heats against tables worked by hand and against integration."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from flamefe.basics.errors import ExtrapolationWarning, OutOfRange
from flamefe.rules import spot, wedge

KSI = 6.894757e6
UPSET_A36 = 7.355e-3


@pytest.mark.parametrize(
    ("fahrenheit", "upset_36", "upset_50"),
    # Curves of United States Steel / Brockenbrough 1970 (from memory), worked by hand, 1e-3.
    [
        (800, 3.760, 3.263),
        (900, 4.518, 4.015),
        (1000, 5.348, 4.860),
        (1100, 6.273, 5.829),
        (1200, 7.355, 7.007),
    ],
)
def test_upset_strain_curves(fahrenheit, upset_36, upset_50):
    peak_C = (fahrenheit - 32) / 1.8
    for ksi, expected in ((36, upset_36), (50, upset_50)):
        assert wedge.us_steel_upset_strain(peak_C, ksi * KSI) * 1e3 == pytest.approx(
            expected, abs=6e-4
        )


@pytest.mark.parametrize("peak_C", [400.0, 651.0, 800.0])
def test_upset_curves_warn_outside(peak_C):
    with pytest.warns(ExtrapolationWarning, match="427 to 650"):
        wedge.us_steel_upset_strain(peak_C, 36 * KSI)


@pytest.mark.parametrize(
    ("moment", "rotations"),
    # Avent, Mukai, Robinson 2000 (form and constants from memory), A36 at 649 C, mrad,
    # 20, 30, 45, 60, 82 degrees.
    [
        (0.00, (1.02, 1.53, 2.28, 3.02, 4.05)),
        (0.16, (1.57, 2.35, 3.50, 4.63, 6.21)),
        (0.25, (1.88, 2.81, 4.19, 5.53, 7.43)),
        (0.33, (2.15, 3.22, 4.80, 6.34, 8.51)),
        (0.50, (2.73, 4.09, 6.09, 8.05, 10.81)),
    ],
)
def test_published_mean(moment, rotations):
    for degrees, expected in zip((20, 30, 45, 60, 82), rotations, strict=True):
        found = wedge.published_mean_rotation(math.radians(degrees), UPSET_A36, moment)
        assert found * 1e3 == pytest.approx(expected, abs=0.011)


def test_published_mean_warns_outside_its_moments():
    with pytest.warns(ExtrapolationWarning, match="moment"):
        assert wedge.published_mean_rotation(0.5, UPSET_A36, -0.4) == 0.0
    with pytest.warns(ExtrapolationWarning, match="moment"):
        wedge.published_mean_rotation(0.5, UPSET_A36, 0.6)


@pytest.mark.parametrize(
    ("degrees", "rotation"), [(20, 2.59), (30, 3.94), (45, 6.09), (60, 8.49), (82, 12.79)]
)
def test_perfect_confinement(degrees, rotation):
    """Perfect confinement, Holt's idea (from memory), derived; A36 at 649 C, mrad."""
    angle = math.radians(degrees)
    assert wedge.confined_rotation(angle, UPSET_A36) * 1e3 == pytest.approx(rotation, abs=0.006)
    assert wedge.plane_section_rotation(angle, UPSET_A36, 1.0) == pytest.approx(
        wedge.confined_rotation(angle, UPSET_A36)
    )


def test_published_and_confined_meet():
    """At 45 degrees and half the plastic moment both give the same to 0.1 %."""
    angle = math.radians(45)
    assert wedge.published_mean_rotation(angle, UPSET_A36, 0.5) == pytest.approx(
        wedge.confined_rotation(angle, UPSET_A36), rel=1e-3
    )


@pytest.mark.parametrize(
    ("ratio", "rotation", "shortening", "mrad", "millimetres"),
    # Derived; 45 degrees, depth 100 mm, upset 7.355e-3.
    [
        (0.5, 1.0, 0.25, 3.05, 0.076),
        (2 / 3, 1.481, 0.444, 4.51, 0.135),
        (0.75, 1.6875, 0.5625, 5.14, 0.171),
        (1.0, 2.0, 1.0, 6.09, 0.305),
    ],
)
def test_plane_sections(ratio, rotation, shortening, mrad, millimetres):
    angle, depth = math.radians(45), 0.1
    half = math.tan(angle / 2)
    found = wedge.plane_section_rotation(angle, UPSET_A36, ratio)
    loss = wedge.plane_section_shortening(angle, UPSET_A36, ratio, depth)
    assert found / (UPSET_A36 * half) == pytest.approx(rotation, abs=6e-4)
    assert loss / (UPSET_A36 * half * depth) == pytest.approx(shortening, abs=6e-4)
    assert found * 1e3 == pytest.approx(mrad, abs=0.006)
    assert loss * 1e3 == pytest.approx(millimetres, abs=6e-4)
    # The same by integration of the upset over the section, y from mid-depth to the base.
    apex = depth / 2 - ratio * depth

    def heated_width(y: float) -> float:
        return 2 * half * (y - apex)

    turn, _ = quad(lambda y: UPSET_A36 * heated_width(y) * y, apex, depth / 2)
    pull, _ = quad(lambda y: UPSET_A36 * heated_width(y), apex, depth / 2)
    assert found == pytest.approx(turn / (depth**3 / 12), rel=1e-9)
    assert loss == pytest.approx(pull / depth, rel=1e-9)


def test_number_of_heats():
    assert wedge.heats_needed(0.1, 4.2e-3) == 24
    assert wedge.heats_needed(0.1, 0.05) == 2
    with pytest.raises(OutOfRange):
        wedge.heats_needed(0.1, 0.0)


def test_wedge_refuses_impossible_numbers():
    with pytest.raises(OutOfRange, match="depth ratio"):
        wedge.plane_section_rotation(0.5, 7e-3, 1.2)
    with pytest.raises(OutOfRange, match="upset"):
        wedge.confined_rotation(0.5, 7.0)


S355 = {"yield_stress": 355e6, "youngs_modulus": 210e9, "expansion": 12e-6}


@pytest.mark.parametrize(
    ("ratio", "rise_K", "pressure", "residual", "edge"),
    # Tresca, derived; pressure and residual tension MPa, movement of the edge by radius 1e-3.
    [
        (1.0, 140.9, 177.5, 0.0, 1.0988),
        (1.5, 211.3, 249.5, 16.8, 1.7041),
        (2.0, 281.7, 300.5, 54.5, 2.3792),
    ],
)
def test_hot_spot(ratio, rise_K, pressure, residual, edge):
    assert spot.heat_ratio(rise_K, **S355) == pytest.approx(ratio, abs=5e-4)
    assert spot.hot_spot_pressure(ratio, 355e6) / 1e6 == pytest.approx(pressure, abs=0.06)
    assert spot.residual_spot_stress(ratio, 355e6) / 1e6 == pytest.approx(residual, abs=0.06)
    assert spot.spot_edge_movement(1.0, ratio, 355e6, 210e9, 0.3) * 1e3 == pytest.approx(
        edge, abs=1e-4
    )


@pytest.mark.parametrize("ratio", [1.2, 2.0, 2.6])
def test_ring_by_integration(ratio):
    """Solve the yielding ring numerically: equilibrium, Tresca, and no plastic change of area."""
    strength, stiffness, poisson = 355e6, 210e9, 0.3
    free = ratio * strength / stiffness

    def gap(outer: float) -> float:
        """Movement of the disk's edge by the ring less that by the disk, radius of disk 1."""
        radius = np.linspace(outer, 1.0, 4001)
        radial = -0.5 * strength * np.ones_like(radius)
        for i in range(4000):  # d(radial)/dr = sy / r by the midpoint rule
            step = radius[i + 1] - radius[i]
            radial[i + 1] = radial[i] + step * strength / (radius[i] + 0.5 * step)
        both = 2 * radial + strength
        area = (1 - poisson) / stiffness * both * radius  # d(u r)/dr, elastic alone
        moved = (1 + poisson) * strength / (2 * stiffness) * outer**2
        moved += float(np.trapezoid(area, radius))
        pressure = -radial[-1]
        return moved - (free - (1 - poisson) * pressure / stiffness)

    outer = brentq(gap, 1.0 + 1e-9, 3.0, xtol=1e-12)
    assert spot.yielded_radius(1.0, ratio) == pytest.approx(outer, rel=1e-6)
    pressure = strength * (0.5 + math.log(outer))
    assert spot.hot_spot_pressure(ratio, strength) == pytest.approx(pressure, rel=1e-6)


def test_limits_of_the_hot_spot():
    assert spot.yielded_radius(1.0, 0.5) == 1.0
    assert spot.yielded_radius(1.0, 9.0) == pytest.approx(1.6487, abs=5e-5)
    assert spot.hot_spot_pressure(9.0, 355e6) == 355e6
    assert spot.spot_upset(382.8, **S355) == 0.0
    assert spot.spot_upset(383.1, **S355) > 0.0
    assert spot.spot_upset(563.5, **S355) * 1e3 == pytest.approx(2.167, abs=6e-4)
    with pytest.raises(OutOfRange, match="above 2 "):
        spot.residual_spot_stress(2.01, 355e6)
    with pytest.raises(OutOfRange, match="heat ratio"):
        spot.spot_edge_movement(1.0, 3.0, 355e6, 210e9, 0.3)


def test_area_lost_by_a_spot_in_a_free_disk():
    """A free disk with an upset core, Lame's solution by two linear equations."""
    core, rim, upset, poisson, stiffness = 0.015, 0.3, 1e-3, 0.3, 210e9
    # Outside u = A r + B / r; radial stress E/(1-nu^2) ((1+nu) A - (1-nu) B / r^2).
    # Inside u = C r, stress E/(1-nu) (C + upset).
    plane = stiffness / (1 - poisson**2)
    equations = np.array(
        [
            [(1 + poisson), -(1 - poisson) / rim**2, 0.0],
            [core, 1 / core, -core],
            [(1 + poisson), -(1 - poisson) / core**2, -(1 + poisson)],
        ]
    )
    free = np.array([0.0, 0.0, (1 + poisson) * upset])
    a, b, c = np.linalg.solve(equations, free)
    lost = -2 * math.pi * rim * (a * rim + b / rim)
    assert spot.spot_area_loss(core, upset) == pytest.approx(lost, rel=1e-9)
    far = 0.05
    assert spot.pull_outside_spot(core, upset, poisson, far) == pytest.approx(
        -(a * far + b / far), rel=0.02
    )
    tension = plane * (1 + poisson) * (c + upset)
    assert tension == pytest.approx(stiffness * upset / 2, rel=0.01)


def test_spots_for_a_buckle():
    """600 x 600 panel, 6 mm deep; spots of 30 mm diameter at 650 C (derived)."""
    excess = spot.buckle_area(0.006, 0.6, 0.6)
    assert excess * 1e6 == pytest.approx(88.8, abs=0.05)
    x, y = np.meshgrid(np.linspace(0, 0.6, 801), np.linspace(0, 0.6, 801))
    w_x = 0.006 * math.pi / 0.6 * np.cos(math.pi * x / 0.6) * np.sin(math.pi * y / 0.6)
    w_y = 0.006 * math.pi / 0.6 * np.sin(math.pi * x / 0.6) * np.cos(math.pi * y / 0.6)
    area = np.trapezoid(
        np.trapezoid(np.sqrt(1 + w_x**2 + w_y**2) - 1, dx=6e-1 / 800), dx=6e-1 / 800
    )
    assert excess == pytest.approx(float(area), rel=1e-3)
    upset = 9.25e-3 - math.e * 355e6 / 210e9
    each = spot.spot_area_loss(0.015, upset)
    assert each * 1e6 == pytest.approx(6.6, abs=0.05)
    assert 13 < excess / each < 14


def test_spot_refuses_impossible_numbers():
    with pytest.raises(OutOfRange, match="inside the spot"):
        spot.pull_outside_spot(0.015, 1e-3, 0.3, 0.010)
    with pytest.raises(OutOfRange, match="upset"):
        spot.spot_area_loss(0.015, -1e-3)
    with pytest.raises(OutOfRange, match="temperature rise"):
        spot.heat_ratio(-5.0, **S355)
