"""How a case's beam will be divided: stations along it, and the mesh of its section."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from flamefe.study.beam_sections import dimensions_of, faces_of_beam, section_of
from flamefe.workpiece.extrude import BEAM_ENDS
from flamefe.workpiece.mesh import graded
from flamefe.workpiece.section import Section

MM = 1e-3
FEWEST_LAYERS, MOST_LAYERS = 2, 6
"""Element layers through each plate of a beam where not given."""
EDGES_ACROSS = 8
"""Edges along the larger side of a section, at least, where no heat goes."""
LONG_BY_SIZE = 0.5
"""Length of elements away from heats, by the larger side of the section, where not given."""


class Heated(NamedTuple):
    """A stretch of a face that a heat covers, mm."""

    face: str
    u: tuple[float, float]
    v: tuple[float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class BeamLayout:
    """Section and stations of a beam's mesh.

    Args:
        section: meshed, m.
        stations: along the beam, m.
        layers: element layers through each plate.
    """

    section: Section
    stations: NDArray[np.float64]
    layers: int

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return len(self.section.points) * len(self.stations)


def usual_size_away(size_mm: tuple[float, float, float], fine_mm: float) -> float:
    """Length of elements away from heats where not given, mm.

    Example:
        >>> usual_size_away((6000.0, 150.0, 300.0), 6.0)
        150.0
    """
    return max(4.0 * fine_mm, LONG_BY_SIZE * max(size_mm[1:]))


def laid_out(
    values: Mapping[str, Any],
    heated: Sequence[Heated],
    *,
    size_mm: tuple[float, float, float],
    fine_mm: float,
    coarse_mm: float,
    reach_mm: float,
    layers: int | None,
) -> BeamLayout | None:
    """Divide a beam: fine along its length where heats go, and in the parts that they cover.

    Args:
        values: of the beam.
        heated: stretches of its faces that heats cover.
        size_mm: its extent.
        fine_mm, coarse_mm: largest element at a heat and away from it.
        reach_mm: how far beside a heat elements are fine.
        layers: through each plate; None: no thicker than the size at the heat, 2 to 6.

    Returns:
        None where the dimensions are unknown or contradictory.

    Raises:
        OutOfRange, MeshError: sizes that are not allowed.

    Example:
        >>> bar = {"kind": "round bar", "length_mm": 900.0, "diameter_mm": 60.0}
        >>> laid_out(bar, [Heated("outside", (400.0, 400.0), (0.0, 0.0))], size_mm=(900, 60, 60),
        ...          fine_mm=6.0, coarse_mm=30.0, reach_mm=30.0, layers=None).layers
        2
    """
    faces, known = faces_of_beam(values), dimensions_of(values)
    if faces is None or known is None or coarse_mm < fine_mm:
        return None
    spans: list[tuple[float, float]] = []
    parts: set[str] = set()
    for one in heated:
        if one.face in BEAM_ENDS:
            at = 0.0 if one.face == BEAM_ENDS[0] else size_mm[0]
            spans.append((at - reach_mm, at + reach_mm))
        else:
            spans.append((one.u[0] - reach_mm, one.u[1] + reach_mm))
        parts |= faces.parts_at(one.face, MM * (one.v[0] - reach_mm), MM * (one.v[1] + reach_mm))
    stations = graded(
        MM * size_mm[0],
        fine_spans=[(MM * low, MM * high) for low, high in spans],
        fine=MM * fine_mm,
        coarse=MM * coarse_mm,
    )
    if layers is None:
        plates = [t for name, t in known.items() if name.endswith("thickness_mm") and t]
        thickest = max(plates, default=fine_mm)
        layers = min(max(FEWEST_LAYERS, math.ceil(thickest / fine_mm - 1e-9)), MOST_LAYERS)
    across = min(coarse_mm, max(fine_mm, max(size_mm[1:]) / EDGES_ACROSS))
    section = section_of(
        values, size=MM * across, layers=layers, fine=dict.fromkeys(sorted(parts), MM * fine_mm)
    )
    return BeamLayout(section=section, stations=stations, layers=layers)
