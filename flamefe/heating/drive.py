"""Driving the torch by temperature: the speed of each step is found while it is stepped."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import NotConverged
from flamefe.heating.conduction import Conductor, HeatStep
from flamefe.heating.deposit import Bathing
from flamefe.heating.history import TorchLog
from flamefe.heating.phase import Drive
from flamefe.heating.surface import Exchange

Array = NDArray[np.float64]

TRAVEL = 1.0 / 6.0
"""Largest travel in a step, by the flame's size."""
HORIZON = 0.75
"""How far ahead the speed is judged, by the flame's size."""
SLOWEST_STRETCH = 60.0
"""A torch that would need longer than this for its own size stands instead, s."""
LEARNING, MOST_BIAS = 0.1, 60.0
"""How fast the trial's error is learnt, a step; and how much of it is believed, K."""
RISE = 20.0
"""Largest rise of the reading in a step while the torch stands, K."""
TRIES, MOST_CUTS = 7, 6
RISING = 1.0
"""A reading that rises faster than this would have come further with time, K/s."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Driven:
    """One accepted step of a driven torch.

    Args:
        step: what conduction gave.
        duration: s.
        supplied: J brought by the flames.
        water: J taken by water.
        footprint: share of the flames on their faces.
        log: the torch's log so far.
    """

    step: HeatStep
    duration: float
    supplied: float
    water: float
    footprint: float
    log: TorchLog


@dataclass(frozen=True, kw_only=True, eq=False)
class _Try:
    """A step tried at one speed."""

    speed: float
    duration: float
    excess: float
    step: HeatStep
    bathings: tuple[Bathing, ...]


def drive_along(
    conductor: Conductor, drive: Drive, temperature: Array, started: float
) -> Iterator[Driven]:
    """Drive the torch along its way, yielding each accepted step.

    Args:
        conductor: steps the temperature.
        drive: flames, ways, target and limits.
        temperature: (n,) C at the start.
        started: s since the start of the job.
    """
    torch = _Torch(conductor, drive)
    run, now, speed, time = 0.0, temperature, 0.0, started
    duration = min(drive.step, 1.0)
    stood, moved_since = 0.0, 0.0
    log = TorchLog(name=drive.name, target=drive.target)
    reached, told = False, _Told()
    while run < drive.length * (1.0 - 1e-9):
        before = torch.reading(now, run)
        if drive.mode == "hold" and reached:
            chosen = torch.held(now, run, speed, duration)
        elif reached and (moved_since < drive.advance or before >= drive.target - drive.allowed):
            left = drive.advance - moved_since
            span = min(TRAVEL * drive.size, left if left > 0.0 else drive.size) / drive.fastest
            chosen = torch.tried(now, run, drive.fastest, span)
        else:
            left = drive.longest_dwell - stood if drive.longest_dwell > stood else duration
            chosen = torch.stood(now, run, min(duration, left))
        run = min(run + chosen.speed * chosen.duration, drive.length)
        now, speed = chosen.step.temperature, chosen.speed
        reading = chosen.excess + drive.target
        time += chosen.duration
        if chosen.speed == 0.0:
            stood += chosen.duration
            moved_since = 0.0 if reading >= drive.target - drive.allowed else drive.advance
        else:
            stood = 0.0
            moved_since += chosen.speed * chosen.duration
        hot = reading >= drive.target - drive.allowed
        reached = reached or hot
        if stood >= drive.longest_dwell * (1.0 - 1e-9) and not hot:
            rate = (reading - before) / chosen.duration
            told.missed.append((1e3 * run, reading, stood, rate))
            torch.gave_up_at = run
            reached, stood, moved_since = True, 0.0, 0.0
            speed = torch.least_way
        if hot and reading > drive.target + 4.0 * drive.allowed and speed >= drive.fastest:
            told.overshot.append((1e3 * run, reading))
        log = replace(
            log,
            times=(*log.times, time),
            runs=(*log.runs, run),
            durations=(*log.durations, chosen.duration),
            speeds=(*log.speeds, chosen.speed),
            readings=(*log.readings, reading),
            notes=told.notes(drive),
        )
        yield torch.accepted(chosen, log)
        duration = _next_duration(drive, chosen, reading - before)


def _next_duration(drive: Drive, chosen: _Try, rise: float) -> float:
    longest = min(drive.step, 1.5 * chosen.duration)
    if chosen.speed > 0.0:
        return min(longest, TRAVEL * drive.size / chosen.speed)
    return min(longest, max(0.2, RISE / max(abs(rise), 1e-9)) * chosen.duration)


class _Told:
    """Where the target was missed or overshot."""

    def __init__(self) -> None:
        self.missed: list[tuple[float, float, float, float]] = []  # mm, C, s, K/s
        self.overshot: list[tuple[float, float]] = []  # mm, C

    def notes(self, drive: Drive) -> tuple[str, ...]:
        """What happened, in one note a kind."""
        said = []
        if self.missed:
            places = [run for run, *_ in self.missed]
            where = f"at {places[0]:.0f} mm"
            if len(places) > 1:
                where = f"at {len(places)} places from {min(places):.0f} to {max(places):.0f} mm"
            run, reading, stood, rate = min(self.missed, key=lambda one: one[1])
            why = (
                "it was still rising: allow a longer stand"
                if rate > RISING
                else "it hardly rose any more, so this flame can't reach it there: take a stronger "
                "flame or a narrower pattern"
            )
            said.append(
                f"{drive.name}: {where} the target of {drive.target:g} C was not reached within "
                f"the longest stand; the surface came to {reading:.0f} C after {stood:.3g} s at "
                f"{run:.0f} mm, and {why}."
            )
        if self.overshot:
            places = [run for run, _ in self.overshot]
            said.append(
                f"{drive.name}: from {min(places):.0f} to {max(places):.0f} mm the target of "
                f"{drive.target:g} C is overshot, up to {max(c for _, c in self.overshot):.0f} C "
                f"under the torch as it passes (what it leaves behind may still get hotter), "
                "although the torch went as fast as allowed. Take a smaller nozzle or a faster "
                "hand."
            )
        return tuple(said)


class _Torch:
    """Tries steps of one drive."""

    def __init__(self, conductor: Conductor, drive: Drive) -> None:
        self.conductor, self.drive = conductor, drive
        self.guess: Array | None = None
        self.gave_up_at, self.bias = -1.0, 0.0
        # without the target, move on by the flame's size in the time that was waited
        self.least_way = max(drive.slowest, drive.size / drive.longest_dwell)

    def reading(self, temperature: Array, run: float) -> float:
        """Hottest place under the flames, C."""
        drive = self.drive
        share = run / drive.length
        return max(
            probe.under(temperature, track.at(share * track.length), deposit.flame.size)
            for probe, track, deposit in zip(
                drive.probes, drive.tracks, drive.deposits, strict=True
            )
        )

    def tried(self, now: Array, run: float, speed: float, duration: float) -> _Try:
        """One step at a speed."""
        drive = self.drive
        end = min(run + speed * duration, drive.length)
        count = max(1, int(np.ceil(8.0 * (end - run) / drive.size)))
        shares = (run + (end - run) * (np.arange(count) + 0.5) / count) / drive.length
        bathings, poses = [], []
        for deposit, track in zip(drive.deposits, drive.tracks, strict=True):
            pose = track.at(shares * track.length)
            poses.append(pose)
            bathings.append(deposit.at(pose, when=f"{1e3 * run:.0f} mm on its way", whole=False))
        also: list[Exchange] = [bathing.film for bathing in bathings if bathing.film is not None]
        if drive.trailing is not None and speed > 0.0:
            also.append(drive.trailing.behind(poses[0]))
        power = np.sum([bathing.powers for bathing in bathings], axis=0)
        step = self._stepped(now, power, duration, also)
        self.guess = step.temperature
        return _Try(
            speed=speed,
            duration=duration,
            excess=self.reading(step.temperature, end) - drive.target,
            step=step,
            bathings=tuple(bathings),
        )

    def _stepped(
        self, now: Array, power: Array, duration: float, also: list[Exchange], cuts: int = 0
    ) -> HeatStep:
        """One step, in two halves where it does not converge."""
        guess = self.guess if cuts == 0 else None
        try:
            return self.conductor.step(now, power=power, duration=duration, guess=guess, also=also)
        except NotConverged:
            if cuts == MOST_CUTS:
                raise
        first = self._stepped(now, power, 0.5 * duration, also, cuts + 1)
        second = self._stepped(first.temperature, power, 0.5 * duration, also, cuts + 1)
        return replace(
            second,
            stored=first.stored + second.stored,
            lost=first.lost + second.lost,
            held=first.held + second.held,
            exchanged=tuple(np.add(first.exchanged, second.exchanged).tolist()),
            iterations=first.iterations + second.iterations,
        )

    def ahead(self, now: Array, run: float, speed: float) -> float:
        """Excess of the reading if the torch went on at ``speed`` for most of its size, K."""
        drive = self.drive
        way = min(HORIZON * drive.size, drive.length - run)
        kept = self.guess
        excess = self.tried(now, run, speed, max(way, 1e-6) / speed).excess
        self.guess = kept
        return excess - self.bias

    def held(self, now: Array, run: float, speed: float, duration: float) -> _Try:
        """The step at the speed that will keep the reading at the target.

        The speed is the one at which the reading would be right after a stretch ahead, seen in one
        long trial step; what such long steps get wrong is learnt from step to step (``bias``).
        """
        drive = self.drive
        gave_up = self.gave_up_at >= 0.0 and run < self.gave_up_at + drive.size
        if gave_up:
            return self.tried(now, run, self.least_way, duration)
        least = max(drive.slowest, drive.size / SLOWEST_STRETCH)
        speed = min(max(speed, least, 2.0 * least if speed == 0.0 else 0.0), drive.fastest)
        slow: tuple[float, float] | None = None  # speed and excess, too hot
        fast: tuple[float, float] | None = None  # too cold
        for _ in range(TRIES):
            excess = self.ahead(now, run, speed)
            if abs(excess) <= drive.allowed:
                break
            if excess > 0.0:
                slow = (speed, excess)
                if speed >= drive.fastest:
                    break
            else:
                fast = (speed, excess)
                if speed <= least:
                    return self.stood(now, run, duration)
            speed = min(max(_between(slow, fast), least), drive.fastest)
        chosen = self.tried(now, run, speed, min(duration, TRAVEL * drive.size / speed))
        self.bias = min(max(self.bias - LEARNING * chosen.excess, -MOST_BIAS), MOST_BIAS)
        return chosen

    def stood(self, now: Array, run: float, duration: float) -> _Try:
        """A step without moving, cut so that the target is not overshot."""
        whole = self.tried(now, run, 0.0, duration)
        before = self.reading(now, run) - self.drive.target
        for _ in range(TRIES):
            if whole.excess <= self.drive.allowed or before >= 0.0:
                break
            share = min(max(-before / (whole.excess - before), 0.02), 0.9)
            whole = self.tried(now, run, 0.0, share * whole.duration)
        return whole

    def accepted(self, chosen: _Try, log: TorchLog) -> Driven:
        """The step as the march takes it."""
        supplied = water = 0.0
        exchanged = list(chosen.step.exchanged)
        for bathing in chosen.bathings:
            if bathing.film is not None:
                supplied -= exchanged.pop(0)
            else:
                supplied += float(bathing.powers.sum()) * chosen.duration
        water += sum(exchanged)
        trend = chosen.step.temperature
        self.guess = trend
        return Driven(
            step=chosen.step,
            duration=chosen.duration,
            supplied=supplied,
            water=water,
            footprint=1.0,  # what passes the part by is not put in, so nothing is claimed
            log=log,
        )


def _between(slow: tuple[float, float] | None, fast: tuple[float, float] | None) -> float:
    """Next speed to try: between one that leaves it too hot and one that leaves it too cold."""
    if slow is None:
        assert fast is not None
        return 0.6 * fast[0]
    if fast is None:
        return 1.7 * slow[0]
    share = min(max(slow[1] / (slow[1] - fast[1]), 0.1), 0.9)
    return float(np.exp(np.log(slow[0]) + share * (np.log(fast[0]) - np.log(slow[0]))))
