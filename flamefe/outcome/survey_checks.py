"""Is a survey what it says it is: units, columns, number of readings, single wild readings."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree
from scipy.stats import t as student

from flamefe.basics.errors import FlamefeError

Array = NDArray[np.float64]

UNITS = {"metres": 1e-3, "centimetres": 0.1, "inches": 1 / 25.4, "feet": 1 / 304.8}
"""Numbers by millimetres, of other units of length."""
STANDS_OFF, OTHER_UNIT = "stands off", "are they metres or inches"
"""In remarks about readings that are probably wrong; other remarks say what can't be seen."""
WILD, CLEARLY = 2.0, 4.5
"""Standard deviations from which a reading stands off its neighbours, singly and in the middle."""
NEIGHBOURS = 12
ALONE = 1.4
"""How much farther off a wrong reading lies than the part is rough elsewhere."""
ENDS_OFF, FEWEST_WITH_ENDS = 4.0, 7
FEWEST, MANY, FEWEST_ON_A_PLANE = 9, 24, 7
"""Readings on a surface from which, and up to which, all others judge each."""


def is_doubt(remark: str) -> bool:
    """Whether a remark doubts a reading, rather than says what can't be seen.

    Example:
        >>> is_doubt("camber at 6 m: +41.0 mm stands off its neighbours; measure it again")
        True
        >>> is_doubt("4 readings are too few to find a wrong one among them")
        False
    """
    return STANDS_OFF in remark or OTHER_UNIT in remark


class SurveyError(FlamefeError, ValueError):
    """A survey has faults; all of them are in ``faults``.

    Example:
        >>> print(SurveyError(["only 2 readings"], "camber.csv"))
        camber.csv can't be used:
          only 2 readings
    """

    def __init__(self, faults: Sequence[str], what: str = "The survey") -> None:
        self.faults, self.what = tuple(faults), what
        super().__init__(self.faults, what)

    def __str__(self) -> str:
        return "\n".join([f"{self.what} can't be used:", *(f"  {fault}" for fault in self.faults)])


def wrong_unit(found: float, expected: float, what: str) -> str:
    """A fault where a length fits the expected one only in another unit; empty: none.

    Args:
        found: length that the readings span, m, read as millimetres.
        expected: true length, m.
        what: of which the length is, in words.

    Example:
        >>> print(wrong_unit(0.012, 12.0, "The stations"))
        The stations span 12 mm, the part has 12000 mm: they look like metres; give millimetres.
        >>> wrong_unit(11.8, 12.0, "The stations")
        ''
    """
    if found <= 0.0 or expected <= 0.0 or 0.5 <= found / expected <= 1.1:
        return ""
    spans = f"{what} span {1e3 * found:.5g} mm, the part has {1e3 * expected:.5g} mm"
    for unit, factor in UNITS.items():
        if 0.7 <= found / expected / factor <= 1.1:
            return f"{spans}: they look like {unit}; give millimetres."
    if found > 1.1 * expected:
        return f"{spans}: readings can't lie beyond the part; check length and units."
    return ""


def too_short(found: float, what: str, least: float = 0.1) -> str:
    """A fault where a part would be shorter than any that is straightened; empty: none.

    Args:
        found: length, m.
        what: of which the length is, in words.
        least: m.
    """
    if found >= least:
        return ""
    return (
        f"{what} span {1e3 * found:.4g} mm in all: they look like metres or inches; give "
        "millimetres."
    )


def too_calm(values: Array, errors: Array, what: str) -> str:
    """A remark where readings vary far less than their instrument's error; empty: they don't.

    Four readings or more can't all lie within a fifth of the error by chance.

    Args:
        values: (n,) m.
        errors: (n,) m, standard uncertainties.
        what: the readings, in words.
    """
    off = np.abs(values - np.median(values)) / errors
    all_alike = float(np.ptp(values)) == 0.0  # read in whole divisions
    if len(values) < 4 or float(off.max()) >= 0.2 or all_alike:
        return ""
    return (
        f"{what} vary by {1e3 * np.ptp(values):.3g} mm, far less than the instrument's error of "
        f"{1e3 * float(np.median(errors)):.3g} mm: are they metres or inches, or does the "
        "instrument read finer than told"
    )


