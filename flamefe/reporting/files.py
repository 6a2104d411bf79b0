"""The folder that a run leaves behind."""

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from flamefe.basics.writable import check_writable_folder
from flamefe.reporting.atomic import FolderInUse, put_text, written_aside
from flamefe.reporting.document import result_document
from flamefe.reporting.fields import write_fields
from flamefe.reporting.heat_files import MOST_SHEETS, clear_sheets, sheet_files, sheet_words
from flamefe.reporting.heat_page import heat_page
from flamefe.reporting.heat_sheet import result_sheets
from flamefe.reporting.page import PAGE, page_text
from flamefe.reporting.pictures import (
    hottest_picture,
    peak_temperature_picture,
    plastic_strain_picture,
    shape_picture,
)
from flamefe.reporting.probe import WHAT_TO_INSTALL, why_no_3d
from flamefe.reporting.summary import summary_text
from flamefe.reporting.words import one_line
from flamefe.study.case import Case, MeshFile
from flamefe.study.casefile import dump_case
from flamefe.study.result import RunResult

RESULT = "result.json"
PICTURES: dict[str, Callable[..., Path]] = {
    "hottest.png": hottest_picture,
    "peak_temperature.png": peak_temperature_picture,
    "plastic_strain.png": plastic_strain_picture,
    "shape.png": shape_picture,
}


@dataclass(frozen=True, kw_only=True)
class WrittenFiles:
    """What ``write_result`` wrote.

    Args:
        folder: where all of it is.
        result: numbers and words, JSON.
        case: what was asked, as a case file.
        summary: the same words that a run shows.
        page: all of it to look at, in one file; None when it could not be made.
        fields: temperature, displacement and residual fields over time, for viewers.
        pictures: PNG files that could be drawn.
        notes: what went wrong with pictures, in words; empty when nothing did.
        sheets: heat sheets of the cycles, as PDF and SVG.
    """

    folder: Path
    result: Path
    case: Path
    summary: Path
    page: Path | None
    fields: Path
    pictures: tuple[Path, ...] = ()
    notes: tuple[str, ...] = ()
    sheets: tuple[Path, ...] = ()


def check_folder(folder: str | Path) -> Path:
    """Make sure that a result may be written into ``folder``, before hours are spent.

    Args:
        folder: does not exist, is empty, or holds an earlier result (a file result.json).

    Returns:
        The folder.

    Raises:
        FolderInUse: it is a file, or holds something else.
        Unwritable: it can't be made, or nothing can be written into it.
    """
    path = Path(folder)
    if path.exists() and not path.is_dir():
        raise FolderInUse(f"{path} is a file; give a folder for the result.")
    if path.is_dir() and not (path / RESULT).is_file() and any(path.iterdir()):
        raise FolderInUse(
            f"The folder {path} holds files but no earlier result ({RESULT}), so nothing is "
            "written into it; give an empty or a new folder."
        )
    return check_writable_folder(path)


