"""Transient heat conduction in enthalpy form, one backward-Euler step at a time."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, diags_array
from scipy.sparse.linalg import cg
from skfem import Basis, ElementHex1

from flamefe.basics.errors import Attempt, NotConverged
from flamefe.heating.surface import Cooling, Exchange
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True, eq=False)
class HeatStep:
    """A converged step.

    Args:
        temperature: (n,) C at its end.
        stored, lost, held: heat stored in the part, lost from its faces and supplied by nodes
                that are held at a temperature within the step, J.
        exchanged: heat that each of ``also`` took from the part, J; below 0 where it heated.
        iterations: corrections it took.
    """

    temperature: Array
    stored: float
    lost: float
    held: float
    exchanged: tuple[float, ...]
    iterations: int


class Conductor:
    """Steps the temperature of a body forward.

    Weak form, for every shape function N, with enthalpy h per volume at the quadrature points::

        int N (h(T) - h(T0)) / dt + int grad N . k(T) grad T + int N q(T) = power

    The heat capacity is consistent, not lumped (a lumped one smears a moving flame), and enters
    as a difference of enthalpies, so a peak of the specific heat is never stepped over.

    Args:
        body: mesh and materials.
        cooling: what its faces lose.
        tolerance: unbalanced power by the power that flows, at which a step counts as converged.

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex(), materials=(material("S355"),))
        >>> heater = np.full(8, 1e6 / 8)                       # 1 MW on 1 m3 for 100 s
        >>> step = Conductor(body).step(np.full(8, 20.0), power=heater, duration=100.0)
        >>> bool(abs(step.stored - 1e8) < 1e4), round(float(step.temperature[0]), 1)
        (True, 48.3)
    """

    def __init__(
        self, body: Body, cooling: Sequence[Cooling] = (), *, tolerance: float = 1e-5
    ) -> None:
        self.body, self.cooling, self.tolerance = body, tuple(cooling), tolerance
        basis = Basis(body.mesh, ElementHex1(), intorder=3)
        self._weights = np.asarray(basis.dx)
        shape = np.stack([np.broadcast_to(basis.basis[a][0], basis.dx.shape)[0] for a in range(8)])
        slopes = np.stack([np.asarray(basis.basis[a][0].grad) for a in range(8)])
        elements, points = self._weights.shape
        n = body.mesh.p.shape[1]
        self._n = n
        corners = body.mesh.t
        count = elements * points
        columns = np.repeat(corners.T, points, axis=0)
        self._value = csr_matrix(
            (
                np.tile(shape.T, (elements, 1)).reshape(-1),
                columns.reshape(-1),
                np.arange(0, 8 * count + 1, 8),
            ),
            shape=(count, n),
        )
        ordered = slopes.transpose(2, 3, 1, 0)  # (ne, points, 3, 8)
        self._slope = csr_matrix(
            (
                ordered.reshape(-1),
                np.repeat(columns, 3, axis=0).reshape(-1),
                np.arange(0, 24 * count + 1, 8),
            ),
            shape=(3 * count, n),
        )
        self._value_back = csr_matrix(self._value.T)
        self._slope_back = csr_matrix(self._slope.T)
        gradients = ordered.transpose(0, 1, 3, 2)
        pairs = gradients @ gradients.transpose(0, 1, 3, 2) * self._weights[..., None, None]
        self._stiffness = pairs.reshape(elements, points, 64)
        mass = np.einsum("aq,bq->qab", shape, shape).reshape(points, 64)
        self._mass = mass
        rows = np.repeat(corners, 8, axis=0).T
        cols = np.tile(corners, (8, 1)).T
        keys = rows.astype(np.int64) * n + cols
        unique, self._slot = np.unique(keys.reshape(-1), return_inverse=True)
        self._indices = (unique % n).astype(np.int32)
        pointers = np.bincount(unique // n, minlength=n)
        self._pointers = np.concatenate(([0], np.cumsum(pointers))).astype(np.int32)
        self._density = np.repeat(body.per_hex(lambda m: m.density), points)
        self._flat = self._weights.reshape(-1)

    def enthalpy(self, temperature: Array) -> float:
        """Heat content of the part above 20 C, J, at nodal temperatures (n,) C."""
        return float(self._content(self._value @ temperature) @ self._flat)

    def loss(self, temperature: Array) -> float:
        """Power that all faces lose at nodal temperatures (n,) C, W."""
        return float(sum(face.loss(temperature).sum() for face in self.cooling))

    def step(
        self,
        temperature: Array,
        *,
        power: Array,
        duration: float,
        guess: Array | None = None,
        held: IntArray | None = None,
        held_at: Array | None = None,
        also: Sequence[Exchange] = (),
    ) -> HeatStep:
        """Advance by one step.

        Args:
            temperature: (n,) C at the start.
            power: (n,) W, mean over the step.
            duration: s.
            guess: (n,) C to start the iteration from; the start by default.
            held: nodes kept at a temperature, with ``held_at`` C, one each.
            also: what exchanges heat with the faces in this step only (hot gas, water).

        Raises:
            NotConverged: with the history of residuals.
        """
        before = self._content(self._value @ temperature)
        now = (temperature if guess is None else guess).copy()
        free = np.ones(self._n, dtype=bool)
        if held is not None:
            assert held_at is not None
            now[held] = held_at
            free[held] = False
        # the heat that stirs: what comes in, and what is stored already moving
        residuals: list[float] = []
        matrix: csr_matrix | None = None
        rounding = 0.0
        while True:
            at = self._value @ now
            stored = (self._content(at) - before) * self._flat / duration
            flow = (self._slope @ now).reshape(-1, 3)
            flow *= (self._conductivity(at) * self._flat)[:, None]
            lost = np.zeros(self._n)
            for face in self.cooling:
                lost += face.loss(now)
            exchanged = [other.loss(now) for other in also]
            inner = self._value_back @ stored + self._slope_back @ flow.reshape(-1)
            residual = power - inner - lost - sum(exchanged)
            open_ = residual[free]
            stirring = max(
                float(np.abs(power).sum()),
                float(np.abs(stored).sum()),
                float(np.abs(lost).sum()),
                *(float(np.abs(heat).sum()) for heat in exchanged),
                1e-6,
            )
            unbalanced = float(np.abs(open_).sum())
            relative = unbalanced / stirring
            residuals.append(relative)
            if relative < self.tolerance or unbalanced < rounding:
                break
            if len(residuals) > _MOST or not np.isfinite(relative):
                raise NotConverged(
                    f"The temperature did not converge within a step of {duration:g} s "
                    f"(unbalanced {100 * relative:.3g} % of the power after {_MOST} corrections). "
                    "Try smaller heat steps.",
                    [Attempt(time_s=0.0, step_s=duration, residuals=tuple(residuals))],
                )
            slow = len(residuals) > 2 and relative > 0.3 * residuals[-2]
            if matrix is None or slow:
                matrix = self._jacobian(now, at, before, temperature, duration, free, also)
                inverse = diags_array(1.0 / matrix.diagonal())
                rounding = _ROUNDING * float(matrix.diagonal() @ np.abs(now))
            target = np.zeros(self._n)
            target[free] = open_
            change, _ = cg(matrix, target, rtol=_INEXACT, maxiter=400, M=inverse)
            now = now + change
        supplied_by_held = float(-(residual[~free]).sum()) * duration
        return HeatStep(
            temperature=now,
            stored=float(stored.sum()) * duration,
            lost=float(lost.sum()) * duration,
            held=supplied_by_held,
            exchanged=tuple(float(heat.sum()) * duration for heat in exchanged),
            iterations=len(residuals) - 1,
        )

    def _content(self, at: Array) -> Array:
        """Enthalpy per volume above 20 C at the points, J/m3."""
        return self._density * self.body.at_points(lambda m, t: m.specific_heat.integral(t), at)

    def _conductivity(self, at: Array) -> Array:
        return self.body.at_points(lambda m, t: m.conductivity(t), at)

    def _jacobian(
        self,
        now: Array,
        at: Array,
        before: Array,
        temperature: Array,
        duration: float,
        free: NDArray[np.bool_],
        also: Sequence[Exchange],
    ) -> csr_matrix:
        capacity = self._density * self.body.at_points(lambda m, t: m.specific_heat(t), at)
        rise = at - self._value @ temperature
        moved = np.abs(rise) > 1.0
        secant = (self._content(at) - before)[moved] / rise[moved]
        capacity[moved] = np.maximum(capacity[moved], secant)
        shape = self._weights.shape
        heat = (capacity * self._flat / duration).reshape(shape) @ self._mass
        conductivity = self._conductivity(at).reshape(shape[0], 1, shape[1])
        lead = (conductivity @ self._stiffness)[:, 0]
        data = np.bincount(
            self._slot, weights=(heat + lead).reshape(-1), minlength=self._indices.size
        )
        matrix = csr_matrix((data, self._indices, self._pointers), shape=(self._n, self._n))
        for face in (*self.cooling, *also):
            matrix = matrix + face.slope(now)
        if not free.all():
            keep = diags_array(free.astype(float))
            matrix = csr_matrix(keep @ matrix @ keep + diags_array((~free).astype(float)))
        return csr_matrix(matrix)


_MOST = 60
_INEXACT = 0.02
_ROUNDING = 1e-14
"""Unbalanced power below this share of what could pass through the nodes is rounding error."""
