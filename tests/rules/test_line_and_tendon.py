"""Line heats: energy bounds, two layers, Satoh and Terasaki, tendon force."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import minimize_scalar
from scipy.special import k0e

from flamefe.basics.errors import OutOfRange
from flamefe.rules.line import (
    BREAK_J_PER_MM3,
    LINEAR_FACTOR,
    SQUARE_FACTOR,
    angular_change_of_upset,
    greatest_angular_change,
    greatest_transverse_shrinkage,
    satoh_terasaki_shrinkage,
    two_layer_angular_change,
    upset_area,
)
from flamefe.rules.tendon import (
    PEAK_FACTOR,
    TENDON_FACTOR,
    sag,
    tendon_curvature,
    tendon_force,
    tendon_shortening,
    yielding_half_width,
)

STEEL = {"expansion": 12e-6, "volumetric_heat": 7850 * 600.0}


@pytest.mark.parametrize(
    ("thickness_mm", "shrinkage_mm", "angle_mrad"),
    # Heat balance, derived; the angle is Vollertsen's two-layer formula (1994, factor 3 from
    # memory). 0.5 kJ/mm.
    [(10, 0.127, 38.2), (12, 0.106, 26.5), (16, 0.080, 14.9), (20, 0.064, 9.6)],
)
def test_heat_balance(thickness_mm, shrinkage_mm, angle_mrad):
    numbers = {"heat_per_length": 5e5, "thickness": thickness_mm * 1e-3, **STEEL}
    assert greatest_transverse_shrinkage(**numbers) * 1e3 == pytest.approx(shrinkage_mm, abs=5e-4)
    assert two_layer_angular_change(**numbers) * 1e3 == pytest.approx(angle_mrad, abs=0.06)
    assert greatest_angular_change(**numbers) == pytest.approx(
        2 * two_layer_angular_change(**numbers)
    )


def test_angular_change_is_that_of_the_layers_by_plane_bending():
    """A free section with an upset e(z) turns by the integral of e z, over the second moment."""
    thickness, area = 0.012, upset_area(5e5, **STEEL)
    density = area / (0.5 * thickness)  # in the upper half, upset by width of the strip
    moment, _ = quad(lambda z: density * z, 0, 0.5 * thickness)
    assert two_layer_angular_change(5e5, thickness, **STEEL) == pytest.approx(
        moment / (thickness**3 / 12)
    )
    assert angular_change_of_upset(area, -0.002, thickness) < 0
    with pytest.raises(OutOfRange, match="height"):
        angular_change_of_upset(area, 0.007, thickness)


@pytest.mark.parametrize(
    ("heat", "shrinkages_mm"),
    # Satoh and Terasaki 1976 (coefficients from memory), evaluated by hand; h = 6 to 20 mm.
    [
        (250, (0.048, 0.023, 0.012, 0.007, 0.003, 0.001)),
        (500, (0.097, 0.072, 0.046, 0.027, 0.011, 0.006)),
        (1000, (0.193, 0.145, 0.116, 0.097, 0.045, 0.023)),
        (2000, (0.387, 0.290, 0.232, 0.193, 0.145, 0.093)),
    ],
)
def test_satoh_terasaki(heat, shrinkages_mm):
    for thickness_mm, expected in zip((6, 8, 10, 12, 16, 20), shrinkages_mm, strict=True):
        found = satoh_terasaki_shrinkage(heat * 1e3, thickness_mm * 1e-3) * 1e3
        assert found == pytest.approx(expected, abs=6e-4)


def test_satoh_terasaki_is_continuous_and_below_the_heat_balance():
    at_break = BREAK_J_PER_MM3
    assert SQUARE_FACTOR * at_break**2 == pytest.approx(LINEAR_FACTOR * at_break, rel=1e-3)
    for heat in (1e5, 5e5, 2e6):
        bound = greatest_transverse_shrinkage(heat, 0.010, **STEEL)
        assert satoh_terasaki_shrinkage(heat, 0.010) < bound


def test_tendon_factor_by_summing_held_fibres():
    """Okerblom and Vinokurov's 0.335 (from memory), here by integration of Satoh's bars."""
    heat, thickness, modulus, strength = 5e5, 0.006, 210e9, 355e6
    expansion, volumetric = STEEL.values()
    first = strength / (modulus * expansion)

    def upset(y: float) -> float:
        rise = PEAK_FACTOR * heat / (2 * volumetric * thickness * y)
        return min(max(expansion * (rise - first), 0.0), strength / modulus)

    half = yielding_half_width(heat, expansion, volumetric, modulus, strength, thickness)
    area = 2 * thickness * quad(upset, 1e-9, half, points=[half / 2], limit=200)[0]
    assert modulus * area == pytest.approx(
        tendon_force(heat, expansion, volumetric, modulus), rel=1e-6
    )
    assert pytest.approx(0.33544, abs=5e-6) == TENDON_FACTOR


def test_peak_factor_of_an_instantaneous_line_source():
    """Peak over time at the distance y of q'/(4 pi k t h) exp(-y^2/(4 D t)), Carslaw-Jaeger."""
    # For an instantaneous plane source across y: q'/(rho c h) exp(-y^2/4Dt) / sqrt(4 pi D t).
    found = minimize_scalar(
        lambda s: -np.exp(-1 / (4 * s)) / np.sqrt(4 * np.pi * s),
        bounds=(0.01, 10),
        method="bounded",
    )
    assert -found.fun == pytest.approx(PEAK_FACTOR / 2, rel=1e-9)


