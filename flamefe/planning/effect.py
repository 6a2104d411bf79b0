"""What one heat leaves behind, in the few numbers that a whole workpiece sees of it.

A prismatic member sees a turn of its axis, a loss of length and a twist: `HeatEffect`. A sheet
sees the integrals of the shrinkage over the heated volume, without and with the height above the
mid-plane: `SheetEffect`. Both come from a local run (`member_effect`, `sheet_effect`) or from a
rule, and both carry how sure they are and how much a second heat on the same place still gives.
"""

from dataclasses import dataclass, replace
from math import cos, hypot, isfinite, sin

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]

UNCERTAIN = 0.3
"""Share by which a kind of heat may be off as a whole: a net power known to 30 % (from memory of
usual efficiencies of flames) passes to the effect about in proportion."""
SCATTER = 0.2
"""Standard deviation from heat to heat as a share (single heats scatter by some tens of per cent:
FHWA Guide for Heat-Straightening of Damaged Steel Bridge Members, ch. 5; the number is an
assumption)."""
REPEATS = (1.0, 0.0)
"""Share of the first, second and further heat on one place. The default gives a second heat
nothing: a full heat along the same line brings no useful further gain (CTE Magazine 2015); spots on
a pipe that are heated again add nothing (Mechanics & Industry 20 (2019) 405)."""


