"""All rules, and the one way to ask them."""

from flamefe.rules.bar_catalogue import BAR_RULES
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.line_catalogue import LINE_RULES
from flamefe.rules.rule import Rule
from flamefe.rules.value import RuleValue
from flamefe.rules.wedge_catalogue import SPOT_RULES, WEDGE_RULES

RULES: tuple[Rule, ...] = (*BAR_RULES, *LINE_RULES, *WEDGE_RULES, *SPOT_RULES)
"""Every rule, in the order in which they are listed."""


def rules_for(inputs: RuleInputs) -> tuple[RuleValue, ...]:
    """Every rule whose needs the inputs hold, with its number beside the simulation's.

    A rule that doesn't hold for these inputs is given all the same, with ``in_range`` False and
    the reasons; so is one whose conditions can't be checked.

    Args:
        inputs: numbers of the part, its material and the heat; see `with_material`.

    Returns:
        One value a rule, in the order of ``RULES``.

    Raises:
        OutOfRange: an input is impossible.

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
    return tuple(rule.evaluate(inputs) for rule in RULES if not rule.missing(inputs))


def applicable(rule: Rule, inputs: RuleInputs) -> tuple[bool, tuple[str, ...]]:
    """Whether a rule holds for the inputs, and why not.

    Args:
        rule: one of ``RULES``.
        inputs: numbers of the part, its material and the heat.

    Returns:
        True and nothing; or False and the reasons: what the rule needs and isn't known, else
        which of its conditions don't hold.

    Examples:
        >>> two_layers = next(rule for rule in RULES if rule.name == "two layers")
        >>> applicable(two_layers, RuleInputs(part="plate", heat_per_length=5e5))
        (False, ('needs thickness, expansion, volumetric heat',))
    """
    missing = rule.missing(inputs)
    if missing:
        return False, (f"needs {', '.join(missing)}",)
    reasons = rule.evaluate(inputs).reasons
    return not reasons, reasons
