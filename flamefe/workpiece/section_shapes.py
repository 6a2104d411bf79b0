"""Cross sections of beams from their dimensions: bars, rolled and welded shapes, tubes, panels.

Every function takes metres. All corners are sharp: the root and toe fillets of rolled shapes are
left out, which makes their area a few per cent smaller than published. The origin is the lower
left corner of the bounding box, y to the right, z up.

Every function takes also:

- ``size``: target edge length along the plates, m. Next to a part made finer the elements grow
  from its edge length by a ratio of 1.3;
- ``thickness_layers``: element layers through each plate; a web gets more where its layers would
  else be thicker than the edges along the flange it joins;
- ``fine``: edge length for some parts, by name, m, at most ``size``.

All raise OutOfRange with every fault of the dimensions at once.
"""

from collections.abc import Mapping

import numpy as np

from flamefe.workpiece.section import Section
from flamefe.workpiece.section_blocks import (
    Faults,
    Upright,
    in_mm,
    lying_plate,
    reaches,
    rectangle,
    welded,
)
from flamefe.workpiece.section_plated import box, stiffened_panel
from flamefe.workpiece.section_round import rectangular_tube, round_bar, round_tube

__all__ = [
    "angle", "box", "channel", "flat_bar", "i_section", "rectangular_tube", "round_bar",
    "round_tube", "stiffened_panel", "t_section",
]  # fmt: skip

Fine = Mapping[str, float] | None


def flat_bar(
    *, width: float, thickness: float, size: float, thickness_layers: int = 2, fine: Fine = None
) -> Section:
    """A flat bar or strip, lying: width along y, thickness along z.

    Part: "bar". Faces: "top", "bottom", "left edge", "right edge".

    Args:
        width, thickness: m.
        size, thickness_layers, fine: see the head of this file.

    Raises:
        OutOfRange: a dimension is not above 0, or the meshing is not allowed.

    Example:
        >>> section = flat_bar(width=0.1, thickness=0.01, size=0.02)
        >>> section.name, len(section.quads)
        ('flat 100 x 10 mm', 10)
    """
    faults = Faults("flat bar")
    faults.positive(width=width, thickness=thickness)
    meshing = faults.meshing(size, thickness_layers, fine, ["bar"])
    faults.tell()
    y = meshing.along(0.0, width, "bar")
    z = np.linspace(0.0, thickness, thickness_layers + 1)
    bar = rectangle("bar", y, z, below="bottom", above="top", left="left edge", right="right edge")
    return welded(f"flat {in_mm(width, thickness)}", [bar])


