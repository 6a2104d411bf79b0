"""A trial on the shop floor: a flame fitted to what thermocouples on a part showed.

Runs conduction alone, from the lighting of the torch to the last reading, on one mesh.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from flamefe.basics.errors import EnergyImbalance, OutOfRange
from flamefe.heating.fitted_flame import FittedFlame
from flamefe.heating.flame_fit import fit_parameters
from flamefe.heating.history import EnergyBalance
from flamefe.heating.march import WORST_BALANCE
from flamefe.heating.readings import Readings
from flamefe.heating.sampling import Sampler
from flamefe.study.case import Case, mesh_plan
from flamefe.study.case_flames import nozzle_of
from flamefe.study.cautions import GOOD_BALANCE, WHOLE_FOOTPRINT
from flamefe.study.parts import MM, body_of, material_of
from flamefe.study.progress import Progress, Silent
from flamefe.study.trial_search import Model, search_of
from flamefe.study.trial_simulation import (
    Simulated,
    TrialSimulation,
    flame_in,
    sampler_of,
    trial_phases,
)
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]

COARSE_BY_MESH = 2.0
"""Flame radius by the size of elements at the heat below which the mesh is worth a word."""
COLD_START = 5.0
"""K by which readings at the start may differ from the ambient temperature without a word."""

_NO_FLAME = dict.fromkeys(
    ("power_kW", "fuel", "consumption_L_h", "efficiency", "gas_C", "film_W_m2K")
)
_ON_PART = 1e-4
_EXPECTED = 12.0


@dataclass(frozen=True, kw_only=True, eq=False)
class TrialFit:
    """A flame fitted to a trial.

    Args:
        case: as it was given; its flame was the start.
        model: "absorbed" (power and radius) or "hot gas" (film coefficient and gas temperature).
        readings: what was measured.
        fitted: values, intervals, residuals, verdict.
        radius_mm: of the flame: fitted, or held with hot gas.
        times: (nt,) s, of the last simulation.
        curves: (nt, c) C, simulated at each thermocouple, in the order of
            ``readings.thermocouples``, with the fitted values.
        put_out: s, when the flame was put out, or the last reading before.
        energy: of that simulation.
        remarks: what to doubt beside the fit's own verdict, in words.
    """

    case: Case
    model: Model
    readings: Readings
    fitted: FittedFlame
    radius_mm: float
    times: Array
    curves: Array
    put_out: float
    energy: EnergyBalance
    remarks: tuple[str, ...]

    @property
    def case_values(self) -> dict[str, float]:
        """The fitted flame as a case file names its values."""
        first, second = (float(value) for value in self.fitted.values)
        if self.model == "absorbed":
            return {"power_kW": first, "radius_mm": second}
        return {"film_W_m2K": first, "gas_C": second, "radius_mm": self.radius_mm}

    @property
    def fitted_case(self) -> Case:
        """The case with the fitted flame in place of its own.

        Raises:
            CaseError: a fitted value is out of a flame's range.
        """
        name = self.case.heats[0].flame
        given: dict[str, Any] = {**_NO_FLAME, **self.case_values}
        flame = replace(self.case.flames[name], **given)
        return replace(self.case, flames={**self.case.flames, name: flame})

    @property
    def efficiency(self) -> tuple[float, float, float] | None:
        """Fitted share of the gross power with its interval, of a flame given by a nozzle."""
        nozzle = nozzle_of(self.case.flames[self.case.heats[0].flame])
        if nozzle is None or self.model != "absorbed":
            return None
        fitted, gross = self.fitted, nozzle.gross_power / 1e3
        value, low, high = (
            float(v[0]) / gross for v in (fitted.values, fitted.lower, fitted.upper)
        )
        return value, low, high


def fit_flame(
    case: Case,
    readings: Readings,
    *,
    model: Model | None = None,
    folder: str | Path = ".",
    confidence: float = 0.95,
    progress: Progress | None = None,
) -> TrialFit:
    """Fit a flame to the readings of a spot or line trial.

    Temperatures are simulated on one mesh, made for the case's own flame, with the same time
    steps in every simulation while the flame burns, until the last reading; straining is not run.
    Between nodes they are taken by the hexes' shape functions, between time steps by monotone
    cubics. The intervals hold what the noise of the readings does to the values; see
    ``FittedFlame`` for what they don't.

    Args:
        case: part, surroundings and one heat along a timed way: a line at a speed, a spot for a
            time, or a pattern of these. Its flame's values are the start, its shape is kept.
        readings: times counted from the lighting of the torch.
        model: "absorbed" fits power and radius (of each jet, where there are several);
            "hot gas" fits film coefficient and gas temperature at the radius of the case's flame.
            None: the one that the case's flame is given by.
        folder: where a mesh file named in the case is looked for.
        confidence: of the intervals, above 0, below 1.
        progress: is told how far the fit is.

    Returns:
        The fit, with simulated curves.

    Raises:
        CaseError: not one heat, or one that is driven by temperature.
        ReadingsError: a thermocouple lies more than 1 mm off the part.
        OutOfRange: a flame of a shape that can't be fitted.
        FitNotConverged: the fit did not settle.
        NotConverged, EnergyImbalance: a simulation can't be trusted.

    Example:
        >>> from flamefe.study.case import Flame, Mesh, Plate, SpotHeat
        >>> case = Case(title="trial spot",
        ...     workpiece=Plate(length_mm=60, width_mm=60, thickness_mm=8, material="S355"),
        ...     mesh=Mesh(size_at_heat_mm=8, size_away_mm=10, layers=2),
        ...     flames={"torch": Flame(power_kW=2, radius_mm=16)},
        ...     heats=[SpotHeat(flame="torch", face="top", at_mm=[30, 30], time_s=8)])
        >>> times = [2, 4, 6, 8, 12, 16]
        >>> readings = Readings(
        ...     places=[[0.03, 0.03, 0.0]] * 6 + [[0.05, 0.03, 0.008]] * 6, times=times * 2,
        ...     temperatures=[105, 216, 307, 381, 366, 296, 112, 167, 217, 265, 222, 216])
        >>> fit = fit_flame(case, readings)
        >>> {name: round(value, 1) for name, value in fit.case_values.items()}
        {'power_kW': 2.6, 'radius_mm': 17.0}
    """
    with threadpool_limits(1):
        return _fitted(case, readings, model, Path(folder), confidence, progress or Silent())


def _fitted(
    case: Case,
    readings: Readings,
    model: Model | None,
    folder: Path,
    confidence: float,
    told: Progress,
) -> TrialFit:
    if model not in (None, "absorbed", "hot gas"):
        raise OutOfRange(f'The model is {model!r}; allowed: "absorbed", "hot gas".')
    material = material_of(case)
    body, found = body_of(case, material, folder)
    phases = trial_phases(case, body)
    begin = flame_in(phases)
    if model is None:
        model = "hot gas" if begin.power is None else "absorbed"
    sampler = sampler_of(body, readings)
    simulation = TrialSimulation(
        case=case, body=body, phases=phases, sampler=sampler, last=float(readings.times.max())
    )
    plan = mesh_plan(case)
    search = search_of(begin, model, None if plan is None else plan.size_at_heat_mm * MM)
    told.stage("fitting", 1.0)
    made = 0

    def predict(values: Array) -> Array:
        nonlocal made
        made += 1
        told.update(made / (made + _EXPECTED))
        return simulation.run(search.flame(values)).at(readings)

    order = _in_time(readings)
    fitted = fit_parameters(
        lambda values: predict(values)[order],
        search.start,
        lower=search.lower,
        upper=search.upper,
        names=search.names,
        units=search.units,
        temperatures=readings.temperatures[order],
        sigma=None if readings.deviations is None else readings.deviations[order],
        series=[readings.labels[row] for row in order],
        confidence=confidence,
    )
    back = np.argsort(order)
    fitted = replace(
        fitted,
        predicted=fitted.predicted[back],
        residuals=fitted.residuals[back],
        deviations=readings.deviations,
    )
    last = simulation.run(search.flame(fitted.values))
    told.finish()
    if last.energy.error > WORST_BALANCE:
        raise EnergyImbalance(
            f"{100 * last.energy.error:.1f} % of the heat is unaccounted for; at most "
            f"{100 * WORST_BALANCE:g} % is accepted. Give the case smaller heat steps."
        )
    radius_mm = float(fitted.values[1]) if model == "absorbed" else search.radius / MM
    return TrialFit(
        case=case,
        model=model,
        readings=readings,
        fitted=fitted,
        radius_mm=radius_mm,
        times=last.times,
        curves=last.curves,
        put_out=last.put_out,
        energy=last.energy,
        remarks=(*found, *_remarks(case, material, readings, sampler, last, radius_mm)),
    )


def _in_time(readings: Readings) -> NDArray[np.int64]:
    """Rows by thermocouple, within each in the order of time."""
    return np.concatenate([readings.rows(name) for name in readings.thermocouples])


def _remarks(
    case: Case,
    material: Material,
    readings: Readings,
    sampler: Sampler,
    last: Simulated,
    radius_mm: float,
) -> tuple[str, ...]:
    """What to doubt beside the fit's own verdict."""
    said = [*readings.remarks, *_start_remarks(readings, case.surroundings.ambient_C)]
    if len(readings.thermocouples) == 1:
        said.append(
            "All readings are from one place; what they say about two values leans on the model."
        )
    for name, off in zip(readings.thermocouples, sampler.off, strict=True):
        if off > _ON_PART:
            said.append(
                f'Thermocouple "{name}" lies {off / MM:.2g} mm off the part; the nearest place '
                "on it was taken."
            )
    plan = mesh_plan(case)
    if plan is not None and radius_mm < COARSE_BY_MESH * plan.size_at_heat_mm:
        said.append(
            f"Elements of {plan.size_at_heat_mm:g} mm at the heat are coarse for a flame radius "
            f"of {radius_mm:.3g} mm; make size_at_heat_mm smaller."
        )
    hottest = max(last.hottest, float(readings.temperatures.max()))
    if hottest > material.valid_to_C:
        said.append(
            f"Extrapolated: up to {hottest:.0f} C was reached, but the tables of {material.name} "
            f"hold up to {material.valid_to_C:g} C."
        )
    if last.energy.error > GOOD_BALANCE:
        said.append(f"{100 * last.energy.error:.1f} % of the heat is unaccounted for.")
    if last.footprint < WHOLE_FOOTPRINT:
        said.append(
            f"At an edge only {100 * last.footprint:.0f} % of the flame lay on the part; the "
            "fitted power is what enters the part, so the flame itself has more."
        )
    return tuple(said)


def _start_remarks(readings: Readings, ambient: float) -> Sequence[str]:
    """Readings that don't start, or stay, where the case does."""
    early = readings.temperatures[readings.times <= 0.5]
    coldest = float(readings.temperatures.min())
    if coldest < ambient - COLD_START:
        off = coldest
    elif early.size and float(early.min()) > ambient + COLD_START:
        off = float(early.min())
    else:
        return ()
    return (
        f"The case starts at {ambient:g} C, but the coldest reading then is {off:.0f} C; give "
        "ambient_C as it was measured.",
    )
