"""From the devices of a checked case, in the trade's units, to those of the engine, in SI."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from flamefe.straining.devices import RIGID, Device, pushers, spreader, strongback
from flamefe.straining.footing import FACING, Patch, node_areas, patch_at
from flamefe.straining.restraint import NEVER, RestraintError
from flamefe.study.case_devices import Jack, Rest, Spring, Strongback, VacuumPlate
from flamefe.workpiece.body import Body
from flamefe.workpiece.faces import outward_normals

Array = NDArray[np.float64]
Gripping = Rest | Spring | Jack | VacuumPlate | Strongback

DEVICES = (Rest, Spring, Jack, VacuumPlate, Strongback)
"""Kinds of supports that act at places of the skin."""
MM = 1e-3
KN_MM = 1e6
"""kN/mm in N/m."""


def direction_of(word: str) -> Array:
    """Unit vector (3,) of a direction in words.

    Example:
        >>> direction_of("-y").tolist()
        [0.0, -1.0, 0.0]
    """
    way = np.zeros(3)
    way["xyz".index(word[-1])] = -1.0 if word[0] == "-" else 1.0
    return way


OFF_SKIN_MM = 5.0
"""A place farther from the skin than this, along the device's direction, is a mistake, mm."""
BESIDE_MM = 1.0
"""A place farther beside the skin than this is a mistake, mm."""


def patch_of(
    body: Body,
    at_mm: Sequence[float] | None,
    face: str | None,
    radius_mm: float,
    push: Array,
    *,
    both: bool,
) -> Patch:
    """The place of a device: round a point, or a face as a whole.

    Raises:
        RestraintError: the point is not on the skin.
    """
    if at_mm is not None:
        patch = patch_at(body, np.asarray(at_mm) * MM, radius_mm * MM, push, both=both)
        off, beside = patch.off / MM, patch.beside / MM
        if beside > BESIDE_MM or off > OFF_SKIN_MM:
            x, y, z = at_mm
            where = f"{beside:.3g} mm beside" if beside > BESIDE_MM else f"{off:.3g} mm off"
            raise RestraintError(
                f"A device or ballast at ({x:g}, {y:g}, {z:g}) mm is {where} the skin that faces "
                "it, along the direction in which it acts. Put it on the part's skin, or turn it "
                "to another direction."
            )
        return patch
    assert face is not None
    nodes = body.nodes_of(face)
    area = node_areas(body, np.asarray((body.mesh.boundaries or {})[face]))[nodes]
    return Patch(nodes=nodes, shares=area / area.sum(), area=float(area.sum()))


def gripping_device(
    given: Gripping, body: Body, name: str, fitted: float, released: float
) -> Device:
    """The engine's device of a case's.

    Args:
        given: the case's.
        body: the part.
        name: for messages and results.
        fitted, released: s.

    Raises:
        RestraintError: its face has no single normal.
        OutOfRange: no skin of the part faces it.
    """
    if isinstance(given, Jack):
        return _jack(given, body, name, fitted, released)
    if isinstance(given, VacuumPlate):
        push = _inward(body, given.face)
        patches = _each_node(body, given.face)
        pull = -given.suction_kPa * 1e3 * np.array([patch.area for patch in patches])
        return pushers(
            body, patches, push, name=name, least=pull, leak=given.leak_mm * MM,
            fitted=fitted, released=released,
        )  # fmt: skip
    if isinstance(given, Rest):
        push = direction_of(given.pushes)
        stiffness = RIGID if given.stiffness_kN_mm is None else given.stiffness_kN_mm * KN_MM
        if given.at_mm is not None:
            patches = [
                patch_of(body, place, None, given.radius_mm, push, both=False)
                for place in given.at_mm
            ]
            spread: float | Array = stiffness
        else:
            assert given.face is not None
            _pushes_in(body, given.face, push)
            patches = _each_node(body, given.face)
            areas = np.array([patch.area for patch in patches])
            spread = stiffness * areas / areas.sum()
        return pushers(
            body, patches, push, name=name, gap=given.gap_mm * MM, stiffness=spread,
            fitted=fitted, released=released,
        )  # fmt: skip
    push = direction_of(given.direction)
    places = given.at_mm if given.at_mm is not None else (None,)
    face = given.face if isinstance(given, Spring) else None
    patches = [patch_of(body, at, face, given.radius_mm, push, both=True) for at in places]
    stiff = given.stiffness_kN_mm * KN_MM
    if isinstance(given, Strongback):
        return strongback(
            body, patches, push, name=name, stiffness=stiff, fitted=fitted, released=released
        )
    return pushers(
        body, patches, push, name=name, stiffness=stiff, least=-NEVER, fitted=fitted,
        released=released,
    )  # fmt: skip


def _jack(given: Jack, body: Body, name: str, fitted: float, released: float) -> Device:
    force = 0.0 if given.force_kN is None else given.force_kN * 1e3
    most = NEVER if given.force_kN is None else force
    stiffness = RIGID if given.stiffness_kN_mm is None else given.stiffness_kN_mm * KN_MM
    gap = given.gap_mm * MM
    if given.against_mm is not None:
        assert given.at_mm is not None
        line = np.subtract(given.at_mm, given.against_mm)
        push = np.asarray(line / np.linalg.norm(line), dtype=float)
        first = patch_of(body, given.at_mm, None, given.radius_mm, push, both=False)
        second = patch_of(body, given.against_mm, None, given.radius_mm, -push, both=False)
        return spreader(
            body, first, second, push, name=name, gap=gap, stiffness=stiffness, least=force,
            most=most, fitted=fitted, released=released,
        )  # fmt: skip
    assert given.pushes is not None
    push = direction_of(given.pushes)
    _pushes_in(body, given.face, push)
    foot = patch_of(body, given.at_mm, given.face, given.radius_mm, push, both=False)
    return pushers(
        body, [foot], push, name=name, gap=gap, stiffness=stiffness, least=force, most=most,
        fitted=fitted, released=released,
    )  # fmt: skip


def _pushes_in(body: Body, face: str | None, push: Array) -> None:
    """Refuse a push along a face, or out of it."""
    if face is None:
        return
    normals = outward_normals(body.mesh, np.asarray((body.mesh.boundaries or {})[face]))
    if (normals @ push).mean() > -FACING:
        raise RestraintError(
            f"What pushes the face {face!r} pushes along it or away from it; let it push into "
            "the part, or name another face."
        )


def _inward(body: Body, face: str) -> Array:
    """Direction into the part across a flat face."""
    normals = outward_normals(body.mesh, np.asarray((body.mesh.boundaries or {})[face]))
    mean = normals.mean(axis=0)
    mean /= max(float(np.linalg.norm(mean)), 1e-300)
    if (normals @ mean).min() < 0.99:
        raise RestraintError(
            f"The face {face!r} is not flat, so a plate can't hold it; name a flat part of it."
        )
    return np.asarray(-mean)


def _each_node(body: Body, face: str) -> list[Patch]:
    """A place for each node of a face."""
    area = node_areas(body, np.asarray((body.mesh.boundaries or {})[face]))
    return [
        Patch(nodes=np.array([node]), shares=np.ones(1), area=float(area[node]))
        for node in body.nodes_of(face)
    ]
