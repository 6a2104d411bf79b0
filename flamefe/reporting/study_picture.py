"""Many heats at a glance: what the rules and a card say against what came out."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flamefe.reporting.charts import INK, PALE, SERIES, Chart, dressed, headed, new_figure, saved
from flamefe.reporting.words import one_line
from flamefe.rules.card import OutsideCard, RuleCard
from flamefe.rules.columns import inputs_of_columns
from flamefe.rules.registry import rules_for

Array = NDArray[np.float64]
Row = Mapping[str, Any]

MARKS = "s^vDP"


def study_picture(
    rows: Sequence[Row], card: RuleCard, file: str | Path | None = None, *, against: str = ""
) -> Chart:
    """Draw a table of heats: rules and card against what came out, and where they part.

    On the left each rule's number and the card's, with its interval, against the outcome; on the
    right the ratio of outcome to rule along one column of the table.

    Args:
        rows: column name to number or text; see `flamefe.rules.columns`.
        card: of the quantity that is drawn.
        file: PNG or SVG to write; None: nothing is written.
        against: column of the right-hand picture; empty: "thickness_mm".

    Returns:
        The chart, with its words; ``chart.figure`` is shown by a notebook.

    Raises:
        OutOfRange: a row can't be read, or the card needs what no row tells.
        OSError: the file can't be written.

    Example:
        >>> study_picture(rows, card, "study.svg")  # doctest: +SKIP
    """
    column = f"{card.quantity} [{card.unit}]"
    kept = [row for row in rows if _number(row.get(column)) is not None]
    outcome = np.array([_number(row[column]) for row in kept], dtype=float)
    asked = [inputs_of_columns(row) for row in kept]
    by_rule: dict[str, list[tuple[int, float]]] = {}
    for index, inputs in enumerate(asked):
        for one in rules_for(inputs):
            if one.quantity == card.quantity and one.value:
                by_rule.setdefault(one.rule, []).append((index, one.value))
    along = against or "thickness_mm"
    figure = new_figure(3.6)
    left, right = figure.subplots(1, 2)
    figure.subplots_adjust(left=0.09, right=0.985, bottom=0.15, top=0.84, wspace=0.24)
    for axes in (left, right):
        dressed(axes)
    words = []
    for place, (name, found) in enumerate(by_rule.items()):
        chosen = np.array([index for index, _ in found])
        values = np.array([value for _, value in found])
        look = {"marker": MARKS[place % len(MARKS)], "ms": 4.5, "ls": "none", "mfc": "none",
                "color": SERIES[(place + 1) % len(SERIES)]}  # fmt: skip
        left.plot(outcome[chosen], values, label=one_line(name, 34), **look)
        ratio = outcome[chosen] / values
        places = [_number(kept[i].get(along)) for i in chosen]
        right.plot(places, ratio, **look)
        words.append(f"simulated by {name} {np.median(ratio):.2f} in the middle")
    _draw_card(left, right, card, asked, outcome, [_number(row.get(along)) for row in kept])
    ends = [float(np.min(outcome)), float(np.max(outcome))]
    left.plot(ends, ends, color=INK, lw=0.9)
    right.axhline(1.0, color=INK, lw=0.9)
    if ends[0] > 0:
        for axes, both in ((left, True), (right, False)):
            axes.set_yscale("log")
            if both:
                axes.set_xscale("log")
                axes.set_ylim(bottom=0.3 * ends[0])
    left.set_xlabel(f"came out, {card.unit}", fontsize=9, color=INK)
    left.set_ylabel(f"by rule or card, {card.unit}", fontsize=9, color=INK)
    right.set_xlabel(along, fontsize=9, color=INK)
    right.set_ylabel("came out by rule or card", fontsize=9, color=INK)
    headed(left, one_line(card.quantity, 40))
    figure.legend(loc="upper right", fontsize=8, frameon=False, ncols=2)
    chart = Chart(figure=figure, words=f"{card.quantity}: {'; '.join(words)}.")
    if file is not None:
        saved(chart, file)
    return chart


def _draw_card(
    left: Any, right: Any, card: RuleCard, asked: Sequence[Any], outcome: Array,
    places: Sequence[float | None],
) -> None:  # fmt: skip
    """What the card says, with its intervals; nothing where it says nothing."""
    for index, inputs in enumerate(asked):
        try:
            said = card.predict(inputs)
        except OutsideCard:
            continue
        label = f"card, {100 * said.level:.0f} % of heats" if index == 0 else None
        low = max(said.lower, 1e-3 * abs(said.value))
        left.plot([outcome[index]] * 2, [low, said.upper], color=PALE, lw=1.0)
        left.plot(outcome[index], said.value, "o", ms=4, color=SERIES[0], label=label)
        if places[index] is not None:
            right.plot(places[index], outcome[index] / said.value, "o", ms=4, color=SERIES[0])


def _number(cell: Any) -> float | None:
    try:
        value = float(cell)
    except (TypeError, ValueError):
        return None
    return value if np.isfinite(value) else None
