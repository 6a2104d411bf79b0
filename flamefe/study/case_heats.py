"""The part of a case that says how it is heated: lines, spots, held lines, wedges; and water."""

import math
from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_part import (
    FacePoint,
    MovingPath,
    Name,
    Number,
    RisingPairs,
    WholeNumber,
    Words,
    part,
)

SPEED = "Speed of the flame along its path, mm/s."
TARGET = "Temperature at which the hottest place under the torch is held, C."
UNTIL = "The flame burns until the surface under it has reached this, C."

HeatName = Annotated[Words, Field(description="What to call it.")]
FlameName = Annotated[Name, Field(description="Name of one of the flames.")]
FaceName = Annotated[Name, Field(description="Face of the part on which the flame burns.")]
BothFaces = Annotated[bool, Field(description="An equal flame burns opposite on the other face.")]
CoolTo = Annotated[
    Number | None,
    Field(
        ge=-50,
        le=2000,
        description="Hottest place of the part must fall to this before the next heat, C.",
    ),
]
Cycle = Annotated[
    WholeNumber,
    Field(ge=1, le=1000, description="Number of the cycle (heat, cool fully, measure), from 1."),
]
Fastest = Annotated[Number, Field(ge=0.1, le=200, description="Greatest speed of the hand, mm/s.")]
Slowest = Annotated[
    Number,
    Field(ge=0, le=200, description="Least speed of the hand, mm/s; slower than this it stands."),
]
Dwell = Annotated[
    Number,
    Field(
        ge=1, le=3600, description="Longest stand before the torch moves on without the target, s."
    ),
]


@part
class Water:
    """A water spray that trails the torch on the same face; it goes out with the flame.

    Formula: q = h exp(-r^2 / R^2) (T - water), r from the middle of the spray.

    Args:
        distance_mm: of its middle behind the torch, mm, 0 to 1000.
        radius_mm: R, mm, 1 to 300.
        film_W_m2K: pairs of surface temperature, C, and film coefficient h, W/(m2 K); None: a
            boiling curve from memory, uncertain to a factor of two.
        water_C: temperature of the water, C, 0 to 90.

    Raises:
        CaseError: a value is out of its range.

    Example:
        >>> Water(distance_mm=80).radius_mm
        25.0
    """

    distance_mm: Annotated[
        Number, Field(ge=0, le=1000, description="Of the spray's middle behind the torch, mm.")
    ] = 100.0
    radius_mm: Annotated[Number, Field(ge=1, le=300, description="Radius of the spray, mm.")] = 25.0
    film_W_m2K: Annotated[
        RisingPairs[Number, Annotated[Number, Field(ge=0, le=100_000)]] | None,
        Field(description="Pairs of surface temperature, C, and film coefficient, W/(m2 K)."),
    ] = None
    water_C: Annotated[Number, Field(ge=0, le=90, description="Temperature of the water, C.")] = (
        15.0
    )


WaterBehind = Annotated[Water | None, Field(description="Water that trails the torch.")]


@part
class LineHeat:
    """A flame that moves along a path at a steady speed.

    Args:
        kind: "line".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        both_faces: a second, equal flame burns opposite on the other face.
        path_mm: two or more points in the face's own coordinates, mm (top, bottom: x, y; near,
            far: x, z; start, end: y, z; faces of a beam: station, v); none at the place of the one
            before.
        speed_mm_s: mm/s, 0.1 to 200.
        water: a spray that trails the torch; None: none.
        cool_to_C: hottest place of the part must fall to this before the next heat, C, -50 to
            2000, above ambient; None: 10 K above ambient.
        cycle: number of its cycle, from 1, up to 1000.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> heat = LineHeat(flame="torch", face="top", path_mm=[[50, 100], [350, 100]],
        ...                 speed_mm_s=6)
        >>> heat.kind, heat.cycle
        ('line', 1)
    """

    kind: Annotated[Literal["line"], Field(description="A flame that moves.")] = "line"
    name: HeatName = ""
    flame: FlameName
    face: FaceName
    both_faces: BothFaces = False
    path_mm: Annotated[
        MovingPath, Field(description="Points of the path in the face's two coordinates, mm.")
    ]
    speed_mm_s: Annotated[
        Number, Field(ge=0.1, le=200, description="Speed of the flame along its path, mm/s.")
    ]
    water: WaterBehind = None
    cool_to_C: CoolTo = None
    cycle: Cycle = 1


