"""Wedge heats in beams of any section: rotation and shortening by plane sections.

::

      =====#########=====   far side: base of the wedge, the flange is heated as wide as the wedge
           \\       /
            \\  t  /        u*(z) = e_p 2 tan(t/2) (z - z_apex): what the upset takes off a fibre
             \\   /
              \\ /          b(z): width of the section, given as strips (rectangles) on one another
      =========v=========   near side

    phi = (1 / I) int b u* (z - z_c) dz        d = (1 / A) int b u* dz
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from flamefe.basics.errors import OutOfRange
from flamefe.rules.given import need_between, need_positive

SOURCE = "derived: plane sections of a beam of any section, upset even over the wedge"
GREATEST_UPSET = 0.1

Strips = Sequence[tuple[float, float, float]]
"""Rectangles (from, to, width), m, along the axis in which the beam is bent."""


@dataclass(frozen=True, kw_only=True)
class SectionNumbers:
    """Area, place of the centroid and second moment of a section, SI.

    Examples:
        >>> SectionNumbers(area=1e-3, centroid=0.05, second_moment=8.33e-7).centroid
        0.05
    """

    area: float
    centroid: float
    second_moment: float


def section_numbers(strips: Strips) -> SectionNumbers:
    """Numbers of a section of strips: A = sum b h, I about its centroid.

    Args:
        strips: (from, to, width) each, m.

    Returns:
        Area m2, centroid m (in the strips' coordinate), second moment m4.

    Raises:
        OutOfRange: there is no strip, or one is turned round or has no width.

    Examples:
        An I of 300 x 150 mm, web 7 mm, flanges 11 mm; cm2 and cm4:

        >>> found = section_numbers([(0, 0.011, 0.15), (0.011, 0.289, 0.007), (0.289, 0.3, 0.15)])
        >>> round(found.area * 1e4, 2), round(found.second_moment * 1e8)
        (52.46, 8147)
    """
    if not strips:
        raise OutOfRange("The section has no strip; give (from, to, width) of at least one, in m.")
    for low, high, wide in strips:
        need_positive(height_of_a_strip=high - low, width_of_a_strip=wide)
    area = sum(wide * (high - low) for low, high, wide in strips)
    centroid = sum(wide * (high**2 - low**2) / 2 for low, high, wide in strips) / area
    second = sum(
        wide * ((high - centroid) ** 3 - (low - centroid) ** 3) / 3 for low, high, wide in strips
    )
    return SectionNumbers(area=area, centroid=centroid, second_moment=second)


def section_wedge_rotation(
    strips: Strips,
    angle: float,
    upset: float,
    wedge_depth: float,
    base: Literal["far", "near"] = "far",
) -> float:
    """Rotation that closes the base side: phi = (1/I) int b u* (z - z_c) dz, rad.

    It is below 0 where a shallow wedge shrinks metal beyond the centroid only.

    Args:
        strips: the section, (from, to, width) each, m, from the near to the far side.
        angle: t, opening of the wedge, rad.
        upset: e_p along the beam, even over the wedge.
        wedge_depth: from its base to its apex, m, at most the section's height.
        base: side of the wedge's base.

    Raises:
        OutOfRange: a number is impossible, or the wedge is deeper than the section.

    Range: exact for that upset, away from the heat; every strip is heated as wide as the wedge
    is there (a flange by a band).
    Source: see ``SOURCE``.

    Examples:
        A rectangle gives e_p tan(t/2) (6 r^2 - 4 r^3), mrad:

        >>> flat = [(0.0, 0.1, 0.01)]
        >>> round(section_wedge_rotation(flat, math.radians(45), 7.355e-3, 0.075) * 1e3, 2)
        5.14
    """
    numbers = section_numbers(strips)
    taken, moment = _taken(strips, angle, upset, wedge_depth, base)
    turn = (moment - taken * numbers.centroid) / numbers.second_moment
    return turn if base == "far" else -turn


def section_wedge_shortening(
    strips: Strips,
    angle: float,
    upset: float,
    wedge_depth: float,
    base: Literal["far", "near"] = "far",
) -> float:
    """Shortening at the centroid: d = (1/A) int b u* dz, m.

    Args, errors, range and source: as for `section_wedge_rotation`.

    Examples:
        >>> flat = [(0.0, 0.1, 0.01)]
        >>> round(section_wedge_shortening(flat, math.radians(45), 7.355e-3, 0.075) * 1e3, 3)
        0.171
    """
    taken, _ = _taken(strips, angle, upset, wedge_depth, base)
    return taken / section_numbers(strips).area


def _taken(
    strips: Strips, angle: float, upset: float, wedge_depth: float, base: str
) -> tuple[float, float]:
    """int b u* dz and int b u* z dz over the wedge."""
    need_positive(angle=angle, wedge_depth=wedge_depth)
    need_between("upset", upset, 0.0, GREATEST_UPSET)
    near, far = min(low for low, _, _ in strips), max(high for _, high, _ in strips)
    if wedge_depth > (far - near) * (1 + 1e-9):
        raise OutOfRange(
            f"The wedge is {1e3 * wedge_depth:g} mm deep, it can't be deeper than the section of "
            f"{1e3 * (far - near):g} mm."
        )
    apex, towards = (far - wedge_depth, 1.0) if base == "far" else (near + wedge_depth, -1.0)
    steepness = towards * 2 * upset * math.tan(angle / 2)
    taken = moment = 0.0
    for low, high, wide in strips:
        first, last = (max(low, apex), high) if base == "far" else (low, min(high, apex))
        if last <= first:
            continue
        taken += wide * steepness * ((last - apex) ** 2 - (first - apex) ** 2) / 2
        moment += wide * steepness * ((last**3 - first**3) / 3 - apex * (last**2 - first**2) / 2)
    return taken, moment
