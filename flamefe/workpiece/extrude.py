"""Beams: a cross section drawn out along x, fine where heat goes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import MeshHex

from flamefe.basics.errors import MeshError
from flamefe.workpiece.meshfile import from_meshio_order
from flamefe.workpiece.section import Section

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

BEAM_ENDS = ("start", "end")
"""The faces that every beam has beside those of its section: x lowest, x highest."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Beam:
    """A meshed beam: x along its length, y and z as in its section.

    Args:
        mesh: hexes, m; its boundaries are the section's faces, "start" and "end". The node of
            section node k at station i has the number i * (nodes of the section) + k.
        parts: for each named part of the section its hexes, rising.
        areas: (n,) m2 of the section that each node stands for at its station: the integral of
            its shape function over the section.
    """

    mesh: MeshHex
    parts: dict[str, Indices]
    areas: Array


def extruded(section: Section, stations: ArrayLike) -> Beam:
    """Draw a section out along x.

    Args:
        section: y and z, m.
        stations: rising x of its copies, (ns,), m; see ``graded``.

    Returns:
        A beam of (ns - 1) hexes for each quad of the section.

    Raises:
        MeshError: fewer than two stations, or they do not rise; a face of the section is called
            "start" or "end".

    Example:
        >>> from flamefe.workpiece.section_shapes import flat_bar
        >>> beam = extruded(flat_bar(width=0.1, thickness=0.01, size=0.05), [0.0, 0.3, 1.0])
        >>> beam.mesh.nelements, sorted(beam.mesh.boundaries)
        (8, ['bottom', 'end', 'left edge', 'right edge', 'start', 'top'])
        >>> round(float(beam.areas[:9].sum()), 9)
        0.001
    """
    x = np.asarray(stations, dtype=float)
    if x.ndim != 1 or x.size < 2 or not (np.isfinite(x).all() and (np.diff(x) > 0).all()):
        raise MeshError(
            f"A beam needs two or more rising stations along its length; {x.size} were given."
        )
    taken = [name for name in BEAM_ENDS if name in section.faces]
    if taken:
        raise MeshError(
            f"A face of the section {section.name!r} is called {taken[0]!r}, which is the name of "
            "an end of the beam; call it otherwise."
        )
    number, quads = len(section.points), section.quads
    points = np.empty((x.size, number, 3))
    points[:, :, 0] = x[:, None]
    points[:, :, 1:] = section.points
    layers = number * np.arange(x.size - 1)[:, None, None]
    hexes = np.concatenate([quads + layers, quads + layers + number], axis=-1).reshape(-1, 8)
    mesh = from_meshio_order(points.reshape(-1, 3), hexes)
    slices = len(quads) * np.arange(x.size - 1)[:, None]
    return Beam(
        mesh=mesh.with_boundaries(_faces(mesh, section, x.size)),
        parts={name: np.sort((own + slices).ravel()) for name, own in section.parts.items()},
        areas=np.tile(node_areas(section), x.size),
    )


def node_areas(section: Section) -> Array:
    """Area that each node of a section stands for: integral of its bilinear shape function.

    Args:
        section: its mesh, m.

    Returns:
        (n,), m2; their sum is the section's area.

    Example:
        >>> from flamefe.workpiece.section_shapes import flat_bar
        >>> bar = flat_bar(width=0.2, thickness=0.01, size=0.1, thickness_layers=1)
        >>> sorted(round(1e4 * float(area), 6) for area in node_areas(bar))
        [2.5, 2.5, 2.5, 2.5, 5.0, 5.0]
    """
    corners = section.points[section.quads]
    ahead = np.roll(corners, -1, axis=1) - corners
    back = np.roll(corners, 1, axis=1) - corners
    # the Jacobian is linear over a quad, so its integral with a shape function is exact in the
    # values at the corners: 4/9 of the own, 2/9 of each neighbour's, 1/9 of the opposite one's
    at_corners = 0.25 * (ahead[..., 0] * back[..., 1] - ahead[..., 1] * back[..., 0])
    weights = sum(
        share * np.roll(at_corners, shift, axis=1)
        for share, shift in ((4, 0), (2, 1), (1, 2), (2, 3))
    )
    areas = np.zeros(len(section.points))
    np.add.at(areas, section.quads, weights / 9.0)
    return areas


def _faces(mesh: MeshHex, section: Section, stations: int) -> dict[str, Indices]:
    """Outer facets of each face of the section, and of the two ends."""
    number = len(section.points)
    outer = np.asarray(mesh.boundary_facets(), dtype=np.int64)
    station, node = np.divmod(mesh.facets[:, outer], number)
    lowest, highest = station.min(axis=0), station.max(axis=0)
    faces = {
        "start": outer[highest == 0],
        "end": outer[lowest == stations - 1],
    }
    along = highest > lowest
    keys = node[:, along].min(axis=0) * number + node[:, along].max(axis=0)
    for name, edges in section.faces.items():
        ends = np.sort(edges, axis=1)
        faces[name] = outer[along][np.isin(keys, ends[:, 0] * number + ends[:, 1])]
    return faces
