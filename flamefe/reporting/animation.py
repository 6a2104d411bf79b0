"""A heat as a moving picture."""

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from flamefe.basics.errors import OutOfRange
from flamefe.reporting.atomic import written_aside
from flamefe.reporting.charts import scale_of
from flamefe.reporting.drawing import LEVEL, draw
from flamefe.reporting.pictures import hottest_scene
from flamefe.reporting.probe import why_no_3d
from flamefe.study.result import RunResult

WIDTH = 900
FRAME_MS, LAST_MS = 120, 1500
FEWEST, MOST = 2, 400
OF_FIELD = 200
"""Of the 256 colours of a GIF, those of the field."""


def heat_animation(
    result: RunResult, file: str | Path, *, frames: int = 30, three_d: bool | None = None
) -> Path:
    """Draw the temperature over time as an animated GIF of 900 x 579 dots.

    The moments are even on the charts' axis of time, on which long rests are short; each of them
    was computed, and its time stands in the picture. A frame takes one to two seconds.

    Args:
        result: a finished run.
        file: GIF file to write, whole or not at all.
        frames: how many moments, 2 to 400; fewer are drawn where fewer were computed.
        three_d: as in ``hottest_picture``.

    Returns:
        The file.

    Raises:
        OutOfRange: too few or too many frames.
        OSError: the file can't be written.

    Example:
        >>> heat_animation(result, "heat.gif")  # doctest: +SKIP
    """
    from PIL import Image

    if not FEWEST <= frames <= MOST:
        raise OutOfRange(f"An animation takes {FEWEST} to {MOST} frames, not {frames}.")
    solid = why_no_3d() is None if three_d is None else three_d
    scene = replace(hottest_scene(result), span=_span(result))
    drawn: list[Any] = []
    path = Path(file)
    palette = Image.new("P", (1, 1))
    palette.putpalette(_palette(scene.colour_map))
    with tempfile.TemporaryDirectory() as folder:
        still = Path(folder) / "frame.png"
        for index in _moments(result, frames):
            field = result.heat.temperatures[index]
            time = float(result.heat.times[index])
            moment = replace(
                scene,
                title=f"Temperature {time:.4g} s after lighting",
                notes=(scene.notes[0], f"Hottest place {field.max():.0f} °C now; in all: "
                       f"{scene.notes[1][0].lower()}{scene.notes[1][1:]}"),
                values=field,
            )  # fmt: skip
            draw(moment, still, three_d=solid)
            with Image.open(still) as whole:
                size = (WIDTH, round(WIDTH * whole.height / whole.width))
                small = whole.convert("RGB").resize(size, Image.Resampling.LANCZOS)
            drawn.append(small.quantize(palette=palette, dither=Image.Dither.NONE))
    with written_aside(path) as aside:
        drawn[0].save(
            aside, format="GIF", save_all=True, append_images=drawn[1:], loop=0, optimize=True,
            duration=[*([FRAME_MS] * (len(drawn) - 1)), LAST_MS],
        )  # fmt: skip
    return path


def _moments(result: RunResult, frames: int) -> list[int]:
    """Which computed moments are drawn."""
    wanted = scale_of(result.heat).time(np.linspace(0.0, 1.0, frames))
    near = np.abs(result.heat.times[None] - wanted[:, None]).argmin(axis=1)
    return [int(index) for index in np.unique(near)]


def _palette(colour_map: str) -> bytes:
    """The colours of the field, the light blue of its limit, and greys for lines and words."""
    from matplotlib import colormaps
    from matplotlib.colors import to_rgb

    field = colormaps[colour_map](np.linspace(0.0, 1.0, OF_FIELD))[:, :3]
    greys = np.repeat(np.linspace(0.0, 1.0, 256 - OF_FIELD - 1)[:, None], 3, axis=1)
    table = np.concatenate((field, [to_rgb(LEVEL)], greys))
    return bytes(np.round(255.0 * table).astype(np.uint8).tobytes())


def _span(result: RunResult) -> tuple[float, float]:
    """Colours over all times."""
    low, high = float(result.heat.temperatures.min()), float(result.heat.peak.max())
    return (low, high) if high > low else (low, low + 1.0)
