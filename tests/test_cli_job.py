"""A job on the command line: start, measure, plan, sheet, status, decide, estimate."""

import pytest
from typer.testing import CliRunner

from flamefe import cli
from flamefe.planning.job import Job
from flamefe.planning.jobfile import read

FIRST = "4.3,8.4,11.2,13.3,14.1,13.2,11.6,8.1,4.4"
SECOND = "2.8,5.3,7.1,7.8,8.0,7.9,7.1,5.2,2.9"
WRONG = "5.6,11.3,15.1,17.8,19.0,17.9,15.1,11.2,5.9"


def call(*words):
    return CliRunner().invoke(cli.app, ["job", *[str(word) for word in words]])


def good(*words):
    done = call(*words)
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.fixture
def job(tmp_path):
    file = tmp_path / "girder.job"
    good("start", file, "conveyor_girder")
    good("measure", file, "--values", FIRST)
    return file


def test_a_cycle_from_the_first_measurement_to_the_next_plan(job):
    text = good("plan", job, "--quick")
    assert "Girder of a grain conveyor: plan of cycle 1" in text
    for part in ("Heats (", "Shape, mm", "90 % band", "Why not more", "Overcorrected anywhere",
                 "Cautions", "Heating limit: keep the surface at or below 650 C",
                 "local codes and licensed practice"):  # fmt: skip
        assert part in text
    assert "splice of the flange" in text
    sheet = good("sheet", job)
    heats = [line for line in sheet.splitlines() if line.startswith("  [ ]")]
    assert f"Heats ({len(heats)} of" in text
    assert "wait until the heated place is at 60 C or colder" in sheet
    assert "camber at 6 m: ________" in sheet
    assert "Fire and gas" in sheet
    told = good("measure", job, "--values", SECOND)
    assert "fits what was expected" in told
    assert "wedge: 0." in told
    status = good("status", job)
    assert "1 cycle(s)" in status
    assert status.rstrip().endswith("Next: flamefe job plan.")
    assert "plan of cycle 2" in good("plan", job, "--quick")
    assert "Next: give the" in good("status", job)
    assert len(read(job).entries) == 5


def test_a_misfit_is_shown_and_can_be_decided(job):
    good("plan", job, "--quick")
    told = good("measure", job, "--values", WRONG)
    assert "THIS CYCLE DOES NOT FIT" in told
    assert "wrong side" in told
    assert "wedge: 1.00 times" in told
    assert "DOES NOT FIT" in good("status", job)
    status = good("decide", job, "discard", "--because", "the wire sagged")
    assert "1 cycle(s)" in status, "what was given stays given"
    assert "Next: measure again" in status
    assert "don't give them again" in " ".join(status.split())
    refused = call("plan", job, "--quick")
    assert refused.exit_code == 2
    assert "measure again before anything is planned" in refused.output
    assert read(job).entries[-1].data["because"] == "the wire sagged"


def test_a_csv_and_heats_left_out(job, tmp_path):
    good("plan", job, "--quick")
    table = tmp_path / "after.csv"
    names = [row["name"] for row in read(job).entries[0].data["problem"]["places"]]
    values = SECOND.split(",")
    table.write_text(
        "place,deviation_mm,uncertainty_mm\n"
        + "".join(f"{name},{value},0.5\n" for name, value in zip(names, values, strict=True))
    )
    good("measure", job, table, "--skipped", "1")
    entry = read(job).entries[-1]
    planned = [row["name"] for row in read(job).entries[2].data["heats"]]
    assert entry.data["given"] == planned[1:]
    assert entry.data["uncertainty_mm"] == [0.5] * 9
    table.write_text(table.read_text().replace(names[0], "somewhere"))
    done = call("measure", job, table)
    assert done.exit_code == 2
    assert f"no value for {names[0]}" in done.output
    table.write_text("place,offset\n1,2\n")
    assert 'column "deviation_mm" is missing' in call("measure", job, table).output


