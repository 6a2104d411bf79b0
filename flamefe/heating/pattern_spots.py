"""Patterns of spots: one, or a field of them in an order."""

import math
from typing import Literal

from scipy.spatial import KDTree

from flamefe.basics.errors import OutOfRange
from flamefe.heating.pattern import Dimension, Pattern, Place, Stroke

Arrangement = Literal["square", "staggered"]
Order = Literal["outside in", "inside out", "rows", "symmetric"]

MOST_SPOTS = 2000


def spot(at: Place) -> Pattern:
    """One spot, m.

    Example:
        >>> spot((0.2, 0.1)).strokes[0].stands
        True
    """
    return Pattern(kind="spot", strokes=(Stroke(points=(at,)),), dimensions=())


def spot_field(
    corner: Place,
    opposite: Place,
    *,
    spacing: float,
    arrangement: Arrangement = "staggered",
    order: Order = "outside in",
) -> Pattern:
    """Spots that fill a rectangle, or a row of them where one of its sides is 0.

    The spacing along the first coordinate and, in a square field, along the second is the one
    asked for or a little less, so that the outermost spots lie on the sides. In a staggered field
    every other row is shifted by half a spacing and rows lie 0.866 of it apart.

    Args:
        corner, opposite: of the rectangle through the outermost spots, m.
        spacing: largest distance of neighbours, m.
        arrangement: "square" or "staggered".
        order: "outside in" ring by ring towards the middle, as a buckle is worked from its stiff
            edge; "inside out"; "rows" to and fro; "symmetric" like outside in, but each spot is
            followed by the one opposite, so that the part is not pulled to one side.

    Raises:
        OutOfRange: spacing not above 0, both sides 0, or more than 2000 spots.

    Source of the orders: common practice, no source.

    Example:
        >>> made = spot_field((0.1, 0.1), (0.3, 0.3), spacing=0.1, arrangement="square")
        >>> len(made.strokes), [round(v, 3) for v in made.strokes[-1].points[0]]
        (9, [0.2, 0.2])
    """
    sides = (opposite[0] - corner[0], opposite[1] - corner[1])
    if not spacing > 0.0 or max(abs(side) for side in sides) < 1e-9:
        raise OutOfRange(
            f"A field of spots has sides of {1e3 * sides[0]:g} and {1e3 * sides[1]:g} mm and a "
            f"spacing of {1e3 * spacing:g} mm; one side at least and the spacing must be above 0."
        )
    pitch = 1.0 if arrangement == "square" or abs(sides[0]) < 1e-9 else math.sqrt(0.75)
    across, up = _count(sides[0], spacing), _count(sides[1], pitch * spacing)
    if across * up > MOST_SPOTS:
        raise OutOfRange(
            f"A field of {across} x {up} spots; allowed: up to {MOST_SPOTS}. Take a wider spacing."
        )
    rows: list[list[Place]] = []
    for row in range(up):
        y = corner[1] + sides[1] * (row / (up - 1) if up > 1 else 0.0)
        shifted = arrangement == "staggered" and row % 2 == 1 and across > 1
        count, first = (across - 1, 0.5) if shifted else (across, 0.0)
        step = sides[0] / (across - 1) if across > 1 else 0.0
        rows.append([(corner[0] + step * (first + i), y) for i in range(count)])
    middle = (corner[0] + 0.5 * sides[0], corner[1] + 0.5 * sides[1])
    half = (0.5 * abs(sides[0]) or 1.0, 0.5 * abs(sides[1]) or 1.0)
    places = _ordered(rows, middle, half, order)
    strokes = tuple(
        Stroke(points=(place,), name=f"spot {number}") for number, place in enumerate(places, 1)
    )
    return Pattern(
        kind=f"spot field, {arrangement}, {order}",
        strokes=strokes,
        dimensions=(
            Dimension("spots", len(strokes), ""),
            Dimension("spacing", 1e3 * _nearest(places), "mm"),
            Dimension("row spacing", 1e3 * abs(sides[1]) / max(up - 1, 1), "mm"),
            Dimension("length", 1e3 * abs(sides[0]), "mm"),
            Dimension("width", 1e3 * abs(sides[1]), "mm"),
        ),
    )


def _count(side: float, spacing: float) -> int:
    return 1 if abs(side) < 1e-9 else 1 + max(1, math.ceil(abs(side) / spacing - 1e-9))


def _nearest(places: list[Place]) -> float:
    """Smallest distance of two spots, m; 0 for a single one."""
    if len(places) < 2:
        return 0.0
    distances, _ = KDTree(places).query(places, k=2)
    return float(distances[:, 1].min())


def _ordered(rows: list[list[Place]], middle: Place, half: Place, order: Order) -> list[Place]:
    if order == "rows":
        return [p for i, row in enumerate(rows) for p in (row if i % 2 == 0 else row[::-1])]
    places = [place for row in rows for place in row]

    def ring(place: Place) -> float:
        off = (abs(place[0] - middle[0]) / half[0], abs(place[1] - middle[1]) / half[1])
        return round(max(off), 6)

    def turn(place: Place) -> float:
        return round(math.atan2(place[1] - middle[1], place[0] - middle[0]) % math.tau, 6)

    places.sort(key=lambda place: (-ring(place), turn(place)))
    if order == "inside out":
        return places[::-1]
    return _opposite(places, middle) if order == "symmetric" else places


def _opposite(places: list[Place], middle: Place) -> list[Place]:
    """The same, each spot followed by the one nearest to its mirror image in the middle."""
    left, result = list(places), []
    while left:
        one = left.pop(0)
        result.append(one)
        mirror = (2.0 * middle[0] - one[0], 2.0 * middle[1] - one[1])
        if left and math.dist(one, mirror) > 1e-9:
            other = min(left, key=lambda place: math.dist(place, mirror))
            left.remove(other)
            result.append(other)
    return result
