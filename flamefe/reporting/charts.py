"""What all charts share: their look, their axis of time, and how they are saved."""

import io
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flamefe.heating.history import Span, TemperatureHistory
from flamefe.reporting.picture_kind import kind_of

Array = NDArray[np.float64]

INK, PALE, GRID = "#202020", "#5f5f5f", "#d5d5d5"
SERIES = ("#0b5394", "#c2570c", "#4d7c0f", "#7b3294", "#00798c", "#8c6d1f")
"""Colours of lines: told apart by colour-blind eyes, and dark enough on white."""
DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 1.5, 2)), (0, (1, 1)), "-.")
"""Told apart without colour."""
BURNING = "#f2e3c9"
WIDTH_IN = 7.6
BURNS_TAKE = 0.6
"""Share of the axis of time that belongs to the burning flames."""
REST_PIECES = 60
AT_THE_END = 0.98
"""Place on the axis from which a mark's label would be cut at the frame."""
NEAR_TICKS, NEAR_END = 0.07, 0.1
"""Least distance of marks on the axis of time, and of the last one, whose label stands left of it.
"""
RATIO = 1e-9


@dataclass(frozen=True, kw_only=True)
class Chart:
    """A chart that is drawn but not saved.

    Args:
        figure: of matplotlib.
        words: what it shows, for those who can't see it.
    """

    figure: Any
    words: str

    def _repr_png_(self) -> bytes:
        """The chart as a notebook shows it."""
        return as_bytes(self, "png")


def new_figure(height_in: float, width_in: float = WIDTH_IN) -> Any:
    """An empty figure that needs no display."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width_in, height_in), dpi=150, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def dressed(axes: Any) -> None:
    """The same quiet frame and grid for all charts."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(PALE)
    axes.tick_params(labelsize=9, colors=INK)
    axes.grid(True, color=GRID, lw=0.7)
    axes.set_axisbelow(True)


def headed(axes: Any, title: str) -> None:
    """A chart's title, at its left."""
    axes.set_title(title, fontsize=11, weight="bold", color=INK, loc="left", parse_math=False)


def saved(chart: Chart, file: str | Path) -> Path:
    """Write a chart as PNG or SVG, by the file's suffix; `NoSuchPicture` for another."""
    path = Path(file)
    path.write_bytes(as_bytes(chart, kind_of(path)))
    return path


def as_bytes(chart: Chart, kind: str) -> bytes:
    """A chart as "svg" or "png". Text in SVG stays text."""
    from matplotlib import rc_context

    put = io.BytesIO()
    fixed = {"svg": {"Date": None, "Creator": None}, "png": {"Software": None}}.get(kind)
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": "flamefe"}), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")  # a script without a font
        chart.figure.savefig(put, format=kind, metadata=fixed)
    return put.getvalue()


