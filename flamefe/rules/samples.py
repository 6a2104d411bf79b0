"""Rows of a table made ready for a fit: inputs, what came out, how much each counts."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.rules.columns import (
    COLUMNS,
    TableError,
    inputs_of_columns,
    number_or_none,
    quantity_column,
    quantity_of_column,
)
from flamefe.rules.fitting import CalibrationError
from flamefe.rules.form import Form
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.registry import verdict_of

Array = NDArray[np.float64]

UNKNOWN = "can't be checked"
"""What reasons say of a condition whose inputs aren't known."""

_SCALES = {c.field: (c.name, float(c.scale)) for c in COLUMNS if c.scale and "." not in c.field}


@dataclass(frozen=True, kw_only=True, eq=False)
class Samples:
    """Rows that a fit can use.

    Args:
        quantity: what came out, as the measure is called.
        inputs: of each row.
        entries: (n, 1 + terms), see `Form.entries`.
        observed: (n,) in the rule's unit.
        given: (n,) relative size of each row's scatter: its deviation, or 1 / sqrt(weight).
        stated: True where every row has a deviation.
        numbers: (n,) of each row in the table, from 1.
        left_out: number and reason of each row that can't be used.
        notes: what to know about the rows, in words.
    """

    quantity: str
    inputs: tuple[RuleInputs, ...]
    entries: Array
    observed: Array
    given: Array
    stated: bool
    numbers: tuple[int, ...]
    left_out: tuple[tuple[int, str], ...]
    notes: tuple[str, ...]

    @property
    def typical_size(self) -> float:
        """Median of the rows' relative scatter: what a new row is taken to have."""
        return float(np.median(self.given))

    def column(self, name: str) -> Array:
        """Values of a column of inputs, (n,), trade units."""
        field, scale = next((f, s) for f, (column, s) in _SCALES.items() if column == name)
        return np.array([getattr(row, field) / scale for row in self.inputs])

    def varying(self, fields: Iterable[str]) -> tuple[str, ...]:
        """Columns of those inputs that every row knows and that vary."""
        found = []
        for field in dict.fromkeys(fields):
            if field not in _SCALES or any(getattr(row, field) is None for row in self.inputs):
                continue
            column = _SCALES[field][0]
            values = self.column(column)
            if np.ptp(values) > 1e-9 * float(np.abs(values).max()):
                found.append(column)
        return tuple(found)


def samples_of(table: Sequence[Mapping[str, Any]], form: Form) -> Samples:
    """Read the rows of a table for a form.

    Args:
        table: rows, column name to number or text; see `flamefe.rules.columns`.
        form: says which inputs and which quantity are needed.

    Returns:
        The rows that can be used. A row without the quantity (a run that failed) or without an
        input is left out and named; a cell that can't be read is an error.

    Raises:
        TableError: a cell can't be read, the deviation or weight isn't above 0, or only some rows
            have one.
        CalibrationError: the table is empty, no column holds the quantity, or no row is left.

    Examples:
        >>> from flamefe.rules.forms import find_form
        >>> found = samples_of([
        ...     {"part": "bar", "wedge_angle_deg": 45, "held_upset_percent": 0.7,
        ...      "closing rotation [mrad]": 2.4},
        ...     {"part": "bar", "wedge_angle_deg": 30, "held_upset_percent": 0.7,
        ...      "closing rotation [mrad]": ""},
        ... ], find_form("perfect confinement", coefficients=("factor",)))
        >>> found.observed.tolist(), found.left_out
        ([2.4], ((2, 'no closing rotation [mrad]'),))
    """
    rule = form.rule
    if not table:
        raise CalibrationError("The table has no rows.")
    names = dict.fromkeys(name for row in table for name in row)
    quantity, column = _column_of(form, tuple(names))
    size = _size_column(table, tuple(names))
    inputs, entries, observed, given, numbers = [], [], [], [], []
    left_out: list[tuple[int, str]] = []
    for number, row in enumerate(table, start=1):
        value = number_or_none(row.get(column))
        if value is None:
            left_out.append((number, f"no {column}"))
            continue
        try:
            one = inputs_of_columns(row)
            relative = _relative_size(row, size)
            missing = form.missing(one)
            entry = form.entries(one) if not missing else None
        except (TableError, OutOfRange) as error:
            raise TableError(f"Row {number}: {error}") from None
        if missing:
            left_out.append((number, f"needs {', '.join(missing)}"))
        elif entry is not None and entry[0] == 0:
            left_out.append((number, "the rule gives 0 there"))
        elif entry is not None:
            inputs.append(one)
            entries.append(entry)
            observed.append(value)
            given.append(relative)
            numbers.append(number)
    if not inputs:
        most = Counter(reason for _, reason in left_out).most_common(1)[0][0]
        raise CalibrationError(
            f"No row of the table can be used for {rule.name!r}; most often: {most}."
        )
    return Samples(
        quantity=quantity,
        inputs=tuple(inputs),
        entries=np.array(entries),
        observed=np.array(observed),
        given=np.array(given),
        stated=size == "deviation",
        numbers=tuple(numbers),
        left_out=tuple(left_out),
        notes=_notes(form, inputs, left_out),
    )


