"""Across a heated line: transverse shrinkage and angular change of a plate.

::

       \\      torch      /          q' heat left per length of line, J/m
         \\      v      /            a* = upset area: the upset strain across the line,
           o--#####--o               summed over the section, m2
                ^  upset metal, its centroid at the height e over mid-thickness

    S = a* / h            transverse shrinkage, positive = narrower
    theta = 12 a* e / h^3 angular change, positive = edges rise towards the torch

Heat makes the section want to expand by a* = alpha q' / (rho c), wherever it flows afterwards;
no more than that can be upset.
"""

from flamefe.rules.given import need_between, need_positive

ENERGY_SOURCE = "derived: heat balance and plane bending of the section"
TWO_LAYER_SOURCE = (
    "F. Vollertsen, Mechanisms and models for laser forming, LANE 1994 (factor 3 from memory); "
    "derived again here"
)
SATOH_TERASAKI_SOURCE = (
    "K. Satoh, T. Terasaki, J. Japan Welding Soc. 45 (1976), transverse shrinkage of mild steel "
    "bead-on-plate welds (coefficients from memory, not checked against the paper)"
)

SQUARE_FACTOR = 1.85e-4
LINEAR_FACTOR = 1.16e-3
BREAK_J_PER_MM3 = 6.27


def upset_area(heat_per_length: float, expansion: float, volumetric_heat: float) -> float:
    """Largest upset area that heat can leave: a* = alpha q' / (rho c), m2.

    Args:
        heat_per_length: q', net heat, J/m.
        expansion: alpha, mean over the temperatures that occur, 1/K.
        volumetric_heat: rho c, mean likewise, J/(m3 K).

    Raises:
        OutOfRange: a number isn't positive.

    Source: see ``ENERGY_SOURCE``.

    Examples:
        >>> round(upset_area(5e5, 12e-6, 7850 * 600) * 1e6, 3)
        1.274
    """
    need_positive(heat_per_length=heat_per_length)
    need_positive(expansion=expansion, volumetric_heat=volumetric_heat)
    return expansion * heat_per_length / volumetric_heat


def greatest_transverse_shrinkage(
    heat_per_length: float, thickness: float, expansion: float, volumetric_heat: float
) -> float:
    """Upper bound of the transverse shrinkage: S_max = alpha q' / (rho c h), m.

    Args:
        heat_per_length: q', net heat, J/m.
        thickness: h, m.
        expansion: alpha, mean, 1/K.
        volumetric_heat: rho c, mean, J/(m3 K).

    Raises:
        OutOfRange: a number isn't positive.

    Range: one pass of a plate that nothing forces together; heat that is lost while the upset
    grows makes it smaller.
    Source: see ``ENERGY_SOURCE``.

    Examples:
        0.5 kJ/mm on 10 mm:

        >>> round(greatest_transverse_shrinkage(5e5, 0.010, 12e-6, 7850 * 600) * 1e3, 3)
        0.127
    """
    need_positive(thickness=thickness)
    return upset_area(heat_per_length, expansion, volumetric_heat) / thickness


def angular_change_of_upset(area: float, height: float, thickness: float) -> float:
    """Angular change by an upset area: theta = 12 a* e / h^3, rad (exact for a free section).

    Args:
        area: a*, m2.
        height: e of its centroid over mid-thickness towards the torch, m, at most h / 2.
        thickness: h, m.

    Raises:
        OutOfRange: a number isn't positive, or the centroid lies outside the plate.

    Source: derived, plane bending.

    Examples:
        >>> round(angular_change_of_upset(1.274e-6, 0.003, 0.012) * 1e3, 1)
        26.5
    """
    need_positive(thickness=thickness)
    need_between("height over mid-thickness", height, -0.5 * thickness, 0.5 * thickness)
    return 12 * area * height / thickness**3


def greatest_angular_change(
    heat_per_length: float, thickness: float, expansion: float, volumetric_heat: float
) -> float:
    """Upper bound of the angular change, all upset at the face: 6 alpha q' / (rho c h^2), rad.

    Args, errors and range: as for `greatest_transverse_shrinkage`.
    Source: see ``ENERGY_SOURCE``.

    Examples:
        >>> round(greatest_angular_change(5e5, 0.012, 12e-6, 7850 * 600) * 1e3, 1)
        53.1
    """
    need_positive(thickness=thickness)
    area = upset_area(heat_per_length, expansion, volumetric_heat)
    return angular_change_of_upset(area, 0.5 * thickness, thickness)


def two_layer_angular_change(
    heat_per_length: float, thickness: float, expansion: float, volumetric_heat: float
) -> float:
    """Angular change with all heat upset in the upper half: 3 alpha q' / (rho c h^2), rad.

    The two-layer formula of the temperature gradient mechanism.

    Args, errors: as for `greatest_transverse_shrinkage`.

    Range: heat that stays in the upper half while the flame passes, a peak far above first
    yield. It takes all heat as upset, so it is high as a rule.
    Source: see ``TWO_LAYER_SOURCE``.

    Examples:
        0.5 kJ/mm on 10 mm and on 12 mm, mrad:

        >>> [round(two_layer_angular_change(5e5, h, 12e-6, 7850 * 600) * 1e3, 1)
        ...     for h in (0.010, 0.012)]
        [38.2, 26.5]
    """
    need_positive(thickness=thickness)
    area = upset_area(heat_per_length, expansion, volumetric_heat)
    return angular_change_of_upset(area, 0.25 * thickness, thickness)


def heat_parameter(heat_per_length: float, thickness: float) -> float:
    """Heat by thickness squared, x = q' / h^2, in J/mm3.

    Examples:
        >>> heat_parameter(1e6, 0.010)
        10.0
    """
    need_positive(heat_per_length=heat_per_length, thickness=thickness)
    return heat_per_length / thickness**2 * 1e-9


def satoh_terasaki_shrinkage(heat_per_length: float, thickness: float) -> float:
    """Transverse shrinkage of mild steel, power law in x = q' / h^2, m.

    S/h = 1.85e-4 x^2 for x up to 6.27 J/mm3, 1.16e-3 x above.

    Args:
        heat_per_length: q', J/m (it isn't certain whether the paper means gross or net heat).
        thickness: h, m.

    Raises:
        OutOfRange: a number isn't positive.

    Range: mild steel, a concentrated moving source (an arc), free plate; limits of x not known.
    Source: see ``SATOH_TERASAKI_SOURCE``.

    Examples:
        1 kJ/mm on 10 mm, 0.5 kJ/mm on 12 mm:

        >>> round(satoh_terasaki_shrinkage(1e6, 0.010) * 1e3, 3)
        0.116
        >>> round(satoh_terasaki_shrinkage(5e5, 0.012) * 1e3, 3)
        0.027
    """
    x = heat_parameter(heat_per_length, thickness)
    if x <= BREAK_J_PER_MM3:
        return thickness * SQUARE_FACTOR * x**2
    return thickness * LINEAR_FACTOR * x
