"""Heats where they stand on a workpiece, what they do together, and where they overlap."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Polygon

from flamefe.basics.errors import OutOfRange
from flamefe.planning.effect import HeatEffect, SheetEffect, share_of
from flamefe.straining.lumps import Lumps

Array = NDArray[np.float64]

LEAST_SIZE = 1e-3
"""Half length that a heat counts with at least where overlaps are sought, m."""
LITTLE = 0.05
"""Overlaps below this share are passed over."""


@dataclass(frozen=True, kw_only=True)
class MemberHeat:
    """A heat on a prismatic member.

    Args:
        name: unique.
        effect: what it does, in the member's axes, on the side where it stands.
        station: m along the member, of its middle.
        side: in words; heats on different sides don't overlap.

    Raises:
        OutOfRange: the station is no number.

    Example:
        >>> effect = HeatEffect(kind="wedge", rotation_y=4e-3, source="a local run")
        >>> MemberHeat(name="w1", effect=effect.on("bottom"), station=3.0, side="bottom").station
        3.0
    """

    name: str
    effect: HeatEffect
    station: float
    side: str = ""

    def __post_init__(self) -> None:
        if not isfinite(self.station):
            raise OutOfRange(f"Heat {self.name!r}: its station is {self.station}; give it in m.")


@dataclass(frozen=True, kw_only=True, eq=False)
class SheetHeat:
    """A heat on a sheet, flat where it is heated or curved so little that the heat counts as flat.

    Args:
        name: unique.
        effect: what it does, in its own frame.
        origin: (3,) m, its middle on the mid-surface of the sheet.
        along: (3,), its direction u, any length but zero.
        normal: (3,), from the mid-surface towards the heated face; w.

    Raises:
        OutOfRange: directions without length, or ``along`` not within the sheet.

    Example:
        >>> from flamefe.planning.effect import spot_effect
        >>> spot = spot_effect(area_change=-6e-6, thickness=0.004, source="a rule")
        >>> heat = SheetHeat(name="s", effect=spot, origin=(0.3, 0.2, 0.0), along=(0, 2, 0),
        ...                  normal=(0, 0, 1))
        >>> heat.axes[1].tolist()                  # v, to the left of u
        [-1.0, 0.0, 0.0]
    """

    name: str
    effect: SheetEffect
    origin: Array
    along: Array
    normal: Array

    def __post_init__(self) -> None:
        for name in ("origin", "along", "normal"):
            value = np.array(getattr(self, name), dtype=float)
            size = float(np.linalg.norm(value))
            if value.shape != (3,) or not isfinite(size) or (name != "origin" and size == 0.0):
                raise OutOfRange(f"Heat {self.name!r}: {name} is {value}; give three numbers.")
            object.__setattr__(self, name, value if name == "origin" else value / size)
        slope = abs(float(self.along @ self.normal))
        if slope > 0.1:
            raise OutOfRange(
                f"Heat {self.name!r}: its direction rises out of the sheet (cosine with the normal "
                f"{slope:.2g}); give one within the sheet."
            )
        flat = self.along - (self.along @ self.normal) * self.normal
        object.__setattr__(self, "along", flat / np.linalg.norm(flat))

    @property
    def axes(self) -> Array:
        """(3, 3), unit vectors u, v, w in rows."""
        return np.array([self.along, np.cross(self.normal, self.along), self.normal]) + 0.0

    def outline(self) -> Array:
        """(4, 3) m, corners of the rectangle that holds nine tenths of the shrinkage."""
        half = np.maximum(self.effect.extent, LEAST_SIZE)
        corners = np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)]) * half
        return np.asarray(self.origin + corners @ self.axes[:2])


def sheet_lumps(heat: SheetHeat, share: float = 1.0, *, thickening: float = 1.0) -> Lumps:
    """Lumps that have the resultants of a heat on a sheet.

    Two lumps a place, h / (2 sqrt 3) above and below the mid-surface, carry its membrane and its
    bending integral. Their strain through the thickness is -(e_uu + e_vv), as of plastic strain,
    which keeps its volume. On a flat sheet it does nothing; on a curved one it takes away the
    bending by an even shrinkage (see `Ring.influence`).

    Args:
        heat: where it stands.
        share: of its effect that is left.
        thickening: strain through the thickness by -(e_uu + e_vv); 1: volume is kept.

    Example:
        >>> from flamefe.planning.effect import line_effect
        >>> line = line_effect(length=0.3, thickness=0.01, transverse_shrinkage=1e-4,
        ...                    angular_change=0.01, source="a rule")
        >>> heat = SheetHeat(name="l", effect=line, origin=(1, 1, 0), along=(1, 0, 0),
        ...                  normal=(0, 0, 1))
        >>> lumps = sheet_lumps(heat)
        >>> round(float(lumps.total[1]), 12), round(float(lumps.moment([0, 0, 1])[1]), 15)
        (-3e-07, -2.5e-10)
    """
    effect, axes = heat.effect, heat.axes
    height = effect.thickness / np.sqrt(12.0)
    middle = heat.origin + effect.places @ axes[:2]
    places, strains = [], []
    for side in (1.0, -1.0):
        own = share * (0.5 * effect.membrane + side * 0.5 / height * effect.bending)
        local = np.zeros((len(own), 3, 3))
        local[:, 0, 0], local[:, 1, 1] = own[:, 0], own[:, 1]
        local[:, 0, 1] = local[:, 1, 0] = 0.5 * own[:, 2]
        local[:, 2, 2] = -thickening * (own[:, 0] + own[:, 1])
        turned = axes.T @ local @ axes
        places.append(middle + side * height * axes[2])
        strains.append(
            np.column_stack(
                (
                    turned[:, 0, 0],
                    turned[:, 1, 1],
                    turned[:, 2, 2],
                    2.0 * turned[:, 0, 1],
                    2.0 * turned[:, 1, 2],
                    2.0 * turned[:, 2, 0],
                )
            )
        )
    return Lumps(places=np.concatenate(places), strains=np.concatenate(strains))


@dataclass(frozen=True, kw_only=True)
class Together:
    """Shares that heats keep when they are given together, in their order.

    Args:
        shares: of each heat's first effect; 1 where it overlaps none before it.
        notes: what overlaps, in words.
    """

    shares: tuple[float, ...]
    notes: tuple[str, ...] = ()


def together(
    heats: Sequence[MemberHeat] | Sequence[SheetHeat], earlier: Sequence[int] = ()
) -> Together:
    """How much of each heat's effect is left where heats overlap or repeat.

    Heats apart from each other add up. One that covers the share s of a place that had n heats
    keeps 1 - s (1 - r_n) of its effect, with r_n its share as a further heat on the same place
    (``repeats``, from repeated local runs or from what is known).

    Args:
        heats: in the order in which they are given.
        earlier: number of heats that the place of each had in cycles before; none: 0.

    Raises:
        OutOfRange: another number of ``earlier`` than of heats.

    Example:
        >>> effect = HeatEffect(kind="wedge", rotation_y=4e-3, extent=0.1, repeats=(1.0, 0.4),
        ...                     source="two local runs")
        >>> row = [MemberHeat(name=f"w{i}", effect=effect, station=x, side="top")
        ...        for i, x in enumerate((1.0, 2.0, 2.05))]
        >>> together(row).shares
        (1.0, 1.0, 0.7)
        >>> print(*together(row).notes)
        w2 overlaps w1 by 50 %: it is taken to give 70 % of a first heat (two local runs).
    """
    if earlier and len(earlier) != len(heats):
        raise OutOfRange(f"{len(earlier)} numbers of earlier heats for {len(heats)} heats.")
    given: list[MemberHeat | SheetHeat] = [*heats]
    shares: list[float] = []
    notes: list[str] = []
    for number, heat in enumerate(given):
        repeats, source = heat.effect.repeats, heat.effect.source
        had = earlier[number] if earlier else 0
        share = share_of(repeats, had)
        if had:
            notes.append(
                f"{heat.name} stands on a place that had {had} heat{'s' if had > 1 else ''}: it is "
                f"taken to give {100 * share:.0f} % of a first heat ({source})."
            )
        met = 0
        for other in given[:number]:
            covered = _covered(heat, other)
            if covered < LITTLE:
                continue
            left = share_of(repeats, had + met + 1) / max(share_of(repeats, had + met), 1e-12)
            share *= 1.0 - covered * (1.0 - min(left, 1.0))
            met += 1
            notes.append(
                f"{heat.name} overlaps {other.name} by {100 * covered:.0f} %: it is taken to give "
                f"{100 * share:.0f} % of a first heat ({source})."
            )
        shares.append(share)
    return Together(shares=tuple(round(share, 12) for share in shares), notes=tuple(notes))


def _covered(heat: MemberHeat | SheetHeat, other: MemberHeat | SheetHeat) -> float:
    """Share of a heat's place that another covers."""
    if isinstance(heat, MemberHeat) and isinstance(other, MemberHeat):
        if heat.side != other.side:
            return 0.0
        own = max(0.5 * heat.effect.extent, LEAST_SIZE)
        theirs = max(0.5 * other.effect.extent, LEAST_SIZE)
        low = max(heat.station - own, other.station - theirs)
        high = min(heat.station + own, other.station + theirs)
        return max(0.0, high - low) / (2.0 * own)
    assert isinstance(heat, SheetHeat)
    assert isinstance(other, SheetHeat)
    away = other.origin - heat.origin
    if abs(float(away @ heat.normal)) > heat.effect.thickness + 0.2 * float(np.linalg.norm(away)):
        return 0.0
    mine, theirs_ = (Polygon(one.outline() @ heat.axes[:2].T) for one in (heat, other))
    return float(mine.intersection(theirs_).area / mine.area)


def seated(
    effect: SheetEffect,
    name: str,
    at: ArrayLike,
    *,
    along: Literal["x", "y"] = "x",
    face: Literal["top", "bottom"] = "top",
    middle: float = 0.0,
) -> SheetHeat:
    """A heat on a flat sheet that lies in x and y.

    Args:
        effect: what it does.
        name: unique.
        at: x and y of its middle, m.
        along: axis along which it runs.
        face: that is heated.
        middle: height z of the mid-plane, m.

    Example:
        >>> from flamefe.planning.effect import spot_effect
        >>> spot = spot_effect(area_change=-6e-6, thickness=0.004, source="a rule")
        >>> seated(spot, "s1", (0.2, 0.1), face="bottom").normal.tolist()
        [0.0, 0.0, -1.0]
    """
    x, y = np.asarray(at, dtype=float)
    return SheetHeat(
        name=name,
        effect=effect,
        origin=np.array([x, y, middle]),
        along=np.array([1.0, 0.0, 0.0]) if along == "x" else np.array([0.0, 1.0, 0.0]),
        normal=np.array([0.0, 0.0, 1.0 if face == "top" else -1.0]),
    )
