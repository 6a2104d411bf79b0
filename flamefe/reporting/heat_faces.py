"""Heated faces rolled out flat, as a heat sheet draws them."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from flamefe.reporting.heat_outline import TO_MM, section_view, true_spans
from flamefe.reporting.heat_shapes import WHOLE
from flamefe.reporting.heat_sketch import Drawn, FaceView, Holder, Sketch, Span
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

MOST_VIEWS = 3
MOST_HOLDERS = 6
PROBES = 161
RIM = 0.5
"""Within this of its edge a place is at the rim of a face, mm."""
ON_FACE_MM = 2.0
"""Distance from a rolled-out face beyond which a support touches another side of the part, mm."""


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
        section=None if isinstance(case.workpiece, MeshFile) else section_view(part, numbered),
        left_out=tuple(name for name in by_face if name not in chosen),
    )


def _view(
    part: MeshedCase, name: str, heats: Sequence[tuple[int, AnyHeat]], *, alone: bool
) -> FaceView:
    case = part.case
    face = face_map_of(case.workpiece, part.mesh, name)
    along, across = true_spans(face)
    strokes = [one for number, heat in heats for one in _strokes(case, number, heat, alone=alone)]
    period = 0.0 if face.period is None else across[1] - across[0]
    if period:
        across, strokes = _unrolled(strokes, period)
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
    holders = _holders(part, face, along, across)
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
        keys_across=_keys(strokes, 1, across, [], ends=(0.0, period) if period else across),
        hidden=_hidden(case, name, across),
        guides=_guides(face, across),
        holders=holders,
        sides=_sides(case, name),
    )


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


def _unrolled(strokes: Sequence[Drawn], period: float) -> tuple[Span, list[Drawn]]:
    """From where to where a tube is rolled out, so that no heat is cut apart, and its strokes."""
    ends = [float(v) for one in strokes for v in (*one.points[:, 1], *one.rim[:, 1])]
    low, high = min(ends), max(ends)
    if high - low <= period:
        start = 0.0
        if low < 0.0 or high > period:
            start = low - 0.5 * (period - (high - low))
        return (start, start + period), list(strokes)
    moved = []
    for one in strokes:
        turns = float(np.floor(one.points[:, 1].mean() / period))
        shift = np.array([0.0, -turns * period])
        moved.append(replace(one, points=one.points + shift, rim=one.rim + shift))
    return (0.0, period), moved


def _keys(
    strokes: Sequence[Drawn],
    axis: int,
    span: Span,
    others: Iterable[float],
    ends: Span | None = None,
) -> tuple[tuple[float, ...], ...]:
    """Places worth a dimension: ends of the face; starts of heats; their ends; supports; widths."""
    outer: list[float] = []
    for one in strokes:
        if len(one.rim):
            outer += [float(one.rim[:, axis].min()), float(one.rim[:, axis].max())]
        elif len(one.points) > 2:
            outer += [float(one.points[:, axis].min()), float(one.points[:, axis].max())]
    tiers = (
        ends or span, [float(one.points[0, axis]) for one in strokes],
        [float(one.points[-1, axis]) for one in strokes], others, outer,
    )  # fmt: skip
    known: set[float] = set()
    made = []
    for tier in tiers:
        fine = tier is not outer  # what a torch covers is no finer than a chalk line
        rounded = dict.fromkeys(round(v, fine and abs(v) < WHOLE) + 0.0 for v in tier)
        fresh = [v for v in rounded if v not in known and span[0] - 0.5 <= v <= span[1] + 0.5]
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
    quarter = 0.25 * (across[1] - across[0])
    names = ("lowest", "side of large y", "top", "side of small y")
    first, last = int(np.ceil(across[0] / quarter - 1e-9)), int(across[1] / quarter + 1e-9)
    return tuple((i * quarter, names[i % 4]) for i in range(first, last + 1))


def _holders(part: MeshedCase, face: FaceMap, along: Span, across: Span) -> tuple[Holder, ...]:
    """Supports at places and all over faces, brought to a rolled-out face."""
    made = []
    for mark in marks_of(part):
        if mark.load or not len(mark.places):
            continue
        flat = TO_MM * face.back(mark.places / TO_MM)
        off = np.linalg.norm(TO_MM * face.place(flat / TO_MM) - mark.places, axis=1)
        away = not len(mark.faces) and off.min() > ON_FACE_MM
        label = f"({mark.label})" if away else mark.label
        if len(mark.faces) and face.period is None:
            made.append(_over(mark, part, face, along, across))
            continue
        flat[:, 1] /= face.stretch
        if face.period is not None:
            flat[:, 1] = across[0] + np.mod(flat[:, 1] - across[0], across[1] - across[0])
        flat = np.clip(flat, [along[0], across[0]], [along[1], across[1]])
        places = dict.fromkeys((round(float(u), 1), round(float(v), 1)) for u, v in flat)
        made.append(Holder(label=label, places=tuple(places)))
    return tuple(made[:MOST_HOLDERS])


def _over(mark: Mark, part: MeshedCase, face: FaceMap, along: Span, across: Span) -> Holder:
    """A support that holds a whole face: along a side of the rolled-out one, or all over it."""
    points = np.asarray(part.mesh.p.T[np.unique(mark.faces)])
    flat = face.back(points)
    off = TO_MM * float(np.linalg.norm(face.place(flat) - points, axis=1).max())
    flat *= TO_MM
    flat[:, 1] /= face.stretch
    flat = np.clip(flat, [along[0], across[0]], [along[1], across[1]])
    low, high = flat.min(axis=0), flat.max(axis=0)
    beside = bool((high - low).min() < RIM) or off <= ON_FACE_MM
    return Holder(
        label=mark.label if beside else f"({mark.label})",
        over=((float(low[0]), float(low[1])), (float(high[0]), float(high[1]))),
    )
