"""The picture of a fitted flame: measured against simulated, and what is left between them."""

import warnings
from pathlib import Path
from typing import Any

import numpy as np

from flamefe.reporting.atomic import written_aside
from flamefe.reporting.drawing import DOTS_PER_INCH, HEIGHT_IN, INK, LONGEST_NOTE, PALE, WIDTH_IN
from flamefe.reporting.picture_kind import kind_of
from flamefe.reporting.words import number, one_line
from flamefe.study.trial import TrialFit

MOST_CURVES = 8
"""Thermocouples that one picture can show; of more the hottest ones are drawn."""

_MARKERS = "os^Dv<>P"
_DASHES: tuple[Any, ...] = (
    "-", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1.5, 2)), (0, (10, 2)), (0, (4, 1, 1, 1, 1, 1)),
    (0, (1, 1)), (0, (8, 2, 2, 2)),
)  # fmt: skip
_DARKEST, _PALEST = 0.0, 0.82
_MOST_MARKS = 60


def draw_fit(result: TrialFit, file: str | Path) -> Path:
    """Draw measured points over simulated curves by thermocouple, and the residuals below.

    Each thermocouple has a mark and a line of its own, so that the picture can be read in grey.
    Of more than eight thermocouples the eight hottest are drawn.

    Args:
        result: of ``fit_flame``.
        file: .png, 1400 x 900 dots, or .svg to write.

    Returns:
        The file.

    Raises:
        NoSuchPicture: the file ends in something else.
        OSError: the file can't be written.

    Example:
        >>> draw_fit(result, "fit.png")  # doctest: +SKIP
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    path = Path(file)
    kind = kind_of(path)
    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DOTS_PER_INCH, facecolor="white")
    FigureCanvasAgg(figure)
    upper = figure.add_axes((0.065, 0.37, 0.70, 0.47))
    lower = figure.add_axes((0.065, 0.115, 0.70, 0.20), sharex=upper)
    shown = _shown(result)
    for order, name in enumerate(shown):
        _thermocouple(upper, lower, result, name, order, len(shown))
    _dress(upper, lower, result)
    _words(figure, result, len(shown))
    upper.legend(
        loc="upper left", bbox_to_anchor=(1.015, 1.02), fontsize=11, frameon=False,
        title="measured (marks) and\nsimulated (lines) at", title_fontsize=11.5, alignment="left",
        labelspacing=1.1, handlelength=3.2,
    )  # fmt: skip
    with written_aside(path) as aside, warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")  # a name in a script without a font
        plain = {"Software": None} if kind == "png" else {"Date": None, "Creator": None}
        figure.savefig(aside, format=kind, dpi=DOTS_PER_INCH, metadata=plain)
    return path


def _shown(result: TrialFit) -> list[str]:
    """Thermocouples to draw, the hottest first."""
    readings = result.readings
    peaks = {name: readings.temperatures[readings.rows(name)].max()
             for name in readings.thermocouples}  # fmt: skip
    return sorted(peaks, key=lambda name: -float(peaks[name]))[:MOST_CURVES]


def _thermocouple(
    upper: Any, lower: Any, result: TrialFit, name: str, order: int, count: int
) -> None:
    from matplotlib import colormaps

    readings = result.readings
    rows = readings.rows(name)
    share = _DARKEST + (_PALEST - _DARKEST) * order / max(count - 1, 1)
    colour = colormaps["cividis"](share)
    look = {"color": colour, "marker": _MARKERS[order], "ls": "none", "ms": 6.5,
            "mec": INK, "mew": 0.7, "markevery": max(1, rows.size // _MOST_MARKS)}  # fmt: skip
    column = readings.thermocouples.index(name)
    x, y, z = 1e3 * readings.place(name)
    upper.plot(
        result.times, result.curves[:, column], color=colour, lw=2.0, ls=_DASHES[order], zorder=2
    )
    upper.plot(readings.times[rows], readings.temperatures[rows], zorder=3, **look)
    handle = {**look, "ls": _DASHES[order], "lw": 2.0, "markevery": None}
    label = f"{one_line(name, 22)}\n({x:.4g}, {y:.4g}, {z:.4g}) mm".replace("$", r"\$")
    upper.plot([], [], label=label, **handle)
    lower.plot(
        readings.times[rows], result.fitted.residuals[rows], color=colour, lw=0.9,
        ls=_DASHES[order], zorder=2,
    )  # fmt: skip
    lower.plot(readings.times[rows], result.fitted.residuals[rows], zorder=3, **look)


def _dress(upper: Any, lower: Any, result: TrialFit) -> None:
    """Axes, units, the moment when the flame was put out, and the spread of the residuals."""
    last, rms = float(result.readings.times.max()), result.fitted.rms
    upper.set_xlim(0.0, 1.02 * last)
    upper.set_ylabel("temperature (°C)", fontsize=12.5, color=INK)
    upper.tick_params(labelbottom=False)
    lower.set_ylabel("residual (K)", fontsize=12.5, color=INK)
    lower.set_xlabel("time since the torch was lit (s)", fontsize=12.5, color=INK)
    largest = float(np.abs(result.fitted.residuals).max())
    lower.set_ylim(-1.15 * max(largest, rms, 1e-3), 1.15 * max(largest, rms, 1e-3))
    lower.axhline(0.0, color=INK, lw=0.9, zorder=1)
    lower.axhspan(-rms, rms, color="0.9", lw=0, zorder=0)
    lower.text(
        1.015, 0.5, f"measured minus\nsimulated; band:\n± rms = {number(rms, 3)} K", fontsize=11,
        va="center", transform=lower.transAxes, color=INK,
    )  # fmt: skip
    for axes in (upper, lower):
        axes.grid(color="0.88", lw=0.8, zorder=0)
        axes.set_axisbelow(True)
        axes.tick_params(labelsize=11.5)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        if result.put_out < last:
            axes.axvline(result.put_out, color=PALE, lw=1.3, ls=(0, (4, 3)), zorder=1)
    if result.put_out < last:
        upper.annotate(
            "flame out", xy=(result.put_out, 1.0), xycoords=("data", "axes fraction"),
            xytext=(4, -2), textcoords="offset points", fontsize=11, va="top", color="#505050",
        )  # fmt: skip


def _words(figure: Any, result: TrialFit, count: int) -> None:
    fitted = result.fitted
    values = "; ".join(
        f"{name} {number(float(value), 3)} {unit} "
        f"({number(float(low), 3)} to {number(float(high), 3)})"
        for name, unit, value, low, high in zip(
            fitted.names, fitted.units, fitted.values, fitted.lower, fitted.upper, strict=True
        )
    )
    kind = "absorbed power" if result.model == "absorbed" else "hot gas"
    notes = [
        result.case.title,
        f"{values}; {100 * fitted.confidence:g} % intervals, from noise alone",
        fitted.verdict[0],
    ]
    figure.text(
        0.025, 0.962, f"Flame fitted to a trial: {kind}, rms {number(fitted.rms, 3)} K",
        fontsize=18, weight="bold", va="center", color=INK, parse_math=False,
    )  # fmt: skip
    for row, note in enumerate(notes):
        figure.text(
            0.025, 0.925 - 0.030 * row, one_line(note, LONGEST_NOTE), fontsize=12.5, va="center",
            color=INK, parse_math=False,
        )  # fmt: skip
    all_of_them = len(result.readings.thermocouples)
    more = f"The {count} hottest of {all_of_them} thermocouples are drawn. "
    figure.text(
        0.025, 0.025, f"{more if count < all_of_them else ''}"
        "Advice from a model of an ideal part and flame; it approves nothing.",
        fontsize=11, va="center", color="#404040", parse_math=False,
    )  # fmt: skip