def write_result(result: RunResult, folder: str | Path, *, pictures: bool = True) -> WrittenFiles:
    """Write a result into a folder: numbers, case, summary, fields over time, then pictures.

    ==================== ======================================================================
    ``result.json``      numbers and words, as ``flamefe/reporting/result.schema.json`` says
    ``case.toml``        what was asked; running it again gives the same result
    ``report.html``      all of it on one page, in one file that needs no other and loads nothing
    ``summary.txt``      what to read first
    ``fields.pvd``       fields over time for viewers, with its moments in ``fields/``
    mesh file            a copy, where the case has one
    ``sheet_cycle_*``    heat sheets for the shop, an A4 page a cycle, PDF and SVG
    ``*.png``            highest temperature, plastic strain, shape before and after
    ==================== ======================================================================

    Each file is written whole or not at all. Pictures and the page come last; what can't be drawn
    is a note, never an error.

    Args:
        result: a finished run.
        folder: made if need be; an earlier result in it is replaced.
        pictures: whether to draw pictures, charts and heat sheets; the page is written without
            them, too.

    Returns:
        The files, and notes about pictures and the page.

    Raises:
        FolderInUse: the folder holds something that is no earlier result.
        Unwritable: nothing can be written into it.
        OSError: a file can't be written.

    Example:
        >>> write_result(result, "hopper-result").summary  # doctest: +SKIP
        PosixPath('hopper-result/summary.txt')
    """
    path = check_folder(folder)
    path.mkdir(parents=True, exist_ok=True)
    for name in (*PICTURES, PAGE):
        (path / name).unlink(missing_ok=True)
    clear_sheets(path)
    numbers = put_text(path / RESULT, _json(result_document(result)))
    case = put_text(path / "case.toml", dump_case(_with_its_mesh(result.case, path)))
    words = summary_text(result)
    summary = put_text(path / "summary.txt", words)
    fields = write_fields(result, path)
    drawn, notes = _draw_all(result, path) if pictures else ((), ())
    sheets, faults = _draw_sheets(result, path) if pictures else ({}, ())
    notes = (*notes, *faults)
    page, faults = _page(result, path, drawn, notes, sheets, charts=pictures)
    notes = (*notes, *faults)
    if notes:
        put_text(summary, words + "\nPictures\n" + "".join(f"  {note}\n" for note in notes))
    return WrittenFiles(
        folder=path, result=numbers, case=case, summary=summary, page=page, fields=fields,
        pictures=drawn, notes=notes,
        sheets=tuple(file.with_suffix(kind) for file in sheets for kind in (".pdf", ".svg")),
    )  # fmt: skip


def _with_its_mesh(case: Case, folder: Path) -> Case:
    """The case with its mesh file copied beside it, so that it can be run from ``folder``."""
    piece = case.workpiece
    if not isinstance(piece, MeshFile) or not Path(piece.file).is_file():
        return case
    copy = folder / Path(piece.file).name
    if not (copy.exists() and copy.samefile(piece.file)):
        with written_aside(copy) as aside:
            shutil.copyfile(piece.file, aside)
    return replace(case, workpiece=replace(piece, file=copy.name))


def _page(
    result: RunResult,
    folder: Path,
    pictures: tuple[Path, ...],
    notes: tuple[str, ...],
    sheets: dict[Path, str],
    *,
    charts: bool,
) -> tuple[Path | None, tuple[str, ...]]:
    """The page and what went wrong with it: nothing that costs a finished run."""
    stills = {picture.stem: picture for picture in pictures}
    try:
        text = page_text(result, pictures=stills, charts=charts, notes=notes, sheets=sheets)
    except Exception as fault:
        words = one_line(fault) or type(fault).__name__
        return None, (f"{PAGE} could not be made: {words}.",)
    return put_text(folder / PAGE, text), ()


def _json(document: dict[str, Any]) -> str:
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _draw_all(result: RunResult, folder: Path) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    drawn, notes = [], []
    reason = why_no_3d()
    if reason is not None:
        notes.append(WHAT_TO_INSTALL.format(reason=one_line(reason)))
    for name, picture in PICTURES.items():
        try:
            with written_aside(folder / name) as aside:
                picture(result, aside, three_d=reason is None)
        except Exception as fault:  # a finished run is never lost to a picture
            notes.append(f"{name} could not be drawn: {one_line(fault) or type(fault).__name__}.")
        else:
            drawn.append(folder / name)
    return tuple(drawn), tuple(notes)


def _draw_sheets(result: RunResult, folder: Path) -> tuple[dict[Path, str], tuple[str, ...]]:
    """Heat sheets: their SVG files with what they say; and what went wrong."""
    written: dict[Path, str] = {}
    try:
        sheets = result_sheets(result)
        for sheet in sheets[:MOST_SHEETS]:
            _, svg = sheet_files([sheet], [heat_page(sheet)], folder)
            written[svg] = sheet_words(sheet)
    except Exception as fault:  # a finished run is never lost to a sheet
        return written, (
            f"The heat sheets could not be made: {one_line(fault) or type(fault).__name__}.",
        )
    if len(sheets) > MOST_SHEETS:
        return written, (f"Heat sheets were made of the first {MOST_SHEETS} cycles only.",)
    return written, ()
