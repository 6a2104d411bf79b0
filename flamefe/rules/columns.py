"""Rows of a table, measured or simulated: the numbers of one heat in the trade's units.

A table has one row a heat (or run) and two kinds of columns that rules read:

- **inputs**, named by the rule input and its unit: ``thickness_mm``, ``speed_mm_s``, ``peak_C``,
  ``wedge_angle_deg`` and so on; ``COLUMNS`` holds all of them. Words stand in ``part`` ("plate",
  "bar"), ``geometry``, ``family``, ``wedge_base``, ``heat_outline``, ``section_strips_mm`` (such as
  "0 to 11 x 150; 11 to 289 x 7"), and yes or no in ``one_sided`` and ``wedge_driven``;
- **what came out**, named by the quantity and its unit in brackets, the names of the distortion
  measures: ``angular change at mid length [deg]``, ``closing rotation [mrad]``,
  ``camber [mm]``.

Three more columns may stand in a measured table: ``material``, a ready material's name, which
fills in whatever of the material isn't given; ``net_power_kW``, from which with ``speed_mm_s`` the
heat per length follows; ``deviation`` or ``weight`` for the fit (see `flamefe.rules.calibration`).

An empty cell means "not known". Any other column is left alone, so a table can hold what else is
worth keeping; but one that is nearly the name of an input is refused, as it is a slip.
"""

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from flamefe.basics.errors import FlamefeError, MaterialError
from flamefe.rules.barcycle import BarCycle
from flamefe.rules.inputs import RuleInputs, with_material
from flamefe.workpiece.standard import material, material_names

ALIKE = 0.82
"""Likeness (of `difflib`) from which an unknown column is taken for a slip of a known one."""

_QUANTITY = re.compile(r"^(?P<name>.*\S)\s*\[(?P<unit>[^\[\]]*)\]$")
_STRIP = re.compile(r"^\s*(\S+)\s+to\s+(\S+)\s+x\s+(\S+)\s*$")
_YES = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}


