"""Case files: what is read, and which fault stands in which line."""

import math
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from flamefe.study.case import Case, MeshFile
from flamefe.study.casefile import case_from_text, dump_case, load_case, with_lines
from flamefe.study.examples import example_names, example_path
from flamefe.study.faults import CaseError, Fault
from flamefe.study.toml_places import Places

PLATE = """\
title = "Wall"
[workpiece]
kind = "plate"
length_mm = 400
width_mm = 200
thickness_mm = 12
material = "S355"
[flames.torch]
power_kW = 7
radius_mm = 18
[[heats]]
kind = "line"
flame = "torch"
face = "top"
path_mm = [[50, 100], [350, 100]]
speed_mm_s = 6
"""


def faults_of(text: str, **options: object) -> tuple[Fault, ...]:
    with pytest.raises(CaseError) as caught:
        case_from_text(text, "wall.toml", **options)  # type: ignore[arg-type]
    return caught.value.faults


def places(text: str) -> dict[str, tuple[int | None, int | None]]:
    return {fault.place: (fault.line, fault.column) for fault in faults_of(text)}


def test_plain_case_has_the_values_of_the_text() -> None:
    case = case_from_text(PLATE)
    assert case.workpiece.size_mm == (400, 200, 12)
    assert case.heats[0].path_mm == ((50, 100), (350, 100))
    assert case.flames["torch"].power_kW == 7
    assert case.surroundings.ambient_C == 20
    assert case.supports == ()


def test_many_faults_in_one_file_each_with_its_line() -> None:
    text = """\
title = "Everything wrong"
[workpiece]
kind = "plate"
length_mm = 400
width_mm = "200"
thicknes_mm = 12
material = "S335"
[mesh]
size_at_heat_mm = 15
layers = 2.5
[surroundings]
ambient_C = 20
emissivity = 1.4
[flames.torch]
power_kW = -7
radius_mm = 18
[[heats]]
kind = "line"
flame = "torhc"
face = "topp"
path_mm = [[50, 100]]
speed_mm_s = nan
[[heats]]
kind = "spot"
flame = "torch"
face = "near"
at_mm = [
  200,
  40,
]
time_s = 5
cool_to_C = 15
cycle = 3
[[supports]]
kind = "clmap"
face = "start"
[[supports]]
kind = "push"
face = "end"
direction = "z"
displacement_mm = [[0, 0], [10, 1], [10, 2]]
[[loads]]
kind = "force"
at_mm = [500, 0, 0]
force_N = [0, 0]
[solve]
heat_step_s = 9
[limits]
temperature_C = 1300
[[inherent_strain]]
from_mm = [0, 0, 0]
to_mm = [400, 0, 12]
strain = [0, 0, 0, 0, 0, 0]
"""
    found = {fault.place: fault for fault in faults_of(text)}
    lines = text.split("\n")
    assert {place: lines[(fault.line or 0) - 1] for place, fault in found.items()} == {
        "workpiece.thickness_mm": "[workpiece]",
        "workpiece.width_mm": 'width_mm = "200"',
        "workpiece.thicknes_mm": "thicknes_mm = 12",
        "workpiece.material": 'material = "S335"',
        "mesh.size_at_heat_mm": "size_at_heat_mm = 15",
        "mesh.layers": "layers = 2.5",
        "surroundings.emissivity": "emissivity = 1.4",
        "flames.torch.power_kW": "power_kW = -7",
        "heats[0].flame": 'flame = "torhc"',
        "heats[0].face": 'face = "topp"',
        "heats[0].path_mm": "path_mm = [[50, 100]]",
        "heats[0].speed_mm_s": "speed_mm_s = nan",
        "heats[1].cool_to_C": "cool_to_C = 15",
        "heats[1].cycle": "cycle = 3",
        "supports[0].kind": 'kind = "clmap"',
        "supports[1].displacement_mm": "displacement_mm = [[0, 0], [10, 1], [10, 2]]",
        "loads[0].at_mm": "at_mm = [500, 0, 0]",
        "loads[0].force_N": "force_N = [0, 0]",
        "solve.heat_step_s": "heat_step_s = 9",
        "inherent_strain[0].to_mm": "to_mm = [400, 0, 12]",
    }
    assert found["workpiece.material"].line == 7
    assert found["heats[1].cycle"].line == 33
    order = [fault.line or 0 for fault in faults_of(text)]
    assert order == sorted(order)
    assert "thickness_mm" in found["workpiece.thicknes_mm"].advice
    assert "S355" in found["workpiece.material"].advice
    assert "torch" in found["heats[0].flame"].advice
    assert '"top"' in found["heats[0].face"].advice
    assert "clamp" in found["supports[0].kind"].advice
    assert found["flames.torch.power_kW"].given == "-7"
    assert found["flames.torch.power_kW"].allowed == "a number above 0 and up to 200"


