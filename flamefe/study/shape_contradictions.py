"""Contradictions among the initial shape, the plate and what holds it."""

from collections.abc import Iterator, Mapping
from typing import Any

from flamefe.study.faults import Fault
from flamefe.workpiece.shape import LARGEST_SLOPE

Draft = Mapping[str, Any]


def shape_faults(draft: Draft) -> Iterator[Fault]:
    """Faults of an initial shape: not on a plate, too steep, or without what it needs."""
    solve = draft["solve"] or {}
    if solve.get("stability") == "always" and solve.get("geometry") == "small":
        yield Fault(
            path=("solve", "stability"), given='"always" with geometry = "small"',
            allowed='"auto" or "never" in small geometry',
            advice="Only finite geometry knows of buckling; take it.",
        )  # fmt: skip
    shape = draft.get("initial_shape")
    if not shape:
        return
    piece = draft["workpiece"] or {}
    if piece.get("kind", "plate") != "plate":
        yield Fault(
            path=("initial_shape",), given=f"an initial shape of a {piece['kind']}",
            allowed='only with a workpiece of kind "plate"',
            advice="Take it out; a mesh file can hold a shape of its own.",
        )  # fmt: skip
        return
    yield from _steep(shape, piece)
    if solve.get("geometry") == "small":
        yield Fault(
            path=("solve", "geometry"), given='"small" with an initial shape',
            allowed='"finite"',
            advice="A buckled sheet carries by its shape; take finite geometry.",
        )  # fmt: skip
    if shape.get("state") != "stressed":
        return
    supports = draft["supports"]
    if supports is not None and not any(s.get("released") == "never" for s in supports):
        yield Fault(
            path=("initial_shape", "state"), given='"stressed" without a support that stays',
            allowed='edges held by supports with released = "never"',
            advice='Clamp the edges, or give the shape as "stress-free".',
        )  # fmt: skip
    if draft["inherent_strain"]:
        yield Fault(
            path=("inherent_strain",), given='inherent strain beside a "stressed" initial shape',
            allowed="one of the two",
            advice="The stressed shape is an inherent strain itself; take one out.",
        )  # fmt: skip


def _steep(shape: Mapping[str, Any], piece: Mapping[str, Any]) -> Iterator[Fault]:
    height, waves = shape.get("height_mm"), shape.get("waves")
    if height == 0.0:
        yield Fault(
            path=("initial_shape", "height_mm"), given="0 mm", allowed="any height but 0",
            advice="Leave initial_shape out for a flat plate.",
        )  # fmt: skip
    sides = piece.get("length_mm"), piece.get("width_mm")
    if height is None or waves is None or sides[0] is None or sides[1] is None:
        return
    shortest = min(side / count for side, count in zip(sides, waves, strict=True))
    most = LARGEST_SLOPE * shortest
    if abs(height) > most:
        yield Fault(
            path=("initial_shape", "height_mm"),
            given=f"{height:g} mm on half waves of {shortest:g} mm",
            allowed=f"up to {most:g} mm, a twentieth of the half wave",
            advice="Lower it; steeper shapes are pressed parts, not buckles: take a mesh file.",
        )  # fmt: skip
