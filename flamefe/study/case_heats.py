"""The part of a case that says how it is heated: flames, heats, and where a flame is when."""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_part import FacePoint, MovingPath, Name, Number, WholeNumber, Words, part

_COOL_TO = "Hottest place of the part must fall to this before the next heat, C."
_FACE = "Face of the part on which the flame burns."
_CYCLE = "Number of the cycle (heat, cool fully, measure), from 1."


@part
class Flame:
    """A flame as the part feels it: q = P / (pi R^2) exp(-r^2 / R^2).

    Args:
        power_kW: P, heat that the part takes up, kW, above 0, up to 200.
        radius_mm: R, mm, 1 to 200; 63 % of the heat falls within it.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> Flame(power_kW=7, radius_mm=18).radius_mm
        18.0
    """

    power_kW: Annotated[Number, Field(gt=0, le=200, description="Heat that the part takes up, kW.")]
    radius_mm: Annotated[
        Number,
        Field(ge=1, le=200, description="R in q = P / (pi R^2) exp(-r^2 / R^2), mm."),
    ]


@part
class LineHeat:
    """A flame that moves along a path at a steady speed.

    Args:
        kind: "line".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        path_mm: two or more points in the face's own coordinates, mm (top, bottom: x, y; near,
            far: x, z; start, end: y, z); none at the place of the one before.
        speed_mm_s: mm/s, 0.1 to 200.
        cool_to_C: hottest place of the part must fall to this before the next heat, C, -50 to
            2000, above ambient; None: 10 K above ambient.
        cycle: number of its cycle, from 1, up to 1000.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> heat = LineHeat(flame="torch", face="top", path_mm=[[50, 100], [350, 100]],
        ...                 speed_mm_s=6)
        >>> burn_time_s(heat)
        50.0
    """

    kind: Annotated[Literal["line"], Field(description="A flame that moves.")] = "line"
    name: Annotated[Words, Field(description="What to call it.")] = ""
    flame: Annotated[Name, Field(description="Name of one of the flames.")]
    face: Annotated[Name, Field(description=_FACE)]
    path_mm: Annotated[
        MovingPath, Field(description="Points of the path in the face's two coordinates, mm.")
    ]
    speed_mm_s: Annotated[
        Number, Field(ge=0.1, le=200, description="Speed of the flame along its path, mm/s.")
    ]
    cool_to_C: Annotated[Number | None, Field(ge=-50, le=2000, description=_COOL_TO)] = None
    cycle: Annotated[WholeNumber, Field(ge=1, le=1000, description=_CYCLE)] = 1


@part
class SpotHeat:
    """A flame that stands still.

    Args:
        kind: "spot".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        at_mm: a point in the face's own coordinates, mm.
        time_s: how long it burns, s, 0.1 to 3600.
        cool_to_C: hottest place of the part must fall to this before the next heat, C, -50 to
            2000, above ambient; None: 10 K above ambient.
        cycle: number of its cycle, from 1, up to 1000.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> burn_time_s(SpotHeat(flame="torch", face="top", at_mm=[200, 100], time_s=20))
        20.0
    """

    kind: Annotated[Literal["spot"], Field(description="A flame that stands.")] = "spot"
    name: Annotated[Words, Field(description="What to call it.")] = ""
    flame: Annotated[Name, Field(description="Name of one of the flames.")]
    face: Annotated[Name, Field(description=_FACE)]
    at_mm: Annotated[
        FacePoint, Field(description="Place of the flame in the face's two coordinates, mm.")
    ]
    time_s: Annotated[Number, Field(ge=0.1, le=3600, description="How long it burns, s.")]
    cool_to_C: Annotated[Number | None, Field(ge=-50, le=2000, description=_COOL_TO)] = None
    cycle: Annotated[WholeNumber, Field(ge=1, le=1000, description=_CYCLE)] = 1


_TARGET = "Temperature at which the hottest place under the torch is held, C."
_FASTEST = "Greatest speed of the hand, mm/s."
_DWELL = "Longest stand before the torch moves on without the target, s."


