"""The command line, as a person and as a script meet it."""

import json
import os
import signal
import subprocess
import sys
import time

import jsonschema
import pytest
from typer.testing import CliRunner

import flamefe.study.run
from flamefe import cli
from flamefe.basics.errors import NotConverged
from flamefe.reporting.document import result_schema
from flamefe.study.casefile import load_case
from flamefe.study.examples import example_names, example_path

SMALL = """
title = "A small [red]spot[/red]"
[workpiece]
kind = "plate"
length_mm = 60
width_mm = 60
thickness_mm = 10
material = "S355"
[mesh]
size_at_heat_mm = 10
size_away_mm = 20
layers = 1
[flames.torch]
power_kW = 4
radius_mm = 20
[[heats]]
kind = "spot"
flame = "torch"
face = "top"
at_mm = [30, 30]
time_s = 4
[solve]
largest_temperature_step_C = 100
"""


@pytest.fixture
def small(tmp_path, monkeypatch):
    """Return a case file that runs in seconds; the work is done in its folder."""
    monkeypatch.chdir(tmp_path)
    file = tmp_path / "small.toml"
    file.write_text(SMALL, encoding="utf-8")
    return file


def call(*words):
    return CliRunner().invoke(cli.app, [str(word) for word in words])


def command(*words, **options):
    return subprocess.run(
        [sys.executable, "-m", "flamefe", *map(str, words)],
        capture_output=True, text=True, encoding="utf-8", stdin=subprocess.DEVNULL, timeout=120,
        **options,
    )  # fmt: skip


def test_alone_it_tells_what_it_can_do():
    told = call()
    assert told.exit_code == cli.OK
    assert len(told.output.splitlines()) <= 15
    for word in ("examples", "example", "check", "run", "materials", "schema"):
        assert f"flamefe {word}" in told.output


def test_version_and_exit_codes_in_help():
    assert call("--version").output.startswith("flamefe 0")
    told = " ".join(call("--help").output.split())
    assert "Exit codes: 0 done (also when a limit was exceeded" in told
    assert "130 stopped by Ctrl-C" in told
    assert call("run", "--wrong").exit_code == cli.FAULTY
    assert call("walk").exit_code == cli.FAULTY


