"""The devices of a case: rests, springs, jacks, vacuum plates, templates, strongbacks, ballast."""

from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_part import (
    Axis,
    Coordinate,
    FacePoint,
    Fitted,
    Name,
    Number,
    Point,
    Released,
    SignedAxis,
    part,
)

FITTED = "When it is fitted: before heating, or hot (at the end of a cycle's last burn)."
RELEASED = "When it is taken away: never, hot (at the end of a cycle's last burn), after cooling."
CAPACITY = "What it may carry, kN: at one place, or in all where it holds a face."
_PLACES = "Points x, y, z on the part's skin, mm; or a face."
_FACE_OR = "Face of the part as a whole; or points."
_RADIUS = "Radius of each place, mm."
_PUSHES = "Direction in which it pushes the part."
_STIFF = "Stiffness of each place, kN/mm"

Places = Annotated[tuple[Point, ...], Field(min_length=1, max_length=1000)]
"""One or more points on the part's skin."""
Capacity = Annotated[Number, Field(gt=0, le=1e5)]
"""What a device may carry, kN."""
Stiffness = Annotated[Number, Field(ge=1e-3, le=1e6)]
"""kN/mm."""
Radius = Annotated[Number, Field(ge=0.1, le=1000)]
"""Radius of a place, mm."""


@part
class Rest:
    """What the part lies on, or bears against: it pushes, never pulls, and has no friction.

    Args:
        kind: "rest".
        at_mm: one or more points x, y, z on the part's skin, mm; or give a face.
        radius_mm: of each place, mm, 0.1 to 1000. Its mean movement counts: it may rock.
        face: a whole face lies on it, each of its nodes for itself; or give points.
        pushes: direction in which it pushes the part: "z" under it, "-z" on top, and so on.
        gap_mm: between it and the part when it is fitted, mm, 0 to 1000.
        stiffness_kN_mm: of each place, kN/mm, 1e-3 to 1e6; of a face, in all; None: rigid.
        capacity_kN: what a place (a face: in all) may carry, kN; None: not checked.
        fitted: "before heating" or "hot" (at the end of the cycle's last burn).
        released: "never", "hot" or "after cooling" (at the end of each cycle).

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Rest(at_mm=[[0, 100, 0], [400, 100, 0]]).pushes
        'z'
    """

    kind: Annotated[Literal["rest"], Field(description="What the part lies on.")] = "rest"
    at_mm: Annotated[Places | None, Field(description=_PLACES)] = None
    radius_mm: Annotated[Radius, Field(description=_RADIUS)] = 10.0
    face: Annotated[Name | None, Field(description=_FACE_OR)] = None
    pushes: Annotated[SignedAxis, Field(description=_PUSHES)] = "z"
    gap_mm: Annotated[
        Number, Field(ge=0, le=1000, description="Gap to the part when it is fitted, mm.")
    ] = 0.0
    stiffness_kN_mm: Annotated[Stiffness | None, Field(description=f"{_STIFF}; none: rigid.")] = (
        None
    )
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    fitted: Annotated[Fitted, Field(description=FITTED)] = "before heating"
    released: Annotated[Released, Field(description=RELEASED)] = "never"


@part
class Spring:
    """A springy fixture, fastened to the part: it pushes and pulls.

    Args:
        kind: "spring".
        at_mm: one or more points x, y, z on the part's skin, mm; or give a face.
        radius_mm: of each place, mm.
        face: its mean movement is held; or give points.
        direction: "x", "y" or "z".
        stiffness_kN_mm: of each place (a face: in all), kN/mm, 1e-3 to 1e6.
        capacity_kN, fitted, released: as of a rest.

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Spring(face="end", direction="x", stiffness_kN_mm=50).stiffness_kN_mm
        50.0
    """

    kind: Annotated[Literal["spring"], Field(description="A springy fixture.")] = "spring"
    at_mm: Annotated[Places | None, Field(description=_PLACES)] = None
    radius_mm: Annotated[Radius, Field(description=_RADIUS)] = 10.0
    face: Annotated[Name | None, Field(description=_FACE_OR)] = None
    direction: Annotated[Axis, Field(description="Direction in which it holds.")]
    stiffness_kN_mm: Annotated[Stiffness, Field(description=f"{_STIFF}.")]
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    fitted: Annotated[Fitted, Field(description=FITTED)] = "before heating"
    released: Annotated[Released, Field(description=RELEASED)] = "never"


