"""Jobs on plates formed in two curvatures: their target, what is fitted out, their heats."""

from collections.abc import Callable, Sequence
from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.outcome.deviations import Placement
from flamefe.planning.candidate import Candidate
from flamefe.planning.defined_sheets import PANEL_SIDES, sides_of
from flamefe.planning.definition import FormedPart, Heats, refuse_definition
from flamefe.planning.effect import line_effect
from flamefe.planning.formed import FormedPlate, normals_of
from flamefe.planning.problem import MM
from flamefe.planning.seats import SheetHeat
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]
Surface = Callable[[Array, Array], Array]
WEAK = 0.02
"""A movement that changes heights by less than this share of the strongest is not fitted out."""
STEP = 1e-4


def formed_target(
    size_mm: Sequence[float], radii_mm: Sequence[float | None]
) -> Callable[[Array, Array], Array]:
    """Height of the surface asked for over its lowest (or highest) place in the middle.

    Formula: z = arc(x - L / 2, Rx) + arc(y - W / 2, Ry), arc(u, R) = R - sign(R) sqrt(R^2 - u^2);
    R > 0 is hollow upwards, the edges rise.

    Args:
        size_mm: extent along x and y.
        radii_mm: Rx and Ry; None: straight.

    Returns:
        A function of x and y from a corner, m, that gives z, m.

    Example:
        >>> bowl = formed_target((2000, 1000), (None, 2000))
        >>> round(1e3 * float(bowl(np.array([0.0]), np.array([0.0]))[0]), 1)
        63.5
    """
    middles = [0.5 * one / MM for one in size_mm]
    radii = [None if one is None else one / MM for one in radii_mm]

    def height(x: Array, y: Array) -> Array:
        total = 0.0 * (np.asarray(x) + np.asarray(y))
        for at, middle, radius in zip((x, y), middles, radii, strict=True):
            if radius is not None:
                off = np.asarray(at) - middle
                total = total + radius - np.sign(radius) * np.sqrt(radius**2 - off**2)
        return np.asarray(total)

    return height


def surface_fitted(target: Surface, points: ArrayLike) -> Placement:
    """What is left of heights square to a surface when its place is fitted out.

    Args:
        target: height from x and y, m.
        points: (n, 2) m.

    Example:
        >>> grid = np.array([(x, y) for x in (0.0, 0.5, 1.0) for y in (0.0, 0.5, 1.0)])
        >>> left = surface_fitted(formed_target((1000, 1000), (4000, 3000)), grid)
        >>> bool(np.abs(left.of(np.ones(9) + grid[:, 0])).max() < 0.03)   # height and tilt
        True
    """
    xy = np.asarray(points, dtype=float)
    normals = normals_of(target, xy, STEP)
    places = np.column_stack((xy, target(xy[:, 0], xy[:, 1])))
    places = places - places.mean(axis=0)
    scale = float(np.ptp(xy, axis=0).max())
    modes = np.concatenate((normals, np.cross(places, normals) / scale), axis=1)
    about = "the place of the target surface"
    return Placement.fitted(modes, np.ones(len(xy)), about=about, weak=WEAK)


def formed_heats(
    part: FormedPart, kinds: Sequence[Heats], metal: Material
) -> tuple[tuple[str, ...], list[Candidate]]:
    """Names of a formed plate's places, and its candidates.

    What a line does is solved on the plate in the shape asked for, which it nearly has.

    Args:
        part: as the user wrote it.
        kinds: line heats: sizes_mrad, shortening_mm, length_mm, along, at_xy_mm.
        metal: of the plate.

    Raises:
        DefinitionError: heats that lack something.
        OutOfRange: a heat or a place off the plate.

    Example:
        >>> from flamefe.workpiece.standard import material
        >>> part = FormedPart(kind="formed", length_mm=1200, width_mm=800, thickness_mm=10,
        ...     radius_y_mm=2000, size_mm=200,
        ...     measured_at_mm=[(x, y) for x in (0, 600, 1200) for y in (0, 400, 800)])
        >>> lines = Heats(kind="line", sizes_mrad={"one pass": 5}, length_mm=300, along="x",
        ...     at_xy_mm=[(600, 400)], sides=["top"])
        >>> names, heats = formed_heats(part, [lines], material("S355"))
        >>> bool(heats[0].moves[4] < 0.0)                    # the middle goes away from the torch
        True
    """
    size = (part.length_mm, part.width_mm)
    target = formed_target(size, (part.radius_x_mm, part.radius_y_mm))
    points = np.array(part.measured_at_mm, dtype=float) / MM
    plate = FormedPlate(
        length=size[0] / MM,
        width=size[1] / MM,
        thickness=part.thickness_mm / MM,
        shape=target,
        metal=metal,
        places=points,
        size=None if part.size_mm is None else part.size_mm / MM,
    )
    seats: list[SheetHeat] = []
    told: list[tuple[str, str, str, str, str, tuple[float, float, float]]] = []
    owner: list[int] = []
    for heats in kinds:
        if not heats.sizes_mrad or heats.length_mm is None or not heats.at_xy_mm:
            refuse_definition(
                f"heats of kind {heats.kind!r} on a formed plate need sizes_mrad, length_mm and "
                "at_xy_mm"
            )
        for (x, y), side, (name, turn) in product(
            heats.at_xy_mm, sides_of(heats, PANEL_SIDES), heats.sizes_mrad.items()
        ):
            radius = part.radius_x_mm if heats.along == "x" else part.radius_y_mm
            pieces = _pieces(heats.length_mm, radius, part.thickness_mm)
            effect = line_effect(
                length=heats.length_mm / pieces / MM,
                thickness=part.thickness_mm / MM,
                transverse_shrinkage=turn * heats.shortening_mm / MM,
                angular_change=turn / MM,
                kind=heats.kind,
                source=heats.source or "given by the user",
            )
            place = f"({x:.4g}, {y:.4g}) mm along {heats.along}"
            called = f"{heats.kind} {name} {side} {place}"
            face: Literal["top", "bottom"] = "top" if side == "top" else "bottom"
            for piece in range(pieces):
                off = heats.length_mm * ((piece + 0.5) / pieces - 0.5)
                u, v = (x + off, y) if heats.along == "x" else (x, y + off)
                seats.append(
                    plate.heat(
                        f"{called}, piece {piece}", effect, at=(u / MM, v / MM),
                        along=heats.along, face=face,
                    )
                )  # fmt: skip
                owner.append(len(told))
            here = (x / MM, y / MM, float(target(np.array([x / MM]), np.array([y / MM]))[0]))
            told.append((called, heats.kind, name, f"{side} {place}", side, here))
    single = surface_fitted(target, points).of(plate.influence(seats))
    moves = np.zeros((len(points), len(told)))
    np.add.at(moves.T, owner, single.T)
    made = [
        Candidate(
            name=called, kind=kind, size=name, place=place, side=side, position=position,
            moves=np.array(column),
        )
        for (called, kind, name, place, side, position), column in zip(told, moves.T, strict=True)
    ]  # fmt: skip
    return plate.names, made


def _pieces(length_mm: float, radius_mm: float | None, thickness_mm: float) -> int:
    """Straight pieces of a line along an arc that lie within half the thickness of it."""
    if radius_mm is None:
        return 1
    longest = 2.0 * np.sqrt(abs(radius_mm) * thickness_mm)
    return max(1, int(np.ceil(length_mm / longest)))
