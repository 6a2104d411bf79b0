"""Where a device stands on the skin: the nodes round a place, and what each takes of its force."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import ElementHex1, FacetBasis

from flamefe.basics.errors import OutOfRange
from flamefe.workpiece.body import Body
from flamefe.workpiece.faces import outward_normals

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

FACING = 0.5
"""Least cosine between a facet's normal and a device's direction at which the device sits on it."""
RINGS, AROUND = 3, 8
"""Points at which a foot is sampled: rings of equal area, and points on each (even)."""
ON = 1e-7
"""How far outside a facet, by its size, a point still counts as on it."""
NEWTON = 8
"""Steps to the place on a facet; one is enough on a parallelogram."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Patch:
    """A place of the skin that a device touches.

    Args:
        nodes: which.
        shares: of the force that each node takes, sum 1.
        area: m2 on which the device touches the skin.
        off: m between the place that was named and the skin, along the device's direction.
        beside: m by which the place that was named lies beside the skin.
    """

    nodes: IntArray
    shares: Array
    area: float
    off: float = 0.0
    beside: float = 0.0


def patch_at(body: Body, place: ArrayLike, radius: float, push: ArrayLike, *, both: bool) -> Patch:
    """The round foot of a device about a place of the skin on which it can push.

    The resultant acts at the place itself, whatever the mesh: the foot is sampled at points which
    share their force among the corners of the facet they stand on, and where one half of the
    foot hangs over an edge, the other half counts as little.

    Args:
        body: the part.
        place: (3,) m; the skin nearest to it along ``push`` is taken.
        radius: m.
        push: (3,) direction in which the device pushes; it sits where the skin faces it.
        both: it may sit on the opposite skin as well, whichever is nearer (it is fastened).

    Raises:
        OutOfRange: the part has no skin that faces the device.

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex(), materials=(material("S355"),))
        >>> patch = patch_at(body, (0.25, 0.5, 0.0), 0.1, (0, 0, 1), both=False)
        >>> (patch.shares @ body.points[patch.nodes]).round(9).tolist(), round(patch.area, 6)
        ([0.25, 0.5, 0.0], 0.031416)
    """
    way = np.asarray(push, dtype=float)
    way = way / np.linalg.norm(way)
    facets = body.mesh.boundary_facets()
    facing = outward_normals(body.mesh, facets) @ way
    skin = facets[np.abs(facing) > FACING if both else facing < -FACING]
    if not skin.size:
        raise OutOfRange(
            f"No skin of the part faces a device that pushes along {np.asarray(push).tolist()}; "
            "turn it round, or put it on another side."
        )
    across = _across(way)
    corners = body.mesh.facets[:, skin].T  # each corner next to the one before
    flat = body.points[corners] @ across.T  # (k, 4, 2)
    centre = across @ np.asarray(place, dtype=float)
    ground = _on_facets(flat, centre, radius)
    height = (body.points[corners] @ way) - float(way @ np.asarray(place, dtype=float))
    shares, beside = _shares(flat[ground], centre)
    off = np.abs((shares * height[ground]).sum(axis=1))
    # of the facets that the place stands on, or else stands least beside, the nearest along push
    under = beside <= beside.min() + ON * _size(flat)
    best = int(np.flatnonzero(under)[np.argmin(off[under])])
    side = np.sign(facing[np.isin(facets, skin)])
    near = ground[side[ground] == side[ground[best]]]
    level = float((shares[best] * height[ground[best]]).sum())
    weights, touched = _foot(flat[near], np.abs(height[near].mean(axis=1) - level), centre, radius)
    if not weights.any():
        weights[near == ground[best]] = shares[best]
    touched = max(touched, 1.0 / (RINGS * AROUND))
    nodes, inverse = np.unique(corners[near].reshape(-1), return_inverse=True)
    taken = np.bincount(inverse, weights=weights.reshape(-1), minlength=nodes.size)
    kept = taken > 1e-12
    return Patch(
        nodes=nodes[kept],
        shares=taken[kept] / taken[kept].sum(),
        area=float(np.pi * radius**2) * touched,
        off=float(off[best]),
        beside=float(beside[best]),
    )


def _across(way: Array) -> Array:
    """Two directions (2, 3) across a unit vector."""
    first = np.zeros(3)
    first[int(np.argmin(np.abs(way)))] = 1.0
    first -= (first @ way) * way
    first /= np.linalg.norm(first)
    return np.stack((first, np.cross(way, first)))


def _size(flat: Array) -> float:
    return float(np.ptp(flat.reshape(-1, 2), axis=0).max())


