"""Rules for wedge heats on bars, and for spot heats."""

from flamefe.rules import spot, wedge
from flamefe.rules.barcycle import COLD_C
from flamefe.rules.conditions import (
    above_yield_temperature,
    carbon_steel,
    constant_yield,
    only_own_restraint,
    thin_for_spot,
    upset_curves,
    usual_wedge,
    wedge_driven_to_base,
    wedge_on_bar,
)
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.rule import Condition, Estimate, Rule, known

SCATTER = 2.0
"""Factor to both sides of the published mean that single heats scatter over (order of magnitude,
from memory)."""

REVERSE_RATIO = 2.0
MATERIAL = ("yield_stress", "youngs_modulus", "expansion")


def _towards_base(inputs: RuleInputs, rotation: float, *, spread: float | None) -> Estimate:
    """Rotation in mrad, positive when the far side closes; bounds by ``spread`` or as a bound."""
    value = 1e3 * rotation
    low = None if spread is None else value / spread
    high = value if spread is None else value * spread
    if inputs.wedge_base == "near":
        return Estimate(
            value=0.0 - value, lower=0.0 - high, upper=None if low is None else 0.0 - low
        )
    return Estimate(value=value, lower=low, upper=high)


def _published(inputs: RuleInputs) -> Estimate:
    upset = wedge.us_steel_upset_strain(
        known(inputs, "peak_C"), known(inputs, "yield_stress"), known(inputs, "youngs_modulus")
    )
    angle = known(inputs, "wedge_angle")
    rotation = wedge.published_mean_rotation(angle, upset, inputs.wedge_moment_ratio)
    return _towards_base(inputs, rotation, spread=SCATTER)


def _confined(inputs: RuleInputs) -> Estimate:
    rotation = wedge.confined_rotation(known(inputs, "wedge_angle"), known(inputs, "held_upset"))
    return _towards_base(inputs, rotation, spread=None)


def _depth_ratio(inputs: RuleInputs) -> float:
    return min(known(inputs, "wedge_depth") / known(inputs, "width"), 1.0)


def _plane_rotation(inputs: RuleInputs) -> Estimate:
    rotation = wedge.plane_section_rotation(
        known(inputs, "wedge_angle"), known(inputs, "held_upset"), _depth_ratio(inputs)
    )
    return _towards_base(inputs, rotation, spread=None)


def _plane_shortening(inputs: RuleInputs) -> Estimate:
    value = 1e3 * wedge.plane_section_shortening(
        known(inputs, "wedge_angle"),
        known(inputs, "held_upset"),
        _depth_ratio(inputs),
        known(inputs, "width"),
    )
    return Estimate(value=value, upper=value)


def _spot_material(inputs: RuleInputs) -> tuple[float, float, float, float]:
    rise = max(known(inputs, "peak_C") - COLD_C, 1e-9)
    strength, stiffness, expansion = (known(inputs, name) for name in MATERIAL)
    return rise, strength, stiffness, expansion


def _spot_area(inputs: RuleInputs) -> Estimate:
    upset = spot.spot_upset(*_spot_material(inputs))
    return Estimate(value=1e6 * spot.spot_area_loss(known(inputs, "spot_radius"), upset))


def _spot_tension(inputs: RuleInputs) -> Estimate:
    """Up to m = 2 exact; above, the elastic return cut at the yield stress, too high."""
    ratio = spot.heat_ratio(*_spot_material(inputs))
    strength = known(inputs, "yield_stress")
    if ratio <= REVERSE_RATIO:
        return Estimate(value=1e-6 * spot.residual_spot_stress(ratio, strength))
    left = 0.5 * ratio * strength - spot.hot_spot_pressure(ratio, strength)
    value = 1e-6 * min(strength, left)
    return Estimate(value=value, upper=value)


def _elastic_cooling(inputs: RuleInputs) -> str | None:
    ratio = spot.heat_ratio(*_spot_material(inputs))
    if ratio <= REVERSE_RATIO:
        return None
    return (
        f"the heat ratio E alpha dT / sy is {ratio:.2g}, above {REVERSE_RATIO:g}: the ring yields "
        "again as it cools"
    )


HELD_CONDITIONS: tuple[Condition, ...] = (
    above_yield_temperature(1.0), only_own_restraint, wedge_on_bar,
)  # fmt: skip

WEDGE_RULES: tuple[Rule, ...] = (
    Rule(
        name="published mean of wedge heats",
        quantity="closing rotation",
        unit="mrad",
        part="bar",
        needs=("wedge_angle", "peak_C", "yield_stress", "youngs_modulus"),
        estimate=_published,
        conditions=(carbon_steel, upset_curves, usual_wedge, wedge_driven_to_base, wedge_on_bar),
        formula="phi = (0.6 + 2 Mj/Mp) 2 e_p sin(t/3); band: single heats scatter by a factor of "
        "about 2",
        source=f"{wedge.PUBLISHED_SOURCE}; {wedge.CURVES_SOURCE}",
    ),
    Rule(
        name="perfect confinement",
        quantity="closing rotation",
        unit="mrad",
        part="bar",
        needs=("wedge_angle", "held_upset"),
        estimate=_confined,
        conditions=HELD_CONDITIONS,
        formula="phi_max = 2 e_p tan(t/2), e_p = e_th - sy/E at the peak",
        source=wedge.CONFINED_SOURCE,
    ),
    Rule(
        name="plane sections",
        quantity="closing rotation",
        unit="mrad",
        part="bar",
        needs=("wedge_angle", "wedge_depth", "width", "held_upset"),
        estimate=_plane_rotation,
        conditions=HELD_CONDITIONS,
        formula="phi = e_p tan(t/2) (6 r^2 - 4 r^3), r = depth of the wedge by depth of the bar",
        source=wedge.PLANE_SOURCE,
    ),
    Rule(
        name="plane sections",
        quantity="shortening",
        unit="mm",
        part="bar",
        needs=("wedge_angle", "wedge_depth", "width", "held_upset"),
        estimate=_plane_shortening,
        conditions=HELD_CONDITIONS,
        formula="d = e_p tan(t/2) r^2 W",
        source=wedge.PLANE_SOURCE,
    ),
)

SPOT_RULES: tuple[Rule, ...] = (
    Rule(
        name="hot spot",
        quantity="loss of area",
        unit="mm2",
        needs=("spot_radius", "peak_C", *MATERIAL),
        estimate=_spot_area,
        conditions=(thin_for_spot, constant_yield),
        formula="dA = 2 pi a^2 (alpha dT - e sy/E), e = 2.718; never below 0",
        source=f"{spot.SOURCE}; {spot.BOOKKEEPING_SOURCE}",
    ),
    Rule(
        name="hot spot",
        quantity="residual tension in the spot",
        unit="MPa",
        needs=("spot_radius", "peak_C", *MATERIAL),
        estimate=_spot_tension,
        conditions=(thin_for_spot, constant_yield, _elastic_cooling),
        formula="m sy/2 - p, p = (sy/2)(1 + ln m) up to sy, m = E alpha dT / sy; 0 below m = 1, "
        "sy at most",
        source=spot.SOURCE,
    ),
)
