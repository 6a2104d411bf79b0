"""Sentences of a verdict from plain numbers: melted, converged, doubts, rules out of range."""

from collections.abc import Sequence

from flamefe.rules.value import RuleValue
from flamefe.workpiece.practice import practice_for


def melted_words(peak_C: float, family: str) -> str | None:
    """That the metal melted; None where it did not, or nothing is known of its kind.

    Example:
        >>> melted_words(600.0, "carbon steel") is None
        True
        >>> melted_words(1600.0, "carbon steel")[:58]
        'MELTED: at 1600 C carbon steel is molten (from about 1450 '
    """
    melts = practice_for(family).melts_C
    if melts is None or peak_C < melts:
        return None
    return (
        f"MELTED: at {peak_C:.0f} C {family} is molten (from about "
        f"{melts:g} C on, from memory). The part is spoilt; shape and stress below mean "
        "nothing."
    )


def converged_words(worst: float, allowed: float) -> str:
    """Whether the forces balance as closely as was asked for.

    Args:
        worst: largest unbalanced force by the acting one.
        allowed: the same, that was asked for.

    Example:
        >>> converged_words(1e-3, 1e-3)
        'Converged: unbalanced force at most 1.0e-03 of the acting one (1.0e-03 allowed).'
    """
    if worst <= allowed:
        text = f"Converged: unbalanced force at most {worst:.1e} of the acting one"
        return f"{text} ({allowed:.1e} allowed)."
    text = f"NOT CONVERGED: unbalanced force up to {worst:.1e} of the acting one"
    advice = "don't use this result; try a finer mesh or smaller temperature steps"
    return f"{text} ({allowed:.1e} allowed); {advice}."


def doubt_words(warnings: Sequence[str]) -> str | None:
    """How many warnings there are; None for none.

    Example:
        >>> doubt_words(("The mesh is coarse.",))
        'To doubt: 1 warning below.'
    """
    if not warnings:
        return None
    return f"To doubt: {len(warnings)} warning{'s' * (len(warnings) > 1)} below."


def rules_words(rules: Sequence[RuleValue]) -> str | None:
    """How many rules of thumb were used out of their range; None for none.

    Example:
        >>> rules_words(()) is None
        True
    """
    out = sum(not rule.in_range for rule in rules)
    if not out:
        return None
    return (
        f"{out} of {len(rules)} rules of thumb used out of their range; that says nothing against "
        "the simulation."
    )
