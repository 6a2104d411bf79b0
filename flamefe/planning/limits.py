"""What the trade allows in a cycle, and which heats exclude each other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.planning.candidate import Candidate, Library

Array = NDArray[np.float64]
Sequence_ = Literal["outside to middle", "middle to outside", "symmetric", "largest first"]
SEQUENCES: tuple[Sequence_, ...] = (
    "outside to middle", "middle to outside", "symmetric", "largest first",
)  # fmt: skip
SPENT = "was heated"
"""How reasons begin that come from earlier heats."""


@dataclass(frozen=True, kw_only=True)
class Box:
    """A region that must not be heated, by the positions of heats.

    Args:
        lowest, highest: m, corners; infinite where it has no end.
        reason: why.

    Example:
        >>> Box(lowest=(1.0, -9.0, -9.0), highest=(2.0, 9.0, 9.0)).holds((1.5, 0, 0))
        True
    """

    lowest: tuple[float, float, float]
    highest: tuple[float, float, float]
    reason: str = "forbidden"

    def holds(self, position: Sequence[float]) -> bool:
        """Whether a position lies inside.

        Args:
            position: m.
        """
        inside = zip(self.lowest, position, self.highest, strict=True)
        return all(low <= value <= high for low, value, high in inside)


@dataclass(frozen=True, kw_only=True)
class CycleRules:
    """Rules that a plan keeps.

    Args:
        most_heats: in one cycle.
        spacing: m, least distance between the middles of two heats of a cycle.
        most_at_a_place: heats over the whole job that the metal of a place may get.
        most_in_job: heats over the whole job; None: no limit.
        forbidden: regions that must not be heated.
        forbidden_places: names of places that must not be heated.
        devices: holding devices at hand, with how many heats each kind serves in a cycle.
        sequence: order of the heats on the floor.
        long_side_only: only heats that work against the measured deviation, sum over places of
            move * deviation / tolerance^2 < 0: the side that is too long is heated.
        wait_C: temperature that the part has to fall to before the next heat.
        overcorrection: largest probability that any place ends beyond the tolerance on the side
            opposite to where it was.
        confidence: probability of being within tolerance at which a part counts as done.
        worth: a heat must bring the expected excess down by this share of half the tolerance.

    Raises:
        OutOfRange: a value outside what is allowed.

    Example:
        >>> CycleRules(most_heats=6).overcorrection
        0.01
    """

    most_heats: int = 8
    spacing: float = 0.0
    most_at_a_place: int = 2
    most_in_job: int | None = None
    forbidden: tuple[Box, ...] = ()
    forbidden_places: tuple[str, ...] = ()
    devices: Mapping[str, int] = field(default_factory=dict)
    sequence: Sequence_ = "outside to middle"
    long_side_only: bool = True
    wait_C: float = 60.0
    overcorrection: float = 0.01
    confidence: float = 0.9
    worth: float = 0.01

    def __post_init__(self) -> None:
        faults = []
        if not 1 <= self.most_heats <= 1000:
            faults.append(f"most_heats is {self.most_heats}; allowed: 1 to 1000")
        if not 0.0 <= self.spacing < 1e3:
            faults.append(f"a spacing of {self.spacing:g} m; allowed: 0 or more")
        if not 1 <= self.most_at_a_place <= 100:
            faults.append(f"most_at_a_place is {self.most_at_a_place}; allowed: 1 to 100")
        if self.most_in_job is not None and self.most_in_job < 0:
            faults.append(f"most_in_job is {self.most_in_job}; allowed: 0 or more")
        if self.sequence not in SEQUENCES:
            faults.append(f"sequence {self.sequence!r}; there are {', '.join(SEQUENCES)}")
        if not 1e-5 <= self.overcorrection <= 0.3:
            faults.append(f"overcorrection is {self.overcorrection:g}; allowed: 0.00001 to 0.3")
        if not 0.5 <= self.confidence <= 0.999:
            faults.append(f"confidence is {self.confidence:g}; allowed: 0.5 to 0.999")
        if not 0.0 < self.worth <= 1.0:
            faults.append(f"worth is {self.worth:g}; allowed: above 0 to 1")
        if not -50.0 <= self.wait_C <= 400.0:
            faults.append(f"wait_C is {self.wait_C:g}; allowed: -50 to 400 C")
        if any(count < 0 for count in self.devices.values()):
            faults.append("a device serves fewer than 0 heats")
        if faults:
            raise OutOfRange(f"Rules of a cycle: {'; '.join(faults)}.")


@dataclass(frozen=True, kw_only=True, eq=False)
class Allowed:
    """Which candidates may be chosen, and together with which.

    Args:
        reasons: (m,) why a candidate may not be chosen; "": it may.
        spent: (m,) whether that is because of earlier heats on its place.
        excludes: (m, m) whether two may not be in the same cycle.
        devices: (m,) name of the device that a candidate needs; "": none.
        served: heats that each device serves in a cycle.
        most: heats of the cycle.
    """

    reasons: tuple[str, ...]
    spent: NDArray[np.bool_]
    excludes: NDArray[np.bool_]
    devices: tuple[str, ...]
    served: Mapping[str, int]
    most: int

    @property
    def open(self) -> NDArray[np.bool_]:
        """(m,) whether a candidate may be chosen."""
        return np.array([reason == "" for reason in self.reasons], dtype=bool)


def allowed_in(
    library: Library, rules: CycleRules, given: Mapping[str, int], deviation: Array, half: Array
) -> Allowed:
    """What the rules allow of a library.

    Args:
        library: heats that could be given.
        rules: of the cycle.
        given: number of heats that each place had.
        deviation: (n,) m, expected, from the middle of the tolerance.
        half: (n,) m, half the width of the tolerance.

    Example:
        >>> from flamefe.planning.candidate import HeatKind
        >>> heats = tuple(Candidate(name=f"w{x}", kind="wedge", size="", place=f"{x} m", side="",
        ...     position=(float(x), 0.0, 0.0), moves=np.array([-1e-3])) for x in range(3))
        >>> library = Library(kinds=(HeatKind(name="wedge"),), candidates=heats)
        >>> rules = CycleRules(spacing=1.5, forbidden_places=("2 m",))
        >>> found = allowed_in(library, rules, {}, np.array([0.01]), np.array([0.003]))
        >>> found.reasons[2], found.excludes.astype(int).tolist()
        ('must not be heated', [[1, 1, 0], [1, 1, 1], [0, 1, 1]])
    """
    heats = library.candidates
    weighed = deviation / half**2
    repeats = library.repeats(given)
    reasons = tuple(
        _reason(library, rules, given, one, float(one.moves @ weighed), float(share))
        for one, share in zip(heats, repeats, strict=True)
    )
    total = sum(given.values())
    left = len(heats) if rules.most_in_job is None else max(0, rules.most_in_job - total)
    positions = np.array([one.position for one in heats]).reshape(-1, 3)
    apart = np.linalg.norm(positions[:, None, :] - positions[None, :, :], axis=2)
    places = {name: index for index, name in enumerate(dict.fromkeys(h.place for h in heats))}
    place = np.array([places[one.place] for one in heats], dtype=int)
    excludes = (apart < rules.spacing * (1.0 - 1e-9)) | (place[:, None] == place[None, :])
    return Allowed(
        reasons=reasons,
        spent=np.array([reason.startswith(SPENT) for reason in reasons], dtype=bool),
        excludes=excludes,
        devices=tuple(library.kind(one.kind).device for one in heats),
        served=dict(rules.devices),
        most=min(rules.most_heats, left),
    )


def _reason(
    library: Library,
    rules: CycleRules,
    given: Mapping[str, int],
    one: Candidate,
    against: float,
    share: float,
) -> str:
    """Why a candidate may not be chosen, in a few words; "": it may."""
    if one.place in rules.forbidden_places:
        return "must not be heated"
    for box in rules.forbidden:
        if box.holds(one.position):
            return f"must not be heated ({box.reason})"
    if given.get(one.place, 0) >= rules.most_at_a_place:
        return f"{SPENT} {rules.most_at_a_place} times already, which is the most"
    device = library.kind(one.kind).device
    if device and rules.devices.get(device, 0) < 1:
        return f"needs a {device}, which is not at hand"
    if share <= 0.0:
        return f"{SPENT} already, and a further heat there moves nothing"
    if rules.long_side_only and against >= 0.0:
        return "lies on the side that is too short"
    return ""
