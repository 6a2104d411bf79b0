"""The nozzle: from gas by the hour to heat in the part, and the gas that a heat takes."""

from dataclasses import dataclass
from math import exp, log

import numpy as np

from flamefe.basics.errors import OutOfRange
from flamefe.basics.known import Known
from flamefe.heating.fuel import Fuel

LITRES_PER_HOUR = 1e-3 / 3600.0
"""m3/s in a litre an hour."""

_SIZES_KW = (2.2, 7.4, 22.0, 38.0)
_SHARES = (0.70, 0.45, 0.36, 0.30)
_SHARE_SPREAD = 0.3
_RADII = (0.016, 0.026)
_SHARE_SOURCE = (
    "default by the nozzle's gross power after N. N. Rykalin, Berechnung der Waermevorgaenge beim "
    "Schweissen, Berlin 1957, for acetylene at right angles to the plate (from memory, uncertain)"
)
_RADIUS_SOURCE = (
    "default by the nozzle's gross power: k = 0.39 to 0.15 1/cm2 in q = q0 exp(-k r^2) after "
    "N. N. Rykalin, Berlin 1957 (from memory, uncertain)"
)
_SPREAD_BY_ANALOGY = 0.5
_BY_ANALOGY = "; for this fuel by analogy with acetylene, no source"


@dataclass(frozen=True, kw_only=True)
class Nozzle:
    """A nozzle, or all jets of a head, by the fuel it burns.

    Formulas: gross power = fuel by time x lower heating value; net power = efficiency x gross.

    Args:
        fuel: the gas.
        consumption: fuel, m3/s at 15 C and 101.325 kPa, of all jets together.
        efficiency: share of the gross power that the part takes up; None: ``usual_efficiency``.
        radius: R of the flame, or of one jet, m; None: ``usual_radius``.
        jets: among how many jets or heads the fuel is shared; each has the default radius and
            efficiency of its own size.

    Raises:
        OutOfRange: consumption not above 0, efficiency outside 0 to 1, radius not above 0.

    Example:
        >>> from flamefe.heating.fuel import fuel
        >>> nozzle = Nozzle(fuel=fuel("acetylene"), consumption=1000 * LITRES_PER_HOUR)
        >>> [round(power / 1e3, 1) for power in (nozzle.gross_power, nozzle.net_power)]
        [14.8, 5.8]
        >>> [round(power / 1e3, 1) for power in nozzle.net_range]
        [4.1, 7.5]
    """

    fuel: Fuel
    consumption: float
    efficiency: Known | None = None
    radius: Known | None = None
    jets: int = 1

    def __post_init__(self) -> None:
        faults = []
        if not 0.0 < self.consumption < 1.0:
            faults.append(
                f"a consumption of {self.consumption / LITRES_PER_HOUR:g} L/h; needed: above 0"
            )
        if self.efficiency is not None and not 0.0 < self.efficiency.value <= 1.0:
            faults.append(f"an efficiency of {self.efficiency.value:g}; needed: above 0, up to 1")
        if self.radius is not None and not self.radius.value > 0.0:
            faults.append(f"a radius of {self.radius.value:g} m; needed: above 0")
        if self.jets < 1:
            faults.append(f"{self.jets} jets; needed: at least 1")
        if faults:
            raise OutOfRange(f"A nozzle has {'; '.join(faults)}.")

    @property
    def gross_power(self) -> float:
        """Heat that the fuel brings, W."""
        return self.consumption * self.fuel.heating_value

    @property
    def share(self) -> Known:
        """Efficiency that is used, with its range and source."""
        if self.efficiency is not None:
            return self.efficiency
        usual = usual_efficiency(self.gross_power / self.jets)
        return self._marked(usual)

    @property
    def net_power(self) -> float:
        """Heat that the part takes up, W."""
        return self.share.value * self.gross_power

    @property
    def net_range(self) -> tuple[float, float]:
        """Lowest and highest net power that the efficiency's range allows, W."""
        low = self.share.value if self.share.low is None else self.share.low
        high = self.share.value if self.share.high is None else self.share.high
        return low * self.gross_power, high * self.gross_power

    @property
    def flame_radius(self) -> Known:
        """Radius that is used, m, with its source."""
        if self.radius is not None:
            return self.radius
        return self._marked(usual_radius(self.gross_power / self.jets))

    @property
    def extrapolated(self) -> bool:
        """Whether a default is used for a size beyond those it was made for."""
        inside = _SIZES_KW[0] <= 1e-3 * self.gross_power / self.jets <= _SIZES_KW[-1]
        return not inside and (self.efficiency is None or self.radius is None)

    def gas(self, burning: float) -> "GasUse":
        """Fuel and oxygen that ``burning`` s take."""
        volume = self.consumption * burning
        return GasUse(
            fuel=self.fuel.name,
            burning=burning,
            fuel_volume=volume,
            fuel_mass=volume * self.fuel.density,
            oxygen_volume=volume * self.fuel.oxygen.value,
        )

    def _marked(self, known: Known) -> Known:
        if self.fuel.name == "acetylene":
            return known
        return Known(
            value=known.value,
            low=(1.0 - _SPREAD_BY_ANALOGY) * known.value,
            high=(1.0 + _SPREAD_BY_ANALOGY) * known.value,
            source=known.source + _BY_ANALOGY,
        )


