"""The named faces of a beam: where they are, what lies across from them, which part they bound."""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.workpiece.extrude import BEAM_ENDS
from flamefe.workpiece.face_map import FaceMap, FlatFace
from flamefe.workpiece.rolled_face import RolledFace
from flamefe.workpiece.section import Section

Array = NDArray[np.float64]

NUDGE = 1e-3
"""How far beside a place the outline is looked at, by the length of the face."""


class Across(NamedTuple):
    """The face across a plate: its name, and its v = offset + scale * v of the first face, m."""

    face: str
    offset: float
    scale: float


@dataclass(frozen=True, kw_only=True, eq=False)
class BeamFaces:
    """Faces of a section drawn out along x.

    Args:
        section: its mesh, however coarse.
        length: of the beam, m.

    Example:
        >>> from flamefe.workpiece.section_shapes import i_section
        >>> faces = BeamFaces(section=i_section(height=0.2, width=0.1, web_thickness=0.006,
        ...     flange_thickness=0.01, size=0.05), length=3.0)
        >>> faces.across("web left", 0.05, 0.1).face
        'web right'
        >>> faces.across("top of top flange", 0.06, 0.09).face
        'underside of top flange right'
        >>> faces.across("top of top flange", 0.02, 0.09) is None    # the web lies between
        True
    """

    section: Section
    length: float
    maps: dict[str, FaceMap] = field(init=False, repr=False)
    _edges: Array = field(init=False, repr=False)
    _owners: list[tuple[str, str]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        section, length = self.section, self.length
        if not (np.isfinite(length) and length > 0.0):
            raise OutOfRange(f"The length is {length:g} m; it must be above 0.")
        maps: dict[str, FaceMap] = {
            name: RolledFace.of_section(section, name, length=length) for name in section.faces
        }
        low, high = section.points.min(axis=0), section.points.max(axis=0)
        for name in BEAM_ENDS:
            maps[name] = FlatFace.of_box(name, [0.0, *low], [length, *high])
        object.__setattr__(self, "maps", maps)
        part_of = {quad: name for name, quads in section.parts.items() for quad in quads.tolist()}
        owner: dict[frozenset[int], str] = {}
        for number, quad in enumerate(section.quads.tolist()):
            for one, other in zip(quad, (*quad[1:], quad[0]), strict=True):
                owner[frozenset((one, other))] = part_of[number]
        edges = [(edge, name) for name, found in section.faces.items() for edge in found.tolist()]
        object.__setattr__(self, "_edges", section.points[np.array([edge for edge, _ in edges])])
        owners = [(name, owner[frozenset(edge)]) for edge, name in edges]
        object.__setattr__(self, "_owners", owners)

    def across(self, face: str, low: float, high: float) -> Across | None:
        """The face straight across the plate that a stretch of a face bounds.

        Args:
            face: a face of the section, or an end.
            low, high: from where to where its v runs, m.

        Returns:
            None where no single face of the same plate lies across all of the stretch.
        """
        if face in BEAM_ENDS:
            return Across(BEAM_ENDS[1 - BEAM_ENDS.index(face)], 0.0, 1.0)
        here = self.maps[face]
        if here.period is not None:
            return self._across_tube(face, here.period)
        if isinstance(here, RolledFace) and here.bends:
            return None
        _, (first, last) = here.span
        nudge = NUDGE * (last - first)
        low = min(max(low - nudge, first + nudge), last - 2.0 * nudge)
        high = max(min(high + nudge, last - nudge), low + nudge)
        found = [self._through(face, v) for v in np.linspace(low, high, 9)]
        names = {None if one is None else one[0] for one in found}
        one, other = found[0], found[-1]
        if one is None or other is None or len(names) > 1:
            return None
        scale = (other[1] - one[1]) / (high - low)
        return Across(one[0], one[1] - scale * low, float(scale))

    def parts_at(self, face: str, low: float, high: float) -> frozenset[str]:
        """Parts of the section that a stretch of a face (v from low to high, m) bounds."""
        if face in BEAM_ENDS:
            return frozenset(self.section.parts)
        here = self.maps[face]
        middles = self._edges.mean(axis=1)
        half = 0.5 * np.linalg.norm(self._edges[:, 1] - self._edges[:, 0], axis=1)
        found = set()
        for number, (name, part) in enumerate(self._owners):
            if name != face:
                continue
            v = here.back(np.array([[0.0, *middles[number]]]))[0, 1]
            turns = (-1, 0, 1) if here.period is not None else (0,)
            if any(
                v + turn * (here.period or 0.0) + half[number] >= low
                and v + turn * (here.period or 0.0) - half[number] <= high
                for turn in turns
            ):
                found.add(part)
        return frozenset(found)

    def _across_tube(self, face: str, period: float) -> Across | None:
        hit = self._through(face, 0.25 * period)
        if hit is None or hit[0] == face:
            return None
        other = self.maps[hit[0]].period
        return None if other is None else Across(hit[0], 0.0, other / period)

    def _through(self, face: str, v: float) -> tuple[str, float] | None:
        """Face and its v straight below a place, where the same part ends; else None."""
        here = self.maps[face]
        place, normal = here.place([(0.0, v)])[0, 1:], here.normal([(0.0, v)])[0, 1:]
        from_, way = self._edges[:, 0], self._edges[:, 1] - self._edges[:, 0]
        # place - depth normal = from_ + share way
        turn = normal[0] * way[:, 1] - normal[1] * way[:, 0]
        level = np.abs(turn) < 1e-9 * np.linalg.norm(way, axis=1)
        offset = place - from_
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (normal[0] * offset[:, 1] - normal[1] * offset[:, 0]) / turn
            depth = -(offset[:, 1] * way[:, 0] - offset[:, 0] * way[:, 1]) / turn
        own = np.argmin(np.where(level, np.inf, np.abs(depth) + 1e3 * _outside(share)))
        depth = np.where(level | (_outside(share) > 1e-9) | (depth < 1e-9), np.inf, depth)
        nearest = int(np.argmin(depth))
        if not np.isfinite(depth[nearest]) or self._owners[nearest][1] != self._owners[own][1]:
            return None
        name = self._owners[nearest][0]
        hit = place - depth[nearest] * normal
        return name, float(self.maps[name].back(np.array([[0.0, *hit]]))[0, 1])


def _outside(share: Array) -> Array:
    """How far a share lies outside 0 to 1."""
    return np.asarray(np.maximum(0.0, np.maximum(-share, share - 1.0)))
