"""What lies far from the heats: cold, elastic, condensed once and carried along.

Hexes that stay cold and do not yield are linear but for their turning as a whole. Each connected
piece of them is condensed to the nodes where it meets the rest of the part, and to those where
supports and devices act (static condensation, a Schur complement)::

    S = K_bb - K_bf K_ff^-1 K_fb,      forces on the rest = turn (S u_local - g)

with u_local the displacements seen from a frame that turns with the piece (the best fit of its
boundary), so that turning as a whole gives no strain; g holds the loads on what is condensed and
its small thermal strain. The march then sees the near hexes and the boundaries alone. After each
increment the displacements inside are recovered, and the stress is checked against yield.

Source: R. J. Guyan, Reduction of stiffness and mass matrices, AIAA J. 3 (1965) 380 (static
condensation); the turning frame: G. Wempner, Finite elements, finite rotations and small strains
of flexible shells, Int. J. Solids Structures 5 (1969) 117-153.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial.transform import Rotation
from skfem import MeshHex

from flamefe.basics.errors import FlamefeError
from flamefe.straining.element import MODES, POINTS, StrainOperator, small_strain, values_at_points
from flamefe.straining.operator import Assembler, assembled
from flamefe.straining.plasticity import (
    PointProperties,
    PointState,
    properties_of,
    respond,
    tangent,
)
from flamefe.straining.schedule import Target
from flamefe.straining.solving import Solving
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

SAME = 1e-3
"""Change of a modulus, by its cold value, that counts as none."""
LEAST_SHARE = 0.3
"""Share of the nodes that must be saved for condensing to be worth it."""
MOST_BOUNDARY = 1200
"""Unknowns of one piece's boundary; more fill the operator more than they save."""
MARGIN = 0.5
"""Kept beside what gets hot along the part, by the part's second largest extent."""
ELASTIC = 0.98
"""Share of the yield stress up to which a condensed piece counts as elastic."""
COLUMNS = 96
"""Right-hand sides at once."""


class RemoteYields(FlamefeError):
    """A piece that was condensed as elastic yields: the part must be solved as a whole."""