@dataclass(frozen=True, kw_only=True)
class GasUse:
    """Gas that a heat or a job takes, volumes at 15 C and 101.325 kPa.

    Args:
        fuel: name of the fuel.
        burning: s.
        fuel_volume, oxygen_volume: m3.
        fuel_mass: kg.

    Example:
        >>> from flamefe.heating.fuel import fuel
        >>> use = Nozzle(fuel=fuel("propane"), consumption=1000 * LITRES_PER_HOUR).gas(360.0)
        >>> round(1e3 * use.fuel_volume), round(1e3 * use.oxygen_volume), round(use.fuel_mass, 3)
        (100, 430, 0.186)
        >>> round(use.cost(fuel_price=4.0, oxygen_price=2.0), 2)
        1.26
    """

    fuel: str
    burning: float
    fuel_volume: float
    fuel_mass: float
    oxygen_volume: float

    def cost(self, *, fuel_price: float, oxygen_price: float) -> float:
        """Price of both gases, in the currency of the prices by m3."""
        return self.fuel_volume * fuel_price + self.oxygen_volume * oxygen_price

    def __add__(self, other: "GasUse") -> "GasUse":
        """Gas of both; the fuels must be the same.

        Raises:
            OutOfRange: different fuels.
        """
        if other.fuel != self.fuel:
            raise OutOfRange(f"{self.fuel} and {other.fuel} can't be added; add them by fuel.")
        return GasUse(
            fuel=self.fuel,
            burning=self.burning + other.burning,
            fuel_volume=self.fuel_volume + other.fuel_volume,
            fuel_mass=self.fuel_mass + other.fuel_mass,
            oxygen_volume=self.oxygen_volume + other.oxygen_volume,
        )


def usual_efficiency(gross_power: float) -> Known:
    """Share of a flame's gross power that a steel plate takes up, by the size of the nozzle.

    Linear in the logarithm of the gross power between 0.70 at 2.2 kW (150 L/h of acetylene), 0.45
    at 7.4 kW, 0.36 at 22 kW and 0.30 at 38 kW (2600 L/h); held beyond. Its range is 30 % of it
    either way. It falls as the surface gets hot, and rises with the torch's speed.

    Args:
        gross_power: W.

    Source: N. N. Rykalin, Berechnung der Waermevorgaenge beim Schweissen, Berlin 1957 (from
    memory, uncertain).

    Example:
        >>> usual_efficiency(22000.0).spread
        '0.36 (0.252 to 0.468)'
    """
    value = float(np.interp(log(max(1e-3 * gross_power, 1e-9)), np.log(_SIZES_KW), _SHARES))
    low, high = (1.0 - _SHARE_SPREAD) * value, min((1.0 + _SHARE_SPREAD) * value, 0.95)
    return Known(value=value, low=low, high=high, source=_SHARE_SOURCE)


def usual_radius(gross_power: float) -> Known:
    """Radius R of a round flame in q = q0 exp(-r^2 / R^2), m, by the size of the nozzle.

    From 16 mm at 2.2 kW to 26 mm at 38 kW of gross power, even in the logarithms; held beyond. Its
    range is 25 % of it either way (no source).

    Args:
        gross_power: W.

    Source: N. N. Rykalin, Berechnung der Waermevorgaenge beim Schweissen, Berlin 1957 (from
    memory, uncertain).

    Example:
        >>> round(1e3 * usual_radius(14800.0).value, 1)
        22.1
    """
    ends = np.log((_SIZES_KW[0], _SIZES_KW[-1]))
    value = exp(float(np.interp(log(max(1e-3 * gross_power, 1e-9)), ends, np.log(_RADII))))
    return Known(value=value, low=0.75 * value, high=1.25 * value, source=_RADIUS_SOURCE)