def i_section(
    *, height: float, width: float, web_thickness: float, flange_thickness: float,
    bottom_width: float | None = None, bottom_flange_thickness: float | None = None,
    size: float, thickness_layers: int = 2, fine: Fine = None,
) -> Section:  # fmt: skip
    """An I or H section, rolled (root fillets left out) or welded, its two flanges alike or not.

    Parts: "top flange", "web", "bottom flange". Faces: "top of top flange", "underside of top
    flange left" and "... right", "top of bottom flange left" and "... right", "underside of bottom
    flange", "web left", "web right", and for both flanges "top flange left edge" and so on.

    Args:
        height: over both flanges, m.
        width: of the top flange, m; the web stands in its middle.
        web_thickness, flange_thickness: m.
        bottom_width, bottom_flange_thickness: m, as for the top flange when left out.
        size, thickness_layers, fine: see the head of this file.

    Raises:
        OutOfRange: a dimension is not above 0, the web is not thinner than both flanges are wide,
            the flanges leave no web, or the meshing is not allowed.

    Example:
        >>> ipe = i_section(height=0.2, width=0.1, web_thickness=0.0056,
        ...                 flange_thickness=0.0085, size=0.02, fine={"top flange": 0.01})
        >>> ipe.name, sorted(ipe.parts)
        ('I 200 x 100 x 5.6 x 8.5 mm', ['bottom flange', 'top flange', 'web'])
    """
    widths = {"top": width, "bottom": width if bottom_width is None else bottom_width}
    other = flange_thickness if bottom_flange_thickness is None else bottom_flange_thickness
    faults = Faults("I section")
    faults.positive(
        height=height, width=width, web_thickness=web_thickness,
        flange_thickness=flange_thickness, bottom_width=widths["bottom"],
        bottom_flange_thickness=other,
    )  # fmt: skip
    faults.web_fits(web_thickness, min(widths.values()))
    faults.flanges_fit(height, flange_thickness + other)
    parts = ["top flange", "web", "bottom flange"]
    meshing = faults.meshing(size, thickness_layers, fine, parts)
    faults.tell()
    middle = 0.5 * max(widths.values())
    across = meshing.across(
        middle - 0.5 * web_thickness, middle + 0.5 * web_thickness, parts[0], parts[2]
    )
    z = meshing.along(other, height - flange_thickness, "web", beside=[parts[2], parts[0]])
    blocks = [rectangle("web", across, z, left="web left", right="web right")]
    for side, low, high in (
        ("top", height - flange_thickness, height),
        ("bottom", 0.0, other),
    ):
        carried = "underside of top" if side == "top" else "top of bottom"
        plain = "top of top" if side == "top" else "underside of bottom"
        blocks += lying_plate(
            f"{side} flange",
            meshing,
            span=(middle - 0.5 * widths[side], middle + 0.5 * widths[side]),
            heights=np.linspace(low, high, thickness_layers + 1),
            uprights=[Upright(part="web", across=across)],
            carrying="below" if side == "top" else "above",
            plain_face=f"{plain} flange",
            bay_faces=[f"{carried} flange left", f"{carried} flange right"],
            left=f"{side} flange left edge",
            right=f"{side} flange right edge",
        )
    sizes = [height, width, web_thickness, flange_thickness]
    if widths["bottom"] != width or other != flange_thickness:
        sizes += [widths["bottom"], other]
    return welded(f"I {in_mm(*sizes)}", blocks)


def channel(
    *, height: float, width: float, web_thickness: float, flange_thickness: float,
    size: float, thickness_layers: int = 2, fine: Fine = None,
) -> Section:  # fmt: skip
    """A channel with parallel flanges that point to the right; fillets and tapers are left out.

    Parts: "top flange", "web", "bottom flange"; the corners belong to the flanges. Faces: "top of
    top flange", "underside of top flange", "top flange edge", "web inside", "web back" (the whole
    back, flange ends too), "top of bottom flange", "underside of bottom flange",
    "bottom flange edge".

    Args:
        height: over both flanges, m.
        width: of the flanges from the back of the web, m.
        web_thickness, flange_thickness: m.
        size, thickness_layers, fine: see the head of this file.

    Raises:
        OutOfRange: a dimension is not above 0, the web is not thinner than the flanges are wide,
            the flanges leave no web, or the meshing is not allowed.

    Example:
        >>> channel(height=0.2, width=0.075, web_thickness=0.0085, flange_thickness=0.0115,
        ...         size=0.02).name
        'channel 200 x 75 x 8.5 x 11.5 mm'
    """
    faults = Faults("channel")
    faults.positive(
        height=height, width=width, web_thickness=web_thickness, flange_thickness=flange_thickness
    )
    faults.web_fits(web_thickness, width)
    faults.flanges_fit(height, 2.0 * flange_thickness)
    parts = ["top flange", "web", "bottom flange"]
    meshing = faults.meshing(size, thickness_layers, fine, parts)
    faults.tell()
    across = meshing.across(0.0, web_thickness, parts[0], parts[2])
    low, high = flange_thickness, height - flange_thickness
    z = meshing.along(low, high, "web", beside=[parts[2], parts[0]])
    blocks = [rectangle("web", across, z, left="web back", right="web inside")]
    for side, heights, carrying, plain, inner in (
        ("top", (high, height), "below", "top of top flange", "underside of top flange"),
        ("bottom", (0.0, low), "above", "underside of bottom flange", "top of bottom flange"),
    ):
        blocks += lying_plate(
            f"{side} flange",
            meshing,
            span=(0.0, width),
            heights=np.linspace(*heights, thickness_layers + 1),
            uprights=[Upright(part="web", across=across)],
            carrying=carrying,
            plain_face=plain,
            bay_faces=[None, inner],
            left="web back",
            right=f"{side} flange edge",
        )
    return welded(f"channel {in_mm(height, width, web_thickness, flange_thickness)}", blocks)


