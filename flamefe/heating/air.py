"""Film coefficients of air, still or blown, and of sprayed water, against surface temperature."""

from typing import Literal

import numpy as np
from fluids.atmosphere import ATMOSPHERE_1976
from ht import Nu_external_horizontal_plate, Nu_horizontal_plate_McAdams
from ht import Nu_vertical_plate_Churchill as vertical_plate

from flamefe.basics.errors import OutOfRange
from flamefe.basics.table import Table

Orientation = Literal["up", "down", "upright"]
"""How a face looks: its outside up, down, or to the side."""

GRAVITY = 9.80665
PRESSURE = 101325.0
_GAS, _HEAT_CAPACITY_RATIO = 287.053, 1.4
_ZERO = 273.15
_GRID = (1.0, 5.0, 10.0, 20.0, 40.0, 70.0, 100.0, 150.0, 200.0, 300.0, 400.0, 500.0, 600.0, 700.0,
         800.0, 900.0, 1000.0, 1200.0, 1400.0)  # fmt: skip

_ABOVE_WATER = {
    15.0: 800.0, 100.0: 1500.0, 120.0: 4000.0, 150.0: 8000.0, 200.0: 6000.0, 250.0: 3500.0,
    300.0: 2000.0, 400.0: 1000.0, 500.0: 700.0, 700.0: 550.0, 900.0: 500.0, 1200.0: 500.0,
}  # fmt: skip


def still_air(orientation: Orientation, size: float, *, ambient_C: float = 20.0) -> Table:
    """Film coefficient of natural convection from a face in still air.

    Formulas, air at the mean of surface and ambient: upright, Nu = (0.825 + 0.387 Ra^(1/6) /
    (1 + (0.492/Pr)^(9/16))^(8/27))^2 with the height; facing up, Nu = 0.54 Ra^(1/4), or
    0.15 Ra^(1/3) in turbulence, facing down 0.27 Ra^(1/4), with area by perimeter. They are meant
    for plates of one temperature and are used here with that of each place.

    Args:
        orientation: "up", "down" or "upright".
        size: height of an upright face; area by perimeter of another, m.
        ambient_C: of the air, C, -50 to 60.

    Returns:
        W/(m2 K) against surface temperature, C; convection alone, without radiation.

    Raises:
        OutOfRange: size or ambient.

    Source: S. W. Churchill and H. H. S. Chu 1975; W. H. McAdams, Heat Transmission, 3rd edition,
    1954; both through the library ht. Properties of air: U.S. Standard Atmosphere 1976, through the
    library fluids.

    Example:
        >>> film = still_air("upright", 0.5)
        >>> [round(float(film(t)), 1) for t in (60, 300, 700)]
        [5.0, 7.6, 8.1]
    """
    _check(size, ambient_C)
    films = []
    for above in _GRID:
        middle = ambient_C + _ZERO + 0.5 * above
        viscosity, conductivity, prandtl = _air(middle)
        grashof = GRAVITY / middle * above * size**3 / viscosity**2
        if orientation == "upright":
            number = vertical_plate(Pr=prandtl, Gr=grashof)
        else:
            number = Nu_horizontal_plate_McAdams(
                Pr=prandtl, Gr=grashof, buoyancy=orientation == "up"
            )
        films.append(float(number) * conductivity / size)
    return Table(
        temperature_C=tuple(ambient_C + above for above in _GRID),
        values=tuple(films),
        source="natural convection of air: Churchill and Chu 1975, McAdams 1954",
    )


def blown_air(speed: float, length: float, *, ambient_C: float = 20.0) -> Table:
    """Film coefficient of air that is blown along a face.

    Formula: mean over the length of a flat plate along the stream, laminar up to Re = 5e5,
    Nu = 0.664 Re^(1/2) Pr^(1/3), turbulent beyond, air at the mean temperature.

    Args:
        speed: of the air, m/s, 0.1 to 60.
        length: of the face along the stream, m.
        ambient_C: of the air, C, -50 to 60.

    Returns:
        W/(m2 K) against surface temperature, C; without radiation.

    Raises:
        OutOfRange: speed, length or ambient.

    Source: H. Schlichting, Boundary-Layer Theory, through the library ht.

    Example:
        >>> round(float(blown_air(5.0, 0.2)(120.0)), 1)
        19.5
    """
    _check(length, ambient_C)
    if not 0.1 <= speed <= 60.0:
        raise OutOfRange(f"Air is blown at {speed:g} m/s; allowed: 0.1 to 60 m/s.")
    films = []
    for above in _GRID:
        viscosity, conductivity, prandtl = _air(ambient_C + _ZERO + 0.5 * above)
        number = Nu_external_horizontal_plate(Re=speed * length / viscosity, Pr=prandtl)
        films.append(float(number) * conductivity / length)
    return Table(
        temperature_C=tuple(ambient_C + above for above in _GRID),
        values=tuple(films),
        source="forced convection of air along a plate, through the library ht",
    )


def sprayed_water() -> Table:
    """Film coefficient of a moderate water spray: boiling and vapour film.

    From 800 W/(m2 K) on a cold face through 8000 at 150 C (bubbles) to some 500 where a film of
    steam stands between water and metal (above 400 C).

    Returns:
        W/(m2 K) against surface temperature, C.

    Source: shape of a boiling curve as in handbooks on spray quenching (from memory, uncertain to a
    factor of two); measure your own where it matters.

    Example:
        >>> [float(sprayed_water()(t)) for t in (150, 600)]
        [8000.0, 625.0]
    """
    return Table(
        temperature_C=tuple(_ABOVE_WATER),
        values=tuple(_ABOVE_WATER.values()),
        source="boiling curve of a water spray (from memory, uncertain to a factor of two)",
    )


def _check(size: float, ambient_C: float) -> None:
    faults = []
    if not 0.001 <= size <= 100.0:
        faults.append(f"a face of {size:g} m; allowed: 0.001 to 100 m")
    if not -50.0 <= ambient_C <= 60.0:
        faults.append(f"air at {ambient_C:g} C; allowed: -50 to 60 C")
    if faults:
        raise OutOfRange(f"Cooling in air: {'; '.join(faults)}.")


def _air(kelvin: float) -> tuple[float, float, float]:
    """Kinematic viscosity m2/s, conductivity W/(m K) and Prandtl number of air."""
    dynamic = float(ATMOSPHERE_1976.viscosity(kelvin))
    conductivity = float(ATMOSPHERE_1976.thermal_conductivity(kelvin))
    density = PRESSURE / (_GAS * kelvin)
    # heat capacity of air rises by some 19 % to 1000 K (from memory)
    capacity = _GAS * _HEAT_CAPACITY_RATIO / (_HEAT_CAPACITY_RATIO - 1.0)
    capacity *= float(np.interp(kelvin, (300.0, 500.0, 1000.0), (1.0, 1.024, 1.136)))
    return dynamic / density, conductivity, dynamic * capacity / conductivity
