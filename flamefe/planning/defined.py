"""A job's definition turned into numbers: what each heat moves at each measuring place."""

import csv
from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from math import atan2, cos, degrees, pi, radians, sin
from pathlib import Path
from typing import Any

import numpy as np

from flamefe.basics.errors import FlamefeError, OutOfRange
from flamefe.heating.fuel import fuel
from flamefe.heating.nozzle import LITRES_PER_HOUR, Nozzle
from flamefe.outcome.tolerance import iso_13920_limit_mm
from flamefe.planning.bays import ROOM
from flamefe.planning.candidate import Candidate, HeatKind, Library
from flamefe.planning.defined_formed import formed_heats
from flamefe.planning.defined_sheets import bay_heats, circle_fitted, panel_heats
from flamefe.planning.definition import (
    BaysPart,
    ColumnPart,
    Definition,
    Forbidden,
    FormedPart,
    GirderPart,
    Heats,
    PanelPart,
    Part,
    RingPart,
    Rules,
    TablePart,
    refuse_definition,
)
from flamefe.planning.effect import HeatEffect
from flamefe.planning.limits import Box, CycleRules
from flamefe.planning.members import Column, Girder
from flamefe.planning.places import Places, places_of
from flamefe.planning.problem import MM, Problem
from flamefe.planning.rings import Ring
from flamefe.planning.seated import Seat, candidates_on
from flamefe.planning.seats import MemberHeat
from flamefe.workpiece.standard import material

MOST_NAMED = 6


def problem_of(definition: Definition, folder: Path = Path()) -> Problem:
    """The numbers of a definition.

    Args:
        definition: as read.
        folder: where its tables lie.

    Raises:
        DefinitionError: parts that contradict each other.
        OutOfRange: a value outside what is allowed.

    Example:
        >>> made = Definition.model_validate({
        ...     "title": "Girder", "uncertainty_mm": 0.5, "tolerance": {"plus_mm": 3},
        ...     "part": {"kind": "girder", "length_mm": 12000, "measured_at_mm": [6000]},
        ...     "heats": [{"kind": "wedge", "sizes_mrad": {"45 deg": 2}, "at_mm": [3000, 6000]}]})
        >>> problem = problem_of(made)
        >>> [(one.name, round(float(one.moves[0]), 9)) for one in problem.library.candidates[:2]]
        [('wedge 45 deg top 3000 mm', -0.003), ('wedge 45 deg bottom 3000 mm', 0.003)]
    """
    kinds = tuple(_kind(one) for one in definition.heats)
    part = definition.part
    middle: tuple[float, float, float] | None = None
    if isinstance(part, TablePart):
        names, heats = _table(part, folder)
        meaning = "as in the table of heats"
    elif isinstance(part, GirderPart):
        names, heats = _girder(part, definition.heats)
        middle = (0.5 * part.length_mm / MM, 0.0, 0.0)
        meaning = "camber +: above the string; sweep +: on the far side (+y)"
    elif isinstance(part, ColumnPart):
        names, heats = _column(part, definition.heats)
        meaning = "+: off the plumb line along X and Y"
    elif isinstance(part, RingPart):
        names, heats = _ring(part, definition.heats)
        middle = (0.0, 0.0, 0.0)
        meaning = "+: outwards from the best-fitting circle"
    elif isinstance(part, FormedPart):
        names, heats = formed_heats(part, definition.heats, material(definition.material or "S355"))
        middle = (0.5 * part.length_mm / MM, 0.5 * part.width_mm / MM, 0.0)
        meaning = "+: above the surface asked for, square to it, towards +z"
    elif isinstance(part, PanelPart):
        names, heats = panel_heats(part, definition.heats, material(definition.material or "S355"))
        middle = (0.5 * part.length_mm / MM, 0.5 * part.width_mm / MM, 0.0)
        meaning = "+: above the best-fitting plane, towards +z"
    else:
        names, heats = bay_heats(part, definition.heats, _bay_tolerance(definition) / MM)
        meaning = "heights of bays, either way; what heats move is counted by area"
    axis = 2 if isinstance(part, ColumnPart) else 0
    return Problem(
        title=definition.title,
        places=_places(definition, names),
        library=Library(kinds=kinds, candidates=tuple(heats)),
        rules=_rules(definition.rules, axis, part, heats),
        uncertainty=np.full(len(names), definition.uncertainty_mm / MM),
        common=definition.common,
        meaning=meaning,
        material=definition.material,
        middle=middle,
        by_area=isinstance(part, BaysPart),
        reading=reading_of(definition),
    )


