"""Commands about a job: start, measure, plan, sheet, status, decide, estimate."""

import tomllib
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import typer
from numpy.typing import NDArray
from pydantic import ValidationError

from flamefe.basics.csv_columns import CsvFaults
from flamefe.basics.errors import OutOfRange
from flamefe.cli.answering import EXIT_CODES, TracebackOption, answering, app, beside, refuse
from flamefe.outcome.survey_checks import SurveyError, is_doubt
from flamefe.planning.candidate import heats_given
from flamefe.planning.defined import problem_of, reading_of
from flamefe.planning.definition import DefinitionError, read_definition
from flamefe.planning.job import Job
from flamefe.planning.jobfile import JobFileError
from flamefe.planning.money import Prices, estimate
from flamefe.planning.standing import JobError
from flamefe.reporting.plan_sheet import estimate_text, sheet_text
from flamefe.reporting.plan_text import lesson_text, plan_text, status_text
from flamefe.study.job_examples import job_names, job_path
from flamefe.study.job_measuring import measured_in
from flamefe.study.job_sources import with_sources

Array = NDArray[np.float64]
MM = 1e3

job_app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=True,
    help="A straightening job from the first measurement to the last cycle.",
    epilog=EXIT_CODES,
)
app.add_typer(job_app, name="job")

JobArgument = Annotated[Path, typer.Argument(help="The job's file.")]


class Ruling(StrEnum):
    """What to do with a measurement."""

    learn = "learn"
    leave = "leave"
    discard = "discard"


@job_app.command()
def start(
    job: Annotated[Path, typer.Argument(help="File to begin; it must not be there yet.")],
    definition: Annotated[
        str, typer.Argument(help="A definition (TOML), or a ready job's name.")
    ] = "conveyor_girder",
    show_traceback: TracebackOption = False,
) -> None:
    """Begin a job from its definition."""
    with answering(show_traceback):
        file = Path(definition)
        try:
            if not file.is_file() and file.suffix != ".toml" and len(file.parts) == 1:
                file = job_path(definition)
            told = with_sources(read_definition(file), file.parent)
            problem = problem_of(told, file.parent)
            prices = None if told.prices is None else told.prices.model_dump()
            kept = {"about": told.about.strip(), "prices": prices, "reading": reading_of(told)}
            made = Job.start(beside(job), problem, kept)
        except (DefinitionError, OutOfRange, JobFileError) as error:
            refuse(str(error))
        for heats in told.heats:
            told_of = ", ".join(f"{size}: {mrad:.3g}" for size, mrad in heats.sizes_mrad.items())
            if heats.source and told_of:
                typer.echo(f"{heats.kind}, mrad a heat: {told_of} ({heats.source}).")
            if heats.device and told.rules.devices.get(heats.device, 0) < 1:
                typer.echo(
                    f"Note: {heats.kind} needs a {heats.device}, and [rules] devices has none: no "
                    "such heat will be planned."
                )
        count = len(made.problem.library.candidates)
        typer.echo(
            f"Started {job}: {len(problem.places.names)} measuring places, {count} heats to choose "
            f"from. Next: flamefe job measure {job} (a CSV or --values)."
        )


