"""Fuels against published heating values and an equilibrium code; nozzles by hand."""

from itertools import pairwise

import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.basics.known import Known
from flamefe.heating.fuel import FUELS, MOLAR_VOLUME, fuel
from flamefe.heating.nozzle import (
    LITRES_PER_HOUR,
    Nozzle,
    usual_efficiency,
    usual_radius,
)

STEAM_CONDENSES = 44.0e3
"""J/mol at 25 C."""

# Heats of combustion with the water condensed, J/mol: NIST Chemistry WebBook (from memory).
GROSS = {
    "acetylene": 1299.6e3,
    "propane": 2219.2e3,
    "propylene": 2058.0e3,
    "natural gas": 890.7e3,
    "hydrogen": 285.83e3,
}
# Net heating values of the test gases G20, G31, G32 at 15 C, MJ/m3: EN 437 (from memory). They are
# of the real gas, which is denser than an ideal one by up to 2 %.
TEST_GASES = {"natural gas": 34.02, "propane": 88.00, "propylene": 82.78}
SPECIES = {
    "acetylene": "C2H2,acetylene",
    "propane": "C3H8",
    "propylene": "C3H6,propylene",
    "natural gas": "CH4",
    "hydrogen": "H2",
}


@pytest.mark.parametrize("name", GROSS)
def test_heating_value_is_the_heat_of_combustion_less_the_steam(name):
    gas = fuel(name)
    net = GROSS[name] - 0.5 * gas.hydrogen * STEAM_CONDENSES
    assert gas.molar_heating_value == pytest.approx(net, rel=2e-3)


@pytest.mark.parametrize("name", TEST_GASES)
def test_heating_value_by_volume_against_the_test_gases(name):
    by_volume = fuel(name).heating_value / 1e6
    assert by_volume <= TEST_GASES[name]  # the real gas holds a little more in a cubic metre
    assert by_volume == pytest.approx(TEST_GASES[name], rel=0.02)


@pytest.fixture(scope="module")
def mixture():
    ct = pytest.importorskip("cantera")
    wanted = {*SPECIES.values(), "O2", "H2O", "CO", "CO2", "OH", "H", "O", "HO2", "CH3"}
    species = [s for s in ct.Species.list_from_file("nasa_gas.yaml") if s.name in wanted]
    return ct.Solution(thermo="ideal-gas", species=species)


@pytest.mark.parametrize("name", SPECIES)
def test_flame_temperature_and_heating_value_against_chemical_equilibrium(mixture, name):
    """Adiabatic flame of fuel and oxygen in equilibrium by Cantera with NASA's polynomials."""
    gas = fuel(name)
    mixture.TPX = 298.15, 101325.0, {SPECIES[name]: 1.0, "O2": gas.oxygen.value}
    mixture.equilibrate("HP")
    assert gas.flame_C.low <= mixture.T - 273.15 <= gas.flame_C.high
    molar = {one: mixture.species(one).thermo.h(298.15) / 1e3 for one in ("CO2", "H2O")}
    burned = gas.carbon * molar["CO2"] + 0.5 * gas.hydrogen * molar["H2O"]
    net = mixture.species(SPECIES[name]).thermo.h(298.15) / 1e3 - burned
    assert gas.molar_heating_value == pytest.approx(net, rel=2e-3)


def test_primary_flame_of_acetylene_is_its_first_reaction():
    """C2H2 + O2 -> 2 CO + H2 from the enthalpies of formation."""
    by_volume = (226.73e3 + 2.0 * 110.53e3) / MOLAR_VOLUME
    assert fuel("acetylene").primary.value == pytest.approx(by_volume, rel=3e-3)


def test_no_primary_flame_gives_more_than_the_oxygen_of_the_torch_can_burn():
    for gas in FUELS.values():
        assert 0.0 < gas.primary_share < 1.0
        assert gas.oxygen.value <= gas.oxygen_to_burn
        assert gas.oxygen.low < gas.oxygen.value < gas.oxygen.high


