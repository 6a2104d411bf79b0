"""How a case's part will be divided: sizes with their defaults, and how many nodes."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from flamefe.basics.errors import MeshError, OutOfRange
from flamefe.study.beam_mesh import BeamLayout, Heated, laid_out, usual_size_away
from flamefe.study.beam_sections import faces_of_beam, is_beam
from flamefe.study.case_draft import Read
from flamefe.study.case_extent import size_of
from flamefe.study.case_flames import radius_in, reach_in
from flamefe.study.case_strokes import heat_in, outline_of
from flamefe.study.laying import opposite_in
from flamefe.workpiece.faces import FACE_AXES, FACE_SIDES
from flamefe.workpiece.mesh import graded

MOST_NODES = 400_000
"""A mesh with more nodes than this is refused."""
SHEET_LAYERS, FEWEST_LAYERS, MOST_LAYERS = 2, 4, 16
"""Layers through the thickness of a sheet, of anything thicker, and at most, where not given."""
THICK_MM = 5.0
"""From this thickness on a part is no sheet."""
LARGEST_SIZE_BY_RADIUS = 2 / 3
"""Largest element at the heat, as a share of the flame's radius, that still sees the flame."""


@dataclass(frozen=True, kw_only=True)
class MeshPlan:
    """Sizes of a part's mesh, and how many nodes they lead to.

    Args:
        size_at_heat_mm: largest element where a flame goes, mm.
        size_away_mm: largest element elsewhere, mm.
        reach_mm: distance from a path within which elements are fine, mm: two flame
            radii beyond the outermost jet.
        layers: element layers through the thickness, of a beam through each of its plates.
        nodes: number of nodes.
        beam: section and stations of a beam; None for another part.
    """

    size_at_heat_mm: float
    size_away_mm: float
    reach_mm: float
    layers: int
    nodes: int
    beam: BeamLayout | None = field(default=None, repr=False)


def path_in(heat: Read) -> tuple[tuple[float, float], ...] | None:
    """Points between which a heat lies on its face, mm; None where they can't be read."""
    if heat.get("kind") in ("line", "held line"):
        return heat.get("path_mm")
    if heat.get("kind") == "spot":
        return (heat["at_mm"],) if "at_mm" in heat else None
    read = heat_in(heat)
    return None if read is None else outline_of(read)


def smallest_radius(draft: Mapping[str, Any]) -> float | None:
    """Smallest radius of the flames that heats use, mm; None when none is known."""
    flames: Mapping[str, Read] = draft["flames"] or {}
    used = {heat["flame"] for heat in draft["heats"] or () if "flame" in heat}
    found = [radius_in(flames[name]) for name in used if name in flames]
    return min((radius for radius in found if radius is not None), default=None)


def plan_of(draft: Mapping[str, Any]) -> MeshPlan | None:
    """Plan of the mesh, as far as it can be told from what was read of a case.

    Without a flame the size at the heat is the size away, by default a twentieth of the part's
    largest extent.

    Returns:
        The plan; None for a mesh file, or when a value that it needs is not known.
    """
    size, mesh = size_of(draft["workpiece"] or {}), draft["mesh"]
    if size is None or mesh is None or draft["heats"] is None or math.inf in size:
        return None
    if not {"size_at_heat_mm", "size_away_mm", "layers"} <= set(mesh):
        return None
    beam = is_beam(draft["workpiece"])
    fine, coarse, radius = mesh["size_at_heat_mm"], mesh["size_away_mm"], smallest_radius(draft)
    if radius is None:
        if draft["heats"]:
            return None
        coarse = coarse or max(size) / 20 if not beam else coarse or usual_size_away(size, 0.0)
        fine, radius = coarse, 0.5 * coarse
    fine = fine or radius / 3
    coarse = coarse or (usual_size_away(size, fine) if beam else 4 * fine)
    reach = _largest_reach(draft, 2 * radius)
    if beam:
        return _plan_of_beam(draft, size, (fine, coarse, reach))
    try:
        counts = [
            len(graded(1e-3 * size[axis], fine_spans=_spans(draft, axis, size, reach),
                       fine=1e-3 * fine, coarse=1e-3 * coarse))
            for axis in (0, 1)
        ]  # fmt: skip
    except MeshError:
        return None
    layers = mesh["layers"] or _usual_layers(size[2], fine)
    return MeshPlan(
        size_at_heat_mm=fine, size_away_mm=coarse, reach_mm=reach, layers=layers,
        nodes=counts[0] * counts[1] * (layers + 1),
    )  # fmt: skip


def _plan_of_beam(
    draft: Mapping[str, Any],
    size: tuple[float, float, float],
    sizes: tuple[float, float, float],
) -> MeshPlan | None:
    """Plan of a beam's mesh with sizes at the heat and away from it, and a reach, mm."""
    fine, coarse, reach = sizes
    try:
        layout = laid_out(
            draft["workpiece"], _heated(draft), size_mm=size, fine_mm=fine, coarse_mm=coarse,
            reach_mm=reach, layers=draft["mesh"]["layers"],
        )  # fmt: skip
    except (MeshError, OutOfRange):
        return None
    if layout is None:
        return None
    return MeshPlan(
        size_at_heat_mm=fine, size_away_mm=coarse, reach_mm=reach, layers=layout.layers,
        nodes=layout.nodes, beam=layout,
    )  # fmt: skip


def _heated(draft: Mapping[str, Any]) -> list[Heated]:
    """Stretches of a beam's faces that heats cover, also across from them."""
    faces = faces_of_beam(draft["workpiece"])
    found = []
    for heat in draft["heats"]:
        face, path = heat.get("face"), path_in(heat)
        if faces is None or face not in faces.maps or not path:
            continue
        along, across = zip(*path, strict=True)
        u, v = (min(along), max(along)), (min(across), max(across))
        found.append(Heated(face, u, v))
        if heat.get("both_faces"):
            other = opposite_in(faces, face, (1e-3 * v[0], 1e-3 * v[1]))
            if other is not None:
                there = sorted(1e3 * w for _, w in other.points(tuple((0.0, 1e-3 * w) for w in v)))
                found.append(Heated(other.face, u, (there[0], there[1])))
    return found


def _usual_layers(thickness: float, fine: float) -> int:
    """No thicker than elements at the heat are long; two for a sheet, at least four otherwise."""
    least = FEWEST_LAYERS if thickness >= THICK_MM else SHEET_LAYERS
    return min(max(least, math.ceil(thickness / fine)), MOST_LAYERS)


def _largest_reach(draft: Mapping[str, Any], otherwise: float) -> float:
    flames: Mapping[str, Read] = draft["flames"] or {}
    used = {heat["flame"] for heat in draft["heats"] if "flame" in heat}
    found = [reach_in(flames[name]) for name in used if name in flames]
    return max((reach for reach in found if reach is not None), default=otherwise)


def _spans(
    draft: Mapping[str, Any], axis: int, size: tuple[float, float, float], reach: float
) -> list[tuple[float, float]]:
    """Where elements are fine along x or y, m."""
    spans = []
    for heat in draft["heats"]:
        face, path = heat.get("face"), path_in(heat)
        if face not in FACE_SIDES or path is None:
            continue
        normal, side = FACE_SIDES[face]
        if normal == axis:
            spans.append((0.0, reach) if side < 0 else (size[axis] - reach, size[axis]))
        else:
            values = [point[FACE_AXES[face].index(axis)] for point in path]
            spans.append((min(values) - reach, max(values) + reach))
    return [(1e-3 * low, 1e-3 * high) for low, high in spans]
