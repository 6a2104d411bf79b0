"""A comparison of variants as one picture: a panel a quantity, a bar a variant."""

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from flamefe.basics.errors import OutOfRange
from flamefe.reporting.comparison import ADVICE, shared_acting, shown_measures
from flamefe.reporting.words import number, one_line
from flamefe.study.compare import Row

INK, PALE, HOT = "#202020", "#8a8a8a", "#b2182b"
BAR, OTHER = "#2b5c8a", "#c8b35a"
MOST_ROWS = 40
WIDTH = 14.0
NAME_WIDTH, NAME_LINES = 36, 3


def draw_comparison(
    title: str,
    rows: Sequence[Row],
    file: str | Path,
    *,
    measures: Sequence[str] = (),
    error_share: float = 0.0,
) -> Path:
    """Draw the variants' distortion, peak temperature and holding force side by side.

    Failed variants keep their line, with the reason in place of a bar.

    Args:
        title: of the base case.
        rows: what was compared; the first 40 are drawn.
        file: PNG or SVG to write.
        measures: names to draw; none: the most telling ones.
        error_share: error of the distortion, a share of its value, drawn as a band at each bar's
            end (by mesh and steps, for instance as a study tells it); 0: none.

    Returns:
        The file.

    Raises:
        OutOfRange: the error is below 0, or no number.
    """
    if not 0.0 <= error_share < 10.0:
        raise OutOfRange(f"The error is {error_share:g}; allowed: a share from 0, such as 0.08.")
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    drawn = list(rows[:MOST_ROWS])
    names = shown_measures(rows, measures)
    units = {m.name: m.unit for row in rows for m in row.measures}
    signs = {m.name: _sign(m.meaning) for row in rows for m in row.measures}
    panels: list[tuple[str, str, list[float | None]]] = [
        (f"{name} ({units[name]})", signs[name], [row.value(name) for row in drawn])
        for name in names
    ]
    panels.append(("peak temperature (°C)", "", [row.peak_C for row in drawn]))
    if any((row.holding_kN or 0.0) > 1e-3 for row in drawn):
        panels.append(("largest holding force (kN)", "", [row.holding_kN for row in drawn]))
    panels += _costs(drawn)
    lines = max(_name_lines(row.name).count("\n") + 1 for row in drawn) if drawn else 1
    height = 2.7 + max(0.42, 0.18 * lines + 0.08) * len(drawn)
    wide = WIDTH + 1.6 * max(len(panels) - 4, 0)
    figure = Figure(figsize=(wide, height), dpi=100, facecolor="white")
    FigureCanvasAgg(figure)
    grid = figure.add_gridspec(
        1, len(panels), left=2.9 / wide, right=0.985, top=1.0 - 1.3 / height,
        bottom=1.15 / height, wspace=0.2,
    )  # fmt: skip
    for number_, (head, sign, values) in enumerate(panels):
        axes = figure.add_subplot(grid[0, number_])
        error = error_share if number_ < len(names) else 0.0
        _panel(axes, head, sign, values, drawn, first=number_ == 0, error=error)
    figure.text(
        0.02, 1.0 - 0.42 / height, f"Comparison: {one_line(title)}", fontsize=17, weight="bold",
        color=INK, parse_math=False,
    )  # fmt: skip
    shared = shared_acting(rows)
    if shared is None or shared:
        each = "some rows differ, see the table" if shared is None else ", ".join(shared)
        figure.text(
            0.02, 0.5 / height, one_line(f"Measured under forces that still act: {each}.", 150),
            fontsize=10, color=HOT, parse_math=False,
        )  # fmt: skip
    band = f"Bands: {100 * error_share:.2g} % of the value. " if error_share > 0.0 else ""
    figure.text(0.02, 0.22 / height, band + ADVICE, fontsize=10, color=PALE, parse_math=False)
    path = Path(file)
    figure.savefig(path, dpi=100)
    return path


