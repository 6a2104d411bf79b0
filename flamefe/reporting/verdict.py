"""The verdict of a result in words: too hot, converged, what to doubt."""

from dataclasses import dataclass
from typing import Literal

from flamefe.reporting.words import number
from flamefe.study.case_flames import power_kW_of
from flamefe.study.case_strokes import target_of
from flamefe.study.result import RunResult
from flamefe.study.verdict_words import converged_words, doubt_words, melted_words

Tone = Literal["plain", "heading", "good", "doubt", "bad", "faint"]
MOST_TOLD = 4


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of what is told, and in what tone it is said."""

    text: str
    tone: Tone = "plain"


NEAR_LIMIT_K = 10.0
"""Distance from the limit that a shop can't count on (chosen here), K."""
NEAR_LIMIT_POWER = 0.1
"""Share of power up to which it is said at once that so much more reaches the limit (chosen
here)."""
MOST_STRONGER = 0.5
"""Share of power beyond which nothing is said of it."""


def heat_lines(result: RunResult) -> list[Line]:
    """How hot it became: against its limit, melting, water, and practice for its kind of metal."""
    hottest = max(result.cycles, key=lambda cycle: cycle.heat_check.peak_C).heat_check
    tone: Tone = "good" if hottest.within_limit else "bad"
    if 0.0 <= hottest.margin_C < NEAR_LIMIT_K:
        tone = "doubt"
    lines = [Line(text=hottest.verdict, tone=tone)]
    if tone == "doubt":
        lines.append(
            Line(
                text=f"That is nearer to the limit than {NEAR_LIMIT_K:g} K: scatter of flame and "
                "hand alone can pass it. Take a lower target or less heat.",
                tone="doubt",
            )
        )
    stronger = power_to_limit(result)
    if stronger is not None and stronger <= MOST_STRONGER:
        lines.append(Line(text=f"{strength_words(stronger)}, if rises grow with power."))
    if not hottest.within_tables:
        lines[0] = Line(text=hottest.verdict, tone="bad")
    melted = melted_words(hottest.peak_C, result.material.family)
    if melted is not None:
        lines.insert(0, Line(text=melted, tone="bad"))
    lines += [
        Line(text=warning, tone="bad") for warning in result.warnings if "WATER ON" in warning
    ]
    return lines + _practice(result)


def power_to_limit(result: RunResult) -> float | None:
    """Share of power that may be added until the hottest place reaches its limit, if rises of
    temperature grow with power: (limit - peak) / (peak - air).

    None where the limit is passed, where temperature drives the hottest heat, or where hot gas
    heats.
    """
    check = max((cycle.heat_check for cycle in result.cycles), key=lambda one: one.peak_C)
    rise = check.peak_C - result.case.surroundings.ambient_C
    if not check.within_limit or rise <= 0.0 or not peak_by_power(result):
        return None
    return check.margin_C / rise


def peak_by_power(result: RunResult) -> bool:
    """Whether the power that was given sets the peak: the hottest heat burns for a given time or
    at a given speed, and its flame has a power."""
    heats = list(result.case.heats)
    if result.heats:
        heats = [heats[max(result.heats, key=lambda one: one.peak_C).number - 1]]
    return bool(heats) and all(
        target_of(heat) is None and power_kW_of(result.case.flames[heat.flame]) is not None
        for heat in heats
    )


def strength_words(share: float) -> str:
    """How little stronger a flame has to be to reach the limit.

    Example:
        >>> strength_words(0.0412)
        'A flame about 4 % stronger reaches the limit'
    """
    much = f"about {100.0 * share:.0f}" if share >= 0.01 else "under 1"
    return f"A flame {much} % stronger reaches the limit"


def shape_lines(result: RunResult) -> list[Line]:
    """Whether the last cycle leaves the part as straight and flat as was asked for; nothing where
    it was not."""
    asked = result.case.limits.shape_class
    if asked is None:
        return []
    named = f"class {asked} of ISO 13920, which was asked for"
    found = [one for one in result.cycles[-1].shape if one.allowed_mm is not None]
    if not found:
        text = f"Not judged against {named}: nothing measured here is a straight line or a plane."
        return [Line(text=text, tone="doubt")]
    before = ", the part taken as straight before the job" if found[0].from_straight else ""
    beyond = [one for one in found if not one.within]
    told = beyond or [max(found, key=lambda one: one.deviation_mm / (one.allowed_mm or 1.0))]
    words = "; ".join(
        f"{one.measure} {number(one.deviation_mm, 3)} mm, {one.allowed_mm:g} mm allowed over "
        f"{one.length_mm:.4g} mm"
        for one in told[:MOST_TOLD]
    )
    if beyond:
        return [Line(text=f"NOT WITHIN {named}: {words}{before}.", tone="bad")]
    return [Line(text=f"Within {named}: {words} comes nearest to it{before}.", tone="good")]


def converged_line(result: RunResult) -> Line:
    """Whether the forces balance as closely as was asked for."""
    worst, allowed = result.strain.effort.worst_residual, result.case.solve.tolerance
    return Line(text=converged_words(worst, allowed), tone="good" if worst <= allowed else "bad")


def doubt_lines(result: RunResult) -> list[Line]:
    """How many warnings there are; nothing for none."""
    words = doubt_words(result.warnings)
    return [] if words is None else [Line(text=words, tone="doubt")]


def _practice(result: RunResult) -> list[Line]:
    """What went beyond practice for this kind of metal, or that all of it was kept."""
    broken = dict.fromkeys(
        f"Beyond practice for {result.material.family}, cycle {cycle.cycle}: {finding.words}."
        for cycle in result.cycles
        for finding in cycle.practice
        if not finding.within
    )
    if broken:
        return [Line(text=text, tone="bad") for text in broken]
    hottest = max(result.cycles, key=lambda cycle: cycle.heat_check.peak_C).practice
    if not hottest:
        return []
    kept = "; ".join(finding.words for finding in hottest)
    if any(not cycle.heat_check.within_limit for cycle in result.cycles):
        text = (
            f"By depth and duration CEN/TR 10347 (from memory) would allow it: {kept}. The limit "
            "above is the more cautious one and counts here; which of them holds, your code says."
        )
        return [Line(text=text, tone="doubt")]
    limit = result.cycles[0].heat_check.limit_C
    counts = ""
    if limit <= min(finding.limit_C for finding in hottest):
        counts = f" The limit of {limit:g} C above stays the one that counts."
    text = f"Practice for {result.material.family} (from memory) is kept too: {kept}.{counts}"
    return [Line(text=text, tone="good")]