@part
class Jack:
    """A jack against the part, or between two points of it: it pushes, never pulls.

    Either it keeps a force, whatever the part does (a hydraulic jack under constant pressure), or
    it stands with a gap and a stiffness (a screw jack) and pushes as far as it touches.

    Args:
        kind: "jack".
        at_mm: point x, y, z on the part's skin, mm; or give a face.
        radius_mm: of its foot, mm.
        face: which it pushes by its mean movement; or give a point.
        against_mm: a second point of the part that it stands on, mm; None: on the ground.
        pushes: direction in which it pushes the part; left out with ``against_mm``: from there to
            ``at_mm``.
        force_kN: that it keeps, kN, up to 1e5; None: it stands.
        gap_mm: between it and the part when it is fitted, mm, -100 to 1000; below 0: screwed in
            by so much.
        stiffness_kN_mm: kN/mm, 1e-3 to 1e6; None: rigid.
        capacity_kN, fitted, released: as of a rest.

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Jack(at_mm=[300, 0, 5], pushes="y", force_kN=12).force_kN
        12.0
    """

    kind: Annotated[Literal["jack"], Field(description="A jack.")] = "jack"
    at_mm: Annotated[Point | None, Field(description="Point x, y, z on the skin, mm.")] = None
    radius_mm: Annotated[Radius, Field(description="Radius of its foot, mm.")] = 10.0
    face: Annotated[Name | None, Field(description="Face that it pushes; or a point.")] = None
    against_mm: Annotated[
        Point | None, Field(description="Second point of the part that it stands on, mm.")
    ] = None
    pushes: Annotated[SignedAxis | None, Field(description=_PUSHES)] = None
    force_kN: Annotated[
        Number | None, Field(gt=0, le=1e5, description="Force that it keeps, kN.")
    ] = None
    gap_mm: Annotated[
        Number, Field(ge=-100, le=1000, description="Gap when fitted, mm; below 0: screwed in.")
    ] = 0.0
    stiffness_kN_mm: Annotated[
        Stiffness | None, Field(description="Stiffness, kN/mm; none: rigid.")
    ] = None
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    fitted: Annotated[Fitted, Field(description=FITTED)] = "before heating"
    released: Annotated[Released, Field(description=RELEASED)] = "never"


@part
class VacuumPlate:
    """A plate that holds a face by suction, and bears it like a rest.

    A place of the face pulls with no more than the suction on its area; pulled harder it lifts.
    Where it has lifted by more than ``leak_mm``, air gets in and the suction is lost there for as
    long as the plate is fitted.

    Args:
        kind: "vacuum plate".
        face: which it holds, along its normal; it may slide.
        suction_kPa: pressure below the air's, kPa, above 0 to 101.
        leak_mm: lift at which suction is lost, mm, 0 to 100.
        capacity_kN: what it may bear in all, kN; None: not checked.
        fitted, released: as of a rest.

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> VacuumPlate(face="bottom", suction_kPa=80).leak_mm
        0.5
    """

    kind: Annotated[Literal["vacuum plate"], Field(description="Holds a face by suction.")] = (
        "vacuum plate"
    )
    face: Annotated[Name, Field(description="Face that it holds.")]
    suction_kPa: Annotated[
        Number, Field(gt=0, le=101, description="Pressure below the air's, kPa.")
    ]
    leak_mm: Annotated[
        Number, Field(ge=0, le=100, description="Lift at which suction is lost, mm.")
    ] = 0.5
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    fitted: Annotated[Fitted, Field(description=FITTED)] = "before heating"
    released: Annotated[Released, Field(description=RELEASED)] = "never"


@part
class Template:
    """A perforated template with its counter plate: it holds a face both ways along its normal.

    Args:
        kind: "template".
        face: which it holds; it may slide.
        holes_mm: round holes on the face: its two coordinates and the radius, mm.
        holds: "outside holes" (the template itself) or "inside holes" (stamps in the holes).
        capacity_kN: what it may carry in all, kN; None: not checked.
        fitted, released: as of a rest.

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Template(face="bottom", holes_mm=[[200, 200, 40]]).holds
        'outside holes'
    """

    kind: Annotated[
        Literal["template"], Field(description="Template with counter plate; face held both ways.")
    ] = "template"
    face: Annotated[Name, Field(description="Face that it holds.")]
    holes_mm: Annotated[
        tuple[tuple[Coordinate, Coordinate, Radius], ...],
        Field(min_length=1, max_length=10_000, description="Holes: two coordinates, radius, mm."),
    ]
    holds: Annotated[
        Literal["outside holes", "inside holes"], Field(description="Where it holds.")
    ] = "outside holes"
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    fitted: Annotated[Fitted, Field(description=FITTED)] = "before heating"
    released: Annotated[Released, Field(description=RELEASED)] = "never"


