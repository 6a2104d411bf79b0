"""Contradictions among supports, loads, inherent strain and the part."""

from collections.abc import Collection, Iterator, Mapping
from typing import Any

from flamefe.study.case_extent import outside, ranges, size_of
from flamefe.study.device_contradictions import device_faults
from flamefe.study.faults import Fault, Path, choose, shown
from flamefe.study.laying import faces_known
from flamefe.workpiece.faces import FACE_SIDES

Draft = Mapping[str, Any]

_ON_SETS = ("clamp", "push")
_AT_POINTS = ("points", "rest", "spring", "strongback")


def holding_faults(draft: Draft) -> Iterator[Fault]:
    """Faults of supports, loads and inherent strain: off the part, or against each other."""
    faces = faces_known(draft["workpiece"])
    if faces is not None:
        yield from face_faults(draft, faces, ())
    yield from _clashes(draft)
    yield from _weights(draft)
    yield from _left_alone(draft)
    yield from device_faults(draft)
    yield from _points(draft)
    yield from _boxes(draft)


def face_faults(
    draft: Draft, faces: Collection[str], node_sets: Collection[str]
) -> Iterator[Fault]:
    """Faults of supports and loads that name a face or node set that doesn't exist."""
    for name in ("supports", "loads"):
        for i, item in enumerate(draft[name] or ()):
            face = item.get("face")
            if face is None:
                continue
            sets = node_sets if item["kind"] in _ON_SETS else ()
            if face in faces or face in sets:
                continue
            allowed, advice = choose(face, [*faces, *sets])
            given = f"no face {shown(face)}"
            if face in node_sets:
                given = f"{shown(face)}, a node set, which has no normal and no area"
            yield Fault(path=(name, i, "face"), given=given, allowed=allowed, advice=advice)


def _clashes(draft: Draft) -> Iterator[Fault]:
    """Two supports that prescribe the same movement of one face."""
    taken: dict[tuple[str, str], tuple[int, str]] = {}
    for i, item in enumerate(draft["supports"] or ()):
        face, kind = item.get("face"), item.get("kind")
        if face is None:
            continue
        if kind == "push":
            axes = [item["direction"]] if "direction" in item else []
        elif kind == "guide" or kind in ("template", "pressed spot"):
            axes = ["xyz"[FACE_SIDES[face][0]]] if face in FACE_SIDES else []
        elif kind == "clamp":
            axes = ["x", "y", "z"]
        else:
            axes = []
        for axis in axes:
            before = taken.setdefault((face, axis), (i, kind))
            if before[0] != i and "push" in (kind, before[1]):
                yield Fault(
                    path=("supports", i, "face"),
                    given=f"a {kind} on the face {shown(face)}, whose movement along {axis} the "
                    f"{before[1]} of support {before[0] + 1} already prescribes",
                    allowed="one support for each face and direction",
                    advice="Take one of the two out, or put it on another face.",
                )


def _weights(draft: Draft) -> Iterator[Fault]:
    """The part weighs once."""
    weights = [i for i, load in enumerate(draft["loads"] or ()) if load.get("kind") == "own weight"]
    for i in weights[1:]:
        yield Fault(
            path=("loads", i), given="the part's own weight once more",
            allowed='one load of kind "own weight"',
            advice='Take it out; what lies on the part is a load of kind "ballast".',
        )  # fmt: skip


def _left_alone(draft: Draft) -> Iterator[Fault]:
    """A load that stays when all that bears it is gone."""
    supports = draft["supports"] or ()
    times = {support.get("released", "never") for support in supports}
    if not supports or "never" in times:
        return
    order = ("hot", "after cooling")
    last = max((order.index(time) for time in times if time in order), default=None)
    for i, load in enumerate(draft["loads"] or ()):
        gone = load.get("released", "never")
        if last is None or (gone in order and order.index(gone) <= last):
            continue
        yield Fault(
            path=("loads", i, "released"),
            given=f"{shown(gone)} for a load that all supports leave ({shown(order[last])})",
            allowed=f"{shown(order[last])}, or a support that stays",
            advice="Release the load with the supports, or let one support stay.",
        )


def _points(draft: Draft) -> Iterator[Fault]:
    size = size_of(draft["workpiece"] or {})
    if size is None:
        return
    places: list[tuple[Path, tuple[float, ...]]] = []
    for i, item in enumerate(draft["supports"] or ()):
        if item.get("kind") in _AT_POINTS:
            for n, point in enumerate(item.get("at_mm") or ()):
                places.append((("supports", i, "at_mm", n), point))
        if item.get("kind") == "jack":
            for key in ("at_mm", "against_mm"):
                if item.get(key) is not None:
                    places.append((("supports", i, key), item[key]))
    for i, item in enumerate(draft["loads"] or ()):
        if item.get("at_mm") is not None:
            places.append((("loads", i, "at_mm"), item["at_mm"]))
    for path, point in places:
        if words := outside(point, size, "xyz"):
            yield Fault(
                path=path,
                given=f"({', '.join(f'{v:g}' for v in point)}), off the part by {words}",
                allowed=ranges(size, "xyz"),
                advice="Move the point into the part or onto its surface.",
            )  # fmt: skip


def _boxes(draft: Draft) -> Iterator[Fault]:
    size = size_of(draft["workpiece"] or {})
    for i, box in enumerate(draft["inherent_strain"] or ()):
        low, high = box.get("from_mm"), box.get("to_mm")
        if low is None or high is None:
            continue
        flat = [a for a, u, v in zip("xyz", low, high, strict=True) if v <= u]
        if flat:
            yield Fault(
                path=("inherent_strain", i, "to_mm"),
                given=f"a corner that is not beyond from_mm along {' and '.join(flat)}",
                allowed="each of x, y, z above that of from_mm",
                advice="Give the lowest corner as from_mm, the highest as to_mm.",
            )
        elif size is not None and any(
            v <= 0 or u >= end for u, v, end in zip(low, high, size, strict=True)
        ):
            yield Fault(
                path=("inherent_strain", i), given="a box that lies wholly off the part",
                allowed=ranges(size, "xyz"), advice="Move the box into the part.",
            )  # fmt: skip
