"""What a cycle left behind, in the trade's measures, and the closed-form rules beside it."""

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Literal, TypedDict

import numpy as np
from numpy.typing import NDArray

from flamefe.heating.history import TemperatureHistory
from flamefe.heating.surface import FacePoints
from flamefe.outcome.bay_bow import PLATE_FACE, TIP_FACE, bay_bows
from flamefe.outcome.beam_distortion import beam_measures
from flamefe.outcome.dishing import dishing_measures
from flamefe.outcome.distortion import measure_distortion
from flamefe.outcome.flange_tilt import FLANGE_FACES, flange_tilts
from flamefe.outcome.measure import Measure, find_measure
from flamefe.outcome.residual import residual_stress_measures
from flamefe.rules.barcycle import COLD_C
from flamefe.rules.inputs import RuleInputs, with_material
from flamefe.rules.registry import rules_for
from flamefe.rules.value import RuleValue
from flamefe.straining.history import EndState
from flamefe.study.case import (
    AnyHeat,
    Bar,
    Case,
    Clamp,
    Guide,
    Jack,
    LineHeat,
    MeshFile,
    Plate,
    Rest,
    Spring,
    WedgeHeat,
    outline_of,
    path_length_mm,
    path_of,
)
from flamefe.study.case_flames import power_kW_of, radius_mm_of, reach_mm_of
from flamefe.study.case_strokes import paths_of
from flamefe.study.case_tubes import Panel
from flamefe.study.result import CycleOutcome
from flamefe.workpiece.body import Body
from flamefe.workpiece.extrude import BEAM_ENDS
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]

MM = 1e-3
CHANGED_BAND = "flatness"
"""Measure of a plate's change of shape; of a plate that was flat, its flatness."""
INNER = (0.05, 0.95)
"""A heated strip is taken out of the wings of a plate only while it lies within these shares."""


def heats_until(case: Case, cycle: int) -> tuple[AnyHeat, ...]:
    """Heats made up to and with a cycle."""
    return tuple(heat for heat in case.heats if heat.cycle <= cycle)


def measures_of(
    case: Case, body: Body, end: EndState, cycle: int, initial: Array | None = None
) -> tuple[Measure, ...]:
    """Distortion and residual stress at the end of a cycle, since the start of the job.

    A plate with an initial shape is measured against flat (dishing, "flatness of the panel"); the
    band of its change alone, which no straight edge can take, is left out.

    Args:
        case: the case.
        body: the part; of a plate with an initial shape the flat one.
        end: state at the end of the cycle.
        cycle: its number.
        initial: (n, 3) m, from the flat plate to its initial shape; None: it was flat.

    A plate's wings are what lies beside the strip that its heats on top and bottom cover, two
    flame radii either side of their paths; the straight ends of a bar or beam what lies beyond the
    heats.
    """
    found = _distortion(case, body, end, cycle)
    shape: tuple[Measure, ...] = ()
    if initial is not None:
        found = tuple(one for one in found if one.name != CHANGED_BAND)
        shape = dishing_measures(body.points, initial, initial + end.displacement)
    return (*found, *shape, *residual_stress_measures(end))


def _distortion(case: Case, body: Body, end: EndState, cycle: int) -> tuple[Measure, ...]:
    piece = case.workpiece
    heats = heats_until(case, cycle)
    if isinstance(piece, Plate):
        flat = [heat for heat in heats if heat.face in ("top", "bottom")]
        along = line_axis(flat)
        across = 1 if along == "x" else 0
        extent = piece.width_mm if across == 1 else piece.length_mm
        below = bool(flat) and all(heat.face == "bottom" for heat in flat)
        found = measure_distortion(
            body.points,
            end.displacement,
            kind="plate",
            heated=_covered(case, flat, across, extent),
            line_along="x" if along == "x" else "y",
            torch_face="bottom" if below else "top",
        )
        as_bar = measure_distortion(body.points, end.displacement, kind="bar")
        in_plane = find_measure(as_bar, "camber")
        meaning = (
            "distance of the middle of the length axis from the straight line through its ends, in "
            "the plane of the plate; positive when the middle lies on the far side (+y)"
        )
        return (*found, replace(in_plane, name="sweep in the plane", meaning=meaning))
    if isinstance(piece, Bar):
        lengthwise = [heat for heat in heats if heat.face not in ("start", "end")]
        strip = _covered(case, lengthwise, 0, piece.length_mm)
        return measure_distortion(body.points, end.displacement, kind="bar", heated=strip)
    if isinstance(piece, MeshFile):
        return measure_distortion(body.points, end.displacement, kind="mesh file")
    lengthwise = [heat for heat in heats if heat.face not in BEAM_ENDS]
    span = _span(case, lengthwise, 0) if lengthwise else None
    beam = beam_measures(
        body.points,
        end.displacement,
        areas=_section_areas(body),
        heated_part=None if span is None else (span[0] * MM, span[1] * MM),
    )
    named = body.mesh.boundaries or {}
    flanges = {
        flange: np.unique(body.mesh.facets[:, named[face]])
        for flange, face in FLANGE_FACES.items()
        if face in named
    }
    tilts = flange_tilts(body.points, end.displacement, faces=flanges)
    return (*beam, *tilts, *(_bays(piece, body, end) if isinstance(piece, Panel) else ()))


