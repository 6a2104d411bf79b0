"""Ready materials against the numbers of the standards.

Sources: EN 1993-1-2:2005 (3.4.1 and annex C; table 3.1, table C.1, k_0.2) and EN 1999-1-2:2007,
both at second hand, not in the standards themselves; rows "from memory" were not read anywhere.
"""

import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from flamefe.basics.errors import MaterialError, OutOfRange
from flamefe.workpiece import eurocode
from flamefe.workpiece.standard import SMALLEST_FACTOR, material, material_names

HOT = (20, 100, 200, 300, 400, 500, 600, 700, 800, 900, 1000, 1100)
PROOF = (1, 1, 0.89, 0.78, 0.65, 0.53, 0.30, 0.13, 0.07, 0.05, 0.03, 0.02)
TWO_PERCENT = (1, 1, 1, 1, 1, 0.78, 0.47, 0.23, 0.11, 0.06, 0.04, 0.02)
MODULUS = (1, 1, 0.9, 0.8, 0.7, 0.6, 0.31, 0.13, 0.09, 0.0675, 0.045, 0.0225)
STRUCTURAL = {"S235": 235e6, "S355": 355e6, "S460": 460e6, "S690QL": 690e6}
PROOF_14301 = (1, 0.82, 0.68, 0.64, 0.60, 0.54, 0.49, 0.40, 0.27, 0.14, 0.06, 0.03)
MODULUS_14301 = (1, 0.96, 0.92, 0.88, 0.84, 0.80, 0.76, 0.71, 0.63, 0.45, 0.20, 0.10)


@pytest.mark.parametrize("name", STRUCTURAL)
def test_structural_strength_and_stiffness(name: str) -> None:
    steel = material(name)
    np.testing.assert_allclose(steel.yield_stress(HOT), STRUCTURAL[name] * np.array(PROOF))
    np.testing.assert_allclose(steel.youngs_modulus(HOT), 210e9 * np.array(MODULUS))
    soft = material(name, yield_as="2 % stress")
    np.testing.assert_allclose(soft.yield_stress(HOT), STRUCTURAL[name] * np.array(TWO_PERCENT))


@pytest.mark.parametrize(
    ("temperature", "strain"),
    [
        (20, 0.0),
        (100, 0.9984e-3),
        (200, 2.3184e-3),
        (300, 3.7184e-3),
        (400, 5.1984e-3),
        (500, 6.7584e-3),
        (600, 8.3984e-3),
        (650, 9.2484e-3),
        (700, 10.1184e-3),
        (800, 11.0e-3),
        (860, 11.0e-3),
        (1000, 13.8e-3),
    ],
)
def test_elongation_of_carbon_steel(temperature: float, strain: float) -> None:
    assert material("S355").thermal_strain(temperature) == pytest.approx(strain, abs=0.02e-6)


@pytest.mark.parametrize(
    ("temperature", "enthalpy_kJ_kg"),
    [
        (200, 88.19),
        (300, 142.92),
        (400, 201.34),
        (500, 264.75),
        (600, 335.74),
        (650, 374.89),
        (700, 419.11),
    ],
)
def test_enthalpy_of_carbon_steel(temperature: float, enthalpy_kJ_kg: float) -> None:
    enthalpy = material("S235").specific_heat.integral(temperature)
    assert enthalpy == pytest.approx(enthalpy_kJ_kg * 1e3, rel=1e-3)


@pytest.mark.parametrize(
    ("temperature", "heat"), [(20, 439.8), (200, 529.8), (400, 605.9), (600, 760.2), (700, 1008)]
)
def test_specific_heat_of_carbon_steel(temperature: float, heat: float) -> None:
    assert material("S235").specific_heat(temperature) == pytest.approx(heat, rel=5e-4)


def test_the_peak_of_the_specific_heat_keeps_its_enthalpy() -> None:
    """Against adaptive quadrature of the formula, also over the peak alone."""
    table = material("S355").specific_heat
    assert table(735.0) == pytest.approx(5000.0)
    for low, high in [(20, 735), (20, 1200), (600, 735), (735, 900), (700, 770), (725, 745)]:
        exact = quad(
            eurocode.steel_specific_heat, low, high, points=[600, 735, 900], limit=500
        )[0]  # fmt: skip
        ours = float(table.integral(high) - table.integral(low))
        assert ours == pytest.approx(exact, rel=1e-3), (low, high)


