"""A heated bar that its neighbours or a spring hold: the frame of three bars.

::

        ||======  A2, cold  ======||
        ||======  A1, hot   ======||     rigid heads, equal lengths L, equal E
        ||======  A2, cold  ======||     restraint b = 2 A2 / (2 A2 + A1)

The middle bar is heated evenly by dT and cools again. It is upset against the side bars, pulls
them together afterwards, and the frame ends shorter: the smallest model of a heat in the middle of
a plate.
"""

from flamefe.basics.errors import OutOfRange
from flamefe.rules.bar import residual_bar_stress, spring_restraint, three_bar_restraint
from flamefe.rules.given import need_positive

SOURCE = "derived: equal lengths and equilibrium of three bars, elastic and perfectly plastic"


def frame_tension(
    temperature_rise: float,
    yield_stress: float,
    youngs_modulus: float,
    expansion: float,
    side_area: float,
    middle_area: float,
) -> float:
    """Tension left in the middle bar: min(sy, b E alpha dT - sy), b = 2 A2 / (2 A2 + A1), Pa.

    Args:
        temperature_rise: dT of the middle bar, K.
        yield_stress: sy, Pa.
        youngs_modulus: E, Pa.
        expansion: alpha, 1/K.
        side_area: A2 of each side bar, m2.
        middle_area: A1, m2.

    Raises:
        OutOfRange: a number isn't positive.

    Range: 2 A2 of at least A1 (else the side bars yield before the middle does); properties
    constant; no buckling.
    Source: see ``SOURCE``.

    Examples:
        S355, side bars of 300 mm2, the middle one of 200 mm2 heated by 320 K (b = 0.75):

        >>> round(frame_tension(320.0, 355e6, 210e9, 12e-6, 3e-4, 2e-4) / 1e6, 1)
        249.8
    """
    restraint = three_bar_restraint(side_area, middle_area)
    return residual_bar_stress(temperature_rise, yield_stress, youngs_modulus, expansion, restraint)


def frame_shortening(
    length: float,
    temperature_rise: float,
    yield_stress: float,
    youngs_modulus: float,
    expansion: float,
    side_area: float,
    middle_area: float,
) -> float:
    """Shortening of the cold frame: L s A1 / (2 A2 E), with s the tension of the middle bar, m.

    The side bars are compressed by s A1 / (2 A2); they stay elastic.

    Args:
        length: L of the bars, m.
        temperature_rise: dT of the middle bar, K.
        yield_stress: sy, Pa.
        youngs_modulus: E, Pa.
        expansion: alpha, 1/K.
        side_area: A2 of each side bar, m2.
        middle_area: A1, m2.

    Raises:
        OutOfRange: a number isn't positive.

    Range and source: as for `frame_tension`.

    Examples:
        The frame of `frame_tension`, 1 m long, mm:

        >>> round(frame_shortening(1.0, 320.0, 355e6, 210e9, 12e-6, 3e-4, 2e-4) * 1e3, 4)
        0.3965
    """
    need_positive(length=length)
    tension = frame_tension(
        temperature_rise, yield_stress, youngs_modulus, expansion, side_area, middle_area
    )
    return length * tension * middle_area / (2 * side_area * youngs_modulus)


def restraint_behind_cold_metal(
    spring_stiffness: float,
    section_area: float,
    youngs_modulus: float,
    length: float,
    heated_length: float | None = None,
) -> float:
    """Restraint of a bar's heated length by the rest of the bar and a spring in series.

    b = ks' / (ks' + E A / Lh), 1 / ks' = 1 / ks + (L - Lh) / (E A).

    Args:
        spring_stiffness: ks, N/m.
        section_area: A of the bar, m2.
        youngs_modulus: E, Pa.
        length: L of the bar, m.
        heated_length: Lh, m, at most L; None: all of it.

    Raises:
        OutOfRange: a number isn't positive, or the heated length is the longer one.

    Range: the rest of the bar stays cold and elastic. Source: derived.

    Examples:
        A bar of 20 x 10 mm, 0.5 m long, against 84 kN/mm (as stiff as itself), then with only
        0.1 m of it heated:

        >>> round(restraint_behind_cold_metal(84e6, 2e-4, 210e9, 0.5), 3)
        0.5
        >>> round(restraint_behind_cold_metal(84e6, 2e-4, 210e9, 0.5, 0.1), 3)
        0.1
    """
    heated = length if heated_length is None else heated_length
    need_positive(spring_stiffness=spring_stiffness, section_area=section_area)
    need_positive(youngs_modulus=youngs_modulus, length=length, heated_length=heated)
    if heated > length * (1 + 1e-9):
        raise OutOfRange(
            f"The heated length is {1e3 * heated:g} mm, it can't be more than the bar's "
            f"{1e3 * length:g} mm."
        )
    cold = max(length - heated, 0.0)
    pliancy = 1 / spring_stiffness + cold / (youngs_modulus * section_area)
    return spring_restraint(1 / pliancy, youngs_modulus * section_area / heated)
