"""How far a case's part reaches, and whether points lie on it."""

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from flamefe.study.beam_sections import extent_mm, faces_of_beam, is_beam
from flamefe.workpiece.extrude import BEAM_ENDS
from flamefe.workpiece.faces import FACE_AXES

MM = 1e-3
_SLACK = 1e-6

_EXTENTS = {
    "plate": ("length_mm", "width_mm", "thickness_mm"),
    "bar": ("length_mm", "depth_mm", "thickness_mm"),
}


def size_of(workpiece: Mapping[str, Any]) -> tuple[float, float, float] | None:
    """Extent of a plate, bar or beam along x, y, z, mm, as far as it could be read.

    Args:
        workpiece: what could be read of it.

    Returns:
        Infinity where an extent could not be read; None for a mesh file, and for a beam of which
        not all could be read.

    Example:
        >>> size_of({"kind": "plate", "length_mm": 400.0, "width_mm": 200.0})
        (400.0, 200.0, inf)
    """
    if is_beam(workpiece):
        return extent_mm(workpiece)
    names = _EXTENTS.get(workpiece.get("kind", ""))
    if names is None:
        return None
    x, y, z = (workpiece.get(name, math.inf) for name in names)
    return (x, y, z)


class Reach(NamedTuple):
    """From where to where points on a face may lie, mm, and what its two coordinates are called."""

    ends: tuple[float, float]
    axes: tuple[str, str]
    lows: tuple[float, float] = (0.0, 0.0)


def reach_of(workpiece: Mapping[str, Any], face: Any) -> Reach | None:
    """Where points may lie on a face; None where the face or its extent is not known.

    On a closed face (a tube) v may lie up to once round before and after its circumference.

    Example:
        >>> reach_of({"kind": "plate", "length_mm": 400.0, "width_mm": 200.0}, "top")
        Reach(ends=(400.0, 200.0), axes=('x', 'y'), lows=(0.0, 0.0))
    """
    size = size_of(workpiece)
    if size is not None and face in FACE_AXES and (not is_beam(workpiece) or face in BEAM_ENDS):
        first, second = FACE_AXES[face]
        return Reach((size[first], size[second]), ("xyz"[first], "xyz"[second]))
    faces = faces_of_beam(workpiece)
    if faces is None or face not in faces.maps:
        return None
    found = faces.maps[face]
    length, (_, last) = faces.length / MM, found.span[1]
    round_it = last / found.stretch / MM
    lows, ends = (0.0, 0.0), (length, round_it)
    if found.period is not None:
        lows, ends = (0.0, -round_it), (length, 2.0 * round_it)
    return Reach(tuple(round(end, 6) for end in ends), ("station", "v"), lows)  # type: ignore[arg-type]


def outside(
    point: Sequence[float],
    ends: Sequence[float],
    axes: Sequence[str],
    lows: Sequence[float] | None = None,
) -> str:
    """By how much a point lies outside ranges up to their ends, in words; empty: inside.

    The ranges start at 0, or at ``lows``.

    Example:
        >>> outside((450, -3), (400, 200), "xy")
        '50 mm beyond x = 400 and 3 mm before y = 0'
        >>> outside((400, 0), (400, 200), "xy")
        ''
    """
    return " and ".join(
        f"{value - end:g} mm beyond {axis} = {end:g}"
        if value > end
        else f"{low - value:g} mm before {axis} = {low:g}"
        for value, end, axis, low in zip(point, ends, axes, lows or (0.0,) * 3, strict=False)
        if value > end + _SLACK or value < low - _SLACK
    )


def ranges(ends: Sequence[float], axes: Sequence[str], lows: Sequence[float] | None = None) -> str:
    """Ranges from 0, or from ``lows``, to their ends in words.

    Example:
        >>> ranges((400, 200, math.inf), "xyz")
        'x from 0 to 400, y from 0 to 200, z from 0 mm'
    """
    parts = [
        f"{axis} from {low:g}" + (f" to {end:g}" if math.isfinite(end) else "")
        for axis, end, low in zip(axes, ends, lows or (0.0,) * 3, strict=False)
    ]
    return ", ".join(parts) + " mm"
