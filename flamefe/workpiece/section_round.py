"""Round cross sections and tubes.

Circles become polygons of the same area: their nodes lie on a circle of radius
r sqrt(t / sin t), t being the angle of one edge. So mass and section area are exact, and the
second moments are off by t^4 / 180 only, where nodes on the circle would lose 2/3 t^2 / 4 of the
area and as much again of the moments.
"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from flamefe.workpiece.section import Section
from flamefe.workpiece.section_blocks import (
    Block,
    Faults,
    arc,
    in_mm,
    mapped,
    reaches,
    rectangle,
    welded,
)

Array = NDArray[np.float64]
Fine = Mapping[str, float] | None

# The core of a round bar: where its corners lie, as a share of the radius, and how far its sides
# bulge from straight (0) towards a circle (1).
_CORE, _BULGE = 0.55, 0.4


def round_tube(
    *, outer_diameter: float, thickness: float,
    size: float, thickness_layers: int = 2, fine: Fine = None,
) -> Section:  # fmt: skip
    """A round tube; the origin is the lower left corner of the square around the true circle.

    Part: "wall". Faces: "outside", "inside". At least 12 edges go round, a multiple of 4.

    Args:
        outer_diameter: m.
        thickness: of the wall, m.
        size: edge length along the outside, m.
        thickness_layers, fine: see ``section_shapes``.

    Raises:
        OutOfRange: a dimension is not above 0, the wall leaves no hollow, or the meshing is not
            allowed.

    Example:
        >>> tube = round_tube(outer_diameter=0.1016, thickness=0.005, size=0.01)
        >>> tube.name, len(tube.faces["outside"]), len(tube.loops)
        ('round tube 101.6 x 5 mm', 32, 2)
    """
    faults = Faults("round tube")
    faults.positive(outer_diameter=outer_diameter, thickness=thickness)
    faults.unless(
        not reaches(2.0 * thickness, outer_diameter),
        f"thickness is {thickness:g} m; it must be below half of the outer_diameter, "
        f"{0.5 * outer_diameter:g} m: give a thinner wall, or make a round bar",
    )
    meshing = faults.meshing(size, thickness_layers, fine, ["wall"])
    faults.tell()
    radius = 0.5 * outer_diameter
    around = 4 * max(3, _number(0.5 * np.pi * radius, meshing.of("wall")))
    angles = np.linspace(0.0, 2.0 * np.pi, around + 1)
    grow = _equal_area(2.0 * np.pi / around)
    inner, outer = (arc((radius, radius), r * grow, angles) for r in (radius - thickness, radius))
    grid = mapped(inner, outer, np.linspace(0.0, 1.0, thickness_layers + 1))
    wall = Block(part="wall", grid=grid, left="inside", right="outside")
    return welded(f"round tube {in_mm(outer_diameter, thickness)}", [wall])


def round_bar(
    *, diameter: float, size: float, thickness_layers: int = 2, fine: Fine = None
) -> Section:
    """A round bar: a core of quads within rings; the origin is the lower left corner around it.

    Part: "bar". Face: "outside". At least 12 edges go round, a multiple of 4.

    Args:
        diameter: m.
        size: edge length along the outside, m.
        thickness_layers: rings around the core, at least.
        fine: see ``section_shapes``.

    Raises:
        OutOfRange: the diameter is not above 0, or the meshing is not allowed.

    Example:
        >>> bar = round_bar(diameter=0.04, size=0.01)
        >>> bar.name, len(bar.faces["outside"]), len(bar.quads)
        ('round 40 mm', 16, 48)
    """
    faults = Faults("round bar")
    faults.positive(diameter=diameter)
    meshing = faults.meshing(size, thickness_layers, fine, ["bar"])
    faults.tell()
    radius = 0.5 * diameter
    side = max(3, _number(0.5 * np.pi * radius, meshing.of("bar")))
    rings = max(thickness_layers, _number((1.0 - _CORE) * radius, meshing.of("bar")))
    middle = (radius, radius)
    share = np.linspace(-1.0, 1.0, side + 1)
    turn = 0.25 * np.pi * share
    # the right side of the core, from lower to upper corner
    straight = np.stack([np.full(side + 1, np.sqrt(0.5)), np.sqrt(0.5) * share], axis=-1)
    curved = arc((0.0, 0.0), 1.0, turn)
    edge = _CORE * radius * ((1.0 - _BULGE) * straight + _BULGE * curved)
    outer = arc((0.0, 0.0), radius * _equal_area(0.5 * np.pi / side), turn)
    grid = mapped(edge, outer, np.linspace(0.0, 1.0, rings + 1))
    blocks = [Block(part="bar", grid=_core(edge) + middle)]
    for quarter in range(4):
        turned = grid @ _quarter_turns(quarter)
        blocks.append(Block(part="bar", grid=turned + middle, right="outside"))
    return welded(f"round {in_mm(diameter)}", blocks)


def rectangular_tube(
    *, height: float, width: float, thickness: float, outer_radius: float = 0.0,
    size: float, thickness_layers: int = 2, fine: Fine = None,
) -> Section:  # fmt: skip
    """A square or rectangular tube, its corners sharp or rounded about a common middle.

    Parts: "top wall", "bottom wall", "left wall", "right wall", "corners". Faces: "top outside",
    "top inside" and alike for the bottom, left and right; with rounded corners also "corners
    outside" and "corners inside". With sharp corners the outsides reach to the corner.

    Args:
        height, width: outside, m.
        thickness: of the wall, m.
        outer_radius: of the corners, m; 0 is sharp, else above the thickness.
        size, thickness_layers, fine: see ``section_shapes``.

    Raises:
        OutOfRange: a dimension is not above 0, the walls leave no hollow or the corners no flat
            side, a radius above 0 that is not above the thickness, or the meshing is not allowed.

    Example:
        >>> tube = rectangular_tube(height=0.1, width=0.06, thickness=0.004, outer_radius=0.008,
        ...                         size=0.02)
        >>> tube.name, len(tube.loops)
        ('rectangular tube 100 x 60 x 4 mm', 2)
    """
    faults = Faults("rectangular tube")
    faults.positive(height=height, width=width, thickness=thickness)
    rounded = outer_radius != 0.0
    faults.unless(
        not rounded or bool(np.isfinite(outer_radius) and not reaches(thickness, outer_radius)),
        f"outer_radius is {outer_radius:g} m; give 0 (sharp) or more than the thickness, "
        f"{thickness:g} m, so that the inside is round too",
    )
    reach = outer_radius if rounded else thickness
    faults.unless(
        not reaches(2.0 * max(reach, thickness), min(height, width)),
        f"two {'corners' if rounded else 'walls'} take {2.0 * max(reach, thickness):g} m; that "
        f"must be below the smaller side, {min(height, width):g} m: give a "
        f"{'smaller outer_radius' if rounded else 'thinner wall'}, or wider sides",
    )
    walls = {"top": "top wall", "bottom": "bottom wall", "left": "left wall", "right": "right wall"}
    meshing = faults.meshing(size, thickness_layers, fine, [*walls.values(), "corners"])
    faults.tell()
    through = np.linspace(0.0, thickness, thickness_layers + 1)
    corner = ["corners", "corners"]
    blocks = []
    for side, turned in (("bottom", False), ("top", False), ("left", True), ("right", True)):
        length, depth = (height, width) if turned else (width, height)
        along = meshing.along(reach, length - reach, walls[side], beside=corner)
        first = side in ("bottom", "left")
        across = through if first else depth - through[::-1]
        out, into = f"{side} outside", f"{side} inside"
        lower, upper = (out, into) if first else (into, out)
        if turned:
            blocks.append(rectangle(walls[side], across, along, left=lower, right=upper))
        else:
            blocks.append(rectangle(walls[side], along, across, below=lower, above=upper))
    if rounded:
        radial = outer_radius - thickness + through
        grid = _rounded_corner(radial, meshing.of("corners"))
    else:
        grid = rectangle("corners", through, through).grid
    low, high = (reach, reach), (width - reach, height - reach)
    middles = [high, (low[0], high[1]), low, (high[0], low[1])]
    around = ["right", "top", "left", "bottom"]
    for quarter, middle in enumerate(middles):
        turned_grid = grid @ _quarter_turns(quarter) + middle
        if rounded:
            faces = {"left": "corners inside", "right": "corners outside"}
        else:
            faces = {
                "right": f"{around[quarter]} outside",
                "above": f"{around[(quarter + 1) % 4]} outside",
            }
        blocks.append(Block(part="corners", grid=turned_grid, **faces))
    return welded(f"rectangular tube {in_mm(height, width, thickness)}", blocks)


def _number(length: float, size: float) -> int:
    """Edges of at most a size along a length."""
    return max(1, int(np.ceil(length / size - 1e-9)))


def _equal_area(turn: float) -> float:
    """Radius of a regular polygon's corners over that of the circle with its area; rad an edge."""
    return float(np.sqrt(turn / np.sin(turn)))


