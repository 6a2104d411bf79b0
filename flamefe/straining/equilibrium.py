"""Equilibrium over a temperature history: quasi-Newton increments with cut-back.

One factored, condensed operator is kept over many increments; Anderson mixing on displacements
and incompatible modes together does the rest. State is committed after convergence only. An
increment that fails is cut in half from the last committed state; at last a named error holds
the residuals of every try.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.anderson import Anderson
from flamefe.basics.errors import Attempt, NotConverged, OutOfRange
from flamefe.straining.contact import LosesContact
from flamefe.straining.element import (
    StrainOperator,
    green_lagrange_strain,
    small_strain,
    values_at_points,
)
from flamefe.straining.grip import STICKING, Grip
from flamefe.straining.moment import Balance, Goal, Moment
from flamefe.straining.operator import Assembler, CondensedOperator
from flamefe.straining.plasticity import (
    PointAnswer,
    PointProperties,
    PointState,
    properties_of,
    respond,
    tangent,
)
from flamefe.straining.remote import Remote, RemoteLoads
from flamefe.straining.schedule import Target
from flamefe.straining.solving import CAREFUL, GAVE_UP, SETTLED, STILL, USUAL, Solving
from flamefe.straining.stability import Look, look_at, pulling
from flamefe.straining.watch import FINEST, Cut, Failed, Probe, Watch
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]


ELASTIC_SHARE = 0.1
"""Elastic share in the operator that follows yielding, taken where an increment is slow."""


def strain_along(
    body: Body,
    schedule: Iterable[Target],
    *,
    solving: Solving | None = None,
    inherent_strain: Array | None = None,
    start: Array | None = None,
    remote: Remote | None = None,
) -> Iterator[Moment]:
    """March through a schedule, yielding each converged moment.

    Args:
        body: mesh and materials.
        schedule: targets in order; the first is reached from the unloaded, stress-free part.
        solving: geometry, tolerance and the like.
        inherent_strain: (6, ne * 8) strain that the part has from the start, shear doubled
            (contraction negative); it comes on in the first increment.
        start: (rows, 3) m, extended displacements at which the part starts, in equilibrium with
            the whole inherent strain (see ``buckle.stressed_buckle``); None: undeformed.
        remote: what is far from the heats, condensed; None: nothing is.

    Yields:
        Moment: one a target.

    Raises:
        NotConverged: an increment failed after all cuts; holds the history of residuals.
        SingularOperator: the part can move without resistance.
        RemoteYields: what is condensed does not stay elastic.

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.straining.restraint import rigid_modes
        >>> from flamefe.straining.schedule import targets
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex(), materials=(material("S355"),))
        >>> plan = targets(points=body.points, supports=[rigid_modes(body)],
        ...     moments=[(0.0, np.full(8, 20.0), ""), (1.0, np.full(8, 120.0), "")])
        >>> end = list(strain_along(body, plan))[-1]
        >>> round(float(np.ptp(end.displacement[:, 0]) * 1e3), 4)   # mm on 1 m
        1.256
    """
    march = _March(body, solving or Solving(), inherent_strain, remote)
    if start is not None:
        march.begin_at(start)
    for target in schedule:
        moment = march.to(target)
        while march.grip.lets_go():
            moment = march.to(target, again=True)
        yield moment


class _March:
    """The march's committed state and the operator it keeps."""

    def __init__(
        self, whole: Body, solving: Solving, inherent: Array | None, remote: Remote | None
    ) -> None:
        body = whole if remote is None else remote.near
        self.body, self.solving, self.remote = body, solving, remote
        self.operator = StrainOperator.on(body.mesh)
        self.shape = values_at_points(body.mesh)
        points = self.operator.weights.size
        self.stress_free = np.full(points, solving.stress_free_C)
        self.inherent = inherent
        self.inherent_share = 0.0 if inherent is not None else 1.0
        if inherent is not None and inherent.shape != (6, points):
            raise OutOfRange(
                f"Inherent strain has shape {inherent.shape}; this mesh needs {(6, points)}."
            )
        cold = body.at_points(lambda m, t: m.yield_stress(t), self.stress_free)
        # below a thousandth of the cold yield everywhere, forces count as nothing
        spread = self.operator.weights ** (2.0 / 3.0)
        self.spread = spread
        self.least_force = 1e-3 * float(np.linalg.norm(cold * spread))
        self.rounding = 1e-15 * float(np.ptp(body.points, axis=0).max())
        self.extended = np.zeros((self.operator.rows, 3))
        self.state = PointState.virgin(points)
        self.temperature: Array | None = None
        self.force = np.zeros((self.operator.nodes, 3))
        self.reaction = np.zeros((self.operator.nodes, 3))
        self.held: NDArray[np.bool_] | None = None
        self.anchor = np.full((self.operator.nodes, 3), np.nan)
        self.time = 0.0
        self.trend: tuple[Array, float] | None = None
        self.assembler: Assembler | None = None
        self.condensed: CondensedOperator | None = None
        self.grip = Grip(nodes=self.operator.nodes, sticking=STICKING * self.least_force)
        self.tired = True
        self.solves = self.factorisations = self.cuts = 0
        self.remote_loads: RemoteLoads | None = None
        if remote is not None:
            if inherent is not None:
                raise OutOfRange("A part with inherent strain is solved as a whole.")
            cold = np.full(self.operator.nodes, solving.stress_free_C)
            self.remote_loads = remote.loads(cold, np.zeros_like(self.force))
        self.watch = Watch.over(whole, self.operator, solving)
        if self.watch is not None and remote is not None:
            raise OutOfRange("A part whose stability is watched is solved as a whole.")

    def begin_at(self, start: Array) -> None:
        """Take displacements that the inherent strain has already brought about."""
        if start.shape != self.extended.shape:
            raise OutOfRange(
                f"The start has shape {start.shape}; this mesh needs {self.extended.shape}."
            )
        self.extended, self.inherent_share = start.copy(), 1.0

    def to(self, target: Target, *, again: bool = False) -> Moment:
        """Reach ``target`` from the committed state, cutting the way there where needed.

        ``again``: it was reached, but then some suction let go.
        """
        if not again:
            self.solves = self.factorisations = self.cuts = 0
            if self.watch is not None:
                self.watch.events.clear()
        nodes = self.operator.nodes
        if self.temperature is None:
            self.temperature = np.full(nodes, self.solving.stress_free_C)
        refitted = self.grip.fit(target.devices, self.extended[:nodes])
        if refitted or self.held is None or not np.array_equal(self.held, target.held):
            more = None if self.remote is None else self.remote.entries()
            self.assembler = Assembler(
                self.operator, self._fixed(target.held), self.solving.solver, self.grip.rows, more
            )
            self.condensed = None
        before = self.extended[:nodes].copy()
        newly = target.held if self.held is None else target.held & ~self.held
        self.anchor = np.where(target.held, np.where(newly, before, self.anchor), np.nan)
        where = np.where(np.isnan(target.displacement), self.anchor, target.displacement)
        shift = np.where(target.held, where - before, 0.0)
        # forces of supports that are taken off fade out instead of vanishing at once
        faded = np.where(target.held, 0.0, self.reaction) + self.grip.start_force
        start_force, start_temperature = self.force + faded, self.temperature
        start_share, start_time = self.inherent_share, self.time
        start_loads, end_loads = self.remote_loads, None
        if self.remote is not None:
            end_loads = self.remote.loads(target.temperature, target.force)
        done, stride = 0.0, 1.0
        history: list[Attempt] = []
        smooth = not target.jump and not shift.any() and target.time > self.time
        while True:
            share = min(done + stride, 1.0)
            goal = Goal(
                temperature=start_temperature + share * (target.temperature - start_temperature),
                force=start_force + share * (target.force - start_force),
                inherent=self._inherent(start_share + share * (1.0 - start_share)),
                share=share,
                remote=None
                if start_loads is None or end_loads is None
                else start_loads.towards(end_loads, share),
            )
            span = (target.time - start_time) * (share - done)
            guess = self._guess(shift * (share - done), span if smooth else 0.0, target.held)
            try:
                every = CAREFUL if len(history) % 2 else USUAL
                found = self._stable(goal, guess, target, every, share - done)
            except Cut as wish:
                self.cuts += 1
                self.trend, stride = None, stride * wish.factor
                continue
            except (Failed, LosesContact) as failure:
                history.append(
                    Attempt(time_s=target.time, step_s=span, residuals=failure.residuals)
                )
                self.cuts += 1
                self.condensed, self.trend = None, None
                self.grip.failed()
                stride *= 0.5
                if stride < 0.5**self.solving.most_cuts:
                    raise NotConverged(
                        GAVE_UP.format(time=target.time, cuts=len(history)), history
                    ) from None
                continue
            answer, extended, reaction, residual, gripped = found
            change = extended - self.extended
            self.trend = (change, span) if smooth and span > 0.0 else None
            self.extended, self.state = extended, answer.state
            if gripped is not None:
                self.grip.commit(gripped.contact)
            done = share
            if done >= 1.0 - 1e-12:
                break
            stride = min(2.0 * stride, 1.0 - done)
        self.temperature, self.force = target.temperature, target.force
        self.reaction, self.held, self.time = reaction, target.held, target.time
        self.inherent_share = 1.0
        stress, state = answer.stress, answer.state
        if self.remote is not None and end_loads is not None:
            self.remote_loads = end_loads
            moved, far = self.remote.recover(extended[:nodes], end_loads)
            extended = np.concatenate((moved, extended[nodes:]))
            stress, state = self.remote.whole(stress, far), self.remote.whole_state(state)
        if self.watch is not None and target.name:
            kept = self.condensed
            self.watch.look_over(found, self._probe(goal, target, extended))
            self.condensed = kept
        return Moment(
            target=target,
            extended=extended,
            stress=stress,
            state=state,
            reaction=reaction,
            residual=residual,
            solves=self.solves,
            factorisations=self.factorisations,
            cut_backs=self.cuts,
            gripped=np.zeros((nodes, 3)) if gripped is None else gripped.nodal,
            carried=self.grip.carried(),
            events=None if self.watch is None else tuple(self.watch.events),
        )

    def _stable(
        self, goal: Goal, guess: Array, target: Target, every: int, stride: float
    ) -> Balance:
        """Equilibrium at a goal; under watch it is a stable one."""
        if self.watch is None:
            return self._balance(goal, guess, target.held, every=every)
        probe = self._probe(goal, target, guess)
        try:
            found = self._balance(goal, guess, target.held, every=every)
        except (Failed, LosesContact):
            if stride > FINEST:
                raise
            found = self.watch.leap(probe)
        stable, operator = self.watch.judge(found, probe, stride)
        if self.grip.rows is None:  # with devices the tangent was braced where they touch
            self.condensed = operator
        return stable

    def _probe(self, goal: Goal, target: Target, base: Array) -> Probe:
        """How the watch over stability may look round; held places are where ``base`` has them."""
        assembler, nodes = self.assembler, self.operator.nodes
        assert assembler is not None
        properties = self._properties(goal.temperature)

        def look(extended: Array) -> Look:
            self.factorisations += 1
            slopes = self.operator.slopes(extended)
            answer = self._answer(slopes, goal, properties)
            brace = self.grip.brace()
            return look_at(self.operator, assembler, properties, answer, slopes, brace)

        def again(guess: Array) -> Balance:
            self.condensed = None
            start = guess.copy()
            start[:nodes] = np.where(target.held, base[:nodes], guess[:nodes])
            try:
                return self._balance(goal, start, target.held, every=CAREFUL)
            except LosesContact:
                raise Failed([]) from None

        return Probe(
            committed=self.extended, held=target.held, time=target.time, look=look, again=again
        )

    def _fixed(self, held: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """What the iteration leaves alone: what is held, and what is condensed."""
        return held if self.remote is None else held | self.remote.slaves[:, None]

    def _inherent(self, share: float) -> Array | None:
        return None if self.inherent is None else share * self.inherent

    def _guess(self, shift: Array, span: float, held: NDArray[np.bool_]) -> Array:
        """Where to start: on the trend of the last increment, held places where they must be."""
        guess = self.extended.copy()
        if self.trend is not None and span > 0.0:
            change, before = self.trend
            guess += change * min(span / before, 2.0)
        nodes = self.operator.nodes
        guess[:nodes] = np.where(held, self.extended[:nodes] + shift, guess[:nodes])
        return guess

    def _settled(self, x: Array, step: float) -> bool:
        """Whether the displacements have come to rest: soft parts hide in small forces."""
        nodes = self.operator.nodes
        change = float(np.abs(x[:nodes] - self.extended[:nodes]).max())
        still = max(STILL * float(np.abs(x[:nodes]).max()), self.rounding)
        return step <= max(SETTLED * change, still)

    def _properties(self, temperature: Array) -> PointProperties:
        at = np.einsum("aq,ae->eq", self.shape, temperature[self.body.mesh.t]).reshape(-1)
        result = properties_of(self.body, at, self.stress_free)
        if self.solving.geometry == "finite":
            # the Green-Lagrange strain of a stretch 1 + e is e + e^2 / 2
            free = result.free_strain
            result = replace(result, free_strain=free + 0.5 * free**2)
        return result

    def _answer(self, slopes: Array, goal: Goal, properties: PointProperties) -> PointAnswer:
        finite = self.solving.geometry == "finite"
        strain = green_lagrange_strain(slopes) if finite else small_strain(slopes)
        if goal.inherent is not None:
            strain -= goal.inherent
        return respond(strain, properties, self.state)

    def _balance(self, goal: Goal, guess: Array, held: NDArray[np.bool_], *, every: int) -> Balance:
        """Iterate until the free residual is small against the stress forces, or fail."""
        solving, operator, nodes = self.solving, self.operator, self.operator.nodes
        properties = self._properties(goal.temperature)
        finite = solving.geometry == "finite"
        x, mixer = guess, Anderson(depth=solving.memory)
        residuals: list[float] = []
        states: NDArray[np.int8] = np.zeros(0, dtype=np.int8)
        applied = float(np.linalg.norm(goal.force))
        step = np.inf
        fixed = self._fixed(held)
        self.grip.begin()
        while True:
            slopes = operator.slopes(x)
            answer = self._answer(slopes, goal, properties)
            residual = -operator.forces(answer.stress, slopes if finite else None)
            residual[:nodes] += goal.force
            if self.remote is not None and goal.remote is not None:
                residual[:nodes] -= self.remote.forces(x[:nodes], goal.remote)
            bare, gripped = residual, self.grip.answer(self.condensed, residual, x, goal.share)
            if gripped is not None:
                residual = bare.copy()
                residual[:nodes] += gripped.nodal
            reaction = np.where(held, -residual[:nodes], 0.0)
            residual[:nodes][fixed] = 0.0
            level = np.sqrt(np.einsum("in,in->n", answer.stress, answer.stress)) * self.spread
            size = max(float(np.linalg.norm(level)), applied, self.least_force)
            relative = float(np.linalg.norm(residual)) / size
            residuals.append(relative)
            tries = len(residuals)
            still = gripped is None or self._settled(x, _largest(gripped.correction[:nodes]))
            if relative < solving.tolerance and tries > 1 and still and self._settled(x, step):
                self.tired = tries > solving.patience + 1
                return answer, x, reaction, relative, gripped
            if not np.isfinite(relative) or relative > 1e4 or tries > solving.most_iterations:
                raise Failed(residuals)
            stuck = tries % every == 0
            if self.condensed is None or stuck or (self.tired and tries == 1):
                assert self.assembler is not None
                moduli = tangent(properties)
                if stuck:  # a share of the elastic one keeps a perfectly plastic hex regular
                    moduli = ELASTIC_SHARE * moduli + (1.0 - ELASTIC_SHARE) * tangent(
                        properties, answer
                    )
                tension = None if self.watch is None else pulling(answer.stress)
                stiffness = operator.stiffness(moduli, slopes if finite else None, tension)
                self.condensed = self.assembler.condense(
                    stiffness, careful=stuck or self.grip.rows is not None
                )
                self.factorisations += 1
                self.tired = False
                mixer = Anderson(depth=solving.memory)
                gripped = self.grip.answer(self.condensed, bare, x, goal.share)
            if gripped is not None and not np.array_equal(gripped.contact.states, states):
                mixer, states = Anderson(depth=solving.memory), gripped.contact.states
            before = x
            correction = self.condensed.correct(residual) if gripped is None else gripped.correction
            if self.watch is None:
                x = mixer.next(x, correction)
            elif self.watch.too_soft(self.condensed, correction):
                self.condensed = None
                continue
            else:
                x, mixer = self.watch.step(mixer, x, correction)
            step = _largest(x[:nodes] - before[:nodes])
            self.solves += 1


def _largest(values: Array) -> float:
    return float(np.abs(values).max())
