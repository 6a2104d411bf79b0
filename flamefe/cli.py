"""The command line: run, check, list and copy cases."""

import difflib
import json
import sys
import traceback
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from enum import StrEnum
from importlib import metadata
from pathlib import Path
from typing import Annotated, NoReturn, TextIO

import typer
from rich.console import Console

from flamefe.basics.errors import FlamefeError, MaterialError, OutOfRange
from flamefe.heating.passing import WidePlate
from flamefe.heating.readings import ReadingsError, read_readings
from flamefe.planning.choosing import Wish, choices
from flamefe.reporting.atomic import FolderInUse
from flamefe.reporting.choice_table import choice_text
from flamefe.reporting.document import result_schema
from flamefe.reporting.files import check_folder, write_result
from flamefe.reporting.fit_picture import draw_fit
from flamefe.reporting.fit_summary import fit_text
from flamefe.reporting.progress import progress_for
from flamefe.reporting.summary import summary_rich, summary_text
from flamefe.reporting.words import one_line
from flamefe.study.case import Case, case_schema, notes
from flamefe.study.casefile import load_case, with_lines
from flamefe.study.examples import example_names, example_path
from flamefe.study.faults import CaseError
from flamefe.study.parts import body_of, material_of
from flamefe.study.run import run as run_case
from flamefe.study.torches import torches_from, torches_of
from flamefe.study.trial import fit_flame
from flamefe.workpiece.standard import material, material_names

OK, FAILED, FAULTY, STOPPED = 0, 1, 2, 130

WHAT_IT_CAN_DO = """\
flamefe tells what a flame does to a metal part: temperature, residual shape and stress.

  flamefe examples            list the ready cases
  flamefe example NAME        copy one out, to change it
  flamefe check CASE          look for faults in a case file without running it
  flamefe run CASE            run a case file or a ready case, write a folder with the result
  flamefe choose              which torch and speed heat a plate to a depth
  flamefe fit CASE READINGS   fit the flame to thermocouples of a trial
  flamefe materials           list the ready materials
  flamefe schema              print the JSON schema of a case file (or: schema result)

Try: flamefe run hopper_wall_line       More: flamefe --help, flamefe run --help"""

EXIT_CODES = """\
Exit codes: 0 done (also when a limit was exceeded or a rule left its range: the summary says so);
1 the run failed, for the reason that is named; 2 the case or the command line is faulty, nothing
was run; 130 stopped by Ctrl-C, nothing was written."""

app = typer.Typer(
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="What a flame does to a metal part: flame straightening and line heating.",
    epilog=EXIT_CODES,
)


class Geometry(StrEnum):
    """How the case is solved, in place of what its file says."""

    small = "small"
    finite = "finite"


class Document(StrEnum):
    """Which schema to print."""

    case = "case"
    result = "result"


CaseArgument = Annotated[str, typer.Argument(help="A case file (TOML), or a ready case's name.")]
TracebackOption = Annotated[
    bool, typer.Option("--traceback", help="Show where in the program an error arose.")
]


