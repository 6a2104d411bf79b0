"""The run: the one place that knows the order from a case to a result."""

import platform
import time
from collections.abc import Iterator, Sequence
from functools import partial
from importlib.metadata import version
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from flamefe.basics.linear import SOLVERS
from flamefe.heating.conduction import Conductor
from flamefe.heating.history import TemperatureHistory
from flamefe.heating.march import HeatMoment, collected, heat_along
from flamefe.heating.phase import Phase
from flamefe.outcome.columns import Columns
from flamefe.outcome.limits import HeatCheck, check_heat
from flamefe.outcome.practice import against_practice
from flamefe.straining.carrying import Book
from flamefe.straining.equilibrium import strain_along
from flamefe.straining.history import Effort, EndState, StrainHistory
from flamefe.straining.moment import Moment
from flamefe.straining.remote import RemoteYields, remote_of, touched
from flamefe.straining.restraint import NEVER, Load, rigid_modes
from flamefe.straining.schedule import targets
from flamefe.straining.solving import Solving
from flamefe.straining.stability import Event
from flamefe.straining.watch import is_watched
from flamefe.study.acting import acting_at
from flamefe.study.air_round import coolings_of
from flamefe.study.beam_columns import columns_below
from flamefe.study.case import Bar, Case, MeshFile, Plate, mesh_plan
from flamefe.study.cautions import cautions_for, history_times, warnings_for
from flamefe.study.device_outcomes import device_outcomes, device_warnings, stored_force
from flamefe.study.heat_outcomes import heat_outcomes, shallow_words
from flamefe.study.holding import holding_of
from flamefe.study.holding_check import check_holding
from flamefe.study.measuring import measures_of, rules_beside
from flamefe.study.parts import (
    body_of,
    inherent_strain_of,
    material_of,
)
from flamefe.study.phases import phases_of
from flamefe.study.progress import Progress, Silent
from flamefe.study.result import CycleOutcome, RunResult
from flamefe.study.shape_check import shape_findings
from flamefe.study.sheet import initial_of
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material
from flamefe.workpiece.meshcheck import mesh_summary
from flamefe.workpiece.practice import practice_for

Array = NDArray[np.float64]


def run(case: Case, *, folder: str | Path = ".", progress: Progress | None = None) -> RunResult:
    """Solve a case: mesh, heat, strain, measure, compare.

    Args:
        case: what is asked; it has been checked when it was made.
        folder: where a mesh file named in the case is looked for.
        progress: is told how far the run is.

    Returns:
        RunResult: histories, measures, rules, warnings and cautions.

    Raises:
        CaseError: the case names a face that its mesh file does not have, a support or load can't
            act where it is, or the supports leave the part loose.
        MeshError: the part can't be meshed.
        NotConverged, SingularOperator, EnergyImbalance, NeverCools: the run can't be trusted.

    Example:
        >>> from flamefe.study.case import Flame, Plate, SpotHeat, Mesh
        >>> case = Case(title="a small spot",
        ...     workpiece=Plate(length_mm=60, width_mm=60, thickness_mm=10, material="S355"),
        ...     mesh=Mesh(size_at_heat_mm=8, size_away_mm=10, layers=2),
        ...     flames={"small": Flame(power_kW=3, radius_mm=16)},
        ...     heats=[SpotHeat(flame="small", face="top", at_mm=[30, 30], time_s=10)])
        >>> result = run(case)
        >>> bool(300 < result.heat.peak.max() < 900), result.heat.energy.error < 0.005
        (True, True)
    """
    told = progress or Silent()
    with threadpool_limits(1):  # many small products: threads of a BLAS only get in the way
        return _run(case, Path(folder), told)