@part
class Strongback:
    """A straight, stiff beam clamped to the part at three points or more.

    The beam counts as rigid and follows the part as a whole; its clamps are springy, both ways.
    So it holds nothing but what departs from a straight line along it.

    Args:
        kind: "strongback".
        at_mm: three or more points x, y, z on the part's skin in a row, mm.
        radius_mm: of each clamp, mm.
        direction: in which it keeps the part straight: "x", "y" or "z".
        stiffness_kN_mm: of each clamp, with its share of the beam's bending, kN/mm.
        capacity_kN, fitted, released: as of a rest.

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> back = Strongback(at_mm=[[50, 50, 0], [200, 50, 0], [350, 50, 0]], direction="z",
        ...                   stiffness_kN_mm=20)
        >>> len(back.at_mm)
        3
    """

    kind: Annotated[
        Literal["strongback"], Field(description="A stiff beam clamped to the part.")
    ] = "strongback"
    at_mm: Annotated[
        tuple[Point, ...],
        Field(min_length=3, max_length=100, description="Points x, y, z of its clamps, mm."),
    ]
    radius_mm: Annotated[Radius, Field(description="Radius of each clamp, mm.")] = 10.0
    direction: Annotated[Axis, Field(description="Direction in which it keeps the part straight.")]
    stiffness_kN_mm: Annotated[Stiffness, Field(description="Stiffness of each clamp, kN/mm.")]
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    fitted: Annotated[Fitted, Field(description=FITTED)] = "before heating"
    released: Annotated[Released, Field(description=RELEASED)] = "never"


@part
class PressedSpot:
    """A spot of a face kept level, as by a press or a dolly, usually while it is hot.

    Args:
        kind: "pressed spot".
        face: on which it presses.
        at_mm: middle in the face's own two coordinates, mm.
        radius_mm: within which the face is held both ways along its normal, mm.
        capacity_kN: what it may carry in all, kN; None: not checked.
        fitted, released: as of a rest; released "hot" when left out.

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> PressedSpot(face="bottom", at_mm=[200, 200], radius_mm=40).released
        'hot'
    """

    kind: Annotated[Literal["pressed spot"], Field(description="A spot kept level.")] = (
        "pressed spot"
    )
    face: Annotated[Name, Field(description="Face on which it presses.")]
    at_mm: Annotated[FacePoint, Field(description="Middle on the face, mm.")]
    radius_mm: Annotated[Radius, Field(description="Radius within which it holds, mm.")]
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    fitted: Annotated[Fitted, Field(description=FITTED)] = "before heating"
    released: Annotated[Released, Field(description=RELEASED)] = "hot"


@part
class Ballast:
    """A mass that lies on the part.

    Args:
        kind: "ballast".
        mass_kg: of it, kg, above 0 to 1e6.
        at_mm: point x, y, z on the part's skin, mm; or give a face.
        radius_mm: over which it spreads, mm.
        face: over which it spreads evenly; or give a point.
        direction: in which it pulls: "-z", "z", "-y", "y", "-x" or "x".
        released: as of a rest.

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Ballast(mass_kg=50, at_mm=[200, 100, 12]).direction
        '-z'
    """

    kind: Annotated[Literal["ballast"], Field(description="A mass on the part.")] = "ballast"
    mass_kg: Annotated[Number, Field(gt=0, le=1e6, description="Mass, kg.")]
    at_mm: Annotated[Point | None, Field(description="Point x, y, z on the skin, mm.")] = None
    radius_mm: Annotated[Radius, Field(description="Radius over which it spreads, mm.")] = 10.0
    face: Annotated[Name | None, Field(description="Face over which it spreads; or a point.")] = (
        None
    )
    direction: Annotated[SignedAxis, Field(description="Direction in which it pulls.")] = "-z"
    released: Annotated[Released, Field(description=RELEASED)] = "never"
