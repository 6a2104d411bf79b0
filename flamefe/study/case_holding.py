"""The part of a case that says what holds and pushes it: supports, loads, inherent strain."""

from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_devices import (
    CAPACITY,
    FITTED,
    Ballast,
    Capacity,
    Jack,
    PressedSpot,
    Rest,
    Spring,
    Strongback,
    Template,
    VacuumPlate,
)
from flamefe.study.case_devices import RELEASED as _RELEASED
from flamefe.study.case_part import (
    Axis,
    Fitted,
    Moment,
    Name,
    Number,
    Point,
    Released,
    RisingPairs,
    SignedAxis,
    part,
)

_FACE = "Face of the part; for a mesh file one of its named faces."
_FACE_OR_SET = "Face of the part; for a mesh file one of its named faces or node sets."
_HISTORY = "Pairs of time since the start of the job, s, and factor on the load."
_Millimetres = Annotated[Number, Field(ge=-1000, le=1000)]
_Factor = Annotated[Number, Field(ge=-1000, le=1000)]
_Newtons = Annotated[Number, Field(ge=-1e8, le=1e8)]
_KiloPascals = Annotated[Number, Field(ge=-1e6, le=1e6)]
_Strain = Annotated[Number, Field(ge=-0.1, le=0.1)]
_Factors = RisingPairs[Moment, _Factor]


@part
class Clamp:
    """A face (or node set) fixed in x, y and z.

    Args:
        kind: "clamp".
        face: which.
        capacity_kN: what it may carry in all, kN; None: not checked.
        fitted: "before heating" or "hot" (at the end of the cycle's last burn).
        released: "never", "hot" (at the end of the cycle's last burn) or "after cooling" (at the
            end of each cycle).

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Clamp(face="start").released
        'never'
    """

    kind: Annotated[Literal["clamp"], Field(description="A face fixed in x, y and z.")] = "clamp"
    face: Annotated[Name, Field(description=_FACE_OR_SET)]
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    fitted: Annotated[Fitted, Field(description=FITTED)] = "before heating"
    released: Annotated[Released, Field(description=_RELEASED)] = "never"


@part
class Guide:
    """A face held along its normal and free to slide in itself.

    Args:
        kind: "guide".
        face: which.
        capacity_kN: what it may carry in all, kN; None: not checked.
        fitted: "before heating" or "hot" (at the end of the cycle's last burn).
        released: "never", "hot" (at the end of the cycle's last burn) or "after cooling" (at the
            end of each cycle).

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Guide(face="bottom").face
        'bottom'
    """

    kind: Annotated[Literal["guide"], Field(description="A face held along its normal.")] = "guide"
    face: Annotated[Name, Field(description=_FACE)]
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    fitted: Annotated[Fitted, Field(description=FITTED)] = "before heating"
    released: Annotated[Released, Field(description=_RELEASED)] = "never"


@part
class Points:
    """The nodes nearest to some points, held in some directions.

    Args:
        kind: "points".
        at_mm: one or more points x, y, z in the part, mm.
        directions: one or more of "x", "y", "z".
        capacity_kN: what it may carry in all, kN; None: not checked.
        fitted: "before heating" or "hot" (at the end of the cycle's last burn).
        released: "never", "hot" (at the end of the cycle's last burn) or "after cooling" (at the
            end of each cycle).

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Points(at_mm=[[0, 0, 0], [400, 0, 0]], directions=["z"]).directions
        ('z',)
    """

    kind: Annotated[Literal["points"], Field(description="Nodes near some points held.")] = "points"
    at_mm: Annotated[
        tuple[Point, ...],
        Field(min_length=1, max_length=1000, description="Points x, y, z in the part, mm."),
    ]
    directions: Annotated[
        tuple[Axis, ...],
        Field(min_length=1, max_length=3, description="Directions in which they are held."),
    ]
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    fitted: Annotated[Fitted, Field(description=FITTED)] = "before heating"
    released: Annotated[Released, Field(description=_RELEASED)] = "never"


@part
class Push:
    """A face (or node set) moved by a given amount in one direction, for instance by a jack.

    Args:
        kind: "push".
        face: which.
        direction: "x", "y" or "z".
        displacement_mm: pairs of time since the start of the job, s (0 to 1e7, rising), and
            displacement, mm (-1000 to 1000). From 0 mm at 0 s it runs straight from pair to
            pair and then stays.
        capacity_kN: what it may carry in all, kN; None: not checked.
        released: "never", "hot" (at the end of the cycle's last burn) or "after cooling" (at the
            end of each cycle).

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Push(face="end", direction="z", displacement_mm=[[10, 2]]).displacement_mm
        ((10.0, 2.0),)
    """

    kind: Annotated[Literal["push"], Field(description="A face moved by a given amount.")] = "push"
    face: Annotated[Name, Field(description=_FACE_OR_SET)]
    direction: Annotated[Axis, Field(description="Direction of the displacement.")]
    displacement_mm: Annotated[
        RisingPairs[Moment, _Millimetres],
        Field(description="Pairs of time since the start of the job, s, and displacement, mm."),
    ]
    capacity_kN: Annotated[Capacity | None, Field(description=CAPACITY)] = None
    released: Annotated[Released, Field(description=_RELEASED)] = "never"


