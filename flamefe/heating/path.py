"""Where the torch is, and when."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]


class Pose(NamedTuple):
    """Where the torch is (m, 3) m, which way it goes (m, 3) and how wide it is woven (m,) m."""

    place: Array
    way: Array
    width: Array


@dataclass(frozen=True, kw_only=True)
class Track:
    """A polyline in space that the torch follows, with the width over which it is woven.

    Args:
        points: positions (x, y, z) m, at least two, none at the place of the one before.
        widths: m at each point, linear between them; none: not woven.

    Raises:
        OutOfRange: fewer than two points, a repeated one, or a width below 0.

    Example:
        >>> track = Track(points=((0, 0, 0), (0, 0.08, 0)), widths=(0.0, 0.06))
        >>> track.length, float(track.at(0.04).width)
        (0.08, 0.03)
    """

    points: tuple[tuple[float, float, float], ...]
    widths: tuple[float, ...] = ()
    _points: Array = field(init=False, repr=False, compare=False)
    _widths: Array = field(init=False, repr=False, compare=False)
    _run: Array = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        points = np.asarray(self.points, dtype=float)
        if len(self.points) < 2 or not np.isfinite(points).all():
            raise OutOfRange(f"A torch's track needs at least two points; given: {self.points}.")
        steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
        if (steps <= 0.0).any():
            raise OutOfRange("A torch's track has two equal points in a row; leave one out.")
        widths = np.asarray(self.widths or np.zeros(len(points)), dtype=float)
        if widths.shape != (len(points),) or not (widths >= 0.0).all():
            raise OutOfRange(
                f"A torch's track of {len(points)} points needs as many widths of 0 or more; "
                f"given: {self.widths}."
            )
        object.__setattr__(self, "_points", points)
        object.__setattr__(self, "_widths", widths)
        object.__setattr__(self, "_run", np.concatenate(([0.0], np.cumsum(steps))))

    @property
    def length(self) -> float:
        """Length of the way, m."""
        return float(self._run[-1])

    def at(self, run: ArrayLike) -> Pose:
        """Pose after ``run`` m of the way (any shape)."""
        s = np.clip(np.asarray(run, dtype=float), 0.0, self._run[-1])
        piece = np.clip(np.searchsorted(self._run, s, side="right") - 1, 0, len(self._run) - 2)
        leg = self._points[piece + 1] - self._points[piece]
        way = leg / np.linalg.norm(leg, axis=-1, keepdims=True)
        place = self._points[piece] + (s - self._run[piece])[..., None] * way
        return Pose(place=place, way=way, width=np.interp(s, self._run, self._widths))


@dataclass(frozen=True, kw_only=True)
class TorchPath:
    """A timed polyline in space; between its points the torch moves evenly.

    Args:
        times: s from the lighting of the torch, rising, the first is 0.
        points: a position (x, y, z) m at each time.
        widths: m over which it is woven, at each time; none: not woven.

    Raises:
        OutOfRange: fewer than two points, or times that do not rise from 0.

    Example:
        >>> path = TorchPath.moving([(0.0, 0.0, 0.0), (0.3, 0.0, 0.0)], speed=0.006)
        >>> path.duration
        50.0
        >>> path.at(25.0).tolist()
        [0.15, 0.0, 0.0]
        >>> TorchPath.standing((0.1, 0.2, 0.0), duration=20.0).at(7.0).tolist()
        [0.1, 0.2, 0.0]
    """

    times: tuple[float, ...]
    points: tuple[tuple[float, float, float], ...]
    widths: tuple[float, ...] = ()
    _times: Array = field(init=False, repr=False, compare=False)
    _points: Array = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if len(self.times) != len(self.points) or len(self.times) < 2:
            raise OutOfRange(
                f"A torch path has {len(self.times)} times and {len(self.points)} points; "
                "it needs as many of both, at least two."
            )
        if self.times[0] != 0.0 or not (np.diff(self.times) > 0.0).all():
            raise OutOfRange(f"The times of a torch path must rise from 0; given: {self.times}.")
        object.__setattr__(self, "_times", np.asarray(self.times, dtype=float))
        object.__setattr__(self, "_points", np.asarray(self.points, dtype=float))

    @classmethod
    def moving(cls, points: Sequence[ArrayLike], *, speed: float) -> "TorchPath":
        """Along the polyline ``points`` (each x, y, z in m) at ``speed`` m/s."""
        if not speed > 0.0:
            raise OutOfRange(f"The torch moves at {speed:g} m/s; the speed must be above 0.")
        corners = np.asarray(points, dtype=float)
        lengths = np.linalg.norm(np.diff(corners, axis=0), axis=1)
        times = np.concatenate(([0.0], np.cumsum(lengths) / speed))
        return cls(
            times=tuple(times.tolist()), points=tuple((x, y, z) for x, y, z in corners.tolist())
        )

    @classmethod
    def standing(cls, point: ArrayLike, *, duration: float) -> "TorchPath":
        """At ``point`` (x, y, z in m) for ``duration`` s."""
        x, y, z = np.asarray(point, dtype=float).tolist()
        return cls(times=(0.0, float(duration)), points=((x, y, z), (x, y, z)))

    def pose(self, time: ArrayLike) -> Pose:
        """Pose at ``time`` s (any shape); a standing torch looks along x."""
        t = np.asarray(time, dtype=float)
        piece = np.clip(np.searchsorted(self._times, t, side="right") - 1, 0, len(self.times) - 2)
        leg = self._points[piece + 1] - self._points[piece]
        size = np.linalg.norm(leg, axis=-1, keepdims=True)
        way = np.where(size > 0.0, leg / np.where(size > 0.0, size, 1.0), [1.0, 0.0, 0.0])
        widths = np.interp(t, self._times, self.widths) if self.widths else np.zeros(t.shape)
        return Pose(place=self.at(t), way=way, width=widths)

    @property
    def duration(self) -> float:
        """Burning time, s."""
        return self.times[-1]

    @property
    def fastest(self) -> float:
        """Greatest speed, m/s; 0 for a standing torch."""
        steps = np.linalg.norm(np.diff(self._points, axis=0), axis=1)
        return float(np.max(steps / np.diff(self._times)))

    def at(self, time: ArrayLike) -> Array:
        """Position at ``time`` s (any shape), shape (..., 3) m."""
        t = np.asarray(time, dtype=float)
        return np.stack(
            [np.interp(t, self._times, self._points[:, axis]) for axis in range(3)], axis=-1
        )
