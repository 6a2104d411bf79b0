"""The contact problem by itself: against all states tried in turn, and what is refused."""

from itertools import product

import numpy as np
import pytest

from flamefe.straining import contact
from flamefe.straining.contact import HIGH, LOW, TOUCHING, LosesContact, Places, Reach, touch


def random_problem(seed, count=4):
    """A part with a real stiffness, some places with suction, some soft, some limited."""
    random = np.random.default_rng(seed)
    root = random.normal(size=(count, count))
    stiffness = root @ root.T + 0.1 * np.eye(count)
    springs = random.uniform(0.1, 1.0, count)
    reach = np.linalg.inv(stiffness + np.diag(springs))
    load = random.normal(size=count)
    places = Places(
        gap=random.normal(scale=0.3, size=count),
        compliance=random.choice([0.0, 0.2], count),
        least=random.choice([0.0, -0.5, -np.inf], count),
        most=random.choice([np.inf, 0.7], count),
    )
    return stiffness, load, springs, reach, places


def by_trial(stiffness, load, places):
    """The one state of all that contradicts nothing: K y = load + f."""
    found = []
    for states in product((LOW, TOUCHING, HIGH), repeat=load.size):
        state = np.array(states)
        limit = np.where(state == HIGH, places.most, places.least)
        touching = state == TOUCHING
        if not np.isfinite(limit[~touching]).all():
            continue
        size = load.size
        matrix = np.zeros((2 * size, 2 * size))
        right = np.zeros(2 * size)
        matrix[:size, :size], matrix[:size, size:] = stiffness, -np.eye(size)
        right[:size] = load
        for i in range(size):
            row = size + i
            matrix[row, row] = places.compliance[i] if touching[i] else 1.0
            matrix[row, i] = 1.0 if touching[i] else 0.0
            right[row] = -places.gap[i] if touching[i] else limit[i]
        solved = np.linalg.solve(matrix, right)
        y, f = solved[:size], solved[size:]
        opening = places.gap + y + places.compliance * f
        if (
            (f >= places.least - 1e-9).all()
            and (f <= places.most + 1e-9).all()
            and (opening[state == LOW] >= -1e-9).all()
            and (opening[state == HIGH] <= 1e-9).all()
        ):
            found.append((y, f))
    return found


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("start", [LOW, TOUCHING])
@pytest.mark.parametrize("patience", [10, -1])
def test_equals_what_trying_every_state_gives(seed, start, patience, monkeypatch):
    """Both ways of finding the states: all at once, and (without patience) by descent alone."""
    monkeypatch.setattr(contact, "PATIENCE", patience)
    stiffness, load, springs, reach, places = random_problem(seed)
    (expected,) = by_trial(stiffness, load, places)[:1]
    states = np.full(load.size, start, dtype=np.int8)
    found = touch(places, reach @ load, Reach(reach, springs, kept=0.0), states)
    assert found.movement == pytest.approx(expected[0], abs=1e-8)
    assert found.force == pytest.approx(expected[1], abs=1e-8)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("patience", [10, -1])
def test_many_rests_obey_their_conditions(seed, patience, monkeypatch):
    monkeypatch.setattr(contact, "PATIENCE", patience)
    random = np.random.default_rng(seed)
    count = 120
    line = np.diag(np.full(count, 2.0)) - np.eye(count, k=1) - np.eye(count, k=-1)
    springs = np.full(count, 1e-3)
    reach = np.linalg.inv(line @ line + np.diag(springs))
    load = random.normal(loc=-0.3, size=count)
    rest = Places(
        gap=np.zeros(count), compliance=np.zeros(count), least=np.zeros(count),
        most=np.full(count, np.inf),
    )  # fmt: skip
    found = touch(
        rest, reach @ load, Reach(reach, springs, kept=0.0), np.zeros(count, dtype=np.int8)
    )
    assert found.force.min() > -1e-7
    assert found.opening.min() > -1e-7
    assert np.abs(found.force * found.opening).max() < 1e-6
    assert line @ line @ found.movement == pytest.approx(load + found.force, abs=1e-6)


def test_a_loose_part_is_carried_by_its_rests_but_not_pulled_off_them():
    """No stiffness of its own: only the artificial spring, which is taken out again."""
    rest = Places(
        gap=np.zeros(1), compliance=np.zeros(1), least=np.zeros(1), most=np.full(1, np.inf)
    )
    springs, reach = np.array([5.0]), np.array([[0.2]])
    states = np.zeros(1, dtype=np.int8)
    found = touch(rest, reach @ [-3.0], Reach(reach, springs, kept=0.0), states)
    assert found.force == pytest.approx([3.0])
    assert found.movement == pytest.approx([0.0], abs=1e-12)
    with pytest.raises(LosesContact):
        touch(rest, reach @ [3.0], Reach(reach, springs, kept=0.0), states)


def test_a_given_force_is_kept_whatever_the_part_does():
    jack = Places(
        gap=np.zeros(1), compliance=np.zeros(1), least=np.full(1, 2.0), most=np.full(1, 2.0)
    )
    springs, reach = np.array([1.0]), np.array([[0.25]])  # stiffness 3
    for load in (-10.0, 10.0):
        found = touch(
            jack, reach @ [load], Reach(reach, springs, kept=0.0), np.zeros(1, dtype=np.int8)
        )
        assert found.force == pytest.approx([2.0])
        assert found.movement == pytest.approx([(load + 2.0) / 3.0])
