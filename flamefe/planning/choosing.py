"""Which torch, pattern and speed bring a plate to a temperature at a depth."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

from flamefe.basics.errors import OutOfRange
from flamefe.heating.flame import Flame
from flamefe.heating.nozzle import GasUse, Nozzle
from flamefe.heating.passing import Peaks, WidePlate, passing
from flamefe.heating.standing import standing

TRIES = 8
CLOSE_C = 3.0
"""How near the target must be met, K."""
TRUE_PECLET = 0.8
"""Below this v R / (2 D) the quick model overstates what a slow torch reaches (some 7 % at it)."""


@dataclass(frozen=True, kw_only=True)
class Torch:
    """A torch at hand.

    Args:
        name: what it is called.
        flame: what it does to the surface.
        nozzle: what it burns; None: gas is not told.
    """

    name: str
    flame: Flame
    nozzle: Nozzle | None = None


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What is to be reached, and the operator's limits.

    Args:
        target_C: temperature at the depth, C.
        depth: m below the heated face.
        limit_C: temperature that the surface should not exceed, C.
        slowest, fastest: speeds of the hand along the pattern, m/s.
        longest: stand of a spot, s.
        bands: widths of woven bands to try, m.
        lines, spots: whether to try these.

    Raises:
        OutOfRange: limits that contradict each other.
    """

    target_C: float
    depth: float
    limit_C: float
    slowest: float = 0.0005
    fastest: float = 0.03
    longest: float = 120.0
    bands: tuple[float, ...] = (0.04,)
    lines: bool = True
    spots: bool = True

    def __post_init__(self) -> None:
        faults = []
        if not 0.0 < self.slowest < self.fastest:
            faults.append(
                f"speeds from {1e3 * self.slowest:g} to {1e3 * self.fastest:g} mm/s; needed: "
                "0 < slowest < fastest"
            )
        if not 50.0 <= self.target_C <= 1400.0:
            faults.append(f"a target of {self.target_C:g} C; allowed: 50 to 1400")
        if self.target_C > self.limit_C:
            faults.append(
                f"a target of {self.target_C:g} C above the limit of {self.limit_C:g} C for the "
                "surface, which no torch can keep; ask for less, or give a limit that your code "
                "and metal allow"
            )
        if not self.depth >= 0.0:
            faults.append(f"a depth of {1e3 * self.depth:g} mm; needed: 0 or more")
        if any(not width > 0.0 for width in self.bands):
            faults.append("a band without width")
        if faults:
            raise OutOfRange(f"What is to be reached: {'; '.join(faults)}.")

    def within(self, plate: WidePlate) -> "Wish":
        """The same, once it is checked against the plate.

        Raises:
            OutOfRange: the depth is more than the thickness, or than half of it with both faces
                heated.
        """
        most = 0.5 * plate.thickness if plate.both_faces else plate.thickness
        if self.depth > most:
            half = (
                "half the thickness, as both faces are heated"
                if plate.both_faces
                else ("the thickness")
            )
            raise OutOfRange(
                f"A depth of {1e3 * self.depth:g} mm in a plate of {1e3 * plate.thickness:g} mm; "
                f"the depth can be no more than {half}: {1e3 * most:g} mm."
            )
        return self


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One torch with one pattern.

    Args:
        torch: name.
        pattern: "spot", "line", or a band with its width.
        speed: m/s along the pattern; None for a spot.
        time: s of a spot, or for a metre of line or band.
        surface_C, depth_C, back_C: highest temperatures under the middle of the way, C.
        reached: whether the depth reached the target within the operator's limits.
        allowed: whether the surface stayed within the limit.
        overdone: whether the depth gets much hotter than wished even at the fastest.
        heat: J into the part, of a spot or of a metre; None for hot gas.
        gas: for a spot or a metre; None where it is not told.
        uncertain: whether the power rests on a default efficiency.
        words: verdict in words.
        doubt: what to doubt in the quick model; empty: nothing.
    """

    torch: str
    pattern: str
    speed: float | None
    time: float
    surface_C: float
    depth_C: float
    back_C: float
    reached: bool
    allowed: bool
    overdone: bool
    heat: float | None
    gas: GasUse | None
    uncertain: bool
    words: str
    doubt: str = ""

    @property
    def good(self) -> bool:
        """Whether it does what is wished, within all limits."""
        return self.reached and self.allowed and not self.overdone


def choices(torches: Sequence[Torch], plate: WidePlate, wish: Wish) -> tuple[Choice, ...]:
    """Try every torch with every pattern; the good ones first, by time, then the others.

    For a line or band the greatest speed is found at which the depth reaches the target, by
    cross-sections that the flame passes; for a spot the shortest time, by a round plate.

    Args:
        torches: at hand.
        plate: that is heated, wide against the flame.
        wish: what is to be reached.

    Raises:
        OutOfRange: no torch, or a depth below the plate.
        NotConverged: a step failed.

    Example:
        >>> from flamefe.heating.flame import GaussianFlame
        >>> from flamefe.workpiece.standard import material
        >>> plate = WidePlate(material=material("S355"), thickness=0.012)
        >>> torch = Torch(name="medium", flame=GaussianFlame(power=5800.0, radius=0.022))
        >>> (line,) = choices([torch], plate, Wish(target_C=550, depth=0.003, limit_C=850,
        ...                                        bands=(), spots=False))
        >>> line.good, bool(2e-3 < line.speed < 8e-3)
        (True, True)
    """
    if not torches:
        raise OutOfRange("There is no torch to choose from; give one at least.")
    wish.within(plate)
    found = []
    for torch in torches:
        if wish.spots:
            found.append(_spot(torch, plate, wish))
        if wish.lines:
            found.append(_moved(torch, plate, wish, 0.0))
        found += [_moved(torch, plate, wish, width) for width in wish.bands]
    return tuple(sorted(found, key=lambda one: (not one.good, not one.reached, one.time)))


def _spot(torch: Torch, plate: WidePlate, wish: Wish) -> Choice:
    stand = standing(
        torch.flame, plate, longest=wish.longest, until=wish.target_C, depth=wish.depth
    )
    time = stand.reaches(wish.target_C, wish.depth)
    burned = wish.longest if time is None else max(time, 1e-3)
    peaks = Peaks(
        depths=tuple(stand.depths.tolist()),
        peaks=tuple(stand.at(burned, depth) for depth in stand.depths),
        peclet=0.0,
    )
    return _choice(torch, plate, wish, "spot", None, burned, peaks, time is not None)


def _moved(torch: Torch, plate: WidePlate, wish: Wish, weave: float) -> Choice:
    """The greatest speed at which the depth reaches the target."""
    tried: dict[float, Peaks] = {}

    def excess(speed: float) -> float:
        tried[speed] = passing(torch.flame, plate, speed=speed, weave=weave)
        return tried[speed].at(wish.depth) - wish.target_C

    slow, fast = wish.slowest, wish.fastest
    chosen = sqrt(slow * fast)
    over: tuple[float, float] | None = None
    under: tuple[float, float] | None = None
    for _ in range(TRIES):
        value = excess(chosen)
        if abs(value) <= CLOSE_C:
            break
        if value > 0.0:
            over = (chosen, value)
            if chosen >= fast:
                break
        else:
            under = (chosen, value)
            if chosen <= slow:
                break
        chosen = _next(over, under, wish)
    else:
        chosen = over[0] if over is not None else chosen
    peaks = tried.get(chosen) or passing(torch.flame, plate, speed=chosen, weave=weave)
    reached = peaks.at(wish.depth) >= wish.target_C - CLOSE_C
    pattern = "line" if weave == 0.0 else f"band of {1e3 * weave:g} mm"
    return _choice(torch, plate, wish, pattern, chosen, 1.0 / chosen, peaks, reached)


def _next(over: tuple[float, float] | None, under: tuple[float, float] | None, wish: Wish) -> float:
    """Next speed: between one that is too hot and one that is too cold, or further out."""
    if over is None:
        assert under is not None
        return max(0.45 * under[0], wish.slowest)
    if under is None:
        return min(2.2 * over[0], wish.fastest)
    share = min(max(over[1] / (over[1] - under[1]), 0.1), 0.9)
    return exp(log(over[0]) + share * (log(under[0]) - log(over[0])))


def _choice(
    torch: Torch,
    plate: WidePlate,
    wish: Wish,
    pattern: str,
    speed: float | None,
    time: float,
    peaks: Peaks,
    reached: bool,
) -> Choice:
    sides = 2 if plate.both_faces else 1
    surface, deep = peaks.at(0.0), peaks.at(wish.depth)
    allowed = surface <= wish.limit_C
    overdone = reached and speed is not None and deep > wish.target_C + 4.0 * CLOSE_C
    gas = None if torch.nozzle is None else torch.nozzle.gas(sides * time)
    power = torch.flame.power
    doubt = ""
    if speed is not None and peaks.peclet < TRUE_PECLET:
        doubt = (
            "so slow that heat runs ahead of the torch: the quick model overstates what it reaches"
        )
    return Choice(
        torch=torch.name,
        pattern=pattern,
        speed=speed,
        time=time,
        surface_C=surface,
        depth_C=deep,
        back_C=peaks.at(plate.thickness),
        reached=reached,
        allowed=allowed,
        overdone=overdone,
        heat=None if power is None else sides * power * time,
        gas=gas,
        uncertain=torch.nozzle is not None and torch.nozzle.efficiency is None,
        words=_words(wish, speed, deep, surface, (reached, allowed, overdone)),
        doubt=doubt,
    )


def _words(
    wish: Wish,
    speed: float | None,
    deep: float,
    surface: float,
    verdict: tuple[bool, bool, bool],
) -> str:
    reached, allowed, overdone = verdict
    if not reached:
        slow = "at the slowest" if speed is not None else f"after {wish.longest:g} s"
        return f"too weak, {wish.target_C - deep:.0f} K short {slow}"
    if overdone:
        return f"too strong, {deep - wish.target_C:.0f} K over even at the fastest"
    if not allowed:
        return f"surface too hot, {surface - wish.limit_C:.0f} K over its limit"
    return "reaches it"
