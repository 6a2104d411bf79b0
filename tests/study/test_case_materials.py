"""Own materials of a case."""

from dataclasses import replace
from typing import Any

import pytest

from flamefe.study.case import (
    Case,
    CaseError,
    Flame,
    Limits,
    LineHeat,
    MaterialTables,
    OwnMaterial,
    Plate,
)
from flamefe.study.faults import Fault
from flamefe.workpiece.own import own_material

PLATE = Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355")
TORCH = Flame(power_kW=7, radius_mm=18)
LINE = LineHeat(flame="torch", face="top", path_mm=[[50, 100], [350, 100]], speed_mm_s=6)


def case(**parts: Any) -> Case:
    whole = {"title": "t", "workpiece": PLATE, "flames": {"torch": TORCH}, "heats": [LINE]}
    return Case(**{**whole, **parts})


def faults_of(**parts: Any) -> dict[str, Fault]:
    with pytest.raises(CaseError) as caught:
        case(**parts)
    return {fault.place: fault for fault in caught.value.faults}


WHOLE: dict[str, Any] = {
    "conductivity_W_mK": [[20, 50]],
    "specific_heat_J_kgK": [[20, 480]],
    "thermal_strain": [[20, 0], [1000, 0.012]],
    "youngs_modulus_GPa": [[20, 210], [1000, 20]],
    "poisson": [[20, 0.3]],
    "yield_MPa": [[20, 355], [1000, 20]],
}


def own(**parts: Any) -> dict[str, Any]:
    return {"workpiece": replace(PLATE, material="mill plate"), "materials": {"mill plate": parts}}


def test_own_materials() -> None:
    case(**own(base="S355", yield_strength_MPa=380, yield_as="2 % stress"))
    case(**own(base="1.4301", hardening="mixed", kinematic_share=0.3))
    case(**own(base="S355", hardening="mixed"))
    case(**own(density_kg_m3=7850, heating_limit_C=650, tables=WHOLE))
    for parts, places in (
        ({"base": "S35"}, {"base"}),
        ({"base": "1.4301", "yield_as": "2 % stress"}, {"yield_as"}),
        ({"base": "S355", "kinematic_share": 0.5, "hardening": "kinematic"}, {"kinematic_share"}),
        ({"base": "S355", "kinematic_share": 0.5}, {"kinematic_share"}),
        ({"base": "S355", "yield_strength_MPa": 400, "tables": {"yield_MPa": [[20, 300]]}},
         {"yield_strength_MPa"}),
        ({"base": "S355", "tables": {"yield_MPa": [[20, 300], [600, 90]]}, "heating_limit_C": 601},
         {"heating_limit_C"}),
        ({"base": "S355", "tables": {"youngs_modulus_GPa": [[20, 210000]]}},
         {"tables.youngs_modulus_GPa"}),
        ({"base": "S355", "tables": {"thermal_strain": [[20, 12e-6], [600, 14e-6]]}},
         {"tables.thermal_strain"}),
        ({"base": "S355", "tables": {"yield_MPa": [[300, 200], [200, 100]]}}, {"tables.yield_MPa"}),
        ({"density_kg_m3": 7850, "tables": {**WHOLE, "poisson": None}},
         {"heating_limit_C", "tables.poisson"}),
        ({"heating_limit_C": 600, "density_kg_m3": 2700, "yield_strength_MPa": 300,
          "tables": {**WHOLE, "yield_MPa": None}}, {"yield_strength_MPa", "tables.yield_MPa"}),
    ):  # fmt: skip
        found = faults_of(**own(**parts))
        assert set(found) == {f'materials."mill plate".{place}' for place in places}, parts
    found = faults_of(**own(base="S355", tables={"youngs_modulus_GPa": [[20, 210000]]}))
    assert "MPa: give 210" in found['materials."mill plate".tables.youngs_modulus_GPa'].advice
    assert list(faults_of(materials={"S355": OwnMaterial(base="S235")})) == ["materials.S355"]


def test_own_material_that_a_case_accepts_can_be_made() -> None:
    made = case(**own(density_kg_m3=7850, heating_limit_C=650, tables=WHOLE))
    tables = made.materials["mill plate"].tables
    given = {name: pairs for name in WHOLE if (pairs := getattr(tables, name)) is not None}
    metal = own_material(name="mill plate", tables=given, density_kg_m3=7850, heating_limit_C=650)
    assert metal.valid_to_C == 1000
    with pytest.raises(CaseError):
        replace(made, limits=Limits(temperature_C=1001))
    replace(made, limits=Limits(temperature_C=1000))
    assert MaterialTables(poisson=[[20, 0.3]]).poisson == ((20, 0.3),)
