"""From the heats of a checked case to the phases that the march takes, in SI."""

from collections.abc import Sequence

import numpy as np
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.basics.table import Table
from flamefe.heating.air import sprayed_water
from flamefe.heating.deposit import Deposit
from flamefe.heating.path import TorchPath, Track
from flamefe.heating.pattern import Place, Stroke
from flamefe.heating.phase import Burn, Drive, Phase, Rest
from flamefe.heating.probe import FaceProbe
from flamefe.heating.surface import FacePoints
from flamefe.heating.trailing import Trailing
from flamefe.study.case import AnyHeat, Case, HeldLine, MeshFile, SpotField, cool_to_C
from flamefe.study.case_flames import flame_of, radius_mm_of
from flamefe.study.case_strokes import pattern_of, speed_of, target_of
from flamefe.study.holding import normal_axis
from flamefe.study.parts import MM
from flamefe.workpiece.body import Body
from flamefe.workpiece.faces import FACE_AXES, FACE_SIDES, OPPOSITE

STEP_BY_RADIUS = 1.0 / 6.0
"""Travel of the torch within a heat step, by the flame's radius."""
FINE_FACE_ORDER = 5
"""Quadrature order on heated faces: the flame is curved, the face is not."""
LONGEST_DRIVEN_STEP_S = 2.0
"""Longest heat step of a driven torch where none is given."""
HAIR = 1e-4
"""Way, m, after which a torch that stood until the target was reached is put out."""


def phases_of(case: Case, body: Body) -> tuple[Phase, ...]:
    """Burns, driven burns and rests of the case's heats, in order; each cycle ends cold."""
    result: list[Phase] = []
    for number, heat in enumerate(case.heats):
        last = number + 1 == len(case.heats) or case.heats[number + 1].cycle != heat.cycle
        result += _burning(case, body, heat, heat_name(heat, number))
        name = f"cooling after {heat_name(heat, number)}"
        result.append(Rest(until=cool_to_C(case, heat), cold=last, name=name))
    return tuple(result)


def heat_name(heat: AnyHeat, number: int) -> str:
    """What a heat is called: its own name, else by its number from 0."""
    return heat.name or f"heat {number + 1}"


def faces_of(heat: AnyHeat) -> tuple[str, ...]:
    """The face or faces on which a heat burns."""
    return (heat.face, OPPOSITE[heat.face]) if heat.both_faces else (heat.face,)


def _burning(case: Case, body: Body, heat: AnyHeat, name: str) -> list[Phase]:
    """The strokes of a heat, with rests between the spots of a field where they are asked for."""
    torch = _Torch(case, body, heat)
    result: list[Phase] = []
    strokes = pattern_of(heat).strokes
    for number, stroke in enumerate(strokes):
        called = f"{name}, {stroke.name}" if stroke.name else name
        driven = target_of(heat) is not None
        result.append(torch.driven(stroke, called) if driven else torch.timed(stroke, called))
        between = heat.between_C if isinstance(heat, SpotField) else None
        if between is not None and number + 1 < len(strokes):
            result.append(Rest(until=between, cold=False, name=f"cooling after {called}"))
    return result


class _Torch:
    """Lays the strokes of one heat on its faces."""

    def __init__(self, case: Case, body: Body, heat: AnyHeat) -> None:
        self.case, self.body, self.heat = case, body, heat
        self.faces = faces_of(heat)
        self.flame = flame_of(case.flames[heat.flame])
        facets = [np.asarray((body.mesh.boundaries or {})[face]) for face in self.faces]
        self.points = [FacePoints.of(body.mesh, one, order=FINE_FACE_ORDER) for one in facets]
        self.probes = (
            [] if target_of(heat) is None else [FaceProbe.of(body.mesh, one) for one in facets]
        )
        self.trailing = self._trailing()

    def timed(self, stroke: Stroke, name: str) -> Burn:
        """A stroke at a speed, or for a time."""
        step = self.case.solve.heat_step_s
        speed = speed_of(self.heat)
        if stroke.stands:
            time = getattr(self.heat, "time_s", None)
            assert time is not None  # a checked heat has it
            times: tuple[float, ...] = (0.0, time)
            ends: tuple[Place, ...] = (stroke.points[0], stroke.points[0])
        else:
            assert speed is not None
            steps = np.linalg.norm(np.diff(np.asarray(stroke.points), axis=0), axis=1)
            times = (0.0, *(np.cumsum(steps) / (speed * MM)).tolist())
            ends = stroke.points
            radius = radius_mm_of(self.case.flames[self.heat.flame])
            step = step or STEP_BY_RADIUS * radius / speed
        paths = [
            TorchPath(times=times, points=self._in_space(ends, face), widths=stroke.widths)
            for face in self.faces
        ]
        return Burn(
            deposits=tuple(
                Deposit(flame=self.flame, path=path, face=points, name=name)
                for path, points in zip(paths, self.points, strict=True)
            ),
            step=step,
            name=name,
            trailing=self.trailing,
        )

    def driven(self, stroke: Stroke, name: str) -> Drive:
        """A stroke driven by the temperature under the torch."""
        heat = self.heat
        target = target_of(heat)
        assert target is not None
        points, widths, mode, advance = stroke.points, stroke.widths, "hold", 0.0
        if isinstance(heat, HeldLine):
            mode, advance = heat.manner, heat.advance_mm * MM
        if stroke.stands:
            (u, v) = points[0]
            points, mode, advance = ((u, v), (u + HAIR, v)), "dwell", HAIR
        return Drive(
            deposits=tuple(Deposit(flame=self.flame, face=face, name=name) for face in self.points),
            tracks=tuple(
                Track(points=self._in_space(points, face), widths=widths) for face in self.faces
            ),
            probes=tuple(self.probes),
            target=target,
            fastest=getattr(heat, "fastest_mm_s", 20.0) * MM,
            longest_dwell=getattr(heat, "longest_dwell_s", 120.0),
            mode=mode,
            advance=advance,
            step=self.case.solve.heat_step_s or LONGEST_DRIVEN_STEP_S,
            name=name,
            trailing=self.trailing,
        )

    def _trailing(self) -> Trailing | None:
        water = getattr(self.heat, "water", None)
        if water is None:
            return None
        film = sprayed_water()
        if water.film_W_m2K is not None:
            degrees, values = zip(*water.film_W_m2K, strict=True)
            film = Table(temperature_C=degrees, values=values, source="given in the case")
        return Trailing(
            face=self.points[0],
            distance=water.distance_mm * MM,
            radius=water.radius_mm * MM,
            film=film,
            water_C=water.water_C,
        )

    def _in_space(
        self, points: Sequence[Place], face: str
    ) -> tuple[tuple[float, float, float], ...]:
        """Points on a face, m in its two coordinates, as places in space, m."""
        mesh = self.body.mesh
        if isinstance(self.case.workpiece, MeshFile):
            axes, normal, level = _flat_face(mesh, face)
        else:
            normal, side = FACE_SIDES[face]
            axes = FACE_AXES[face]
            level = float(mesh.p[normal].max() if side > 0 else mesh.p[normal].min())
        result = []
        for first, second in points:
            place = [0.0, 0.0, 0.0]
            place[axes[0]], place[axes[1]], place[normal] = first, second, level
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