@pytest.mark.parametrize(
    ("temperature", "heat"),
    [(600, 666 + 13002 / 138), (734, 3916.5), (736, 4109.0), (899, 545 + 17820 / 168), (900, 650)],
)
def test_both_branches_of_the_peak(temperature: float, heat: float) -> None:
    """EN 1993-1-2 by hand: 666 + 13002 / (738 - T) to 735 C, then 545 + 17820 / (T - 731)."""
    assert eurocode.steel_specific_heat(temperature) == pytest.approx(heat)


def test_conductivity_of_carbon_steel() -> None:
    steel = material("S355")
    np.testing.assert_allclose(
        steel.conductivity([20, 400, 790, 900]), [53.334, 40.68, 27.693, 27.3], rtol=1e-3
    )
    assert steel.density == 7850.0


def test_stainless_steel() -> None:
    steel = material("1.4301")
    np.testing.assert_allclose(steel.yield_stress(HOT), 210e6 * np.array(PROOF_14301))
    np.testing.assert_allclose(steel.youngs_modulus(HOT), 200e9 * np.array(MODULUS_14301))
    # Annex C by hand at 600 C: (16 + 2.874 - 0.44748) 580e-6; 450 + 168 - 104.76 + 28.944
    assert steel.thermal_strain(600.0) == pytest.approx(18.42652 * 580e-6, rel=1e-6)
    assert steel.specific_heat(600.0) == pytest.approx(542.184)
    assert steel.conductivity(600.0) == pytest.approx(22.22)


@pytest.mark.parametrize(
    ("name", "cold", "factors", "conductivity"),
    [
        ("6082-T6", 260e6, (1, 0.90, 0.79, 0.65, 0.38, 0.20, 0.11), 204.0),  # from memory
        ("5083-O", 125e6, (1, 1, 0.98, 0.90, 0.75, 0.40, 0.22), 160.0),  # from memory
    ],
)
def test_aluminium(name: str, cold: float, factors: tuple[float, ...], conductivity: float) -> None:
    alloy = material(name)
    np.testing.assert_allclose(
        alloy.yield_stress([20, 100, 150, 200, 250, 300, 350]), cold * np.array(factors)
    )
    np.testing.assert_allclose(
        alloy.youngs_modulus([20, 50, 100, 150, 200, 250, 300, 350, 400]),
        np.array([70, 69.3, 67.9, 65.1, 60.2, 54.6, 47.6, 37.8, 28.0]) * 1e9,
    )
    assert alloy.thermal_strain(20.0) == 0.0
    # 0.1e-7 T^2 + 22.5e-6 T - 4.5e-4, which is 4e-6 at 20 C
    assert alloy.thermal_strain(200.0) == pytest.approx(4.45e-3 - 4e-6)
    assert alloy.specific_heat(200.0) == pytest.approx(985.0)
    assert alloy.conductivity(200.0) == pytest.approx(conductivity)
    assert alloy.valid_to_C == 500.0


@pytest.mark.parametrize("name", material_names())
def test_every_material_stays_usable_and_says_where_it_comes_from(name: str) -> None:
    made = material(name)
    last = made.yield_stress.temperature_C[-1]
    assert made.yield_stress(last) == pytest.approx(SMALLEST_FACTOR * made.yield_stress(20.0))
    assert made.youngs_modulus(last) == pytest.approx(SMALLEST_FACTOR * made.youngs_modulus(20.0))
    np.testing.assert_allclose(
        made.hardening_modulus([20, 300, last]), made.youngs_modulus([20, 300, last]) / 100
    )
    assert made.thermal_strain(20.0) == 0.0
    slope = float(made.thermal_strain.slope(21.0))
    assert made.thermal_strain(-10.0) == pytest.approx(-30.0 * slope, rel=0.02)
    assert made.heating_limit_source
    assert made.heating_limit_reason
    assert made.source.count("EN 1") >= 1
    assert made.annealing_C is not None


