"""Thermocouple readings of a trial: where, when, how hot; checked, and read from a CSV file."""

import csv
import math
import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import FlamefeError, FlamefeWarning

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

FEWEST_ROWS = 8
"""Fewer readings than this say too little about two values and their spread."""
MOST_ROWS = 200_000
"""A file of more rows is refused; a logger's record can be thinned."""
COLUMNS = ("x_mm", "y_mm", "z_mm", "time_s", "temperature_C")
"""Columns that a file of readings must have."""
OPTIONAL_COLUMNS = ("thermocouple", "deviation_K")
"""Columns that it may have."""
RANGES = {
    "x_mm": (-1e5, 1e5),
    "y_mm": (-1e5, 1e5),
    "z_mm": (-1e5, 1e5),
    "time_s": (0.0, 86_400.0),
    "temperature_C": (-50.0, 1500.0),
    "deviation_K": (1e-6, 500.0),
}
"""Least and greatest value of each column."""

_MOST_SHOWN = 40
_MM = 1e-3
_ADVICE = {
    "time_s": "Count seconds from the moment the torch was lit and leave out what is before it.",
    "temperature_C": "Give degrees Celsius; leave out rows where the thermocouple was broken.",
    "deviation_K": "Give the standard deviation of the reading, K, above 0.",
}
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)


class ReadingsError(FlamefeError, ValueError):
    """Readings have faults; all of them are in ``faults``, in the order of the file.

    Example:
        >>> print(ReadingsError(["line 3: no number", "line 7: no number"], "trial.csv"))
        trial.csv has 2 faults:
          line 3: no number
          line 7: no number
    """

    def __init__(self, faults: Sequence[str], what: str = "The table of readings") -> None:
        self.faults, self.what = tuple(faults), what
        super().__init__(self.faults, what)

    def __str__(self) -> str:
        count = len(self.faults)
        lines = [f"{self.what} has {count} fault{'' if count == 1 else 's'}:"]
        lines += [f"  {fault}" for fault in self.faults[:_MOST_SHOWN]]
        if count > _MOST_SHOWN:
            lines.append(f"  and {count - _MOST_SHOWN} more")
        return "\n".join(lines)


@dataclass(frozen=True, kw_only=True, eq=False)
class Readings:
    """What thermocouples showed: one row a reading.

    Args:
        places: (k, 3) m, where the thermocouple sits on or in the part.
        times: (k,) s since the torch was lit, 0 to 86 400.
        temperatures: (k,) C, -50 to 1500.
        deviations: (k,) K, standard deviation of each reading; None: all alike and unknown.
        labels: name of the thermocouple of each row; none: named by their places.
        origins: what each row is called in messages; none: row 1, row 2 and so on.

    Raises:
        ReadingsError: with every fault at once: shapes that do not fit, fewer than 8 rows, values
            out of range, a thermocouple at two places or with two readings at one time.

    Example:
        >>> times = np.linspace(0.0, 14.0, 8)
        >>> readings = Readings(places=np.tile([0.1, 0.05, 0.0], (8, 1)), times=times,
        ...                     temperatures=20.0 + 3.0 * times)
        >>> readings.thermocouples, readings.rows("place 1").size
        (('place 1',), 8)
        >>> Readings(places=np.zeros((8, 3)), times=times - 5.0, temperatures=20.0 + times)
        Traceback (most recent call last):
        ...
        flamefe.heating.readings.ReadingsError: The table of readings has 3 faults:
          row 1: time_s is -5; allowed: 0 to 86400. Count seconds from the moment the torch ...
    """

    places: Array
    times: Array
    temperatures: Array
    deviations: Array | None = None
    labels: tuple[str, ...] = ()
    origins: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("places", "times", "temperatures", "deviations"):
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, np.asarray(value, dtype=float))
        faults = self._shape_faults()
        if not faults:
            if not self.labels:
                object.__setattr__(self, "labels", _named_by_place(self.places))
            if not self.origins:
                rows = tuple(f"row {number}" for number in range(1, self.times.size + 1))
                object.__setattr__(self, "origins", rows)
            faults = [*self._value_faults(), *self._row_faults()]
        if faults:
            raise ReadingsError(faults)

    @property
    def thermocouples(self) -> tuple[str, ...]:
        """Names of the thermocouples, in the order in which they first appear."""
        return tuple(dict.fromkeys(self.labels))

    def rows(self, thermocouple: str) -> IntArray:
        """Rows of one thermocouple in the order of time."""
        mine = np.flatnonzero([label == thermocouple for label in self.labels])
        return np.asarray(mine[np.argsort(self.times[mine], kind="stable")], dtype=np.int64)

    def place(self, thermocouple: str) -> Array:
        """Where a thermocouple sits, (3,) m."""
        return np.asarray(self.places[self.labels.index(thermocouple)])

    @property
    def remarks(self) -> tuple[str, ...]:
        """What in the readings is worth a second look, in words; nothing of it is a fault."""
        said = []
        for name in self.thermocouples:
            shown = self.temperatures[self.rows(name)]
            if shown.size >= 3 and np.ptp(shown) == 0.0:
                said.append(
                    f'Thermocouple "{name}" shows {shown[0]:g} C in all of its {shown.size} '
                    "readings; it may be broken or not connected. Leave it out if it is."
                )
        return tuple(said)

    def _shape_faults(self) -> list[str]:
        count = self.times.size
        if self.times.ndim != 1 or self.places.shape != (count, 3):
            return [
                f"places has the shape {self.places.shape} and times {self.times.shape}; "
                "needed: (k, 3) and (k,)"
            ]
        faults = [
            f"{name} has the shape {value.shape}; needed: ({count},), one value a row"
            for name in ("temperatures", "deviations")
            if (value := getattr(self, name)) is not None and value.shape != (count,)
        ]
        faults += [
            f"there are {len(given)} {name}; needed: {count}, or none"
            for name, given in (("labels", self.labels), ("origins", self.origins))
            if given and len(given) != count
        ]
        if count < FEWEST_ROWS:
            faults.append(_too_few(count))
        return faults

    def _value_faults(self) -> list[str]:
        values = (*(self.places.T / _MM), self.times, self.temperatures)
        columns = dict(zip(COLUMNS, values, strict=True))
        if self.deviations is not None:
            columns["deviation_K"] = self.deviations
        return [
            f"{self.origins[row]}: {_outside(name, float(column[row]))}"
            for name, column in columns.items()
            for row in np.flatnonzero(~_inside(name, column))
        ]

    def _row_faults(self) -> list[str]:
        """Rows that contradict each other."""
        first: dict[str, int] = {}
        seen: dict[tuple[str, float], int] = {}
        faults = []
        for row, (label, time) in enumerate(zip(self.labels, self.times.tolist(), strict=True)):
            start = first.setdefault(label, row)
            if not np.allclose(self.places[row], self.places[start], rtol=0.0, atol=1e-9):
                faults.append(
                    f'{self.origins[row]}: thermocouple "{label}" is at '
                    f"{_shown(self.places[row])} mm, but at {_shown(self.places[start])} mm in "
                    f"{self.origins[start]}. Give each place a name of its own."
                )
            if (before := seen.setdefault((label, time), row)) != row:
                faults.append(
                    f'{self.origins[row]}: thermocouple "{label}" was already read at {time:g} s '
                    f"in {self.origins[before]}. Leave one of the two out."
                )
        return faults


