"""The part of a case that says what its flames are: absorbed power, a nozzle, or hot gas."""

from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import Annotated, Any, Literal

from pydantic import Field

from flamefe.basics.errors import OutOfRange
from flamefe.basics.known import Known
from flamefe.heating.flame import AbsorbedFlame, GaussianFlame, HotGasFlame
from flamefe.heating.fuel import fuel
from flamefe.heating.nozzle import LITRES_PER_HOUR, Nozzle
from flamefe.heating.shape import ByRadius, Gaussian, Ring, Rows, Shape, Twin
from flamefe.study.case_part import Number, RisingPairs, WholeNumber, part

MM = 1e-3
Head = Literal["single", "ring", "multi-flame", "twin", "table"]
FuelName = Literal["acetylene", "propane", "propylene", "natural gas", "hydrogen"]

_POWER = "Heat that the part takes up, kW; or give a nozzle, or hot gas."
_RADIUS = "R in q = q0 exp(-r^2 / R^2), mm; of each jet or head; with a nozzle it has a default."


@part
class Flame:
    """A flame by the heat that the part takes up, by its nozzle, or as hot gas over the surface.

    Exactly one of three: ``power_kW``; ``fuel`` with ``consumption_L_h`` (then the power is
    efficiency x heating value x consumption, and efficiency and radius have defaults that every
    result states); ``gas_C`` with ``film_W_m2K`` (q = h exp(-r^2 / R^2) (gas - surface), which
    limits itself as the surface heats up).

    Args:
        power_kW: P, heat that the part takes up from all jets together, kW, above 0, up to 200.
        radius_mm: R, mm, 1 to 200; 63 % of a round flame's heat falls within it. Of a ring the
            width of its profile, of several jets or heads that of each.
        fuel: "acetylene", "propane", "propylene", "natural gas" or "hydrogen".
        consumption_L_h: fuel of all jets together, L/h at 15 C and 1013 mbar, 10 to 100 000.
        efficiency: share of the gross power that the part takes up, 0.02 to 1; None: by size.
        gas_C: temperature of hot gas, C, 200 to 3500.
        film_W_m2K: its film coefficient on the axis, W/(m2 K), 10 to 20 000.
        head: "single" (round), "ring", "multi-flame" (rows of jets), "twin" (two round heads) or
            "table" (heat by distance from the axis).
        ring_mm: radius of a ring, mm.
        rows, jets_a_row: of a multi-flame head; rows lie one behind the other.
        pitch_mm: distance of jets in a row, mm.
        row_distance_mm: distance of rows, mm; None: the pitch.
        twin_distance_mm: distance of twin heads, mm.
        twin_behind: twin heads one behind the other instead of side by side.
        table: pairs of distance from the axis, mm, from 0, and heat by area in any unit.

    Raises:
        CaseError: a value is out of its range.

    Example:
        >>> Flame(power_kW=7, radius_mm=18).radius_mm
        18.0
        >>> burner = Flame(fuel="acetylene", consumption_L_h=1000)
        >>> round(nozzle_of(burner).net_power), round(radius_mm_of(burner), 1)
        (5797, 22.1)
    """

    power_kW: Annotated[Number | None, Field(gt=0, le=200, description=_POWER)] = None
    radius_mm: Annotated[Number | None, Field(ge=1, le=200, description=_RADIUS)] = None
    fuel: Annotated[FuelName | None, Field(description="Fuel gas of the nozzle.")] = None
    consumption_L_h: Annotated[
        Number | None,
        Field(ge=10, le=100_000, description="Fuel of all jets together, L/h at 15 C."),
    ] = None
    efficiency: Annotated[
        Number | None,
        Field(ge=0.02, le=1, description="Share of the gross power that the part takes up."),
    ] = None
    gas_C: Annotated[
        Number | None, Field(ge=200, le=3500, description="Temperature of the hot gas, C.")
    ] = None
    film_W_m2K: Annotated[
        Number | None,
        Field(ge=10, le=20_000, description="Its film coefficient on the axis, W/(m2 K)."),
    ] = None
    head: Annotated[Head, Field(description="How its heat is spread.")] = "single"
    ring_mm: Annotated[
        Number | None, Field(ge=1, le=500, description="Radius of a ring of jets, mm.")
    ] = None
    rows: Annotated[WholeNumber, Field(ge=1, le=20, description="Rows of jets.")] = 1
    jets_a_row: Annotated[WholeNumber, Field(ge=1, le=50, description="Jets in a row.")] = 1
    pitch_mm: Annotated[
        Number | None, Field(ge=1, le=200, description="Distance of jets in a row, mm.")
    ] = None
    row_distance_mm: Annotated[
        Number | None, Field(ge=1, le=200, description="Distance of rows, mm; else the pitch.")
    ] = None
    twin_distance_mm: Annotated[
        Number | None, Field(ge=1, le=1000, description="Distance of twin heads, mm.")
    ] = None
    twin_behind: Annotated[
        bool, Field(description="Twin heads one behind the other instead of side by side.")
    ] = False
    table: Annotated[
        RisingPairs[Number, Annotated[Number, Field(ge=0)]] | None,
        Field(description="Pairs of distance from the axis, mm, and heat by area."),
    ] = None


