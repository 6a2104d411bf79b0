"""The trial of a case, simulated with any flame: conduction alone, up to the last reading."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from flamefe.heating.conduction import Conductor
from flamefe.heating.flame import Flame
from flamefe.heating.history import EnergyBalance
from flamefe.heating.march import NeverCools, heat_along
from flamefe.heating.phase import Burn, Drive, Phase, Rest
from flamefe.heating.readings import Readings, ReadingsError
from flamefe.heating.sampling import BEAD, Sampler
from flamefe.study.air_round import coolings_of
from flamefe.study.case import Case
from flamefe.study.faults import CaseError, Fault
from flamefe.study.parts import MM
from flamefe.study.phases import phases_of
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]

STANDING_STEPS = 40
"""Time steps of a standing flame: even ones, so that they are the same in every simulation."""

_ALMOST = 1e-3


def trial_phases(case: Case, body: Body) -> tuple[Phase, ...]:
    """The burns of the trial's heat, with time steps that no flame changes, and its rests.

    Raises:
        CaseError: not one heat, or one that is driven by temperature.
    """
    phases = phases_of(case, body)[:-1]
    path: tuple[str | int, ...] = ("heats",)
    if len(case.heats) != 1:
        given, allowed = f"{len(case.heats)} heats", "one heat, the one that was measured"
        advice = "Make a case of the trial alone."
    elif any(isinstance(phase, Drive) for phase in phases):
        path = ("heats", 0, "target_C")
        given, allowed = (
            "a heat driven by temperature",
            "a line with a speed, or a spot with a time",
        )
        advice = "Give the speed or the time at which the trial was made."
    else:
        return tuple(
            replace(phase, step=phase.duration / STANDING_STEPS)
            if isinstance(phase, Burn) and phase.step is None
            else phase
            for phase in phases
        )
    raise CaseError([Fault(path=path, given=given, allowed=allowed, advice=advice)])


def flame_in(phases: Sequence[Phase]) -> Flame:
    """The flame that burns in the phases of a trial."""
    return next(phase for phase in phases if isinstance(phase, Burn)).deposits[0].flame


def sampler_of(body: Body, readings: Readings) -> Sampler:
    """Where the thermocouples sit, in the order of ``readings.thermocouples``.

    Raises:
        ReadingsError: one lies more than 1 mm off the part.
    """
    names = readings.thermocouples
    sampler = Sampler.of(body.mesh, [readings.place(name) for name in names])
    low, high = body.points.min(axis=0) / MM, body.points.max(axis=0) / MM
    span = ", ".join(
        f"{axis} {a:.6g} to {b:.6g}" for axis, a, b in zip("xyz", low, high, strict=True)
    )
    faults = [
        f'{readings.origins[readings.labels.index(name)]}: thermocouple "{name}" at '
        f"{_words(readings.place(name))} mm lies more than {BEAD / MM:g} mm off the part, which "
        f"spans {span} mm. Give its place in the part's own axes, origin at the part's corner."
        for name, off in zip(names, sampler.off, strict=True)
        if not np.isfinite(off)
    ]
    if faults:
        raise ReadingsError(faults)
    return sampler


def _words(place: Array) -> str:
    return "({:.6g}, {:.6g}, {:.6g})".format(*(place / MM))


@dataclass(frozen=True, kw_only=True, eq=False)
class Simulated:
    """Temperatures at the thermocouples over time.

    Args:
        times: (nt,) s from lighting.
        curves: (nt, c) C at each thermocouple.
        energy: the balance.
        hottest: C, anywhere at any time.
        footprint: smallest share of the flame that lay on its face.
        put_out: s, end of the last burning step.
    """

    times: Array
    curves: Array
    energy: EnergyBalance
    hottest: float
    footprint: float
    put_out: float

    def at(self, readings: Readings) -> Array:
        """Temperatures (k,) C at the readings, by monotone cubics between time steps."""
        result = np.empty(readings.times.size)
        times = np.minimum(readings.times, self.times[-1])
        for column, name in enumerate(readings.thermocouples):
            rows = readings.rows(name)
            result[rows] = PchipInterpolator(self.times, self.curves[:, column])(times[rows])
        return result


class TrialSimulation:
    """The trial with any flame, on one mesh and with the same steps while it burns.

    Args:
        case: for its surroundings.
        body: its part, meshed.
        phases: of ``trial_phases``.
        sampler: where temperatures are wanted.
        last: s from lighting, how long they are wanted.
    """

    def __init__(
        self, *, case: Case, body: Body, phases: Sequence[Phase], sampler: Sampler, last: float
    ) -> None:
        self.conductor = Conductor(body, coolings_of(case, body))
        self.phases, self.sampler = tuple(phases), sampler
        self.ambient = case.surroundings.ambient_C
        self.allowed = case.solve.largest_temperature_step_C
        self.last = last

    def run(self, flame: Flame) -> Simulated:
        """March from lighting to the last time that is wanted.

        Raises:
            NotConverged: a step failed after all cuts.
            NeverCools: a rest between spots does not end.
            OutOfRange: the flame leaves the part.
        """
        burning = [_with(phase, flame) for phase in self.phases]
        rest = Rest(until=self.ambient + _ALMOST, cold=False, name="after the trial")
        times, curves, hottest, footprint = [], [], self.ambient, 1.0
        supplied = stored = lost = put_out = 0.0
        phase = ""
        try:
            for moment in heat_along(
                self.conductor,
                (*burning, rest),
                ambient=self.ambient,
                allowed_change=self.allowed,
            ):
                phase = moment.phase
                put_out = put_out if phase == rest.name else moment.time
                times.append(moment.time)
                curves.append(self.sampler.at(moment.temperature))
                supplied += moment.supplied
                stored += moment.stored
                lost += moment.lost
                hottest = max(hottest, float(moment.temperature.max()))
                footprint = min(footprint, moment.footprint)
                if moment.time >= self.last:
                    break
        except NeverCools:
            if phase != rest.name:
                raise
            # nothing is lost and all is even: it stays as it is until the last reading
        return Simulated(
            times=np.array(times),
            curves=np.stack(curves),
            energy=EnergyBalance(supplied=supplied, stored=stored, lost=lost),
            hottest=hottest,
            footprint=footprint,
            put_out=put_out,
        )


def _with(phase: Phase, flame: Flame) -> Phase:
    """The same phase with another flame."""
    if not isinstance(phase, Burn):
        return phase
    return replace(phase, deposits=tuple(replace(d, flame=flame) for d in phase.deposits))