def read_readings(path: str | Path) -> Readings:
    """Read thermocouple readings from a CSV file with a header.

    Columns (in any order): x_mm, y_mm, z_mm (place on the part, in its own axes), time_s (since
    the torch was lit), temperature_C; optional thermocouple (its name) and deviation_K (standard
    deviation of the reading). Separated by commas, or by semicolons; with semicolons decimal
    commas are taken too. Empty lines and lines that begin with # are passed over.

    Args:
        path: the file, UTF-8 (or, as older spreadsheets write it, Windows-1252).

    Returns:
        The readings, places in m.

    Raises:
        ReadingsError: with every fault at once and its line.
        OSError: the file can't be read.

    Warns:
        FlamefeWarning: a thermocouple shows the same value all along.

    Example:
        >>> import tempfile
        >>> rows = [f"100;50,5;0;{2 * i};{20 + 3.5 * i};back middle" for i in range(8)]
        >>> text = "x_mm;y_mm;z_mm;time_s;temperature_C;thermocouple\\n" + "\\n".join(rows)
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     file = Path(folder) / "trial.csv"
        ...     _ = file.write_text(text)
        ...     readings = read_readings(file)
        >>> readings.thermocouples, readings.place("back middle").tolist()
        (('back middle',), [0.1, 0.0505, 0.0])
    """
    file = Path(path)
    text = _decoded(file.read_bytes(), file.name)
    rows = _rows_of(text)
    if not rows:
        raise ReadingsError(["the file is empty; its first line must name the columns"], file.name)
    line, header = rows[0]
    separator = ";" if ";" in header else ","
    names, faults = _header(header, separator, line)
    if faults:
        raise ReadingsError(faults, file.name)
    if len(rows) - 1 > MOST_ROWS:
        raise ReadingsError(
            [f"it has {len(rows) - 1} rows; at most {MOST_ROWS} are read. Thin the record."],
            file.name,
        )
    columns: dict[str, list[float]] = {name: [] for name in names if name in RANGES}
    labels: list[str] = []
    lines: list[str] = []
    for line, row in rows[1:]:
        cells = next(csv.reader(StringIO(row), delimiter=separator))
        made, wrong = _row(names, cells, separator)
        faults += [f"line {line}: {fault}" for fault in wrong]
        if made is not None:
            for name, kept in columns.items():
                kept.append(float(made[name]))
            labels.append(str(made.get("thermocouple", "")))
            lines.append(f"line {line}")
    if len(rows) - 1 < FEWEST_ROWS:
        faults.append(_too_few(len(rows) - 1))
    if faults:
        raise ReadingsError(faults, file.name)
    return _checked(columns, labels, lines, file.name)