def test_a_table_as_a_spreadsheet_writes_it(job, tmp_path):
    """Quoted heads, semicolons, decimal commas."""
    names = [row["name"] for row in read(job).entries[0].data["problem"]["places"]]
    table = tmp_path / "after.csv"
    values = [value.replace(".", ",") for value in SECOND.split(",")]
    rows = [f'"{name}";{value}' for name, value in zip(names, values, strict=True)]
    table.write_text('"place";"deviation_mm"\n' + "\n".join(rows) + "\n")
    good("measure", job, table)
    told = read(job).entries[-1].data["deviation_mm"]
    assert list(told.values()) == [float(value) for value in SECOND.split(",")]


def test_other_units_and_wild_readings_are_not_silent(tmp_path):
    job = tmp_path / "girder.job"
    good("start", job)
    microns = ",".join(str(1000 * float(value)) for value in FIRST.split(","))
    refused = call("measure", job, "--values", microns)
    assert refused.exit_code == 2
    assert "allowed: a tenth of it" in refused.output
    wild = FIRST.split(",")
    wild[4] = "41"
    assert "DOUBT: camber at 6 m: +41.0 mm stands off" in good(
        "measure", job, f"--values={','.join(wild)}"
    )
    for command in ("plan", "status"):
        assert "DOUBTFUL MEASUREMENT: camber at 6 m" in good(command, job)
    metres = ",".join(str(1e-3 * float(value)) for value in FIRST.split(","))
    calm = tmp_path / "calm.job"
    good("start", calm)
    assert "are they metres or inches" in " ".join(
        good("measure", calm, f"--values={metres}").split()
    )


def test_a_plan_is_not_replaced_by_another_without_a_word(job):
    good("plan", job, "--quick")
    refused = call("plan", job, "--quick")
    assert refused.exit_code == 2
    assert "that no measurement has followed" in refused.output
    good("plan", job, "--quick", "--instead")


def test_what_was_really_heated_can_be_entered_afterwards(job):
    good("plan", job, "--quick")
    planned = [row["name"] for row in read(job).entries[2].data["heats"]]
    good("measure", job, f"--values={SECOND}")
    other = next(
        row["name"]
        for row in read(job).entries[0].data["problem"]["heats"]
        if "bottom" in row["name"]
    )
    good("decide", job, "leave", "--skipped", "1", "--also", other)
    given = [heat.name for heat in Job(job).standing.cycles[0]]
    assert given == [*planned[1:], other]


def test_a_plan_on_a_discarded_measurement_is_not_given(job):
    good("plan", job, "--quick")
    status = good("decide", job, "discard")
    assert "DON'T give it" in " ".join(status.split())
    assert "Discarded: measurement 1" in status
    for words in (("sheet", job), ("plan", job), ("measure", job, f"--values={FIRST}")):
        refused = call(*words)
        assert refused.exit_code == 2
        assert "discarded" in refused.output
    again = call("decide", job, "discard")
    assert "discarded already" in again.output
    good("measure", job, f"--values={FIRST}", "--skipped", "all")
    assert "0 cycle(s) with 0 heat(s)" in good("status", job)


def test_a_cut_off_entry_is_said_by_every_command(job):
    content = job.read_bytes()
    job.write_bytes(content + content.splitlines()[-1][:40])
    assert "was cut off" in call("plan", job, "--quick").output
    job.write_bytes(content[:100])
    refused = call("status", job)
    assert refused.exit_code == 2
    assert "holds no whole entry" in refused.output


