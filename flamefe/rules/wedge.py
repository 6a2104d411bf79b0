"""Wedge (vee) heats: rotation and shortening of a bar or plate bent in its plane.

::

      +-----------\\     /-----------+   far side: base of the wedge
      |            \\ t /            |   t = opening angle of the wedge
    W |             \\ /  d          |   d = its depth, r = d / W
      |              v              |   apex
      +-----------------------------+   near side

After cooling the base side is shorter: rotation phi > 0 closes the wedge's side.
"""

import math
import warnings

from flamefe.basics.errors import ExtrapolationWarning
from flamefe.rules.given import need_between, need_positive

PUBLISHED_SOURCE = (
    "R. R. Avent, D. J. Mukai, P. F. Robinson, J. Struct. Eng. 126 (2000), mean of many heats on "
    "plates (form and constants from memory)"
)
CURVES_SOURCE = (
    "curves of United States Steel for heat-curved girders, R. L. Brockenbrough 1970 (from memory)"
)
CONFINED_SOURCE = "R. E. Holt 1955, 1971, perfect confinement (idea from memory); derived"
PLANE_SOURCE = "derived: plane sections, upset even over the wedge"

CURVES_FROM_C = (800 - 32) / 1.8
CURVES_TO_C = 650.0
CURVES_MODULUS = 29_000 * 6.894757e6
GREATEST_MOMENT_RATIO = 0.5
GREATEST_UPSET = 0.1


def upset_strain(
    peak_thermal_strain: float, hot_yield_stress: float, hot_youngs_modulus: float
) -> float:
    """Upset of metal that was held completely: e_p = e_th(T) - sy(T) / E(T), at least 0.

    Args:
        peak_thermal_strain: e_th at the peak temperature, from cold.
        hot_yield_stress: sy there, Pa.
        hot_youngs_modulus: E there, Pa.

    Raises:
        OutOfRange: a number isn't positive.

    Range: yield governed by the peak, as in steels whose strength falls fast.
    Source: derived.

    Examples:
        >>> round(upset_strain(8.249e-3, 89.35e6, 99.93e9) * 1e3, 3)
        7.355
    """
    need_positive(peak_thermal_strain=peak_thermal_strain)
    need_positive(hot_yield_stress=hot_yield_stress, hot_youngs_modulus=hot_youngs_modulus)
    return max(peak_thermal_strain - hot_yield_stress / hot_youngs_modulus, 0.0)


def us_steel_upset_strain(
    peak_C: float, yield_stress: float, youngs_modulus: float = CURVES_MODULUS
) -> float:
    """Upset of completely held carbon steel by the curves of United States Steel.

    With T in Fahrenheit, cold values Fy0 and E0:

        e_p = alpha (T - 70) - Fy / E
        alpha = (6.1 + 0.001 T) 1e-6                       100 to 1200 F
        E / E0 = (500000 + 1333 T - 1.111 T^2) 1e-6        700 to 1200 F
        Fy / Fy0 = (-720000 + 4200 T - 2.75 T^2) 1e-6      800 to 1200 F

    Args:
        peak_C: T, C.
        yield_stress: Fy0, Pa.
        youngs_modulus: E0, Pa; by default 29000 ksi.

    Raises:
        OutOfRange: a number isn't positive.

    Warns:
        ExtrapolationWarning: T outside 427 to 650 C; Fy / E is then held at that end.

    Range: structural carbon steel, 427 to 650 C (800 to 1200 F).
    Source: see ``CURVES_SOURCE``.

    Examples:
        Steel of 36 ksi at 1200 F:

        >>> round(us_steel_upset_strain((1200 - 32) / 1.8, 36 * 6.894757e6) * 1e3, 3)
        7.355
    """
    need_positive(yield_stress=yield_stress, youngs_modulus=youngs_modulus, peak_C=peak_C)
    if not CURVES_FROM_C - 1e-9 <= peak_C <= CURVES_TO_C:
        warnings.warn(
            f"The upset curves hold from {CURVES_FROM_C:.0f} to {CURVES_TO_C:g} C, "
            f"they were asked for {peak_C:.0f} C.",
            ExtrapolationWarning,
            stacklevel=2,
        )
    hot = 1.8 * peak_C + 32
    curve = 1.8 * min(max(peak_C, CURVES_FROM_C), CURVES_TO_C) + 32
    expansion = (6.1 + 0.001 * hot) * 1e-6
    stiffness = (500_000 + 1333 * curve - 1.111 * curve**2) * 1e-6
    strength = (-720_000 + 4200 * curve - 2.75 * curve**2) * 1e-6
    elastic = yield_stress * strength / (youngs_modulus * stiffness)
    return max(expansion * (hot - 70) - elastic, 0.0)


