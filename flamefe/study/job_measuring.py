"""Measurements of a job: numbers, a table of its places, or a survey, as the part is measured."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.csv_columns import Columns, CsvFaults, first_line, read_csv
from flamefe.basics.errors import OutOfRange
from flamefe.outcome.deviations import Deviations
from flamefe.outcome.survey_checks import wild_on_plane
from flamefe.outcome.survey_file import read_survey
from flamefe.outcome.survey_lines import PlumbLine, StringLine
from flamefe.outcome.survey_shapes import RingRadii, SurfacePoints
from flamefe.planning.defined_formed import formed_target

Array = NDArray[np.float64]
MM = 1e3
NEAR = 0.002
"""Share of the string's length by which its ends may differ from the job's."""
FOOT, LOW_MM = 0.01, 50.0
"""Share of a column's height, and mm, up to which its lowest reading counts as that of the foot."""
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
        (n,) m as measured, heights of bays as they are; their (n,) or (n, n) uncertainty, None
        where none is told; remarks.

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
        heads = first_line(file)
    except OSError as problem:
        raise OutOfRange(f"{file} can't be read: {problem}.") from None
    told = reading or {}
    kind = told.get("kind", "")
    if {"place", "deviation_mm"} & set(heads):
        return (*_table(file, names), ())
    size = told.get("size_mm", (None, None))
    length = told.get("radius_mm", size[0])
    survey = read_survey(
        file,
        error_mm=MM * error,
        length_mm=told.get("length_mm") if kind == "column" else length,
        width_mm=size[1],
    )
    if isinstance(survey, StringLine):
        _same_string(file, survey, told.get("string_mm"))
        found = survey.against(placed_by="ends", name=names[0].partition(" at ")[0])
    elif isinstance(survey, PlumbLine):
        _from_the_foot(file, survey, told.get("length_mm"))
        found = survey.against()
    elif isinstance(survey, SurfacePoints) and kind == "bays":
        heights, covariance = bay_heights_of(survey, told["bays_mm"])
        return heights, covariance, frame_doubts(survey, told["bays_mm"])
    elif (isinstance(survey, RingRadii) and kind == "ring") or (
        isinstance(survey, SurfacePoints) and kind in ("panel", "formed")
    ):
        if isinstance(survey, SurfacePoints) and kind == "formed":
            found = survey.against(formed_target(told["size_mm"], told["radii_mm"]))
        else:
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
        at = _within(points, corners)
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


def frame_doubts(survey: SurfacePoints, bays_mm: Mapping[str, Sequence[float]]) -> tuple[str, ...]:
    """Points on the frames of bays that stand off the plane of all others there.

    Args:
        survey: of the whole panel.
        bays_mm: corners of each bay.
    """
    points = survey.points
    errors = np.broadcast_to(np.asarray(survey.error, dtype=float), (len(points),))
    frames = set()
    for corners in bays_mm.values():
        far = np.abs(_within(points, corners)).max(axis=1)
        frames.update(np.flatnonzero(np.abs(far - 0.5) <= ON_THE_FRAME).tolist())
    chosen = np.array(sorted(frames), dtype=int)
    wild = chosen[wild_on_plane(points[chosen, :2], points[chosen, 2], errors[chosen])]
    return tuple(
        f"({MM * points[i, 0]:.0f}, {MM * points[i, 1]:.0f}) mm on the frame: "
        f"{MM * points[i, 2]:+.1f} mm stands off the plane of the other frame points; measure it "
        "again"
        for i in wild
    )


def _within(points: Array, corners: Sequence[float]) -> Array:
    """(n, 2), places of points in a bay, from -0.5 to 0.5 within it."""
    ends = np.sort(np.array(corners, dtype=float).reshape(2, 2), axis=0) / MM
    return np.asarray((points[:, :2] - ends.mean(axis=0)) / (ends[1] - ends[0]))


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


def _from_the_foot(file: Path, survey: PlumbLine, height_mm: float | None) -> None:
    lowest = MM * float(survey.heights.min())
    height = MM * float(survey.heights.max()) if height_mm is None else height_mm
    if abs(lowest) > max(FOOT * height, LOW_MM):
        raise OutOfRange(
            f"{file}: the lowest reading is at {lowest:g} mm; the job counts from the foot: give "
            "the reading there too, with height_mm 0."
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


def _table(file: Path, names: Sequence[str]) -> tuple[Array, Array | None]:
    wanted = Columns(
        needed=("place", "deviation_mm"),
        optional=("uncertainty_mm",),
        words=("place",),
        ranges={"deviation_mm": (-1e6, 1e6), "uncertainty_mm": (1e-4, 1e3)},
        advise="Give millimetres.",
    )
    table = read_csv(file, wanted, fewest=1, what="places")
    found = {place.strip(): row for row, place in enumerate(table.words["place"])}
    missing = [name for name in names if name not in found]
    unknown = [name for name in found if name not in names]
    faults = [f"no value for {name}" for name in missing]
    faults += [f"unknown place {name}" for name in unknown]
    if not faults and len(found) < len(table.lines):
        faults.append("a place stands in it twice")
    if faults:
        raise CsvFaults([*faults, f"the places of the job are {', '.join(names)}"], file.name)
    rows = [found[name] for name in names]
    deviation = np.array(table.numbers["deviation_mm"])[rows] / MM
    unsure = table.numbers.get("uncertainty_mm")
    return deviation, None if unsure is None else np.array(unsure)[rows] / MM
