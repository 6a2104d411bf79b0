"""How straight and flat a part is after a cycle, by the classes of ISO 13920."""

import re
from collections.abc import Sequence

import numpy as np

from flamefe.outcome.measure import Measure
from flamefe.outcome.tolerance import (
    SHORTEST_MM,
    ShapeFinding,
    iso_13920_class,
    iso_13920_limit_mm,
)
from flamefe.study.case import Case, MeshFile, Plate
from flamefe.study.measuring import heats_until, line_axis

STRAIGHT = re.compile(r"^(camber|sweep|bow)\b")
"""Measures that are distances from a straight line."""
FLAT, PANEL = "flatness", "flatness of the panel"


def shape_findings(
    case: Case, measures: Sequence[Measure], cycle: int, size_mm: Sequence[float]
) -> tuple[ShapeFinding, ...]:
    """Class of each measure of straightness and flatness.

    A plate with an initial shape is judged by its flatness as it then is. Everything else is
    measured from the shape before the job, so its class is that of a part that was straight.

    Args:
        case: what was asked.
        measures: of the cycle.
        cycle: its number.
        size_mm: extent of the part along x, y and z, mm.

    Source: ISO 13920 (see ``flamefe.outcome.tolerance``).

    Example:
        >>> from flamefe.study.case import Flame, Limits, SpotHeat
        >>> case = Case(title="a spot",
        ...     workpiece=Plate(length_mm=600, width_mm=400, thickness_mm=10, material="S355"),
        ...     flames={"small": Flame(power_kW=3, radius_mm=16)},
        ...     heats=[SpotHeat(flame="small", face="top", at_mm=[300, 200], time_s=10)],
        ...     limits=Limits(shape_class="E"))
        >>> flat = Measure(name="flatness", value=2.0, unit="mm", meaning="never below 0")
        >>> [found] = shape_findings(case, [flat], 1, (600, 400, 10))
        >>> found.kept, found.allowed_mm, found.within
        ('F', 1.5, False)
    """
    asked = case.limits.shape_class
    along = _length(case, cycle, size_mm)
    known = case.initial_shape is not None
    result = []
    for measure in measures:
        straight, flat = bool(STRAIGHT.match(measure.name)), measure.name in (FLAT, PANEL)
        judged = measure.name == PANEL if known else straight or flat
        length = float(max(size_mm)) if flat else along
        if not judged or measure.unit != "mm" or length <= SHORTEST_MM:
            continue
        size = abs(measure.value)
        result.append(
            ShapeFinding(
                measure=measure.name,
                deviation_mm=size,
                length_mm=length,
                kept=iso_13920_class(size, length),
                asked=asked,
                allowed_mm=None if asked is None else iso_13920_limit_mm(asked, length),
                from_straight=not known,
            )
        )
    return tuple(result)


def _length(case: Case, cycle: int, size_mm: Sequence[float]) -> float:
    """Length of the edges and lines that are measured, mm: along most of a plate's heats."""
    if isinstance(case.workpiece, MeshFile):
        return float(np.max(size_mm))
    if isinstance(case.workpiece, Plate):
        flat = [heat for heat in heats_until(case, cycle) if heat.face in ("top", "bottom")]
        return float(size_mm[0 if line_axis(flat) == "x" else 1])
    return float(size_mm[0])
