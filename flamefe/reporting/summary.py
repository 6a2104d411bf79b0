"""A result in words: the verdict first, then what it rests on."""

import textwrap
from dataclasses import dataclass
from typing import Literal

from rich.text import Text

from flamefe.heating.history import TorchLog
from flamefe.outcome.measure import Measure
from flamefe.reporting.asked import asked_lines
from flamefe.reporting.gas import gas_words
from flamefe.reporting.held import device_words
from flamefe.reporting.words import number, one_line
from flamefe.rules.value import RuleValue
from flamefe.study.result import RunResult
from flamefe.workpiece.meshcheck import mesh_summary
from flamefe.workpiece.practice import practice_for

Tone = Literal["plain", "heading", "good", "doubt", "bad", "faint"]
STYLES: dict[Tone, str] = {
    "plain": "", "heading": "bold", "good": "green", "doubt": "yellow", "bad": "bold red",
    "faint": "dim",
}  # fmt: skip
WIDTH = 100
CYCLES_BESIDE_EACH_OTHER = 4
MOST_TORCHES = 6
MOST_DEVICES = 12
ENERGY_ERROR_TO_DOUBT = 0.01
DISCLAIMER = (
    "This is advice from a model of an ideal part and flame. It does not approve a procedure: "
    "local codes and licensed practice decide."
)