class TableError(FlamefeError, ValueError):
    """A row or table of inputs and results can't be read."""


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column of a table that holds one rule input.

    Args:
        name: of the column, with its unit.
        field: of `RuleInputs`, or of `BarCycle` after "bar_cycle.".
        scale: SI value of one unit; None: the column holds a word.
        words: the words it may hold; empty: any.
    """

    name: str
    field: str
    scale: float | None = None
    words: tuple[str, ...] = ()


def _number(name: str, field: str, scale: float = 1.0) -> Column:
    return Column(name=name, field=field, scale=scale)


COLUMNS: tuple[Column, ...] = (
    Column(name="part", field="part", words=("plate", "bar")),
    Column(name="geometry", field="geometry", words=("finite", "small")),
    _number("length_mm", "length", 1e-3),
    _number("width_mm", "width", 1e-3),
    _number("thickness_mm", "thickness", 1e-3),
    Column(name="family", field="family"),
    _number("expansion_um_mK", "expansion", 1e-6),
    _number("volumetric_heat_J_cm3K", "volumetric_heat", 1e6),
    _number("greatest_expansion_per_heat_mm3_kJ", "greatest_expansion_per_heat", 1e-12),
    _number("diffusivity_mm2_s", "diffusivity", 1e-6),
    _number("youngs_modulus_GPa", "youngs_modulus", 1e9),
    _number("poisson", "poisson"),
    _number("yield_stress_MPa", "yield_stress", 1e6),
    _number("hot_yield_stress_MPa", "hot_yield_stress", 1e6),
    _number("held_upset_percent", "held_upset", 1e-2),
    _number("peak_C", "peak_C"),
    _number("flame_radius_mm", "flame_radius", 1e-3),
    _number("speed_mm_s", "speed", 1e-3),
    _number("heat_per_length_J_mm", "heat_per_length", 1e3),
    _number("heated_length_mm", "heated_length", 1e-3),
    _number("line_offset_mm", "line_offset", 1e-3),
    _number("restraint", "restraint"),
    Column(name="one_sided", field="one_sided", words=("yes", "no")),
    _number("bar_first_yield_C", "bar_cycle.first_yield_C"),
    _number("bar_hot_stress_MPa", "bar_cycle.hot_stress", 1e6),
    _number("bar_hot_plastic_strain_percent", "bar_cycle.hot_plastic_strain", 1e-2),
    _number("bar_residual_stress_MPa", "bar_cycle.residual_stress", 1e6),
    _number("bar_plastic_strain_percent", "bar_cycle.plastic_strain", 1e-2),
    _number("wedge_angle_deg", "wedge_angle", math.pi / 180),
    _number("wedge_depth_mm", "wedge_depth", 1e-3),
    Column(name="wedge_base", field="wedge_base", words=("far", "near")),
    _number("wedge_moment_ratio", "wedge_moment_ratio"),
    Column(name="wedge_driven", field="wedge_driven", words=("yes", "no")),
    _number("spot_radius_mm", "spot_radius", 1e-3),
    _number("spot_count", "spot_count"),
    _number("buckle_depth_mm", "buckle_depth", 1e-3),
    _number("spring_stiffness_kN_mm", "spring_stiffness", 1e6),
    _number("section_area_mm2", "section_area", 1e-6),
    _number("side_area_mm2", "side_area", 1e-6),
    Column(name="section_strips_mm", field="section_strips"),
    _number("pipe_diameter_mm", "pipe_diameter", 1e-3),
    _number("heat_arc_deg", "heat_arc", math.pi / 180),
    _number("heat_width_mm", "heat_width", 1e-3),
    Column(name="heat_outline", field="heat_outline", words=("even", "oval")),
    _number("heat_count", "heat_count"),
    _number("heat_spacing_mm", "heat_spacing", 1e-3),
    _number("heat_rotation_mrad", "heat_rotation", 1e-3),
)
"""Every column that holds a rule input."""

ASIDE = ("material", "net_power_kW", "deviation", "weight")
"""Columns of a measured table that are no rule inputs themselves; see the module."""

_BY_NAME = {column.name: column for column in COLUMNS}
_SHOWN_WITH = {
    "one_sided": "restraint",
    "wedge_base": "wedge_angle",
    "wedge_moment_ratio": "wedge_angle",
    "heat_outline": "heat_arc",
}
"""Inputs with a default: shown only beside the input that they belong to."""


def quantity_column(quantity: str, unit: str) -> str:
    """Name of the column of what came out: "quantity [unit]".

    Examples:
        >>> quantity_column("angular change at mid length", "deg")
        'angular change at mid length [deg]'
    """
    return f"{quantity} [{unit}]"


def quantity_of_column(column: str) -> tuple[str, str] | None:
    """Quantity and unit of a column of what came out; None for any other column.

    Examples:
        >>> quantity_of_column("camber [mm]")
        ('camber', 'mm')
        >>> quantity_of_column("thickness_mm") is None
        True
    """
    found = _QUANTITY.match(column)
    return (found["name"], found["unit"]) if found else None


def input_columns(inputs: RuleInputs) -> dict[str, float | str]:
    """All known rule inputs in the trade's units, by the name of their column.

    Numbers are rounded to 14 digits. What came out (``inputs.simulated``) isn't among them.

    Args:
        inputs: numbers of the part, its material and the heat, SI.

    Returns:
        Column name to number or word, in the order of ``COLUMNS``; nothing that isn't known.

    Examples:
        >>> input_columns(RuleInputs(part="plate", thickness=0.012, heat_per_length=5e5))
        {'part': 'plate', 'geometry': 'finite', 'thickness_mm': 12.0, 'heat_per_length_J_mm': 500.0}
    """
    found: dict[str, float | str] = {}
    for column in COLUMNS:
        beside = _SHOWN_WITH.get(column.field)
        if beside is not None and getattr(inputs, beside) is None:
            continue
        value = _value_of(inputs, column.field)
        if value is None:
            continue
        if column.scale is not None:
            found[column.name] = float(f"{float(value) / column.scale:.14g}")
        elif isinstance(value, bool):
            found[column.name] = "yes" if value else "no"
        elif column.field == "section_strips":
            found[column.name] = "; ".join(
                " ".join((f"{1e3 * low:.12g} to", f"{1e3 * high:.12g} x", f"{1e3 * wide:.12g}"))
                for low, high, wide in value
            )
        else:
            found[column.name] = str(value)
    return found


def inputs_of_columns(row: Mapping[str, str | float | None]) -> RuleInputs:
    """Rule inputs from one row of a table; the inverse of `input_columns`.

    Args:
        row: column name to number or text (a number as text is read); see the module. Columns
            "quantity [unit]" become ``simulated``, whatever their unit.

    Returns:
        The inputs, SI.

    Raises:
        TableError: a cell is no number or no word that its column allows, a column is nearly the
            name of an input, or the cells contradict each other.
        OutOfRange: a number is impossible (below 0 where it can't be, and so on).

    Examples:
        >>> found = inputs_of_columns({"thickness_mm": "12", "net_power_kW": 3, "speed_mm_s": 6,
        ...     "material": "S355", "angular change at mid length [deg]": 0.36, "shift": "night"})
        >>> found.thickness, found.heat_per_length, found.family
        (0.012, 500000.0, 'carbon steel')
        >>> found.simulated
        {'angular change at mid length': 0.36}
        >>> inputs_of_columns({"thicknes_mm": 12})
        Traceback (most recent call last):
            ...
        flamefe.rules.columns.TableError: Column 'thicknes_mm' is not known, but nearly \
'thickness_mm'; rename it to that, or to something else.
    """
    given: dict[str, Any] = {}
    cycle: dict[str, Any] = {}
    simulated: dict[str, float] = {}
    aside: dict[str, Any] = {}
    for name, cell in row.items():
        if _is_empty(cell):
            continue
        quantity = quantity_of_column(name)
        if quantity is not None:
            value = number_or_none(cell)
            if value is not None:
                simulated[quantity[0]] = value
        elif name in _BY_NAME:
            column = _BY_NAME[name]
            value_read = _read(column, cell)
            if column.field.startswith("bar_cycle."):
                cycle[column.field.removeprefix("bar_cycle.")] = value_read
            else:
                given[column.field] = value_read
        elif name in ASIDE:
            aside[name] = cell
        else:
            _refuse_slip(name)
    if cycle:
        given["bar_cycle"] = _cycle(cycle)
    if "net_power_kW" in aside:
        given["heat_per_length"] = _heat_of_power(given, aside["net_power_kW"])
    inputs = RuleInputs(**given, simulated=simulated)
    if "material" not in aside:
        return inputs
    return _filled(inputs, given, str(aside["material"]).strip())


def number_or_none(cell: object) -> float | None:
    """A cell as a finite number; None where it holds none.

    Examples:
        >>> number_or_none(" 1.5 "), number_or_none("nan"), number_or_none("failed")
        (1.5, None, None)
    """
    try:
        value = float(str(cell).strip())
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _is_empty(cell: object) -> bool:
    if cell is None or (isinstance(cell, float) and math.isnan(cell)):
        return True
    return isinstance(cell, str) and not cell.strip()


def _value_of(inputs: RuleInputs, field: str) -> Any:
    if not field.startswith("bar_cycle."):
        return getattr(inputs, field)
    if inputs.bar_cycle is None:
        return None
    return getattr(inputs.bar_cycle, field.removeprefix("bar_cycle."))


def _read(column: Column, cell: object) -> Any:
    if column.scale is not None:
        value = number_or_none(cell)
        if value is None:
            raise TableError(
                f"Column {column.name!r} holds {cell!r}; it must hold a number, or nothing when "
                "it isn't known."
            )
        return value * column.scale
    word = str(cell).strip()
    if column.field == "section_strips":
        return tuple(_strip(part) for part in word.split(";") if part.strip())
    if column.words == ("yes", "no"):
        if word.lower() not in _YES:
            raise TableError(f"Column {column.name!r} holds {word!r}; it must hold yes or no.")
        return _YES[word.lower()]
    if column.words and word not in column.words:
        allowed = " or ".join(repr(one) for one in column.words)
        raise TableError(f"Column {column.name!r} holds {word!r}; it must hold {allowed}.")
    return word


def _strip(text: str) -> tuple[float, float, float]:
    found = _STRIP.match(text)
    numbers = [number_or_none(part) for part in found.groups()] if found else [None]
    if None in numbers:
        raise TableError(
            f"Column 'section_strips_mm' holds the strip {text.strip()!r}; write each as "
            "'from to to x width' in mm, such as '0 to 11 x 150', with ';' between them."
        )
    low, high, wide = (1e-3 * float(one or 0.0) for one in numbers)
    return low, high, wide


def _cycle(values: dict[str, Any]) -> BarCycle:
    optional = "first_yield_C"
    lacking = [f.name for f in fields(BarCycle) if f.name not in values and f.name != optional]
    if lacking:
        names = [c.name for c in COLUMNS if c.field.removeprefix("bar_cycle.") in lacking]
        raise TableError(
            f"Of the bar's cycle the columns {', '.join(names)} are missing; give all of them or "
            "none (they follow from material, peak_C and restraint)."
        )
    return BarCycle(**{optional: None, **values})


def _heat_of_power(given: Mapping[str, Any], cell: object) -> float:
    power, speed = number_or_none(cell), given.get("speed")
    if power is None or power <= 0:
        raise TableError(f"Column 'net_power_kW' holds {cell!r}; it must hold a number above 0.")
    if speed is None:
        raise TableError("'net_power_kW' is given without 'speed_mm_s'; give both, or the heat.")
    heat = 1e3 * power / float(speed)
    stated = given.get("heat_per_length")
    if stated is not None and abs(stated - heat) > 0.01 * heat:
        raise TableError(
            f"heat_per_length_J_mm is {1e-3 * stated:g}, but net_power_kW by speed_mm_s gives "
            f"{1e-3 * heat:g}; leave one of them out."
        )
    return float(stated) if stated is not None else heat


def _filled(inputs: RuleInputs, given: Mapping[str, Any], name: str) -> RuleInputs:
    try:
        metal = material(name)
    except MaterialError:
        known = ", ".join(material_names())
        raise TableError(
            f"Column 'material' holds {name!r}; ready ones are {known}. For another give its "
            "numbers in columns (expansion_um_mK, yield_stress_MPa, ...)."
        ) from None
    return replace(with_material(inputs, metal), **given)


def _refuse_slip(name: str) -> None:
    if any(mark in name for mark in ".[]"):
        return
    bare = [column.name for column in COLUMNS if column.field == name]
    close = bare or difflib.get_close_matches(name, (*_BY_NAME, *ASIDE), n=1, cutoff=ALIKE)
    if close:
        raise TableError(
            f"Column {name!r} is not known, but nearly {close[0]!r}; rename it to that, or to "
            "something else."
        )