@job_app.command()
def measure(
    job: JobArgument,
    table: Annotated[
        Path | None,
        typer.Argument(
            help="CSV: a survey (station_mm, offset_mm; height_mm, offset_x_mm, offset_y_mm; "
            "angle_deg, radius_mm; x_mm, y_mm, z_mm), or place, deviation_mm and maybe "
            "uncertainty_mm."
        ),
    ] = None,
    values: Annotated[
        str | None, typer.Option(help="Deviations in mm in the order of the places, with commas.")
    ] = None,
    skipped: Annotated[
        str | None,
        typer.Option(help='Planned heats that were not given: their numbers, "all" or "none".'),
    ] = None,
    also: Annotated[
        list[str] | None, typer.Option(help="Name of a heat that was given besides, once for each.")
    ] = None,
    note: Annotated[str, typer.Option(help="Anything to remember.")] = "",
    show_traceback: TracebackOption = False,
) -> None:
    """Enter what was measured; learn from it, or say why not."""
    with answering(show_traceback):
        opened = _opened(job)
        try:
            deviation, unsure, remarks = _measured(opened, table, values)
            planned = [heat.name for heat in opened.standing.planned or ()]
            given = _given(planned, skipped, also or [])
            lesson = opened.measure(deviation, unsure, given, note, list(filter(is_doubt, remarks)))
        except (OutOfRange, JobError, CsvFaults, SurveyError) as error:
            refuse(str(error))
        for remark in remarks:
            if not is_doubt(remark):
                typer.echo(f"Note: {remark}.")
        for doubt in opened.standing.doubts:
            typer.echo(f"DOUBT: {doubt}.")
        if lesson is None:
            typer.echo(f"First measurement entered. Next: flamefe job plan {job}.")
            return
        typer.echo(lesson_text(lesson, opened.standing.steps[-1].number), nl=False)
        typer.echo(f"Next: flamefe job plan {job}.")


@job_app.command()
def plan(
    job: JobArgument,
    quick: Annotated[bool, typer.Option("--quick", help="Local search alone.")] = False,
    seconds: Annotated[float, typer.Option(min=0.1, max=3600, help="For the proof.")] = 4.0,
    instead: Annotated[
        bool, typer.Option("--instead", help="Instead of a plan of which no heat was given.")
    ] = False,
    show_traceback: TracebackOption = False,
) -> None:
    """Plan the next cycle and enter the plan."""
    with answering(show_traceback):
        opened = _opened(job)
        try:
            made = opened.plan("quick" if quick else "thorough", seconds, instead=instead)
        except JobError as error:
            refuse(str(error))
        standing = opened.standing
        typer.echo(
            plan_text(made, opened.problem, len(standing.given) + 1, standing.doubts), nl=False
        )


@job_app.command()
def sheet(job: JobArgument, show_traceback: TracebackOption = False) -> None:
    """Print the sheet for the floor of the planned cycle."""
    with answering(show_traceback):
        opened = _opened(job)
        planned, stale = opened.standing.planned, opened.standing.stale
        if planned is None:
            refuse(f"no cycle is planned; first: flamefe job plan {job}")
        if stale is not None:
            refuse(f"the plan rests on measurement {stale}, which was discarded; measure again")
        standing = opened.standing
        typer.echo(
            sheet_text(
                planned, opened.problem, len(standing.given) + 1, standing.doubts, standing.read
            ),
            nl=False,
        )


@job_app.command()
def status(job: JobArgument, show_traceback: TracebackOption = False) -> None:
    """Tell where a job stands."""
    with answering(show_traceback):
        typer.echo(status_text(_opened(job, tells=True)), nl=False)


@job_app.command()
def decide(
    job: JobArgument,
    ruling: Annotated[Ruling, typer.Argument(help="Learn from it, leave it, or discard it.")],
    because: Annotated[str, typer.Option(help="Reason, for the record.")] = "",
    measurement: Annotated[
        int | None, typer.Option(help="Number of its entry, as status tells.  [default: the last]")
    ] = None,
    skipped: Annotated[
        str | None,
        typer.Option(help='Heats before it that were not given: their numbers, "all" or "none".'),
    ] = None,
    also: Annotated[
        list[str] | None, typer.Option(help="Name of a heat that was given besides, once for each.")
    ] = None,
    show_traceback: TracebackOption = False,
) -> None:
    """Overrule what was made of a measurement: learn from it, leave the heats, or discard it."""
    with answering(show_traceback):
        opened = _opened(job)
        try:
            rounds = {one.number: one for one in opened.standing.rounds}
            number = max(rounds, default=-1) if measurement is None else measurement
            before = [heat.name for heat in rounds[number].planned] if number in rounds else []
            given = _given(before, skipped, also or [])
            opened.decide(ruling.value, because, measurement, given)
        except JobError as error:
            refuse(str(error))
        typer.echo(status_text(opened), nl=False)


