"""How far the plate between two stiffeners of a panel has bowed, as a straight edge tells."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.measure import Measure
from flamefe.outcome.rigid import checked_shape, without_rigid_motion

Array = NDArray[np.float64]

STILL = 1e-9
"""Bow that counts as none and has no place, m."""
PLATE_FACE = "underside of plate"
"""The bare face of a panel, on which the bays are measured."""
TIP_FACE = "stiffener {number} tip"
"""Face that tells where a stiffener stands."""


def bay_bows(
    points: ArrayLike, displacements: ArrayLike, *, face: ArrayLike, lines: Sequence[float]
) -> tuple[Measure, ...]:
    """How far the middle of each inner bay has moved towards the stiffeners, in mm.

    Formula: at each station bow = height of the bare face in the middle of the bay, less the mean
    of its heights at the two stiffeners. Told where it is largest either way::

         |           |        z
        _|_.-^^^^^-._|_       ^   + as fillet welds at the stiffeners leave it

    Bays are numbered as their faces are: the one between stiffeners 1 and 2 is bay 2.

    Args:
        points: (n, 3) m, nodes in sections across x.
        displacements: (n, 3) m.
        face: the nodes of the plate's bare face, flat before, at least two at each station.
        lines: rising y of the stiffeners' middles, m.

    Returns:
        A measure for each bay between two stiffeners, "bow of bay 2" and on; none for a single
        stiffener.

    Raises:
        OutOfRange: shapes don't fit, lines don't rise or lie beside the face, or a station has
            fewer than two nodes.

    Examples:
        The middle between two stiffeners rises by 0.4 mm at half length:

        >>> grid = np.meshgrid([0.0, 0.5, 1.0], [0.0, 0.1, 0.2, 0.3, 0.4], [0.0])
        >>> points = np.array(grid).reshape(3, -1).T
        >>> moved = np.zeros_like(points)
        >>> moved[(points[:, 0] == 0.5) & (points[:, 1] == 0.2), 2] = 0.0004
        >>> (bay,) = bay_bows(points, moved, face=np.arange(15), lines=[0.1, 0.3])
        >>> print(bay.name, round(bay.value, 3), bay.unit)
        bow of bay 2 0.4 mm
    """
    before, moved = checked_shape(points, displacements)
    nodes = np.asarray(face)
    places = np.asarray(lines, dtype=float)
    across = before[nodes, 1]
    if np.any(np.diff(places) <= 0.0) or np.any((places < across.min()) | (places > across.max())):
        raise OutOfRange(
            f"Stiffeners at y = {', '.join(f'{1e3 * y:g}' for y in places)} mm; they must rise "
            f"and lie within the plate, {1e3 * across.min():g} to {1e3 * across.max():g} mm."
        )
    after = before + without_rigid_motion(before, moved)
    stations = _stations(before[nodes, 0])
    found = []
    for bay, (left, right) in enumerate(pairwise(places), start=2):
        bows = []
        for here in stations:
            at = nodes[here][np.argsort(across[here])]
            heights = np.interp([left, 0.5 * (left + right), right], before[at, 1], after[at, 2])
            bows.append(float(heights[1] - 0.5 * (heights[0] + heights[2])))
        most = int(np.argmax(np.abs(bows)))
        where = "at the station where it is largest"
        if abs(bows[most]) > STILL:
            station = float(before[nodes, 0][stations[most]].mean())
            where = f"at x = {1e3 * station:.0f} mm, where it is largest"
        found.append(
            Measure(
                name=f"bow of bay {bay}",
                value=1e3 * bows[most],
                unit="mm",
                meaning=f"height of the plate midway between stiffeners {bay - 1} and {bay}, "
                f"{1e3 * (right - left):g} mm apart, over the line through it at both, {where}; "
                "positive when the middle lies towards the "
                "stiffeners (+z)",
            )
        )
    return tuple(found)


def _stations(x: Array) -> list[NDArray[np.bool_]]:
    """Which nodes of the face lie at each station along x."""
    length = max(float(np.ptp(x)), 1e-12)
    own = np.round((x - x.min()) / length, 8)
    stations = [own == place for place in np.unique(own)]
    if any(np.count_nonzero(here) < 2 for here in stations):
        raise OutOfRange(
            "A station of the panel has a single node on its plate; a bow needs two or more."
        )
    return stations
