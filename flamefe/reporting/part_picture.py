"""The part as it was asked for: heats numbered, restraints and loads marked."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex

from flamefe.reporting.asked import extent_mm_of
from flamefe.reporting.charts import INK, Chart, headed, new_figure, saved
from flamefe.reporting.drawing import draw_dimensions, draw_trails, draw_triad
from flamefe.reporting.focus import heated_parts
from flamefe.reporting.marks import HOLDING, LOADING, Mark, MeshedCase, marks_of
from flamefe.reporting.pictures import part_words, points_mm, surroundings_of
from flamefe.reporting.room import CHARACTER, Discs, Room
from flamefe.reporting.scene import Scene, View, side_with_most, view_of
from flamefe.reporting.skin import Array, Indices, Skin, facing
from flamefe.reporting.words import one_line
from flamefe.study.case import Case
from flamefe.study.case_strokes import pattern_of
from flamefe.study.face_maps import face_map_of, on_mesh
from flamefe.study.parts import body_of, material_of
from flamefe.study.result import RunResult
from flamefe.workpiece.material import Material

WIDTH_IN, WHOLE_IN, DETAIL_IN, HEAD_IN = 7.6, 4.0, 2.7, 0.4
FACE_COLOURS = ((0.94, 0.94, 0.93), (0.70, 0.72, 0.74))
"""Of faces that look at the viewer, and of those that are seen along them."""
ARROW = 0.1
"""Length of an arrow, by the part's longest side."""
HEATED = "#e8a33d"
MOST_DETAILS, MOST_NAMED = 2, 6
LABEL_SIZE, ARROW_WIDTH = 9.5, 7.0
"""Of a label's font and of an arrow with its head, points."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _Unsolved:
    """A case that was only meshed; a plate flat, whatever its initial shape."""

    case: Case
    mesh: MeshHex
    material: Material


def part_picture(asked: RunResult | Case, file: str | Path, *, folder: str | Path = ".") -> Path:
    """Draw the part before the job, its heats numbered in order, restraints and loads marked.

    Args:
        asked: a finished run, or a case before it is run: the part is meshed, nothing is solved.
        file: PNG or SVG to write.
        folder: where a mesh file named in a case is looked for.

    Returns:
        The file.

    Raises:
        NoSuchPicture: the file ends in something else.
        CaseError, MeshError: the part of a case can't be meshed.
        OSError: the file can't be written.

    Example:
        >>> part_picture(case, "part.svg")  # doctest: +SKIP
    """
    return saved(part_chart(asked, folder), file)


def part_chart(asked: RunResult | Case, folder: str | Path = ".") -> Chart:
    """What ``part_picture`` draws: the whole part and, of a long one, the heated part by itself."""
    result = _meshed(asked, Path(folder)) if isinstance(asked, Case) else asked
    skin, trails, _ = surroundings_of(result)
    points = points_mm(result)
    parts = heated_parts(result, trails)
    whole = Scene(
        title="", notes=(), points=points, skin=skin, values=np.zeros(len(points)),
        colour_label="", colour_map="gray", span=(0.0, 1.0), trails=trails,
        face=side_with_most([trail.face for trail in trails]), size=extent_mm_of(result),
    )  # fmt: skip
    marks = marks_of(result)
    scenes = [whole, *(replace(whole, focus=part) for part in parts[:MOST_DETAILS])]
    flat = 0.55 if parts else 1.0  # a long part leaves much room above and below
    sizes = [WHOLE_IN * flat, *([DETAIL_IN] * (len(scenes) - 1))]
    total = HEAD_IN * len(scenes) + sum(sizes)
    figure = new_figure(total, WIDTH_IN)
    low = total
    for number, (scene, size) in enumerate(zip(scenes, sizes, strict=True)):
        low -= HEAD_IN + size
        axes = figure.add_axes((0.01, low / total, 0.98, size / total))
        axes.set_axis_off()
        across = 0.98 * WIDTH_IN
        view = view_of(scene, width_to_height=across / size, width_in=across)
        view = _roomy(view, scene, marks)
        room = Room.of(axes, view.low, view.high)
        _solid(axes, scene, view)
        _patterns(axes, result, scene, view)
        for mark in marks:
            _mark(axes, mark, scene, view, room)
        draw_trails(axes, scene, view, room)
        draw_dimensions(axes, scene, view, room)
        for mark in marks:
            _label(axes, mark, scene, view, room)
        axes.set_xlim(view.low[0], view.high[0])
        axes.set_ylim(view.low[1], view.high[1])
        axes.set_aspect("equal")
        title = f"The part before the job: {part_words(result)}"
        if number:
            title = _detail_title(scene, len(parts))
        headed(axes, one_line(title, 90))
        if not number:
            across = 0.09
            draw_triad(figure, view, (0.9, low / total, across, across * WIDTH_IN / total))
    said = [f"{mark.label} {mark.words}" for mark in marks]
    heats = len(result.case.heats)
    words = f"Drawing of the part, {part_words(result)}, with {heats} heat{'s' * (heats != 1)}"
    return Chart(figure=figure, words=f"{words}{'; ' if said else ''}{'; '.join(said)}.")


def _meshed(case: Case, folder: Path) -> _Unsolved:
    material = material_of(case)
    body, _ = body_of(case, material, folder)
    return _Unsolved(case=case, mesh=body.mesh, material=material)


def _roomy(view: View, scene: Scene, marks: tuple[Mark, ...]) -> View:
    """The view widened until all arrows are in it, its shape kept."""
    if scene.focus is not None:
        return view
    ends = [view.flat(np.array(arrow)) for mark in marks for arrow in _arrows(mark, scene)]
    if not ends:
        return view
    flat = np.concatenate(ends)
    low, high = np.minimum(view.low, flat.min(axis=0)), np.maximum(view.high, flat.max(axis=0))
    size = view.high - view.low
    grown = float(np.max((high - low) / size)) * 1.08
    middle = 0.5 * (low + high)
    if grown <= 1.08 and (low == view.low).all() and (high == view.high).all():
        return view
    return replace(view, low=middle - 0.5 * grown * size, high=middle + 0.5 * grown * size)


def _solid(axes: Any, scene: Scene, view: View) -> None:
    """The part as solid faces from back to front, each with its own sharp edges over it."""
    from matplotlib.collections import PolyCollection

    seen = facing(scene.points, scene.skin.quads, view.towards)
    quads = scene.skin.quads[seen]
    corners_ = scene.points[quads]
    normals = np.cross(corners_[:, 2] - corners_[:, 0], corners_[:, 3] - corners_[:, 1])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    bright, dark = np.array(FACE_COLOURS)
    share = np.clip(normals @ view.towards, 0.0, 1.0)[:, None] ** 0.7
    colours = share * bright + (1.0 - share) * dark
    near = view.depth(scene.points)
    depth = near[quads].mean(axis=1)
    edges, edge_depth = _edges(scene.skin, seen, near)
    flat = view.flat(scene.points)
    shapes = [*flat[quads], *flat[edges]]
    order = np.argsort(np.concatenate((depth, edge_depth)), kind="stable")
    fill = [*colours.tolist(), *([INK] * len(edges))]
    line = [*colours.tolist(), *([INK] * len(edges))]
    width = [0.6] * len(quads) + [1.1] * len(edges)
    drawn = PolyCollection(
        [shapes[i] for i in order], facecolors=[fill[i] for i in order],
        edgecolors=[line[i] for i in order], linewidths=[width[i] for i in order],
        rasterized=True, zorder=0,
    )  # fmt: skip
    axes.add_collection(drawn)


def _edges(skin: Skin, seen: NDArray[np.bool_], near: Array) -> tuple[Indices, Array]:
    """Sharp edges of quads that face the viewer, and how near they are: just over their quads."""
    kept = seen[skin.edge_quads].any(axis=1)
    owners = skin.edge_quads[kept]
    depth = near[skin.quads].mean(axis=1)
    depth = np.where(seen, depth, -np.inf)
    own = depth[owners].max(axis=1)
    return skin.edges[kept], np.asarray(np.nextafter(own, np.inf))


def _patterns(axes: Any, result: MeshedCase, scene: Scene, view: View) -> None:
    """What woven torches cover, tinted."""
    from matplotlib.patches import Polygon

    for heat in result.case.heats:
        strokes = [stroke for stroke in pattern_of(heat).strokes if any(stroke.widths)]
        if not strokes:
            continue
        face = face_map_of(result.case.workpiece, result.mesh, heat.face)
        for stroke in strokes:
            ends = stroke.outline
            pairs = []
            at = 0
            for width in stroke.widths:
                pairs.append((ends[at], ends[at + (width > 0.0)]))
                at += 2 if width > 0.0 else 1
            ring = [left for left, _ in pairs] + [right for _, right in reversed(pairs)]
            outline = 1e3 * face.place(np.array(on_mesh(face, tuple(ring))))
            if not scene.shows(outline.mean(axis=0)):
                continue
            flat = view.flat(outline)
            axes.add_patch(Polygon(flat, closed=True, fc=HEATED, ec="none", alpha=0.55, zorder=2))


def _arrows(mark: Mark, scene: Scene) -> list[tuple[Array, Array]]:
    """Tail and tip of each arrow of a mark, mm."""
    if mark.way is None:
        return []
    low, high = scene.box
    long = ARROW * float((high - low).max())
    if scene.focus is not None:
        long = ARROW * 1.2 * float((scene.focus[1] - scene.focus[0]).max())
    tails = [place - long * mark.way for place in mark.places]
    return [
        (tail, place) if not mark.away else (place, place + long * mark.way)
        for tail, place in zip(tails, mark.places, strict=True)
    ]


def _mark(axes: Any, mark: Mark, scene: Scene, view: View, room: Room) -> None:
    """One mark without its label."""
    from matplotlib.collections import PolyCollection

    colour = LOADING if mark.load else HOLDING
    if len(mark.faces):
        seen = facing(scene.points, mark.faces, view.towards)
        shapes = view.flat(scene.points[mark.faces])
        tint = PolyCollection(
            list(shapes), facecolors=colour, edgecolors=colour, linewidths=0.4,
            alpha=0.35 if seen.mean() > 0.5 else 0.10, rasterized=True, zorder=1,
        )  # fmt: skip
        axes.add_collection(tint)
    if len(mark.ring):
        axes.plot(*view.flat(mark.ring).T, color=colour, lw=1.6, ls=(0, (3, 2)), zorder=4)
    arrows = _shown_arrows(mark, scene)
    for tail, tip in arrows:
        start, end = view.flat(tail), view.flat(tip)
        room.take(room.line(start, end, ARROW_WIDTH))
        axes.annotate(
            "", xy=end, xytext=start, zorder=5,
            arrowprops={
                "arrowstyle": "-|>", "color": colour, "lw": 1.8, "shrinkA": 0, "shrinkB": 0,
                "mutation_scale": 12,
            },
        )  # fmt: skip
    places = [place for place in mark.places if scene.shows(place)]
    if not arrows and places:
        flat = view.flat(np.array(places))
        style = "-" if mark.joined and len(flat) > 1 else "none"
        axes.plot(*flat.T, marker="s", ms=6, color=colour, mec="white", ls=style, lw=2.5, zorder=5)
        for place in flat:
            room.take(Discs(middles=place[None], radius=3.0 * room.point))


def _label(axes: Any, mark: Mark, scene: Scene, view: View, room: Room) -> None:
    """The label of a mark beside it, where nothing else stands."""
    places = [place for place in mark.places if scene.shows(place)]
    if not places:
        return
    arrows = _shown_arrows(mark, scene)
    at = places[0]
    if arrows:
        tail, tip = arrows[0]
        at = tip if mark.away else tail
    flat = view.flat(at)
    aside = 12.0 + 0.5 * CHARACTER * LABEL_SIZE * len(mark.label)
    shifts = [
        step * np.array(way)
        for step in (1.0, 1.8, 2.8)
        for way in ((aside, 0.0), (-aside, 0.0), (aside, 16.0), (aside, -16.0), (-aside, 16.0),
                    (-aside, -16.0), (0.0, 17.0), (0.0, -17.0))
    ]  # fmt: skip
    choices = [room.words(flat + room.point * one, mark.label, LABEL_SIZE) for one in shifts]
    chosen = flat + room.point * shifts[room.best(choices)]
    axes.text(
        *chosen, mark.label, fontsize=LABEL_SIZE, weight="bold", color="white", ha="center",
        va="center", zorder=8,
        bbox={"boxstyle": "square,pad=0.18", "fc": LOADING if mark.load else HOLDING,
              "ec": "white", "lw": 0.8},
    )  # fmt: skip


def _shown_arrows(mark: Mark, scene: Scene) -> list[tuple[Array, Array]]:
    arrows = zip(_arrows(mark, scene), mark.places, strict=False)
    return [pair for pair, place in arrows if scene.shows(place)]


def _detail_title(scene: Scene, parts: int) -> str:
    """Which heats a detail shows, and how many more such details there would be."""
    shown = sorted({one.number for one in scene.trails if scene.shows(one.points[0])})
    if parts == 1:
        return "Where it is heated"
    heats = f"heat{'s' * (len(shown) > 1)} {', '.join(str(one) for one in shown[:MOST_NAMED])}"
    more = f" ({parts} places are heated)" if parts > MOST_DETAILS else ""
    return f"Where it is heated: {heats}{', ...' * (len(shown) > MOST_NAMED)}{more}"
