"""From the heats of a checked case to the phases that the march takes, in SI."""

import numpy as np

from flamefe.basics.table import Table
from flamefe.heating.air import sprayed_water
from flamefe.heating.deposit import Deposit
from flamefe.heating.path import TorchPath, Track
from flamefe.heating.pattern import Place, Stroke
from flamefe.heating.phase import Burn, Drive, Phase, Rest
from flamefe.heating.probe import FaceProbe
from flamefe.heating.surface import FacePoints
from flamefe.heating.trailing import Trailing
from flamefe.study.case import AnyHeat, Case, HeldLine, SpotField, cool_to_C
from flamefe.study.case_flames import flame_of, radius_mm_of
from flamefe.study.case_strokes import pattern_of, speed_of, target_of
from flamefe.study.face_maps import face_map_of, on_mesh
from flamefe.study.laying import laid_on
from flamefe.study.parts import MM
from flamefe.workpiece.body import Body

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
    """Lays the strokes of one heat on its faces, which are rolled out flat."""

    def __init__(self, case: Case, body: Body, heat: AnyHeat) -> None:
        self.case, self.body, self.heat = case, body, heat
        self.faces = laid_on(case.workpiece, heat)
        self.maps = [face_map_of(case.workpiece, body.mesh, laid.face) for laid in self.faces]
        self.flame = flame_of(case.flames[heat.flame])
        facets = [np.asarray((body.mesh.boundaries or {})[laid.face]) for laid in self.faces]
        self.points = [
            FacePoints.of(body.mesh, one, order=FINE_FACE_ORDER).rolled_out(face)
            for one, face in zip(facets, self.maps, strict=True)
        ]
        self.probes = (
            []
            if target_of(heat) is None
            else [
                FaceProbe.rolled_out(body.mesh, one, face)
                for one, face in zip(facets, self.maps, strict=True)
            ]
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
            TorchPath(times=times, points=points, widths=stroke.widths)
            for points in self._laid(ends)
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
            tracks=tuple(Track(points=points, widths=widths) for points in self._laid(points)),
            probes=tuple(self.probes),
            target=target,
            slowest=getattr(heat, "slowest_mm_s", 0.0) * MM,
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

    def _laid(self, points: tuple[Place, ...]) -> list[tuple[tuple[float, float, float], ...]]:
        """Points on the heat's face, m, on each face that burns, rolled out flat: u, v and 0."""
        return [
            tuple((u, v, 0.0) for u, v in on_mesh(face, laid.points(points)))
            for laid, face in zip(self.faces, self.maps, strict=True)
        ]
