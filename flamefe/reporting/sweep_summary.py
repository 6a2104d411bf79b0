"""What a study came to: a page to read, and a file beside its table for other programs.

The file of a table ``NAME.csv`` is ``NAME.study.json``. Its keys:

- ``format``: "flamefe study summary", ``format_version``: 1;
- ``title``, ``about``, ``flamefe`` (version and digest of the engine), ``base`` (the base case),
  ``factors``, ``design``, ``seed``;
- ``runs``, ``failed``, ``cpu_s``, ``failures`` (run and reason);
- ``simulation_error``: by quantity, ``unit``, ``rms_share``, ``worst_share`` and ``bias_share`` (of
  the value), ``rms`` (in the unit) and ``repeats``: estimated error by mesh and steps;
- ``accuracy``: how that was estimated; null without repeats.
"""

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from flamefe.basics.errors import FlamefeError
from flamefe.reporting.comparison import ADVICE, shown_measures
from flamefe.reporting.sweep_table import named
from flamefe.reporting.words import number, one_line
from flamefe.study.sweep import Sweep
from flamefe.study.sweep_accuracy import ORDER
from flamefe.study.variation import values_of_case

FORMAT = "flamefe study summary"
VERSION = 1
MOST_FAILURES = 8


class SummaryError(FlamefeError):
    """The file beside a table is no summary of a study."""


def summary_path(table: Path) -> Path:
    """The file that belongs to a table.

    Example:
        >>> summary_path(Path("wall-sweep/table.csv")).name
        'table.study.json'
    """
    return table.with_suffix(".study.json")


def study_document(sweep: Sweep) -> dict[str, Any]:
    """The study's summary as plain tables; see the module."""
    study = sweep.study
    accuracy = None
    if study.accuracy is not None:
        accuracy = {
            "repeats": [{"run": one.run, "finer": one.finer} for one in sweep.repeats],
            "asked_finer": study.accuracy.finer,
            "order": ORDER,
            "method": "Richardson extrapolation of second order from runs repeated with finer "
            "elements and shorter steps (Roache 1998, ch. 5)",
        }
    factors = {
        place: TypeAdapter(type(factor)).dump_python(factor, mode="json", exclude_none=True)
        for place, factor in study.varied.items()
    }
    return {
        "format": FORMAT,
        "format_version": VERSION,
        "title": study.title,
        "about": study.about,
        "flamefe": sweep.mark,
        "base": values_of_case(study.case),
        "factors": factors,
        "design": study.design,
        "seed": None if study.design == "grid" else study.seed,
        "runs": len(sweep.runs),
        "failed": len(sweep.failed),
        "cpu_s": round(sweep.cpu_s, 3),
        "failures": [{"run": run.number, "reason": run.row.failed} for run in sweep.failed],
        "simulation_error": {
            error.quantity: {key: value for key, value in asdict(error).items()
                             if key != "quantity"}
            for error in sweep.errors
        },
        "accuracy": accuracy,
        "advice": ADVICE,
    }  # fmt: skip


def study_json(sweep: Sweep) -> str:
    """The study's summary as the text of its file."""
    return json.dumps(study_document(sweep), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read_summary(table: Path) -> dict[str, Any] | None:
    """The summary that belongs to a table; None where there is none.

    Args:
        table: a table of a study, or any other.

    Raises:
        SummaryError: the file is no summary, or of a newer format.

    Example:
        >>> read_summary(Path("no_such_table.csv")) is None
        True
    """
    file = summary_path(table)
    try:
        document = json.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    except ValueError as error:
        raise SummaryError(f"{file} is no summary of a study: {error}.") from None
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise SummaryError(f"{file} is no summary of a study; move it away from the table.")
    if document.get("format_version") != VERSION:
        raise SummaryError(
            f"{file} has format version {document.get('format_version')}; this library reads "
            f"version {VERSION}. Run the study again, or update the library."
        )
    return document


def study_text(sweep: Sweep, *, measures: Sequence[str] = ()) -> str:
    """What a study came to, in a few lines.

    Args:
        sweep: the finished study.
        measures: names to show; none: the most telling ones.

    Returns:
        Lines that end in a line end.
    """
    lines = head_lines(sweep, "Study")
    lines += _ranges(sweep, measures)
    lines += failure_lines(sweep)
    lines += _errors(sweep, measures)
    doubted = sum(bool(row.warnings) for row in sweep.rows)
    if doubted:
        lines.append(f"{doubted} runs have something to doubt: column warnings.")
    lines.append(ADVICE)
    return "".join(f"{line}\n" for line in lines)


def _ranges(sweep: Sweep, measures: Sequence[str]) -> list[str]:
    """Least, middle and greatest value of the measures shown."""
    lines = []
    units = {m.name: m.unit for row in sweep.rows for m in row.measures}
    for name in shown_measures(sweep.rows, measures):
        values = sorted(v for row in sweep.rows if (v := row.value(name)) is not None)
        middle = values[len(values) // 2]
        lines.append(
            f"{name}: {number(values[0], 3)} to {number(values[-1], 3)} {units[name]}, "
            f"middle {number(middle, 3)}"
        )
    return [*lines, ""] if lines else []


def head_lines(sweep: Sweep, kind: str) -> list[str]:
    """What was run, how much of it and how long it took.

    Args:
        sweep: the finished study.
        kind: what to call it.
    """
    failed = len(sweep.failed)
    count = len(sweep.runs)
    repeats = len(sweep.repeats)
    return [
        f"{kind}: {one_line(sweep.study.title)}",
        f"{count} run{'' if count == 1 else 's'}"
        + (f" and {repeats} finer repeat{'' if repeats == 1 else 's'}" if repeats else "")
        + (f", {failed} failed" if failed else ", none failed")
        + f"; {sweep.made} made now, in {number(sweep.wall_s, 3)} s"
        + f" ({number(sweep.cpu_s, 3)} s of computing in all)",
        "",
    ]


def failure_lines(sweep: Sweep) -> list[str]:
    """The first runs that failed, with their reasons."""
    lines = [
        f"FAILED {one_line(named(run), 100)}: {one_line(run.row.failed, 160)}"
        for run in sweep.failed[:MOST_FAILURES]
    ]
    more = len(sweep.failed) - MOST_FAILURES
    if more > 0:
        lines.append(f"and {more} more, column failed")
    return [*lines, ""] if lines else []


def _errors(sweep: Sweep, measures: Sequence[str]) -> list[str]:
    if sweep.study.accuracy is None:
        return ["Error by mesh and steps: not estimated; [accuracy] in the study file does it.", ""]
    shown = shown_measures(sweep.rows, measures)
    lines = [f"  {error}" for error in sweep.errors if error.quantity in shown]
    lost = sum(one.finer is None for one in sweep.repeats)
    head = "Estimated error by mesh and steps, root mean square (all: in the file beside the table)"
    if lost:
        lines.append(f"  {lost} of {len(sweep.repeats)} repeats say nothing: see repeats.csv")
    return [head, *lines, ""]


def one_sided_words(bias_share: float) -> str:
    """The mean error of a study's runs, with its side.

    Args:
        bias_share: mean error by the value, as the summary holds it.

    Example:
        >>> one_sided_words(-0.076)
        'the runs lie 7.6 % below what the finest mesh would give, on average'
    """
    side = "above" if bias_share > 0 else "below"
    return (
        f"the runs lie {100 * abs(bias_share):.2g} % {side} what the finest mesh would give, on "
        "average"
    )