def _run(case: Case, folder: Path, told: Progress) -> RunResult:
    material = material_of(case)
    flat, remarks = body_of(case, material, folder)
    ambient = case.surroundings.ambient_C
    check_holding(case, flat)  # before anything costly
    solving = Solving(
        geometry=case.solve.geometry,
        tolerance=case.solve.tolerance,
        stress_free_C=ambient,
        stability=case.solve.stability,
    )
    standing = holding_of(case, flat, (1.0,), (2.0,)).supports
    initial = initial_of(case, flat, folder, standing, solving)
    body = initial.body

    conductor = Conductor(body, coolings_of(case, body))
    phases = phases_of(case, body)
    started = time.process_time()
    heat = collected(list(_heated(conductor, phases, ambient, case, told)))
    heat_seconds = time.process_time() - started

    moments = _moments(case, heat)
    cold_times = [time_ for time_, _, name in moments if name]
    holding = holding_of(case, body, _hot_times(heat, cold_times), cold_times)
    schedule = partial(
        targets,
        points=body.points,
        moments=moments,
        supports=holding.supports,
        loads=holding.loads,
        devices=holding.devices,
        fallback=rigid_modes(body),
        steadied=holding.steadied,
    )
    inherent = inherent_strain_of(case, body) if initial.inherent is None else initial.inherent
    started = time.process_time()
    remote = None
    alone = inherent is None and initial.start is None and not is_watched(body, solving)
    if alone and case.solve.far_field == "condensed":
        remote = remote_of(body, peak=heat.peak, kept=touched(schedule()), solving=solving)
    strain_of = partial(
        strain_along, body, solving=solving, inherent_strain=inherent, start=initial.start
    )
    origin, points = initial.origin, initial.body.points
    try:
        strain = _strained(strain_of(schedule(), remote=remote), heat, told, origin, points)
    except RemoteYields:
        remote = None
        strain = _strained(strain_of(schedule()), heat, told, origin, points)
    strain_seconds = time.process_time() - started
    told.finish()

    cycles = _cycles(case, flat, material, heat, strain, initial.offset, holding.loads)
    heats = heat_outcomes(case, flat, material, heat)
    devices = device_outcomes(case, material, heat, strain)
    summary = mesh_summary(body.mesh)
    steps = np.diff(heat.times) if heat.times.size > 1 else np.zeros(1)
    return RunResult(
        case=case,
        mesh=initial.mesh,
        initial_shape=initial.offset,
        material=material,
        heat=heat,
        strain=strain,
        cycles=cycles,
        rules=rules_beside(case, material, heat, cycles),
        heats=heats,
        devices=devices,
        warnings=(
            *remarks,
            *initial.remarks,
            *warnings_for(case, material, body.mesh, heat, strain),
            *shallow_words(heats),
            *device_warnings(devices, strain),
        ),
        cautions=(*cautions_for(case, material), *stored_force(devices)),
        figures={
            "cpu_heat_s": heat_seconds,
            "cpu_straining_s": strain_seconds,
            "nodes": float(summary.nodes),
            "hexes": float(summary.elements),
            "smallest_edge_mm": summary.smallest_edge * 1e3,
            "largest_edge_mm": summary.largest_edge * 1e3,
            "worst_aspect_ratio": summary.worst_aspect_ratio,
            "condensed_nodes": 0.0 if remote is None else float(remote.slaves.sum()),
            "heat_steps": float(len(heat.times) - 1),
            "shortest_heat_step_s": float(steps.min()),
            "longest_heat_step_s": float(steps.max()),
            "smallest_heat_step_s": float(np.diff(heat.times).min())
            if heat.times.size > 1
            else 0.0,
            "largest_heat_step_s": float(np.diff(heat.times).max()) if heat.times.size > 1 else 0.0,
        },
        versions=_versions(),
    )


def _hot_times(heat: TemperatureHistory, cold_times: Sequence[float]) -> list[float]:
    """End of the last burn of each cycle, s; never in one without a burn."""
    starts = [-NEVER, *cold_times[:-1]]
    return [
        max(
            (span.end for span in heat.spans if span.burning and start < span.end <= end),
            default=NEVER,
        )
        for start, end in zip(starts, cold_times, strict=True)
    ]


def _heated(
    conductor: Conductor,
    phases: Sequence[Phase],
    ambient: float,
    case: Case,
    told: Progress,
) -> Iterator[HeatMoment]:
    """The march through the phases, telling how many of them are done."""
    told.stage("heating", float(max(len(phases), 1)))
    names = [phase.name for phase in phases]
    number = 0
    for moment in heat_along(
        conductor, phases, ambient=ambient, allowed_change=case.solve.largest_temperature_step_C
    ):
        yield moment
        if moment.phase != "start":
            number = names.index(moment.phase, number)
            told.update(number + moment.done)


def _moments(case: Case, heat: TemperatureHistory) -> list[tuple[float, Array, str]]:
    """Moments at which the part must be in equilibrium; the cold ones are named by their cycle.

    The points of the histories of pushes and loads are among them; without a heat the job lasts
    until the last of these.
    """
    names = {index: f"cycle {i}" for i, index in enumerate(heat.cold, start=1)}
    result = [(float(t), heat.temperatures[i], names.get(i, "")) for i, t in enumerate(heat.times)]
    points = history_times(case)
    if not heat.cold:
        last, temperature, _ = result[-1]
        result.append((max(last + 1.0, *points, 0.0), temperature, "cycle 1"))
    known = {time_ for time_, _, _ in result}
    end = result[-1][0]
    result += [(t, heat.at(t), "") for t in points if t not in known and 0.0 < t < end]
    return sorted(result, key=lambda moment: moment[0])