def published_mean_rotation(angle: float, upset: float, moment_ratio: float = 0.0) -> float:
    """Mean rotation of a heat: phi = (0.6 + 2 Mj/Mp) 2 e_p sin(t / 3), rad.

    Args:
        angle: t, opening of the wedge, rad.
        upset: e_p, see `us_steel_upset_strain`.
        moment_ratio: Mj/Mp, moment that jacks put on the wedge by the cold plastic moment,
            positive when it closes the wedge; 0 to 0.5.

    Raises:
        OutOfRange: the angle isn't positive, or the upset is no upset strain (0 to 0.1).

    Warns:
        ExtrapolationWarning: the moment ratio isn't within 0 to 0.5.

    Range: flat plate bent in its plane, wedge driven from apex to base, 20 to 60 degrees
    (82 at most), at least half the depth, 427 to 650 C. Single heats scatter widely about it.
    Source: see ``PUBLISHED_SOURCE``.

    Examples:
        45 degrees, free and with half the plastic moment, mrad:

        >>> [round(published_mean_rotation(math.radians(45), 7.355e-3, m) * 1e3, 2)
        ...     for m in (0.0, 0.5)]
        [2.28, 6.09]
    """
    need_positive(angle=angle)
    need_between("upset", upset, 0.0, GREATEST_UPSET)
    if not 0 <= moment_ratio <= GREATEST_MOMENT_RATIO:
        warnings.warn(
            f"The published mean holds for moment ratios of 0 to {GREATEST_MOMENT_RATIO:g}, "
            f"it was asked for {moment_ratio:g}.",
            ExtrapolationWarning,
            stacklevel=2,
        )
    return max(0.6 + 2 * moment_ratio, 0.0) * 2 * upset * math.sin(angle / 3)


def confined_rotation(angle: float, upset: float) -> float:
    """Rotation of a full-depth wedge that was held completely: phi = 2 e_p tan(t / 2), rad.

    Args:
        angle: t, opening of the wedge, rad.
        upset: e_p.

    Raises:
        OutOfRange: a number isn't positive.

    Range: an upper bound for a part that is only held by its own cold metal.
    Source: see ``CONFINED_SOURCE``.

    Examples:
        >>> round(confined_rotation(math.radians(45), 7.355e-3) * 1e3, 2)
        6.09
    """
    need_positive(angle=angle)
    need_between("upset", upset, 0.0, GREATEST_UPSET)
    return 2 * upset * math.tan(angle / 2)


def plane_section_rotation(angle: float, upset: float, depth_ratio: float) -> float:
    """Rotation of a rectangle with an evenly upset wedge: e_p tan(t/2) (6 r^2 - 4 r^3), rad.

    Args:
        angle: t, opening of the wedge, rad.
        upset: e_p along the bar, even over the wedge.
        depth_ratio: r, depth of the wedge by depth of the bar, 0 to 1.

    Raises:
        OutOfRange: a number isn't positive, or r is above 1.

    Range: exact for that upset (sections plane away from the heat). Source: ``PLANE_SOURCE``.

    Examples:
        >>> round(plane_section_rotation(math.radians(45), 7.355e-3, 0.75) * 1e3, 2)
        5.14
    """
    need_between("upset", upset, 0.0, GREATEST_UPSET)
    need_positive(angle=angle, depth_ratio=depth_ratio)
    need_between("depth ratio", depth_ratio, 0.0, 1.0)
    return upset * math.tan(angle / 2) * (6 * depth_ratio**2 - 4 * depth_ratio**3)


def plane_section_shortening(angle: float, upset: float, depth_ratio: float, depth: float) -> float:
    """Shortening at the centroid by an evenly upset wedge: e_p tan(t/2) r^2 W, m.

    Args:
        angle: t, opening of the wedge, rad.
        upset: e_p along the bar, even over the wedge.
        depth_ratio: r, 0 to 1.
        depth: W of the bar, m.

    Raises:
        OutOfRange: a number isn't positive, or r is above 1.

    Range: exact for that upset. Source: ``PLANE_SOURCE``.

    Examples:
        >>> round(plane_section_shortening(math.radians(45), 7.355e-3, 0.75, 0.1) * 1e3, 3)
        0.171
    """
    need_between("upset", upset, 0.0, GREATEST_UPSET)
    need_positive(angle=angle, depth_ratio=depth_ratio, depth=depth)
    need_between("depth ratio", depth_ratio, 0.0, 1.0)
    return upset * math.tan(angle / 2) * depth_ratio**2 * depth


def heats_needed(rotation: float, rotation_per_heat: float) -> int:
    """Number of heats to take out a rotation, each giving the same: n = ceil(total / phi).

    Args:
        rotation: total, rad.
        rotation_per_heat: phi, rad.

    Raises:
        OutOfRange: a number isn't positive.

    Range: a first guess; measure after each heat and count again.

    Examples:
        >>> heats_needed(0.100, 0.0042)
        24
    """
    need_positive(rotation=rotation, rotation_per_heat=rotation_per_heat)
    return math.ceil(rotation / rotation_per_heat - 1e-9)
