"""Bands from spreads: by runs, by rule cards, and whether the two agree."""

import json
from zlib import crc32

import numpy as np
import pytest
from typer.testing import CliRunner

from flamefe import cli
from flamefe.outcome.measure import Measure
from flamefe.reporting.sweep_spread import SpreadOf, spread_text
from flamefe.reporting.sweep_table import table_columns
from flamefe.rules.calibration import calibrate
from flamefe.rules.card_file import write_card
from flamefe.rules.columns import input_columns
from flamefe.rules.registry import find_rule
from flamefe.study.case import (
    Bar,
    Case,
    Clamp,
    Flame,
    LineHeat,
    OwnMaterial,
    Plate,
    Spring,
    WedgeHeat,
)
from flamefe.study.casefile import dump_case
from flamefe.study.compare import Row
from flamefe.study.measuring import rule_inputs
from flamefe.study.parts import material_of
from flamefe.study.run_record import RunRecord
from flamefe.study.sweep import sweep
from flamefe.study.sweep_study import Study
from flamefe.study.uncertainty import (
    UncertaintyError,
    band_of,
    card_band,
    drivers,
    simulated_band,
)

ANGLE = "angular change at mid length"
PLATE = Case(
    title="x",
    workpiece=Plate(length_mm=400, width_mm=300, thickness_mm=16, material="own"),
    materials={"own": OwnMaterial(base="S355", yield_strength_MPa=355)},
    flames={"torch": Flame(power_kW=5, radius_mm=15)},
    heats=[LineHeat(flame="torch", face="top", path_mm=[[50, 150], [350, 150]], speed_mm_s=8)],
)
BAR = Case(
    title="x",
    workpiece=Bar(length_mm=300, depth_mm=40, thickness_mm=8, material="S355"),
    flames={"torch": Flame(power_kW=5, radius_mm=15)},
    heats=[
        WedgeHeat(
            flame="torch", face="top", apex_mm=[150, 5], base_mm=[150, 40], angle_deg=40,
            target_C=600,
        )
    ],
    supports=[
        Clamp(face="start"),
        Spring(face="end", direction="x", stiffness_kN_mm=3000, released="after cooling"),
    ],
)  # fmt: skip


def stand_in(rule, quantity, *, off=1.0):
    """A runner whose truth is a rule's number, times 0.4, and 2 % that follow no pattern."""
    asked = find_rule(rule, quantity)

    def runner(job):
        peak = 500 + 20 * job.case.flames["torch"].power_kW
        inputs = rule_inputs(job.case, material_of(job.case), peak_C=peak)
        noise = (
            1 + 0.02 * np.random.default_rng(crc32(dump_case(job.case).encode())).standard_normal()
        )
        value = 0.4 * off * noise * asked.evaluate(inputs).value
        measure = Measure(name=quantity, value=value, unit=asked.unit, meaning="+: up")
        row = Row(name="", changed={}, measures=(measure,), peak_C=peak, limit_C=650.0)
        return RunRecord(key=job.key, row=row, inputs=input_columns(inputs), mark=job.mark)

    return runner


def swept(case, factors, folder, runner, runs=32):
    study = Study(title="x", case=case, factors=factors, design="Sobol", runs=runs)
    return sweep(study, folder=folder, jobs=1, runner=runner)


def card_from(done, rule, quantity, **more):
    columns = table_columns(done)
    rows = [dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)]
    return calibrate(rows, rule=rule, quantity=quantity, **more).card()


@pytest.fixture(scope="module")
def card(tmp_path_factory):
    """A card for a range round the plate."""
    factors = {
        "flames.torch.power_kW": {"lowest": 3, "highest": 7},
        "flames.torch.radius_mm": {"lowest": 12, "highest": 18},
        "materials.own.yield_strength_MPa": {"lowest": 280, "highest": 430},
    }
    done = swept(PLATE, factors, tmp_path_factory.mktemp("card"), stand_in("two layers", ANGLE))
    return card_from(done, "two layers", ANGLE, coefficients=("factor",))