def test_every_number_says_where_it_comes_from():
    for gas in FUELS.values():
        for known in (gas.formation, gas.oxygen, gas.flame_C, gas.primary):
            assert len(known.source) > 20


def test_nozzle_by_hand():
    nozzle = Nozzle(
        fuel=fuel("acetylene"),
        consumption=1000 * LITRES_PER_HOUR,
        efficiency=Known(value=0.4, low=0.3, high=0.5, source="given"),
    )
    # 1000 L/h at 53.1 MJ/m3: 53.1e6 / 3600 W
    assert nozzle.gross_power == pytest.approx(53.1e6 / 3600, rel=1e-3)
    assert nozzle.net_power == pytest.approx(0.4 * nozzle.gross_power)
    assert nozzle.net_range == pytest.approx((0.3 * nozzle.gross_power, 0.5 * nozzle.gross_power))
    use = nozzle.gas(1800.0)
    assert use.fuel_volume == pytest.approx(0.5)
    assert use.oxygen_volume == pytest.approx(0.55)
    assert use.fuel_mass == pytest.approx(0.5 * 26.038e-3 / 0.0236447, rel=1e-3)
    twice = use + use
    assert twice.cost(fuel_price=10.0, oxygen_price=3.0) == pytest.approx(2 * (5.0 + 1.65))


def test_defaults_fall_and_widen_with_the_nozzle():
    sizes = [2e3, 5e3, 1e4, 2e4, 4e4]
    for small, large in pairwise(sizes):
        assert usual_efficiency(small).value > usual_efficiency(large).value
        assert usual_radius(small).value < usual_radius(large).value
    # N. N. Rykalin 1957 (from memory): 0.70 at 150 L/h, 0.25 to 0.35 at 2600 L/h of acetylene
    small = Nozzle(fuel=fuel("acetylene"), consumption=150 * LITRES_PER_HOUR)
    large = Nozzle(fuel=fuel("acetylene"), consumption=2600 * LITRES_PER_HOUR)
    assert small.share.value == pytest.approx(0.70, abs=0.01)
    assert 0.25 < large.share.value < 0.35


def test_a_head_shares_its_fuel_among_its_jets():
    one = Nozzle(fuel=fuel("propane"), consumption=300 * LITRES_PER_HOUR)
    head = Nozzle(fuel=fuel("propane"), consumption=1200 * LITRES_PER_HOUR, jets=4)
    assert head.net_power == pytest.approx(4 * one.net_power)
    assert head.flame_radius == one.flame_radius
    assert "analogy" in head.share.source


def test_sizes_beyond_the_defaults_say_so():
    tiny = Nozzle(fuel=fuel("hydrogen"), consumption=50 * LITRES_PER_HOUR)
    assert tiny.extrapolated
    told = Known(value=0.5, source="given")
    assert not Nozzle(
        fuel=fuel("hydrogen"), consumption=50 * LITRES_PER_HOUR, efficiency=told,
        radius=Known(value=0.01, source="given"),
    ).extrapolated  # fmt: skip


def test_impossible_nozzles_are_refused_with_all_reasons():
    with pytest.raises(OutOfRange, match=r"consumption of -36 L/h.*efficiency of 1\.5.*0 jets"):
        Nozzle(
            fuel=fuel("propane"), consumption=-1e-5, jets=0,
            efficiency=Known(value=1.5, source="x"),
        )  # fmt: skip
    with pytest.raises(OutOfRange, match="allowed: acetylene"):
        fuel("coal gas")
    a = Nozzle(fuel=fuel("propane"), consumption=1e-4).gas(1.0)
    b = Nozzle(fuel=fuel("hydrogen"), consumption=1e-4).gas(1.0)
    with pytest.raises(OutOfRange, match="can't be added"):
        a + b
