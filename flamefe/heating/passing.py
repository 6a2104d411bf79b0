"""A flame that passes over a wide plate, seen in one cross-section: a quick model.

What runs along the travel is left out: right for a torch that moves quickly against the conduction
ahead of it, v R / (2 D) well above 1, with R the flame's radius and D the diffusivity.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.heating.conduction import Conductor
from flamefe.heating.deposit import weave_places
from flamefe.heating.flame import Flame
from flamefe.heating.surface import Cooling, Exchange, FacePoints, GasFilm
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material
from flamefe.workpiece.mesh import box_mesh, graded

Array = NDArray[np.float64]

SLICE = 1e-3
"""Thickness of the slice along the travel, m; without influence."""
STEP, AFTER = 1.0 / 6.0, 1.25
"""Step while the flame passes, by its size of travel; growth of the steps after it."""
NOTHING = 1e-3
"""Share of a flame's strongest heat below which it counts as nothing."""
SPENT = 0.9
"""The march ends when the depth that is hottest last has fallen to this share of its peak."""


@dataclass(frozen=True, kw_only=True)
class Peaks:
    """Highest temperatures by depth under the middle of a flame's way.

    Args:
        depths: from the heated face, m, rising from 0.
        peaks: at each, C.
        peclet: v R / (2 D): above 1 or so the cross-section tells the truth.
    """

    depths: tuple[float, ...]
    peaks: tuple[float, ...]
    peclet: float

    def at(self, depth: float) -> float:
        """Highest temperature at a depth, C."""
        return float(np.interp(depth, self.depths, self.peaks))


@dataclass(frozen=True, kw_only=True)
class WidePlate:
    """A wide plate under a flame.

    Args:
        material: of the plate.
        thickness: m.
        ambient: of air and plate at the start, C.
        film: to the air, W/(m2 K).
        emissivity: of both faces.
        both_faces: an equal flame burns opposite.

    Raises:
        OutOfRange: a thickness that is not above 0.
    """

    material: Material
    thickness: float
    ambient: float = 20.0
    film: float = 15.0
    emissivity: float = 0.7
    both_faces: bool = False

    def __post_init__(self) -> None:
        if not 0.0005 <= self.thickness <= 0.5:
            raise OutOfRange(f"A plate of {1e3 * self.thickness:g} mm; allowed: 0.5 to 500 mm.")

    @property
    def diffusivity(self) -> float:
        """Of cold metal, m2/s."""
        cold = self.ambient
        capacity = self.material.density * float(self.material.specific_heat(cold))
        return float(self.material.conductivity(cold)) / capacity

    def heights(self, size: float) -> Array:
        """Coordinates through the thickness, m, fine at a face under a flame of ``size`` m."""
        fine = min(size / 6.0, self.thickness / 6.0)
        spans = [(self.thickness - fine, self.thickness)]
        if self.both_faces:
            spans.append((0.0, fine))
        coarse = max(self.thickness / 5.0, fine)
        return graded(self.thickness, fine_spans=spans, fine=fine, coarse=coarse)

    def cooled(self, body: Body) -> tuple[Conductor, dict[str, FacePoints]]:
        """Conduction in a piece of the plate whose faces "top" and "bottom" lose heat."""
        faces = {
            name: FacePoints.of(body.mesh, np.asarray((body.mesh.boundaries or {})[name]), order=5)
            for name in ("top", "bottom")
        }
        losses = [
            Cooling(face=face, film=self.film, emissivity=self.emissivity, ambient=self.ambient)
            for face in faces.values()
        ]
        return Conductor(body, losses, tolerance=1e-4), faces


def extent_of(flame: Flame) -> float:
    """Distance from its axis beyond which a flame brings next to nothing, m.

    Example:
        >>> from flamefe.heating.flame import GaussianFlame
        >>> round(extent_of(GaussianFlame(power=4000.0, radius=0.01)), 3)
        0.027
    """
    radii = flame.size * np.arange(0.0, 80.0, 0.1)
    turns = np.linspace(0.0, np.pi, 9)
    along, across = np.outer(np.cos(turns), radii), np.outer(np.sin(turns), radii)
    bath = flame.bath(along.ravel(), across.ravel())
    heat = (bath.flux + bath.coefficient * bath.gas).reshape(along.shape).max(axis=0)
    strong = np.flatnonzero(heat > NOTHING * heat.max())
    return float(radii[min(int(strong[-1]) + 1, len(radii) - 1)])


