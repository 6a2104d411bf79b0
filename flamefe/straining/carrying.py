"""Keeping book of what supports and devices carry from moment to moment."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from flamefe.straining.devices import Device
from flamefe.straining.grip import Carried
from flamefe.straining.history import DeviceHistory, PlaceHistory, Release
from flamefe.straining.moment import Moment

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Entry:
    """What one support or device carries at one moment."""

    push: float
    pull: float
    places: Carried | None = None


@dataclass(eq=False)
class Book:
    """Entries moment by moment; of two moments at one time the later one counts.

    Example:
        >>> Book().histories()
        ()
    """

    times: list[float] = field(default_factory=list)
    unclaimed: list[float] = field(default_factory=list)
    _entries: list[dict[str, _Entry]] = field(default_factory=list)
    _devices: dict[str, Device] = field(default_factory=dict)
    _releases: dict[str, list[Release]] = field(default_factory=dict)

    def enter(self, moment: Moment) -> None:
        """Enter a converged moment."""
        time = moment.target.time
        entries = {**self._held(moment), **self._gripped(moment)}
        if self.times:
            for name, before in self._entries[-1].items():
                if name not in entries and max(before.push, before.pull) > 0.0:
                    self._released(name, self.times[-1], max(before.push, before.pull))
        if self.times and self.times[-1] == time:
            self.times.pop()
            self.unclaimed.pop()
            self._entries.pop()
        self.times.append(time)
        self._entries.append(entries)
        self.unclaimed.append(self._loose(moment))

    def histories(self) -> tuple[DeviceHistory, ...]:
        """The histories of all that was ever fitted, on ``times``."""
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
            result[support.name] = _Entry(
                push=float(np.maximum(own, 0.0).sum(axis=0).max()),
                pull=float(np.maximum(-own, 0.0).sum(axis=0).max()),
            )
        return result

    def _gripped(self, moment: Moment) -> dict[str, _Entry]:
        result = {}
        for device in moment.target.devices:
            self._devices[device.name] = device
            places = moment.carried[device.name]
            result[device.name] = _Entry(
                push=float(np.maximum(places.forces, 0.0).sum()),
                pull=float(np.maximum(-places.forces, 0.0).sum()),
                places=places,
            )
        return result

    def _loose(self, moment: Moment) -> float:
        claimed = np.zeros(moment.reaction.shape, dtype=bool)
        for support in moment.target.supports:
            claimed |= support.held
        return float(np.linalg.norm(np.where(claimed, 0.0, moment.reaction)))

    def _history(self, name: str) -> DeviceHistory:
        rows = [entries.get(name) for entries in self._entries]
        device = self._devices.get(name)
        places = None
        if device is not None:
            count = device.areas.size
            nothing = Carried(
                forces=np.zeros(count),
                touching=np.zeros(count, dtype=bool),
                lost=np.zeros(count, dtype=bool),
            )
            carried = [nothing if row is None else row.places or nothing for row in rows]
            places = PlaceHistory(
                forces=np.array([one.forces for one in carried]),
                touching=np.array([one.touching for one in carried]),
                lost=np.array([one.lost for one in carried]),
                areas=device.areas,
                nodes=device.nodes,
            )
        return DeviceHistory(
            name=name,
            fitted=np.array([row is not None for row in rows]),
            pushes=np.array([0.0 if row is None else row.push for row in rows]),
            pulls=np.array([0.0 if row is None else row.pull for row in rows]),
            releases=tuple(self._releases.get(name, ())),
            places=places,
        )
