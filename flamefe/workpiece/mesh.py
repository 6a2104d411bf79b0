"""Meshes of plates and bars, fine where the flame goes."""

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import MeshHex

from flamefe.basics.errors import MeshError
from flamefe.workpiece.faces import FACE_AXES, FACE_SIDES, named_sides

Array = NDArray[np.float64]
Span = tuple[float, float]


def graded(
    length: float,
    *,
    fine_spans: Sequence[Span],
    fine: float,
    coarse: float,
    growth: float = 1.3,
) -> Array:
    """Coordinates along one axis: fine inside some spans, growing geometrically outside them.

    An element that touches a fine span is at most ``fine`` long; away from it the length may
    grow from one element to the next by the factor ``growth`` up to ``coarse``. The nodes share
    out the integral of dx / h(x), h(x) = min(coarse, fine + ln(growth) s) with s the distance
    from the nearest span, in equal parts, so both ends are hit exactly.

    Args:
        length: of the axis, m; the coordinates run from 0 to it.
        fine_spans: (from, to) pairs, m; parts outside the axis are ignored; without any
            span all is coarse.
        fine: largest element length inside the spans, m.
        coarse: largest element length anywhere, m.
        growth: largest ratio of neighbouring elements, above 1.

    Returns:
        Rising coordinates, (number of elements + 1,), m. No element is shorter than half of
        ``fine``, unless the whole axis is.

    Raises:
        MeshError: a length is not above 0, fine is above coarse, growth is not above 1, or a
            span ends before it starts.

    Example:
        >>> import numpy as np
        >>> x = graded(0.1, fine_spans=[(0.04, 0.06)], fine=0.005, coarse=0.02)
        >>> len(x), float(x[0]), float(x[-1])
        (15, 0.0, 0.1)
        >>> float(np.diff(x).min()) <= 0.005
        True
    """
    _check_sizes(length, fine, coarse, growth)
    spans = _merged([(a - fine, b + fine) for a, b in _inside(fine_spans, length)])
    slope = float(np.log(growth))
    ramp = (coarse - fine) / slope
    breaks = [0.0, length]
    for start, end in spans:
        breaks += [start - ramp, start, end, end + ramp]
    breaks += [0.5 * (left[1] + right[0]) for left, right in pairwise(spans)]
    x = np.unique(np.clip(breaks, 0.0, length))
    size = np.full(x.shape, coarse)
    for start, end in spans:
        distance = np.maximum(0.0, np.maximum(start - x, x - end))
        size = np.minimum(size, fine + slope * distance)
    return _shared_out(x, size)


def _check_sizes(length: float, fine: float, coarse: float, growth: float) -> None:
    for label, value in (("length", length), ("fine size", fine), ("coarse size", coarse)):
        if not (np.isfinite(value) and value > 0.0):
            raise MeshError(f"The {label} is {value:g} m; it must be a finite length above 0.")
    if fine > coarse:
        raise MeshError(
            f"The fine size ({fine:g} m) is above the coarse size ({coarse:g} m); "
            "give a fine size that is at most the coarse one."
        )
    if not (np.isfinite(growth) and growth > 1.0):
        raise MeshError(f"The growth is {growth:g}; give a ratio above 1, for instance 1.3.")


def _inside(spans: Sequence[Span], length: float) -> list[Span]:
    kept = []
    for start, end in spans:
        if not (np.isfinite(start) and np.isfinite(end) and start <= end):
            raise MeshError(
                f"A fine span runs from {start:g} to {end:g} m; its end must not lie before "
                "its start."
            )
        if end >= 0.0 and start <= length:
            kept.append((max(start, 0.0), min(end, length)))
    return kept


def _merged(spans: list[Span]) -> list[Span]:
    merged: list[Span] = []
    for start, end in sorted(spans):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((start, end))
    return merged


