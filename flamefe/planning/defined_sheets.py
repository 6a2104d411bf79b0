"""Jobs on sheets: heats of a panel and of its bays, as what they move at each measuring place."""

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from flamefe.outcome.deviations import Placement
from flamefe.planning.bays import SHALLOW, moved_by_area
from flamefe.planning.candidate import Candidate
from flamefe.planning.definition import BaysPart, Heats, PanelPart, refuse_definition
from flamefe.planning.effect import line_effect
from flamefe.planning.elastic_sheet import ElasticSheet
from flamefe.planning.problem import MM
from flamefe.planning.seats import SheetHeat
from flamefe.workpiece.body import Body
from flamefe.workpiece.extrude import extruded
from flamefe.workpiece.material import Material
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.section_plated import stiffened_panel

Array = NDArray[np.float64]
PANEL_SIDES = ("top", "bottom")
BAY_SIDE = "side that stands out"
MOST_SPOTS = 400
"""Spots that a bay may have."""


def circle_fitted(angles: Array) -> Placement:
    """What is left of radii when the best-fitting circle is fitted out.

    Args:
        angles: (n,) rad.

    Example:
        >>> t = np.radians([0.0, 90.0, 180.0, 270.0])
        >>> circle_fitted(t).of(np.array([2.0, 0.0, 2.0, 0.0])).round(6).tolist()
        [1.0, -1.0, 1.0, -1.0]
    """
    modes = np.column_stack((np.cos(angles), np.sin(angles), np.ones(angles.size)))
    return Placement.fitted(modes, np.ones(angles.size), about="the best-fitting circle")


def plane_fitted(points: Array) -> Placement:
    """What is left of heights when the best-fitting plane is fitted out.

    Args:
        points: (n, 2) m.

    Example:
        >>> corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])
        >>> plane_fitted(corners).of(np.array([0.0, 0.0, 0.0, 4.0])).round(6).tolist()
        [1.0, -1.0, -1.0, 1.0]
    """
    modes = np.column_stack((np.ones(len(points)), points))
    return Placement.fitted(modes, np.ones(len(points)), about="the best-fitting plane")


def point_names(points_mm: Sequence[tuple[float, float]]) -> tuple[str, ...]:
    """Names of measuring places on a surface, as surveys name them.

    Args:
        points_mm: (n, 2).

    Example:
        >>> point_names([(0, 300.5)])
        ('(0, 300.5) mm',)
    """
    return tuple(f"({x:.4g}, {y:.4g}) mm" for x, y in points_mm)


def panel_sheet(part: PanelPart, metal: Material) -> ElasticSheet:
    """The coarse panel of a job, with heights upwards at its places.

    Args:
        part: as the user wrote it.
        metal: of the panel.

    Raises:
        DefinitionError: stiffeners without their sizes, or places off the panel.
        OutOfRange: sizes that can't be.
    """
    length, width, thick = (one / MM for one in (part.length_mm, part.width_mm, part.thickness_mm))
    size = max(length, width) / 16.0 if part.size_mm is None else part.size_mm / MM
    along = np.linspace(0.0, length, 1 + max(2, round(length / size)))
    if part.stiffeners:
        if part.stiffener_height_mm is None or part.stiffener_thickness_mm is None:
            refuse_definition(
                "a panel with stiffeners needs stiffener_height_mm and stiffener_thickness_mm"
            )
        section = stiffened_panel(
            width=width,
            plate_thickness=thick,
            stiffeners=part.stiffeners,
            stiffener_height=part.stiffener_height_mm / MM,
            stiffener_thickness=part.stiffener_thickness_mm / MM,
            size=size,
            thickness_layers=1,
        )
        mesh = extruded(section, along).mesh
    else:
        across = np.linspace(0.0, width, 1 + max(2, round(width / size)))
        mesh = box_mesh(along, across, np.array([0.0, thick]))
    low = mesh.p.min(axis=1)
    xy = np.array(part.measured_at_mm, dtype=float) / MM
    if (xy < 0.0).any() or (xy > np.array([length, width])).any():
        refuse_definition(
            f"a measuring place lies off the panel of {part.length_mm:g} x {part.width_mm:g} mm"
        )
    places = np.column_stack((low[0] + xy[:, 0], low[1] + xy[:, 1], np.full(len(xy), low[2])))
    return ElasticSheet(
        Body(mesh=mesh, materials=(metal,)),
        places,
        (0, 0, 1),
        names=point_names(part.measured_at_mm),
    )


