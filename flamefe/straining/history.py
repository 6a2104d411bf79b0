"""Displacements over time, and the state that each cycle leaves behind."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from flamefe.straining.stability import Event

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
class Release:
    """Something that held the part was taken off.

    Args:
        time: s.
        force: N that it carried just before.
    """

    time: float
    force: float


@dataclass(frozen=True, kw_only=True)
class PlaceHistory:
    """What a device did at each of its places.

    Args:
        forces: (ns, p) N on the part along the device's direction; below 0 it pulls.
        touching: (ns, p) whether it touches there.
        lost: (ns, p) whether its suction is lost there.
        areas: (p,) m2.
        nodes: (p,) a node at each place.
    """

    forces: Array
    touching: NDArray[np.bool_]
    lost: NDArray[np.bool_]
    areas: Array
    nodes: NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class DeviceHistory:
    """What one support or device carried over time.

    Args:
        name: of it.
        fitted: (ns,) whether it was there.
        pushes: (ns,) N, sum of what it pushes at its places; of a support that holds nodes: the
            largest sum of forces of one sign along x, y or z, the sign positive.
        pulls: (ns,) N, the same of what it pulls, or of negative sign; never below 0.
        releases: when it was taken off.
        places: of a device that acts at places of the skin.
    """

    name: str
    fitted: NDArray[np.bool_]
    pushes: Array
    pulls: Array
    releases: tuple[Release, ...] = ()
    places: PlaceHistory | None = None

    @property
    def carried(self) -> Array:
        """(ns,) N, the larger of what it pushes and pulls."""
        return np.maximum(self.pushes, self.pulls)


@dataclass(frozen=True, kw_only=True)
class StrainHistory:
    """Displacements at rising times and the states at the ends of cycles.

    Args:
        times: (ns,) s.
        displacements: (ns, n, 3) m.
        ends: one state a cycle.
        effort: cost and convergence.
        reactions: (ns, 3) N, sum of the forces of supports and devices on the part.
        devices: what each support and device carried, in the order in which they were fitted.
        unclaimed: (ns,) N, size of the forces where the part is held by no support of its own.
        events: what the watch over stability saw.
        watched: whether each state was checked to be stable.
    """

    times: Array
    displacements: Array
    ends: tuple[EndState, ...]
    effort: Effort
    reactions: Array
    devices: tuple[DeviceHistory, ...] = ()
    unclaimed: Array = field(default_factory=lambda: np.zeros(0))
    events: tuple[Event, ...] = ()
    watched: bool = False
