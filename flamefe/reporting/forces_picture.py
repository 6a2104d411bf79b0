"""What supports and devices carry over time."""

from pathlib import Path

import numpy as np

from flamefe.reporting.charts import (
    DASHES,
    INK,
    SERIES,
    Chart,
    dressed,
    headed,
    new_figure,
    on_time,
    saved,
    scale_of,
)
from flamefe.reporting.held import SMALL_KN, device_words
from flamefe.reporting.signed_forces import signed_force
from flamefe.reporting.words import number, one_line
from flamefe.study.device_outcomes import DeviceOutcome
from flamefe.study.result import RunResult

MOST_DRAWN = 6
WAYS = "+ pushes the part, - pulls it"


def forces_picture(result: RunResult, file: str | Path) -> Path | None:
    """Draw what each support or device carried over time, with what it may carry: above 0 it
    pushes the part, below 0 it pulls it.

    Args:
        result: a finished run.
        file: PNG or SVG to write.

    Returns:
        The file; None, and nothing written, where no support carries a force that is known.

    Raises:
        OSError: the file can't be written.

    Example:
        >>> forces_picture(result, "forces.svg")  # doctest: +SKIP
    """
    chart = forces_chart(result)
    return None if chart is None else saved(chart, file)


def drawn_devices(result: RunResult) -> tuple[DeviceOutcome, ...]:
    """The supports that carry most, six at most, in their order."""
    busy = [one for one in result.devices if one.largest_kN > SMALL_KN]
    most = sorted(busy, key=lambda one: -one.largest_kN)[:MOST_DRAWN]
    return tuple(one for one in result.devices if one in most)


def forces_chart(result: RunResult) -> Chart | None:
    """What ``forces_picture`` draws."""
    shown = drawn_devices(result)
    if not shown:
        return None
    scale = scale_of(result.heat)
    rows = (len(shown) + 1) // 2
    height = 3.1 + 0.19 * rows
    figure = new_figure(height)
    low = (0.62 + 0.19 * rows) / height
    axes = figure.add_axes((0.08, low, 0.9, 1.0 - low - 0.38 / height))
    dressed(axes)
    on_time(axes, scale)
    signed = {one.name: signed_force(result, one) for one in shown}
    for place, one in enumerate(shown):
        colour = SERIES[place % len(SERIES)]
        force_kN = signed[one.name].values
        axes.plot(
            scale.at(list(one.times_s)), force_kN, color=colour, lw=1.9, ls=DASHES[place],
            label=_label(one, signed[one.name].manner),
        )  # fmt: skip
        for time, force in one.released:
            if force > SMALL_KN:
                before = force_kN[int(np.searchsorted(one.times_s, time))]
                axes.plot(scale.at(time), before, marker="v", ms=7, color=colour, mec="white")
    limits = {one.capacity_kN for one in shown if one.capacity_kN is not None and _in_all(one)}
    known = np.concatenate([one.values for one in signed.values()])
    top, bottom = max(float(known.max()), 0.0), min(float(known.min()), 0.0)
    for limit in sorted(limits):
        names = ", ".join(_short(one) for one in shown if one.capacity_kN == limit and _in_all(one))
        for way, far in ((1.0, float(known.max())), (-1.0, -float(known.min()))):
            if limit >= 2.0 * far:
                continue
            axes.axhline(way * limit, color=INK, lw=1.1, ls=(0, (8, 3)))
            axes.text(
                1.0, way * limit, f"may carry {limit:g} kN: {names} ", ha="right", va="bottom",
                fontsize=8.5, color=INK, parse_math=False,
            )  # fmt: skip
            top, bottom = max(top, way * limit), min(bottom, way * limit)
    room = 0.12 * max(top - bottom, 1e-6)
    axes.set_ylim(bottom - room if bottom < 0.0 else 0.0, top + room)
    axes.axhline(0.0, color=INK, lw=0.8)
    axes.set_ylabel("force on the part, kN", fontsize=9, color=INK)
    headed(axes, f"Holding forces over time ({WAYS})")
    legend = figure.legend(
        loc="lower left", bbox_to_anchor=(0.06, 0.0), ncols=2, fontsize=8, frameon=False,
        handlelength=3.2,
    )  # fmt: skip
    for text in legend.get_texts():
        text.set_parse_math(False)
    words = "; ".join(
        ", ".join(filter(None, (device_words(one), signed[one.name].words))) for one in shown
    )
    more = len(result.devices) - len(shown)
    left = f" {number(more)} that carry less are not drawn." if more > 0 else ""
    return Chart(figure=figure, words=f"Holding forces over time, {WAYS}. {words}.{left}")


def _in_all(one: DeviceOutcome) -> bool:
    """Whether its capacity counts for what it carries in all, which is what is drawn."""
    return not one.at_one_place


def _label(one: DeviceOutcome, manner: str) -> str:
    name = one_line(one.name, 50) + (f" ({manner})" if manner else "")
    if one.capacity_kN is None or _in_all(one):
        return name
    return (
        f"{name}: {number(one.against_capacity_kN, 3)} kN at one place, may carry "
        f"{one.capacity_kN:g} kN there"
    )


def _short(one: DeviceOutcome) -> str:
    """ "support 2 (jack)" as "2"."""
    return one.name.split(" (")[0].removeprefix("support ")
