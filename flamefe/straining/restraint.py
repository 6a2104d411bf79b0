"""How the part is held and loaded: supports, pushes, weight and forces, with their times."""

from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_matrix
from skfem import Basis, ElementHex1, FacetBasis

from flamefe.basics.errors import FlamefeError, OutOfRange
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

GRAVITY = 9.80665
"""Standard acceleration of gravity, m/s2 (CGPM 1901)."""

NEVER = float("inf")
Bearing = Literal["as one", "point by point", "two plates"]
"""How what a support has to bear is told: by the resultant of its forces, by the largest force at
one of its nodes, or by the larger of the sums of what one plate pushes and the other pulls."""
SHORTEST_LEVER = 0.01
"""Lever of devices, by the part's size, below which the part counts as free to turn: a bar that
is pressed between points some millimetres off its axis rolls away."""


class RestraintError(FlamefeError, ValueError):
    """The part is not held against every shift and turn, or is held in a contradictory way."""


@dataclass(frozen=True, kw_only=True)
class TimeLine:
    """A factor over time: linear between its points, constant outside.

    Example:
        >>> TimeLine(times=(0.0, 10.0), factors=(0.0, 1.0)).at(5.0)
        0.5
    """

    times: tuple[float, ...] = (0.0,)
    factors: tuple[float, ...] = (1.0,)

    def __post_init__(self) -> None:
        if len(self.times) != len(self.factors) or not self.times:
            raise OutOfRange(
                f"A history has {len(self.times)} times and {len(self.factors)} factors; "
                "give as many of one as of the other, at least one."
            )
        if any(b <= a for a, b in zip(self.times, self.times[1:], strict=False)):
            raise OutOfRange(f"The times of a history must rise; given: {self.times}.")

    def at(self, time: float) -> float:
        """Factor at ``time`` s."""
        return float(np.interp(time, self.times, self.factors))


