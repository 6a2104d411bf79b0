"""Initial shape of a sheet: a sine buckle, or measured heights fitted smoothly."""

import csv
import math
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import RBFInterpolator
from skfem import MeshHex

from flamefe.basics.errors import FlamefeError, OutOfRange

Array = NDArray[np.float64]

COLUMNS = ("x_mm", "y_mm", "z_mm")
"""Columns of a file of measured heights."""
FEWEST, MOST = 6, 2000
"""Fewer points say too little about a shape; more are not needed and take long to fit."""
MM = 1e-3
LARGEST_MM = 1e5
LARGEST_SLOPE = 0.05
"""Height of a buckle by half the length of its shortest wave above which it is refused."""
LEAST_COVERED = 0.5
"""Share of each side of a panel that measured points must span."""
MARGIN, MARGIN_M = 0.01, 5e-3
"""How far beside a panel a measured point may lie: share of its longer side, and m."""


class ShapeError(FlamefeError, ValueError):
    """Measured heights have faults; each in a line."""


def sine_height(
    points: ArrayLike, size: tuple[float, float], *, height: float, waves: tuple[int, int]
) -> Array:
    """Height of a buckle of half sine waves over a panel, 0 along its edges.

    Formula: w = height sin(m pi x / a) sin(n pi y / b).

    Args:
        points: (n, 2 or more) m, x and y from a corner.
        size: a and b, m.
        height: m, towards +z where positive.
        waves: m and n, half waves along x and y.

    Returns:
        (n,) m.

    Example:
        >>> places, size = [[0.2, 0.1], [0.4, 0.1]], (0.4, 0.2)
        >>> sine_height(places, size, height=4e-3, waves=(1, 1)).round(9).tolist()
        [0.004, 0.0]
    """
    places = np.asarray(points, dtype=float)
    along = np.sin(waves[0] * np.pi * places[:, 0] / size[0])
    across = np.sin(waves[1] * np.pi * places[:, 1] / size[1])
    return np.asarray(height * along * across)


def read_heights(path: str | Path) -> Array:
    """Read x_mm, y_mm, z_mm from a CSV file with a head line.

    Args:
        path: the file, UTF-8, comma between columns; other columns are not read.

    Returns:
        (k, 3) m.

    Raises:
        ShapeError: the file can't be read, or has faults; all of them at once with their lines.
    """
    file = Path(path)
    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise ShapeError(f"{file.name} can't be read as text in UTF-8: {error}.") from None
    return heights_from_text(text, file.name)


def heights_from_text(text: str, name: str = "heights.csv") -> Array:
    """Heights (k, 3) m from the text of a CSV file; see ``read_heights``.

    Example:
        >>> rows = "x_mm,y_mm,z_mm" + "".join(f"\\n{x},{y},0.1" for x in (0, 9) for y in (0, 5, 9))
        >>> heights_from_text(rows).shape
        (6, 3)
    """
    rows = csv.DictReader(StringIO(text))
    head = [str(key).strip() for key in rows.fieldnames or ()]
    missing = [key for key in COLUMNS if key not in head]
    if missing:
        raise ShapeError(
            f"{name} has no column {', '.join(missing)}; its first line must name x_mm, y_mm and "
            "z_mm, with commas between."
        )
    found, faults = [], []
    for row in rows:
        values = []
        for key in COLUMNS:
            word = str(next((v for k, v in row.items() if str(k).strip() == key), "")).strip()
            try:
                value = float(word)
            except ValueError:
                value = math.nan
            if not abs(value) <= LARGEST_MM:
                faults.append(f"line {rows.line_num}: {key} is {word!r}; a number in mm is needed")
            values.append(value)
        found.append(values)
    if len(found) < FEWEST or len(found) > MOST:
        faults.append(f"{len(found)} points; allowed: {FEWEST} to {MOST}")
    if faults:
        raise ShapeError(f"{name} has faults:\n  " + "\n  ".join(faults[:40]))
    return MM * np.array(found)


