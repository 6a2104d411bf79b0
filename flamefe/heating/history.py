"""Temperatures over time, and the energy balance that vouches for them."""

from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STANDING = 5e-4
"""A torch whose whole way is shorter than this stood, m."""


@dataclass(frozen=True, kw_only=True)
class EnergyBalance:
    """Heat supplied by flames, stored in the part and lost from its faces, J.

    ``water`` is the part of what was lost that sprayed water took.

    Example:
        >>> EnergyBalance(supplied=100.0, stored=80.0, lost=19.8).error
        0.002
    """

    supplied: float
    stored: float
    lost: float
    water: float = 0.0

    @property
    def error(self) -> float:
        """Share of the turnover that is unaccounted for: |supplied - stored - lost| / turnover."""
        turnover = max(abs(self.supplied), abs(self.stored), abs(self.lost))
        gap = abs(self.supplied - self.stored - self.lost)
        return round(gap / turnover, 15) if turnover > 0 else 0.0


@dataclass(frozen=True, kw_only=True)
class TorchLog:
    """How the torch was driven.

    Args:
        name: of the heat.
        times: s since the start of the job, at the end of each step.
        runs: m along its way.
        durations: s of each step.
        speeds: m/s in each step.
        readings: hottest place under it, C.
        target: C.
        notes: where the target was missed, in words.
    """

    name: str
    times: tuple[float, ...] = ()
    runs: tuple[float, ...] = ()
    durations: tuple[float, ...] = ()
    speeds: tuple[float, ...] = ()
    readings: tuple[float, ...] = ()
    target: float
    notes: tuple[str, ...] = ()

    @property
    def stood(self) -> bool:
        """Whether the torch stood at one place until the target was reached."""
        return bool(self.runs) and self.runs[-1] < STANDING

    @property
    def stands(self) -> tuple[float, ...]:
        """How long it stood each time, s."""
        steps = zip(self.speeds, self.durations, strict=True)
        runs = groupby(steps, key=lambda step: step[0] == 0.0)
        return tuple(sum(duration for _, duration in run) for stands, run in runs if stands)

    def on_the_way(self) -> Array:
        """Readings while the torch moved, C."""
        moving = np.asarray(self.speeds) > 0.0
        return np.asarray(self.readings)[moving]


@dataclass(frozen=True, kw_only=True)
class Span:
    """When a burn, a driven burn or a rest was.

    Args:
        name: of it.
        start, end: s.
        burning: whether a flame burned.
    """

    name: str
    start: float
    end: float
    burning: bool


@dataclass(frozen=True, kw_only=True)
class TemperatureHistory:
    """Nodal temperatures at rising times.

    Args:
        times: (nt,) s.
        temperatures: (nt, n) C.
        energy: the balance over the whole history.
        cold: indices into ``times`` at which a cycle has ended and the part is cold throughout.
        logs: how the torch was driven in each heat that was driven by temperature.
        footprint_on_part: smallest share of a flame's footprint that lay on its face.
        spans: burns and rests in their order.
    """

    times: Array
    temperatures: Array
    energy: EnergyBalance
    cold: tuple[int, ...] = ()
    logs: tuple[TorchLog, ...] = ()
    footprint_on_part: float = 1.0
    spans: tuple[Span, ...] = ()

    @property
    def peak(self) -> Array:
        """Highest temperature at each node, (n,) C."""
        return np.asarray(self.temperatures.max(axis=0))

    def at(self, time: float) -> Array:
        """Temperatures at ``time`` s, linear between stored times, (n,) C."""
        if len(self.times) == 1:
            return np.asarray(self.temperatures[0])
        i = int(np.clip(np.searchsorted(self.times, time), 1, len(self.times) - 1))
        t0, t1 = self.times[i - 1], self.times[i]
        share = min(max((time - t0) / (t1 - t0), 0.0), 1.0)
        return np.asarray((1 - share) * self.temperatures[i - 1] + share * self.temperatures[i])
