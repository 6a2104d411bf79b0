"""Measurements of a job: numbers, a table of its places, or a survey, as the part is measured."""

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
from flamefe.outcome.survey_shapes import RingRadii, SurfacePoints
from flamefe.planning.bays import measured_by_area
from flamefe.planning.belief import error_covariance
from flamefe.planning.defined_sheets import circle_fitted, plane_fitted

Array = NDArray[np.float64]
MM = 1e3
NEAR = 0.002
"""Share of the string's length by which its ends may differ from the job's."""
IN_THE_MIDDLE, ON_THE_FRAME = 0.15, 0.05
"""Shares of a bay's sides up to which a point counts as its middle, and as on its frame."""


def measured_in(
    file: Path, names: Sequence[str], error: float, reading: Mapping[str, Any] | None = None
) -> tuple[Array, Array | None, tuple[str, ...]]:
    """Read a measurement of a job's places.

    Either a table with the columns place, deviation_mm and maybe uncertainty_mm, or a survey as
    ``read_survey`` takes it: station_mm and offset_mm from a string (camber), height_mm,
    offset_x_mm and offset_y_mm from a plumb line, with the string's ends or the foot among them;
    angle_deg and radius_mm of a ring, x_mm, y_mm and z_mm of a panel, at the job's places and no
    others; x_mm, y_mm and z_mm of bays, with a point in the middle and three on the frame of each.

    Args:
        file: CSV.
        names: of the places.
        error: m, standard uncertainty of a reading where the file tells none.
        reading: how the part is measured, see ``reading_of``; None: as the places say.

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
    told = reading or {}
    kind = told.get("kind", "")
    if "place" in text.partition("\n")[0].split(","):
        rows: list[Mapping[str, Any]] = list(csv.DictReader(text.splitlines()))
        return (*as_deviations(*_table(file, rows, names), error, told), ())
    size = told.get("size_mm", (None, None))
    survey = read_survey(
        file,
        error_mm=MM * error,
        length_mm=told.get("radius_mm", size[0]),
        width_mm=size[1],
    )
    if isinstance(survey, StringLine):
        _same_string(file, survey, told.get("string_mm"))
        found = survey.against(placed_by="ends", name=names[0].partition(" at ")[0])
    elif isinstance(survey, PlumbLine):
        found = survey.against()
    elif isinstance(survey, SurfacePoints) and kind == "bays":
        heights, covariance = bay_heights_of(survey, told["bays_mm"])
        return (*as_deviations(heights, covariance, error, told), ())
    elif (isinstance(survey, RingRadii) and kind == "ring") or (
        isinstance(survey, SurfacePoints) and kind == "panel"
    ):
        found = survey.against()
        if len(found.names) != len(names):
            raise OutOfRange(
                f"{file} has {len(found.names)} readings, the job {len(names)} places. What is "
                "fitted out depends on all of them: measure the job's places and no others."
            )
    else:
        what = "ring" if isinstance(survey, RingRadii) else "surface"
        raise OutOfRange(
            f"{file} is a survey of a {what}, the job is none of such a part; give a table with "
            "the columns place, deviation_mm and maybe uncertainty_mm."
        )
    return _picked(file, found, names)


def as_deviations(
    values: Array,
    uncertainty: Array | None,
    error: float,
    reading: Mapping[str, Any] | None = None,
) -> tuple[Array, Array | None]:
    """Values at a job's places as the deviations that the job counts.

    Of a ring the best-fitting circle, of a panel the best-fitting plane is fitted out; heights of
    bays are counted by area. Other values stay as they are.

    Args:
        values: (n,) m, as measured: deviations of radii, heights.
        uncertainty: (n,) or (n, n) of them; None: not told.
        error: m, standard uncertainty where none is told.
        reading: how the part is measured, see ``reading_of``.

    Raises:
        OutOfRange: another number of values than of places.

    Example:
        >>> told = {"kind": "bays", "bays_mm": {"A1": [0, 0, 400, 400]}, "tolerance_mm": 1.0}
        >>> found, covariance = as_deviations(np.array([0.003]), None, 1e-4, told)
        >>> found.round(4).tolist(), np.sqrt(covariance).round(4).tolist()
        ([0.009], [[0.0006]])
    """
    told = reading or {}
    kind = told.get("kind", "")
    count = {
        "bays": len(told.get("bays_mm", ())),
        "ring": len(told.get("deg", ())),
        "panel": len(told.get("points_mm", ())),
    }.get(kind, values.size)
    if values.size != count:
        raise OutOfRange(f"{values.size} values for {count} places.")
    spread = error_covariance(np.full(count, error) if uncertainty is None else uncertainty, count)
    if kind == "bays":
        tolerance = float(told["tolerance_mm"]) / MM
        return measured_by_area(values, spread, tolerance)
    if kind in ("ring", "panel"):
        placed = (
            circle_fitted(np.radians(told["deg"]))
            if kind == "ring"
            else plane_fitted(np.array(told["points_mm"]) / MM)
        )
        return placed.of(values), placed.left @ spread @ placed.left.T
    return values, uncertainty


def bay_heights_of(
    survey: SurfacePoints, bays_mm: Mapping[str, Sequence[float]]
) -> tuple[Array, Array]:
    """Heights of bays in their middle against their frames, from a survey of the panel.

    The plane that fits the points on a bay's frame best is taken off the mean of those in its
    middle. Neighbours share points of the frame, so their errors go together.

    Args:
        survey: of the whole panel.
        bays_mm: corners [x1, y1, x2, y2] of each bay.

    Returns:
        (n,) m, and (n, n) m2.

    Raises:
        OutOfRange: a bay without a point in its middle, or with fewer than three on its frame.

    Example:
        >>> grid = [(x, y, 0.003 * (x == y == 0.2)) for x in (0, 0.2, 0.4) for y in (0, 0.2, 0.4)]
        >>> survey = SurfacePoints(points=grid, error=1e-4)
        >>> heights, covariance = bay_heights_of(survey, {"A1": [0, 0, 400, 400]})
        >>> heights.round(6).tolist(), bool(1e-8 < covariance[0, 0] < 1.2e-8)
        ([0.003], True)
    """
    points = survey.points
    errors = np.broadcast_to(np.asarray(survey.error, dtype=float), (len(points),))
    weights = np.zeros((len(bays_mm), len(points)))
    for row, (name, corners) in enumerate(bays_mm.items()):
        ends = np.sort(np.array(corners, dtype=float).reshape(2, 2), axis=0) / MM
        sides = ends[1] - ends[0]
        # from -0.5 to 0.5 within the bay
        at = (points[:, :2] - ends.mean(axis=0)) / sides
        far = np.abs(at).max(axis=1)
        middle = np.flatnonzero(far <= IN_THE_MIDDLE)
        frame = np.flatnonzero(np.abs(far - 0.5) <= ON_THE_FRAME)
        modes = np.column_stack((np.ones(frame.size), at[frame]))
        if middle.size == 0 or frame.size < 3 or np.linalg.matrix_rank(modes, tol=1e-3) < 3:
            raise OutOfRange(
                f"Bay {name!r} has {middle.size} points in its middle and {frame.size} on its "
                "frame; needed: one and three that lie on no line."
            )
        weights[row, middle] = 1.0 / middle.size
        here = np.append(1.0, at[middle].mean(axis=0))
        weights[row, frame] -= here @ np.linalg.pinv(modes)
    return weights @ points[:, 2], (weights * errors**2) @ weights.T


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