def on_panel(measured: Array, size: tuple[float, float], name: str = "the file") -> Array:
    """The measured heights, if they can be those of a buckled panel.

    Args:
        measured: (k, 3) m.
        size: of the panel along x and y from its corner, m.
        name: of the file, for messages.

    Returns:
        The same heights.

    Raises:
        ShapeError: points lie beside the panel, or it departs from a plane by more than a
            twentieth of its shorter side: a wrong unit, swapped columns or another part.

    Example:
        >>> dish = np.array([(x, y, x * (1 - x)) for x in (0, 0.5, 1.0) for y in (0, 0.5, 1.0)])
        >>> on_panel(dish, (1.0, 1.0), "dish.csv")
        Traceback (most recent call last):
        ...
        flamefe.workpiece.shape.ShapeError: dish.csv departs from a plane by 250 mm, more than 50 \
mm, a twentieth of the panel's shorter side. Look for a wrong unit or swapped columns; pressed \
shapes need a mesh file.
    """
    margin = max(MARGIN * max(size), MARGIN_M)
    beside = [
        f"point {number} at x = {x / MM:g}, y = {y / MM:g} mm"
        for number, (x, y, _) in enumerate(measured, start=1)
        if not (-margin <= x <= size[0] + margin and -margin <= y <= size[1] + margin)
    ]
    if beside:
        more = f" and {len(beside) - 3} more" if len(beside) > 3 else ""
        raise ShapeError(
            f"{name} has points beside the panel of {size[0] / MM:g} x {size[1] / MM:g} mm: "
            f"{', '.join(beside[:3])}{more}. Count x and y from its corner, in mm."
        )
    covered = np.ptp(measured[:, :2], axis=0) / np.asarray(size)
    if covered.min() < LEAST_COVERED:
        raise ShapeError(
            f"{name} covers {100 * covered[0]:.3g} % of the panel's length and "
            f"{100 * covered[1]:.3g} % of its width; measure at least {100 * LEAST_COVERED:g} % "
            "of both, in mm."
        )
    flat = np.column_stack((np.ones(len(measured)), measured[:, :2]))
    left = measured[:, 2] - flat @ np.linalg.lstsq(flat, measured[:, 2], rcond=None)[0]
    most, departs = LARGEST_SLOPE * min(size), float(np.ptp(left))
    if departs > most:
        raise ShapeError(
            f"{name} departs from a plane by {departs / MM:.3g} mm, more than {most / MM:g} mm, a "
            "twentieth of the panel's shorter side. Look for a wrong unit or swapped columns; "
            "pressed shapes need a mesh file."
        )
    return measured


