"""Heats of all kinds, and where each of them takes the torch."""

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import lru_cache
from itertools import pairwise
from typing import Annotated, Any

from pydantic import Field

from flamefe.basics.errors import OutOfRange
from flamefe.heating.pattern import Pattern, Place, band, line, oval, ring, wedge
from flamefe.heating.pattern_spots import spot, spot_field
from flamefe.study.case_heats import HeldLine, LineHeat, SpotHeat, WedgeHeat
from flamefe.study.case_patterns import BandHeat, OvalHeat, RingHeat, SpotField
from flamefe.study.faults import CaseError

MM = 1e-3

AnyHeat = LineHeat | SpotHeat | HeldLine | WedgeHeat | SpotField | BandHeat | OvalHeat | RingHeat
"""A heat of any kind."""
Heat = Annotated[AnyHeat, Field(discriminator="kind")]
"""A heat of any kind, told apart by its kind."""
HEATS: tuple[type[AnyHeat], ...] = (
    LineHeat, SpotHeat, HeldLine, WedgeHeat, SpotField, BandHeat, OvalHeat, RingHeat,
)  # fmt: skip
"""The kinds of heats."""


@lru_cache(maxsize=512)
def pattern_of(heat: AnyHeat) -> Pattern:
    """The pattern of a heat on its face, m.

    Raises:
        OutOfRange: its dimensions can't be.

    Example:
        >>> print(pattern_of(WedgeHeat(flame="torch", face="top", apex_mm=[300, 25],
        ...     base_mm=[300, 100], angle_deg=45, target_C=650)).words)
        wedge: depth 75 mm, base 62.13 mm, angle 45 degrees
    """
    if isinstance(heat, LineHeat | HeldLine):
        return line([_metres(point) for point in heat.path_mm])
    if isinstance(heat, SpotHeat):
        return spot(_metres(heat.at_mm))
    if isinstance(heat, WedgeHeat):
        apex, base = _metres(heat.apex_mm), _metres(heat.base_mm)
        return wedge(apex, base, angle_deg=heat.angle_deg)
    if isinstance(heat, RingHeat):
        return ring(
            _metres(heat.centre_mm),
            radius=heat.ring_mm * MM,
            start_deg=heat.start_deg,
            way=-1 if heat.back else 1,
        )
    start, end = _metres(heat.from_mm), _metres(heat.to_mm)
    if isinstance(heat, SpotField):
        return spot_field(
            start,
            end,
            spacing=heat.spacing_mm * MM,
            arrangement=heat.arrangement,
            order=heat.order,
        )
    if isinstance(heat, OvalHeat):
        return oval(start, end, width=heat.width_mm * MM)
    return band(
        start,
        end,
        width=heat.width_mm * MM,
        manner=heat.manner,
        passes=heat.passes,
        alternate=heat.alternate,
    )


def heat_in(values: Mapping[str, Any]) -> AnyHeat | None:
    """The heat that could be read with these values; None where they don't make one."""
    for kind in HEATS:
        if kind.kind == values.get("kind"):
            with suppress(CaseError, OutOfRange):
                heat = kind(**values)
                pattern_of(heat)
                return heat
    return None


def target_of(heat: AnyHeat) -> float | None:
    """The temperature by which its torch is driven, C; None where it is driven by time."""
    return None if isinstance(heat, LineHeat) else heat.target_C


def speed_of(heat: AnyHeat) -> float | None:
    """Its speed, mm/s; None where it stands or is driven by temperature."""
    return getattr(heat, "speed_mm_s", None)


def path_of(heat: AnyHeat) -> tuple[Place, ...]:
    """Points of a heat in its face's two coordinates, mm, in their order; one for a spot.

    Example:
        >>> path_of(SpotHeat(flame="torch", face="top", at_mm=[200, 100], time_s=20))
        ((200.0, 100.0),)
    """
    if isinstance(heat, LineHeat | HeldLine):
        return heat.path_mm
    if isinstance(heat, SpotHeat):
        return (heat.at_mm,)
    if isinstance(heat, WedgeHeat):
        return (heat.apex_mm, heat.base_mm)
    return tuple(point for points in paths_of(heat) for point in points)


def paths_of(heat: AnyHeat) -> tuple[tuple[Place, ...], ...]:
    """Points of each stroke of a heat, mm."""
    if isinstance(heat, LineHeat | HeldLine | SpotHeat | WedgeHeat):
        return (path_of(heat),)
    return tuple(
        tuple((round(1e3 * u, 6), round(1e3 * v, 6)) for u, v in stroke.points)
        for stroke in pattern_of(heat).strokes
    )


def outline_of(heat: AnyHeat) -> tuple[Place, ...]:
    """Points between which a heat lies, mm: its path with the ends of its weave.

    Example:
        >>> outline_of(WedgeHeat(flame="t", face="top", apex_mm=[0, 0], base_mm=[0, 50],
        ...                      angle_deg=90, target_C=600))
        ((0.0, 0.0), (-50.0, 50.0), (50.0, 50.0))
    """
    if isinstance(heat, WedgeHeat):
        outline = pattern_of(heat).outline
        ends = (outline[0], *outline[-2:])
        return tuple((round(1e3 * u, 6) + 0.0, round(1e3 * v, 6) + 0.0) for u, v in ends)
    if isinstance(heat, LineHeat | HeldLine | SpotHeat):
        return path_of(heat)
    return tuple((round(1e3 * u, 6), round(1e3 * v, 6)) for u, v in pattern_of(heat).outline)


def path_length_mm(heat: AnyHeat) -> float:
    """Length of all strokes of a heat, mm; 0 for spots.

    Example:
        >>> path_length_mm(LineHeat(flame="torch", face="top", speed_mm_s=6,
        ...                         path_mm=[[0, 0], [30, 40], [30, 50]]))
        60.0
    """
    return math.fsum(length_of(points) for points in paths_of(heat))


def length_of(points: Sequence[Place]) -> float:
    """Length of the straight pieces between points, in their unit.

    Example:
        >>> length_of([(0, 0), (30, 40)])
        50.0
    """
    return math.fsum(math.dist(a, b) for a, b in pairwise(points))


def burn_time_s(heat: AnyHeat) -> float | None:
    """How long a heat's flame burns in all, s; None where it is driven by temperature.

    Example:
        >>> burn_time_s(SpotField(flame="torch", face="top", from_mm=[0, 0], to_mm=[200, 0],
        ...                       spacing_mm=100, time_s=12))
        36.0
    """
    speed, time = speed_of(heat), getattr(heat, "time_s", None)
    if speed is not None:
        return path_length_mm(heat) / speed
    return None if time is None else time * len(paths_of(heat))


def _metres(point: Place) -> Place:
    return (point[0] * MM, point[1] * MM)
