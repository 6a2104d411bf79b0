"""Materials from a user's own tables, given in the trade's units and checked for slips."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from flamefe.basics.errors import MaterialError
from flamefe.basics.table import Table
from flamefe.workpiece.material import Material
from flamefe.workpiece.standard import annealing_of, hardening_of, share_of

Pairs = Sequence[Sequence[float]]


@dataclass(frozen=True, kw_only=True)
class _Quantity:
    """A table that a user may give: its field, unit and plausible values in that unit.

    ``cold`` bounds the value at 20 C, ``top`` every value. ``slips`` are the factors which turn a
    number in a wrong unit into this unit, with that unit's name.
    """

    field: str
    unit: str
    to_si: float
    cold: tuple[float, float]
    top: float
    slips: tuple[tuple[float, str], ...] = ()


_GIGA_SLIPS = ((1e-3, "MPa"), (1e-9, "Pa"))
_QUANTITIES: dict[str, _Quantity] = {
    "conductivity_W_mK": _Quantity(
        field="conductivity", unit="W/(m K)", to_si=1.0, cold=(2.0, 450.0), top=450.0,
        slips=((1e3, "W/(mm K)"),),
    ),
    "specific_heat_J_kgK": _Quantity(
        field="specific_heat", unit="J/(kg K)", to_si=1.0, cold=(100.0, 3000.0), top=50000.0,
        slips=((1e3, "kJ/(kg K)"),),
    ),
    "thermal_strain": _Quantity(
        field="thermal_strain", unit="(a strain)", to_si=1.0, cold=(-1e-5, 1e-5), top=0.06,
        slips=((1e-3, "per mille"), (1e-2, "per cent")),
    ),
    "youngs_modulus_GPa": _Quantity(
        field="youngs_modulus", unit="GPa", to_si=1e9, cold=(10.0, 500.0), top=500.0,
        slips=_GIGA_SLIPS,
    ),
    "poisson": _Quantity(field="poisson", unit="(no unit)", to_si=1.0, cold=(0.0, 0.5), top=0.5),
    "yield_MPa": _Quantity(
        field="yield_stress", unit="MPa", to_si=1e6, cold=(5.0, 3000.0), top=3000.0,
        slips=((1e-6, "Pa"), (1e3, "GPa")),
    ),
    "hardening_modulus_GPa": _Quantity(
        field="hardening_modulus", unit="GPa", to_si=1e9, cold=(0.0, 50.0), top=50.0,
        slips=_GIGA_SLIPS,
    ),
}  # fmt: skip

TABLE_NAMES: tuple[str, ...] = tuple(_QUANTITIES)
"""Names of the tables a user may give, unit included."""

_COLDEST_START_C = 100.0


def own_table(name: str, pairs: Pairs, *, source: str = "given by the user") -> Table:
    """Turn a user's table into SI, after checks for the usual slips of units.

    Args:
        name: one of ``TABLE_NAMES``; the name tells the unit.
        pairs: [temperature in C, value] pairs with rising temperatures; a single pair means a
            constant.
        source: where the numbers come from.

    Returns:
        The table in SI units.

    Raises:
        MaterialError: unknown name, no pairs, temperatures that don't rise or start above
            100 C, or values which are not plausible in the unit of the name.

    Example:
        >>> float(own_table("yield_MPa", [[20, 355], [600, 110]])(310.0)) / 1e6
        232.5
        >>> own_table("youngs_modulus_GPa", [[20, 210000]])
        Traceback (most recent call last):
        ...
        flamefe.basics.errors.MaterialError: Table youngs_modulus_GPa: 210000 at 20 C is outside \
