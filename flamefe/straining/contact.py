"""One-sided contact: which places touch, and with what force, as a small complementarity problem.

The unknowns are the movements of a few places, y = C u. Their compliance through the factored
stiffness is G = C K'^-1 C^T, where K' = K + C^T S C carries an artificial spring S at each place,
so that a part that lies on its rests alone can be factored, too. The springs are taken out again
but for a millionth, which keeps a part where it is that nothing presses on its rests. (y is the
movement from the last iterate, so at equilibrium that millionth carries nothing.) With the
movement c that the part would make without any device, and h the force in K'::

    y = c + G h,   f = h - (1 - 1e-6) S y,   gap after it: z = g + y + f / k
    f at its least and z >= 0,  or  z = 0,  or  f at its most and z <= 0     (place by place)

Found by block pivoting: all places that contradict their state change it at once, as long as that
makes them fewer within some rounds. Where it does not (thin plates on many rests), the forces
descend within their limits along the active set instead, each step lowering the energy
f.A.f / 2 + b.f with the part's own compliance A, so that it ends for certain.

Sources: J. J. Judice, F. M. Pires, A block principal pivoting algorithm for large-scale strictly
monotone linear complementarity problems, Comput. Oper. Res. 21 (1994) 587-596; C. L. Lawson,
R. J. Hanson, Solving Least Squares Problems (1974), ch. 23 (both from memory).
"""

from dataclasses import dataclass
from warnings import catch_warnings, simplefilter

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import LinAlgWarning, lu_factor, lu_solve

from flamefe.basics.errors import FlamefeError

Array = NDArray[np.float64]
States = NDArray[np.int8]

LOW, TOUCHING, HIGH = -1, 0, 1
"""States of a place: force at its least (apart, or pulled off), touching, force at its most."""
MOST_DESCENTS = 4
"""How often the two ways of finding the states take turns."""
PATIENCE = 10
"""Rounds of changing all places at once that may bring nothing."""
MOST_KEPT = 8
"""Sets of touching places whose factors are kept."""
ROUNDING = 1e-9
"""Share of the largest force or movement below which a sign is rounding."""
KEPT_SHARE = 1e-6
"""Share of the artificial springs that stays."""
LOOSE = 1e5
"""Movement, by that with the artificial springs, above which the part counts as loose."""


