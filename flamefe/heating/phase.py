"""Phases of a job: a burn along a timed path, a torch driven by temperature, a rest."""

from dataclasses import dataclass

from flamefe.basics.errors import OutOfRange
from flamefe.heating.deposit import Deposit
from flamefe.heating.path import Track
from flamefe.heating.probe import FaceProbe
from flamefe.heating.trailing import Trailing


@dataclass(frozen=True, kw_only=True, eq=False)
class Burn:
    """Flames that burn together along timed paths.

    Args:
        deposits: flame, path and face of each; the first path's duration counts.
        step: s, length of a time step; a sixth of the flame radius of travel is usual. None for
            a standing flame: steps then follow the rise in temperature.
        name: for messages.
        trailing: water that follows the first flame.
    """

    deposits: tuple[Deposit, ...]
    step: float | None
    name: str
    trailing: Trailing | None = None

    @property
    def duration(self) -> float:
        """How long it burns, s."""
        return self.deposits[0].timed.duration


@dataclass(frozen=True, kw_only=True, eq=False)
class Drive:
    """Flames that are driven by the temperature of the surface under them.

    With "hold" the torch advances at the speed that keeps the hottest place under it at the
    target. With "dwell" it stands until that place reaches the target, then advances by
    ``advance`` at its greatest speed. Before the target is first reached it stands.

    Args:
        deposits: flame and face of each.
        tracks: way of each; all are at the same share of their length.
        probes: what is read; the hottest of them counts.
        target: C.
        allowed: K by which the reading may be off.
        slowest, fastest: m/s, the operator's limits; he may also stand.
        longest_dwell: s, how long he stands at most before he moves on without the target.
        mode: "hold" or "dwell".
        advance: m, between stands.
        step: s, longest time step.
        name: for messages.
        trailing: water that follows the first flame.

    Raises:
        OutOfRange: the limits contradict each other.
    """

    deposits: tuple[Deposit, ...]
    tracks: tuple[Track, ...]
    probes: tuple[FaceProbe, ...]
    target: float
    allowed: float = 5.0
    slowest: float = 0.0
    fastest: float = 0.05
    longest_dwell: float = 120.0
    mode: str = "hold"
    advance: float = 0.0
    step: float = 2.0
    name: str
    trailing: Trailing | None = None

    def __post_init__(self) -> None:
        faults = []
        if self.mode not in ("hold", "dwell"):
            faults.append(f'mode is {self.mode!r}; allowed: "hold", "dwell"')
        if not 0.0 <= self.slowest < self.fastest:
            faults.append(
                f"slowest is {self.slowest:g} and fastest {self.fastest:g} m/s; "
                "needed: 0 <= slowest < fastest"
            )
        if not (self.allowed > 0.0 and self.longest_dwell > 0.0 and self.step > 0.0):
            faults.append("allowed deviation, longest dwell and step must be above 0")
        if self.mode == "dwell" and not self.advance > 0.0:
            faults.append('mode "dwell" needs an advance above 0 m')
        if not len(self.deposits) == len(self.tracks) == len(self.probes) > 0:
            faults.append("every flame needs one track and one probe")
        if faults:
            raise OutOfRange(f"{self.name}: " + "; ".join(faults) + ".")

    @property
    def length(self) -> float:
        """Length of the first track, m."""
        return self.tracks[0].length

    @property
    def size(self) -> float:
        """Smallest flame size, m."""
        return min(deposit.flame.size for deposit in self.deposits)


@dataclass(frozen=True, kw_only=True)
class Rest:
    """Waiting until the hottest place has fallen to a temperature.

    Args:
        until: C.
        cold: afterwards the part is left until it is at ambient temperature throughout.
        name: for messages.
    """

    until: float
    cold: bool
    name: str


Phase = Burn | Drive | Rest
