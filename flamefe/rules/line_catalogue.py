"""Rules for line heats: across the line on plates, along it on plates and bars."""

import math

from flamefe.rules import line, tendon
from flamefe.rules.conditions import (
    above_yield_temperature,
    carbon_steel,
    fast_source,
    flame_inside_strip,
    flame_small_against_thickness,
    heat_stays_in_upper_half,
    heated_through,
    long_line,
    narrow_strip,
    strip_on_part,
)
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.rule import Estimate, Rule, known

LINE = ("heat_per_length", "thickness")
MEANS = ("expansion", "volumetric_heat")
TENDON = (*LINE, *MEANS, "youngs_modulus", "width", "length")
TENDON_CONDITIONS = (
    heated_through,
    strip_on_part,
    narrow_strip,
    long_line,
    fast_source,
    flame_inside_strip,
)
FAR_ABOVE_YIELD = 2.0
SHRINKAGE = "developed width shrinkage at mid length"
CHORD_SHRINKAGE = "transverse shrinkage at mid length"
ANGLE = "angular change at mid length"


def _heat_and_means(inputs: RuleInputs) -> tuple[float, float, float, float]:
    heat, thickness = (known(inputs, name) for name in LINE)
    expansion, volumetric_heat = (known(inputs, name) for name in MEANS)
    return heat, thickness, expansion, volumetric_heat


def _for_bounds(inputs: RuleInputs) -> tuple[float, float, float, float]:
    """As `_heat_and_means`, with the greatest expansion that the heat can give."""
    heat, thickness, expansion, volumetric_heat = _heat_and_means(inputs)
    if inputs.greatest_expansion_per_heat is not None:
        expansion = inputs.greatest_expansion_per_heat * volumetric_heat
    return heat, thickness, expansion, volumetric_heat


def _energy_bound(inputs: RuleInputs) -> Estimate:
    bound = 1e3 * line.greatest_transverse_shrinkage(*_for_bounds(inputs))
    return Estimate(value=bound, upper=bound)


def _face_bound(inputs: RuleInputs) -> Estimate:
    bound = math.degrees(line.greatest_angular_change(*_for_bounds(inputs)))
    return Estimate(value=bound, upper=bound)


def _two_layers(inputs: RuleInputs) -> Estimate:
    return Estimate(value=math.degrees(line.two_layer_angular_change(*_heat_and_means(inputs))))


def _satoh_terasaki(inputs: RuleInputs) -> Estimate:
    heat, thickness = (known(inputs, name) for name in LINE)
    return Estimate(value=1e3 * line.satoh_terasaki_shrinkage(heat, thickness))


def _force(inputs: RuleInputs) -> float:
    heat, _, expansion, volumetric_heat = _heat_and_means(inputs)
    stiffness = known(inputs, "youngs_modulus")
    return tendon.tendon_force(heat, expansion, volumetric_heat, stiffness)


def _heated_length(inputs: RuleInputs) -> float:
    return inputs.heated_length or known(inputs, "length")


def _centroid_shortening(inputs: RuleInputs) -> float:
    """Shortening at the centroid by the tendon, mm."""
    area = known(inputs, "width") * known(inputs, "thickness")
    stiffness = known(inputs, "youngs_modulus")
    return 1e3 * tendon.tendon_shortening(_force(inputs), _heated_length(inputs), stiffness, area)


def _shortening(inputs: RuleInputs) -> Estimate:
    return Estimate(value=_centroid_shortening(inputs))


def _near_edge(inputs: RuleInputs) -> Estimate:
    offset = (inputs.line_offset or 0.0) / known(inputs, "width")
    return Estimate(value=_centroid_shortening(inputs) * (1 - 6 * offset))


def _camber(inputs: RuleInputs) -> Estimate:
    width = known(inputs, "width")
    second_moment = known(inputs, "thickness") * width**3 / 12
    curvature = tendon.tendon_curvature(
        _force(inputs),
        known(inputs, "line_offset"),
        known(inputs, "youngs_modulus"),
        second_moment,
    )
    bow = tendon.sag(curvature, _heated_length(inputs), known(inputs, "length"))
    return Estimate(value=-1e3 * bow + 0.0)


LINE_RULES: tuple[Rule, ...] = (
    Rule(
        name="all heat upset",
        quantity=SHRINKAGE,
        small_quantity=CHORD_SHRINKAGE,
        unit="mm",
        part="plate",
        needs=(*LINE, *MEANS),
        estimate=_energy_bound,
        formula="S_max = alpha q' / (rho c h), upper bound of one pass",
        source=line.ENERGY_SOURCE,
    ),
    Rule(
        name="all heat upset at the face",
        quantity=ANGLE,
        unit="deg",
        part="plate",
        needs=(*LINE, *MEANS),
        estimate=_face_bound,
        formula="theta_max = 6 alpha q' / (rho c h^2), upper bound of one pass",
        source=line.ENERGY_SOURCE,
    ),
    Rule(
        name="two layers",
        quantity=ANGLE,
        unit="deg",
        part="plate",
        needs=(*LINE, *MEANS),
        estimate=_two_layers,
        conditions=(heat_stays_in_upper_half, above_yield_temperature(FAR_ABOVE_YIELD)),
        formula="theta = 3 alpha q' / (rho c h^2)",
        source=line.TWO_LAYER_SOURCE,
    ),
    Rule(
        name="Satoh and Terasaki",
        quantity=SHRINKAGE,
        small_quantity=CHORD_SHRINKAGE,
        unit="mm",
        part="plate",
        needs=LINE,
        estimate=_satoh_terasaki,
        conditions=(carbon_steel, flame_small_against_thickness),
        formula="S/h = 1.85e-4 x^2 up to x = q'/h^2 = 6.27 J/mm3, 1.16e-3 x above",
        source=line.SATOH_TERASAKI_SOURCE,
    ),
    Rule(
        name="tendon force",
        quantity="longitudinal shrinkage of the near edge",
        unit="mm",
        part="plate",
        needs=TENDON,
        estimate=_near_edge,
        conditions=TENDON_CONDITIONS,
        formula="F = 0.33544 E alpha q' / (rho c); dL = F L / (E A) (1 - 6 y/w), y from mid-width",
        source=tendon.SOURCE,
    ),
    Rule(
        name="tendon force",
        quantity="shortening",
        unit="mm",
        part="bar",
        needs=TENDON,
        estimate=_shortening,
        conditions=TENDON_CONDITIONS,
        formula="F = 0.33544 E alpha q' / (rho c); dL = F L / (E A)",
        source=tendon.SOURCE,
    ),
    Rule(
        name="tendon force",
        quantity="camber",
        unit="mm",
        part="bar",
        needs=(*TENDON, "line_offset"),
        estimate=_camber,
        conditions=TENDON_CONDITIONS,
        formula="F = 0.33544 E alpha q' / (rho c); f = -F e / (E I) Lh (2 L - Lh) / 8",
        source=tendon.SOURCE,
    ),
)
