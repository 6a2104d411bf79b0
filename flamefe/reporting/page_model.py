"""The part as a page shows it in three dimensions: its skin, temperatures and shapes, packed small.

Every number is packed into one or two bytes, so that a page stays small enough for a mail: what
that costs in accuracy is told beside the picture.
"""

import base64
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flamefe.reporting.charts import scale_of
from flamefe.reporting.pictures import factor_for, points_mm, shape_factor, surroundings_of
from flamefe.reporting.scene import VIEWS, Trail, side_with_most
from flamefe.reporting.shape_drawn import initial_mm, laid_over, with_sections
from flamefe.reporting.sight import clear_way
from flamefe.reporting.skin import Array, Indices, at_elements, at_nodes, skin_of
from flamefe.reporting.words import number
from flamefe.study.result import RunResult

MOST_FRAMES = 48
FEWEST_FRAMES = 12
MOST_VALUES = 700_000
"""Frames times nodes that a page takes."""
MOST_NODES = 40_000
"""Skin nodes that a page takes; a finer skin is thinned."""
STEPS = 255
SHAPE_STEPS = 2047
"""Steps of a displacement from none to the largest."""
POINT_STEPS = 65535
COLOURS = 256
MAPS = {"inferno": 0.14, "cividis": 0.0, "viridis": 0.0}
"""Colour maps that colour-blind eyes and grey print tell apart, and where each of them begins: a
black part would hide its shape."""


@dataclass(frozen=True, kw_only=True, eq=False)
class PageSkin:
    """The part's surface as triangles.

    Args:
        nodes: (k,) node numbers of the mesh.
        triangles: (t, 3) places in ``nodes``, outward.
        edges: (e, 2) the same, ends of sharp edges.
        thinned: whether it has fewer nodes than the mesh's skin.
    """

    nodes: Indices
    triangles: Indices
    edges: Indices
    thinned: bool


def model_of(result: RunResult) -> dict[str, Any]:
    """All that the page's picture in three dimensions needs, as plain values and packed arrays.

    Args:
        result: a finished run.

    Returns:
        What ``json.dumps`` takes: packed arrays are base64 of zlib of little-endian integers, the
        first differences along their last axis (of frames: from frame to frame).
    """
    skin = page_skin(result)
    times = frame_times(result, len(skin.nodes))
    buckle = initial_mm(result)[skin.nodes]
    points = points_mm(result)[skin.nodes] - buckle
    low, size = points.min(axis=0), max(float(np.ptp(points, axis=0).max()), 1e-9)
    heat = result.heat
    fields = np.stack([heat.at(time)[skin.nodes] for time in times.tolist()])
    coldest, hottest = float(heat.temperatures.min()), float(heat.peak.max())
    moved = _moved(result, times, skin.nodes)
    largest = max(float(np.abs(moved).max()), float(np.abs(buckle).max()), 1e-12)
    trails = surroundings_of(result)[1]
    check = max((c.heat_check for c in result.cycles), key=lambda c: c.peak_C)
    return {
        "nodes": len(skin.nodes),
        "triangles": _packed(_steps(skin.triangles.ravel()), "<i4"),
        "edges": _packed(_steps(skin.edges.ravel()), "<i4"),
        "low": low.tolist(),
        "size": size,
        "points": _packed(np.round((points - low) / size * POINT_STEPS), "<u2"),
        "times": [float(f"{time:.6g}") for time in times],
        "hottest": [float(heat.at(time).max()) for time in times.tolist()],
        "coldest_C": coldest,
        "hottest_C": hottest,
        "limit_C": check.limit_C,
        "temperatures": _packed(_over_time(_scaled(fields, coldest, hottest)), "<u1"),
        "largest_move": largest,
        "moves": _packed(_over_time(np.round(moved / largest * SHAPE_STEPS)), "<i2"),
        "buckle": None
        if result.initial_shape is None
        else _packed(_steps(np.round(buckle / largest * SHAPE_STEPS).ravel()), "<i2"),
        "factors": _factors(result, moved, buckle),
        "fields": _fields(result, skin.nodes),
        "towards": _towards(result, trails),
        "maps": {name: _colours(name, dark) for name, dark in MAPS.items()},
        "step_C": (hottest - coldest) / STEPS,
        "thinned": skin.thinned,
    }


def page_skin(result: RunResult, most: int = MOST_NODES) -> PageSkin:
    """The surface of the part for the page, thinned when it has more than ``most`` nodes."""
    skin = with_sections(result, skin_of(result.mesh))
    triangles = np.concatenate((skin.quads[:, [0, 1, 2]], skin.quads[:, [0, 2, 3]]))
    edges = skin.edges
    nodes = np.unique(triangles)
    thinned = len(nodes) > most
    if thinned:
        triangles = _thinned(result.mesh.p.T, triangles, most / len(nodes))
        kept = np.unique(triangles)
        edges = edges[np.isin(edges, kept).all(axis=1)]
        nodes = kept
    place = np.zeros(result.mesh.p.shape[1], dtype=np.int64)
    place[nodes] = np.arange(len(nodes))
    return PageSkin(nodes=nodes, triangles=place[triangles], edges=place[edges], thinned=thinned)


