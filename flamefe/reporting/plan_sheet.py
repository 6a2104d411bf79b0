"""The sheet for the floor, and the estimate of time, gas and money, as plain text."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from flamefe.planning.candidate import Heat
from flamefe.planning.money import FREE, Estimate, Spread
from flamefe.planning.problem import Problem
from flamefe.reporting.plan_text import doubt_lines
from flamefe.reporting.plan_words import MM, caution_lines, folded, percent, table
from flamefe.reporting.words import number, one_line

Array = NDArray[np.float64]
Heats = tuple[Heat, ...]
LIKELY = 0.5
"""Share of plays within tolerance below which it is said that the job does not come in."""
TIMED = "Prices and times are those that were given."
UNPRICED = (
    f"No prices were given, so no money is told; a cycle takes {FREE.cycle_min:g} min besides its "
    f"heats, a heat {FREE.heat_min:g} min of handling (common practice, no source)."
)


def sheet_text(
    heats: Heats,
    problem: Problem,
    cycle: int,
    doubts: Sequence[str] = (),
    read: Array | None = None,
) -> str:
    """What the floor needs for one cycle: heats in order to tick off, rules, places to measure.

    Args:
        heats: in order.
        problem: of the job.
        cycle: its number.
        doubts: what looked wrong in the measurement it rests on.
        read: (n,) m, its values as they were read, where they are counted otherwise.

    Returns:
        Lines that end in a line end.
    """
    rules = problem.rules
    lines = [f"{one_line(problem.title)} - sheet for cycle {cycle}", ""]
    lines += doubt_lines(doubts)
    if not heats:
        lines.append("No heats in this cycle: measure only.")
    else:
        rows: list[tuple[str, ...]] = [("", "", "kind", "size", "where", "x, y, z in mm")]
        for order, heat in enumerate(heats, start=1):
            at = ", ".join(f"{value:.0f}" for value in np.round(MM * np.array(heat.position)) + 0.0)
            rows.append(
                (
                    "[ ]",
                    str(order),
                    one_line(heat.kind),
                    one_line(heat.size),
                    one_line(heat.place),
                    at,
                )
            )
        lines += [f"{len(heats)} heats, in this order ({rules.sequence})", *table(rows), ""]
        lines += _how(heats, problem)
        lines += _standing_out(problem, read)
        lines += [
            f"Between two heats: wait until the heated place is at {rules.wait_C:g} C or colder.",
            "After the last one: let the whole part cool to the air before it is measured.",
        ]
    for box in rules.forbidden:
        lines += folded(
            f"Must not be heated: {_stretch(box.lowest, box.highest)} ({box.reason}).", ""
        )
    if rules.forbidden_places:
        lines += folded(f"Must not be heated: {', '.join(rules.forbidden_places)}.", "")
    lines += ["", f"Measure, mm ({problem.meaning or 'deviation'})"]
    lines += [f"  {one_line(name)}: ________" for name in problem.places.names]
    lines += ["", "Done by: ______________  Date: ____________  What was different: ____________"]
    lines += ["", *caution_lines(problem)]
    return "".join(f"{line}\n" for line in lines)


def _stretch(lowest: tuple[float, ...], highest: tuple[float, ...]) -> str:
    said = [
        f"{axis} from {MM * low:g} to {MM * high:g} mm"
        for axis, low, high in zip("xyz", lowest, highest, strict=True)
        if np.isfinite(low) or np.isfinite(high)
    ]
    return ", ".join(said) or "everything"


def _standing_out(problem: Problem, read: Array | None) -> list[str]:
    """Of bays, which way each stood out when it was measured."""
    if not problem.by_area or read is None:
        return []
    rows = [
        f"{one_line(name)} {MM * value:+.1f} mm ({'+z' if value > 0 else '-z'})"
        for name, value in zip(problem.places.names, read, strict=True)
    ]
    words = f"Heat each bay on the side on which it stands out. Measured: {', '.join(rows)}."
    return folded(words, "")


def _how(heats: Heats, problem: Problem) -> list[str]:
    lines = []
    for name in dict.fromkeys(heat.kind for heat in heats):
        kind = problem.library.kind(name)
        said = [kind.how] if kind.how else []
        if kind.torch_s > 0.0:
            said.append(f"about {kind.torch_s:.0f} s of burning")
        if kind.device:
            said.append(f"with the {kind.device} fitted")
        if said:
            lines += folded(f"{one_line(name)}: {one_line('; '.join(said), 300)}.", "")
    return lines


def estimate_text(made: Estimate, problem: Problem) -> str:
    """What the rest of a job takes, with its spread, beside the alternatives.

    Args:
        made: the estimate.
        problem: of the job.

    Returns:
        Lines that end in a line end.
    """
    rows: list[tuple[str, ...]] = [("", "middle", "from", "to", "")]
    rows += [_spread_row(row) for row in made.rows]
    lines = [
        f"{one_line(problem.title)}: what the rest of the job takes",
        *table(rows),
        "",
        f"From {made.plays} jobs played with what is believed now: 10 % lie below the range and "
        "10 % above.",
        f"{percent(made.finished)} of them ended within tolerance.",
    ]
    if not any(row.name == "fuel" for row in made.rows):
        lines.append("Gas is not told: the heats name no nozzle.")
    if made.finished < LIKELY:
        lines.append("So it does NOT come in as it stands: see flamefe job plan for the reason.")
    for name, likely, chance in made.against:
        lines += folded(
            f"{one_line(name)} at {number(likely, 3)} {one_line(made.currency)}: the flame costs "
            f"less with a probability of {percent(chance)}.",
            "",
        )
    lines += folded(
        f"{TIMED if made.currency else UNPRICED} The plays know only the uncertainties that the "
        "job states.",
        "",
    )
    return "".join(f"{line}\n" for line in lines)


def _spread_row(row: Spread) -> tuple[str, ...]:
    values = [number(value, 3) for value in (row.middle, row.low, row.high)]
    return (row.name, *values, row.unit)