def t_section(
    *, height: float, width: float, web_thickness: float, flange_thickness: float,
    size: float, thickness_layers: int = 2, fine: Fine = None,
) -> Section:  # fmt: skip
    """A T, its flange on top; fillets are left out.

    Parts: "flange", "web". Faces: "top of flange", "underside of flange left" and "... right",
    "flange left edge", "flange right edge", "web left", "web right", "web tip".

    Args:
        height: from the web's tip to the top of the flange, m.
        width: of the flange, m; the web hangs from its middle.
        web_thickness, flange_thickness: m.
        size, thickness_layers, fine: see the head of this file.

    Raises:
        OutOfRange: a dimension is not above 0, the web is not thinner than the flange is wide,
            the flange leaves no web, or the meshing is not allowed.

    Example:
        >>> t_section(height=0.1, width=0.1, web_thickness=0.011, flange_thickness=0.011,
        ...           size=0.02).name
        'T 100 x 100 x 11 x 11 mm'
    """
    faults = Faults("T section")
    faults.positive(
        height=height, width=width, web_thickness=web_thickness, flange_thickness=flange_thickness
    )
    faults.web_fits(web_thickness, width)
    faults.flanges_fit(height, flange_thickness)
    meshing = faults.meshing(size, thickness_layers, fine, ["flange", "web"])
    faults.tell()
    low = height - flange_thickness
    across = meshing.across(0.5 * (width - web_thickness), 0.5 * (width + web_thickness), "flange")
    z = meshing.along(0.0, low, "web", beside=["", "flange"])
    web = rectangle("web", across, z, left="web left", right="web right", below="web tip")
    flange = lying_plate(
        "flange",
        meshing,
        span=(0.0, width),
        heights=np.linspace(low, height, thickness_layers + 1),
        uprights=[Upright(part="web", across=across)],
        carrying="below",
        plain_face="top of flange",
        bay_faces=["underside of flange left", "underside of flange right"],
        left="flange left edge",
        right="flange right edge",
    )
    name = f"T {in_mm(height, width, web_thickness, flange_thickness)}"
    return welded(name, [*flange, web])


def angle(
    *, height: float, width: float, thickness: float,
    size: float, thickness_layers: int = 2, fine: Fine = None,
) -> Section:  # fmt: skip
    """An angle, its heel in the lower left corner; fillets are left out.

    Parts: "upright leg", "flat leg" (with the heel). Faces: "underside of flat leg",
    "top of flat leg", "flat leg edge", "back of upright leg" (down to the heel),
    "inside of upright leg", "upright leg edge".

    Args:
        height: of the upright leg, m, from the heel.
        width: of the flat leg, m, from the heel.
        thickness: of both legs, m.
        size, thickness_layers, fine: see the head of this file.

    Raises:
        OutOfRange: a dimension is not above 0, a leg is not longer than thick, or the meshing is
            not allowed.

    Example:
        >>> angle(height=0.1, width=0.065, thickness=0.009, size=0.02).name
        'angle 100 x 65 x 9 mm'
    """
    faults = Faults("angle")
    faults.positive(height=height, width=width, thickness=thickness)
    for leg, length in (("height", height), ("width", width)):
        faults.unless(
            not reaches(thickness, length),
            f"thickness is {thickness:g} m; it must be below the {leg}, {length:g} m: "
            "give a thinner or a longer leg",
        )
    meshing = faults.meshing(size, thickness_layers, fine, ["upright leg", "flat leg"])
    faults.tell()
    across = meshing.across(0.0, thickness, "flat leg")
    z = meshing.along(thickness, height, "upright leg", beside=["flat leg", ""])
    upright = rectangle(
        "upright leg", across, z,
        left="back of upright leg", right="inside of upright leg", above="upright leg edge",
    )  # fmt: skip
    flat = lying_plate(
        "flat leg",
        meshing,
        span=(0.0, width),
        heights=np.linspace(0.0, thickness, thickness_layers + 1),
        uprights=[Upright(part="upright leg", across=across)],
        carrying="above",
        plain_face="underside of flat leg",
        bay_faces=[None, "top of flat leg"],
        left="back of upright leg",
        right="flat leg edge",
    )
    return welded(f"angle {in_mm(height, width, thickness)}", [upright, *flat])