def _shared_out(x: Array, size: Array) -> Array:
    """Nodes that share out the integral of dx / size in equal parts; size is linear between x."""
    width = np.diff(x)
    rise = np.diff(size) / width
    level = np.abs(rise) * width < 1e-12 * size[:-1]
    safe = np.where(level, 1.0, rise)
    parts = np.where(level, width / size[:-1], np.log(size[1:] / size[:-1]) / safe)
    reached = np.concatenate(([0.0], np.cumsum(parts)))
    number = max(1, int(np.ceil(reached[-1] - 1e-9)))
    wanted = np.linspace(0.0, reached[-1], number + 1)
    i = np.clip(np.searchsorted(reached, wanted, side="right") - 1, 0, width.size - 1)
    ahead = wanted - reached[i]
    growing = np.where(level, 0.0, safe)[i]
    step = np.where(level[i], ahead * size[i], size[i] * np.expm1(growing * ahead) / safe[i])
    nodes = x[i] + step
    nodes[0], nodes[-1] = x[0], x[-1]
    return np.asarray(nodes)


def box_mesh(x: ArrayLike, y: ArrayLike, z: ArrayLike) -> MeshHex:
    """Mesh of a box from coordinates along its three axes, its six faces named.

    Args:
        x: rising coordinates along the length, (nx,), m.
        y: rising coordinates along the width, (ny,), m.
        z: rising coordinates through the thickness, (nz,), m.

    Returns:
        Mesh of (nx - 1) (ny - 1) (nz - 1) elements with the boundaries "top", "bottom" (z),
        "start", "end" (x), "near", "far" (y).

    Raises:
        MeshError: an axis has fewer than two coordinates or they do not rise.

    Example:
        >>> mesh = box_mesh([0, 0.1, 0.2], [0, 0.1], [0, 0.01])
        >>> mesh.nelements, sorted(mesh.boundaries)
        (2, ['bottom', 'end', 'far', 'near', 'start', 'top'])
    """
    axes = [np.asarray(axis, dtype=float) for axis in (x, y, z)]
    for name, axis in zip("xyz", axes, strict=True):
        if axis.ndim != 1 or axis.size < 2 or not (np.diff(axis) > 0).all():
            raise MeshError(
                f"The {name} coordinates of a box must be two or more rising numbers; "
                f"{axis.size} were given."
            )
    mesh = MeshHex.init_tensor(*axes)
    return mesh.with_boundaries(named_sides(mesh))


def plate_mesh(
    length: float,
    width: float,
    thickness: float,
    *,
    heated: Mapping[str, Sequence[ArrayLike]],
    reach: float,
    size_at_heat: float,
    size_away: float,
    layers: int = 4,
    layer_ratio: float = 0.6,
    growth: float = 1.3,
) -> MeshHex:
    """Mesh of a plate or bar, fine along the torch's paths and near the heated faces.

    Args:
        length: along x, m.
        width: along y (a bar's depth), m.
        thickness: along z, m.
        heated: for each heated face the paths on it; a path is an array of points,
            (number of points, 2), m, in the face's two coordinates (top and bottom: x, y;
            near and far: x, z; start and end: y, z).
        reach: elements within this distance of a path's extent in x and in y are fine, m;
            about two flame radii.
        size_at_heat: largest element length there, in x and y, m.
        size_away: largest element length anywhere, in x and y, m.
        layers: element layers through the thickness.
        layer_ratio: thickness of the layer at a heated face over that of the thickest layer,
            above 0, at most 1. With only top or only bottom heated the layers thicken towards
            the other face, with both towards the middle, with neither they are equal.
        growth: largest ratio of neighbouring elements in x and y.

    Returns:
        Mesh with the six faces named; origin in the corner of "start", "near" and "bottom".

    Raises:
        MeshError: an unknown face, a path that is no list of points or lies off its face, or a
            size that is not allowed.

    Example:
        >>> mesh = plate_mesh(0.4, 0.2, 0.012, heated={"top": [[(0.05, 0.1), (0.35, 0.1)]]},
        ...                   reach=0.036, size_at_heat=0.006, size_away=0.025, layers=4)
        >>> sorted({round(float(z) * 1e3, 3) for z in mesh.p[2]})
        [0.0, 3.804, 7.012, 9.718, 12.0]
    """
    size = (length, width, thickness)
    spans: tuple[list[Span], list[Span]] = ([], [])
    for face, paths in heated.items():
        for path in paths:
            for axis, span in _path_spans(face, path, size, reach).items():
                if axis < 2:
                    spans[axis].append(span)
    x, y = (
        graded(size[axis], fine_spans=spans[axis], fine=size_at_heat, coarse=size_away,
               growth=growth)
        for axis in (0, 1)
    )  # fmt: skip
    faces = {face for face, paths in heated.items() if len(paths) > 0}
    return box_mesh(x, y, layer_heights(thickness, layers, faces=faces, ratio=layer_ratio))


