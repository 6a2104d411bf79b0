"""Restrained bars: Satoh's closed forms, and tables against an integration in small steps."""

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.basics.table import Table
from flamefe.rules.bar import (
    one_sided_shortening,
    residual_bar_stress,
    spring_restraint,
    three_bar_restraint,
    upset_when_cold,
    upset_when_hot,
    yield_temperature_rise,
)
from flamefe.rules.barcycle import BarCycle, restrained_bar_cycle

STEEL = {"youngs_modulus": 210e9, "expansion": 12e-6}


@pytest.mark.parametrize(
    ("yield_MPa", "modulus_GPa", "expansion", "rise_K", "reversed_K"),
    # Satoh's bar with constant properties; the numbers are sy / (E alpha), derived.
    [
        (235, 210, 12e-6, 93.3, 186.5),
        (355, 210, 12e-6, 140.9, 281.7),
        (460, 210, 12e-6, 182.5, 365.1),
        (690, 210, 12e-6, 273.8, 547.6),
        (210, 200, 16.5e-6, 63.6, 127.3),
        (260, 70, 23e-6, 161.5, 323.0),
        (125, 70, 23e-6, 77.6, 155.3),
    ],
)
def test_first_yield_and_full_reversal(yield_MPa, modulus_GPa, expansion, rise_K, reversed_K):
    numbers = (yield_MPa * 1e6, modulus_GPa * 1e9, expansion)
    assert yield_temperature_rise(*numbers) == pytest.approx(rise_K, abs=0.05)
    assert residual_bar_stress(rise_K - 0.1, *numbers) == 0.0
    assert residual_bar_stress(reversed_K + 0.1, *numbers) == yield_MPa * 1e6
    assert residual_bar_stress(reversed_K - 0.2, *numbers) < yield_MPa * 1e6


def marched(
    peak_C: float,
    strain: Table,
    young: Table,
    strength: Table,
    restraint: float,
    *,
    steps: int = 40_000,
) -> tuple[float, float]:
    """Stress and plastic strain after up to the peak and back, by many small increments."""
    spring = (1 - restraint) / (restraint * float(young(20.0)))
    way = np.concatenate((np.linspace(20, peak_C, steps), np.linspace(peak_C, 20, steps)[1:]))
    compliance = 1 / young(way) + spring
    expansion, limit = strain(way), strength(way)
    plastic = stress = 0.0
    for c, e, s in zip(compliance, expansion, limit, strict=True):
        stress = -(e + plastic) / c
        if abs(stress) > s:
            stress = np.copysign(s, stress)
            plastic = -(stress * c + e)
    return stress, plastic


@pytest.mark.parametrize("restraint", [0.3, 1.0])
@pytest.mark.parametrize("rise", [100.0, 250.0, 600.0])
def test_constant_properties_against_small_steps(restraint, rise):
    strain = Table(temperature_C=(20, 1020), values=(0, 12e-3), source="demo")
    young = Table.constant(210e9, source="demo")
    strength = Table.constant(355e6, source="demo")
    stress, plastic = marched(20 + rise, strain, young, strength, restraint, steps=2000)
    numbers = (rise, 355e6, 210e9, 12e-6, restraint)
    assert residual_bar_stress(*numbers) == pytest.approx(stress, abs=1.0)
    assert -upset_when_cold(*numbers) == pytest.approx(plastic, abs=1e-12)
    exact = restrained_bar_cycle(
        20 + rise,
        thermal_strain=strain,
        youngs_modulus=young,
        yield_stress=strength,
        restraint=restraint,
    )
    assert exact.residual_stress == pytest.approx(stress, abs=1.0)
    assert -exact.hot_plastic_strain == pytest.approx(upset_when_hot(*numbers), abs=1e-12)


def test_one_sided_and_frames():
    assert one_sided_shortening(0.5, 100.0, 355e6, **STEEL) == 0.0
    hot = upset_when_hot(400.0, 355e6, **STEEL, restraint=0.8)
    assert one_sided_shortening(0.5, 400.0, 355e6, **STEEL, restraint=0.8) == 0.5 * hot
    # Two side bars, each half the middle one's stiffness, hold it as a spring of its own stiffness.
    assert three_bar_restraint(1e-4, 2e-4) == spring_restraint(1.0, 1.0) == 0.5


def structural_steel(yield_MPa: float, factors: str) -> dict[str, Table]:
    """EN 1993-1-2 carbon steel: elongation 20 to 750 C, and factors linear between their points."""
    warm = np.arange(20.0, 701.0)
    elongation = 1.2e-5 * warm + 0.4e-8 * warm**2 - 2.416e-4
    points = (20, 100, 200, 300, 400, 500, 600, 700)
    yields = {
        "2 % stress": (1, 1, 1, 1, 1, 0.78, 0.47, 0.23),
        "proportional limit": (1, 1, 0.807, 0.613, 0.42, 0.36, 0.18, 0.075),
    }[factors]
    stiff = (1, 1, 0.9, 0.8, 0.7, 0.6, 0.31, 0.13)
    source = "EN 1993-1-2:2005, Table 3.1 and 3.4.1.1"
    return {
        "thermal_strain": Table(
            temperature_C=tuple(warm), values=tuple(elongation - elongation[0]), source=source
        ),
        "youngs_modulus": Table(
            temperature_C=points, values=tuple(210e9 * v for v in stiff), source=source
        ),
        "yield_stress": Table(
            temperature_C=points, values=tuple(yield_MPa * 1e6 * v for v in yields), source=source
        ),
    }