def main() -> None:
    """Run the command line; what the script ``flamefe`` calls."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    app(prog_name="flamefe")


@app.callback(invoke_without_command=True)
def begin(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version.")] = False,
) -> None:
    """Tell what there is to do when no command is given."""
    if version:
        typer.echo(f"flamefe {metadata.version('flamefe')}")
        raise typer.Exit(OK)
    if context.invoked_subcommand is None:
        typer.echo(WHAT_IT_CAN_DO)


@app.command(epilog=EXIT_CODES)
def run(
    case: CaseArgument,
    out: Annotated[
        Path | None,
        typer.Option(help="Folder for the result.  [default: the case's name with -result]"),
    ] = None,
    no_pictures: Annotated[bool, typer.Option("--no-pictures", help="Draw nothing.")] = False,
    geometry: Annotated[
        Geometry | None,
        typer.Option(help="Equilibrium on the deformed shape (finite) or on the first (small)."),
    ] = None,
    show_traceback: TracebackOption = False,
) -> None:
    """Run a case and write its result into a folder.

    The folder gets result.json, case.toml, summary.txt, fields.pvd (fields over time for viewers)
    and pictures. An earlier result in it is replaced; a folder with anything else is refused.
    """
    with _answering(show_traceback):
        loaded, file = _load(case)
        if geometry is not None:
            loaded = replace(loaded, solve=replace(loaded.solve, geometry=geometry.value))
        folder = check_folder(out if out is not None else Path(f"{file.stem}-result"))
        progress = progress_for(Console(stderr=True))
        try:
            result = run_case(loaded, progress=progress)
        except BaseException as problem:
            progress.stop()
            if isinstance(problem, CaseError):
                raise _with_places(problem, file) from None
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
        drawn = [picture.name for picture in written.pictures]
        names = [written.result.name, written.case.name, written.summary.name, written.fields.name]
        typer.echo(f"Written to {written.folder}: {', '.join([*names, *drawn])}")


@app.command(epilog=EXIT_CODES)
def check(case: CaseArgument, show_traceback: TracebackOption = False) -> None:
    """Look for faults in a case, all at once, without running it."""
    with _answering(show_traceback):
        loaded, file = _load(case)
        try:
            body, remarks = body_of(loaded, material_of(loaded), Path())
        except CaseError as problem:
            raise _with_places(problem, file) from None
        count = len(loaded.heats)
        size = f"{count} heat{'' if count == 1 else 's'}, {body.mesh.p.shape[1]} nodes"
        typer.echo(f"No fault found: {one_line(loaded.title)} ({size}).")
        for remark in remarks:
            typer.echo(f"Note: {remark}")
        for note in notes(loaded):
            typer.echo(f"Note: {note}")


@app.command("examples")
def list_examples() -> None:
    """List the ready cases."""
    with _answering(False):
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
    with _answering(False):
        source = example_path(name)
        text = source.read_text(encoding="utf-8")
        target = to if to is not None else Path(source.name)
        if str(target) == "-":
            typer.echo(text, nl=False)
            return
        if target.exists():
            _refuse(f"{target} is there already; give another name with --to.")
        target.write_text(text, encoding="utf-8")
        readings = source.with_suffix(".csv")
        if readings.exists():
            beside = target.with_suffix(".csv")
            if beside.exists():
                _refuse(f"{beside} is there already; give another name with --to.")
            beside.write_text(readings.read_text(encoding="utf-8"), encoding="utf-8")
            typer.echo(f"Written to {target} and {beside}. Fit its flame: flamefe fit {target}")
            return
        typer.echo(f"Written to {target}. Run it: flamefe run {target}")


@app.command()
def schema(
    of: Annotated[Document, typer.Argument(help="Of a case file or of result.json.")] = (
        Document.case
    ),
) -> None:
    """Print a JSON schema, for editors and other programs."""
    with _answering(False):
        made = case_schema() if of is Document.case else result_schema()
        typer.echo(json.dumps(made, indent=2))


@app.command(epilog=EXIT_CODES)
def choose(
    thickness_mm: Annotated[float, typer.Option(help="Of the plate, mm.")],
    target_C: Annotated[float, typer.Option("--target-C", help="To be reached, C.")],
    depth_mm: Annotated[float, typer.Option(help="How deep, mm below the heated face.")] = 0.0,
    material_name: Annotated[
        str, typer.Option("--material", help="A ready material (see: flamefe materials).")
    ] = "S355",
    limit_C: Annotated[
        float | None,
        typer.Option("--limit-C", help="For the surface, C.  [default: the material's own]"),
    ] = None,
    torch: Annotated[
        list[str] | None,
        typer.Option(help="fuel:litres an hour, once for each.  [default: acetylene of all sizes]"),
    ] = None,
    flames_of: Annotated[
        str | None, typer.Option(metavar="CASE", help="Take the flames of a case instead.")
    ] = None,
    band_mm: Annotated[
        list[float] | None, typer.Option(help="Width of a woven band, mm, once for each.")
    ] = None,
    fastest_mm_s: Annotated[float, typer.Option(help="Of the hand, mm/s.")] = 30.0,
    both_faces: Annotated[bool, typer.Option("--both-faces", help="Heat both faces.")] = False,
    show_traceback: TracebackOption = False,
) -> None:
    """Tell which torch, pattern and speed bring a plate to a temperature at a depth."""
    with _answering(show_traceback):
        try:
            metal = material(material_name)
            plate = WidePlate(material=metal, thickness=1e-3 * thickness_mm, both_faces=both_faces)
            wish = Wish(
                target_C=target_C,
                depth=1e-3 * depth_mm,
                limit_C=metal.heating_limit_C if limit_C is None else limit_C,
                fastest=1e-3 * fastest_mm_s,
                bands=tuple(1e-3 * width for width in band_mm or [40.0]),
            ).within(plate)
            hand = torches_from(torch or []) if flames_of is None else None
        except (OutOfRange, MaterialError) as error:
            _refuse(str(error))
        hand = hand or torches_of(_load(flames_of or "")[0].flames)
        typer.echo(choice_text(choices(hand, plate, wish), plate, wish), nl=False)


@app.command(epilog=EXIT_CODES)
def fit(
    case: CaseArgument,
    readings: Annotated[
        Path | None,
        typer.Argument(
            help="Thermocouple readings of the trial (CSV).  [default: CSV of the case's name]"
        ),
    ] = None,
    hot_gas: Annotated[
        bool,
        typer.Option("--hot-gas", help="Fit film and gas temperature, not power and radius."),
    ] = False,
    picture: Annotated[
        Path | None, typer.Option(help="PNG to draw: measured against simulated.")
    ] = None,
    show_traceback: TracebackOption = False,
) -> None:
    """Fit the flame of a case to the thermocouples of a trial with one timed heat.

    The CSV has the columns x_mm, y_mm, z_mm, time_s (since the torch was lit), temperature_C and,
    if you like, thermocouple (a name) and deviation_K.
    """
    with _answering(show_traceback):
        loaded, file = _load(case)
        read = read_readings(readings or file.with_suffix(".csv"))
        progress = progress_for(Console(stderr=True))
        try:
            fitted = fit_flame(
                loaded, read, model="hot gas" if hot_gas else None, progress=progress
            )
        except BaseException as problem:
            progress.stop()
            if isinstance(problem, CaseError):
                raise _with_places(problem, file) from None
            raise
        progress.finish()
        typer.echo(fit_text(fitted), nl=False)
        if picture is not None:
            typer.echo(f"Written to {draw_fit(fitted, picture)}")


@app.command()
def materials() -> None:
    """List the ready materials."""
    with _answering(False):
        head = ("name", "yield MPa", "heat to C", "tables to C", "family")
        rows = [head]
        sources: dict[str, list[str]] = {}
        for name in material_names():
            made = material(name)
            cold = f"{float(made.yield_stress(20.0)) / 1e6:.0f}"
            limits = (f"{made.heating_limit_C:g}", f"{made.valid_to_C:g}")
            rows.append((name, cold, *limits, made.family))
            sources.setdefault(made.heating_limit_source, []).append(name)
        widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
        for row in rows:
            cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=True)]
            typer.echo("  ".join(cells).rstrip())
        typer.echo("\nWhere the heating limits come from:")
        for source, names in sources.items():
            typer.echo(f"  {', '.join(names)}: {source}")
        typer.echo("\nThe local code and the part's own certificate decide.")


def _load(case: str) -> tuple[Case, Path]:
    """A case from a file or of a ready name, and its file."""
    file = Path(case)
    if not file.exists() and file.suffix != ".toml" and len(file.parts) == 1:
        if case not in example_names():
            close = difflib.get_close_matches(case, example_names(), n=1)
            guess = f"did you mean {close[0]}?" if close else "see: flamefe examples"
            _refuse(f"{case!r} is neither a file nor the name of a ready case; {guess}")
        file = example_path(case)
    return load_case(file), file


def _with_places(error: CaseError, file: Path) -> CaseError:
    """Faults that only the mesh file showed, with their lines in the case file."""
    text = file.read_text(encoding="utf-8-sig")
    return CaseError(with_lines(error.faults, text, file.name))


def _refuse(text: str) -> NoReturn:
    typer.echo(f"Error: {text}", err=True)
    raise typer.Exit(FAULTY)


@contextmanager
def _answering(show_traceback: bool) -> Iterator[None]:
    """Turn errors into one or two lines and an exit code."""
    try:
        with warnings.catch_warnings():
            warnings.showwarning = _show_warning
            yield
    except (typer.Exit, BrokenPipeError):
        raise
    except KeyboardInterrupt:
        typer.echo("Stopped.", err=True)
        raise typer.Exit(STOPPED) from None
    except Exception as error:
        if show_traceback:
            traceback.print_exc()
        raise typer.Exit(_told(error, show_traceback)) from None


def _told(error: Exception, traceback_shown: bool) -> int:
    """Say an error on stderr and return its exit code."""
    if isinstance(error, CaseError):
        typer.echo(str(error), err=True)
        return FAULTY
    if isinstance(error, FolderInUse | ReadingsError):
        typer.echo(f"Error: {error}", err=True)
        return FAULTY
    if isinstance(error, FlamefeError | OSError | MemoryError):
        typer.echo(f"Error: {str(error) or type(error).__name__}", err=True)
        return FAILED
    hint = "" if traceback_shown else " Run it again with --traceback to see where."
    typer.echo(f"Error in flamefe itself: {type(error).__name__}: {error}.{hint}", err=True)
    return FAILED


def _show_warning(
    message: Warning | str,
    category: type[Warning],
    filename: str,
    lineno: int,
    file: TextIO | None = None,
    line: str | None = None,
) -> None:
    typer.echo(f"Warning: {message}", err=True)