def frame_times(result: RunResult, nodes: int) -> NDArray[np.float64]:
    """Moments of the run that the page shows, s: even on the axis of time of the charts, with the
    hottest moment and the end of each cycle among them. Only moments that were computed."""
    heat = result.heat
    room = int(np.clip(MOST_VALUES // max(nodes, 1), FEWEST_FRAMES, MOST_FRAMES))
    scale = scale_of(heat)
    wanted = scale.time(np.linspace(0.0, 1.0, room))
    known = heat.times
    near = np.abs(known[None] - wanted[:, None]).argmin(axis=1)
    always = [0, int(heat.temperatures.max(axis=1).argmax()), len(known) - 1]
    always += [int(np.abs(known - end.time).argmin()) for end in result.strain.ends]
    return np.asarray(known[np.union1d(near, always)])


def _moved(result: RunResult, times: Array, nodes: Indices) -> Array:
    """Displacements (frames, k, 3) mm, laid over the shape before at each frame."""
    strain = result.strain
    frames = []
    last = len(strain.times) - 1
    for time in times.tolist():
        after = int(np.clip(np.searchsorted(strain.times, time), 0, last))
        before = max(after - 1, 0)
        width = float(strain.times[after] - strain.times[before])
        share = 1.0 if width <= 0 else min(max((time - strain.times[before]) / width, 0.0), 1.0)
        moved = (1.0 - share) * strain.displacements[before] + share * strain.displacements[after]
        frames.append(laid_over(result, 1e3 * moved)[nodes])
    end = laid_over(result, 1e3 * strain.ends[-1].displacement)[nodes]
    frames[-1] = end
    return np.stack(frames)


def _towards(result: RunResult, trails: Sequence[Trail]) -> list[float]:
    """The way to a viewer who sees the heat that became hottest at once."""
    chosen = list(trails)
    if len(result.heats) > 1:
        hottest = max(result.heats, key=lambda one: one.peak_C).number
        chosen = [trail for trail in trails if trail.number == hottest]
    way = np.array(VIEWS[side_with_most([trail.face for trail in chosen])])
    if chosen:
        places = np.concatenate([trail.points for trail in chosen])
        way = clear_way(way, places, points_mm(result), skin_of(result.mesh).quads)
    return [float(value) for value in way]


def _factors(result: RunResult, moved: Array, buckle: Array) -> list[float]:
    """How many times its size the distortion may be drawn: so that all moments can be seen, and as
    in the picture of the shape that remains."""
    most = float(np.linalg.norm(moved + buckle, axis=2).max())
    return sorted({factor_for(points_mm(result), most), shape_factor(result)})


def _fields(result: RunResult, nodes: Indices) -> list[dict[str, Any]]:
    """Fields that don't change with time."""
    end = result.strain.ends[-1]
    cycle = result.cycles[-1].cycle
    distortion = np.linalg.norm(laid_over(result, 1e3 * end.displacement), axis=1)
    strain = 100.0 * at_nodes(result.mesh, at_elements(end.equivalent_plastic_strain))
    stress = 1e-6 * at_nodes(result.mesh, at_elements(end.mises))
    after = f"after cycle {cycle}"
    known: Sequence[tuple[str, str, str, Array, float]] = (
        ("highest temperature at each place", "°C", "inferno", result.heat.peak,
         float(result.heat.temperatures.min())),
        (f"distortion {after}", "mm", "cividis", distortion, 0.0),
        (f"plastic strain {after}, mean at nodes", "%", "viridis", strain, 0.0),
        (f"von Mises stress {after}, mean at nodes", "MPa", "viridis", stress, 0.0),
    )  # fmt: skip
    return [
        {
            "name": name,
            "unit": unit,
            "map": colours,
            "low": low,
            "high": max(float(values.max()), low + 1e-12),
            "low_words": number(low, 3),
            "high_words": number(float(values.max()), 3),
            "values": _packed(_scaled(values[nodes], low, float(values.max())), "<u1"),
        }
        for name, unit, colours, values, low in known
    ]


def _scaled(values: Array, low: float, high: float) -> Array:
    width = high - low
    return np.round((values - low) / width * STEPS) if width > 0 else np.zeros_like(values)


def _steps(values: Array | Indices) -> Array | Indices:
    """First value and differences from one to the next."""
    return np.diff(values, prepend=0)


def _over_time(frames: Array) -> Array:
    """First frame and differences from one to the next, as whole numbers that may go round."""
    return np.diff(frames, axis=0, prepend=np.zeros_like(frames[:1]))


def _packed(values: Array | Indices, kind: str) -> str:
    """Integers as text: base64 of their deflated little-endian bytes; too large ones go round."""
    whole = np.asarray(values).astype(np.int64).astype(np.dtype(kind))
    return base64.b64encode(zlib.compress(whole.tobytes(), 9)).decode("ascii")


def _colours(name: str, begin: float) -> str:
    """A colour map as base64 of 256 colours of 4 bytes."""
    from matplotlib import colormaps

    table = colormaps[name](np.linspace(begin, 1.0, COLOURS), bytes=True)
    return base64.b64encode(np.asarray(table, dtype=np.uint8).tobytes()).decode("ascii")


def _thinned(points: Array, triangles: Indices, share: float) -> Indices:
    """Fewer triangles on some of the same nodes, chosen so that the surface changes least."""
    import pyvista
    from scipy.spatial import cKDTree

    nodes = np.unique(triangles)
    place = np.zeros(len(points), dtype=np.int64)
    place[nodes] = np.arange(len(nodes))
    faces = np.insert(place[triangles], 0, 3, axis=1).ravel()
    surface: Any = pyvista.PolyData(points[nodes], faces)
    fewer = surface.decimate_pro(1.0 - share, preserve_topology=False, splitting=False)
    _, nearest = cKDTree(points[nodes]).query(np.asarray(fewer.points, dtype=float))
    made = nodes[nearest[np.asarray(fewer.faces).reshape(-1, 4)[:, 1:]]]
    a, b, c = made.T
    return np.asarray(made[(a != b) & (b != c) & (a != c)])