def _path_spans(
    face: str, path: ArrayLike, size: tuple[float, float, float], reach: float
) -> dict[int, Span]:
    """Fine span along each axis for one path; the axis normal to the face gets its depth."""
    if face not in FACE_SIDES:
        raise MeshError(f"There is no face {face!r}; the faces are {', '.join(FACE_SIDES)}.")
    if not (np.isfinite(reach) and reach > 0.0):
        raise MeshError(f"The reach is {reach:g} m; it must be above 0.")
    points = np.asarray(path, dtype=float)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) == 0:
        raise MeshError(
            f"A path on {face} has the shape {points.shape}; it must be a list of points "
            "with two coordinates each."
        )
    normal, side = FACE_SIDES[face]
    spans = {normal: (0.0, reach) if side < 0 else (size[normal] - reach, size[normal])}
    for column, axis in enumerate(FACE_AXES[face]):
        low, high = float(points[:, column].min()), float(points[:, column].max())
        if not (high >= 0.0 and low <= size[axis]):
            raise MeshError(
                f"A path on {face} runs from {low:g} to {high:g} m along {'xyz'[axis]}, where "
                f"the part reaches from 0 to {size[axis]:g} m; move it onto the part."
            )
        spans[axis] = (low - reach, high + reach)
    return spans


def layer_heights(
    thickness: float, layers: int, *, faces: set[str] | frozenset[str], ratio: float = 0.6
) -> Array:
    """Heights of element layers, thinner towards the heated faces.

    Layer i has a thickness in proportion to ratio^(1 - d_i), d_i being its distance from the
    nearest heated face in layers, as a share of the largest such distance.

    Args:
        thickness: of the plate, m.
        layers: number of layers, at least 1.
        faces: heated faces; only "top" and "bottom" count.
        ratio: thinnest over thickest layer, above 0, at most 1.

    Returns:
        Rising heights from 0 to the thickness, (layers + 1,), m.

    Raises:
        MeshError: no layer, a thickness that is not above 0, or a ratio out of its range.

    Example:
        >>> [round(float(z), 3) for z in layer_heights(1.0, 3, faces={"top", "bottom"}, ratio=0.5)]
        [0.0, 0.25, 0.75, 1.0]
    """
    if layers < 1:
        raise MeshError(f"{layers} layers through the thickness were given; at least 1 is needed.")
    if not (np.isfinite(thickness) and thickness > 0.0):
        raise MeshError(f"The thickness is {thickness:g} m; it must be above 0.")
    if not 0.0 < ratio <= 1.0:
        raise MeshError(f"The layer ratio is {ratio:g}; it must be above 0 and at most 1.")
    rank = np.arange(layers, dtype=float)
    distances = {"bottom": rank, "top": rank[::-1]}
    heated = [distances[face] for face in distances if face in faces]
    away = np.minimum.reduce(heated) if heated else np.zeros(layers)
    share = away / away.max() if away.max() > 0 else np.ones(layers)
    weights = ratio ** (1.0 - share)
    heights = np.concatenate(([0.0], np.cumsum(weights))) * (thickness / weights.sum())
    heights[-1] = thickness
    return np.asarray(heights)
