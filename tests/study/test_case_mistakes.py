"""Case files with mistakes of writing and with hostile texts."""

from dataclasses import replace

import pytest

from flamefe.study.casefile import case_from_text, dump_case
from flamefe.study.faults import CaseError, Fault

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


def test_mistakes_of_writing_are_faults_with_lines_beside_all_others() -> None:
    text = PLATE.replace("speed_mm_s = 6", "speed_mm_s = 6,5")
    text = text.replace("length_mm = 400", "length_mm = 400 mm").replace("= 12", "= 1200")
    text = text.replace('flame = "torch"', "flame = torch").replace("= 7", "= 7\npower_kW = 8")
    found = {fault.line: fault for fault in faults_of(text)}
    assert set(found) == {4, 6, 10, 14, 17}
    assert "alone" in found[4].advice
    assert found[4].place == "workpiece.length_mm"
    assert found[6].place == "workpiece.thickness_mm"
    assert "given before" in found[10].advice
    assert "quotes" in found[14].advice
    assert "point" in found[17].advice


def test_missing_brackets_are_found_where_they_were_opened() -> None:
    (fault,) = faults_of(PLATE.replace("[350, 100]]", "[350, 100]"))
    assert (fault.line, fault.place) == (15, "heats[0].path_mm")
    assert "bracket" in fault.advice
    (fault,) = faults_of(PLATE.replace("[flames.torch]", "[flames.torch"))
    assert (fault.line, fault.place) == (8, "flames.torch")
    (fault,) = faults_of(PLATE.replace("[[heats]]", "[[heats]"))
    assert fault.line == 11


def test_single_and_double_brackets_mixed_up() -> None:
    (fault,) = faults_of(PLATE.replace("[[heats]]", "[heats]"))
    assert (fault.line, "[[heats]]" in fault.advice) == (11, True)
    (fault,) = faults_of(PLATE.replace("[workpiece]", "[[workpiece]]"))
    assert (fault.line, "[workpiece]" in fault.advice) == (2, True)
    found = faults_of(PLATE.replace("[flames.torch]", "[flames]"))
    assert [(f.line, f.place) for f in found] == [(9, "flames.power_kW"), (10, "flames.radius_mm")]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\x00",
        "[" * 100_000,
        "x = " + "[" * 5000,
        "x = " + "{a=" * 3000,
        "a." * 3000 + "b = 1",
        'title = """',
        "title = 'x",
        "= 1",
        "title",
        "\ud800 = 1",
        'title = "\\ud800"',
        "title = 1979-05-27",
        "heats = 1979-05-27T07:32:00Z\nflames = inf\nworkpiece = []\nmesh = 12:00:00",
        "x" * 2_000_001,
        "length_mm = " + "9" * 5000,
        "a = 1\n" * 50,
    ],
)
def test_hostile_texts_give_faults_and_nothing_else(text: str) -> None:
    for fault in faults_of(text):
        assert str(fault).isprintable() or "\n" in str(fault)
        assert len(str(fault)) < 1200


@pytest.mark.parametrize(
    "title",
    [
        "__import__('os').system('false')",
        "${HOME} $(false) `false` %s {0} {title}",
        "<script>alert(1)</script>",
        "[bold red]not red[/]",
        "'; DROP TABLE heats; --",
        "../../etc/passwd",
        'quotes " and \\ backslashes \\\\" and #',
        "日本語 ünïcödé ½",
    ],
)
def test_text_is_only_text(title: str) -> None:
    case = replace(case_from_text(PLATE), title=title, about=f"{title}\n\t{title}")
    assert case.title == title
    again = case_from_text(dump_case(case))
    assert again == case


def test_control_characters_are_refused_and_shown_as_escapes() -> None:
    for bad in ("\\u001b[31mred", "bell\\u0007", "line\\nend", "\\u202Eturned"):
        (fault,) = faults_of(PLATE.replace('"Wall"', f'"{bad}"'))
        assert fault.place == "title"
    (fault,) = faults_of(PLATE.replace('"S355"', '"\\u001b[31mS355"'))
    assert "\x1b" not in str(fault)
    assert "\\x1b" in str(fault)
