"""All rules, and the one way to ask them."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from flamefe.basics.errors import OutOfRange
from flamefe.rules.bar_catalogue import BAR_RULES
from flamefe.rules.frame_catalogue import FRAME_RULES
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.line_catalogue import LINE_RULES
from flamefe.rules.member_catalogue import MEMBER_RULES
from flamefe.rules.rule import Rule
from flamefe.rules.value import RuleValue
from flamefe.rules.wedge_catalogue import SPOT_RULES, WEDGE_RULES

RULES: tuple[Rule, ...] = (
    *BAR_RULES,
    *FRAME_RULES,
    *LINE_RULES,
    *WEDGE_RULES,
    *SPOT_RULES,
    *MEMBER_RULES,
)
"""Every rule, in the order in which they are listed."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """Whether a rule holds for some inputs.

    Args:
        rule: name of the rule.
        quantity: what it gives.
        holds: True when all it needs is known and every condition holds.
        reasons: why it doesn't, in words; empty when it holds.

    Examples:
        >>> print(Verdict(rule="two layers", quantity="angular change", holds=False,
        ...     reasons=("needs thickness",)))
        two layers (angular change): no, needs thickness
    """

    rule: str
    quantity: str
    holds: bool
    reasons: tuple[str, ...] = ()

    def __str__(self) -> str:
        said = "holds" if self.holds else f"no, {'; '.join(self.reasons)}"
        return f"{self.rule} ({self.quantity}): {said}"


def rules_for(inputs: RuleInputs) -> tuple[RuleValue, ...]:
    """Every rule whose needs the inputs hold, with its number beside the simulation's.

    A rule that doesn't hold for these inputs is given all the same, with ``in_range`` False and
    the reasons; so is one whose conditions can't be checked.

    Args:
        inputs: numbers of the part, its material and the heat; see `with_material`.

    Returns:
        One value a rule, in the order of ``RULES``; a rule that the numbers make impossible gives
        none.

    Examples:
        >>> inputs = RuleInputs(part="plate", thickness=0.012, heat_per_length=5e5,
        ...     expansion=12e-6, volumetric_heat=7850 * 600,
        ...     simulated={"angular change at mid length": 0.76})
        >>> for one in rules_for(inputs):
        ...     if one.quantity == "angular change at mid length":
        ...         print(one.rule, round(one.value, 2), one.unit, one.in_range)
        all heat upset at the face 3.04 deg True
        two layers 1.52 deg False
    """
    values = []
    for rule in RULES:
        if rule.missing(inputs):
            continue
        try:
            values.append(rule.evaluate(inputs))
        except OutOfRange:  # `applicable` says why
            continue
    return tuple(values)


def applicable(inputs: RuleInputs) -> tuple[Verdict, ...]:
    """Which rules hold for the inputs, and why the others don't.

    Args:
        inputs: numbers of the part, its material and the heat; see `with_material`.

    Returns:
        One verdict a rule, in the order of ``RULES``: what it needs and isn't known, else which
        of its conditions don't hold.

    Examples:
        >>> found = applicable(RuleInputs(part="plate", thickness=0.012, heat_per_length=5e5,
        ...     expansion=12e-6, volumetric_heat=7850 * 600))
        >>> for one in found:
        ...     if one.rule.startswith(("all heat", "tendon")):
        ...         print(one.rule, "-", "holds" if one.holds else one.reasons[0])
        all heat upset - holds
        all heat upset at the face - holds
        tendon force - needs youngs modulus, width, length
        tendon force - needs a bar, youngs modulus, width, length
        tendon force - needs a bar, youngs modulus, width, length, line offset
    """
    return tuple(verdict_of(rule, inputs) for rule in RULES)


def verdict_of(rule: Rule, inputs: RuleInputs) -> Verdict:
    """Whether one rule holds for the inputs, and why not.

    Args:
        rule: one of ``RULES``.
        inputs: numbers of the part, its material and the heat.

    Examples:
        >>> two_layers = find_rule("two layers")
        >>> verdict_of(two_layers, RuleInputs(part="plate", heat_per_length=5e5)).reasons
        ('needs thickness, expansion, volumetric heat',)
    """
    missing = rule.missing(inputs)
    try:
        reasons = (f"needs {', '.join(missing)}",) if missing else rule.evaluate(inputs).reasons
    except OutOfRange as error:
        reasons = (str(error),)
    return Verdict(rule=rule.name, quantity=rule.quantity, holds=not reasons, reasons=reasons)


def find_rule(name: str, quantity: str | None = None, part: str | None = None) -> Rule:
    """The rule of a name, and of a quantity and part where it gives several.

    Args:
        name: of the rule, see ``RULES``.
        quantity: what it should give; None: whatever it gives.
        part: kind of part it should speak of; None: any.

    Raises:
        OutOfRange: there is no such rule, or there are several.

    Examples:
        >>> find_rule("plane sections", "shortening").unit
        'mm'
        >>> find_rule("plane sections")
        Traceback (most recent call last):
            ...
        flamefe.basics.errors.OutOfRange: Rule 'plane sections' gives several quantities; choose \
one: 'closing rotation', 'shortening'.
    """
    named = [rule for rule in RULES if rule.name == name]
    if not named:
        close = difflib.get_close_matches(name, [rule.name for rule in RULES], n=1)
        guess = f"did you mean {close[0]!r}?" if close else f"there are: {_listed(RULES)}."
        raise OutOfRange(f"There is no rule {name!r}; {guess}")
    found = [
        rule
        for rule in named
        if quantity in (None, rule.quantity, rule.small_quantity) and part in (None, rule.part)
    ]
    if len(found) == 1:
        return found[0]
    several = ", ".join(dict.fromkeys(repr(rule.quantity) for rule in found or named))
    said = "gives several quantities; choose one" if found else f"doesn't give {quantity!r}; it has"
    raise OutOfRange(f"Rule {name!r} {said}: {several}.")


def _listed(rules: Sequence[Rule]) -> str:
    return ", ".join(dict.fromkeys(repr(rule.name) for rule in rules))