def test_speed_parameter_from_the_moving_source():
    """Rosenthal's moving line source in a thin plate: within 5.3 % from v y / (2 D) = 2 on."""
    for parameter, excess in ((1.0, 0.160), (2.0, 0.0528), (5.0, 0.0097)):
        behind = -np.linspace(0, 3 * parameter**2 + 20, 400_001)
        radius = np.hypot(behind, parameter)
        moving = (np.exp(-behind - radius) * k0e(radius)).max()
        instantaneous = np.pi / (2 * parameter) * PEAK_FACTOR
        assert instantaneous / moving - 1 == pytest.approx(excess, abs=5e-4)


@pytest.mark.parametrize(
    ("expansion", "volumetric_heat", "modulus", "newtons"),
    # N per J/mm, derived; White, Leggatt and Dwight 1980 give 200 for steel (from memory).
    [
        (12e-6, 7850 * 500, 210e9, 215),
        (14e-6, 7850 * 650, 210e9, 193),
        (16.5e-6, 7900 * 500, 200e9, 280),
        (23e-6, 2700 * 900, 70e9, 222),
    ],
)
def test_tendon_force_per_heat(expansion, volumetric_heat, modulus, newtons):
    found = tendon_force(1000.0, expansion, volumetric_heat, modulus)
    assert found == pytest.approx(newtons, abs=0.6)


def test_tendon_on_a_rolled_beam():
    """IPE 200 of 6 m, 0.6 kJ/mm net along one flange, derived."""
    area, second_moment, modulus = 28.5e-4, 1943e-8, 210e9
    force = tendon_force(6e5, 12e-6, 7850 * 500, modulus)
    curvature = tendon_curvature(force, 0.1, modulus, second_moment)
    assert force / 1e3 == pytest.approx(129, abs=0.5)
    assert curvature * 1e3 == pytest.approx(3.17, abs=0.005)
    assert sag(curvature, 6.0) * 1e3 == pytest.approx(14.3, abs=0.06)
    assert tendon_shortening(force, 6.0, modulus, area) * 1e3 == pytest.approx(1.30, abs=0.006)


def test_sag_of_a_bar_curved_in_its_middle():
    """Against the deflection found by integrating the curvature twice."""
    curvature, heated, length = 2e-3, 0.8, 2.0
    x = np.linspace(0, length, 200_001)
    curved = np.where(np.abs(x - length / 2) <= heated / 2, curvature, 0.0)
    slope = np.concatenate(([0], np.cumsum(0.5 * (curved[1:] + curved[:-1]) * np.diff(x))))
    rise = np.concatenate(([0], np.cumsum(0.5 * (slope[1:] + slope[:-1]) * np.diff(x))))
    chord = rise[-1] * x / length
    assert (chord - rise)[100_000] == pytest.approx(sag(curvature, heated, length), rel=1e-4)
    with pytest.raises(OutOfRange, match="heated length"):
        sag(curvature, 2.1, 2.0)
