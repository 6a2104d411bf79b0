"""Surveys of a surface by points, and of a ring by radii."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.outcome.deviations import TO_MM, Deviations, Placement, band_of
from flamefe.outcome.measure import Measure
from flamefe.outcome.survey_checks import (
    SurveyError,
    too_calm,
    too_short,
    wild_along,
    wild_on,
    wrong_unit,
)

Array = NDArray[np.float64]

STEEPEST = 0.5
"""Slope of a target surface against its x-y plane up to which it can be fitted."""
WEAK = 0.02
"""A movement that changes distances by less than this share of itself is not fitted."""
ROUNDS = 30
FEW_ON_A_SURFACE = 9
LARGEST_GAP = np.pi / 2
Surface = Callable[[Array, Array], Array]


@dataclass(frozen=True, kw_only=True, eq=False)
class SurfacePoints:
    """Points measured on a surface; z is the direction in which it should be flat or formed.

    Args:
        points: (n, 3) m, 4 or more, not on one line.
        error: m, standard uncertainty of a height; one number or (n,).
        size: (along x, along y) m of the part, to check the units; None: not checked.

    Raises:
        SurveyError: too few points, on one line, columns swapped, units that can't be.

    Example:
        >>> grid = [(x, y, 0.001 * x + 0.002 * (x == y == 1)) for x in range(3) for y in range(3)]
        >>> found = SurfacePoints(points=grid, error=0.2e-3).against()
        >>> print(found.largest)
        largest deviation 1.778 mm
    """

    points: Array
    error: ArrayLike
    size: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", np.array(self.points, dtype=float))
        faults = self._faults()
        if faults:
            raise SurveyError(faults, "The survey of a surface")

    def _faults(self) -> list[str]:
        p = self.points
        if p.ndim != 2 or p.shape[1] != 3 or not np.isfinite(p).all():
            return [f"points have the shape {p.shape}; needed: (n, 3) finite numbers"]
        if len(p) < 4:
            return [f"there are {len(p)} points; a surface needs 4 or more"]
        error = np.asarray(self.error, dtype=float)
        if error.ndim > 1 or error.size not in (1, len(p)) or not (error > 0.0).all():
            return ["the instrument's error must be above 0, one number or one a point"]
        plane = p[:, :2] - p[:, :2].mean(axis=0)
        spread = np.linalg.svd(plane, compute_uv=False)
        spans = np.ptp(p, axis=0)
        if spread[0] == 0.0 or spread[1] < 1e-3 * spread[0]:
            thin = "xyz"[int(np.argmin(spans))]
            return [
                "in x and y the points lie on one line; a surface needs an area"
                + (f" (all have nearly the same {thin}: are the columns swapped?)" * (thin != "z"))
            ]
        if len(np.unique(np.round(p[:, :2], 5), axis=0)) < len(p):
            return ["two points have the same x and y; give the mean once"]
        if spans[2] > 0.5 * min(spans[0], spans[1]):
            return [
                f"heights z span {1e3 * spans[2]:.4g} mm on a surface of {1e3 * spans[0]:.4g} x "
                f"{1e3 * spans[1]:.4g} mm; the columns look swapped, or z in another unit"
            ]
        found = []
        if self.size is not None:
            for axis in (0, 1):
                what = f"The points along {'xy'[axis]}"
                found.append(wrong_unit(float(spans[axis]), self.size[axis], what))
        found.append(too_short(float(spans[:2].max()), "The points"))
        return [fault for fault in found if fault][:1]

    def against(self, target: Surface | None = None) -> Deviations:
        """Deviations from flat, or from a formed surface, square to it.

        The six movements of a rigid body are fitted out by least squares (Gauss-Newton on the
        distances from the target); of a flat target three of them do nothing.

        Args:
            target: height of the surface asked for, from x and y, all in m; None: flat.

        Raises:
            SurveyError: the points lie too steeply, or no placement fits.
        """
        errors = np.broadcast_to(np.asarray(self.error, dtype=float), (len(self.points),))
        surface = target or (lambda x, y: 0.0 * x)
        placed, normals, values = _placed(self.points, errors, surface)
        modes = np.concatenate((normals, np.cross(placed, normals)), axis=1)
        scale = float(np.ptp(placed[:, :2], axis=0).max())
        modes[:, 3:] /= scale
        about = "plane" if target is None else "place of the target surface"
        placement = Placement.fitted(modes, errors, about=f"the best-fitting {about}", weak=WEAK)
        error = errors * np.abs(normals[:, 2])
        covariance = placement.covariance(error)
        names = tuple(f"({1e3 * x:.4g}, {1e3 * y:.4g}) mm" for x, y, _ in self.points)
        wild = wild_on(self.points[:, :2], values, error)
        remarks = [
            f"{names[i]}: {1e3 * values[i]:+.1f} mm stands off its neighbours; measure it again"
            for i in wild
        ]
        if len(values) < FEW_ON_A_SURFACE:
            remarks.append(f"{len(values)} points are few for a surface; dents between are missed")
        calm = too_calm(values, error, "The heights")
        band = band_of(
            values,
            covariance,
            name="flatness" if target is None else "form",
            meaning="width of the band about the target that holds all points; never below 0",
        )
        return Deviations(
            what="flatness" if target is None else "form",
            names=names,
            places=self.points,
            values=values,
            covariance=covariance,
            placement=placement,
            length=max(self.size or (scale, scale)),
            remarks=(*remarks, *([calm] if calm else [])),
            meaning="square to the target surface, positive towards +z",
            summary=(band,),
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class RingRadii:
    """Radii measured round a ring from a point near its middle.

    Args:
        angles: (n,) rad, in any order, 6 or more.
        radii: (n,) m.
        error: m, standard uncertainty of a reading; one number or (n,).
        radius: m asked for, to check the units and, if wished, as the target; None: not known.

    Raises:
        SurveyError: too few readings, columns swapped, angles or radii that can't be.

    Example:
        >>> t = np.radians(np.arange(0, 360, 30))
        >>> survey = RingRadii(angles=t, radii=0.5 + 0.003 * np.cos(2 * t) + 0.001 * np.cos(t),
        ...                    error=0.2e-3)
        >>> found = survey.against()
        >>> [str(measure) for measure, _ in found.summary]
        ['out of round 5.999 mm', 'mean radius 500 mm']
    """

    angles: Array
    radii: Array
    error: ArrayLike
    radius: float | None = None

    def __post_init__(self) -> None:
        for name in ("angles", "radii"):
            object.__setattr__(self, name, np.array(getattr(self, name), dtype=float))
        faults = self._faults()
        if faults:
            raise SurveyError(faults, "The survey of a ring")

    def _faults(self) -> list[str]:
        t, r = self.angles, self.radii
        if t.ndim != 1 or r.shape != t.shape or not (np.isfinite(t).all() and np.isfinite(r).all()):
            return [f"angles {t.shape} and radii {r.shape}; needed: one finite value a reading"]
        error = np.asarray(self.error, dtype=float)
        if error.ndim > 1 or error.size not in (1, t.size) or not (error > 0.0).all():
            return ["the instrument's error must be above 0, one number or one a reading"]
        if t.size < 6:
            return [f"there are {t.size} readings; a ring needs 6 or more"]
        if (r <= 0.0).any():
            return ["a radius is not above 0; give radii, not deviations, from the middle outwards"]
        if np.ptp(t) > 2.0 * np.pi * 1.01 or np.ptp(r) > 0.3 * float(np.median(r)):
            return [
                f"angles span {np.degrees(np.ptp(t)):.4g} deg and radii {1e3 * r.min():.4g} to "
                f"{1e3 * r.max():.4g} mm; the columns look swapped, or the middle is far off"
            ]
        if np.ptp(t) < np.radians(7.0):
            return [
                f"angles span {np.degrees(np.ptp(t)):.3g} in all: they look like radians; give "
                "degrees"
            ]
        turned = np.sort(np.mod(t, 2.0 * np.pi))
        if np.diff(turned).min(initial=1.0) < np.radians(0.05):
            return ["two readings have the same angle (0 and 360 deg are one); give the mean once"]
        unit = ""
        if self.radius is not None:
            unit = wrong_unit(float(np.median(r)), self.radius, "The radii")
        short = too_short(2.0 * float(np.median(r)), "The ring's diameters", 0.03)
        return [fault for fault in (unit, short) if fault][:1]

    def against(self, *, size_counts: bool = False) -> Deviations:
        """Deviations from round; where the middle was taken to be is fitted out.

        Radius, and shift of the middle along X and Y (cos and sin of the angle), are fitted by
        least squares; the shift counts to first order, which is right while it is small against
        the radius.

        Args:
            size_counts: whether the deviation is from the radius asked for; else the mean radius
                is fitted out too.

        Raises:
            SurveyError: the size counts, but no radius was told; or the middle is far off.

        Source of the least squares circle in its first-order form: ISO 12181 (from memory).
        """
        order = np.argsort(np.mod(self.angles, 2.0 * np.pi), kind="stable")
        t, r = np.mod(self.angles, 2.0 * np.pi)[order], self.radii[order]
        errors = np.broadcast_to(np.asarray(self.error, dtype=float), t.shape)[order]
        modes = np.column_stack((np.cos(t), np.sin(t), np.ones(t.size)))
        root = 1.0 / errors
        fit = np.linalg.lstsq(root[:, None] * modes, root * r, rcond=None)[0]
        if size_counts and self.radius is None:
            raise SurveyError(["tell the radius asked for, if the size counts"], "The ring")
        wanted = float(self.radius) if size_counts and self.radius is not None else 0.0
        shift = float(np.hypot(fit[0], fit[1]))
        if shift > 0.1 * fit[2]:
            raise SurveyError(
                [
                    f"the middle lies {1e3 * shift:.4g} mm off, more than a tenth of the radius; "
                    "measure from a point nearer to it"
                ],
                "The survey of a ring",
            )
        about = "the place of the middle" if size_counts else "the best-fitting circle"
        placement = Placement.fitted(modes[:, : 2 if size_counts else 3], errors, about=about)
        # a shifted circle departs from a pure cosine by s^2 sin^2 / (2 R): taken off as known
        square = (fit[0] * np.sin(t) - fit[1] * np.cos(t)) ** 2 / (2.0 * fit[2])
        values = placement.of(r + square - wanted)
        size = float(np.linalg.lstsq(root[:, None] * modes, root * (r + square), rcond=None)[0][2])
        covariance = placement.covariance(errors)
        names = tuple(f"radius at {np.degrees(angle):.4g} deg" for angle in t)
        remarks = [
            f"{names[i]}: {1e3 * values[i]:+.1f} mm stands off its neighbours; measure it again"
            for i in wild_along(t, values, errors, closed=2.0 * np.pi)
        ]
        gaps = np.diff(np.concatenate((t, [t[0] + 2.0 * np.pi])))
        if gaps.max() > LARGEST_GAP:
            remarks.append(
                f"there is no reading over {np.degrees(gaps.max()):.0f} deg; the ring may be out "
                "of round there"
            )
        if t.size < 8:
            remarks.append(f"{t.size} readings see ovality, but hardly anything of more waves")
        calm = too_calm(values, errors, "The radii")
        band = band_of(
            values, covariance, name="out of round",
            meaning="largest less smallest radius from the fitted middle; never below 0",
        )  # fmt: skip
        weight = errors**-2.0
        normal = modes.T @ (weight[:, None] * modes)
        mean = (
            Measure(
                name="mean radius",
                value=TO_MM * size,
                unit="mm",
                meaning="of the circle that fits the readings best",
            ),
            TO_MM * float(np.sqrt(np.linalg.inv(normal)[2, 2])),
        )
        return Deviations(
            what="roundness",
            names=names,
            places=t[:, None],
            values=values,
            covariance=covariance,
            placement=placement,
            length=2.0 * size,
            remarks=(*remarks, *([calm] if calm else [])),
            meaning="of the radius, positive outwards",
            summary=(band, mean),
        )


def _placed(points: Array, errors: Array, surface: Surface) -> tuple[Array, Array, Array]:
    """Points moved as a rigid body to lie nearest the surface, its normals there, distances."""
    size = float(np.ptp(points[:, :2], axis=0).max())
    p = points.copy()
    p[:, 2] -= p[:, 2].mean() - float(np.mean(surface(p[:, 0], p[:, 1])))
    for _ in range(ROUNDS):
        normals, values = _distances(p, surface, size)
        slope = float(np.hypot(normals[:, 0], normals[:, 1]).max())
        if slope > STEEPEST:
            raise SurveyError(
                [
                    f"the target rises by {slope:.2g} against x and y, {STEEPEST:g} at most; lay "
                    "x and y into the middle of the surface"
                ],
                "The survey of a surface",
            )
        middle = p.mean(axis=0)
        modes = np.concatenate((normals, np.cross(p - middle, normals) / size), axis=1)
        root = 1.0 / errors
        left, sizes, right = np.linalg.svd(root[:, None] * modes, full_matrices=False)
        kept = sizes > WEAK * sizes[0]
        move = -right[kept].T @ ((left[:, kept].T @ (root * values)) / sizes[kept])
        p = middle + (p - middle) @ _turn(move[3:] / size).T + move[:3]
        if float(np.abs(move).max()) < 1e-9 * size:
            break
    else:
        raise SurveyError(
            ["no placement of the part on the target was found; bring the points nearer to it"],
            "The survey of a surface",
        )
    normals, values = _distances(p, surface, size)
    return p, normals, values


def _distances(p: Array, surface: Surface, size: float) -> tuple[Array, Array]:
    """Normals (n, 3) of the surface and distances from it along them, first order."""
    step = 1e-5 * size
    x, y = p[:, 0], p[:, 1]
    slope_x = (surface(x + step, y) - surface(x - step, y)) / (2.0 * step)
    slope_y = (surface(x, y + step) - surface(x, y - step)) / (2.0 * step)
    normals = np.column_stack((-slope_x, -slope_y, np.ones(len(p))))
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return normals, (p[:, 2] - surface(x, y)) * normals[:, 2]


def _turn(vector: Array) -> Array:
    """Rotation matrix of a rotation vector."""
    angle = float(np.linalg.norm(vector))
    if angle == 0.0:
        return np.eye(3)
    a, b, c = vector / angle
    cross = np.array([[0.0, -c, b], [c, 0.0, -a], [-b, a, 0.0]])
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross)
