"""A user's own tables: units, slips, and what is kept from a ready material."""

import math
import re
from typing import Any

import numpy as np
import pytest

from flamefe.basics.errors import MaterialError
from flamefe.workpiece.own import own_material, own_table
from flamefe.workpiece.standard import material

WHOLE: dict[str, list[list[float]]] = {
    "conductivity_W_mK": [[20, 50], [800, 28]],
    "specific_heat_J_kgK": [[20, 450], [900, 700]],
    "thermal_strain": [[20, 0.0], [600, 0.0084]],
    "youngs_modulus_GPa": [[20, 205], [600, 70]],
    "poisson": [[20, 0.29]],
    "yield_MPa": [[20, 300], [700, 40]],
}


def test_tables_become_si() -> None:
    made = own_material(name="trial", tables=WHOLE, density_kg_m3=7800, heating_limit_C=600)
    assert made.conductivity(410.0) == pytest.approx(39.0)
    assert made.youngs_modulus(310.0) == pytest.approx(137.5e9)
    assert made.yield_stress(20.0) == pytest.approx(300e6)
    assert made.hardening_modulus(20.0) == pytest.approx(2.05e9)
    assert made.poisson(500.0) == pytest.approx(0.29)
    assert made.valid_to_C == 600.0
    assert made.annealing_C is None
    assert made.kinematic_share == 0.0


def test_a_base_keeps_what_is_not_replaced() -> None:
    base = material("S355", hardening="mixed", kinematic_share=0.3)
    made = own_material(name="mill", base=base, tables={"yield_MPa": [[20, 400], [800, 30]]})
    assert made.yield_stress(20.0) == pytest.approx(400e6)
    assert made.conductivity is base.conductivity
    assert made.kinematic_share == 0.3
    assert made.annealing_C == 800.0
    assert made.valid_to_C == 800.0
    assert made.heating_limit_C == 650.0
    assert "S355" in made.source
    assert "yield_stress" in made.source


def test_a_constant_does_not_shorten_the_range() -> None:
    made = own_material(name="mill", base=material("S355"), tables={"poisson": [[20, 0.28]]})
    assert made.valid_to_C == 1200.0


def test_other_changes() -> None:
    made = own_material(
        name="mill",
        base=material("S355"),
        density_kg_m3=7700,
        hardening="kinematic",
        annealing_C=math.inf,
        heating_limit_C=580,
        source="test certificate",
    )
    assert (made.density, made.kinematic_share, made.annealing_C) == (7700, 1.0, None)
    assert made.heating_limit_C == 580
    assert made.heating_limit_source.startswith("test certificate; in place of S355: 650 C")


@pytest.mark.parametrize(
    ("label", "pairs", "text"),
    [
        ("youngs_modulus_GPa", [[20, 210000]], "It looks like MPa: give 210."),
        ("youngs_modulus_GPa", [[20, 2.1e11]], "It looks like Pa: give 210."),
        ("youngs_modulus_GPa", [[20, 210], [600, 70000]], "70000 at 600 C"),
        ("yield_MPa", [[20, 355e6], [600, 100e6]], "It looks like Pa: give 355."),
        ("yield_MPa", [[20, 0.355]], "It looks like GPa: give 355."),
        ("yield_MPa", [[20, 355], [600, -3]], "-3 at 600 C"),
        ("specific_heat_J_kgK", [[20, 0.44], [600, 0.76]], "It looks like kJ/(kg K): give 440."),
        ("conductivity_W_mK", [[20, 0.054]], "It looks like W/(mm K): give 54."),
        ("hardening_modulus_GPa", [[20, 2100]], "It looks like MPa: give 2.1."),
        ("poisson", [[20, 30]], "outside 0 to 0.5"),
        ("thermal_strain", [[20, 1.2e-5], [600, 1.4e-5]], "expansion coefficient"),
        ("thermal_strain", [[20, 0], [600, 8.4]], "per mille or per cent"),
        ("thermal_strain", [[20, 0], [600, 0.84]], "per mille or per cent"),
        ("thermal_strain", [[0, 0], [600, 0.0084]], "subtract 0.00028"),
        ("yield_MPa", [[293.15, 355], [873.15, 100]], "subtract 273.15"),
        ("yield_MPa", [[200, 300], [600, 100]], "must start at 100 C or below"),
        ("yield_MPa", [[20, 300], [5000, 100]], "3000 C"),
        ("yield_MPa", [], "at least one"),
        ("yield_MPa", [[20, 355, 1]], "list of pairs"),
        ("yield_MPa", [[20, 355], [20, 300]], "rise"),
        ("yield_MPa", [[20, math.nan]], "finite"),
        ("yield_GPa", [[20, 0.355]], "Tables that can be given"),
    ],
)
def test_slips_are_caught(label: str, pairs: list[list[float]], text: str) -> None:
    with pytest.raises(MaterialError, match=re.escape(text)) as caught:
        own_table(label, pairs)
    assert label in str(caught.value)


@pytest.mark.parametrize("pairs", WHOLE.items())
def test_honest_tables_pass(pairs: tuple[str, list[list[float]]]) -> None:
    own_table(*pairs)


def test_ready_tables_pass_their_own_checks() -> None:
    """The checks must not refuse real metals, whose numbers are these."""
    units = {
        "conductivity_W_mK": ("conductivity", 1.0),
        "specific_heat_J_kgK": ("specific_heat", 1.0),
        "thermal_strain": ("thermal_strain", 1.0),
        "youngs_modulus_GPa": ("youngs_modulus", 1e-9),
        "poisson": ("poisson", 1.0),
        "yield_MPa": ("yield_stress", 1e-6),
        "hardening_modulus_GPa": ("hardening_modulus", 1e-9),
    }
    for name in ("S235", "S690QL", "1.4301", "6082-T6", "5083-O"):
        ready = material(name)
        for label, (field, factor) in units.items():
            table = getattr(ready, field)
            pairs = [
                [t, factor * v] for t, v in zip(table.temperature_C, table.values, strict=True)
            ]
            np.testing.assert_allclose(own_table(label, pairs).values, table.values, rtol=1e-12)


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"density_kg_m3": 7.85}, "It looks like g/cm3: give 7850."),
        ({"density_kg_m3": 0.0}, "500 to 25000|between 500 and 25000"),
        ({"heating_limit_C": 5.0}, "heating_limit_C is 5"),
        ({"hardening": "soft"}, "'soft'"),
        ({"tables": {"yield_MPa": [[20, 3e8]]}}, "Material mill: Table yield_MPa"),
        ({"tables": {"yield_MPa": [[20, 300], [900, 0]]}}, "yield_stress falls to 0"),
    ],
)
def test_impossible_changes_are_refused(changes: dict[str, Any], text: str) -> None:
    with pytest.raises(MaterialError, match=text):
        own_material(name="mill", base=material("S355"), **changes)


def test_without_a_base_all_must_be_given() -> None:
    tables = {k: v for k, v in WHOLE.items() if k not in ("poisson", "yield_MPa")}
    with pytest.raises(MaterialError) as caught:
        own_material(name="trial", tables=tables)
    assert "poisson, yield_MPa, density_kg_m3, heating_limit_C must be given" in str(caught.value)
    assert "hardening_modulus" not in str(caught.value)
