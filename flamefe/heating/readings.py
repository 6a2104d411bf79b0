"""Thermocouple readings of a trial: where, when, how hot; checked, and read from a CSV file."""

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.csv_columns import Columns, CsvFaults, read_csv
from flamefe.basics.errors import FlamefeWarning

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

FEWEST_ROWS = 8
"""Fewer readings than this say too little about two values and their spread."""
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

_MM = 1e-3
_WANTED = Columns(
    needed=COLUMNS,
    optional=OPTIONAL_COLUMNS,
    words=("thermocouple",),
    ranges=RANGES,
    advice={
        "time_s": "Count seconds from the moment the torch was lit and leave out what is before "
        "it.",
        "temperature_C": "Give degrees Celsius; leave out rows where the thermocouple was broken.",
        "deviation_K": "Give the standard deviation of the reading, K, above 0.",
    },
    advise="Give millimetres in the part's own axes.",
)


class ReadingsError(CsvFaults):
    """Readings have faults; all of them are in ``faults``, in the order of the file.

    Example:
        >>> print(ReadingsError(["line 3: no number", "line 7: no number"], "trial.csv"))
        trial.csv has 2 faults:
          line 3: no number
          line 7: no number
    """

    def __init__(self, faults: Sequence[str], what: str = "The table of readings") -> None:
        super().__init__(faults, what)


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
            f"{self.origins[row]}: {_WANTED.outside(name, value)}"
            for name, column in columns.items()
            for row, value in enumerate(column.tolist())
            if not _WANTED.inside(name, value)
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
    try:
        table = read_csv(file, _WANTED, fewest=FEWEST_ROWS, what="readings")
    except CsvFaults as error:
        raise ReadingsError(error.faults, error.what) from None
    labels = table.words.get("thermocouple", [])
    return _checked(table.numbers, labels, [f"line {line}" for line in table.lines], file.name)


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


def _named_by_place(places: Array) -> tuple[str, ...]:
    """Names "place 1", "place 2" ... in the order in which they first appear."""
    known: dict[tuple[float, ...], str] = {}
    return tuple(
        known.setdefault(tuple(place), f"place {len(known) + 1}")
        for place in np.round(places, 9).tolist()
    )


def _too_few(count: int) -> str:
    return f"there are {count} readings; needed: at least {FEWEST_ROWS}"


def _shown(place: Array) -> str:
    return "({:.6g}, {:.6g}, {:.6g})".format(*(place / _MM))
