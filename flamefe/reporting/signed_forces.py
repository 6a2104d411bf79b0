"""Which way a support acts on the part, over time: a push or a pull, not a size alone."""

from dataclasses import dataclass

import numpy as np

from flamefe.reporting.marks import marks_of
from flamefe.reporting.skin import Array
from flamefe.study.device_outcomes import TURNING, DeviceOutcome
from flamefe.study.result import RunResult

MOSTLY = 0.9
"""Share of a force along one direction from which it has that direction."""
SIZES = ("points", "template", "pressed spot", "strongback")
"""Kinds whose force is a size: at one of many places, or of what balances in itself."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SignedForce:
    """A support's force over time.

    Args:
        values: kN at the outcome's times; above 0 it pushes the part, below 0 it pulls it.
        manner: "" for a push or pull; "size" where only a size is known; else which way is
            above 0.
    """

    values: Array
    manner: str = ""

    @property
    def words(self) -> str:
        """How far it pushes and pulls, in words; nothing of a size."""
        low, high = float(self.values.min()), float(self.values.max())
        return "" if self.manner == "size" else f"from {low:.3g} to {high:.3g} kN"


def signed_force(result: RunResult, one: DeviceOutcome) -> SignedForce:
    """The force of a support with its way.

    Of what holds a face in more than its normal the resultant has three components. Where nearly
    all of it lies along one line all the time, the part along that line is told: towards the part
    a push, away from it a pull. Where it doesn't, its size.
    """
    told = np.asarray(one.force_kN, dtype=float)
    if one.kind in SIZES:
        return SignedForce(values=told, manner="size")
    if one.kind == "vacuum plate":
        return SignedForce(values=told, manner="net of suction and contact")
    if one.kind not in TURNING:
        return SignedForce(values=told)
    forces = np.asarray(one.force_on_part_kN, dtype=float).reshape(-1, 3)
    if len(forces) != len(told):
        return SignedForce(values=told, manner="size")
    sizes = np.linalg.norm(forces, axis=1)
    largest = int(np.argmax(sizes))
    if sizes[largest] <= 0.0:
        return SignedForce(values=told)
    line = forces[largest] / sizes[largest]
    across = np.linalg.norm(forces - np.outer(forces @ line, line), axis=1)
    if across.max() > np.sqrt(1.0 - MOSTLY**2) * sizes[largest]:
        return SignedForce(values=told, manner="size")
    inward = _inward(result, one)
    if abs(float(line @ inward)) >= MOSTLY:
        return SignedForce(values=forces @ line * np.sign(line @ inward))
    axis = int(np.argmax(np.abs(line)))
    return SignedForce(
        values=forces @ line * np.sign(line[axis]), manner=f"+ mostly along +{'xyz'[axis]}"
    )


def _inward(result: RunResult, one: DeviceOutcome) -> Array:
    """The mean normal, into the part, of the face that a support holds; 0 where there is none."""
    place = int(one.name.split()[1]) - 1
    mark = next(mark for mark in marks_of(result) if mark.label == f"S{place + 1}")
    if not len(mark.faces):
        return np.zeros(3)
    corner = result.mesh.p.T[mark.faces]
    normals = np.cross(corner[:, 2] - corner[:, 0], corner[:, 3] - corner[:, 1])
    mean = normals.sum(axis=0)
    return np.asarray(-mean / max(float(np.linalg.norm(mean)), 1e-300))
