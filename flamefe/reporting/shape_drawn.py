"""How a shape is laid over the one before: by what stays clamped, else by best fit; with the
buckle that was there before."""

from dataclasses import replace

import numpy as np

from flamefe.outcome.rigid import without_rigid_motion
from flamefe.reporting.skin import Array, Indices, Skin
from flamefe.study.case import Clamp
from flamefe.study.result import RunResult

TO_MM = 1e3
SAME_PLACE = 1e-6
"""Distance, by the part's length, within which places count as one."""


def stays_clamped(result: RunResult) -> bool:
    """Whether the part is clamped from the start and never released."""
    return any(
        isinstance(one, Clamp) and one.released == "never" and one.fitted == "before heating"
        for one in result.case.supports
    )


def laid_over(result: RunResult, moved: Array) -> Array:
    """Displacements (n, 3), mm, as they are drawn: as they are where clamps hold the part for
    good, else without rigid motion."""
    if stays_clamped(result):
        return np.asarray(moved)
    return without_rigid_motion(TO_MM * result.mesh.p.T, moved)


def over_words(result: RunResult) -> str:
    """By what the shapes are laid over one another."""
    return "by what stays clamped" if stays_clamped(result) else "by best fit"


def initial_mm(result: RunResult) -> Array:
    """(n, 3) mm, from the flat part to its shape at the start; 0 of a part without a buckle."""
    if result.initial_shape is None:
        return np.zeros(result.mesh.p.T.shape)
    return np.asarray(TO_MM * result.initial_shape)


def with_sections(result: RunResult, skin: Skin) -> Skin:
    """The skin of a part with a buckle, with two lines across its highest place drawn like edges:
    a buckle between straight edges would not be seen by these alone."""
    if result.initial_shape is None:
        return skin
    initial = initial_mm(result)
    flat = TO_MM * result.mesh.p.T - initial
    peak = flat[int(np.argmax(np.linalg.norm(initial, axis=1)))]
    near = SAME_PLACE * float(np.ptp(flat, axis=0).max())
    sides = np.stack((skin.quads, np.roll(skin.quads, -1, axis=1)), axis=2).reshape(-1, 2)
    owner = np.repeat(np.arange(len(skin.quads)), 4)
    found: list[Indices] = []
    owners: list[Indices] = []
    for axis in (0, 1):
        on_line = (np.abs(flat[:, axis] - peak[axis]) < near)[sides].all(axis=1)
        level = np.abs(np.diff(flat[sides][:, :, 2], axis=1)[:, 0]) < near
        chosen = np.flatnonzero(on_line & level)
        ends, first, back = np.unique(
            np.sort(sides[chosen], axis=1), axis=0, return_index=True, return_inverse=True
        )
        last = np.zeros(len(ends), dtype=np.int64)
        last[back.ravel()] = np.arange(len(chosen))
        found.append(ends)
        owners.append(np.stack((owner[chosen[first]], owner[chosen[last]]), axis=1))
    return replace(
        skin,
        edges=np.concatenate([skin.edges, *found]),
        edge_quads=np.concatenate([skin.edge_quads, *owners]),
    )
