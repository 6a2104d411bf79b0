"""A thin ring, hoop or drum: what a shrunk line across its wall does to its roundness."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.planning.effect import HeatEffect, SheetEffect
from flamefe.planning.members import PIECES
from flamefe.planning.seats import MemberHeat

Array = NDArray[np.float64]

THICKEST = 0.2
"""Wall by radius up to which a ring counts as thin."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Ring:
    """A closed thin ring, alike all along, measured by its radii.

    ::

               _ -^- _        a line that shrinks more outside than inside flattens the wall:
             /         \\      the ring goes inwards there and opposite, outwards beside
            |     +     |     deviation > 0: outwards
             \\ _     _ /      angles from X towards Y
                 - -

    Args:
        radius: R of the middle of the wall, m.
        angles: (n,) rad, where it is measured.
        thickness: of the wall, m; only told to check that the ring is thin. None: not checked.

    Raises:
        OutOfRange: a radius that is not above 0, no angle, or a wall too thick for the theory.

    Example:
        >>> ring = Ring(radius=0.5, angles=np.radians([0, 90, 180]))
        >>> line = HeatEffect(kind="line", rotation_y=0.01, source="a local run")
        >>> heat = ring.heat("l1", line, angle=0.0)
        >>> (1e3 * ring.influence([heat]).ravel()).round(3).tolist()     # mm
        [-1.194, 0.454, -0.398]
    """

    radius: float
    angles: Array
    thickness: float | None = None

    def __post_init__(self) -> None:
        kept = np.array(self.angles, dtype=float)
        kept.setflags(write=False)
        object.__setattr__(self, "angles", kept)
        if not self.radius > 0.0 or kept.ndim != 1 or not kept.size or not np.isfinite(kept).all():
            raise OutOfRange(
                f"A ring of radius {self.radius:g} m with {kept.size} angles; needed: a radius "
                "above 0 and one angle at least."
            )
        if self.thickness is not None and not 0.0 < self.thickness <= THICKEST * self.radius:
            raise OutOfRange(
                f"A wall of {1e3 * self.thickness:g} mm at a radius of {1e3 * self.radius:g} mm; "
                f"thin ring theory holds up to {THICKEST:g} of the radius. Take an elastic solve."
            )

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the measuring places."""
        return tuple(f"radius at {np.degrees(angle):.4g} deg" for angle in self.angles)

    def heat(self, name: str, effect: HeatEffect, *, angle: float) -> MemberHeat:
        """A heat on the outside of the wall; for one inside take ``effect.on("bottom")``.

        Args:
            name: unique.
            effect: on a strip of the wall as wide as the ring is long, "top" being outside.
            angle: rad, of its middle.
        """
        return MemberHeat(
            name=name,
            effect=effect,
            station=self.radius * float(np.mod(angle, 2.0 * np.pi)),
            side="wall",
        )

    def even(self, name: str, effect: HeatEffect, *, count: int, first: float) -> list[MemberHeat]:
        """Heats alike and evenly round the ring, which keep their symmetry.

        Args:
            name: of them; they get numbers.
            effect: of each, see ``heat``.
            count: their number.
            first: rad, angle of the first.

        Example:
            >>> ring = Ring(radius=0.5, angles=np.radians([0, 45, 90, 135, 180]))
            >>> spot = HeatEffect(kind="spot", rotation_y=1e-3, shortening=1e-4, source="a run")
            >>> four = ring.even("s", spot, count=4, first=0.0)
            >>> change = 1e6 * ring.influence(four).sum(axis=1)              # um
            >>> change.round(1).tolist()
            [-132.0, -28.4, -132.0, -28.4, -132.0]
        """
        angles = first + 2.0 * np.pi * np.arange(count) / count
        return [
            self.heat(f"{name}{number}", effect, angle=float(angle))
            for number, angle in enumerate(angles, start=1)
        ]

    def influence(self, heats: Sequence[MemberHeat], *, thickening: float = 1.0) -> Array:
        """Change of each radius by each heat, (n, m) m; the ring's place is left out.

        A line turns the wall by phi (outside shortens: flatter) and shortens it by d. Without
        stretch, curvature changes by -(w'' + w) / R^2, and what a closed free ring can hold is an
        elastic curvature of 1, cos t and sin t alone, hence::

            w(t) = ((1 - k) d - R phi) / pi  sum over n >= 2 of cos(n t) / (n^2 - 1)  -  d / (2 pi)

        with t from the heat and k the share of the shrinkage that thickens the wall. Plastic
        strain keeps its volume (k = 1): a slice that is lost all through the wall then leaves the
        ring round. (Under bending a curved wall is pressed through its thickness, by
        M h^2 / (12 I R) on average; the thickening works against that.) The shift of the ring as a
        whole (n = 1) is left out.

        Args:
            heats: candidates; each with its first effect.
            thickening: k; 0 for a slice that is cut out.

        Source: thin rings, S. P. Timoshenko, Strength of Materials, part II, Van Nostrand,
        section on circular rings (from memory); re-derived.
        """
        columns = []
        for heat in heats:
            effect = heat.effect
            number = PIECES if effect.extent > 0.0 else 1
            spread = effect.extent * ((np.arange(number) + 0.5) / number - 0.5)
            away = self.angles[:, None] - (heat.station + spread) / self.radius
            wave = out_of_round(away).mean(axis=1)
            turn = (1.0 - thickening) * effect.shortening - self.radius * effect.rotation_y
            columns.append(turn * wave - effect.shortening / (2.0 * np.pi))
        return np.asarray(np.array(columns).reshape(len(heats), self.angles.size).T)

    def girth(self, heats: Sequence[MemberHeat]) -> float:
        """Loss of the circumference by all heats, m.

        Args:
            heats: given.
        """
        return float(sum(heat.effect.shortening for heat in heats))


def out_of_round(angles: ArrayLike) -> Array:
    """Sum over n >= 2 of cos(n t) / (n^2 - 1), by pi.

    Closed form for 0 <= t <= 2 pi: (1/2 + cos(t) / 4 - (pi - t) sin(t) / 2) / pi.

    Args:
        angles: t, rad, any shape.

    Example:
        >>> t, n = 1.0, np.arange(2, 20000)
        >>> bool(abs(out_of_round(t) - (np.cos(n * t) / (n**2 - 1)).sum() / np.pi) < 1e-8)
        True
    """
    t = np.mod(np.asarray(angles, dtype=float), 2.0 * np.pi)
    return np.asarray((0.5 + 0.25 * np.cos(t) - 0.5 * (np.pi - t) * np.sin(t)) / np.pi)


def strip_effect(effect: SheetEffect, *, width: float, along: bool = False) -> HeatEffect:
    """What a heat on a sheet does to a strip of it, as a member bent out of its plane.

    rotation_y = -12 B / (b h^3), shortening = -N / (b h), with N and B the membrane and bending
    integrals of the strain along the strip. The strip runs across the heat (v), as the wall of a
    ring runs across a line along the drum.

    Args:
        effect: of the heat.
        width: b of the strip, m: as long as the whole drum for a line all along it.
        along: whether the strip runs along the heat (u) instead.

    Raises:
        OutOfRange: a width that is not above 0.

    Range: the strip bends as a whole; a heat shorter than the drum bends it less far from the
    heat, for which an elastic solve is needed.

    Example:
        >>> from flamefe.planning.effect import line_effect
        >>> line = line_effect(length=0.3, thickness=0.01, transverse_shrinkage=1e-4,
        ...                    angular_change=0.01, source="a rule")
        >>> strip = strip_effect(line, width=0.3)
        >>> round(strip.rotation_y, 9), round(strip.shortening, 9)
        (0.01, 0.0001)
    """
    if not width > 0.0:
        raise OutOfRange(f"A strip of {width:g} m; its width must be above 0.")
    column = 0 if along else 1
    thickness = effect.thickness
    membrane = float(effect.membrane[:, column].sum())
    bending = float(effect.bending[:, column].sum())
    half = effect.extent[column]
    return HeatEffect(
        kind=effect.kind,
        rotation_y=-12.0 * bending / (width * thickness**3),
        shortening=-membrane / (width * thickness),
        extent=2.0 * half,
        uncertain=effect.uncertain,
        scatter=effect.scatter,
        repeats=effect.repeats,
        source=effect.source,
        notes=effect.notes,
    )
