"""A table of torches and patterns for a plate."""

from collections.abc import Sequence

from flamefe.heating.passing import WidePlate
from flamefe.planning.choosing import Choice, Wish
from flamefe.reporting.words import number, one_line

HEAD = ("torch", "pattern", "speed", "time", "surface", "at depth", "back", "gas", "verdict")
PRACTICE = (
    "A quick model of a wide plate and an ideal flame: check the choice with flamefe run, then on "
    "scrap. Local codes and licensed practice decide."
)


def choice_text(found: Sequence[Choice], plate: WidePlate, wish: Wish) -> str:
    """The choices as a table in plain text, the good ones first.

    Args:
        found: what was tried.
        plate: on which.
        wish: for what.

    Returns:
        Lines that end in a line end.
    """
    faces = ", both faces" if plate.both_faces else ""
    lines = [
        f"To {wish.target_C:g} C, {1e3 * wish.depth:g} mm deep in {1e3 * plate.thickness:g} mm of "
        f"{one_line(plate.material.name)}{faces}; surface at most {wish.limit_C:g} C",
        "",
    ]
    rows = [HEAD, *(_row(one) for one in found)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(HEAD) - 1)]
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        lines.append("  ".join([*cells, row[-1]]).rstrip())
    lines += ["", "Time, gas (fuel + oxygen): of a spot, or of a metre of line or band."]
    if any(one.uncertain for one in found):
        lines.append(
            "Efficiency by default, from memory: uncertain by 30 %, and so are speeds and times."
        )
    doubts = dict.fromkeys(one.doubt for one in found if one.doubt)
    lines += [f"(?) {doubt}." for doubt in doubts]
    if not any(one.good for one in found):
        lines.append(f"None does it. {_advice(found)}")
    lines.append(PRACTICE)
    return "".join(f"{line}\n" for line in lines)


def _row(one: Choice) -> tuple[str, ...]:
    speed = "stands" if one.speed is None else f"{number(1e3 * one.speed, 2)} mm/s"
    gas = "-"
    if one.gas is not None:
        gas = f"{number(1e3 * one.gas.fuel_volume, 2)} + {number(1e3 * one.gas.oxygen_volume, 2)} L"
    return (
        one_line(one.torch),
        one.pattern,
        speed,
        f"{number(one.time, 3)} s",
        f"{one.surface_C:.0f} C",
        f"{one.depth_C:.0f} C",
        f"{one.back_C:.0f} C",
        gas,
        f"{one.words}{' (?)' if one.doubt else ''}",
    )


def _advice(found: Sequence[Choice]) -> str:
    if not any(one.reached for one in found):
        return "Take a larger nozzle, go slower, heat both faces, or ask for less depth."
    if not any(one.allowed for one in found if one.reached):
        return "Take a smaller nozzle or a wider band, heat both faces, or ask for less depth."
    return "Take a smaller nozzle or a faster hand."
