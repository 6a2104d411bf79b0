"""What supports and devices are and had to carry, in words."""

from flamefe.reporting.words import number
from flamefe.study.device_outcomes import DeviceOutcome

SMALL_KN = 5e-4
"""Force that is told as none, kN."""
SMALL_KNM, N_M_BELOW_KNM = 1e-3, 0.1
"""Moments told as none, and told in N m, below these, kN m."""


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
        borne = f"{number(one.largest_kN, 3)} kN{_turning(one.turning_kNm)}"
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
        said.append(f"comes apart at some place from {one.lifted_at_s:.4g} s on")
    if one.capacity_kN is not None:
        verdict = " - OVERLOADED" if one.overloaded else ""
        if one.at_one_place:
            said.append(f"{number(one.against_capacity_kN, 3)} kN at one place")
        there = " there" if one.at_one_place else ""
        said.append(f"may carry {one.capacity_kN:g} kN{there}{verdict}")
    return "; ".join(said)


def _turning(moment_kNm: float) -> str:
    """A moment that is worth a word, in N m where it is small."""
    if moment_kNm < SMALL_KNM:
        return ""
    if moment_kNm < N_M_BELOW_KNM:
        return f" and {number(1e3 * moment_kNm, 3)} N m"
    return f" and {number(moment_kNm, 3)} kN m"
