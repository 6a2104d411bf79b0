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
        forces: (nd, p) N on the part along the device's direction; below 0 it pulls.
        touching: (nd, p) whether it touches there.
        lost: (nd, p) whether its suction is lost there.
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

    A time stands twice where something is fitted, released or lets go: before and after it.

    Args:
        name: of it.
        times: (nd,) s, never falling.
        fitted: (nd,) whether it was there.
        carried: (nd,) N, what it has to bear. A device: the larger of the sums of what it pushes
            and of what it pulls at its places. A support that holds nodes: by its ``bearing``.
        signed: (nd,) N, the same, below 0 where a device pulls more than it pushes.
        pulls: (nd,) N, what it pulls in all; never below 0; 0 of what balances in itself.
        force: (nd, 3) N, resultant of its forces on the part.
        moment: (nd, 3) N m, of these forces about ``centre``.
        centre: (3,) m, the middle of the nodes it holds, on the part as it was meshed.
        nodes: number of nodes that it holds or touches.
        releases: when it was taken off.
        places: of a device that acts at places of the skin.
    """

    name: str
    times: Array
    fitted: NDArray[np.bool_]
    carried: Array
    signed: Array
    pulls: Array
    force: Array
    moment: Array
    centre: Array
    nodes: int = 0
    releases: tuple[Release, ...] = ()
    places: PlaceHistory | None = None


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
