"""Values of flames, heats and water of a case that can't be right together."""

from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import Any

from flamefe.basics.errors import OutOfRange
from flamefe.study.beam_sections import faces_of_beam, is_beam
from flamefe.study.case_draft import Read
from flamefe.study.case_flames import flame_contradictions
from flamefe.study.case_materials import family_of
from flamefe.study.case_mesh import path_in
from flamefe.study.case_strokes import HEATS, heat_in, pattern_of
from flamefe.study.faults import CaseError, Fault, shown
from flamefe.study.laying import opposite_in
from flamefe.workpiece.faces import OPPOSITE
from flamefe.workpiece.practice import practice_for

Draft = Mapping[str, Any]

SHORTEST_REASON = 15
"""Letters that a reason for what practice forbids must have at least."""

_SPOTS = ("spot", "spot field")


def heat_faults(draft: Draft) -> list[Fault]:
    """All contradictions within and among flames, heats and water."""
    return [
        *_flames(draft),
        *_driven_by_one(draft),
        *_hand(draft),
        *_gas_hot_enough(draft),
        *_melting(draft),
        *_possible(draft),
        *_both_faces(draft),
        *_water(draft),
    ]


def _flames(draft: Draft) -> Iterator[Fault]:
    for name, values in (draft["flames"] or {}).items():
        for key, given, allowed, advice in flame_contradictions(values):
            yield Fault(
                path=("flames", name, key), given=given, allowed=allowed, advice=advice
            )  # fmt: skip


def _driven_by_one(draft: Draft) -> Iterator[Fault]:
    """A heat goes by time or speed, or by temperature, not by both."""
    for i, heat in enumerate(draft["heats"] or ()):
        clock = "time_s" if heat.get("kind") in _SPOTS else "speed_mm_s"
        if heat.get("kind") in ("line", "held line", "wedge") or not {clock, "target_C"} <= set(
            heat
        ):
            continue
        given = [key for key in (clock, "target_C") if heat[key] is not None]
        if len(given) != 1:
            yield Fault(
                path=("heats", i, clock),
                given=" and ".join(given) or f"neither {clock} nor target_C",
                allowed=f"{clock} or target_C",
                advice="Give one of them: by the clock, or by the temperature under the torch.",
            )


def _gas_hot_enough(draft: Draft) -> Iterator[Fault]:
    """Hot gas that is no hotter than the part, or than what it should reach."""
    ambient = (draft["surroundings"] or {}).get("ambient_C")
    for name, values in (draft["flames"] or {}).items():
        gas = values.get("gas_C")
        if gas is not None and ambient is not None and gas <= ambient:
            yield Fault(
                path=("flames", name, "gas_C"), given=f"{gas:g} C, no hotter than the part",
                allowed=f"above {ambient:g} C", advice="Give the temperature of the hot gas.",
            )  # fmt: skip
    for i, heat in enumerate(draft["heats"] or ()):
        gas = ((draft["flames"] or {}).get(heat.get("flame", "")) or {}).get("gas_C")
        target = heat.get("target_C")
        if gas is not None and target is not None and target >= gas:
            yield Fault(
                path=("heats", i, "target_C"),
                given=f"{target:g} C with gas of {gas:g} C, which never makes it so hot",
                allowed=f"below {gas:g} C", advice="Ask for less, or take hotter gas.",
            )  # fmt: skip


def _melting(draft: Draft) -> Iterator[Fault]:
    """Targets at which the metal melts."""
    family = family_of((draft["workpiece"] or {}).get("material"), draft["materials"])
    melts = practice_for(family).melts_C
    for i, heat in enumerate(draft["heats"] or ()):
        target = heat.get("target_C")
        if melts is not None and target is not None and target >= melts:
            yield Fault(
                path=("heats", i, "target_C"),
                given=f"{target:g} C, where {family} melts (about {melts:g} C, from memory)",
                allowed=f"below {melts:g} C, and within the limit of the metal",
                advice="Ask for less.",
            )  # fmt: skip


def _hand(draft: Draft) -> Iterator[Fault]:
    """A least speed that is not below the greatest."""
    for i, heat in enumerate(draft["heats"] or ()):
        slow, fast = heat.get("slowest_mm_s"), heat.get("fastest_mm_s")
        if slow is not None and fast is not None and slow >= fast:
            yield Fault(
                path=("heats", i, "slowest_mm_s"),
                given=f"{slow:g} mm/s, not below the greatest speed of {fast:g}",
                allowed=f"below {fast:g} mm/s",
                advice="Give the limits of the hand.",
            )  # fmt: skip


def _possible(draft: Draft) -> Iterator[Fault]:
    """Patterns whose dimensions contradict each other."""
    kinds = {kind.kind: kind for kind in HEATS}
    for i, heat in enumerate(draft["heats"] or ()):
        made = kinds.get(heat.get("kind", ""))
        if made is None or heat.get("kind") in ("line", "held line", "spot", "wedge"):
            continue
        if heat_in(heat) is not None:
            continue
        with suppress(CaseError):  # a value that could not be read has a fault of its own
            try:
                pattern_of(made(**heat))
            except OutOfRange as error:
                yield Fault(
                    path=("heats", i), given=str(error), allowed="a pattern that can be driven",
                    advice="Change its dimensions.",
                )  # fmt: skip


def _both_faces(draft: Draft) -> Iterator[Fault]:
    piece = draft["workpiece"]
    beam = faces_of_beam(piece)
    for i, heat in enumerate(draft["heats"] or ()):
        face = heat.get("face")
        if not heat.get("both_faces") or face is None:
            continue
        if not is_beam(piece):
            lacking, allowed = face not in OPPOSITE, ", ".join(sorted(OPPOSITE))
        else:
            points = path_in(heat)
            if beam is None or face not in beam.maps or not points:
                continue
            across = [1e-3 * v for _, v in points]
            lacking = opposite_in(beam, face, (min(across), max(across))) is None
            allowed = "a heat that lies over one other face of the same plate"
        if lacking:
            yield Fault(
                path=("heats", i, "both_faces"),
                given=f"true on {shown(face)}, which has no opposite face"
                + (" there" if is_beam(piece) else ""),
                allowed=allowed,
                advice="Make a heat on each face instead.",
            )


def _water(draft: Draft) -> Iterator[Fault]:
    """Water on a material that practice keeps from it, without a reason."""
    family = family_of((draft["workpiece"] or {}).get("material"), draft["materials"])
    practice = practice_for(family)
    limits: Read = draft["limits"] or {}
    if practice.water or len(limits.get("quench_reason", "").strip()) >= SHORTEST_REASON:
        return
    for i, heat in enumerate(draft["heats"] or ()):
        if heat.get("water") is not None:
            yield Fault(
                path=("heats", i, "water"),
                given=f"water on {family}",
                allowed=f"none: {practice.water_reason}",
                advice="Leave it out; or say under limits, as quench_reason, why it is right here "
                f"({SHORTEST_REASON} letters or more).",
            )