@job_app.command("estimate")
def estimate_command(
    job: JobArgument,
    plays: Annotated[int, typer.Option(min=10, max=2000, help="Jobs to play.")] = 40,
    prices: Annotated[
        Path | None,
        typer.Option(help="TOML with [prices] as of a definition.  [default: those of the start]"),
    ] = None,
    show_traceback: TracebackOption = False,
) -> None:
    """Estimate time, gas and money of the rest of a job, beside what else could be done."""
    with answering(show_traceback):
        opened = _opened(job)
        standing = opened.standing
        told = opened.more.get("prices") if prices is None else _prices(prices)
        if standing.belief is None:
            refuse("nothing was measured yet; enter a measurement first")
        made = estimate(
            opened.problem,
            standing.belief,
            None if told is None else Prices.model_validate(told),
            heats_given(standing.given),
            plays,
        )
        typer.echo(estimate_text(made, opened.problem), nl=False)


@job_app.command()
def examples() -> None:
    """List the ready jobs."""
    with answering(False):
        for name in job_names():
            typer.echo(f"{name}  {read_definition(job_path(name)).title}")


def _prices(file: Path) -> dict[str, Any]:
    """The table of prices in a TOML file."""
    try:
        told = tomllib.loads(file.read_text(encoding="utf-8-sig"))
        return Prices.model_validate(told.get("prices", told)).model_dump()
    except OSError as error:
        refuse(f"{file} can't be read: {error.strerror}")
    except tomllib.TOMLDecodeError as error:
        refuse(f"{file} is no TOML: {error}")
    except ValidationError as error:
        fault = error.errors()[0]
        refuse(f"{file}: {'.'.join(map(str, fault['loc']))}: {fault['msg']}")


def _opened(file: Path, *, tells: bool = False) -> Job:
    """A job; what was cut off at its end is said, unless the command tells it itself."""
    try:
        job = Job(file)
    except JobFileError as error:
        refuse(str(error))
    except OSError as error:
        refuse(f"{file} can't be read: {error.strerror}")
    if job.torn and not tells:
        typer.echo(
            f"Note: the last entry of {file} was cut off and is left out; see flamefe job status.",
            err=True,
        )
    return job


def _given(planned: list[str], skipped: str | None, also: list[str]) -> list[str] | None:
    """Names of what was really given; None: as planned."""
    if skipped is None and not also:
        return None
    out: set[int] = set(range(len(planned))) if skipped == "all" else set()
    if skipped is not None and skipped not in ("all", "none"):
        try:
            out = {int(word) - 1 for word in skipped.split(",")}
        except ValueError:
            raise JobError(f'--skipped {skipped!r}; allowed: like 2,5 or "all", "none".') from None
    if out and not planned:
        raise JobError(
            f"--skipped {skipped}; no heats were planned since the last measurement. What was not "
            "given before that one: flamefe job decide JOB discard --measurement N --skipped ..."
        )
    if any(not 0 <= one < len(planned) for one in out):
        raise JobError(f"--skipped {skipped}; the plan has heats 1 to {len(planned)}.")
    return [name for place, name in enumerate(planned) if place not in out] + also


def _measured(
    job: Job, table: Path | None, values: str | None
) -> tuple[Array, Array | None, tuple[str, ...]]:
    """(n,) m as measured, standard uncertainties where told, and what looked wrong."""
    names = job.problem.places.names
    if (table is None) == (values is None):
        raise OutOfRange("Give either a CSV or --values.")
    error = float(job.problem.uncertainty.min())
    if values is not None:
        try:
            return np.array([float(word) for word in values.split(",")]) / MM, None, ()
        except ValueError:
            raise OutOfRange(
                f"--values {values!r}; needed: {len(names)} numbers with commas."
            ) from None
    assert table is not None
    reading = job.reading or {"string_mm": job.more.get("string_mm")}
    return measured_in(table, names, error, reading)
