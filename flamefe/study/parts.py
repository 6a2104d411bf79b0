"""From a checked case, in the trade's units, to the parts that solvers take, in SI."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementHex1

from flamefe.basics.errors import OutOfRange
from flamefe.study.case import (
    Bar,
    Case,
    MeshFile,
    Plate,
    check_faces,
    mesh_plan,
    outline_of,
)
from flamefe.study.faults import CaseError
from flamefe.study.laying import laid_on
from flamefe.workpiece.body import Body
from flamefe.workpiece.extrude import extruded
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
