"""Rules for beams of any section, for pipes, for several heats along a bar, and for panels."""

from flamefe.rules import camber, panel, pipe, spot, wedge_section
from flamefe.rules.barcycle import COLD_C
from flamefe.rules.conditions import (
    above_yield_temperature,
    constant_yield,
    only_own_restraint,
    thin_for_spot,
    unknown,
)
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.rule import Condition, Estimate, Rule, known

MATERIAL = ("yield_stress", "youngs_modulus", "expansion")
SECTION = ("wedge_angle", "wedge_depth", "section_strips", "held_upset")
PIPE = ("pipe_diameter", "thickness", "heat_width", "heat_arc", "held_upset")
PANEL = ("buckle_depth", "length", "width", "spot_radius", "peak_C", *MATERIAL)
HEATS = ("heat_rotation", "heat_count", "heat_spacing", "length")
THIN_PIPE = 10.0
"""Radius by wall from which a pipe's wall bends as a thin shell (common limit)."""

MOST_SPOTS = 1e6
RING = 6.28
"""Arc, rad, from which a heat goes all round."""


def _section_rotation(inputs: RuleInputs) -> Estimate:
    turn = 1e3 * wedge_section.section_wedge_rotation(
        inputs.section_strips or (),
        known(inputs, "wedge_angle"),
        known(inputs, "held_upset"),
        known(inputs, "wedge_depth"),
        inputs.wedge_base,
    )
    if inputs.wedge_base == "near":
        return Estimate(value=0.0 - turn, lower=0.0 - turn)
    return Estimate(value=turn, upper=turn)


def _section_shortening(inputs: RuleInputs) -> Estimate:
    value = 1e3 * wedge_section.section_wedge_shortening(
        inputs.section_strips or (),
        known(inputs, "wedge_angle"),
        known(inputs, "held_upset"),
        known(inputs, "wedge_depth"),
        inputs.wedge_base,
    )
    return Estimate(value=value, upper=value)


def _patch_rotation(inputs: RuleInputs) -> Estimate:
    value = 1e3 * pipe.patch_rotation(
        known(inputs, "pipe_diameter"),
        known(inputs, "thickness"),
        known(inputs, "heat_width"),
        known(inputs, "heat_arc"),
        known(inputs, "held_upset"),
        inputs.heat_outline,
    )
    return Estimate(value=value, upper=value)


def _patch_shortening(inputs: RuleInputs) -> Estimate:
    width, arc = known(inputs, "heat_width"), known(inputs, "heat_arc")
    value = 1e3 * pipe.patch_shortening(
        width, arc, known(inputs, "held_upset"), inputs.heat_outline
    )
    return Estimate(value=value, upper=value)


def _waist(inputs: RuleInputs) -> Estimate:
    value = 1e3 * pipe.ring_waist(
        known(inputs, "pipe_diameter"),
        known(inputs, "thickness"),
        known(inputs, "heat_width"),
        known(inputs, "held_upset"),
        known(inputs, "poisson"),
    )
    return Estimate(value=value, upper=value)


def _all_round(inputs: RuleInputs) -> str | None:
    if inputs.heat_outline == "even" and (inputs.heat_arc or 0.0) >= RING:
        return None
    return "the heat does not go all round the pipe as wide everywhere"


def _thin_pipe(inputs: RuleInputs) -> str | None:
    diameter, wall = known(inputs, "pipe_diameter"), known(inputs, "thickness")
    ratio = (diameter - wall) / (2 * wall)
    if ratio >= THIN_PIPE:
        return None
    return f"the pipe is thick: its radius is {ratio:.3g} walls, less than {THIN_PIPE:g}"


def _equal_heats(inputs: RuleInputs) -> Estimate:
    value = camber.camber_of_equal_heats(
        known(inputs, "heat_rotation"),
        round(known(inputs, "heat_count")),
        known(inputs, "heat_spacing"),
        known(inputs, "length"),
    )
    return Estimate(value=1e3 * value)


def _apart(inputs: RuleInputs) -> str | None:
    """Heats don't disturb one another: a bar's depth apart (chosen here)."""
    if known(inputs, "heat_count") <= 1:
        return None
    if inputs.width is None:
        return unknown("the spacing of the heats against the bar's depth")
    spacing = known(inputs, "heat_spacing")
    if spacing >= inputs.width:
        return None
    return (
        f"heats every {1e3 * spacing:g} mm are less than the bar's depth of "
        f"{1e3 * inputs.width:g} mm apart, so they change one another"
    )


