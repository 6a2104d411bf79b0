"""What can be read of a case, even when other values in it have faults."""

from collections.abc import Mapping
from contextlib import suppress
from functools import cache
from typing import Annotated, Any

from pydantic import TypeAdapter, ValidationError

from flamefe.study.beam_sections import BEAMS
from flamefe.study.case_flames import Flame
from flamefe.study.case_holding import LOADS, SUPPORTS, InherentStrain
from flamefe.study.case_part import fields_of
from flamefe.study.case_shape import PointsShape, SineShape
from flamefe.study.case_solve import Limits, Prices, Solve
from flamefe.study.case_strokes import HEATS
from flamefe.study.case_workpiece import (
    Bar,
    MaterialTables,
    Mesh,
    MeshFile,
    OwnMaterial,
    Plate,
    Surroundings,
)

Read = dict[str, Any]
"""Values of one part that could be read, by name; what has a fault or is missing is left out."""

WORKPIECES = (Plate, Bar, MeshFile, *BEAMS)
SHAPES = (SineShape, PointsShape)

_SINGLE: dict[str, tuple[type, ...]] = {
    "workpiece": WORKPIECES,
    "mesh": (Mesh,),
    "initial_shape": SHAPES,
    "surroundings": (Surroundings,),
    "solve": (Solve,),
    "limits": (Limits,),
    "prices": (Prices,),
}
_NAMED: dict[str, type] = {"materials": OwnMaterial, "flames": Flame}
_LISTED: dict[str, tuple[type, ...]] = {
    "heats": HEATS,
    "supports": SUPPORTS,
    "loads": LOADS,
    "inherent_strain": (InherentStrain,),
}


def draft_of(given: Mapping[str, Any]) -> dict[str, Any]:
    """Read every value of a case that can be read.

    Args:
        given: the case's parts by name, as tables (from a file) or as objects.

    Returns:
        For each part of a case: what could be read of it (``Read``); for materials and flames
        these by name; for heats, supports, loads and inherent strain these in order. A part
        that was not given has its defaults; one of a wrong type altogether is None.
    """
    draft: dict[str, Any] = {}
    for name, classes in _SINGLE.items():
        draft[name] = _read(classes, given.get(name, {}))
    for name, cls in _NAMED.items():
        parts = given.get(name, {})
        draft[name] = (
            {str(key): _read((cls,), part) or {} for key, part in parts.items()}
            if isinstance(parts, Mapping)
            and all(isinstance(part, Mapping | cls) for part in parts.values())
            else None
        )
    for name, classes in _LISTED.items():
        parts = given.get(name, ())
        draft[name] = (
            [_read(classes, part) or {} for part in parts]
            if isinstance(parts, list | tuple)
            else None
        )
    return draft


def _read(classes: tuple[type, ...], part: Any) -> Read | None:
    """What can be read of one part of one of some classes (told apart by kind)."""
    if isinstance(part, classes):
        return {name: getattr(part, name) for name in fields_of(type(part))}
    if not isinstance(part, Mapping):
        return None
    cls = classes[0]
    if len(classes) > 1:
        by_kind = {fields_of(c)["kind"].default: c for c in classes}
        kind = part.get("kind")
        if not isinstance(kind, str) or kind not in by_kind:
            return None
        cls = by_kind[kind]
    read: Read = {}
    for name, field in fields_of(cls).items():
        if name not in part:
            if not field.is_required():
                read[name] = field.default
            continue
        if name == "tables":
            read[name] = _read((MaterialTables,), part[name]) or {}
            continue
        with suppress(ValidationError):
            read[name] = _adapter(cls, name).validate_python(part[name])
    return read


@cache
def _adapter(cls: type, name: str) -> TypeAdapter[Any]:
    field = fields_of(cls)[name]
    kind: Any = field.annotation
    for extra in field.metadata:
        kind = Annotated[kind, extra]
    return TypeAdapter(kind)
