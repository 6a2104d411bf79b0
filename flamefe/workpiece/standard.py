"""Ready materials after the Eurocodes: structural steels, stainless steel, aluminium alloys."""

import difflib
import math
import tomllib
from collections.abc import Callable, Mapping
from functools import cache, partial
from importlib.resources import files
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import MaterialError
from flamefe.basics.table import Table
from flamefe.workpiece import eurocode
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]
Formula = Callable[[Array], Array]
YieldAs = Literal["0.2 % proof strength", "2 % stress"]
Hardening = Literal["isotropic", "kinematic", "mixed"]

YIELD_CHOICES: tuple[str, ...] = ("0.2 % proof strength", "2 % stress")
HARDENING_CHOICES: tuple[str, ...] = ("isotropic", "kinematic", "mixed")

SMALLEST_FACTOR = 0.01
"""What the strength and stiffness factors are raised to where the standard has 0 (it has 0 at
the last temperature only): a solver needs both above 0."""

HARDENING_SHARE = 0.01
"""Hardening modulus over Young's modulus: EN 1993-1-5:2006 C.6, from memory."""

_FILES = ("structural_steel", "stainless_steel", "aluminium")
_COLDEST_C = -40.0


@cache
def _families() -> dict[str, dict[str, Any]]:
    folder = files("flamefe.workpiece") / "data"
    return {name: tomllib.loads((folder / f"{name}.toml").read_text("utf-8")) for name in _FILES}


@cache
def _family_of() -> dict[str, str]:
    return {grade: file for file, family in _families().items() for grade in family["grades"]}


def material_names() -> tuple[str, ...]:
    """Names of the ready materials.

    Example:
        >>> material_names()[:7]
        ('S235', 'S355', 'S460', 'S355N', 'S355M', 'S700MC', 'S690QL')
    """
    return tuple(_family_of())


def material(
    name: str,
    *,
    yield_as: YieldAs = "0.2 % proof strength",
    yield_strength: float | None = None,
    hardening: Hardening = "isotropic",
    kinematic_share: float = 0.5,
    annealing_C: float | None = None,
    heating_limit_C: float | None = None,
) -> Material:
    """Make a ready material from the standard's tables and formulas.

    Structural steels follow EN 1993-1-2:2005, stainless steel its annex C, aluminium alloys
    EN 1999-1-2:2007. The yield stress is by default the 0.2 % proof strength at temperature. A
    model of plasticity yields as soon as the elastic range is left, at small plastic strain; the
    factor k_y of structural steel is the stress at 2 % total strain, which real steel reaches
    only after hardening. With the proof strength, computed rotations of wedge heats agree in size
    with the published mean of hundreds of heats (Avent, Mukai and Robinson 2000, formula from
    memory); with the 2 % stress they come out far too small. The 2 % stress is there for
    comparison with fire design.

    These are data for heating up in a fire, over minutes to two hours, not for a few seconds
    under a flame. Where the standard's strength or stiffness is 0 (1200 C, aluminium 550 C),
    1 % of the cold value stands in, because a solver needs some. Tables are constant beyond
    their last point, the material says in ``valid_to_C`` how far they are meant to hold. Below
    20 C the elongation goes on with its slope at 20 C, everything else stays as at 20 C.

    Args:
        name: one of ``material_names()``.
        yield_as: "0.2 % proof strength", or "2 % stress" (structural steels only).
        yield_strength: cold yield strength, Pa; scales the whole yield curve. None: nominal.
        hardening: "isotropic", "kinematic" or "mixed"; the hardening modulus is E(T) / 100.
        kinematic_share: kinematic part of mixed hardening, 0 to 1; of no account otherwise.
        annealing_C: above it hardening is lost; None: the material's own, infinity: never.
        heating_limit_C: temperature it should not exceed; None: the material's own.

    Returns:
        The material, SI units. Its tables say where each number comes from.

    Raises:
        MaterialError: unknown name or choice, or a number out of its range.

    Example:
        >>> steel = material("S355")
        >>> [round(float(steel.yield_stress(t)) / 1e6, 2) for t in (20, 400, 600)]
        [355.0, 230.75, 106.5]
        >>> steel = material("S355", yield_as="2 % stress", yield_strength=400e6)
        >>> [round(float(steel.yield_stress(t)) / 1e6, 2) for t in (20, 400, 600)]
        [400.0, 400.0, 188.0]
    """
    file = _family_of().get(name)
    if file is None:
        raise MaterialError(_unknown(name))
    family = _families()[file]
    grade = family["grades"][name]
    sources = family["source"]
    curve = _yield_curve(name, yield_as, family)
    cold_yield = _cold_yield(name, yield_strength, grade["yield_MPa"] * 1e6)
    cold_source = grade["yield_source"] if yield_strength is None else "given by the user"
    stiffness = _factors(family, grade, "youngs_modulus", sources["youngs_modulus"])
    stiffness = stiffness.scaled(family["youngs_modulus_GPa"] * 1e9)
    strength = _factors(family, grade, curve, f"{sources[curve]}; cold value: {cold_source}")
    limit = grade["heating_limit_C"] if heating_limit_C is None else heating_limit_C
    limit_source = grade["heating_limit_source"]
    if heating_limit_C is not None:
        own = f"{grade['heating_limit_C']:g} C, {limit_source}"
        limit_source = f"given by the user; the ready value is {own}"
    return Material(
        name=name,
        family=grade.get("family", family["family"]),
        density=family["density_kg_m3"],
        **_heat_tables(file, grade, sources["thermal"]),
        youngs_modulus=stiffness,
        poisson=Table.constant(family["poisson"], source="nominal, held at all temperatures"),
        yield_stress=strength.scaled(cold_yield),
        hardening_modulus=hardening_of(stiffness),
        kinematic_share=share_of(hardening, kinematic_share),
        annealing_C=annealing_of(family["annealing_C"] if annealing_C is None else annealing_C),
        heating_limit_C=_above_ambient(limit, "heating_limit_C"),
        heating_limit_source=limit_source,
        heating_limit_reason=grade["heating_limit_reason"],
        valid_to_C=family["valid_to_C"],
        source=_summary(family, grade, curve),
    )


