"""Measurements of a job from files: a survey of a member or column, or a table of its places."""

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.deviations import Deviations
from flamefe.outcome.survey_file import read_survey
from flamefe.outcome.survey_lines import PlumbLine, StringLine

Array = NDArray[np.float64]
MM = 1e3
NEAR = 0.002
"""Share of the string's length by which its ends may differ from the job's."""


def measured_in(
    file: Path, names: Sequence[str], error: float, string_mm: Sequence[float] | None = None
) -> tuple[Array, Array | None, tuple[str, ...]]:
    """Read a measurement of a job's places.

    Either a table with the columns place, deviation_mm and maybe uncertainty_mm, or a survey as
    ``read_survey`` takes it: station_mm and offset_mm from a string (camber), height_mm,
    offset_x_mm and offset_y_mm from a plumb line, with the string's ends or the foot among them.

    Args:
        file: CSV.
        names: of the places.
        error: m, standard uncertainty of a reading where the file tells none.
        string_mm: stations that the string is laid over; None: not checked.

    Returns:
        (n,) m deviations; their (n,) or (n, n) uncertainty, None where none is told; remarks.

    Raises:
        OutOfRange: places that are missing or unknown, or values that are no numbers.
        FlamefeError: faults of a survey.

    Example:
        >>> import tempfile
        >>> file = Path(tempfile.mkdtemp()) / "after.csv"
        >>> _ = file.write_text("station_mm,offset_mm\\n0,1\\n3000,5\\n6000,8\\n12000,1\\n")
        >>> found, _, _ = measured_in(file, ["camber at 3 m", "camber at 6 m"], 4e-4)
        >>> found.round(6).tolist()
        [0.004, 0.007]
    """
    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as problem:
        raise OutOfRange(f"{file} can't be read: {problem}.") from None
    if "place" in text.partition("\n")[0].split(","):
        rows: list[Mapping[str, Any]] = list(csv.DictReader(text.splitlines()))
        deviation, unsure = _table(file, rows, names)
        return deviation, unsure, ()
    survey = read_survey(file, error_mm=MM * error)
    if isinstance(survey, StringLine):
        _same_string(file, survey, string_mm)
        found = survey.against(placed_by="ends", name=names[0].partition(" at ")[0])
    elif isinstance(survey, PlumbLine):
        found = survey.against()
    else:
        raise OutOfRange(
            f"{file} is a survey of a surface or ring; for a job give a table with the columns "
            "place, deviation_mm and maybe uncertainty_mm."
        )
    return _picked(file, found, names)


def _same_string(file: Path, survey: StringLine, string_mm: Sequence[float] | None) -> None:
    if string_mm is None:
        return
    first, last = string_mm
    ends = MM * float(survey.stations.min()), MM * float(survey.stations.max())
    if max(abs(ends[0] - first), abs(ends[1] - last)) > NEAR * (last - first):
        raise OutOfRange(
            f"{file}: the string runs from {ends[0]:g} to {ends[1]:g} mm, in the job from "
            f"{first:g} to {last:g} mm; give the readings at its two ends too."
        )


def _picked(
    file: Path, found: Deviations, names: Sequence[str]
) -> tuple[Array, Array, tuple[str, ...]]:
    missing = [name for name in names if name not in found.names]
    if missing:
        raise OutOfRange(
            f"{file} has no reading for {missing[0]}; the places of the job are {', '.join(names)}."
        )
    rows = [found.names.index(name) for name in names]
    return found.values[rows], found.covariance[np.ix_(rows, rows)], found.remarks


def _table(
    file: Path, rows: Sequence[Mapping[str, Any]], names: Sequence[str]
) -> tuple[Array, Array | None]:
    heads = list(rows[0]) if rows else []
    if "deviation_mm" not in heads:
        raise OutOfRange(
            f"{file} has the columns {', '.join(map(str, heads)) or 'none'}; needed: place, "
            "deviation_mm and maybe uncertainty_mm."
        )
    found = {str(row["place"]).strip(): row for row in rows}
    missing = [name for name in names if name not in found]
    unknown = [name for name in found if name not in names]
    if missing or unknown or len(found) < len(rows):
        what = "no value for" if missing else "unknown place" if unknown else "a place twice in"
        raise OutOfRange(
            f"{file}: {what} {[*missing, *unknown, file.name][0]}; the places are "
            f"{', '.join(names)}."
        )
    try:
        deviation = np.array([float(found[name]["deviation_mm"]) for name in names]) / MM
        if "uncertainty_mm" not in heads:
            return deviation, None
        return deviation, np.array([float(found[name]["uncertainty_mm"]) for name in names]) / MM
    except (TypeError, ValueError):
        raise OutOfRange(f"{file} holds a value that is no number.") from None
