"""Commands that run studies: many runs from one file."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from flamefe.basics.whole_file import put_text
from flamefe.basics.writable import check_writable_file
from flamefe.cli.answering import FAILED, TracebackOption, answering, app, refuse
from flamefe.reporting.comparison import shown_measures, unknown_measures
from flamefe.reporting.progress import LineProgress, TerminalProgress, progress_for
from flamefe.reporting.sweep_files import check_study_folder, write_study
from flamefe.reporting.sweep_spread import SpreadOf, spread_json, spread_text
from flamefe.reporting.sweep_summary import study_text
from flamefe.reporting.sweep_table import TableFormatError, writer_for
from flamefe.rules.card import RuleCard
from flamefe.rules.card_file import CardError, read_card
from flamefe.study.study_file import load_study
from flamefe.study.sweep import Sweep
from flamefe.study.sweep import sweep as run_study
from flamefe.study.sweep_cluster import ClusterError, distributed
from flamefe.study.sweep_study import Study
from flamefe.study.uncertainty import (
    CardBand,
    UncertaintyError,
    card_band,
    check_spreads,
    drivers,
    simulated_band,
)

STUDY_EXIT_CODES = """\
Exit codes: 0 done; 1 every run failed, or the study could not go on; 2 the study file or the
command line is faulty, nothing was run; 130 stopped by Ctrl-C. Finished runs are kept: the same
command goes on where it was."""

StudyArgument = Annotated[Path, typer.Argument(help="A study file (TOML).")]
OutOption = Annotated[
    Path | None,
    typer.Option(help="Folder for finished runs and the table.  [default: STUDY-sweep]"),
]
JobsOption = Annotated[
    int | None, typer.Option(min=1, max=1024, help="Processes.  [default: the cores]")
]
SchedulerOption = Annotated[
    str | None,
    typer.Option(
        metavar="ADDRESS",
        help="Let the workers of this Dask cluster do the runs (extra cluster), "
        "for instance tcp://192.0.2.7:8786.",
    ),
]


@app.command(epilog=STUDY_EXIT_CODES)
def sweep(
    study: StudyArgument,
    out: OutOption = None,
    jobs: JobsOption = None,
    scheduler: SchedulerOption = None,
    table: Annotated[
        Path | None,
        typer.Option(help="One more table, CSV or Parquet by its name's end (.csv, .parquet)."),
    ] = None,
    measure: Annotated[
        list[str] | None, typer.Option(help="Measure to show, once for each.")
    ] = None,
    check: Annotated[
        bool, typer.Option("--check", help="Check the file and all its cases, run nothing.")
    ] = False,
    show_traceback: TracebackOption = False,
) -> None:
    """Run a study: a base case with values that vary, by grid, Latin hypercube or Sobol points.

    Finished runs are kept, so a study that was stopped goes on where it was.
    """
    with answering(show_traceback):
        asked = load_study(study)
        if check:
            finer = f" and {len(asked.repeats)} finer repeats" if asked.repeats else ""
            typer.echo(f"{asked.title}: {len(asked.planned)} runs{finer}, {_faults_of(asked)}.")
            return
        try:
            if table is not None:
                writer_for(table)
                check_writable_file(table)
            if scheduler is not None:
                distributed()
        except (TableFormatError, ClusterError) as error:
            refuse(str(error))
        folder = check_study_folder(out if out is not None else Path(f"{study.stem}-sweep"))
        with drawn() as progress:
            done: Sweep = run_study(
                asked, folder=folder, jobs=jobs, scheduler=scheduler, progress=progress
            )
        written = write_study(done, folder, table=table)
        typer.echo(study_text(done, measures=measure or ()), nl=False)
        for words in unknown_measures(done.rows, measure or ()):
            typer.echo(words, err=True)
        typer.echo(f"Written: {', '.join(str(file) for file in written)}")
        if len(done.failed) == len(done.runs):
            raise typer.Exit(FAILED)


@app.command(epilog=STUDY_EXIT_CODES)
def spread(
    study: StudyArgument,
    card: Annotated[
        list[Path] | None, typer.Option(help="Rule card to set beside the runs, once for each.")
    ] = None,
    quantity: Annotated[
        list[str] | None,
        typer.Option(help="Measure to tell, once for each.  [default: the most telling]"),
    ] = None,
    level: Annotated[
        float, typer.Option(min=0.5, max=0.99, help="Share of parts within the band.")
    ] = 0.9,
    samples: Annotated[int, typer.Option(min=100, max=100_000, help="Samples of a card.")] = 2000,
    out: OutOption = None,
    jobs: JobsOption = None,
    scheduler: SchedulerOption = None,
    show_traceback: TracebackOption = False,
) -> None:
    """Run a study of spreads: between which values does residual distortion lie?

    Each factor of the study file is a value and a spread. Finished runs are kept.
    """
    with answering(show_traceback):
        asked = load_study(study)
        try:
            cards = [read_card(file) for file in card or ()]
            check_spreads(asked)
            if scheduler is not None:
                distributed()
        except OSError as error:
            refuse(f"{error.filename}: {error.strerror or error}")
        except (CardError, UncertaintyError, ClusterError) as error:
            refuse(str(error))
        folder = check_study_folder(out if out is not None else Path(f"{study.stem}-sweep"))
        with drawn() as progress:
            done = run_study(
                asked, folder=folder, jobs=jobs, scheduler=scheduler, progress=progress
            )
        written = write_study(done, folder)
        wrong = unknown_measures(done.rows, quantity or ())
        if wrong and len(wrong) == len(set(quantity or ())) and not cards:
            refuse(f"{' '.join(wrong)} All runs are kept: the same command tells another at once.")
        for words in wrong:
            typer.echo(words, err=True)
        held = {measure.name for row in done.rows for measure in row.measures}
        asked_for = [name for name in quantity or () if name in held]
        names = dict.fromkeys((*asked_for, *(one.quantity for one in cards)))
        found = tuple(
            _told(done, name, cards, level, samples)
            for name in (names if names else shown_measures(done.rows))
        )
        bands = put_text(folder / "spread.json", spread_json(done, found))
        typer.echo(spread_text(done, found), nl=False)
        typer.echo(f"Written: {', '.join(str(file) for file in (*written, bands))}")


def _faults_of(study: Study) -> str:
    """How many runs make no case, in words."""
    faulty = [run for run in study.planned if run.case is None]
    if not faulty:
        return "no faults"
    return f"{len(faulty)} of them make no case and are kept as rows; the first: {faulty[0].fault}"


def _told(
    done: Sweep, name: str, cards: Sequence[RuleCard], level: float, samples: int
) -> SpreadOf:
    """What simulation and cards tell of a measure; a card that can't is told with its reason."""
    made: list[CardBand] = []
    refused = []
    for one in cards:
        if one.quantity == name:
            try:
                made.append(card_band(done, one, samples=samples, level=level))
            except UncertaintyError as error:
                refused.append(str(error))
    return SpreadOf(
        simulation=simulated_band(done, name, level=level),
        cards=tuple(made),
        moved_by=drivers(done, name),
        refused=tuple(refused),
    )


@contextmanager
def drawn() -> Iterator[TerminalProgress | LineProgress]:
    """Progress on the terminal, left tidy whatever happens."""
    progress = progress_for(Console(stderr=True))
    try:
        yield progress
    except BaseException:
        progress.stop()
        raise