def test_numbers_from_memory_say_so() -> None:
    for name in material_names():
        assert "from memory" in material(name).yield_stress.source
        assert "from memory" in material(name).hardening_modulus.source
    assert "outside their scope" in material("S690QL").source
    assert "outside their scope" not in material("S460").source
    assert "150 to 180 C" in material("6082-T6").heating_limit_reason


def test_first_yield_of_a_bar_held_at_its_ends() -> None:
    """E(T) thermal strain = yield(T), with the 2 % stress: published tables, evaluated by hand.

    EN 1993-1-2 tables: S235 110.3 C, S355 161.5 C, S460 210.6 C, S690 342.5 C.
    """
    expected = {"S235": 110.3, "S355": 161.5, "S460": 210.6, "S690QL": 342.5}
    for name, first in expected.items():
        steel = material(name, yield_as="2 % stress")
        t = np.linspace(20, 500, 48001)
        stress = steel.youngs_modulus(t) * steel.thermal_strain(t)
        assert t[np.argmax(stress >= steel.yield_stress(t))] == pytest.approx(first, abs=0.15)


def test_the_users_changes() -> None:
    made = material(
        "S355",
        yield_strength=420e6,
        hardening="mixed",
        kinematic_share=0.25,
        annealing_C=math.inf,
        heating_limit_C=600.0,
    )
    np.testing.assert_allclose(made.yield_stress(HOT), 420e6 * np.array(PROOF))
    assert made.kinematic_share == 0.25
    assert made.annealing_C is None
    assert made.heating_limit_C == 600.0
    assert "given by the user" in made.heating_limit_source
    assert "650 C" in made.heating_limit_source
    assert "given by the user" in made.yield_stress.source
    assert material("S355").kinematic_share == 0.0
    assert material("S355", hardening="kinematic").kinematic_share == 1.0
    assert material("S355", annealing_C=700.0).annealing_C == 700.0
    assert material("S355").annealing_C == 800.0


@pytest.mark.parametrize(
    ("name", "nearest"), [("S355J2", "S355"), ("s690ql1", "S690QL"), ("14301", "1.4301"),
                          ("6082 t6", "6082-T6")]
)  # fmt: skip
def test_unknown_names_hint_at_the_nearest(name: str, nearest: str) -> None:
    with pytest.raises(MaterialError, match=f"nearest is '{nearest}'"):
        material(name)


def test_a_name_like_none_lists_them_all() -> None:
    with pytest.raises(MaterialError) as caught:
        material("oak")
    assert "nearest" not in str(caught.value)
    assert all(name in str(caught.value) for name in material_names())


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"yield_as": "upper yield"}, "upper yield"),
        ({"yield_strength": 355.0}, "Check the unit"),
        ({"hardening": "none"}, "'none'"),
        ({"hardening": "mixed", "kinematic_share": 1.5}, "1.5"),
        ({"annealing_C": -5.0}, "annealing_C is -5"),
        ({"annealing_C": math.nan}, "annealing_C is nan"),
        ({"heating_limit_C": 0.0}, "heating_limit_C is 0"),
    ],
)
def test_impossible_changes_are_refused(changes: dict[str, Any], text: str) -> None:
    with pytest.raises(MaterialError, match=text):
        material("S355", **changes)


@pytest.mark.parametrize("name", ["1.4301", "6082-T6"])
def test_the_2_percent_stress_is_for_structural_steel(name: str) -> None:
    with pytest.raises(MaterialError, match="structural steels only"):
        material(name, yield_as="2 % stress")


def test_formulas_refuse_temperatures_outside_their_range() -> None:
    with pytest.raises(OutOfRange, match="1250 C was asked for"):
        eurocode.steel_elongation([100.0, 1250.0])
    with pytest.raises(OutOfRange, match="nan"):
        eurocode.stainless_conductivity(math.nan)
    with pytest.raises(OutOfRange, match="0 to 500 C"):
        eurocode.aluminium_specific_heat(550.0)
    with pytest.raises(OutOfRange, match="not for 4"):
        eurocode.aluminium_conductivity(100.0, series=4)
