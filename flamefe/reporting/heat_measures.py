"""What is measured before and after a cycle, how a shop takes it, and what the run predicts."""

import re
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from skfem import MeshHex

from flamefe.outcome.measure import Measure
from flamefe.reporting.summary import sign_words
from flamefe.straining.history import EndState
from flamefe.study.case import Case, Clamp, Guide, Plate, Points, Rest
from flamefe.study.case_strokes import paths_of
from flamefe.study.measuring import heats_until, measures_of
from flamefe.study.result import RunResult
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material

MOST = 12
UNMOVED = 1e-6
"""m, movement before the first heat that counts as none."""
FINEST = 0.01

HOW: tuple[tuple[str, str], ...] = (
    ("angular change", "bevel or template across the heated line, at half length"),
    ("edge rise", "straight edge from edge to edge at half length: gap over the line"),
    ("transverse shrinkage", "width at half length, between punch marks near the edges"),
    ("longitudinal shrinkage of the line", "length along the line, between punch marks"),
    ("longitudinal shrinkage of the near edge", "length along the near edge (y = 0)"),
    ("longitudinal shrinkage of the far edge", "length along the far edge"),
    ("camber of the line", "string along the line from end to end: gap at half length"),
    ("bow of the near edge", "string along the near edge (y = 0): gap at half length"),
    ("bow of the far edge", "string along the far edge: gap at half length"),
    ("sweep in the plane", "string along an edge, in the plane: offset at half length"),
    ("closing rotation", "angle between straight edges on both cold ends (1 mrad: 1 mm on 1 m)"),
    ("camber", "string from end to end, {plane}: offset at half length"),
    ("sweep", "string from end to end, {plane}: offset at half length"),
    ("shortening", "length between punch marks at both ends, all of it cold"),
    ("tilt of the", "level across both flanges{at}, where it is largest: difference in height"),
    ("twist", "spirit level across both ends: difference"),
    ("flatness of the panel", "straight edge over all of the panel: widest band, AS IT IS"),
    ("flatness", "straight edge over all of the face: widest band"),
    ("dishing", "straight edge across the panel, at its highest place, AS IT IS"),
    ("change of dishing", "straight edge at the place that was highest before"),
    (
        "bow of bay",
        "straight edge across the bay on the bare side{at}, stiffener to stiffener: gap",
    ),
    ("bow", "string from end to end: largest distance anywhere"),
    ("distortion of a section", "square and callipers on the section at the heats"),
    ("change of extent", "tape over all"),
)
"""How a shop takes a measure, by how its name begins (common practice, no source)."""
_LEFT_OUT = ("mean ", "developed ", "shortening along the axis")
BEFORE = " before the job"
_ORDER = (
    "dishing", "change of dishing", "flatness of the panel", "angular change", "camber", "sweep",
    "closing rotation", "flatness", "tilt of the", "bow of bay", "twist", "distortion of a section",
    "transverse shrinkage", "longitudinal shrinkage of the line", "shortening", "edge rise",
)  # fmt: skip
"""By how their names begin: what a shop asks for first; the rest follows."""
_OF_A_LINE = ("angular change", "edge rise", "of the line")
"""In names of measures that a plate without a heated line does not have."""
_OF_EDGES = (
    "sweep", "twist", "transverse shrinkage", "longitudinal shrinkage", "bow of the", "camber",
)  # fmt: skip
"""How measures begin that are 0 where all edges of a plate are held for good."""
_NOT_TAPED = ("MPa",)
_PLANES = (
    ("its depth", "in the plane of the depth"), ("its thickness", "across the thickness"),
    ("upright", "upright"), ("sideways", "sideways"), ("along", "this way"),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class SheetMeasure:
    """A measure on a heat sheet.

    Args:
        name: of it.
        predicted: since just before the first heat, or as it is, with its sign; empty: not
            computed.
        of_this_cycle: what this cycle adds, where there were cycles before; else empty.
        unit: trade unit.
        sign: which way is positive.
        how: where and with what it is taken.
    """

    name: str
    predicted: str
    of_this_cycle: str
    unit: str
    sign: str
    how: str


def sheet_measures(
    case: Case, mesh: MeshHex, material: Material, cycle: int, result: RunResult | None = None
) -> tuple[SheetMeasure, ...]:
    """Measures of a cycle that a shop can take; without a result their values are left open.

    Args:
        case, mesh, material: what is heated.
        cycle: number of the cycle.
        result: a finished run of it.
    """
    before: tuple[Measure, ...] = ()
    if result is None:
        found = _unsolved(case, mesh, material, cycle)
    else:
        known = _since_lighting(result, material)
        found, before = known.get(cycle, ()), known.get(cycle - 1, ())
    heats = heats_until(case, cycle)
    lines = not isinstance(case.workpiece, Plate) or any(
        len(points) > 1 for heat in heats for points in paths_of(heat)
    )
    welded_in = isinstance(case.workpiece, Plate) and all(
        any(
            isinstance(one, Clamp) and one.face == side and one.released == "never"
            for one in case.supports
        )
        for side in ("start", "end", "near", "far")
    )
    kept = [
        (i, one)
        for i, one in enumerate(found)
        if one.unit not in _NOT_TAPED
        and not one.name.endswith(" in mrad")
        and not one.name.startswith(_LEFT_OUT)
        and not one.name.endswith(BEFORE)
        and (lines or not any(word in one.name for word in _OF_A_LINE))
        and not (welded_in and one.name.startswith(_OF_EDGES))
    ]
    kept.sort(key=lambda item: _rank(item[1].name))
    made = []
    for place, one in kept[:MOST]:
        earlier = before[place] if place < len(before) else None
        step = one.value - earlier.value if earlier and earlier.name == one.name else None
        made.append(
            SheetMeasure(
                name=one.name,
                predicted="" if result is None else signed(one.value),
                of_this_cycle="" if step is None else signed(step),
                unit=one.unit,
                sign=sign_words(one.meaning),
                how=how_taken(one),
            )
        )
    return tuple(made)


def _since_lighting(result: RunResult, material: Material) -> dict[int, tuple[Measure, ...]]:
    """Measures of each cycle as a shop finds them that measures before lighting and after cooling:
    what loads and devices did before the first heat is no change to it.

    A part with a shape of its own before the job is told as it is; where a force is taken off
    before the part is measured, what it did before the first heat is not in the end either.
    """
    known = {one.cycle: one.measures for one in result.cycles}
    strain = result.strain
    taken_off = any(
        one.released != "never" and not isinstance(one, Clamp | Guide | Points | Rest)
        for one in (*result.case.supports, *result.case.loads)
    )
    if not result.heats or result.initial_shape is not None or taken_off:
        return known
    lit = min(one.start_s for one in result.heats)
    row = max(int(np.searchsorted(strain.times, lit, side="right")) - 1, 0)
    earlier = np.asarray(strain.displacements[row])
    if float(np.abs(earlier).max()) < UNMOVED:
        return known
    body = Body(mesh=result.mesh, materials=(material,))
    ends = {one.cycle: end for one, end in zip(result.cycles, strain.ends, strict=True)}
    return {
        cycle: measures_of(
            result.case, body, replace(end, displacement=end.displacement - earlier), cycle
        )
        for cycle, end in ends.items()
    }


def how_taken(measure: Measure) -> str:
    """Where and with what a shop takes a measure.

    Example:
        >>> how_taken(Measure(name="twist", value=0, unit="deg", meaning="end against start"))
        'spirit level across both ends: difference'
    """
    for start, words in HOW:
        if measure.name.startswith(start):
            plane = next((said for told, said in _PLANES if told in measure.meaning), "this way")
            at = re.search(r"at x = (\d+) mm", measure.meaning)
            return words.format(plane=plane, at=f" at {at[1]} mm" if at else "")
    return measure.meaning.split(";")[0]


def _rank(name: str) -> int:
    return next((i for i, start in enumerate(_ORDER) if name.startswith(start)), len(_ORDER))


def signed(value: float) -> str:
    """A number with its sign, no finer than a shop measures: to 0.01.

    Example:
        >>> signed(0.3561), signed(-12.0), signed(0.004), signed(1234.5)
        ('+0.36', '-12.0', '0.00', '+1234')
    """
    if abs(value) < 0.5 * FINEST:
        return "0.00"
    return f"{value:+.{2 if abs(value) < 10.0 else 1 if abs(value) < 100.0 else 0}f}"


def _unsolved(case: Case, mesh: MeshHex, material: Material, cycle: int) -> tuple[Measure, ...]:
    """The measures of a part that has not moved: their names, units and signs."""
    nodes, cells = mesh.p.shape[1], mesh.nelements
    nothing: Any = np.zeros((cells, 8, 6))
    still = EndState(
        name=f"cycle {cycle}", time=0.0, displacement=np.zeros((nodes, 3)), stress=nothing,
        plastic_strain=nothing, equivalent_plastic_strain=np.zeros((cells, 8)),
    )  # fmt: skip
    initial = None if case.initial_shape is None else np.zeros((nodes, 3))
    return measures_of(case, Body(mesh=mesh, materials=(material,)), still, cycle, initial)
