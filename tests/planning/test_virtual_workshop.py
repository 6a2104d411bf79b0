"""The virtual workshop itself: its figures are counted rightly, and a few jobs go through."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import virtual_workshop as workshop

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
    part = workshop.girder(np.random.default_rng(3))
    side = np.sign(part.deviation[0])
    wide = 1.5 * part.places.half
    assert not workshop.over(part, 0.5 * part.places.half)
    assert not workshop.over(part, side * wide)
    assert workshop.over(part, -side * wide)


def test_the_truth_is_not_the_planners_model():
    """Same heats, mean over many shops: neighbours give less than the planner thinks."""
    part = workshop.girder(np.random.default_rng(3))
    top = [one for one in part.library.candidates if one.side == "top" and one.size == "45 deg"]
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
