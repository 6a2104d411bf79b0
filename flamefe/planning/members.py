"""Long members and columns: from turns at stations to offsets from a string or a plumb line.

A heat turns the parts of the member on its two sides against each other; everything else stays
straight. So the shape follows from geometry alone, exactly, as long as the supports are statically
determinate (a member on two rests, a column on its foot): nothing resists the turns.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.planning.effect import HeatEffect
from flamefe.planning.seats import MemberHeat

Array = NDArray[np.float64]

PIECES = 24
"""Kinks that stand for a shrinkage which is spread along the member."""
Way = Literal["camber", "sweep"]


@dataclass(frozen=True, kw_only=True, eq=False)
class Girder:
    """A long member measured from a string: camber upright (+z), sweep sideways (+y).

    ::

        z ^        o--o--o           offsets from the string over the two supports;
          |    o      |      o       camber > 0: above it, sweep > 0: on the side of large y
          |  o--------+--------o
          +--> x   string

    Args:
        length: m.
        stations: (n,) m, where it is measured.
        measured: which offsets, in this order.
        supports: m, the two stations that the string is laid over; None: the ends.

    Raises:
        OutOfRange: stations or supports off the member, or no station.

    Example:
        >>> wedge = HeatEffect(kind="wedge", rotation_y=4e-3, source="a local run")
        >>> girder = Girder(length=12.0, stations=[3.0, 6.0, 9.0], measured=("camber",))
        >>> heat = MemberHeat(name="w", effect=wedge, station=6.0)
        >>> girder.influence([heat]).ravel().round(6).tolist()
        [-0.006, -0.012, -0.006]
        >>> girder.names
        ('camber at 3 m', 'camber at 6 m', 'camber at 9 m')
    """

    length: float
    stations: Array
    measured: tuple[Way, ...] = ("camber", "sweep")
    supports: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "stations", _kept(self.stations))
        if not self.length > 0.0 or self.stations.ndim != 1 or self.stations.size == 0:
            raise OutOfRange(
                f"A member of {self.length:g} m with {self.stations.size} stations; needed: a "
                "length above 0 and one station at least."
            )
        first, last = self.over
        _inside("A station", self.stations, self.length)
        _inside("A support", np.array([first, last]), self.length)
        if last - first < 0.1 * self.length:
            raise OutOfRange(
                f"Supports at {first:g} and {last:g} m; a string needs at least a tenth of the "
                f"length of {self.length:g} m between them."
            )
        if not self.measured or set(self.measured) - {"camber", "sweep"}:
            raise OutOfRange(f'Measured is {self.measured}; allowed: "camber", "sweep" or both.')

    @property
    def over(self) -> tuple[float, float]:
        """Stations of the supports, m."""
        return self.supports or (0.0, self.length)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the measuring places, in the order of the deviations."""
        return tuple(
            f"{way} at {station:g} m" for way in self.measured for station in self.stations
        )

    def influence(self, heats: Sequence[MemberHeat]) -> Array:
        """Change of each deviation by each heat, for small turns, (n, m) m.

        A turn phi spread evenly over a - b changes the offset of what lies beyond by phi times
        its distance from the middle; the string takes the straight line through the supports off.

        Args:
            heats: candidates; each with its first effect.

        Raises:
            OutOfRange: a heat off the member.
        """
        columns = []
        for heat in heats:
            _inside(f"Heat {heat.name!r}", np.array([heat.station]), self.length)
            bend = self._offsets(heat)
            turn = {"camber": heat.effect.rotation_y, "sweep": heat.effect.rotation_z}
            columns.append(np.concatenate([turn[way] * bend for way in self.measured]))
        count = len(self.names)
        return np.asarray(np.array(columns, dtype=float).reshape(len(heats), count).T)

    def _offsets(self, heat: MemberHeat) -> Array:
        """Offsets of the stations by a turn of 1 rad, m."""
        first, last = self.over
        away = turned_away(np.array([first, last]), heat.station, heat.effect.extent)
        line = away[0] + (away[1] - away[0]) * (self.stations - first) / (last - first)
        return np.asarray(turned_away(self.stations, heat.station, heat.effect.extent) - line)

    def deviations(self, heats: Sequence[MemberHeat]) -> Array:
        """Change of the deviations by all heats together in exact geometry, (n,) m.

        Turns of any size, in their order along the member; shortenings are counted in. The string
        runs through the supports; the offset is square to it.

        Args:
            heats: given; turns in both planes.

        Raises:
            OutOfRange: a heat off the member.

        Example:
            >>> sharp = HeatEffect(kind="made up", rotation_y=0.2, source="made up")
            >>> girder = Girder(length=2.0, stations=[1.0], measured=("camber",))
            >>> heat = MemberHeat(name="w", effect=sharp, station=1.0)
            >>> round(float(girder.deviations([heat])[0]), 9)     # -sin(0.1)
            -0.099833417
        """
        first, last = self.over
        wanted = np.concatenate((self.stations, [first, last]))
        for heat in heats:
            _inside(f"Heat {heat.name!r}", np.array([heat.station]), self.length)
        places = axis_places(wanted, heats)
        chord = places[-1] - places[-2]
        along = chord / np.linalg.norm(chord)
        away = places[:-2] - places[-2]
        found = []
        for way in self.measured:
            out = np.array([0.0, 0.0, 1.0]) if way == "camber" else np.array([0.0, 1.0, 0.0])
            out = out - (out @ along) * along
            found.append(away @ (out / np.linalg.norm(out)))
        return np.concatenate(found)

    def shortening(self, heats: Sequence[MemberHeat]) -> float:
        """Loss of length along the axis by all heats, m.

        Args:
            heats: given.
        """
        return float(sum(heat.effect.shortening for heat in heats))

    def twist(self, heats: Sequence[MemberHeat]) -> float:
        """Twist of the end against the start by all heats, rad.

        Args:
            heats: given.
        """
        return float(sum(heat.effect.twist for heat in heats))


