"""How far a flange of a beam has tilted, as a level laid across it tells."""

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
STILL = 1e-9
"""Tilt that counts as none and has no place, m."""


def flange_tilts(
    points: ArrayLike, displacements: ArrayLike, *, faces: Mapping[str, ArrayLike]
) -> tuple[Measure, ...]:
    """Tilt of a flange against the other one, or against its own ends, in mm over its width.

    Formula: at each station a straight line is fitted to the heights of a flange's face across
    it. Of two flanges: tilt = the slope of the first less that of the second there, times the
    width of the first; how the whole beam turns is not in it. Of a single flange: its slope
    times its width, less what the line between those of its two ends gives there; a heat that
    reaches to an end tilts that too. Told where it is largest.

    Args:
        points: (n, 3) m, nodes in sections across x.
        displacements: (n, 3) m.
        faces: of each flange, one or two, the nodes of its flat face, which lies level before.

    Returns:
        A measure, "tilt of the top flange" or the like; none without faces.

    Raises:
        OutOfRange: shapes don't fit, more than two faces, or a face with fewer than two nodes
            across or two stations, or other stations than the other one.

    Examples:
        A flange 0.1 m wide tilts by 5 mrad in the middle of its length:

        >>> grid = np.meshgrid([0.0, 0.5, 1.0], [0.0, 0.1], [0.0, 0.2])
        >>> points = np.array(grid).reshape(3, -1).T
        >>> moved = np.zeros_like(points)
        >>> edge = (points[:, 0] == 0.5) & (points[:, 1] == 0.1) & (points[:, 2] == 0.2)
        >>> moved[edge, 2] = 0.0005
        >>> top, bottom = points[:, 2] == 0.2, points[:, 2] == 0.0
        >>> (found,) = flange_tilts(points, moved, faces={"top": top, "bottom": bottom})
        >>> print(found.name, round(found.value, 2), found.unit)
        tilt of the top 0.5 mm
    """
    before, moved = checked_shape(points, displacements)
    after = before + without_rigid_motion(before, moved)
    nodes = {flange: np.asarray(chosen) for flange, chosen in faces.items()}
    if not nodes:
        return ()
    if len(nodes) > 2:
        raise OutOfRange(f"{len(nodes)} flanges were given; allowed: one or two.")
    (name, chosen), *other = nodes.items()
    stations, slopes = _slopes(name, before[chosen], after[chosen])
    width = float(np.ptp(before[chosen, 1]))
    if other:
        second, others = other[0]
        places, against = _slopes(second, before[others], after[others])
        if places.shape != stations.shape or not np.allclose(places, stations):
            raise OutOfRange(f"The {name} and the {second} have other stations along x.")
        tilts, words = slopes - against, f"against the {second} there"
    else:
        share = (stations - stations[0]) / (stations[-1] - stations[0])
        tilts = slopes - (slopes[0] + share * (slopes[-1] - slopes[0]))
        words = "against its ends"
    most = int(np.argmax(np.abs(tilts)))
    value = width * float(tilts[most])
    where = "at the station where it is largest"
    if abs(value) > STILL:
        where = f"at x = {1e3 * stations[most]:.0f} mm, where it is largest"
    return (
        Measure(
            name=f"tilt of the {name}",
            value=1e3 * value,
            unit="mm",
            meaning=f"difference in height of the edges of the {name}, {1e3 * width:g} mm apart, "
            f"{where}, {words}; positive when the edge at large y lies higher (+z)",
        ),
    )


def _slopes(flange: str, before: Array, after: Array) -> tuple[Array, Array]:
    """Stations along x, m, and the slope across a flange at each."""
    x = before[:, 0]
    length, width = float(np.ptp(x)), float(np.ptp(before[:, 1]))
    own = np.round((x - x.min()) / max(length, 1e-12), 8)
    shares = np.unique(own)
    if len(shares) < 2 or width <= 0.0:
        raise OutOfRange(
            f"The {flange} has {len(before)} nodes on its face, {len(shares)} stations along x "
            f"and {1e3 * width:g} mm of width; its tilt needs two stations and two places across."
        )
    slopes = []
    for share in shares:
        across, height = after[own == share, 1], after[own == share, 2]
        if len(across) < 2:
            raise OutOfRange(f"The {flange} has a single node across at a station.")
        across = across - across.mean()
        slopes.append(float(across @ height / (across @ across)))
    return x.min() + length * shares, np.asarray(slopes)