ALWAYS = TimeLine()
"""Factor one at every time."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Support:
    """Displacements of nodes that are held or pushed.

    Args:
        held: (n, 3) bool, which displacement components.
        push: (n, 3) m to which they are moved, times ``history``; None: held where they are when
            the support is fitted.
        history: factor of ``push`` over time.
        fitted: s, when it is fitted, after that moment's equilibrium (minus infinity: from the
            start).
        released: s, when it is taken off, after that moment's equilibrium (infinity: never).
        name: for messages.
    """

    held: BoolArray
    push: Array | None = None
    history: TimeLine = ALWAYS
    fitted: float = -NEVER
    released: float = NEVER
    bearing: Bearing = "as one"
    name: str = "support"


@dataclass(frozen=True, kw_only=True, eq=False)
class Load:
    """Nodal forces that come and go.

    Args:
        forces: (n, 3) N; their direction stays fixed in space.
        history: factor over time.
        applied: s, when it comes on (minus infinity: from the start).
        released: s, when it is taken off, after that moment's equilibrium (infinity: never).
        name: for messages.
    """

    forces: Array
    history: TimeLine = ALWAYS
    applied: float = -NEVER
    released: float = NEVER
    name: str = "load"


def clamp(
    body: Body,
    face: str,
    *,
    axes: tuple[int, ...] = (0, 1, 2),
    fitted: float = -NEVER,
    released: float = NEVER,
) -> Support:
    """Hold the nodes of a face or node set in the directions ``axes`` (0 = x, 1 = y, 2 = z).

    Args:
        body: the part.
        face: name of a face or node set.
        axes: directions that are held.
        fitted, released: when, s.

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex().with_defaults(), materials=(material("S355"),))
        >>> int(clamp(body, "left").held.sum())
        12
    """
    held = np.zeros((body.points.shape[0], 3), dtype=bool)
    held[np.ix_(body.nodes_of(face), np.array(axes, dtype=int))] = True
    return Support(held=held, name=f"clamp on {face}", fitted=fitted, released=released)


def rigid_modes(body: Body, *, fitted: float = -NEVER, released: float = NEVER) -> Support:
    """Hold just the six rigid-body modes, at three nodes: the part is free to deform.

    Three corners far from each other are taken; no force arises in them as long as the loads on
    the part balance.

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex(), materials=(material("S355"),))
        >>> int(rigid_modes(body).held.sum())
        6
    """
    p = body.points
    held = np.zeros(p.shape, dtype=bool)
    span = np.ptp(p, axis=0)
    order = np.argsort(-span, kind="stable")
    long, wide, thin = (int(i) for i in order)
    low = p.min(axis=0)

    def nearest(*high: int) -> int:
        """Node nearest to the box corner that is high in the directions given."""
        goal = low + span * np.isin(np.arange(3), high)
        return int(np.argmin(((p - goal) ** 2).sum(axis=1)))

    first, second, third = nearest(), nearest(long), nearest(wide)
    held[first] = True
    held[second, [wide, thin]] = True
    held[third, thin] = True
    if not holds_rigid_body(p, held):
        raise RestraintError(
            "No three nodes were found that hold the part against every shift and turn; "
            "give supports by hand."
        )
    return Support(held=held, name="rigid-body modes", fitted=fitted, released=released)


def holds_rigid_body(
    points: Array, held: BoolArray, rows: csr_matrix | None = None, *, least: float = 1e-6
) -> bool:
    """Tell whether held components (n, 3) of nodes (n, 3) stop all six rigid-body modes.

    ``rows`` (m, 3 n) of devices count as if they held both ways; levers shorter than a share
    ``least`` of the part's size don't count.

    Example:
        >>> holds_rigid_body(np.eye(3), np.ones((3, 3), dtype=bool))
        True
        >>> holds_rigid_body(np.eye(3), np.zeros((3, 3), dtype=bool))
        False
    """
    return rigid_rank(points, held, rows, least=least) == 6


def rigid_rank(
    points: Array, held: BoolArray, rows: csr_matrix | None = None, *, least: float = 1e-6
) -> int:
    """How many of the six rigid-body modes held components and rows of devices stop.

    Example:
        >>> rigid_rank(np.eye(3), np.eye(3, dtype=bool))
        3
    """
    stopped = _stopped(_rigid_motions(points), held, rows)
    return int(np.linalg.matrix_rank(stopped, tol=least)) if stopped.size else 0


def steadied_by_corners(points: Array, held: BoolArray, rows: csr_matrix) -> BoolArray:
    """Hold besides, at nodes near the corners of the part's box, just what is still free.

    Each component is the one that stops most of the movement left, so that it has a long lever.

    Args:
        points: (n, 3) m.
        held: (n, 3) what is held already.
        rows: (m, 3 n) of devices, which count as if they held both ways.

    Example:
        >>> from itertools import product
        >>> points = np.array(list(product((0.0, 1.0), repeat=3)))
        >>> rest = csr_matrix(np.eye(24)[[2]])     # z at the first corner
        >>> int(steadied_by_corners(points, np.zeros((8, 3), dtype=bool), rest).sum())
        5
    """
    modes = _rigid_motions(points)
    low, span = points.min(axis=0), np.ptp(points, axis=0)
    goals = low + span * np.array(list(product((0.0, 1.0), repeat=3)))
    corners = [int(np.argmin(((points - goal) ** 2).sum(axis=1))) for goal in goals]
    result = held.copy()
    while True:
        stopped = _stopped(modes, result, rows)
        values, ways = np.linalg.svd(stopped)[1:]
        still_free = ways[np.count_nonzero(values > SHORTEST_LEVER) :]
        if not still_free.size:
            return result
        gain = np.linalg.norm(modes[corners] @ still_free.T, axis=2)  # (8, 3)
        corner, axis = np.unravel_index(np.argmax(np.round(gain, 9)), gain.shape)
        result[corners[corner], axis] = True


def _rigid_motions(points: Array) -> Array:
    """Movement (n, 3, 6) of every node in each of the six modes, turns by the part's size."""
    centred = (points - points.mean(axis=0)) / np.ptp(points, axis=0).max()
    modes = np.zeros((*points.shape, 6))
    modes[:, :, :3] = np.eye(3)
    for turn in range(3):
        vector = np.zeros(3)
        vector[turn] = 1.0
        modes[:, :, 3 + turn] = np.cross(vector, centred)
    return modes


