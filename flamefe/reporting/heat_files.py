"""Heat sheets as files."""

from collections.abc import Sequence
from pathlib import Path

from flamefe.basics.errors import OutOfRange
from flamefe.basics.whole_file import written_aside
from flamefe.reporting.heat_page import heat_page
from flamefe.reporting.heat_sheet import HeatSheet
from flamefe.reporting.paper import Paper, as_paper

SHEET = "sheet_cycle_{cycle}.{kind}"
KINDS = ("pdf", "svg", "png")
IN_FOLDER = ("pdf", "svg")
MOST_SHEETS = 40
"""Cycles of which a result gets a sheet."""


class NoSuchSheet(OutOfRange):
    """A file can't hold what is asked for."""


def write_sheets(sheets: Sequence[HeatSheet], target: str | Path) -> tuple[Path, ...]:
    """Write sheets into one file or, as PDF and SVG each, into a folder.

    Args:
        sheets: one a cycle.
        target: a file that ends in .pdf (all cycles, a page each), .svg or .png (a single cycle),
            or a folder, which is made if need be; it gets sheet_cycle_1.pdf and .svg and so on.

    Returns:
        The files.

    Raises:
        NoSuchSheet: a picture of several cycles, or a file of another kind.
        OSError: a file can't be written.

    Example:
        >>> write_sheets(case_sheets(case), "sheets")  # doctest: +SKIP
        (PosixPath('sheets/sheet_cycle_1.pdf'), PosixPath('sheets/sheet_cycle_1.svg'))
    """
    path = Path(target)
    kind = path.suffix.lower().lstrip(".")
    if path.is_dir() or not kind:
        path.mkdir(parents=True, exist_ok=True)
        return sheet_files(sheets, [heat_page(sheet) for sheet in sheets], path)
    if kind not in KINDS:
        raise NoSuchSheet(
            f"A sheet can't be written as {path.name!r}; give a file that ends in "
            f"{', '.join('.' + one for one in KINDS)}, or a folder."
        )
    if kind != "pdf" and len(sheets) > 1:
        raise NoSuchSheet(
            f"A .{kind} file holds one sheet, the case has {len(sheets)} cycles; give a "
            "file that ends in .pdf, or a folder."
        )
    return (_put(path, [heat_page(sheet) for sheet in sheets], kind),)


def sheet_files(
    sheets: Sequence[HeatSheet], pages: Sequence[Paper], folder: Path
) -> tuple[Path, ...]:
    """Write drawn sheets into a folder, each as PDF and as SVG.

    Args:
        sheets: one a cycle.
        pages: of them, in the same order.
        folder: is there.
    """
    return tuple(
        _put(folder / SHEET.format(cycle=sheet.cycle, kind=kind), [page], kind)
        for sheet, page in zip(sheets, pages, strict=True)
        for kind in IN_FOLDER
    )


def clear_sheets(folder: Path) -> None:
    """Take away the sheets of an earlier result."""
    for kind in IN_FOLDER:
        for file in folder.glob(SHEET.format(cycle="*", kind=kind)):
            number = file.stem.rpartition("_")[2]
            if number.isdigit():
                file.unlink(missing_ok=True)


def _put(file: Path, pages: Sequence[Paper], kind: str) -> Path:
    with written_aside(file) as aside:
        aside.write_bytes(as_paper(pages, kind))
    return file


def sheet_words(sheet: HeatSheet) -> str:
    """What a sheet says, for those who can't see it.

    Args:
        sheet: its facts.
    """
    rows = [
        f"{row.numbers}: {row.what}, {row.face}, {'; '.join(row.places[:12])}, {row.drive}"
        for row in sheet.rows
    ]
    told = [f"{name} {words}" for name, words in sheet.temperatures]
    measures = [
        f"{one.name} {one.predicted or 'not computed'} {one.unit}" for one in sheet.measures
    ]
    parts = [
        f"Heat sheet, cycle {sheet.cycle} of {sheet.cycles}: {sheet.title}, {sheet.part}",
        sheet.state.rstrip("."), *sheet.alerts, *rows, *sheet.torches, *told, *sheet.holding,
        f"To be measured: {', '.join(measures)}",
    ]  # fmt: skip
    return ". ".join(parts) + "."
