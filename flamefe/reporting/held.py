"""What supports and devices are and had to carry, in words."""

from typing import Any

from flamefe.reporting.words import number, one_line
from flamefe.study.device_outcomes import DeviceOutcome
from flamefe.workpiece.faces import FACE_SIDES

SMALL_KN = 5e-4
"""Force that is told as none, kN."""


def device_words(one: DeviceOutcome) -> str:
    """What a support had to carry, in one line.

    Example:
        >>> device_words(DeviceOutcome(name="support 1 (jack)", kind="jack", times_s=(0.0, 9.0),
        ...     force_kN=(2.0, 12.0), largest_kN=12.0, largest_at_s=9.0, hottest_then_C=600.0,
        ...     pulls_kN=0.0, final_kN=0.0, released=((9.0, 12.0),), capacity_kN=20.0,
        ...     against_capacity_kN=12.0))
        'support 1 (jack): up to 12 kN at 9 s (part at 600 C); 12 kN when released; may carry 20 kN'
    """
    said = [f"{one.name}: carries nothing"]
    if one.largest_kN > SMALL_KN:
        turning = f" and {number(one.turning_kNm, 3)} kN m" if one.turning_kNm > SMALL_KN else ""
        borne = f"{number(one.largest_kN, 3)} kN{turning}"
        said = [f"{one.name}: {borne} throughout"]
        if not one.steady:
            when = f"{one.largest_at_s:.4g} s (part at {one.hottest_then_C:.0f} C)"
            said = [f"{one.name}: up to {borne} at {when}"]
        pushes = max((force for force in one.force_kN), default=0.0)
        if one.pulls_kN > SMALL_KN and one.kind == "vacuum plate":
            said.append(f"pulls up to {number(one.pulls_kN, 3)} kN")
        elif one.pulls_kN > SMALL_KN and pushes > SMALL_KN:
            said.append(
                f"{number(pushes, 3)} kN one way and {number(one.pulls_kN, 3)} kN the other"
            )
        if one.at_one_place and one.capacity_kN is None:
            said.append(f"up to {number(one.against_capacity_kN, 3)} kN at one place")
    for _, force in one.released[:1]:
        said.append(f"{number(force, 3) if force > SMALL_KN else 0} kN when released")
    if one.final_kN > SMALL_KN:
        said.append(f"{number(one.final_kN, 3)} kN at the end")
    if one.lost_at_s is not None:
        said.append(
            f"suction lost at {100 * one.lost_share:.0f} % of its places from "
            f"{one.lost_at_s:.4g} s on"
        )
    elif one.lifted_at_s is not None:
        said.append(f"apart from {one.lifted_at_s:.4g} s on")
    if one.capacity_kN is not None:
        verdict = " - OVERLOADED" if one.overloaded else ""
        if one.at_one_place:
            said.append(f"{number(one.against_capacity_kN, 3)} kN at one place")
        there = " there" if one.at_one_place else ""
        said.append(f"may carry {one.capacity_kN:g} kN{there}{verdict}")
    return "; ".join(said)


def holder_words(part: Any) -> str:
    """A support or load as it was asked for: kind, place, size, times."""
    words = str(part.kind) + _place_of(part)
    for name, unit in (
        ("force_kN", "kN"), ("suction_kPa", "kPa"), ("stiffness_kN_mm", "kN/mm"),
        ("mass_kg", "kg"),
    ):  # fmt: skip
        value = getattr(part, name, None)
        if value is not None:
            words += f", {value:g} {unit}"
    gap = getattr(part, "gap_mm", 0.0)
    if gap:
        words += f", gap {gap:g} mm" if gap > 0 else f", screwed in {-gap:g} mm"
    if getattr(part, "fitted", "before heating") == "hot":
        words += ", fitted hot"
    if part.released != "never":
        words += f", released {part.released}"
    return words


def _place_of(part: Any) -> str:
    face = getattr(part, "face", None)
    if face is not None:
        return f" on {face}" if face in FACE_SIDES else f' on "{one_line(face)}"'
    points = getattr(part, "at_mm", None)
    many = len(points) if points and not isinstance(points[0], float) else 1
    return f" at {many} places" if many > 1 else ""
