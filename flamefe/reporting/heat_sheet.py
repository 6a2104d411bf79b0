"""Heat sheets: one page a cycle from which a foreman works, with or without a run behind it."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.reporting.heat_before import before_lighting
from flamefe.reporting.heat_faces import sketch_of
from flamefe.reporting.heat_measures import SheetMeasure, sheet_measures
from flamefe.reporting.heat_rows import HeatRow, heat_rows
from flamefe.reporting.heat_sketch import Sketch
from flamefe.reporting.heat_thermometer import thermometer_words
from flamefe.reporting.heat_words import (
    alerts_before,
    holding_lines,
    limit_of,
    temperature_lines,
    torch_lines,
)
from flamefe.reporting.page_verdict import answers, headline
from flamefe.reporting.verdict import Tone
from flamefe.reporting.words import one_line
from flamefe.study.beam_sections import faces_of_beam, values_of
from flamefe.study.case import AnyHeat, Bar, Case, MeshFile, Plate, notes
from flamefe.study.cautions import cautions_for
from flamefe.study.parts import body_of, material_of
from flamefe.study.result import RunResult
from flamefe.workpiece.material import Material

NOT_RUN = (
    "NOT COMPUTED: no run has checked temperature, distortion and forces of this job; "
    "boxes for predictions stay empty."
)
LOUD = "WATER ON"
MOST_DOUBTS = 2


class NoHeats(OutOfRange):
    """A case has no heats, so there is nothing to put on a sheet."""


@dataclass(frozen=True, kw_only=True)
class Meshed:
    """A case and its mesh.

    Args:
        case: what was asked.
        mesh: of the part, m.
    """

    case: Case
    mesh: MeshHex


@dataclass(frozen=True, kw_only=True, eq=False)
class HeatSheet:
    """All that stands on one sheet.

    Args:
        title: of the case.
        cycle: number of the cycle.
        cycles: how many there are.
        part: what is heated, its sizes and material.
        state: whether it was computed and what the run found, in a sentence.
        tone: how good that is.
        alerts: what must not be overlooked.
        doubts: warnings of the run, the first few.
        sketch: what is drawn.
        rows: heats, alike ones together.
        before: what to look at before the torch is lit.
        torches: torch, nozzle and gas.
        temperatures: headings with their words.
        holding: supports and loads.
        after: what to do after the last heat.
        measures: to be taken before and after.
        computed: whether a run stands behind it.
        cautions: what can hurt someone.
    """

    title: str
    cycle: int
    cycles: int
    part: str
    state: str
    tone: Tone
    alerts: tuple[str, ...]
    doubts: tuple[str, ...]
    sketch: Sketch
    rows: tuple[HeatRow, ...]
    before: tuple[str, ...]
    torches: tuple[str, ...]
    temperatures: tuple[tuple[str, str], ...]
    holding: tuple[str, ...]
    after: tuple[str, ...]
    measures: tuple[SheetMeasure, ...]
    computed: bool
    cautions: tuple[str, ...]


def case_sheets(case: Case, folder: str | Path = ".") -> tuple[HeatSheet, ...]:
    """Sheets of a case that was not run: the part is meshed, nothing is solved.

    Args:
        case: the case.
        folder: where a mesh file named in it is looked for.

    Raises:
        NoHeats: the case has no heats.
        CaseError, MeshError: the part can't be meshed.

    Example:
        >>> from flamefe.study.case import Flame, Mesh, SpotHeat
        >>> (sheet,) = case_sheets(Case(title="a small spot",
        ...     workpiece=Plate(length_mm=60, width_mm=60, thickness_mm=10, material="S355"),
        ...     mesh=Mesh(size_at_heat_mm=8, size_away_mm=10, layers=2),
        ...     flames={"small": Flame(power_kW=3, radius_mm=16)},
        ...     heats=[SpotHeat(flame="small", face="top", at_mm=[30, 30], time_s=10)]))
        >>> sheet.rows[0].drive, sheet.computed, sheet.measures[0].predicted
        ('stand 10 s', False, '')
    """
    if not case.heats:
        raise NoHeats("The case has no heats, so there is no sheet to write; add [[heats]].")
    material = material_of(case)
    body, _ = body_of(case, material, Path(folder))
    return _sheets(Meshed(case=case, mesh=body.mesh), material, None)


def result_sheets(result: RunResult) -> tuple[HeatSheet, ...]:
    """Sheets of a finished run, with its predictions; none where it has no heats.

    Args:
        result: the run.
    """
    if not result.case.heats:
        return ()
    return _sheets(Meshed(case=result.case, mesh=result.mesh), result.material, result)


def _sheets(part: Meshed, material: Material, result: RunResult | None) -> tuple[HeatSheet, ...]:
    cycles = sorted({heat.cycle for heat in part.case.heats})
    return tuple(_sheet(part, material, result, cycle, cycles) for cycle in cycles)


def _sheet(
    part: Meshed, material: Material, result: RunResult | None, cycle: int, cycles: Sequence[int]
) -> HeatSheet:
    case = part.case
    heats = [heat for heat in case.heats if heat.cycle == cycle]
    outcomes = () if result is None else [one for one in result.heats if one.cycle == cycle]
    peak = None
    if result is not None:
        known = {one.cycle: one.heat_check.peak_C for one in result.cycles}
        peak = known.get(cycle)
    state, tone = _state(result)
    return HeatSheet(
        title=one_line(case.title, 200),
        cycle=cycle,
        cycles=len(cycles),
        part=_part(part, material),
        state=state,
        tone=tone,
        alerts=_alerts(case, material, heats, peak),
        doubts=() if result is None else _doubts(result),
        sketch=sketch_of(part, cycle),
        rows=heat_rows(case, cycle, outcomes, () if result is None else result.heat.logs),
        before=before_lighting(part, heats),
        torches=torch_lines(case, heats, outcomes),
        temperatures=temperature_lines(
            case,
            material,
            heats,
            peak,
            "" if result is None else thermometer_words(result, cycle, limit_of(case, material)[0]),
        ),
        holding=holding_lines(case, () if result is None else result.devices),
        after=_after(case, last=cycle == cycles[-1]),
        measures=sheet_measures(case, part.mesh, material, cycle, result),
        computed=result is not None,
        cautions=cautions_for(case, material) if result is None else result.cautions,
    )


def _state(result: RunResult | None) -> tuple[str, Tone]:
    if result is None:
        return NOT_RUN, "doubt"
    found = headline(answers(result))
    return f"Computed. {found.text}", found.tone


def _doubts(result: RunResult) -> tuple[str, ...]:
    known: dict[str, list[str]] = {}
    for text in result.warnings:  # what is said of several heats alike is said once
        name, _, rest = text.partition(": ")
        of_a_heat = rest and any(name == one.name for one in result.heats)
        known.setdefault(rest if of_a_heat else text, []).append(name if of_a_heat else "")
    joined = [f"{', '.join(names)}: {text}" if names[0] else text for text, names in known.items()]
    told = tuple(one_line(text, 400) for text in joined[:MOST_DOUBTS])
    left = len(joined) - len(told)
    return (*told, f"{left} more warning{'s' * (left > 1)}: see the report.") if left else told


def _alerts(
    case: Case, material: Material, heats: Sequence[AnyHeat], peak: float | None
) -> tuple[str, ...]:
    said = list(alerts_before(case, material, heats))
    limit, _ = limit_of(case, material)
    if peak is not None and peak > limit:
        said.append(f"The run predicts {peak:.0f} C in this cycle, above the limit of {limit:g} C")
    said += [one_line(note, 240).rstrip(".") for note in notes(case) if LOUD in note]
    return tuple(dict.fromkeys(said))


def _part(part: Meshed, material: Material) -> str:
    piece = part.case.workpiece
    if isinstance(piece, MeshFile):
        size = (1e3 * np.ptp(part.mesh.p, axis=1)).tolist()
        kind = "part from a mesh file"
    else:
        size, kind = list(piece.size_mm), piece.kind
    if not isinstance(piece, Plate | Bar | MeshFile):
        faces = faces_of_beam(values_of(piece))
        section = piece.kind if faces is None else faces.section.name
        return f"{piece.kind}, section {section}, {size[0]:.6g} long; {one_line(material.name)}"
    told = " x ".join(f"{side:.6g}" for side in size)
    return f"{kind} {told} mm; {one_line(material.name)}"


def _after(case: Case, *, last: bool) -> tuple[str, ...]:
    ambient = case.surroundings.ambient_C
    words = (
        f"Let all of it cool to the air's {ambient:g} C (hand-cold everywhere) before anything is "
        "measured; warm metal still moves."
    )
    next_ = (
        "Set the measured values beside the predicted ones before anyone heats again: the other "
        "way, under half or over twice of it, stop and ask (rule of thumb, no source)."
        if last
        else "Measure, and set it beside the prediction, before the next cycle's sheet is begun."
    )
    return (words, next_)
