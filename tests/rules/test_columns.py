"""Tables of rule inputs: there and back, and what is refused."""

import math

import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.rules.barcycle import BarCycle
from flamefe.rules.columns import (
    ASIDE,
    COLUMNS,
    TableError,
    input_columns,
    inputs_of_columns,
    quantity_of_column,
)
from flamefe.rules.inputs import RuleInputs, with_material
from flamefe.workpiece.standard import material

FULL = RuleInputs(
    part="bar",
    geometry="small",
    length=0.6,
    width=0.1,
    thickness=0.0117,
    family="carbon steel",
    expansion=1.43e-5,
    volumetric_heat=4.71e6,
    greatest_expansion_per_heat=3.6e-12,
    diffusivity=8.49e-6,
    youngs_modulus=210e9,
    poisson=0.3,
    yield_stress=355e6,
    hot_yield_stress=90e6,
    held_upset=7.355e-3,
    peak_C=648.9,
    flame_radius=0.018,
    speed=0.006,
    heat_per_length=5e5,
    heated_length=0.3,
    line_offset=-0.013,
    restraint=0.75,
    one_sided=True,
    bar_cycle=BarCycle(
        first_yield_C=None,
        hot_stress=-90e6,
        hot_plastic_strain=-7.1e-3,
        residual_stress=0.0,
        plastic_strain=-7.1e-3,
    ),
    wedge_angle=math.radians(45),
    wedge_depth=0.075,
    wedge_base="near",
    wedge_moment_ratio=0.25,
    wedge_driven=False,
    spot_radius=0.015,
    spot_count=9,
    buckle_depth=0.006,
    spring_stiffness=3e8,
    section_area=2.85e-3,
    side_area=3e-4,
    section_strips=((0.0, 0.011, 0.15), (0.011, 0.289, 0.007), (0.289, 0.3, 0.15)),
    pipe_diameter=0.2191,
    heat_arc=math.radians(60),
    heat_width=0.04,
    heat_outline="oval",
    heat_count=3,
    heat_spacing=0.5,
    heat_rotation=-0.0025,
)


def test_every_input_has_its_column():
    covered = {column.field.split(".")[0] for column in COLUMNS}
    assert covered == set(RuleInputs.__dataclass_fields__) - {"simulated"}
    names = [column.name for column in COLUMNS]
    assert len(set(names)) == len(names)
    assert not set(ASIDE) & set(names)
    assert all(quantity_of_column(name) is None for name in names)


@pytest.mark.parametrize("as_text", [False, True])
def test_there_and_back(as_text):
    row = input_columns(FULL)
    # Only what isn't known (the temperature of first yield) has no column.
    assert len(row) == len(COLUMNS) - 1
    assert row["wedge_angle_deg"] == 45.0
    assert row["section_strips_mm"] == "0 to 11 x 150; 11 to 289 x 7; 289 to 300 x 150"
    given = {name: str(cell) for name, cell in row.items()} if as_text else row
    back = inputs_of_columns(given)
    assert input_columns(back) == row
    for column in COLUMNS:
        if column.scale is None or "." in column.field:
            continue
        assert getattr(back, column.field) == pytest.approx(
            getattr(FULL, column.field), rel=1e-14
        ), column.name
    assert back.bar_cycle.first_yield_C is None
    assert back.bar_cycle.hot_stress == -90e6
    assert back.bar_cycle.plastic_strain == pytest.approx(-7.1e-3, rel=1e-14)
    assert (back.one_sided, back.wedge_driven, back.wedge_base) == (True, False, "near")


def test_what_is_not_known_is_left_out_and_read_as_not_known():
    assert input_columns(RuleInputs(thickness=0.01)) == {"geometry": "finite", "thickness_mm": 10.0}
    row = {"thickness_mm": 10, "width_mm": "", "speed_mm_s": None, "peak_C": float("nan")}
    assert inputs_of_columns(row) == RuleInputs(thickness=0.01)


def test_material_fills_in_but_what_is_given_stands():
    row = {"material": "S355", "peak_C": 640, "yield_stress_MPa": 402}
    found = inputs_of_columns(row)
    ready = with_material(RuleInputs(peak_C=640), material("S355"))
    assert found.yield_stress == 402e6
    assert found.expansion == ready.expansion
    assert found.held_upset == ready.held_upset


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"thickness_mm": "twelve"}, "'twelve'; it must hold a number"),
        ({"part": "rod"}, "'rod'; it must hold 'plate' or 'bar'"),
        ({"wedge_driven": "maybe"}, "it must hold yes or no"),
        ({"thickness": 12}, "rename it"),
        ({"speed_mm_per_s": 12}, "rename it"),
        ({"net_power_kW": 3}, "without 'speed_mm_s'"),
        ({"net_power_kW": -3, "speed_mm_s": 6}, "above 0"),
        ({"net_power_kW": 3, "speed_mm_s": 6, "heat_per_length_J_mm": 600}, "leave one"),
        ({"material": "S999"}, "ready ones are"),
        ({"bar_hot_stress_MPa": -90}, "bar_plastic_strain_percent"),
        ({"section_strips_mm": "0-11 x 150"}, "0 to 11 x 150"),
    ],
)
def test_what_cannot_be_read_is_refused(row, words):
    with pytest.raises(TableError, match=words):
        inputs_of_columns(row)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"thickness_mm": 0}, "thickness"),
        ({"heat_arc_deg": 400}, "full turn"),
        ({"section_strips_mm": "11 to 0 x 150"}, "to above from"),
    ],
)
def test_impossible_numbers_are_refused(row, words):
    with pytest.raises(OutOfRange, match=words):
        inputs_of_columns(row)


def test_other_columns_are_left_alone():
    row = {"workpiece.thickness_mm": 12, "heats[0].speed_mm_s": 6, "failed": "", "name": "run 7",
           "camber [mm]": "1.25", "flatness [mm]": "failed"}  # fmt: skip
    assert inputs_of_columns(row) == RuleInputs(simulated={"camber": 1.25})
