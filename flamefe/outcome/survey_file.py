"""Surveys from CSV files: string lines, plumb lines, surfaces and rings, in the trade's units."""

import warnings
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.csv_columns import Columns, CsvFaults, CsvTable, first_line, read_csv
from flamefe.basics.errors import FlamefeWarning, OutOfRange
from flamefe.outcome.survey_checks import SurveyError
from flamefe.outcome.survey_lines import PlumbLine, StringLine
from flamefe.outcome.survey_shapes import RingRadii, SurfacePoints

Array = NDArray[np.float64]
Survey = StringLine | PlumbLine | SurfacePoints | RingRadii

MM = 1e-3
FAR = (-1e6, 1e6)
ERROR = "error_mm"
RANGES = {
    "station_mm": FAR,
    "offset_mm": FAR,
    "height_mm": FAR,
    "offset_x_mm": FAR,
    "offset_y_mm": FAR,
    "x_mm": FAR,
    "y_mm": FAR,
    "z_mm": FAR,
    "angle_deg": (-1e5, 1e5),
    "radius_mm": FAR,
    ERROR: (1e-4, 1e3),
}
COLUMNS: dict[str, tuple[str, ...]] = {
    "string line": ("station_mm", "offset_mm"),
    "plumb line": ("height_mm", "offset_x_mm", "offset_y_mm"),
    "surface": ("x_mm", "y_mm", "z_mm"),
    "ring": ("angle_deg", "radius_mm"),
}
"""Columns of each kind of survey; each may have error_mm besides."""
FEWEST = {"string line": 3, "plumb line": 2, "surface": 4, "ring": 6}


def read_survey(
    path: str | Path,
    *,
    error_mm: float | None = None,
    length_mm: float | None = None,
    width_mm: float | None = None,
) -> Survey:
    """Read a survey; its columns say which kind it is.

    ============  =====================================  ================================
    kind          columns                                length_mm is
    ============  =====================================  ================================
    string line   station_mm, offset_mm                  length of the member
    plumb line    height_mm, offset_x_mm, offset_y_mm    height of the column
    surface       x_mm, y_mm, z_mm                       size along x (width_mm along y)
    ring          angle_deg, radius_mm                   radius asked for
    ============  =====================================  ================================

    Each may have a column error_mm: standard uncertainty of each reading. Separated by commas,
    semicolons or tabs; with the latter two decimal commas are taken too. Lines that begin with #
    are passed over.

    Args:
        path: the file.
        error_mm: standard uncertainty of the instrument (1 sigma) for rows without their own.
        length_mm: of the part as the table says; checks the units. None: they are checked less
            well.
        width_mm: of a surface, along y.

    Returns:
        The survey; compare it with its target by ``against``.

    Raises:
        CsvFaults: faults of the file, all at once with their lines.
        SurveyError: readings that can't be: too few, columns swapped, other units.
        OutOfRange: no instrument's error is told.
        OSError: the file can't be read.

    Example:
        >>> import tempfile
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     file = Path(folder) / "camber.csv"
        ...     _ = file.write_text("station_mm;offset_mm\\n0;0\\n3000;4,5\\n6000;0\\n")
        ...     survey = read_survey(file, error_mm=0.5, length_mm=6000)
        >>> print(survey.against().largest)
        largest deviation 4.5 mm
    """
    file = Path(path)
    kind = _kind_of(file)
    wanted = Columns(
        needed=COLUMNS[kind],
        optional=(ERROR,),
        ranges={name: RANGES[name] for name in (*COLUMNS[kind], ERROR)},
        advise="Give millimetres, angles in degrees.",
    )
    table = read_csv(file, wanted, fewest=FEWEST[kind], what="readings")
    error = _error(table, error_mm, file.name)
    try:
        survey = _made(kind, table, error, length_mm, width_mm)
    except SurveyError as fault:
        raise SurveyError(fault.faults, file.name) from None
    return survey


def warn_of(remarks: tuple[str, ...], what: str) -> None:
    """Warn of everything in a survey that is worth a second look.

    Args:
        remarks: of its deviations.
        what: file or survey.

    Warns:
        FlamefeWarning: one for each remark.

    Example:
        >>> warn_of((), "camber.csv")
    """
    for remark in remarks:
        warnings.warn(f"{what}: {remark}", FlamefeWarning, stacklevel=2)


def _kind_of(file: Path) -> str:
    """Kind of a survey by the names in its header; ``read_csv`` tells what is wrong with it."""
    names = set(first_line(file))
    stems = {name.rpartition("_")[0] or name for name in names}
    best, most = "", 0
    for kind, columns in COLUMNS.items():
        here = len(names & set(columns)) + len(stems & {c.rpartition("_")[0] for c in columns})
        if here > most:
            best, most = kind, here
    if not best:
        kinds = "; ".join(f"{kind}: {', '.join(names)}" for kind, names in COLUMNS.items())
        kinds += "; places of a job: place, deviation_mm"
        raise CsvFaults([f"its first line names no kind of survey; allowed: {kinds}"], file.name)
    return best


def _error(table: CsvTable, error_mm: float | None, name: str) -> Array:
    own = table.numbers.get(ERROR)
    if own is not None:
        return MM * np.array(own)
    if error_mm is None:
        raise OutOfRange(
            f"{name} has no column {ERROR}: tell the instrument's standard uncertainty (1 sigma) "
            "as error_mm; half the smallest division is a usual least value."
        )
    if not 0.0 < error_mm < 1e3:
        raise OutOfRange(f"An instrument's error of {error_mm:g} mm; allowed: above 0, below 1000.")
    return np.full(len(table.lines), MM * error_mm)


def _made(
    kind: str, table: CsvTable, error: Array, length_mm: float | None, width_mm: float | None
) -> Survey:
    length = None if length_mm is None else MM * length_mm
    columns = [np.array(table.numbers[name]) for name in COLUMNS[kind]]
    if kind == "ring":
        angles, radii = np.radians(columns[0]), MM * columns[1]
        return RingRadii(angles=angles, radii=radii, error=error, radius=length)
    lengths = [MM * column for column in columns]
    if kind == "string line":
        return StringLine(stations=lengths[0], offsets=lengths[1], error=error, length=length)
    if kind == "plumb line":
        return PlumbLine(
            heights=lengths[0],
            offsets_x=lengths[1],
            offsets_y=lengths[2],
            error=error,
            height=length,
        )
    size = None
    if length is not None and width_mm is not None:
        size = (length, MM * width_mm)
    return SurfacePoints(points=np.column_stack(lengths), error=error, size=size)
