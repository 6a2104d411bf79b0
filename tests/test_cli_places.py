"""Where nothing can be written: told in one line, before anything is computed."""

import pytest
from typer.testing import CliRunner

import flamefe.cli.cases
import flamefe.cli.comparing
import flamefe.cli.sweeping
import flamefe.cli.torch
from flamefe import cli
from flamefe.basics.whole_file import put_text
from flamefe.basics.writable import Unwritable, check_writable_file, check_writable_folder

STUDY = """
title = "Speeds"
case = "hopper_wall_line"
[factors]
"heats[].speed_mm_s" = [5, 6]
"""
SPREAD = """
title = "Spread"
case = "hopper_wall_line"
design = "Sobol"
runs = 4
[factors]
"heats[].speed_mm_s" = {value = 6, spread = "10 %"}
"""
BEFORE = ["spread.toml", "study.toml", "thesis.txt"]


def call(*words):
    return CliRunner().invoke(cli.app, [str(word) for word in words])


@pytest.fixture(autouse=True)
def _in_a_folder(tmp_path, monkeypatch):
    """A folder with a file in whose place no folder can be made; nothing may be computed."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "thesis.txt").write_text("mine", encoding="utf-8")
    (tmp_path / "study.toml").write_text(STUDY, encoding="utf-8")
    (tmp_path / "spread.toml").write_text(SPREAD, encoding="utf-8")

    def never(*_, **__):
        raise AssertionError("computed before the place was looked at")

    monkeypatch.setattr(flamefe.cli.cases, "run_case", never)
    monkeypatch.setattr(flamefe.cli.comparing, "compare_variants", never)
    monkeypatch.setattr(flamefe.cli.sweeping, "run_study", never)
    monkeypatch.setattr(flamefe.cli.torch, "fit_flame", never)


@pytest.mark.parametrize(
    "words",
    [
        ("run", "hopper_wall_line", "--out", "thesis.txt/result"),
        ("sheet", "hopper_wall_line", "--out", "thesis.txt/sheets"),
        ("sheet", "hopper_wall_line", "--out", "thesis.txt/a.pdf"),
        ("sheet", "hopper_wall_line", "--out", "missing/a.pdf"),
        ("compare", "hopper_wall_line", "--vary", "heats[].speed_mm_s=5,6", "--out",
         "thesis.txt/a"),
        ("sweep", "study.toml", "--out", "thesis.txt/a"),
        ("sweep", "study.toml", "--table", "thesis.txt/a.csv"),
        ("spread", "spread.toml", "--out", "thesis.txt/a"),
        ("fit", "scrap_spot_trial", "--picture", "thesis.txt/a.png"),
        ("fit", "scrap_spot_trial", "--picture", "a.jpg"),
        ("example", "hopper_wall_line", "--to", "missing/a.toml"),
        ("job", "start", "missing/a.job"),
        ("calibrate", "heats.csv", "--rule", "two layers", "--card", "thesis.txt/a.json"),
    ],
    ids=lambda words: " ".join((words[0], words[-1])),
)  # fmt: skip
def test_a_place_that_can_not_be_written_to_is_refused_at_once(tmp_path, words):
    told = call(*words)
    assert told.exit_code == cli.FAULTY, told.output
    assert len(told.stderr.splitlines()) == 1
    assert words[-1].partition("/")[0] in told.stderr
    assert "Errno" not in told.stderr
    assert ".part" not in told.stderr
    assert sorted(file.name for file in tmp_path.iterdir()) == [
        "spread.toml",
        "study.toml",
        "thesis.txt",
    ]


def test_trying_leaves_nothing_and_spoils_nothing(tmp_path):
    assert check_writable_folder(tmp_path / "a" / "b") == tmp_path / "a" / "b"
    check_writable_file(tmp_path / "c" / "card.json")
    check_writable_folder(tmp_path)
    assert sorted(file.name for file in tmp_path.iterdir()) == [
        "spread.toml",
        "study.toml",
        "thesis.txt",
    ]
    assert (tmp_path / "thesis.txt").read_text("utf-8") == "mine"


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(Unwritable, match="is a folder; give a file"):
        check_writable_file(tmp_path)


def test_a_missing_folder_is_told_by_the_name_that_was_asked_for(tmp_path):
    with pytest.raises(FileNotFoundError) as fault:
        put_text(tmp_path / "missing" / "a.txt", "words")
    assert fault.value.filename == str(tmp_path / "missing" / "a.txt")