def test_limit_and_points_are_checked_when_what_they_need_can_be_read() -> None:
    text = PLATE + "[limits]\ntemperature_C = 1300\n[[loads]]\nkind = 'force'\n"
    text += "at_mm = [500, 0, -3]\nforce_N = [0, 0, 1]\n"
    found = {fault.place: fault for fault in faults_of(text)}
    assert set(found) == {"limits.temperature_C", "loads[0].at_mm"}
    assert "1200" in found["limits.temperature_C"].allowed
    assert "100 mm beyond x = 400 and 3 mm before z = 0" in found["loads[0].at_mm"].given


def test_message_says_file_line_given_allowed_and_what_to_do() -> None:
    text = PLATE.replace("speed_mm_s = 6", "speed_mm_s = 600")
    with pytest.raises(CaseError) as caught:
        case_from_text(text, "wall.toml")
    assert str(caught.value).splitlines() == [
        "The case has 1 fault:",
        "wall.toml, line 16, column 1: heats[0].speed_mm_s (heat 1)",
        "    Given: 600. Allowed: a number from 0.1 to 200. "
        "Meaning: Speed of the flame along its path, mm/s.",
    ]


@pytest.mark.parametrize(
    ("old", "new", "place", "line", "column"),
    [
        ("title", 'about.text = 1\n"title"', "about", 1, 1),
        ("[350, 100]]", "[350, true]]", "heats[0].path_mm[1][1]", 15, 29),
        ("[350, 100]]", "\n  [350, '100'] # here\n]", "heats[0].path_mm[1][1]", 16, 9),
        ("[flames.torch]\n", "[flames]\ntorch.power_kw = 3\n[flames.torch]\n", "", 0, 0),
        ("radius_mm = 18", "radius_mm = 0.5", "flames.torch.radius_mm", 10, 1),
        ("radius_mm = 18\n", "", "flames.torch.radius_mm", 8, 1),
        ('face = "top"\n', "", "heats[0].face", 11, 1),
    ],
)
def test_place_of_one_fault(old: str, new: str, place: str, line: int, column: int) -> None:
    found = places(PLATE.replace(old, new, 1))
    if place:
        assert found == {place: (line, column)}
    else:  # two tables of one name are a fault of the text itself
        assert len(found) >= 1


def test_inline_tables_and_dotted_keys_have_places() -> None:
    text = """\
title = "Wall"
workpiece = {kind = "plate", length_mm = 400, width_mm = 200, thickness_mm = 0, material = "S355"}
flames.torch.power_kW = 7
flames.torch.radius_mm = 999
flames."big torch" = {power_kW = 7, radius_mm = 20, colour = "blue"}
solve.geometry = "smal"
heats = [
  {kind = "spot", flame = "torch", face = "top", at_mm = [20, 20], time_s = 5},
  {kind = "spot", flame = "torch", face = "top", at_mm = [20, 201], time_s = 5, x = 1},
]
"""
    assert places(text) == {
        "workpiece.thickness_mm": (2, 63),
        "flames.torch.radius_mm": (4, 1),
        'flames."big torch".colour': (5, 53),
        "solve.geometry": (6, 1),
        "heats[1].at_mm": (9, 50),
        "heats[1].x": (9, 81),
    }


def test_columns_count_characters_not_bytes() -> None:
    text = PLATE.replace('title = "Wall"', 'workpeice = {"müöü" = 1}\ntitle = "Wand für Übung"')
    assert places(text) == {"workpeice": (1, 1)}
    named = 'face = "top"'
    spot = PLATE.replace(named, 'face = "top"\nname = "über"\nxxxx = {"ä" = "öööö", b = 1}')
    assert places(spot) == {"heats[0].xxxx": (16, 1)}
    assert Places('"ä" = {b = "öö", c = 1}').of(("ä", "c")) == (1, 18)


def test_places_of_every_value_of_the_examples() -> None:
    """The line found for each number, text and list is one in which its value stands."""
    for name in example_names():
        text = example_path(name).read_text("utf-8")
        lines = text.split("\n")
        found = Places(text)

        def look(value: object, path: tuple[str | int, ...], found: Places = found,
                 lines: list[str] = lines) -> int:  # fmt: skip
            if isinstance(value, dict):
                return sum(look(item, (*path, key)) for key, item in value.items())
            if isinstance(value, list):
                return sum(look(item, (*path, number)) for number, item in enumerate(value))
            line, column = found.of(path)
            if isinstance(path[-1], str):
                assert lines[line - 1][column - 1 :].startswith(path[-1])
            if isinstance(value, bool):
                assert str(value).lower() in lines[line - 1]
            elif isinstance(value, int | float):
                assert f"{value:g}" in lines[line - 1]
            return 1

        assert look(tomllib.loads(text), ()) > 10


@pytest.mark.parametrize("name", example_names())
def test_examples_are_read_and_written_back(name: str) -> None:
    case = load_case(example_path(name))
    assert case_from_text(dump_case(case)) == case
    assert dump_case(case_from_text(dump_case(case))) == dump_case(case)


