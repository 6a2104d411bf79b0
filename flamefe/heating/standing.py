"""A flame that stands on a wide plate, seen in one sector of a round one: a quick model."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.heating.flame import Flame
from flamefe.heating.passing import WidePlate, extent_of
from flamefe.heating.surface import Exchange, FacePoints, GasFilm
from flamefe.workpiece.body import Body
from flamefe.workpiece.faces import named_sides
from flamefe.workpiece.mesh import graded

Array = NDArray[np.float64]

SECTOR = 0.1
"""Angle of the sector, rad; without influence."""
HOLE = 0.02
"""Radius of the hole in the middle by the flame's size: it keeps the sector's hexes whole."""
TURNS = 16
"""Directions over which a flame that is not round is taken in the mean."""
FIRST_STEP_RISE, GROWTH = 10.0, 1.25


@dataclass(frozen=True, kw_only=True)
class Stand:
    """How a standing flame heated the plate under its axis.

    Args:
        times: s since it was lit.
        depths: from the heated face, m, rising from 0.
        temperatures: (times, depths) C.
    """

    times: Array
    depths: Array
    temperatures: Array

    def reaches(self, target: float, depth: float) -> float | None:
        """When a depth reaches a temperature, s; None where it does not.

        Args:
            target: C.
            depth: m.
        """
        at = np.array([np.interp(depth, self.depths, row) for row in self.temperatures])
        above = np.flatnonzero(at >= target)
        if above.size == 0:
            return None
        i = int(above[0])
        if i == 0:
            return 0.0
        share = (target - at[i - 1]) / (at[i] - at[i - 1])
        return float(self.times[i - 1] + share * (self.times[i] - self.times[i - 1]))

    def at(self, time: float, depth: float) -> float:
        """Temperature at a time and depth, C."""
        rows = [np.interp(time, self.times, column) for column in self.temperatures.T]
        return float(np.interp(depth, self.depths, rows))


def standing(
    flame: Flame, plate: WidePlate, *, longest: float, until: float, depth: float
) -> Stand:
    """Temperatures by depth under the axis of a flame that stands.

    Args:
        flame: of either model; one that is not round counts with its mean round the axis.
        plate: wide against the flame.
        longest: how long it burns at most, s.
        until: it is put out where ``depth`` has reached this, C.
        depth: m.

    Raises:
        OutOfRange: a time or depth that can't be.
        NotConverged: a step failed.

    Example:
        >>> from flamefe.heating.flame import GaussianFlame
        >>> from flamefe.workpiece.standard import material
        >>> plate = WidePlate(material=material("S355"), thickness=0.008)
        >>> found = standing(GaussianFlame(power=3000.0, radius=0.015), plate, longest=30.0,
        ...                  until=500.0, depth=0.0)
        >>> bool(2.0 < found.reaches(500.0, 0.0) < 8.0)
        True
    """
    if not (longest > 0.0 and 0.0 <= depth <= plate.thickness):
        raise OutOfRange(
            f"A flame stands for {longest:g} s, looked at {1e3 * depth:g} mm deep; the time must "
            f"be above 0, the depth 0 to {1e3 * plate.thickness:g} mm."
        )
    conductor, faces = plate.cooled(_sector(flame, plate, longest))
    heated = ["top", "bottom"] if plate.both_faces else ["top"]
    now = np.full(conductor.body.points.shape[0], plate.ambient)
    middle = _under_the_axis(conductor.body)
    depths = plate.thickness - conductor.body.points[middle, 2]
    order = np.argsort(depths)
    middle, depths = middle[order], depths[order]
    times, rows, trend = [0.0], [now[middle]], None
    bathed = {name: _bath(flame, faces[name]) for name in heated}
    duration = min(0.05, 0.1 * longest)
    while times[-1] < longest * (1.0 - 1e-9):
        duration = min(duration, longest - times[-1])
        power = np.sum([faces[name].gather(bathed[name][0]) for name in heated], axis=0)
        films: list[Exchange] = [
            GasFilm(face=faces[name], coefficient=bathed[name][1], gas=bathed[name][2])
            for name in heated
            if bathed[name][1].any()
        ]
        guess = None if trend is None else now + trend * duration
        step = conductor.step(now, power=power, duration=duration, guess=guess, also=films)
        change = step.temperature - now
        trend, now = change / duration, step.temperature
        times.append(times[-1] + duration)
        rows.append(now[middle])
        if np.interp(depth, depths, now[middle]) >= until:
            break
        rise = max(float(np.abs(change).max()), 1e-9)
        duration *= min(GROWTH, max(0.3, FIRST_STEP_RISE / rise))
    return Stand(times=np.array(times), depths=depths, temperatures=np.stack(rows))


def _sector(flame: Flame, plate: WidePlate, longest: float) -> Body:
    """Hexes of one sector of a round plate, its faces named."""
    fine = min(flame.size / 6.0, plate.thickness)
    near = extent_of(flame)
    outer = near + 4.0 * np.sqrt(plate.diffusivity * longest)
    hole = HOLE * flame.size
    radii = hole + graded(outer, fine_spans=[(0.0, near)], fine=fine, coarse=outer / 8.0)
    height = plate.heights(flame.size)
    flat = MeshHex.init_tensor(radii, np.array([0.0, 1.0]), height)
    r, turn = flat.p[0], SECTOR * (flat.p[1] - 0.5)
    mesh = MeshHex(np.stack((r * np.cos(turn), r * np.sin(turn), flat.p[2])), flat.t)
    sides = named_sides(flat)
    return Body(
        mesh=mesh.with_boundaries({name: sides[name] for name in ("top", "bottom")}),
        materials=(plate.material,),
    )


def _bath(flame: Flame, face: FacePoints) -> tuple[Array, Array, Array]:
    """Flux, film coefficient and gas at the points of a face, in the mean round the axis."""
    r = np.hypot(face.points[:, 0], face.points[:, 1])
    flux, film, heat = np.zeros_like(r), np.zeros_like(r), np.zeros_like(r)
    for turn in np.arange(TURNS) * 2.0 * np.pi / TURNS:
        bath = flame.bath(r * np.cos(turn), r * np.sin(turn))
        flux += bath.flux / TURNS
        film += bath.coefficient / TURNS
        heat += bath.coefficient * bath.gas / TURNS
    gas = np.divide(heat, film, out=np.zeros_like(film), where=film > 0.0)
    return flux, film, gas


def _under_the_axis(body: Body) -> NDArray[np.int64]:
    """Nodes nearest to the axis, on one side of the sector."""
    points = body.points
    r = np.hypot(points[:, 0], points[:, 1])
    return np.flatnonzero((r < r.min() * (1.0 + 1e-6)) & (points[:, 1] < 0.0))
