"""A result in words: the verdict first, then what it rests on."""

import textwrap
from dataclasses import dataclass

from rich.text import Text

from flamefe.heating.history import TorchLog
from flamefe.outcome.measure import Measure
from flamefe.reporting.asked import asked_lines
from flamefe.reporting.gas import gas_words
from flamefe.reporting.held import device_words
from flamefe.reporting.verdict import (
    Line,
    Tone,
    converged_line,
    doubt_lines,
    heat_lines,
    shape_lines,
)
from flamefe.reporting.words import number, one_line
from flamefe.rules.value import RuleValue
from flamefe.study.result import CycleOutcome, RunResult
from flamefe.study.verdict_words import rules_words
from flamefe.workpiece.meshcheck import mesh_summary

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
    lines += _section(measures_heading(result), _measures(result))
    if result.rules:
        heading = "Rules of thumb beside the simulation (ratio: simulation by rule)"
        out = rules_words(result.rules)
        told = [Line(text=out)] if out else []
        lines += _section(heading, [*(rule_line(rule) for rule in result.rules), *told])
    lines += _section("What holds it", device_lines(result))
    lines += _section("Gas and depth", [Line(text=text) for text in gas_words(result)])
    lines += _section("Run", run_lines(result))
    lines += _section("Warnings", [Line(text=text, tone="doubt") for text in result.warnings])
    lines += _section("Cautions", [Line(text=text, tone="doubt") for text in result.cautions])
    lines.append(Line(text=""))
    said = any("licensed practice decide" in caution for caution in result.cautions)
    closing = WHERE_TO_READ_ON if said else f"{DISCLAIMER} {WHERE_TO_READ_ON}"
    lines += _wrapped(Line(text=closing, tone="faint"), "", "")
    return lines


def _verdict(result: RunResult) -> list[Line]:
    lines = [*heat_lines(result), *shape_lines(result), converged_line(result)]
    lines += doubt_lines(result)
    return [made for line in lines for made in _wrapped(line, "", "  ")]


def measures_heading(result: RunResult) -> str:
    """Of which cycles the measures are."""
    shown = result.cycles[-CYCLES_BESIDE_EACH_OTHER:]
    numbers = " | ".join(str(cycle.cycle) for cycle in shown)
    since = "since the start of the job (+: what a positive value means)"
    if len(result.cycles) == 1:
        return f"After cycle {numbers}, {since}"
    return f"After cycle {numbers} (of {len(result.cycles)}), {since}"


@dataclass(frozen=True, kw_only=True)
class MeasureRow:
    """A measure of one or more cycles beside each other.

    Args:
        name: what was measured.
        values: of each cycle that is shown, ready to read.
        unit: trade unit.
        sign: which way is positive, or what else its meaning says.
    """

    name: str
    values: tuple[str, ...]
    unit: str
    sign: str


def shown_cycles(result: RunResult) -> tuple[CycleOutcome, ...]:
    """The cycles whose measures are set beside each other: the last few."""
    return result.cycles[-CYCLES_BESIDE_EACH_OTHER:]


def measure_rows(result: RunResult) -> list[MeasureRow]:
    """Peak, distortion, stress and strain of the cycles shown, a row each."""
    shown = shown_cycles(result)
    peaks = [f"{cycle.heat_check.peak_C:.0f}" for cycle in shown]
    last = shown[-1]
    rows = [_row("peak temperature", peaks, "C", _peak_words(result))]
    for place, measure in enumerate(last.measures):
        if measure.name.endswith(IN_OTHER_UNIT):
            continue
        values = [_value_of(cycle.measures, place, measure.name) for cycle in shown]
        rows.append(_row(measure.name, values, measure.unit, sign_words(measure.meaning)))
    if all(measure.name != "largest von Mises stress" for measure in last.measures):
        stress = [number(cycle.largest_stress_MPa, 3) for cycle in shown]
        rows.append(_row("largest von Mises stress", stress, "MPa", "greatest at one point"))
    strain = [number(100.0 * cycle.largest_plastic_strain, 3) for cycle in shown]
    rows.append(_row("largest plastic strain", strain, "%", "equivalent, greatest at one point"))
    return rows


def _row(name: str, values: list[str], unit: str, sign: str) -> MeasureRow:
    return MeasureRow(name=name, values=tuple(values), unit=unit, sign=sign)


def _measures(result: RunResult) -> list[Line]:
    rows = measure_rows(result)
    name_width = max(len(row.name) for row in rows)
    value_width = max(len(value) for row in rows for value in row.values)
    lines = []
    for row in rows:
        columns = " | ".join(value.rjust(value_width) for value in row.values)
        text = f"{row.name.ljust(name_width)}  {columns} {row.unit.ljust(4)}  {row.sign}"
        lines.append(Line(text=text))
    words = result.cycles[-1].acting.words
    return [*lines, *(_wrapped(Line(text=words), "", "") if words else [])]


def _value_of(measures: tuple[Measure, ...], place: int, name: str) -> str:
    if place < len(measures) and measures[place].name == name:
        value = measures[place].value
        return number(value, 3) if abs(value) >= SMALLEST_SHOWN else "0"
    return "-"


def sign_words(meaning: str) -> str:
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


def rule_line(rule: RuleValue) -> Line:
    """A rule's number with its bounds beside the simulated one."""
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


def run_lines(result: RunResult) -> list[Line]:
    """How the torches were driven, energy, mesh and steps."""
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


def device_lines(result: RunResult) -> list[Line]:
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