def passing(flame: Flame, plate: WidePlate, *, speed: float, weave: float = 0.0) -> Peaks:
    """Peak temperatures by depth under a flame that passes at a steady speed.

    Args:
        flame: of either model.
        plate: wide against the flame.
        speed: m/s.
        weave: width over which the torch is woven, m.

    Raises:
        OutOfRange: speed not above 0 or weave below 0.
        NotConverged: a step failed.

    Source: the quick source, without conduction along the travel: N. N. Rykalin, Berechnung der
    Waermevorgaenge beim Schweissen, Berlin 1957 (from memory).

    Example:
        >>> from flamefe.heating.flame import GaussianFlame
        >>> from flamefe.workpiece.standard import material
        >>> plate = WidePlate(material=material("S355"), thickness=0.012)
        >>> found = passing(GaussianFlame(power=4000.0, radius=0.018), plate, speed=0.006)
        >>> bool(550 < found.at(0.0) < 700), bool(found.at(0.0) > found.at(0.012))
        (True, True)
    """
    if not (speed > 0.0 and weave >= 0.0):
        raise OutOfRange(
            f"A flame passes at {1e3 * speed:g} mm/s, woven over {1e3 * weave:g} mm; the speed "
            "must be above 0, the width 0 or more."
        )
    reach = extent_of(flame)
    fine = min(flame.size / 4.0, plate.thickness)
    near = reach + 0.5 * weave
    half = near + 6.0 * plate.thickness + 4.0 * np.sqrt(plate.diffusivity * 2.0 * reach / speed)
    across = graded(half, fine_spans=[(0.0, near)], fine=fine, coarse=8.0 * fine)
    body = Body(
        mesh=box_mesh([0.0, SLICE], across, plate.heights(flame.size)), materials=(plate.material,)
    )
    conductor, faces = plate.cooled(body)
    now = np.full(conductor.body.points.shape[0], plate.ambient)
    peaks, guess = now.copy(), None
    middle = _under_the_middle(conductor.body)
    heated = ["top", "bottom"] if plate.both_faces else ["top"]
    for start, duration in _steps(flame, reach, speed, plate):
        powers, films = np.zeros_like(now), list[Exchange]()
        for name in heated if start < reach / speed else []:
            power, film = _bathed(flame, faces[name], start, duration, speed, weave)
            powers += power
            films += film
        step = conductor.step(now, power=powers, duration=duration, guess=guess, also=films)
        guess = 2.0 * step.temperature - now if start > -reach / speed else None
        now = step.temperature
        peaks = np.maximum(peaks, now)
        rise = now[middle] - plate.ambient
        past = start > reach / speed
        if past and (rise < SPENT * (peaks[middle] - plate.ambient) + 1e-9).all():
            break
    depths = plate.thickness - conductor.body.points[middle, 2]
    order = np.argsort(depths)
    return Peaks(
        depths=tuple(np.round(depths[order], 12).tolist()),
        peaks=tuple(peaks[middle][order].tolist()),
        peclet=speed * flame.size / (2.0 * plate.diffusivity),
    )


def _steps(
    flame: Flame, reach: float, speed: float, plate: WidePlate
) -> Iterator[tuple[float, float]]:
    """Start and length of each step, s; at 0 the torch is over the slice."""
    start, duration = -reach / speed, STEP * flame.size / speed
    longest = max(duration, 0.2 * plate.thickness**2 / plate.diffusivity)
    end = reach / speed + 20.0 * plate.thickness**2 / plate.diffusivity
    while start < end:
        yield start, duration
        start += duration
        if start > reach / speed:
            duration = min(AFTER * duration, longest)


def _bathed(
    flame: Flame, face: FacePoints, start: float, duration: float, speed: float, weave: float
) -> tuple[Array, list[Exchange]]:
    """Nodal powers and gas films in a step."""
    flux = np.zeros(len(face.points))
    film, heat = np.zeros_like(flux), np.zeros_like(flux)
    moments = start + duration * (np.arange(3) + 0.5) / 3.0
    shifts = weave_places(weave, flame.size)
    for moment in moments:
        along = np.full(len(face.points), -speed * moment)
        for shift in shifts:
            bath = flame.bath(along, face.points[:, 1] - shift)
            part = 1.0 / (len(moments) * len(shifts))
            flux += part * bath.flux
            film += part * bath.coefficient
            heat += part * bath.coefficient * bath.gas
    if not film.any():
        return face.gather(flux), []
    gas = np.divide(heat, film, out=np.zeros_like(film), where=film > 0.0)
    return face.gather(flux), [GasFilm(face=face, coefficient=film, gas=gas)]


def _under_the_middle(body: Body) -> NDArray[np.int64]:
    """Nodes under the middle of the way, on one side of the slice."""
    points = body.points
    return np.flatnonzero((points[:, 1] == 0.0) & (points[:, 0] == 0.0))