@dataclass(frozen=True, kw_only=True, eq=False)
class Column:
    """A tall tube or column on its foot, measured by plumb offsets along X and Y.

    ::

              o  <- offset                 a heat on the long side shortens it: all that stands
              |\\                           above turns towards the heated side, and moves there
              | \\                          by the turn times its height above the heat
              |  o
        ------+--+---- foot

    Args:
        heights: (n,) m above the foot, where it is measured.
        height: m, of the column; None: the highest measuring place.

    Raises:
        OutOfRange: heights off the column, or none.

    Example:
        >>> wedge = HeatEffect(kind="band", rotation_y=2e-3, source="a local run")
        >>> column = Column(heights=[4.0, 8.0])
        >>> heat = column.heat("b1", wedge, height=2.0, towards=0.0)
        >>> column.influence([heat]).ravel().round(6).tolist()     # X at 4, 8 m, then Y
        [0.004, 0.012, 0.0, 0.0]
    """

    heights: Array
    height: float | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "heights", _kept(self.heights))
        if self.heights.ndim != 1 or self.heights.size == 0 or not self.top > 0.0:
            raise OutOfRange("A column needs one height above its foot at least.")
        _inside("A height", self.heights, self.top)

    @property
    def top(self) -> float:
        """Height of the column, m."""
        highest = float(self.heights.max(initial=0.0))
        return highest if self.height is None else self.height

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the measuring places, in the order of the deviations."""
        return tuple(f"{axis} at {height:g} m" for axis in "XY" for height in self.heights)

    def heat(self, name: str, effect: HeatEffect, *, height: float, towards: float) -> MemberHeat:
        """A heat on one side of the column.

        Args:
            name: unique.
            effect: on the side "top" of a member alike on all sides: rotation_y turns towards
                the heated side.
            height: m above the foot.
            towards: direction of the heated side, rad from X towards Y.
        """
        side = f"{np.degrees(towards) % 360.0:.4g} deg from X"
        turned = effect.turned(towards - 0.5 * np.pi)
        return MemberHeat(name=name, effect=turned, station=height, side=side)

    def influence(self, heats: Sequence[MemberHeat]) -> Array:
        """Change of each offset by each heat, for small turns, (2 n, m) m.

        Offset = turn times (height - station of the heat), above it.

        Args:
            heats: from ``heat``: their member's y is X, its z is Y (x runs up).

        Raises:
            OutOfRange: a heat off the column.
        """
        columns = []
        for heat in heats:
            _inside(f"Heat {heat.name!r}", np.array([heat.station]), self.top)
            bend = turned_away(self.heights, heat.station, heat.effect.extent)
            bend = bend - turned_away(np.zeros(1), heat.station, heat.effect.extent)
            turns = (heat.effect.rotation_z, heat.effect.rotation_y)
            columns.append(np.concatenate([turn * bend for turn in turns]))
        return np.asarray(
            np.array(columns, dtype=float).reshape(len(heats), 2 * self.heights.size).T
        )

    def deviations(self, heats: Sequence[MemberHeat]) -> Array:
        """Change of the offsets by all heats together in exact geometry, (2 n,) m.

        The measuring places are marks on the column: they go with it.

        Args:
            heats: given.

        Raises:
            OutOfRange: a heat off the column.
        """
        for heat in heats:
            _inside(f"Heat {heat.name!r}", np.array([heat.station]), self.top)
        places = axis_places(np.concatenate((self.heights, [0.0])), heats)
        away = places[:-1] - places[-1]
        return np.concatenate((away[:, 1], away[:, 2]))


def turned_away(stations: ArrayLike, middle: float, extent: float = 0.0) -> Array:
    """Offset of stations by a turn of 1 rad spread evenly over an extent, for small turns, m.

    (s - m) beyond the extent, 0 before it, (s - m + e/2)^2 / (2 e) within.

    Args:
        stations: (n,) m.
        middle: m, of the turn.
        extent: e, m; 0: a kink.

    Example:
        >>> turned_away([0.0, 2.0, 3.0], 2.0).tolist(), turned_away([2.0, 3.0], 2.0, 1.0).tolist()
        ([0.0, 0.0, 1.0], [0.125, 1.0])
    """
    beyond = np.asarray(stations, dtype=float) - middle
    if extent <= 0.0:
        return np.maximum(beyond, 0.0)
    within = np.clip(beyond + 0.5 * extent, 0.0, extent)
    return np.asarray(np.where(beyond >= 0.5 * extent, beyond, 0.5 * within**2 / extent))


def axis_places(stations: Array, heats: Sequence[MemberHeat]) -> Array:
    """Where points of the axis come to lie by turns of any size, (n, 3) m.

    From the start, which stays where it is and as it points, each piece between two kinks is
    straight; a kink turns all that follows about the axes of the piece before it. A spread turn is
    taken as ``PIECES`` kinks, a twist as a turn about the axis.

    Args:
        stations: (n,) m, points of the axis before.
        heats: given.

    Example:
        >>> turn = HeatEffect(kind="made up", rotation_y=0.5, source="made up")
        >>> axis_places(np.array([2.0]), [MemberHeat(name="w", effect=turn, station=1.0)]).round(6)
        array([[1.877583, 0.      , 0.479426]])
    """
    kinks: list[tuple[float, Array, float]] = []
    for heat in heats:
        effect, number = heat.effect, PIECES if heat.effect.extent > 0.0 else 1
        spread = effect.extent * ((np.arange(number) + 0.5) / number - 0.5)
        turn = np.array([effect.twist, -effect.rotation_y, effect.rotation_z]) / number
        kinks += [(heat.station + away, turn, effect.shortening / number) for away in spread]
    kinks.sort(key=lambda kink: kink[0])
    order = np.argsort(stations, kind="stable")
    result = np.empty((stations.size, 3))
    place, frame, here = np.zeros(3), np.eye(3), 0.0
    waiting = [*kinks, (np.inf, np.zeros(3), 0.0)]
    number = 0
    for kink, turn, shortening in waiting:
        while number < order.size and stations[order[number]] <= kink:
            result[order[number]] = place + (stations[order[number]] - here) * frame[:, 0]
            number += 1
        if number == order.size:
            break
        place = place + (kink - here - shortening) * frame[:, 0]
        frame, here = frame @ _rotation(turn), kink
    return result


def _rotation(turn: Array) -> Array:
    """Rotation matrix of a rotation vector (Rodrigues)."""
    angle = float(np.linalg.norm(turn))
    if angle == 0.0:
        return np.eye(3)
    a, b, c = turn / angle
    cross = np.array([[0.0, -c, b], [c, 0.0, -a], [-b, a, 0.0]])
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross)


def _kept(values: ArrayLike) -> Array:
    kept = np.array(values, dtype=float)
    kept.setflags(write=False)
    return kept


def _inside(what: str, places: Array, length: float) -> None:
    if not (np.isfinite(places).all() and places.min() >= 0.0 and places.max() <= length):
        raise OutOfRange(
            f"{what} lies at {places.min():g} to {places.max():g} m; the member reaches from 0 to "
            f"{length:g} m."
        )
