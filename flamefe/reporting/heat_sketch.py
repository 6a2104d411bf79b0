"""What a heat sheet draws: each heated face rolled out flat, and the section with its heated parts.

All of it is in mm of the part; how large it comes on paper is decided where it is drawn.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Span = tuple[float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class Drawn:
    """One stroke of a heat on a rolled-out face.

    Args:
        label: its number: "3", or "3.12" for the twelfth spot of heat 3.
        points: (k, 2) mm, its way; one where the torch stands.
        rim: (m, 2) mm, round what a woven torch covers; empty where it isn't woven.
        radius: of the flame, mm.
    """

    label: str
    points: Array
    rim: Array
    radius: float


@dataclass(frozen=True, kw_only=True)
class Holder:
    """Where supports of one kind touch, on a rolled-out face.

    Args:
        label: "S1"; "(S1)" where it touches another side of the part.
        places: (u, v) of each, mm.
        over: from and to (u, v), mm, of a side of the face or of all of it, where it holds that;
            then there are no places.
    """

    label: str
    places: tuple[tuple[float, float], ...] = ()
    over: tuple[tuple[float, float], tuple[float, float]] | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class FaceView:
    """A heated face rolled out flat, as it is seen from the torch.

    Args:
        face: its name.
        title: which face, and which is heated with it.
        first, second: what its two coordinates are counted from.
        along, across: from where to where they run, mm.
        mirrored: whether the first coordinate runs from right to left.
        upside_down: whether the second runs downwards.
        ends: what stands at the first coordinate's two ends.
        strokes: in their order.
        keys_along, keys_across: places that are dimensioned, mm, in groups, the most important
            first.
        hidden: from where to where plates stand behind it, mm of the second coordinate.
        guides: lines along a tube with their names, mm of the second coordinate.
        holders: supports that touch near it.
        sides: what stands at the lowest and highest second coordinate.
    """

    face: str
    title: str
    first: str
    second: str
    along: Span
    across: Span
    mirrored: bool
    upside_down: bool
    ends: tuple[str, str]
    strokes: tuple[Drawn, ...]
    keys_along: tuple[tuple[float, ...], ...]
    keys_across: tuple[tuple[float, ...], ...]
    hidden: tuple[Span, ...] = ()
    guides: tuple[tuple[float, str], ...] = ()
    holders: tuple[Holder, ...] = ()
    sides: tuple[str, str] = ("", "")


@dataclass(frozen=True, kw_only=True, eq=False)
class HeatedPart:
    """Heated stretches of a section's outline that lie close together.

    Args:
        lines: (k, 2) mm each, y and z.
        middle: (2,) mm, where the torch is drawn.
        outward: (2,) unit, away from the metal, there.
        label: numbers of its heats.
    """

    lines: tuple[Array, ...]
    middle: Array
    outward: Array
    label: str


@dataclass(frozen=True, kw_only=True, eq=False)
class SectionView:
    """The section of a part and where it is heated, seen from beyond its end.

    Args:
        loops: closed lines, (k, 2) mm each, the outer one first.
        size: its width and height as they were given, mm.
        heated: stretches of them.
    """

    loops: tuple[Array, ...]
    size: tuple[float, float]
    heated: tuple[HeatedPart, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Sketch:
    """All that is drawn of a cycle.

    Args:
        views: of heated faces, those with the most heats.
        section: None where the part has none.
        left_out: faces that are heated but not drawn.
    """

    views: tuple[FaceView, ...]
    section: SectionView | None
    left_out: tuple[str, ...] = ()
