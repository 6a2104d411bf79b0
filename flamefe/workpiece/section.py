"""The cross section of a beam: a mesh of quadrilaterals with named parts and named edge faces."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from flamefe.basics.errors import MeshError

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Section:
    """A cross section in its own axes: y to the side, z up; the beam runs along x.

    The ready shapes put the origin in the lower left corner of their bounding box. "Left" is the
    side of small y, "right" that of large y: so it looks to someone who stands beyond the end of
    the beam and looks back along it (x comes towards him).

    Args:
        name: of the section, for reports.
        points: (n, 2), y and z of the nodes, m.
        quads: (m, 4) nodes of each quadrilateral, counter-clockwise.
        parts: for each named part (a plate, a leg, a wall) the indices of its quads.
        faces: for each named face of the beam the edges it grows from, (k, 2) nodes.

    Raises:
        MeshError: with every fault found: a number that is no node or quad, a loose point, a quad
            folded or flat at a corner or not counter-clockwise, edges that don't match from quad
            to quad, pieces that hang together at a point or not at all, a quad in no or in two
            parts; and, once the mesh itself is sound, a boundary edge in no or in two faces or a
            face edge that is not on the boundary.

    Example:
        >>> bar = Section(name="flat", points=[(0, 0), (0.1, 0), (0.1, 0.01), (0, 0.01)],
        ...               quads=[(0, 1, 2, 3)], parts={"bar": [0]},
        ...               faces={"bottom": [(0, 1)], "top": [(2, 3)], "edges": [(1, 2), (3, 0)]})
        >>> bar.width, bar.height, len(bar.loops)
        (0.1, 0.01, 1)
    """

    name: str
    points: Array
    quads: Indices
    parts: dict[str, Indices]
    faces: dict[str, Indices]

    def __post_init__(self) -> None:
        object.__setattr__(self, "points", _kept(self.points, np.float64))
        object.__setattr__(self, "quads", _kept(self.quads, np.int64))
        for field in ("parts", "faces"):
            named = getattr(self, field)
            kept = {name: _kept(numbers, np.int64) for name, numbers in named.items()}
            object.__setattr__(self, field, kept)
        faults = list(_shape_faults(self))
        if not faults:
            mesh_faults = list(_mesh_faults(self.points, self.quads))
            face_faults = [] if mesh_faults else _face_faults(self)
            faults = [*mesh_faults, *_part_faults(self), *face_faults]
        if faults:
            raise MeshError(f"The section {self.name!r} can't be used:\n- " + "\n- ".join(faults))

    @property
    def width(self) -> float:
        """Extent along y, m."""
        return float(np.ptp(self.points[:, 0]))

    @property
    def height(self) -> float:
        """Extent along z, m."""
        return float(np.ptp(self.points[:, 1]))

    @property
    def boundary(self) -> Indices:
        """Edges of one quad only, (k, 2) nodes, the material to the left of their direction."""
        return _boundary(self.quads)

    @property
    def loops(self) -> tuple[Indices, ...]:
        """Closed rings of boundary nodes: the outer one counter-clockwise, then holes clockwise."""
        return boundary_loops(self.points, self.quads)


def boundary_loops(points: Array, quads: Indices) -> tuple[Indices, ...]:
    """Closed rings of boundary nodes: the outer one counter-clockwise, then holes clockwise.

    Args:
        points: (n, 2), m.
        quads: (m, 4), nodes counter-clockwise; in one piece, joined by edges.

    Returns:
        Nodes of each ring, the largest hole last.

    Example:
        >>> points = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=float)
        >>> [ring.tolist() for ring in boundary_loops(points, np.array([[0, 1, 2, 3]]))]
        [[0, 1, 2, 3]]
    """
    loops = _loops(_boundary(quads))
    areas = [loop_area(points[loop]) for loop in loops]
    return tuple(loops[i] for i in np.argsort(areas)[::-1])


def loop_area(points: ArrayLike) -> float:
    """Area within a closed polygon, above 0 where it runs counter-clockwise.

    Formula: 1/2 sum (y_i z_(i+1) - y_(i+1) z_i).

    Args:
        points: corners in order, (n, 2), m; the last joins the first.

    Returns:
        Area, m2.

    Example:
        >>> loop_area([(0, 0), (2, 0), (2, 1), (0, 1)])
        2.0
    """
    y, z = np.asarray(points, dtype=float).T
    return float(0.5 * np.sum(y * np.roll(z, -1) - np.roll(y, -1) * z))


def scaled_jacobians(points: Array, quads: Indices) -> Array:
    """Sine of the angle at each corner of quadrilaterals: 1 is square, 0 flat, below 0 folded.

    Formula: cross product of the two edges that leave the corner over the product of their
    lengths.

    Args:
        points: (n, 2), m.
        quads: (m, 4), nodes counter-clockwise.

    Returns:
        (m, 4), from -1 to 1; 0 at an edge without length.

    Source: P. M. Knupp, Algebraic mesh quality metrics, SIAM J. Sci. Comput. 23 (2001) 193
    (from memory).

    Example:
        >>> points = np.array([(0, 0), (3, 0), (3, 1), (0, 1)], dtype=float)
        >>> scaled_jacobians(points, np.array([[0, 1, 2, 3]])).tolist()
        [[1.0, 1.0, 1.0, 1.0]]
    """
    corners = points[quads]
    ahead = np.roll(corners, -1, axis=1) - corners
    back = np.roll(corners, 1, axis=1) - corners
    cross = ahead[..., 0] * back[..., 1] - ahead[..., 1] * back[..., 0]
    lengths = np.linalg.norm(ahead, axis=-1) * np.linalg.norm(back, axis=-1)
    return np.asarray(np.divide(cross, lengths, out=np.zeros_like(cross), where=lengths > 0.0))


def _kept(numbers: ArrayLike, kind: type) -> NDArray[np.float64] | NDArray[np.int64]:
    """A copy that can't be changed from outside; indices given as numbers that are no integers
    stay as they are, to be refused."""
    given = np.array(numbers)
    whole = kind is not np.int64 or given.size == 0 or np.issubdtype(given.dtype, np.integer)
    kept = given.astype(kind) if whole else given
    kept.setflags(write=False)
    return np.asarray(kept)


def _shape_faults(section: Section) -> Iterator[str]:
    points, quads = section.points, section.quads
    if points.ndim != 2 or points.shape[1] != 2 or not np.isfinite(points).all():
        yield f"points have the shape {points.shape}; give finite numbers, (n, 2)"
    if quads.ndim != 2 or quads.shape[1] != 4 or len(quads) == 0:
        yield f"quads have the shape {quads.shape}; give one or more, (m, 4)"
    wanted: list[tuple[str, Indices, int, tuple[int, ...]]] = []
    wanted.append(("the quads", quads, len(points), (len(quads), 4)))
    for name, numbers in section.parts.items():
        wanted.append((f"part {name!r}", numbers, len(quads), (numbers.size,)))
    for name, numbers in section.faces.items():
        wanted.append((f"face {name!r}", numbers, len(points), (len(numbers), 2)))
    for what, numbers, number, shape in wanted:
        if not np.issubdtype(numbers.dtype, np.integer):
            yield f"{what} must be given as whole numbers, not {numbers.dtype}"
        elif numbers.size == 0 or numbers.shape != shape:
            yield f"{what} has the shape {numbers.shape}; give {shape} with at least one row"
        elif numbers.min() < 0 or numbers.max() >= number:
            yield (
                f"{what} speaks of {numbers.min()} to {numbers.max()}; "
                f"there are the numbers 0 to {number - 1}"
            )


def _mesh_faults(points: Array, quads: Indices) -> Iterator[str]:
    loose = np.setdiff1d(np.arange(len(points)), quads)
    if loose.size:
        yield f"{loose.size} points belong to no quad, the first is {loose[0]}; leave them out"
    worst = scaled_jacobians(points, quads).min(axis=1)
    bad = np.flatnonzero(worst <= 1e-6)
    if bad.size:
        y, z = points[quads[bad[0]]].mean(axis=0) * 1e3
        yield (
            f"{bad.size} quads are folded, flat or not counter-clockwise, the first is {bad[0]} "
            f"near y = {y:.4g}, z = {z:.4g} mm; list the nodes of each counter-clockwise"
        )
        return
    directed = _edges(quads)
    _, count = np.unique(directed, axis=0, return_counts=True)
    if (count > 1).any():
        yield (
            f"{int((count > 1).sum())} edges are run through in the same direction by several "
            "quads, which thus lie on each other; an edge may bound at most two quads, one a side"
        )
        return
    pairs = coo_matrix((np.ones(len(directed)), directed.T), shape=(len(points),) * 2)
    pieces = connected_components(pairs, directed=False)[0] - loose.size
    if pieces > 1:
        yield f"it falls into {pieces} loose pieces; join them, or make a section of each"
    edges = _boundary(quads)
    nodes, count = np.unique(edges[:, 0], return_counts=True)
    if (count > 1).any():
        y, z = points[nodes[count > 1][0]] * 1e3
        yield f"quads touch at a mere point near y = {y:.4g}, z = {z:.4g} mm; join them by an edge"
    hanging = _hanging(points, edges)
    if hanging is not None:
        y, z = points[hanging] * 1e3
        yield (
            f"the mesh does not match near y = {y:.4g}, z = {z:.4g} mm: a node lies on an edge, or "
            "on another node, that is not joined to it; put the same nodes on both sides"
        )


def _part_faults(section: Section) -> Iterator[str]:
    owners = np.bincount(
        np.concatenate([np.zeros(0, np.int64), *section.parts.values()]),
        minlength=len(section.quads),
    )
    for times, what in ((owners == 0, "no part"), (owners > 1, "more than one part")):
        if times.any():
            first = int(np.flatnonzero(times)[0])
            yield f"{int(times.sum())} quads are in {what}, the first is {first}; put each in one"


def _face_faults(section: Section) -> Iterator[str]:
    edges = np.sort(section.boundary, axis=1)
    number = len(section.points)
    wanted = edges[:, 0] * number + edges[:, 1]
    named = {
        name: np.sort(pairs, axis=1) @ np.array([number, 1])
        for name, pairs in section.faces.items()
    }
    for name, keys in named.items():
        inner = ~np.isin(keys, wanted)
        if inner.any():
            yield f"{int(inner.sum())} edges of face {name!r} are not on the boundary"
    keys = np.concatenate([np.zeros(0, np.int64), *named.values()])
    found = Counter(keys.tolist())
    times = np.array([found[key] for key in wanted.tolist()])
    for wrong, what in ((times == 0, "no face"), (times > 1, "more than one face")):
        if wrong.any():
            y, z = section.points[edges[wrong][0]].mean(axis=0) * 1e3
            yield (
                f"{int(wrong.sum())} boundary edges are in {what}, the first near "
                f"y = {y:.4g}, z = {z:.4g} mm; put each in one"
            )


def _edges(quads: Indices) -> Indices:
    """All edges as the quads run through them, (4 m, 2)."""
    return np.asarray(np.stack([quads, np.roll(quads, -1, axis=1)], axis=-1).reshape(-1, 2))


def _boundary(quads: Indices) -> Indices:
    edges = _edges(quads)
    _, inverse, count = np.unique(
        np.sort(edges, axis=1), axis=0, return_inverse=True, return_counts=True
    )
    return np.asarray(edges[count[inverse.ravel()] == 1])


def _loops(edges: Indices) -> list[Indices]:
    following = dict(edges.tolist())
    loops = []
    while following:
        node = next(iter(following))
        loop = []
        while node in following:
            loop.append(node)
            node = following.pop(node)
        loops.append(np.array(loop, dtype=np.int64))
    return loops


def _hanging(points: Array, edges: Indices) -> int | None:
    """A boundary node on a boundary edge which does not end there; None if there is none."""
    nodes = np.unique(edges)
    tree = cKDTree(points[nodes])
    start, end = points[edges[:, 0]], points[edges[:, 1]]
    length = np.linalg.norm(end - start, axis=1)
    tolerance = 1e-6 * float(length.min())
    near = tree.query_ball_point(0.5 * (start + end), 0.5 * length + tolerance)
    for i, found in enumerate(near):
        others = np.setdiff1d(nodes[found], edges[i])
        along = end[i] - start[i]
        offset = points[others] - start[i]
        apart = np.abs(offset[:, 0] * along[1] - offset[:, 1] * along[0]) / length[i]
        if (apart <= tolerance).any():
            return int(others[apart <= tolerance][0])
    return None