class LosesContact(FlamefeError):
    """The devices can't hold the part: it lifts off, tips over or is pulled away."""

    residuals: tuple[float, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Places:
    """What m places of devices can do.

    Args:
        gap: (m,) m, room before a place touches; negative: pushed in.
        compliance: (m,) m/N, 0 for rigid.
        least, most: (m,) N, limits of the force on the part along the place's direction: least
            0 for a rest, below 0 for suction, minus infinity for what holds both ways.
    """

    gap: Array
    compliance: Array
    least: Array
    most: Array

    @property
    def given(self) -> NDArray[np.bool_]:
        """Places whose force is prescribed."""
        return np.asarray(self.least == self.most)


@dataclass(frozen=True, kw_only=True, eq=False)
class Contact:
    """A solved contact problem.

    Args:
        force: (m,) N on the part, along each place's direction.
        whole: (m,) N, h: the force that, with the artificial springs, moves the part.
        movement: (m,) m, y.
        opening: (m,) m, gap after the movement; 0 where it touches and is rigid.
        states: (m,) LOW, TOUCHING or HIGH.
    """

    force: Array
    whole: Array
    movement: Array
    opening: Array
    states: States


class Reach:
    """How far unit forces move the places, factored for the states that were met.

    Args:
        compliance: (m, m) m/N, G.
        springs: (m,) N/m, S.
        kept: share of the springs that stays.

    Example:
        >>> Reach(np.array([[0.5]]), np.array([1.0])).own.round(5).tolist()
        [[0.5]]
    """

    def __init__(self, compliance: Array, springs: Array, *, kept: float = KEPT_SHARE) -> None:
        self.compliance, self.springs = compliance, (1.0 - kept) * springs
        self.own = np.eye(springs.size) - self.springs[:, None] * compliance  # f = own h - S c
        self._real: Array | None = None
        self._kept: dict[bytes, tuple[Array, NDArray[np.int32]]] = {}

    def solve(self, touching: NDArray[np.bool_], soft: Array, right: Array) -> Array:
        """Forces h at which touching places are closed and the others have their limit.

        Raises:
            LosesContact: the part can move without resistance.
        """
        key = touching.tobytes() + soft.tobytes()
        if key not in self._kept:
            if len(self._kept) >= MOST_KEPT:
                self._kept.clear()
            closed = self.springs[:, None] * (self.compliance + soft[:, None] * self.own)
            with catch_warnings():
                simplefilter("ignore", LinAlgWarning)  # a loose part is told below
                self._kept[key] = lu_factor(np.where(touching[:, None], closed, self.own))
        whole = np.asarray(lu_solve(self._kept[key], right, check_finite=False))
        if not np.isfinite(whole).all():
            raise LosesContact(_LOOSE)
        return whole

    def own_part(self, free: Array) -> tuple[Array, Array]:
        """Compliance A of the part without springs, and its movement without forces."""
        if self._real is None:
            self._real = np.asarray(np.linalg.solve(self.own.T, self.compliance).T, dtype=float)
        nothing = np.zeros(free.size, dtype=bool)
        whole = self.solve(nothing, np.zeros(free.size), self.springs * free)
        return self._real, free + self.compliance @ whole


def touch(
    places: Places, free: Array, reach: Reach, states: States, *, sticking: float = 0.0
) -> Contact:
    """Solve the contact problem.

    Args:
        places: what the devices can do, the gaps as they are before the movement.
        free: (m,) m, c: movement without any device.
        reach: of the places.
        states: (m,) where to start.
        sticking: N, pull at which a place does not open yet; beside the forces that matter as
            nothing, it keeps a part where it is that nothing presses on its rests.

    Raises:
        LosesContact: no state of the places holds the part.

    Example: a spring of 1 N/mm above a rest 1 mm away, pushed by 3 N, leaves 2 N on the rest.
        >>> rest = Places(gap=np.array([1.0]), compliance=np.zeros(1), least=np.zeros(1),
        ...               most=np.full(1, np.inf))
        >>> reach = Reach(np.array([[0.5]]), np.array([1.0]))
        >>> found = touch(rest, np.array([-1.5]), reach, np.zeros(1, dtype=np.int8))
        >>> found.force.round(5).tolist(), found.movement.round(5).tolist()
        ([2.0], [-1.0])
    """
    states = np.where(places.given, LOW, states).astype(np.int8)
    states[(states == LOW) & np.isneginf(places.least)] = TOUCHING
    states[(states == HIGH) & np.isposinf(places.most)] = TOUCHING
    for _ in range(MOST_DESCENTS):
        found, settled = _pivoted(places, free, reach, states, sticking)
        if settled:
            return found
        states = _descended(places, free, reach, found, sticking)
    raise LosesContact(
        "No state of contact was found: what lies on rests or is held by suction is being pulled "
        "away or tips over."
    )


def _pivoted(
    places: Places, free: Array, reach: Reach, states: States, sticking: float
) -> tuple[Contact, bool]:
    """Change all places at once that contradict their state; whether that came to an end."""
    fewest, patience = states.size + 1, PATIENCE
    while True:
        found = _with(places, free, reach, states)
        wanted = _wanted(places, found, sticking)
        wrong = int(np.count_nonzero(wanted != states))
        if not wrong:
            return found, True
        if wrong < fewest:
            fewest, patience, best = wrong, PATIENCE, found
        else:
            patience -= 1
        if patience < 0:
            return best, False
        states = wanted


def _descended(
    places: Places, free: Array, reach: Reach, start: Contact, sticking: float
) -> States:
    """States at which the forces, within their limits, have the least energy."""
    part, unloaded = reach.own_part(free)
    matrix = part + np.diag(places.compliance)
    apart = places.gap + unloaded  # opening = apart + matrix @ force
    rounding = 1e-13 * float(np.abs(apart).max())
    least, most = places.least - sticking, places.most + sticking
    states, given = start.states.copy(), places.given
    force = np.clip(start.force, places.least, places.most)
    for _ in range(200 + 20 * states.size):
        inner = np.flatnonzero(states == TOUCHING)
        if inner.size:
            outer = np.flatnonzero(states != TOUCHING)
            right = apart[inner] + matrix[np.ix_(inner, outer)] @ force[outer]
            goal = -np.linalg.solve(matrix[np.ix_(inner, inner)], right)
            step = goal - force[inner]
            limit = np.where(step < 0.0, least[inner], most[inner])
            share = np.full(inner.size, np.inf)
            moving = step != 0.0
            share[moving] = np.maximum((limit - force[inner])[moving] / step[moving], 0.0)
            first = float(share.min())
            force[inner] += min(first, 1.0) * step
            if first < 1.0:
                stopped = share <= first * (1.0 + 1e-12)
                low = step[stopped] < 0.0
                where = inner[stopped]
                states[where] = np.where(low, LOW, HIGH)
                force[where] = np.where(low, places.least[where], places.most[where])
                continue
        opening = apart + matrix @ force
        small = max(ROUNDING * float(np.abs(opening).max()), rounding)
        wrong = np.where(states == LOW, -opening, np.where(states == HIGH, opening, 0.0))
        wrong[given] = 0.0
        worst = int(np.argmax(wrong))
        if wrong[worst] <= small:
            break
        states[worst] = TOUCHING
    return states


def _with(places: Places, free: Array, reach: Reach, states: States) -> Contact:
    """Forces and movements if the places are in the given states."""
    touching = states == TOUCHING
    springs, soft = reach.springs, places.compliance
    limit = np.where(touching, 0.0, np.where(states == HIGH, places.most, places.least))
    closed = springs * (soft * springs * free - places.gap - free)
    whole = reach.solve(touching, soft, np.where(touching, closed, limit + springs * free))
    movement = free + reach.compliance @ whole
    size = np.abs(free).max(initial=0.0) + np.abs(places.gap).max(initial=0.0)
    pushed = np.abs(reach.compliance @ np.abs(limit)).max(initial=0.0)
    if np.abs(movement).max() > LOOSE * (size + pushed + 1e-12):
        raise LosesContact(_LOOSE)
    force = np.where(touching, whole - springs * movement, limit)
    opening = places.gap + movement + places.compliance * force
    return Contact(force=force, whole=whole, movement=movement, opening=opening, states=states)


def _wanted(places: Places, found: Contact, sticking: float) -> States:
    """The states that a solution asks for."""
    force, opening = found.force, found.opening
    small_force = max(sticking, ROUNDING * np.abs(found.whole).max(initial=0.0))
    small_way = ROUNDING * (np.abs(found.movement).max(initial=0.0) + np.abs(places.gap).max())
    wanted = found.states.copy()
    touching = found.states == TOUCHING
    wanted[touching & (force < places.least - small_force)] = LOW
    wanted[touching & (force > places.most + small_force)] = HIGH
    free = ~places.given
    wanted[free & (found.states == LOW) & (opening < -small_way)] = TOUCHING
    wanted[free & (found.states == HIGH) & (opening > small_way)] = TOUCHING
    return wanted


_LOOSE = (
    "With the places that touch the part can move without resistance: it lifts off, tips over or "
    "is pulled away."
)
