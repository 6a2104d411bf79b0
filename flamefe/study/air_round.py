"""The air round a case's part: what its outer faces lose."""

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.table import Table
from flamefe.heating.air import Orientation, blown_air, still_air
from flamefe.heating.surface import Cooling, FacePoints
from flamefe.study.case import Case
from flamefe.workpiece.body import Body
from flamefe.workpiece.faces import outward_normals

LEVEL = 0.7
"""Cosine of the angle to the upright above which a face counts as looking up or down."""


def coolings_of(case: Case, body: Body) -> list[Cooling]:
    """What all outer faces lose to the air; in still air by the way they look.

    An upright face has the height of the part, a level one the area by perimeter of its outline; in
    blown air the length is that of the part.
    """
    air = case.surroundings
    facets = np.asarray(body.mesh.boundary_facets())
    if air.air == "given":
        return [_cooling(case, body, facets, air.film_W_m2K)]
    size = np.ptp(body.mesh.p, axis=1)
    ambient = float(np.clip(air.ambient_C, -50.0, 60.0))
    if air.air == "blown":
        film = blown_air(air.air_speed_m_s, float(size.max()), ambient_C=ambient)
        return [_cooling(case, body, facets, film)]
    axis = "xyz".index(air.up[1])
    upwards = outward_normals(body.mesh, facets)[:, axis] * (1.0 if air.up[0] == "+" else -1.0)
    sides = np.delete(size, axis)
    level = float(sides.prod() / (2.0 * sides.sum()))
    kinds: list[tuple[Orientation, NDArray[np.bool_], float]] = [
        ("up", upwards > LEVEL, level),
        ("down", upwards < -LEVEL, level),
        ("upright", np.abs(upwards) <= LEVEL, float(size[axis])),
    ]
    return [
        _cooling(case, body, facets[chosen], still_air(looks, length, ambient_C=ambient))
        for looks, chosen, length in kinds
        if chosen.any()
    ]


def _cooling(case: Case, body: Body, facets: NDArray[np.int64], film: float | Table) -> Cooling:
    return Cooling(
        face=FacePoints.of(body.mesh, facets),
        film=film,
        emissivity=case.surroundings.emissivity,
        ambient=case.surroundings.ambient_C,
    )
