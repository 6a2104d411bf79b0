"""flamefe sweep, as a person meets it."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest
from typer.testing import CliRunner

from flamefe import cli
from flamefe.rules.table_file import read_table

CASE = """
title = "A line on a gusset"
workpiece = {kind = "plate", length_mm = 80, width_mm = 80, thickness_mm = 8, material = "S355"}
mesh = {size_at_heat_mm = 10, size_away_mm = 20, layers = 1}
flames = {torch = {power_kW = 3, radius_mm = 15}}
solve = {largest_temperature_step_C = 100}
[[heats]]
kind = "line"
flame = "torch"
face = "top"
path_mm = [[20, 40], [60, 40]]
speed_mm_s = 8
"""
STUDY = """
title = "Power on gussets"
case = "gusset.toml"
[factors]
"flames.torch.power_kW" = {lowest = 2.8, highest = 3.4, steps = 4}
[accuracy]
repeat = 1
finer = 1.3
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Where a study was run once by the command."""
    place = tmp_path_factory.mktemp("sweep")
    (place / "gusset.toml").write_text(CASE, encoding="utf-8")
    (place / "study.toml").write_text(STUDY, encoding="utf-8")
    words = [sys.executable, "-m", "flamefe", "sweep", "study.toml", "--jobs", "2"]
    done = subprocess.run(words, cwd=place, capture_output=True, text=True, check=True)
    (place / "said.txt").write_text(done.stdout)
    (place / "progress.txt").write_text(done.stderr)
    return place


def call(*words):
    return CliRunner().invoke(cli.app, [str(word) for word in words])


def test_the_study_is_told_and_written(folder):
    said = (folder / "said.txt").read_text()
    assert said.startswith(
        "Study: Power on gussets\n4 runs and 1 finer repeat, none failed; 5 made"
    )
    assert "Estimated error by mesh and steps" in said
    assert "never" not in said
    assert "local codes" in said
    progress = (folder / "progress.txt").read_text().splitlines()
    assert progress[0] == "5 runs: started"
    assert progress[-1].startswith("5 runs: done in")
    written = sorted(file.name for file in (folder / "study-sweep").iterdir())
    assert written == ["repeats.csv", "runs", "table.csv", "table.study.json"]
    assert len(read_table(folder / "study-sweep" / "table.csv")) == 4


def test_the_error_that_a_study_tells_is_carried_by_the_card(folder, monkeypatch):
    monkeypatch.chdir(folder)
    table = "study-sweep/table.csv"
    done = call("calibrate", table, "--rule", "two layers", "--coefficient", "factor",
                "--card", "card.json")  # fmt: skip
    assert done.exit_code == 0, done.output
    card = json.loads((folder / "card.json").read_text())
    summary = json.loads((folder / "study-sweep" / "table.study.json").read_text())
    error = summary["simulation_error"]["angular change at mid length"]["rms_share"]
    assert card["simulation_error_share"] == pytest.approx(error)
    assert card["simulation_error_share"] > 0
    assert card["provenance"]["study"] == "Power on gussets"
    done = call("calibrate", table, "--rule", "two layers", "--coefficient", "factor",
                "--card", "card.json", "--mesh-error-percent", "2")  # fmt: skip
    assert json.loads((folder / "card.json").read_text())["simulation_error_share"] == 0.02


def test_nothing_is_run_twice_and_another_table_is_made(folder, monkeypatch):
    pytest.importorskip("pyarrow")
    monkeypatch.chdir(folder)
    done = call("sweep", "study.toml", "--table", "all.parquet")
    assert "; 0 made now" in done.output
    assert len(read_table(folder / "all.parquet")) == 4
    assert (folder / "all.study.json").is_file()


def test_a_study_is_checked_without_running(folder, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    done = call("sweep", folder / "study.toml", "--check")
    assert done.output == "Power on gussets: 4 runs and 1 finer repeats, no faults.\n"
    assert not list(tmp_path.iterdir())


def test_faults_end_with_2_and_nothing_is_run(folder, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bad.toml").write_text(
        'title = "x"\ncase = "gusset.toml"\n[factors]\n"a.b" = [1]\n'
    )
    done = call("sweep", "bad.toml")
    assert done.exit_code == 2
    assert "bad.toml, line 2, column 1: case" in done.stderr
    done = call("sweep", folder / "study.toml", "--table", "x.xlsx")
    assert (done.exit_code, "must end in .csv or .parquet" in done.stderr) == (2, True)
    other = tmp_path / "other"
    other.mkdir()
    (other / "mine.txt").write_text("mine")
    done = call("sweep", folder / "study.toml", "--out", other)
    assert (done.exit_code, "no earlier study" in done.stderr) == (2, True)
    assert [file.name for file in other.iterdir()] == ["mine.txt"]


def test_a_study_whose_every_run_fails_ends_with_1(folder, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "gusset.toml").write_text(
        CASE + '[[supports]]\nkind = "guide"\nface = "start"\n', encoding="utf-8"
    )  # loose in two directions
    (tmp_path / "s.toml").write_text(STUDY.partition("[accuracy]")[0], encoding="utf-8")
    done = call("sweep", "s.toml", "--jobs", "1")
    assert done.exit_code == 1
    assert "4 failed" in done.output
    assert "FAILED run 1 (flames.torch.power_kW = 2.8)" in done.output
    assert "free to move" in read_table(tmp_path / "s-sweep" / "table.csv")[0]["failed"]


@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_ctrl_c_stops_at_once_and_what_is_done_is_kept(folder, tmp_path):
    (tmp_path / "gusset.toml").write_text(CASE, encoding="utf-8")
    (tmp_path / "study.toml").write_text(
        STUDY.partition("[accuracy]")[0].replace("steps = 4", "steps = 100"), encoding="utf-8"
    )
    words = [sys.executable, "-m", "flamefe", "sweep", "study.toml", "--jobs", "2"]
    runs = tmp_path / "study-sweep" / "runs"
    with subprocess.Popen(
        words, cwd=tmp_path, stderr=subprocess.PIPE, text=True, start_new_session=True
    ) as process:
        end = time.monotonic() + 120
        while len(list(runs.glob("[0-9a-f]*.json"))) < 2 and time.monotonic() < end:
            time.sleep(0.02)
        os.killpg(process.pid, signal.SIGINT)  # as a terminal does, to all processes
        _, said = process.communicate(timeout=30)
    assert process.returncode == 130
    assert said.rstrip().endswith("Stopped.")
    assert "Traceback" not in said
    assert 2 <= len(list(runs.glob("[0-9a-f]*.json"))) < 100
