"""When rules hold: each condition gives a reason in words, or None.

Limits that are no published ones are chosen here, and say so beside them.
"""

import math

from flamefe.rules.bar import yield_temperature_rise
from flamefe.rules.barcycle import COLD_C
from flamefe.rules.inputs import RuleInputs
from flamefe.rules.rule import Condition
from flamefe.rules.tendon import yielding_half_width
from flamefe.rules.wedge import CURVES_FROM_C, CURVES_TO_C, GREATEST_MOMENT_RATIO

SPEED_PARAMETER = 2.0
"""v b / (2 D) above which an instantaneous source is within 5 % of a moving one (derived)."""

NARROW = 0.25
"""Greatest share of the width that the yielding strip may take (chosen here)."""

ON_EDGE = 0.001
"""Share of the width within which a line lies on the edge."""

WEAKENED = 0.8
"""Share of the cold yield stress below which it isn't constant any more (chosen here)."""


def unknown(what: str) -> str:
    """Reason for a condition that can't be checked.

    Examples:
        >>> unknown("the peak temperature")
        "the peak temperature isn't known, so this can't be checked"
    """
    return f"{what} isn't known, so this can't be checked"


def carbon_steel(inputs: RuleInputs) -> str | None:
    """The rule was fitted to carbon steel."""
    if inputs.family == "carbon steel":
        return None
    return f"made for carbon steel, the material is {inputs.family or 'not known'}"


def above_yield_temperature(factor: float) -> Condition:
    """The peak rise is at least ``factor`` times the rise at which a held bar first yields."""

    def check(inputs: RuleInputs) -> str | None:
        yield_stress, stiffness = inputs.yield_stress, inputs.youngs_modulus
        if not (inputs.peak_C and yield_stress and stiffness and inputs.expansion):
            return unknown("the peak temperature against first yield")
        first = yield_temperature_rise(
            yield_stress, stiffness, inputs.expansion, inputs.restraint or 1.0
        )
        if inputs.peak_C - COLD_C >= factor * first:
            return None
        return (
            f"the peak of {inputs.peak_C:.0f} C is less than {factor:g} times the rise of "
            f"{first:.0f} K at which held metal first yields"
        )

    return check


def heat_stays_in_upper_half(inputs: RuleInputs) -> str | None:
    """While the flame passes (2 R / v) heat goes no deeper than sqrt(D t) = h / 2 (chosen)."""
    if not (inputs.flame_radius and inputs.speed and inputs.diffusivity and inputs.thickness):
        return unknown("how deep the heat goes (flame radius, speed, diffusivity)")
    depth = math.sqrt(inputs.diffusivity * 2 * inputs.flame_radius / inputs.speed)
    if depth <= 0.5 * inputs.thickness:
        return None
    return (
        f"the plate is too thin for this flame and speed: heat goes {1e3 * depth:.1f} mm deep "
        f"while the flame passes, more than half the thickness of {1e3 * inputs.thickness:g} mm"
    )


def flame_small_against_thickness(inputs: RuleInputs) -> str | None:
    """The source is concentrated: flame radius no more than the thickness (chosen)."""
    if not (inputs.flame_radius and inputs.thickness):
        return unknown("the flame radius against the thickness")
    if inputs.flame_radius <= inputs.thickness:
        return None
    return (
        f"made for a concentrated source: the flame radius of {1e3 * inputs.flame_radius:g} mm "
        f"isn't small against the thickness of {1e3 * inputs.thickness:g} mm"
    )


def _half_width(inputs: RuleInputs) -> float | None:
    i = inputs
    if not (i.heat_per_length and i.expansion and i.volumetric_heat and i.thickness):
        return None
    if not (i.youngs_modulus and i.yield_stress):
        return None
    return yielding_half_width(
        i.heat_per_length,
        i.expansion,
        i.volumetric_heat,
        i.youngs_modulus,
        i.yield_stress,
        i.thickness,
    )


def heated_through(inputs: RuleInputs) -> str | None:
    """The yielding strip is wide against the thickness: b >= h (chosen)."""
    half = _half_width(inputs)
    if not (half and inputs.thickness):
        return unknown("the width of the yielding strip")
    if half >= inputs.thickness:
        return None
    return (
        f"the plate isn't thin: the strip that yields is {1e3 * half:.0f} mm to each side, less "
        f"than the thickness of {1e3 * inputs.thickness:g} mm"
    )


def narrow_strip(inputs: RuleInputs) -> str | None:
    """The yielding strip, 2 b, takes no more than a quarter of the width."""
    half = _half_width(inputs)
    if half is None or inputs.width is None:
        return unknown("the yielding strip against the width")
    if 2 * half <= NARROW * inputs.width:
        return None
    return (
        f"the part is slender: the strip that would yield, {2e3 * half:.0f} mm, takes more than "
        f"{100 * NARROW:.0f} % of the width of {1e3 * inputs.width:g} mm, so the part gives way"
    )


def strip_on_part(inputs: RuleInputs) -> str | None:
    """The yielding strip lies on the part on both sides of the line, or the line on its edge.

    A line along the very edge is half of a line in the middle of a plate twice as wide: the heat
    flows to one side only, the strip is 2 b wide, and the force is the same.
    """
    half = _half_width(inputs)
    if half is None or inputs.width is None:
        return unknown("the place of the yielding strip")
    space = max(0.5 * inputs.width - abs(inputs.line_offset or 0.0), 0.0)
    if half <= space or space <= ON_EDGE * inputs.width:
        return None
    return (
        f"the line runs {1e3 * space:.0f} mm from an edge and the strip that would yield reaches "
        f"{1e3 * half:.0f} mm, so heat builds up at the edge"
    )


