"""Cooling of a case: still air by the way faces look, blown air, water behind the torch."""

from dataclasses import replace

import numpy as np
import pytest

from flamefe.heating.air import blown_air, still_air
from flamefe.reporting.summary import summary_text
from flamefe.study.air_round import coolings_of
from flamefe.study.case import (
    BandHeat,
    Case,
    CaseError,
    Flame,
    Limits,
    LineHeat,
    Mesh,
    Plate,
    SpotHeat,
    Surroundings,
    Water,
    notes,
)
from flamefe.study.casefile import case_from_text, dump_case
from flamefe.study.parts import body_of, material_of
from flamefe.study.run import run

LINE = LineHeat(flame="torch", face="top", path_mm=[[40, 60], [160, 60]], speed_mm_s=5)
WET = replace(LINE, water=Water(distance_mm=40))


def case_with(*heats, material="S355", **changes):
    given = {
        "title": "line on a hopper wall",
        "workpiece": Plate(length_mm=200, width_mm=120, thickness_mm=8, material=material),
        "mesh": Mesh(size_at_heat_mm=9, size_away_mm=30, layers=2),
        "flames": {"torch": Flame(power_kW=3, radius_mm=14)},
        "heats": heats or (LINE,),
    }
    return Case(**{**given, **changes})


def lost_at(case, temperature, tmp_path):
    """Heat lost by the whole part at one temperature, W, without radiation."""
    body, _ = body_of(case, material_of(case), tmp_path)
    hot = np.full(body.points.shape[0], temperature)
    return sum(float(cooling.loss(hot).sum()) for cooling in coolings_of(case, body))


@pytest.mark.parametrize("up", ["+z", "-z", "+y", "-x"])
def test_still_air_by_orientation_adds_up_by_hand(up, tmp_path):
    air = Surroundings(air="still", emissivity=0, up=up)
    case = case_with(surroundings=air)
    size = np.array([0.2, 0.12, 0.008])
    axis = "xyz".index(up[1])
    sides = np.delete(size, axis)
    level = sides.prod()
    length = level / (2 * sides.sum())
    around = 2 * (size[0] * size[1] + size[1] * size[2] + size[0] * size[2]) - 2 * level
    expected = 280.0 * (
        level * float(still_air("up", length)(300.0))
        + level * float(still_air("down", length)(300.0))
        + around * float(still_air("upright", size[axis])(300.0))
    )
    assert lost_at(case, 300.0, tmp_path) == pytest.approx(expected, rel=1e-9)


def test_blown_air_covers_every_face(tmp_path):
    case = case_with(surroundings=Surroundings(air="blown", air_speed_m_s=8, emissivity=0))
    area = 2 * (0.2 * 0.12 + 0.12 * 0.008 + 0.2 * 0.008)
    expected = area * 280.0 * float(blown_air(8.0, 0.2)(300.0))
    assert lost_at(case, 300.0, tmp_path) == pytest.approx(expected, rel=1e-9)


def waited(result):
    return result.heat.spans[-1].end - result.heat.spans[-1].start


@pytest.fixture(scope="module")
def dry():
    return run(case_with(surroundings=Surroundings(air="still")))


def test_blown_air_shortens_the_wait(dry):
    blown = run(case_with(surroundings=Surroundings(air="blown", air_speed_m_s=15)))
    assert waited(blown) < 0.5 * waited(dry)
    assert dry.heat.energy.error < 0.005
    assert blown.heat.energy.error < 0.005


def test_water_behind_the_torch_takes_heat_and_cools_the_back(dry):
    wet = run(case_with(WET, surroundings=Surroundings(air="still")))
    back = np.flatnonzero(wet.mesh.p[2] == 0.0)
    # where the spray passed: it goes out with the torch, 40 mm before the end of the line
    passed = back[(wet.mesh.p[0, back] > 0.06) & (wet.mesh.p[0, back] < 0.11)]
    colder = dry.heat.peak[passed] - wet.heat.peak[passed]
    assert colder.min() > 3.0
    assert colder.max() > 15.0
    assert wet.heat.energy.error < 0.005
    assert wet.heat.energy.supplied == pytest.approx(dry.heat.energy.supplied)
    text = " ".join(summary_text(wet).split())
    assert "water behind it" in text
    assert "uncertain to a factor of two" in text