@dataclass(frozen=True, kw_only=True, eq=False)
class SmoothSurface:
    """A smooth surface through measured heights, as near to them as they are accurate.

    Args:
        measured: (k, 3) m.
        accuracy: m, root mean square by which the surface may miss the heights; how smooth it
            is within this is told by the heights themselves (generalised cross-validation).

    Raises:
        ShapeError: points lie on one line or at one place, or are too few or too many.
        OutOfRange: the accuracy is not above 0.

    Source: thin plate spline with smoothing, G. Wahba, Spline Models for Observational Data,
        SIAM 1990, chapter 2; as in SciPy's RBFInterpolator.

    Example:
        >>> grid = np.array([(x, y, 0.01 * x * y) for x in (0, 0.5, 1.0) for y in (0, 0.5, 1.0)])
        >>> surface = SmoothSurface(measured=grid, accuracy=1e-6)
        >>> bool(abs(surface.height(grid) - grid[:, 2]).max() < 3e-6)
        True
    """

    measured: Array
    accuracy: float
    _spline: RBFInterpolator = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if not self.accuracy > 0.0:
            raise OutOfRange(f"The accuracy is {self.accuracy:g} m; it must be above 0.")
        count = len(self.measured)
        if not FEWEST <= count <= MOST:
            raise ShapeError(f"{count} measured points; allowed: {FEWEST} to {MOST}.")
        plane = self.measured[:, :2] - self.measured[:, :2].mean(axis=0)
        spread = np.linalg.svd(plane, compute_uv=False)
        if spread[1] < 1e-3 * spread[0]:
            raise ShapeError("The measured points lie on one line; a surface needs an area.")
        nearest = np.unique(np.round(self.measured[:, :2], 6), axis=0)
        if len(nearest) < count:
            raise ShapeError("Two measured points have the same x and y; keep one of them.")
        chosen = _cross_validated(self._plane(), self.measured[:, 2] / MM)
        low, high = -12.0, math.log10(chosen)
        if self._miss(chosen) > self.accuracy:  # never farther from the points than that
            for _ in range(30):
                middle = 0.5 * (low + high)
                if self._miss(10.0**middle) > self.accuracy:
                    high = middle
                else:
                    low = middle
            high = low
        object.__setattr__(self, "_spline", self._fit(10.0**high))

    def _plane(self) -> Array:
        """Places (k, 2) of the points, by the size of what was measured."""
        size = float(np.ptp(self.measured[:, :2], axis=0).max())
        return np.asarray(self.measured[:, :2] / size)

    def _fit(self, smoothing: float) -> RBFInterpolator:
        size = float(np.ptp(self.measured[:, :2], axis=0).max())
        return RBFInterpolator(
            self.measured[:, :2] / size, self.measured[:, 2] / MM, smoothing=smoothing, degree=1
        )

    def _miss(self, smoothing: float) -> float:
        size = float(np.ptp(self.measured[:, :2], axis=0).max())
        left = MM * self._fit(smoothing)(self.measured[:, :2] / size) - self.measured[:, 2]
        return float(np.sqrt(np.mean(left**2)))

    def height(self, points: ArrayLike) -> Array:
        """Height (n,) m at points (n, 2 or more) m."""
        size = float(np.ptp(self.measured[:, :2], axis=0).max())
        return np.asarray(MM * self._spline(np.asarray(points, dtype=float)[:, :2] / size))

    @property
    def largest_miss(self) -> float:
        """Largest distance of the surface from a measured height, m."""
        return float(np.abs(self.height(self.measured) - self.measured[:, 2]).max())

    def beyond(self, size: tuple[float, float]) -> float:
        """How far a panel from the origin reaches beyond the measured points, m."""
        low, high = self.measured[:, :2].min(axis=0), self.measured[:, :2].max(axis=0)
        return float(max(low.max(), (np.asarray(size) - high).max(), 0.0))


MOST_VALIDATED = 400
"""Points that tell how smooth the surface is; more are thinned for this."""


def _cross_validated(places: Array, heights: Array) -> float:
    """Smoothing of a thin plate spline that meets left-out points best.

    Formula: the least n |(I - A) z|^2 / tr(I - A)^2 over the smoothing, with A z the surface at
    the points. It grows with the number of points, so thinned ones are counted up.

    Source: G. Wahba, Spline Models for Observational Data, SIAM 1990, chapter 4.
    """
    count = len(places)
    kept = np.linspace(0, count - 1, min(count, MOST_VALIDATED)).round().astype(int)
    p, z = places[kept], heights[kept]
    apart = np.linalg.norm(p[:, None] - p[None], axis=2)
    kernel = apart**2 * np.log(np.maximum(apart, 1e-300))
    whole, _ = np.linalg.qr(np.column_stack((np.ones(len(p)), p)), mode="complete")
    free = whole[:, 3:]
    values, vectors = np.linalg.eigh(free.T @ kernel @ free)
    values = np.maximum(values, 0.0)
    weights = (vectors.T @ (free.T @ z)) ** 2
    tried = 10.0 ** np.linspace(-12.0, 3.0, 61)
    left = tried[:, None] / (values + tried[:, None])
    scores = (left**2 @ weights) / left.sum(axis=1) ** 2
    return float(tried[int(np.argmin(scores))]) * count / len(kept)


def bent(mesh: MeshHex, height: Array) -> MeshHex:
    """The mesh with its nodes raised by ``height`` (n,) m along z, faces kept.

    Example:
        >>> flat = MeshHex()
        >>> float(bent(flat, np.full(8, 0.25)).p[2].min())
        0.25
    """
    points = np.array(mesh.p)
    points[2] += height
    return MeshHex(points, mesh.t).with_boundaries(mesh.boundaries or {})