def test_every_part_survives_writing_and_reading() -> None:
    text = (
        PLATE.replace('"S355"', '"own 1.4301 steel"')
        + """
[materials."own 1.4301 steel"]
base = "S355"
hardening = "mixed"
kinematic_share = 0.25
[materials."own 1.4301 steel".tables]
yield_MPa = [[20, 401.5], [700, 0.1e3]]
[[heats]]
kind = "spot"
flame = "torch"
face = "near"
at_mm = [0.1, 11.999999999999998]
time_s = 1e1
cool_to_C = 33.3
cycle = 2
[[supports]]
kind = "clamp"
face = "start"
released = "after cooling"
[[supports]]
kind = "guide"
face = "bottom"
[[supports]]
kind = "points"
at_mm = [[0, 0, 0], [400, 200, 12]]
directions = ["x", "z"]
[[supports]]
kind = "push"
face = "end"
direction = "y"
displacement_mm = [[1, 0.5], [2, -1e-9]]
[[loads]]
kind = "own weight"
direction = "-y"
[[loads]]
kind = "force"
at_mm = [1, 2, 3]
force_N = [4, 5, 6]
history = [[0, 0], [5, 1]]
[[loads]]
kind = "pressure"
face = "top"
pressure_kPa = -80
[[loads]]
kind = "traction"
face = "end"
traction_kPa = [1, 2, 3]
[[inherent_strain]]
from_mm = [0, 0, 0]
to_mm = [10, 10, 10]
strain = [-0.001, 0, 0, 0, 0, 0.002]
"""
    )
    case = case_from_text(text)
    assert len(case.supports) == 4
    assert len(case.loads) == 4
    assert case.heats[1].at_mm == (0.1, 11.999999999999998)
    assert case_from_text(dump_case(case)) == case


def test_about_of_several_lines_survives() -> None:
    for about in ("\na\n", 'a"""b\n""""', "a\\\nb\\", 'ends in "\n"', "tab\t\n\n\n", "one line"):
        case = replace(case_from_text(PLATE), about=about)
        assert case_from_text(dump_case(case)).about == about


def test_file_is_read_from_disk(tmp_path: Path) -> None:
    file = tmp_path / "wall.toml"
    file.write_bytes(b"\xef\xbb\xbf" + PLATE.replace("\n", "\r\n").encode())
    assert load_case(file) == case_from_text(PLATE)
    file.write_bytes(PLATE.replace("Wall", "W\xe4nde").encode("latin-1"))
    with pytest.raises(CaseError, match=r"wall.toml, line 1: .*\n.*UTF-8"):
        load_case(str(file))


def test_missing_files_are_faults_that_name_the_nearest(tmp_path: Path) -> None:
    (tmp_path / "hopper.toml").write_text(PLATE, "utf-8")
    with pytest.raises(CaseError, match=r'Did you mean "hopper.toml"'):
        load_case(tmp_path / "hoper.toml")
    with pytest.raises(CaseError):
        load_case(tmp_path)
    with pytest.raises(CaseError):
        load_case("a\x00b")


def test_mesh_file_counts_from_the_folder_of_the_case(tmp_path: Path) -> None:
    lines = PLATE.splitlines()
    text = "\n".join([lines[0], "[workpiece]", 'kind = "mesh file"', 'file = "part.msh"',
                      *lines[6:]])  # fmt: skip
    file = tmp_path / "part.toml"
    file.write_text(text, "utf-8")
    with pytest.raises(CaseError) as caught:
        load_case(file)
    assert [(f.place, f.line) for f in caught.value.faults] == [("workpiece.file", 4)]
    (tmp_path / "part.msh").write_text("", "utf-8")
    workpiece = load_case(file).workpiece
    assert isinstance(workpiece, MeshFile)
    assert Path(workpiece.file) == tmp_path / "part.msh"
    assert case_from_text(text).workpiece == replace(workpiece, file="part.msh")


def test_faults_found_later_can_be_given_lines() -> None:
    fault = Fault(path=("heats", 0, "face"), given="x", allowed="y", advice="z")
    (placed,) = with_lines([fault], PLATE, "wall.toml")
    assert (placed.file, placed.line, placed.column) == ("wall.toml", 14, 1)


@pytest.mark.parametrize("number", ["nan", "inf", "-inf", "1e400", "9" * 400])
def test_numbers_that_are_not_finite_are_refused(number: str) -> None:
    for line in ("length_mm = 400", "speed_mm_s = 6", "power_kW = 7"):
        key = line.split(" ")[0]
        (fault,) = [
            f for f in faults_of(PLATE.replace(line, f"{key} = {number}")) if f.place.endswith(key)
        ]
        assert "number" in fault.allowed
    (fault,) = faults_of(PLATE.replace("[350, 100]", f"[350, {number}]"))
    assert fault.place == "heats[0].path_mm[1][1]"


def test_case_object_is_complete_after_reading() -> None:
    case = case_from_text(PLATE)
    assert isinstance(case, Case)
    assert math.isclose(case.solve.tolerance, 1e-3)
