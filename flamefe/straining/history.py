"""Displacements over time, and the state that each cycle leaves behind."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class EndState:
    """The part at one moment that matters (the end of a cycle), at uniform temperature.

    Args:
        name: what moment this is.
        time: s.
        displacement: (n, 3) m, since the start of the job.
        stress: (ne, 8, 6) Pa, order xx, yy, zz, xy, yz, zx.
        plastic_strain: (ne, 8, 6), shear components doubled.
        equivalent_plastic_strain: (ne, 8).
    """

    name: str
    time: float
    displacement: Array
    stress: Array
    plastic_strain: Array
    equivalent_plastic_strain: Array

    @property
    def mises(self) -> Array:
        """Equivalent (von Mises) stress, (ne, 8) Pa."""
        s = self.stress
        normal = (
            (s[..., 0] - s[..., 1]) ** 2
            + (s[..., 1] - s[..., 2]) ** 2
            + (s[..., 2] - s[..., 0]) ** 2
        )
        shear = s[..., 3] ** 2 + s[..., 4] ** 2 + s[..., 5] ** 2
        return np.asarray(np.sqrt(0.5 * normal + 3.0 * shear))


@dataclass(frozen=True, kw_only=True)
class Effort:
    """What the increments cost and how well they converged.

    Args:
        increments: converged increments.
        solves: triangular solves.
        factorisations: factorisations of the operator.
        cut_backs: increments that were cut.
        worst_residual: largest relative residual that was accepted.
    """

    increments: int
    solves: int
    factorisations: int
    cut_backs: int
    worst_residual: float


@dataclass(frozen=True, kw_only=True)
class StrainHistory:
    """Displacements at rising times and the states at the ends of cycles.

    Args:
        times: (ns,) s.
        displacements: (ns, n, 3) m.
        ends: one state a cycle.
        effort: cost and convergence.
        reactions: (ns, 3) N, sum of the forces that the supports carry.
    """

    times: Array
    displacements: Array
    ends: tuple[EndState, ...]
    effort: Effort
    reactions: Array
