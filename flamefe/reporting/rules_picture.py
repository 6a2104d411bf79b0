"""Closed-form rules beside the simulation, with their bands."""

from pathlib import Path
from typing import Any

import numpy as np

from flamefe.reporting.charts import INK, SERIES, Chart, dressed, new_figure, saved
from flamefe.reporting.words import number, one_line
from flamefe.rules.value import RuleValue
from flamefe.study.result import RunResult

ROW_IN, HEAD_IN, FOOT_IN = 0.27, 0.42, 0.42
SIMULATED, RULE, BAND = SERIES[1], SERIES[0], "#9fbbd6"
MOST_QUANTITIES = 8


def rules_picture(result: RunResult, file: str | Path) -> Path | None:
    """Draw each rule's number and band beside the simulated one, a panel a quantity.

    A hollow mark and words say that a rule is used out of its range.

    Args:
        result: a finished run.
        file: PNG or SVG to write.

    Returns:
        The file; None, and nothing written, where there are no rules.

    Raises:
        OSError: the file can't be written.

    Example:
        >>> rules_picture(result, "rules.svg")  # doctest: +SKIP
    """
    chart = rules_chart(result)
    return None if chart is None else saved(chart, file)


def rules_chart(result: RunResult) -> Chart | None:
    """What ``rules_picture`` draws."""
    if not result.rules:
        return None
    panels: dict[tuple[str, str], list[RuleValue]] = {}
    for rule in result.rules:
        panels.setdefault((rule.quantity, rule.unit), []).append(rule)
    shown = list(panels.items())[:MOST_QUANTITIES]
    heights = [HEAD_IN + FOOT_IN + ROW_IN * (len(rules) + 1) for _, rules in shown]
    total = 0.35 + sum(heights)
    figure = new_figure(total)
    figure.text(
        0.02, 1.0 - 0.2 / total, "Rules of thumb beside the simulation", fontsize=11,
        weight="bold", color=INK, va="center",
    )  # fmt: skip
    low = total - 0.35
    for ((quantity, unit), rules), height in zip(shown, heights, strict=True):
        box = (0.31, (low - height + FOOT_IN) / total, 0.63, (height - HEAD_IN - FOOT_IN) / total)
        _panel(figure.add_axes(box), f"{quantity}, {unit}", rules)
        low -= height
    said = "; ".join(_words(rule) for rule in result.rules)
    return Chart(figure=figure, words=f"Rules beside the simulation. {said}.")


def _panel(axes: Any, head: str, rules: list[RuleValue]) -> None:
    from matplotlib.ticker import MaxNLocator

    dressed(axes)
    simulated = next((rule.simulated for rule in rules if rule.simulated is not None), None)
    known = [rule.value for rule in rules] + ([] if simulated is None else [simulated])
    known += [bound for rule in rules for bound in (rule.lower, rule.upper) if bound is not None]
    low, high = min(0.0, *known), max(0.0, *known)
    size = max(high - low, 1e-12)
    names = []
    if simulated is not None:
        axes.barh(0, simulated, height=0.5, color=SIMULATED, zorder=3)
        axes.axvline(simulated, color=SIMULATED, lw=1.2, ls=(0, (6, 2)), zorder=2)
        _number(axes, simulated, 0, size, "")
        names.append("simulated")
    for row, rule in enumerate(rules, start=len(names)):
        bottom, top = _band(rule, low, high)
        axes.barh(row, top - bottom, left=bottom, height=0.34, color=BAND, zorder=2)
        axes.plot(
            rule.value, row, marker="D", ms=7, mfc=RULE if rule.in_range else "white", mec=RULE,
            mew=1.6, ls="none", zorder=4,
        )  # fmt: skip
        words = "" if rule.in_range else "  OUT OF RANGE"
        beside = max(rule.value, top) if rule.value >= 0 else rule.value
        _number(axes, beside, row, size, words, rule)
        names.append(one_line(rule.rule, 34))
    axes.set_ylim(len(names) - 0.4, -0.6)
    axes.set_yticks(np.arange(len(names)), names)
    for label in axes.get_yticklabels():
        label.set_parse_math(False)
    axes.grid(False, axis="y")
    axes.set_xlim(low - (0.3 * size if low < 0 else 0.0), high + 0.42 * size)
    axes.axvline(0.0, color=INK, lw=0.9, zorder=5)
    axes.xaxis.set_major_locator(MaxNLocator(5))
    axes.tick_params(axis="y", length=0)
    axes.set_title(head, fontsize=9.5, color=INK, loc="left", parse_math=False)


def _number(
    axes: Any, place: float, row: int, size: float, words: str, rule: RuleValue | None = None
) -> None:
    value = place if rule is None else rule.value
    axes.text(
        place + (0.03 if place >= 0 else -0.03) * size, row, f"{number(value, 3)}{words}",
        va="center", ha="left" if place >= 0 else "right", fontsize=8.5, color=INK, zorder=6,
    )  # fmt: skip


def _band(rule: RuleValue, low: float, high: float) -> tuple[float, float]:
    """From where to where a rule allows, an open end running to the edge of what is drawn."""
    if rule.lower is None and rule.upper is None:
        return rule.value, rule.value
    if rule.lower is None:
        return min(0.0, low) if rule.value < 0 else 0.0, float(rule.upper or 0.0)
    return rule.lower, rule.upper if rule.upper is not None else high


def _words(rule: RuleValue) -> str:
    simulated = "" if rule.simulated is None else f", simulated {number(rule.simulated, 3)}"
    flag = "" if rule.in_range else ", out of range"
    return (
        f"{one_line(rule.quantity)}: {one_line(rule.rule)} {number(rule.value, 3)} {rule.unit}"
        f"{simulated}{flag}"
    )
