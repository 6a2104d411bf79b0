"""Temperature against time at a few telling places."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from flamefe.reporting.charts import (
    DASHES,
    INK,
    PALE,
    SERIES,
    Chart,
    dressed,
    headed,
    new_figure,
    on_time,
    saved,
    scale_of,
)
from flamefe.reporting.skin import Array
from flamefe.study.case_flames import radius_mm_of
from flamefe.study.case_strokes import paths_of
from flamefe.study.face_maps import face_map_of, on_mesh
from flamefe.study.heat_outcomes import HeatOutcome
from flamefe.study.result import RunResult

MOST_HEATS = 3
AWAY_RADII = 3.0
"""How far from the torch's way the place away from it lies, in flame radii."""
NEAR_ENOUGH = 0.35
"""How far a node may lie from the place looked for, by the distance to it."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """A place whose temperature is followed.

    Args:
        node: number of the node.
        what: of which heat it is what.
        at_mm: where it is, mm.
        heat: number of its heat, from 1.
        kind: 0 hottest, 1 its back, 2 away from the heat.
    """

    node: int
    what: str
    at_mm: tuple[float, float, float]
    heat: int
    kind: int


def history_picture(result: RunResult, file: str | Path) -> Path | None:
    """Draw temperature against time where each heat was hottest, behind that, and away from it.

    Args:
        result: a finished run.
        file: PNG or SVG to write.

    Returns:
        The file; None, and nothing written, where nothing was heated.

    Raises:
        OSError: the file can't be written.

    Example:
        >>> history_picture(result, "history.svg")  # doctest: +SKIP
    """
    chart = history_chart(result)
    return None if chart is None else saved(chart, file)


def followed_places(result: RunResult) -> tuple[Place, ...]:
    """Places worth following: of the hottest heats (three at most) the hottest node and the one
    behind it, and one place away from the hottest heat.

    Without heats: the node that became hottest.
    """
    hottest = sorted(result.heats, key=lambda one: -one.peak_C)[:MOST_HEATS]
    found = []
    for one in sorted(hottest, key=lambda one: one.number):
        node = _hottest_node(result, one)
        found.append(_place(result, node, f"heat {one.number}: hottest place", one.number, 0))
        back = _behind(result, one, node)
        if back is not None:
            found.append(_place(result, back, f"heat {one.number}: behind that", one.number, 1))
    if hottest:
        away = _away(result, hottest[0])
        if away is not None:
            node, distance = away
            words = f"{distance:.0f} mm beside heat {hottest[0].number}"
            found.append(_place(result, node, words, hottest[0].number, 2))
        return tuple(found)
    node = int(np.argmax(result.heat.peak))
    return (_place(result, node, "hottest place", 0, 0),)


def history_chart(result: RunResult) -> Chart | None:
    """What ``history_picture`` draws."""
    if len(result.heat.times) < 2:
        return None
    places = followed_places(result)
    scale = scale_of(result.heat)
    limit = result.cycles[0].heat_check.limit_C
    rows = (len(places) + 1) // 2
    figure = new_figure(3.3 + 0.19 * rows)
    axes = figure.add_axes((0.08, (0.62 + 0.19 * rows) / (3.3 + 0.19 * rows), 0.9, 0.0))
    height = 1.0 - (0.62 + 0.19 * rows + 0.38) / (3.3 + 0.19 * rows)
    axes.set_position((0.08, (0.62 + 0.19 * rows) / (3.3 + 0.19 * rows), 0.9, height))
    dressed(axes)
    on_time(axes, scale)
    numbers = list(dict.fromkeys(place.heat for place in places))
    x = scale.at(result.heat.times)
    for place in places:
        colour = PALE if place.kind == 2 else SERIES[numbers.index(place.heat) % len(SERIES)]
        where = ", ".join(f"{value:.4g}" for value in place.at_mm)
        axes.plot(
            x, result.heat.temperatures[:, place.node], color=colour, lw=2.0 - 0.3 * place.kind,
            ls=DASHES[place.kind], label=f"{place.what} ({where}) mm",
        )  # fmt: skip
    top = max(float(result.heat.peak.max()), limit)
    axes.axhline(limit, color=INK, lw=1.1, ls=(0, (8, 3)))
    axes.text(
        1.0, limit, f"limit {limit:g} °C ", ha="right", va="bottom", fontsize=9, color=INK,
        parse_math=False,
    )  # fmt: skip
    axes.set_ylim(min(0.0, float(result.heat.temperatures.min())), 1.1 * top)
    axes.set_ylabel("temperature, °C", fontsize=9, color=INK)
    more = len(result.heats) > MOST_HEATS
    which = f", the {MOST_HEATS} hottest of {len(result.heats)} heats" if more else ""
    headed(axes, f"Temperature against time{which}")
    legend = figure.legend(
        loc="lower left", bbox_to_anchor=(0.06, 0.0), ncols=2, fontsize=8, frameon=False,
        handlelength=3.2, columnspacing=1.5,
    )  # fmt: skip
    for text in legend.get_texts():
        text.set_parse_math(False)
    return Chart(figure=figure, words=_words(result, places, limit))


def _words(result: RunResult, places: Sequence[Place], limit: float) -> str:
    said = []
    for place in places:
        curve = result.heat.temperatures[:, place.node]
        best = int(np.argmax(curve))
        said.append(f"{place.what} at most {curve[best]:.0f} C at {result.heat.times[best]:.4g} s")
    return f"Temperature against time, limit {limit:g} C. {'; '.join(said)}."


def _place(result: RunResult, node: int, what: str, heat: int, kind: int) -> Place:
    at_mm = 1e3 * result.mesh.p[:, node]
    if result.initial_shape is not None:  # places are told on the flat part, as in the verdict
        at_mm = at_mm - 1e3 * result.initial_shape[node]
    x, y, z = (round(float(value), 6) + 0.0 for value in at_mm)
    return Place(node=node, what=what, at_mm=(x, y, z), heat=heat, kind=kind)


def _hottest_node(result: RunResult, one: HeatOutcome) -> int:
    """The node that became hottest while a heat burned."""
    times = result.heat.times
    until = one.start_s
    for span in result.heat.spans:
        if span.burning and span.start >= one.start_s - 1e-9:
            until = max(until, span.end)
            if until - one.start_s >= one.burned_s - 1e-6:
                break
    during = (times >= one.start_s) & (times <= until)
    return int(np.argmax(result.heat.temperatures[during].max(axis=0)))


def _behind(result: RunResult, one: HeatOutcome, node: int) -> int | None:
    """The node on the other side of the wall; None where that can't be told."""
    if not one.thickness_mm:
        return None
    asked = result.case.heats[one.number - 1]
    points = result.mesh.p.T
    face = face_map_of(result.case.workpiece, result.mesh, asked.face)
    start = points[node]
    deep = 1e-3 * one.thickness_mm
    goals = start - deep * np.outer((1.0, -1.0), face.normal(face.back(start[None]))[0])
    away = np.linalg.norm(points[None] - goals[:, None], axis=2)
    side, nearest = np.unravel_index(int(np.argmin(away)), away.shape)
    return int(nearest) if away[side, nearest] < NEAR_ENOUGH * deep else None


