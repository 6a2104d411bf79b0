"""The stress that is left in a part when it has cooled."""

from pathlib import Path
from typing import Literal, get_args

import numpy as np

from flamefe.basics.errors import OutOfRange
from flamefe.reporting.asked import extent_mm_of
from flamefe.reporting.drawing import draw
from flamefe.reporting.focus import cut_words, heated_part
from flamefe.reporting.pictures import part_words, points_mm, surroundings_of
from flamefe.reporting.probe import why_no_3d
from flamefe.reporting.scene import Scene, side_with_most
from flamefe.reporting.skin import at_elements, at_nodes
from flamefe.reporting.words import number
from flamefe.study.result import RunResult

Stress = Literal["along x", "along y", "along z", "von Mises"]
TO_MPA = 1e-6


def residual_stress_picture(
    result: RunResult,
    file: str | Path,
    *,
    stress: Stress = "along x",
    cycle: int | None = None,
    three_d: bool | None = None,
) -> Path:
    """Draw the stress that a cycle left behind: where the metal pulls, and where it is pressed.

    Args:
        result: a finished run.
        file: PNG file to write, 1400 x 900 dots.
        stress: "along x", "along y" or "along z": tension above 0, pressure below; "von Mises":
            the equivalent one, never below 0.
        cycle: which one, from 1; None for the last.
        three_d: whether to draw by VTK; None finds out whether that works here; False draws
            plainly, without VTK.

    Returns:
        The file.

    Raises:
        IndexError: there is no such cycle.
        OutOfRange: there is no such stress.
        OSError: the file can't be written.

    Example:
        >>> residual_stress_picture(result, "residual_stress.png")  # doctest: +SKIP
    """
    scene = residual_stress_scene(result, stress=stress, cycle=cycle)
    solid = why_no_3d() is None if three_d is None else three_d
    path = Path(file)
    draw(scene, path, three_d=solid)
    return path


def residual_stress_scene(
    result: RunResult, *, stress: Stress = "along x", cycle: int | None = None
) -> Scene:
    """What ``residual_stress_picture`` shows."""
    if stress not in get_args(Stress):
        raise OutOfRange(f"stress is {stress!r}; allowed: {', '.join(get_args(Stress))}.")
    count = len(result.strain.ends)
    place = (count if cycle is None else cycle) - 1
    if not 0 <= place < count:
        raise IndexError(f"There is no cycle {cycle}; there are {count}.")
    skin, trails, footnotes = surroundings_of(result)
    check = max((one.heat_check for one in result.cycles), key=lambda one: one.peak_C)
    focus = heated_part(result, trails, check.peak_at_mm)
    state = result.strain.ends[place]
    signed = stress != "von Mises"
    at_points = state.stress[..., "xyz".index(stress[-1])] if signed else state.mises
    values = TO_MPA * at_nodes(result.mesh, at_elements(at_points))
    low, high = TO_MPA * float(at_points.min()), TO_MPA * float(at_points.max())
    most = max(float(np.abs(values).max()), 1e-3)
    told = f"From {number(low, 3)} to {number(high, 3)} MPa" if signed else (
        f"Largest {number(high, 3)} MPa"
    )  # fmt: skip
    return Scene(
        title=f"Residual stress {stress} after cycle {result.cycles[place].cycle}",
        notes=(
            result.case.title,
            f"{told} at points inside elements; colours are averages at nodes  |  "
            f"{part_words(result)}",
        ),
        points=points_mm(result),
        skin=skin,
        values=values,
        colour_label="tension (+) and pressure (-), MPa" if signed else "stress (MPa)",
        colour_map="PuOr_r" if signed else "cividis",
        span=(-most, most) if signed else (0.0, most),
        face=side_with_most([trail.face for trail in trails]),
        trails=trails,
        focus=focus,
        size=extent_mm_of(result),
        footnotes=(*footnotes, cut_words(result, focus).strip()),
    )
