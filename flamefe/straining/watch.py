"""The watch over sheets that can buckle: judges the state at each increment's end."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.anderson import Anderson
from flamefe.basics.errors import NotConverged
from flamefe.basics.linear import SingularOperator
from flamefe.straining.element import StrainOperator
from flamefe.straining.operator import CondensedOperator
from flamefe.straining.solving import Solving
from flamefe.straining.stability import (
    SLENDER,
    Event,
    Look,
    farthest,
    lowest_mode,
    slenderness,
    wall_thickness,
)
from flamefe.straining.upright import Upright
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]

STRIDE = 0.5
"""Displacement of one increment that is allowed, by the thickness."""
FINEST = 2.0**-5
"""Share of the way to a target below which the watch cuts no further."""
KICKS = (1.0, 2.0, 4.0)
"""Sizes by which an unstable state is kicked along its lowest mode, by the thickness."""
NEARER = 3.0
"""How much farther than the other one of two stable states must be for the nearer to be meant."""
SAME = 0.25
"""Distance of two states, by the thickness, below which they count as one."""
THROUGH = (2.0, 1.7, 2.3)
"""How far a sheet is mirrored, by its height, to look for a shape on the other side."""


class Failed(Exception):
    """One try did not converge."""

    def __init__(self, residuals: list[float]) -> None:
        super().__init__()
        self.residuals = tuple(residuals)


class Cut(Exception):
    """The watch asks for a shorter increment: by this factor."""

    def __init__(self, factor: float) -> None:
        super().__init__()
        self.factor = factor


def is_watched(body: Body, solving: Solving) -> bool:
    """Whether the part's stability is watched.

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.workpiece.standard import material
        >>> is_watched(Body(mesh=MeshHex(), materials=(material("S355"),)), Solving())
        False
    """
    if solving.geometry != "finite" or solving.stability == "never":
        return False
    return solving.stability == "always" or slenderness(body) > SLENDER


class Unstable(NotConverged):
    """No stable equilibrium was found near an unstable one."""


State = tuple[Any, ...]
"""What a try found: the law's answer, the extended displacements, and more."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Probe:
    """How the watch may look round from where an increment stands.

    Args:
        committed: (rows, 3) m, where the increment started.
        held: (n, 3), what supports hold.
        time: s, for events.
        look: factors the tangent at displacements (rows, 3) m.
        again: finds an equilibrium from another guess (rows, 3) m.
    """

    committed: Array
    held: NDArray[np.bool_]
    time: float
    look: Callable[[Array], Look]
    again: Callable[[Array], State]


