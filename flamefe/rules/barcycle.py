"""The restrained bar with tables: one heating and cooling, exact between the tables' points."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.basics.table import Table
from flamefe.rules.given import need_between, need_positive

Array = NDArray[np.float64]

COLD_C = 20.0
SOURCE = "Satoh's restrained bar with tables against temperature; derived"


@dataclass(frozen=True, kw_only=True)
class BarCycle:
    """What one heating and cooling did to a restrained bar.

    Args:
        first_yield_C: temperature at which it first yields while heated, C; None: it doesn't.
        hot_stress: stress at the peak temperature, Pa, compression below 0.
        hot_plastic_strain: plastic strain at the peak, below 0 when upset.
        residual_stress: stress when it is cold again, Pa; 0 when it is only held one-sided.
        plastic_strain: plastic strain when it is cold again.
    """

    first_yield_C: float | None
    hot_stress: float
    hot_plastic_strain: float
    residual_stress: float
    plastic_strain: float


def restrained_bar_cycle(
    peak_C: float,
    *,
    thermal_strain: Table,
    youngs_modulus: Table,
    yield_stress: Table,
    restraint: float = 1.0,
    one_sided: bool = False,
) -> BarCycle:
    """Heat a restrained bar evenly from 20 C to a peak and cool it again.

    The bar is elastic and perfectly plastic with tables linear between their points; the spring
    that holds it stays cold. With k = (1 - b) / (b E(20 C)) the spring's share of the compliance
    (see `flamefe.rules.bar` for b),

        stress = -(e_th(T) + e_p) / (1/E(T) + k),      |stress| <= sy(T).

    So while it is heated e_p = -max(0, max over T of g) with g = e_th - sy (1/E + k), and while
    it cools e_p can't stay below -min over T of h, h = e_th + sy (1/E + k). Both extremes are
    taken at the tables' points and at the roots of the derivative between them, so there is no
    step to choose.

    Args:
        peak_C: highest temperature, C, at least 20.
        thermal_strain: rising with temperature, 0 at 20 C.
        youngs_modulus: Pa.
        yield_stress: Pa.
        restraint: b, 0 to 1, above 0.
        one_sided: True when it is only held from expanding.

    Returns:
        Stresses and strains of the cycle.

    Raises:
        OutOfRange: the peak is below 20 C, b is out of its range, or the thermal strain doesn't
            rise (a phase change needs steps).

    Range: small strain, even temperature, no hardening, creep, phase change or buckling.
    Source: see ``SOURCE``.

    Examples:
        Constant properties give the closed form: 2 x 200 K x alpha E less the yield stress.

        >>> def constant(value): return Table.constant(value, source="demo")
        >>> strain = Table(temperature_C=(20, 1020), values=(0, 12e-3), source="demo")
        >>> found = restrained_bar_cycle(220.0, thermal_strain=strain,
        ...     youngs_modulus=constant(210e9), yield_stress=constant(355e6))
        >>> round(found.first_yield_C, 1), round(found.residual_stress / 1e6, 1)
        (160.9, 149.0)
    """
    need_positive(restraint=restraint)
    need_between("restraint", restraint, 0.0, 1.0)
    if not peak_C >= COLD_C:
        raise OutOfRange(f"The peak is {peak_C:g} C, it must be at least {COLD_C:g} C.")
    spring = (1 - restraint) / (restraint * float(youngs_modulus(COLD_C)))
    points = _points(peak_C, thermal_strain, youngs_modulus, yield_stress, spring)
    expansion = thermal_strain(points)
    if (np.diff(expansion) < 0).any():
        raise OutOfRange("The thermal strain falls with temperature; this rule needs it to rise.")
    strength = yield_stress(points) * (1 / youngs_modulus(points) + spring)
    excess = expansion - strength
    hot_strain = -max(0.0, float(excess.max()))
    hot_stiffness = 1 / (1 / float(youngs_modulus(peak_C)) + spring)
    hot_stress = -hot_stiffness * (float(thermal_strain(peak_C)) + hot_strain)
    first = _first_crossing(points, excess, thermal_strain, youngs_modulus, yield_stress, spring)
    if one_sided:
        cold_stress, cold_strain = 0.0, hot_strain
    else:
        cold_strain = max(hot_strain, -float((expansion + strength).min()))
        cold_stress = -cold_strain / (1 / float(youngs_modulus(COLD_C)) + spring) + 0.0
    return BarCycle(
        first_yield_C=first,
        hot_stress=hot_stress,
        hot_plastic_strain=hot_strain,
        residual_stress=cold_stress,
        plastic_strain=cold_strain,
    )


def _points(peak: float, strain: Table, young: Table, strength: Table, spring: float) -> Array:
    """The tables' temperatures up to the peak, and the extremes of g and h between them."""
    known = np.concatenate([table.temperature_C for table in (strain, young, strength)])
    known = np.unique(np.concatenate((known, (COLD_C, peak))))
    known = known[(known >= COLD_C) & (known <= peak)]
    extremes = [known]
    low, high = known[:-1], known[1:]
    if low.size:
        width = high - low
        strain_slope = (strain(high) - strain(low)) / width
        young_slope = (young(high) - young(low)) / width
        yield_slope = (strength(high) - strength(low)) / width
        # d/dT of sy/E is (sy' E - sy E') / E^2, and its numerator is constant between points.
        numerator = yield_slope * young(low) - strength(low) * young_slope
        for sign in (1.0, -1.0):
            with np.errstate(divide="ignore", invalid="ignore"):
                square = numerator / (sign * strain_slope - yield_slope * spring)
                root = low + (np.sqrt(square) - young(low)) / young_slope
            extremes.append(root[np.isfinite(root) & (root > low) & (root < high)])
    return np.asarray(np.unique(np.concatenate(extremes)))


def _first_crossing(
    points: Array, excess: Array, strain: Table, young: Table, strength: Table, spring: float
) -> float | None:
    """Lowest temperature at which g reaches 0; g is monotonic between ``points``."""
    reached = np.flatnonzero(excess > 0)
    if reached.size == 0:
        return None
    low, high = float(points[reached[0] - 1]), float(points[reached[0]])
    for _ in range(60):
        middle = 0.5 * (low + high)
        held = float(strength(middle)) * (1 / float(young(middle)) + spring)
        if float(strain(middle)) > held:
            high = middle
        else:
            low = middle
    return high
