"""A job as the user writes it: a TOML file in the trade's units, checked, turned into numbers."""

import csv
import math
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, NoReturn

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from flamefe.basics.errors import FlamefeError, OutOfRange
from flamefe.heating.fuel import fuel
from flamefe.heating.nozzle import LITRES_PER_HOUR, Nozzle
from flamefe.outcome.tolerance import ShapeClass, iso_13920_limit_mm
from flamefe.planning.candidate import Candidate, HeatKind, Library
from flamefe.planning.influences import plumb_offsets, radial_offsets, string_offsets
from flamefe.planning.limits import Box, CycleRules, Sequence_
from flamefe.planning.money import Prices
from flamefe.planning.places import Places, places_of
from flamefe.planning.problem import MM, Problem

MRAD = 1e-3
MOST_FAULTS = 4
Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
Number = Annotated[float, Field(allow_inf_nan=False)]


class DefinitionError(FlamefeError, ValueError):
    """A job's definition has faults; the text names them."""


class _Part(BaseModel):
    """Base of all parts of a definition: unknown keys are faults."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class GirderPart(_Part):
    """A long member measured from a string or wire between its ends.

    Deviations are positive towards the side ``positive``; that side is the longer one there, and
    heating it brings the member back.
    """

    kind: Literal["girder"]
    length_mm: Positive
    measured_at_mm: Annotated[list[Number], Field(min_length=1)]
    depth_mm: Annotated[float, Field(ge=0.0)] = 0.0
    positive: str = "top"
    opposite: str = "bottom"


class ColumnPart(_Part):
    """A column, pole or tall tube measured from a plumb line through its foot.

    Deviations are positive towards ``positive``; the opposite side is then too long.
    """

    kind: Literal["column"]
    height_mm: Positive
    measured_at_mm: Annotated[list[Number], Field(min_length=1)]
    width_mm: Annotated[float, Field(ge=0.0)] = 0.0
    positive: str = "east"
    opposite: str = "west"


class RingPart(_Part):
    """A thin ring or drum measured by its radii, outwards positive; lines along it close a kink.

    A heat outside shrinks the outer face and makes the ring flatter there.
    """

    kind: Literal["ring"]
    radius_mm: Positive
    measured_at_deg: Annotated[list[Number], Field(min_length=4)]


class TablePart(_Part):
    """Any part, by a CSV with a row for each heat: what it moves at each measuring place.

    Columns heat, kind, size, place, side, x_mm, y_mm, z_mm, and one in mm for each measuring
    place, whose names are the columns' heads.
    """

    kind: Literal["table"]
    file: str


Part = Annotated[GirderPart | ColumnPart | RingPart | TablePart, Field(discriminator="kind")]


class Tolerance(_Part):
    """What is allowed: plus_mm (and minus_mm), or a class of ISO 13920 over a length."""

    plus_mm: Positive | None = None
    minus_mm: Positive | None = None
    shape_class: ShapeClass | None = None
    length_mm: Positive | None = None


class Heats(_Part):
    """A kind of heat that the shop can give, and where."""

    kind: str
    sizes_mrad: dict[str, Positive] = Field(default_factory=dict)
    sides: list[str] = Field(default_factory=list)
    at_mm: list[Number] = Field(default_factory=list)
    at_deg: list[Number] = Field(default_factory=list)
    from_mm: Number | None = None
    to_mm: Number | None = None
    every_mm: Positive | None = None
    uncertain: float = 0.2
    scatter: float = 0.2
    day: float = 0.1
    repeats: list[float] = Field(default_factory=lambda: [1.0, 0.0])
    device: str = ""
    torch_s: float = 0.0
    wait_s: float = 0.0
    nozzle: str = ""
    how: str = ""
    source: str = ""

    @property
    def stations(self) -> list[float]:
        """Where it can be given: m, or degrees on a ring."""
        if self.at_deg:
            return list(self.at_deg)
        if self.at_mm:
            return [at / MM for at in self.at_mm]
        if self.from_mm is None or self.to_mm is None or self.every_mm is None:
            _refuse(
                f"heats of kind {self.kind!r} stand nowhere; give at_mm (at_deg for a ring), or "
                "from_mm, to_mm and every_mm"
            )
        steps = math.floor((self.to_mm - self.from_mm) / self.every_mm + 1e-9)
        if not 0 <= steps < 1000:
            _refuse(
                f"heats of kind {self.kind!r} from {self.from_mm:g} to {self.to_mm:g} every "
                f"{self.every_mm:g} mm; needed: 1 to 1000 places"
            )
        return [(self.from_mm + step * self.every_mm) / MM for step in range(steps + 1)]


class Forbidden(_Part):
    """A stretch along x (a girder), z (a column) that must not be heated."""

    from_mm: Number
    to_mm: Number
    reason: str = "forbidden"


class Rules(_Part):
    """The trade's rules, as ``CycleRules`` in the trade's units."""

    most_heats: int = 8
    spacing_mm: Annotated[float, Field(ge=0.0)] = 0.0
    most_at_a_place: int = 2
    most_in_job: int | None = None
    forbidden: list[Forbidden] = Field(default_factory=list)
    forbidden_places: list[str] = Field(default_factory=list)
    devices: dict[str, int] = Field(default_factory=dict)
    sequence: Sequence_ = "outside to middle"
    long_side_only: bool = True
    wait_C: float = 60.0
    overcorrection: float = 0.01
    confidence: float = 0.9
    worth: float = 0.01


class Definition(_Part):
    """A job: part, tolerance, measuring, heats, rules, prices."""

    title: str
    about: str = ""
    material: str = ""
    part: Part
    tolerance: Tolerance
    uncertainty_mm: Positive
    common: float = 0.2
    heats: list[Heats] = Field(default_factory=list)
    rules: Rules = Field(default_factory=Rules)
    prices: Prices | None = None


def read_definition(file: Path) -> Definition:
    """Read a job's definition.

    Args:
        file: TOML.

    Raises:
        DefinitionError: it is missing, no TOML, or has faults; the first four are named.

    Example:
        >>> read_definition(Path("none.toml"))
        Traceback (most recent call last):
        ...
        flamefe.planning.definition.DefinitionError: There is no file none.toml.
    """
    try:
        text = file.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise DefinitionError(f"There is no file {file}.") from None
    except UnicodeDecodeError:
        raise DefinitionError(f"{file} is no UTF-8 text.") from None
    try:
        return Definition.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise DefinitionError(f"{file.name} is no TOML: {error}.") from None
    except ValidationError as error:
        faults = error.errors()
        said = [f"{'.'.join(map(str, one['loc']))}: {one['msg']}" for one in faults[:MOST_FAULTS]]
        more = f"; {len(faults) - MOST_FAULTS} more" if len(faults) > MOST_FAULTS else ""
        raise DefinitionError(f"{file.name}: {'; '.join(said)}{more}.") from None


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


def _refuse(text: str) -> NoReturn:
    raise DefinitionError(f"In the definition of the job {text}.")


def _kind(one: Heats) -> HeatKind:
    gas = [0.0, 0.0]
    if one.nozzle:
        name, _, litres = one.nozzle.rpartition(":")
        try:
            burned = Nozzle(fuel=fuel(name), consumption=float(litres) * LITRES_PER_HOUR)
        except (ValueError, FlamefeError):
            _refuse(
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
        _refuse("the tolerance needs either plus_mm or shape_class")
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
        _refuse("a tolerance by shape_class needs length_mm for this part")
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
        _refuse(f"heats of kind {heats.kind!r} on side {wrong[0]!r}; there are {list(signs)}")
    if not heats.sizes_mrad:
        _refuse(f"heats of kind {heats.kind!r} have no size; give sizes_mrad")
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
                _refuse(f"a heat at {MM * at:g} mm on a column of {part.height_mm:g} mm")
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
            _refuse(f"heats of kind {heats.kind!r} on a ring need at_deg")
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
        _refuse(f"the table {part.file} can't be read ({error})")
    heads = list(rows[0]) if rows else []
    missing = [name for name in FIXED if name not in heads]
    names = [name for name in heads if name not in FIXED]
    if missing or not names:
        _refuse(
            f"the table {part.file} lacks {', '.join(missing) or 'measuring places'}; it needs a "
            f"row for each heat with the columns {', '.join(FIXED)} and one for each place"
        )
    made = []
    for line, row in enumerate(rows, start=2):
        try:
            x, y, z = (float(row[key]) / MM for key in ("x_mm", "y_mm", "z_mm"))
            moves = np.array([float(row[name]) / MM for name in names])
        except (TypeError, ValueError):
            _refuse(f"line {line} of the table {part.file} holds something that is no number")
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
            _refuse(f"line {line} of the table {part.file}: {error}")
    return names, made