def test_a_survey_from_the_string(tmp_path):
    """Its ends are fitted out, with their error in all places; another string is refused."""
    job, survey = tmp_path / "girder.job", tmp_path / "camber.csv"
    good("start", job)
    offsets = [1.0, *(float(value) + 1.0 for value in FIRST.split(",")), 1.0]
    rows = [f"{1200 * i},{value}" for i, value in enumerate(offsets)]
    survey.write_text("\n".join(["station_mm,offset_mm", *rows]) + "\n")
    good("measure", job, survey)
    entry = read(job).entries[-1].data
    assert entry["deviation_mm"]["camber at 6 m"] == pytest.approx(14.1)
    errors = entry["uncertainty_mm"]
    assert errors[4][4] == pytest.approx(0.4**2 * 1.5)  # own reading, and half of each end's
    assert "Heats (" in good("plan", job, "--quick")
    survey.write_text("\n".join(["station_mm,offset_mm", *rows[1:-1]]) + "\n")
    done = call("measure", job, survey)
    assert done.exit_code == 2
    assert "readings at its two ends" in done.output


def test_an_estimate_with_alternatives(job):
    text = good("estimate", job, "--plays", "10")
    for part in ("cycles", "torch", "waits for cooling", "fuel", "EUR", "press at 1200 EUR"):
        assert part in text


def test_ready_jobs_are_listed():
    lines = good("examples").splitlines()
    assert lines[0] == "conveyor_girder  Girder of a grain conveyor"
    assert [line.partition("  ")[0] for line in lines[1:]] == [
        "drum_ring", "hopper_apron", "hopper_wall_bays", "platform_panel",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("status", "none.job"), "There is no job file none.job"),
        (("start", "JOB"), "is there already"),
        (("start", "new.job", "no_such"), "there are: conveyor_girder"),
        (("start", "new.job", "no_such.toml"), "There is no file no_such.toml"),
        (("measure", "JOB"), "either a CSV or --values"),
        (("measure", "JOB", "--values", "1,2"), "2 values for 9 places"),
        (("measure", "JOB", "--values", "1,x"), "9 numbers with commas"),
        (("measure", "JOB", "--values", FIRST, "--skipped", "9"), "no heats were planned"),
        (("measure", "JOB", "--values", FIRST, "--also", "x"), "knows no heat 'x'"),
        (("measure", "JOB", "nothing.csv"), "can't be read"),
        (("sheet", "JOB"), "first: flamefe job plan"),
        (("decide", "JOB", "learn"), "teaches nothing"),
    ],
)
def test_errors_are_plain_lines(job, words, told, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = call(*[job if word == "JOB" else word for word in words])
    assert done.exit_code == 2, done.output
    assert told in done.output
    assert "Traceback" not in done.output
    assert len(done.output.strip().splitlines()) <= 2


def test_a_damaged_file_is_told(job):
    job.write_bytes(job.read_bytes().replace(b"conveyor", b"conveyer", 1))
    done = call("status", job)
    assert done.exit_code == 2
    assert "line 1" in done.output or "not a job file" in done.output


def test_tabs_and_a_line_for_the_spreadsheet_are_taken(job, tmp_path):
    names = [row["name"] for row in read(job).entries[0].data["problem"]["places"]]
    rows = [f"{name}\t{value.replace('.', ',')}"
            for name, value in zip(names, SECOND.split(","), strict=True)]  # fmt: skip
    table = tmp_path / "after.txt"
    table.write_text("sep=\t\nplace\tdeviation_mm\n" + "\n".join(rows) + "\n")
    good("measure", job, table)
    told = read(job).entries[-1].data["deviation_mm"]
    assert list(told.values()) == [float(value) for value in SECOND.split(",")]


def test_a_doubt_is_told_once(tmp_path):
    """A survey from the string in metres: its reader and the job see the same."""
    job, survey = tmp_path / "girder.job", tmp_path / "camber.csv"
    good("start", job)
    offsets = [0.0, *(1e-3 * float(value) for value in FIRST.split(",")), 0.0]
    rows = [f"{1200 * i},{value}" for i, value in enumerate(offsets)]
    survey.write_text("\n".join(["station_mm,offset_mm", *rows]) + "\n")
    assert good("measure", job, survey).count("DOUBT") == 1
