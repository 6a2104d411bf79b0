"""Draw a scene: the part by VTK or by triangles alone, all lines and words by matplotlib."""

import math
import warnings
from dataclasses import replace
from pathlib import Path
from typing import IO, Any

import numpy as np

from flamefe.reporting.room import Discs, Room, beside
from flamefe.reporting.scene import (
    DIMENSION_SIZE,
    Scene,
    View,
    dimension_lines,
    seen_from,
    view_of,
)
from flamefe.reporting.skin import Array, facing
from flamefe.reporting.words import one_line
from flamefe.workpiece.faces import FACE_AXES

WIDTH_IN, HEIGHT_IN, DOTS_PER_INCH = 14.0, 9.0, 100
PART = (0.02, 0.09, 0.82, 0.76)  # left, bottom, width, height of the part's field in the figure
BAR = (0.895, 0.16, 0.018, 0.60)
INK, PALE, LEVEL = "#202020", "#8a8a8a", "#7fe3ff"
GRID, GRID_OPACITY = "#707070", 0.3
LONGEST_NOTE = 138
NUMBER_SIZE, NUMBER_RADIUS = 12.0, 9.5  # of a heat's number and the circle round it, points
NUMBER_STEPS = (21.0, 31.0)  # from where a heat starts to a number that has to give way, points
LONGEST_IN_CIRCLE = 2
ALONG_A_LINE = (0.5, 0.35, 0.65, 0.2, 0.8)  # where on its line a dimension's words may stand


