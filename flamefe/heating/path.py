"""Where the torch is, and when."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class TorchPath:
    """A timed polyline in space; between its points the torch moves evenly.

    Args:
        times: s from the lighting of the torch, rising, the first is 0.
        points: a position (x, y, z) m at each time.

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