SMALLEST_SHOWN = 5e-5  # of a measure in its trade unit; what is less is shown as 0
WHOLE = 0.99  # share of a footprint
IN_OTHER_UNIT = " in mrad"  # the same measure once more
WHERE_TO_READ_ON = (
    "How each measure is taken, each rule's formula and source, and all numbers: result.json."
)


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of the summary, and in what tone it is said."""

    text: str
    tone: Tone = "plain"


def summary_text(result: RunResult) -> str:
    """Tell a result in plain text of about 40 lines, each at most 100 characters.

    In order: verdict (too hot, converged, energy, extrapolated), what was asked, measures of each
    cycle with units and signs in words, rules beside the simulation with their ratio and a flag
    where they are out of range, mesh and steps, warnings, cautions.

    Args:
        result: a finished run.

    Returns:
        Lines that end in a line end.

    Example:
        >>> print(summary_text(result))  # doctest: +SKIP
    """
    return "".join(f"{line.text}\n" for line in summary_lines(result))


def summary_rich(result: RunResult) -> Text:
    """The same lines as ``summary_text``, coloured for a terminal.

    Nothing in a title or name is taken for markup.
    """
    text = Text()
    for line in summary_lines(result):
        text.append(f"{line.text}\n", style=STYLES[line.tone])
    return text


def summary_lines(result: RunResult) -> list[Line]:
    """The lines of the summary, at most 100 characters each."""
    title = one_line(result.case.title, WIDTH)
    lines = [Line(text=title, tone="heading"), *_verdict(result)]
    lines += _section("Asked", [Line(text=text) for text in asked_lines(result)])
    lines += _section(_measures_heading(result), _measures(result))
    if result.rules:
        heading = "Rules of thumb beside the simulation (ratio: simulation by rule)"
        lines += _section(heading, [_rule(rule) for rule in result.rules])
    lines += _section("What holds it", _devices(result))
    lines += _section("Gas and depth", [Line(text=text) for text in gas_words(result)])
    lines += _section("Run", _run(result))
    lines += _section("Warnings", [Line(text=text, tone="doubt") for text in result.warnings])
    lines += _section("Cautions", [Line(text=text, tone="doubt") for text in result.cautions])
    lines.append(Line(text=""))
    said = any("licensed practice decide" in caution for caution in result.cautions)
    closing = WHERE_TO_READ_ON if said else f"{DISCLAIMER} {WHERE_TO_READ_ON}"
    lines += _wrapped(Line(text=closing, tone="faint"), "", "")
    return lines


def _verdict(result: RunResult) -> list[Line]:
    hottest = max(result.cycles, key=lambda cycle: cycle.heat_check.peak_C).heat_check
    lines = [Line(text=hottest.verdict, tone="good" if hottest.within_limit else "bad")]
    if not hottest.within_tables:
        lines[0] = Line(text=hottest.verdict, tone="bad")
    melts = practice_for(result.material.family).melts_C
    if melts is not None and hottest.peak_C >= melts:
        text = (
            f"MELTED: at {hottest.peak_C:.0f} C {result.material.family} is molten (from about "
            f"{melts:g} C on, from memory). The part is spoilt; shape and stress below mean "
            "nothing."
        )
        lines.insert(0, Line(text=text, tone="bad"))
    lines += [
        Line(text=warning, tone="bad") for warning in result.warnings if "WATER ON" in warning
    ]
    lines += _practice(result)
    worst, allowed = result.strain.effort.worst_residual, result.case.solve.tolerance
    if worst <= allowed:
        text = f"Converged: unbalanced force at most {worst:.1e} of the acting one"
        lines.append(Line(text=f"{text} ({allowed:.1e} allowed).", tone="good"))
    else:
        text = f"NOT CONVERGED: unbalanced force up to {worst:.1e} of the acting one"
        advice = "don't use this result; try a finer mesh or smaller temperature steps"
        lines.append(Line(text=f"{text} ({allowed:.1e} allowed); {advice}.", tone="bad"))
    out = sum(not rule.in_range for rule in result.rules)
    doubts = [f"{out} of {len(result.rules)} rules used out of range"] if out else []
    if result.warnings:
        doubts.append(f"{len(result.warnings)} warning{'s' * (len(result.warnings) > 1)} below")
    if doubts:
        lines.append(Line(text=f"To doubt: {', '.join(doubts)}.", tone="doubt"))
    return [made for line in lines for made in _wrapped(line, "", "  ")]


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
            "above is the more cautious one; which of them holds, your code says."
        )
        return [Line(text=text, tone="doubt")]
    return [
        Line(text=f"Practice for {result.material.family} kept (from memory): {kept}.", tone="good")
    ]


def _measures_heading(result: RunResult) -> str:
    shown = result.cycles[-CYCLES_BESIDE_EACH_OTHER:]
    numbers = " | ".join(str(cycle.cycle) for cycle in shown)
    since = "since the start of the job (+: what a positive value means)"
    if len(result.cycles) == 1:
        return f"After cycle {numbers}, {since}"
    return f"After cycle {numbers} (of {len(result.cycles)}), {since}"


def _measures(result: RunResult) -> list[Line]:
    shown = result.cycles[-CYCLES_BESIDE_EACH_OTHER:]
    peaks = [f"{cycle.heat_check.peak_C:.0f}" for cycle in shown]
    last = shown[-1]
    rows = [("peak temperature", peaks, "C", _peak_words(result))]
    for place, measure in enumerate(last.measures):
        if measure.name.endswith(IN_OTHER_UNIT):
            continue
        values = [_value_of(cycle.measures, place, measure.name) for cycle in shown]
        rows.append((measure.name, values, measure.unit, _sign_words(measure.meaning)))
    if all(measure.name != "largest von Mises stress" for measure in last.measures):
        stress = [number(cycle.largest_stress_MPa, 3) for cycle in shown]
        rows.append(("largest von Mises stress", stress, "MPa", "greatest at one point"))
    strain = [number(100.0 * cycle.largest_plastic_strain, 3) for cycle in shown]
    rows.append(("largest plastic strain", strain, "%", "equivalent, greatest at one point"))
    name_width = max(len(name) for name, *_ in rows)
    value_width = max(len(value) for _, values, *_ in rows for value in values)
    lines = []
    for name, values, unit, meaning in rows:
        columns = " | ".join(value.rjust(value_width) for value in values)
        lines.append(Line(text=f"{name.ljust(name_width)}  {columns} {unit.ljust(4)}  {meaning}"))
    return lines


def _value_of(measures: tuple[Measure, ...], place: int, name: str) -> str:
    if place < len(measures) and measures[place].name == name:
        value = measures[place].value
        return number(value, 3) if abs(value) >= SMALLEST_SHOWN else "0"
    return "-"


def _sign_words(meaning: str) -> str:
    """The part of a measure's meaning that says which way is positive; all of it if none does."""
    for part in meaning.split("; "):
        for words in ("positive when the ", "positive when ", "positive = ", "positive "):
            if part.startswith(words):
                return f"+: {part.removeprefix(words)}"
        if part.startswith("never below"):
            return part
    return meaning.removesuffix("; 0 when there is none")


def _peak_words(result: RunResult) -> str:
    check = result.cycles[-1].heat_check
    above = f", above it for up to {check.time_above_s:.3g} s" if check.time_above_s > 0 else ""
    return f"limit {check.limit_C:g} C{above}"


def _rule(rule: RuleValue) -> Line:
    bounds = ""
    if rule.lower is not None and rule.upper is not None:
        bounds = f" ({number(rule.lower, 3)} to {number(rule.upper, 3)})"
    elif rule.upper is not None:
        bounds = " (that or less)" if rule.upper == rule.value else f" (to {rule.upper:.3g})"
    elif rule.lower is not None:
        bounds = " (that or more)" if rule.lower == rule.value else f" (from {rule.lower:.3g})"
    text = f"{rule.quantity}: {rule.rule} {number(rule.value, 3)} {rule.unit}{bounds}"
    if rule.simulated is not None:
        text += f", simulated {number(rule.simulated, 3)} {rule.unit}"
    if rule.ratio is not None:
        text += f", ratio {rule.ratio:.2f}"
    if rule.in_range:
        return Line(text=text)
    return Line(text=f"{text} - OUT OF RANGE: {'; '.join(rule.reasons)}", tone="doubt")