@part
class HeldLine:
    """A flame that is moved along a path so that the surface under it stays at a temperature.

    Args:
        kind: "held line".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        path_mm: two or more points in the face's own coordinates, mm.
        target_C: hottest place under the torch, C, 100 to 1400.
        manner: "hold" (the speed keeps the target) or "dwell" (stand until the target is
            reached, then advance).
        advance_mm: between stands, mm, 1 to 500; with "dwell" alone.
        fastest_mm_s: greatest speed, mm/s, 0.1 to 200.
        longest_dwell_s: longest stand before the torch moves on without the target, s.
        cool_to_C, cycle: as of a line.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> HeldLine(flame="torch", face="top", path_mm=[[50, 100], [350, 100]],
        ...          target_C=650).manner
        'hold'
    """

    kind: Annotated[
        Literal["held line"], Field(description="A flame driven by the temperature under it.")
    ] = "held line"
    name: Annotated[Words, Field(description="What to call it.")] = ""
    flame: Annotated[Name, Field(description="Name of one of the flames.")]
    face: Annotated[Name, Field(description=_FACE)]
    path_mm: Annotated[
        MovingPath, Field(description="Points of the path in the face's two coordinates, mm.")
    ]
    target_C: Annotated[Number, Field(ge=100, le=1400, description=_TARGET)]
    manner: Annotated[
        Literal["hold", "dwell"], Field(description="Hold the target moving, or stand and advance.")
    ] = "hold"
    advance_mm: Annotated[Number, Field(ge=1, le=500, description="Between stands, mm.")] = 10.0
    fastest_mm_s: Annotated[Number, Field(ge=0.1, le=200, description=_FASTEST)] = 20.0
    longest_dwell_s: Annotated[Number, Field(ge=1, le=3600, description=_DWELL)] = 120.0
    cool_to_C: Annotated[Number | None, Field(ge=-50, le=2000, description=_COOL_TO)] = None
    cycle: Annotated[WholeNumber, Field(ge=1, le=1000, description=_CYCLE)] = 1


@part
class WedgeHeat:
    """A wedge (vee) driven from its apex to its base, the torch swung over its growing width.

    ::

              apex o            the front runs from apex to base and is held
                  / \\           at the target; the metal beside it is cold and
                 /   \\          holds it, so it upsets
          base  o--.--o

    Args:
        kind: "wedge".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        both_faces: a second, equal flame burns opposite on the other face.
        apex_mm: point in the face's own coordinates, mm.
        base_mm: middle of the base, mm.
        angle_deg: opening of the wedge, degrees, 5 to 90.
        target_C: hottest place under the torch, C, 100 to 1400.
        fastest_mm_s: greatest speed of the front, mm/s, 0.1 to 200.
        longest_dwell_s: longest stand before the front moves on without the target, s.
        cool_to_C, cycle: as of a line.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> wedge = WedgeHeat(flame="torch", face="top", apex_mm=[300, 25], base_mm=[300, 100],
        ...                   angle_deg=45, target_C=650)
        >>> round(base_width_mm(wedge), 1)
        62.1
    """

    kind: Annotated[Literal["wedge"], Field(description="A wedge from apex to base.")] = "wedge"
    name: Annotated[Words, Field(description="What to call it.")] = ""
    flame: Annotated[Name, Field(description="Name of one of the flames.")]
    face: Annotated[Name, Field(description=_FACE)]
    both_faces: Annotated[
        bool, Field(description="An equal flame burns opposite on the other face.")
    ] = False
    apex_mm: Annotated[
        FacePoint, Field(description="Apex of the wedge in the face's two coordinates, mm.")
    ]
    base_mm: Annotated[
        FacePoint, Field(description="Middle of its base in the face's two coordinates, mm.")
    ]
    angle_deg: Annotated[Number, Field(ge=5, le=90, description="Opening of the wedge, degrees.")]
    target_C: Annotated[Number, Field(ge=100, le=1400, description=_TARGET)]
    fastest_mm_s: Annotated[Number, Field(ge=0.1, le=200, description=_FASTEST)] = 20.0
    longest_dwell_s: Annotated[Number, Field(ge=1, le=3600, description=_DWELL)] = 300.0
    cool_to_C: Annotated[Number | None, Field(ge=-50, le=2000, description=_COOL_TO)] = None
    cycle: Annotated[WholeNumber, Field(ge=1, le=1000, description=_CYCLE)] = 1