LONG = 2.0
"""Least length of a line, by the width of the part, at which its ends don't count (chosen here:
stress settles within about one width, by the principle of Saint-Venant)."""


def long_line(inputs: RuleInputs) -> str | None:
    """The line is long against the width, so that sections stay plane over most of it."""
    heated = inputs.heated_length or inputs.length
    if heated is None or inputs.width is None:
        return unknown("the length of the line against the width")
    if heated >= LONG * inputs.width * (1 - 1e-9):
        return None
    return (
        f"the line of {1e3 * heated:.0f} mm is less than {LONG:g} times as long as the part is "
        f"wide ({1e3 * inputs.width:.0f} mm), so its ends count"
    )


def fast_source(inputs: RuleInputs) -> str | None:
    """The line passes fast against diffusion: v b / (2 D) >= 2."""
    half = _half_width(inputs)
    if half is None or not (inputs.speed and inputs.diffusivity):
        return unknown("the speed parameter")
    parameter = inputs.speed * half / (2 * inputs.diffusivity)
    if parameter >= SPEED_PARAMETER:
        return None
    return (
        f"the flame is slow: v b / (2 D) is {parameter:.2g}, below {SPEED_PARAMETER:g}, so heat "
        "runs ahead of it"
    )


def flame_inside_strip(inputs: RuleInputs) -> str | None:
    """The flame radius is smaller than half the yielding strip (chosen)."""
    half = _half_width(inputs)
    if half is None or inputs.flame_radius is None:
        return unknown("the flame radius against the yielding strip")
    if inputs.flame_radius <= half:
        return None
    return (
        f"the flame radius of {1e3 * inputs.flame_radius:g} mm is wider than the strip that "
        f"yields, {1e3 * half:.0f} mm to each side, so the source isn't a line"
    )


def constant_yield(inputs: RuleInputs) -> str | None:
    """The yield stress at the peak is at least 80 % of the cold one."""
    if not (inputs.hot_yield_stress and inputs.yield_stress):
        return unknown("the yield stress at the peak")
    share = inputs.hot_yield_stress / inputs.yield_stress
    if share >= WEAKENED:
        return None
    return f"the yield stress isn't constant: at the peak it is {100 * share:.0f} % of the cold one"


def upset_curves(inputs: RuleInputs) -> str | None:
    """The peak lies within the upset curves."""
    if inputs.peak_C is None:
        return unknown("the peak temperature")
    if CURVES_FROM_C <= inputs.peak_C <= CURVES_TO_C:
        return None
    return (
        f"the peak of {inputs.peak_C:.0f} C lies outside the rule's {CURVES_FROM_C:.0f} to "
        f"{CURVES_TO_C:.0f} C"
    )


def usual_wedge(inputs: RuleInputs) -> str | None:
    """Angle, depth and moment within what the published heats covered."""
    reasons = []
    degrees = math.degrees(inputs.wedge_angle or 0.0)
    if not 20 - 1e-6 <= degrees <= 82 + 1e-6:
        reasons.append(f"the wedge opens by {degrees:.0f} degrees, outside 20 to 82")
    if not (inputs.wedge_depth and inputs.width):
        reasons.append(unknown("the depth of the wedge"))
    elif inputs.wedge_depth < 0.5 * inputs.width:
        reasons.append("the wedge is less than half the bar's depth")
    if not 0 <= inputs.wedge_moment_ratio <= GREATEST_MOMENT_RATIO:
        reasons.append(
            f"the moment ratio is {inputs.wedge_moment_ratio:g}, outside 0 to "
            f"{GREATEST_MOMENT_RATIO:g}"
        )
    return "; ".join(reasons) or None


WIDEST_WEDGE = math.radians(90.0)
"""Opening above which sections near a wedge can't stay plane (chosen here)."""


def wedge_on_bar(inputs: RuleInputs) -> str | None:
    """The wedge is no deeper than the bar, and narrow enough to be a wedge."""
    reasons = []
    if inputs.wedge_angle and inputs.wedge_angle > WIDEST_WEDGE + 1e-9:
        reasons.append(
            f"the wedge opens by {math.degrees(inputs.wedge_angle):.0f} degrees, more than 90"
        )
    if inputs.wedge_depth and inputs.width and inputs.wedge_depth > inputs.width * (1 + 1e-9):
        reasons.append(
            f"the wedge of {1e3 * inputs.wedge_depth:g} mm is deeper than the bar of "
            f"{1e3 * inputs.width:g} mm"
        )
    return "; ".join(reasons) or None


def wedge_driven_to_base(inputs: RuleInputs) -> str | None:
    """The flame went from the apex to the base."""
    if inputs.wedge_driven is None:
        return unknown("whether the flame went from apex to base")
    return None if inputs.wedge_driven else "the wedge was hot all at once, not from apex to base"


def only_own_restraint(inputs: RuleInputs) -> str | None:
    """No jack adds to the rotation."""
    if inputs.wedge_moment_ratio == 0:
        return None
    return "jacks bend the part as well, so this isn't a bound"


def thin_for_spot(inputs: RuleInputs) -> str | None:
    """The spot is wide against the thickness: a >= 2 h (chosen)."""
    if not (inputs.spot_radius and inputs.thickness):
        return unknown("the spot against the thickness")
    if inputs.spot_radius >= 2 * inputs.thickness:
        return None
    return (
        f"the plate isn't thin: the spot's radius of {1e3 * inputs.spot_radius:g} mm is less than "
        f"twice the thickness of {1e3 * inputs.thickness:g} mm"
    )
