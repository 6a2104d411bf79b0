"""The command for the shop floor."""

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from flamefe import cli

LOADED = """
title = "Nothing is heated"
[workpiece]
kind = "plate"
length_mm = 60
width_mm = 60
thickness_mm = 10
material = "S355"
[[supports]]
kind = "clamp"
face = "start"
[[loads]]
kind = "own weight"
"""


def call(*words):
    return CliRunner().invoke(cli.app, [str(word) for word in words])


@pytest.fixture(autouse=True)
def _in_a_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def test_a_ready_case_gets_its_sheet_without_a_run(tmp_path):
    told = call("sheet", "hopper_two_cycles")
    assert (told.exit_code, told.stderr) == (0, "")
    assert told.stdout.splitlines() == [
        "Written: hopper_two_cycles-sheet.pdf",
        "Nothing was computed: predictions are left open. flamefe run fills them in.",
    ]
    assert len(PdfReader(tmp_path / "hopper_two_cycles-sheet.pdf").pages) == 2
    again = call("sheet", "hopper_two_cycles", "--out", "sheets")
    assert "sheets/sheet_cycle_2.svg" in again.stdout
    assert len(list((tmp_path / "sheets").iterdir())) == 4


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("hopper_two_cycles", "--out", "a.svg"), "2 cycles"),
        (("hopper_two_cycles", "--out", "a.txt"), "ends in .pdf"),
        (("no_such_case",), "neither a file nor the name of a ready case"),
        (("bare.toml",), "no heats"),
    ],
)
def test_what_can_not_be_written_is_told_in_a_line(tmp_path, words, reason):
    (tmp_path / "bare.toml").write_text(LOADED, encoding="utf-8")
    told = call("sheet", *words)
    assert told.exit_code == cli.FAULTY
    assert reason in told.stderr
    assert len(told.stderr.splitlines()) == 1
    assert [file.name for file in tmp_path.iterdir()] == ["bare.toml"]


def test_a_faulty_case_is_told_and_nothing_is_written(tmp_path):
    file = tmp_path / "bad.toml"
    file.write_text(LOADED.replace("length_mm = 60", "length_mm = -6"), encoding="utf-8")
    told = call("sheet", file)
    assert told.exit_code == cli.FAULTY
    assert "length_mm" in told.stderr
    assert [one.name for one in tmp_path.iterdir()] == ["bad.toml"]


def test_a_place_that_can_not_be_written_to_is_told(tmp_path):
    told = call("sheet", "hopper_wall_line", "--out", "missing/folder/a.pdf")
    assert told.exit_code == cli.FAULTY
    assert told.stderr == (
        "Error: The folder missing/folder is not there; make it or give another.\n"
    )