@dataclass(frozen=True, kw_only=True, eq=False)
class TimeScale:
    """An axis of time on which burns are linear and long rests drawn short.

    Args:
        knots: rising times, s.
        places: of these on the axis, rising from 0 to 1.
        burns: from when to when flames burned, s; pauses between strokes left out.
        ends: times at which a burn starts or ends, and the last time, s.

    Example:
        >>> spans = (Span(name="a", start=0.0, end=50.0, burning=True),
        ...          Span(name="b", start=50.0, end=4000.0, burning=False))
        >>> scale = TimeScale.of(spans, 4000.0)
        >>> [round(float(x), 2) for x in scale.at([0.0, 25.0, 50.0, 4000.0])]
        [0.0, 0.3, 0.6, 1.0]
        >>> round(float(scale.time([0.3])[0]), 6)
        25.0
    """

    knots: Array
    places: Array
    burns: tuple[tuple[float, float], ...]
    ends: tuple[float, ...]

    @classmethod
    def of(cls, spans: Sequence[Span], end: float) -> "TimeScale":
        """The scale for a job's burns and rests until ``end`` s."""
        burns = _joined([(s.start, s.end) for s in spans if s.burning and s.end > s.start])
        if not burns or end <= 0.0:
            return cls(
                knots=np.array([0.0, max(end, 1.0)]), places=np.array([0.0, 1.0]), burns=(),
                ends=(0.0, end),
            )  # fmt: skip
        burning = sum(stop - start for start, stop in burns)
        marks = sorted({0.0, *(t for burn in burns for t in burn), max(end, burns[-1][1])})
        pieces = []
        for start, stop in pairwise(marks):
            burns_here = any(a <= start and stop <= b for a, b in burns)
            pieces.append((start, stop, burns_here))
        decay = max(0.2 * burning / len(burns), 1e-3)
        logs = sum(np.log1p((b - a) / decay) for a, b, hot in pieces if not hot)
        share = BURNS_TAKE if logs > 0.0 else 1.0
        times, places = [pieces[0][0]], [0.0]
        for start, stop, hot in pieces:
            if hot:
                width = share * (stop - start) / burning
                times.append(stop)
                places.append(places[-1] + width)
                continue
            grown = np.linspace(0.0, np.log1p((stop - start) / decay), REST_PIECES + 1)[1:]
            base = places[-1]
            times += (start + decay * np.expm1(grown)).tolist()
            places += (base + (1.0 - share) * grown / logs).tolist()
            times[-1] = stop
        return cls(
            knots=np.array(times), places=np.array(places), burns=tuple(burns), ends=tuple(marks)
        )

    def at(self, times: Any) -> Array:
        """Places of times, s, on the axis."""
        return np.asarray(np.interp(times, self.knots, self.places))

    def time(self, places: Any) -> Array:
        """Times, s, of places on the axis."""
        return np.asarray(np.interp(places, self.places, self.knots))

    def ticks(self) -> list[float]:
        """Times worth a mark: starts and ends of burns, then round ones, none too near."""
        last = float(self.knots[-1])
        steps = [m * 10.0**p for p in range(-2, 7) for m in (1.0, 2.0, 5.0)]
        even = next(s for s in steps if s >= max(self._burned(), 1e-2) / 5.0)
        round_ones = [t for t in np.arange(0.0, last + even, even)[:4000] if self._burns_at(t)]
        round_ones += [step for step in steps if step < last]
        chosen: list[float] = []
        for time in [*self.ends, *round_ones]:
            place = float(self.at(time))
            clear = all(
                abs(place - float(self.at(other)))
                > (NEAR_END if last in (time, other) else NEAR_TICKS)
                for other in chosen
            )
            if time <= last + RATIO and clear:
                chosen.append(float(time))
        return sorted(chosen)

    def _burned(self) -> float:
        return sum(stop - start for start, stop in self.burns) or float(self.knots[-1])

    def _burns_at(self, time: float) -> bool:
        return not self.burns or any(start <= time <= stop for start, stop in self.burns)


def _joined(burns: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Burns with short pauses between them as one."""
    joined: list[tuple[float, float]] = []
    for start, stop in burns:
        if joined and start - joined[-1][1] <= 0.02 * (stop - start):
            joined[-1] = (joined[-1][0], stop)
        else:
            joined.append((start, stop))
    return joined


def scale_of(heat: TemperatureHistory) -> TimeScale:
    """The axis of time of a job."""
    return TimeScale.of(heat.spans, float(heat.times[-1]))


def tick_words(time: float) -> str:
    """A time at a mark: whole seconds from 10 s on.

    Example:
        >>> tick_words(83.79), tick_words(4.44), tick_words(0.0)
        ('84', '4.4', '0')
    """
    return f"{time:.0f}" if time >= 9.95 else f"{time:.2g}"


def on_time(axes: Any, scale: TimeScale) -> None:
    """Dress the horizontal axis as one of time, burns shaded."""
    for start, stop in scale.burns:
        low, high = scale.at([start, stop])
        axes.axvspan(low, high, color=BURNING, lw=0, zorder=0)
    ticks = scale.ticks()
    axes.set_xticks(scale.at(ticks), [tick_words(tick) for tick in ticks])
    labels = axes.get_xticklabels()
    if labels and scale.at(ticks[-1]) > AT_THE_END:
        labels[-1].set_horizontalalignment("right")
    axes.set_xlim(0.0, 1.0)
    axes.set_xlabel(
        "time since lighting, s (shaded: a flame burns; rests drawn shorter)"
        if scale.burns
        else "time, s",
        fontsize=9, color=INK,
    )  # fmt: skip