def values_of(flame: Flame) -> dict[str, Any]:
    """A flame's values by name."""
    return {name: value for name, value in vars(flame).items() if not name.startswith("_")}


def jets_in(values: Mapping[str, Any]) -> int:
    """Among how many jets or heads a flame's gas is shared."""
    head = values.get("head", "single")
    if head == "twin":
        return 2
    return values.get("rows", 1) * values.get("jets_a_row", 1) if head == "multi-flame" else 1


def nozzle_of(flame: Flame) -> Nozzle | None:
    """The nozzle of a flame that is given by one; None for another."""
    return _nozzle(values_of(flame))


def _nozzle(values: Mapping[str, Any]) -> Nozzle | None:
    if values.get("fuel") is None or values.get("consumption_L_h") is None:
        return None
    share, radius = values.get("efficiency"), values.get("radius_mm")
    return Nozzle(
        fuel=fuel(values["fuel"]),
        consumption=values["consumption_L_h"] * LITRES_PER_HOUR,
        efficiency=None if share is None else Known(value=share, source="given in the case"),
        radius=None if radius is None else Known(value=radius * MM, source="given in the case"),
        jets=jets_in(values),
    )


def radius_in(values: Mapping[str, Any]) -> float | None:
    """Radius, mm, that mesh and steps must resolve, of what could be read of a flame.

    None where it can't be told.
    """
    if values.get("radius_mm") is not None:
        return float(values["radius_mm"])
    table = values.get("table")
    if values.get("head") == "table" and table and len(table) > 1 and table[-1][0] > 0:
        with suppress(OutOfRange):  # its own fault is told
            radii, heat = zip(*table, strict=True)
            return ByRadius(radii=radii, values=heat).size
        return None
    nozzle = _nozzle(values)
    return None if nozzle is None else 1e3 * nozzle.flame_radius.value


def reach_in(values: Mapping[str, Any]) -> float | None:
    """How far a flame reaches beside its axis, mm: two radii beyond its outermost jet."""
    radius = radius_in(values)
    if radius is None:
        return None
    beyond, head = 0.0, values.get("head", "single")
    if head == "ring":
        beyond = values.get("ring_mm") or 0.0
    elif head == "twin":
        beyond = 0.5 * (values.get("twin_distance_mm") or 0.0)
    elif head == "multi-flame":
        pitch = values.get("pitch_mm") or 0.0
        between = values.get("row_distance_mm") or pitch
        across = (values.get("jets_a_row", 1) - 1) * pitch
        beyond = 0.5 * max(across, (values.get("rows", 1) - 1) * between)
    return 2.0 * radius + beyond


def radius_mm_of(flame: Flame) -> float:
    """Radius of a flame, or of each of its jets, that is used, mm."""
    found = radius_in(values_of(flame))
    assert found is not None  # a checked case has it
    return found


def reach_mm_of(flame: Flame) -> float:
    """How far a flame reaches beside its axis, mm."""
    found = reach_in(values_of(flame))
    assert found is not None
    return found


def power_kW_of(flame: Flame) -> float | None:
    """Heat that the part takes up, kW; None for hot gas, where it comes of itself."""
    nozzle = nozzle_of(flame)
    return flame.power_kW if nozzle is None else 1e-3 * nozzle.net_power


