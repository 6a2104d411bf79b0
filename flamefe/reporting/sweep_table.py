"""The tidy table of a study: one row a run, one column a number, as CSV or Parquet.

Columns, in this order: ``run``, ``failed`` (why there is no result, else empty), the factors by
their places, the rule inputs in trade units (see `flamefe.rules.columns`), the measures as
"name [unit]", what else a comparison tells (limit, largest stress, gas, cost, computing time),
``run_key`` (name of the run's file) and ``warnings``.
"""

import csv
import importlib
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from flamefe.basics.errors import FlamefeError
from flamefe.basics.whole_file import put_text, written_aside
from flamefe.rules.columns import quantity_column
from flamefe.study.sweep import Sweep, SweepRun

PARQUET = ".parquet"
OWN = (
    "peak_C", "limit_C", "holding_kN", "stress_MPa", "burned_s", "job_s", "fuel_L", "oxygen_L",
    "cost", "cpu_s",
)  # fmt: skip
"""Numbers of a run beside its measures, by column."""

Columns = dict[str, list[Any]]


class TableFormatError(FlamefeError):
    """A table can't be written in the form that its name asks for."""


def table_columns(sweep: Sweep) -> Columns:
    """All columns of the table, each with a value a run; None where there is none.

    Example:
        >>> sorted(table_columns.__annotations__)
        ['return', 'sweep']
    """
    runs = sweep.runs
    places = list(dict.fromkeys(place for run in runs for place in run.row.changed))
    inputs = list(dict.fromkeys(name for run in runs for name in run.inputs))
    measures = list(dict.fromkeys((m.name, m.unit) for run in runs for m in run.row.measures))
    columns: Columns = {
        "run": [run.number for run in runs],
        "failed": [run.row.failed for run in runs],
    }
    for place in places:
        columns[place] = [_plain(run.row.changed.get(place)) for run in runs]
    for name in inputs:
        columns[name] = [run.inputs.get(name) for run in runs]
    for name, unit in measures:
        columns[quantity_column(name, unit)] = [run.row.value(name) for run in runs]
    for name in OWN:
        if name not in columns:
            columns[name] = [getattr(run.row, name) for run in runs]
    columns["run_key"] = [run.key for run in runs]
    columns["warnings"] = [" | ".join(run.row.warnings) for run in runs]
    return columns


def table_csv(sweep: Sweep) -> str:
    """The table as CSV with a line of names; an empty cell is no value.

    Example:
        >>> table_csv.__name__  # see `flamefe.study.sweep.sweep` for making one
        'table_csv'
    """
    columns = table_columns(sweep)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(
        ["" if cell is None else cell for cell in row]
        for row in zip(*columns.values(), strict=True)
    )
    return out.getvalue()


def writer_for(file: Path) -> Callable[[Sweep, Path], Path]:
    """What writes a table of this name, so that a study is not run in vain.

    Args:
        file: its name ends in ".csv" or ".parquet".

    Raises:
        TableFormatError: it ends otherwise, or Parquet is asked for without pyarrow.

    Example:
        >>> writer_for(Path("table.csv")).__name__
        'write_csv'
    """
    if file.suffix == ".csv":
        return write_csv
    if file.suffix != PARQUET:
        raise TableFormatError(f"The table is to be {file}; its name must end in .csv or .parquet.")
    _pyarrow(file)
    return write_parquet


def write_csv(sweep: Sweep, file: Path) -> Path:
    """Write the table as CSV, whole or not at all."""
    return put_text(file, table_csv(sweep))


def write_parquet(sweep: Sweep, file: Path) -> Path:
    """Write the table as Parquet, whole or not at all.

    Numbers are doubles and words are strings; a column that holds both is one of strings.

    Raises:
        TableFormatError: pyarrow isn't installed.
    """
    arrow, parquet = _pyarrow(file)
    arrays = {}
    for name, cells in table_columns(sweep).items():
        known = [cell for cell in cells if cell is not None]
        if name == "run":
            arrays[name] = arrow.array(cells, type=arrow.int64())
        elif known and all(isinstance(cell, int | float) for cell in known):
            floats = [None if cell is None else float(cell) for cell in cells]
            arrays[name] = arrow.array(floats, type=arrow.float64())
        elif not known:
            arrays[name] = arrow.array(cells, type=arrow.float64())
        else:
            texts = [None if cell is None else str(cell) for cell in cells]
            arrays[name] = arrow.array(texts, type=arrow.string())
    with written_aside(file) as aside:
        parquet.write_table(arrow.table(arrays), aside)
    return file


def repeats_csv(sweep: Sweep) -> str:
    """Each repeat on a finer mesh beside its run, as CSV: a row a run and quantity.

    Example:
        >>> repeats_csv.__name__
        'repeats_csv'
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["run", "finer", "quantity", "unit", "value", "finer_value", "failed"])
    for one in sweep.repeats:
        if one.finer is None:
            reason = one.coarse.failed or one.fine.failed or "its mesh is not finer"
            writer.writerow([one.run, "", "", "", "", "", reason])
            continue
        for measure in one.coarse.measures:
            fine = one.fine.value(measure.name)
            cells = [one.run, one.finer, measure.name, measure.unit, measure.value]
            writer.writerow([*cells, "" if fine is None else fine, ""])
    return out.getvalue()


def named(run: SweepRun) -> str:
    """A run by its number and values, in words.

    Example:
        >>> from flamefe.study.compare import Row
        >>> row = Row(name="", changed={"workpiece.thickness_mm": 8, "heats[].speed_mm_s": 4.5})
        >>> named(SweepRun(number=3, shares=(), row=row, inputs={}, figures={}))
        'run 3 (workpiece.thickness_mm = 8, heats[].speed_mm_s = 4.5)'
    """
    values = ", ".join(f"{place} = {_plain(value)}" for place, value in run.row.changed.items())
    return f"run {run.number} ({values})"


def _plain(value: Any) -> Any:
    """A value of a factor as one cell."""
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        return value
    return None if value is None else json.dumps(value, ensure_ascii=False, default=str)


def _pyarrow(file: Path) -> tuple[Any, Any]:
    try:
        return importlib.import_module("pyarrow"), importlib.import_module("pyarrow.parquet")
    except ImportError:
        raise TableFormatError(
            f"{file.name} is to be Parquet, which needs pyarrow; install it with "
            "pip install 'flamefe[parquet]', or give a name that ends in .csv."
        ) from None
