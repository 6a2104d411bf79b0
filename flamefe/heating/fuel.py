"""Fuel gases: what they bring, how much oxygen they take, how hot they burn."""

from dataclasses import dataclass
from types import MappingProxyType

from flamefe.basics.errors import OutOfRange
from flamefe.basics.known import Known

MOLAR_VOLUME = 8.314462618 * 288.15 / 101325.0
"""Of an ideal gas at 15 C and 101.325 kPa, m3/mol; gas volumes here are all meant so."""
CARBON_DIOXIDE, STEAM, MONOXIDE = -393.51e3, -241.826e3, -110.53e3
"""Enthalpies of formation at 25 C, J/mol: J. D. Cox, D. D. Wagman, V. A. Medvedev (editors),
CODATA Key Values for Thermodynamics, 1989 (from memory)."""
MOLAR_MASS_CARBON, MOLAR_MASS_HYDROGEN = 12.011e-3, 1.008e-3
"""kg/mol."""

_FORMATION = "NIST Chemistry WebBook, gas phase, 25 C (from memory)"
_TABLE = "usual value of handbooks on oxy-fuel torches (from memory)"
_SURE = "usual value of handbooks on oxy-fuel torches (from memory, uncertain)"


@dataclass(frozen=True, kw_only=True)
class Fuel:
    """A fuel gas that burns with oxygen.

    Formulas: lower heating value = Hf + c 393.51 + h/2 241.826 kJ/mol, with c carbon and h hydrogen
    atoms and Hf the enthalpy of formation; oxygen to burn it all: c + h/4. The torch is given less
    than that, the rest comes from the air about the flame.

    Args:
        name: of the gas.
        carbon, hydrogen: atoms in a molecule.
        formation: Hf at 25 C, J/mol.
        oxygen: volumes of oxygen that the torch mixes with one of fuel.
        flame_C: temperature of the flame at that mixture, C.
        primary: heat of the primary flame (the cone), J/m3 of fuel.
        note: what is assumed.

    Example:
        >>> acetylene = fuel("acetylene")
        >>> round(acetylene.heating_value / 1e6, 1), acetylene.oxygen_to_burn
        (53.1, 2.5)
    """

    name: str
    carbon: int
    hydrogen: int
    formation: Known
    oxygen: Known
    flame_C: Known
    primary: Known
    note: str = ""

    @property
    def oxygen_to_burn(self) -> float:
        """Volumes of oxygen that burn one of fuel completely."""
        return self.carbon + self.hydrogen / 4.0

    @property
    def molar_heating_value(self) -> float:
        """Lower heating value at 25 C, J/mol: the steam stays steam."""
        products = self.carbon * CARBON_DIOXIDE + 0.5 * self.hydrogen * STEAM
        return self.formation.value - products

    @property
    def heating_value(self) -> float:
        """Lower heating value, J/m3 of gas at 15 C and 101.325 kPa, taken as ideal."""
        return self.molar_heating_value / MOLAR_VOLUME

    @property
    def density(self) -> float:
        """kg/m3 at 15 C and 101.325 kPa."""
        molar = self.carbon * MOLAR_MASS_CARBON + self.hydrogen * MOLAR_MASS_HYDROGEN
        return molar / MOLAR_VOLUME

    @property
    def primary_share(self) -> float:
        """Part of the heating value that the primary flame releases, 0 to 1."""
        return self.primary.value / self.heating_value


def _known(value: float, source: str, spread: float | None = None) -> Known:
    if spread is None:
        return Known(value=value, source=source)
    return Known(value=value, source=source, low=value - spread, high=value + spread)


_FUELS = {
    made.name: made
    for made in (
        Fuel(
            name="acetylene",
            carbon=2,
            hydrogen=2,
            formation=_known(226.73e3, _FORMATION),
            oxygen=Known(value=1.1, source=_TABLE, low=1.0, high=1.2),
            flame_C=_known(3160.0, _TABLE, 60.0),
            primary=_known(
                18.9e6, "C2H2 + O2 -> 2 CO + H2 from the enthalpies of formation, and " + _TABLE
            ),
        ),
        Fuel(
            name="propane",
            carbon=3,
            hydrogen=8,
            formation=_known(-104.7e3, _FORMATION),
            oxygen=Known(value=4.3, source=_TABLE, low=3.75, high=4.5),
            flame_C=_known(2810.0, _TABLE, 40.0),
            primary=_known(10.4e6, _SURE),
        ),
        Fuel(
            name="propylene",
            carbon=3,
            hydrogen=6,
            formation=_known(20.41e3, _FORMATION),
            oxygen=Known(value=3.7, source=_TABLE, low=3.4, high=4.0),
            flame_C=_known(2870.0, _TABLE, 40.0),
            primary=_known(16.0e6, _SURE),
        ),
        Fuel(
            name="natural gas",
            carbon=1,
            hydrogen=4,
            formation=_known(-74.87e3, _FORMATION),
            oxygen=Known(value=1.8, source=_TABLE, low=1.5, high=2.0),
            flame_C=_known(2770.0, _TABLE, 60.0),
            primary=_known(1.5e6, _SURE),
            note="taken as methane; ask the supplier for the heating value of his gas",
        ),
        Fuel(
            name="hydrogen",
            carbon=0,
            hydrogen=2,
            formation=_known(0.0, "element in its usual state"),
            oxygen=Known(value=0.42, source=_SURE, low=0.25, high=0.5),
            flame_C=_known(2840.0, _SURE, 60.0),
            # no separate cone: all the oxygen that the torch gives burns there
            primary=_known(2.0 * 0.42 * 10.22e6, "2 x oxygen x heating value"),
            note="its flame can hardly be seen in daylight",
        ),
    )
}  # fmt: skip
FUELS = MappingProxyType(_FUELS)
"""Ready fuels by name."""


def fuel(name: str) -> Fuel:
    """A ready fuel: acetylene, propane, propylene, natural gas or hydrogen.

    Raises:
        OutOfRange: another name.

    Example:
        >>> round(fuel("propane").heating_value / 1e6, 1)
        86.4
    """
    if name not in FUELS:
        raise OutOfRange(f"There is no fuel {name!r}; allowed: {', '.join(FUELS)}.")
    return FUELS[name]