@part
class SpotHeat:
    """A flame that stands still.

    Args:
        kind: "spot".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        both_faces: a second, equal flame burns opposite on the other face.
        at_mm: a point in the face's own coordinates, mm.
        time_s: how long it burns, s, 0.1 to 3600; or give target_C.
        target_C: it burns until the hottest place under it has reached this, C, 100 to 1400.
        longest_dwell_s: longest stand without the target, s; with target_C alone.
        cool_to_C: hottest place of the part must fall to this before the next heat, C, -50 to
            2000, above ambient; None: 10 K above ambient.
        cycle: number of its cycle, from 1, up to 1000.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> SpotHeat(flame="torch", face="top", at_mm=[200, 100], time_s=20).time_s
        20.0
    """

    kind: Annotated[Literal["spot"], Field(description="A flame that stands.")] = "spot"
    name: HeatName = ""
    flame: FlameName
    face: FaceName
    both_faces: BothFaces = False
    at_mm: Annotated[
        FacePoint, Field(description="Place of the flame in the face's two coordinates, mm.")
    ]
    time_s: Annotated[
        Number | None, Field(ge=0.1, le=3600, description="How long it burns, s; or target_C.")
    ] = None
    target_C: Annotated[Number | None, Field(ge=100, le=1400, description=UNTIL)] = None
    longest_dwell_s: Dwell = 120.0
    cool_to_C: CoolTo = None
    cycle: Cycle = 1


@part
class HeldLine:
    """A flame that is moved along a path so that the surface under it stays at a temperature.

    Args:
        kind: "held line".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        both_faces: a second, equal flame burns opposite on the other face.
        path_mm: two or more points in the face's own coordinates, mm.
        target_C: hottest place under the torch, C, 100 to 1400.
        manner: "hold" (the speed keeps the target) or "dwell" (stand until the target is
            reached, then advance).
        advance_mm: between stands, mm, 1 to 500; with "dwell" alone.
        slowest_mm_s: least speed, mm/s; slower than this the torch stands.
        fastest_mm_s: greatest speed, mm/s, 0.1 to 200.
        longest_dwell_s: longest stand before the torch moves on without the target, s.
        water: a spray that trails the torch; None: none.
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
    name: HeatName = ""
    flame: FlameName
    face: FaceName
    both_faces: BothFaces = False
    path_mm: Annotated[
        MovingPath, Field(description="Points of the path in the face's two coordinates, mm.")
    ]
    target_C: Annotated[Number, Field(ge=100, le=1400, description=TARGET)]
    manner: Annotated[
        Literal["hold", "dwell"], Field(description="Hold the target moving, or stand and advance.")
    ] = "hold"
    advance_mm: Annotated[Number, Field(ge=1, le=500, description="Between stands, mm.")] = 10.0
    slowest_mm_s: Slowest = 0.0
    fastest_mm_s: Fastest = 20.0
    longest_dwell_s: Dwell = 120.0
    water: WaterBehind = None
    cool_to_C: CoolTo = None
    cycle: Cycle = 1


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
        slowest_mm_s: least speed of the front, mm/s; slower than this the torch stands.
        fastest_mm_s: greatest speed of the front, mm/s, 0.1 to 200.
        longest_dwell_s: longest stand before the front moves on without the target, s.
        water: a spray that trails the torch; None: none.
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
    name: HeatName = ""
    flame: FlameName
    face: FaceName
    both_faces: BothFaces = False
    apex_mm: Annotated[
        FacePoint, Field(description="Apex of the wedge in the face's two coordinates, mm.")
    ]
    base_mm: Annotated[
        FacePoint, Field(description="Middle of its base in the face's two coordinates, mm.")
    ]
    angle_deg: Annotated[Number, Field(ge=5, le=90, description="Opening of the wedge, degrees.")]
    target_C: Annotated[Number, Field(ge=100, le=1400, description=TARGET)]
    slowest_mm_s: Slowest = 0.0
    fastest_mm_s: Fastest = 20.0
    longest_dwell_s: Dwell = 300.0
    water: WaterBehind = None
    cool_to_C: CoolTo = None
    cycle: Cycle = 1


def base_width_mm(heat: WedgeHeat) -> float:
    """Width of a wedge's base, mm: 2 depth tan(angle / 2)."""
    return 2.0 * math.dist(heat.apex_mm, heat.base_mm) * math.tan(math.radians(heat.angle_deg) / 2)
