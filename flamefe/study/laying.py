"""Which faces a workpiece has, and on which of them a heat burns."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, NamedTuple

from flamefe.heating.pattern import Pattern, Place
from flamefe.study.beam_sections import AnyBeam, faces_of_beam, is_beam, values_of
from flamefe.study.case_strokes import AnyHeat, pattern_of
from flamefe.study.case_workpiece import Bar, MeshFile, Plate
from flamefe.workpiece.beam_faces import BeamFaces
from flamefe.workpiece.faces import FACE_SIDES, OPPOSITE

AnyWorkpiece = Plate | Bar | MeshFile | AnyBeam
"""A workpiece of any kind."""


class Laid(NamedTuple):
    """A face on which a heat burns; there v = offset + scale * (v of the heat's own face), m."""

    face: str
    offset: float = 0.0
    scale: float = 1.0

    def points(self, points: tuple[Place, ...]) -> tuple[Place, ...]:
        """Points of the heat's own face, m, as they lie on this one."""
        return tuple((u, self.offset + self.scale * v) for u, v in points)

    def pattern(self, pattern: Pattern) -> Pattern:
        """A pattern of the heat's own face as it lies on this one."""
        strokes = tuple(
            replace(stroke, points=self.points(stroke.points)) for stroke in pattern.strokes
        )
        return replace(pattern, strokes=strokes)


def faces_known(values: Mapping[str, Any] | None) -> tuple[str, ...] | None:
    """Names of a workpiece's faces; None where only the mesh file tells, or dimensions are missing.

    Args:
        values: what could be read of the workpiece.

    Example:
        >>> faces_known({"kind": "plate"})
        ('start', 'end', 'near', 'far', 'bottom', 'top')
    """
    if (values or {}).get("kind") in ("plate", "bar"):
        return tuple(FACE_SIDES)
    faces = faces_of_beam(values)
    return None if faces is None else tuple(faces.maps)


def opposite_in(faces: BeamFaces | None, face: str, v: tuple[float, float]) -> Laid | None:
    """The face across from a stretch of one (v from and to, m); None where there is none.

    Args:
        faces: of a beam; None: of a plate or bar.
        face: its name.
        v: from where to where the heat lies on it.
    """
    if faces is None:
        return Laid(OPPOSITE[face]) if face in OPPOSITE else None
    if face not in faces.maps:
        return None
    found = faces.across(face, *v)
    return None if found is None else Laid(*found)


def laid_on(piece: AnyWorkpiece, heat: AnyHeat) -> tuple[Laid, ...]:
    """The face or faces on which a heat of a checked case burns, its own first.

    Example:
        >>> from flamefe.study.case_heats import SpotHeat
        >>> plate = Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355")
        >>> spot = SpotHeat(flame="torch", face="top", at_mm=[200, 100], time_s=9, both_faces=True)
        >>> [laid.face for laid in laid_on(plate, spot)]
        ['top', 'bottom']
    """
    own = Laid(heat.face)
    if not heat.both_faces:
        return (own,)
    faces = None
    if not isinstance(piece, Plate | Bar | MeshFile):
        values = values_of(piece)
        assert is_beam(values)
        faces = faces_of_beam(values)
    across = [v for _, v in pattern_of(heat).outline]
    other = opposite_in(faces, heat.face, (min(across), max(across)))
    assert other is not None  # a checked heat has it
    return own, other