def reading_of(definition: Definition) -> dict[str, Any]:
    """How the part of a job is measured, as plain data to keep with the job.

    Args:
        definition: as read.

    Returns:
        "kind" of the part, and what a measurement of it needs besides.

    Example:
        >>> made = Definition.model_validate({
        ...     "title": "Hopper wall", "uncertainty_mm": 0.3, "tolerance": {"plus_mm": 1.5},
        ...     "part": {"kind": "bays", "thickness_mm": 4, "bays": {"A1": [0, 0, 400, 400]}}})
        >>> reading_of(made)
        {'kind': 'bays', 'length_mm': 400.0, 'bays_mm': {'A1': [0.0, 0.0, 400.0, 400.0]}, \
'tolerance_mm': 1.5}
    """
    part = definition.part
    if isinstance(part, GirderPart):
        return {
            "kind": part.kind,
            "length_mm": part.length_mm,
            "string_mm": list(part.supports_mm or (0.0, part.length_mm)),
            "stations_mm": list(part.measured_at_mm),
            "ways": list(part.measured),
        }
    if isinstance(part, ColumnPart):
        return {
            "kind": part.kind,
            "length_mm": part.height_mm,
            "heights_mm": list(part.measured_at_mm),
        }
    if isinstance(part, RingPart):
        return {
            "kind": part.kind,
            "length_mm": 2.0 * part.radius_mm,
            "radius_mm": part.radius_mm,
            "deg": list(part.measured_at_deg),
        }
    if isinstance(part, PanelPart):
        return {
            "kind": part.kind,
            "length_mm": max(part.length_mm, part.width_mm),
            "points_mm": [list(point) for point in part.measured_at_mm],
            "size_mm": [part.length_mm, part.width_mm],
        }
    if isinstance(part, FormedPart):
        return {
            "kind": part.kind,
            "length_mm": max(part.length_mm, part.width_mm),
            "points_mm": [list(point) for point in part.measured_at_mm],
            "size_mm": [part.length_mm, part.width_mm],
            "radii_mm": [part.radius_x_mm, part.radius_y_mm],
        }
    if isinstance(part, BaysPart):
        return {
            "kind": part.kind,
            "length_mm": max(abs(c[2] - c[0]) for c in part.bays.values()),
            "bays_mm": {name: list(corners) for name, corners in part.bays.items()},
            "tolerance_mm": _bay_tolerance(definition),
        }
    return {"kind": part.kind}


def _bay_tolerance(definition: Definition) -> float:
    """mm; heights of bays count by area, which needs the same tolerance both ways."""
    asked = definition.tolerance
    if asked.plus_mm is None or asked.minus_mm not in (None, asked.plus_mm):
        refuse_definition("bays need one tolerance plus_mm, the same both ways")
    return asked.plus_mm


def _kind(one: Heats) -> HeatKind:
    gas = [0.0, 0.0]
    if one.nozzle:
        name, _, litres = one.nozzle.rpartition(":")
        try:
            burned = Nozzle(fuel=fuel(name), consumption=float(litres) * LITRES_PER_HOUR)
        except (ValueError, FlamefeError):
            refuse_definition(
                f"a nozzle is given as {one.nozzle!r}; allowed: fuel:litres an hour, for instance "
                "acetylene:1000"
            )
        use = burned.gas(one.torch_s)
        gas = [MM * use.fuel_volume, MM * use.oxygen_volume]
    return HeatKind(
        name=one.kind,
        uncertain=one.uncertain,
        scatter=one.scatter,
        day=one.day,
        repeats=tuple(one.repeats),
        device=one.device,
        torch_s=one.torch_s,
        wait_s=one.wait_s,
        fuel_L=gas[0],
        oxygen_L=gas[1],
        how=one.how,
    )


def _places(definition: Definition, names: Sequence[str]) -> Places:
    asked = definition.tolerance
    if (asked.plus_mm is None) == (asked.shape_class is None):
        refuse_definition("the tolerance needs either plus_mm or shape_class")
    if asked.plus_mm is not None:
        minus = asked.plus_mm if asked.minus_mm is None else asked.minus_mm
        if isinstance(definition.part, BaysPart):
            minus *= ROOM
        return places_of(names, asked.plus_mm / MM, minus / MM)
    part = definition.part
    length = asked.length_mm
    if length is None and isinstance(part, GirderPart):
        length = part.length_mm
    if length is None and isinstance(part, ColumnPart):
        length = part.height_mm
    if length is None and isinstance(part, PanelPart | FormedPart):
        length = max(part.length_mm, part.width_mm)
    if length is None or asked.shape_class is None:
        refuse_definition("a tolerance by shape_class needs length_mm for this part")
    return places_of(names, iso_13920_limit_mm(asked.shape_class, length) / MM)


