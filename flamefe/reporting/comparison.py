"""A comparison of variants: a table to read at a glance, and a file of all numbers."""

import csv
import io
from collections.abc import Callable, Sequence
from typing import Any

from flamefe.reporting.words import number, one_line
from flamefe.study.compare import Row
from flamefe.study.faults import choose, shown

MOST_MEASURES = 3
LIKELY = (
    "angular change at mid length",
    "closing rotation",
    "camber",
    "camber of the line",
    "dishing",
    "flatness",
    "sweep",
    "mean transverse shrinkage",
    "shortening",
    "largest displacement",
)
"""Measures that are shown first where no other is asked for, the most telling first."""
TINY = 1e-3
ADVICE = "Advice from a model of an ideal part and flame; local codes and licensed practice decide."

_FIXED: tuple[tuple[str, Callable[[Row], float | None], str, str], ...] = (
    ("peak", lambda row: row.peak_C, "C", "peak_C"),
    ("held", lambda row: row.holding_kN, "kN", "holding_kN"),
    ("stress", lambda row: row.stress_MPa, "MPa", "stress_MPa"),
    ("burning", lambda row: row.burned_s, "s", "burned_s"),
    ("job", lambda row: None if row.job_s is None else row.job_s / 60.0, "min", "job_min"),
    ("fuel", lambda row: row.fuel_L, "L", "fuel_L"),
    ("oxygen", lambda row: row.oxygen_L, "L", "oxygen_L"),
    ("gas cost", lambda row: row.cost, "", "cost"),
)


def shown_measures(rows: Sequence[Row], asked: Sequence[str] = ()) -> tuple[str, ...]:
    """Names of the measures to show: those asked for that are known, else the likely ones that
    are not all 0."""
    names = dict.fromkeys(measure.name for row in rows for measure in row.measures)
    wanted = tuple(name for name in asked if name in names)
    if wanted:
        return wanted
    lively = [name for name in LIKELY if name in names and _differs(rows, name)]
    there = [name for name in LIKELY if name in names] or list(names)
    return tuple(lively[:MOST_MEASURES] or there[:1])


def unknown_measures(rows: Sequence[Row], asked: Sequence[str]) -> tuple[str, ...]:
    """Measures that were asked for and that no row has, each in a line.

    Example:
        >>> unknown_measures([Row(name="thin", changed={}, failed="no mesh")], ["camber"])
        ('No measure "camber" here; there are none, since no variant has a result.',)
    """
    names = list(dict.fromkeys(measure.name for row in rows for measure in row.measures))
    said = []
    for name in asked:
        if name in names:
            continue
        if not names:
            said.append(
                f"No measure {shown(name)} here; there are none, since no variant has a result."
            )
            continue
        allowed, advice = choose(name, names)
        said.append(f"No measure {shown(name)} here. Allowed: {allowed}. {advice}")
    return tuple(said)


def _differs(rows: Sequence[Row], name: str) -> bool:
    values = [row.value(name) for row in rows]
    return any(value is not None and abs(value) > TINY for value in values)


