"""How torches that are driven by temperature went: readings, speed, dwell."""

from pathlib import Path

import numpy as np

from flamefe.heating.history import TorchLog
from flamefe.reporting.charts import INK, PALE, SERIES, Chart, dressed, new_figure, saved
from flamefe.reporting.words import number, one_line
from flamefe.study.result import RunResult

MOST_LOGS = 12
NAME_ROOM = 0.09
"""Share of the width that a heat needs so that its name can stand over it."""


def torch_picture(result: RunResult, file: str | Path) -> Path | None:
    """Draw the surface under each driven torch, its target and its speed over burning time.

    Args:
        result: a finished run.
        file: PNG or SVG to write.

    Returns:
        The file; None, and nothing written, where no torch was driven by temperature.

    Raises:
        OSError: the file can't be written.

    Example:
        >>> torch_picture(result, "torch.svg")  # doctest: +SKIP
    """
    chart = torch_chart(result)
    return None if chart is None else saved(chart, file)


def torch_chart(result: RunResult) -> Chart | None:
    """What ``torch_picture`` draws."""
    logs = [log for log in result.heat.logs if log.times][:MOST_LOGS]
    if not logs:
        return None
    moves = any(not log.stood for log in logs)
    figure = new_figure(4.3 if moves else 2.8)
    if moves:
        top = figure.add_axes((0.08, 0.5, 0.9, 0.42))
        below = figure.add_axes((0.08, 0.11, 0.9, 0.3))
    else:
        top, below = figure.add_axes((0.08, 0.19, 0.9, 0.66)), None
    last = top if below is None else below
    for axes in (top, *(() if below is None else (below,))):
        dressed(axes)
    total = sum(sum(log.durations) for log in logs)
    begun = 0.0
    for place, log in enumerate(logs):
        ends = begun + np.cumsum(log.durations)
        colour = SERIES[place % 2]
        top.plot(ends, log.readings, color=colour, lw=1.8)
        top.plot([begun, ends[-1]], [log.target] * 2, color=INK, lw=1.1, ls=(0, (8, 3)))
        if below is not None:
            steps = np.concatenate(([begun], ends))
            speeds = 1e3 * np.asarray(log.speeds)
            below.stairs(speeds, steps, color=colour, lw=1.6, baseline=None)
        if (ends[-1] - begun) / total > NAME_ROOM or len(logs) == 1:
            room = int(95 * (ends[-1] - begun) / total)
            top.text(
                0.5 * (begun + ends[-1]), 1.0, one_line(log.name, max(room, 4)), ha="center",
                va="bottom", fontsize=8, color=PALE, parse_math=False,
                transform=top.get_xaxis_transform(),
            )  # fmt: skip
        if place:
            for axes in (top, *(() if below is None else (below,))):
                axes.axvline(begun, color=PALE, lw=0.8)
        begun = float(ends[-1])
    highest = max(max(max(log.readings), log.target) for log in logs)
    top.set_ylim(0.0, 1.12 * highest)
    top.set_ylabel("surface under it, °C", fontsize=9, color=INK)
    if below is not None:
        below.set_ylim(bottom=0.0)
        below.set_ylabel("speed, mm/s", fontsize=9, color=INK)
        below.set_xlim(0.0, total)
    top.set_xlim(0.0, total)
    last.set_xlabel("burning time, s (dashed: target)", fontsize=9, color=INK)
    top.set_title(
        "How the torch was driven", fontsize=11, weight="bold", color=INK, loc="left", pad=14
    )
    more = len(result.heat.logs) - len(logs)
    words = "; ".join(_log_words(log) for log in logs)
    left = f" {more} more are not drawn." if more > 0 else ""
    return Chart(figure=figure, words=f"How the torch was driven. {words}.{left}")


def _log_words(log: TorchLog) -> str:
    words = f"{one_line(log.name)}: {number(sum(log.durations), 3)} s, target {log.target:g} C"
    moving = [1e3 * speed for speed in log.speeds if speed > 0.0]
    if moving and not log.stood:
        words += f", {number(min(moving), 2)} to {number(max(moving), 2)} mm/s"
    return words