@dataclass(frozen=True, kw_only=True)
class HeatEffect:
    """What one heat does to a prismatic member; x along it, y to the side, z up.

    ::

        z ^   top (+z) shortens        rotation_y > 0: the parts on both sides of the heat close
          |    ______\\/______         towards the top; seen with y into the paper the middle
          |   /      /\\      \\        sinks: camber < 0
          +--> x

    Args:
        kind: what this kind of heat is called; shops learn by it.
        rotation_y: rad, turn of the end against the start; positive when the top side (+z)
            shortens.
        rotation_z: rad; positive when the side of large y shortens.
        shortening: m, at the centroid; positive = shorter.
        twist: rad, turn of the end's section against the start's about +x, right-handed.
        extent: m along the member over which the shrinkage spreads evenly; 0: a kink.
        uncertain: standard deviation of the effect of the whole kind, a share of it.
        scatter: standard deviation from heat to heat, a share.
        repeats: share that the first, second, ... heat on one place gives; the last value holds
            for all further ones.
        source: where the numbers come from.
        notes: what to doubt.

    Raises:
        OutOfRange: a number is not finite, a share is impossible, or a text is empty.

    Example:
        >>> wedge = HeatEffect(kind="wedge 45", rotation_y=4e-3, shortening=1e-4,
        ...                    repeats=(1.0, 0.6), source="a local run")
        >>> wedge.on("bottom").rotation_y, wedge.repeated(1).rotation_y
        (-0.004, 0.0024)
    """

    kind: str
    rotation_y: float = 0.0
    rotation_z: float = 0.0
    shortening: float = 0.0
    twist: float = 0.0
    extent: float = 0.0
    uncertain: float = UNCERTAIN
    scatter: float = SCATTER
    repeats: tuple[float, ...] = REPEATS
    source: str
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        faults = _common_faults(self.kind, self.source, self.uncertain, self.scatter, self.repeats)
        for name in ("rotation_y", "rotation_z", "shortening", "twist"):
            if not isfinite(getattr(self, name)):
                faults.append(f"{name} is {getattr(self, name)}; it must be a number")
        for name in ("rotation_y", "rotation_z", "twist"):
            if abs(getattr(self, name)) > 0.5:
                faults.append(f"{name} is {getattr(self, name):g} rad; one heat turns by mrad")
        if not (isfinite(self.extent) and self.extent >= 0.0):
            faults.append(f"extent is {self.extent:g} m; it must be 0 or more")
        if faults:
            raise OutOfRange(f"Effect of heat {self.kind!r}: {'; '.join(faults)}.")

    @property
    def deviation(self) -> float:
        """Standard deviation of one heat's effect as a share: sqrt(uncertain^2 + scatter^2)."""
        return hypot(self.uncertain, self.scatter)

    def on(self, side: str) -> "HeatEffect":
        """The same heat on another side of a section that is alike on both.

        Args:
            side: "top" (as it is), "bottom" (upside down) or "mirrored" (left for right).

        Raises:
            OutOfRange: another word.
        """
        if side == "top":
            return self
        if side == "bottom":
            return replace(self, rotation_y=-self.rotation_y, twist=-self.twist)
        if side == "mirrored":
            return replace(self, rotation_z=-self.rotation_z, twist=-self.twist)
        raise OutOfRange(f'A side called {side!r}; there are "top", "bottom" and "mirrored".')

    def turned(self, angle: float) -> "HeatEffect":
        """The same heat on a round or square member turned about +x, from the top towards -y.

        Right-handed about +x, the direction "top" (+z) goes to -y after a quarter turn.

        Args:
            angle: rad.

        Example:
            >>> heat = HeatEffect(kind="oval", rotation_y=2e-3, source="a local run")
            >>> side = heat.turned(np.pi / 2)
            >>> round(side.rotation_y, 12), round(side.rotation_z, 12)
            (0.0, -0.002)
        """
        c, s = cos(angle), sin(angle)
        up, side = self.rotation_y, self.rotation_z
        return replace(self, rotation_y=c * up + s * side, rotation_z=c * side - s * up)

    def repeated(self, earlier: int) -> "HeatEffect":
        """The effect on a place that had ``earlier`` heats before; what it is expected to give.

        Args:
            earlier: number of heats, 0 or more.
        """
        return self.scaled(share_of(self.repeats, earlier))

    def scaled(self, factor: float) -> "HeatEffect":
        """The effect times a factor, for instance one that a shop has learnt.

        Args:
            factor: any number.
        """
        return replace(
            self,
            rotation_y=factor * self.rotation_y,
            rotation_z=factor * self.rotation_z,
            shortening=factor * self.shortening,
            twist=factor * self.twist,
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class SheetEffect:
    """What one heat does to a sheet: integrals of its shrinkage, place by place.

    In the heat's own frame: u along it, v to its left as seen from the heated face, w from the
    mid-plane towards the heated face; the origin in its middle. At each place p::

        membrane_p = integral of (e_uu, e_vv, g_uv) dV          m3
        bending_p  = integral of (e_uu, e_vv, g_uv) w dV        m4

    Contraction is negative; g_uv is the doubled shear. These are all that a thin elastic sheet
    sees of the heat: by reciprocity the movement anywhere is the sum of
    (virtual membrane force . membrane + virtual moment . bending) over the places.

    Args:
        kind: what this kind of heat is called.
        places: (k, 2) m, u and v.
        membrane: (k, 3) m3.
        bending: (k, 3) m4.
        thickness: m, of the sheet it was found for.
        uncertain, scatter, repeats, source, notes: as of a `HeatEffect`.

    Raises:
        OutOfRange: shapes don't fit, a number is not finite, or a share is impossible.

    Example:
        >>> spot = SheetEffect(kind="spot", places=[[0, 0]], membrane=[[-3e-8, -3e-8, 0]],
        ...                    bending=[[0, 0, 0]], thickness=0.004, source="a local run")
        >>> round(1e6 * spot.area_change, 3)          # mm2
        -15.0
    """

    kind: str
    places: Array
    membrane: Array
    bending: Array
    thickness: float
    uncertain: float = UNCERTAIN
    scatter: float = SCATTER
    repeats: tuple[float, ...] = REPEATS
    source: str
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        faults = _common_faults(self.kind, self.source, self.uncertain, self.scatter, self.repeats)
        for name in ("places", "membrane", "bending"):
            object.__setattr__(self, name, _kept(getattr(self, name)))
        count = len(self.places)
        for name, columns in (("places", 2), ("membrane", 3), ("bending", 3)):
            value = getattr(self, name)
            if value.shape != (count, columns) or count == 0:
                faults.append(f"{name} has the shape {value.shape}; needed: (k, {columns}), k >= 1")
            elif not np.isfinite(value).all():
                faults.append(f"{name} holds values that are no numbers")
        if not (isfinite(self.thickness) and self.thickness > 0.0):
            faults.append(f"thickness is {self.thickness:g} m; it must be above 0")
        if faults:
            raise OutOfRange(f"Effect of heat {self.kind!r}: {'; '.join(faults)}.")

    @property
    def area_change(self) -> float:
        """Change of the area of a free sheet, m2: sum of (e_uu + e_vv) over the volume / h."""
        return float(self.membrane[:, :2].sum()) / self.thickness

    @property
    def extent(self) -> tuple[float, float]:
        """Half lengths along u and v that hold nine tenths of the shrinkage, m."""
        size = np.abs(self.membrane).sum(axis=1) + np.abs(self.bending).sum(axis=1) / self.thickness
        total = float(size.sum())
        if total == 0.0:
            return (0.0, 0.0)
        found = []
        for column in range(2):
            away = np.abs(self.places[:, column])
            order = np.argsort(away)
            reached = np.searchsorted(np.cumsum(size[order]), 0.9 * total)
            found.append(float(away[order][min(int(reached), len(away) - 1)]))
        return (found[0], found[1])

    @property
    def deviation(self) -> float:
        """Standard deviation of one heat's effect as a share: sqrt(uncertain^2 + scatter^2)."""
        return hypot(self.uncertain, self.scatter)

    def repeated(self, earlier: int) -> "SheetEffect":
        """The effect on a place that had ``earlier`` heats before.

        Args:
            earlier: number of heats, 0 or more.
        """
        return self.scaled(share_of(self.repeats, earlier))

    def scaled(self, factor: float) -> "SheetEffect":
        """The effect times a factor.

        Args:
            factor: any number.
        """
        return replace(self, membrane=factor * self.membrane, bending=factor * self.bending)


def share_of(repeats: tuple[float, ...], earlier: int) -> float:
    """Share of its first effect that a heat has on a place that had ``earlier`` ones.

    Args:
        repeats: shares of the first, second, ... heat; the last holds for all further ones.
        earlier: number of heats that the place had, 0 or more.

    Raises:
        OutOfRange: a number below 0.

    Example:
        >>> share_of((1.0, 0.6, 0.4), 5)
        0.4
    """
    if earlier < 0:
        raise OutOfRange(f"A place that had {earlier} heats; needed: 0 or more.")
    return repeats[min(earlier, len(repeats) - 1)]


def line_effect(
    *,
    length: float,
    thickness: float,
    transverse_shrinkage: float,
    angular_change: float,
    shrunk_area: float = 0.0,
    places: int = 25,
    kind: str = "line",
    source: str,
) -> SheetEffect:
    """A line heat from the numbers of rules: even along its length.

    membrane_vv = - S h L, bending_vv = - theta h^3 L / 12, membrane_uu = - a L, each shared out
    evenly over ``places`` pieces of the length.

    Args:
        length: L, m.
        thickness: h, m.
        transverse_shrinkage: S, m, of the mid-plane, positive = narrower.
        angular_change: theta, rad, positive = edges rise towards the torch.
        shrunk_area: a, m2, integral of the shrinkage along the line over the cross-section (the
            tendon force by E).
        places: number of pieces.
        kind, source: as of a `SheetEffect`.

    Raises:
        OutOfRange: a length or thickness that is not above 0, no piece.

    Source: plane sections; shrinkage S and turn theta of a strip as of a beam of height h.

    Example:
        >>> line = line_effect(length=0.3, thickness=0.01, transverse_shrinkage=1e-4,
        ...                    angular_change=0.01, source="a rule")
        >>> round(float(line.membrane[:, 1].sum()), 12)
        -3e-07
    """
    if not (length > 0.0 and thickness > 0.0 and places >= 1):
        raise OutOfRange(
            f"A line of {length:g} m in a sheet of {thickness:g} m and {places} pieces; needed: "
            "all above 0."
        )
    u = length * ((np.arange(places) + 0.5) / places - 0.5)
    piece = length / places
    zero = np.zeros(places)
    across = np.full(places, -transverse_shrinkage * thickness * piece)
    turning = np.full(places, -angular_change * thickness**3 / 12.0 * piece)
    along = np.full(places, -shrunk_area * piece)
    return SheetEffect(
        kind=kind,
        places=np.column_stack((u, zero)),
        membrane=np.column_stack((along, across, zero)),
        bending=np.column_stack((zero, turning, zero)),
        thickness=thickness,
        source=source,
    )


def spot_effect(
    *,
    area_change: float,
    thickness: float,
    height: float = 0.0,
    kind: str = "spot",
    source: str,
) -> SheetEffect:
    """A spot heat from the area that it takes off a sheet: alike in both directions.

    e_uu = e_vv: membrane = dA h / 2 in each, bending = that times the height of its centroid.

    Args:
        area_change: dA, m2, negative = smaller.
        thickness: h, m.
        height: of the centroid of the shrinkage above the mid-plane, towards the heated face, m.
        kind, source: as of a `SheetEffect`.

    Raises:
        OutOfRange: a thickness that is not above 0, or a height outside it.

    Example:
        >>> spot = spot_effect(area_change=-6.6e-6, thickness=0.004, source="a rule")
        >>> round(1e6 * spot.area_change, 6)
        -6.6
    """
    if not (thickness > 0.0 and abs(height) <= 0.5 * thickness):
        raise OutOfRange(
            f"A spot at {height:g} m above the middle of {thickness:g} m; it must lie inside."
        )
    each = 0.5 * area_change * thickness
    return SheetEffect(
        kind=kind,
        places=np.zeros((1, 2)),
        membrane=np.array([[each, each, 0.0]]),
        bending=height * np.array([[each, each, 0.0]]),
        thickness=thickness,
        source=source,
    )


def _kept(values: ArrayLike) -> Array:
    kept = np.array(values, dtype=float)
    kept.setflags(write=False)
    return kept


def _common_faults(
    kind: str, source: str, uncertain: float, scatter: float, repeats: tuple[float, ...]
) -> list[str]:
    faults = [
        f"its {name} is empty; say it in words"
        for name, text in (("kind", kind), ("source", source))
        if not text.strip()
    ]
    faults += [
        f"{name} is {value:g}; allowed: 0 to 0.6"
        for name, value in (("uncertain", uncertain), ("scatter", scatter))
        if not 0.0 <= value <= 0.6
    ]
    if not repeats or any(not 0.0 <= share <= 1.5 for share in repeats):
        faults.append(f"repeats are {repeats}; allowed: one or more from 0 to 1.5")
    return faults
