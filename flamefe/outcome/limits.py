"""How hot the part became, where, when, and for how long above its limit."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class HeatCheck:
    """Peak temperature and time above the heating limit, over all nodes.

    It compares numbers; it doesn't approve a procedure.

    Args:
        limit_C: heating limit, C.
        valid_to_C: temperature up to which the material's tables are meant to hold, C.
        peak_C: highest temperature at a node, C.
        peak_at_mm: x, y, z of that node, mm.
        peak_time_s: when that node had it, s.
        time_above_s: longest total time that one node spent above the limit, s.
        time_above_at_mm: x, y, z of that node, mm; None when no node came above.

    Raises:
        OutOfRange: a number is not finite, or a time is below 0.

    Examples:
        >>> check = HeatCheck(limit_C=650, valid_to_C=1200, peak_C=702.4,
        ...     peak_at_mm=(200.0, 100.0, 12.0), peak_time_s=31.0,
        ...     time_above_s=4.2, time_above_at_mm=(198.0, 100.0, 12.0))
        >>> check.within_limit, round(check.margin_C, 1)
        (False, -52.4)
        >>> print(check.verdict)  # doctest: +ELLIPSIS
        Too hot: 702 C at (200, 100, 12) mm, 52 K above the limit of 650 C, for up to 4.2 s...
    """

    limit_C: float
    valid_to_C: float
    peak_C: float
    peak_at_mm: tuple[float, float, float]
    peak_time_s: float
    time_above_s: float
    time_above_at_mm: tuple[float, float, float] | None = None

    def __post_init__(self) -> None:
        numbers = (self.limit_C, self.valid_to_C, self.peak_C, self.peak_time_s, self.time_above_s)
        if not all(math.isfinite(number) for number in (*numbers, *self.peak_at_mm)):
            raise OutOfRange("A heat check holds a number that is not finite.")
        if self.time_above_s < 0:
            raise OutOfRange(f"Time above the limit is {self.time_above_s:g} s, can't be below 0.")

    @property
    def margin_C(self) -> float:
        """Limit minus peak, K; below 0 when the limit was passed."""
        return self.limit_C - self.peak_C

    @property
    def within_limit(self) -> bool:
        """True when no node came above the limit."""
        return self.peak_C <= self.limit_C

    @property
    def within_tables(self) -> bool:
        """True when no node came above what the material's tables cover."""
        return self.peak_C <= self.valid_to_C

    @property
    def verdict(self) -> str:
        """The finding in words."""
        x, y, z = self.peak_at_mm
        place = f"{self.peak_C:.0f} C at ({x:.4g}, {y:.4g}, {z:.4g}) mm"
        if self.within_limit:
            text = (
                f"Peak {place}, {self.margin_C:.0f} K below the limit of {self.limit_C:g} C "
                "used here; the local code and the steel's own certificate decide."
            )
        else:
            text = (
                f"Too hot: {place}, {-self.margin_C:.0f} K above the limit of "
                f"{self.limit_C:g} C, for up to {self.time_above_s:.3g} s at one place; "
                "heat for a shorter time or move faster, with less power or a larger flame."
            )
        if not self.within_tables:
            text += (
                f" The material's tables hold up to {self.valid_to_C:g} C only: "
                "the result above that is extrapolated."
            )
        return text


def check_heat(
    times: ArrayLike,
    temperatures: ArrayLike,
    points: ArrayLike,
    *,
    limit_C: float,
    valid_to_C: float,
) -> HeatCheck:
    """Find the peak temperature and the longest total time above the limit at one node.

    Between stored times the temperature is taken as linear, so a stretch that crosses the limit
    counts with the part t (T1 - limit) / (T1 - T0) of its length. Stretches of one node add up.

    Args:
        times: (nt,) s, rising.
        temperatures: (nt, n) C.
        points: (n, 3) m, where the nodes are.
        limit_C: heating limit, C.
        valid_to_C: temperature up to which the material's tables hold, C.

    Returns:
        The check, lengths in mm.

    Raises:
        OutOfRange: shapes don't fit, times don't rise, or a temperature is not finite.

    Examples:
        A node rises from 600 to 700 C in 10 s and falls back: above 650 C for 10 s.

        >>> found = check_heat([0, 10, 20], [[600], [700], [600]], [[0.1, 0, 0]],
        ...     limit_C=650, valid_to_C=1200)
        >>> found.peak_C, found.peak_time_s, found.time_above_s
        (700.0, 10.0, 10.0)
    """
    t = np.asarray(times, dtype=float)
    hot = np.asarray(temperatures, dtype=float)
    where = np.asarray(points, dtype=float)
    if t.ndim != 1 or t.size == 0 or hot.shape != (t.size, len(where)) or where.shape[1:] != (3,):
        raise OutOfRange(
            f"Times have shape {t.shape}, temperatures {hot.shape}, points {where.shape}; "
            "they must be (nt,), (nt, n) and (n, 3)."
        )
    if (np.diff(t) <= 0).any():
        raise OutOfRange("Times must rise from one to the next.")
    if not np.isfinite(hot).all():
        raise OutOfRange("A temperature is not a finite number; the heat run has failed.")
    moment, node = np.unravel_index(int(np.argmax(hot)), hot.shape)
    above = _time_above(t, hot, limit_C)
    longest = int(np.argmax(above))
    return HeatCheck(
        limit_C=float(limit_C),
        valid_to_C=float(valid_to_C),
        peak_C=float(hot[moment, node]),
        peak_at_mm=_in_mm(where[node]),
        peak_time_s=float(t[moment]),
        time_above_s=float(above[longest]),
        time_above_at_mm=_in_mm(where[longest]) if above[longest] > 0 else None,
    )


def longest_above(times: ArrayLike, temperatures: ArrayLike, limit_C: float) -> float:
    """Longest total time that one node spent above a temperature, s.

    Args:
        times: (nt,) s, rising.
        temperatures: (nt, n) C.
        limit_C: C.

    Example:
        >>> longest_above([0, 10, 20], [[600], [700], [600]], 650)
        10.0
    """
    t, hot = np.asarray(times, dtype=float), np.asarray(temperatures, dtype=float)
    return float(_time_above(t, hot, limit_C).max())


def _time_above(times: Array, hot: Array, limit: float) -> Array:
    """Total time above ``limit`` at each node, (n,) s."""
    total = np.zeros(hot.shape[1])
    for i, step in enumerate(np.diff(times)):
        high = np.maximum(hot[i], hot[i + 1]) - limit
        low = np.minimum(hot[i], hot[i + 1]) - limit
        crossing = (high > 0) & (low < 0)
        share = np.where(high > 0, 1.0, 0.0)
        share[crossing] = high[crossing] / (high - low)[crossing]
        total += step * share
    return total


def _in_mm(point: Array) -> tuple[float, float, float]:
    x, y, z = (1e3 * float(value) for value in point)
    return (x, y, z)
