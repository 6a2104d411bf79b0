"""From the supports and loads of a checked case to what solvers take, with their times."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex

from flamefe.straining.devices import Device
from flamefe.straining.restraint import (
    GRAVITY,
    NEVER,
    Bearing,
    Load,
    RestraintError,
    Support,
    TimeLine,
    clamp,
    face_pressure,
    face_traction,
    own_weight,
    rigid_modes,
)
from flamefe.study.case import (
    Case,
    Clamp,
    Force,
    Guide,
    OwnWeight,
    Points,
    PressedSpot,
    Pressure,
    Push,
    Template,
    Traction,
)
from flamefe.study.case_devices import Ballast
from flamefe.study.case_holding import Load as CaseLoad
from flamefe.study.case_holding import Support as CaseSupport
from flamefe.study.gripping import DEVICES, direction_of, gripping_device, patch_of
from flamefe.workpiece.body import Body
from flamefe.workpiece.faces import FACE_AXES, FACE_SIDES, outward_normals

Array = NDArray[np.float64]

MM = 1e-3
FIXED = (Clamp, Guide, Points, Push)
"""Supports that say all that is held; the rest leave the part free to slide or turn."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Holding:
    """All that holds and loads the part, with its times.

    Args:
        supports: nodes held or pushed.
        devices: what holds it at places of its skin.
        loads: forces.
        steadied: what the supports leave free must be held at single nodes.
    """

    supports: tuple[Support, ...]
    devices: tuple[Device, ...]
    loads: tuple[Load, ...]
    steadied: bool


def normal_axis(mesh: MeshHex, face: str) -> int:
    """Axis across which a flat face lies: 0, 1 or 2.

    Raises:
        RestraintError: it lies across none.
    """
    facets = np.asarray((mesh.boundaries or {})[face])
    normals = outward_normals(mesh, facets)
    axis = int(np.argmax(np.abs(normals).mean(axis=0)))
    if np.abs(normals[:, axis]).min() < 0.99:
        raise RestraintError(
            f"The face {face!r} does not lie across x, y or z, so it has no single normal "
            "direction; name a flat part of it."
        )
    return axis


def spans(
    fitted: str, released: str, hot_times: Sequence[float], cold_times: Sequence[float]
) -> list[tuple[float, float]]:
    """When something is fitted and released, s: once, or once in each cycle.

    Args:
        fitted: "before heating" or "hot".
        released: "never", "hot" or "after cooling".
        hot_times: end of the last burn of each cycle, s.
        cold_times: when each cycle has cooled, s.

    Example:
        >>> spans("before heating", "after cooling", [10.0, 110.0], [100.0, 200.0])
        [(-inf, 100.0), (100.0, 200.0)]
        >>> spans("hot", "never", [10.0, 110.0], [100.0, 200.0])
        [(10.0, inf)]
    """
    cold = list(cold_times) or [NEVER]
    hot = list(hot_times) or [NEVER] * len(cold)
    starts = hot if fitted == "hot" else [-NEVER, *cold[:-1]]
    if released == "never":
        return [(starts[0], NEVER)]
    return list(zip(starts, hot if released == "hot" else cold, strict=True))


def holding_of(
    case: Case, body: Body, hot_times: Sequence[float], cold_times: Sequence[float]
) -> Holding:
    """Supports, devices and loads with their times.

    What is released is fitted again, where the part then is, in the next cycle.

    Args:
        case: the case.
        body: its meshed part.
        hot_times: end of the last burn of each cycle, s.
        cold_times: when each cycle has cooled, s.
    """
    supports: list[Support] = []
    devices: list[Device] = []
    loads: list[Load] = []
    for number, support in enumerate(case.supports):
        name = f"support {number + 1} ({support.kind})"
        fitted = "before heating" if isinstance(support, Push) else support.fitted
        for start, end in spans(fitted, support.released, hot_times, cold_times):
            if isinstance(support, DEVICES):
                devices.append(gripping_device(support, body, name, start, end))
            else:
                supports.append(_support(support, body, name, start, end))
    for number, load in enumerate(case.loads):
        loads += _loads(
            load, body, f"load {number + 1} ({load.kind})",
            spans("before heating", load.released, hot_times, cold_times),
        )  # fmt: skip
    if not case.supports:
        supports.append(rigid_modes(body))
    return Holding(
        supports=tuple(supports),
        devices=tuple(devices),
        loads=tuple(loads),
        steadied=bool(case.supports) and not any(isinstance(s, FIXED) for s in case.supports),
    )


