"""The march of a job through time: heats that burn, rests that cool, until the part is cold."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.clock import Clock
from flamefe.basics.errors import EnergyImbalance, FlamefeError, NotConverged
from flamefe.heating.conduction import Conductor, HeatStep
from flamefe.heating.deposit import Deposit
from flamefe.heating.history import EnergyBalance, TemperatureHistory

Array = NDArray[np.float64]

LONGEST_WAIT = 7 * 24 * 3600.0
"""A part that takes longer than this (s) to cool is not waited for."""
WORST_BALANCE = 0.02
"""Share of the heat that may be unaccounted for before a run counts as wrong."""


class NeverCools(FlamefeError):
    """The part does not fall to the temperature that is waited for."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Burn:
    """A flame that burns along its path.

    Args:
        deposit: flame, path and face.
        step: s, length of a time step; a sixth of the flame radius of travel is usual. None for
            a standing flame: steps then follow the rise in temperature.
        name: for messages.
    """

    deposit: Deposit
    step: float | None
    name: str


@dataclass(frozen=True, kw_only=True)
class Rest:
    """Waiting until the hottest place has fallen to a temperature.

    Args:
        until: C.
        cold: afterwards the part is left until it is at ambient temperature throughout.
        name: for messages.
    """

    until: float
    cold: bool
    name: str


@dataclass(frozen=True, kw_only=True, eq=False)
class HeatMoment:
    """A converged moment of the march.

    Args:
        time: s.
        temperature: (n,) C.
        phase: name of the burn or rest.
        supplied, stored, lost: in this step, J.
        footprint: share of the flame that lay on its face.
        cold: the part is at ambient temperature throughout; a cycle has ended.
    """

    time: float
    temperature: Array
    phase: str
    supplied: float = 0.0
    stored: float = 0.0
    lost: float = 0.0
    footprint: float = 1.0
    cold: bool = False


def heat_along(
    conductor: Conductor,
    phases: Sequence[Burn | Rest],
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
    nodes = conductor.body.mesh.p.shape[1]
    temperature = np.full(nodes, float(ambient))
    time = 0.0
    step = 1.0
    yield HeatMoment(time=time, temperature=temperature, phase="start")
    for phase in phases:
        started = time
        trend: Array | None = None
        clock = _clock_of(phase, started, step, allowed_change)
        while not _over(phase, clock.time - started, temperature):
            if isinstance(phase, Burn):
                clock = clock.until(started + phase.deposit.path.duration)
            guess = None if trend is None else temperature + trend * clock.step
            clock, taken, powers, footprint = _advance(
                conductor, phase, clock, started, temperature, guess
            )
            change = taken.temperature - temperature
            trend = change / clock.step
            temperature, step = taken.temperature, clock.step
            supplied = float(powers.sum()) * step
            if isinstance(phase, Burn):
                burned = clock.time - started
                supplied = phase.deposit.energy(burned, burned + step)
            largest = float(np.abs(change).max())
            if isinstance(phase, Burn) and phase.step is not None:
                largest = 0.0
            excess = 0.1 * (float(temperature.max()) - ambient)
            if isinstance(phase, Rest) and excess < allowed_change:
                largest *= allowed_change / max(excess, 1e-3)
            clock = clock.after(change=largest)
            time = clock.time
            yield HeatMoment(
                time=time,
                temperature=temperature,
                phase=phase.name,
                supplied=supplied,
                stored=taken.stored,
                lost=taken.lost,
                footprint=footprint,
            )
            even = float(np.ptp(temperature)) < 1e-3 and conductor.loss(temperature) <= 0.0
            if isinstance(phase, Rest) and (even or time - started > LONGEST_WAIT):
                if float(temperature.max()) <= phase.until:
                    break
                raise NeverCools(
                    f"{phase.name}: after {(time - started) / 3600:.0f} h the hottest place is "
                    f"still at {temperature.max():.1f} C and does not reach {phase.until:g} C. "
                    "Give the faces a film coefficient or a higher temperature to wait for."
                )
        if isinstance(phase, Rest) and phase.cold:
            content = conductor.enthalpy(temperature) - conductor.enthalpy(
                np.full(nodes, float(ambient))
            )
            rate = conductor.loss(temperature)
            time += 3.0 * content / rate if rate > 0.0 and content > 0.0 else step
            temperature = np.full(nodes, float(ambient))
            yield HeatMoment(
                time=time,
                temperature=temperature,
                phase=phase.name,
                stored=-content,
                lost=content,
                cold=True,
            )


def _clock_of(phase: Burn | Rest, now: float, last: float, allowed: float) -> Clock:
    if isinstance(phase, Rest):
        return Clock(time=now, step=last, longest=3600.0, allowed=allowed)
    duration = phase.deposit.path.duration
    if phase.step is not None:
        return Clock(time=now, step=phase.step, longest=phase.step, allowed=allowed)
    return Clock(time=now, step=duration / 100.0, longest=duration / 10.0, allowed=allowed)


def _over(phase: Burn | Rest, elapsed: float, temperature: Array) -> bool:
    if isinstance(phase, Burn):
        return elapsed >= phase.deposit.path.duration * (1.0 - 1e-9)
    return float(temperature.max()) <= phase.until


def _advance(
    conductor: Conductor,
    phase: Burn | Rest,
    clock: Clock,
    started: float,
    temperature: Array,
    guess: Array | None,
) -> tuple[Clock, HeatStep, Array, float]:
    """One step, cut in half where it does not converge."""
    for attempt in range(_MOST_CUTS + 1):
        powers, footprint = np.zeros(temperature.size), 1.0
        if isinstance(phase, Burn):
            burned = clock.time - started
            powers, footprint = phase.deposit.over(burned, burned + clock.step)
        try:
            step = conductor.step(temperature, power=powers, duration=clock.step, guess=guess)
        except NotConverged:
            if attempt == _MOST_CUTS:
                raise
            clock, guess = clock.cut(), None
            continue
        return clock, step, powers, footprint
    raise AssertionError("unreachable")


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
        footprint_on_part=min(m.footprint for m in moments),
    )
