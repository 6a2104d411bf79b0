"""Ovals, bands and rings on a pipe: bending and shortening by the upset, and a ring's waist.

::

          . - ~ ~ - .            seen along the pipe: heated over the arc g = 2 b on one side,
       .'   \\#####/   '.          through the wall, to the width w along the pipe
      /      \\ g /      \\
     |        \\ /        |        even:  as wide all over the arc
      \\                 /         oval:  w sqrt(1 - (a / b)^2) at the angle a from its middle
       '. _         _ .'
            ` - - `

    phi = (1 / I) int e* z dV            d = (1 / A) int e* dV

What is upset along the pipe turns and shortens it; with an end moment's stress M z / I as the
virtual one this is exact, however the wall bends near the heat.
"""

import math
from typing import Literal

from scipy.special import j1

from flamefe.basics.errors import OutOfRange
from flamefe.rules.given import need_between, need_positive

SOURCE = "derived: reciprocity with the stress of an end moment, upset even through the wall"
RING_SOURCE = (
    "derived: long thin cylinder under an even ring load, S. Timoshenko, S. Woinowsky-Krieger, "
    "Theory of Plates and Shells, 2nd ed., art. 114-115 (from memory)"
)
GREATEST_UPSET = 0.1
Outline = Literal["even", "oval"]


def _checked(diameter: float, wall: float, width: float, arc: float, upset: float) -> None:
    need_positive(diameter=diameter, wall=wall, width=width, arc=arc)
    need_between("upset", upset, 0.0, GREATEST_UPSET)
    need_between("arc", arc, 0.0, 2 * math.pi + 1e-9)
    if 2 * wall > diameter:
        raise OutOfRange(
            f"The wall of {1e3 * wall:g} mm is more than half the outer diameter of "
            f"{1e3 * diameter:g} mm; give the outer diameter."
        )


def patch_rotation(
    diameter: float,
    wall: float,
    width: float,
    arc: float,
    upset: float,
    outline: Outline = "even",
) -> float:
    """Rotation of a pipe heated over part of its circumference, towards the heat, rad.

    phi = e* w g1 (Ro^3 - Ri^3) / (3 I), I = pi (Ro^4 - Ri^4) / 4, with b half the arc and
    g1 = 2 sin b for an even band, pi J1(b) for an oval. Thin wall, small arc: 2 e* w b / (pi R).

    Args:
        diameter: outer, 2 Ro, m.
        wall: m.
        width: w along the pipe, of an oval at its middle, m.
        arc: g = 2 b, heated part of the circumference, rad, up to 2 pi.
        upset: e* along the pipe, even through the wall.
        outline: "even" or "oval".

    Raises:
        OutOfRange: a number is impossible.

    Range: exact for that upset; a ring (even, 2 pi) doesn't bend.
    Source: see ``SOURCE``.

    Examples:
        219.1 x 8 mm, an oval of 60 degrees and 40 mm with an upset of 0.5 %, mrad:

        >>> round(patch_rotation(0.2191, 0.008, 0.04, math.radians(60), 5e-3, "oval") * 1e3, 3)
        0.479
        >>> round(patch_rotation(0.2191, 0.008, 0.04, 2 * math.pi, 5e-3), 12)
        0.0
    """
    _checked(diameter, wall, width, arc, upset)
    outer, inner, half = diameter / 2, diameter / 2 - wall, arc / 2
    share = 2 * math.sin(half) if outline == "even" else math.pi * float(j1(half))
    first = share * (outer**3 - inner**3) / 3
    second = math.pi * (outer**4 - inner**4) / 4
    return upset * width * first / second


def patch_shortening(width: float, arc: float, upset: float, outline: Outline = "even") -> float:
    """Shortening of a pipe's axis by a heated part of its circumference, m.

    d = e* w g / (2 pi) for an even band, e* w g / 8 for an oval (g: the arc); a ring: e* w.

    Args:
        width: w along the pipe, of an oval at its middle, m.
        arc: g, rad, up to 2 pi.
        upset: e* along the pipe, even through the wall.
        outline: "even" or "oval".

    Raises:
        OutOfRange: a number is impossible.

    Range and source: as for `patch_rotation`.

    Examples:
        >>> round(patch_shortening(0.04, 2 * math.pi, 5e-3) * 1e3, 3)
        0.2
        >>> round(patch_shortening(0.04, math.radians(60), 5e-3, "oval") * 1e3, 4)
        0.0262
    """
    need_positive(width=width, arc=arc)
    need_between("upset", upset, 0.0, GREATEST_UPSET)
    need_between("arc", arc, 0.0, 2 * math.pi + 1e-9)
    return upset * width * (arc / (2 * math.pi) if outline == "even" else arc / 8)


def ring_waist(diameter: float, wall: float, width: float, upset: float, poisson: float) -> float:
    """Loss of radius under a ring that is upset round the pipe: the waist, m.

    w0 = e* R (1 - exp(-k w / 2) cos(k w / 2)), k^4 = 3 (1 - nu^2) / (R^2 h^2), R to mid-wall.

    Args:
        diameter: outer, m.
        wall: h, m.
        width: w of the ring along the pipe, m.
        upset: e* round the pipe, even through the wall.
        poisson: nu.

    Raises:
        OutOfRange: a number is impossible.

    Range: thin wall (R of at least 10 h), pipe going on for at least 3 / k to both sides; elastic
    but for that upset.
    Source: see ``RING_SOURCE``.

    Examples:
        >>> round(ring_waist(0.2191, 0.008, 0.04, 5e-3, 0.3) * 1e3, 4)
        0.3897
    """
    _checked(diameter, wall, width, 2 * math.pi, upset)
    need_between("poisson", poisson, 0.0, 0.5)
    radius = (diameter - wall) / 2
    bedding = (3 * (1 - poisson**2)) ** 0.25 / math.sqrt(radius * wall)
    half = bedding * width / 2
    return upset * radius * (1 - math.exp(-half) * math.cos(half))