@pytest.mark.parametrize(
    ("yield_MPa", "first_C"), [(235, 110.3), (355, 161.5), (460, 210.6), (690, 342.5)]
)
def test_first_yield_with_tables(yield_MPa, first_C):
    """Derived from the tables of EN 1993-1-2 (2 % stress as yield)."""
    found = restrained_bar_cycle(400.0, **structural_steel(yield_MPa, "2 % stress"))
    assert found.first_yield_C == pytest.approx(first_C, abs=0.05)


@pytest.mark.parametrize(
    ("factors", "restraint", "peak_C", "residual_MPa", "plastic_thousandths"),
    # Derived from the tables of EN 1993-1-2 for S355, elastic and perfectly plastic.
    [
        ("2 % stress", 1.0, 200, 92.4, -0.4401),
        ("2 % stress", 1.0, 250, 214.1, -1.0196),
        ("2 % stress", 1.0, 300, 337.1, -1.6053),
        ("2 % stress", 1.0, 400, 355.0, -1.6905),
        ("2 % stress", 1.0, 600, 355.0, -1.6905),
        ("proportional limit", 1.0, 150, 8.5, None),
        ("proportional limit", 1.0, 200, 168.5, None),
        ("proportional limit", 1.0, 250, 335.2, None),
        ("proportional limit", 1.0, 300, 355.0, None),
        ("2 % stress", 0.25, 400, 0.0, 0.0),
        ("2 % stress", 0.25, 600, 181.2, -3.4518),
        ("2 % stress", 0.5, 300, 0.0, 0.0),
        ("2 % stress", 0.5, 400, 114.8, -1.0930),
        ("2 % stress", 0.5, 600, 355.0, -3.3810),
        ("2 % stress", 0.75, 300, 164.1, -1.0418),
        ("2 % stress", 0.75, 400, 349.6, -2.2199),
        ("2 % stress", 0.75, 600, 355.0, -2.2540),
    ],
)
def test_cycle_with_tables(factors, restraint, peak_C, residual_MPa, plastic_thousandths):
    tables = structural_steel(355, factors)
    found = restrained_bar_cycle(float(peak_C), **tables, restraint=restraint)
    assert found.residual_stress / 1e6 == pytest.approx(residual_MPa, abs=0.06)
    if plastic_thousandths is not None:
        assert found.plastic_strain * 1e3 == pytest.approx(plastic_thousandths, abs=1e-4)


@pytest.mark.parametrize("restraint", [0.3, 0.75, 1.0])
@pytest.mark.parametrize("peak_C", [330.0, 470.0, 680.0])
def test_cycle_with_tables_against_small_steps(restraint, peak_C):
    tables = structural_steel(355, "proportional limit")
    stress, plastic = marched(peak_C, *tables.values(), restraint)
    found = restrained_bar_cycle(peak_C, **tables, restraint=restraint)
    assert found.residual_stress == pytest.approx(stress, abs=2e4)
    assert found.plastic_strain == pytest.approx(plastic, abs=2e-7)


def test_greatest_upset_may_lie_between_the_points_and_below_the_peak():
    """A bar that stiffens again beyond 350 C is upset most before it is hottest."""
    tables = {
        "thermal_strain": Table(temperature_C=(20, 620), values=(0, 3e-3), source="demo"),
        "youngs_modulus": Table(
            temperature_C=(20, 320, 620), values=(200e9, 60e9, 70e9), source="demo"
        ),
        "yield_stress": Table(
            temperature_C=(20, 320, 620), values=(100e6, 100e6, 290e6), source="demo"
        ),
    }
    stress, plastic = marched(620.0, *tables.values(), 1.0, steps=200_000)
    found = restrained_bar_cycle(620.0, **tables)
    assert found.plastic_strain < -1e-5
    assert found.plastic_strain == pytest.approx(plastic, abs=1e-9)
    assert found.residual_stress == pytest.approx(stress, rel=1e-4)


def test_bar_held_one_sided_with_tables():
    tables = structural_steel(355, "2 % stress")
    both = restrained_bar_cycle(600.0, **tables)
    one = restrained_bar_cycle(600.0, **tables, one_sided=True)
    assert isinstance(one, BarCycle)
    assert one.residual_stress == 0.0
    assert one.plastic_strain == both.hot_plastic_strain < both.plastic_strain
    assert both.hot_stress == pytest.approx(-0.47 * 355e6)


def test_what_makes_no_sense_is_refused():
    tables = structural_steel(355, "2 % stress")
    with pytest.raises(OutOfRange, match="at least 20 C"):
        restrained_bar_cycle(10.0, **tables)
    with pytest.raises(OutOfRange, match="restraint"):
        restrained_bar_cycle(300.0, **tables, restraint=1.2)
    with pytest.raises(OutOfRange, match="restraint is 0"):
        yield_temperature_rise(355e6, 210e9, 12e-6, 0.0)
    falling = Table(temperature_C=(20, 300, 400), values=(0, 4e-3, 3e-3), source="demo")
    with pytest.raises(OutOfRange, match="falls"):
        restrained_bar_cycle(400.0, **{**tables, "thermal_strain": falling})
