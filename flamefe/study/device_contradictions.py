"""Contradictions within and among the devices of a case."""

import math
from collections.abc import Iterator, Mapping
from typing import Any

from flamefe.study.case_extent import outside, ranges, size_of
from flamefe.study.faults import Fault, Path, shown
from flamefe.workpiece.faces import FACE_AXES, FACE_SIDES

Read = Mapping[str, Any]

_EITHER = ("rest", "spring", "jack", "ballast")
_CROOKED = 0.02
"""Distance from the line of a strongback, by its length, that is taken for straight."""


def device_faults(draft: Read) -> Iterator[Fault]:
    """Faults of devices: places, directions, times and forces that don't go together."""
    burns = bool(draft["heats"])
    for room in ("supports", "loads"):
        for i, item in enumerate(draft[room] or ()):
            path: Path = (room, i)
            kind = item.get("kind")
            yield from _times(item, path, burns)
            if kind in _EITHER:
                yield from _place(item, path)
                yield from _facing(item, path)
            if kind == "jack":
                yield from _jack(item, path)
            elif kind == "strongback":
                yield from _strongback(item, path)
            elif kind in ("template", "pressed spot"):
                yield from _rounds(item, path, draft)


def _times(item: Read, path: Path, burns: bool) -> Iterator[Fault]:
    fitted, released = item.get("fitted"), item.get("released")
    if fitted == "hot" and released == "hot":
        yield Fault(
            path=(*path, "released"),
            given='"hot" for what is fitted "hot", so that it is never there',
            allowed='"after cooling" or "never"',
            advice="Release it later, or fit it before heating.",
        )
    if not burns:
        for key, value in (("fitted", fitted), ("released", released)):
            if value == "hot" and not (key == "released" and item.get("kind") == "pressed spot"):
                yield Fault(
                    path=(*path, key),
                    given='"hot" in a case without a heat',
                    allowed='"before heating"' if key == "fitted" else '"never", "after cooling"',
                    advice="Add a heat, or choose another time.",
                )


def _place(item: Read, path: Path) -> Iterator[Fault]:
    if "at_mm" not in item or "face" not in item:
        return  # one of them has a fault of its own
    points, face = item["at_mm"], item["face"]
    if (points is None) == (face is None):
        yield Fault(
            path=path if face is None else (*path, "face"),
            given="neither at_mm nor face" if face is None else "both at_mm and face",
            allowed="one of the two",
            advice="Say where it is: points on the part's skin, or a whole face.",
        )


def _facing(item: Read, path: Path) -> Iterator[Fault]:
    key = "direction" if item.get("kind") == "ballast" else "pushes"
    way, face = item.get(key), item.get("face")
    if item.get("kind") == "spring" or way is None or face not in FACE_SIDES:
        return
    axis, side = FACE_SIDES[face]
    inward = ("-" if side > 0 else "") + "xyz"[axis]
    if way != inward:
        yield Fault(
            path=(*path, key),
            given=f"{shown(way)} on the face {shown(face)}, which it can't push that way",
            allowed=shown(inward),
            advice="Let it push into the part, or take another face.",
        )


def _jack(item: Read, path: Path) -> Iterator[Fault]:
    at, against, pushes = item.get("at_mm"), item.get("against_mm"), item.get("pushes")
    if "against_mm" in item and "pushes" in item:
        if against is None and pushes is None:
            yield Fault(
                path=path, given="neither pushes nor against_mm", allowed="one of the two",
                advice="Give the direction in which it pushes, or the second point it stands on.",
            )  # fmt: skip
        if against is not None and pushes is not None:
            yield Fault(
                path=(*path, "pushes"),
                given="a direction beside against_mm, which gives the direction",
                allowed="one of the two",
                advice="Leave pushes out: it pushes from against_mm towards at_mm.",
            )
    if against is not None and item.get("face") is not None:
        yield Fault(
            path=(*path, "against_mm"),
            given="a second point for a jack that pushes a whole face",
            allowed="at_mm with against_mm, or a face with pushes",
            advice="Give at_mm instead of the face.",
        )
    if against is not None and at is not None and math.dist(at, against) < 1e-6:
        yield Fault(
            path=(*path, "against_mm"), given="the same point as at_mm",
            allowed="a point away from at_mm", advice="Move one of the two.",
        )  # fmt: skip
    if item.get("force_kN") is not None:
        for key, usual in (("gap_mm", 0.0), ("stiffness_kN_mm", None)):
            if item.get(key, usual) != usual:
                yield Fault(
                    path=(*path, key),
                    given="a value beside force_kN, which the jack keeps whatever the part does",
                    allowed="force_kN, or gap_mm and stiffness_kN_mm",
                    advice="Take one of them out.",
                )


def _strongback(item: Read, path: Path) -> Iterator[Fault]:
    points = item.get("at_mm")
    if points is None:
        return
    first, last = points[0], points[-1]
    length = math.dist(first, last)
    if length < 1e-6:
        yield Fault(
            path=(*path, "at_mm"), given="the same first and last point",
            allowed="points in a row", advice="Give the clamps from one end to the other.",
        )  # fmt: skip
        return
    along = [(b - a) / length for a, b in zip(first, last, strict=True)]
    for n, point in enumerate(points[1:-1], start=1):
        arm = [p - a for p, a in zip(point, first, strict=True)]
        place = sum(u * v for u, v in zip(arm, along, strict=True))
        away = math.sqrt(max(sum(v * v for v in arm) - place**2, 0.0))
        if away > _CROOKED * length or not 0.0 < place < length:
            yield Fault(
                path=(*path, "at_mm", n),
                given=f"a point {away:.3g} mm beside the line of the beam, or beyond its ends",
                allowed="points in a row between the first and the last",
                advice="Put the clamps along one straight beam.",
            )
    way = item.get("direction")
    if way is not None and abs(along["xyz".index(way)]) > 0.9:
        yield Fault(
            path=(*path, "direction"), given=f"{shown(way)}, along the beam itself",
            allowed="a direction across the beam",
            advice="Give the direction in which it keeps the part straight.",
        )  # fmt: skip


def _rounds(item: Read, path: Path, draft: Read) -> Iterator[Fault]:
    size, face = size_of(draft["workpiece"] or {}), item.get("face")
    if size is None or face not in FACE_AXES:
        return
    axes = FACE_AXES[face]
    ends, names = [size[a] for a in axes], ["xyz"[a] for a in axes]
    if item["kind"] == "template":
        places = [((*path, "holes_mm", n), hole[:2]) for n, hole in enumerate(
            item.get("holes_mm", ()))]  # fmt: skip
    else:
        places = [((*path, "at_mm"), item["at_mm"])] if "at_mm" in item else []
    for where, point in places:
        if words := outside(point, ends, names):
            yield Fault(
                path=where,
                given=f"({', '.join(f'{v:g}' for v in point)}), off the face by {words}",
                allowed=ranges(ends, names),
                advice="Move its middle onto the face.",
            )
