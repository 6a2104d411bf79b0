"""The glossary, the shell's completion, and the exit codes as they are documented."""

import os
import subprocess
import sys
from pathlib import Path

from typer.testing import CliRunner

from flamefe import cli
from flamefe.study.examples import example_names

README = (Path(__file__).parents[1] / "README.md").read_text("utf-8")


def call(*words):
    return CliRunner().invoke(cli.app, list(words))


def completed(**environment):
    return subprocess.run(
        [sys.executable, "-m", "flamefe"],
        capture_output=True, text=True, check=False, timeout=60,
        env={**os.environ, **environment},
    ).stdout  # fmt: skip


def test_the_glossary_explains_a_word_of_several():
    told = call("glossary", "vacuum", "plate")
    assert told.exit_code == cli.OK
    assert told.output.startswith("Kinds of supports: vacuum plate: holds a face by suction")
    told = call("glossary", "wegde")
    assert told.exit_code == cli.FAULTY
    assert "wedge" in told.output
    assert "upset" in call("glossary").output


def test_the_completion_script_is_produced():
    for shell, mark in (("bash", "complete "), ("zsh", "compdef"), ("fish", "complete ")):
        script = completed(_FLAMEFE_COMPLETE=f"source_{shell}")
        assert mark in script, shell
        assert "_FLAMEFE_COMPLETE" in script


def test_commands_and_ready_cases_are_completed():
    found = completed(_FLAMEFE_COMPLETE="complete_bash", COMP_WORDS="flamefe ch", COMP_CWORD="1")
    assert found.split() == ["check", "choose"]
    found = completed(
        _FLAMEFE_COMPLETE="complete_bash", COMP_WORDS="flamefe run hop", COMP_CWORD="2"
    )
    assert found.split() == [name for name in example_names() if name.startswith("hop")]


def test_exit_codes_are_documented_as_they_are(tmp_path):
    help_text = " ".join(call("--help").output.split())
    for code, words in ((cli.OK, "done"), (cli.FAILED, "the run failed"),
                        (cli.FAULTY, "the case or the command line is faulty"),
                        (cli.STOPPED, "stopped by Ctrl-C")):  # fmt: skip
        assert f"{code} {words}" in help_text
        assert f"{code} {words}" in README
    assert call("check", "hopper_wall_line").exit_code == cli.OK
    assert call("check", "no_such_case").exit_code == cli.FAULTY
    faulty = tmp_path / "faulty.toml"
    faulty.write_text('title = "nothing"\n', encoding="utf-8")
    assert call("run", str(faulty)).exit_code == cli.FAULTY
