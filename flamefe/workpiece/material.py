"""A material: its properties against temperature, and how hot it may be made."""

from dataclasses import dataclass

from flamefe.basics.errors import MaterialError
from flamefe.basics.table import Table


@dataclass(frozen=True, kw_only=True)
class Material:
    """A metal with temperature-dependent tables (SI units, temperatures in C).

    Args:
        name: short name, for instance "S355".
        family: "carbon steel", "fine-grain steel", "thermomechanical steel", "strong
            thermomechanical steel", "quenched and tempered steel", "stainless steel",
            "aluminium" or "other".
        density: kg/m3, constant.
        conductivity: W/(m K).
        specific_heat: J/(kg K); its integral is the enthalpy, so a peak is never stepped over.
        thermal_strain: strain against temperature, 0 at 20 C (not a coefficient).
        youngs_modulus: Pa.
        poisson: Poisson's ratio.
        yield_stress: Pa.
        hardening_modulus: Pa, slope of the yield stress by equivalent plastic strain.
        kinematic_share: part of the hardening that is kinematic, 0 (isotropic) to 1 (kinematic).
        annealing_C: above it hardening is lost; None: never.
        heating_limit_C: temperature it should not exceed when heated for straightening.
        heating_limit_source: where that limit comes from.
        heating_limit_reason: what happens above it, in a few words.
        valid_to_C: temperature up to which the tables are meant to hold.
        source: where the tables come from.

    Raises:
        MaterialError: a property has an impossible sign or value.
    """

    name: str
    family: str = "other"
    density: float
    conductivity: Table
    specific_heat: Table
    thermal_strain: Table
    youngs_modulus: Table
    poisson: Table
    yield_stress: Table
    hardening_modulus: Table
    kinematic_share: float = 0.0
    annealing_C: float | None = None
    heating_limit_C: float
    heating_limit_source: str
    heating_limit_reason: str = ""
    valid_to_C: float = 1200.0
    source: str

    def __post_init__(self) -> None:
        faults = []
        if self.density <= 0:
            faults.append(f"density is {self.density:g} kg/m3, must be above 0")
        for label in ("conductivity", "specific_heat", "youngs_modulus", "yield_stress"):
            lowest = min(getattr(self, label).values)
            if lowest <= 0:
                faults.append(f"{label} falls to {lowest:g}, must stay above 0")
        if min(self.hardening_modulus.values) < 0:
            faults.append("hardening_modulus falls below 0 (softening is not supported)")
        if min(self.poisson.values) < 0 or max(self.poisson.values) >= 0.5:
            faults.append("poisson must stay between 0 and 0.5")
        if not 0.0 <= self.kinematic_share <= 1.0:
            faults.append(f"kinematic_share is {self.kinematic_share:g}, must be 0 to 1")
        if abs(float(self.thermal_strain(20.0))) > 1e-5:
            faults.append("thermal_strain must be 0 at 20 C")
        if faults:
            raise MaterialError(f"Material {self.name}: " + "; ".join(faults) + ".")
