"""Named measuring places with the deviations that are allowed there."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Places:
    """Where a part is measured, and the tolerance at each place.

    Args:
        names: of the places, each once.
        lower, upper: (n,) m, smallest and largest deviation that is allowed.

    Raises:
        OutOfRange: no place, a name twice, or a tolerance without width.

    Example:
        >>> places = places_of(["2 m", "4 m"], 0.003)
        >>> places.names, places.lower.tolist(), places.half.tolist()
        (('2 m', '4 m'), [-0.003, -0.003], [0.003, 0.003])
    """

    names: tuple[str, ...]
    lower: Array
    upper: Array

    def __post_init__(self) -> None:
        count = len(self.names)
        if count == 0:
            raise OutOfRange("There is no measuring place; give one at least.")
        twice = sorted({name for name in self.names if self.names.count(name) > 1})
        if twice:
            raise OutOfRange(f"Measuring places with the same name: {', '.join(twice)}.")
        if self.lower.shape != (count,) or self.upper.shape != (count,):
            raise OutOfRange(
                f"Tolerances of shapes {self.lower.shape} and {self.upper.shape} for {count} "
                "places; needed: one lower and one upper value a place."
            )
        if not (np.isfinite(self.lower).all() and np.isfinite(self.upper).all()):
            raise OutOfRange("A tolerance is not a number.")
        if not bool(np.all(self.upper > self.lower)):
            raise OutOfRange("A tolerance has no width; the upper value must be above the lower.")

    @property
    def centre(self) -> Array:
        """(n,) m, the middle of the tolerance."""
        return 0.5 * (self.lower + self.upper)

    @property
    def half(self) -> Array:
        """(n,) m, half the width of the tolerance."""
        return 0.5 * (self.upper - self.lower)

    def outside(self, deviation: Array) -> Array:
        """(n,) m, how far a deviation lies outside the tolerance; 0 inside.

        Args:
            deviation: (n,) m.
        """
        return np.maximum(np.maximum(deviation - self.upper, self.lower - deviation), 0.0)


def places_of(names: Sequence[str], plus: ArrayLike, minus: ArrayLike | None = None) -> Places:
    """Places with the same tolerance everywhere, or one a place.

    Args:
        names: of the places.
        plus: m, largest deviation; one value or (n,).
        minus: m, largest deviation to the negative side as a positive number; None: like plus.

    Raises:
        OutOfRange: as ``Places``.

    Example:
        >>> places_of(["middle"], 0.004, 0.002).centre.tolist()
        [0.001]
    """
    count = len(names)
    upper = np.broadcast_to(np.asarray(plus, float), (count,)).copy()
    lower = -np.broadcast_to(np.asarray(plus if minus is None else minus, float), (count,)).copy()
    return Places(names=tuple(names), lower=lower, upper=upper)
