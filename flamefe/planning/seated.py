"""From heats where they stand on a workpiece to the heats that a plan chooses from."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.planning.candidate import Candidate, HeatKind, Position
from flamefe.planning.effect import HeatEffect, SheetEffect
from flamefe.planning.seats import MemberHeat

Array = NDArray[np.float64]


class Workpiece(Protocol):
    """Anything that tells how heats change what is measured."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the measuring places."""

    def influence(self, heats: Sequence[Any]) -> Array:
        """(n, m) m, change of each deviation by each heat."""


@dataclass(frozen=True, kw_only=True)
class Seat:
    """A heat of a member with what a plan wants to know besides.

    Args:
        heat: where it stands, with its effect.
        size: in words.
        position: m, of its middle, for distances between heats.
        where: name of the place; "": side and station.
    """

    heat: MemberHeat
    size: str
    position: Position
    where: str = ""

    @property
    def place(self) -> str:
        """Name of the place; heats of one place are never given in the same cycle."""
        return self.where or f"{self.heat.side} {1e3 * self.heat.station:.0f} mm".strip()


def candidates_on(piece: Workpiece, seats: Sequence[Seat]) -> list[Candidate]:
    """Candidates for a plan, with what each moves on a workpiece.

    Args:
        piece: the workpiece.
        seats: heats with their places; the kinds are those of their effects.

    Raises:
        OutOfRange: a heat off the workpiece.

    Example:
        >>> from flamefe.planning.members import Girder
        >>> girder = Girder(length=12.0, stations=[6.0], measured=("camber",))
        >>> wedge = HeatEffect(kind="wedge", rotation_y=2e-3, source="a local run")
        >>> heat = MemberHeat(name="w", effect=wedge, station=6.0, side="top")
        >>> (one,) = candidates_on(girder, [Seat(heat=heat, size="45 deg", position=(6, 0, 0))])
        >>> one.place, one.moves.round(6).tolist()
        ('top 6000 mm', [-0.006])
    """
    moves = piece.influence([seat.heat for seat in seats])
    return [
        Candidate(
            name=seat.heat.name,
            kind=seat.heat.effect.kind,
            size=seat.size,
            place=seat.place,
            side=seat.heat.side,
            position=seat.position,
            moves=np.array(column),
        )
        for seat, column in zip(seats, moves.T, strict=True)
    ]


def kind_of(
    effects: Sequence[HeatEffect | SheetEffect],
    day: float = 0.1,
    device: str = "",
    torch_s: float = 0.0,
    wait_s: float = 0.0,
) -> HeatKind:
    """The kind of some effects, with their uncertainty and what a repeat gives.

    Args:
        effects: of one kind, such as its sizes.
        day, device, torch_s, wait_s: as of a ``HeatKind``.

    Raises:
        OutOfRange: no effect, or effects of several kinds.

    Example:
        >>> kind_of([HeatEffect(kind="wedge", rotation_y=2e-3, source="a local run")]).repeats
        (1.0, 0.0)
    """
    names = {effect.kind for effect in effects}
    if len(names) != 1:
        raise OutOfRange(f"Effects of the kinds {sorted(names)}; give those of one kind.")
    first = effects[0]
    return HeatKind(
        name=first.kind,
        uncertain=max(effect.uncertain for effect in effects),
        scatter=max(effect.scatter for effect in effects),
        day=day,
        repeats=first.repeats,
        device=device,
        torch_s=torch_s,
        wait_s=wait_s,
    )
