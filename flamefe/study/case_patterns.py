"""Heats of a case that cover an area: fields of spots, bands, ovals, rings."""

from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_heats import (
    SPEED,
    TARGET,
    UNTIL,
    BothFaces,
    CoolTo,
    Cycle,
    Dwell,
    FaceName,
    Fastest,
    FlameName,
    HeatName,
    Slowest,
    WaterBehind,
)
from flamefe.study.case_part import FacePoint, Number, WholeNumber, part

_SPEED_OR = "Speed along the pattern, mm/s; or target_C."
_TARGET_OR = TARGET[:-1] + "; or speed_mm_s."


@part
class SpotField:
    """Spots that fill a rectangle on a face, one after the other in an order.

    Args:
        kind: "spot field".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        both_faces: a second, equal flame burns opposite on the other face.
        from_mm, to_mm: opposite corners of the rectangle through the outermost spots, in the
            face's own coordinates, mm; a row where one side is 0.
        spacing_mm: largest distance of neighbours, mm, 2 to 2000.
        arrangement: "square" or "staggered".
        order: "outside in" (towards the middle), "inside out", "rows" (to and fro) or "symmetric"
            (outside in, each spot followed by the one opposite).
        time_s: how long each burns, s, 0.1 to 3600; or give target_C.
        target_C: each burns until the hottest place under it has reached this, C, 100 to 1400.
        longest_dwell_s: longest stand without the target, s; with target_C alone.
        between_C: the part's hottest place must fall to this before the next spot, C; None: the
            next spot follows at once.
        cool_to_C, cycle: as of a line.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> SpotField(flame="torch", face="top", from_mm=[100, 100], to_mm=[300, 300],
        ...           spacing_mm=100, time_s=12).order
        'outside in'
    """

    kind: Annotated[Literal["spot field"], Field(description="A field of spots.")] = "spot field"
    name: HeatName = ""
    flame: FlameName
    face: FaceName
    both_faces: BothFaces = False
    from_mm: Annotated[FacePoint, Field(description="Corner of the field on the face, mm.")]
    to_mm: Annotated[FacePoint, Field(description="Opposite corner of the field, mm.")]
    spacing_mm: Annotated[
        Number, Field(ge=2, le=2000, description="Largest distance of neighbouring spots, mm.")
    ]
    arrangement: Annotated[
        Literal["square", "staggered"], Field(description="How rows lie beside each other.")
    ] = "staggered"
    order: Annotated[
        Literal["outside in", "inside out", "rows", "symmetric"],
        Field(description="Order of the spots."),
    ] = "outside in"
    time_s: Annotated[
        Number | None, Field(ge=0.1, le=3600, description="How long each burns, s; or target_C.")
    ] = None
    target_C: Annotated[Number | None, Field(ge=100, le=1400, description=UNTIL)] = None
    longest_dwell_s: Dwell = 120.0
    between_C: Annotated[
        Number | None,
        Field(ge=-50, le=2000, description="To wait for before the next spot, C."),
    ] = None
    cool_to_C: CoolTo = None
    cycle: Cycle = 1


@part
class BandHeat:
    """A band, woven over its width or filled by straight passes.

    Args:
        kind: "band".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        both_faces: a second, equal flame burns opposite on the other face.
        from_mm, to_mm: ends of its middle line in the face's own coordinates, mm; the torch goes
            that way.
        width_mm: of the band, mm, 1 to 2000.
        manner: "weave" or "passes" (straight, width / passes apart).
        passes: how many, 2 to 50; with "passes" alone.
        alternate: every other pass runs back; else all run the same way.
        speed_mm_s: along the band or a pass, mm/s, 0.05 to 200; or give target_C.
        target_C: hottest place under the torch, C, 100 to 1400.
        slowest_mm_s, fastest_mm_s, longest_dwell_s: the operator's limits; with target_C alone.
        water: a spray that trails the torch; None: none.
        cool_to_C, cycle: as of a line.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> BandHeat(flame="torch", face="top", from_mm=[50, 100], to_mm=[350, 100], width_mm=60,
        ...          target_C=650).manner
        'weave'
    """

    kind: Annotated[Literal["band"], Field(description="A band of some width.")] = "band"
    name: HeatName = ""
    flame: FlameName
    face: FaceName
    both_faces: BothFaces = False
    from_mm: Annotated[FacePoint, Field(description="Start of its middle line, mm.")]
    to_mm: Annotated[FacePoint, Field(description="End of its middle line, mm.")]
    width_mm: Annotated[Number, Field(ge=1, le=2000, description="Width of the band, mm.")]
    manner: Annotated[
        Literal["weave", "passes"], Field(description="Woven, or in straight passes.")
    ] = "weave"
    passes: Annotated[WholeNumber, Field(ge=2, le=50, description="Number of passes.")] = 3
    alternate: Annotated[bool, Field(description="Every other pass runs back.")] = True
    speed_mm_s: Annotated[Number | None, Field(ge=0.05, le=200, description=_SPEED_OR)] = None
    target_C: Annotated[Number | None, Field(ge=100, le=1400, description=_TARGET_OR)] = None
    slowest_mm_s: Slowest = 0.0
    fastest_mm_s: Fastest = 20.0
    longest_dwell_s: Dwell = 300.0
    water: WaterBehind = None
    cool_to_C: CoolTo = None
    cycle: Cycle = 1


