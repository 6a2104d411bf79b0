"""Where supports and loads stand on the part, and how a drawing marks them."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
from skfem import MeshHex

from flamefe.reporting.skin import Array, Indices
from flamefe.study.case import (
    Ballast,
    Case,
    Clamp,
    Force,
    Guide,
    Jack,
    OwnWeight,
    Points,
    PressedSpot,
    Pressure,
    Push,
    Rest,
    Spring,
    Strongback,
    Template,
    Traction,
    VacuumPlate,
)
from flamefe.study.case_words import holder_words
from flamefe.study.face_maps import face_map_of, on_mesh
from flamefe.study.gripping import direction_of
from flamefe.workpiece.faces import outward_normals
from flamefe.workpiece.material import Material

HOLDING, LOADING = "#7b3294", "#00695c"
"""Colours of what holds and of what loads the part."""


class MeshedCase(Protocol):
    """A case and its mesh: a finished run, or a part that was only meshed."""

    @property
    def case(self) -> Case:
        """What was asked."""
        ...

    @property
    def mesh(self) -> MeshHex:
        """The part, m."""
        ...


class MeshedPart(MeshedCase, Protocol):
    """The same with its material."""

    @property
    def material(self) -> Material:
        """What it is made of."""
        ...


@dataclass(frozen=True, kw_only=True, eq=False)
class Mark:
    """A support or load as a drawing shows it.

    Args:
        label: "S1" for the first support, "L1" for the first load.
        words: what it is.
        load: whether it is a load.
        places: (k, 3) mm, where it acts; the middle of a face.
        way: (3,) direction in which it pushes the part; None: no single one.
        faces: (nf, 4) node numbers of the faces that it holds or loads.
        ring: (k, 3) mm, a line round what it holds; empty for none.
        joined: whether its places are joined by a beam.
        away: whether its arrow starts at the place, as of a pull.
    """

    label: str
    words: str
    load: bool
    places: Array
    way: Array | None = None
    faces: Indices = field(default_factory=lambda: np.zeros((0, 4), dtype=np.int64))
    ring: Array = field(default_factory=lambda: np.zeros((0, 3)))
    joined: bool = False
    away: bool = False


def marks_of(result: MeshedCase) -> tuple[Mark, ...]:
    """Marks of all supports and loads of a case, in their order."""
    case = result.case
    made = [_support(result, f"S{i}", one) for i, one in enumerate(case.supports, start=1)]
    made += [_load(result, f"L{i}", one) for i, one in enumerate(case.loads, start=1)]
    return tuple(made)


def _support(result: MeshedCase, label: str, one: Any) -> Mark:
    words = holder_words(one)
    if isinstance(one, Points | Strongback):
        return Mark(
            label=label, words=words, load=False, places=_places(one.at_mm),
            joined=isinstance(one, Strongback),
        )  # fmt: skip
    if isinstance(one, PressedSpot):
        face = face_map_of(result.case.workpiece, result.mesh, one.face)
        flat = np.array(on_mesh(face, ((1e-3 * one.at_mm[0], 1e-3 * one.at_mm[1]),)))
        place = 1e3 * face.place(flat)
        turn = np.linspace(0.0, 2.0 * np.pi, 49)
        round_it = flat + 1e-3 * one.radius_mm * np.stack((np.cos(turn), np.sin(turn)), axis=1)
        return Mark(
            label=label, words=words, load=False, places=place, way=-face.normal(flat)[0],
            ring=1e3 * face.place(round_it),
        )  # fmt: skip
    way = None
    if isinstance(one, Rest):
        way = direction_of(one.pushes)
    elif isinstance(one, Jack):
        way = _jack_way(one)
    elif isinstance(one, Spring | Push):
        way = direction_of(one.direction)
    if getattr(one, "face", None) is None:
        assert isinstance(one, Rest | Spring | Jack)
        places = np.asarray(one.at_mm, dtype=float).reshape(-1, 3)
        return Mark(label=label, words=words, load=False, places=places, way=way)
    assert isinstance(one, Clamp | Guide | Push | Rest | Spring | Jack | VacuumPlate | Template)
    quads, middle, normal = _face(result, str(one.face))
    if way is None and not isinstance(one, Clamp):
        way = -normal
    return Mark(
        label=label, words=words, load=False, places=middle, way=way, faces=quads,
        away=isinstance(one, Push) and one.displacement_mm[-1][1] < 0,
    )  # fmt: skip


def _load(result: MeshedCase, label: str, one: Any) -> Mark:
    words = holder_words(one)
    middle = 1e3 * result.mesh.p.mean(axis=1)[None]
    if isinstance(one, OwnWeight):
        return Mark(
            label=label, words=words, load=True, places=middle, way=direction_of(one.direction),
            away=True,
        )  # fmt: skip
    if isinstance(one, Force):
        way = np.asarray(one.force_N, dtype=float)
        size = float(np.linalg.norm(way))
        return Mark(
            label=label, words=words, load=True, places=_places([one.at_mm]),
            way=way / size if size > 0.0 else None,
        )  # fmt: skip
    if isinstance(one, Ballast) and one.at_mm is not None:
        return Mark(
            label=label, words=words, load=True, places=_places([one.at_mm]),
            way=direction_of(one.direction),
        )  # fmt: skip
    assert isinstance(one, Pressure | Traction | Ballast)
    quads, place, normal = _face(result, str(one.face))
    if isinstance(one, Pressure):
        way = -normal if one.pressure_kPa >= 0 else normal
    elif isinstance(one, Ballast):
        way = direction_of(one.direction)
    else:
        way = np.asarray(one.traction_kPa, dtype=float)
        way = way / max(float(np.linalg.norm(way)), 1e-300)
    return Mark(label=label, words=words, load=True, places=place, way=way, faces=quads)


def _places(points: Sequence[Sequence[float]]) -> Array:
    return np.asarray(points, dtype=float).reshape(-1, 3)


def _jack_way(one: Jack) -> Array | None:
    if one.pushes is not None:
        return direction_of(one.pushes)
    if one.at_mm is None or one.against_mm is None:
        return None
    line = np.subtract(one.at_mm, one.against_mm)
    return np.asarray(line / np.linalg.norm(line))


def _face(result: MeshedCase, name: str) -> tuple[Indices, Array, Array]:
    """Outer quads of a face, its middle (1, 3) mm and its mean outward normal; of a node set of
    a mesh file no quads and the middle of the part."""
    mesh = result.mesh
    if name not in (mesh.boundaries or {}):
        return np.zeros((0, 4), dtype=np.int64), 1e3 * mesh.p.mean(axis=1)[None], np.zeros(3)
    facets = np.asarray((mesh.boundaries or {})[name])
    quads = np.asarray(mesh.facets[:, facets].T, dtype=np.int64)
    normals = outward_normals(mesh, facets)
    corner = mesh.p.T[quads]
    first = np.einsum(
        "qi,qi->q", np.cross(corner[:, 2] - corner[:, 0], corner[:, 3] - corner[:, 1]), normals
    )
    quads[first < 0] = quads[first < 0][:, ::-1]
    mean = normals.mean(axis=0)
    size = float(np.linalg.norm(mean))
    middle = 1e3 * corner.mean(axis=(0, 1))[None]
    return quads, middle, np.asarray(mean / size if size > 1e-9 else np.zeros(3))
