"""Check the numbers that a rule is given."""

import math

from flamefe.basics.errors import OutOfRange


def need_positive(**numbers: float) -> None:
    """Raise `OutOfRange` unless every number is finite and above 0.

    Examples:
        >>> need_positive(thickness=0.012, width=0.2)
        >>> need_positive(thickness=0.0)
        Traceback (most recent call last):
            ...
        flamefe.basics.errors.OutOfRange: thickness is 0, it must be a number above 0 (SI units).
    """
    for name, number in numbers.items():
        if not (math.isfinite(number) and number > 0):
            raise OutOfRange(
                f"{name.replace('_', ' ')} is {number:g}, it must be a number above 0 (SI units)."
            )


def need_between(name: str, number: float, low: float, high: float) -> None:
    """Raise `OutOfRange` unless ``number`` lies from ``low`` to ``high``, both allowed.

    Examples:
        >>> need_between("restraint", 0.5, 0.0, 1.0)
    """
    if not low <= number <= high:
        raise OutOfRange(f"{name} is {number:g}, it must lie from {low:g} to {high:g}.")