def wild_along(
    stations: Array, values: Array, errors: Array, *, closed: float | None = None
) -> list[int]:
    """Readings along a line that stand off their neighbours on all sides.

    A reading is compared with the straight line through the two before it, through the two after
    it and through the one on each side. A kink lies on one of these, a bow has the first two on
    one side and the last on the other; only a single wrong reading has all three on the same side.
    Where other readings break the line nearly as much (``ALONE``), the part itself is uneven.

    Args:
        stations: (n,) rising.
        values: (n,) m.
        errors: (n,) m, standard uncertainty.
        closed: length of a closed line, in the unit of the stations; None: open. The two readings
            at each end of an open one stand off where they break a line that is smooth without
            them (``ENDS_OFF`` times its roughest place); a kink right there looks the same.

    Example:
        >>> x = np.arange(9.0)
        >>> y = 1e-3 * x * (8 - x)
        >>> y[4] += 0.01
        >>> wild_along(x, y, np.full(9, 5e-4))
        [4]
    """
    count = stations.size
    if count < 5:
        return []
    found = []
    indices = range(count) if closed is not None else range(2, count - 2)
    for i in indices:
        around = [(i + k) % count for k in (-2, -1, 0, 1, 2)]
        x = stations[around].copy()
        if closed is not None:
            x = x[2] + np.mod(x - x[2] + 0.5 * closed, closed) - 0.5 * closed
        y, u = values[around], errors[around]
        offs, sure = [], []
        for a, b in ((0, 1), (3, 4), (1, 3)):
            t = (x[2] - x[a]) / (x[b] - x[a]) if x[b] != x[a] else 0.5
            offs.append(y[2] - (1 - t) * y[a] - t * y[b])
            sure.append(np.sqrt(u[2] ** 2 + ((1 - t) * u[a]) ** 2 + (t * u[b]) ** 2))
        ratio = np.array(offs) / np.array(sure)
        same = bool((ratio > 0).all() or (ratio < 0).all())
        clear = same and abs(ratio[:2]).min() > WILD and abs(ratio[2]) > CLEARLY
        if clear and abs(offs[2]) > ALONE * _roughness(i, stations, values, closed):
            found.append(i)
    if closed is None:
        found = sorted({*found, *_wild_at_ends(stations, values, errors)})
    return _alone(found, values)


def _roughness(i: int, stations: Array, values: Array, closed: float | None) -> float:
    """Farthest that another reading lies from the line between its neighbours, one left out."""
    x, y = np.delete(stations, i), np.delete(values, i)
    if closed is not None:
        x = np.concatenate(([x[-1] - closed], x, [x[0] + closed]))
        y = np.concatenate(([y[-1]], y, [y[0]]))
    t = (x[1:-1] - x[:-2]) / np.maximum(x[2:] - x[:-2], 1e-300)
    return float(np.abs(y[1:-1] - (1.0 - t) * y[:-2] - t * y[2:]).max(initial=0.0))


def _wild_at_ends(stations: Array, values: Array, errors: Array) -> list[int]:
    """Of the two readings at each end of a line those that break it, one at each end at most."""
    count = stations.size
    if count < FEWEST_WITH_ENDS:
        return []
    found = []
    for suspects in ((0, 1), (count - 1, count - 2)):
        worst = (1.0, -1)
        for i in suspects:
            others = np.delete(np.arange(count), i)
            rough = max(
                abs(_off(others[k], others[k - 1], others[k + 1], stations, values, errors)[0])
                for k in range(1, others.size - 1)
            )
            a, b = (others[0], others[1]) if i < 2 else (others[-1], others[-2])
            off, sure = _off(i, int(a), int(b), stations, values, errors)
            # a line carried on misses a bow by twice what one between two readings does
            allowed = max(CLEARLY * sure, ENDS_OFF * rough * (2.0 if i in (0, count - 1) else 1.0))
            ratio = abs(off) / allowed if allowed > 0.0 else 0.0
            worst = max(worst, (ratio, i))
        if worst[1] >= 0:
            found.append(worst[1])
    return found


def _off(
    i: int, a: int, b: int, stations: Array, values: Array, errors: Array
) -> tuple[float, float]:
    """How far a reading lies from the line through two others, and its standard deviation."""
    t = (stations[i] - stations[a]) / (stations[b] - stations[a])
    off = values[i] - (1 - t) * values[a] - t * values[b]
    sure = np.sqrt(errors[i] ** 2 + ((1 - t) * errors[a]) ** 2 + (t * errors[b]) ** 2)
    return float(off), float(sure)


