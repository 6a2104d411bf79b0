"""Draw the section of a part with its heated parts, and from where the torch comes."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from flamefe.reporting.heat_labels import Taken, around
from flamefe.reporting.heat_sketch import HeatedPart, SectionView
from flamefe.reporting.paper import Box, Paper, text_width

Array = NDArray[np.float64]

SECTION_WIDTH = 43.0
LETTERS = 7.0
ROOM = 12.0
"""Round the section for torches and dimensions, mm."""
THIN = 1.6
"""A plate's thickness is drawn no smaller, mm."""
METAL, TORCH = "#dededb", "#b4530a"


def draw_section(paper: Paper, section: SectionView, box: Box) -> None:
    """Draw a section into a box of the paper, with its outer sizes.

    Args:
        paper: where to.
        section: what.
        box: mm.

    Example:
        >>> from flamefe.reporting.paper import Paper
        >>> square = np.array([(0, 0), (50, 0), (50, 50), (0, 50)], dtype=float)
        >>> draw_section(Paper(), SectionView(loops=(square,), size=(50.0, 50.0),
        ...     heated=()), Box(150, 200, 193, 260))
    """
    outer = section.loops[0]
    low, size = outer.min(axis=0), np.ptp(outer, axis=0)
    room = np.array([box.right - box.left - 2.0 * ROOM, box.high - box.low - 2.0 * ROOM - 7.0])
    scale = float(min(room / size))
    scales = np.maximum(scale, np.minimum(THIN / size, room / size))
    drawn = scales * size
    middle = np.array([0.5 * (box.left + box.right), box.high - 7.0 - ROOM - 0.5 * drawn[1]])

    def on(points: Array) -> list[tuple[float, float]]:
        places = middle + (points - low - 0.5 * size) * scales
        return [(float(x), float(y)) for x, y in places]

    uneven = bool(np.ptp(scales) > 1e-9)
    paper.text(box.left, box.high - 2.8, "Section, seen from the end", size=LETTERS, bold=True)
    words = "y to the right, z up"
    paper.text(box.left, box.high - 6.0, words + ("; thickened" if uneven else ""), size=LETTERS)
    for number, loop in enumerate(section.loops):
        paper.shape(
            on(loop), fill="white" if number else METAL, width=0.9,
            hatch=None if number else "//////", over=1 + number / 10,
        )  # fmt: skip
    rim = Box(*(middle - 0.5 * drawn).tolist(), *(middle + 0.5 * drawn).tolist())
    taken = Taken([Box(box.left, box.high - 6.8, box.right, box.high)])
    if len(section.loops) > 1 or uneven:
        taken.take(rim.grown(0.5))
    _dimensions(paper, section, rim, taken)
    for part in section.heated:
        for stretch in part.lines:
            taken.line(on(stretch))
    for part in section.heated:
        _torch(paper, part, on, taken, box)


def _dimensions(paper: Paper, section: SectionView, rim: Box, taken: Taken) -> None:
    """Width under or over the section, height at its left or right, away from torches."""
    below = any(part.outward[1] < -0.7 for part in section.heated)
    above = any(part.outward[1] > 0.7 for part in section.heated)
    left = any(part.outward[0] < -0.7 for part in section.heated)
    right = any(part.outward[0] > 0.7 for part in section.heated)
    under = not below or above
    beside = not left or right
    y = rim.low - (10.0 if below and under else 3.0) if under else rim.high + 3.0
    x = rim.left - (9.0 if left and beside else 3.0) if beside else rim.right + 3.0
    width, height = (f"{value:.4g}" for value in section.size)
    edge = rim.low if under else rim.high
    for at in (rim.left, rim.right):
        paper.line([(at, edge), (at, y - 0.8 if under else y + 0.8)], width=0.3)
    paper.arrow((rim.left, y), (rim.right, y), ends="<|-|>", width=0.5, head=5.0)
    taken.line([(rim.left, y), (rim.right, y)])
    at = y - 3.1 if under else y + 0.8
    paper.text(0.5 * (rim.left + rim.right), at, width, size=LETTERS, align="center")
    taken.take(around(0.5 * (rim.left + rim.right), at + 1.2, text_width(width, LETTERS) + 1, 3.2))
    edge = rim.left if beside else rim.right
    for at in (rim.low, rim.high):
        paper.line([(edge, at), (x - 0.8 if beside else x + 0.8, at)], width=0.3)
    tall = rim.high - rim.low
    if tall > 6.0:
        paper.arrow((x, rim.low), (x, rim.high), ends="<|-|>", width=0.5, head=5.0)
        taken.line([(x, rim.low), (x, rim.high)])
    wide = text_width(height, LETTERS)
    turned = tall > wide + 2.0
    middle = 0.5 * (rim.low + rim.high)
    if turned:
        at = x - 0.8 if beside else x + 3.0
        paper.text(at, middle, height, size=LETTERS, turned=90.0, align="center")
        taken.take(around(at - 1.2, middle, 3.2, wide + 1))
    else:
        align = "right" if beside else "left"
        at = x - 1.0 if beside else x + 1.0
        paper.text(at, middle, height, size=LETTERS, align=align, upright="center")
        taken.take(around(at + (-0.5 if beside else 0.5) * wide, middle, wide + 1, 3.2))


def _torch(
    paper: Paper,
    part: HeatedPart,
    on: Callable[[Array], list[tuple[float, float]]],
    taken: Taken,
    box: Box,
) -> None:
    """A heated stretch, and an arrow for the torch with the numbers of its heats."""
    for stretch in part.lines:
        line = np.array(on(stretch)) + 0.5 * part.outward
        paper.line([(float(x), float(y)) for x, y in line], width=3.0, colour=TORCH, over=6)
    middle = np.array(on(part.middle[None])[0]) + 0.5 * part.outward
    tip, tail = middle + 0.8 * part.outward, middle + 5.5 * part.outward
    paper.arrow(
        (float(tail[0]), float(tail[1])), (float(tip[0]), float(tip[1])), colour=TORCH, width=1.6,
        head=9.0, over=7,
    )  # fmt: skip
    taken.line([(float(tail[0]), float(tail[1])), (float(tip[0]), float(tip[1]))])
    wide = text_width(part.label, LETTERS, bold=True) + 0.8
    x, y = tail + part.outward * 0.3
    found = taken.place_near(float(x), float(y), wide, 3.2, within=box)
    if found is not None:
        paper.text(
            *found, part.label, size=LETTERS, bold=True, colour=TORCH, align="center",
            upright="center", halo=True,
        )  # fmt: skip
