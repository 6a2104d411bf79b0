"""What a heat sheet draws: each heated face rolled out flat, and the section with its heated parts.

All of it is in mm of the part; how large it comes on paper is decided where it is drawn.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.reporting.heat_rows import ranges
from flamefe.reporting.marks import Mark, MeshedCase, marks_of
from flamefe.reporting.words import one_line
from flamefe.study.beam_sections import faces_of_beam, values_of
from flamefe.study.case import AnyHeat, Bar, Case, MeshFile, Plate
from flamefe.study.case_flames import radius_mm_of
from flamefe.study.case_strokes import pattern_of
from flamefe.study.face_maps import face_map_of
from flamefe.study.laying import laid_on
from flamefe.workpiece.extrude import BEAM_ENDS
from flamefe.workpiece.face_map import FaceMap
from flamefe.workpiece.section import boundary_loops

Array = NDArray[np.float64]
Span = tuple[float, float]

MOST_VIEWS = 3
MOST_HOLDERS = 6
PROBES = 161
CLOSE = 0.14
"""Heated stretches this near, by the section's size, share one torch in the drawing."""
LONGEST_LABEL = 10
TO_MM = 1e3
NOSE = 0.15
"""Width at which a pattern counts as coming to a point, mm."""


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
        label: "S1".
        places: (u, v) of each, mm.
    """

    label: str
    places: tuple[tuple[float, float], ...]


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


def sketch_of(part: MeshedCase, cycle: int) -> Sketch:
    """The sketch of a cycle's heats.

    Args:
        part: a case and its mesh.
        cycle: number of the cycle.

    Raises:
        OutOfRange: a heated face of a mesh file that is not flat.
    """
    case = part.case
    numbered = [(i, one) for i, one in enumerate(case.heats, start=1) if one.cycle == cycle]
    by_face: dict[str, list[tuple[int, AnyHeat]]] = {}
    for number, heat in numbered:
        by_face.setdefault(heat.face, []).append((number, heat))
    faces = sorted(by_face, key=lambda name: -len(by_face[name]))
    chosen = [name for name in by_face if name in faces[:MOST_VIEWS]]
    alone = len(numbered) == 1
    return Sketch(
        views=tuple(_view(part, name, by_face[name], alone=alone) for name in chosen),
        section=None if isinstance(case.workpiece, MeshFile) else _section(part, numbered),
        left_out=tuple(name for name in by_face if name not in chosen),
    )


def _view(
    part: MeshedCase, name: str, heats: Sequence[tuple[int, AnyHeat]], *, alone: bool
) -> FaceView:
    case = part.case
    face = face_map_of(case.workpiece, part.mesh, name)
    along, across = _true_spans(face)
    strokes = [one for number, heat in heats for one in _strokes(case, number, heat, alone=alone)]
    opposite = dict.fromkeys(
        laid.face for _, heat in heats for laid in laid_on(case.workpiece, heat)[1:]
    )
    title = f'Face "{one_line(name, 40)}", seen from the torch'
    if opposite:
        also = ", ".join(f'"{one_line(one, 40)}"' for one in opposite)
        both = all(heat.both_faces for _, heat in heats)
        which = "at the same time also" if both else "where the table says so also"
        title += f"; {which} across on {also}"
    middle = np.array([[TO_MM**-1 * sum(along) / 2, TO_MM**-1 * sum(across) / 2]])
    normal = face.normal(middle)[0]
    mirrored = face.handed < 0.0 and abs(normal[2]) < 0.7 and face.period is None
    holders = _holders(marks_of(part), face, along, across)
    ends = name in BEAM_ENDS
    return FaceView(
        face=one_line(name, 40),
        title=title,
        first=_counted(face, 0),
        second=_counted(face, 1),
        along=along,
        across=across,
        mirrored=mirrored,
        upside_down=face.handed < 0.0 and not mirrored,
        ends=("", "") if ends or isinstance(case.workpiece, MeshFile) else ("start", "end"),
        strokes=tuple(strokes),
        keys_along=_keys(strokes, 0, along, [p[0] for one in holders for p in one.places]),
        keys_across=_keys(strokes, 1, across, []),
        hidden=_hidden(case, name, across),
        guides=_guides(face, across),
        holders=holders,
        sides=_sides(case, name),
    )


def _true_spans(face: FaceMap) -> tuple[Span, Span]:
    """From where to where a face runs, mm, as the shop measures it."""
    (a, b), (c, d) = face.span
    return (TO_MM * a, TO_MM * b), (TO_MM * c / face.stretch, TO_MM * d / face.stretch)


def _strokes(case: Case, number: int, heat: AnyHeat, *, alone: bool) -> list[Drawn]:
    strokes = pattern_of(heat).strokes
    made = []
    for place, stroke in enumerate(strokes, start=1):
        label = f"{number}" if len(strokes) == 1 else f"{place}" if alone else f"{number}.{place}"
        rim = np.zeros((0, 2))
        if any(stroke.widths):
            left, right, at, ends = [], [], 0, stroke.outline
            for width in stroke.widths:
                left.append(ends[at])
                right.append(ends[at + (width > 0.0)])
                at += 2 if width > 0.0 else 1
            rim = TO_MM * np.array([*left, *reversed(right)])
        made.append(
            Drawn(
                label=label, points=TO_MM * np.array(stroke.points), rim=rim,
                radius=radius_mm_of(case.flames[heat.flame]),
            )
        )  # fmt: skip
    return made


def _keys(
    strokes: Sequence[Drawn], axis: int, span: Span, others: Iterable[float]
) -> tuple[tuple[float, ...], ...]:
    """Places worth a dimension: ends of the face; starts of heats; their ends; supports; widths."""
    outer: list[float] = []
    for one in strokes:
        if len(one.rim):
            outer += [float(one.rim[:, axis].min()), float(one.rim[:, axis].max())]
        elif len(one.points) > 2:
            outer += [float(one.points[:, axis].min()), float(one.points[:, axis].max())]
    tiers = (
        span, [float(one.points[0, axis]) for one in strokes],
        [float(one.points[-1, axis]) for one in strokes], others, outer,
    )  # fmt: skip
    known: set[float] = set()
    made = []
    for tier in tiers:
        rounded = dict.fromkeys(round(value, 1) + 0.0 for value in tier)
        fresh = [v for v in rounded if v not in known and span[0] - 0.05 <= v <= span[1] + 0.05]
        known.update(fresh)
        made.append(tuple(fresh))
    return tuple(made)


def _counted(face: FaceMap, axis: int) -> str:
    """From where a coordinate of a face is counted, in words."""
    if axis == 1 and face.period is not None:
        return "round the tube from its lowest place, over the side of large y to the top"
    (a, b), (c, d) = face.span
    ends = np.array([[a, c], [b, c]] if axis == 0 else [[a, c], [a, d]])
    way = np.subtract(*face.place(ends)[::-1])
    letter = int(np.argmax(np.abs(way)))
    upright = "lower edge of this face", "upper edge of this face"
    names = (("start", "end"), ("near side (y = 0)", "far side"), upright)
    low, high = names[letter]
    return f"from the {low if way[letter] > 0 else high}"


def _sides(case: Case, name: str) -> tuple[str, str]:
    """What stands at the lowest and highest second coordinate of a plate's or bar's face."""
    if not isinstance(case.workpiece, Plate | Bar):
        return ("", "")
    return ("near", "far") if name in ("top", "bottom") else ("bottom", "top")


def _hidden(case: Case, name: str, across: Span) -> tuple[Span, ...]:
    """Where plates stand behind a beam's face: nothing lies straight across it there."""
    piece = case.workpiece
    if isinstance(piece, Plate | Bar | MeshFile) or name in BEAM_ENDS:
        return ()
    faces = faces_of_beam(values_of(piece))
    if faces is None or faces.maps[name].period is not None:
        return ()
    low, high = across
    probes = np.linspace(low, high, PROBES)[1:-1]
    blocked = [faces.across(name, v / TO_MM, v / TO_MM) is None for v in probes]
    if all(blocked):
        return ()
    found: list[Span] = []
    step = (high - low) / (PROBES - 1)
    for place, shut in zip(probes.tolist(), blocked, strict=True):
        if not shut:
            continue
        if found and place - found[-1][1] < 1.5 * step:
            found[-1] = (found[-1][0], place)
        else:
            found.append((place, place))
    inner = [(a, b) for a, b in found if a > low + 1.5 * step and b < high - 1.5 * step]
    return tuple(inner)


