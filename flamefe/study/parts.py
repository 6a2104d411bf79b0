"""From a checked case, in the trade's units, to the parts that solvers take, in SI."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementHex1, MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.straining.restraint import (
    NEVER,
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
    Bar,
    Case,
    Clamp,
    Force,
    Guide,
    MeshFile,
    OwnWeight,
    Plate,
    Points,
    Pressure,
    Push,
    Traction,
    check_faces,
    mesh_plan,
    outline_of,
)
from flamefe.study.faults import CaseError
from flamefe.study.laying import laid_on
from flamefe.workpiece.body import Body
from flamefe.workpiece.extrude import extruded
from flamefe.workpiece.faces import outward_normals
from flamefe.workpiece.material import Material
from flamefe.workpiece.mesh import plate_mesh
from flamefe.workpiece.meshfile import read_mesh
from flamefe.workpiece.own import own_material
from flamefe.workpiece.standard import YieldAs
from flamefe.workpiece.standard import material as ready_material

Array = NDArray[np.float64]

MM = 1e-3


def material_of(case: Case) -> Material:
    """The material that the case's workpiece is made of."""
    name = case.workpiece.material
    if name not in case.materials:
        return ready_material(name)
    own = case.materials[name]
    base = None
    if own.base is not None:
        meant: YieldAs = own.yield_as or "0.2 % proof strength"
        strength = None if own.yield_strength_MPa is None else own.yield_strength_MPa * 1e6
        base = ready_material(own.base, yield_as=meant, yield_strength=strength)
    tables = own.tables
    given = (
        {}
        if tables is None
        else {
            key: value for key, value in vars(tables).items() if value is not None and key[0] != "_"
        }
    )
    return own_material(
        name=name,
        base=base,
        tables=given,
        density_kg_m3=own.density_kg_m3,
        hardening=own.hardening,
        kinematic_share=0.5 if own.kinematic_share is None else own.kinematic_share,
        annealing_C=own.annealing_C,
        heating_limit_C=own.heating_limit_C,
    )


def body_of(case: Case, material: Material, folder: Path) -> tuple[Body, tuple[str, ...]]:
    """Mesh the case's workpiece.

    Args:
        case: the case.
        material: what it is made of.
        folder: where a mesh file's relative name starts.

    Returns:
        The body, and remarks on how a mesh file was read.

    Raises:
        CaseError: a face or node set that the mesh file does not have.
        MeshError: the mesh can't be made or read.
    """
    piece = case.workpiece
    if isinstance(piece, MeshFile):
        found = read_mesh(folder / piece.file, unit_mm=piece.unit_mm)
        faults = check_faces(case, tuple(found.mesh.boundaries or {}), tuple(found.node_sets))
        if faults:
            raise CaseError(list(faults))
        sets = {name: np.asarray(nodes) for name, nodes in found.node_sets.items()}
        return Body(mesh=found.mesh, materials=(material,), node_sets=sets), found.remarks
    plan = mesh_plan(case)
    assert plan is not None
    if not isinstance(piece, Plate | Bar):
        assert plan.beam is not None
        made = extruded(plan.beam.section, plan.beam.stations)
        return Body(mesh=made.mesh, materials=(material,)), ()
    heated: dict[str, list[list[tuple[float, float]]]] = {}
    for heat in case.heats:
        path = [(a * MM, b * MM) for a, b in outline_of(heat)]
        for laid in laid_on(piece, heat):
            heated.setdefault(laid.face, []).append(path)
    mesh = plate_mesh(
        piece.length_mm * MM,
        (piece.width_mm if isinstance(piece, Plate) else piece.depth_mm) * MM,
        piece.thickness_mm * MM,
        heated=heated,
        reach=plan.reach_mm * MM,
        size_at_heat=plan.size_at_heat_mm * MM,
        size_away=plan.size_away_mm * MM,
        layers=plan.layers,
    )
    return Body(mesh=mesh, materials=(material,)), ()


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


