"""One-sided contact: which places touch, and with what force, as a small complementarity problem.

The unknowns are the movements of a few places, y = C u. Their compliance through the factored
stiffness is G = C K'^-1 C^T, where K' = K + C^T S C carries an artificial spring S at each place,
so that a part that lies on its rests alone can be factored, too; the springs are taken out again
exactly. With the movement c that the part would make without any device, and h the force in K'::

    y = c + G h,   f = h - S y,   gap after it: z = g + y + f / k
    f at its least and z >= 0,  or  z = 0,  or  f at its most and z <= 0     (place by place)

Found by the primal-dual active set method; where that goes round in circles, one place at a time
changes (least index first), which ends for certain where the part can't move unhindered.

Sources: M. Hintermueller, K. Ito, K. Kunisch, The primal-dual active set strategy as a semismooth
Newton method, SIAM J. Optim. 13 (2003) 865-888; K. G. Murty, Note on a Bard-type scheme for
solving the complementarity problem, Opsearch 11 (1974) 123-130 (both from memory).
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
MOST_ROUNDS = 30
MOST_KEPT = 8
"""Sets of touching places whose factors are kept."""
ROUNDING = 1e-9
"""Share of the largest force or movement below which a sign is rounding."""
LOOSE = 1e8
"""Condition of the problem, with its springs taken out, above which the part counts as loose."""


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

    Example:
        >>> Reach(np.array([[0.5]]), np.array([1.0])).own.tolist()
        [[0.5]]
    """

    def __init__(self, compliance: Array, springs: Array) -> None:
        self.compliance, self.springs = compliance, springs
        self.own = np.eye(springs.size) - springs[:, None] * compliance  # f = own h - S c
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
        >>> found.force.tolist(), found.movement.tolist()
        ([2.0], [-1.0])
    """
    states = np.where(places.given, LOW, states).astype(np.int8)
    states[(states == LOW) & np.isneginf(places.least)] = TOUCHING
    states[(states == HIGH) & np.isposinf(places.most)] = TOUCHING
    seen: set[bytes] = set()
    one_by_one = False
    most_rounds = MOST_ROUNDS + 20 * states.size
    for _ in range(most_rounds):
        found = _with(places, free, reach, states)
        wanted = _wanted(places, found, sticking)
        changes = np.flatnonzero(wanted != states)
        if not changes.size:
            return found
        key = states.tobytes()
        one_by_one = one_by_one or key in seen or len(seen) > MOST_ROUNDS
        seen.add(key)
        states = states.copy()
        chosen = changes[:1] if one_by_one else changes
        states[chosen] = wanted[chosen]
    raise LosesContact(
        f"No state of contact was found in {most_rounds} rounds: what lies on rests or is held by "
        "suction is being pulled away or tips over."
    )


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