def _summary(family: Mapping[str, Any], grade: Mapping[str, Any], curve: str) -> str:
    sources = family["source"]
    parts = [
        f"{sources['thermal']}, {sources['read_in']}",
        f"yield: {sources[curve]}",
        f"cold yield: {grade['yield_source']}",
        f"annealing temperature: {family['annealing_source']}",
    ]
    if "scope_note" in grade:
        parts.insert(0, grade["scope_note"])
    return "; ".join(parts)


def _unknown(name: str) -> str:
    names = material_names()
    folded = {known.casefold(): known for known in names}
    near = difflib.get_close_matches(name.casefold(), folded, n=1, cutoff=0.4)
    hint = f"The nearest is {folded[near[0]]!r}. " if near else ""
    return f"There is no ready material {name!r}. {hint}Ready ones: {', '.join(names)}."


def _yield_curve(name: str, yield_as: str, family: Mapping[str, Any]) -> str:
    if yield_as not in YIELD_CHOICES:
        raise MaterialError(
            f"Material {name}: yield_as is {yield_as!r}; it must be one of "
            f"{' or '.join(map(repr, YIELD_CHOICES))}."
        )
    if yield_as == "0.2 % proof strength":
        return "yield_stress"
    if "yield_at_2_percent" not in family["factors"]:
        raise MaterialError(
            f"Material {name}: the 2 % stress is there for structural steels only; "
            "use '0.2 % proof strength'."
        )
    return "yield_at_2_percent"


def _cold_yield(name: str, given: float | None, nominal: float) -> float:
    if given is None:
        return nominal
    if not 5e6 <= given <= 3e9:
        raise MaterialError(
            f"Material {name}: the yield strength is {given:g} Pa; it must lie between 5e6 and "
            "3e9 Pa (5 and 3000 MPa). Check the unit."
        )
    return given


def _factors(
    family: Mapping[str, Any], grade: Mapping[str, Any], column: str, source: str
) -> Table:
    table = grade["factors"] if column in grade.get("factors", {}) else family["factors"]
    return Table(
        temperature_C=tuple(table["temperature_C"]),
        values=tuple(max(value, SMALLEST_FACTOR) for value in table[column]),
        source=source,
    )