def _guides(face: FaceMap, across: Span) -> tuple[tuple[float, str], ...]:
    if face.period is None:
        return ()
    round_it = across[1] - across[0]
    names = ("lowest", "side of large y", "top", "side of small y", "lowest")
    return tuple((across[0] + 0.25 * i * round_it, words) for i, words in enumerate(names))


def _holders(marks: Sequence[Mark], face: FaceMap, along: Span, across: Span) -> tuple[Holder, ...]:
    """Supports at places, not on whole faces, brought to a rolled-out face."""
    made = []
    for mark in marks:
        if mark.load or len(mark.faces) or not len(mark.places):
            continue
        flat = TO_MM * face.back(mark.places / TO_MM)
        flat[:, 1] /= face.stretch
        flat = np.clip(flat, [along[0], across[0]], [along[1], across[1]])
        places = dict.fromkeys((round(float(u), 1), round(float(v), 1)) for u, v in flat)
        made.append(Holder(label=mark.label, places=tuple(places)))
    return tuple(made[:MOST_HOLDERS])


def _section(part: MeshedCase, heats: Sequence[tuple[int, AnyHeat]]) -> SectionView | None:
    """The section from the mesh's start, with the stretches that heats lie on."""
    mesh, piece = part.mesh, part.case.workpiece
    start = np.asarray((mesh.boundaries or {})["start"])
    quads = np.asarray(mesh.facets[:, start].T)
    nodes, flat = np.unique(quads, return_inverse=True)
    points = TO_MM * mesh.p[1:, nodes].T
    corners = _counterclockwise(points, flat.reshape(quads.shape))
    found: dict[tuple[str, Span], list[int]] = {}
    for number, heat in heats:
        for laid in laid_on(piece, heat):
            if laid.face in BEAM_ENDS:
                continue
            outline = laid.points(pattern_of(heat).outline)
            low, high = min(v for _, v in outline), max(v for _, v in outline)
            if high - low < NOSE / TO_MM:
                reach = radius_mm_of(part.case.flames[heat.flame]) / TO_MM
                low, high = low - reach, high + reach
            found.setdefault((laid.face, (round(low, 4), round(high, 4))), []).append(number)
    heated: list[HeatedPart] = []
    near = CLOSE * float(np.ptp(points, axis=0).max()) / TO_MM
    for name in dict.fromkeys(name for name, _ in found):
        face = face_map_of(piece, mesh, name)
        first, last = _true_spans(face)[1]
        clusters: list[list[tuple[Span, list[int]]]] = []
        for (other, (low, high)), numbers in sorted(found.items(), key=lambda item: item[0][1]):
            if other != name:
                continue
            if face.period is None:
                low, high = max(low, first / TO_MM), min(high, last / TO_MM)
            if clusters and low - clusters[-1][-1][0][1] < near:
                clusters[-1].append(((low, high), numbers))
            else:
                clusters.append([((low, high), numbers)])
        heated += [_heated(face, cluster) for cluster in clusters]
    loops = tuple(points[loop] for loop in boundary_loops(points, corners))
    assert not isinstance(piece, MeshFile)
    _, wide, tall = piece.size_mm
    return SectionView(loops=loops, size=(wide, tall), heated=tuple(heated))


