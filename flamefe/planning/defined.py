"""A job's definition turned into numbers: what each heat moves at each measuring place."""

import csv
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from flamefe.basics.errors import FlamefeError, OutOfRange
from flamefe.heating.fuel import fuel
from flamefe.heating.nozzle import LITRES_PER_HOUR, Nozzle
from flamefe.outcome.tolerance import iso_13920_limit_mm
from flamefe.planning.candidate import Candidate, HeatKind, Library
from flamefe.planning.definition import (
    ColumnPart,
    Definition,
    GirderPart,
    Heats,
    RingPart,
    Rules,
    TablePart,
    refuse_definition,
)
from flamefe.planning.influences import plumb_offsets, radial_offsets, string_offsets
from flamefe.planning.limits import Box, CycleRules
from flamefe.planning.places import Places, places_of
from flamefe.planning.problem import MM, Problem

MRAD = 1e-3


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
        >>> [(one.name, float(one.moves[0])) for one in problem.library.candidates[:2]]
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
        meaning = f"+: the member stands out to the {part.positive} from the string"
    elif isinstance(part, ColumnPart):
        names, heats = _column(part, definition.heats)
        meaning = f"+: leans to the {part.positive} of the plumb line"
    else:
        names, heats = _ring(part, definition.heats)
        middle = (0.0, 0.0, 0.0)
        meaning = "+: radius larger than round"
    axis = 2 if isinstance(part, ColumnPart) else 0
    return Problem(
        title=definition.title,
        places=_places(definition, names),
        library=Library(kinds=kinds, candidates=tuple(heats)),
        rules=_rules(definition.rules, axis),
        uncertainty=np.full(len(names), definition.uncertainty_mm / MM),
        common=definition.common,
        meaning=meaning,
        material=definition.material,
        middle=middle,
    )


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
        return places_of(names, asked.plus_mm / MM, minus / MM)
    part = definition.part
    length = asked.length_mm
    if length is None and isinstance(part, GirderPart):
        length = part.length_mm
    if length is None and isinstance(part, ColumnPart):
        length = part.height_mm
    if length is None or asked.shape_class is None:
        refuse_definition("a tolerance by shape_class needs length_mm for this part")
    return places_of(names, iso_13920_limit_mm(asked.shape_class, length) / MM)


def _rules(asked: Rules, axis: int) -> CycleRules:
    boxes = []
    for one in asked.forbidden:
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
        forbidden_places=tuple(asked.forbidden_places),
        **given,
    )


def _heat(
    heats: Heats, size: str, side: str, where: str, position: tuple[float, float, float], moves: Any
) -> Candidate:
    return Candidate(
        name=f"{heats.kind} {size} {side} {where}",
        kind=heats.kind,
        size=size,
        place=f"{side} {where}",
        side=side,
        position=position,
        moves=np.asarray(moves, float),
    )


def _signs(heats: Heats, signs: dict[str, float]) -> dict[str, float]:
    wrong = [side for side in heats.sides if side not in signs]
    if wrong:
        refuse_definition(
            f"heats of kind {heats.kind!r} on side {wrong[0]!r}; there are {', '.join(signs)}"
        )
    if not heats.sizes_mrad:
        refuse_definition(f"heats of kind {heats.kind!r} have no size; give sizes_mrad")
    return {side: signs[side] for side in heats.sides or signs}


def _girder(part: GirderPart, kinds: Sequence[Heats]) -> tuple[list[str], list[Candidate]]:
    x = np.array(part.measured_at_mm) / MM
    length, half = part.length_mm / MM, 0.5 * part.depth_mm / MM
    made = []
    for heats in kinds:
        signs = _signs(heats, {part.positive: -1.0, part.opposite: 1.0})
        for at in heats.stations:
            form = MRAD * string_offsets(x, at, length)
            for side, sign in signs.items():
                for size, turn in heats.sizes_mrad.items():
                    place, where = (at, 0.0, -sign * half), f"{MM * at:.0f} mm"
                    made.append(_heat(heats, size, side, where, place, sign * turn * form))
    return [f"{at:g} mm" for at in part.measured_at_mm], made


def _column(part: ColumnPart, kinds: Sequence[Heats]) -> tuple[list[str], list[Candidate]]:
    z = np.array(part.measured_at_mm) / MM
    half = 0.5 * part.width_mm / MM
    made = []
    for heats in kinds:
        signs = _signs(heats, {part.positive: 1.0, part.opposite: -1.0})
        for at in heats.stations:
            if at > part.height_mm / MM:
                refuse_definition(f"a heat at {MM * at:g} mm on a column of {part.height_mm:g} mm")
            form = MRAD * plumb_offsets(z, at)
            for side, sign in signs.items():
                for size, turn in heats.sizes_mrad.items():
                    place, where = (sign * half, 0.0, at), f"{MM * at:.0f} mm"
                    made.append(_heat(heats, size, side, where, place, sign * turn * form))
    return [f"{at:g} mm" for at in part.measured_at_mm], made


def _ring(part: RingPart, kinds: Sequence[Heats]) -> tuple[list[str], list[Candidate]]:
    angles = np.radians(part.measured_at_deg)
    radius = part.radius_mm / MM
    made = []
    for heats in kinds:
        if not heats.at_deg:
            refuse_definition(f"heats of kind {heats.kind!r} on a ring need at_deg")
        signs = _signs(heats, {"outside": -1.0, "inside": 1.0})
        for at in heats.at_deg:
            turned = math.radians(at)
            form = MRAD * radial_offsets(angles, turned, radius)
            place = (radius * math.cos(turned), radius * math.sin(turned), 0.0)
            for side, sign in signs.items():
                for size, turn in heats.sizes_mrad.items():
                    made.append(_heat(heats, size, side, f"{at:g} deg", place, sign * turn * form))
    return [f"{at:g} deg" for at in part.measured_at_deg], made


FIXED = ("heat", "kind", "size", "place", "side", "x_mm", "y_mm", "z_mm")


def _table(part: TablePart, folder: Path) -> tuple[list[str], list[Candidate]]:
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
    return names, made