SPREADS = {
    "flames.torch.power_kW": {"value": 5, "spread": "6 %"},
    "flames.torch.radius_mm": {"value": 15, "spread": 0.5, "distribution": "uniform"},
    "materials.own.yield_strength_MPa": {"value": 355, "spread": 15},
}


def test_runs_and_card_agree_with_each_other_and_with_the_closed_form(card, tmp_path):
    done = swept(PLATE, SPREADS, tmp_path, stand_in("two layers", ANGLE))
    found = card_band(done, card, samples=1000, level=0.9)
    # the rule is proportional to the power: 6 % of it, 1.645 times either way
    middle = (
        0.4 * find_rule("two layers", ANGLE).evaluate(rule_inputs(PLATE, material_of(PLATE))).value
    )
    exact = [middle * (1 + 0.06 * sigma) for sigma in (-1.645, 0, 1.645)]
    assert found.band.ends == pytest.approx(exact, rel=0.01)
    for end, true, doubt in zip(found.simulated.ends, exact, found.simulated.doubts, strict=True):
        assert abs(end - true) < 1.5 * doubt
    assert found.agrees is True
    assert found.outside == 0
    assert (found.runs_inside, found.runs_met >= 28) == (32, True)
    assert drivers(done, ANGLE)[0][0] == "flames.torch.power_kW"
    assert drivers(done, ANGLE)[0][1] > 0.9
    text = spread_text(done, [SpreadOf(simulation=simulated_band(done, ANGLE), cards=(found,))])
    assert 'card "two layers" agrees with the simulation within their doubts' in text


def test_a_card_that_is_wrong_does_not_agree(card, tmp_path):
    done = swept(PLATE, SPREADS, tmp_path, stand_in("two layers", ANGLE, off=1.15))
    found = card_band(done, card, samples=400)
    assert found.agrees is False
    assert found.runs_met < 8
    text = spread_text(done, [SpreadOf(simulation=simulated_band(done, ANGLE), cards=(found,))])
    assert "DOES NOT AGREE" in text


def test_a_card_claims_nothing_outside_its_range(card, tmp_path):
    wide = {**SPREADS, "flames.torch.power_kW": {"value": 6.5, "spread": 0.5}}
    done = swept(PLATE, wide, tmp_path / "a", stand_in("two layers", ANGLE))
    found = card_band(done, card, samples=500)
    assert 0.16 < found.outside < 0.35  # one standard deviation above is the end of the range
    assert 8 <= found.runs_inside < 32
    assert found.agrees is True
    far = {**SPREADS, "materials.own.yield_strength_MPa": {"value": 600, "spread": 10}}
    done = swept(PLATE, far, tmp_path / "b", stand_in("two layers", ANGLE), runs=8)
    with pytest.raises(UncertaintyError, match="yield_stress_MPa"):
        card_band(done, card, samples=200)


def test_what_a_card_does_not_see_is_told_and_nothing_compared(card, tmp_path):
    more = {**SPREADS, "surroundings.film_W_m2K": {"value": 15, "spread": 3}}
    done = swept(PLATE, more, tmp_path, stand_in("two layers", ANGLE), runs=16)
    found = card_band(done, card, samples=200)
    assert found.unseen == ("surroundings.film_W_m2K",)
    assert found.agrees is None


def test_restraint_and_a_peak_that_only_runs_tell(tmp_path):
    rule = "bar against a spring"
    runner = stand_in(rule, "shortening")
    ranges = {
        "flames.torch.power_kW": {"lowest": 3, "highest": 7},
        "supports[1].stiffness_kN_mm": {"lowest": 1000, "highest": 8000, "scale": "log"},
    }
    made = card_from(swept(BAR, ranges, tmp_path / "a", runner), rule, "shortening")
    spreads = {
        "flames.torch.power_kW": {"value": 5, "spread": 0.3},
        "supports[1].stiffness_kN_mm": {"value": 3000, "spread": "15 %",
                                        "distribution": "lognormal"},
    }  # fmt: skip
    done = swept(BAR, spreads, tmp_path / "b", runner)
    found = card_band(done, made, samples=500)
    assert found.unseen == ()
    assert found.agrees is True
    assert {place for place, _ in drivers(done, "shortening")} == set(spreads)