def _away(result: RunResult, one: HeatOutcome) -> tuple[int, float] | None:
    """The node of the heated face nearest to three flame radii beside all ways of the torch on
    it, near the middle of the heat; None where there is none. And its distance, mm."""
    asked = result.case.heats[one.number - 1]
    mesh = result.mesh
    face = face_map_of(result.case.workpiece, mesh, asked.face)
    facets = np.asarray((mesh.boundaries or {})[asked.face])
    nodes = np.unique(mesh.facets[:, facets])
    places = mesh.p.T[nodes]
    ways = [
        _along(face.place(np.array(on_mesh(face, tuple((1e-3 * u, 1e-3 * v) for u, v in path)))))
        for heat in result.case.heats
        if heat.face == asked.face
        for path in paths_of(heat)
    ]
    near = np.min(
        [np.linalg.norm(places[:, None] - way[None], axis=2).min(axis=1) for way in ways], axis=0
    )
    goal = AWAY_RADII * 1e-3 * radius_mm_of(result.case.flames[asked.flame])
    fits = np.abs(near - goal) < NEAR_ENOUGH * goal
    if not fits.any():
        return None
    middle = np.concatenate(ways).mean(axis=0)
    score = np.linalg.norm(places - middle, axis=1) + 10.0 * np.abs(near - goal)
    score[~fits] = np.inf
    chosen = int(np.argmin(score))
    return int(nodes[chosen]), 1e3 * float(near[chosen])


def _along(corners: Array) -> Array:
    """Points close to one another along a polyline, (k, 3)."""
    if len(corners) == 1:
        return corners
    pieces = [a + np.linspace(0.0, 1.0, 24)[:, None] * (b - a) for a, b in pairwise(corners)]
    return np.concatenate(pieces)