def _on_facets(flat: Array, centre: Array, radius: float) -> IntArray:
    """Facets that come near a place: as far as its radius, or as the nearest one."""
    low, high = flat.min(axis=1), flat.max(axis=1)
    away = np.linalg.norm(np.maximum(np.maximum(low - centre, centre - high), 0.0), axis=1)
    return np.flatnonzero(away <= max(radius, float(away.min())) + ON * _size(flat))


def _shares(flat: Array, points: Array) -> tuple[Array, Array]:
    """Bilinear shares (k, 4) of a facet's corners at its place nearest to a point, and how far.

    Args:
        flat: (k, 4, 2) m corners, in order.
        points: (2,) m, or (k, 2).
    """
    r = np.full((flat.shape[0], 2), 0.5)
    for _ in range(NEWTON):
        shares, slopes = _bilinear(r)
        miss = np.einsum("ka,kai->ki", shares, flat) - points
        jacobian = np.einsum("kaj,kai->kij", slopes, flat)
        size = np.abs(jacobian).max(axis=(1, 2)) ** 2
        jacobian[np.abs(np.linalg.det(jacobian)) <= 1e-12 * size] = np.eye(2)
        r = np.clip(r - np.linalg.solve(jacobian, miss[..., None])[..., 0], -1e3, 1e3)
    r = np.where(np.abs(r - np.round(r)) < ON, np.round(r), r)
    shares, _ = _bilinear(np.clip(r, 0.0, 1.0))
    away = np.linalg.norm(np.einsum("ka,kai->ki", shares, flat) - points, axis=1)
    return shares, away


def _bilinear(r: Array) -> tuple[Array, Array]:
    """Shares (k, 4) of the corners, and their slopes (k, 4, 2), at places r (k, 2) of 0 to 1."""
    x, y = r[:, 0], r[:, 1]
    shares = np.stack(((1 - x) * (1 - y), x * (1 - y), x * y, (1 - x) * y), axis=1)
    slopes = np.stack(
        (
            np.stack((y - 1, x - 1), axis=1), np.stack((1 - y, -x), axis=1),
            np.stack((y, x), axis=1), np.stack((-y, 1 - x), axis=1),
        ),
        axis=1,
    )  # fmt: skip
    return shares, slopes


def _foot(flat: Array, levels: Array, centre: Array, radius: float) -> tuple[Array, float]:
    """Shares (k, 4) of the corners of facets under a foot, and the share of it on the skin.

    Args:
        flat: (k, 4, 2) m corners.
        levels: (k,) m, how far each facet lies from the place's level.
        centre: (2,) m.
        radius: m.
    """
    angles = 2.0 * np.pi * (np.arange(AROUND) + 0.5) / AROUND
    rings = radius * np.sqrt((np.arange(RINGS) + 0.5) / RINGS)
    steps = rings[:, None, None] * np.stack((np.cos(angles), np.sin(angles)), axis=1)
    half = steps[:, : AROUND // 2].reshape(-1, 2)
    weights = np.zeros((flat.shape[0], 4))
    touched = 0
    for step in (np.zeros(2), *half):
        pair = [_stand(flat, levels, centre + sign * step) for sign in (1.0, -1.0)]
        found = [one for one in pair if one is not None]
        touched += len(found) if step.any() else 0
        if len(found) == 2:
            for facet, shares in found:
                weights[facet] += shares
    return weights, touched / (2.0 * half.shape[0])


def _stand(flat: Array, levels: Array, point: Array) -> tuple[int, Array] | None:
    """The facet that a point stands on, and the shares of its corners; None: it stands on none."""
    size = ON * _size(flat)
    low, high = flat.min(axis=1) - size, flat.max(axis=1) + size
    near = np.flatnonzero(((low <= point) & (point <= high)).all(axis=1))
    if not near.size:
        return None
    shares, away = _shares(flat[near], point)
    on = np.flatnonzero(away <= size)
    if not on.size:
        return None
    best = int(on[np.argmin(levels[near[on]])])
    return int(near[best]), shares[best]


def node_areas(body: Body, facets: IntArray) -> Array:
    """Area (n,) m2 that each node carries of some facets.

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex(), materials=(material("S355"),))
        >>> round(float(node_areas(body, body.mesh.boundary_facets()).sum()), 9)
        6.0
    """
    basis = FacetBasis(body.mesh, ElementHex1(), facets=facets, intorder=3)
    area = np.zeros(body.points.shape[0])
    corners = body.mesh.t[:, basis.tind]
    for a in range(8):
        weight = np.broadcast_to(basis.basis[a][0], basis.dx.shape) * basis.dx
        np.add.at(area, corners[a], weight.sum(axis=1))
    return area
