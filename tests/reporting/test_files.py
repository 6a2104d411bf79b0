"""The folder of a result: complete, whole, and safe from pictures."""

import json

import jsonschema
import pytest

from flamefe.reporting import files
from flamefe.reporting.atomic import FolderInUse, put_text, written_aside
from flamefe.reporting.document import result_schema
from flamefe.reporting.files import check_folder, write_result
from flamefe.study.casefile import load_case

WHOLE = {"result.json", "case.toml", "summary.txt", "fields.pvd", "fields", "report.html"}
SHEETS = {"sheet_cycle_1.pdf", "sheet_cycle_1.svg"}


def names_in(folder):
    return {file.name for file in folder.iterdir()}


def test_folder_holds_everything(result, tmp_path):
    written = write_result(result, tmp_path / "a" / "out")
    assert names_in(written.folder) == WHOLE | SHEETS | set(files.PICTURES)
    assert {sheet.name for sheet in written.sheets} == SHEETS
    jsonschema.validate(json.loads(written.result.read_text("utf-8")), result_schema())
    assert load_case(written.case) == result.case
    assert written.summary.read_text("utf-8").startswith("Line heat on a hopper wall\n")
    assert len(written.pictures) == len(files.PICTURES)


def test_everything_else_is_there_before_the_first_picture(result, tmp_path, monkeypatch):
    seen = []

    def dies(*_, **__):
        seen.append(names_in(tmp_path))
        raise RuntimeError("no\nink")

    monkeypatch.setattr(files, "PICTURES", {"hottest.png": dies, "shape.png": dies})
    written = write_result(result, tmp_path)
    assert seen[0] == WHOLE - {"report.html"}
    assert written.pictures == ()
    assert [note for note in written.notes if "could not be drawn" in note] == [
        "hottest.png could not be drawn: no ink.",
        "shape.png could not be drawn: no ink.",
    ]
    assert "hottest.png could not be drawn: no ink." in written.summary.read_text("utf-8")
    assert names_in(tmp_path) == WHOLE | SHEETS


def test_without_3d_pictures_are_drawn_plainly_and_it_says_what_to_install(
    result, tmp_path, monkeypatch
):
    monkeypatch.setattr(files, "why_no_3d", lambda: "the trial was killed by signal 11")
    written = write_result(result, tmp_path)
    assert len(written.pictures) == len(files.PICTURES)
    assert "signal 11" in written.notes[0]
    assert "libegl1" in written.notes[0]
    assert written.notes[0] in written.summary.read_text("utf-8")


def test_no_pictures_when_none_are_wanted(result, tmp_path, monkeypatch):
    monkeypatch.setattr(files, "why_no_3d", lambda: pytest.fail("probed for nothing"))
    written = write_result(result, tmp_path, pictures=False)
    assert (written.pictures, written.notes) == ((), ())
    assert names_in(tmp_path) == WHOLE


def test_an_earlier_result_is_replaced_with_its_pictures(make_result, tmp_path):
    write_result(make_result(title="first"), tmp_path, pictures=False)
    for name in ("shape.png", "sheet_cycle_1.pdf", "sheet_cycle_7.svg"):
        (tmp_path / name).write_bytes(b"old")
    write_result(make_result(title="second"), tmp_path, pictures=False)
    assert json.loads((tmp_path / "result.json").read_text("utf-8"))["case"]["title"] == "second"
    assert names_in(tmp_path) == WHOLE


def test_a_folder_with_anything_else_is_left_alone(result, tmp_path):
    (tmp_path / "thesis.txt").write_text("years of work")
    with pytest.raises(FolderInUse, match="no earlier result"):
        write_result(result, tmp_path)
    assert names_in(tmp_path) == {"thesis.txt"}
    with pytest.raises(FolderInUse, match="is a file"):
        check_folder(tmp_path / "thesis.txt")
    empty = tmp_path / "empty"
    empty.mkdir()
    assert check_folder(empty) == empty


def test_a_file_is_whole_or_not_there(tmp_path):
    file = put_text(tmp_path / "a.txt", "old\n")

    def broken_off():
        with written_aside(file) as aside:
            aside.write_text("half of the n")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken_off()
    assert file.read_text() == "old\n"
    assert names_in(tmp_path) == {"a.txt"}
    put_text(file, "new\n")
    assert file.read_bytes() == b"new\n"
