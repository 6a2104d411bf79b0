"""Rules for a bar against a spring and for the frame of three bars."""

from flamefe.rules import bar, frame
from flamefe.rules.barcycle import COLD_C
from flamefe.rules.conditions import constant_yield
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.rule import Estimate, Rule, known

MATERIAL = ("yield_stress", "youngs_modulus", "expansion")
SPRING = ("peak_C", "spring_stiffness", "section_area", "length", *MATERIAL)
FRAME = ("peak_C", "side_area", "section_area", *MATERIAL)


def _constants(inputs: RuleInputs) -> tuple[float, float, float, float]:
    rise = max(known(inputs, "peak_C") - COLD_C, 0.0)
    strength, stiffness, expansion = (known(inputs, name) for name in MATERIAL)
    return rise, strength, stiffness, expansion


def _behind_spring(inputs: RuleInputs) -> float:
    return frame.restraint_behind_cold_metal(
        known(inputs, "spring_stiffness"),
        known(inputs, "section_area"),
        known(inputs, "youngs_modulus"),
        known(inputs, "length"),
        inputs.heated_length,
    )


def _spring_tension(inputs: RuleInputs) -> Estimate:
    if inputs.one_sided:
        return Estimate(value=0.0)
    restraint = _behind_spring(inputs)
    return Estimate(value=1e-6 * bar.residual_bar_stress(*_constants(inputs), restraint))


def _spring_shortening(inputs: RuleInputs) -> Estimate:
    heated = inputs.heated_length or known(inputs, "length")
    upset = bar.upset_when_hot if inputs.one_sided else bar.upset_when_cold
    return Estimate(value=1e3 * heated * upset(*_constants(inputs), _behind_spring(inputs)))


def _areas(inputs: RuleInputs) -> tuple[float, float]:
    return known(inputs, "side_area"), known(inputs, "section_area")


def _frame_tension(inputs: RuleInputs) -> Estimate:
    return Estimate(value=1e-6 * frame.frame_tension(*_constants(inputs), *_areas(inputs)))


def _frame_shortening(inputs: RuleInputs) -> Estimate:
    length = known(inputs, "length")
    value = frame.frame_shortening(length, *_constants(inputs), *_areas(inputs))
    return Estimate(value=1e3 * value)


def _sides_stay_elastic(inputs: RuleInputs) -> str | None:
    """Two side bars together are at least as strong as the middle one."""
    side, middle = _areas(inputs)
    if 2 * side >= middle:
        return None
    return (
        f"the side bars, {1e6 * side:g} mm2 each, yield before the middle one of "
        f"{1e6 * middle:g} mm2 does"
    )


FRAME_RULES: tuple[Rule, ...] = (
    Rule(
        name="bar against a spring",
        quantity="largest tension along x",
        unit="MPa",
        part="bar",
        needs=SPRING,
        estimate=_spring_tension,
        conditions=(constant_yield,),
        formula="min(sy, b E alpha dT - sy), b = ks' / (ks' + E A/Lh), "
        "1/ks' = 1/ks + (L - Lh)/(E A); 0 when only expansion is stopped",
        source=f"{bar.SOURCE}; spring and cold metal in series: derived",
    ),
    Rule(
        name="bar against a spring",
        quantity="shortening",
        unit="mm",
        part="bar",
        needs=SPRING,
        estimate=_spring_shortening,
        conditions=(constant_yield,),
        formula="Lh min(alpha dT - sy/(b E), sy/(b E)) once released; "
        "Lh (alpha dT - sy/(b E)) when only expansion is stopped",
        source=f"{bar.SOURCE}; spring and cold metal in series: derived",
    ),
    Rule(
        name="three-bar frame",
        quantity="largest tension along x",
        unit="MPa",
        needs=FRAME,
        estimate=_frame_tension,
        conditions=(constant_yield, _sides_stay_elastic),
        formula="min(sy, b E alpha dT - sy), b = 2 A2 / (2 A2 + A1)",
        source=frame.SOURCE,
    ),
    Rule(
        name="three-bar frame",
        quantity="shortening",
        unit="mm",
        needs=(*FRAME, "length"),
        estimate=_frame_shortening,
        conditions=(constant_yield, _sides_stay_elastic),
        formula="L s A1 / (2 A2 E), s the tension of the middle bar",
        source=frame.SOURCE,
    ),
)