def _strained(
    moments: Iterator[Moment],
    heat: TemperatureHistory,
    told: Progress,
    origin: Array | float,
    points: Array,
) -> StrainHistory:
    """March on; displacements count from ``origin``; ``points`` are the part's nodes."""
    told.stage("straining", float(heat.times.size))
    times: list[float] = []
    displacements: list[Array] = []
    reactions: list[Array] = []
    book = Book(points)
    ends: list[EndState] = []
    events: list[Event] = []
    watched = False
    solves = factorisations = cuts = 0
    worst = 0.0
    for moment in moments:
        solves += moment.solves
        factorisations += moment.factorisations
        cuts += moment.cut_backs
        worst = max(worst, moment.residual)
        if times and moment.target.time == times[-1]:
            for kept in (times, displacements, reactions):
                kept.pop()
        times.append(moment.target.time)
        displacements.append(moment.displacement - origin)
        reactions.append((moment.reaction + moment.gripped).sum(axis=0))
        events += moment.events or ()
        watched = moment.events is not None
        book.enter(moment)
        if moment.target.name:
            ends.append(
                EndState(
                    name=moment.target.name,
                    time=moment.target.time,
                    displacement=moment.displacement - origin,
                    stress=np.ascontiguousarray(moment.stress.T).reshape(-1, 8, 6),
                    plastic_strain=np.ascontiguousarray(moment.state.plastic_strain.T).reshape(
                        -1, 8, 6
                    ),
                    equivalent_plastic_strain=moment.state.accumulated.reshape(-1, 8).copy(),
                )
            )
        told.update(float(len(times)))
    return StrainHistory(
        times=np.array(times),
        displacements=np.stack(displacements),
        ends=tuple(ends),
        effort=Effort(
            increments=len(times),
            solves=solves,
            factorisations=factorisations,
            cut_backs=cuts,
            worst_residual=worst,
        ),
        reactions=np.stack(reactions),
        devices=book.histories(),
        unclaimed=np.array(book.unclaimed),
        events=tuple(events),
        watched=watched,
    )


def _cycles(
    case: Case,
    body: Body,
    material: Material,
    heat: TemperatureHistory,
    strain: StrainHistory,
    offset: Array | None,
    loads: Sequence[Load],
) -> tuple[CycleOutcome, ...]:
    limit = case.limits.temperature_C
    starts = [0, *[i + 1 for i in heat.cold]]
    stops = [*[i + 1 for i in heat.cold], len(heat.times)]
    result = []
    practice = practice_for(material.family)
    columns = _columns(case, body)
    size_mm = [round(1e3 * float(side), 6) for side in np.ptp(body.points, axis=0)]
    for number, end in enumerate(strain.ends, start=1):
        chosen = slice(starts[number - 1], stops[number - 1])
        part = heat.times[chosen], heat.temperatures[chosen]
        check: HeatCheck = check_heat(
            *part,
            body.points,
            limit_C=material.heating_limit_C if limit is None else limit,
            valid_to_C=material.valid_to_C,
        )
        measures = measures_of(case, body, end, number, offset)
        result.append(
            CycleOutcome(
                cycle=number,
                measures=measures,
                heat_check=check,
                largest_stress_MPa=float(end.mises.max()) / 1e6,
                largest_plastic_strain=float(end.equivalent_plastic_strain.max()),
                practice=against_practice(practice, *part, columns),
                shape=shape_findings(case, measures, number, size_mm),
                acting=acting_at(loads, strain, end.time),
            )
        )
    return tuple(result)


def _columns(case: Case, body: Body) -> Columns | None:
    """Columns of nodes through the thickness, of a beam below its heated faces."""
    piece = case.workpiece
    if isinstance(piece, MeshFile):
        return None
    if isinstance(piece, Plate | Bar):
        return Columns.of(body.points, 2)
    plan = mesh_plan(case)
    assert plan is not None
    assert plan.beam is not None
    return columns_below(piece, plan.beam, body, [heat.face for heat in case.heats])


def _versions() -> dict[str, str]:
    packages = ("flamefe", "numpy", "scipy", "scikit-fem", "meshio")
    found = {name: version(name) for name in packages}
    return {
        **found,
        "python": platform.python_version(),
        "platform": f"{platform.system()} {platform.machine()}",
        "linear solver": SOLVERS[0],
    }