def flame_of(flame: Flame) -> AbsorbedFlame | GaussianFlame | HotGasFlame:
    """The flame as conduction takes it, in SI."""
    power, radius = power_kW_of(flame), radius_mm_of(flame) * MM
    if power is None:
        assert flame.film_W_m2K is not None
        assert flame.gas_C is not None
        return HotGasFlame(coefficient=flame.film_W_m2K, radius=radius, gas_C=flame.gas_C)
    if flame.head == "single":
        return GaussianFlame(power=1e3 * power, radius=radius)
    return AbsorbedFlame(power=1e3 * power, shape=_shape(flame, radius))


def _shape(flame: Flame, radius: float) -> Shape:
    if flame.head == "ring":
        return Ring(radius=(flame.ring_mm or 0.0) * MM, width=radius)
    if flame.head == "twin":
        return Twin(
            head=Gaussian(radius=radius),
            distance=(flame.twin_distance_mm or 0.0) * MM,
            behind=flame.twin_behind,
        )
    if flame.head == "table":
        pairs = flame.table or ()
        return ByRadius(radii=tuple(r * MM for r, _ in pairs), values=tuple(q for _, q in pairs))
    pitch = flame.pitch_mm or 1.0
    return Rows(
        rows=flame.rows,
        jets=flame.jets_a_row,
        pitch=pitch * MM,
        row_distance=(flame.row_distance_mm or pitch) * MM,
        jet_radius=radius,
    )


_WAYS = {
    "its power": ("power_kW",),
    "a nozzle": ("fuel", "consumption_L_h"),
    "hot gas": ("gas_C", "film_W_m2K"),
}
_NEEDED = {"ring": "ring_mm", "twin": "twin_distance_mm", "table": "table"}


def flame_contradictions(values: Mapping[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    """What in a flame's values can't be together: (key, given, allowed, advice) of each."""
    names = {name for ways in _WAYS.values() for name in ways} | {"head", "radius_mm"}
    if not names <= set(values):
        return  # a value could not be read; its own fault is told
    begun = [way for way, names in _WAYS.items() if any(values[n] is not None for n in names)]
    every = "power_kW, or fuel with consumption_L_h, or gas_C with film_W_m2K"
    if len(begun) != 1:
        given = " and ".join(begun) if begun else "neither a power, nor a nozzle, nor hot gas"
        yield "power_kW", given, every, "Give one of the three."
    for way in begun if len(begun) == 1 else ():
        for name in _WAYS[way]:
            if values[name] is None:
                others = [other for other in _WAYS[way] if other != name]
                yield name, f"nothing, with {' and '.join(others)}", every, f"Add {name}."
    if values.get("efficiency") is not None and "a nozzle" not in begun:
        yield (
            "efficiency", f"an efficiency with {' and '.join(begun) or 'no nozzle'}",
            "with fuel and consumption_L_h",
            "Leave it out, or give the nozzle instead.",
        )  # fmt: skip
    head = values["head"]
    if values["radius_mm"] is None and "a nozzle" not in begun and head != "table":
        yield "radius_mm", "nothing", "a number from 1 to 200", "Add radius_mm."
    if begun == ["hot gas"] and head != "single":
        yield "head", f"{head} with hot gas", "single", "Give its power or nozzle instead."
    needed = _NEEDED.get(head)
    if needed and values.get(needed, 0) is None:
        yield needed, f"nothing, with head = {head}", f"a value for {needed}", f"Add {needed}."
    if head == "table" and values.get("table"):
        radii, heat = zip(*values["table"], strict=True)
        if not any(heat):
            yield "table", "no heat at any distance", "heat above 0 somewhere", "Give the heat."
        elif len(radii) < 2 or radii[0] != 0:
            yield (
                "table", f"distances {', '.join(f'{r:g}' for r in radii[:4])} ...",
                "two pairs or more, distances from 0", "Start at 0 mm.",
            )  # fmt: skip
    if head == "multi-flame":
        several = values.get("rows", 1) * values.get("jets_a_row", 1)
        if several < 2:
            yield "jets_a_row", "a single jet", "2 jets or more in all", 'Take head = "single".'
        elif values.get("pitch_mm", 0) is None:
            yield "pitch_mm", "nothing, with several jets", "a value", "Add pitch_mm."
