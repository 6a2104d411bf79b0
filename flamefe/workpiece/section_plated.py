"""Cross sections welded of plates: the box and the panel with stiffeners."""

from collections.abc import Mapping

import numpy as np

from flamefe.workpiece.section import Section
from flamefe.workpiece.section_blocks import (
    Block,
    Faults,
    Upright,
    in_mm,
    lying_plate,
    reaches,
    rectangle,
    welded,
)

Fine = Mapping[str, float] | None


def box(
    *, height: float, width: float, web_thickness: float, flange_thickness: float,
    overhang: float = 0.0, size: float, thickness_layers: int = 2, fine: Fine = None,
) -> Section:  # fmt: skip
    """A welded box of four plates: two webs between two flanges; the welds are left out.

    Parts: "top flange", "bottom flange", "left web", "right web". Faces: "top of top flange",
    "inside of top flange", "underside of bottom flange", "inside of bottom flange", "outside of
    left web", "inside of left web" (right alike), and for both flanges "top flange left edge" and
    so on; with an overhang also "underside of top flange left" and "... right", "top of bottom
    flange left" and "... right".

    Args:
        height: over both flanges, m.
        width: of the flanges, m.
        web_thickness, flange_thickness: m.
        overhang: from the outside of a web to the flange's edge, m; 0 is flush.
        size, thickness_layers, fine: see ``section_shapes``.

    Raises:
        OutOfRange: a dimension is not above 0, the plates leave no hollow, or the meshing is not
            allowed.

    Example:
        >>> section = box(height=0.3, width=0.2, web_thickness=0.008, flange_thickness=0.012,
        ...               overhang=0.015, size=0.03)
        >>> len(section.loops), len(section.faces)
        (2, 16)
    """
    faults = Faults("box")
    faults.positive(
        height=height, width=width, web_thickness=web_thickness, flange_thickness=flange_thickness
    )
    faults.unless(
        bool(np.isfinite(overhang) and overhang >= 0.0),
        f"overhang is {overhang:g} m; give 0 (flush) or a finite length",
    )
    taken = 2.0 * (web_thickness + overhang)
    faults.unless(
        not reaches(taken, width),
        f"webs and overhangs take {taken:g} m; that must be below the width, {width:g} m: "
        "give thinner webs, less overhang or a wider box",
    )
    faults.flanges_fit(height, 2.0 * flange_thickness)
    parts = ["top flange", "bottom flange", "left web", "right web"]
    meshing = faults.meshing(size, thickness_layers, fine, parts)
    faults.tell()
    low, high = flange_thickness, height - flange_thickness
    uprights = []
    blocks: list[Block] = []
    for side, start in (("left", overhang), ("right", width - overhang - web_thickness)):
        across = meshing.across(start, start + web_thickness, *parts[:2])
        z = meshing.along(low, high, f"{side} web", beside=["bottom flange", "top flange"])
        out, into = f"outside of {side} web", f"inside of {side} web"
        sides = {"left": out, "right": into} if side == "left" else {"left": into, "right": out}
        blocks.append(rectangle(f"{side} web", across, z, **sides))
        uprights.append(Upright(part=f"{side} web", across=across))
    for side, heights, carrying, plain, brim in (
        ("top", (high, height), "below", "top of top flange", "underside of top flange"),
        ("bottom", (0.0, low), "above", "underside of bottom flange", "top of bottom flange"),
    ):
        blocks += lying_plate(
            f"{side} flange",
            meshing,
            span=(0.0, width),
            heights=np.linspace(*heights, thickness_layers + 1),
            uprights=uprights,
            carrying=carrying,
            plain_face=plain,
            bay_faces=[f"{brim} left", f"inside of {side} flange", f"{brim} right"],
            left=f"{side} flange left edge",
            right=f"{side} flange right edge",
        )
    return welded(f"box {in_mm(height, width, web_thickness, flange_thickness)}", blocks)


