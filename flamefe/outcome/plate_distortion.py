"""Distortion of a flat plate: angular change, shrinkage, camber, bow, twist, flatness."""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.box import DisplacedBox
from flamefe.outcome.line import (
    band_about_plane,
    chord_length,
    developed_length,
    direction,
    sagitta,
)
from flamefe.outcome.measure import Measure
from flamefe.outcome.rigid import checked_shape, signed_angle

Array = NDArray[np.float64]

TO_MM = 1e3
MIDDLE = 0.5


def plate_measures(
    points: ArrayLike,
    displacements: ArrayLike,
    *,
    heated_strip: tuple[float, float] | None = None,
    line_along: Literal["x", "y"] = "x",
    torch_face: Literal["top", "bottom"] = "top",
) -> tuple[Measure, ...]:
    """Distortion of a plate by a line heat, in mm, degrees and milliradians.

    Rigid motion is taken out first (`without_rigid_motion`); rotations may be large. "The line"
    is the middle of the heated strip at mid-thickness; "up" is towards the torch's face.

    Seen along the line (x), the torch above::

        z ^      near edge            far edge
          |          o      torch       o       angular change > 0: edges rise to the torch
          +--> y       \\      |       /         edge rise > 0: height of the edges' chord
         x towards       \\    v     /           over the line
         the reader        o------o
                     wing   strip   wing        |<-- chord -->|  transverse shrinkage > 0:
                                                                 the chord became shorter

    Seen from the near side (y into the paper)::

        z ^         o--o--o                     camber of the line > 0: its middle stands
          |     o            o                  nearer to the torch than its ends;
          +--> x                                bow of an edge: the same for that edge

    Seen from the start along x (x away from the reader, y to the left)::

              o   far edge, end     z ^       twist > 0: the end has turned right-handed about
                  o                   |       +x against the start, its far edge is higher and
        o.........o.........o    y <--+       its near edge lower (dotted: the start)
                      o
                          o   near edge, end

    Flatness is the width of the band that holds the mid-surface, about its best-fitting plane.

    Two widths are given. The chord is what callipers measure; folding a width w by an angle a
    makes it shorter by w a^2 / 8 without any loss of metal. The developed width follows the
    section at mid-thickness, so in a finite-geometry run it is the shrinkage of the metal itself.
    Displacements of a small-strain run hold no foreshortening: there the chord is the one to use.

    Args:
        points: (n, 3) m, nodes of a box: x along the length, y across, z through the thickness.
        displacements: (n, 3) m.
        heated_strip: smallest and largest coordinate across the line of the strip that was
            heated, m; the wings are what lies outside. None: the middle half of the width.
        line_along: "x", or "y" when the line runs across the plate; length and width, start/end
            and near/far then change roles (near is x max, far is x min, start is y min).
        torch_face: the heated face, "top" (z max) or "bottom".

    Returns:
        Measures; find one by name with `find_measure`.

    Raises:
        OutOfRange: points are no box, or the strip leaves no wing of 1 % of the width.

    Examples:
        A plate folded by 2 x 0.5 degrees about its middle, in small strain:

        >>> from flamefe.outcome.measure import find_measure
        >>> grid = np.meshgrid([0, 0.2, 0.4], [0, 0.05, 0.1, 0.15, 0.2], [0, 0.012])
        >>> points = np.array(grid).reshape(3, -1).T
        >>> rise = np.abs(points[:, 1] - 0.1) * np.tan(np.radians(0.5))
        >>> moved = np.column_stack((0 * rise, 0 * rise, rise))
        >>> found = plate_measures(points, moved)
        >>> print(find_measure(found, "angular change at mid length"))
        angular change at mid length 1 deg
        >>> print(find_measure(found, "edge rise at mid length"))
        edge rise at mid length 0.8727 mm
    """
    nodes, moved = checked_shape(points, displacements)
    if line_along == "y":
        nodes, moved = _turned(nodes), _turned(moved)
        heated_strip = None if heated_strip is None else (-heated_strip[1], -heated_strip[0])
    box = DisplacedBox(points=nodes, displacements=moved)
    low, high = _strip_shares(box, heated_strip)
    line_at = 0.5 * (low + high)
    up = np.array([0.0, 0.0, 1.0 if torch_face == "top" else -1.0])
    return (
        *_angular(box, low, high, torch_face == "top"),
        _edge_rise(box, line_at, up),
        *_widths(box),
        *_along(box, line_at, up),
        _twist(box),
        _flatness(box),
    )


def _turned(vectors: Array) -> Array:
    """Turn by -90 degrees about z: what ran along y runs along x, (n, 3)."""
    return np.column_stack((vectors[:, 1], -vectors[:, 0], vectors[:, 2]))


def _strip_shares(box: DisplacedBox, strip: tuple[float, float] | None) -> tuple[float, float]:
    if strip is None:
        return 0.25, 0.75
    low, high = ((value - box.low[1]) / box.size[1] for value in strip)
    if not (0.01 <= low <= high <= 0.99):
        raise OutOfRange(
            f"The heated strip lies between {100 * low:.0f} % and {100 * high:.0f} % of the "
            "width; it must leave a wing of at least 1 % on both sides. Measure a part heated up "
            "to its edge as a bar or without a strip."
        )
    return float(low), float(high)


