"""What a closed-form rule says, how far it holds, and what the simulation says beside it."""

import math
from dataclasses import dataclass

from flamefe.basics.errors import OutOfRange


@dataclass(frozen=True, kw_only=True)
class RuleValue:
    """A rule's number beside the simulated one.

    Args:
        rule: name of the rule (its principle or author).
        quantity: what it gives, the same word as in the distortion measures.
        value: the rule's number, in ``unit``.
        unit: trade unit.
        lower: smallest value to expect, in ``unit``; None when the rule has no lower bound.
        upper: largest value to expect, in ``unit``; None when the rule has no upper bound.
        simulated: the simulation's number, in ``unit``; None when there is none.
        in_range: True when every condition of the rule holds.
        reasons: which conditions don't hold, in words; empty when ``in_range``.
        formula: the formula, in letters.
        source: where the rule comes from, and how sure that is.

    Raises:
        OutOfRange: a value is not finite, bounds are crossed, or the reasons contradict
            ``in_range``.

    Examples:
        >>> one = RuleValue(rule="energy bound", quantity="transverse shrinkage", value=0.20,
        ...     unit="mm", simulated=0.05, in_range=True, formula="S = alpha q / (c h)",
        ...     source="derived")
        >>> one.ratio
        0.25
    """

    rule: str
    quantity: str
    value: float
    unit: str
    lower: float | None = None
    upper: float | None = None
    simulated: float | None = None
    in_range: bool
    reasons: tuple[str, ...] = ()
    formula: str
    source: str

    def __post_init__(self) -> None:
        numbers = (self.value, self.lower, self.upper, self.simulated)
        if not all(number is None or math.isfinite(number) for number in numbers):
            raise OutOfRange(f"Rule {self.rule!r} gives a number that is not finite: {numbers}.")
        if self.lower is not None and self.upper is not None and self.lower > self.upper:
            raise OutOfRange(
                f"Rule {self.rule!r} has its lower bound {self.lower:g} above "
                f"its upper bound {self.upper:g}."
            )
        if self.in_range == bool(self.reasons):
            raise OutOfRange(
                f"Rule {self.rule!r} is {'in' if self.in_range else 'out of'} range with "
                f"{len(self.reasons)} reasons; give reasons exactly when it is out of range."
            )

    @property
    def ratio(self) -> float | None:
        """Simulation by rule; None without a simulated number or with a rule of 0."""
        if self.simulated is None or self.value == 0:
            return None
        return self.simulated / self.value
