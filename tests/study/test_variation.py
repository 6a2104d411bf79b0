"""Variants of a case, by values, grids and files."""

import pytest

from flamefe.study.case import Clamp
from flamefe.study.casefile import load_case
from flamefe.study.examples import example_path
from flamefe.study.variation import VariationError, grid, level_of, variants_in, varied


@pytest.fixture(scope="module")
def base():
    return load_case(example_path("hopper_two_cycles"))


def test_one_value_is_replaced_and_nothing_else(base):
    made = varied(base, {"heats[1].speed_mm_s": 3.5}).case
    assert made.heats[1].speed_mm_s == 3.5
    assert made.heats[0] == base.heats[0]
    assert made.workpiece == base.workpiece
    assert varied(base, {}).case == base


def test_a_value_of_all_heats(base):
    made = varied(base, {"heats[].speed_mm_s": 3.5}).case
    assert {heat.speed_mm_s for heat in made.heats} == {3.5}


def test_whole_parts_are_replaced(base):
    made = varied(base, {"supports": [{"kind": "clamp", "face": "start"}]}).case
    assert made.supports == (Clamp(face="start"),)


def test_a_flame_by_nozzle_in_place_of_its_power(base):
    name = base.heats[0].flame
    made = varied(
        base,
        {
            f"flames.{name}.power_kW": None,
            f"flames.{name}.fuel": "propane",
            f"flames.{name}.consumption_L_h": 600,
        },
    )
    assert made.case.flames[name].fuel == "propane"


def test_grid_has_every_combination(base):
    made = grid(base, {"workpiece.thickness_mm": [8, 10], "workpiece.material": ["S235", "S355"]})
    assert [(one.case.workpiece.thickness_mm, one.case.workpiece.material) for one in made] == [
        (8, "S235"),
        (8, "S355"),
        (10, "S235"),
        (10, "S355"),
    ]


def test_what_makes_no_case_keeps_its_faults(base):
    made = varied(base, {"workpiece.thickness_mm": -1, "workpiece.material": "S356"}, name="odd")
    assert made.case is None
    assert "workpiece.thickness_mm: -1" in made.fault
    assert "S356" in made.fault


def test_variants_of_a_file(base):
    made = variants_in(
        """
        [free]
        ["held at the start"]
        supports = [{kind = "clamp", face = "start"}]
        [thin]
        "heats[0].speed_mm_s" = 9
        [thin.workpiece]
        thickness_mm = 6
        """,
        base,
    )
    assert [one.name for one in made] == ["free", "held at the start", "thin"]
    assert made[0].case == base
    assert made[2].case.workpiece.thickness_mm == 6
    assert made[2].case.workpiece.length_mm == base.workpiece.length_mm
    assert made[2].case.heats[0].speed_mm_s == 9


def test_a_variant_of_a_file_with_a_fault_stops_no_other(base):
    made = variants_in("[typo]\nworkpiece.lengt_mm = 4\n[fine]\nworkpiece.length_mm = 500", base)
    assert [one.case is None for one in made] == [True, False]
    assert "lengt_mm" in made[0].fault


def test_a_workpiece_of_another_kind_keeps_what_both_know(base):
    changes = {"workpiece.kind": "bar", "workpiece.depth_mm": 80, "heats": [], "flames": {},
               "loads": [{"kind": "own weight"}]}  # fmt: skip
    made = varied(base, changes)
    assert made.case is not None, made.fault
    assert type(made.case.workpiece).__name__ == "Bar"
    assert made.case.workpiece.length_mm == base.workpiece.length_mm
    assert made.case.workpiece.depth_mm == 80
    wrong = varied(base, {"workpiece.kind": "barr"})
    assert wrong.case is None
    assert "barr" in wrong.fault
    assert "rolled" in wrong.fault


def test_a_rolled_beam_by_another_designation(base):
    pytest.importorskip("structuralcodes")
    bare = {"heats": [], "flames": {}, "loads": [{"kind": "own weight"}]}
    small, large = grid(varied(base, bare).case, {"workpiece.designation": ["IPE 160", "HEA 200"]})
    assert small.case.workpiece.height_mm == 160
    assert large.case.workpiece.width_mm == 200
    assert large.case.workpiece.length_mm == base.workpiece.length_mm


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"workpice.thickness_mm": 1}, "workpice.*Did you mean .workpiece."),
        ({"workpiece.thicknes_mm": 1}, "Did you mean .thickness_mm."),
        ({"heats[7].speed_mm_s": 1}, "there are 4 there"),
        ({"heats[x].speed_mm_s": 1}, "is no place"),
        ({"title.more": 1}, "no place in the case"),
        ({"heats[0][0]": 1}, "does not exist"),
    ],
)
def test_places_that_do_not_exist_are_told(base, changes, told):
    with pytest.raises(VariationError, match=told):
        varied(base, changes)


@pytest.mark.parametrize(
    ("text", "told"),
    [("x = 1", "holds tables"), ("", "holds tables"), ("[a b]", "not TOML")],
)
def test_files_without_variants_are_told(base, text, told):
    with pytest.raises(VariationError, match=told):
        variants_in(text, base)


def test_too_many_or_no_values(base):
    with pytest.raises(VariationError, match="501 variants"):
        grid(base, {"workpiece.thickness_mm": list(range(501))})
    with pytest.raises(VariationError, match="No value"):
        grid(base, {"workpiece.thickness_mm": []})


@pytest.mark.parametrize(
    ("words", "read"),
    [
        ("a.b=1,2.5", ("a.b", [1, 2.5])),
        ("a=x y,z", ("a", ["x y", "z"])),
        ('a="x,y","z"', ("a", ["x,y", "z"])),
        ("a=[[1,2],[3,4]]", ("a", [[[1, 2], [3, 4]]])),
        ("a=true", ("a", [True])),
    ],
)
def test_levels_from_words(words, read):
    assert level_of(words) == read


@pytest.mark.parametrize("words", ["", "a", "=1", "a="])
def test_levels_of_another_form(words):
    with pytest.raises(VariationError, match="place=value"):
        level_of(words)
