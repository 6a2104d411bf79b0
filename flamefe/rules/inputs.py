"""What the rules are fed with: numbers about the part, its material and the heat, no mesh."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from flamefe.basics.errors import OutOfRange
from flamefe.rules.bar import three_bar_restraint
from flamefe.rules.barcycle import COLD_C, BarCycle, restrained_bar_cycle
from flamefe.rules.frame import restraint_behind_cold_metal
from flamefe.workpiece.material import Material

MEAN_TO_C = 600.0

NEARLY = 1 + 1e-6
LARGEST_ROTATION = 0.2
"""Rotation of one heat above which it is a mistake, rad (chosen here)."""

ANY_SIGN = ("wedge_moment_ratio", "line_offset", "peak_C", "heat_rotation")
FROM_ZERO = ("held_upset", "poisson")


@dataclass(frozen=True, kw_only=True)
class RuleInputs:
    """Everything a rule may ask for; what isn't known is None. SI units, temperatures in C.

    Args:
        part: "plate" (line heats along x fold it) or "bar" (x along, depth in y); None: neither.
        geometry: "finite" or "small", how the simulation measured (see `plate_measures`: it
            decides which width is the shrinkage of the metal).
        length: of the part along x, m.
        width: of the plate across the line, or depth of the bar (y), m.
        thickness: m.
        family: of the material, as in `Material`.
        expansion: alpha, mean from 20 to 600 C, 1/K.
        volumetric_heat: rho c, mean from 20 to 600 C, J/(m3 K).
        greatest_expansion_per_heat: greatest thermal strain by heat per volume at any temperature
            up to the peak, m3/J; makes the bounds true bounds. None: expansion / volumetric_heat.
        diffusivity: D, mean from 20 to 600 C, m2/s.
        youngs_modulus: cold, Pa.
        poisson: cold.
        yield_stress: cold, Pa.
        hot_yield_stress: at the peak temperature, Pa.
        held_upset: upset strain of metal held completely up to the peak, e_th - sy/E there.
        peak_C: highest temperature that was reached, C.
        flame_radius: radius R of the flame, m.
        speed: of the flame, m/s.
        heat_per_length: net heat of one line, J/m.
        heated_length: length of that line, m. None: the whole length.
        line_offset: of a line that runs along x: its y from the middle of the width, m.
        restraint: b of a bar heated over its whole section between restraints, 0 to 1.
        one_sided: True when that restraint only stops expansion.
        bar_cycle: what that bar goes through by the material's tables.
        wedge_angle: opening of a wedge, rad.
        wedge_depth: m.
        wedge_base: side of the wedge's base, "far" (+y) or "near".
        wedge_moment_ratio: moment of jacks by the plastic moment, positive when it closes the
            wedge.
        wedge_driven: True when the flame went from apex to base, False when all was hot at once.
        spot_radius: of a round spot that was heated evenly, m.
        spot_count: number of such spots.
        buckle_depth: greatest height of a buckle, one half wave over length and width, m.
        spring_stiffness: of a spring that holds a heated bar at its end, N/m.
        section_area: of the bar or beam, m2; of a frame of three bars the middle, heated one.
        side_area: of each of the two cold side bars of such a frame, m2.
        section_strips: a section as rectangles (from, to, width), m, along the axis in which it
            is bent, from the near to the far side; what stands side by side is one strip.
        pipe_diameter: outer, m; ``thickness`` is then the pipe's wall.
        heat_arc: part of the pipe's circumference that was heated, rad; 2 pi is a ring.
        heat_width: extent of a heat along the pipe or bar, m; of an oval at its middle.
        heat_outline: "even": as wide all over its arc; "oval": narrows to nothing at its ends.
        heat_count: number of equal heats along the bar.
        heat_spacing: from one to the next, m; they lie evenly about the middle of the length.
        heat_rotation: of each of them, rad, either sign.
        simulated: the simulation's numbers by the name of the measure, trade units.

    Raises:
        OutOfRange: a number isn't finite, or isn't positive where it must be.

    Examples:
        >>> RuleInputs(thickness=0.012, heat_per_length=5e5).thickness
        0.012
    """

    part: Literal["plate", "bar"] | None = None
    geometry: Literal["finite", "small"] = "finite"
    length: float | None = None
    width: float | None = None
    thickness: float | None = None
    family: str | None = None
    expansion: float | None = None
    volumetric_heat: float | None = None
    greatest_expansion_per_heat: float | None = None
    diffusivity: float | None = None
    youngs_modulus: float | None = None
    poisson: float | None = None
    yield_stress: float | None = None
    hot_yield_stress: float | None = None
    held_upset: float | None = None
    peak_C: float | None = None
    flame_radius: float | None = None
    speed: float | None = None
    heat_per_length: float | None = None
    heated_length: float | None = None
    line_offset: float | None = None
    restraint: float | None = None
    one_sided: bool = False
    bar_cycle: BarCycle | None = None
    wedge_angle: float | None = None
    wedge_depth: float | None = None
    wedge_base: Literal["far", "near"] = "far"
    wedge_moment_ratio: float = 0.0
    wedge_driven: bool | None = None
    spot_radius: float | None = None
    spot_count: float | None = None
    buckle_depth: float | None = None
    spring_stiffness: float | None = None
    section_area: float | None = None
    side_area: float | None = None
    section_strips: tuple[tuple[float, float, float], ...] | None = None
    pipe_diameter: float | None = None
    heat_arc: float | None = None
    heat_width: float | None = None
    heat_outline: Literal["even", "oval"] = "even"
    heat_count: float | None = None
    heat_spacing: float | None = None
    heat_rotation: float | None = None
    simulated: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for item in fields(self):
            number = getattr(self, item.name)
            if not isinstance(number, (int, float)) or isinstance(number, bool):
                continue
            if item.name in ANY_SIGN:
                fits, allowed = True, "a finite number"
            elif item.name in FROM_ZERO:
                fits, allowed = number >= 0, "at least 0"
            elif item.name == "wedge_angle":
                fits, allowed = 0 < number < math.pi, "above 0 and below pi (180 degrees)"
            else:
                fits, allowed = number > 0, "above 0"
            if not (fits and math.isfinite(number)):
                raise OutOfRange(
                    f"Rule input {item.name} is {number:g}, it must be {allowed} (SI units), "
                    "or None when it isn't known."
                )
        if self.restraint is not None and self.restraint > 1:
            raise OutOfRange(f"Restraint is {self.restraint:g}, it can't be more than 1 (rigid).")
        if self.heat_arc is not None and self.heat_arc > 2 * math.pi + 1e-9:
            raise OutOfRange(
                f"Rule input heat_arc is {self.heat_arc:g} rad, it can't be more than a full turn, "
                "2 pi; give the part of the circumference that was heated."
            )
        for low, high, wide in self.section_strips or ():
            if not (low < high and wide > 0 and math.isfinite(low + high + wide)):
                raise OutOfRange(
                    f"A strip of the section is ({low:g}, {high:g}, {wide:g}) m; it must be "
                    "(from, to, width) with to above from and a width above 0."
                )
        self._check_together()

    def _check_together(self) -> None:
        """Numbers that contradict each other."""
        if self.heat_count is not None and abs(self.heat_count - round(self.heat_count)) > 1e-9:
            raise OutOfRange(f"Rule input heat_count is {self.heat_count:g}; heats are whole ones.")
        if self.poisson is not None and self.poisson >= 0.5:
            raise OutOfRange(f"Poisson's ratio is {self.poisson:g}; metals lie below 0.5.")
        if self.heat_rotation is not None and abs(self.heat_rotation) > LARGEST_ROTATION:
            raise OutOfRange(
                f"Rule input heat_rotation is {self.heat_rotation:g} rad; one heat turns a part by "
                f"{LARGEST_ROTATION:g} rad at most. Look for a wrong unit."
            )
        if self.length and self.heated_length and self.heated_length > self.length * NEARLY:
            raise OutOfRange(
                f"A line of {1e3 * self.heated_length:g} mm is longer than the part of "
                f"{1e3 * self.length:g} mm."
            )
        if self.width and self.line_offset and 2 * abs(self.line_offset) > self.width * NEARLY:
            raise OutOfRange(
                f"A line {1e3 * abs(self.line_offset):g} mm from the middle lies beside the part, "
                f"which is {1e3 * self.width:g} mm wide."
            )
        strips = sorted(self.section_strips or ())
        for (_, end, _), (start, _, _) in pairwise(strips):
            if abs(start - end) > 1e-6:
                how = "overlap" if start < end else "leave a gap"
                raise OutOfRange(
                    f"Strips of the section {how} between {1e3 * min(start, end):g} and "
                    f"{1e3 * max(start, end):g} mm; what stands side by side is one strip."
                )


def with_material(inputs: RuleInputs, material: Material) -> RuleInputs:
    """Fill in a material's numbers.

    Means are taken from 20 to 600 C for every rule, whatever the peak, so that coefficients of
    different runs can be compared; the metal that is upset is between first yield and some 650 C.
    The greatest expansion per heat, and hot values, are taken up to ``inputs.peak_C`` (600 C
    when it isn't known); hot values are left out when the peak isn't known.

    Args:
        inputs: what is known of part and heat.
        material: tables in SI.

    Returns:
        A copy with family, expansion, volumetric heat, diffusivity, modulus, Poisson's ratio,
        yield stress and, with a peak, the hot yield stress and the upset of held metal; with a
        peak and a restraint (as given, by a spring or by a frame), the bar's cycle.

    Raises:
        OutOfRange: see `restrained_bar_cycle`.

    Examples:
        >>> from flamefe.basics.table import Table
        >>> def constant(value): return Table.constant(value, source="demo")
        >>> demo = Material(name="demo", density=7850, conductivity=constant(40),
        ...     specific_heat=constant(600), youngs_modulus=constant(210e9),
        ...     thermal_strain=Table(temperature_C=(20, 1020), values=(0, 12e-3), source="demo"),
        ...     poisson=constant(0.3), yield_stress=constant(355e6),
        ...     hardening_modulus=constant(0), heating_limit_C=650,
        ...     heating_limit_source="demo", source="demo")
        >>> filled = with_material(RuleInputs(peak_C=620), demo)
        >>> round(filled.expansion * 1e6, 3), filled.volumetric_heat
        (12.0, 4710000.0)
        >>> round(filled.held_upset * 1e3, 3)
        5.51
    """
    rise = MEAN_TO_C - COLD_C
    heat = material.density * float(material.specific_heat.integral(MEAN_TO_C)) / rise
    conductivity = float(material.conductivity.integral(MEAN_TO_C)) / rise
    filled = replace(
        inputs,
        family=material.family,
        expansion=float(material.thermal_strain(MEAN_TO_C)) / rise,
        volumetric_heat=heat,
        greatest_expansion_per_heat=_greatest_expansion_per_heat(
            material, MEAN_TO_C if inputs.peak_C is None else inputs.peak_C
        ),
        diffusivity=conductivity / heat,
        youngs_modulus=float(material.youngs_modulus(COLD_C)),
        poisson=float(material.poisson(COLD_C)),
        yield_stress=float(material.yield_stress(COLD_C)),
    )
    if inputs.peak_C is None:
        return filled
    hot_yield = float(material.yield_stress(inputs.peak_C))
    elastic = hot_yield / float(material.youngs_modulus(inputs.peak_C))
    cycle, restraint = None, _restraint_of(filled)
    if restraint is not None:
        cycle = restrained_bar_cycle(
            inputs.peak_C,
            thermal_strain=material.thermal_strain,
            youngs_modulus=material.youngs_modulus,
            yield_stress=material.yield_stress,
            restraint=restraint,
            one_sided=inputs.one_sided,
        )
    return replace(
        filled,
        hot_yield_stress=hot_yield,
        held_upset=max(float(material.thermal_strain(inputs.peak_C)) - elastic, 0.0),
        bar_cycle=cycle,
    )


def _restraint_of(inputs: RuleInputs) -> float | None:
    """Restraint of a heated bar as it is given, by its frame, or by its spring."""
    if inputs.restraint is not None or inputs.section_area is None:
        return inputs.restraint
    if inputs.side_area is not None:
        return three_bar_restraint(inputs.side_area, inputs.section_area)
    if inputs.spring_stiffness is None or inputs.length is None or inputs.youngs_modulus is None:
        return None
    return restraint_behind_cold_metal(
        inputs.spring_stiffness,
        inputs.section_area,
        inputs.youngs_modulus,
        inputs.length,
        inputs.heated_length,
    )


def _greatest_expansion_per_heat(material: Material, to_C: float) -> float:
    """Greatest thermal strain by stored heat per volume, from just above cold to ``to_C``."""
    warm = np.linspace(COLD_C + 5, max(to_C, COLD_C + 10), 400)
    stored = material.density * material.specific_heat.integral(warm)
    return float((material.thermal_strain(warm) / stored).max())