@part
class OwnWeight:
    """The part's own weight.

    Args:
        kind: "own weight".
        direction: in which it pulls: "-z", "z", "-y", "y", "-x" or "x".
        history: pairs of time, s (0 to 1e7, rising), and factor (-1000 to 1000); straight from
            pair to pair, constant before and after; None: 1 all the time.
        released: "never", "hot" (at the end of the cycle's last burn) or "after cooling" (at the
            end of each cycle).

    Raises:
        CaseError: a value is not allowed.

    Example:
        >>> OwnWeight().direction
        '-z'
    """

    kind: Annotated[Literal["own weight"], Field(description="The part's own weight.")] = (
        "own weight"
    )
    direction: Annotated[SignedAxis, Field(description="Direction in which it pulls.")] = "-z"
    history: Annotated[_Factors | None, Field(description=_HISTORY)] = None
    released: Annotated[Released, Field(description=_RELEASED)] = "never"


@part
class Force:
    """A force on the node nearest to a point.

    Args:
        kind: "force".
        at_mm: point x, y, z in the part, mm.
        force_N: x, y, z, N, each -1e8 to 1e8.
        history: as of own weight.
        released: "never", "hot" (at the end of the cycle's last burn) or "after cooling" (at the
            end of each cycle).

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Force(at_mm=[400, 100, 12], force_N=[0, 0, -500]).force_N
        (0.0, 0.0, -500.0)
    """

    kind: Annotated[Literal["force"], Field(description="A force at a point.")] = "force"
    at_mm: Annotated[Point, Field(description="Point x, y, z in the part, mm.")]
    force_N: Annotated[
        tuple[_Newtons, _Newtons, _Newtons], Field(description="Force along x, y, z, N.")
    ]
    history: Annotated[_Factors | None, Field(description=_HISTORY)] = None
    released: Annotated[Released, Field(description=_RELEASED)] = "never"


@part
class Pressure:
    """A pressure that pushes on a face; negative: suction.

    Args:
        kind: "pressure".
        face: which.
        pressure_kPa: kPa, -1e6 to 1e6.
        history: as of own weight.
        released: "never", "hot" (at the end of the cycle's last burn) or "after cooling" (at the
            end of each cycle).

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Pressure(face="top", pressure_kPa=80).pressure_kPa
        80.0
    """

    kind: Annotated[Literal["pressure"], Field(description="A pressure on a face.")] = "pressure"
    face: Annotated[Name, Field(description=_FACE)]
    pressure_kPa: Annotated[
        _KiloPascals, Field(description="Pressure, kPa; above 0 it pushes on the face.")
    ]
    history: Annotated[_Factors | None, Field(description=_HISTORY)] = None
    released: Annotated[Released, Field(description=_RELEASED)] = "never"


@part
class Traction:
    """A force a unit of area on a face.

    Args:
        kind: "traction".
        face: which.
        traction_kPa: x, y, z, kPa, each -1e6 to 1e6.
        history: as of own weight.
        released: "never", "hot" (at the end of the cycle's last burn) or "after cooling" (at the
            end of each cycle).

    Raises:
        CaseError: a value is missing or not allowed.

    Example:
        >>> Traction(face="end", traction_kPa=[0, 0, -20]).traction_kPa
        (0.0, 0.0, -20.0)
    """

    kind: Annotated[Literal["traction"], Field(description="A traction on a face.")] = "traction"
    face: Annotated[Name, Field(description=_FACE)]
    traction_kPa: Annotated[
        tuple[_KiloPascals, _KiloPascals, _KiloPascals],
        Field(description="Traction along x, y, z, kPa."),
    ]
    history: Annotated[_Factors | None, Field(description=_HISTORY)] = None
    released: Annotated[Released, Field(description=_RELEASED)] = "never"


@part
class InherentStrain:
    """A permanent strain that is put into a box of the part.

    Args:
        from_mm: corner of the box with the lowest x, y, z, mm.
        to_mm: corner with the highest x, y, z, mm.
        strain: xx, yy, zz, xy, yz, zx, shear components doubled, each -0.1 to 0.1;
            contraction is negative.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> InherentStrain(from_mm=[0, 90, 6], to_mm=[400, 110, 12],
        ...                strain=[0, -0.004, 0, 0, 0, 0]).strain[1]
        -0.004
    """

    from_mm: Annotated[Point, Field(description="Corner of the box with lowest x, y, z, mm.")]
    to_mm: Annotated[Point, Field(description="Corner of the box with highest x, y, z, mm.")]
    strain: Annotated[
        tuple[_Strain, _Strain, _Strain, _Strain, _Strain, _Strain],
        Field(description="xx, yy, zz, xy, yz, zx, shear doubled; contraction below 0."),
    ]


Fixed = Clamp | Guide | Points | Push
"""Supports that say all that is held; what they leave free is the user's to hold."""
Support = Annotated[
    Fixed | Rest | Spring | Jack | VacuumPlate | Template | Strongback | PressedSpot,
    Field(discriminator="kind"),
]
"""A support of any kind."""
Load = Annotated[OwnWeight | Force | Pressure | Traction | Ballast, Field(discriminator="kind")]
"""A load of any kind."""
SUPPORTS = (
    Clamp, Guide, Points, Push, Rest, Spring, Jack, VacuumPlate, Template, Strongback, PressedSpot,
)  # fmt: skip
LOADS = (OwnWeight, Force, Pressure, Traction, Ballast)
