"""A job as the user writes it: a TOML file in the trade's units, checked, turned into numbers."""

import math
import tomllib
from pathlib import Path
from typing import Annotated, Literal, NoReturn

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from flamefe.basics.errors import FlamefeError
from flamefe.outcome.tolerance import ShapeClass
from flamefe.planning.limits import Sequence_
from flamefe.planning.members import Way
from flamefe.planning.money import Prices
from flamefe.planning.problem import MM

MRAD = 1e-3
MOST_FAULTS = 4
METRES = 0.002
"""Share of the length below which all places of a long part look like metres."""
Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
Number = Annotated[float, Field(allow_inf_nan=False)]


class DefinitionError(FlamefeError, ValueError):
    """A job's definition has faults; the text names them."""


class _Part(BaseModel):
    """Base of all parts of a definition: unknown keys are faults."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class GirderPart(_Part):
    """A long member measured from a string or wire over two supports, as ``Girder``.

    Camber is positive above the string, sweep on the side of large y ("far").
    """

    kind: Literal["girder"]
    length_mm: Positive
    measured_at_mm: Annotated[list[Number], Field(min_length=1)]
    measured: Annotated[list[Way], Field(min_length=1)] = ["camber"]
    supports_mm: tuple[Number, Number] | None = None
    depth_mm: Annotated[float, Field(ge=0.0)] = 0.0
    width_mm: Annotated[float, Field(ge=0.0)] = 0.0


class ColumnPart(_Part):
    """A column, pole or tall tube measured from a plumb line along X and Y, as ``Column``."""

    kind: Literal["column"]
    height_mm: Positive
    measured_at_mm: Annotated[list[Number], Field(min_length=1)]
    width_mm: Annotated[float, Field(ge=0.0)] = 0.0


class RingPart(_Part):
    """A thin ring or drum measured by its radii, outwards positive, as ``Ring``."""

    kind: Literal["ring"]
    radius_mm: Positive
    measured_at_deg: Annotated[list[Number], Field(min_length=4)]
    thickness_mm: Positive | None = None


class PanelPart(_Part):
    """A plate, flat or with flat stiffeners along x, measured by heights at points, as a survey of
    a surface: x and y from a corner, z upwards, on the side where the stiffeners stand.

    The best-fitting plane is fitted out. Sides: "top" (+z, that of the stiffeners) and "bottom".
    size_mm: edge length of the coarse hexes; left out: a sixteenth of the longer side.
    """

    kind: Literal["panel"]
    length_mm: Positive
    width_mm: Positive
    thickness_mm: Positive
    stiffeners: Annotated[int, Field(ge=0, le=30)] = 0
    stiffener_height_mm: Positive | None = None
    stiffener_thickness_mm: Positive | None = None
    measured_at_mm: Annotated[list[tuple[Number, Number]], Field(min_length=4, max_length=400)]
    size_mm: Positive | None = None


class FormedPart(_Part):
    """A plate formed in one or two curvatures, measured by heights at points square to its target.

    x and y count from a corner, z upwards. radius_x_mm is that of the arc along x, radius_y_mm
    along y; above 0 the edges rise (hollow on top), left out: straight. Where it lies is fitted
    out. size_mm: edge length of the coarse hexes; left out: a sixteenth of the longer side.
    """

    kind: Literal["formed"]
    length_mm: Positive
    width_mm: Positive
    thickness_mm: Positive
    radius_x_mm: Number | None = None
    radius_y_mm: Number | None = None
    measured_at_mm: Annotated[list[tuple[Number, Number]], Field(min_length=7, max_length=400)]
    size_mm: Positive | None = None

    @model_validator(mode="after")
    def _shallow(self) -> "FormedPart":
        for name, radius, side in (
            ("radius_x_mm", self.radius_x_mm, self.length_mm),
            ("radius_y_mm", self.radius_y_mm, self.width_mm),
        ):
            if radius is not None and abs(radius) < 1.2 * side:
                raise ValueError(
                    f"{name} is {radius:g} mm on a side of {side:g} mm; allowed: 1.2 times the "
                    "side or more, either sign. Take the plate as a drum, or in pieces"
                )
        return self


class BaysPart(_Part):
    """Bays of a thin panel that dish between their stiffeners, as ``Bays``.

    bays: name and [x1, y1, x2, y2], its corners on the stiffeners. Measured by the height in the
    middle of each against its frame, whichever way; heights count by the area that is too much
    (``counted_by_area``), and below flat ``ROOM`` tolerances of it may be taken off too much.
    """

    kind: Literal["bays"]
    thickness_mm: Positive
    bays: Annotated[dict[str, tuple[Number, Number, Number, Number]], Field(min_length=1)]


class TablePart(_Part):
    """Any part, by a CSV with a row for each heat: what it moves at each measuring place.

    Columns heat, kind, size, place, side, x_mm, y_mm, z_mm, and one in mm for each measuring
    place, whose names are the columns' heads.
    """

    kind: Literal["table"]
    file: str


Part = Annotated[
    GirderPart | ColumnPart | RingPart | PanelPart | FormedPart | BaysPart | TablePart,
    Field(discriminator="kind"),
]


class Tolerance(_Part):
    """What is allowed: plus_mm (and minus_mm), or a class of ISO 13920 over a length."""

    plus_mm: Positive | None = None
    minus_mm: Positive | None = None
    shape_class: ShapeClass | None = None
    length_mm: Positive | None = None


class Heats(_Part):
    """A kind of heat that the shop can give, and where.

    sizes_mrad: what each size is expected to turn the part on its two sides towards the heated
    side (of a panel: the angular change across the line); instead of it results (for each size the
    folder of a finished run), or card with cases (a rule card and a case file for each size) and
    peak_C (hottest place of such a heat), see ``flamefe.study.job_sources``; shortening_mm: what
    it shortens the part for each mrad (of a panel: across the line); extent_mm: over how much of
    the length. For a panel: length_mm of the line and along which axis it runs, at_xy_mm its
    middles. For bays: area_mm2 that each size takes off, every_mm between spots in a bay.
    """

    kind: str
    sizes_mrad: dict[str, Positive] = Field(default_factory=dict)
    results: dict[str, str] = Field(default_factory=dict)
    card: str = ""
    cases: dict[str, str] = Field(default_factory=dict)
    peak_C: Positive | None = None
    area_mm2: dict[str, Positive] = Field(default_factory=dict)
    shortening_mm: Number = 0.0
    length_mm: Positive | None = None
    along: Literal["x", "y"] = "x"
    at_xy_mm: list[tuple[Number, Number]] = Field(default_factory=list)
    extent_mm: Annotated[float, Field(ge=0.0)] = 0.0
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
            refuse_definition(
                f"heats of kind {self.kind!r} stand nowhere; give at_mm (at_deg for a ring), or "
                "from_mm, to_mm and every_mm"
            )
        steps = math.floor((self.to_mm - self.from_mm) / self.every_mm + 1e-9)
        if not 0 <= steps < 1000:
            refuse_definition(
                f"heats of kind {self.kind!r} from {self.from_mm:g} to {self.to_mm:g} every "
                f"{self.every_mm:g} mm; needed: 1 to 1000 places"
            )
        return [(self.from_mm + step * self.every_mm) / MM for step in range(steps + 1)]


class Forbidden(_Part):
    """A stretch along x (of a column along z), or of a ring an arc, that must not be heated.

    It holds the middles of heats: make it wider by half a heat at both ends. An arc runs from
    from_deg to to_deg the way the angles grow, over 0 where from_deg is the larger.
    """

    from_mm: Number | None = None
    to_mm: Number | None = None
    from_deg: Number | None = None
    to_deg: Number | None = None
    reason: str = "forbidden"

    @model_validator(mode="after")
    def _whole(self) -> "Forbidden":
        lengths, angles = (self.from_mm, self.to_mm), (self.from_deg, self.to_deg)
        if (None in lengths) == (None in angles) or (None in lengths and lengths != (None, None)):
            raise ValueError("give from_mm and to_mm, or of a ring from_deg and to_deg")
        if None in angles and angles != (None, None):
            raise ValueError("give both from_deg and to_deg, and no from_mm or to_mm")
        if self.from_mm is not None and self.to_mm is not None and self.from_mm >= self.to_mm:
            raise ValueError(
                f"it runs from {self.from_mm:g} to {self.to_mm:g} mm and so holds nothing; give "
                "the smaller one first"
            )
        return self


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

    @model_validator(mode="after")
    def _in_millimetres(self) -> "Definition":
        """Places in metres on a part in millimetres would be taken for its very end."""
        part = self.part
        length = (
            part.length_mm
            if isinstance(part, GirderPart)
            else part.height_mm
            if isinstance(part, ColumnPart)
            else max(part.length_mm, part.width_mm)
            if isinstance(part, PanelPart | FormedPart)
            else 0.0
        )
        measured = list(getattr(part, "measured_at_mm", []))
        flat = [x for one in measured for x in (one if isinstance(one, tuple) else (one,))]
        places = {"measured_at_mm": flat} if length else {}
        for one in self.heats:
            ends = [value for value in (one.from_mm, one.to_mm) if value is not None]
            points = [x for point in one.at_xy_mm for x in point]
            places[f"places of heats {one.kind!r}"] = [*one.at_mm, *ends, *points]
        for name, values in places.items():
            if length and values and max(map(abs, values)) < METRES * length:
                raise ValueError(
                    f"{name} up to {max(values):g} mm on a part of {length:g} mm: they look like "
                    "metres; give millimetres"
                )
        return self


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
        said = []
        for one in faults[:MOST_FAULTS]:
            where = ".".join(map(str, one["loc"])) or "the job"
            said.append(f"{where}: {one['msg'].removeprefix('Value error, ')}")
        more = f"; {len(faults) - MOST_FAULTS} more" if len(faults) > MOST_FAULTS else ""
        raise DefinitionError(f"{file.name}: {'; '.join(said)}{more}.") from None


def refuse_definition(text: str) -> NoReturn:
    """Raise the error of a definition that contradicts itself.

    Args:
        text: what is wrong.

    Raises:
        DefinitionError: always.
    """
    raise DefinitionError(f"In the definition of the job {text}.")