@dataclass(kw_only=True, eq=False)
class Watch:
    """Judges the state at each increment's end.

    Args:
        operator: of the mesh.
        thickness: m, of the wall.
        upright: where the sheet's mid-surface stands; None where it isn't told by the mesh.
        events: what was seen on the way to the present moment.
        looks: how many tangents were factored.
        sharp: factored tangent of the last state that passed.
        way: (rows, 3) m, how the part moved to it.
    """

    operator: StrainOperator
    thickness: float
    upright: Upright | None
    events: list[Event] = field(default_factory=list)
    looks: int = 0
    sharp: CondensedOperator | None = None
    way: Array | None = None

    @classmethod
    def over(cls, body: Body, operator: StrainOperator, solving: Solving) -> "Watch | None":
        """The watch of a part that can buckle; None where it is too stout or not wanted.

        Args:
            body: the part.
            operator: of its mesh.
            solving: how it is solved.
        """
        if not is_watched(body, solving):
            return None
        return cls(
            operator=operator, thickness=wall_thickness(body), upright=Upright.of(body.points)
        )

    def judge(
        self, found: State, probe: Probe, stride: float
    ) -> tuple[State, CondensedOperator | None]:
        """Let a state pass, ask for a cut, or lead the part to a stable state.

        Args:
            found: what the try found.
            probe: how to look round.
            stride: the increment's share of the way to its target.

        Returns:
            The state to go on with, and its factored tangent.

        Raises:
            Cut: a shorter increment is needed.
            Unstable: no stable state was found.
        """
        moved = farthest((found[1] - probe.committed)[: self.operator.nodes])
        allowed = STRIDE * self.thickness
        if moved > allowed and stride > FINEST:
            raise Cut(min(max(0.9 * allowed / moved, 0.25), 0.5))
        seen = self._look(found[1], probe)
        if seen is None or seen.negative:
            if stride > FINEST:
                raise Cut(0.5)
            return self._kicked(found, seen, probe)
        self.sharp, self.way = seen.operator, found[1] - probe.committed
        if moved > 2.0 * allowed:
            # a part that is carried along stays stable on its way, one that snaps through does not
            midway = self._look(0.5 * (found[1] + probe.committed), probe)
            if midway is not None and not midway.negative:
                return found, seen.operator
            self.events.append(Event(kind="jump", time=probe.time, moved=moved))
        return found, seen.operator

    def _look(self, extended: Array, probe: Probe) -> Look | None:
        self.looks += 1
        try:
            return probe.look(extended)
        except SingularOperator:
            return None

    def _kicked(
        self, found: State, seen: Look | None, probe: Probe
    ) -> tuple[State, CondensedOperator | None]:
        """Lead an unstable state along its lowest mode, both ways, until one is stable."""
        if seen is None:
            raise Unstable(_NOWHERE.format(time=probe.time))
        nodes = self.operator.nodes
        mode = lowest_mode(seen.operator, negative=True)
        leaning = float(np.sum((found[1] - probe.committed)[:nodes] * mode[:nodes]))
        mode = mode if leaning >= 0.0 else -mode
        for size in KICKS:
            stable: list[tuple[State, CondensedOperator]] = []
            for side in (1.0, -1.0):
                try:
                    other = probe.again(found[1] + side * size * self.thickness * mode)
                except Failed:
                    continue
                other_look = self._look(other[1], probe)
                if other_look is not None and not other_look.negative:
                    stable.append((other, other_look.operator))
            if stable:
                break
        else:
            raise Unstable(_NOWHERE.format(time=probe.time))
        far = [self._reach(state[1] - probe.committed) for state, _ in stable]
        kind: Literal["kick", "either way"] = "kick"
        moved = self._reach(stable[0][0][1] - found[1])
        if len(stable) == 2:
            apart = self._reach(stable[0][0][1] - stable[1][0][1])
            if max(far) > NEARER * min(far):  # one of them is where the part was going
                chosen = stable[int(np.argmin(far))]
                self.sharp = chosen[1]
                return chosen
            if apart > 0.5 * moved:
                kind, moved = "either way", apart
        self.events.append(Event(kind=kind, time=probe.time, moved=moved))
        self.sharp = stable[0][1]
        return stable[0]

    def leap(self, probe: Probe) -> State:
        """Where no equilibrium is near: look beyond, along the softest mode of the last one.

        Raises:
            Failed: there is none within four times the thickness either.
        """
        if self.sharp is None or self.way is None:
            raise Failed([])
        mode = lowest_mode(self.sharp, negative=False)
        mode *= 1.0 if float(np.sum(self.way * mode)) >= 0.0 else -1.0
        for size in KICKS:
            with suppress(Failed):
                return probe.again(probe.committed + size * self.thickness * mode)
        raise Failed([])

    def too_soft(self, operator: CondensedOperator, correction: Array) -> bool:
        """Whether a state's own tangent, kept as operator, is nearly singular and asks too much.

        Near a limit of stability the tangent has a mode without stiffness. The elastic stiffness
        on the deformed shape, with tension only, is never less stiff than the part and goes on.
        """
        return operator is self.sharp and self._reach(correction) > STRIDE * self.thickness

    def step(self, mixer: Anderson, x: Array, correction: Array) -> tuple[Array, Anderson]:
        """Next iterate, never farther than the thickness; what is cut short forgets its past."""
        mixed = mixer.next(x, correction)
        if self._reach(mixed - x) <= self.thickness:
            return mixed, mixer
        short = min(1.0, STRIDE * self.thickness / self._reach(correction))
        return x + short * correction, Anderson(depth=mixer.depth)

    def _reach(self, moved: Array) -> float:
        return farthest(moved[: self.operator.nodes])

    def look_over(self, found: State, probe: Probe) -> None:
        """See whether a stable sheet has another stable shape on its other side.

        Args:
            found: the state.
            probe: how to look round.
        """
        if self.upright is None:
            return
        nodes = self.operator.nodes
        here = found[1][:nodes]
        height = self.upright.height(here, probe.held)
        if np.abs(height).max() < SAME * self.thickness:
            return
        came_back = 0
        for share in THROUGH:
            try:
                other = self._beyond(
                    probe.again(self._mirrored(found[1], height, share)), here, probe
                )
            except Failed:
                continue
            apart = farthest(other[:nodes] - here)
            seen = self._look(other, probe)
            if seen is None or seen.negative:
                continue
            if apart > SAME * self.thickness:
                self.events.append(Event(kind="other side", time=probe.time, moved=apart))
                return
            came_back += 1
        if came_back < len(THROUGH):  # some search ended nowhere, so nothing can be said
            self.events.append(Event(kind="not told", time=probe.time, moved=0.0))

    def _mirrored(self, extended: Array, height: Array, share: float) -> Array:
        """Displacements (rows, 3) of a sheet pushed down by a ``share`` of its height (n,) m.

        Its columns stay square on the middle surface: u = - z grad w.
        """
        assert self.upright is not None
        axis, nodes = self.upright.axis, self.operator.nodes
        pushed = np.zeros_like(extended)
        pushed[:nodes, axis] = -share * height
        slope = self.operator.at_nodes(self.operator.slopes(pushed)[:, axis])
        for along in np.delete(np.arange(3), axis):
            pushed[:nodes, along] = -self.upright.above * slope[along]
        result = np.array(extended + pushed)
        result[nodes:] *= 1.0 - share
        return result

    def _beyond(self, other: State, here: Array, probe: Probe) -> Array:
        """Displacements of a state; if it is unstable, of the one it falls to away from here."""
        seen = self._look(other[1], probe)
        if seen is None or not seen.negative:
            return np.asarray(other[1])
        nodes = self.operator.nodes
        mode = lowest_mode(seen.operator, negative=True)
        mode *= 1.0 if np.sum(mode[:nodes] * (other[1][:nodes] - here)) >= 0.0 else -1.0
        return np.asarray(probe.again(other[1] + KICKS[0] * self.thickness * mode)[1])


_NOWHERE = (
    "At {time:g} s the equilibrium is unstable (the part buckles) and no stable one was found "
    "beside it, though it was kicked along its lowest mode both ways by up to four times its "
    "thickness. Give the part an initial shape, smaller heat steps or a finer mesh."
)
