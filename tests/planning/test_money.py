"""Time, gas and money: by hand where nothing is left to chance, with a spread where it is."""

import numpy as np
import pytest
from pydantic import ValidationError

from flamefe.basics.errors import OutOfRange
from flamefe.planning.belief import first_belief
from flamefe.planning.candidate import Candidate, HeatKind, Library
from flamefe.planning.limits import CycleRules
from flamefe.planning.money import Alternative, Prices, estimate
from flamefe.planning.places import places_of
from flamefe.planning.problem import Problem


def problem(**kind):
    heats = tuple(
        Candidate(
            name=str(i), kind="w", size="", place=str(i), side="", position=(float(i), 0.0, 0.0),
            moves=np.array([-1e-3]),
        )
        for i in range(30)
    )  # fmt: skip
    made = HeatKind(name="w", torch_s=180.0, wait_s=720.0, fuel_L=50.0, oxygen_L=60.0, **kind)
    return Problem(
        title="t",
        places=places_of(["m"], 0.003),
        library=Library(kinds=(made,), candidates=heats),
        rules=CycleRules(most_heats=4),
        uncertainty=np.array([1e-4]),
        common=0.0,
    )


def prices(**more):
    return Prices(
        currency="EUR", people=2, hour=50, fuel_m3=20, oxygen_m3=5, cycle=30, cycle_min=45,
        heat_min=6, wait_busy=0.5, spread=0.0, **more,
    )  # fmt: skip


def test_money_by_hand_when_nothing_is_left_to_chance():
    sure = problem(uncertain=0.0, scatter=0.0, day=0.0)
    belief = first_belief(sure.library.kinds, np.array([0.0105]), np.array([1e-5]))
    made = estimate(sure, belief, prices(), plays=10)
    rows = {row.name: row for row in made.rows}
    cycles, heats = rows["cycles"].middle, rows["heats"].middle
    assert rows["cycles"].low == rows["cycles"].high == cycles
    assert 8 <= heats <= 12  # 7.5 mm at least, 10.5 at most, by 1 mm
    assert cycles == np.ceil(heats / 4)
    torch, waits, other = heats * 0.05, heats * 0.2, cycles * 0.75 + heats * 0.1
    assert rows["whole time"].middle == pytest.approx(torch + waits + other)
    money = (torch + 0.5 * waits + other) * 2 * 50 + cycles * 30
    money += heats * (0.05 * 20 + 0.06 * 5)
    assert rows["cost"].middle == pytest.approx(money)
    assert made.finished == 1.0


def test_a_spread_and_alternatives():
    unsure = problem(uncertain=0.3)
    belief = first_belief(unsure.library.kinds, np.array([0.0105]), np.array([1e-4]))
    others = [
        Alternative(name="dear", low=9e5, likely=1e6, high=2e6),
        Alternative(name="for nothing", low=0, likely=0, high=0),
    ]
    made = estimate(unsure, belief, prices(alternatives=others), plays=20)
    cost = next(row for row in made.rows if row.name == "cost")
    assert cost.low < cost.middle < cost.high
    dear, nothing = made.against
    assert dear[2] == pytest.approx(made.finished)
    assert nothing[2] == 0.0


def test_what_cannot_be_is_refused():
    with pytest.raises(ValidationError, match="low <= likely"):
        Alternative(name="x", low=3, likely=2, high=4)
    with pytest.raises(ValidationError):
        Prices(currency="EUR", hour=-1)
    sure = problem()
    belief = first_belief(sure.library.kinds, np.array([0.01]), np.array([1e-4]))
    with pytest.raises(OutOfRange, match="10 or more"):
        estimate(sure, belief, prices(), plays=3)
