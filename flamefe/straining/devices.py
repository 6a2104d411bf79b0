"""Devices that hold the part at places of its skin: rests, springs, jacks, suction, strongbacks."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csr_matrix, vstack

from flamefe.basics.errors import OutOfRange
from flamefe.straining.footing import Patch
from flamefe.straining.restraint import NEVER
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

RIGID = float("inf")


@dataclass(frozen=True, kw_only=True, eq=False)
class Device:
    """One device, or one kind of device at several places.

    Each row is a place whose movement is a weighted mean of nodes' displacements in the direction
    in which the device pushes; a force f of the row acts on the part as f times the row.

    Args:
        name: for messages and results.
        rows: sparse (m, 3 n).
        gaps: (m,) m between device and part when it is fitted; negative: pushed in.
        stiffness: (m,) N/m, infinity for rigid.
        least, most: (m,) N, limits of the force on the part.
        leak: m; a place whose pull was exceeded and that has lifted by more than this has lost it
            for good (infinity: never).
        spread: (p, m), forces of the rows to forces on the part, along the direction in which the
            device pushes, at p places that are reported.
        areas: (p,) m2 of these places.
        nodes: (p,) a node at each of them.
        balanced: its forces balance among its places, so it carries what one side pushes.
        fitted, released: when, s; it acts after that moment's equilibrium, and till then.

    Raises:
        OutOfRange: a stiffness that is not above 0, or limits the wrong way round.
    """

    name: str
    rows: csr_matrix
    gaps: Array
    stiffness: Array
    least: Array
    most: Array
    spread: Array
    areas: Array
    nodes: IntArray
    leak: float = NEVER
    balanced: bool = False
    fitted: float = -NEVER
    released: float = NEVER

    def __post_init__(self) -> None:
        if not (self.stiffness > 0.0).all():
            raise OutOfRange(
                f"{self.name} has a stiffness of {self.stiffness.min():g} N/m; it must be above 0 "
                "(infinity: rigid)."
            )
        if (self.least > self.most).any():
            raise OutOfRange(f"{self.name}: its least force is above its greatest.")


def rows_of(body: Body, patches: Sequence[Patch], push: ArrayLike) -> csr_matrix:
    """A row (of 3 n) a patch: its mean movement along ``push`` (3,)."""
    way = np.asarray(push, dtype=float)
    rows, columns, values = [], [], []
    for number, patch in enumerate(patches):
        for axis in np.flatnonzero(way):
            rows.append(np.full(patch.nodes.size, number))
            columns.append(3 * patch.nodes + axis)
            values.append(patch.shares * way[axis])
    return csr_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
        shape=(len(patches), 3 * body.points.shape[0]),
    )


def pushers(
    body: Body,
    patches: Sequence[Patch],
    push: ArrayLike,
    *,
    name: str,
    gap: float = 0.0,
    stiffness: ArrayLike = RIGID,
    least: ArrayLike = 0.0,
    most: ArrayLike = NEVER,
    leak: float = NEVER,
    fitted: float = -NEVER,
    released: float = NEVER,
) -> Device:
    """A device that pushes along ``push`` at each of some patches from the ground.

    With the defaults a rigid rest; ``least`` minus infinity: a spring fixture, fastened;
    ``least`` = ``most``: a jack of given force; ``least`` = - suction times area: a vacuum plate.

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.straining.footing import patch_at
        >>> from flamefe.workpiece.standard import material
        >>> body = Body(mesh=MeshHex(), materials=(material("S355"),))
        >>> corner = patch_at(body, (0, 0, 0), 0.01, (0, 0, 1), both=False)
        >>> pushers(body, [corner], (0, 0, 1), name="rest").rows.shape
        (1, 24)
    """
    count = len(patches)
    return Device(
        name=name,
        rows=rows_of(body, patches, push),
        gaps=np.full(count, gap),
        stiffness=np.array(np.broadcast_to(np.asarray(stiffness, dtype=float), (count,))),
        least=np.array(np.broadcast_to(np.asarray(least, dtype=float), (count,))),
        most=np.array(np.broadcast_to(np.asarray(most, dtype=float), (count,))),
        leak=leak,
        spread=np.eye(count),
        areas=np.array([patch.area for patch in patches]),
        nodes=np.array([patch.nodes[np.argmax(patch.shares)] for patch in patches]),
        fitted=fitted,
        released=released,
    )


def spreader(
    body: Body,
    first: Patch,
    second: Patch,
    push: ArrayLike,
    *,
    name: str,
    gap: float = 0.0,
    stiffness: float = RIGID,
    least: float = 0.0,
    most: float = NEVER,
    fitted: float = -NEVER,
    released: float = NEVER,
) -> Device:
    """A jack between two places of the part: pushes the first along ``push``, the second against.

    Its direction stays fixed in space.
    """
    along, against = rows_of(body, [first], push), rows_of(body, [second], push)
    return Device(
        name=name,
        rows=csr_matrix(along - against),
        gaps=np.array([gap]),
        stiffness=np.array([stiffness]),
        least=np.array([least]),
        most=np.array([most]),
        spread=np.array([[1.0], [-1.0]]),
        balanced=True,
        areas=np.array([first.area, second.area]),
        nodes=np.array([patch.nodes[np.argmax(patch.shares)] for patch in (first, second)]),
        fitted=fitted,
        released=released,
    )


def strongback(
    body: Body,
    patches: Sequence[Patch],
    push: ArrayLike,
    *,
    name: str,
    stiffness: float,
    fitted: float = -NEVER,
    released: float = NEVER,
) -> Device:
    """A straight beam clamped to the part at three places or more, both ways along ``push``.

    The beam is rigid and follows the part as a whole; its clamps have a ``stiffness`` (N/m) each,
    so that it holds nothing but what departs from a straight line. With s the place along it and
    Q an orthonormal basis of what is neither constant nor linear in s (m - 2 rows)::

        forces on the part = - k Q^T Q u;  they balance in force and in moment

    Raises:
        OutOfRange: fewer than three places, or all at one place along the beam.
    """
    if len(patches) < 3:
        raise OutOfRange(f"{name} is clamped at {len(patches)} places; it needs 3 or more.")
    places = np.array([patch.shares @ body.points[patch.nodes] for patch in patches])
    line = places[-1] - places[0]
    length = float(np.linalg.norm(line))
    along = (places - places[0]) @ line / max(length, 1e-300)
    if np.ptp(along) <= 0.0:
        raise OutOfRange(f"{name}: the first and the last of its places are the same.")
    straight = np.stack((np.ones_like(along), along / length), axis=1)
    whole = np.linalg.qr(straight, mode="complete")[0]
    crooked = whole[:, 2:].T
    count = crooked.shape[0]
    return Device(
        name=name,
        rows=csr_matrix(csr_matrix(crooked) @ rows_of(body, patches, push)),
        gaps=np.zeros(count),
        stiffness=np.full(count, stiffness),
        least=np.full(count, -NEVER),
        most=np.full(count, NEVER),
        spread=np.asarray(crooked.T),
        balanced=True,
        areas=np.array([patch.area for patch in patches]),
        nodes=np.array([patch.nodes[np.argmax(patch.shares)] for patch in patches]),
        fitted=fitted,
        released=released,
    )


def stacked(devices: Sequence[Device]) -> csr_matrix:
    """Rows of all devices, one under the other."""
    return csr_matrix(vstack([device.rows for device in devices]))
