"""The trial of a case, simulated with any flame: conduction alone, up to the last reading."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from flamefe.heating.conduction import Conductor
from flamefe.heating.flame import Flame
from flamefe.heating.history import EnergyBalance
from flamefe.heating.march import NeverCools, heat_along
from flamefe.heating.phase import Burn, Rest
from flamefe.heating.readings import Readings, ReadingsError
from flamefe.heating.sampling import BEAD, Sampler
from flamefe.study.case import Case
from flamefe.study.faults import CaseError, Fault
from flamefe.study.parts import MM
from flamefe.study.phases import cooling_of, phases_of
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]

STANDING_STEPS = 40
"""Time steps of a standing flame: even ones, so that they are the same in every simulation."""

_ALMOST = 1e-3


def burn_of(case: Case, body: Body) -> Burn:
    """The trial's heat, with time steps that no flame changes.

    Raises:
        CaseError: not one heat along a timed path.
    """
    if len(case.heats) != 1:
        raise CaseError(
            [
                Fault(
                    path=("heats",),
                    given=f"{len(case.heats)} heats",
                    allowed="one heat, the one that was measured",
                    advice="Make a case of the trial alone.",
                )
            ]
        )
    phase = phases_of(case, body)[0]
    if not isinstance(phase, Burn):
        raise CaseError(
            [
                Fault(
                    path=("heats", 0, "kind"),
                    given=f'"{case.heats[0].kind}" driven by temperature',
                    allowed='"line" with a speed, or "spot" with a time',
                    advice="Give the speed or the time at which the trial was made.",
                )
            ]
        )
    return phase if phase.step else replace(phase, step=phase.duration / STANDING_STEPS)


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
    """

    times: Array
    curves: Array
    energy: EnergyBalance
    hottest: float
    footprint: float

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
        burn: path, steps and water.
        sampler: where temperatures are wanted.
        last: s from lighting, how long they are wanted.
    """

    def __init__(
        self, *, case: Case, body: Body, burn: Burn, sampler: Sampler, last: float
    ) -> None:
        self.conductor = Conductor(body, [cooling_of(case, body)])
        self.burn, self.sampler = burn, sampler
        self.ambient = case.surroundings.ambient_C
        self.allowed = case.solve.largest_temperature_step_C
        self.last = last

    def run(self, flame: Flame) -> Simulated:
        """March from lighting to the last time that is wanted.

        Raises:
            NotConverged: a step failed after all cuts.
            OutOfRange: the flame leaves the part.
        """
        deposits = tuple(replace(deposit, flame=flame) for deposit in self.burn.deposits)
        rest = Rest(until=self.ambient + _ALMOST, cold=False, name="after the trial")
        times, curves, hottest, footprint = [], [], self.ambient, 1.0
        supplied = stored = lost = 0.0
        try:
            for moment in heat_along(
                self.conductor,
                (replace(self.burn, deposits=deposits), rest),
                ambient=self.ambient,
                allowed_change=self.allowed,
            ):
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
            pass  # nothing is lost and all is even: it stays as it is until the last reading
        return Simulated(
            times=np.array(times),
            curves=np.stack(curves),
            energy=EnergyBalance(supplied=supplied, stored=stored, lost=lost),
            hottest=hottest,
            footprint=footprint,
        )
