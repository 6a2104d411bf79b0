"""Heat properties of structural metals: the formulas of the Eurocodes for fire, one a function.

The numbers of the formulas of EN 1993-1-2 are those of the open-source Python package metku
0.1.35, those of EN 1999-1-2 were published at second hand too; neither was read in the standard
itself. The numbers of the clauses of EN 1999-1-2 are from memory.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import OutOfRange

Array = NDArray[np.float64]


def _within(temperature: ArrayLike, low: float, high: float, formula: str) -> Array:
    t = np.asarray(temperature, dtype=float)
    bad = t[~((t >= low) & (t <= high))]
    if bad.size:
        raise OutOfRange(
            f"{formula} holds from {low:g} to {high:g} C; {float(bad.flat[0]):g} C was asked for."
        )
    return t


def steel_elongation(temperature: ArrayLike) -> Array:
    """Thermal elongation of carbon steel.

    1.2e-5 T + 0.4e-8 T^2 - 2.416e-4 below 750 C, 1.1e-2 from 750 to 860 C, 2e-5 T - 6.2e-3 above.

    Args:
        temperature: C, any shape, 20 to 1200.

    Returns:
        Strain against 20 C, same shape.

    Raises:
        OutOfRange: a temperature outside 20 to 1200 C.

    Source: EN 1993-1-2:2005, 3.4.1.1.

    Example:
        >>> round(float(steel_elongation(600.0)) * 1e3, 4)
        8.3984
    """
    t = _within(temperature, 20.0, 1200.0, "The elongation of carbon steel")
    cold = 1.2e-5 * t + 0.4e-8 * t**2 - 2.416e-4
    return np.asarray(np.where(t < 750.0, cold, np.where(t <= 860.0, 1.1e-2, 2e-5 * t - 6.2e-3)))


def steel_specific_heat(temperature: ArrayLike) -> Array:
    """Specific heat of carbon steel, with its peak at 735 C.

    425 + 0.773 T - 1.69e-3 T^2 + 2.22e-6 T^3 below 600 C, 666 + 13002 / (738 - T) below 735 C,
    545 + 17820 / (T - 731) below 900 C, 650 above.

    Args:
        temperature: C, any shape, 20 to 1200.

    Returns:
        J/(kg K), same shape.

    Raises:
        OutOfRange: a temperature outside 20 to 1200 C.

    Source: EN 1993-1-2:2005, 3.4.1.2.

    Example:
        >>> round(float(steel_specific_heat(735.0)), 6)
        5000.0
    """
    t = _within(temperature, 20.0, 1200.0, "The specific heat of carbon steel")
    cold = 425.0 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3
    rising = 666.0 + 13002.0 / (738.0 - np.minimum(t, 735.0))
    falling = 545.0 + 17820.0 / (np.maximum(t, 735.0) - 731.0)
    return np.asarray(np.select([t < 600.0, t < 735.0, t < 900.0], [cold, rising, falling], 650.0))


def steel_conductivity(temperature: ArrayLike) -> Array:
    """Thermal conductivity of carbon steel: 54 - 0.0333 T below 800 C, 27.3 above.

    Args:
        temperature: C, any shape, 20 to 1200.

    Returns:
        W/(m K), same shape.

    Raises:
        OutOfRange: a temperature outside 20 to 1200 C.

    Source: EN 1993-1-2:2005, 3.4.1.3.

    Example:
        >>> round(float(steel_conductivity(500.0)), 6)
        37.35
    """
    t = _within(temperature, 20.0, 1200.0, "The conductivity of carbon steel")
    return np.asarray(np.where(t < 800.0, 54.0 - 3.33e-2 * t, 27.3))


def stainless_elongation(temperature: ArrayLike) -> Array:
    """Thermal elongation of stainless steel: (16 + 4.79e-3 T - 1.243e-6 T^2) (T - 20) 1e-6.

    Args:
        temperature: C, any shape, 20 to 1200.

    Returns:
        Strain against 20 C, same shape.

    Raises:
        OutOfRange: a temperature outside 20 to 1200 C.

    Source: EN 1993-1-2:2005, annex C, C.3.1.

    Example:
        >>> round(float(stainless_elongation(520.0)) * 1e3, 4)
        9.0773
    """
    t = _within(temperature, 20.0, 1200.0, "The elongation of stainless steel")
    return np.asarray((16.0 + 4.79e-3 * t - 1.243e-6 * t**2) * (t - 20.0) * 1e-6)


def stainless_specific_heat(temperature: ArrayLike) -> Array:
    """Specific heat of stainless steel: 450 + 0.28 T - 2.91e-4 T^2 + 1.34e-7 T^3.

    Args:
        temperature: C, any shape, 20 to 1200.

    Returns:
        J/(kg K), same shape.

    Raises:
        OutOfRange: a temperature outside 20 to 1200 C.

    Source: EN 1993-1-2:2005, annex C, C.3.2.

    Example:
        >>> round(float(stainless_specific_heat(500.0)), 6)
        534.0
    """
    t = _within(temperature, 20.0, 1200.0, "The specific heat of stainless steel")
    return np.asarray(450.0 + 0.280 * t - 2.91e-4 * t**2 + 1.34e-7 * t**3)


def stainless_conductivity(temperature: ArrayLike) -> Array:
    """Thermal conductivity of stainless steel: 14.6 + 0.0127 T.

    Args:
        temperature: C, any shape, 20 to 1200.

    Returns:
        W/(m K), same shape.

    Raises:
        OutOfRange: a temperature outside 20 to 1200 C.

    Source: EN 1993-1-2:2005, annex C, C.3.3.

    Example:
        >>> round(float(stainless_conductivity(500.0)), 6)
        20.95
    """
    t = _within(temperature, 20.0, 1200.0, "The conductivity of stainless steel")
    return np.asarray(14.6 + 1.27e-2 * t)


def aluminium_elongation(temperature: ArrayLike) -> Array:
    """Thermal elongation of aluminium alloys: 0.1e-7 T^2 + 22.5e-6 T - 4.5e-4.

    As printed it is 4e-6, not 0, at 20 C.

    Args:
        temperature: C, any shape, 0 to 500.

    Returns:
        Strain against 20 C, same shape.

    Raises:
        OutOfRange: a temperature outside 0 to 500 C.

    Source: EN 1999-1-2:2007, 3.3.1.1.

    Example:
        >>> round(float(aluminium_elongation(300.0)) * 1e3, 4)
        7.2
    """
    t = _within(temperature, 0.0, 500.0, "The elongation of aluminium")
    return np.asarray(0.1e-7 * t**2 + 22.5e-6 * t - 4.5e-4)


def aluminium_specific_heat(temperature: ArrayLike) -> Array:
    """Specific heat of aluminium alloys: 0.41 T + 903.

    Args:
        temperature: C, any shape, 0 to 500.

    Returns:
        J/(kg K), same shape.

    Raises:
        OutOfRange: a temperature outside 0 to 500 C.

    Source: EN 1999-1-2:2007, 3.3.1.2.

    Example:
        >>> round(float(aluminium_specific_heat(300.0)), 6)
        1026.0
    """
    t = _within(temperature, 0.0, 500.0, "The specific heat of aluminium")
    return np.asarray(0.41 * t + 903.0)


def aluminium_conductivity(temperature: ArrayLike, *, series: int) -> Array:
    """Thermal conductivity of aluminium alloys.

    0.07 T + 190 for the 3000 and 6000 series, 0.10 T + 140 for the 5000 and 7000 series.

    Args:
        temperature: C, any shape, 0 to 500.
        series: first digit of the alloy's number: 3, 5, 6 or 7.

    Returns:
        W/(m K), same shape.

    Raises:
        OutOfRange: a temperature outside 0 to 500 C, or another series.

    Source: EN 1999-1-2:2007, 3.3.1.3.

    Example:
        >>> round(float(aluminium_conductivity(300.0, series=6)), 6)
        211.0
    """
    t = _within(temperature, 0.0, 500.0, "The conductivity of aluminium")
    if series in (3, 6):
        return np.asarray(0.07 * t + 190.0)
    if series in (5, 7):
        return np.asarray(0.10 * t + 140.0)
    raise OutOfRange(
        f"The conductivity of aluminium is given for the series 3, 5, 6 and 7, not for {series}."
    )
