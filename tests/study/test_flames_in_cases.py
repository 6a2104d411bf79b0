"""Flames of a case: by power, by nozzle, by head, as hot gas; gas used and its price."""

from dataclasses import replace

import pytest

from flamefe.heating.flame import AbsorbedFlame, GaussianFlame, HotGasFlame
from flamefe.heating.shape import ByRadius, Ring, Rows, Twin
from flamefe.reporting.document import result_document
from flamefe.reporting.summary import summary_text
from flamefe.study.case import (
    Case,
    CaseError,
    Flame,
    LineHeat,
    Mesh,
    Plate,
    Prices,
    SpotHeat,
    Surroundings,
    notes,
)
from flamefe.study.case_flames import (
    flame_of,
    nozzle_of,
    power_kW_of,
    radius_mm_of,
    reach_mm_of,
)
from flamefe.study.casefile import case_from_text, dump_case
from flamefe.study.run import run


def case_with(flame, **changes):
    given = {
        "title": "spot on a hopper wall",
        "workpiece": Plate(length_mm=160, width_mm=120, thickness_mm=8, material="S355"),
        "mesh": Mesh(size_at_heat_mm=9, size_away_mm=25, layers=2),
        "flames": {"torch": flame},
        "heats": [SpotHeat(flame="torch", face="top", at_mm=[80, 60], time_s=8)],
    }
    return Case(**{**given, **changes})


@pytest.mark.parametrize(
    ("flame", "kind", "radius", "reach"),
    [
        (Flame(power_kW=3, radius_mm=15), GaussianFlame, 15, 30),
        (Flame(power_kW=3, radius_mm=14, head="ring", ring_mm=20), Ring, 14, 48),
        (
            Flame(power_kW=3, radius_mm=14, head="multi-flame", rows=2, jets_a_row=5, pitch_mm=10),
            Rows, 14, 48,
        ),
        (Flame(power_kW=3, radius_mm=14, head="twin", twin_distance_mm=50), Twin, 14, 53),
        (
            Flame(power_kW=3, radius_mm=15, head="table", table=[[0, 1], [20, 0.5], [40, 0]]),
            ByRadius, 15, 30,
        ),
        (Flame(gas_C=2200, film_W_m2K=500, radius_mm=18), HotGasFlame, 18, 36),
    ],
)  # fmt: skip
def test_every_kind_of_flame_reaches_conduction(flame, kind, radius, reach):
    made = flame_of(flame)
    shaped = made.shape if isinstance(made, AbsorbedFlame) else made
    assert isinstance(shaped, kind)
    assert radius_mm_of(flame) == radius
    assert reach_mm_of(flame) == reach
    result = run(case_with(flame))
    assert result.heat.energy.error < 0.005
    if power_kW_of(flame) is not None:
        assert result.heat.energy.supplied == pytest.approx(3e3 * 8, rel=1e-9)
        assert result.heats[0].net_kJ == pytest.approx(24.0)


def test_hot_gas_brings_less_than_on_a_cold_surface_and_says_no_power():
    flame = Flame(gas_C=2200, film_W_m2K=500, radius_mm=18)
    result = run(case_with(flame))
    made = flame_of(flame)
    assert 0.5 < result.heat.energy.supplied / (made.cold_power(20.0) * 8.0) < 0.98
    assert result.heats[0].net_kJ is None
    assert "hot gas of 2200 C" in summary_text(result)


NOZZLE = Flame(fuel="acetylene", consumption_L_h=500)


@pytest.fixture(scope="module")
def burned():
    prices = Prices(currency="EUR", acetylene_m3=12.0, oxygen_m3=3.0)
    two = [
        SpotHeat(flame="torch", face="top", at_mm=[50, 60], time_s=6, cool_to_C=80),
        SpotHeat(flame="torch", face="top", at_mm=[110, 60], time_s=9, both_faces=True),
    ]
    return run(case_with(NOZZLE, heats=two, prices=prices))


def test_nozzle_gives_power_by_its_efficiency(burned):
    nozzle = nozzle_of(NOZZLE)
    # by hand: 500 L/h of 53.10 MJ/m3 is 7.375 kW, of which 45 % enter
    assert nozzle.gross_power == pytest.approx(7375.0, rel=1e-3)
    assert power_kW_of(NOZZLE) == pytest.approx(0.45 * 7.375, rel=2e-3)
    assert burned.heat.energy.supplied == pytest.approx(nozzle.net_power * (6 + 2 * 9), rel=1e-6)


def test_gas_of_each_heat_and_of_the_job(burned):
    """500 L/h for 6 s is 0.833 L; two flames for 9 s are 2.5 L."""
    first, second = burned.heats
    assert 1e3 * first.gas.fuel_volume == pytest.approx(500 / 3600 * 6)
    assert 1e3 * second.gas.fuel_volume == pytest.approx(2 * 500 / 3600 * 9)
    litres = 500 / 3600 * 24
    document = result_document(burned)
    assert document["gas"]["by_fuel"][0]["fuel_L"] == pytest.approx(litres)
    assert document["gas"]["by_fuel"][0]["oxygen_L"] == pytest.approx(1.1 * litres)
    assert document["gas"]["cost"] == pytest.approx(1e-3 * litres * (12.0 + 1.1 * 3.0))
    assert [one["burned_s"] for one in document["heats"]] == pytest.approx([6.0, 9.0])


