"""The initial shape of a plate: from the case to where straining starts."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex

from flamefe.straining.buckle import stressed_buckle
from flamefe.straining.restraint import NEVER, Support
from flamefe.straining.solving import Solving
from flamefe.study.case import Case, PointsShape, SineShape
from flamefe.workpiece.body import Body
from flamefe.workpiece.shape import (
    ShapeError,
    SmoothSurface,
    bent,
    on_panel,
    read_heights,
    sine_height,
)

Array = NDArray[np.float64]

MM = 1e-3
BEYOND = 0.1
"""Share of a side by which a plate may reach beyond its measured points without a word."""
UNLIKE = 0.15
"""Difference of the stressed from the asked shape, by its height, that is worth a word."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Initial:
    """Where straining starts.

    Args:
        body: the part that is strained: formed where the shape is stress-free, else flat.
        mesh: the part as it stands before the job.
        offset: (n, 3) m, from flat to there; None: it is flat.
        origin: (n, 3) m, displacements that the solver starts with and results don't count.
        start: (rows, 3) m, extended displacements that the solver starts from; None: none.
        inherent: (6, np), the strain that makes the stressed shape; None: none.
        remarks: in words.
    """

    body: Body
    mesh: MeshHex
    offset: Array | None = None
    origin: Array | float = 0.0
    start: Array | None = None
    inherent: Array | None = None
    remarks: tuple[str, ...] = ()


def initial_of(
    case: Case, body: Body, folder: Path, supports: Sequence[Support], solving: Solving
) -> Initial:
    """Shape the flat, meshed body as the case asks.

    Args:
        case: the case.
        body: flat.
        folder: where the file of measured points is looked for.
        supports: of the job; a stressed buckle stands in those that are never released.
        solving: how equilibrium is found.

    Raises:
        ShapeError: the measured points have faults.
        NoBuckle: the stressed shape can't stand like this.
    """
    shape = case.initial_shape
    if shape is None:
        return Initial(body=body, mesh=body.mesh)
    height, remarks = _height(shape, case, body, folder)
    if shape.state == "stress-free":
        mesh = bent(body.mesh, height)
        offset = np.zeros(body.points.shape)
        offset[:, 2] = height
        return Initial(
            body=replace(body, mesh=mesh), mesh=mesh, offset=offset, remarks=tuple(remarks)
        )
    held = np.zeros(body.points.shape, dtype=bool)
    for support in supports:
        if support.released == NEVER and support.fitted == -NEVER and support.push is None:
            held |= support.held
    close = replace(solving, tolerance=min(solving.tolerance, 1e-4))
    buckle = stressed_buckle(body, height, held, solving=close)
    offset = buckle.start[: body.points.shape[0]]
    highest = float(np.abs(buckle.height).max())
    remarks.append(
        f"The stressed buckle of {1e3 * highest:.2f} mm stands under an excess of "
        f"{1e6 * buckle.strain:.0f} micrometres a metre in both directions."
    )
    if buckle.difference > UNLIKE * highest:
        remarks.append(
            "Its shape is the sheet's own between its supports and differs from the one given by "
            f"up to {1e3 * buckle.difference:.2f} mm."
        )
    return Initial(
        body=body,
        mesh=MeshHex(body.mesh.p + offset.T, body.mesh.t).with_boundaries(
            body.mesh.boundaries or {}
        ),
        offset=offset,
        origin=offset,
        start=buckle.start,
        inherent=buckle.inherent_strain,
        remarks=tuple(remarks),
    )


def _height(
    shape: SineShape | PointsShape, case: Case, body: Body, folder: Path
) -> tuple[Array, list[str]]:
    length, width, _ = (MM * side for side in case.workpiece.size_mm)  # type: ignore[union-attr]
    size = (length, width)
    if isinstance(shape, SineShape):
        height = sine_height(body.points, size, height=MM * shape.height_mm, waves=shape.waves)
        return height, []
    file = folder / shape.file
    surface = SmoothSurface(
        measured=on_panel(read_heights(file), size, file.name), accuracy=MM * shape.accuracy_mm
    )
    flat = np.column_stack((np.ones(len(surface.measured)), surface.measured[:, :2]))
    left = surface.measured[:, 2]
    left = left - flat @ np.linalg.lstsq(flat, left, rcond=None)[0]
    if np.ptp(left) < 2.0 * MM * shape.accuracy_mm:
        raise ShapeError(
            f"{file.name} departs from a plane by {1e3 * np.ptp(left):.2g} mm only, no more than "
            f"the accuracy of {shape.accuracy_mm:g} mm: a flat plate, or heights in another unit. "
            "Give heights in mm, or leave the initial shape out."
        )
    said = [
        f"The measured heights are followed within {1e3 * surface.largest_miss:.2f} mm by a "
        f"smooth surface (root mean square {shape.accuracy_mm:g} mm allowed)."
    ]
    beyond = surface.beyond(size)
    if beyond > BEYOND * min(size):
        said.append(
            f"Extrapolated: the plate reaches {1e3 * beyond:.0f} mm beyond the measured points; "
            "measure up to its edges."
        )
    return surface.height(body.points), said
