"""Patterns: where the torch goes on a face, as strokes in the face's own two coordinates.

A pattern knows positions on a face and nothing of the workpiece, so it serves on a plate, on the
web of a beam and, with arc length as a coordinate, on a curved wall.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, NamedTuple

from flamefe.basics.errors import OutOfRange

Place = tuple[float, float]

OVAL_PIECES, RING_PIECES, WEDGE_PIECES = 24, 48, 12
"""Straight pieces in which a way is laid out; widths grow evenly between them."""


class Dimension(NamedTuple):
    """A dimension that the shop needs: its name, its value and the unit."""

    name: str
    value: float
    unit: str


@dataclass(frozen=True, kw_only=True)
class Stroke:
    """One unbroken movement of the torch on a face, or one place where it stands.

    Args:
        points: m in the face's two coordinates; a single one: the torch stands there.
        widths: m over which it is woven, at each point; none: not woven.
        name: of the stroke within its pattern, for instance "pass 2"; empty where it is alone.

    Raises:
        OutOfRange: no points, a repeated one, or widths that don't fit.

    Example:
        >>> Stroke(points=((0.0, 0.0), (0.03, 0.04))).length
        0.05
    """

    points: tuple[Place, ...]
    widths: tuple[float, ...] = ()
    name: str = ""

    def __post_init__(self) -> None:
        if not self.points or not all(math.isfinite(v) for p in self.points for v in p):
            raise OutOfRange(f"A stroke needs at least one point; given: {self.points}.")
        if any(a == b for a, b in pairwise(self.points)):
            raise OutOfRange("A stroke has two equal points in a row; leave one out.")
        if self.widths and (len(self.widths) != len(self.points) or min(self.widths) < 0.0):
            raise OutOfRange(
                f"A stroke of {len(self.points)} points needs as many widths of 0 or more; "
                f"given: {self.widths}."
            )

    @property
    def stands(self) -> bool:
        """Whether the torch stands."""
        return len(self.points) == 1

    @property
    def length(self) -> float:
        """Of its way, m."""
        return math.fsum(math.dist(a, b) for a, b in pairwise(self.points))

    @property
    def outline(self) -> tuple[Place, ...]:
        """Its points, and the ends of the weave at each of them, m."""
        if not self.widths:
            return self.points
        result = []
        for number, (point, width) in enumerate(zip(self.points, self.widths, strict=True)):
            before = self.points[max(number - 1, 0)]
            after = self.points[min(number + 1, len(self.points) - 1)]
            long = math.dist(before, after) or 1.0
            side = (-(after[1] - before[1]) / long, (after[0] - before[0]) / long)
            for shift in (0.5 * width, -0.5 * width) if width > 0.0 else (0.0,):
                result.append((point[0] + shift * side[0], point[1] + shift * side[1]))
        return tuple(result)


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """Strokes in their order, and the dimensions by which the shop lays them out.

    Args:
        kind: what the trade calls it.
        strokes: in order.
        dimensions: for the shop, in mm, degrees or numbers.

    Example:
        >>> print(line([(0.05, 0.1), (0.35, 0.1)]).words)
        line: length 300 mm
    """

    kind: str
    strokes: tuple[Stroke, ...]
    dimensions: tuple[Dimension, ...]

    @property
    def words(self) -> str:
        """The dimensions in a line."""
        parts = [f"{name} {value:.4g} {unit}".rstrip() for name, value, unit in self.dimensions]
        return f"{self.kind}: {', '.join(parts)}"

    @property
    def outline(self) -> tuple[Place, ...]:
        """Points between which it lies, m."""
        return tuple(point for stroke in self.strokes for point in stroke.outline)


def line(points: Sequence[Place]) -> Pattern:
    """A line along a polyline, in the order of its points (m).

    Raises:
        OutOfRange: fewer than two points.

    Example:
        >>> line([(0.0, 0.0), (0.0, 0.1), (0.1, 0.1)]).strokes[0].length
        0.2
    """
    if len(points) < 2:
        raise OutOfRange(f"A line needs at least two points; given: {list(points)}.")
    stroke = Stroke(points=tuple(points))
    return Pattern(
        kind="line",
        strokes=(stroke,),
        dimensions=(Dimension("length", _mm(stroke.length), "mm"),),
    )


def band(
    start: Place,
    end: Place,
    *,
    width: float,
    manner: Literal["weave", "passes"] = "weave",
    passes: int = 3,
    alternate: bool = True,
) -> Pattern:
    """A band: woven over its width, or filled by straight passes side by side.

    Args:
        start, end: of its middle line, m.
        width: of the band, m; passes lie ``width / passes`` apart.
        manner: "weave" or "passes".
        passes: how many, with "passes" alone.
        alternate: every other pass runs back; else all run from start to end.

    Raises:
        OutOfRange: no length, width not above 0, or fewer than 2 passes.

    Example:
        >>> made = band((0.0, 0.1), (0.3, 0.1), width=0.06, manner="passes", passes=3)
        >>> [[round(v, 3) for v in stroke.points[0]] for stroke in made.strokes]
        [[0.0, 0.08], [0.3, 0.1], [0.0, 0.12]]
    """
    length = math.dist(start, end)
    if not (length > 0.0 and width > 0.0):
        raise OutOfRange(
            f"A band is {_mm(length):g} mm long and {_mm(width):g} mm wide; both must be above 0."
        )
    size = (Dimension("length", _mm(length), "mm"), Dimension("width", _mm(width), "mm"))
    if manner == "weave":
        stroke = Stroke(points=(start, end), widths=(width, width))
        return Pattern(kind="band, woven", strokes=(stroke,), dimensions=size)
    if passes < 2:
        raise OutOfRange(f"A band in {passes} passes; it needs at least 2, or weave it.")
    side = (-(end[1] - start[1]) / length, (end[0] - start[0]) / length)
    strokes = []
    for number in range(passes):
        shift = width * ((number + 0.5) / passes - 0.5)
        ends = [(p[0] + shift * side[0], p[1] + shift * side[1]) for p in (start, end)]
        if alternate and number % 2:
            ends.reverse()
        strokes.append(Stroke(points=tuple(ends), name=f"pass {number + 1}"))
    return Pattern(
        kind="band in passes",
        strokes=tuple(strokes),
        dimensions=(
            *size,
            Dimension("passes", passes, ""),
            Dimension("pass spacing", _mm(width / passes), "mm"),
        ),
    )


def oval(start: Place, end: Place, *, width: float) -> Pattern:
    """An oval (ellipse) woven across from one end of its long axis to the other.

    Args:
        start, end: of its long axis, m; the torch goes that way.
        width: in the middle, m; not above the length.

    Raises:
        OutOfRange: no length, or a width that is not above 0 and up to the length.

    Example:
        >>> made = oval((0.0, 0.0), (0.08, 0.0), width=0.03)
        >>> round(max(made.strokes[0].widths), 4), made.strokes[0].widths[0]
        (0.03, 0.0)
    """
    length = math.dist(start, end)
    if not 0.0 < width <= length:
        raise OutOfRange(
            f"An oval is {_mm(length):g} mm long and {_mm(width):g} mm wide; its width must be "
            "above 0 and no more than its length."
        )
    shares = [i / OVAL_PIECES for i in range(OVAL_PIECES + 1)]
    return Pattern(
        kind="oval",
        strokes=(
            Stroke(
                points=tuple(_between(start, end, share) for share in shares),
                widths=tuple(2.0 * width * math.sqrt(share * (1.0 - share)) for share in shares),
            ),
        ),
        dimensions=(
            Dimension("length", _mm(length), "mm"),
            Dimension("width", _mm(width), "mm"),
        ),
    )


def ring(centre: Place, *, radius: float, start_deg: float = 0.0, way: int = 1) -> Pattern:
    """A ring round a centre on a flat face, closed.

    Args:
        centre: m.
        radius: m.
        start_deg: where it starts, degrees from the face's first coordinate to its second.
        way: 1: from the first coordinate to the second; -1: the other way round.

    Raises:
        OutOfRange: radius not above 0, or another way.

    Example:
        >>> round(ring((0.1, 0.1), radius=0.05).strokes[0].length, 3)    # 2 pi R
        0.314
    """
    if not radius > 0.0 or way not in (1, -1):
        raise OutOfRange(
            f"A ring has a radius of {_mm(radius):g} mm and way {way}; the radius must be above "
            "0, the way 1 or -1."
        )
    turns = [math.radians(start_deg) + way * math.tau * i / RING_PIECES for i in range(RING_PIECES)]
    points = [(centre[0] + radius * math.cos(t), centre[1] + radius * math.sin(t)) for t in turns]
    return Pattern(
        kind="ring",
        strokes=(Stroke(points=(*points, points[0])),),
        dimensions=(
            Dimension("radius", _mm(radius), "mm"),
            Dimension("length round it", _mm(math.tau * radius), "mm"),
        ),
    )


def wedge(apex: Place, base: Place, *, angle_deg: float) -> Pattern:
    """A wedge (vee) from its apex to its base in widening passes across it.

    Args:
        apex, base: the apex and the middle of the base, m.
        angle_deg: opening, degrees.

    Raises:
        OutOfRange: no depth, or an angle outside 1 to 170.

    Example:
        >>> print(wedge((0.3, 0.025), (0.3, 0.1), angle_deg=45).words)
        wedge: depth 75 mm, base 62.13 mm, angle 45 degrees
    """
    depth = math.dist(apex, base)
    if not (depth > 0.0 and 1.0 <= angle_deg <= 170.0):
        raise OutOfRange(
            f"A wedge is {_mm(depth):g} mm deep and opens by {angle_deg:g} degrees; its depth must "
            "be above 0, its angle 1 to 170."
        )
    width = 2.0 * depth * math.tan(math.radians(angle_deg) / 2.0)
    shares = [i / WEDGE_PIECES for i in range(WEDGE_PIECES + 1)]
    return Pattern(
        kind="wedge",
        strokes=(
            Stroke(
                points=tuple(_between(apex, base, share) for share in shares),
                widths=tuple(share * width for share in shares),
            ),
        ),
        dimensions=(
            Dimension("depth", _mm(depth), "mm"),
            Dimension("base", _mm(width), "mm"),
            Dimension("angle", angle_deg, "degrees"),
        ),
    )


def _between(start: Place, end: Place, share: float) -> Place:
    return (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))


def _mm(metres: float) -> float:
    return 1e3 * metres
