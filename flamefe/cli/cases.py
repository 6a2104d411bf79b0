"""Commands about cases: run, check, list, copy, schemas."""

import json
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

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
from flamefe.reporting.document import result_schema
from flamefe.reporting.files import check_folder, write_result
from flamefe.reporting.progress import progress_for
from flamefe.reporting.summary import summary_rich, summary_text
from flamefe.reporting.words import one_line
from flamefe.study.case import case_schema
from flamefe.study.casefile import load_case
from flamefe.study.describe import describe
from flamefe.study.examples import example_names, example_path
from flamefe.study.faults import CaseError
from flamefe.study.run import run as run_case


class Geometry(StrEnum):
    """How the case is solved, in place of what its file says."""

    small = "small"
    finite = "finite"


class Document(StrEnum):
    """Which schema to print."""

    case = "case"
    result = "result"


@app.command(epilog=EXIT_CODES)
def run(
    case: CaseArgument,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the result.  [default: the case's name with -result]"),
    ] = None,
    no_pictures: Annotated[
        bool, typer.Option("--no-pictures", help="No pictures, charts and sheets.")
    ] = False,
    geometry: Annotated[
        Geometry | None,
        typer.Option(help="Equilibrium on the deformed shape (finite) or on the first (small)."),
    ] = None,
    show_traceback: TracebackOption = False,
) -> None:
    """Run a case and write its result into a folder.

    The folder gets report.html (all of it on one page), result.json, case.toml, summary.txt,
    fields.pvd (fields over time for viewers), heat sheets for the shop and pictures. An earlier
    result in it is replaced; a folder with anything else is refused.
    """
    with answering(show_traceback):
        loaded, file = load(case)
        if geometry is not None:
            loaded = replace(loaded, solve=replace(loaded.solve, geometry=geometry.value))
        folder = check_folder(out if out is not None else Path(f"{file.stem}-result"))
        progress = progress_for(Console(stderr=True))
        try:
            result = run_case(loaded, progress=progress)
        except BaseException as problem:
            progress.stop()
            if isinstance(problem, CaseError):
                raise with_places(problem, file) from None
            raise
        progress.finish()
        console = Console(highlight=False, markup=False, emoji=False)
        if console.is_terminal:
            console.print(summary_rich(result), soft_wrap=True)
        else:
            typer.echo(summary_text(result))
        written = write_result(result, folder, pictures=not no_pictures)
        for note in written.notes:
            typer.echo(f"Note: {note}")
        page = [] if written.page is None else [written.page.name]
        sheets = [one.name for one in written.sheets if one.suffix == ".pdf"]
        drawn = [*page, *sheets, *(picture.name for picture in written.pictures)]
        names = [written.result.name, written.case.name, written.summary.name, written.fields.name]
        typer.echo(f"Written to {written.folder}: {', '.join([*names, *drawn])}")


@app.command(epilog=EXIT_CODES)
def check(case: CaseArgument, show_traceback: TracebackOption = False) -> None:
    """Look for faults in a case, all at once, and tell it in words, without running it.

    It says what will be heated and how hot it gets, about; how it is held and loaded; how long
    the run will take; and which warnings to expect. Estimates are rough and say so.
    """
    with answering(show_traceback):
        loaded, file = load(case)
        try:
            told = describe(loaded)
        except CaseError as problem:
            raise with_places(problem, file) from None
        count = len(loaded.heats)
        size = f"{count} heat{'' if count == 1 else 's'}, {told.nodes} nodes"
        typer.echo(f"No fault found: {told.title} ({size}).\n\n{told.text}", nl=False)


@app.command("examples")
def list_examples() -> None:
    """List the ready cases."""
    with answering(False):
        cases = {name: load_case(example_path(name)).title for name in example_names()}
        width = max(map(len, cases), default=0)
        for name, title in cases.items():
            typer.echo(f"{name.ljust(width)}  {one_line(title)}")


@app.command()
def example(
    name: Annotated[str, typer.Argument(help="Name of a ready case (see: flamefe examples).")],
    to: Annotated[
        Path | None, typer.Option(help="File to write.  [default: NAME.toml; -: print it]")
    ] = None,
) -> None:
    """Copy a ready case out, to change it."""
    with answering(False):
        source = example_path(name)
        text = source.read_text(encoding="utf-8")
        target = to if to is not None else Path(source.name)
        if str(target) == "-":
            typer.echo(text, nl=False)
            return
        if beside(target).exists():
            refuse(f"{target} is there already; give another name with --to.")
        if not target.parent.is_dir():
            refuse(f"There is no folder {target.parent} for {target.name}; make it first.")
        target.write_text(text, encoding="utf-8")
        readings = source.with_suffix(".csv")
        if readings.exists():
            table = target.with_suffix(".csv")
            if table.exists():
                refuse(f"{table} is there already; give another name with --to.")
            table.write_text(readings.read_text(encoding="utf-8"), encoding="utf-8")
            typer.echo(f"Written to {target} and {table}. Fit its flame: flamefe fit {target}")
            return
        typer.echo(f"Written to {target}. Run it: flamefe run {target}")


@app.command()
def schema(
    of: Annotated[Document, typer.Argument(help="Of a case file or of result.json.")] = (
        Document.case
    ),
) -> None:
    """Print a JSON schema, for editors and other programs."""
    with answering(False):
        made = case_schema() if of is Document.case else result_schema()
        typer.echo(json.dumps(made, indent=2))
