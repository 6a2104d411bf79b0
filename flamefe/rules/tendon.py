"""Longitudinal shrinkage along a heated line: the tendon force (Okerblom; Vinokurov).

::

        ================================    the heated strip pulls like a stretched tendon
     F  <----------- - - - ----------->  F  of force F, at the eccentricity e from the
        - - - - - centroid - - - - - - -    section's centroid
"""

import math

from flamefe.basics.errors import OutOfRange
from flamefe.rules.given import need_positive

SOURCE = (
    "N. O. Okerblom 1958 and V. A. Vinokurov 1977 (factor 0.335), J. D. White, R. H. Leggatt, "
    "J. B. Dwight 1980 (0.2 kN per J/mm), all from memory; the factor is derived again here"
)

PEAK_FACTOR = math.sqrt(2 / (math.pi * math.e))
"""Of an instantaneous line source in a thin plate: peak rise = this x q' / (2 rho c h y)."""

TENDON_FACTOR = PEAK_FACTOR * math.log(2)
"""0.33544 in F = 0.33544 E alpha q' / (rho c)."""


def tendon_force(
    heat_per_length: float, expansion: float, volumetric_heat: float, youngs_modulus: float
) -> float:
    """Force of the shrinking strip: F = 0.33544 E alpha q' / (rho c), N.

    A line source that passes at once through a thin, wide plate with its sections held plane
    heats the strip at the distance y up to a peak rise of 0.48394 q' / (rho c h 2 y). Each fibre
    behaves as a rigidly held bar; the upset left after cooling, summed over the section, is
    0.48394 ln 2 alpha q' / (rho c), whatever the yield stress and the thickness.

    Args:
        heat_per_length: q', net heat, J/m.
        expansion: alpha, mean, 1/K.
        volumetric_heat: rho c, mean, J/(m3 K).
        youngs_modulus: E, Pa.

    Raises:
        OutOfRange: a number isn't positive.

    Range: heat through the whole thickness; strip that yields narrow against the plate, wide
    against the thickness and the flame; speed v with v b / (2 D) of at least 2, where b is half
    the strip's width and D the diffusivity (the peak rise is then within 5 % of a moving source);
    a slender member gives way and F is smaller.
    Source: see ``SOURCE``.

    Examples:
        Steel, per J/mm: 215 N, near the practical 0.2 kN.

        >>> round(tendon_force(1000.0, 12e-6, 7850 * 500, 210e9))
        215
    """
    need_positive(
        heat_per_length=heat_per_length,
        expansion=expansion,
        volumetric_heat=volumetric_heat,
        youngs_modulus=youngs_modulus,
    )
    return TENDON_FACTOR * youngs_modulus * expansion * heat_per_length / volumetric_heat


def yielding_half_width(
    heat_per_length: float,
    expansion: float,
    volumetric_heat: float,
    youngs_modulus: float,
    yield_stress: float,
    thickness: float,
) -> float:
    """Half the width of the strip that yields: b = 0.48394 q' E alpha / (2 rho c h sy), m.

    Args:
        heat_per_length: q', net heat, J/m.
        expansion: alpha, mean, 1/K.
        volumetric_heat: rho c, mean, J/(m3 K).
        youngs_modulus: E, Pa.
        yield_stress: sy, Pa.
        thickness: h, m.

    Raises:
        OutOfRange: a number isn't positive.

    Range and source: as for `tendon_force`.

    Examples:
        >>> round(yielding_half_width(5e5, 12e-6, 7850 * 600, 210e9, 355e6, 0.006), 4)
        0.0304
    """
    need_positive(yield_stress=yield_stress, thickness=thickness)
    need_positive(heat_per_length=heat_per_length, expansion=expansion)
    need_positive(volumetric_heat=volumetric_heat, youngs_modulus=youngs_modulus)
    stress_rise = youngs_modulus * expansion * heat_per_length / volumetric_heat
    return PEAK_FACTOR * stress_rise / (2 * thickness * yield_stress)


def tendon_shortening(
    force: float, length: float, youngs_modulus: float, section_area: float
) -> float:
    """Shortening at the centroid: F L / (E A), m.

    Args:
        force: F, N.
        length: L that was heated, m.
        youngs_modulus: E, Pa.
        section_area: A of the whole section, m2.

    Raises:
        OutOfRange: a number isn't positive.

    Source: beam theory.

    Examples:
        An IPE 200 of 6 m, one flange heated with 0.6 kJ/mm:

        >>> force = tendon_force(6e5, 12e-6, 7850 * 500, 210e9)
        >>> round(tendon_shortening(force, 6.0, 210e9, 28.5e-4) * 1e3, 2)
        1.3
    """
    need_positive(force=force, length=length)
    need_positive(youngs_modulus=youngs_modulus, section_area=section_area)
    return force * length / (youngs_modulus * section_area)


def tendon_curvature(
    force: float, eccentricity: float, youngs_modulus: float, second_moment: float
) -> float:
    """Curvature by the tendon: F e / (E I), 1/m; its hollow side is the tendon's side.

    Args:
        force: F, N.
        eccentricity: e from the centroid to the strip, m, either sign.
        youngs_modulus: E, Pa.
        second_moment: I, m4.

    Raises:
        OutOfRange: force, modulus or second moment isn't positive.

    Source: beam theory.

    Examples:
        >>> force = tendon_force(6e5, 12e-6, 7850 * 500, 210e9)
        >>> round(tendon_curvature(force, 0.1, 210e9, 1943e-8) * 1e3, 2)
        3.17
    """
    need_positive(force=force, youngs_modulus=youngs_modulus, second_moment=second_moment)
    return force * eccentricity / (youngs_modulus * second_moment)


def sag(curvature: float, heated_length: float, length: float | None = None) -> float:
    """Sagitta of a bar that is curved over its middle part: k Lh (2 L - Lh) / 8, m.

    With the whole length heated it is k L^2 / 8.

    Args:
        curvature: k, 1/m, either sign.
        heated_length: Lh, m.
        length: L of the bar, m; None: all of it was heated.

    Raises:
        OutOfRange: a length isn't positive, or the heated length is the longer one.

    Source: beam theory, small slopes.

    Examples:
        >>> round(sag(3.167e-3, 6.0) * 1e3, 2)
        14.25
    """
    whole = heated_length if length is None else length
    need_positive(heated_length=heated_length, length=whole)
    if heated_length > whole:
        raise OutOfRange(
            f"The heated length is {heated_length:g} m, it can't be more than the whole of "
            f"{whole:g} m."
        )
    return curvature * heated_length * (2 * whole - heated_length) / 8