def _column_of(form: Form, names: Sequence[str]) -> tuple[str, str]:
    """Quantity and column that hold what the rule gives; small-strain runs have another name."""
    rule = form.rule
    wanted = [rule.quantity, *([rule.small_quantity] if rule.small_quantity else [])]
    for quantity in wanted:
        column = quantity_column(quantity, rule.unit)
        if column in names:
            return quantity, column
    there = [name for name in names if quantity_of_column(name)]
    for name in there:
        found = quantity_of_column(name)
        if found and found[0] in wanted:
            raise CalibrationError(
                f"The table has {name!r}, but {rule.name!r} gives {rule.unit}; convert the column "
                f"and name it {quantity_column(found[0], rule.unit)!r}."
            )
    raise CalibrationError(
        f"The table has no column {quantity_column(wanted[0], rule.unit)!r}, which "
        f"{rule.name!r} gives; of such columns it has: {', '.join(map(repr, there)) or 'none'}."
    )


def _size_column(table: Sequence[Mapping[str, Any]], names: Sequence[str]) -> str | None:
    """The column that says how much rows count: "deviation", "weight" or none."""
    filled = {
        name: sum(str(row.get(name, "")).strip() not in ("", "None") for row in table)
        for name in ("deviation", "weight")
        if name in names
    }
    present = [name for name, count in filled.items() if count]
    if len(present) == 2:
        raise TableError("The table has both deviation and weight; keep one of them.")
    if not present:
        return None
    if filled[present[0]] < len(table):
        raise TableError(
            f"Only {filled[present[0]]} of {len(table)} rows have a {present[0]}; fill it in every "
            "row or leave the column out."
        )
    return present[0]


def _relative_size(row: Mapping[str, Any], size: str | None) -> float:
    if size is None:
        return 1.0
    value = number_or_none(row[size])
    if value is None or value <= 0:
        raise TableError(f"Column {size!r} holds {row[size]!r}; it must hold a number above 0.")
    return value if size == "deviation" else float(value**-0.5)


def _notes(
    form: Form, inputs: Sequence[RuleInputs], left_out: Sequence[tuple[int, str]]
) -> tuple[str, ...]:
    notes = []
    if left_out:
        reasons = Counter(reason for _, reason in left_out)
        told = "; ".join(f"{count} x {reason}" for reason, count in reasons.most_common(3))
        notes.append(f"{len(left_out)} rows left out: {told}")
    verdicts = [verdict_of(form.rule, one) for one in inputs]
    open_ = [v for v in verdicts if v.reasons and all(UNKNOWN in r for r in v.reasons)]
    if open_:
        notes.append(
            f"for {len(open_)} of {len(inputs)} rows it can't be told whether the rule itself "
            f"claims to hold: {_short(open_[0].reasons[0])}"
        )
    outside = [
        next(r for r in v.reasons if UNKNOWN not in r)
        for v in verdicts
        if any(UNKNOWN not in r for r in v.reasons)
    ]
    if outside:
        most, _ = Counter(_short(reason) for reason in outside).most_common(1)[0]
        notes.append(
            f"{len(outside)} of {len(inputs)} rows lie outside what the rule itself claims, "
            f"most often: {most}"
        )
    return tuple(notes)


def _short(reason: str) -> str:
    """A reason without its numbers' explanation, so that like ones count together."""
    return reason.split(":")[0]
