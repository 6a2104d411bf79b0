"""Spots on a buckled panel: what each takes off its area, what is left of the buckle.

::

       edge |  . . . . . . . .  | edge      a buckle has more area than the flat between its edges:
            |.'      w0       '.|           excess = (pi^2 w0^2 / 8)(b/a + a/b)
            |_________a_________|           each spot takes 2 e* pi a_s^2 off it

When as much is taken off as it has too much, the panel is flat; edges that give way, and spots
that are not held flat while hot, make each spot do less.
"""

import math

from flamefe.basics.errors import OutOfRange
from flamefe.rules.given import need_positive
from flamefe.rules.spot import buckle_area

SOURCE = "derived: bookkeeping of areas, edges that hold their place, one half wave each way"


def spots_to_flatten(depth: float, length: float, width: float, area_per_spot: float) -> int:
    """Spots that take out a buckle: n = ceil(excess / dA).

    Args:
        depth: w0 of the buckle w0 sin(pi x / a) sin(pi y / b), m.
        length: a, m.
        width: b, m.
        area_per_spot: dA, see `spot_area_loss`, m2.

    Raises:
        OutOfRange: a number isn't positive.

    Range: shallow buckles; a first guess, measure and count again.
    Source: see ``SOURCE``.

    Examples:
        600 x 600 mm, 6 mm deep, 6.57 mm2 a spot:

        >>> spots_to_flatten(0.006, 0.6, 0.6, 6.57e-6)
        14
    """
    need_positive(area_per_spot=area_per_spot)
    return math.ceil(buckle_area(depth, length, width) / area_per_spot - 1e-9)


def depth_after_spots(depth: float, length: float, width: float, area_taken: float) -> float:
    """Depth of the buckle after an area was taken off: w0 sqrt(1 - dA / excess), 0 if all is, m.

    Args:
        depth: w0 before, m.
        length: a, m.
        width: b, m.
        area_taken: dA of all spots together, m2, at least 0.

    Raises:
        OutOfRange: a number isn't positive, or the area is below 0.

    Range: as for `spots_to_flatten`; what is taken beyond the excess pulls at the edges.
    Source: see ``SOURCE``.

    Examples:
        The same panel after seven spots, mm:

        >>> round(depth_after_spots(0.006, 0.6, 0.6, 7 * 6.57e-6) * 1e3, 2)
        4.17
    """
    if not (math.isfinite(area_taken) and area_taken >= 0):
        raise OutOfRange(f"The area taken off is {area_taken:g} m2, it must be at least 0.")
    left = 1 - area_taken / buckle_area(depth, length, width)
    return depth * math.sqrt(max(left, 0.0))