def stiffened_panel(
    *, width: float, plate_thickness: float, stiffeners: int, stiffener_height: float,
    stiffener_thickness: float, spacing: float | None = None,
    size: float, thickness_layers: int = 2, fine: Fine = None,
) -> Section:  # fmt: skip
    """A plate with flat stiffeners standing on it, all along the beam; the welds are left out.

    Parts: "plate", "stiffener 1", "stiffener 2", ... from the left. Faces: "underside of plate",
    "top of plate bay 1" (left of the first stiffener), "... bay 2", ..., "plate left edge",
    "plate right edge", and for each stiffener "stiffener 1 left", "stiffener 1 right",
    "stiffener 1 tip".

    Args:
        width: of the plate, m.
        plate_thickness: m.
        stiffeners: their number; the row of them stands in the middle of the width.
        stiffener_height: above the plate, m.
        stiffener_thickness: m.
        spacing: between the middles of neighbouring stiffeners, m; when left out the width is
            shared out evenly, with half a spacing at each edge.
        size, thickness_layers, fine: see ``section_shapes``.

    Raises:
        OutOfRange: a dimension is not above 0, no stiffener, stiffeners that run into each other
            or over the plate's edge, or the meshing is not allowed.

    Example:
        >>> panel = stiffened_panel(width=1.2, plate_thickness=0.01, stiffeners=3,
        ...                         stiffener_height=0.1, stiffener_thickness=0.008, size=0.05)
        >>> panel.name, list(panel.parts)[-1]
        ('panel 1200 x 10 mm with 3 stiffeners 100 x 8 mm', 'stiffener 3')
    """
    faults = Faults("stiffened panel")
    faults.positive(
        width=width, plate_thickness=plate_thickness,
        stiffener_height=stiffener_height, stiffener_thickness=stiffener_thickness,
    )  # fmt: skip
    whole = isinstance(stiffeners, int | np.integer) and stiffeners >= 1
    faults.unless(whole, f"stiffeners is {stiffeners}; give a whole number, 1 or more")
    number = int(stiffeners) if whole else 1
    pitch = width / number if spacing is None else spacing
    faults.positive(spacing=pitch)
    faults.unless(
        number == 1 or not reaches(stiffener_thickness, pitch),
        f"spacing is {pitch:g} m; it must be above the stiffener_thickness, "
        f"{stiffener_thickness:g} m: give fewer or thinner stiffeners or a wider spacing",
    )
    taken = (number - 1) * pitch + stiffener_thickness
    faults.unless(
        not taken > width * (1.0 + 1e-9),
        f"{number} stiffeners at {pitch:g} m take {taken:g} m; that must be at most the width, "
        f"{width:g} m: give fewer stiffeners, a closer spacing or a wider plate",
    )
    names = [f"stiffener {i + 1}" for i in range(number)]
    meshing = faults.meshing(size, thickness_layers, fine, ["plate", *names])
    faults.tell()
    tip = plate_thickness + stiffener_height
    uprights = []
    blocks: list[Block] = []
    for i, name in enumerate(names):
        middle = 0.5 * width + (i - 0.5 * (number - 1)) * pitch
        half = 0.5 * stiffener_thickness
        across = meshing.across(middle - half, middle + half, "plate")
        uprights.append(Upright(part=name, across=across))
        z = meshing.along(plate_thickness, tip, name, beside=["plate", ""])
        faces = {"left": f"{name} left", "right": f"{name} right", "above": f"{name} tip"}
        blocks.append(rectangle(name, across, z, **faces))
    plate = lying_plate(
        "plate",
        meshing,
        span=(0.0, width),
        heights=np.linspace(0.0, plate_thickness, thickness_layers + 1),
        uprights=uprights,
        carrying="above",
        plain_face="underside of plate",
        bay_faces=[f"top of plate bay {i + 1}" for i in range(number + 1)],
        left="plate left edge",
        right="plate right edge",
    )
    row = f"{number} stiffeners" if number > 1 else "1 stiffener"
    name = f"panel {in_mm(width, plate_thickness)} with {row} "
    return welded(name + in_mm(stiffener_height, stiffener_thickness), [*plate, *blocks])