def _loads(
    load: CaseLoad, body: Body, name: str, times: Sequence[tuple[float, float]]
) -> Iterator[Load]:
    given = None if isinstance(load, Ballast) else load.history
    history = TimeLine()
    if given is not None:
        history = TimeLine(times=tuple(t for t, _ in given), factors=tuple(f for _, f in given))
    forces = _forces(load, body)
    for applied, released in times:
        yield Load(
            forces=forces,
            history=history,
            applied=float(np.nextafter(applied, NEVER)),
            released=released,
            name=name,
        )


def _support(given: CaseSupport, body: Body, name: str, fitted: float, released: float) -> Support:
    if isinstance(given, Push):
        held = clamp(body, given.face, axes=("xyz".index(given.direction),)).held
        times = [t for t, _ in given.displacement_mm]
        values = [v for _, v in given.displacement_mm]
        if times[0] > 0.0:
            times, values = [0.0, *times], [0.0, *values]
        return Support(
            held=held,
            push=np.where(held, MM, 0.0),
            history=TimeLine(times=tuple(times), factors=tuple(values)),
            fitted=fitted,
            released=released,
            name=name,
        )
    if isinstance(given, Clamp):
        held = clamp(body, given.face).held
    elif isinstance(given, Guide):
        held = clamp(body, given.face, axes=(normal_axis(body.mesh, given.face),)).held
    elif isinstance(given, Points):
        held = np.zeros(body.points.shape, dtype=bool)
        for place in given.at_mm:
            held[_nearest(body, place), ["xyz".index(way) for way in given.directions]] = True
    else:
        assert isinstance(given, Template | PressedSpot)
        held = _on_face(given, body, name)
    bearing: Bearing = "as one"
    if isinstance(given, Points):
        bearing = "point by point"
    elif isinstance(given, Template | PressedSpot):
        bearing = "two plates"
    return Support(held=held, fitted=fitted, released=released, bearing=bearing, name=name)


def _on_face(given: Template | PressedSpot, body: Body, name: str) -> NDArray[np.bool_]:
    """What a template or a press holds of its face, along the face's normal."""
    axis = normal_axis(body.mesh, given.face)
    axes = FACE_AXES[given.face] if given.face in FACE_SIDES else [i for i in range(3) if i != axis]
    nodes = body.nodes_of(given.face)
    flat = body.points[nodes][:, list(axes)] / MM
    rounds = given.holes_mm if isinstance(given, Template) else [(*given.at_mm, given.radius_mm)]
    inside = np.zeros(nodes.size, dtype=bool)
    for a, b, radius in rounds:
        inside |= np.hypot(flat[:, 0] - a, flat[:, 1] - b) <= radius * (1.0 + 1e-9)
    if isinstance(given, Template) and given.holds == "outside holes":
        inside = ~inside
    if not inside.any():
        raise RestraintError(
            f"{name} holds no node of the face {given.face!r}; make the mesh finer there, or "
            "change its holes or radius."
        )
    held = np.zeros(body.points.shape, dtype=bool)
    held[nodes[inside], axis] = True
    return held


def _nearest(body: Body, place_mm: Sequence[float]) -> int:
    goal = np.asarray(place_mm) * MM
    return int(np.argmin(((body.points - goal) ** 2).sum(axis=1)))


def _forces(given: CaseLoad, body: Body) -> Array:
    if isinstance(given, OwnWeight):
        return own_weight(body, direction_of(given.direction)).forces
    if isinstance(given, Pressure):
        return face_pressure(body, given.face, given.pressure_kPa * 1e3).forces
    if isinstance(given, Traction):
        return face_traction(body, given.face, np.asarray(given.traction_kPa) * 1e3).forces
    forces = np.zeros(body.points.shape)
    if isinstance(given, Ballast):
        way = direction_of(given.direction)
        patch = patch_of(body, given.at_mm, given.face, given.radius_mm, way, both=False)
        forces[patch.nodes] = given.mass_kg * GRAVITY * patch.shares[:, None] * way
        return forces
    assert isinstance(given, Force)
    forces[_nearest(body, given.at_mm)] = given.force_N
    return forces
