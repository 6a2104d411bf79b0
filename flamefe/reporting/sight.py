"""From above or from below: which way a viewer sees the heats that the part itself may hide."""

import numpy as np

from flamefe.reporting.skin import Array, Indices

CLEAR = 0.3
"""Upright part of a viewing direction up to which it may be turned to look from below."""
MOST_PLACES = 12


def clear_way(towards: Array, places: Array, points: Array, quads: Indices) -> Array:
    """A direction to the viewer, turned to look from below where that shows more of the places.

    Args:
        towards: (3,) unit, from the part to the viewer.
        places: (k, 3) mm, on the surface.
        points: (n, 3) mm, nodes.
        quads: (nq, 4) of the outside.

    Returns:
        The direction, or the same from below.

    Example:
        A place on a wall under a roof is seen from below only:

        >>> wall = [(0, 0, 0), (10, 0, 0), (10, 0, 10), (0, 0, 10)]
        >>> roof = [(0, -9, 10), (10, -9, 10), (10, 0, 10), (0, 0, 10)]
        >>> away = np.array([0.0, -0.9, 0.4])
        >>> quads = np.arange(8).reshape(2, 4)
        >>> clear_way(away, np.array([[5.0, 0.0, 8.0]]), np.array(wall + roof), quads)[2].item()
        -0.4
    """
    if not len(places) or not 0.0 < towards[2] / np.linalg.norm(towards) <= CLEAR + 0.2:
        return towards
    some = places[:: max(1, len(places) // MOST_PLACES)]
    below = towards * np.array([1.0, 1.0, -1.0])
    seen = [_seen(way, some, points, quads) for way in (towards, below)]
    return below if seen[1] > seen[0] else towards


def _seen(way: Array, places: Array, points: Array, quads: Indices) -> int:
    """How many places no outer face hides from a viewer in a direction."""
    corner = points[quads]
    triangles = np.concatenate((corner[:, [0, 1, 2]], corner[:, [0, 2, 3]]))
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    edge, other = b - a, c - a
    across = np.cross(np.broadcast_to(way, other.shape), other)
    size = np.einsum("ij,ij->i", edge, across)
    safe = np.where(np.abs(size) > 1e-12, size, np.inf)
    count = 0
    reach = 1e-3 * float(np.ptp(points, axis=0).max())
    for place in places:
        off = place - a
        u = np.einsum("ij,ij->i", off, across) / safe
        turned = np.cross(off, edge)
        v = turned @ way / safe
        far = np.einsum("ij,ij->i", turned, other) / safe
        hit = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (far > reach)
        count += not bool(hit.any())
    return count
