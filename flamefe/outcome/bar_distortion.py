"""Distortion of a straight bar: camber, sweep, closing rotation, shortening, twist, bow."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.box import DisplacedBox
from flamefe.outcome.line import chord_length, developed_length, direction, offsets, sagitta
from flamefe.outcome.measure import Measure
from flamefe.outcome.rigid import signed_angle

Array = NDArray[np.float64]

TO_MM = 1e3
STATIONS = 81
FEWEST_IN_AN_END = 4
ACROSS = np.array([0.0, 0.0, 1.0])
TO_FAR = np.array([0.0, 1.0, 0.0])


def bar_measures(
    points: ArrayLike,
    displacements: ArrayLike,
    *,
    heated_part: tuple[float, float] | None = None,
) -> tuple[Measure, ...]:
    """Distortion of a bar of rectangular section, in mm, degrees and milliradians.

    Rigid motion is taken out first (`without_rigid_motion`); rotations may be large. The bar's
    axis is the line of its section centroids.

    Seen from the top (z towards the reader)::

        y ^   far side
          |         o--o--o             camber > 0: the middle of the axis lies on the far
          |     o     |      o          side (+y) of the chord through its ends
          |  o--------+---------o
          +--> x      chord

          o                       o     closing rotation > 0: the far side shortens, the end
            \\   far side closes  /      turns towards far (+y) against the start, right-handed
              \\                /        about +z; camber is then < 0
                o------------o
             start   heated   end

    Seen from the near side (y into the paper)::

        z ^     o--o--o                 sweep > 0: the middle of the axis lies on the top side
          +-->x o         o             (+z) of the chord

    Twist > 0: the end has turned right-handed about +x (from +y towards +z) against the start.
    Bow is the largest distance of the axis from its chord in any direction, never below 0.
    Shortening is the loss of the chord's length; shortening along the axis follows the curve,
    which matters in a finite-geometry run: a camber f over a length L takes 8 f^2 / (3 L) from
    the chord. In a small-strain run the chord is the one to use.

    Args:
        points: (n, 3) m, nodes of a box: x along the bar, y its depth, z its thickness.
        displacements: (n, 3) m.
        heated_part: smallest and largest x of the heated part, m; straight lines are fitted to
            what lies outside it. None: the middle half of the length.

    Returns:
        Measures; find one by name with `find_measure`.

    Raises:
        OutOfRange: points are no box, or the heated part leaves less than 5 % of the length at
            an end.

    Examples:
        A bar kinked by 4 mrad in its middle, far side closing:

        >>> from flamefe.outcome.measure import find_measure
        >>> grid = np.meshgrid(np.linspace(0, 0.6, 13), [0, 0.1], [0, 0.01])
        >>> points = np.array(grid).reshape(3, -1).T
        >>> bent = 0.002 * np.abs(points[:, 0] - 0.3)
        >>> found = bar_measures(points, np.column_stack((0 * bent, bent, 0 * bent)))
        >>> print(find_measure(found, "closing rotation"))
        closing rotation 4 mrad
        >>> print(find_measure(found, "camber"))
        camber -0.6 mm
    """
    box = DisplacedBox(
        points=np.asarray(points, dtype=float), displacements=np.asarray(displacements, dtype=float)
    )
    stations = np.linspace(0, 1, STATIONS)
    axis = np.array([_centroid(box, share) for share in stations])
    away = np.hypot(offsets(axis, TO_FAR), offsets(axis, ACROSS))
    straight = "the straight line through its ends"
    return (
        Measure(
            name="camber",
            value=TO_MM * sagitta(axis, TO_FAR),
            unit="mm",
            meaning=f"distance of the middle of the bar's axis from {straight}, in the plane of "
            "its depth; positive when the middle lies on the far side (+y)",
        ),
        Measure(
            name="sweep",
            value=TO_MM * sagitta(axis, ACROSS),
            unit="mm",
            meaning=f"distance of the middle of the bar's axis from {straight}, across its "
            "thickness; positive when the middle lies on the top side (+z)",
        ),
        _closing(box, axis, stations, heated_part),
        Measure(
            name="shortening",
            value=TO_MM * (box.size[0] - chord_length(axis)),
            unit="mm",
            meaning="loss of the straight distance between the centroids of the ends; "
            "positive = shorter",
        ),
        Measure(
            name="shortening along the axis",
            value=TO_MM * (box.size[0] - developed_length(axis)),
            unit="mm",
            meaning="loss of length along the bent axis; positive = shorter",
        ),
        _twist(box, axis),
        Measure(
            name="bow",
            value=TO_MM * float(away.max()),
            unit="mm",
            meaning=f"largest distance of the bar's axis from {straight}; never below 0",
        ),
    )


def _section(box: DisplacedBox, share: float) -> Array:
    """Places spread evenly over the section at ``share`` of the length, (16 * 8, 3) m."""
    depth, thickness = np.meshgrid((np.arange(16) + 0.5) / 16, (np.arange(8) + 0.5) / 8)
    along = np.full(depth.size, share)
    return box.at(np.column_stack((along, depth.ravel(), thickness.ravel())))


def _centroid(box: DisplacedBox, share: float) -> Array:
    return np.asarray(_section(box, share).mean(axis=0))


def _closing(
    box: DisplacedBox, axis: Array, stations: Array, heated: tuple[float, float] | None
) -> Measure:
    low, high = (0.25, 0.75)
    if heated is not None:
        low, high = ((value - float(box.low[0])) / float(box.size[0]) for value in heated)
    start, end = axis[stations <= low + 1e-9], axis[stations >= high - 1e-9]
    if low > high or min(len(start), len(end)) <= FEWEST_IN_AN_END:
        raise OutOfRange(
            f"The heated part lies between {100 * low:.0f} % and {100 * high:.0f} % of the "
            "length; it must leave at least 5 % at both ends to fit straight lines to."
        )
    return Measure(
        name="closing rotation",
        value=1e3 * signed_angle(direction(start), direction(end), ACROSS),
        unit="mrad",
        meaning="turn between straight lines fitted to the axis on both sides of the heated "
        "part; positive when the far side (+y) shortens and the end turns towards it",
    )


def _twist(box: DisplacedBox, axis: Array) -> Measure:
    chord = axis[-1] - axis[0]
    unit = chord / np.linalg.norm(chord)
    start, end = (
        places - places.mean(axis=0) for places in (_section(box, 0.0), _section(box, 1.0))
    )
    start, end = (places - np.outer(places @ unit, unit) for places in (start, end))
    turn = np.arctan2((np.cross(start, end) @ unit).sum(), (start * end).sum())
    return Measure(
        name="twist",
        value=float(np.degrees(turn)),
        unit="deg",
        meaning="turn of the end's section against the start's about the axis; positive "
        "right-handed about +x (from +y towards +z)",
    )
