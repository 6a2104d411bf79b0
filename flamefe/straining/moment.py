"""States of the march: what is aimed at, what a try found, what is handed out."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from flamefe.straining.grip import Answer, Carried
from flamefe.straining.plasticity import PointAnswer, PointState
from flamefe.straining.remote import RemoteLoads
from flamefe.straining.schedule import Target
from flamefe.straining.stability import Event

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class Moment:
    """A converged state.

    Args:
        target: what was asked.
        extended: displacements (n, 3) m, then mode amplitudes (3 ne, 3).
        stress: (6, ne * 8) Pa; with finite geometry the second Piola-Kirchhoff stress.
        state: what the points remember.
        reaction: (n, 3) N, forces of the supports on the part.
        residual: relative residual.
        solves, factorisations, cut_backs: what it cost.
        gripped: (n, 3) N, forces of the devices on the part.
        carried: what each device does, by its name.
        events: what the watch over stability saw; None: there was no watch.
    """

    target: Target
    extended: Array
    stress: Array
    state: PointState
    reaction: Array
    residual: float
    solves: int
    factorisations: int
    cut_backs: int
    gripped: Array
    carried: dict[str, Carried] = field(default_factory=dict)
    events: tuple[Event, ...] | None = None

    @property
    def displacement(self) -> Array:
        """(n, 3) m."""
        return self.extended[: self.reaction.shape[0]]


@dataclass(frozen=True, kw_only=True, eq=False)
class Goal:
    """What one try must balance: everything at its end."""

    temperature: Array
    force: Array
    inherent: Array | None
    share: float
    remote: RemoteLoads | None = None


Balance = tuple[PointAnswer, Array, Array, float, Answer | None]
"""What a try found: the law's answer, extended displacements, reactions, residual, devices."""