10 to 500 GPa. It looks like MPa: give 210.
    """
    if name not in _QUANTITIES:
        raise MaterialError(
            f"There is no table {name!r}. Tables that can be given: {', '.join(TABLE_NAMES)}."
        )
    quantity = _QUANTITIES[name]
    if len(pairs) == 0 or any(len(pair) != 2 for pair in pairs):
        raise MaterialError(
            f"Table {name}: it must be a list of pairs, [temperature in C, value in "
            f"{quantity.unit}], at least one."
        )
    temperatures = [float(pair[0]) for pair in pairs]
    values = [float(pair[1]) for pair in pairs]
    try:
        table = Table(temperature_C=tuple(temperatures), values=tuple(values), source=source)
    except MaterialError as fault:
        raise MaterialError(f"Table {name}: {fault}") from fault
    _check_temperatures(name, table)
    _check_values(name, quantity, table)
    return table.scaled(quantity.to_si)


def _check_temperatures(name: str, table: Table) -> None:
    first, last = table.temperature_C[0], table.temperature_C[-1]
    if len(table.temperature_C) > 1 and first > _COLDEST_START_C:
        kelvin = " If these are kelvin, subtract 273.15." if 250.0 <= first <= 320.0 else ""
        raise MaterialError(
            f"Table {name}: it starts at {first:g} C; it must start at {_COLDEST_START_C:g} C or "
            f"below, so that the cold part is known.{kelvin}"
        )
    if first < -273.15 or last > 3000.0:
        raise MaterialError(
            f"Table {name}: its temperatures run from {first:g} to {last:g} C; "
            "they must stay between -273.15 and 3000 C."
        )


def _check_values(name: str, quantity: _Quantity, table: Table) -> None:
    if quantity.field == "thermal_strain":
        _check_thermal_strain(name, table)
    low, high = quantity.cold
    cold = float(table(20.0))
    faults = [] if low <= cold <= high else [(20.0, cold, low, high)]
    for temperature, value in zip(table.temperature_C, table.values, strict=True):
        floor = -quantity.top if quantity.field == "thermal_strain" else 0.0
        if not floor <= value <= quantity.top:
            faults.append((temperature, value, floor, quantity.top))
    if not faults:
        return
    temperature, value, low, high = faults[0]
    hint = ""
    for factor, unit in quantity.slips:
        if low <= value * factor <= high and value != 0.0:
            hint = f" It looks like {unit}: give {value * factor:g}."
            break
    raise MaterialError(
        f"Table {name}: {value:g} at {temperature:g} C is outside {low:g} to {high:g} "
        f"{quantity.unit}.{hint}"
    )


def _check_thermal_strain(name: str, table: Table) -> None:
    """Refuse a table of expansion coefficients or a strain counted from another temperature."""
    cold = float(table(20.0))
    if 3e-6 <= cold <= 5e-5 and max(table.values) <= 5e-5:
        raise MaterialError(
            f"Table {name}: its values look like an expansion coefficient ({cold:g} 1/K). Give the "
            "strain itself, 0 at 20 C: with a mean coefficient from 20 C, coefficient times "
            "(temperature - 20)."
        )
    steepest = float(np.abs(table.slope(np.asarray(table.temperature_C))).max())
    if steepest > 2e-4:
        unit = "per mille or per cent" if steepest > 1e-3 else "another unit"
        raise MaterialError(
            f"Table {name}: it changes by {steepest:g} a kelvin, metals by 0.5e-5 to 3e-5; "
            f"it looks like {unit}. Give a plain strain, for instance 0.0084 at 600 C."
        )
    if abs(cold) > 1e-5:
        raise MaterialError(
            f"Table {name}: it is {cold:g} at 20 C; it must be 0 there, "
            f"so subtract {cold:g} from every value."
        )


def own_material(
    *,
    name: str,
    base: Material | None = None,
    tables: Mapping[str, Pairs] | None = None,
    density_kg_m3: float | None = None,
    hardening: str | None = None,
    kinematic_share: float = 0.5,
    annealing_C: float | None = None,
    heating_limit_C: float | None = None,
    source: str = "given by the user",
) -> Material:
    """Make a material from a user's tables, or change some of a ready one.

    Args:
        name: of the new material.
        base: material to start from; None: every table and the density must be given, except
            the hardening modulus (default E(T) / 100).
        tables: replaced tables, [[temperature in C, value], ...], under the names
            "conductivity_W_mK", "specific_heat_J_kgK", "thermal_strain" (a strain, 0 at 20 C),
            "youngs_modulus_GPa", "poisson", "yield_MPa", "hardening_modulus_GPa". A replaced
            Young's modulus leaves the base's hardening modulus as it is.
        density_kg_m3: density, kg/m3.
        hardening: "isotropic", "kinematic" or "mixed"; None: the base's, else isotropic.
        kinematic_share: kinematic part of mixed hardening, 0 to 1.
        annealing_C: above it hardening is lost; None: the base's, else never; infinity: never.
        heating_limit_C: temperature it should not exceed, C; None: the base's; must be given
            without a base.
        source: where the numbers come from.

    Returns:
        The material, SI units. ``valid_to_C`` is the lowest end of the given tables of more than
        one point, and not above the base's.

    Raises:
        MaterialError: something is missing, or a number is not plausible in its unit.

    Example:
        >>> from flamefe.workpiece.standard import material
        >>> mill = own_material(name="mill plate", base=material("S355"),
        ...                     tables={"yield_MPa": [[20, 380], [600, 120]]})
        >>> float(mill.yield_stress(20.0)) / 1e6, mill.valid_to_C, mill.density
        (380.0, 600.0, 7850.0)
    """
    given = {} if tables is None else dict(tables)
    made: dict[str, Table] = {}
    for label, pairs in given.items():
        try:
            made[label] = own_table(label, pairs, source=source)
        except MaterialError as fault:
            raise MaterialError(f"Material {name}: {fault}") from fault
    parts: dict[str, Any] = {_QUANTITIES[label].field: table for label, table in made.items()}
    ends = [t.temperature_C[-1] for t in made.values() if len(t.temperature_C) > 1]
    if density_kg_m3 is not None:
        parts["density"] = _checked_density(name, density_kg_m3)
    if hardening is not None:
        parts["kinematic_share"] = share_of(hardening, kinematic_share)
    if annealing_C is not None:
        parts["annealing_C"] = annealing_of(annealing_C)
    if heating_limit_C is not None:
        if not 20.0 < heating_limit_C < math.inf:
            raise MaterialError(
                f"Material {name}: heating_limit_C is {heating_limit_C:g}; it must be a "
                "temperature above 20 C."
            )
        parts["heating_limit_C"] = heating_limit_C
        parts["heating_limit_source"] = source
    if base is None:
        return _from_nothing(name, parts, ends, source)
    kept = {field: getattr(base, field) for field in base.__dataclass_fields__}
    changed = ", ".join(sorted(parts)) or "nothing"
    if "heating_limit_source" in parts:
        own = f"{base.name}: {base.heating_limit_C:g} C, {base.heating_limit_source}"
        parts["heating_limit_source"] = f"{source}; in place of {own}"
    return Material(
        **{
            **kept,
            **parts,
            "name": name,
            "valid_to_C": min([base.valid_to_C, *ends]),
            "source": f"{base.name} ({base.source}) with changes {source}: {changed}",
        }
    )


def _from_nothing(name: str, parts: dict[str, Any], ends: Sequence[float], source: str) -> Material:
    if "youngs_modulus" in parts:
        parts.setdefault("hardening_modulus", hardening_of(parts["youngs_modulus"]))
    missing = [label for label, q in _QUANTITIES.items() if q.field not in parts]
    missing = [label for label in missing if label != "hardening_modulus_GPa"]
    missing += ["density_kg_m3"] if "density" not in parts else []
    missing += ["heating_limit_C"] if "heating_limit_C" not in parts else []
    if missing:
        raise MaterialError(
            f"Material {name}: {', '.join(missing)} must be given, or a base to start from "
            "(for instance S355)."
        )
    return Material(name=name, valid_to_C=min([1200.0, *ends]), source=source, **parts)


def _checked_density(name: str, density: float) -> float:
    if not 500.0 <= density <= 25000.0:
        hint = f" It looks like g/cm3: give {density * 1e3:g}." if 0.5 <= density <= 25.0 else ""
        raise MaterialError(
            f"Material {name}: density_kg_m3 is {density:g}; it must lie between 500 and 25000 "
            f"kg/m3.{hint}"
        )
    return density
