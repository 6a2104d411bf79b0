"""Numbers without unit on which the effect of a heat depends beyond a rule's own formula."""

import math

from flamefe.rules.barcycle import COLD_C
from flamefe.rules.form import Group
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.line import heat_parameter
from flamefe.rules.rule import known
from flamefe.rules.tendon import yielding_half_width

STRIP = (
    "heat_per_length",
    "expansion",
    "volumetric_heat",
    "youngs_modulus",
    "yield_stress",
    "thickness",
)


def _heat(inputs: RuleInputs) -> float:
    return heat_parameter(known(inputs, "heat_per_length"), known(inputs, "thickness"))


def _depth(inputs: RuleInputs) -> float:
    spread = known(inputs, "diffusivity") * 2 * known(inputs, "flame_radius")
    return math.sqrt(spread / known(inputs, "speed")) / known(inputs, "thickness")


def _flame(inputs: RuleInputs) -> float:
    return known(inputs, "flame_radius") / known(inputs, "thickness")


def _half_width(inputs: RuleInputs) -> float:
    heat, expansion, volumetric, young, strength, thickness = (known(inputs, n) for n in STRIP)
    return yielding_half_width(heat, expansion, volumetric, young, strength, thickness)


def _strip(inputs: RuleInputs) -> float:
    return 2 * _half_width(inputs) / known(inputs, "width")


def _haste(inputs: RuleInputs) -> float:
    return known(inputs, "speed") * _half_width(inputs) / (2 * known(inputs, "diffusivity"))


def _ratio(inputs: RuleInputs) -> float:
    stiffness, strength = known(inputs, "youngs_modulus"), known(inputs, "yield_stress")
    rise = known(inputs, "peak_C") - COLD_C
    return stiffness * known(inputs, "expansion") * rise / strength


def _elastic_share(inputs: RuleInputs) -> float:
    return 1 / _ratio(inputs)


def _surface_rise(inputs: RuleInputs) -> float:
    """Of a surface under an even flux P / (pi R^2) for the time 2 R / v, endless depth, K."""
    speed, radius = known(inputs, "speed"), known(inputs, "flame_radius")
    flux = known(inputs, "heat_per_length") * speed / (math.pi * radius**2)
    spread = math.sqrt(2 * radius / (math.pi * speed * known(inputs, "diffusivity")))
    return 2 * flux * spread / known(inputs, "volumetric_heat")


def _elastic_share_estimated(inputs: RuleInputs) -> float:
    stiffness, strength = known(inputs, "youngs_modulus"), known(inputs, "yield_stress")
    return strength / (stiffness * known(inputs, "expansion") * _surface_rise(inputs))


def _opening(inputs: RuleInputs) -> float:
    return known(inputs, "wedge_angle") / math.radians(45)


def _share_of_depth(inputs: RuleInputs) -> float:
    return known(inputs, "wedge_depth") / known(inputs, "width")


def _peak_rise(inputs: RuleInputs) -> float:
    return (known(inputs, "peak_C") - 20.0) / 630.0


def _moment(inputs: RuleInputs) -> float:
    return inputs.wedge_moment_ratio


def _spot(inputs: RuleInputs) -> float:
    return known(inputs, "spot_radius") / known(inputs, "thickness")


_STRIP_MM = (
    "0.48394 * heat_per_length_J_mm * expansion_um_mK * youngs_modulus_GPa / "
    "(volumetric_heat_J_cm3K * thickness_mm * yield_stress_MPa)"
)

HEAT = Group(
    name="heat by thickness squared, J/mm3",
    expression="heat_per_length_J_mm / thickness_mm^2",
    needs=("heat_per_length", "thickness"),
    value=_heat,
)
DEPTH = Group(
    name="depth that heat goes while the flame passes, by thickness",
    expression="sqrt(2 * diffusivity_mm2_s * flame_radius_mm / speed_mm_s) / thickness_mm",
    needs=("diffusivity", "flame_radius", "speed", "thickness"),
    value=_depth,
)
FLAME = Group(
    name="flame radius by thickness",
    expression="flame_radius_mm / thickness_mm",
    needs=("flame_radius", "thickness"),
    value=_flame,
)
STRIP_SHARE = Group(
    name="yielding strip by width",
    expression=f"{_STRIP_MM} / width_mm",
    needs=(*STRIP, "width"),
    value=_strip,
)
HASTE = Group(
    name="speed parameter v b / (2 D)",
    expression=f"speed_mm_s * {_STRIP_MM} / (4 * diffusivity_mm2_s)",
    needs=(*STRIP, "speed", "diffusivity"),
    value=_haste,
)
HEAT_RATIO = Group(
    name="heat ratio E alpha dT / sy",
    expression="1e-3 * youngs_modulus_GPa * expansion_um_mK * (peak_C - 20) / yield_stress_MPa",
    needs=("youngs_modulus", "expansion", "peak_C", "yield_stress"),
    value=_ratio,
)
ELASTIC = Group(
    name="rise of first yield by the peak's, sy / (E alpha dT)",
    expression="1000 * yield_stress_MPa / (youngs_modulus_GPa * expansion_um_mK * (peak_C - 20))",
    needs=("youngs_modulus", "expansion", "peak_C", "yield_stress"),
    value=_elastic_share,
)
ELASTIC_ESTIMATED = Group(
    name="rise of first yield by the one estimated under the flame",
    expression=(
        "1000 * yield_stress_MPa * pi * flame_radius_mm^2 * volumetric_heat_J_cm3K / "
        "(youngs_modulus_GPa * expansion_um_mK * 2 * heat_per_length_J_mm * speed_mm_s * 1e3 * "
        "sqrt(2 * flame_radius_mm / (pi * speed_mm_s * diffusivity_mm2_s)))"
    ),
    needs=(
        "youngs_modulus",
        "expansion",
        "yield_stress",
        "heat_per_length",
        "speed",
        "flame_radius",
        "diffusivity",
        "volumetric_heat",
    ),
    value=_elastic_share_estimated,
)
OPENING = Group(
    name="opening of the wedge by 45 degrees",
    expression="wedge_angle_deg / 45",
    needs=("wedge_angle",),
    value=_opening,
)
WEDGE_DEPTH = Group(
    name="depth of the wedge by depth of the bar",
    expression="wedge_depth_mm / width_mm",
    needs=("wedge_depth", "width"),
    value=_share_of_depth,
)
PEAK_RISE = Group(
    name="rise of the peak by that to 650 C",
    expression="(peak_C - 20) / 630",
    needs=("peak_C",),
    value=_peak_rise,
)
MOMENT = Group(
    name="moment of jacks by the plastic moment",
    expression="wedge_moment_ratio",
    needs=(),
    value=_moment,
)
SPOT_SIZE = Group(
    name="spot radius by thickness",
    expression="spot_radius_mm / thickness_mm",
    needs=("spot_radius", "thickness"),
    value=_spot,
)
