"""The march of a job through time: heats that burn, rests that cool, until the part is cold."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.clock import Clock
from flamefe.basics.errors import EnergyImbalance, FlamefeError, NotConverged
from flamefe.heating.conduction import Conductor, HeatStep
from flamefe.heating.drive import drive_along
from flamefe.heating.history import EnergyBalance, Span, TemperatureHistory, TorchLog
from flamefe.heating.phase import Burn, Drive, Phase, Rest
from flamefe.heating.surface import Exchange

Array = NDArray[np.float64]

LONGEST_WAIT = 7 * 24 * 3600.0
"""A part that takes longer than this (s) to cool is not waited for."""
WORST_BALANCE = 0.02
"""Share of the heat that may be unaccounted for before a run counts as wrong."""


class NeverCools(FlamefeError):
    """The part does not fall to the temperature that is waited for."""


@dataclass(frozen=True, kw_only=True, eq=False)
class HeatMoment:
    """A converged moment of the march.

    Args:
        time: s.
        temperature: (n,) C.
        phase: name of the burn or rest.
        supplied, stored, lost: in this step, J.
        water: part of what was lost that water took, J.
        footprint: share of the flame that lay on its face.
        cold: the part is at ambient temperature throughout; a cycle has ended.
        log: how the torch was driven so far in this phase; None where it was not driven.
        done: share of the phase that is done, as far as it can be told.
        burning: whether a flame burned in this step.
    """

    time: float
    temperature: Array
    phase: str
    supplied: float = 0.0
    stored: float = 0.0
    lost: float = 0.0
    water: float = 0.0
    footprint: float = 1.0
    cold: bool = False
    log: TorchLog | None = None
    done: float = 0.0
    burning: bool = False


def heat_along(
    conductor: Conductor,
    phases: Sequence[Phase],
    *,
    ambient: float,
    allowed_change: float = 30.0,
) -> Iterator[HeatMoment]:
    """March through burns and rests, yielding each converged moment; the first is the start.

    Args:
        conductor: steps the temperature.
        phases: in order.
        ambient: temperature of the air and of the part at the start, C.
        allowed_change: C, largest change a step should bring while nothing moves.

    Raises:
        NotConverged: a step failed after all cuts.
        NeverCools: a rest does not reach its temperature.
        OutOfRange: a flame leaves the part.
    """
    march = _Heating(conductor, ambient, allowed_change)
    yield HeatMoment(time=0.0, temperature=march.temperature, phase="start")
    for phase in phases:
        if isinstance(phase, Burn):
            yield from march.burn(phase)
        elif isinstance(phase, Drive):
            yield from march.drive(phase)
        else:
            yield from march.rest(phase)


class _Heating:
    """Time and temperature of the march."""

    def __init__(self, conductor: Conductor, ambient: float, allowed: float) -> None:
        self.conductor, self.ambient, self.allowed = conductor, ambient, allowed
        self.time, self.step = 0.0, 1.0
        self.temperature = np.full(conductor.body.mesh.p.shape[1], float(ambient))
        self.trend: Array | None = None

    def burn(self, phase: Burn) -> Iterator[HeatMoment]:
        """Flames along timed paths."""
        started, duration, self.trend = self.time, phase.duration, None
        if phase.step is None:
            step, longest = duration / 100.0, duration / 10.0
        else:
            step = longest = phase.step
        clock = Clock(time=started, step=step, longest=longest, allowed=self.allowed)
        while clock.time - started < duration * (1.0 - 1e-9):
            clock = clock.until(started + duration)
            burned = clock.time - started
            clock, taken, also = self._advance(clock, phase, burned)
            change = self._take(taken, clock.step)
            heat = [-heat for heat in taken.exchanged[: also.films]]
            supplied = sum(d.energy(burned, burned + clock.step) for d in phase.deposits)
            clock = clock.after(change=change if phase.step is None else 0.0)
            self.time = clock.time
            moment = self._moment(
                phase.name,
                taken,
                supplied=supplied + sum(heat),
                water=sum(taken.exchanged[also.films :]),
                footprint=also.footprint,
                done=(clock.time - started) / duration,
            )
            yield replace(moment, burning=True)

    def drive(self, phase: Drive) -> Iterator[HeatMoment]:
        """Flames driven by temperature."""
        for driven in drive_along(self.conductor, phase, self.temperature, self.time):
            self._take(driven.step, driven.duration)
            self.time = driven.log.times[-1]
            yield replace(
                self._moment(
                    phase.name,
                    driven.step,
                    supplied=driven.supplied,
                    water=driven.water,
                    footprint=driven.footprint,
                    done=driven.log.runs[-1] / phase.length,
                ),
                log=driven.log,
                burning=True,
            )

    def rest(self, phase: Rest) -> Iterator[HeatMoment]:
        """Cooling until the hottest place has fallen far enough, then until all is cold."""
        started, hottest, self.trend = self.time, float(self.temperature.max()), None
        clock = Clock(time=started, step=self.step, longest=3600.0, allowed=self.allowed)
        while (now := float(self.temperature.max())) > phase.until:
            clock, taken, _ = self._advance(clock, None, 0.0)
            change = self._take(taken, clock.step)
            excess = 0.1 * (float(self.temperature.max()) - self.ambient)
            if excess < self.allowed:
                change *= self.allowed / max(excess, 1e-3)
            clock = clock.after(change=change)
            self.time = clock.time
            yield self._moment(phase.name, taken, done=self._cooled(hottest, now, phase.until))
            if (even := self._is_even()) or self.time - started > LONGEST_WAIT:
                if float(self.temperature.max()) <= phase.until:
                    break
                raise NeverCools(
                    f"{phase.name}: after {(self.time - started) / 3600:.2g} h the hottest place "
                    f"is still at {self.temperature.max():.1f} C and does not reach "
                    f"{phase.until:g} C{' (nothing is lost any more)' if even else ''}. "
                    "Give the faces a film coefficient or a higher temperature to wait for."
                )
        if phase.cold:
            yield self._left_to_cool(phase)

    def _left_to_cool(self, phase: Rest) -> HeatMoment:
        """The part at ambient temperature, after about three time constants of its cooling."""
        cold = np.full(self.temperature.size, float(self.ambient))
        content = self.conductor.enthalpy(self.temperature) - self.conductor.enthalpy(cold)
        rate = self.conductor.loss(self.temperature)
        self.time += 3.0 * content / rate if rate > 0.0 and content > 0.0 else self.step
        self.temperature, self.trend = cold, None
        return HeatMoment(
            time=self.time,
            temperature=cold,
            phase=phase.name,
            stored=-content,
            lost=content,
            cold=True,
            done=1.0,
        )

    def _is_even(self) -> bool:
        return (
            float(np.ptp(self.temperature)) < 1e-3 and self.conductor.loss(self.temperature) <= 0.0
        )

    def _cooled(self, hottest: float, now: float, until: float) -> float:
        below = until - self.ambient
        way = math.log(max((hottest - self.ambient) / below, 1.001))
        left = math.log(max((now - self.ambient) / below, 1.0))
        return min(max(1.0 - left / way, 0.0), 1.0)

    def _take(self, taken: HeatStep, step: float) -> float:
        """Commit a step; returns its largest change."""
        change = taken.temperature - self.temperature
        self.trend, self.step = change / step, step
        self.temperature = taken.temperature
        return float(np.abs(change).max())

    def _moment(
        self,
        name: str,
        taken: HeatStep,
        *,
        supplied: float = 0.0,
        water: float = 0.0,
        footprint: float = 1.0,
        done: float,
    ) -> HeatMoment:
        return HeatMoment(
            time=self.time,
            temperature=self.temperature,
            phase=name,
            supplied=supplied,
            stored=taken.stored,
            lost=taken.lost + water,
            water=water,
            footprint=footprint,
            done=done,
        )

    def _advance(
        self, clock: Clock, phase: Burn | None, burned: float
    ) -> tuple[Clock, HeatStep, "_Also"]:
        """One step, cut in half where it does not converge."""
        for attempt in range(_MOST_CUTS + 1):
            guess = None
            if self.trend is not None and attempt == 0:
                guess = self.temperature + self.trend * clock.step
            also = _Also.of(phase, burned, burned + clock.step, self.temperature.size)
            try:
                step = self.conductor.step(
                    self.temperature,
                    power=also.powers,
                    duration=clock.step,
                    guess=guess,
                    also=also.exchanges,
                )
            except NotConverged:
                if attempt == _MOST_CUTS:
                    raise
                clock = clock.cut()
                continue
            return clock, step, also
        raise AssertionError("unreachable")


@dataclass(frozen=True, kw_only=True, eq=False)
class _Also:
    """What flames and water do within a step."""

    powers: Array
    footprint: float = 1.0
    exchanges: tuple[Exchange, ...] = ()
    films: int = 0

    @classmethod
    def of(cls, phase: Burn | None, start: float, end: float, nodes: int) -> "_Also":
        """Flames and water of a burn over [start, end] s; nothing without one."""
        if phase is None:
            return cls(powers=np.zeros(nodes))
        bathings = [deposit.over(start, end) for deposit in phase.deposits]
        films: list[Exchange] = [b.film for b in bathings if b.film is not None]
        count = len(films)
        if phase.trailing is not None:
            moments = np.linspace(start, end, 9)[1::2]
            films.append(phase.trailing.behind(phase.deposits[0].timed.pose(moments)))
        return cls(
            powers=np.sum([bathing.powers for bathing in bathings], axis=0),
            footprint=min(bathing.footprint for bathing in bathings),
            exchanges=tuple(films),
            films=count,
        )


_MOST_CUTS = 6


def collected(moments: Sequence[HeatMoment]) -> TemperatureHistory:
    """Put the moments of a march into one history, with its energy balance.

    Raises:
        EnergyImbalance: more than 2 % of the heat is unaccounted for.
    """
    energy = EnergyBalance(
        supplied=sum(m.supplied for m in moments),
        stored=sum(m.stored for m in moments),
        lost=sum(m.lost for m in moments),
        water=sum(m.water for m in moments),
    )
    if energy.error > WORST_BALANCE:
        raise EnergyImbalance(
            f"{100 * energy.error:.1f} % of the heat is unaccounted for (supplied "
            f"{energy.supplied:.4g} J, stored {energy.stored:.4g} J, lost {energy.lost:.4g} J); "
            f"at most {100 * WORST_BALANCE:g} % is accepted. Try smaller heat steps."
        )
    return TemperatureHistory(
        times=np.array([m.time for m in moments]),
        temperatures=np.stack([m.temperature for m in moments]),
        energy=energy,
        cold=tuple(i for i, m in enumerate(moments) if m.cold),
        logs=tuple(_last_logs(moments)),
        footprint_on_part=min(m.footprint for m in moments),
        spans=tuple(_spans(moments)),
    )


def _spans(moments: Sequence[HeatMoment]) -> Iterator[Span]:
    """Burns and rests in their order; two of one name, one after the other, are one."""
    start = end = moments[0].time
    steps = moments[1:]
    for moment, after in zip(steps, [*steps[1:], None][: len(steps)], strict=True):
        end = moment.time
        if after is None or (after.phase, after.burning) != (moment.phase, moment.burning):
            yield Span(name=moment.phase, start=start, end=end, burning=moment.burning)
            start = end


def _last_logs(moments: Sequence[HeatMoment]) -> Iterator[TorchLog]:
    """The finished log of each driven stroke."""
    for moment, after in zip(moments, [*moments[1:], None], strict=True):
        if moment.log is None:
            continue
        last = after is None or after.log is None or after.phase != moment.phase
        if last:
            yield moment.log
