"""Temperatures at given places on or in a part, by the shape functions of its hexes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_matrix
from skfem import ElementHex1, MeshHex

Array = NDArray[np.float64]

BEAD = 1e-3
"""A place this far off the part, m, is taken for its nearest place on it: a bead has a size."""

_CORNERS = np.asarray(ElementHex1.doflocs)
_ROUNDS = 12


@dataclass(frozen=True, kw_only=True, eq=False)
class Sampler:
    """Values at places, linear along each edge of a hex (trilinear) between its nodes.

    Args:
        weights: sparse (k, n), from nodal values to the places.
        off: (k,) m, how far each place lies off the part; infinite beyond ``BEAD``.

    Example:
        >>> mesh = MeshHex()
        >>> sampler = Sampler.of(mesh, [[0.25, 0.5, 0.75], [1.0, 1.0, 1.0005], [0.5, 0.5, 3.0]])
        >>> values = sampler.at(10.0 * mesh.p[0] + mesh.p[2])
        >>> [round(float(value), 9) for value in values], sampler.off.round(9).tolist()
        ([3.25, 11.0, nan], [0.0, 0.0005, inf])
    """

    weights: csr_matrix
    off: Array

    @classmethod
    def of(cls, mesh: MeshHex, places: ArrayLike) -> "Sampler":
        """Sampler at places (k, 3) m of a mesh of hexes."""
        wanted = np.asarray(places, dtype=float).reshape(-1, 3)
        corners = mesh.p.T[mesh.t.T]  # (ne, 8, 3)
        low, high = corners.min(axis=1) - BEAD, corners.max(axis=1) + BEAD
        rows, columns, shares = [], [], []
        off = np.full(len(wanted), np.inf)
        for row, place in enumerate(wanted):
            near = np.flatnonzero(((low <= place) & (place <= high)).all(axis=1))
            if not near.size:
                continue
            local = _local(corners[near], place)
            found = np.einsum("ma,mai->mi", _shares(local), corners[near])
            gaps = np.linalg.norm(found - place, axis=1)
            best = int(np.argmin(gaps))
            if gaps[best] > BEAD * (1.0 + 1e-9):
                continue
            off[row] = gaps[best]
            rows += [row] * 8
            columns += mesh.t[:, near[best]].tolist()
            shares += _shares(local[best][None])[0].tolist()
        size = (len(wanted), mesh.p.shape[1])
        return cls(weights=csr_matrix((shares, (rows, columns)), shape=size), off=off)

    def at(self, values: Array) -> Array:
        """Values (k,) of nodal ones (n,); NaN off the part."""
        return np.where(np.isfinite(self.off), self.weights @ values, np.nan)


def _local(corners: Array, place: Array) -> Array:
    """Local coordinates of a place in each of some hexes (m, 8, 3), kept within 0 to 1, (m, 3)."""
    local = np.full((len(corners), 3), 0.5)
    for _ in range(_ROUNDS):
        gap = place - np.einsum("ma,mai->mi", _shares(local), corners)
        turn = np.einsum("maj,mai->mij", _slopes(local), corners)
        local = np.clip(local + (np.linalg.pinv(turn) @ gap[..., None])[..., 0], -1.0, 2.0)
    return np.asarray(np.clip(local, 0.0, 1.0))


def _factors(local: Array) -> Array:
    """Factors (m, 8, 3) of the shape functions: the coordinate, or 1 less it."""
    return np.where(_CORNERS == 1.0, local[:, None, :], 1.0 - local[:, None, :])


def _shares(local: Array) -> Array:
    """Shape functions (m, 8) at local coordinates (m, 3)."""
    return np.asarray(_factors(local).prod(axis=2))


def _slopes(local: Array) -> Array:
    """Their derivatives by the local coordinates, (m, 8, 3)."""
    factors = _factors(local)
    sign = np.where(_CORNERS == 1.0, 1.0, -1.0)
    others = [factors[..., [1, 2]], factors[..., [0, 2]], factors[..., [0, 1]]]
    return np.stack([sign[:, i] * others[i].prod(axis=2) for i in range(3)], axis=2)
