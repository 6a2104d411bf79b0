"""The library of heats: kinds with their uncertainty, and the single heats that could be given."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]
Position = tuple[float, float, float]

REPEAT_SOURCE = (
    "a second heat on the same place gives no useful further gain (CTE Magazine 2015, on line "
    "heats; Mechanics & Industry 20 (2019) 405, on spots)"
)


@dataclass(frozen=True, kw_only=True)
class HeatKind:
    """A kind of heat, whose true effect is its expected one times a factor of this shop.

    change of one heat = factor * day * (1 + scatter of the heat) * repeat * expected change

    Args:
        name: what the kind is called; the factor is learnt by this name.
        uncertain: standard deviation of the factor of this kind before anything was learnt.
        scatter: standard deviation from heat to heat, a share of the effect.
        day: standard deviation of what all heats of a cycle have in common, a share.
        repeats: share of the effect that the first, second, ... heat on a place has; the last
            value holds for all further ones. The default gives a second heat no effect.
        device: holding device that it needs; "": none.
        torch_s: s of burning; wait_s: s until the part is cold enough for the next heat.
        fuel_L, oxygen_L: gas of one heat, litres.
        how: how it is given, for the floor: torch, target temperature, holding; in words.

    Raises:
        OutOfRange: a share that is negative or above what a Gaussian can stand for.

    Example:
        >>> HeatKind(name="wedge", repeats=(1.0, 0.7)).repeat(3)
        0.7
    """

    name: str
    uncertain: float = 0.3
    scatter: float = 0.2
    day: float = 0.1
    repeats: tuple[float, ...] = (1.0, 0.0)
    device: str = ""
    torch_s: float = 0.0
    wait_s: float = 0.0
    fuel_L: float = 0.0
    oxygen_L: float = 0.0
    how: str = ""

    def __post_init__(self) -> None:
        faults = []
        for label in ("uncertain", "scatter", "day"):
            value = getattr(self, label)
            if not 0.0 <= value <= 0.6:
                faults.append(f"{label} is {value:g}; allowed: 0 to 0.6")
        if not self.repeats or any(not 0.0 <= share <= 1.5 for share in self.repeats):
            faults.append(f"repeats are {self.repeats}; allowed: one or more from 0 to 1.5")
        for label in ("torch_s", "wait_s", "fuel_L", "oxygen_L"):
            if not 0.0 <= getattr(self, label) < 1e6:
                faults.append(f"{label} is {getattr(self, label):g}; allowed: 0 to a million")
        if faults:
            raise OutOfRange(f"Heat {self.name!r}: {'; '.join(faults)}.")

    def repeat(self, earlier: int) -> float:
        """Share of the effect of a heat on a place that had ``earlier`` ones."""
        return self.repeats[min(earlier, len(self.repeats) - 1)]


@dataclass(frozen=True, kw_only=True, eq=False)
class Candidate:
    """A heat that could be given.

    Args:
        name: unique.
        kind: name of its kind.
        size: of the heat, in words.
        place: where; heats of one place are never given in the same cycle.
        side: of the part, in words; "": told by the place.
        position: m, where its middle lies; for distances between heats.
        moves: (n,) m, expected change of the deviations by a first heat.

    Raises:
        OutOfRange: moves that are not numbers.

    Example:
        >>> heat = Candidate(name="w1", kind="wedge", size="45 deg", place="2 m top", side="top",
        ...                  position=(2.0, 0.0, 0.3), moves=np.array([-1e-3, -5e-4]))
        >>> heat.place
        '2 m top'
    """

    name: str
    kind: str
    size: str
    place: str
    side: str
    position: Position
    moves: Array

    def __post_init__(self) -> None:
        if self.moves.ndim != 1 or not np.isfinite(self.moves).all():
            raise OutOfRange(f"Heat {self.name!r}: its moves must be one number a place.")
        if len(self.position) != 3 or not np.isfinite(self.position).all():
            raise OutOfRange(f"Heat {self.name!r}: its position must be three lengths in m.")


@dataclass(frozen=True, kw_only=True, eq=False)
class Heat:
    """A heat that was planned or given, with what it is expected to do where it stands.

    Args:
        name, kind, size, place, side, position: as of its candidate.
        moves: (n,) m, expected change at a factor of 1, its repeat counted in.
        repeat: share that was counted in.

    Example:
        >>> heat = Heat(name="w1", kind="wedge", size="45 deg", place="2 m", side="top",
        ...             position=(2.0, 0.0, 0.0), moves=np.array([-1e-3]))
        >>> heat.repeat
        1.0
    """

    name: str
    kind: str
    size: str
    place: str
    side: str
    position: Position
    moves: Array
    repeat: float = 1.0


def heat_from(candidate: Candidate, repeat: float = 1.0) -> Heat:
    """The heat that a candidate becomes when it is given after earlier ones.

    Args:
        candidate: the candidate.
        repeat: share of the effect that is left.

    Example:
        >>> one = Candidate(name="a", kind="spot", size="", place="p", side="",
        ...                 position=(0.0, 0.0, 0.0), moves=np.array([-2e-3]))
        >>> heat_from(one, 0.5).moves.tolist()
        [-0.001]
    """
    return Heat(
        name=candidate.name,
        kind=candidate.kind,
        size=candidate.size,
        place=candidate.place,
        side=candidate.side,
        position=candidate.position,
        moves=repeat * candidate.moves,
        repeat=repeat,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Library:
    """Kinds of heats and the heats that could be given.

    Args:
        kinds: each once.
        candidates: each name once, of these kinds, all with the same number of places.

    Raises:
        OutOfRange: names twice, an unknown kind, or moves of different lengths.

    Example:
        >>> one = Candidate(name="a", kind="spot", size="", place="p", side="",
        ...                 position=(0.0, 0.0, 0.0), moves=np.array([-2e-3]))
        >>> library = Library(kinds=(HeatKind(name="spot"),), candidates=(one,))
        >>> library.kind("spot").scatter
        0.2
    """

    kinds: tuple[HeatKind, ...]
    candidates: tuple[Candidate, ...]

    def __post_init__(self) -> None:
        names = [kind.name for kind in self.kinds]
        if not names or len(set(names)) != len(names):
            raise OutOfRange(f"Kinds of heats must be there and differ in name: {names}.")
        titles = [one.name for one in self.candidates]
        if len(set(titles)) != len(titles):
            twice = sorted({name for name in titles if titles.count(name) > 1})
            raise OutOfRange(f"Heats with the same name: {', '.join(twice[:5])}.")
        unknown = sorted({one.kind for one in self.candidates} - set(names))
        if unknown:
            raise OutOfRange(f"Heats of unknown kinds {unknown}; there are {names}.")
        if len({one.moves.shape for one in self.candidates}) > 1:
            raise OutOfRange("Heats that move different numbers of places.")

    def kind(self, name: str) -> HeatKind:
        """The kind of that name.

        Raises:
            OutOfRange: there is none.
        """
        for kind in self.kinds:
            if kind.name == name:
                return kind
        raise OutOfRange(f"No kind of heat {name!r}; there are {[k.name for k in self.kinds]}.")

    def repeats(self, given: Mapping[str, int]) -> Array:
        """(m,) share of its effect that each candidate has after what was given.

        Args:
            given: number of heats that each place had.
        """
        return np.array(
            [self.kind(one.kind).repeat(given.get(one.place, 0)) for one in self.candidates]
        )


def heats_given(cycles: Sequence[Sequence[Heat]]) -> dict[str, int]:
    """How many heats each place had.

    Args:
        cycles: heats of each cycle so far.

    Example:
        >>> heats_given([])
        {}
    """
    counted: dict[str, int] = {}
    for heats in cycles:
        for heat in heats:
            counted[heat.place] = counted.get(heat.place, 0) + 1
    return counted
