"""How far a case's part reaches, and whether points lie on it."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

_SLACK = 1e-6

_EXTENTS = {
    "plate": ("length_mm", "width_mm", "thickness_mm"),
    "bar": ("length_mm", "depth_mm", "thickness_mm"),
}


def size_of(workpiece: Mapping[str, Any]) -> tuple[float, float, float] | None:
    """Extent of a plate or bar along x, y, z, mm, as far as it could be read.

    Args:
        workpiece: what could be read of it.

    Returns:
        Infinity where an extent could not be read; None for a mesh file.

    Example:
        >>> size_of({"kind": "plate", "length_mm": 400.0, "width_mm": 200.0})
        (400.0, 200.0, inf)
    """
    names = _EXTENTS.get(workpiece.get("kind", ""))
    if names is None:
        return None
    x, y, z = (workpiece.get(name, math.inf) for name in names)
    return (x, y, z)


def outside(point: Sequence[float], ends: Sequence[float], axes: Sequence[str]) -> str:
    """By how much a point lies outside ranges from 0 to their ends, in words; empty: inside.

    Example:
        >>> outside((450, -3), (400, 200), "xy")
        '50 mm beyond x = 400 and 3 mm before y = 0'
        >>> outside((400, 0), (400, 200), "xy")
        ''
    """
    return " and ".join(
        f"{value - end:g} mm beyond {axis} = {end:g}"
        if value > end
        else f"{-value:g} mm before {axis} = 0"
        for value, end, axis in zip(point, ends, axes, strict=True)
        if value > end + _SLACK or value < -_SLACK
    )


def ranges(ends: Sequence[float], axes: Sequence[str]) -> str:
    """Ranges from 0 to their ends in words.

    Example:
        >>> ranges((400, 200, math.inf), "xyz")
        'x from 0 to 400, y from 0 to 200, z from 0 mm'
    """
    parts = [
        f"{axis} from 0" + (f" to {end:g}" if math.isfinite(end) else "")
        for axis, end in zip(axes, ends, strict=True)
    ]
    return ", ".join(parts) + " mm"
