"""From the dimensions of a beam in a case, in mm, to its cross section and faces, in m."""

import re
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import Any

from flamefe.basics.errors import OutOfRange
from flamefe.study.case_beams import Angle, Channel, IBeam, Tee
from flamefe.study.case_part import fields_of
from flamefe.study.case_tubes import BoxBeam, Panel, RectangularTube, RoundBar, RoundTube
from flamefe.study.faults import Fault
from flamefe.workpiece import section_shapes
from flamefe.workpiece.beam_faces import BeamFaces
from flamefe.workpiece.section import Section

MM = 1e-3

AnyBeam = IBeam | Channel | Tee | Angle | BoxBeam | RoundTube | RectangularTube | RoundBar | Panel
"""A beam, pipe or panel of any shape."""
BEAMS: tuple[type[AnyBeam], ...] = (
    IBeam, Channel, Tee, Angle, BoxBeam, RoundTube, RectangularTube, RoundBar, Panel,
)  # fmt: skip
"""The shapes."""

_SHAPES: dict[str, tuple[type[AnyBeam], Callable[..., Section]]] = {
    "I beam": (IBeam, section_shapes.i_section),
    "channel": (Channel, section_shapes.channel),
    "T beam": (Tee, section_shapes.t_section),
    "angle": (Angle, section_shapes.angle),
    "box": (BoxBeam, section_shapes.box),
    "round tube": (RoundTube, section_shapes.round_tube),
    "rectangular tube": (RectangularTube, section_shapes.rectangular_tube),
    "round bar": (RoundBar, section_shapes.round_bar),
    "panel": (Panel, section_shapes.stiffened_panel),
}
_NO_DIMENSIONS = ("kind", "length_mm", "material")
_EDGES_FOR_SHOW = 4
"""Edges along the larger side of a section that is only asked where its faces are."""

Values = Mapping[str, Any]
"""What could be read of a beam, by name."""


def is_beam(values: Values | None) -> bool:
    """Whether what was read is a beam, pipe or panel."""
    return (values or {}).get("kind") in _SHAPES


def values_of(piece: AnyBeam) -> dict[str, Any]:
    """The values of a beam by name."""
    return {name: getattr(piece, name) for name in fields_of(type(piece))}


def extent_mm(values: Values) -> tuple[float, float, float] | None:
    """Extent of a beam along x, y and z, mm; None where a dimension could not be read.

    Example:
        >>> extent_mm({"kind": "round bar", "length_mm": 900.0, "diameter_mm": 60.0})
        (900.0, 60.0, 60.0)
    """
    known = dimensions_of(values)
    if known is None or "length_mm" not in values:
        return None
    made = _SHAPES[values["kind"]][0](length_mm=values["length_mm"], material="any", **known)
    return made.size_mm


def dimensions_of(values: Values) -> dict[str, Any] | None:
    """Dimensions of a beam's section by name, mm; None where one could not be read."""
    names = [name for name in fields_of(_SHAPES[values["kind"]][0]) if name not in _NO_DIMENSIONS]
    return {name: values[name] for name in names} if set(names) <= set(values) else None


def section_of(
    values: Values, *, size: float, layers: int = 1, fine: Mapping[str, float] | None = None
) -> Section:
    """Section of a beam.

    Args:
        values: of the beam.
        size: edge length along its plates, m.
        layers: element layers through each plate.
        fine: edge length along some parts, by name, m.

    Raises:
        OutOfRange: a dimension is missing, or they contradict each other; lengths in m.

    Example:
        >>> section_of({"kind": "round bar", "diameter_mm": 60.0}, size=0.02).name
        'round 60 mm'
    """
    known = dimensions_of(values)
    if known is None:
        raise OutOfRange("Not all dimensions of the beam are known; give them all.")
    chosen = tuple(sorted((fine or {}).items()))
    return _section(values["kind"], tuple(known.items()), size, layers, chosen)


def faces_of_beam(values: Values | None) -> BeamFaces | None:
    """Faces of a beam; None where it is none, or its dimensions are unknown or contradictory.

    Example:
        >>> bar = {"kind": "round bar", "length_mm": 900.0, "diameter_mm": 60.0}
        >>> sorted(faces_of_beam(bar).maps)
        ['end', 'outside', 'start']
    """
    if values is None or not is_beam(values):
        return None
    known, length = dimensions_of(values), values.get("length_mm")
    if known is None or length is None:
        return None
    try:
        return _faces(values["kind"], tuple(known.items()), length)
    except OutOfRange:
        return None


def dimension_faults(draft: Mapping[str, Any]) -> Iterator[Fault]:
    """Dimensions of a beam that contradict each other."""
    values = draft["workpiece"]
    if values is None or not is_beam(values):
        return
    known = dimensions_of(values)
    if known is None:
        return
    try:
        section_of(values, size=_coarse(known))
    except OutOfRange as error:
        for line in str(error).split("\n- ")[1:]:
            yield _in_mm(line, known)


@lru_cache(maxsize=64)
def _section(
    kind: str,
    dimensions: tuple[tuple[str, Any], ...],
    size: float,
    layers: int,
    fine: tuple[tuple[str, float], ...],
) -> Section:
    given = {
        name.removesuffix("_mm"): MM * value if name.endswith("_mm") and value else value
        for name, value in dimensions
    }
    return _SHAPES[kind][1](**given, size=size, thickness_layers=layers, fine=dict(fine))


@lru_cache(maxsize=16)
def _faces(kind: str, dimensions: tuple[tuple[str, Any], ...], length_mm: float) -> BeamFaces:
    section = _section(kind, dimensions, _coarse(dict(dimensions)), 1, ())
    return BeamFaces(section=section, length=MM * length_mm)


def _coarse(dimensions: Values) -> float:
    """An edge length that shows where the faces are, m."""
    largest = max(v for k, v in dimensions.items() if k.endswith("_mm") and v is not None)
    return MM * float(largest) / _EDGES_FOR_SHOW


def _in_mm(line: str, dimensions: Values) -> Fault:
    """A line of a builder's error, which speaks of m, as a fault of the case, which is in mm."""
    said = re.sub(r"(-?[\d.]+(?:e[-+]?\d+)?) m\b", lambda m: f"{1e3 * float(m[1]):g} mm", line)
    path: tuple[str | int, ...] = ("workpiece",)
    for name in sorted(dimensions, key=len, reverse=True):
        plain = name.removesuffix("_mm")
        if said.startswith(f"{plain} is"):
            path, said = ("workpiece", name), said.removeprefix(f"{plain} is ")
    given, _, rest = said.partition("; ")
    if rest:
        allowed, _, advice = rest.partition(": ")
        allowed = allowed.removeprefix("it must be ").removeprefix("that must be ")
    else:
        (given, _, advice), allowed = said.partition(": "), "dimensions that go together"
    advice = advice or "Change it."
    return Fault(
        path=path, given=given, allowed=allowed,
        advice=advice[0].upper() + advice[1:].rstrip(".") + ".",
    )  # fmt: skip