def touched(schedule: Iterable[Target]) -> BoolArray:
    """Nodes (n,) on which supports or devices of a schedule ever act."""
    found: list[BoolArray] = []
    seen: set[int] = set()
    for target in schedule:
        found = [np.any([*found, target.held.any(axis=1)], axis=0)]
        for device in target.devices:
            if id(device) not in seen:
                seen.add(id(device))
                found[0][np.unique(device.rows.indices) // 3] = True
    return found[0] if found else np.zeros(0, dtype=bool)


def unchanged_up_to(body: Body, cold: float) -> float:
    """Temperature up to which the body's stiffness is that at ``cold``, C.

    Example:
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex(), materials=(material("S355"),))
        >>> unchanged_up_to(body, 20.0)     # EN 1993-1-2: E is constant up to 100 C
        100.0
    """
    degrees = np.arange(cold, 301.0)
    limit = float(degrees[-1])
    for material in body.materials:
        for table in (material.youngs_modulus, material.poisson, material.yield_stress):
            values = np.asarray(table(degrees))
            off = np.abs(values / values[0] - 1.0) > SAME
            if off.any():
                limit = min(limit, float(degrees[max(int(np.argmax(off)) - 1, 0)]))
    return limit


def far_hexes(body: Body, peak: Array, *, cold: float) -> BoolArray:
    """Hexes (ne,) that stay cold, away from what gets hot along the part's longest extent.

    Args:
        body: the part.
        peak: (n,) C, highest temperature of each node.
        cold: ambient temperature, C.
    """
    points = body.points
    axis = int(np.argmax(np.ptp(points, axis=0)))
    along = points[:, axis]
    margin = MARGIN * float(np.sort(np.ptp(points, axis=0))[1])
    warm = np.unique(along[peak > unchanged_up_to(body, cold)])
    if warm.size == 0:
        return np.ones(body.mesh.t.shape[1], dtype=bool)
    gaps = np.flatnonzero(np.diff(warm) > 2.0 * margin)
    starts = np.concatenate((warm[:1], warm[gaps + 1])) - margin
    ends = np.concatenate((warm[gaps], warm[-1:])) + margin
    low, high = along[body.mesh.t].min(axis=0), along[body.mesh.t].max(axis=0)
    near = np.zeros(low.size, dtype=bool)
    for start, end in zip(starts, ends, strict=True):
        near |= (high > start) & (low < end)
    return ~near


def part_of(body: Body, hexes: BoolArray) -> Body:
    """The body of some of its hexes, on all of its nodes."""
    owner = None if body.owner is None else body.owner[hexes]
    mesh = MeshHex(body.mesh.p, np.ascontiguousarray(body.mesh.t[:, hexes]), validate=False)
    return Body(mesh=mesh, materials=body.materials, owner=owner)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Piece:
    """One connected piece: what it resists with at the nodes that are kept.

    Args:
        boundary: (b,) nodes that are kept.
        inside: (f,) nodes that are condensed.
        stiffness: (3 b, 3 b) N/m.
    """

    boundary: IntArray
    inside: IntArray
    stiffness: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class _Answer:
    """What a load on condensed nodes does while the boundary is held.

    Args:
        boundary: (..., n, 3) N, as the kept nodes feel it.
        inside: (..., n, 3) m, movement of what is condensed.
    """

    boundary: Array
    inside: Array

    def towards(self, other: "_Answer", share: float) -> "_Answer":
        if other is self:
            return self
        return _Answer(
            boundary=self.boundary + share * (other.boundary - self.boundary),
            inside=self.inside + share * (other.inside - self.inside),
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class RemoteLoads:
    """What acts on condensed pieces at a moment.

    Args:
        warmth: answer to the thermal strain, in the pieces' frames.
        dead: answers (3, 3, ...) to the forces' components k, each put in along direction i.
        modes: (3 ne, 3) amplitudes of the modes by the thermal strain alone.
        thermal: (np,) thermal strain at the condensed hexes' points.
    """

    warmth: _Answer
    dead: _Answer
    modes: Array
    thermal: Array

    def towards(self, other: "RemoteLoads", share: float) -> "RemoteLoads":
        """A share of the way to other loads."""
        return RemoteLoads(
            warmth=self.warmth.towards(other.warmth, share),
            dead=self.dead.towards(other.dead, share),
            modes=self.modes + share * (other.modes - self.modes),
            thermal=self.thermal + share * (other.thermal - self.thermal),
        )


class Remote:
    """The condensed pieces of a part.

    Args:
        body: the whole part.
        far: (ne,) which hexes are condensed.
        kept: (n,) nodes that must stay, whatever hexes they belong to.
        solving: how the part is solved.
    """

    def __init__(self, body: Body, far: BoolArray, kept: BoolArray, solving: Solving) -> None:
        self.far = far
        self.near, self._body = part_of(body, ~far), part_of(body, far)
        self.operator = StrainOperator.on(self._body.mesh)
        self.slaves, self._boundary = _split(body, far, kept)
        self._points, self._finite = body.points, solving.geometry == "finite"
        count = self.operator.weights.size
        self._stress_free = np.full(count, solving.stress_free_C)
        self._cold = self._properties(np.full(body.points.shape[0], solving.stress_free_C))
        self._cold = replace(self._cold, yield_stress=ELASTIC * self._cold.yield_stress)
        self._virgin = PointState.virgin(count)
        moduli = tangent(self._cold)
        self._moduli = moduli
        stiffness = self.operator.stiffness(moduli, None)
        fixed = np.repeat(~self.slaves[:, None], 3, axis=1)
        assembler = Assembler(self.operator, fixed, solving.solver)
        self._condensed = assembler.condense(stiffness, careful=True)
        whole = assembled(self.operator, stiffness)
        self._coupling = csr_matrix(whole[self._condensed.free])
        self._dead: tuple[Array, _Answer] | None = None
        self.pieces = tuple(self._pieces(whole))

    def entries(self) -> tuple[IntArray, IntArray, Array]:
        """Rows, columns and values (lower triangle of 3 n, N/m) of what the pieces resist with."""
        rows, columns, values = [], [], []
        for piece in self.pieces:
            dofs = _dofs(piece.boundary)
            low = np.tril_indices(dofs.size)
            rows.append(dofs[low[0]])
            columns.append(dofs[low[1]])
            values.append(piece.stiffness[low])
        return np.concatenate(rows), np.concatenate(columns), np.concatenate(values)

    def forces(self, displacement: Array, loads: RemoteLoads) -> Array:
        """Forces (n, 3) N with which the pieces resist displacements (n, 3) m of kept nodes."""
        result = np.zeros(displacement.shape)
        for piece in self.pieces:
            turn, _, local = self._seen(piece, displacement)
            resisting = (piece.stiffness @ local.reshape(-1)).reshape(-1, 3)
            dead = np.einsum("ki,kinx->nx", turn, loads.dead.boundary[:, :, piece.boundary])
            resisting -= loads.warmth.boundary[piece.boundary] + dead
            result[piece.boundary] += resisting @ turn.T
        return result

    def loads(self, temperature: Array, force: Array) -> RemoteLoads:
        """Loads at temperatures (n,) C and forces (n, 3) N on all nodes."""
        free = self._properties(temperature).free_strain
        strain = np.zeros((6, free.size))
        strain[:3] = free
        pushed = self.operator.forces(np.einsum("pij,jp->ip", self._moduli, strain), None)
        modal = pushed[force.shape[0] :].reshape(-1, 3 * MODES, 1)
        own = (self._condensed.inverse @ modal).reshape(-1)
        nodal = pushed[: force.shape[0]] - (
            self._condensed.lift_transposed @ modal.reshape(-1)
        ).reshape(-1, 3)
        mine = np.where(self.slaves[:, None], force, 0.0)
        if self._dead is None or not np.array_equal(self._dead[0], mine):
            self._dead = mine, self._dead_answer(mine)
        return RemoteLoads(
            warmth=self._held(nodal), dead=self._dead[1], modes=own.reshape(-1, 3), thermal=free
        )

    def _dead_answer(self, force: Array) -> _Answer:
        """Answers to each component of forces, put in along each direction."""
        shape = (3, 3, *force.shape)
        boundary, inside = np.zeros(shape), np.zeros(shape)
        for k in range(3):
            if not force[:, k].any():
                continue
            for i in range(3):
                along = np.zeros(force.shape)
                along[:, i] = force[:, k]
                one = self._held(along)
                boundary[k, i], inside[k, i] = one.boundary, one.inside
        return _Answer(boundary=boundary, inside=inside)

    def _held(self, nodal: Array) -> _Answer:
        """Answer to nodal forces (n, 3) N while the boundary is held."""
        inside = np.zeros(nodal.size)
        free = self._condensed.free
        inside[free] = self._condensed.factor.solve(nodal.reshape(-1)[free])
        felt = (nodal.reshape(-1) - self._coupling.T @ inside[free]).reshape(-1, 3)
        felt[~self._boundary] = 0.0
        return _Answer(boundary=felt, inside=inside.reshape(-1, 3))

    def recover(self, displacement: Array, loads: RemoteLoads) -> tuple[Array, Array]:
        """Displacements inside, and the stress there.

        Args:
            displacement: (n, 3) m, right where nodes are kept.
            loads: of the moment.

        Returns:
            (n, 3) m, right everywhere; (6, np) Pa at the condensed hexes' points.

        Raises:
            RemoteYields: the stress comes too near to the yield stress.
        """
        local = np.zeros(displacement.shape)
        frames = []
        for piece in self.pieces:
            turn, shift, local[piece.boundary] = self._seen(piece, displacement)
            frames.append((turn, shift))
        free = self._condensed.free
        local.reshape(-1)[free] = self._condensed.factor.solve(
            -(self._coupling @ local.reshape(-1))
        )
        for piece, (turn, _) in zip(self.pieces, frames, strict=True):
            local[piece.inside] += loads.warmth.inside[piece.inside] + np.einsum(
                "ki,kinx->nx", turn, loads.dead.inside[:, :, piece.inside]
            )
        modes = loads.modes - (self._condensed.lift @ local.reshape(-1)).reshape(-1, 3)
        strain = small_strain(self.operator.slopes(np.concatenate((local, modes))))
        answer = respond(strain, replace(self._cold, free_strain=loads.thermal), self._virgin)
        if answer.yielding.size:
            raise RemoteYields("A condensed piece of the part yields.")
        result = displacement.copy()
        for piece, (turn, shift) in zip(self.pieces, frames, strict=True):
            middle = self._points[piece.boundary].mean(axis=0)
            own = self._points[piece.inside] - middle
            result[piece.inside] = shift + (own + local[piece.inside]) @ turn.T - own
        return result, answer.stress

    def whole(self, near: Array, far: Array | float) -> Array:
        """Values at all points (..., ne * 8) from those of near and of condensed hexes."""
        points = np.repeat(self.far, POINTS)
        result = np.empty((*near.shape[:-1], points.size))
        result[..., ~points] = near
        result[..., points] = far
        return result

    def whole_state(self, near: PointState) -> PointState:
        """The state of all points: what is condensed has never yielded."""
        return PointState(
            plastic_strain=self.whole(near.plastic_strain, 0.0),
            back_strain=self.whole(near.back_strain, 0.0),
            equivalent=self.whole(near.equivalent, 0.0),
            accumulated=self.whole(near.accumulated, 0.0),
        )

    def _seen(self, piece: _Piece, displacement: Array) -> tuple[Array, Array, Array]:
        """Turn (3, 3) and shift (3,) of a piece, and its boundary's displacements seen from it."""
        moved = displacement[piece.boundary]
        if not self._finite:
            return np.eye(3), np.zeros(3), moved
        at, shift = self._points[piece.boundary], moved.mean(axis=0)
        before = at - at.mean(axis=0)
        after = before + moved - shift
        turn = Rotation.align_vectors(after, before)[0].as_matrix()
        return turn, shift, after @ turn - before

    def _properties(self, temperature: Array) -> PointProperties:
        shape = values_at_points(self._body.mesh)
        at = np.einsum("aq,ae->eq", shape, temperature[self._body.mesh.t]).reshape(-1)
        return properties_of(self._body, at, self._stress_free)

    def _pieces(self, whole: csr_matrix) -> Iterator[_Piece]:
        """Condense each connected piece to its boundary."""
        hexes = self._body.mesh.t
        links = csr_matrix(
            (np.ones(7 * hexes.shape[1]), (np.repeat(hexes[0], 7), hexes[1:].T.reshape(-1))),
            shape=(self.slaves.size,) * 2,
        )
        _, label = connected_components(links, directed=False)
        for number in np.unique(label[self._boundary]):
            mine = label == number
            boundary = np.flatnonzero(mine & self._boundary)
            dofs = _dofs(boundary)
            stiffness = whole[dofs][:, dofs].toarray()
            coupling = self._coupling[:, dofs]
            for start in range(0, dofs.size, COLUMNS):
                part = slice(start, min(start + COLUMNS, dofs.size))
                moved = self._condensed.factor.solve(coupling[:, part].toarray())
                stiffness[:, part] -= coupling.T @ moved
            yield _Piece(
                boundary=boundary,
                inside=np.flatnonzero(mine & self.slaves),
                stiffness=0.5 * (stiffness + stiffness.T),
            )


def _dofs(nodes: IntArray) -> IntArray:
    return np.asarray((3 * nodes[:, None] + np.arange(3)).reshape(-1))


def _split(body: Body, far: BoolArray, kept: BoolArray) -> tuple[BoolArray, BoolArray]:
    """Nodes that are condensed, and nodes of condensed hexes that stay."""
    inside, outside = np.zeros((2, body.points.shape[0]), dtype=bool)
    inside[body.mesh.t[:, far]] = True
    outside[body.mesh.t[:, ~far]] = True
    slaves = inside & ~outside & ~kept
    return slaves, inside & ~slaves


def remote_of(body: Body, *, peak: Array, kept: BoolArray, solving: Solving) -> Remote | None:
    """Condense what is far from the heats, where that pays.

    Args:
        body: the part.
        peak: (n,) C, highest temperature of each node.
        kept: (n,) nodes on which supports or devices act.
        solving: how it is solved.

    Returns:
        None where too little would be saved, or the boundary would be too wide.
    """
    far = far_hexes(body, peak, cold=solving.stress_free_C)
    if not far.any() or far.all():
        return None
    slaves, boundary = _split(body, far, kept)
    if slaves.mean() < LEAST_SHARE or 3 * boundary.sum() > MOST_BOUNDARY * 2:
        return None
    return Remote(body, far, kept, solving)