AnyHeat = LineHeat | SpotHeat | HeldLine | WedgeHeat
"""A heat of any kind."""
Heat = Annotated[AnyHeat, Field(discriminator="kind")]
"""A heat of any kind, told apart by its kind."""


def path_of(heat: AnyHeat) -> tuple[tuple[float, float], ...]:
    """Points of a heat in its face's two coordinates, mm; one point for a spot.

    Example:
        >>> path_of(SpotHeat(flame="torch", face="top", at_mm=[200, 100], time_s=20))
        ((200.0, 100.0),)
    """
    if isinstance(heat, LineHeat | HeldLine):
        return heat.path_mm
    return (heat.apex_mm, heat.base_mm) if isinstance(heat, WedgeHeat) else (heat.at_mm,)


def base_width_mm(heat: WedgeHeat) -> float:
    """Width of a wedge's base, mm: 2 depth tan(angle / 2)."""
    return 2.0 * math.dist(heat.apex_mm, heat.base_mm) * math.tan(math.radians(heat.angle_deg) / 2)


def outline_of(heat: AnyHeat) -> tuple[tuple[float, float], ...]:
    """Points between which a heat lies, mm: its path, of a wedge its three corners.

    Example:
        >>> outline_of(WedgeHeat(flame="t", face="top", apex_mm=[0, 0], base_mm=[0, 50],
        ...                      angle_deg=90, target_C=600))
        ((0.0, 0.0), (-50.0, 50.0), (50.0, 50.0))
    """
    if not isinstance(heat, WedgeHeat):
        return path_of(heat)
    return wedge_corners(heat.apex_mm, heat.base_mm, heat.angle_deg)


def wedge_corners(
    apex: tuple[float, float], base: tuple[float, float], angle_deg: float
) -> tuple[tuple[float, float], ...]:
    """Apex and the two ends of the base, in the unit of the points."""
    half = math.tan(math.radians(angle_deg) / 2.0)
    along = (base[0] - apex[0], base[1] - apex[1])
    side = (round(-along[1] * half, 9) + 0.0, round(along[0] * half, 9) + 0.0)
    return (
        apex,
        (base[0] + side[0], base[1] + side[1]),
        (base[0] - side[0], base[1] - side[1]),
    )


def path_length_mm(heat: AnyHeat) -> float:
    """Length of a heat's path, mm; 0 for a spot.

    Example:
        >>> path_length_mm(LineHeat(flame="torch", face="top", speed_mm_s=6,
        ...                         path_mm=[[0, 0], [30, 40], [30, 50]]))
        60.0
    """
    return length_of(path_of(heat))


def length_of(points: Sequence[tuple[float, float]]) -> float:
    """Length of the straight pieces between points, in their unit.

    Example:
        >>> length_of([(0, 0), (30, 40)])
        50.0
    """
    return math.fsum(math.dist(a, b) for a, b in pairwise(points))


def burn_time_s(heat: LineHeat | SpotHeat) -> float:
    """How long a heat's flame burns, s: path length over speed, or the time of a spot."""
    if isinstance(heat, LineHeat):
        return path_length_mm(heat) / heat.speed_mm_s
    return heat.time_s


def timed_path(heat: LineHeat | SpotHeat) -> tuple[tuple[float, float, float], ...]:
    """Where a heat's flame is when; between two entries it moves straight at a steady speed.

    Returns:
        (time since the flame was lit, s; the face's first and second coordinate, mm) at each
        point of the path; for a spot at lighting and at putting out.

    Example:
        >>> timed_path(LineHeat(flame="torch", face="top", speed_mm_s=5,
        ...                     path_mm=[[0, 0], [30, 40], [30, 50]]))
        ((0.0, 0.0, 0.0), (10.0, 30.0, 40.0), (12.0, 30.0, 50.0))
    """
    if isinstance(heat, SpotHeat):
        return ((0.0, *heat.at_mm), (heat.time_s, *heat.at_mm))
    gone = [0.0]
    for before, after in pairwise(heat.path_mm):
        gone.append(gone[-1] + math.dist(before, after))
    return tuple(
        (length / heat.speed_mm_s, *point) for length, point in zip(gone, heat.path_mm, strict=True)
    )