def _heated(face: FaceMap, stretches: Sequence[tuple[Span, list[int]]]) -> HeatedPart:
    lines = []
    start = face.span[0][0]
    for low, high in [span for span, _ in stretches]:
        v = face.stretch * np.linspace(low, high, 25)
        lines.append(TO_MM * face.place(np.stack((np.full(v.shape, start), v), axis=1))[:, 1:])
    middle = 0.5 * face.stretch * (stretches[0][0][0] + max(high for (_, high), _ in stretches))
    place = np.array([[start, middle]])
    return HeatedPart(
        lines=tuple(lines),
        middle=TO_MM * face.place(place)[0, 1:],
        outward=face.normal(place)[0, 1:],
        label=_few([number for _, numbers in stretches for number in numbers]),
    )


def _counterclockwise(points: Array, quads: NDArray[np.int64]) -> NDArray[np.int64]:
    corner = points[quads]
    one, other = corner[:, 2] - corner[:, 0], corner[:, 3] - corner[:, 1]
    turned = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0] < 0.0
    result = quads.copy()
    result[turned] = result[turned][:, ::-1]
    return result


def _few(numbers: Sequence[int]) -> str:
    words = ranges(numbers)
    return words if len(words) <= LONGEST_LABEL else f"{min(numbers)} ... {max(numbers)}"
