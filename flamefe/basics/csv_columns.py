"""Columns of numbers from a CSV file as spreadsheets write it, all faults at once."""

import csv
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path

from flamefe.basics.errors import FlamefeError, OutOfRange

MOST_ROWS = 200_000
"""A file of more rows is refused."""
MOST_SHOWN = 40

_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)


class CsvFaults(FlamefeError, ValueError):
    """A CSV file has faults; all of them are in ``faults``, in the order of the file.

    Example:
        >>> print(CsvFaults(["line 3: no number", "line 7: no number"], "trial.csv"))
        trial.csv has 2 faults:
          line 3: no number
          line 7: no number
    """

    def __init__(self, faults: Sequence[str], what: str = "The table") -> None:
        self.faults, self.what = tuple(faults), what
        super().__init__(self.faults, what)

    def __str__(self) -> str:
        count = len(self.faults)
        lines = [f"{self.what} has {count} fault{'' if count == 1 else 's'}:"]
        lines += [f"  {fault}" for fault in self.faults[:MOST_SHOWN]]
        if count > MOST_SHOWN:
            lines.append(f"  and {count - MOST_SHOWN} more")
        return "\n".join(lines)


@dataclass(frozen=True, kw_only=True)
class Columns:
    """What columns a file must and may have, and what their values may be.

    A name ends in its unit: "x_mm", "angle_deg".

    Args:
        needed: names.
        optional: names.
        words: those of them that hold words.
        ranges: least and greatest value of columns of numbers, by name.
        advice: what to do about a value out of range, by name.
        advise: the same for all others.

    Raises:
        OutOfRange: a column of numbers has no range.

    Example:
        >>> wanted = Columns(needed=("x_mm",), ranges={"x_mm": (0.0, 100.0)})
        >>> wanted.outside("x_mm", 200.0)
        'x_mm is 200; allowed: 0 to 100.'
    """

    needed: tuple[str, ...]
    optional: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    ranges: Mapping[str, tuple[float, float]]
    advice: Mapping[str, str] = field(default_factory=dict)
    advise: str = ""

    def __post_init__(self) -> None:
        lacking = [name for name in self.all if name not in self.ranges and name not in self.words]
        if lacking:
            raise OutOfRange(f"Columns {', '.join(lacking)} hold numbers but have no range.")

    @property
    def all(self) -> tuple[str, ...]:
        """All names."""
        return (*self.needed, *self.optional)

    def inside(self, name: str, value: float) -> bool:
        """Whether a value lies in the range of its column.

        Args:
            name: of the column.
            value: in its unit.
        """
        low, high = self.ranges[name]
        slack = 1e-9 * high
        return math.isfinite(value) and low - slack <= value <= high + slack

    def outside(self, name: str, value: float) -> str:
        """Words about a value out of range.

        Args:
            name: of the column.
            value: in its unit.
        """
        low, high = self.ranges[name]
        given = f"{value:g}" if math.isfinite(value) else "no finite number"
        advice = self.advice.get(name, self.advise)
        return f"{name} is {given}; allowed: {low:g} to {high:g}. {advice}".rstrip()


@dataclass(frozen=True, kw_only=True)
class CsvTable:
    """What a file holds.

    Args:
        numbers: values of each column of numbers, by name.
        words: of each column of words.
        lines: number of the line of each row.
    """

    numbers: dict[str, list[float]]
    words: dict[str, list[str]]
    lines: list[int]


def read_csv(path: str | Path, columns: Columns, *, fewest: int, what: str) -> CsvTable:
    """Read columns of numbers (and words) from a CSV file with a header.

    Columns may come in any order, separated by commas, semicolons or tabs; with semicolons and
    tabs decimal commas are taken too. Empty lines, lines that begin with # and a first line
    "sep=;" are passed over.

    Args:
        path: the file, UTF-8 (or, as older spreadsheets write it, Windows-1252).
        columns: wanted.
        fewest: rows that are needed.
        what: a row is called, in the plural: "readings", "points".

    Raises:
        CsvFaults: with every fault at once and its line.
        OSError: the file can't be read.

    Example:
        >>> import tempfile
        >>> wanted = Columns(needed=("x_mm", "y_mm"), ranges={"x_mm": (0, 100), "y_mm": (0, 100)})
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     file = Path(folder) / "points.csv"
        ...     _ = file.write_text("y_mm;x_mm\\n1,5;2\\n3;4\\n")
        ...     read_csv(file, wanted, fewest=2, what="points").numbers
        {'y_mm': [1.5, 3.0], 'x_mm': [2.0, 4.0]}
    """
    file = Path(path)
    rows = _rows_of(_decoded(file.read_bytes(), file.name))
    if not rows:
        raise CsvFaults(["the file is empty; its first line must name the columns"], file.name)
    line, header = rows[0]
    separator = _separator(header)
    names, faults = _header(header, separator, line, columns)
    if faults:
        raise CsvFaults(faults, file.name)
    if len(rows) - 1 > MOST_ROWS:
        raise CsvFaults(
            [f"it has {len(rows) - 1} rows; at most {MOST_ROWS} are read. Thin the record."],
            file.name,
        )
    table = CsvTable(
        numbers={name: [] for name in names if name not in columns.words},
        words={name: [] for name in names if name in columns.words},
        lines=[],
    )
    for line, row in rows[1:]:
        cells = next(csv.reader(StringIO(row), delimiter=separator))
        made, wrong = _row(names, cells, separator, columns)
        faults += [f"line {line}: {fault}" for fault in wrong]
        if wrong:
            continue
        for name, numbers in table.numbers.items():
            numbers.append(float(made[name]))
        for name, words in table.words.items():
            words.append(str(made[name]))
        table.lines.append(line)
    if len(rows) - 1 < fewest:
        faults.append(f"there are {len(rows) - 1} {what}; needed: at least {fewest}")
    if faults:
        raise CsvFaults(faults, file.name)
    return table