@part
class OvalHeat:
    """An oval, woven across from one end of its long axis to the other.

    Args:
        kind: "oval".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        both_faces: a second, equal flame burns opposite on the other face.
        from_mm, to_mm: ends of its long axis in the face's own coordinates, mm; the torch goes
            that way.
        width_mm: in the middle, mm, 1 to 2000, no more than its length.
        speed_mm_s: along its long axis, mm/s, 0.05 to 200; or give target_C.
        target_C: hottest place under the torch, C, 100 to 1400.
        slowest_mm_s, fastest_mm_s, longest_dwell_s: the operator's limits; with target_C alone.
        cool_to_C, cycle: as of a line.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> OvalHeat(flame="torch", face="top", from_mm=[150, 100], to_mm=[250, 100], width_mm=40,
        ...          target_C=650).kind
        'oval'
    """

    kind: Annotated[Literal["oval"], Field(description="An oval.")] = "oval"
    name: HeatName = ""
    flame: FlameName
    face: FaceName
    both_faces: BothFaces = False
    from_mm: Annotated[FacePoint, Field(description="Start of its long axis, mm.")]
    to_mm: Annotated[FacePoint, Field(description="End of its long axis, mm.")]
    width_mm: Annotated[Number, Field(ge=1, le=2000, description="Width in the middle, mm.")]
    speed_mm_s: Annotated[Number | None, Field(ge=0.05, le=200, description=_SPEED_OR)] = None
    target_C: Annotated[Number | None, Field(ge=100, le=1400, description=_TARGET_OR)] = None
    slowest_mm_s: Slowest = 0.0
    fastest_mm_s: Fastest = 20.0
    longest_dwell_s: Dwell = 300.0
    cool_to_C: CoolTo = None
    cycle: Cycle = 1


@part
class RingHeat:
    """A ring round a centre on a face, driven once round.

    Args:
        kind: "ring".
        name: what to call it; empty: by its number.
        flame: one of the case's flames.
        face: on which it burns.
        both_faces: a second, equal flame burns opposite on the other face.
        centre_mm: in the face's own coordinates, mm.
        ring_mm: radius of the ring, mm, 2 to 10 000.
        start_deg: where it starts, degrees from the face's first coordinate towards its second.
        back: the other way round.
        speed_mm_s: mm/s, 0.1 to 200; or give target_C.
        target_C: hottest place under the torch, C, 100 to 1400.
        slowest_mm_s, fastest_mm_s, longest_dwell_s: the operator's limits; with target_C alone.
        water: a spray that trails the torch; None: none.
        cool_to_C, cycle: as of a line.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> RingHeat(flame="torch", face="top", centre_mm=[150, 100], ring_mm=60,
        ...          speed_mm_s=6).back
        False
    """

    kind: Annotated[Literal["ring"], Field(description="A ring round a centre.")] = "ring"
    name: HeatName = ""
    flame: FlameName
    face: FaceName
    both_faces: BothFaces = False
    centre_mm: Annotated[FacePoint, Field(description="Centre of the ring on the face, mm.")]
    ring_mm: Annotated[Number, Field(ge=2, le=10_000, description="Radius of the ring, mm.")]
    start_deg: Annotated[
        Number, Field(ge=-360, le=360, description="Where it starts, degrees.")
    ] = 0.0
    back: Annotated[bool, Field(description="The other way round.")] = False
    speed_mm_s: Annotated[Number | None, Field(ge=0.1, le=200, description=SPEED)] = None
    target_C: Annotated[Number | None, Field(ge=100, le=1400, description=_TARGET_OR)] = None
    slowest_mm_s: Slowest = 0.0
    fastest_mm_s: Fastest = 20.0
    longest_dwell_s: Dwell = 120.0
    water: WaterBehind = None
    cool_to_C: CoolTo = None
    cycle: Cycle = 1