def panel_heats(
    part: PanelPart, kinds: Sequence[Heats], metal: Material
) -> tuple[tuple[str, ...], list[Candidate]]:
    """Names of a panel's places, and its candidates.

    Args:
        part: as the user wrote it.
        kinds: line heats: sizes_mrad, length_mm, along, at_xy_mm.
        metal: of the panel.

    Raises:
        DefinitionError: heats that lack something.
        OutOfRange: a heat off the panel.

    Example:
        >>> from flamefe.workpiece.standard import material
        >>> panel = PanelPart(kind="panel", length_mm=800, width_mm=600, thickness_mm=8,
        ...     measured_at_mm=[(0, 0), (800, 0), (0, 600), (800, 600), (400, 300)], size_mm=200)
        >>> lines = Heats(kind="line", sizes_mrad={"one pass": 8}, length_mm=300,
        ...     at_xy_mm=[(400, 300)], sides=["top"])
        >>> names, heats = panel_heats(panel, [lines], material("S355"))
        >>> bool(heats[0].moves[4] < 0.0 < heats[0].moves[0])         # edges rise to the torch
        True
    """
    sheet = panel_sheet(part, metal)
    low = sheet.part.carrier.mesh.p.min(axis=1)
    thick = part.thickness_mm / MM
    seats: list[SheetHeat] = []
    told: list[tuple[str, str, str, str, tuple[float, float, float]]] = []
    for heats in kinds:
        if not heats.sizes_mrad or heats.length_mm is None or not heats.at_xy_mm:
            refuse_definition(
                f"heats of kind {heats.kind!r} on a panel need sizes_mrad, length_mm and at_xy_mm"
            )
        sides = sides_of(heats, PANEL_SIDES)
        for (x, y), side, (size, turn) in product(heats.at_xy_mm, sides, heats.sizes_mrad.items()):
            effect = line_effect(
                length=heats.length_mm / MM,
                thickness=thick,
                transverse_shrinkage=turn * heats.shortening_mm / MM,
                angular_change=turn / MM,
                kind=heats.kind,
                source=heats.source or "given by the user",
            )
            place = f"({x:.4g}, {y:.4g}) mm along {heats.along}"
            name = f"{heats.kind} {size} {side} {place}"
            up = side == "top"
            seats.append(
                SheetHeat(
                    name=name,
                    effect=effect,
                    origin=low + np.array([x / MM, y / MM, 0.5 * thick]),
                    along=np.array([1.0, 0.0, 0.0] if heats.along == "x" else [0.0, 1.0, 0.0]),
                    normal=np.array([0.0, 0.0, 1.0 if up else -1.0]),
                )
            )
            position = (x / MM, y / MM, thick if up else 0.0)
            told.append((heats.kind, size, f"{side} {place}", side, position))
    fitted = plane_fitted(np.array(part.measured_at_mm, dtype=float) / MM)
    moves = fitted.of(sheet.influence(seats))
    made = [
        Candidate(
            name=seat.name, kind=kind, size=size, place=place, side=side, position=position,
            moves=np.array(column),
        )
        for seat, (kind, size, place, side, position), column in zip(
            seats, told, moves.T, strict=True
        )
    ]  # fmt: skip
    return sheet.names, made


def bay_heats(
    part: BaysPart, kinds: Sequence[Heats], tolerance: float
) -> tuple[tuple[str, ...], list[Candidate]]:
    """Names of bays, and spots in them; moves are counted by area.

    A spot takes area off its bay, which brings it nearer to flat whichever way it stands out; it is
    given on the side that stands out (common practice, no source).

    Args:
        part: as the user wrote it.
        kinds: spots: area_mm2, every_mm.
        tolerance: m, of the heights.

    Raises:
        DefinitionError: bays without sides, heats that lack something, or too many.

    Example:
        >>> panel = BaysPart(kind="bays", thickness_mm=4, bays={"A1": (0, 0, 400, 400)})
        >>> spots = Heats(kind="spot", area_mm2={"30 mm": 5}, every_mm=100)
        >>> names, heats = bay_heats(panel, [spots], 0.001)
        >>> len(heats), [round(1e3 * float(one.moves[0]), 2) for one in heats[:2]]
        (16, [-2.03, -2.03])
    """
    names = tuple(part.bays)
    made: list[Candidate] = []
    for row, (name, (x1, y1, x2, y2)) in enumerate(part.bays.items()):
        sides_m = np.array([abs(x2 - x1), abs(y2 - y1)]) / MM
        if sides_m.min() <= 0.0:
            refuse_definition(f"bay {name!r} has no width; give the corners [x1, y1, x2, y2] in mm")
        if tolerance > SHALLOW * sides_m.min():
            refuse_definition(f"the tolerance is too wide for the bookkeeping of bay {name!r}")
        for heats in kinds:
            if not heats.area_mm2 or heats.every_mm is None:
                refuse_definition(
                    f"heats of kind {heats.kind!r} in bays need area_mm2 and every_mm"
                )
            if heats.sides:
                refuse_definition("heats in bays have no sides: the side that stands out is heated")
            number = np.maximum(1, np.floor(MM * sides_m / heats.every_mm + 1e-9)).astype(int)
            if number.prod() > MOST_SPOTS:
                refuse_definition(
                    f"bay {name!r} gets {number.prod()} places for heats of kind {heats.kind!r}; "
                    f"allowed: {MOST_SPOTS}: make every_mm larger"
                )
            corner = np.minimum((x1, y1), (x2, y2)) / MM
            for i, j in product(range(number[0]), range(number[1])):
                at = corner + sides_m * (np.array([i, j]) + 0.5) / number
                for size, area in heats.area_mm2.items():
                    moves = np.zeros(len(names))
                    (step,) = moved_by_area(sides_m, -1e-6 * area, tolerance)
                    moves[row] = step
                    place = f"{name} at ({MM * at[0]:.4g}, {MM * at[1]:.4g}) mm"
                    made.append(
                        Candidate(
                            name=f"{heats.kind} {size} {place}", kind=heats.kind, size=size,
                            place=place, side=BAY_SIDE,
                            position=(float(at[0]), float(at[1]), 0.0), moves=moves,
                        )
                    )  # fmt: skip
    return names, made


def sides_of(heats: Heats, there: tuple[str, ...]) -> Sequence[str]:
    """Sides on which heats are given: those that were named, or all there are.

    Args:
        heats: as the user wrote them.
        there: sides that the part has.

    Raises:
        DefinitionError: a side that the part does not have.

    Example:
        >>> sides_of(Heats(kind="line"), ("top", "bottom"))
        ('top', 'bottom')
    """
    wrong = [side for side in heats.sides if side not in there]
    if wrong:
        refuse_definition(
            f"heats of kind {heats.kind!r} on side {wrong[0]!r}; there are {', '.join(there)}"
        )
    return heats.sides or there
