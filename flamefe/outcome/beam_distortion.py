"""Distortion of a beam of any cross section, by plane sections fitted at its stations."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.line import chord_length, developed_length, offsets, sagitta
from flamefe.outcome.measure import Measure
from flamefe.outcome.rigid import checked_shape, signed_angle, without_rigid_motion

Array = NDArray[np.float64]

TO_MM = 1e3
OUTER_SHARE = 0.5
"""Share of a cold end, from the end of the beam, whose sections tell how the end has turned."""
ALONG, TO_SIDE, UPWARDS = np.eye(3)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Stations:
    """Sections of a beam after distortion, from start to end.

    Args:
        shares: (ns,) place along the length, 0 to 1.
        centroids: (ns, 3) m, after distortion.
        normals: (ns, 3), of planes fitted to the sections.
        turns: rotation (3, 3) of the first and of the last section.
        warped: (ns,) m, largest distance of a section's nodes from where the section, moved
            without a change of shape, would have them.
        length: before distortion, m.
    """

    shares: Array
    centroids: Array
    normals: Array
    turns: tuple[Array, Array]
    warped: Array
    length: float

    @classmethod
    def of(cls, before: Array, after: Array, areas: Array) -> "_Stations":
        x = before[:, 0]
        length = float(np.ptp(x))
        order = np.argsort(x, kind="stable")
        breaks = np.flatnonzero(np.diff(x[order]) > 1e-9 * length) + 1
        groups = np.split(order, breaks)
        if len(groups) < 2 or min(len(group) for group in groups) < 3:
            raise OutOfRange(
                "The nodes don't lie in sections across x, so the part is no beam; measure it as a "
                "part of any shape."
            )
        shares, centroids, turns, warped = [], [], [], []
        for group in groups:
            weights = areas[group] / areas[group].sum()
            old, new = before[group], after[group]
            at, to = weights @ old, weights @ new
            turn = _turn(old - at, new - to, weights)
            off = (new - to) - (old - at) @ turn.T
            shares.append((at[0] - x.min()) / length)
            centroids.append(to)
            turns.append(turn)
            warped.append(float(np.linalg.norm(off, axis=1).max()))
        return cls(
            shares=np.array(shares),
            centroids=np.array(centroids),
            normals=np.array([turn @ ALONG for turn in turns]),
            turns=(turns[0], turns[-1]),
            warped=np.array(warped),
            length=length,
        )

    def end_normals(self, heated: tuple[float, float]) -> tuple[Array, Array]:
        """Mean normals of the outer sections of the cold ends beside the shares ``heated``."""
        low, high = heated
        cut = OUTER_SHARE * low, 1.0 - OUTER_SHARE * (1.0 - high)
        start, end = self.shares <= cut[0] + 1e-9, self.shares >= cut[1] - 1e-9
        start[0], end[-1] = True, True
        return self._mean(start), self._mean(end)

    def _mean(self, chosen: NDArray[np.bool_]) -> Array:
        lengths = np.gradient(self.shares)[chosen]
        return np.asarray(lengths @ self.normals[chosen] / lengths.sum())


def beam_measures(
    points: ArrayLike,
    displacements: ArrayLike,
    *,
    areas: ArrayLike,
    heated_part: tuple[float, float] | None = None,
) -> tuple[Measure, ...]:
    """Distortion of a beam, in mm, degrees and milliradians.

    Rigid motion is taken out first (`without_rigid_motion`); rotations may be large. The beam's
    axis is the line of its section centroids. A section's turn is that of the rigid section that
    fits its nodes best, weighted by the area that each stands for (a plane section).

    Seen from the side (y into the paper, x to the right, z up)::

          o                       o     closing rotation, upright > 0: the top side shortens, the
            \\    top side closes  /      ends turn up against each other; camber is then < 0
              \\                /
                o------------o        camber > 0: the middle of the axis lies above the chord (+z)
             start   heated   end

    Seen from above (z towards the reader, y up the paper) the same holds for sweep (> 0: the
    middle lies on the side of large y) and for the closing rotation sideways (> 0: the side of
    large y shortens; sweep is then < 0).

    Twist > 0: the end has turned right-handed about +x (from +y towards +z) against the start.
    Bow is the largest distance of the axis from its chord in any direction. Closing rotations
    compare the outer halves of the cold ends beside the heated part; where there is no cold end,
    its last section. Bending by loads or weight between these counts too.

    Args:
        points: (n, 3) m, nodes in sections across x.
        displacements: (n, 3) m.
        areas: (n,) m2 that each node stands for in its section.
        heated_part: smallest and largest x of the heated part, m; None: the middle half.

    Returns:
        Measures; find one by name with `find_measure`.

    Raises:
        OutOfRange: shapes don't fit, or the nodes don't lie in sections.

    Examples:
        A beam kinked by 4 mrad in its middle, its top closing:

        >>> from flamefe.outcome.measure import find_measure
        >>> grid = np.meshgrid(np.linspace(0, 0.6, 13), [0, 0.05], [0, 0.1])
        >>> points = np.array(grid).reshape(3, -1).T
        >>> bent = 0.002 * np.abs(points[:, 0] - 0.3)
        >>> tilt = 0.002 * np.sign(points[:, 0] - 0.3) * (0.05 - points[:, 2])
        >>> found = beam_measures(points, np.column_stack((tilt, 0 * bent, bent)),
        ...                       areas=np.full(len(points), 0.00125))
        >>> print(find_measure(found, "closing rotation, upright"))
        closing rotation, upright 4 mrad
        >>> print(find_measure(found, "camber"))
        camber -0.6 mm
    """
    before, moved = checked_shape(points, displacements)
    weights = np.asarray(areas, dtype=float)
    if weights.shape != before.shape[:1] or not (weights > 0.0).all():
        raise OutOfRange(
            f"{len(before)} nodes need as many areas above 0; given: shape {weights.shape}."
        )
    after = before + without_rigid_motion(before, moved)
    sections = _Stations.of(before, after, weights)
    axis = sections.centroids
    heated = (0.25, 0.75)
    if heated_part is not None:
        first = float(before[:, 0].min())
        low, high = ((value - first) / sections.length for value in heated_part)
        heated = (min(max(low, 0.0), 1.0), min(max(high, 0.0), 1.0))
    start, end = sections.end_normals(heated)
    away = np.hypot(offsets(axis, TO_SIDE), offsets(axis, UPWARDS))
    straight = "the straight line through its ends"
    between = "turn between plane sections fitted to the cold ends on both sides of the heated part"
    return (
        Measure(
            name="camber",
            value=TO_MM * sagitta(axis, UPWARDS),
            unit="mm",
            meaning=f"distance of the middle of the beam's axis from {straight}, upright; positive "
            "when the middle lies above (+z)",
        ),
        Measure(
            name="sweep",
            value=TO_MM * sagitta(axis, TO_SIDE),
            unit="mm",
            meaning=f"distance of the middle of the beam's axis from {straight}, sideways; "
            "positive when the middle lies on the side of large y",
        ),
        Measure(
            name="closing rotation, upright",
            value=1e3 * signed_angle(start, end, -TO_SIDE),
            unit="mrad",
            meaning=f"{between}; positive when the top side (+z) shortens",
        ),
        Measure(
            name="closing rotation, sideways",
            value=1e3 * signed_angle(start, end, UPWARDS),
            unit="mrad",
            meaning=f"{between}; positive when the side of large y shortens",
        ),
        Measure(
            name="shortening",
            value=TO_MM * (sections.length - chord_length(axis)),
            unit="mm",
            meaning="loss of the straight distance between the centroids of the ends; "
            "positive = shorter",
        ),
        Measure(
            name="shortening along the axis",
            value=TO_MM * (sections.length - developed_length(axis)),
            unit="mm",
            meaning="loss of length along the bent axis; positive = shorter",
        ),
        Measure(
            name="twist",
            value=float(np.degrees(_twist(*sections.turns, axis))),
            unit="deg",
            meaning="turn of the end's section against the start's about the axis; positive "
            "right-handed about +x (from +y towards +z)",
        ),
        Measure(
            name="bow",
            value=TO_MM * float(away.max()),
            unit="mm",
            meaning=f"largest distance of the beam's axis from {straight}; never below 0",
        ),
        Measure(
            name="distortion of a section",
            value=TO_MM * float(sections.warped.max()),
            unit="mm",
            meaning="largest distance of a place from where its section, moved without a change of "
            "shape, would have it; never below 0",
        ),
    )


def _turn(before: Array, after: Array, weights: Array) -> Array:
    """Rotation (3, 3) that fits places about their centroid best, weighted."""
    left, _, right = np.linalg.svd((after * weights[:, None]).T @ before)
    mirror = np.array([1.0, 1.0, np.sign(np.linalg.det(left @ right))])
    return np.asarray((left * mirror) @ right)


def _twist(start: Array, end: Array, axis: Array) -> float:
    """Turn from one rotation to another about the chord of an axis, rad, right-handed."""
    return signed_angle(start @ TO_SIDE, end @ TO_SIDE, axis[-1] - axis[0])