def _torch(log: TorchLog) -> Line:
    """How a torch was driven by the temperature under it."""
    read = log.on_the_way()
    speeds = [1e3 * speed for speed in log.speeds if speed > 0.0]
    burned = sum(log.durations)
    words = f"{one_line(log.name)}: burned {number(burned, 3)} s"
    if log.stood:
        words += f", surface under it at the end {log.readings[-1]:.0f} C (target {log.target:g} C)"
    elif len(log.stands) > 1:
        words += (
            f", {len(log.stands)} stands of {number(min(log.stands), 2)} to "
            f"{number(max(log.stands), 2)} s, {number(sum(log.stands), 3)} s in all"
        )
    if speeds and not log.stood:
        words += (
            f", moved at {number(min(speeds), 2)} to {number(max(speeds), 2)} mm/s, surface under "
            f"it {read.min():.0f} to {read.max():.0f} C (target {log.target:g} C)"
        )
    return Line(text=words, tone="doubt" if log.notes else "plain")


def _run(result: RunResult) -> list[Line]:
    energy, effort = result.heat.energy, result.strain.effort
    mesh = mesh_summary(result.mesh)
    taken = f", {_kilojoules(energy.water)} of it to water" if energy.water > 0.0 else ""
    doubt = energy.error > ENERGY_ERROR_TO_DOUBT
    logs = result.heat.logs
    lines = [_torch(log) for log in logs[:MOST_TORCHES]]
    if len(logs) > MOST_TORCHES:
        lines.append(Line(text=f"... {len(logs)} heats or strokes driven by temperature in all"))
    lines += [
        Line(
            text=f"Energy: {_kilojoules(energy.supplied)} kJ supplied, "
            f"{_kilojoules(energy.stored)} stored at the end, "
            f"{_kilojoules(energy.lost)} lost{taken}; "
            f"{_percent(energy.error)} unaccounted for{' - TOO MUCH' if doubt else ''}",
            tone="bad" if doubt else "plain",
        ),
        Line(
            text=f"Mesh: {mesh.nodes} nodes, {mesh.elements} elements, "
            f"edges {1e3 * mesh.smallest_edge:.3g} to {1e3 * mesh.largest_edge:.3g} mm; "
            f"{_condensed(result)}{len(result.heat.times) - 1} heat steps, "
            f"{effort.increments} straining increments ({effort.cut_backs} cut back)"
        ),
    ]
    if result.heat.footprint_on_part < WHOLE:
        share = f"{100 * result.heat.footprint_on_part:.0f} %"
        lines.append(Line(text=f"Of some flame only {share} of its footprint lay on its face"))
    return lines


def _condensed(result: RunResult) -> str:
    nodes = int(result.figures.get("condensed_nodes", 0.0))
    return f"{nodes} of the nodes, far from the heats, solved once; " if nodes else ""


def _devices(result: RunResult) -> list[Line]:
    """What each support had to carry."""
    told = [
        Line(text=device_words(one), tone="bad" if one.overloaded else "plain")
        for one in result.devices[:MOST_DEVICES]
    ]
    if len(result.devices) > MOST_DEVICES:
        told.append(Line(text=f"... {len(result.devices)} supports in all: result.json"))
    return told


def _kilojoules(joules: float) -> str:
    return f"{joules / 1e3:.4g}" if abs(joules) >= 1.0 else "0"


def _percent(share: float) -> str:
    return f"{100 * share:.2g} %" if share >= 1e-4 else "under 0.01 %"


def _section(heading: str, lines: list[Line]) -> list[Line]:
    if not lines:
        return []
    body = [made for line in lines for made in _wrapped(line, "  ", "      ")]
    return [Line(text=""), Line(text=heading, tone="heading"), *body]


def _wrapped(line: Line, first: str, rest: str) -> list[Line]:
    """A line cut to the width; what comes from outside may hold anything."""
    spaces = "".join(c if c.isprintable() else " " for c in line.text)
    pieces = textwrap.wrap(
        spaces, WIDTH, initial_indent=first, subsequent_indent=rest, drop_whitespace=True
    )
    return [Line(text=piece, tone=line.tone) for piece in pieces or [first]]
