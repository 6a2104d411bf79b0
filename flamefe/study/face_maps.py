"""Faces of a case's meshed part, rolled out flat, so that heats can be laid on them."""

import numpy as np
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.heating.pattern import Place
from flamefe.study.case_workpiece import Bar, MeshFile, Plate
from flamefe.study.holding import normal_axis
from flamefe.study.laying import AnyWorkpiece
from flamefe.workpiece.extrude import BEAM_ENDS
from flamefe.workpiece.face_map import FaceMap, FlatFace
from flamefe.workpiece.faces import outward_normals
from flamefe.workpiece.rolled_face import RolledFace


def face_map_of(piece: AnyWorkpiece, mesh: MeshHex, face: str) -> FaceMap:
    """The face of a meshed workpiece with its two coordinates.

    Args:
        piece: what the mesh is of.
        mesh: with named faces, m.
        face: its name.

    Raises:
        OutOfRange, RestraintError: a face of a mesh file that is not flat across x, y or z.
        KeyError: there is no such face.

    Example:
        >>> from flamefe.workpiece.mesh import box_mesh
        >>> plate = Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355")
        >>> mesh = box_mesh([0, 0.4], [0, 0.2], [0, 0.012])
        >>> face_map_of(plate, mesh, "bottom").handed
        -1.0
    """
    if isinstance(piece, MeshFile):
        return _flat_face(mesh, face)
    if isinstance(piece, Plate | Bar) or face in BEAM_ENDS:
        return FlatFace.of_box(face, mesh.p.min(axis=1), mesh.p.max(axis=1))
    return RolledFace.of_mesh(mesh, np.asarray((mesh.boundaries or {})[face]))


def on_mesh(face: FaceMap, points: tuple[Place, ...]) -> tuple[Place, ...]:
    """Points as the shop measures them on a face, m, as they lie on its mesh, m.

    On a circle that is meshed as a polygon lengths differ a little.
    """
    return tuple((u, face.stretch * v) for u, v in points)


def _flat_face(mesh: MeshHex, face: str) -> FlatFace:
    """A flat face that lies across an axis, its coordinates those of the part."""
    facets = np.asarray((mesh.boundaries or {})[face])
    normal = normal_axis(mesh, face)
    first, second = (axis for axis in range(3) if axis != normal)
    places = mesh.p[:, np.unique(mesh.facets[:, facets])]
    if np.ptp(places[normal]) > 1e-3 * np.ptp(mesh.p, axis=1).max():
        raise OutOfRange(
            f"The face {face!r} is not flat; a heat on a mesh file's face needs a flat face "
            "across x, y or z. Name a flat part of it in the mesh file."
        )
    low, high = places.min(axis=1), places.max(axis=1)
    return FlatFace(
        axes=(first, second),
        normal_axis=normal,
        side=1 if outward_normals(mesh, facets)[:, normal].mean() > 0.0 else -1,
        level=float(places[normal].mean()),
        span=((float(low[first]), float(high[first])), (float(low[second]), float(high[second]))),
    )
