"""One measured number with its unit and its sign in words."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from flamefe.basics.errors import OutOfRange


@dataclass(frozen=True, kw_only=True)
class Measure:
    """A distortion measure in the trade's unit.

    Args:
        name: what was measured, for instance "angular change at mid length".
        value: the number, in ``unit``.
        unit: "mm", "deg", "mrad" or "MPa".
        meaning: how it is measured and which way is positive, in words.

    Raises:
        OutOfRange: a text is empty, or the value is not finite.

    Examples:
        >>> print(Measure(name="twist", value=0.25, unit="deg", meaning="end against start"))
        twist 0.25 deg
    """

    name: str
    value: float
    unit: str
    meaning: str

    def __post_init__(self) -> None:
        for label in ("name", "unit", "meaning"):
            if not getattr(self, label).strip():
                raise OutOfRange(f"A measure's {label} is empty; give it in words.")
        if not math.isfinite(self.value):
            raise OutOfRange(
                f"Measure {self.name!r} is {self.value}, it must be finite; "
                "look for a displacement that is not a number."
            )
        object.__setattr__(self, "value", float(self.value))

    def __str__(self) -> str:
        return f"{self.name} {self.value:.4g} {self.unit}"


def find_measure(measures: Iterable[Measure], name: str) -> Measure:
    """Return the measure called ``name``.

    Raises:
        OutOfRange: none is called so.

    Examples:
        >>> one = Measure(name="twist", value=0.25, unit="deg", meaning="end against start")
        >>> find_measure((one,), "twist").value
        0.25
    """
    known = {measure.name: measure for measure in measures}
    if name not in known:
        names = ", ".join(sorted(known)) or "none"
        raise OutOfRange(f"There is no measure {name!r}; there are: {names}.")
    return known[name]
