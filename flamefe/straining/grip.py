"""The grip of the devices during a march: what is fitted, its committed forces and states."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from flamefe.straining.contact import (
    KEPT_SHARE,
    LOW,
    TOUCHING,
    Contact,
    LosesContact,
    Places,
    Reach,
    States,
    touch,
)
from flamefe.straining.devices import Device, stacked
from flamefe.straining.operator import CondensedOperator

Array = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


LOOSE_SHARE = 0.9
"""Share of the artificial springs that stays while the part lies loose."""
STICKING = 1e-6
"""Pull, by the largest force that the devices have carried, at which a place stays closed."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Carried:
    """What one device does at a converged moment.

    Args:
        rows: (m,) N, force of each of its rows.
        forces: (p,) N on the part at each of its places, along its direction.
        touching: (p,) whether the place touches, or carries a given force.
        lost: (p,) whether the place has lost its suction.
    """

    rows: Array
    forces: Array
    touching: BoolArray
    lost: BoolArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Answer:
    """What the devices answer to an iterate.

    Args:
        nodal: (n, 3) N on the part.
        correction: extended, the next step of the iteration, contact obeyed.
        contact: the solved contact problem.
    """

    nodal: Array
    correction: Array
    contact: Contact


class Grip:
    """Devices that are fitted, with the state that was committed last.

    Args:
        nodes: of the mesh.
        sticking: N, pull that counts as nothing.

    Example:
        >>> grip = Grip(nodes=8)
        >>> grip.fit((), np.zeros((8, 3))), grip.rows is None
        (False, True)
    """

    def __init__(self, *, nodes: int, sticking: float = 0.0) -> None:
        self.nodes, self.sticking = nodes, sticking
        self.devices: tuple[Device, ...] = ()
        self.rows: csr_matrix | None = None
        self.force = np.zeros(0)
        self.start_force = np.zeros((nodes, 3))
        """Forces of devices that were taken off, to be faded out."""
        self._anchor = np.zeros(0)
        self._gap = np.zeros(0)
        self._new = np.zeros(0, dtype=bool)
        self._lost = np.zeros(0, dtype=bool)
        self._states: States = np.zeros(0, dtype=np.int8)
        self._trial: States = self._states
        self._opening = np.zeros(0)
        self._columns: tuple[CondensedOperator, Array, Reach] | None = None
        self._loose = False

    def fit(self, devices: Sequence[Device], displacement: Array) -> bool:
        """Fit and release devices, the part being at ``displacement`` (n, 3) m.

        Returns:
            Whether anything changed.
        """
        self.start_force = np.zeros((self.nodes, 3))
        self._new = np.zeros(self.force.size, dtype=bool)
        if tuple(devices) == self.devices:
            return False
        kept = {id(device): part for device, part in self._parts()}
        force, anchor, lost, states = self.force, self._anchor, self._lost, self._states
        gone = force.copy()
        for device in devices:
            if id(device) in kept:
                gone[kept[id(device)]] = 0.0
        if self.rows is not None:
            self.start_force = (self.rows.T @ gone).reshape(-1, 3)
        self.devices = tuple(devices)
        self.rows = stacked(self.devices) if self.devices else None
        self.force = np.zeros(sum(device.gaps.size for device in self.devices))
        self._anchor, self._gap = np.zeros_like(self.force), np.zeros_like(self.force)
        self._lost = np.zeros(self.force.size, dtype=bool)
        self._new = np.ones(self.force.size, dtype=bool)
        self._states = np.zeros(self.force.size, dtype=np.int8)
        for device, now in self._parts():
            self._gap[now] = device.gaps
            if id(device) in kept:
                part = kept[id(device)]
                self.force[now], self._anchor[now] = force[part], anchor[part]
                self._lost[now], self._states[now] = lost[part], states[part]
                self._new[now] = False
            else:
                self._anchor[now] = device.rows @ displacement.reshape(-1)
                self._states[now] = np.where(device.gaps > 0.0, LOW, TOUCHING)
        self._columns, self._loose = None, False
        return True

    def places(self, share: float) -> Places:
        """What the places can do when a ``share`` (0 to 1) of the increment is done.

        Strokes and given forces of devices just fitted come on, suction just lost fades out.
        """
        least = np.concatenate([device.least for device in self.devices])
        most = np.concatenate([device.most for device in self.devices])
        stiffness = np.concatenate([device.stiffness for device in self.devices])
        least = np.where(self._lost, 0.0, least)
        given = least == most
        part_way = least * share + self.force * (1.0 - share)
        fading = self._lost & (self.force < 0.0)
        least = np.where(given | fading, part_way if share < 1.0 else least, least)
        gap = np.where(self._new & (self._gap < 0.0), share * self._gap, self._gap)
        return Places(
            gap=gap - self._anchor,
            compliance=1.0 / stiffness,
            least=least,
            most=np.where(given, least, most),
        )

    def answer(
        self, condensed: CondensedOperator | None, residual: Array, iterate: Array, share: float
    ) -> Answer | None:
        """Solve the contact problem at an iterate; None without devices, or without operator.

        Args:
            condensed: the factored operator, with the artificial springs of these devices.
            residual: extended (rows, 3) N, without the devices.
            iterate: extended displacements, m.
            share: of the increment that is done.

        Raises:
            LosesContact: the devices can't hold the part.
        """
        if self.rows is None or condensed is None:
            return None
        columns, reach = self._reach(condensed)
        correction = condensed.correct(residual)
        free = self.rows @ correction[: self.nodes].reshape(-1)
        places = self.places(share)
        here = self.rows @ iterate[: self.nodes].reshape(-1)
        bound = (
            np.diagonal(reach.compliance) == 0.0
        )  # on nodes that supports hold: they take its force
        places = replace(
            places,
            gap=places.gap + here,
            least=np.where(bound, 0.0, places.least),
            most=np.where(bound, 0.0, places.most),
        )
        try:
            contact = touch(places, free, reach, self._trial, sticking=self.sticking)
        except LosesContact:
            if self._loose:
                raise
            self._loosen()
            return self.answer(condensed, residual, iterate, share)
        self._trial = contact.states
        return Answer(
            nodal=(self.rows.T @ contact.force).reshape(-1, 3),
            correction=correction + condensed.following(columns @ contact.whole),
            contact=contact,
        )

    def _loosen(self) -> None:
        """Take the part as one that lies loose: more of the artificial springs stays.

        They act on the movement since the last iterate alone, so they carry nothing at
        equilibrium, but a part that nothing presses on its rests does not run away.
        """
        self._loose, self._columns = True, None

    def failed(self) -> None:
        """A try found no equilibrium; the part may lie loose."""
        if self.rows is not None and not self._loose:
            self._loosen()

    def brace(self) -> Array | None:
        """How stiff each place is now, (m,) N/m: 0 where it does not touch; None: no devices."""
        if self.rows is None:
            return None
        stiffness = np.concatenate([device.stiffness for device in self.devices])
        places = self.places(1.0)
        return np.where((self._trial == TOUCHING) & ~places.given, stiffness, 0.0)

    def begin(self) -> None:
        """Begin a try from the committed states."""
        self._trial = self._states.copy()

    def commit(self, contact: Contact) -> None:
        """Keep what a converged try has found."""
        self.force, self._opening = contact.force.copy(), contact.opening.copy()
        self._states = contact.states.copy()
        self.sticking = max(self.sticking, STICKING * float(np.abs(self.force).max(initial=0.0)))

    def lets_go(self) -> bool:
        """Mark places whose suction was exceeded and that have lifted; tell whether there are any.

        Equilibrium must then be found once more, at the same moment.
        """
        if not self.devices:
            return False
        leak = np.concatenate([np.full(d.gaps.size, d.leak) for d in self.devices])
        going = (self._states == LOW) & (self.force < 0.0) & (self._opening > leak) & ~self._lost
        self._lost = self._lost | going
        return bool(going.any())

    def carried(self) -> dict[str, Carried]:
        """What each device does, by name, as it was committed."""
        result = {}
        for device, part in self._parts():
            given = device.least == device.most
            touching = (self._states[part] != LOW) | given | (self.force[part] < 0.0)
            taking = device.spread != 0.0
            result[device.name] = Carried(
                rows=self.force[part].copy(),
                forces=device.spread @ self.force[part],
                touching=np.asarray((taking & touching).any(axis=1)),
                lost=np.asarray((taking & self._lost[part]).any(axis=1)),
            )
        return result

    def _parts(self) -> list[tuple[Device, slice]]:
        result, start = [], 0
        for device in self.devices:
            result.append((device, slice(start, start + device.gaps.size)))
            start += device.gaps.size
        return result

    def _reach(self, condensed: CondensedOperator) -> tuple[Array, Reach]:
        """Movements of the free unknowns, and of the places, that unit forces give."""
        if self._columns is None or self._columns[0] is not condensed:
            assert self.rows is not None
            rows = csr_matrix(self.rows[:, condensed.free])
            columns = condensed.factor.solve(rows.T.toarray())
            reach = rows @ columns
            kept = LOOSE_SHARE if self._loose else KEPT_SHARE
            self._columns = (
                condensed, columns, Reach(0.5 * (reach + reach.T), condensed.springs, kept=kept),
            )  # fmt: skip
        return self._columns[1], self._columns[2]