def _bays(piece: Panel, body: Body, end: EndState) -> tuple[Measure, ...]:
    """Bow of each bay between two stiffeners of a panel."""
    named = body.mesh.boundaries or {}

    def nodes(face: str) -> NDArray[np.int64]:
        return np.unique(body.mesh.facets[:, named[face]])

    tips = [nodes(TIP_FACE.format(number=i + 1)) for i in range(piece.stiffeners)]
    lines = [0.5 * float(np.min(y) + np.max(y)) for y in (body.points[tip, 1] for tip in tips)]
    return bay_bows(body.points, end.displacement, face=nodes(PLATE_FACE), lines=lines)


def _section_areas(body: Body) -> Array:
    """Area of its section that each node of an extruded part stands for, m2."""
    start = FacePoints.of(body.mesh, np.asarray((body.mesh.boundaries or {})["start"]))
    nodal = start.gather(np.ones(start.areas.shape))
    number = np.count_nonzero(nodal)
    return np.tile(nodal[:number], len(nodal) // number)


def line_axis(heats: Sequence[AnyHeat]) -> str:
    """Axis along which most of the path length runs; x where nothing moves."""
    run = [0.0, 0.0]
    for heat in heats:
        for points in paths_of(heat):
            for one, other in pairwise(points):
                for axis in (0, 1):
                    run[axis] += abs(other[axis] - one[axis])
    return "y" if run[1] > run[0] else "x"


def _covered(
    case: Case, heats: Sequence[AnyHeat], axis: int, extent_mm: float
) -> tuple[float, float] | None:
    """From where to where heats cover the part along an axis, m; None where hardly any is left."""
    if not heats:
        return None
    low, high = _span(case, heats, axis)
    outside = low < INNER[0] * extent_mm or high > INNER[1] * extent_mm
    return None if outside else (low * MM, high * MM)


def _span(case: Case, heats: Sequence[AnyHeat], axis: int) -> tuple[float, float]:
    """From where to where heats reach along an axis, two flame radii beyond their paths, mm."""
    lows, highs = [], []
    for heat in heats:
        reach = reach_mm_of(case.flames[heat.flame])
        lows.append(min(point[axis] for point in outline_of(heat)) - reach)
        highs.append(max(point[axis] for point in outline_of(heat)) + reach)
    return min(lows), max(highs)


def rules_beside(
    case: Case, material: Material, heat: TemperatureHistory, cycles: Sequence[CycleOutcome]
) -> tuple[RuleValue, ...]:
    """Closed-form rules on the numbers of the case's first heat, each beside the simulated one.

    See `rule_inputs`.
    """
    inputs = rule_inputs(case, material, heat, cycles)
    return () if inputs is None else rules_for(inputs)


def rule_inputs(
    case: Case,
    material: Material,
    heat: TemperatureHistory | None = None,
    cycles: Sequence[CycleOutcome] = (),
    *,
    peak_C: float | None = None,
) -> RuleInputs | None:
    """What rules are fed with: the numbers of the case's first heat, and the simulated measures.

    None where no rule speaks of the case (no heats, or neither a plate nor a bar).

    The rules speak of one heat, so a simulated number stands beside them only where the first
    cycle holds no other. Heat by length and the bar's restraint are taken as they are asked for;
    a bar held at both ends has the restraint b = heated length / length; one held at an end by a
    spring along it has its stiffness. Before a run, without ``heat``, the peak is ``peak_C``.
    """
    piece = case.workpiece
    if not case.heats or not isinstance(piece, Plate | Bar):
        return None
    first = case.heats[0]
    flame = case.flames[first.flame]
    alone = sum(other.cycle == 1 for other in case.heats) == 1
    simulated = {m.name: m.value for m in cycles[0].measures} if alone and cycles else {}
    if heat is not None:
        peak_C = float(heat.peak.max())
    is_line = isinstance(first, LineHeat)
    inputs = RuleInputs(
        geometry=case.solve.geometry,
        length=piece.length_mm * MM,
        thickness=piece.thickness_mm * MM,
        peak_C=peak_C if alone else None,
        flame_radius=radius_mm_of(flame) * MM,
        speed=first.speed_mm_s * MM if isinstance(first, LineHeat) else None,
        heat_per_length=_heat_per_length(first, power_kW_of(flame)),
        heated_length=path_length_mm(first) * MM if is_line else None,
        simulated=simulated,
    )
    if isinstance(piece, Plate) and first.face in ("top", "bottom") and _runs_along_x(first):
        place = path_of(first)[0][1] - 0.5 * piece.width_mm
        inputs = replace(inputs, part="plate", width=piece.width_mm * MM, line_offset=place * MM)
    elif isinstance(piece, Bar) and first.face not in ("start", "end"):
        inputs = replace(
            inputs, part="bar", width=piece.depth_mm * MM, line_offset=_bar_line(first, piece)
        )
        stiffness = _stiffness_between_ends(case)
        if stiffness > 0.0:
            low, high = _span(case, [first], 0)
            covered = (min(high, piece.length_mm) - max(low, 0.0)) * MM
            inputs = replace(inputs, heated_length=covered)
            if math.isinf(stiffness):
                inputs = replace(inputs, restraint=covered / (piece.length_mm * MM))
            else:
                area = piece.depth_mm * piece.thickness_mm * MM**2
                inputs = replace(inputs, spring_stiffness=stiffness, section_area=area)
    if isinstance(first, WedgeHeat):
        inputs = replace(inputs, **_wedge(first))
        if isinstance(piece, Bar):
            strength = float(material.yield_stress(COLD_C))
            inputs = replace(inputs, wedge_moment_ratio=_moment_ratio(case, piece, first, strength))
    return with_material(inputs, material)


def _moment_ratio(case: Case, piece: Bar, heat: WedgeHeat, strength: float) -> float:
    """Moment at a wedge by the plastic moment, positive where it closes; 0 where none is told.

    Told is that of one jack of given force in the plane of a bar that bears against two rests.
    """
    jacks = [one for one in case.supports if isinstance(one, Jack) and one.force_kN is not None]
    rests = [one for one in case.supports if isinstance(one, Rest) and one.at_mm]
    if len(jacks) != 1 or len(rests) != 1 or len(rests[0].at_mm or ()) != 2:
        return 0.0
    jack, rest = jacks[0], rests[0]
    if jack.at_mm is None or jack.against_mm is not None or rest.at_mm is None:
        return 0.0
    if {jack.pushes, rest.pushes} != {"y", "-y"}:
        return 0.0
    left, right = sorted(place[0] for place in rest.at_mm)
    load, wedge = jack.at_mm[0], heat.base_mm[0]
    if not left < load < right or not left < wedge < right:
        return 0.0
    arm = (right - load) * (wedge - left) if wedge <= load else (load - left) * (right - wedge)
    moment = 1e3 * (jack.force_kN or 0.0) * MM * arm / (right - left)
    plastic = 0.25 * strength * piece.thickness_mm * piece.depth_mm**2 * MM**3
    closes = (heat.base_mm[1] > heat.apex_mm[1]) == (jack.pushes == "-y")
    return moment / plastic * (1.0 if closes else -1.0)


class _WedgeInputs(TypedDict):
    wedge_angle: float
    wedge_depth: float
    wedge_base: Literal["far", "near"]
    wedge_driven: bool


def _wedge(heat: WedgeHeat) -> _WedgeInputs:
    """What rules ask of a wedge: its base lies towards +y ("far") or -y ("near")."""
    return {
        "wedge_angle": math.radians(heat.angle_deg),
        "wedge_depth": path_length_mm(heat) * MM,
        "wedge_base": "far" if heat.base_mm[1] > heat.apex_mm[1] else "near",
        "wedge_driven": True,
    }


def _heat_per_length(heat: AnyHeat, power_kW: float | None) -> float | None:
    if not isinstance(heat, LineHeat) or power_kW is None or heat.both_faces:
        return None
    return power_kW * 1e3 / (heat.speed_mm_s * MM)


def _runs_along_x(heat: AnyHeat) -> bool:
    """Whether all of a heat lies on one line along x."""
    across = [point[1] for point in path_of(heat)]
    return max(across) - min(across) < 1e-6


def _bar_line(heat: AnyHeat, piece: Bar) -> float | None:
    """Offset of a line along a bar from the middle of its depth, where there is one, m."""
    if not _runs_along_x(heat):
        return None
    places = {"near": 0.0, "far": piece.depth_mm}
    return (places.get(heat.face, path_of(heat)[0][1]) - 0.5 * piece.depth_mm) * MM


def _stiffness_between_ends(case: Case) -> float:
    """Stiffness along the bar of what holds its ends, N/m; 0 where one is free."""
    pliancy = 0.0
    for face in ("start", "end"):
        stiffness = 0.0
        for one in case.supports:
            if isinstance(one, Clamp | Guide) and one.face == face:
                stiffness = math.inf
            elif isinstance(one, Spring) and one.face == face and one.direction == "x":
                stiffness += one.stiffness_kN_mm * 1e6
        if stiffness == 0.0:
            return 0.0
        pliancy += 1.0 / stiffness
    return 1.0 / pliancy if pliancy > 0.0 else math.inf
