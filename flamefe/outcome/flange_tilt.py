"""How far a flange of a beam has tilted between its ends, as a level laid across it tells."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.measure import Measure
from flamefe.outcome.rigid import checked_shape, without_rigid_motion

Array = NDArray[np.float64]

FLANGE_FACES = {
    "top flange": "top of top flange",
    "bottom flange": "underside of bottom flange",
    "flange": "top of flange",
}
"""Flat outer face of each flange, on which a level is laid."""


def flange_tilts(
    points: ArrayLike, displacements: ArrayLike, *, faces: Mapping[str, ArrayLike]
) -> tuple[Measure, ...]:
    """Tilt of each flange against its own ends, in mm over its width.

    Formula: at each station a straight line is fitted to the heights of the flange's face across
    it; tilt = its slope times the width, less what the same line between the tilts of the two
    ends gives there (so a beam twisted evenly has none). Told where it is largest.

    Args:
        points: (n, 3) m, nodes in sections across x.
        displacements: (n, 3) m.
        faces: for each flange the nodes of its flat face, which lies level before.

    Returns:
        A measure for each flange, "tilt of the top flange" and the like.

    Raises:
        OutOfRange: shapes don't fit, or a face has fewer than two nodes across or two stations.

    Examples:
        A flange 0.1 m wide tilts by 5 mrad in the middle of its length:

        >>> grid = np.meshgrid([0.0, 0.5, 1.0], [0.0, 0.1], [0.0, 0.2])
        >>> points = np.array(grid).reshape(3, -1).T
        >>> moved = np.zeros_like(points)
        >>> edge = (points[:, 0] == 0.5) & (points[:, 1] == 0.1) & (points[:, 2] == 0.2)
        >>> moved[edge, 2] = 0.0005
        >>> found = flange_tilts(points, moved, faces={"top flange": points[:, 2] == 0.2})
        >>> print(found[0].name, round(found[0].value, 2), found[0].unit)
        tilt of the top flange 0.5 mm
    """
    before, moved = checked_shape(points, displacements)
    after = before + without_rigid_motion(before, moved)
    nodes = {flange: np.asarray(chosen) for flange, chosen in faces.items()}
    return tuple(_tilt(flange, before[at], after[at]) for flange, at in nodes.items())


def _tilt(flange: str, before: Array, after: Array) -> Measure:
    x = before[:, 0]
    length, width = float(np.ptp(x)), float(np.ptp(before[:, 1]))
    stations = np.unique(np.round(x / max(length, 1e-12), 9)) * length
    if len(stations) < 2 or width <= 0.0:
        raise OutOfRange(
            f"The {flange} has {len(before)} nodes on its face, {len(stations)} stations along x "
            f"and {1e3 * width:g} mm of width; its tilt needs two stations and two places across."
        )
    slopes = []
    for station in stations:
        here = np.abs(x - station) <= 1e-8 * length
        across, height = after[here, 1], after[here, 2]
        if len(across) < 2:
            raise OutOfRange(f"The {flange} has a single node across at x = {1e3 * station:g} mm.")
        across = across - across.mean()
        slopes.append(float(across @ height / (across @ across)))
    tilts = np.asarray(slopes)
    share = (stations - stations[0]) / length
    between = tilts - (tilts[0] + share * (tilts[-1] - tilts[0]))
    most = int(np.argmax(np.abs(between)))
    return Measure(
        name=f"tilt of the {flange}",
        value=1e3 * width * float(between[most]),
        unit="mm",
        meaning=f"difference in height of the edges of the {flange}, {1e3 * width:g} mm apart, at "
        "the station where it is largest, against its ends; positive when the edge at large y "
        "lies higher (+z)",
    )
