"""A mesh that takes lumps of shrinkage without losing their forces and moments.

A lump is put on the eight quadrature points of the hex that holds it, by the weights of the
trilinear interpolation between them, so that every virtual strain which is trilinear in the hex
does the same work on the points as on the lump. Hence the mesh carries the strain's resultants
(forces) and its first moments (moments) exactly, however coarse it is.

The bending of a hex is the same all along it, so a kink counts as if it sat in the hex's middle.
In a wall a lump may therefore be shared between the hex that holds it and its neighbours, by the
distances of their middles (linear weights, which keep sums and first moments again): then the kink
sits on average where it is, and answers improve with the square of the size of the hexes.
"""

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementHex1, MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.straining.element import POINTS
from flamefe.straining.lumps import Lumps

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

_CHUNK = 2_000_000
_STEPS = 12
_CORNERS = np.array(ElementHex1().doflocs)


class Carrier:
    """A mesh that takes lumps.

    Args:
        mesh: hexes, m.

    Example:
        >>> from flamefe.straining.lumps import lumps_of
        >>> carrier = Carrier(MeshHex().refined(1))
        >>> lump = Lumps(places=[[0.3, 0.2, 0.9]], strains=[[-1e-6, 0, 0, 0, 0, 0]])
        >>> field = carrier.spread(lump)
        >>> back = lumps_of(carrier.mesh, field.T.reshape(-1, 8, 6))
        >>> bool(np.allclose(back.total, lump.total, atol=1e-18))
        True
        >>> bool(np.allclose(back.moment([0, 0, 1.0]), lump.moment([0, 0, 1.0]), atol=1e-18))
        True
    """

    def __init__(self, mesh: MeshHex) -> None:
        self.mesh = mesh
        basis = Basis(mesh, ElementHex1(), intorder=3)
        self.weights: Array = np.asarray(basis.dx)
        self.gauss: Array = np.asarray(basis.X)
        corners = mesh.p[:, mesh.t]  # (3, 8, ne)
        self._corners: Array = np.ascontiguousarray(corners.transpose(2, 1, 0))
        self._low: Array = corners.min(axis=1).T
        self._high: Array = corners.max(axis=1).T
        self._neighbours: IntArray = _neighbours_of(mesh)

    def spread(self, lumps: Lumps, *, normals: Array | None = None, slack: float = 1e-6) -> Array:
        """Inherent strain (6, ne * 8) at the quadrature points that stands for the lumps.

        Args:
            lumps: to be put on the mesh.
            normals: (k, 3) or (3,), of the wall that each lump lies in: it is shared with the
                neighbours within the wall; None: not shared.
            slack: m by which a lump may lie beyond the mesh; it is then moved onto it.

        Raises:
            OutOfRange: a lump lies farther off the mesh.
        """
        hexes, local = self.find(lumps.places, slack=slack)
        owner, part = np.arange(len(hexes)), np.ones(len(hexes))
        if normals is not None and len(hexes):
            ways = np.broadcast_to(np.asarray(normals, dtype=float), (len(hexes), 3))
            owner, part, hexes, local = self._shared(hexes, local, ways)
        share = np.repeat(part[:, None], POINTS, axis=1)
        for axis in range(3):
            here = self.gauss[axis]
            share *= (local[:, axis, None] - (1.0 - here)) / (2.0 * here - 1.0)
        field = np.zeros((self.mesh.t.shape[1], POINTS, 6))
        np.add.at(field, hexes, share[:, :, None] * lumps.strains[owner][:, None, :])
        field /= self.weights[:, :, None]
        return np.ascontiguousarray(field.reshape(-1, 6).T)

    def find(self, places: Array, *, slack: float = 1e-6) -> tuple[IntArray, Array]:
        """The hex of each place and where in it.

        Args:
            places: (k, 3) m.
            slack: m by which a place may lie beyond the mesh.

        Returns:
            Hexes (k,) and coordinates in them (k, 3), 0 to 1; of a place beyond the mesh those of
            the nearest place on it.

        Raises:
            OutOfRange: a place lies farther off the mesh.
        """
        points = np.asarray(places, dtype=float).reshape(-1, 3)
        step = max(1, _CHUNK // max(1, self.mesh.t.shape[1]))
        owners: list[IntArray] = []
        inside: list[Array] = []
        for start in range(0, len(points), step):
            found = self._find(points[start : start + step], slack)
            owners.append(found[0])
            inside.append(found[1])
        if not owners:
            return np.zeros(0, dtype=np.int64), np.zeros((0, 3))
        return np.concatenate(owners), np.concatenate(inside)

    def _shared(
        self, hexes: IntArray, local: Array, normals: Array
    ) -> tuple[IntArray, Array, IntArray, Array]:
        """Lumps (owner, part, hex, place in it) shared along both directions of the wall.

        On distorted hexes what sharing leaves of the first moment within the wall is made up by a
        shift of the part that stays.
        """
        start = self._place(hexes, local)
        owner, part = np.arange(len(hexes)), np.ones(len(hexes))
        ways = self._ways(hexes, local)
        through = np.abs(np.einsum("mji,mj->mi", ways, normals)).argmax(axis=1)
        number = np.arange(len(hexes))
        directions = [ways[number, :, (through + turn) % 3] for turn in (1, 2)]
        for direction in directions:
            fit = np.abs(np.einsum("mji,mj->mi", self._ways(hexes, local), direction[owner]))
            axis = fit.argmax(axis=1)
            owner, part, hexes, local = self._shared_along(axis, owner, part, hexes, local)
        away = part[:, None] * (start[owner] - self._place(hexes, local))
        left = np.stack([np.bincount(owner, away[:, i], len(number)) for i in range(3)], axis=1)
        left -= np.einsum("mi,mi->m", left, normals)[:, None] * normals
        stays = number  # the first of all parts lie in the hexes that hold the lumps
        moved = self._place(hexes[stays], local[stays]) + left / part[stays, None]
        local[stays] = self._inverse(moved, hexes[stays])
        return owner, part, hexes, local

    def _shared_along(
        self, axis: IntArray, owner: IntArray, part: Array, hexes: IntArray, local: Array
    ) -> tuple[IntArray, Array, IntArray, Array]:
        """Share lumps along one direction of their hexes, between the middles of two of them."""
        number = np.arange(len(hexes))
        side = (local[number, axis] > 0.5).astype(np.int64)
        other = self._neighbours[hexes, axis, side]
        has = other >= 0
        middle, edge = local.copy(), local.copy()
        middle[number, axis], edge[number, axis] = 0.5, side
        theirs = np.clip(self._inverse(self._place(hexes, edge), np.where(has, other, hexes)), 0, 1)
        facing = np.abs(theirs - 0.5).argmax(axis=1)
        theirs[number, facing] = 0.5
        start = self._place(hexes, middle)
        way = self._place(np.where(has, other, hexes), theirs) - start
        length = np.maximum((way**2).sum(axis=1), 1e-300)
        weight = ((self._place(hexes, local) - start) * way).sum(axis=1) / length
        weight = np.where(has, np.clip(weight, 0.0, 1.0), 0.0)
        own = np.where(has[:, None], middle, local)
        return (
            np.concatenate((owner, owner[has])),
            np.concatenate((part * (1.0 - weight), (part * weight)[has])),
            np.concatenate((hexes, other[has])),
            np.concatenate((own, theirs[has])),
        )

    def _ways(self, hexes: IntArray, local: Array) -> Array:
        """Unit vectors along the three directions of hexes, in columns, (m, 3, 3)."""
        slope = self._slope(hexes, local)
        return np.asarray(slope / np.linalg.norm(slope, axis=1, keepdims=True))

    def _find(self, points: Array, slack: float) -> tuple[IntArray, Array]:
        near = np.ones((len(points), self._low.shape[0]), dtype=bool)
        for axis in range(3):
            value = points[:, axis, None]
            near &= (value >= self._low[:, axis] - slack) & (value <= self._high[:, axis] + slack)
        which, hexes = np.nonzero(near)
        local = np.clip(self._inverse(points[which], hexes), 0.0, 1.0)
        off = np.linalg.norm(self._place(hexes, local) - points[which], axis=1)
        order = np.lexsort((off, which))
        first = np.unique(which[order], return_index=True)[1]
        best = order[first]
        far = np.ones(len(points), dtype=bool)
        far[which[best]] = off[best] > slack * (1.0 + 1e-9) + 1e-12
        if far.any():
            x, y, z = 1e3 * points[int(np.flatnonzero(far)[0])]
            raise OutOfRange(
                f"{int(far.sum())} places of heat lie off the workpiece, the first at "
                f"({x:.4g}, {y:.4g}, {z:.4g}) mm; move the heat, or shorten it at the edge."
            )
        return np.asarray(hexes[best], dtype=np.int64), local[best]

    def _inverse(self, points: Array, hexes: IntArray) -> Array:
        """Coordinates in the hexes by Newton's method, (m, 3)."""
        local = np.full(points.shape, 0.5)
        for _ in range(_STEPS):
            off = points - self._place(hexes, local)
            change = np.linalg.solve(self._slope(hexes, local), off[..., None])[..., 0]
            local = np.clip(local + change, -1.0, 2.0)
            if np.abs(change).max(initial=0.0) < 1e-14:
                break
        return local

    def _place(self, hexes: IntArray, local: Array) -> Array:
        return np.asarray(np.einsum("ma,mai->mi", shares_of(local), self._corners[hexes]))

    def _slope(self, hexes: IntArray, local: Array) -> Array:
        """d place_i / d local_j, (m, 3, 3)."""
        factors = _factors(local)
        slopes = np.empty((len(local), 8, 3))
        for j in range(3):
            sign = np.where(_CORNERS[:, j] > 0.5, 1.0, -1.0)
            others = [factors[:, :, i] for i in range(3) if i != j]
            slopes[:, :, j] = sign * others[0] * others[1]
        return np.asarray(np.einsum("maj,mai->mij", slopes, self._corners[hexes]))


def _factors(local: Array) -> Array:
    """(m, 8, 3) one-dimensional factors of the shape functions."""
    high = _CORNERS[None] > 0.5
    return np.where(high, local[:, None, :], 1.0 - local[:, None, :])


def shares_of(local: Array) -> Array:
    """Shape functions (m, 8) of a hex at coordinates (m, 3) in it, 0 to 1.

    Args:
        local: coordinates.

    Example:
        >>> shares_of(np.full((1, 3), 0.5))[0, :3].tolist()
        [0.125, 0.125, 0.125]
    """
    return np.asarray(_factors(np.asarray(local, dtype=float)).prod(axis=2))


def _neighbours_of(mesh: MeshHex) -> IntArray:
    """(ne, 3, 2) the hex beyond each side of each hex, along each direction; -1: none."""
    count = mesh.t.shape[1]
    sides = np.empty((count, 3, 2, 4), dtype=np.int64)
    for axis in range(3):
        for side in (0, 1):
            on = np.flatnonzero(_CORNERS[:, axis] == side)
            sides[:, axis, side] = np.sort(mesh.t[on].T, axis=1)
    _, key = np.unique(sides.reshape(-1, 4), axis=0, return_inverse=True)
    key = key.reshape(-1)
    order = np.argsort(key, kind="stable")
    twin = np.flatnonzero(key[order][1:] == key[order][:-1])
    one, two = order[twin], order[twin + 1]
    result = np.full(count * 6, -1, dtype=np.int64)
    result[one], result[two] = two // 6, one // 6
    return result.reshape(count, 3, 2)
