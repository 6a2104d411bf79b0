"""Values at a job's places: what the job counts of them, and whether they can be believed."""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.survey_checks import too_calm, wild_along, wild_on
from flamefe.planning.bays import measured_by_area
from flamefe.planning.belief import error_covariance
from flamefe.planning.defined_formed import formed_target, surface_fitted
from flamefe.planning.defined_sheets import circle_fitted, plane_fitted

Array = NDArray[np.float64]
MM = 1e3
MOST = 0.1
"""Deviation by the part's length beyond which a value can't be one of a part to be straightened."""
AT_AN_END = 1e-6
"""m, error of a place that is 0 because everything is measured from it."""


def as_deviations(
    values: Array,
    uncertainty: Array | None,
    error: float,
    reading: Mapping[str, Any] | None = None,
) -> tuple[Array, Array | None]:
    """Values at a job's places as the deviations that the job counts.

    Of a ring the best-fitting circle, of a panel the best-fitting plane, of a formed plate its
    place on the target is fitted out; heights of bays are counted by area. Other values stay as
    they are.

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
        "formed": len(told.get("points_mm", ())),
    }.get(kind, values.size)
    if values.size != count:
        raise OutOfRange(f"{values.size} values for {count} places.")
    spread = error_covariance(np.full(count, error) if uncertainty is None else uncertainty, count)
    if kind == "bays":
        tolerance = float(told["tolerance_mm"]) / MM
        return measured_by_area(values, spread, tolerance)
    if kind in ("ring", "panel", "formed"):
        if kind == "ring":
            placed = circle_fitted(np.radians(told["deg"]))
        elif kind == "panel":
            placed = plane_fitted(np.array(told["points_mm"]) / MM)
        else:
            target = formed_target(told["size_mm"], told["radii_mm"])
            placed = surface_fitted(target, np.array(told["points_mm"]) / MM)
        return placed.of(values), placed.left @ spread @ placed.left.T
    return values, uncertainty


def refuse_impossible(values: Array, reading: Mapping[str, Any] | None = None) -> None:
    """Refuse values that no part of that size can have.

    Args:
        values: (n,) m, as measured.
        reading: how the part is measured, see ``reading_of``; without a length nothing is said.

    Raises:
        OutOfRange: a value beyond a tenth of the part's length.

    Example:
        >>> refuse_impossible(np.array([4.3]), {"kind": "girder", "length_mm": 12000})
        Traceback (most recent call last):
        ...
        flamefe.basics.errors.OutOfRange: A deviation of 4300 mm on a part of 12000 mm; allowed: \
a tenth of it. Give millimetres on paper, metres in Python.
    """
    length = (reading or {}).get("length_mm")
    largest = MM * float(np.abs(values).max(initial=0.0))
    if length is not None and largest > MOST * length:
        raise OutOfRange(
            f"A deviation of {largest:.5g} mm on a part of {length:.5g} mm; allowed: a tenth of "
            "it. Give millimetres on paper, metres in Python."
        )


def doubts_of(
    values: Array,
    errors: Array,
    names: tuple[str, ...],
    reading: Mapping[str, Any] | None = None,
) -> tuple[str, ...]:
    """What looks wrong in values at a job's places: single ones, and all in another unit.

    Args:
        values: (n,) m, as measured.
        errors: (n,) m, standard uncertainties of readings.
        names: of the places.
        reading: how the part is measured, see ``reading_of``.

    Example:
        >>> told = {"kind": "girder", "ways": ["camber"], "string_mm": [0, 12000],
        ...         "stations_mm": [2000, 4000, 6000, 8000, 10000]}
        >>> seen = np.array([5e-3, 9e-3, 41e-3, 9e-3, 5e-3])
        >>> doubts_of(seen, np.full(5, 4e-4), ("2 m", "4 m", "6 m", "8 m", "10 m"), told)
        ('6 m: +41.0 mm stands off its neighbours; measure it again',)
    """
    told = reading or {}
    wild: list[int] = []
    kind = told.get("kind", "")
    if kind == "girder" and "stations_mm" in told:
        places = np.array(told["stations_mm"], dtype=float)
        ends = np.array(told["string_mm"], dtype=float)
        wild = _wild_on_lines(places, ends, values, errors, len(told["ways"]))
    elif kind == "column" and "heights_mm" in told:
        places = np.array(told["heights_mm"], dtype=float)
        wild = _wild_on_lines(places, np.zeros(1), values, errors, 2)
    elif kind == "ring":
        turns = np.array(told["deg"], dtype=float)
        order = np.argsort(turns, kind="stable")
        found = wild_along(turns[order], values[order], errors[order], closed=360.0)
        wild = [int(order[i]) for i in found]
    elif kind in ("panel", "formed"):
        wild = wild_on(np.array(told["points_mm"]) / MM, values, errors)
    said = [
        f"{names[i]}: {MM * values[i]:+.1f} mm stands off its neighbours; measure it again"
        for i in wild
    ]
    calm = too_calm(values, errors, "The values")
    return (*said, *([calm] if calm and kind != "bays" else []))


def _wild_on_lines(
    places: Array, ends: Array, values: Array, errors: Array, lines: int
) -> list[int]:
    """Wild ones of the values along one or two lines with the same places, 0 at their ends."""
    if values.size != lines * places.size:
        return []
    outer = [end for end in ends if not bool(np.isclose(places, end).any())]
    x = np.concatenate((places, outer))
    order = np.argsort(x, kind="stable")
    found = []
    for line in range(lines):
        part = slice(line * places.size, (line + 1) * places.size)
        y = np.concatenate((values[part], np.zeros(len(outer))))
        sure = np.concatenate((errors[part], np.full(len(outer), AT_AN_END)))
        seen = (int(order[i]) for i in wild_along(x[order], y[order], sure[order]))
        found += [line * places.size + i for i in seen if i < places.size]
    return sorted(found)
