"""Columns of nodes through the plates of a case's beam, below the faces that are heated."""

from collections.abc import Iterable

import numpy as np

from flamefe.outcome.columns import Columns
from flamefe.study.beam_mesh import BeamLayout
from flamefe.study.beam_sections import AnyBeam
from flamefe.study.face_maps import face_map_of
from flamefe.workpiece.body import Body
from flamefe.workpiece.extrude import BEAM_ENDS
from flamefe.workpiece.through import rows_through


def columns_below(
    piece: AnyBeam, layout: BeamLayout, body: Body, faces: Iterable[str]
) -> Columns | None:
    """Columns from faces of a beam through the plates that these bound.

    Args:
        piece: the beam.
        layout: its section and stations.
        body: its mesh, made of them.
        faces: names; ends of the beam are left out.

    Returns:
        Columns whose places are the station and v of their first node as the shop measures them,
        m, and whose axis runs into the plate; None where no face is left.
    """
    number = len(layout.section.points)
    nodes, places, along, starts = [], [], [], [0]
    for name in dict.fromkeys(faces):
        if name in BEAM_ENDS:
            continue
        rows = rows_through(layout.section, name)
        steps = np.linalg.norm(np.diff(layout.section.points[rows], axis=1), axis=2)
        depth = np.pad(np.cumsum(steps, axis=1), ((0, 0), (1, 0)))
        shift = number * np.arange(len(layout.stations))
        here = (shift[:, None, None] + rows).reshape(-1, rows.shape[1])
        face = face_map_of(piece, body.mesh, name)
        where = face.back(body.points[here[:, 0]])
        where[:, 1] /= face.stretch
        starts += (starts[-1] + rows.shape[1] * np.arange(1, len(here) + 1)).tolist()
        nodes.append(here.ravel())
        places.append(where)
        along.append(np.tile(depth, (len(layout.stations), 1)).ravel())
    if not nodes:
        return None
    return Columns(
        nodes=np.concatenate(nodes),
        starts=np.array(starts[:-1], dtype=np.int64),
        axis=2,
        places=np.concatenate(places),
        along=np.concatenate(along),
    )