def _area_of_spot(inputs: RuleInputs) -> float:
    rise = max(known(inputs, "peak_C") - COLD_C, 1e-9)
    strength, stiffness, expansion = (known(inputs, name) for name in MATERIAL)
    upset = spot.spot_upset(rise, strength, stiffness, expansion)
    return spot.spot_area_loss(known(inputs, "spot_radius"), upset)


def _panel(inputs: RuleInputs) -> tuple[float, float, float]:
    return known(inputs, "buckle_depth"), known(inputs, "length"), known(inputs, "width")


def _spots_needed(inputs: RuleInputs) -> Estimate:
    """No more than ``MOST_SPOTS``: a spot that is too cool takes nothing off."""
    excess, each = spot.buckle_area(*_panel(inputs)), _area_of_spot(inputs)
    return Estimate(value=excess / each if each * MOST_SPOTS > excess else MOST_SPOTS)


def _dishing_left(inputs: RuleInputs) -> Estimate:
    taken = known(inputs, "spot_count") * _area_of_spot(inputs)
    return Estimate(value=1e3 * panel.depth_after_spots(*_panel(inputs), taken))


HELD: tuple[Condition, ...] = (only_own_restraint, above_yield_temperature(2.0))
UPSET: tuple[Condition, ...] = (above_yield_temperature(2.0),)

MEMBER_RULES: tuple[Rule, ...] = (
    Rule(
        name="plane sections, any section",
        quantity="closing rotation",
        unit="mrad",
        needs=SECTION,
        estimate=_section_rotation,
        conditions=HELD,
        formula="phi = (1/I) int b u* (z - zc) dz, u* = e_p 2 tan(t/2) (z - z_apex)",
        source=wedge_section.SOURCE,
    ),
    Rule(
        name="plane sections, any section",
        quantity="shortening",
        unit="mm",
        needs=SECTION,
        estimate=_section_shortening,
        conditions=HELD,
        formula="d = (1/A) int b u* dz, u* = e_p 2 tan(t/2) (z - z_apex)",
        source=wedge_section.SOURCE,
    ),
    Rule(
        name="inherent strain on a pipe",
        quantity="closing rotation",
        unit="mrad",
        needs=PIPE,
        estimate=_patch_rotation,
        conditions=UPSET,
        formula="phi = e* w g1 (Ro^3 - Ri^3) / (3 I); g1 = 2 sin(g/2), of an oval pi J1(g/2); "
        "towards the heat",
        source=pipe.SOURCE,
    ),
    Rule(
        name="inherent strain on a pipe",
        quantity="shortening",
        unit="mm",
        needs=PIPE,
        estimate=_patch_shortening,
        conditions=UPSET,
        formula="d = e* w g / (2 pi), of an oval e* w g / 8",
        source=pipe.SOURCE,
    ),
    Rule(
        name="ring on a pipe",
        quantity="loss of radius at the ring",
        unit="mm",
        needs=(*PIPE, "poisson"),
        estimate=_waist,
        conditions=(_all_round, _thin_pipe, *UPSET),
        formula="w0 = e* R (1 - exp(-k w/2) cos(k w/2)), k^4 = 3 (1 - nu^2) / (R^2 h^2)",
        source=pipe.RING_SOURCE,
    ),
    Rule(
        name="repeated heats",
        quantity="camber",
        unit="mm",
        part="bar",
        needs=HEATS,
        estimate=_equal_heats,
        conditions=(_apart,),
        formula="exact chain of straight pieces; about -phi (n L/4 - s (n^2 - 1)/8), n odd",
        source=camber.SOURCE,
    ),
    Rule(
        name="area bookkeeping",
        quantity="spots to flatten the panel",
        unit="spots",
        needs=PANEL,
        estimate=_spots_needed,
        conditions=(thin_for_spot, constant_yield, above_yield_temperature(2.718)),
        formula="n = (pi^2 w0^2 / 8)(b/a + a/b) / (2 pi r^2 (alpha dT - e sy/E)), e = 2.718",
        source=f"{panel.SOURCE}; {spot.SOURCE}",
    ),
    Rule(
        name="area bookkeeping",
        quantity="dishing",
        unit="mm",
        needs=(*PANEL, "spot_count"),
        estimate=_dishing_left,
        conditions=(thin_for_spot, constant_yield, above_yield_temperature(2.718)),
        formula="w = w0 sqrt(1 - n dA / excess); 0 when all is taken off",
        source=f"{panel.SOURCE}; {spot.SOURCE}",
    ),
)