def test_water_on_quenched_and_tempered_steel_is_refused_with_the_reason():
    with pytest.raises(CaseError) as caught:
        case_with(WET, material="S690QL")
    (fault,) = caught.value.faults
    assert fault.path == ("heats", 0, "water")
    assert "harden and crack" in fault.allowed
    assert "quench_reason" in fault.advice


def test_water_with_a_reason_stays_visible_in_the_result():
    reason = "trial piece, to be cut up for hardness tests"
    result = run(case_with(WET, material="S690QL", limits=Limits(quench_reason=reason)))
    said = [warning for warning in result.warnings if "WATER ON QUENCHED" in warning]
    assert reason in said[0]
    assert reason in " ".join(summary_text(result).split())


def test_a_blank_reason_is_none():
    with pytest.raises(CaseError, match="water on quenched and tempered"):
        case_with(WET, material="S690QL", limits=Limits(quench_reason="  "))


def test_own_material_is_judged_by_its_base():
    case = case_with()
    text = dump_case(replace(case, heats=(WET,)))
    own = text.replace('material = "S355"', 'material = "mine"') + (
        '\n[materials.mine]\nbase = "S690QL"\nyield_strength_MPa = 700\n'
    )
    with pytest.raises(CaseError, match="water on quenched and tempered"):
        case_from_text(own)
    plain = own.replace("S690QL", "S355")
    assert case_from_text(plain).heats[0].water == WET.water


def test_water_too_hot_for_practice_is_warned_of():
    hot = replace(WET, speed_mm_s=2)
    result = run(case_with(hot))
    assert result.heat.peak.max() > 650.0
    assert any("water" in warning and "650 C" in warning for warning in result.warnings)


def test_waiting_temperature_holds_the_next_heat_back():
    first = SpotHeat(flame="torch", face="top", at_mm=[60, 60], time_s=6, cool_to_C=90)
    second = SpotHeat(flame="torch", face="top", at_mm=[140, 60], time_s=6)
    result = run(case_with(first, second))
    lit = result.heats[1].start_s
    at = int(abs(result.heat.times - lit).argmin())
    assert 80.0 < result.heat.temperatures[at].max() <= 90.0
    assert result.heat.temperatures[at - 1].max() > 90.0


def test_water_in_a_case_file_and_back():
    band = BandHeat(
        flame="torch", face="top", from_mm=[50, 60], to_mm=[150, 60], width_mm=30, target_C=600,
        water=Water(distance_mm=50, film_W_m2K=[[20, 500], [150, 6000], [600, 400]]),
    )  # fmt: skip
    case = case_with(band)
    assert case_from_text(dump_case(case)) == case
    assert not any("factor of two" in note for note in notes(case))


def test_sprays_that_miss_or_reach_under_the_flame_are_told():
    far = replace(LINE, water=Water(distance_mm=300))
    near = replace(LINE, water=Water(distance_mm=10))
    assert any("never comes onto it" in note for note in notes(case_with(far)))
    assert any("reaches under the flame" in note for note in notes(case_with(near)))
    said = notes(case_with(replace(LINE, water=Water(distance_mm=60))))
    assert not any("spray" in note and "film" not in note for note in said)


def test_heat_taken_by_water_is_told():
    wet = run(case_with(WET))
    assert 0.02 < wet.heat.energy.water / wet.heat.energy.supplied < 0.9
    assert "of it to water" in " ".join(summary_text(wet).split())
    assert run(case_with()).heat.energy.water == 0.0


def test_settings_without_effect_are_told():
    idle = Surroundings(air_speed_m_s=9, up="+x")
    said = notes(case_with(surroundings=idle, limits=Limits(quench_reason="no water here at all")))
    assert sum("no effect without" in note for note in said) == 3


def test_a_target_above_the_limit_is_told():
    spot = SpotHeat(flame="torch", face="top", at_mm=[60, 60], target_C=700)
    assert any("above the limit of 650 C" in note for note in notes(case_with(spot)))
