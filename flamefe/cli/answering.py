"""What all commands share: the program, loading a case, errors as one line and an exit code."""

import difflib
import sys
import traceback
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import metadata
from pathlib import Path
from typing import Annotated, NoReturn, TextIO

import typer

from flamefe.basics.errors import FlamefeError
from flamefe.basics.writable import Unwritable
from flamefe.heating.readings import ReadingsError
from flamefe.reporting.atomic import FolderInUse
from flamefe.study.case import Case
from flamefe.study.casefile import load_case, with_lines
from flamefe.study.examples import example_names, example_path
from flamefe.study.faults import CaseError

OK, FAILED, FAULTY, STOPPED = 0, 1, 2, 130

WHAT_IT_CAN_DO = """\
flamefe tells what a flame does to a metal part: temperature, residual shape and stress.

  flamefe examples            list the ready cases; flamefe example NAME copies one out
  flamefe check CASE          tell the case in words, or its faults; flamefe glossary: words
  flamefe run CASE            run a case file or a ready case, write a folder with the result
  flamefe sheet CASE          write the sheet for the foreman at the part, without running it
  flamefe compare CASE        run it in several variants and set them side by side
  flamefe sweep STUDY         make the many runs of a study; flamefe spread: how they scatter
  flamefe choose              which torch and speed heat a plate to a depth
  flamefe fit CASE READINGS   fit the flame to thermocouples of a trial
  flamefe calibrate TABLE     fit a rule to simulated or measured heats; flamefe rules lists them
  flamefe job                 plan a straightening job, cycle by cycle
  flamefe materials           list the ready metals; flamefe schema prints a JSON schema

Try: flamefe run hopper_wall_line       More: flamefe --help, flamefe run --help"""

EXIT_CODES = """\
Exit codes: 0 done (also when a limit was exceeded or a rule left its range: the summary says so);
1 the run failed, for the reason that is named; 2 the case or the command line is faulty, nothing
was run; 130 stopped by Ctrl-C, nothing was written."""

app = typer.Typer(
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="What a flame does to a metal part: flame straightening and line heating.",
    epilog=EXIT_CODES,
)


def ready_cases(incomplete: str) -> list[str]:
    """Names of ready cases that begin so, for the shell's completion; files it completes itself."""
    return [name for name in example_names() if name.startswith(incomplete)]


CaseArgument = Annotated[
    str,
    typer.Argument(help="A case file (TOML), or a ready case's name.", autocompletion=ready_cases),
]
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


def load(case: str) -> tuple[Case, Path]:
    """A case from a file or of a ready name, and its file."""
    file = Path(case)
    if not file.is_file() and file.suffix != ".toml" and len(file.parts) == 1:
        if case not in example_names():
            close = difflib.get_close_matches(case, example_names(), n=1)
            guess = f"did you mean {close[0]}?" if close else "see: flamefe examples"
            refuse(f"{case!r} is neither a file nor the name of a ready case; {guess}")
        file = example_path(case)
    return load_case(file), file


def with_places(error: CaseError, file: Path) -> CaseError:
    """Faults that only the mesh file showed, with their lines in the case file."""
    text = file.read_text(encoding="utf-8-sig")
    return CaseError(with_lines(error.faults, text, file.name))


def refuse(text: str) -> NoReturn:
    """Say in one line what is wrong with the command line or a file, and end."""
    typer.echo(f"Error: {text}", err=True)
    raise typer.Exit(FAULTY)


def beside(file: Path) -> Path:
    """A file to write, in a folder that is there; else refuse."""
    if not file.parent.is_dir():
        refuse(f"The folder {file.parent} is not there; make it or give another.")
    return file


@contextmanager
def answering(show_traceback: bool) -> Iterator[None]:
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
    if isinstance(error, FolderInUse | Unwritable | ReadingsError):
        typer.echo(f"Error: {error}", err=True)
        return FAULTY
    if isinstance(error, OSError) and error.filename is not None:
        typer.echo(f"Error: {error.filename}: {error.strerror or error}", err=True)
        return FAILED
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
