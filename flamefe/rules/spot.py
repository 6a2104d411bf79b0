"""Spot heats on thin plate: the elastic-plastic hot disk, and what it takes off the area.

::

            . - ~ - .           disk r <= a heated evenly by dT in an endless cold plate
         .   c yield   .        m = E alpha dT / sy
        :     .---.     :       ring a < r < c yields while it is hot
        :    ( hot )    :       m <= 1: elastic;  1 < m <= e: the ring yields;
         .    `-a-'    .        m > e = 2.718: the disk itself is upset in its plane
            ` - _ - '
"""

import math

from flamefe.basics.errors import OutOfRange
from flamefe.rules.given import need_positive

SOURCE = "derived: plane stress, Tresca's yield condition, constant properties"
BOOKKEEPING_SOURCE = "derived: reciprocity (an even stress does no net work on self stress)"


def heat_ratio(
    temperature_rise: float, yield_stress: float, youngs_modulus: float, expansion: float
) -> float:
    """Heat ratio of a hot spot: m = E alpha dT / sy.

    Args:
        temperature_rise: dT, K.
        yield_stress: sy, Pa.
        youngs_modulus: E, Pa.
        expansion: alpha, 1/K.

    Raises:
        OutOfRange: a number isn't positive.

    Examples:
        >>> round(heat_ratio(281.746, 355e6, 210e9, 12e-6), 4)
        2.0
    """
    need_positive(temperature_rise=temperature_rise, yield_stress=yield_stress)
    need_positive(youngs_modulus=youngs_modulus, expansion=expansion)
    return youngs_modulus * expansion * temperature_rise / yield_stress


def hot_spot_pressure(ratio: float, yield_stress: float) -> float:
    """Pressure in the hot disk, equal in both directions, Pa.

    p = sy m / 2 up to m = 1, (sy / 2)(1 + ln m) up to m = e, sy above.

    Args:
        ratio: m, see `heat_ratio`.
        yield_stress: sy, Pa.

    Raises:
        OutOfRange: a number isn't positive.

    Range: thin plate, wide against the spot; even temperature in the spot. Source: ``SOURCE``.

    Examples:
        >>> round(hot_spot_pressure(2.0, 355e6) / 1e6, 1)
        300.5
    """
    need_positive(ratio=ratio, yield_stress=yield_stress)
    if ratio <= 1:
        return 0.5 * yield_stress * ratio
    return 0.5 * yield_stress * min(1 + math.log(ratio), 2.0)


def yielded_radius(spot_radius: float, ratio: float) -> float:
    """Radius to which the ring around the hot disk yields: c = a sqrt(min(m, e)), m.

    Below m = 1 nothing yields and c = a.

    Args:
        spot_radius: a, m.
        ratio: m, see `heat_ratio`.

    Raises:
        OutOfRange: a number isn't positive.

    Range and source: as for `hot_spot_pressure`.

    Examples:
        >>> round(yielded_radius(0.015, 2.0) * 1e3, 2)
        21.21
    """
    need_positive(spot_radius=spot_radius, ratio=ratio)
    return spot_radius * math.sqrt(min(max(ratio, 1.0), math.e))


def spot_edge_movement(
    spot_radius: float, ratio: float, yield_stress: float, youngs_modulus: float, poisson: float
) -> float:
    """Outward movement of the hot disk's edge, up to m = e, m.

    u = a (alpha dT - (1 - nu) p / E), with alpha dT = m sy / E.

    Args:
        spot_radius: a, m.
        ratio: m, see `heat_ratio`, up to e.
        yield_stress: sy, Pa.
        youngs_modulus: E, Pa.
        poisson: nu.

    Raises:
        OutOfRange: a number isn't positive, or m is above e.

    Range and source: as for `hot_spot_pressure`.

    Examples:
        >>> round(spot_edge_movement(1.0, 2.0, 355e6, 210e9, 0.3) * 1e3, 4)
        2.3792
    """
    need_positive(spot_radius=spot_radius, youngs_modulus=youngs_modulus)
    if ratio > math.e:
        raise OutOfRange(
            f"The heat ratio is {ratio:g}; above {math.e:.3f} the disk itself yields and this "
            "formula ends. Use spot_upset."
        )
    pressure = hot_spot_pressure(ratio, yield_stress)
    free = ratio * yield_stress / youngs_modulus
    return spot_radius * (free - (1 - poisson) * pressure / youngs_modulus)