def _costs(rows: Sequence[Row]) -> list[tuple[str, str, list[float | None]]]:
    """Panels of time and, where it is told of any, of gas."""
    result: list[tuple[str, str, list[float | None]]] = []
    burning = [row.burned_s for row in rows]
    if any(burning):
        result.append(("burning time (s)", "", burning))
    fuel = [row.fuel_L for row in rows]
    if any(fuel):
        result.append(("fuel gas (L)", "", fuel))
    cost = [row.cost for row in rows]
    if any(cost):
        result.append(("cost of gas", "", cost))
    return result


def _name_lines(name: str) -> str:
    """A variant's name in three lines at most."""
    lines = textwrap.wrap(one_line(name, 110), NAME_WIDTH) or [name]
    if len(lines) > NAME_LINES:
        lines = [*lines[: NAME_LINES - 1], one_line(" ".join(lines[NAME_LINES - 1 :]), NAME_WIDTH)]
    return "\n".join(lines)


def _panel(
    axes: Any,
    head: str,
    sign: str,
    values: list[float | None],
    rows: Sequence[Row],
    *,
    first: bool,
    error: float = 0.0,
) -> None:
    from matplotlib.ticker import MaxNLocator

    # a reason for a failure runs on over the panels beside
    axes.set_facecolor("none")
    axes.set_zorder(2 if first else 1)
    places = np.arange(len(rows))[::-1]
    known = [value for value in values if value is not None]
    known += [value * (1.0 + error) for value in known]
    widest = max((abs(value) for value in known), default=1.0) or 1.0
    for place, value, row in zip(places, values, rows, strict=True):
        if value is None:
            if first:
                words = one_line(f"failed: {row.failed}" if row.failed else "not told", 130)
                axes.text(0.0, place, f" {words}", va="center", fontsize=9, color=HOT)
            continue
        hot = (head.startswith("peak") and row.too_hot) or (
            head.startswith("largest holding") and bool(row.overloaded or row.dented)
        )
        axes.barh(place, value, height=0.62, color=HOT if hot else BAR, hatch="//" if hot else "",
                  edgecolor="white")  # fmt: skip
        if error > 0.0:
            axes.errorbar(value, place, xerr=error * abs(value), color=INK, lw=1.4, capsize=4)
        end = value * (1.0 + error)
        axes.text(
            end + (0.02 if value >= 0 else -0.02) * widest, place, number(value, 3),
            va="center", ha="left" if value >= 0 else "right", fontsize=10, color=INK, zorder=4,
            bbox={"fc": "white", "ec": "none", "pad": 0.8},
        )  # fmt: skip
    if head.startswith("peak"):
        limits = {row.limit_C for row in rows if row.limit_C is not None}
        known += limits if len(limits) == 1 and max(limits) < 2.0 * widest else []
    low, high = min([0.0, *known]), max([0.0, *known])
    room = 0.42 * max(high - low, 1e-12)
    for limit in limits if head.startswith("peak") and len(limits) == 1 else ():
        if limit <= high:
            axes.axvline(limit, color=INK, lw=1.2, ls="--")
            axes.text(limit, len(rows) - 0.4, f"limit {limit:g} ", fontsize=9, ha="right")
    axes.set_xlim(low - (room if low < 0 else 0.0), high + (room if high > 0 else 0.0) + 1e-12)
    axes.set_ylim(-0.6, len(rows) - 0.2)
    axes.axvline(0.0, color=INK, lw=0.9)
    axes.set_title("\n".join(textwrap.wrap(head, 24)), fontsize=11, color=INK, loc="left")
    axes.set_xlabel("\n".join(textwrap.wrap(one_line(sign, 80), 30)), fontsize=9, color=PALE)
    axes.xaxis.set_major_locator(MaxNLocator(3))
    axes.set_yticks(places, [_name_lines(row.name) for row in rows] if first else [])
    axes.tick_params(labelsize=10, length=0)
    axes.tick_params(axis="y", labelsize=9)
    for text in axes.get_yticklabels():
        text.set_parse_math(False)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)


def _sign(meaning: str) -> str:
    for part in meaning.split("; "):
        if part.startswith("positive "):
            return "+: " + part.removeprefix("positive when the ").removeprefix("positive when ")
    return ""