def holding_of(
    case: Case, body: Body, cold_times: Sequence[float]
) -> tuple[list[Support], list[Load]]:
    """Supports and loads with their times.

    What is released after cooling is taken off when a cycle has cooled and fitted again, where
    the part then is, at the start of the next.

    Args:
        case: the case.
        body: its meshed part.
        cold_times: when each cycle has cooled, s.
    """
    supports: list[Support] = []
    loads: list[Load] = []
    ends = list(cold_times) or [NEVER]
    spans = list(zip([-NEVER, *ends[:-1]], ends, strict=True))
    for number, support in enumerate(case.supports):
        name = f"support {number + 1} ({support.kind})"
        for fitted, released in spans if support.released != "never" else [(-NEVER, NEVER)]:
            supports.append(_support(support, body, name, fitted, released))
    for number, load in enumerate(case.loads):
        name = f"load {number + 1} ({load.kind})"
        for applied, released in spans if load.released != "never" else [(-NEVER, NEVER)]:
            history = (
                TimeLine()
                if load.history is None
                else TimeLine(
                    times=tuple(t for t, _ in load.history),
                    factors=tuple(f for _, f in load.history),
                )
            )
            loads.append(
                Load(
                    forces=_forces(load, body),
                    history=history,
                    applied=float(np.nextafter(applied, NEVER)),
                    released=released,
                    name=name,
                )
            )
    if not case.supports:
        supports.append(rigid_modes(body))
    return supports, loads


def _support(
    given: Clamp | Guide | Points | Push, body: Body, name: str, fitted: float, released: float
) -> Support:
    if isinstance(given, Clamp):
        held = clamp(body, given.face).held
    elif isinstance(given, Guide):
        held = clamp(body, given.face, axes=(normal_axis(body.mesh, given.face),)).held
    elif isinstance(given, Points):
        held = np.zeros(body.points.shape, dtype=bool)
        for place in given.at_mm:
            held[_nearest(body, place), ["xyz".index(way) for way in given.directions]] = True
    else:
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
    return Support(held=held, fitted=fitted, released=released, name=name)


def _nearest(body: Body, place_mm: Sequence[float]) -> int:
    goal = np.asarray(place_mm) * MM
    return int(np.argmin(((body.points - goal) ** 2).sum(axis=1)))


def _forces(given: OwnWeight | Force | Pressure | Traction, body: Body) -> Array:
    if isinstance(given, OwnWeight):
        way = np.zeros(3)
        way["xyz".index(given.direction[-1])] = -1.0 if given.direction[0] == "-" else 1.0
        return own_weight(body, way).forces
    if isinstance(given, Pressure):
        return face_pressure(body, given.face, given.pressure_kPa * 1e3).forces
    if isinstance(given, Traction):
        return face_traction(body, given.face, np.asarray(given.traction_kPa) * 1e3).forces
    forces = np.zeros(body.points.shape)
    forces[_nearest(body, given.at_mm)] = given.force_N
    return forces


def inherent_strain_of(case: Case, body: Body) -> Array | None:
    """Given inherent strains at the quadrature points, (6, ne * 8); None where none is given."""
    if not case.inherent_strain:
        return None
    basis = Basis(body.mesh, ElementHex1(), intorder=3)
    places = np.asarray(basis.global_coordinates()).reshape(3, -1) / MM
    result = np.zeros((6, places.shape[1]))
    for box in case.inherent_strain:
        low, high = np.asarray(box.from_mm), np.asarray(box.to_mm)
        inside = ((places >= low[:, None]) & (places <= high[:, None])).all(axis=0)
        if not inside.any():
            raise OutOfRange(
                f"The box of inherent strain from {box.from_mm} to {box.to_mm} mm holds no "
                "quadrature point of the mesh; make the mesh finer there or the box larger."
            )
        result[:, inside] += np.asarray(box.strain)[:, None]
    return result