def first_line(path: str | Path) -> tuple[str, ...]:
    """Names of a file's columns in small letters, whatever separates them; none of an empty file.

    Args:
        path: the file.

    Raises:
        CsvFaults: it is no text.
        OSError: it can't be read.

    Example:
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     file = Path(folder) / "points.csv"
        ...     _ = file.write_text('# by hand\\n"X_mm";"y_mm"\\n1,5;2\\n')
        ...     first_line(file)
        ('x_mm', 'y_mm')
    """
    file = Path(path)
    rows = _rows_of(_decoded(file.read_bytes(), file.name))
    if not rows:
        return ()
    header = rows[0][1]
    separator = _separator(header)
    cells = next(csv.reader(StringIO(header), delimiter=separator))
    return tuple(cell.strip().lower() for cell in cells)


def plain(text: str) -> str:
    """The printable beginning of a text from outside.

    Args:
        text: any.

    Example:
        >>> plain("a\\x07b")
        'ab'
    """
    return "".join(c for c in text[:60] if c.isprintable())


def _decoded(raw: bytes, what: str) -> str:
    if b"\0" in raw:
        raise CsvFaults(["it is no plain text; save it as CSV in UTF-8"], what)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def _rows_of(text: str) -> list[tuple[int, str]]:
    """Number and text of every line that holds something."""
    rows = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    return rows[1:] if rows and re.fullmatch(r"sep=.?", rows[0][1].strip().lower()) else rows


def _separator(header: str) -> str:
    return next((one for one in ";\t" if one in header), ",")


def _header(
    header: str, separator: str, line: int, columns: Columns
) -> tuple[list[str], list[str]]:
    """Known names of the columns, and what is wrong with them."""
    known = {name.lower(): name for name in columns.all}
    cells = [cell.strip() for cell in next(csv.reader(StringIO(header), delimiter=separator))]
    names = [known.get(cell.lower(), cell) for cell in cells]
    faults = []
    strange = [name for name in names if name.lower() not in known]
    for name in columns.needed:
        if name not in names:
            stem, _, unit = name.rpartition("_")
            alike = [other for other in strange if other.lower().rpartition("_")[0] == stem]
            alike += [other for other in strange if other.lower() == stem]
            fault = f'line {line}: the column "{name}" is missing.'
            if alike:
                fault += f' "{plain(alike[0])}" can not stand for it: its unit must be {unit}.'
            faults.append(fault)
            strange = [other for other in strange if other not in alike]
    faults += [
        f'line {line}: the column "{plain(name)}" is not known; allowed: '
        f"{', '.join(columns.all)}. Leave it out."
        for name in strange
    ]
    faults += [
        f'line {line}: the column "{name}" stands there {names.count(name)} times'
        for name in dict.fromkeys(names)
        if name.lower() in known and names.count(name) > 1
    ]
    if len(cells) == 1:
        faults.append(f"line {line}: columns must be separated by commas, semicolons or tabs")
    return names, faults


def _row(
    names: Sequence[str], cells: Sequence[str], separator: str, columns: Columns
) -> tuple[dict[str, float | str], list[str]]:
    """Values of a row by column, and what is wrong with it."""
    if len(cells) != len(names):
        hint = " A decimal comma needs semicolons between the columns." if separator == "," else ""
        return {}, [f"{len(cells)} columns; needed: {len(names)} as in the header.{hint}"]
    made: dict[str, float | str] = {}
    faults = []
    for name, cell in zip(names, cells, strict=True):
        words = cell.strip()
        if name in columns.words:
            made[name] = plain(words)
            continue
        figures = words if separator == "," else words.replace(",", ".")
        if not _PLAIN_NUMBER.fullmatch(figures):
            given = f'"{plain(words)}", which is no number' if words else "empty"
            faults.append(f"{name} is {given}. Give a plain number, or leave the row out.")
            continue
        made[name] = float(figures)
        if not columns.inside(name, float(figures)):
            faults.append(columns.outside(name, float(figures)))
    if not faults:
        faults += [
            f"{name} is empty. Name it in every row, or leave the column out."
            for name in columns.words
            if name in names and not made[name]
        ]
    return made, faults