def _checked(
    columns: dict[str, list[float]], labels: list[str], lines: list[str], what: str
) -> Readings:
    """Readings from whole columns; faults between rows are told by their lines."""
    try:
        readings = Readings(
            places=np.column_stack([columns[name] for name in COLUMNS[:3]]) * _MM,
            times=np.asarray(columns["time_s"]),
            temperatures=np.asarray(columns["temperature_C"]),
            deviations=np.asarray(columns["deviation_K"]) if "deviation_K" in columns else None,
            labels=tuple(labels) if any(labels) else (),
            origins=tuple(lines),
        )
    except ReadingsError as error:
        raise ReadingsError(error.faults, what) from None
    for remark in readings.remarks:
        warnings.warn(f"{what}: {remark}", FlamefeWarning, stacklevel=3)
    return readings


def _decoded(raw: bytes, what: str) -> str:
    if b"\0" in raw:
        raise ReadingsError(["it is no plain text; save it as CSV in UTF-8"], what)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def _rows_of(text: str) -> list[tuple[int, str]]:
    """Number and text of every line that holds something."""
    return [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]


def _header(header: str, separator: str, line: int) -> tuple[list[str], list[str]]:
    """Known names of the columns, and what is wrong with them."""
    known = {name.lower(): name for name in (*COLUMNS, *OPTIONAL_COLUMNS)}
    cells = [cell.strip() for cell in next(csv.reader(StringIO(header), delimiter=separator))]
    names = [known.get(cell.lower(), cell) for cell in cells]
    faults = []
    strange = [name for name in names if name.lower() not in known]
    for name in COLUMNS:
        if name not in names:
            stem, unit = name.split("_")
            alike = [other for other in strange if other.lower().split("_")[0] == stem]
            fault = f'line {line}: the column "{name}" is missing.'
            if alike:
                fault += f' "{_plain(alike[0])}" can not stand for it: its unit must be {unit}.'
            faults.append(fault)
            strange = [other for other in strange if other not in alike]
    faults += [
        f'line {line}: the column "{_plain(name)}" is not known; allowed: '
        f"{', '.join((*COLUMNS, *OPTIONAL_COLUMNS))}. Leave it out."
        for name in strange
    ]
    faults += [
        f'line {line}: the column "{name}" stands there {names.count(name)} times'
        for name in dict.fromkeys(names)
        if name.lower() in known and names.count(name) > 1
    ]
    if len(cells) == 1:
        faults.append(f"line {line}: columns must be separated by commas or semicolons")
    return names, faults


def _row(
    names: Sequence[str], cells: Sequence[str], separator: str
) -> tuple[dict[str, float | str] | None, list[str]]:
    """Values of a row by column, None when something is wrong with it, and what that is."""
    if len(cells) != len(names):
        hint = " A decimal comma needs semicolons between the columns." if separator == "," else ""
        return None, [f"{len(cells)} columns; needed: {len(names)} as in the header.{hint}"]
    made: dict[str, float | str] = {}
    faults = []
    for name, cell in zip(names, cells, strict=True):
        words = cell.strip()
        if name == "thermocouple":
            made[name] = _plain(words)
            continue
        figures = words.replace(",", ".") if separator == ";" else words
        if not _PLAIN_NUMBER.fullmatch(figures):
            given = f'"{_plain(words)}", which is no number' if words else "empty"
            faults.append(f"{name} is {given}. Give a plain number, or leave the row out.")
            continue
        made[name] = float(figures)
        if not _inside(name, np.array(float(figures))):
            faults.append(_outside(name, float(figures)))
    if not faults and "thermocouple" in names and not made["thermocouple"]:
        faults.append("thermocouple is empty. Name it in every row, or leave the column out.")
    return (None if faults else made), faults


def _named_by_place(places: Array) -> tuple[str, ...]:
    """Names "place 1", "place 2" ... in the order in which they first appear."""
    known: dict[tuple[float, ...], str] = {}
    return tuple(
        known.setdefault(tuple(place), f"place {len(known) + 1}")
        for place in np.round(places, 9).tolist()
    )


def _inside(name: str, values: Array) -> NDArray[np.bool_]:
    low, high = RANGES[name]
    slack = 1e-9 * high
    return np.asarray((values >= low - slack) & (values <= high + slack) & np.isfinite(values))


def _outside(name: str, value: float) -> str:
    low, high = RANGES[name]
    given = f"{value:g}" if math.isfinite(value) else "no finite number"
    advice = _ADVICE.get(name, "Give millimetres in the part's own axes.")
    return f"{name} is {given}; allowed: {low:g} to {high:g}. {advice}"


def _too_few(count: int) -> str:
    return f"there are {count} readings; needed: at least {FEWEST_ROWS}"


def _shown(place: Array) -> str:
    return "({:.6g}, {:.6g}, {:.6g})".format(*(place / _MM))


def _plain(text: str) -> str:
    return "".join(c for c in text[:60] if c.isprintable())