def residual_spot_stress(ratio: float, yield_stress: float) -> float:
    """Tension left in the cold disk, equal in both directions: m sy / 2 - p, up to m = 2, Pa.

    Args:
        ratio: m, see `heat_ratio`, up to 2 (above, the ring yields again as it cools).
        yield_stress: sy, Pa.

    Raises:
        OutOfRange: a number isn't positive, or m is above 2.

    Range and source: as for `hot_spot_pressure`.

    Examples:
        >>> round(residual_spot_stress(2.0, 355e6) / 1e6, 1)
        54.5
    """
    if ratio > 2:
        raise OutOfRange(
            f"The heat ratio is {ratio:g}; above 2 the ring yields again as it cools and there "
            "is no closed form."
        )
    return 0.5 * ratio * yield_stress - hot_spot_pressure(ratio, yield_stress)


def spot_upset(
    temperature_rise: float, yield_stress: float, youngs_modulus: float, expansion: float
) -> float:
    """In-plane upset of the hot disk in each direction: alpha dT - e sy / E, 0 up to m = e.

    Args:
        temperature_rise: dT, K.
        yield_stress: sy, Pa.
        youngs_modulus: E, Pa.
        expansion: alpha, 1/K.

    Raises:
        OutOfRange: a number isn't positive.

    Range: as for `hot_spot_pressure`; steel that is weaker when hot is upset more.
    Source: see ``SOURCE``.

    Examples:
        >>> round(spot_upset(563.5, 355e6, 210e9, 12e-6) * 1e3, 3)
        2.167
    """
    need_positive(temperature_rise=temperature_rise, yield_stress=yield_stress)
    need_positive(youngs_modulus=youngs_modulus, expansion=expansion)
    return max(expansion * temperature_rise - math.e * yield_stress / youngs_modulus, 0.0)


def spot_area_loss(spot_radius: float, upset: float) -> float:
    """Area that one round spot takes off a free plate: 2 e* pi a^2, m2.

    The change of area of a free plate is the upset in both directions summed over it; by Tresca's
    condition the ring adds nothing.

    Args:
        spot_radius: a, m.
        upset: e* in each direction, at least 0.

    Raises:
        OutOfRange: the radius isn't positive, or the upset is below 0.

    Source: see ``BOOKKEEPING_SOURCE``.

    Examples:
        A spot of 30 mm diameter with an upset of 0.465 %, mm2:

        >>> round(spot_area_loss(0.015, 4.65e-3) * 1e6, 2)
        6.57
    """
    need_positive(spot_radius=spot_radius)
    if upset < 0:
        raise OutOfRange(f"The upset is {upset:g}; it is counted positive when metal shortens.")
    return 2 * upset * math.pi * spot_radius**2


def pull_outside_spot(spot_radius: float, upset: float, poisson: float, radius: float) -> float:
    """Inward movement outside an upset spot: e* (1 + nu) a^2 / (2 r), m (elastic plate).

    Args:
        spot_radius: a, m.
        upset: e* in each direction.
        poisson: nu.
        radius: r, m, at least a.

    Raises:
        OutOfRange: a radius isn't positive, or r is inside the spot.

    Range: elastic, endless plate; the disk is then in tension of E e* / 2.
    Source: derived.

    Examples:
        >>> round(pull_outside_spot(0.015, 1e-3, 0.3, 0.030) * 1e6, 3)
        4.875
    """
    need_positive(spot_radius=spot_radius, radius=radius)
    if radius < spot_radius:
        raise OutOfRange(f"The radius {radius:g} m lies inside the spot of {spot_radius:g} m.")
    return upset * (1 + poisson) * spot_radius**2 / (2 * radius)


def buckle_area(depth: float, length: float, width: float) -> float:
    """Area that a buckled panel has too much: (pi^2 w0^2 / 8)(b/a + a/b), m2.

    Args:
        depth: w0 of the buckle w = w0 sin(pi x / a) sin(pi y / b), m.
        length: a, m.
        width: b, m.

    Raises:
        OutOfRange: a number isn't positive.

    Range: shallow buckles. Source: derived.

    Examples:
        A panel of 600 x 600 mm, 6 mm deep, mm2:

        >>> round(buckle_area(0.006, 0.6, 0.6) * 1e6, 1)
        88.8
    """
    need_positive(depth=depth, length=length, width=width)
    return (math.pi * depth) ** 2 / 8 * (width / length + length / width)
