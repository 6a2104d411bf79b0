"""Rules for bars heated over their whole section between restraints."""

from flamefe.rules import bar, barcycle
from flamefe.rules.barcycle import COLD_C
from flamefe.rules.conditions import constant_yield
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.rule import Estimate, Rule, known

MATERIAL = ("yield_stress", "youngs_modulus", "expansion")


def _constants(inputs: RuleInputs) -> tuple[float, float, float, float, float]:
    rise = max(known(inputs, "peak_C") - COLD_C, 0.0)
    strength, stiffness, expansion = (known(inputs, name) for name in MATERIAL)
    return rise, strength, stiffness, expansion, known(inputs, "restraint")


def _stress(inputs: RuleInputs) -> Estimate:
    if inputs.one_sided:
        return Estimate(value=0.0)
    return Estimate(value=1e-6 * bar.residual_bar_stress(*_constants(inputs)))


def _shortening(inputs: RuleInputs) -> Estimate:
    upset = bar.upset_when_hot if inputs.one_sided else bar.upset_when_cold
    return Estimate(value=1e3 * known(inputs, "heated_length") * upset(*_constants(inputs)))


def _table_stress(inputs: RuleInputs) -> Estimate:
    cycle = inputs.bar_cycle
    return Estimate(value=1e-6 * cycle.residual_stress if cycle else 0.0)


def _table_shortening(inputs: RuleInputs) -> Estimate:
    cycle = inputs.bar_cycle
    strain = cycle.plastic_strain if cycle else 0.0
    return Estimate(value=-1e3 * known(inputs, "heated_length") * strain + 0.0)


BAR_RULES: tuple[Rule, ...] = (
    Rule(
        name="restrained bar, constant properties",
        quantity="largest tension along x",
        unit="MPa",
        part="bar",
        needs=("peak_C", "restraint", *MATERIAL),
        estimate=_stress,
        conditions=(constant_yield,),
        formula="min(sy, b E alpha dT - sy); 0 when only expansion is stopped",
        source=bar.SOURCE,
    ),
    Rule(
        name="restrained bar, constant properties",
        quantity="shortening",
        unit="mm",
        part="bar",
        needs=("peak_C", "restraint", "heated_length", *MATERIAL),
        estimate=_shortening,
        conditions=(constant_yield,),
        formula="L min(alpha dT - sy/(b E), sy/(b E)) once released; "
        "L (alpha dT - sy/(b E)) when only expansion is stopped",
        source=bar.SOURCE,
    ),
    Rule(
        name="restrained bar, tables",
        quantity="largest tension along x",
        unit="MPa",
        part="bar",
        needs=("peak_C", "bar_cycle"),
        estimate=_table_stress,
        formula="stress = -(e_th(T) + e_p) / (1/E(T) + k), within sy(T), up to the peak and back",
        source=barcycle.SOURCE,
    ),
    Rule(
        name="restrained bar, tables",
        quantity="shortening",
        unit="mm",
        part="bar",
        needs=("peak_C", "bar_cycle", "heated_length"),
        estimate=_table_shortening,
        formula="L times the plastic strain left by the cycle, once released",
        source=barcycle.SOURCE,
    ),
)
