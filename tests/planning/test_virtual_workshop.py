"""The virtual workshop itself: its figures are counted rightly, and a few jobs go through."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import virtual_workshop as workshop
import workshop_parts as parts

from flamefe.planning.candidate import heat_from


@pytest.fixture(scope="module")
def outcomes():
    return [workshop.job(number) for number in range(8)]


def test_each_kind_of_part_goes_through(outcomes):
    assert {one.kind for one in outcomes} == {"girder", "column", "ring", "panel"}
    assert sum(one.within for one in outcomes) >= 6
    assert all(one.cycles >= 1 for one in outcomes)


def test_a_job_is_the_same_each_time(outcomes):
    again = workshop.job(1)
    assert replace(again, seconds=0.0) == replace(outcomes[1], seconds=0.0)


def test_overcorrection_is_counted_on_the_opposite_side_alone():
    part = parts.girder(np.random.default_rng(3), "temperature")
    side = np.sign(part.deviation[0])
    wide = 1.5 * part.places.half
    assert not workshop.over(part, 0.5 * part.places.half)
    assert not workshop.over(part, side * wide)
    assert workshop.over(part, -side * wide)


def test_the_truth_is_not_the_planners_model():
    """Same heats, mean over many shops: neighbours give less than the planner thinks."""
    part = parts.girder(np.random.default_rng(3), "temperature")
    top = [h for h in part.library.candidates if h.side == "top" and h.kind == "wedge"]
    near = [top[3], top[4]]
    change, expected = [], sum(one.moves for one in near)
    for seed in range(300):
        shop = workshop.Shop(part, seed)
        shop.treat([heat_from(one) for one in near])
        change.append((shop.shape - part.deviation) / shop.factor["wedge"])
    share = float(np.mean(change, axis=0) @ expected / (expected @ expected))
    assert 0.85 < share < 0.97


def test_verdicts_can_say_no(outcomes):
    bad = [replace(one, within=False, overcorrected=True, covered=0) for one in outcomes]
    coarse = dict(workshop.verdicts(bad, coarse=True))
    assert sum(not good for good in coarse.values()) >= 3
    assert not all(good for _, good in workshop.verdicts(bad, coarse=False))
    few = workshop.verdicts(outcomes, coarse=True)
    assert all(good for _, good in few)


def test_the_flame_of_every_shop_is_off_by_30_per_cent():
    part = parts.ring(np.random.default_rng(1), "clock")
    shops = [workshop.Shop(part, seed) for seed in range(40)]
    assert {round(shop.state.power, 9) for shop in shops} == {0.7, 1.3}
    weak = [shop.factor["line"] for shop in shops if shop.state.power < 1.0]
    strong = [shop.factor["line"] for shop in shops if shop.state.power > 1.0]
    assert max(weak) < 0.4
    assert min(strong) > 1.4


def test_the_planner_has_the_nominal_runs_and_the_truth_what_lies_between_all():
    runs = parts.Runs("column", "temperature", False)
    stored = {
        (row["power"], row["warmer"], row["strength"]): row
        for row in parts.json.loads(parts.RUNS.read_text())["runs"]
        if (row["part"], row["by"], row["held"]) == ("column", "temperature", False)
    }
    for power, warmer, strength in ((0.7, 50.0, 1.0), (1.3, -50.0, 1.0), (1.0, 0.0, 1.2)):
        found = runs.of(parts.State(power=power, warmer=warmer, strength=strength))
        row = stored[power, warmer, strength]
        assert found["turn_mrad"] == pytest.approx(row["turn_mrad"])
        assert found["repeat"] == pytest.approx(row["repeat"])
        assert found["repeat"] < 0.6  # a second heat on the same place gives less
    part = parts.column(np.random.default_rng(2), "temperature")
    nominal = stored[1.0, 0.0, 1.0]
    heat = next(h for h in part.library.candidates if h.kind == "line" and h.side == "east")
    z = np.array([float(name.removesuffix(" m")) for name in part.places.names])
    top = heat.moves[-1] / (z[-1] - heat.position[2])
    assert 1e3 * top == pytest.approx(nominal["turn_mrad"], rel=0.02)
    with pytest.raises(ValueError, match="outside the table"):
        runs.of(parts.State(strength=1.3))
    with pytest.raises(ValueError, match="out of bounds"):
        runs.of(parts.State(power=0.6))


def test_pressed_parts_move_more_than_free_ones():
    for part in ("girder", "column"):
        free = parts.runs(part, "temperature", False).of(parts.State())
        held = parts.runs(part, "temperature", True).of(parts.State())
        assert held["turn_mrad"] > 1.2 * free["turn_mrad"]