def wild_on(points: ArrayLike, values: Array, errors: Array) -> list[int]:
    """Readings on a surface that stand off a smooth surface through their neighbours.

    A quadratic through the twelve nearest others, against what the instrument and the roughness
    of all readings (their median) allow. Of 9 to 24 readings each is held against a quadratic
    through all others: its distance by their deviation (Student's t at 0.1 % for all readings
    together), and farther off than any of the others (``ALONE``).

    Args:
        points: (n, 2) m.
        values: (n,) m.
        errors: (n,) m.

    Example:
        >>> grid = np.array([(x, y) for x in range(6) for y in range(6)], dtype=float)
        >>> w = 1e-3 * grid[:, 0] * grid[:, 1]
        >>> w[14] += 0.02
        >>> wild_on(grid, w, np.full(36, 5e-4))
        [14]
    """
    where = np.asarray(points, dtype=float)
    count = len(where)
    if count <= MANY:
        return _wild_of_few(where, values, errors)
    _, near = cKDTree(where).query(where, k=NEIGHBOURS + 1)
    off, sure = np.zeros(count), np.ones(count)
    for i in range(count):
        others = near[i][near[i] != i][:NEIGHBOURS]
        away = where[others] - where[i]
        size = float(np.abs(away).max())
        if size == 0.0:
            continue
        x, y = away.T / size
        weight = 1.0 / (0.3 + x**2 + y**2)
        terms = np.column_stack((np.ones(len(x)), x, y, x * x, x * y, y * y))
        if np.linalg.matrix_rank(terms, tol=1e-6) < 6:
            terms = terms[:, :3]
        rows = np.linalg.pinv(weight[:, None] * terms)[0] * weight
        off[i] = values[i] - rows @ values[others]
        sure[i] = np.sqrt(errors[i] ** 2 + (rows**2) @ errors[others] ** 2)
    rough = 1.4826 * float(np.median(np.abs(off)))
    wild = np.flatnonzero(np.abs(off) > CLEARLY * np.maximum(sure, rough)).tolist()
    # the worst one pulls its neighbours' surfaces along: what is near it is judged without it
    if len(wild) > 1:
        worst = max(wild, key=lambda i: abs(off[i]))
        kept = np.delete(np.arange(count), worst)
        rest = wild_on(where[kept], values[kept], errors[kept])
        return sorted([worst, *(int(kept[i]) for i in rest)])
    return wild


def wild_on_plane(points: ArrayLike, values: Array, errors: Array) -> list[int]:
    """Readings of what should be plane that stand off the plane through all others.

    Args:
        points: (n, 2) m; fewer than 7 can't be judged.
        values: (n,) m.
        errors: (n,) m.

    Example:
        >>> corners = [(0, 0), (1, 0), (2, 0), (2, 1), (2, 2), (1, 2), (0, 2), (0, 1)]
        >>> z = 1e-3 * np.array([0.1, -0.1, 0.0, 0.1, 30.0, 0.0, -0.1, 0.1])
        >>> wild_on_plane(corners, z, np.full(8, 1.5e-4))
        [4]
    """
    return _wild_of_few(np.asarray(points, dtype=float), values, errors, plane=True)


def _wild_of_few(where: Array, values: Array, errors: Array, *, plane: bool = False) -> list[int]:
    """Of few readings on a surface those that stand off a quadratic, or a plane, through the
    others."""
    kept = np.arange(len(where))
    found: list[int] = []
    centre, size = where.mean(axis=0), np.maximum(np.ptp(where, axis=0), 1e-12)
    x, y = ((where - centre) / size).T
    terms = np.column_stack((np.ones(len(x)), x, y, x * y, x * x, y * y))
    if plane:
        terms = terms[:, :3]
    elif np.linalg.matrix_rank(terms, tol=1e-6) < terms.shape[1]:
        # two rows of readings know of no bend across them
        bent = [np.unique(np.round(one, 6)).size > 2 for one in (x, y)]
        terms = terms[:, [True] * 4 + bent]
    while kept.size >= (FEWEST_ON_A_PLANE if plane else FEWEST):
        ratios, offs = np.zeros(kept.size), np.zeros(kept.size)
        for row, i in enumerate(kept):
            others = np.delete(kept, row)
            used = terms[others]
            if np.linalg.matrix_rank(used, tol=1e-6) < used.shape[1]:
                continue
            inverse = np.linalg.inv(used.T @ used)
            fitted = inverse @ used.T @ values[others]
            free = others.size - used.shape[1]
            rough = np.sqrt(np.sum((values[others] - used @ fitted) ** 2) / free)
            allowed = max(float(rough), float(errors[i])) * np.sqrt(
                1 + terms[i] @ inverse @ terms[i]
            )
            offs[row] = abs(values[i] - terms[i] @ fitted)
            ratios[row] = offs[row] / allowed
        worst = int(np.argmax(ratios))
        free = kept.size - 1 - terms.shape[1]
        rest = terms[np.delete(kept, worst)], values[np.delete(kept, worst)]
        if offs[worst] < ALONE * _largest_left_out(*rest):
            break
        if ratios[worst] <= max(CLEARLY, float(student.isf(0.5e-3 / kept.size, free))):
            break
        found.append(int(kept[worst]))
        kept = np.delete(kept, worst)
    return sorted(found)


def _largest_left_out(terms: Array, values: Array) -> float:
    """Farthest that a reading lies from a surface fitted to the others, of all of them."""
    hat = terms @ np.linalg.pinv(terms)
    left = values - hat @ values
    return float(np.abs(left / np.maximum(1.0 - np.diag(hat), 1e-6)).max())


def _alone(found: list[int], values: Array) -> list[int]:
    """Of neighbouring suspects only the one that stands out most."""
    kept: list[int] = []
    for i in found:
        if kept and i - kept[-1] <= 2:
            before = kept[-1]
            middle = float(np.median(values[max(0, before - 3) : i + 4]))
            if abs(values[i] - middle) > abs(values[before] - middle):
                kept[-1] = i
        else:
            kept.append(i)
    return kept
