"""The clock of a march: how long the next step may be."""

from dataclasses import dataclass, replace


@dataclass(frozen=True, kw_only=True)
class Clock:
    """Proposes steps; a step that changed much makes the next one shorter, and the other way round.

    Args:
        time: s, now.
        step: s, next step.
        longest: s, no step is longer.
        allowed: change a step may bring (any unit).
        growth: a step is at most this much longer than the one before.

    Example:
        >>> clock = Clock(step=1.0, allowed=30.0, longest=100.0)
        >>> clock = clock.after(change=10.0)
        >>> clock.time, clock.step
        (1.0, 1.5)
        >>> clock.after(change=90.0).step
        0.5
    """

    time: float = 0.0
    step: float
    longest: float
    allowed: float
    growth: float = 1.5

    def after(self, *, change: float) -> "Clock":
        """The clock after its step, which brought ``change``."""
        factor = self.allowed / change if change > 0.0 else self.growth
        factor = min(max(factor, 0.2), self.growth)
        step = min(self.step * factor, self.longest)
        return replace(self, time=self.time + self.step, step=step)

    def cut(self) -> "Clock":
        """The clock with half its step, after a try that failed."""
        return replace(self, step=0.5 * self.step)

    def until(self, end: float) -> "Clock":
        """The clock with a step that fits evenly into the time left until ``end``."""
        left = end - self.time
        pieces = max(1, round(left / self.step + 0.499))
        return replace(self, step=left / pieces)