def _heat_tables(file: str, grade: Mapping[str, Any], standard: str) -> dict[str, Table]:
    """Elongation, specific heat and conductivity, sampled from the standard's formulas."""
    if file == "aluminium":
        grid = np.linspace(20.0, 500.0, 25)
        printed = eurocode.aluminium_elongation(20.0)
        conductivity: Formula = partial(eurocode.aluminium_conductivity, series=grade["series"])
        return {
            "thermal_strain": _elongation(
                lambda t: eurocode.aluminium_elongation(t) - printed,
                grid,
                f"{standard} 3.3.1.1, less the 4e-6 which the formula leaves at 20 C",
            ),
            "specific_heat": _sampled(
                eurocode.aluminium_specific_heat, grid, f"{standard} 3.3.1.2"
            ),
            "conductivity": _sampled(conductivity, grid, f"{standard} 3.3.1.3"),
        }
    grid = np.linspace(20.0, 1200.0, 119)
    if file == "stainless_steel":
        return {
            "thermal_strain": _elongation(eurocode.stainless_elongation, grid, f"{standard} C.3.1"),
            "specific_heat": _sampled(eurocode.stainless_specific_heat, grid, f"{standard} C.3.2"),
            "conductivity": _sampled(eurocode.stainless_conductivity, grid, f"{standard} C.3.3"),
        }
    return {
        "thermal_strain": _elongation(eurocode.steel_elongation, grid, f"{standard} 3.4.1.1"),
        "specific_heat": _sampled(
            eurocode.steel_specific_heat, _round_the_peak(grid), f"{standard} 3.4.1.2"
        ),
        "conductivity": _sampled(eurocode.steel_conductivity, grid, f"{standard} 3.4.1.3"),
    }


def _round_the_peak(grid: Array) -> Array:
    """Grid for the specific heat of carbon steel, denser towards the peak at 735 C.

    Spaced in proportion to the distance from the poles of the two branches, 738 and 731 C: then
    linear interpolation misses each branch's enthalpy by the same small share.
    """
    rising = 738.0 - np.geomspace(138.0, 3.0, 61)
    falling = 731.0 + np.geomspace(4.0, 169.0, 61)
    sides = grid[(grid < 600.0) | (grid > 900.0)]
    return np.unique(np.round(np.concatenate((sides, rising, falling)), 9))


def _sampled(formula: Formula, grid: Array, source: str) -> Table:
    return Table(temperature_C=tuple(grid), values=tuple(formula(grid)), source=source)


def _elongation(formula: Formula, grid: Array, source: str) -> Table:
    """Elongation from its formula, going on below 20 C with the slope which it has there."""
    values = formula(grid)
    values = np.where(grid == 20.0, 0.0, values)
    slope = float(formula(np.asarray(21.0)) - formula(np.asarray(20.0)))
    return Table(
        temperature_C=(_COLDEST_C, *grid),
        values=(slope * (_COLDEST_C - 20.0), *values),
        source=f"{source}; below 20 C continued with its slope at 20 C",
    )


def hardening_of(stiffness: Table) -> Table:
    """Hardening modulus, E(T) / 100, from Young's modulus.

    Args:
        stiffness: Young's modulus, Pa.

    Returns:
        Slope of the yield stress by equivalent plastic strain, Pa.

    Example:
        >>> stiffness = Table.constant(210e9, source="demo")
        >>> float(hardening_of(stiffness)(20.0)) / 1e9
        2.1
    """
    return Table(
        temperature_C=stiffness.temperature_C,
        values=tuple(HARDENING_SHARE * value for value in stiffness.values),
        source="E / 100: EN 1993-1-5:2006 C.6, from memory; for other metals by analogy",
    )


def share_of(hardening: str, kinematic_share: float) -> float:
    """Kinematic part of the hardening, 0 to 1, from the kind of hardening.

    Raises:
        MaterialError: an unknown kind, or a share outside 0 to 1.

    Example:
        >>> share_of("isotropic", 0.5), share_of("kinematic", 0.5), share_of("mixed", 0.25)
        (0.0, 1.0, 0.25)
    """
    if hardening not in HARDENING_CHOICES:
        raise MaterialError(
            f"hardening is {hardening!r}; it must be one of "
            f"{', '.join(map(repr, HARDENING_CHOICES))}."
        )
    if not 0.0 <= kinematic_share <= 1.0:
        raise MaterialError(f"kinematic_share is {kinematic_share:g}; it must be 0 to 1.")
    return {"isotropic": 0.0, "kinematic": 1.0, "mixed": kinematic_share}[hardening]


def annealing_of(temperature_C: float) -> float | None:
    """Annealing temperature, C; None (never) for infinity.

    Raises:
        MaterialError: a temperature that is not above 20 C.

    Example:
        >>> annealing_of(800.0), annealing_of(float("inf"))
        (800.0, None)
    """
    if temperature_C == math.inf:
        return None
    return _above_ambient(temperature_C, "annealing_C")


def _above_ambient(temperature_C: float, label: str) -> float:
    if not 20.0 < temperature_C < math.inf:
        raise MaterialError(f"{label} is {temperature_C:g}; it must be a temperature above 20 C.")
    return temperature_C
