"""Commands about the torch: which one to take, and what it really brings."""

import pytest
from typer.testing import CliRunner

from flamefe import cli


def call(*words):
    return CliRunner().invoke(cli.app, [str(word) for word in words])


def test_choose_prints_a_table_with_the_good_ones_first():
    done = call(
        "choose", "--thickness-mm", 8, "--target-C", 550, "--depth-mm", 2, "--limit-C", 700,
        "--torch", "acetylene:300", "--band-mm", 30,
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    lines = done.stdout.splitlines()
    assert lines[0] == "To 550 C, 2 mm deep in 8 mm of S355; surface at most 700 C"
    verdicts = ["reaches it" in line for line in lines if line.startswith("acetylene")]
    assert len(verdicts) == 3
    assert verdicts == sorted(verdicts, reverse=True)
    assert verdicts[0]


def test_choose_takes_the_flames_of_a_case():
    done = call(
        "choose",
        "--thickness-mm",
        12,
        "--target-C",
        500,
        "--flames-of",
        "hopper_wall_line",
        "--band-mm",
        30,
    )
    assert done.exit_code == 0, done.output
    assert any(line.startswith("torch ") for line in done.stdout.splitlines()[3:])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--thickness-mm", 12, "--target-C", 600, "--depth-mm", 20), "20 mm in a plate of 12 mm"),
        (("--thickness-mm", 0, "--target-C", 600), "A plate of 0 mm"),
        (("--thickness-mm", 12, "--target-C", 600, "--torch", "coal:100"), "coal:100"),
        (("--thickness-mm", 12, "--target-C", 600, "--material", "S356"), "S356"),
        (("--thickness-mm", "nan", "--target-C", 600), "nan"),
        (("--thickness-mm", 12, "--target-C", "nan"), "nan"),
    ],
)
def test_choose_refuses_what_cannot_be_in_one_line(words, told):
    done = call("choose", *words)
    assert done.exit_code == 2
    assert told in done.output
    assert "Traceback" not in done.output


def test_fit_of_the_ready_trial(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert call("example", "scrap_spot_trial").exit_code == 0
    assert (tmp_path / "scrap_spot_trial.csv").exists()
    text = (tmp_path / "scrap_spot_trial.toml").read_text("utf-8")
    coarse = text.replace("size_at_heat_mm = 5", "size_at_heat_mm = 9")
    (tmp_path / "scrap_spot_trial.toml").write_text(coarse.replace("layers = 4", "layers = 2"))
    done = call("fit", "scrap_spot_trial.toml", "--picture", "fit.png")
    assert done.exit_code == 0, done.output
    # the readings were made with 2.6 kW and 21 mm
    net = next(line for line in done.stdout.splitlines() if "net power" in line)
    assert 2.4 < float(net.split()[2]) < 2.8
    assert (tmp_path / "fit.png").stat().st_size > 10_000


def test_fit_without_readings_says_which_file_is_missing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = call("fit", "hopper_wall_line")
    assert done.exit_code in (1, 2)
    assert "hopper_wall_line.csv" in done.output
    (tmp_path / "bad.csv").write_text("x_mm,y_mm\n1,2\n")
    done = call("fit", "scrap_spot_trial", "bad.csv")
    assert done.exit_code == 2
    assert "temperature_C" in done.output


def test_a_folder_of_the_name_does_not_hide_a_ready_case(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "hopper_wall_line").mkdir()
    done = call("check", "hopper_wall_line")
    assert done.exit_code == 0, done.output