def comparison_text(title: str, rows: Sequence[Row], *, measures: Sequence[str] = ()) -> str:
    """The rows as a plain table: residual distortion, heat, force, gas and time of each.

    Args:
        title: of the base case.
        rows: what was compared.
        measures: names to show; none: the most telling ones.

    Returns:
        Lines that end in a line end.

    Example:
        >>> print(comparison_text("Wall", [Row(name="thin", changed={}, failed="no mesh")]))
        Comparison: Wall
        <BLANKLINE>
        variant
        thin     FAILED: no mesh
        <BLANKLINE>
        1 of 1 failed.
        Advice from a model of an ideal part and flame; local codes and licensed practice decide.
        <BLANKLINE>
    """
    names = shown_measures(rows, measures)
    units = {m.name: m.unit for row in rows for m in row.measures}
    columns = [(_short(name), units[name], _reader(name)) for name in names]
    columns += [
        (head, unit, read)
        for head, read, unit, _ in _FIXED
        if any(read(row) is not None for row in rows)
    ]
    heads = ["variant", *(f"{head} {unit}".strip() for head, unit, _ in columns)]
    table = [heads]
    for row in rows:
        if row.failed:
            table.append([one_line(row.name, 60), f"FAILED: {one_line(row.failed, 160)}"])
            continue
        cells = [_cell(read(row)) for _, _, read in columns]
        table.append([one_line(row.name, 60), *cells, ", ".join(_marks(row, rows))])
    whole = [line for line in table if len(line) != 2 or not line[1].startswith("FAILED")]
    widths = [max(len(line[i]) for line in whole if i < len(line)) for i in range(len(heads))]
    widths[0] = max(len(line[0]) for line in table)
    lines = [f"Comparison: {one_line(title)}", ""]
    for line in table:
        failed = len(line) == 2 and line[1].startswith("FAILED")
        rest = (
            line[1:]
            if failed
            else [cell.rjust(width) for cell, width in zip(line[1:], widths[1:], strict=False)]
            + line[len(heads) :]
        )
        lines.append("  ".join([line[0].ljust(widths[0]), *rest]).rstrip())
    lines.append("")
    lost = sum(bool(row.failed) for row in rows)
    if lost:
        lines.append(f"{lost} of {len(rows)} failed.")
    if (shared := shared_acting(rows)) is not None and shared:
        lines.append(
            f"All measured under {', '.join(shared)}: what springs back is part of the distortion."
        )
    if any(row.warnings for row in rows):
        lines.append("To doubt: the warnings stand in the CSV file.")
    lines.append(ADVICE)
    return "".join(f"{line}\n" for line in lines)


def comparison_csv(rows: Sequence[Row]) -> str:
    """All numbers of all rows as CSV, one row a variant.

    Example:
        >>> comparison_csv([Row(name="thin", changed={"a.b": 1}, failed="no")]).splitlines()[0]
        'variant,failed,a.b,peak_C,limit_C,holding_kN,stress_MPa,burned_s,job_s,fuel_L,oxygen_L,\
cost,cpu_s,overloaded,dented,acting,warnings'
    """
    changed = list(dict.fromkeys(place for row in rows for place in row.changed))
    measures = list(dict.fromkeys((m.name, m.unit) for row in rows for m in row.measures))
    own = ("peak_C", "limit_C", "holding_kN", "stress_MPa", "burned_s", "job_s", "fuel_L",
           "oxygen_L", "cost", "cpu_s")  # fmt: skip
    lists = ("overloaded", "dented", "acting")
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    heads = [f"{name} [{unit}]" if unit else name for name, unit in measures]
    writer.writerow(["variant", "failed", *changed, *heads, *own, *lists, "warnings"])
    for row in rows:
        writer.writerow(
            [
                row.name,
                row.failed,
                *(_plain(row.changed.get(place)) for place in changed),
                *(_plain(row.value(name)) for name, _ in measures),
                *(_plain(getattr(row, name)) for name in own),
                *(" | ".join(getattr(row, name)) for name in lists),
                " | ".join(row.warnings),
            ]
        )
    return out.getvalue()


def _marks(row: Row, rows: Sequence[Row]) -> list[str]:
    """What a reader must not miss in a row."""
    said = [f"TOO HOT (limit {row.limit_C:g} C)"] if row.too_hot else []
    said += [f"OVERLOADED: {name}" for name in row.overloaded]
    said += [f"DENT: {name}" for name in row.dented]
    if row.acting and shared_acting(rows) is None:
        said.append(f"measured under {', '.join(row.acting)}")
    if row.warnings:
        said.append(f"{len(row.warnings)} to doubt")
    return said


def shared_acting(rows: Sequence[Row]) -> tuple[str, ...] | None:
    """What acted in all rows alike; None where rows differ."""
    kinds = {tuple(name.split(", ")[0] for name in row.acting) for row in rows if not row.failed}
    if len(kinds) > 1:
        return None
    return next(iter(kinds), ())


def _reader(name: str) -> Callable[[Row], float | None]:
    return lambda row: row.value(name)


def _short(name: str) -> str:
    return name.removesuffix(" at mid length")


def _cell(value: float | None) -> str:
    if value is None:
        return "-"
    return number(value, 3) if abs(value) >= 5e-5 else "0"


def _plain(value: Any) -> Any:
    if value is None:
        return ""
    return value if isinstance(value, str | int | float) else str(value)
