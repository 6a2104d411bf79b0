"""From the heats of a checked case to the phases that the march takes, in SI."""

import numpy as np
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.heating.deposit import Deposit
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.path import TorchPath, Track
from flamefe.heating.phase import Burn, Drive, Phase, Rest
from flamefe.heating.probe import FaceProbe
from flamefe.heating.surface import Cooling, FacePoints
from flamefe.study.case import (
    AnyHeat,
    Case,
    HeldLine,
    LineHeat,
    MeshFile,
    SpotHeat,
    WedgeHeat,
    base_width_mm,
    cool_to_C,
    path_of,
    timed_path,
)
from flamefe.study.parts import MM, normal_axis
from flamefe.workpiece.body import Body
from flamefe.workpiece.faces import FACE_AXES, FACE_SIDES, OPPOSITE

STEP_BY_RADIUS = 1.0 / 6.0
"""Travel of the torch within a heat step, by the flame's radius."""
FINE_FACE_ORDER = 5
"""Quadrature order on heated faces: the flame is curved, the face is not."""
LONGEST_DRIVEN_STEP_S = 2.0
"""Longest heat step of a driven torch where none is given."""
WEDGE_PIECES = 12
"""Straight pieces in which a wedge's way is laid out; its width grows evenly between them."""


def cooling_of(case: Case, body: Body) -> Cooling:
    """What all outer faces lose to the air."""
    air = case.surroundings
    return Cooling(
        face=FacePoints.of(body.mesh, body.mesh.boundary_facets()),
        film=air.film_W_m2K,
        emissivity=air.emissivity,
        ambient=air.ambient_C,
    )


def phases_of(case: Case, body: Body) -> tuple[Phase, ...]:
    """Burns, driven burns and rests of the case's heats, in order; each cycle ends cold."""
    result: list[Phase] = []
    for number, heat in enumerate(case.heats):
        last = number + 1 == len(case.heats) or case.heats[number + 1].cycle != heat.cycle
        name = heat_name(heat, number)
        if isinstance(heat, LineHeat | SpotHeat):
            result.append(_burn(case, body, heat, name))
        else:
            result.append(_drive(case, body, heat, name))
        until = cool_to_C(case, heat)
        result.append(Rest(until=until, cold=last, name=f"cooling after {name}"))
    return tuple(result)


def heat_name(heat: AnyHeat, number: int) -> str:
    """What a heat is called: its own name, else by its number from 0."""
    return heat.name or f"heat {number + 1}"


def _deposit(
    case: Case, body: Body, heat: AnyHeat, face: str, path: TorchPath | None, name: str
) -> Deposit:
    flame = case.flames[heat.flame]
    facets = np.asarray((body.mesh.boundaries or {})[face])
    return Deposit(
        flame=GaussianFlame(power=flame.power_kW * 1e3, radius=flame.radius_mm * MM),
        path=path,
        face=FacePoints.of(body.mesh, facets, order=FINE_FACE_ORDER),
        name=name,
    )


def _burn(case: Case, body: Body, heat: LineHeat | SpotHeat, name: str) -> Burn:
    """A flame along a timed path."""
    step = case.solve.heat_step_s
    if step is None and isinstance(heat, LineHeat):
        step = STEP_BY_RADIUS * case.flames[heat.flame].radius_mm / heat.speed_mm_s
    entries = timed_path(heat)
    points = [(first, second) for _, first, second in entries]
    path = TorchPath(
        times=tuple(time for time, _, _ in entries),
        points=_in_space(points, body.mesh, heat.face, case),
    )
    deposit = _deposit(case, body, heat, heat.face, path, name)
    return Burn(deposits=(deposit,), step=step, name=name)


def _drive(case: Case, body: Body, heat: HeldLine | WedgeHeat, name: str) -> Drive:
    """A flame, or two on opposite faces, driven by the temperature under it."""
    points, widths = list(path_of(heat)), (0.0,) * len(path_of(heat))
    faces: tuple[str, ...] = (heat.face,)
    if isinstance(heat, WedgeHeat):
        shares = np.linspace(0.0, 1.0, WEDGE_PIECES + 1)
        (u0, v0), (u1, v1) = heat.apex_mm, heat.base_mm
        points = [(float(u0 + s * (u1 - u0)), float(v0 + s * (v1 - v0))) for s in shares]
        widths = tuple(float(s) * base_width_mm(heat) * MM for s in shares)
        if heat.both_faces:
            faces = (heat.face, OPPOSITE[heat.face])
    return Drive(
        deposits=tuple(_deposit(case, body, heat, face, None, name) for face in faces),
        tracks=tuple(
            Track(points=_in_space(points, body.mesh, face, case), widths=widths) for face in faces
        ),
        probes=tuple(
            FaceProbe.of(body.mesh, np.asarray((body.mesh.boundaries or {})[face]))
            for face in faces
        ),
        target=heat.target_C,
        fastest=heat.fastest_mm_s * MM,
        longest_dwell=heat.longest_dwell_s,
        mode=heat.manner if isinstance(heat, HeldLine) else "hold",
        advance=heat.advance_mm * MM if isinstance(heat, HeldLine) else 0.0,
        step=case.solve.heat_step_s or LONGEST_DRIVEN_STEP_S,
        name=name,
    )


def _in_space(
    points: list[tuple[float, float]], mesh: MeshHex, face: str, case: Case
) -> tuple[tuple[float, float, float], ...]:
    """Points on a face, mm in its two coordinates, as places in space, m."""
    if isinstance(case.workpiece, MeshFile):
        axes, normal, level = _flat_face(mesh, face)
    else:
        normal, side = FACE_SIDES[face]
        axes = FACE_AXES[face]
        level = float(mesh.p[normal].max() if side > 0 else mesh.p[normal].min())
    result = []
    for first, second in points:
        place = [0.0, 0.0, 0.0]
        place[axes[0]], place[axes[1]], place[normal] = first * MM, second * MM, level
        result.append((place[0], place[1], place[2]))
    return tuple(result)


def _flat_face(mesh: MeshHex, face: str) -> tuple[tuple[int, int], int, float]:
    """In-plane axes, normal axis and level of a flat face that lies across an axis."""
    facets = np.asarray((mesh.boundaries or {})[face])
    normal = normal_axis(mesh, face)
    axes = tuple(axis for axis in range(3) if axis != normal)
    levels = mesh.p[normal, np.unique(mesh.facets[:, facets])]
    if np.ptp(levels) > 1e-3 * np.ptp(mesh.p, axis=1).max():
        raise OutOfRange(
            f"The face {face!r} is not flat; a heat on a mesh file's face needs a flat face "
            "across x, y or z. Name a flat part of it in the mesh file."
        )
    return (axes[0], axes[1]), normal, float(levels.mean())
