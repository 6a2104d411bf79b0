"""The section of a part with the stretches of its outline that heats lie on."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from flamefe.reporting.heat_rows import ranges
from flamefe.reporting.heat_sketch import Array, HeatedPart, SectionView, Span
from flamefe.reporting.marks import MeshedCase
from flamefe.study.case import AnyHeat, MeshFile
from flamefe.study.case_flames import radius_mm_of
from flamefe.study.case_strokes import pattern_of
from flamefe.study.face_maps import face_map_of
from flamefe.study.laying import laid_on
from flamefe.workpiece.extrude import BEAM_ENDS
from flamefe.workpiece.face_map import FaceMap
from flamefe.workpiece.section import boundary_loops

TO_MM = 1e3
NOSE = 0.15
"""Width under which a pattern counts as a line or point, mm: the flame's radius is drawn."""
CLOSE = 0.14
"""Heated stretches this near, by the section's size, share one torch in the drawing."""
LONGEST_LABEL = 10


def true_spans(face: FaceMap) -> tuple[Span, Span]:
    """From where to where a face's two coordinates run, mm, as the shop measures it."""
    (a, b), (c, d) = face.span
    return (TO_MM * a, TO_MM * b), (TO_MM * c / face.stretch, TO_MM * d / face.stretch)


def section_view(part: MeshedCase, heats: Sequence[tuple[int, AnyHeat]]) -> SectionView | None:
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
        first, last = true_spans(face)[1]
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