def _rules(asked: Rules, axis: int, part: Part, heats: Sequence[Candidate]) -> CycleRules:
    boxes, shut = [], list(asked.forbidden_places)
    known = list(dict.fromkeys(heat.place for heat in heats))
    strange = [name for name in shut if name not in known]
    if strange:
        some = ", ".join(known[:MOST_NAMED]) + (", ..." if len(known) > MOST_NAMED else "")
        refuse_definition(
            f"forbidden_places names {strange[0]!r}, where no heat could be given; places are "
            f"called {some or 'nothing: there are no heats'}"
        )
    for one in asked.forbidden:
        if isinstance(part, RingPart) != (one.from_deg is not None):
            needed = "from_deg and to_deg" if isinstance(part, RingPart) else "from_mm and to_mm"
            refuse_definition(f"a stretch ({one.reason}) must not be heated; it needs {needed}")
        if one.from_deg is not None and one.to_deg is not None:
            arc = (one.to_deg - one.from_deg) % 360.0 or 360.0
            inside = [
                heat.place
                for heat in heats
                if (degrees(atan2(heat.position[1], heat.position[0])) - one.from_deg) % 360.0
                <= arc + 1e-6
            ]
            if not inside:
                refuse_definition(_holds_nothing(f"{one.from_deg:g} to {one.to_deg:g} deg", one))
            shut += [place for place in dict.fromkeys(inside) if place not in shut]
            continue
        assert one.from_mm is not None
        assert one.to_mm is not None
        if not any(one.from_mm <= MM * heat.position[axis] <= one.to_mm for heat in heats):
            refuse_definition(_holds_nothing(f"{one.from_mm:g} to {one.to_mm:g} mm", one))
        low, high = [-np.inf] * 3, [np.inf] * 3
        low[axis], high[axis] = one.from_mm / MM, one.to_mm / MM
        boxes.append(
            Box(
                lowest=(low[0], low[1], low[2]),
                highest=(high[0], high[1], high[2]),
                reason=one.reason,
            )
        )
    given = asked.model_dump(exclude={"spacing_mm", "forbidden", "forbidden_places"})
    return CycleRules(
        spacing=asked.spacing_mm / MM,
        forbidden=tuple(boxes),
        forbidden_places=tuple(shut),
        **given,
    )


def _holds_nothing(stretch: str, one: Forbidden) -> str:
    return (
        f"{stretch} must not be heated ({one.reason}), but holds no place where a heat could be "
        "given; check its unit, or leave it out"
    )


def _sides(heats: Heats, there: Sequence[str], usual: Sequence[str]) -> Sequence[str]:
    wrong = [side for side in heats.sides if side not in there]
    if wrong:
        refuse_definition(
            f"heats of kind {heats.kind!r} on side {wrong[0]!r}; there are {', '.join(there)}"
        )
    if not heats.sizes_mrad:
        refuse_definition(f"heats of kind {heats.kind!r} have no size; give sizes_mrad")
    return heats.sides or usual


def _effect(heats: Heats, turn: float) -> HeatEffect:
    """The effect on the side "top": the part turns towards the heated side."""
    return HeatEffect(
        kind=heats.kind,
        rotation_y=turn / MM,
        shortening=turn * heats.shortening_mm / MM,
        extent=heats.extent_mm / MM,
        uncertain=heats.uncertain,
        scatter=heats.scatter,
        repeats=tuple(heats.repeats),
        source=heats.source or "given by the user",
    )


