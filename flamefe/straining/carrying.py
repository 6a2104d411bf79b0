"""Keeping book of what supports and devices carry from moment to moment."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from flamefe.straining.devices import Device
from flamefe.straining.grip import Carried
from flamefe.straining.history import DeviceHistory, PlaceHistory, Release
from flamefe.straining.moment import Moment
from flamefe.straining.restraint import Support

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Entry:
    """What one support or device carries at one moment."""

    carried: float
    signed: float
    pulls: float
    force: Array
    moment: Array
    places: Carried | None = None


_NOTHING = _Entry(carried=0.0, signed=0.0, pulls=0.0, force=np.zeros(3), moment=np.zeros(3))


@dataclass(eq=False)
class Book:
    """Entries moment by moment.

    Of two moments at one time the later one counts for ``unclaimed``; the histories of supports
    and devices keep both, so that what is released shows what it carried till then.

    Args:
        points: (n, 3) m, nodes of the part as it was meshed.

    Example:
        >>> Book(np.zeros((8, 3))).histories()
        ()
    """

    points: Array
    unclaimed: list[float] = field(default_factory=list)
    _times: list[float] = field(default_factory=list)
    _entries: list[dict[str, _Entry]] = field(default_factory=list)
    _devices: dict[str, Device] = field(default_factory=dict)
    _centres: dict[str, Array] = field(default_factory=dict)
    _counts: dict[str, int] = field(default_factory=dict)
    _releases: dict[str, list[Release]] = field(default_factory=dict)

    def enter(self, moment: Moment) -> None:
        """Enter a converged moment."""
        time = moment.target.time
        entries = {**self._held(moment), **self._gripped(moment)}
        if self._entries:
            for name, before in self._entries[-1].items():
                if name not in entries and before.carried > 0.0:
                    self._released(name, self._times[-1], before.carried)
        if self._times and self._times[-1] == time:
            self.unclaimed.pop()
            if self._entries[-1].keys() == entries.keys():
                self._entries.pop()
                self._times.pop()
        self._times.append(time)
        self._entries.append(entries)
        self.unclaimed.append(self._loose(moment))

    def histories(self) -> tuple[DeviceHistory, ...]:
        """The histories of all that was ever fitted."""
        names = dict.fromkeys(
            [*(name for entries in self._entries for name in entries), *self._releases]
        )
        return tuple(self._history(name) for name in names)

    def _released(self, name: str, time: float, force: float) -> None:
        self._releases.setdefault(name, []).append(Release(time=time, force=force))

    def _held(self, moment: Moment) -> dict[str, _Entry]:
        """Forces of the supports; where two hold one movement, the first takes its force."""
        free = np.ones(moment.reaction.shape, dtype=bool)
        result = {}
        for support in moment.target.supports:
            own = np.where(support.held & free, moment.reaction, 0.0)
            free &= ~support.held
            nodes = np.flatnonzero(support.held.any(axis=1))
            force, torque = self._resultant(support.name, nodes, own)
            size = _borne(support, own, force)
            result[support.name] = _Entry(
                carried=size, signed=size, pulls=0.0, force=force, moment=torque
            )
        return result

    def _gripped(self, moment: Moment) -> dict[str, _Entry]:
        result = {}
        for device in moment.target.devices:
            self._devices[device.name] = device
            places = moment.carried[device.name]
            push = float(np.maximum(places.forces, 0.0).sum())
            pull = float(np.maximum(-places.forces, 0.0).sum())
            own = (device.rows.T @ places.rows).reshape(-1, 3)
            force, torque = self._resultant(device.name, device.nodes, own)
            result[device.name] = _Entry(
                carried=max(push, pull),
                signed=push if device.balanced else push - pull,
                pulls=0.0 if device.balanced else pull,
                force=force,
                moment=torque,
                places=places,
            )
        return result

    def _resultant(self, name: str, nodes: NDArray[np.int64], own: Array) -> tuple[Array, Array]:
        """Force (3,) N, and moment (3,) N m about the middle of some nodes."""
        centre = self._centres.setdefault(name, self.points[nodes].mean(axis=0))
        self._counts[name] = int(nodes.size)
        return own.sum(axis=0), np.cross(self.points - centre, own).sum(axis=0)

    def _loose(self, moment: Moment) -> float:
        claimed = np.zeros(moment.reaction.shape, dtype=bool)
        for support in moment.target.supports:
            claimed |= support.held
        return float(np.linalg.norm(np.where(claimed, 0.0, moment.reaction)))

    def _history(self, name: str) -> DeviceHistory:
        present = [entries.get(name) for entries in self._entries]
        rows = [_NOTHING if row is None else row for row in present]
        device = self._devices.get(name)
        places = None
        if device is not None:
            count = device.areas.size
            nothing = Carried(
                rows=np.zeros(device.gaps.size),
                forces=np.zeros(count),
                touching=np.zeros(count, dtype=bool),
                lost=np.zeros(count, dtype=bool),
            )
            carried = [row.places or nothing for row in rows]
            places = PlaceHistory(
                forces=np.array([one.forces for one in carried]),
                touching=np.array([one.touching for one in carried]),
                lost=np.array([one.lost for one in carried]),
                areas=device.areas,
                nodes=device.nodes,
            )
        return DeviceHistory(
            name=name,
            times=np.array(self._times),
            fitted=np.array([row is not None for row in present]),
            carried=np.array([row.carried for row in rows]),
            signed=np.array([row.signed for row in rows]),
            pulls=np.array([row.pulls for row in rows]),
            force=np.stack([row.force for row in rows]),
            moment=np.stack([row.moment for row in rows]),
            centre=self._centres[name],
            nodes=self._counts[name],
            releases=tuple(self._releases.get(name, ())),
            places=places,
        )


def _borne(support: Support, own: Array, force: Array) -> float:
    """What a support that holds nodes has to bear, N."""
    if support.bearing == "point by point":
        return float(np.linalg.norm(own, axis=1).max())
    if support.bearing == "two plates":
        sums = np.maximum(own, 0.0).sum(axis=0), np.maximum(-own, 0.0).sum(axis=0)
        return float(np.max(sums))
    return float(np.linalg.norm(force))