def _angular(box: DisplacedBox, low: float, high: float, torch_on_top: bool) -> tuple[Measure, ...]:
    stations = np.linspace(0, 1, 41)
    axis = box.at([1, MIDDLE, MIDDLE]) - box.at([0, MIDDLE, MIDDLE])
    angles = np.array([_fold(box, share, low, high, axis) for share in stations])
    if not torch_on_top:
        angles = -angles
    middle = float(angles[len(stations) // 2])
    mean = float(np.trapezoid(angles, stations))
    rule = (
        "angle between straight lines fitted to the two wings beside the heated strip at "
        "mid-thickness; positive when the edges rise towards the torch"
    )
    return (
        _measure("angular change at mid length", np.degrees(middle), "deg", rule),
        _measure("angular change at mid length in mrad", 1e3 * middle, "mrad", rule),
        _measure("mean angular change", np.degrees(mean), "deg", rule + "; mean over the length"),
        _measure(
            "mean angular change in mrad", 1e3 * mean, "mrad", rule + "; mean over the length"
        ),
    )


def _fold(box: DisplacedBox, share: float, low: float, high: float, axis: Array) -> float:
    def wing(start: float, end: float) -> Array:
        across = np.linspace(start, end, 21)
        return direction(box.at([[share, place, MIDDLE] for place in across]))

    return signed_angle(wing(0, low), wing(high, 1), axis)


def _edge_rise(box: DisplacedBox, line_at: float, up: Array) -> Measure:
    near, line, far = box.at([[MIDDLE, place, MIDDLE] for place in (0, line_at, 1)])
    chord = far - near
    along = chord / np.linalg.norm(chord)
    out = up - (up @ along) * along
    return _measure(
        "edge rise at mid length",
        -TO_MM * ((line - near) @ out) / np.linalg.norm(out),
        "mm",
        "height of the straight line from edge to edge over the heated line; positive when the "
        "edges rise towards the torch",
    )


def _widths(box: DisplacedBox) -> tuple[Measure, ...]:
    stations = np.linspace(0, 1, 41)
    lines = [box.line(1, (share, MIDDLE)) for share in stations]
    chords = box.size[1] - np.array([chord_length(line) for line in lines])
    ways = box.size[1] - np.array([developed_length(line) for line in lines])
    middle = len(stations) // 2
    chord_rule = "loss of width along the chord from edge to edge; positive = narrower"
    way_rule = "loss of width along the section at mid-thickness; positive = shorter"
    over = "; mean over the length"
    return (
        _measure("transverse shrinkage at mid length", TO_MM * chords[middle], "mm", chord_rule),
        _measure(
            "mean transverse shrinkage",
            TO_MM * np.trapezoid(chords, stations),
            "mm",
            chord_rule + over,
        ),
        _measure("developed width shrinkage at mid length", TO_MM * ways[middle], "mm", way_rule),
        _measure(
            "mean developed width shrinkage",
            TO_MM * np.trapezoid(ways, stations),
            "mm",
            way_rule + over,
        ),
    )


def _along(box: DisplacedBox, line_at: float, up: Array) -> tuple[Measure, ...]:
    shrink = "loss of length from end to end at mid-thickness; positive = shorter"
    bow = (
        "distance of its middle from the straight line through its ends, out of the plate's "
        "plane; positive when the middle stands nearer to the torch"
    )
    measures = []
    for where, share, bow_name in (
        ("of the line", line_at, "camber of the line"),
        ("of the near edge", 0.0, "bow of the near edge"),
        ("of the far edge", 1.0, "bow of the far edge"),
    ):
        line = box.line(0, (share, MIDDLE))
        loss = TO_MM * (box.size[0] - chord_length(line))
        measures.append(_measure(f"longitudinal shrinkage {where}", loss, "mm", shrink))
        measures.append(_measure(bow_name, TO_MM * sagitta(line, up), "mm", bow))
    return tuple(measures)


def _twist(box: DisplacedBox) -> Measure:
    start, end = (direction(box.line(1, (share, MIDDLE))) for share in (0.0, 1.0))
    axis = box.at([1, MIDDLE, MIDDLE]) - box.at([0, MIDDLE, MIDDLE])
    return _measure(
        "twist",
        np.degrees(signed_angle(start, end, axis)),
        "deg",
        "turn of the end's edge against the start's about the length; positive right-handed "
        "about +x",
    )


def _flatness(box: DisplacedBox) -> Measure:
    along, across = np.meshgrid(np.linspace(0, 1, 61), np.linspace(0, 1, 41))
    shares = np.column_stack((along.ravel(), across.ravel(), np.full(along.size, MIDDLE)))
    return _measure(
        "flatness",
        TO_MM * band_about_plane(box.at(shares)),
        "mm",
        "width of the band that holds the mid-surface, about its best-fitting plane; never below 0",
    )


def _measure(name: str, value: float, unit: str, meaning: str) -> Measure:
    return Measure(name=name, value=float(value), unit=unit, meaning=meaning)
