"""The heated parts of a long workpiece, which a picture shows by themselves."""

import numpy as np

from flamefe.reporting.marks import MeshedCase
from flamefe.reporting.scene import Trail
from flamefe.reporting.skin import Array
from flamefe.study.result import RunResult

REACH_BESIDE_HEAT = 4.0  # flame radii
SMALL_HEATED_SHARE = 0.3  # of the length; a smaller heated part is shown alone
SLENDER = 5.0
"""Length by the next longest side from which heats far apart are shown one by one."""

Focus = tuple[Array, Array]
"""Lowest and highest corner, mm."""


def heated_parts(result: MeshedCase, trails: tuple[Trail, ...]) -> tuple[Focus, ...]:
    """Corners of the heated parts of a long workpiece, along it, mm; none when it is best seen
    whole."""
    points = 1e3 * result.mesh.p.T
    low, high = points.min(axis=0), points.max(axis=0)
    size = high - low
    long = int(np.argmax(size))
    if not trails:
        return ()
    reach = REACH_BESIDE_HEAT * max(trail.radius for trail in trails)
    spans: list[list[float]] = []
    for start, end in sorted(
        (float(trail.points[:, long].min()), float(trail.points[:, long].max())) for trail in trails
    ):
        if spans and start - reach <= spans[-1][1]:
            spans[-1][1] = max(spans[-1][1], end + reach)
        else:
            spans.append([start - reach, end + reach])
    if len(spans) > 1 and size[long] < SLENDER * float(np.sort(size)[-2]):
        spans = [[spans[0][0], spans[-1][1]]]
    found = []
    for start, end in spans:
        near, far = low.copy(), high.copy()
        near[long], far[long] = max(float(low[long]), start), min(float(high[long]), end)
        if far[long] - near[long] > SMALL_HEATED_SHARE * float(size[long]):
            return ()
        found.append((near, far))
    return tuple(found)


def heated_part(
    result: RunResult, trails: tuple[Trail, ...], about: Array | tuple[float, float, float]
) -> Focus | None:
    """The heated part nearest to a place, mm; None when the workpiece is best seen whole."""
    parts = heated_parts(result, trails)
    if not parts:
        return None
    place = np.asarray(about, dtype=float)
    return min(parts, key=lambda part: float(np.linalg.norm(0.5 * (part[0] + part[1]) - place)))


def cut_words(result: RunResult, focus: Focus | None) -> str:
    """What of the length is shown; nothing where all is."""
    if focus is None:
        return ""
    axis = int(np.argmax(np.ptp(result.mesh.p, axis=1)))
    near, far = focus[0][axis], focus[1][axis]
    return f" Only {'xyz'[axis]} {near:.4g} to {far:.4g} mm of the length is shown."
