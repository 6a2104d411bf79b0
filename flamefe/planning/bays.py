"""Dished bays of a stiffened panel: area that is too much, and area that heats take off."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.planning.effect import SheetEffect

Array = NDArray[np.float64]

SHALLOW = 0.05
"""Height by the shorter side up to which the bookkeeping of area holds."""
FLAT, TIGHT = 2.0, 6.0
"""Standard uncertainties below which a height tells no more than flat, and how many tolerances of
area are then reckoned to be taken off too much at most (an assumption)."""
ROOM = 8.0
"""Tolerances, counted by area, by which a bay may be too tight: more pulls at its frame and spends
places that other heats need (an assumption)."""


@dataclass(frozen=True, kw_only=True)
class BayHeat:
    """A heat in one bay.

    Args:
        name: unique.
        bay: name of the bay.
        effect: what it does; its change of area counts.
    """

    name: str
    bay: str
    effect: SheetEffect


@dataclass(frozen=True, kw_only=True, eq=False)
class Bays:
    """Bays between stiffeners that stand out of flat because they have too much area.

    A bay of sides a and b that stands out as w sin(pi x / a) sin(pi y / b) has more area than its
    frame by c w^2, with c = pi^2 / 8 (b / a + a / b) (to second order in w / a, exact for that
    shape). Heats take area off; the bay stands w = sqrt((c w0^2 - taken) / c) then.

    Args:
        names: of the bays, each once.
        sides: (n, 2) m, between the stiffeners.
        heights: (n,) m, measured in the middle against the frame, either sign.

    Raises:
        OutOfRange: shapes don't fit, a side is not above 0, a bay stands out by more than a
            twentieth of its shorter side, or a name comes twice.

    Range: thin panels whose stiffeners hold their edges; the shape is taken as one half wave. An
    estimate: the hot metal also pushes out, and the bay is elastic (see a full run).

    Source: bookkeeping of area, derived from reciprocity (an even stress does no net work on the
    stress that heats leave behind).

    Example:
        >>> panel = Bays(names=["A1"], sides=[[0.6, 0.6]], heights=[0.006])
        >>> round(1e6 * float(panel.excess[0]), 1)                    # mm2
        88.8
    """

    names: tuple[str, ...]
    sides: Array
    heights: Array

    def __post_init__(self) -> None:
        object.__setattr__(self, "names", tuple(self.names))
        for name in ("sides", "heights"):
            object.__setattr__(self, name, np.array(getattr(self, name), dtype=float))
        count = len(self.names)
        faults = []
        if count == 0 or len(set(self.names)) < count:
            faults.append("bays need names, each once")
        if self.sides.shape != (count, 2) or self.heights.shape != (count,):
            faults.append(
                f"{count} names with sides of shape {self.sides.shape} and heights of shape "
                f"{self.heights.shape}; needed: (n, 2) and (n,)"
            )
        elif not (np.isfinite(self.heights).all() and (self.sides > 0.0).all()):
            faults.append("sides must be above 0 and heights numbers")
        elif (np.abs(self.heights) > SHALLOW * self.sides.min(axis=1)).any():
            steep = int(np.argmax(np.abs(self.heights) / self.sides.min(axis=1)))
            faults.append(
                f"bay {self.names[steep]!r} stands out {1e3 * self.heights[steep]:g} mm, more than "
                f"{100 * SHALLOW:g} % of its shorter side: too deep for this bookkeeping"
            )
        if faults:
            raise OutOfRange(f"Bays of a panel: {'; '.join(faults)}.")

    @property
    def factor(self) -> Array:
        """(n,), c: area by the square of the height."""
        return area_factor(self.sides)

    @property
    def excess(self) -> Array:
        """(n,) m2, area that is too much."""
        return np.asarray(self.factor * self.heights**2)

    def influence(self, heats: Sequence[BayHeat]) -> Array:
        """Change of each height by each heat, (n, m) m, as a share of coming flat.

        A bay comes flat when all of its excess is taken off; each heat gets its share of that:
        -height * taken / excess (the secant: right for the whole way, too little for a part of
        it; ``after`` is right for both).

        Args:
            heats: candidates.

        Raises:
            OutOfRange: a bay that is not there.
        """
        result = np.zeros((len(self.names), len(heats)))
        excess = self.excess
        for column, heat in enumerate(heats):
            row = self._row(heat)
            if excess[row] > 0.0:
                taken = -heat.effect.area_change
                result[row, column] = -self.heights[row] * taken / excess[row]
        return result

    def after(self, heats: Sequence[BayHeat], shares: Sequence[float] = ()) -> Array:
        """Heights when all heats are given, (n,) m; flat where more is taken than is too much.

        Args:
            heats: given.
            shares: what each keeps of its effect, see ``together``; none: all.

        Raises:
            OutOfRange: a bay that is not there.

        Example:
            >>> from flamefe.planning.effect import spot_effect
            >>> spot = spot_effect(area_change=-6.6e-6, thickness=0.004, source="a rule")
            >>> panel = Bays(names=["A1"], sides=[[0.6, 0.6]], heights=[0.006])
            >>> row = [BayHeat(name=f"s{i}", bay="A1", effect=spot) for i in range(13)]
            >>> (1e3 * panel.after(row)).round(2).tolist()
            [1.11]
        """
        left = self.excess
        for number, heat in enumerate(heats):
            share = shares[number] if shares else 1.0
            left[self._row(heat)] += share * heat.effect.area_change
        return np.asarray(np.sign(self.heights) * np.sqrt(np.maximum(left, 0.0) / self.factor))

    def needed(self, effect: SheetEffect) -> Array:
        """(n,) number of heats alike, not rounded, that bring each bay flat.

        Args:
            effect: of one heat.

        Raises:
            OutOfRange: the heat takes no area off.

        Example:
            >>> from flamefe.planning.effect import spot_effect
            >>> spot = spot_effect(area_change=-6.6e-6, thickness=0.004, source="a rule")
            >>> panel = Bays(names=["A1"], sides=[[0.6, 0.6]], heights=[0.006])
            >>> panel.needed(spot).round(1).tolist()
            [13.5]
        """
        if not effect.area_change < 0.0:
            raise OutOfRange(f"Heat {effect.kind!r} takes no area off a sheet.")
        return np.asarray(self.excess / -effect.area_change)

    def _row(self, heat: BayHeat) -> int:
        if heat.bay not in self.names:
            raise OutOfRange(
                f"Heat {heat.name!r} is in bay {heat.bay!r}; there are: {', '.join(self.names)}."
            )
        return self.names.index(heat.bay)


def area_factor(sides: ArrayLike) -> Array:
    """c of bays, area that is too much by the square of the height: pi^2 / 8 (b / a + a / b).

    Args:
        sides: (n, 2) m, a and b.

    Example:
        >>> area_factor([[0.6, 0.6]]).round(3).tolist()
        [2.467]
    """
    a, b = np.asarray(sides, dtype=float).reshape(-1, 2).T
    return np.asarray(np.pi**2 / 8.0 * (b / a + a / b))


def counted_by_area(heights: ArrayLike, tolerance: ArrayLike) -> Array:
    """Heights of bays as deviations that move in proportion to the area that heats take off.

    u = w^2 / tolerance: it equals the tolerance where the height does, and c u tolerance is the
    area that is too much, whichever way the bay stands out. So a plan, which adds up what heats
    move, is right from the first heat to the last; in heights the last heats of a bay would move it
    far more than the first. Below 0: more was taken off than was too much; the bay is flat and
    tight, which no height tells.

    Args:
        heights: w, (n,) m, either sign.
        tolerance: (n,) m or one, of the heights.

    Example:
        >>> counted_by_area([0.004, -0.002], 0.002).tolist()
        [0.008, 0.002]
    """
    w = np.asarray(heights, dtype=float)
    return np.asarray(w**2 / np.asarray(tolerance, dtype=float))


def heights_by_area(counted: ArrayLike, tolerance: ArrayLike) -> Array:
    """Sizes of heights of bays from deviations that count by area; flat ones 0.

    Args:
        counted: u of ``counted_by_area``, (n,) m.
        tolerance: (n,) m or one.

    Example:
        >>> heights_by_area([0.008, -0.002], 0.002).tolist()
        [0.004, 0.0]
    """
    u = np.maximum(np.asarray(counted, dtype=float), 0.0)
    return np.asarray(np.sqrt(u * np.asarray(tolerance, dtype=float)))


def measured_by_area(heights: Array, covariance: Array, tolerance: float) -> tuple[Array, Array]:
    """Measured heights as deviations that count by area, with their covariance.

    u = (w^2 - s^2) / tolerance, with the variance (4 w^2 s^2 + 2 s^4) / tolerance^2 of the square
    of a Gaussian. A height below ``FLAT`` standard uncertainties tells only that enough was taken
    off: u lies anywhere from -``TIGHT`` tolerances to 0, and counts as the middle of that with a
    quarter of it as standard deviation, so that hardly anything of the Gaussian lies above 0.

    Args:
        heights: w, (n,) m.
        covariance: (n, n) m2 of the measuring errors.
        tolerance: m, of the heights.

    Returns:
        (n,) m, and (n, n) m2.

    Example:
        >>> found, spread = measured_by_area(np.array([0.004, 0.0]), 4e-8 * np.eye(2), 0.002)
        >>> found.round(5).tolist(), np.sqrt(np.diag(spread)).round(5).tolist()
        ([0.00798, -0.006], [0.0008, 0.003])
    """
    variance = np.diag(covariance)
    made = (heights**2 - variance) / tolerance
    slope = np.diag(2.0 * np.abs(heights) / tolerance)
    signs = np.where(heights < 0.0, -1.0, 1.0)
    spread = slope @ (signs[:, None] * covariance * signs) @ slope
    spread += np.diag(2.0 * variance**2) / tolerance**2
    flat = np.abs(heights) < FLAT * np.sqrt(variance)
    made = np.where(flat, -0.5 * TIGHT * tolerance, made)
    spread[flat, :] = 0.0
    spread[:, flat] = 0.0
    spread[flat, flat] = (0.25 * TIGHT * tolerance) ** 2
    return made, spread


def moved_by_area(sides: ArrayLike, area_change: float, tolerance: ArrayLike) -> Array:
    """What a change of area moves a bay, counted by area, (n,) m.

    du = dA / (c tolerance)

    Args:
        sides: (n, 2) m.
        area_change: dA, m2, negative = taken off.
        tolerance: (n,) m or one.

    Example:
        >>> (1e3 * moved_by_area([[0.6, 0.6]], -6.6e-6, 0.002)).round(3).tolist()    # mm
        [-1.337]
    """
    return np.asarray(area_change / (area_factor(sides) * np.asarray(tolerance, dtype=float)))
