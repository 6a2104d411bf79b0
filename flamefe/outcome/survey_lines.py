"""Surveys along a line: offsets of a member from a string, and of a column from a plumb line."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.outcome.deviations import TO_MM, Deviations, Placement
from flamefe.outcome.measure import Measure
from flamefe.outcome.survey_checks import (
    SurveyError,
    too_calm,
    too_short,
    wild_along,
    wrong_unit,
)

Array = NDArray[np.float64]

STEEP = 0.2
"""Offset by length above which readings can't be offsets of a member to be straightened."""
FEW = 5
"""Fewer readings than this can't be checked for wild ones."""
Target = float | Callable[[Array], Array]
PlacedBy = Literal["ends", "least squares"]


@dataclass(frozen=True, kw_only=True, eq=False)
class StringLine:
    """Offsets of a member from a string, or from any straight line, at stations along it.

    Args:
        stations: (n,) m, in any order, 3 or more.
        offsets: (n,) m, positive the way that the measure says (camber: upwards).
        error: m, standard uncertainty of a reading; one number or (n,).
        length: m, of the member, to check the units; None: not checked against it.

    Raises:
        SurveyError: too few readings, two at one station, columns swapped, units that can't be.

    Example:
        >>> x = np.linspace(0, 12, 7)
        >>> survey = StringLine(stations=x, offsets=0.02 * (x / 6) * (2 - x / 6) + 0.003,
        ...                     error=0.5e-3)
        >>> found = survey.against()
        >>> print(found.largest, round(1e3 * float(found.uncertainty[3]), 2))
        largest deviation 20 mm 0.61
    """

    stations: Array
    offsets: Array
    error: ArrayLike
    length: float | None = None

    def __post_init__(self) -> None:
        order = _columns(self, "stations", ("offsets",))
        faults = list(order)
        if not faults:
            faults = self._faults()
        if faults:
            raise SurveyError(faults, "The survey from a string")

    def _faults(self) -> list[str]:
        faults = []
        span, offsets = float(np.ptp(self.stations)), float(np.ptp(self.offsets))
        if self.stations.size < 3:
            faults.append(
                f"there are {self.stations.size} readings; a string needs 3 or more: its ends and "
                "one between"
            )
        faults += _twice(self.stations, "station")
        if not faults and offsets > STEEP * span:
            rising = bool((np.diff(np.asarray(self.offsets)) > 0).all())
            hint = "; the columns look swapped" if rising or offsets > span else ""
            faults.append(
                f"offsets span {1e3 * offsets:.4g} mm on stations that span {1e3 * span:.4g} mm"
                f"{hint}: check columns and units"
            )
        if not faults:
            unit = "" if self.length is None else wrong_unit(span, self.length, "The stations")
            faults += [fault for fault in (unit, too_short(span, "The stations")) if fault][:1]
        return faults

    def against(
        self,
        target: Target = 0.0,
        *,
        placed_by: PlacedBy = "ends",
        name: str = "camber",
    ) -> Deviations:
        """Deviations from a straight line or a camber curve.

        The string itself lies somewhere: a line through the two end readings ("ends", the trade's
        way: nothing is left at the ends) or the best-fitting line ("least squares") is fitted
        out, with the uncertainty of that.

        Args:
            target: height of the camber asked for in the middle, m, as a parabola between the
                ends, or a function of the stations (m to m).
            placed_by: see above.
            name: of what is measured: "camber", "sweep" ...
        """
        x, errors = self.stations, _errors(self.error, self.stations.size)
        order = np.argsort(x, kind="stable")
        x, y, errors = x[order], self.offsets[order], errors[order]
        wanted = _wanted(target, x)
        if placed_by == "ends":
            share = (x - x[0]) / (x[-1] - x[0])
            left = np.eye(x.size)
            left[:, 0] -= 1.0 - share
            left[:, -1] -= share
            placement = Placement(left=left, about="the line through the end readings")
        elif placed_by == "least squares":
            modes = np.column_stack((np.ones(x.size), x - x.mean()))
            placement = Placement.fitted(modes, errors, about="the best-fitting line")
        else:
            raise SurveyError([f'placed by {placed_by!r}; allowed: "ends", "least squares"'])
        values = placement.of(y - wanted)
        covariance = placement.covariance(errors)
        names = tuple(f"{name} at {station:g} m" for station in x)
        remarks = [
            f"{names[i]}: {1e3 * y[i]:+.1f} mm stands off its neighbours; measure it again"
            for i in wild_along(x, y, errors)
        ]
        if x.size < FEW:
            remarks.append(f"{x.size} readings are too few to find a wrong one among them")
        calm = too_calm(y, errors, "The offsets")
        middle, error = _middle(x, values, covariance)
        return Deviations(
            what="straightness",
            names=names,
            places=x[:, None],
            values=values,
            covariance=covariance,
            placement=placement,
            length=float(np.ptp(x)) if self.length is None else self.length,
            remarks=(*remarks, *([calm] if calm else [])),
            meaning=f"{name}, from the target line",
            summary=(
                (
                    Measure(
                        name=f"{name} at mid length",
                        value=TO_MM * middle,
                        unit="mm",
                        meaning="deviation from the target half way between the end readings",
                    ),
                    TO_MM * error,
                ),
            ),
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class PlumbLine:
    """Offsets of a column from a plumb line along two horizontal directions.

    Args:
        heights: (n,) m, in any order, 2 or more.
        offsets_x, offsets_y: (n,) m, of the column from the plumb line.
        error: m, standard uncertainty of a reading; one number or (n,).
        height: m, of the column, to check the units; None: not checked.

    Raises:
        SurveyError: see `StringLine`.

    Example:
        >>> survey = PlumbLine(heights=[0, 4, 8], offsets_x=[0.01, 0.014, 0.018],
        ...                    offsets_y=[0.02, 0.02, 0.02], error=1e-3)
        >>> found = survey.against()
        >>> print(found.summary[0][0], round(found.summary[0][1], 2))
        lean along X 1 mrad 0.18
    """

    heights: Array
    offsets_x: Array
    offsets_y: Array
    error: ArrayLike
    height: float | None = None

    def __post_init__(self) -> None:
        faults = _columns(self, "heights", ("offsets_x", "offsets_y"))
        if not faults:
            span = float(np.ptp(self.heights))
            most = max(float(np.ptp(self.offsets_x)), float(np.ptp(self.offsets_y)))
            if self.heights.size < 2:
                faults.append("there is 1 reading; a plumb line needs 2 or more: foot and top")
            faults += _twice(self.heights, "height")
            if not faults and most > STEEP * span:
                hint = "; the columns look swapped" if most > span else ""
                faults.append(
                    f"offsets span {1e3 * most:.4g} mm on heights that span {1e3 * span:.4g} mm"
                    f"{hint}: check columns and units"
                )
            if not faults:
                unit = "" if self.height is None else wrong_unit(span, self.height, "The heights")
                faults += [one for one in (unit, too_short(span, "The heights", 0.5)) if one][:1]
        if faults:
            raise SurveyError(faults, "The survey from a plumb line")

    def against(
        self, *, foot: Literal["lowest reading", "as read"] = "lowest reading"
    ) -> Deviations:
        """Deviations from plumb over the foot; X of all heights, then Y.

        A plumb line is upright by itself, so only where it hangs is fitted out: the offset of the
        lowest reading ("lowest reading", with its uncertainty), or nothing where it was hung over
        the middle of the foot ("as read").

        Args:
            foot: see above.
        """
        order = np.argsort(self.heights, kind="stable")
        z = self.heights[order]
        errors = _errors(self.error, z.size)[order]
        single = np.eye(z.size)
        about = "nothing"
        if foot == "lowest reading":
            single[:, 0] -= 1.0
            about = "the offset of the lowest reading"
        elif foot != "as read":
            raise SurveyError([f'foot is {foot!r}; allowed: "lowest reading", "as read"'])
        placement = Placement(left=np.asarray(np.kron(np.eye(2), single), dtype=float), about=about)
        both = np.concatenate((self.offsets_x[order], self.offsets_y[order]))
        twice = np.concatenate((errors, errors))
        values, covariance = placement.of(both), placement.covariance(twice)
        names = tuple(f"{axis} at {height:g} m" for axis in "XY" for height in z)
        remarks = []
        for axis in (0, 1):
            part = both[axis * z.size : (axis + 1) * z.size]
            remarks += [
                f"{names[axis * z.size + i]}: {1e3 * part[i]:+.1f} mm stands off its neighbours; "
                "measure it again"
                for i in wild_along(z, part, errors)
            ]
        if z.size < FEW:
            remarks.append(f"{z.size} readings are too few to find a wrong one among them")
        for part, what in zip(np.split(both, 2), ("along X", "along Y"), strict=True):
            calm = too_calm(part, errors, f"The offsets {what}")
            remarks += [calm] if calm else []
        low = float(z[0])
        span = float(z[-1])
        if low > 0.1 * span and foot == "lowest reading":
            remarks.append(
                f"the lowest reading is {low:g} m above the foot; the lean below it is not seen"
            )
        return Deviations(
            what="plumb",
            names=names,
            places=np.column_stack((np.tile(z, 2), np.repeat([0.0, 1.0], z.size))),
            values=values,
            covariance=covariance,
            placement=placement,
            length=span if self.height is None else self.height,
            remarks=tuple(remarks),
            meaning="from plumb over the foot",
            summary=_leans(z, both, np.concatenate((errors, errors)), foot),
        )


def parabola(camber: float, start: float, end: float) -> Callable[[Array], Array]:
    """A camber curve: a parabola through both ends with its height in the middle.

    Args:
        camber: m, height in the middle.
        start, end: stations of the ends, m.

    Example:
        >>> parabola(0.02, 0.0, 10.0)(np.array([0.0, 5.0, 7.5])).round(6).tolist()
        [0.0, 0.02, 0.015]
    """

    def height(stations: Array) -> Array:
        share = (np.asarray(stations, dtype=float) - start) / (end - start)
        return np.asarray(4.0 * camber * share * (1.0 - share))

    return height


def _wanted(target: Target, x: Array) -> Array:
    curve = target if callable(target) else parabola(float(target), float(x[0]), float(x[-1]))
    return np.asarray(curve(x), dtype=float)


def _middle(x: Array, values: Array, covariance: Array) -> tuple[float, float]:
    """Deviation half way, by a straight line between the readings beside it, and uncertainty."""
    middle = 0.5 * (x[0] + x[-1])
    rows = np.array([np.interp(middle, x, unit) for unit in np.eye(x.size)])
    return float(rows @ values), float(np.sqrt(max(rows @ covariance @ rows, 0.0)))


def _leans(z: Array, both: Array, errors: Array, foot: str) -> tuple[tuple[Measure, float], ...]:
    """Slopes of the best-fitting lines along X and Y, mrad."""
    found = []
    free = foot == "lowest reading"
    modes = np.column_stack((np.ones(z.size), z)) if free else z[:, None]
    for axis, name in enumerate("XY"):
        part = slice(axis * z.size, (axis + 1) * z.size)
        weight = errors[part] ** -2.0
        normal = modes.T @ (weight[:, None] * modes)
        fit = np.linalg.solve(normal, modes.T @ (weight * both[part]))
        measure = Measure(
            name=f"lean along {name}",
            value=1e3 * float(fit[-1]),
            unit="mrad",
            meaning=f"slope of the best-fitting line (1 mrad = 1 mm a metre); positive = the top "
            f"leans to +{name}",
        )
        found.append((measure, 1e3 * float(np.sqrt(np.linalg.inv(normal)[-1, -1]))))
    return tuple(found)


def _columns(survey: object, first: str, others: Sequence[str]) -> list[str]:
    """Turn columns into arrays; faults of their shapes and values."""
    faults = []
    base = np.array(getattr(survey, first), dtype=float)
    object.__setattr__(survey, first, base)
    for name in (first, *others):
        value = np.array(getattr(survey, name), dtype=float)
        object.__setattr__(survey, name, value)
        if value.ndim != 1 or value.size != base.size or not value.size:
            faults.append(f"{name} has the shape {value.shape}; needed: one value a reading")
        elif not np.isfinite(value).all():
            faults.append(f"{name} holds values that are no numbers")
    error = np.asarray(getattr(survey, "error"), dtype=float)  # noqa: B009
    if error.ndim > 1 or error.size not in (1, base.size) or not (error > 0.0).all():
        faults.append("the instrument's error must be above 0, one number or one a reading")
    return faults


def _errors(error: ArrayLike, count: int) -> Array:
    return np.broadcast_to(np.asarray(error, dtype=float), (count,)).copy()


def _twice(places: Array, what: str) -> list[str]:
    unique, counts = np.unique(np.round(places, 6), return_counts=True)
    again = unique[counts > 1]
    if not again.size:
        return []
    return [
        f"{what} {1e3 * again[0]:g} mm was read {int(counts.max())} times; give the mean once, "
        "with its smaller error"
    ]
