"""The file of a job: nothing that was acknowledged is ever lost, nothing damaged is believed."""

import json
import os
import signal
import subprocess
import sys
import time

import pytest

from flamefe.planning.jobfile import JobFileError, append, create, parsed, read


@pytest.fixture
def file(tmp_path):
    made = tmp_path / "girder.job"
    create(made, {"title": "Girder with a µ"})
    append(made, "measurement", {"deviation_mm": {"2 m": 1.25, "4 m": -0.1}})
    append(made, "plan", {"heats": [{"name": "wedge 45 deg"}], "within": 0.93})
    return made


def test_lines_are_readable_and_checked(file):
    lines = file.read_text("utf-8").splitlines()
    assert [json.loads(line)["kind"] for line in lines] == ["start", "measurement", "plan"]
    assert json.loads(lines[0])["data"]["format"] == "flamefe job"
    assert "µ" in lines[0]
    assert [entry.number for entry in read(file).entries] == [0, 1, 2]


def test_cut_off_at_every_byte_of_the_last_entry(file):
    """Earlier entries stay, and work goes on after any of them."""
    whole = file.read_bytes()
    start = whole[:-1].rindex(b"\n") + 1
    for end in range(start, len(whole)):
        file.write_bytes(whole[:end])
        found = read(file)
        last = end == len(whole) - 1  # only the line end is missing: the entry is whole
        assert len(found.entries) == (3 if last else 2), end
        assert found.torn == (0 if last else end - start)
        entry = append(file, "note", {"text": "after the crash"})
        assert entry.number == (3 if last else 2)
        again = read(file)
        assert again.torn == 0
        assert again.entries[1].data == {"deviation_mm": {"2 m": 1.25, "4 m": -0.1}}
        assert again.entries[-1].data == {"text": "after the crash"}
    torn = file.with_name("girder.job.torn").read_bytes()
    assert whole[start : len(whole) - 2] in torn, "what was cut off is kept beside"


def test_zeros_after_a_crash_are_left_out(file):
    whole = file.read_bytes()
    file.write_bytes(whole + b"\0" * 300)
    assert len(read(file).entries) == 3
    assert append(file, "note", {}).number == 3


def test_any_changed_byte_before_the_last_line_is_found(file):
    whole = file.read_bytes()
    ends = [place for place, byte in enumerate(whole) if byte == 10]
    for place in range(0, ends[1], 7):
        changed = bytearray(whole)
        changed[place] = changed[place] ^ 1
        with pytest.raises(JobFileError):
            parsed(bytes(changed), "x")


def test_a_last_line_that_was_edited_is_not_taken_for_a_torn_one(file):
    whole = file.read_bytes()
    with pytest.raises(JobFileError, match=r"line 3.*changed or damaged"):
        parsed(whole.replace(b"0.93", b"0.99"), "x")


def test_a_line_taken_out_or_put_twice_is_found(file):
    lines = file.read_bytes().splitlines(keepends=True)
    for made in ([lines[0], lines[2]], [lines[0], lines[1], lines[1], lines[2]], lines[1:]):
        with pytest.raises(JobFileError):
            parsed(b"".join(made), "x")


def test_foreign_and_newer_files_are_refused(tmp_path):
    other = tmp_path / "notes.txt"
    other.write_text("hello\nworld\n")
    with pytest.raises(JobFileError):
        read(other)
    with pytest.raises(JobFileError, match="not a job file"):
        parsed(b"", "x")
    newer = tmp_path / "newer.job"
    create(newer, {"version": 99})
    with pytest.raises(JobFileError, match="version 99"):
        read(newer)


def test_an_existing_file_is_never_overwritten(file):
    before = file.read_bytes()
    with pytest.raises(JobFileError, match="is there already"):
        create(file, {})
    assert file.read_bytes() == before
    assert list(file.parent.iterdir()) == [file]


def test_somebody_elses_entry_is_noticed(file):
    with pytest.raises(JobFileError, match="somebody else"):
        append(file, "note", {}, after=2)


WRITER = """
import sys
from pathlib import Path
from flamefe.planning.jobfile import append, create
file = Path(sys.argv[1])
create(file, {})
for number in range(1, 100000):
    append(file, "note", {"text": "x" * 2000, "number": number})
    print(number, flush=True)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_a_killed_writer_loses_nothing_that_it_acknowledged(tmp_path):
    for turn in range(4):
        file = tmp_path / f"{turn}.job"
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(file)], stdout=subprocess.PIPE, text=True
        )
        told = writer.stdout.readline()
        time.sleep(0.02 + 0.013 * turn)
        os.kill(writer.pid, signal.SIGKILL)
        told += writer.stdout.read()
        writer.wait()
        acknowledged = [int(line) for line in told.splitlines() if line.isdigit()]
        found = read(file)
        kept = [entry.data["number"] for entry in found.entries[1:]]
        assert kept[: len(acknowledged)] == acknowledged
        assert len(kept) - len(acknowledged) in (0, 1)
        assert append(file, "note", {"text": "goes on"}).number == len(found.entries)


def test_two_writers_at_a_time_keep_all_lines(tmp_path):
    file = tmp_path / "two.job"
    create(file, {})
    code = (
        "import sys\nfrom pathlib import Path\nfrom flamefe.planning.jobfile import append\n"
        "for i in range(40): append(Path(sys.argv[1]), 'note', {'by': sys.argv[2], 'i': i})"
    )
    writers = [subprocess.Popen([sys.executable, "-c", code, str(file), who]) for who in "ab"]
    assert [writer.wait() for writer in writers] == [0, 0]
    entries = read(file).entries
    assert len(entries) == 81
    for who in "ab":
        assert [e.data["i"] for e in entries[1:] if e.data["by"] == who] == list(range(40))