def test_a_spring_at_the_end_of_a_bar_is_a_rule_input():
    inputs = rule_inputs(BAR, material_of(BAR), peak_C=600.0)
    assert inputs.spring_stiffness == pytest.approx(3000e6)
    assert inputs.section_area == pytest.approx(320e-6)
    assert inputs.restraint is None
    assert 0 < inputs.heated_length < 0.3


def test_bands_need_spreads_and_enough_runs(tmp_path):
    with pytest.raises(UncertaintyError, match="at least 8"):
        band_of([1, 2, 3], quantity="x", unit="mm")
    with pytest.raises(UncertaintyError, match="between 0 and 1"):
        band_of(range(9), quantity="x", unit="mm", level=90)
    done = swept(PLATE, {"flames.torch.power_kW": [4, 5]}, tmp_path,
                 stand_in("two layers", ANGLE), runs=8)  # fmt: skip
    with pytest.raises(UncertaintyError, match="list of values"):
        simulated_band(done, ANGLE)


def test_the_doubt_of_an_end_holds_the_truth_as_often_as_it_says():
    """Over many sets of 32 normal values the middle lies within its doubt in some 95 %."""
    random = np.random.default_rng(3)
    held = 0
    for _ in range(100):
        band = band_of(random.normal(10, 2, 32), quantity="x", unit="mm")
        held += abs(band.ends[1] - 10) <= band.doubts[1]
    assert 86 <= held <= 100


def test_the_command_tells_bands_and_writes_them(card, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "spot.toml").write_text(
        'title = "A spot"\n'
        'workpiece = {kind = "plate", length_mm = 60, width_mm = 60, thickness_mm = 8, '
        'material = "S355"}\n'
        "mesh = {size_at_heat_mm = 10, size_away_mm = 20, layers = 1}\n"
        "flames = {torch = {power_kW = 3, radius_mm = 15}}\n"
        'heats = [{kind = "spot", flame = "torch", face = "top", at_mm = [30, 30], time_s = 3}]\n'
        "solve = {largest_temperature_step_C = 100}\n"
    )
    (tmp_path / "study.toml").write_text(
        'title = "A spot that is not sure"\ncase = "spot.toml"\ndesign = "Latin hypercube"\n'
        'runs = 8\n[factors]\n"flames.torch.power_kW" = {value = 3, spread = "10 %"}\n'
    )
    write_card(card, tmp_path / "card.json")
    words = ["spread", "study.toml", "--quantity", "flatness", "--jobs", "1"]
    done = CliRunner().invoke(cli.app, [*words, "--card", "card.json"])
    assert done.exit_code == 0, done.output
    assert "needs heat per length" in done.output  # a spot has none
    done = CliRunner().invoke(cli.app, words)
    assert done.exit_code == 0, done.output
    assert "flatness, 90 % of parts, mm" in done.output
    assert "flames.torch.power_kW: 3, normal, standard deviation 0.3" in done.output
    bands = json.loads((tmp_path / "study-sweep" / "spread.json").read_text())["bands"]
    low, middle, high = bands["flatness"]["simulation"]["ends"]
    assert low < middle < high
    (tmp_path / "grid.toml").write_text(
        'title = "x"\ncase = "spot.toml"\n[factors]\n"mesh.layers" = [1, 2]\n'
    )
    done = CliRunner().invoke(cli.app, ["spread", "grid.toml"])
    assert (done.exit_code, "list of values" in done.stderr) == (2, True)