def _stopped(modes: Array, held: BoolArray, rows: csr_matrix | None) -> Array:
    """Movements (k, 6) of what is held, in each mode."""
    if rows is None:
        return np.asarray(modes[held])
    return np.concatenate((modes[held], rows @ modes.reshape(-1, 6)))


def own_weight(
    body: Body,
    direction: ArrayLike = (0.0, 0.0, -1.0),
    *,
    history: TimeLine = TimeLine(),
    released: float = NEVER,
) -> Load:
    """Weight of the part as nodal forces (n, 3) N along ``direction`` (any length but zero).

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex(), materials=(material("S355"),))
        >>> round(float(own_weight(body).forces[:, 2].sum()))
        -76982
    """
    way = np.asarray(direction, dtype=float)
    size = float(np.linalg.norm(way))
    if size == 0.0 or way.shape != (3,):
        raise OutOfRange(f"A direction needs three numbers, not all zero; given: {way.tolist()}.")
    from_hexes = np.zeros(body.points.shape[0])
    shares = _corner_volumes(body)
    np.add.at(from_hexes, body.mesh.t, shares * body.per_hex(lambda m: m.density))
    forces = from_hexes[:, None] * (GRAVITY * way / size)
    return Load(forces=forces, name="own weight", history=history, released=released)


def _corner_volumes(body: Body) -> Array:
    """Volume of each hex that each of its corners carries, (8, ne) m3."""
    basis = Basis(body.mesh, ElementHex1(), intorder=3)
    values = [np.broadcast_to(basis.basis[a][0], basis.dx.shape) for a in range(8)]
    return np.stack([np.sum(value * basis.dx, axis=1) for value in values])


def face_traction(
    body: Body,
    face: str,
    traction: ArrayLike,
    *,
    history: TimeLine = TimeLine(),
    released: float = NEVER,
) -> Load:
    """Nodal forces (n, 3) N of a uniform ``traction`` (3,) Pa on a named face.

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex().with_defaults(), materials=(material("S355"),))
        >>> face_traction(body, "right", (1e6, 0, 0)).forces.sum(axis=0).tolist()
        [1000000.0, 0.0, 0.0]
    """
    vector = np.asarray(traction, dtype=float)
    area, _ = _face_shares(body, face)
    return Load(
        forces=area[:, None] * vector,
        name=f"traction on {face}",
        history=history,
        released=released,
    )


def face_pressure(
    body: Body,
    face: str,
    pressure: float,
    *,
    history: TimeLine = TimeLine(),
    released: float = NEVER,
) -> Load:
    """Nodal forces (n, 3) N of a ``pressure`` Pa that pushes on a named face.

    The forces keep the direction they have on the undeformed part.
    """
    _, normal = _face_shares(body, face)
    return Load(
        forces=-pressure * normal, name=f"pressure on {face}", history=history, released=released
    )


def _face_shares(body: Body, face: str) -> tuple[Array, Array]:
    """Area (n,) and outward area vector (n, 3) that each node carries of a face, m2."""
    boundaries = body.mesh.boundaries or {}
    if face not in boundaries:
        body.nodes_of(face)  # names what exists, if nothing fits
        raise OutOfRange(f"{face!r} is a node set, not a face; a load by area needs a face.")
    basis = FacetBasis(body.mesh, ElementHex1(), facets=boundaries[face], intorder=3)
    area = np.zeros(body.points.shape[0])
    normal = np.zeros((body.points.shape[0], 3))
    corners = body.mesh.t[:, basis.tind]
    for a in range(8):
        weight = np.broadcast_to(basis.basis[a][0], basis.dx.shape) * basis.dx
        np.add.at(area, corners[a], weight.sum(axis=1))
        for i in range(3):
            np.add.at(normal[:, i], corners[a], (weight * basis.normals[i]).sum(axis=1))
    return area, normal
