"""The command for the shop floor: heat sheets."""

from pathlib import Path
from typing import Annotated

import typer

from flamefe.basics.writable import check_writable_folder
from flamefe.cli.answering import (
    EXIT_CODES,
    CaseArgument,
    TracebackOption,
    answering,
    app,
    beside,
    load,
    refuse,
    with_places,
)
from flamefe.reporting.heat_files import NoSuchSheet, write_sheets
from flamefe.reporting.heat_sheet import NoHeats, case_sheets
from flamefe.study.faults import CaseError


@app.command(epilog=EXIT_CODES)
def sheet(
    case: CaseArgument,
    out: Annotated[
        Path | None,
        typer.Option(
            help="A .pdf file (a page a cycle), a .svg or .png file (of one cycle), or a folder.  "
            "[default: the case's name with -sheet.pdf]"
        ),
    ] = None,
    show_traceback: TracebackOption = False,
) -> None:
    """Write the heat sheets of a case, an A4 page a cycle, without running it.

    A sheet holds what a foreman needs at the part: sketch, order, torch, temperatures, restraint,
    what to measure. What a run would predict is left open; flamefe run writes the sheets with
    its predictions into the folder of the result.
    """
    with answering(show_traceback):
        loaded, file = load(case)
        target = out if out is not None else Path(f"{file.stem}-sheet.pdf")
        whole = target.is_dir() or not target.suffix
        check_writable_folder(target if whole else beside(target).parent)
        try:
            written = write_sheets(case_sheets(loaded), target)
        except CaseError as problem:
            raise with_places(problem, file) from None
        except (NoHeats, NoSuchSheet) as problem:
            refuse(str(problem))
        typer.echo(f"Written: {', '.join(str(one) for one in written)}")
        typer.echo("Nothing was computed: predictions are left open. flamefe run fills them in.")
