"""Which general tolerance class of ISO 13920 a deviation from straight or flat reaches."""

import math
from dataclasses import dataclass
from typing import Literal

from flamefe.basics.errors import OutOfRange

ShapeClass = Literal["E", "F", "G", "H"]

SOURCE = (
    "ISO 13920, general tolerances for welded constructions, straightness, flatness and "
    "parallelism, classes E to H; read in a public copy of the standard's table, the "
    "band above 20000 mm from memory: check against your own copy"
)

SHORTEST_MM = 30.0
LENGTHS_TO_MM = (120, 400, 1000, 2000, 4000, 8000, 12000, 16000, 20000, math.inf)
LIMITS_MM: dict[ShapeClass, tuple[float, ...]] = {
    "E": (0.5, 1, 1.5, 2, 3, 4, 5, 6, 7, 8),
    "F": (1, 1.5, 3, 4.5, 6, 8, 10, 12, 14, 16),
    "G": (1.5, 3, 5.5, 9, 11, 16, 20, 22, 25, 25),
    "H": (2.5, 5, 9, 14, 18, 26, 32, 36, 40, 40),
}


def iso_13920_limit_mm(shape_class: ShapeClass, length_mm: float) -> float:
    """Largest deviation from straight or flat that a class allows, mm.

    Args:
        shape_class: "E" (finest) to "H".
        length_mm: longer side of the surface, or length of the edge, over 30 mm.

    Raises:
        OutOfRange: the class is unknown, or the length is 30 mm or less.

    Source: ISO 13920 (see ``SOURCE``).

    Examples:
        >>> iso_13920_limit_mm("F", 600)
        3
    """
    if shape_class not in LIMITS_MM:
        raise OutOfRange(f"Class {shape_class!r} is unknown; ISO 13920 has E, F, G and H.")
    if not length_mm > SHORTEST_MM:
        raise OutOfRange(
            f"A length of {length_mm:g} mm lies outside the table, which begins above "
            f"{SHORTEST_MM:g} mm."
        )
    band = next(i for i, upper in enumerate(LENGTHS_TO_MM) if length_mm <= upper)
    return LIMITS_MM[shape_class][band]


def iso_13920_class(deviation_mm: float, length_mm: float) -> ShapeClass | None:
    """Finest class of ISO 13920 that a deviation from straight or flat keeps to.

    Args:
        deviation_mm: from straight or flat, either sign.
        length_mm: longer side of the surface, or length of the edge, over 30 mm.

    Returns:
        "E" (finest) to "H", or None when not even H is kept.

    Raises:
        OutOfRange: the deviation is not a number, or the length is 30 mm or less.

    Source: ISO 13920 (see ``SOURCE``).

    Examples:
        >>> iso_13920_class(2.0, 600), iso_13920_class(-20.0, 600)
        ('F', None)
    """
    if not math.isfinite(deviation_mm):
        raise OutOfRange(f"A deviation of {deviation_mm} mm can't be judged; it must be finite.")
    for shape_class in LIMITS_MM:
        if abs(deviation_mm) <= iso_13920_limit_mm(shape_class, length_mm):
            return shape_class
    return None


@dataclass(frozen=True, kw_only=True)
class ShapeFinding:
    """One deviation from straight or flat, and the class that it keeps to.

    Args:
        measure: its name.
        deviation_mm: its size, mm.
        length_mm: over which it counts, mm.
        kept: finest class of ISO 13920 that it keeps to; None when not even H.
        asked: class that the case asks for; None: none.
        allowed_mm: what that class allows over this length, mm; None without one.
        from_straight: whether the deviation is the job's own and the part counts as straight
            before it; False where the part's shape before is known and in the number.

    Example:
        >>> found = ShapeFinding(measure="bow", deviation_mm=2.0, length_mm=600, kept="F",
        ...     asked="E", allowed_mm=1.5, from_straight=True)
        >>> found.within
        False
    """

    measure: str
    deviation_mm: float
    length_mm: float
    kept: ShapeClass | None
    asked: ShapeClass | None
    allowed_mm: float | None
    from_straight: bool

    @property
    def within(self) -> bool:
        """Whether it keeps to the class that was asked for; True where none was."""
        return self.allowed_mm is None or self.deviation_mm <= self.allowed_mm
