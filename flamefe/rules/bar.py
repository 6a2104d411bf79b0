"""A bar that can't expand freely while it is heated: constant properties (Satoh's bar).

::

    wall |=====/\\/\\/\\=====[   heated bar   ]=====| wall      restraint b = ks / (ks + E A / L)
               spring ks     E, A, L                       b = 1: rigid;  b = 0: free

Heated evenly from cold by dT and cooled again, elastic and perfectly plastic, the bar first
carries the stress -b E alpha dT, yields in compression at dT_y = sy / (b E alpha), is upset by
alpha dT - sy / (b E), and is left in tension when it is cold.
"""

from flamefe.rules.given import need_between, need_positive

SOURCE = (
    "K. Satoh, Trans. Japan Welding Soc. 3 (1972) 125, both-ends-fixed bar analogy (from memory); "
    "derived again here"
)


def yield_temperature_rise(
    yield_stress: float, youngs_modulus: float, expansion: float, restraint: float = 1.0
) -> float:
    """Temperature rise at which a restrained bar first yields: dT_y = sy / (b E alpha), K.

    Args:
        yield_stress: sy, Pa.
        youngs_modulus: E, Pa.
        expansion: alpha, 1/K.
        restraint: b, 0 (free) to 1 (rigid), above 0.

    Raises:
        OutOfRange: a number isn't positive, or b isn't within its range.

    Range: properties constant up to that temperature, even temperature over the bar, no buckling.
    Source: see ``SOURCE``.

    Examples:
        S355 between rigid walls:

        >>> round(yield_temperature_rise(355e6, 210e9, 12e-6), 1)
        140.9
    """
    need_positive(yield_stress=yield_stress, youngs_modulus=youngs_modulus, expansion=expansion)
    need_positive(restraint=restraint)
    need_between("restraint", restraint, 0.0, 1.0)
    return yield_stress / (restraint * youngs_modulus * expansion)


def residual_bar_stress(
    temperature_rise: float,
    yield_stress: float,
    youngs_modulus: float,
    expansion: float,
    restraint: float = 1.0,
) -> float:
    """Tension left in the cold bar: min(sy, b E alpha dT - sy), 0 below first yield, Pa.

    Args:
        temperature_rise: dT above cold, K.
        yield_stress: sy, Pa.
        youngs_modulus: E, Pa.
        expansion: alpha, 1/K.
        restraint: b, 0 to 1, above 0; it holds the bar in both directions.

    Raises:
        OutOfRange: a number isn't positive, or b isn't within its range.

    Range: properties constant, even temperature over the bar, no buckling.
    Source: see ``SOURCE``.

    Examples:
        S355 between rigid walls, 200 K hotter: a third of full reversal is done.

        >>> round(residual_bar_stress(200.0, 355e6, 210e9, 12e-6) / 1e6, 1)
        149.0
        >>> round(residual_bar_stress(281.8, 355e6, 210e9, 12e-6) / 1e6, 1)
        355.0
    """
    first = yield_temperature_rise(yield_stress, youngs_modulus, expansion, restraint)
    if temperature_rise <= first:
        return 0.0
    pull = restraint * youngs_modulus * expansion * temperature_rise - yield_stress
    return min(yield_stress, pull)


def upset_when_hot(
    temperature_rise: float,
    yield_stress: float,
    youngs_modulus: float,
    expansion: float,
    restraint: float = 1.0,
) -> float:
    """Plastic shortening of the hot bar: alpha dT - sy / (b E), 0 below first yield; strain > 0.

    Args and errors: as for `residual_bar_stress`.

    Range: properties constant, even temperature over the bar, no buckling.
    Source: see ``SOURCE``.

    Examples:
        >>> round(upset_when_hot(200.0, 355e6, 210e9, 12e-6) * 1e3, 4)
        0.7095
    """
    first = yield_temperature_rise(yield_stress, youngs_modulus, expansion, restraint)
    return expansion * max(temperature_rise - first, 0.0)


def upset_when_cold(
    temperature_rise: float,
    yield_stress: float,
    youngs_modulus: float,
    expansion: float,
    restraint: float = 1.0,
) -> float:
    """Plastic shortening that stays after cooling: min(alpha dT - sy/(b E), sy/(b E)); strain > 0.

    The restraint pulls on the cooling bar as well, so it can't stay shorter than sy / (b E).

    Args and errors: as for `residual_bar_stress`.

    Range: properties constant, even temperature over the bar, no buckling.
    Source: see ``SOURCE``.

    Examples:
        >>> round(upset_when_cold(600.0, 355e6, 210e9, 12e-6) * 1e3, 4)
        1.6905
    """
    hot = upset_when_hot(temperature_rise, yield_stress, youngs_modulus, expansion, restraint)
    return min(hot, yield_stress / (restraint * youngs_modulus))


def one_sided_shortening(
    length: float,
    temperature_rise: float,
    yield_stress: float,
    youngs_modulus: float,
    expansion: float,
    restraint: float = 1.0,
) -> float:
    """Shortening of a bar that is only held from expanding: L (alpha dT - sy / (b E)), m.

    A stop, a wedge or a jack lets go when the bar cools, so all of the upset stays, no residual
    stress is left, and the gap that opens is the shortening.

    Args:
        length: L of the heated length, m.
        temperature_rise: dT above cold, K.
        yield_stress: sy, Pa.
        youngs_modulus: E, Pa.
        expansion: alpha, 1/K.
        restraint: b against expansion, 0 to 1, above 0.

    Raises:
        OutOfRange: a number isn't positive, or b isn't within its range.

    Range: properties constant, even temperature over the bar, no buckling.
    Source: see ``SOURCE``.

    Examples:
        >>> round(one_sided_shortening(0.5, 300.0, 355e6, 210e9, 12e-6) * 1e3, 4)
        0.9548
    """
    need_positive(length=length)
    return length * upset_when_hot(
        temperature_rise, yield_stress, youngs_modulus, expansion, restraint
    )


def spring_restraint(spring_stiffness: float, bar_stiffness: float) -> float:
    """Restraint of a bar against a spring: b = ks / (ks + E A / L).

    Args:
        spring_stiffness: ks, N/m.
        bar_stiffness: E A / L of the heated bar, N/m.

    Raises:
        OutOfRange: a stiffness isn't positive.

    Source: derived.

    Examples:
        >>> spring_restraint(3e8, 1e8)
        0.75
    """
    need_positive(spring_stiffness=spring_stiffness, bar_stiffness=bar_stiffness)
    return spring_stiffness / (spring_stiffness + bar_stiffness)


def three_bar_restraint(side_area: float, middle_area: float) -> float:
    """Restraint of the middle bar of a frame of three: b = 2 A2 / (2 A2 + A1).

    ::

        ||======  A2, cold  ======||
        ||======  A1, hot   ======||     rigid heads, equal lengths, equal E
        ||======  A2, cold  ======||

    Args:
        side_area: A2 of each side bar, m2.
        middle_area: A1, m2.

    Raises:
        OutOfRange: an area isn't positive.

    Source: derived (the three-bar frame is the textbooks' picture of residual stress).

    Examples:
        >>> three_bar_restraint(side_area=3e-4, middle_area=2e-4)
        0.75
    """
    need_positive(side_area=side_area, middle_area=middle_area)
    return 2 * side_area / (2 * side_area + middle_area)
