"""A rule: what it needs, what it gives, when it holds."""

import warnings
from collections.abc import Callable
from dataclasses import dataclass

from flamefe.basics.errors import ExtrapolationWarning, OutOfRange
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.value import RuleValue

Condition = Callable[[RuleInputs], str | None]
"""Gives the reason why a rule doesn't hold, in words, or None when it holds."""


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A rule's number with its bounds, all in the rule's unit; None where there is no bound."""

    value: float
    lower: float | None = None
    upper: float | None = None


@dataclass(frozen=True, kw_only=True)
class Rule:
    """A closed-form rule.

    Args:
        name: principle or author.
        quantity: what it gives, by the name of the distortion measure.
        small_quantity: the measure beside which to put it when the simulation took small strain;
            None: the same.
        unit: trade unit of the value.
        part: kind of part it speaks of; None: any.
        needs: names of the `RuleInputs` without which it gives nothing.
        estimate: its number from the inputs.
        conditions: what must hold for the number to be meant.
        formula: in letters.
        source: where it comes from and how sure that is.
    """

    name: str
    quantity: str
    small_quantity: str | None = None
    unit: str
    part: str | None = None
    needs: tuple[str, ...]
    estimate: Callable[[RuleInputs], Estimate]
    conditions: tuple[Condition, ...] = ()
    formula: str
    source: str

    def missing(self, inputs: RuleInputs) -> tuple[str, ...]:
        """What the rule needs and the inputs don't hold, in words."""
        lacking = [need for need in self.needs if getattr(inputs, need) is None]
        if self.part is not None and inputs.part != self.part:
            lacking.insert(0, f"a {self.part}")
        return tuple(name.replace("_", " ") for name in lacking)

    def evaluate(self, inputs: RuleInputs) -> RuleValue:
        """The rule's number for ``inputs``, which must hold all it needs.

        Raises:
            OutOfRange: the numbers are impossible for this rule.
        """
        reasons = tuple(
            reason for check in self.conditions if (reason := check(inputs)) is not None
        )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ExtrapolationWarning)  # the reasons say it
            try:
                found = self.estimate(inputs)
            except (ZeroDivisionError, OverflowError):
                raise OutOfRange(
                    f"The numbers given to {self.name!r} are too small or too large for it."
                ) from None
        small = self.small_quantity is not None and inputs.geometry == "small"
        quantity = self.small_quantity if small and self.small_quantity else self.quantity
        return RuleValue(
            rule=self.name,
            quantity=quantity,
            value=found.value,
            unit=self.unit,
            lower=found.lower,
            upper=found.upper,
            simulated=inputs.simulated.get(quantity),
            in_range=not reasons,
            reasons=reasons,
            formula=self.formula,
            source=self.source,
        )


def known(inputs: RuleInputs, name: str) -> float:
    """A number that the rule's ``needs`` name, as a float.

    Raises:
        KeyError: the input isn't known (the rule's ``needs`` are wrong).

    Examples:
        >>> known(RuleInputs(thickness=0.012), "thickness")
        0.012
    """
    number = getattr(inputs, name)
    if number is None:
        raise KeyError(name)
    return float(number)