def draw(scene: Scene, file: Path | IO[bytes], *, three_d: bool) -> None:
    """Draw ``scene`` as a PNG of 1400 x 900 dots.

    Args:
        scene: what to draw.
        file: where to.
        three_d: True: the part is drawn by VTK, which must work here (see ``why_no_3d``);
            False: by triangles sorted from back to front, right for parts without hollows.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    view = view_of(
        scene,
        width_to_height=PART[2] * WIDTH_IN / (PART[3] * HEIGHT_IN),
        width_in=PART[2] * WIDTH_IN,
    )
    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DOTS_PER_INCH, facecolor="white")
    FigureCanvasAgg(figure)
    axes = figure.add_axes(PART)
    axes.set_axis_off()
    if three_d:
        picture = _vtk_picture(scene, view)
        extent = (view.low[0], view.high[0], view.low[1], view.high[1])
        axes.imshow(picture, extent=extent, zorder=0, interpolation="antialiased")
    else:
        _triangles(axes, scene, view)
    axes.set_xlim(view.low[0], view.high[0])
    axes.set_ylim(view.low[1], view.high[1])
    _before(axes, scene, view)
    _level(axes, scene, view)
    room = Room.of(axes, view.low, view.high)
    draw_trails(axes, scene, view, room)
    draw_dimensions(axes, scene, view, room)
    draw_triad(figure, view)
    _words(figure, scene)
    _colour_bar(figure, scene)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")  # a title in a script without a font
        figure.savefig(file, format="png", dpi=DOTS_PER_INCH, metadata={"Software": None})


def _vtk_picture(scene: Scene, view: View) -> Any:
    """The part alone, hidden surfaces worked out, at twice the dots, (height, width, 3)."""
    import pyvista
    from vtkmodules.vtkCommonCore import vtkLogger

    across, upwards = (view.high - view.low).tolist()
    dots = round(2 * PART[2] * WIDTH_IN * DOTS_PER_INCH)
    said = vtkLogger.GetCurrentVerbosityCutoff()
    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_OFF)
    try:
        plotter: Any = pyvista.Plotter(
            off_screen=True, window_size=[dots, round(dots * upwards / across)], lighting="none"
        )
        try:
            plotter.set_background("white")
            quads = np.insert(scene.skin.quads, 0, 4, axis=1).ravel()
            part: Any = pyvista.PolyData(scene.points, quads)
            part.point_data["field"] = scene.values
            plotter.add_mesh(
                part, scalars="field", cmap=scene.colour_map, clim=scene.span, lighting=False,
                show_edges=False, show_scalar_bar=False, interpolate_before_map=True,
            )  # fmt: skip
            nearer = scene.points + 1e-3 * across * view.towards  # lines lie on top of surfaces
            grid = pyvista.PolyData(nearer, quads).extract_all_edges()
            plotter.add_mesh(grid, color=GRID, opacity=GRID_OPACITY, line_width=1.5, lighting=False)
            if len(scene.skin.edges):
                lines = np.insert(scene.skin.edges, 0, 2, axis=1).ravel()
                edges = pyvista.PolyData(nearer, lines=lines)
                plotter.add_mesh(edges, color=scene.edge_colour, line_width=3, lighting=False)
            camera = plotter.camera
            camera.focal_point = view.centre
            far = 4.0 * max(across, upwards, float(np.ptp(scene.points, axis=0).max()))
            camera.position = view.centre + far * view.towards
            camera.up = view.up
            camera.parallel_projection = True
            camera.parallel_scale = 0.5 * upwards
            plotter.renderer.ResetCameraClippingRange()
            return plotter.screenshot(None, return_img=True)
        finally:
            plotter.close()
    finally:
        vtkLogger.SetStderrVerbosity(said)


def _triangles(axes: Any, scene: Scene, view: View) -> None:
    """The part as shaded triangles from back to front."""
    from matplotlib.collections import LineCollection

    seen = scene.skin.quads[facing(scene.points, scene.skin.quads, view.towards)]
    triangles = np.concatenate((seen[:, [0, 1, 2]], seen[:, [0, 2, 3]]))
    nearness = view.depth(scene.points)[triangles].mean(axis=1)
    flat = view.flat(scene.points)
    axes.tripcolor(
        flat[:, 0], flat[:, 1], triangles[np.argsort(nearness)], scene.values,
        shading="gouraud", cmap=scene.colour_map, vmin=scene.span[0], vmax=scene.span[1], zorder=0,
    )  # fmt: skip
    rings = flat[np.concatenate((seen, seen[:, :1]), axis=1)]
    axes.add_collection(
        LineCollection(list(rings), colors=GRID, linewidths=0.6, alpha=GRID_OPACITY, zorder=1)
    )
    in_view = facing(scene.points, scene.skin.quads, view.towards)[scene.skin.edge_quads]
    edges = flat[scene.skin.edges[in_view.any(axis=1)]]
    axes.add_collection(
        LineCollection(list(edges), colors=scene.edge_colour, linewidths=1.4, zorder=2)
    )


def _before(axes: Any, scene: Scene, view: View) -> None:
    from matplotlib.collections import LineCollection

    if scene.before is None:
        return
    edges = view.flat(scene.before)[scene.skin.edges]
    axes.add_collection(
        LineCollection(list(edges), colors=PALE, linewidths=1.4, linestyles=(0, (5, 3)), zorder=3)
    )


def _level(axes: Any, scene: Scene, view: View) -> None:
    from matplotlib.collections import LineCollection

    pieces = view.flat(scene.level_pieces(view))
    for colour, width in (("black", 4.0), (LEVEL, 2.0)):
        axes.add_collection(
            LineCollection(
                list(pieces), colors=colour, linewidths=width, capstyle="round", zorder=4
            )
        )


def draw_trails(axes: Any, scene: Scene, view: View, room: Room) -> None:
    """Ways of the torch, numbered in the order of heats; no number covers another."""
    from matplotlib.patheffects import withStroke

    rim = [withStroke(linewidth=4.5, foreground="black")]
    starts: dict[tuple[float, float], list[int]] = {}
    for trail in scene.trails:
        if not scene.shows(trail.points[0]):
            continue
        style = "-" if seen_from(trail.face, scene.face) else (0, (3, 2))
        flat = view.flat(trail.points)
        if len(flat) == 1:
            ring = view.flat(_ring(trail.points[0], trail.radius, trail.face))
            axes.plot(*ring.T, color="white", lw=2, ls=style, path_effects=rim, zorder=5)
        else:
            axes.plot(*flat.T, color="white", lw=2, ls=style, path_effects=rim, zorder=5)
            axes.plot(
                *flat[-1], marker=(3, 0, _heading(flat) - 90.0), ms=15, mfc="white", mec="black",
                mew=1.5, zorder=6,
            )  # fmt: skip
        place = (round(float(flat[0, 0]), 1), round(float(flat[0, 1]), 1))
        starts.setdefault(place, []).append(trail.number)
    for place, numbers in starts.items():
        _number(axes, np.array(place), _ranges(numbers), room)


def _number(axes: Any, start: Array, text: str, room: Room) -> None:
    """The number of a heat where it starts, or beside that where another one stands."""
    turns = np.radians([90.0, 180.0, 0.0, 270.0, 135.0, 45.0, 225.0, 315.0])
    around = np.stack((np.cos(turns), np.sin(turns)), axis=1)
    places = [start, *(start + step * room.point * way for step in NUMBER_STEPS for way in around)]
    circle = len(text) <= LONGEST_IN_CIRCLE
    radius = NUMBER_RADIUS * room.point
    choices = [
        Discs(middles=place[None], radius=radius) if circle else
        replace(room.words(place, text, NUMBER_SIZE), radius=radius)
        for place in places
    ]  # fmt: skip
    place = places[room.best(choices)]
    if place is not places[0]:
        line = np.stack((start, place))
        axes.plot(*line.T, color="black", lw=1.2, zorder=6.5)
        axes.plot(*start, marker="o", ms=4, color="black", zorder=6.5)
    axes.text(
        *place, text, ha="center", va="center", fontsize=NUMBER_SIZE, weight="bold", zorder=7,
        color=INK, bbox={"boxstyle": "circle,pad=0.25" if circle else "round,pad=0.3",
                         "fc": "white", "ec": "black", "lw": 1.2},
    )  # fmt: skip


def _heading(flat: Array) -> float:
    """Direction in which a path ends, degrees from the right, counterclockwise."""
    steps = np.diff(flat, axis=0)
    long = steps[np.linalg.norm(steps, axis=1) > 0]
    return math.degrees(math.atan2(long[-1, 1], long[-1, 0])) if len(long) else 0.0


def _ring(centre: Array, radius: float, face: str) -> Array:
    turn = np.linspace(0.0, 2.0 * math.pi, 61)
    ring = np.tile(centre, (turn.size, 1))
    first, second = FACE_AXES[face]
    ring[:, first] += radius * np.cos(turn)
    ring[:, second] += radius * np.sin(turn)
    return ring


def _ranges(numbers: list[int]) -> str:
    """Numbers as a short text: 1, 2, 3, 7 as "1-3, 7"."""
    runs: list[list[int]] = []
    for value in sorted(set(numbers)):
        if runs and value == runs[-1][1] + 1:
            runs[-1][1] = value
        else:
            runs.append([value, value])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)


def draw_dimensions(axes: Any, scene: Scene, view: View, room: Room) -> None:
    """Dimension lines beside the part, their words where nothing else stands."""
    look: dict[str, Any] = {
        "fontsize": DIMENSION_SIZE, "color": INK, "ha": "center", "va": "center", "zorder": 3,
    }  # fmt: skip
    for ends, text in dimension_lines(scene, view.right, view.up):
        a, b = view.flat(ends)
        axes.annotate(
            "", xy=a, xytext=b, zorder=2,
            arrowprops={"arrowstyle": "<|-|>", "color": INK, "lw": 0.9, "shrinkA": 0, "shrinkB": 0},
        )  # fmt: skip
        places = beside(a, b, text, DIMENSION_SIZE, room)
        if places:
            chosen = room.best([room.words(place, text, DIMENSION_SIZE) for place in places])
            axes.text(*places[chosen], text, **look)
            continue
        along = (b - a) / max(float(np.linalg.norm(b - a)), 1e-12)
        places = [a + share * (b - a) for share in ALONG_A_LINE]
        half = 0.5 * room.length(text, DIMENSION_SIZE)
        places = [
            place for place in places
            if half <= float((place - a) @ along) <= float((b - a) @ along) - half
        ] or places[:1]  # fmt: skip
        chosen = room.best([room.words(p, text, DIMENSION_SIZE, along) for p in places])
        slope = math.degrees(math.atan2(along[1], along[0]))
        axes.text(
            *places[chosen], text, rotation=(slope + 90.0) % 180.0 - 90.0,
            rotation_mode="anchor", bbox={"fc": "white", "ec": "none", "pad": 1.5}, **look,
        )  # fmt: skip


def draw_triad(
    figure: Any,
    view: View,
    box: tuple[float, float, float, float] = (0.905, 0.015, 0.075, 0.075 * WIDTH_IN / HEIGHT_IN),
) -> None:
    """The directions of x, y and z, in a corner of the figure."""
    axes = figure.add_axes(box)
    axes.set_axis_off()
    axes.set_xlim(-1.3, 1.3)
    axes.set_ylim(-1.3, 1.3)
    for axis, name in enumerate("xyz"):
        tip = view.flat(np.eye(3)[axis])
        axes.annotate(
            "", xy=tip, xytext=(0, 0),
            arrowprops={"arrowstyle": "-|>", "color": INK, "lw": 1.4, "shrinkA": 0, "shrinkB": 0},
        )  # fmt: skip
        reach = tip * (1 + 0.28 / max(float(np.linalg.norm(tip)), 0.3))
        axes.text(*reach, name, ha="center", va="center", fontsize=12, color=INK)


def _words(figure: Any, scene: Scene) -> None:
    figure.text(
        0.025, 0.962, one_line(scene.title), fontsize=18, weight="bold", va="center", color=INK,
        parse_math=False,
    )  # fmt: skip
    for row, note in enumerate(scene.notes[:3]):
        figure.text(
            0.025, 0.925 - 0.030 * row, one_line(note, LONGEST_NOTE), fontsize=12.5, va="center",
            color=INK, parse_math=False,
        )  # fmt: skip
    for row, note in enumerate(scene.footnotes[:3]):
        figure.text(
            0.025, 0.072 - 0.026 * row, one_line(note, LONGEST_NOTE), fontsize=11, va="center",
            color="#404040", parse_math=False,
        )  # fmt: skip


def _colour_bar(figure: Any, scene: Scene) -> None:
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize

    axes = figure.add_axes(BAR)
    scale = ScalarMappable(norm=Normalize(*scene.span), cmap=scene.colour_map)
    bar = figure.colorbar(scale, cax=axes)
    bar.ax.tick_params(labelsize=12)
    figure.text(
        0.985, BAR[1] + BAR[3] + 0.045, scene.colour_label, fontsize=12.5, va="center",
        ha="right", color=INK, parse_math=False,
    )  # fmt: skip
    if scene.level is not None and scene.span[0] < scene.level < scene.span[1]:
        bar.ax.axhline(scene.level, color="black", lw=4)
        bar.ax.axhline(scene.level, color=LEVEL, lw=2)
        bar.ax.annotate(
            scene.level_label, xy=(0, scene.level), xycoords=("axes fraction", "data"),
            xytext=(-6, 0), textcoords="offset points", ha="right", va="center", fontsize=12,
        )  # fmt: skip
