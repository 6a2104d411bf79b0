"""What a cycle left behind, in the trade's measures, and the closed-form rules beside it."""

from collections.abc import Sequence
from itertools import pairwise

from flamefe.heating.history import TemperatureHistory
from flamefe.outcome.distortion import measure_distortion
from flamefe.outcome.measure import Measure
from flamefe.rules.value import RuleValue
from flamefe.straining.history import EndState
from flamefe.study.case import Bar, Case, LineHeat, Plate, SpotHeat, path_of
from flamefe.study.result import CycleOutcome
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material

MM = 1e-3
INNER = (0.05, 0.95)
"""A heated strip is taken out of the wings of a plate only while it lies within these shares."""


def heats_until(case: Case, cycle: int) -> tuple[LineHeat | SpotHeat, ...]:
    """Heats made up to and with a cycle."""
    return tuple(heat for heat in case.heats if heat.cycle <= cycle)


def distortion_of(case: Case, body: Body, end: EndState, cycle: int) -> tuple[Measure, ...]:
    """Distortion of the part at the end of a cycle, since the start of the job.

    A plate's wings are what lies beside the strip that its heats on top and bottom cover, two
    flame radii either side of their paths; a bar's straight ends what lies beyond the heats.
    """
    piece = case.workpiece
    heats = heats_until(case, cycle)
    if isinstance(piece, Plate):
        flat = [heat for heat in heats if heat.face in ("top", "bottom")]
        along = _line_axis(flat)
        across = 1 if along == "x" else 0
        extent = piece.width_mm if across == 1 else piece.length_mm
        below = bool(flat) and all(heat.face == "bottom" for heat in flat)
        return measure_distortion(
            body.points,
            end.displacement,
            kind="plate",
            heated=_covered(case, flat, across, extent),
            line_along="x" if along == "x" else "y",
            torch_face="bottom" if below else "top",
        )
    if isinstance(piece, Bar):
        lengthwise = [heat for heat in heats if heat.face not in ("start", "end")]
        strip = _covered(case, lengthwise, 0, piece.length_mm)
        return measure_distortion(body.points, end.displacement, kind="bar", heated=strip)
    return measure_distortion(body.points, end.displacement, kind="mesh file")


def _line_axis(heats: Sequence[LineHeat | SpotHeat]) -> str:
    """Axis along which most of the path length runs; x where nothing moves."""
    run = [0.0, 0.0]
    for heat in heats:
        points = path_of(heat)
        for one, other in pairwise(points):
            for axis in (0, 1):
                run[axis] += abs(other[axis] - one[axis])
    return "y" if run[1] > run[0] else "x"


def _covered(
    case: Case, heats: Sequence[LineHeat | SpotHeat], axis: int, extent_mm: float
) -> tuple[float, float] | None:
    """From where to where heats cover the part along an axis, m; None where hardly any is left."""
    low, high = float("inf"), -float("inf")
    for heat in heats:
        reach = 2.0 * case.flames[heat.flame].radius_mm
        places = [point[axis] for point in path_of(heat)]
        low, high = min(low, min(places) - reach), max(high, max(places) + reach)
    if not heats or low < INNER[0] * extent_mm or high > INNER[1] * extent_mm:
        return None
    return low * MM, high * MM


def rules_beside(
    case: Case, material: Material, heat: TemperatureHistory, cycles: Sequence[CycleOutcome]
) -> tuple[RuleValue, ...]:
    """Closed-form rules on the case's own numbers, each beside the simulated one."""
    del case, material, heat, cycles
    return ()