def _quarter_turns(number: int) -> Array:
    """Matrix that turns rows of coordinates by some quarters, counter-clockwise."""
    once = np.array([(0.0, 1.0), (-1.0, 0.0)])
    return np.asarray(np.linalg.matrix_power(once, number))


def _core(right: Array) -> Array:
    """Grid within four sides that are alike, from the right one (lower to upper corner)."""
    share = np.linspace(-1.0, 1.0, len(right))
    bulge = right[:, 0] - right[-1, 0]
    y = share[:, None] * bulge[None, :] + right[:, None, 1]
    z = share[None, :] * bulge[:, None] + right[None, :, 1]
    return np.stack(np.broadcast_arrays(y, z), axis=-1)


def _rounded_corner(radial: Array, size: float) -> Array:
    """Grid of a quarter ring about the origin, from y to z, its area that of the true ring.

    The ends stay where the flat walls begin; only the nodes between move out. With n edges of the
    angle t and those nodes at r s the area is r^2 sin t / 2 ((n - 2) s^2 + 2 s).
    """
    number = max(3, _number(0.25 * np.pi * (radial[0] + radial[-1]), size))
    turn = 0.5 * np.pi / number
    wanted = number * turn / np.sin(turn)
    grow = np.full(number + 1, (np.sqrt(1.0 + (number - 2) * wanted) - 1.0) / (number - 2))
    grow[[0, -1]] = 1.0
    unit = arc((0.0, 0.0), 1.0, np.linspace(0.0, 0.5 * np.pi, number + 1)) * grow[:, None]
    unit[[0, -1]] = [(1.0, 0.0), (0.0, 1.0)]
    return np.asarray(radial[:, None, None] * unit[None])
