"""The questions that a page answers first."""

from collections.abc import Iterator
from dataclasses import dataclass

from flamefe.reporting.held import device_words
from flamefe.reporting.summary import ENERGY_ERROR_TO_DOUBT, run_lines
from flamefe.reporting.verdict import (
    NEAR_LIMIT_K,
    NEAR_LIMIT_POWER,
    Line,
    Tone,
    converged_line,
    doubt_lines,
    heat_lines,
    power_to_limit,
    shape_lines,
    strength_words,
)
from flamefe.reporting.words import number
from flamefe.study.result import RunResult
from flamefe.study.verdict_words import rules_words

UNSEEN = "Error by mesh and steps and the spread of inputs are no part of this: see How sure."
_WORST_LAST: tuple[Tone, ...] = ("plain", "good", "doubt", "bad")


@dataclass(frozen=True, kw_only=True)
class Answer:
    """A question and its answer.

    Args:
        question: what is asked.
        short: the answer in a few words.
        tone: how good that is.
        lines: the same words as in the summary.
        fault: what is wrong, in a few words; empty where nothing is.
        doubt: what is to doubt, as the headline says it; empty: as ``short`` says it.
    """

    question: str
    short: str
    tone: Tone
    lines: tuple[Line, ...] = ()
    fault: str = ""
    doubt: str = ""


def answers(result: RunResult) -> tuple[Answer, ...]:
    """Too hot, held too hard, converged, extrapolated; what does not apply is left out."""
    return tuple(_answers(result))


def headline(found: tuple[Answer, ...]) -> Line:
    """All answers in one sentence."""
    bad = [one.fault for one in found if one.tone == "bad"]
    if bad:
        return Line(text=f"Not as it stands: {'; '.join(bad)}.", tone="bad")
    told = [one.doubt or one.short for one in found if one.tone == "doubt"]
    doubts = [words[0].lower() + words[1:] for words in told]
    if doubts:
        text = f"Within the limits used here; to doubt: {'; '.join(doubts)}."
        return Line(text=text, tone="doubt")
    return Line(text="Within the limits used here; nothing was found against it.", tone="good")


def _answers(result: RunResult) -> Iterator[Answer]:
    yield _heat(result)
    if result.devices:
        yield _forces(result)
    if result.case.limits.shape_class is not None:
        yield _shape(result)
    line, energy = converged_line(result), _energy(result)
    yield Answer(
        question="Converged?",
        short="Yes" if line.tone == "good" else "No",
        tone=_worst((line, energy)),
        lines=(line, energy),
        fault="not converged" if line.tone == "bad" else "heat unaccounted for",
    )
    yield _doubts(result)


def _heat(result: RunResult) -> Answer:
    lines = tuple(heat_lines(result))
    check = max(result.cycles, key=lambda cycle: cycle.heat_check.peak_C).heat_check
    below = f"{abs(check.margin_C):.0f} K {'below' if check.within_limit else 'above'} the limit"
    short = f"{'No' if check.within_limit else 'Yes'}, {below}"
    if check.within_limit and check.margin_C < NEAR_LIMIT_K:
        short = f"Only {below}"
    stronger = power_to_limit(result)
    if stronger is not None and stronger < NEAR_LIMIT_POWER:
        words = strength_words(stronger)
        short += f"; {words[0].lower()}{words[1:].replace('the limit', 'it')}"
    return Answer(
        question="Too hot?",
        short=short,
        tone=_worst(lines),
        lines=lines,
        fault="beyond practice for this metal" if check.within_limit else f"too hot, {below}",
    )


def _forces(result: RunResult) -> Answer:
    heaviest = max(result.devices, key=lambda one: one.largest_kN)
    over = [one for one in result.devices if one.overloaded]
    dents = [one for one in result.devices if one.bearing is not None and one.bearing.share > 1.0]
    known = [one for one in result.devices if one.capacity_kN is not None]
    question = "Held force too high?"
    if over or dents:
        told = list(dict.fromkeys([*over, *dents]))
        reasons = [f"{one.name} is overloaded" for one in over]
        reasons += [f"{one.name} overstresses the part" for one in dents if one not in over]
        lines = tuple(Line(text=f"{device_words(one)}.", tone="bad") for one in told)
        return Answer(
            question=question, short=f"Yes, {', '.join(reasons)}", tone="bad", lines=lines,
            fault=", ".join(reasons),
        )  # fmt: skip
    most = Line(text=f"{device_words(heaviest)}.")
    if not known:
        short = f"Not judged, no capacity is given; at most {number(heaviest.largest_kN, 3)} kN"
        return Answer(question=question, short=short, tone="plain", lines=(most,))
    shares = {one.against_capacity_kN / one.capacity_kN: one for one in known if one.capacity_kN}
    share, one = max(shares.items(), key=lambda item: item[0])
    line = Line(text=f"{device_words(one)}.", tone="good")
    short = f"No, at most {100 * share:.0f} % of what may be carried"
    return Answer(question=question, short=short, tone="good", lines=(line,))


def _shape(result: RunResult) -> Answer:
    [line] = shape_lines(result)
    asked = f"class {result.case.limits.shape_class} of ISO 13920"
    short = {"good": "Yes", "bad": "No"}.get(line.tone, "Not judged")
    return Answer(
        question="Within the tolerance asked for?",
        short=f"{short}, {asked}",
        tone=line.tone,
        lines=(line,),
        fault=f"not within {asked}",
    )


def _energy(result: RunResult) -> Line:
    line = next(line for line in run_lines(result) if line.text.startswith("Energy:"))
    good = result.heat.energy.error <= ENERGY_ERROR_TO_DOUBT
    return Line(text=f"{line.text}.", tone="good" if good else "bad")


def _doubts(result: RunResult) -> Answer:
    beyond = [warning for warning in result.warnings if "xtrapolated" in warning]
    doubts, rules = [], rules_words(result.rules)
    if beyond or any(not cycle.heat_check.within_tables for cycle in result.cycles):
        doubts.append("inputs or tables extrapolated")
    if result.warnings:
        doubts.append(f"{len(result.warnings)} warning{'s' * (len(result.warnings) > 1)}")
    short = ", ".join(doubts).capitalize() or ("Rules of thumb alone" if rules else "No")
    lines = [*doubt_lines(result), *(Line(text=text, tone="doubt") for text in beyond)]
    lines += [Line(text=rules)] if rules else []
    return Answer(
        question="Extrapolated, or warned of?",
        short=short,
        tone="doubt" if doubts else "plain" if rules else "good",
        lines=(*lines, Line(text=UNSEEN)),
    )


def _worst(lines: tuple[Line, ...]) -> Tone:
    return max((line.tone for line in lines), key=_WORST_LAST.index)