def test_nothing_is_loaded_for_pictures_before_they_are_drawn():
    code = (
        "import sys; from flamefe import cli; "
        "sys.exit(any(name in sys.modules for name in ('pyvista', 'vtkmodules', 'matplotlib')))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_run_in_a_pipe(small):
    done = command("run", small.name, "--no-pictures", "--geometry", "small", cwd=small.parent)
    assert done.returncode == cli.OK, done.stderr
    assert done.stdout.startswith("A small [red]spot[/red]\n")
    assert "small geometry" in done.stdout
    assert "Written to small-result: result.json" in done.stdout
    assert "heating: done in" in done.stderr
    assert "straining: done in" in done.stderr
    for text in (done.stdout, done.stderr):
        assert "\x1b" not in text
        assert "\r" not in text
        assert "Traceback" not in text
    document = json.loads((small.parent / "small-result" / "result.json").read_text("utf-8"))
    jsonschema.validate(document, result_schema())
    assert document["case"]["solve"]["geometry"] == "small"
    again = load_case(small.parent / "small-result" / "case.toml")
    assert again.solve.geometry == "small"
    assert again.title == "A small [red]spot[/red]"


def test_out_folder_with_other_things_is_refused_before_the_run(small, monkeypatch):
    monkeypatch.setattr(flamefe.study.run, "run", lambda *_, **__: pytest.fail("ran"))
    told = call("run", small, "--out", small.parent)
    assert told.exit_code == cli.FAULTY
    assert "no earlier result" in told.output


def test_faults_are_told_all_at_once(small):
    small.write_text(SMALL.replace("power_kW = 4", "power_kW = -4").replace('"top"', '"topp"'))
    for words in (("check", small), ("run", small)):
        told = call(*words)
        assert told.exit_code == cli.FAULTY
        assert "2 faults" in told.output
        assert "power_kW" in told.output
        assert "topp" in told.output
        assert "Traceback" not in told.output
    assert not (small.parent / "small-result").exists()


def test_check_of_a_sound_case(small):
    told = call("check", small)
    assert told.exit_code == cli.OK
    assert "No fault found: A small [red]spot[/red] (1 heat, " in told.output


@pytest.mark.parametrize("name", ["hopper_wal_line", "nothing", "no/such/case", "none.toml"])
def test_a_case_that_is_not_there(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    told = call("check", name)
    assert told.exit_code == cli.FAULTY
    assert "Traceback" not in told.output
    assert len(told.output.splitlines()) <= 3
    if name == "hopper_wal_line":
        assert "did you mean hopper_wall_line?" in told.output


def test_errors_are_short_unless_the_traceback_is_asked_for(small, monkeypatch):
    def fails(*_, **__):
        raise NotConverged("The increment at 3 s did not converge; make the mesh finer.")

    monkeypatch.setattr("flamefe.cli.cases.run_case", fails)
    told = call("run", small)
    assert told.exit_code == cli.FAILED
    assert told.output.splitlines() == [
        "Error: The increment at 3 s did not converge; make the mesh finer."
    ]
    told = call("run", small, "--traceback")
    assert told.exit_code == cli.FAILED
    assert "Traceback" in told.output
    assert not (small.parent / "small-result").exists()


def test_an_unexpected_error_says_how_to_see_more(small, monkeypatch):
    def fails(*_, **__):
        raise ZeroDivisionError("oops")

    monkeypatch.setattr("flamefe.cli.cases.run_case", fails)
    told = call("run", small)
    assert told.exit_code == cli.FAILED
    assert told.output == (
        "Error in flamefe itself: ZeroDivisionError: oops. "
        "Run it again with --traceback to see where.\n"
    )


def test_stopping_by_hand_leaves_nothing_behind(small):
    small.write_text(
        SMALL.replace("time_s = 4", "time_s = 300")
        .replace("size_at_heat_mm = 10", "size_at_heat_mm = 1.5")
        .replace("layers = 1", "layers = 6")
        .replace("largest_temperature_step_C = 100", "heat_step_s = 0.05")
        .replace("power_kW = 4", "power_kW = 0.5")
    )
    started = subprocess.Popen(
        [sys.executable, "-m", "flamefe", "run", small.name],
        cwd=small.parent, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    try:
        assert started.stderr.readline() == "heating: started\n"
        time.sleep(0.5)
        assert started.poll() is None, started.communicate()
        started.send_signal(signal.SIGINT)
        out, err = started.communicate(timeout=30)
    finally:
        started.kill()
    assert started.returncode == cli.STOPPED
    assert err.endswith("Stopped.\n")
    assert "heating: stopped after" in err
    assert "Traceback" not in err
    assert out == ""
    assert not (small.parent / "small-result").exists()


def test_examples_can_be_listed_and_copied_out(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    listed = call("examples").output
    for name in example_names():
        assert name in listed
        assert load_case(example_path(name)).title in listed
    name = example_names()[0]
    assert call("example", name).exit_code == cli.OK
    copied = tmp_path / f"{name}.toml"
    assert copied.read_text("utf-8") == example_path(name).read_text("utf-8")
    told = call("example", name)
    assert told.exit_code == cli.FAULTY
    assert "is there already" in told.output
    assert call("example", name, "--to", "-").output == copied.read_text("utf-8")
    assert call("example", name, "--to", tmp_path / "other.toml").exit_code == cli.OK
    assert call("example", "nothing").exit_code == cli.FAULTY


def test_schemas_are_json():
    case_schema = json.loads(call("schema").output)
    jsonschema.Draft202012Validator.check_schema(case_schema)
    assert "workpiece" in case_schema["properties"]
    assert json.loads(call("schema", "result").output) == result_schema()


def test_materials_are_listed_with_limits():
    told = call("materials").output
    assert "S355" in told
    assert "650" in told
    assert "local code" in told


def test_a_closed_pipe_is_no_drama():
    done = subprocess.run(
        f"{sys.executable} -m flamefe schema | head -1",
        shell=True, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout == "{\n"
    assert "Traceback" not in done.stderr