def test_every_result_says_which_efficiency_and_radius_it_used(burned):
    text = summary_text(burned)
    assert "efficiency 0.45" in text
    assert "efficiency and radius by default, from memory and uncertain" in " ".join(text.split())
    flame = result_document(burned)["flames"][0]
    assert flame["nozzle"]["net_low_kW"] < flame["net_kW"] < flame["nozzle"]["net_high_kW"]
    assert "Rykalin" in flame["nozzle"]["efficiency_source"]
    assert flame["radius_mm"] == radius_mm_of(NOZZLE)


def test_given_efficiency_and_radius_replace_the_defaults():
    flame = Flame(fuel="propane", consumption_L_h=400, efficiency=0.3, radius_mm=14)
    assert power_kW_of(flame) == pytest.approx(0.3 * 0.4 / 3600 * 86.41e3, rel=1e-3)
    result = run(case_with(flame))
    text = summary_text(result)
    assert "by default" not in text
    assert "propane 400 L/h" in text


def test_price_missing_leaves_the_cost_out():
    result = run(case_with(NOZZLE, prices=Prices(oxygen_m3=3.0)))
    assert result.heats[0].cost is None
    assert result_document(result)["gas"]["cost"] is None


def test_a_nozzle_beyond_its_defaults_is_told():
    case = case_with(Flame(fuel="hydrogen", consumption_L_h=100))
    assert any("extrapolated" in note for note in notes(case))


FAULTS = [
    ({}, "power_kW", "neither a power, nor a nozzle, nor hot gas"),
    ({"power_kW": 3, "gas_C": 2000, "film_W_m2K": 400, "radius_mm": 9}, "power_kW",
     "its power and hot gas"),
    ({"power_kW": 3}, "radius_mm", "nothing"),
    ({"fuel": "propane"}, "consumption_L_h", "nothing, with fuel"),
    ({"gas_C": 2000, "radius_mm": 9}, "film_W_m2K", "nothing, with gas_C"),
    ({"power_kW": 3, "radius_mm": 9, "efficiency": 0.4}, "efficiency",
     "an efficiency with its power"),
    ({"power_kW": 3, "radius_mm": 9, "head": "ring"}, "ring_mm", "nothing, with head = ring"),
    ({"power_kW": 3, "radius_mm": 9, "head": "twin"}, "twin_distance_mm",
     "nothing, with head = twin"),
    ({"power_kW": 3, "radius_mm": 9, "head": "multi-flame"}, "jets_a_row", "a single jet"),
    ({"power_kW": 3, "radius_mm": 9, "head": "multi-flame", "jets_a_row": 3},
     "pitch_mm", "nothing"),
    ({"power_kW": 3, "head": "table", "table": [[5, 1], [9, 0]]}, "table", "distances 5, 9"),
    ({"gas_C": 2000, "film_W_m2K": 400, "radius_mm": 9, "head": "ring", "ring_mm": 20},
     "head", "ring with hot gas"),
]  # fmt: skip


@pytest.mark.parametrize(("given", "key", "told"), FAULTS)
def test_flames_that_cannot_be_are_refused_at_their_place(given, key, told):
    with pytest.raises(CaseError) as caught:
        case_with(Flame(**given))
    places = {fault.path: fault.given for fault in caught.value.faults}
    assert told in places["flames", "torch", key]


def test_nozzle_in_a_case_file_and_back():
    case = replace(
        case_with(NOZZLE),
        heats=(LineHeat(flame="torch", face="top", path_mm=[[30, 60], [130, 60]], speed_mm_s=5),),
        prices=Prices(oxygen_m3=3, acetylene_m3=12),
    )
    text = dump_case(case)
    assert 'fuel = "acetylene"' in text
    assert case_from_text(text) == case


def test_unknown_fuel_is_refused_with_those_there_are():
    text = dump_case(case_with(NOZZLE)).replace("acetylene", "coal gas")
    with pytest.raises(CaseError, match=r"(?s)coal gas.*acetylene"):
        case_from_text(text)


def test_gas_colder_than_the_part_or_the_target_is_refused():
    cold = Flame(gas_C=250, film_W_m2K=500, radius_mm=18)
    with pytest.raises(CaseError, match="no hotter than the part"):
        case_with(cold, surroundings=Surroundings(ambient_C=280))
    spot = SpotHeat(flame="torch", face="top", at_mm=[80, 60], target_C=600)
    with pytest.raises(CaseError, match="never makes it so hot"):
        case_with(replace(cold, gas_C=600), heats=[spot])


def test_targets_that_melt_the_metal_are_refused():
    spot = SpotHeat(flame="torch", face="top", at_mm=[80, 60], target_C=700)
    plate = Plate(length_mm=160, width_mm=120, thickness_mm=8, material="6082-T6")
    with pytest.raises(CaseError, match=r"aluminium melts"):
        case_with(NOZZLE, heats=[spot], workpiece=plate)


def test_molten_metal_is_said_before_anything_else():
    result = run(case_with(Flame(power_kW=12, radius_mm=15)))
    assert result.heat.peak.max() > 1450.0
    assert summary_text(result).splitlines()[1].startswith("MELTED")


def test_borrowed_defaults_are_said_and_are_wider():
    case = case_with(Flame(fuel="propane", consumption_L_h=400))
    assert any("of an acetylene flame of the same gross power" in note for note in notes(case))
    nozzle = nozzle_of(case.flames["torch"])
    low, high = nozzle.net_range
    assert high / low == pytest.approx(3.0)
    assert not any("acetylene flame" in note for note in notes(case_with(NOZZLE)))


def test_a_missing_price_is_named():
    result = run(case_with(NOZZLE, prices=Prices(oxygen_m3=3.0)))
    assert "no cost: the price of acetylene is missing" in " ".join(summary_text(result).split())