def _girder(part: GirderPart, kinds: Sequence[Heats]) -> tuple[tuple[str, ...], list[Candidate]]:
    supports = part.supports_mm
    piece = Girder(
        length=part.length_mm / MM,
        stations=np.array(part.measured_at_mm) / MM,
        measured=tuple(part.measured),
        supports=None if supports is None else (supports[0] / MM, supports[1] / MM),
    )
    y, z = 0.5 * part.width_mm / MM, 0.5 * part.depth_mm / MM
    places = {"top": (0.0, z), "bottom": (0.0, -z), "far": (y, 0.0), "near": (-y, 0.0)}
    usual = [
        *(("top", "bottom") if "camber" in part.measured else ()),
        *(("far", "near") if "sweep" in part.measured else ()),
    ]
    seats = []
    for heats in kinds:
        sides = _sides(heats, list(places), usual)
        for at, side, (size, turn) in product(heats.stations, sides, heats.sizes_mrad.items()):
            effect = _effect(heats, turn)
            if side in ("far", "near"):
                effect = effect.turned(-0.5 * pi if side == "far" else 0.5 * pi)
            else:
                effect = effect.on(side)
            name = f"{heats.kind} {size} {side} {MM * at:.0f} mm"
            heat = MemberHeat(name=name, effect=effect, station=at, side=side)
            seats.append(Seat(heat=heat, size=size, position=(at, *places[side])))
    return piece.names, candidates_on(piece, seats)


def _column(part: ColumnPart, kinds: Sequence[Heats]) -> tuple[tuple[str, ...], list[Candidate]]:
    piece = Column(heights=np.array(part.measured_at_mm) / MM, height=part.height_mm / MM)
    half = 0.5 * part.width_mm / MM
    towards = {"+X": 0.0, "+Y": 0.5 * pi, "-X": pi, "-Y": 1.5 * pi}
    seats = []
    for heats in kinds:
        sides = _sides(heats, list(towards), list(towards))
        for at, side, (size, turn) in product(heats.stations, sides, heats.sizes_mrad.items()):
            name, angle = f"{heats.kind} {size} {side} {MM * at:.0f} mm", towards[side]
            heat = piece.heat(name, _effect(heats, turn), height=at, towards=angle)
            place = (half * round(cos(angle)), half * round(sin(angle)), at)
            seats.append(Seat(heat=replace(heat, side=side), size=size, position=place))
    return piece.names, candidates_on(piece, seats)


def _ring(part: RingPart, kinds: Sequence[Heats]) -> tuple[tuple[str, ...], list[Candidate]]:
    radius = part.radius_mm / MM
    piece = Ring(
        radius=radius,
        angles=np.radians(part.measured_at_deg),
        thickness=None if part.thickness_mm is None else part.thickness_mm / MM,
    )
    seats = []
    for heats in kinds:
        sides = _sides(heats, ("outside", "inside"), ("outside", "inside"))
        if not heats.at_deg:
            refuse_definition(f"heats of kind {heats.kind!r} on a ring need at_deg")
        for at, side, (size, turn) in product(heats.at_deg, sides, heats.sizes_mrad.items()):
            effect = _effect(heats, turn).on("top" if side == "outside" else "bottom")
            name, angle = f"{heats.kind} {size} {side} {at:g} deg", radians(at)
            heat = replace(piece.heat(name, effect, angle=angle), side=side)
            place = (radius * cos(angle), radius * sin(angle), 0.0)
            seats.append(Seat(heat=heat, size=size, position=place, where=f"{side} {at:g} deg"))
    fitted = circle_fitted(piece.angles)
    made = candidates_on(piece, seats)
    return piece.names, [replace(one, moves=fitted.of(one.moves)) for one in made]


FIXED = ("heat", "kind", "size", "place", "side", "x_mm", "y_mm", "z_mm")


def _table(part: TablePart, folder: Path) -> tuple[tuple[str, ...], list[Candidate]]:
    file = folder / part.file
    try:
        rows = list(csv.DictReader(file.read_text(encoding="utf-8-sig").splitlines()))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        refuse_definition(f"the table {part.file} can't be read ({error})")
    heads = list(rows[0]) if rows else []
    missing = [name for name in FIXED if name not in heads]
    names = [name for name in heads if name not in FIXED]
    if missing or not names:
        refuse_definition(
            f"the table {part.file} lacks {', '.join(missing) or 'measuring places'}; it needs a "
            f"row for each heat with the columns {', '.join(FIXED)} and one for each place"
        )
    made = []
    for line, row in enumerate(rows, start=2):
        try:
            x, y, z = (float(row[key]) / MM for key in ("x_mm", "y_mm", "z_mm"))
            moves = np.array([float(row[name]) / MM for name in names])
        except (TypeError, ValueError):
            refuse_definition(f"line {line} of the table {part.file} holds what is no number")
        try:
            made.append(
                Candidate(
                    name=row["heat"],
                    kind=row["kind"],
                    size=row["size"],
                    place=row["place"],
                    side=row["side"],
                    position=(x, y, z),
                    moves=moves,
                )
            )
        except OutOfRange as error:
            refuse_definition(f"line {line} of the table {part.file}: {error}")
    return tuple(names), made
