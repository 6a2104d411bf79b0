"""Rows of nodes through the plates of a cross section: what lies below a place on a face."""

from collections import Counter

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import MeshError
from flamefe.workpiece.section import Section

Indices = NDArray[np.int64]


def rows_through(section: Section, face: str) -> Indices:
    """Rows of nodes from a face straight through the plate that it bounds.

    Each row follows the mesh from quad to opposite edge as long as these belong to the same part.
    Rows of another number of nodes than most are left out: at a corner they run along a plate.

    Args:
        section: its mesh.
        face: name of a face.

    Returns:
        (rows, nodes in each), the first of each on the face.

    Raises:
        MeshError: there is no such face.

    Example:
        >>> from flamefe.workpiece.section_shapes import flat_bar
        >>> bar = flat_bar(width=0.1, thickness=0.01, size=0.05)
        >>> rows = rows_through(bar, "top")
        >>> [[round(1e3 * float(z), 6) for z in row] for row in bar.points[rows][:, :, 1]]
        [[10.0, 5.0, 0.0], [10.0, 5.0, 0.0], [10.0, 5.0, 0.0]]
    """
    if face not in section.faces:
        raise MeshError(f"The section {section.name!r} has no face {face!r}.")
    part_of = {quad: part for part, quads in section.parts.items() for quad in quads.tolist()}
    owners: dict[frozenset[int], list[int]] = {}
    quads = section.quads.tolist()
    for number, quad in enumerate(quads):
        for one, other in zip(quad, (*quad[1:], quad[0]), strict=True):
            owners.setdefault(frozenset((one, other)), []).append(number)
    rows: dict[int, list[int]] = {}
    for edge in section.faces[face].tolist():
        for start, row in _rows(edge, quads, owners, part_of).items():
            if start not in rows or len(row) < len(rows[start]):
                rows[start] = row
    usual = Counter(map(len, rows.values())).most_common(1)[0][0]
    return np.array([row for _, row in sorted(rows.items()) if len(row) == usual], dtype=np.int64)


def _rows(
    edge: list[int],
    quads: list[list[int]],
    owners: dict[frozenset[int], list[int]],
    part_of: dict[int, str],
) -> dict[int, list[int]]:
    """The rows that begin at both ends of an edge of the boundary."""
    one, other = edge
    (quad,) = owners[frozenset(edge)]
    part, rows = part_of[quad], {one: [one], other: [other]}
    here: int | None = quad
    while here is not None and part_of[here] == part:
        corners = quads[here]
        at = corners.index(one)
        if corners[(at + 1) % 4] == other:
            ends = corners[(at + 3) % 4], corners[(at + 2) % 4]
        else:
            ends = corners[(at + 1) % 4], corners[(at + 2) % 4]
        one, other = ends
        rows[edge[0]].append(one)
        rows[edge[1]].append(other)
        here = next((n for n in owners[frozenset(ends)] if n != here), None)
    return rows
