"""A cycle that does not fit is flagged, not learnt from; one that fits hardly ever is."""

import numpy as np
import pytest

from flamefe.planning.belief import first_belief
from flamefe.planning.candidate import HeatKind, heat_from
from flamefe.planning.learning import learn
from flamefe.planning.places import places_of
from flamefe.planning.workshop import drawn_shop

ERROR = 4e-4


@pytest.fixture(scope="module")
def cycle(girder_library):
    x, library = girder_library(count=9, stations=7, kinds=(HeatKind(name="wedge"),))
    belief = first_belief(library.kinds, 0.014 * np.sin(np.pi * x / 12.0), np.full(x.size, ERROR))
    top = [one for one in library.candidates if one.side == "top" and one.size == "s"]
    heats = [heat_from(one) for one in top[1:6]]
    moved = sum(heat.moves for heat in heats)
    return belief, heats, moved, places_of([f"{v:g}" for v in x], 0.003)


def lesson_of(cycle, measured, choice="as it fits"):
    belief, heats, _, places = cycle
    return learn(belief, heats, measured, ERROR**2 * np.eye(measured.size), places, choice)


def noisy(values, seed=0):
    return values + np.random.default_rng(seed).normal(0.0, ERROR, values.size)


@pytest.mark.parametrize("factor", [0.6, 1.0, 1.4])
def test_a_shop_that_is_off_is_learnt(cycle, factor):
    lesson = lesson_of(cycle, noisy(cycle[0].shape + factor * cycle[2]))
    assert lesson.fits
    assert lesson.learnt
    before, after = abs(1.0 - factor), abs(float(lesson.belief.factors[0]) - factor)
    assert after <= max(0.3 * before, 0.05)
    assert lesson.belief.factor_deviation[0] < 0.5 * cycle[0].factor_deviation[0]


@pytest.mark.parametrize(
    ("factor", "told"),
    [(-1.0, "wrong side"), (0.02, "jack had slipped"), (2.4, "hotter, larger or more often")],
)
def test_what_went_wrong_is_flagged_and_named(cycle, factor, told):
    measured = noisy(cycle[0].shape + factor * cycle[2])
    lesson = lesson_of(cycle, measured)
    assert not lesson.fits
    assert not lesson.learnt
    assert any(told in reason for reason in lesson.why), lesson.why
    assert lesson.belief.factors[0] == 1.0
    assert lesson.belief.shape == pytest.approx(measured)


def test_one_wrong_reading_is_named(cycle):
    measured = noisy(cycle[0].shape + 0.9 * cycle[2])
    measured[3] += 0.008
    lesson = lesson_of(cycle, measured)
    assert not lesson.fits
    assert lesson.why[0].startswith(f"only the reading at {cycle[3].names[3]} is off, by +")


def test_a_strange_form_is_flagged(cycle):
    x = np.linspace(0.0, 1.0, cycle[0].count)
    measured = cycle[0].shape + cycle[2] + 0.012 * np.sin(4.0 * np.pi * x)
    lesson = lesson_of(cycle, measured)
    assert not lesson.fits
    assert "form of the movement" in lesson.why[0]


def test_the_user_can_overrule(cycle):
    measured = noisy(cycle[0].shape - 1.0 * cycle[2])
    learnt = lesson_of(cycle, measured, "learn")
    assert learnt.learnt
    assert not learnt.fits
    assert learnt.belief.factors[0] < 0.5
    good = noisy(cycle[0].shape + cycle[2])
    left = lesson_of(cycle, good, "leave")
    assert left.fits
    assert not left.learnt
    assert left.belief.factors[0] == 1.0


def test_a_second_measurement_that_differs_is_flagged(cycle):
    belief, _, _, places = cycle
    again = learn(belief, [], belief.shape + 0.004, ERROR**2 * np.eye(belief.count), places)
    assert again.movement is None
    assert not again.fits


def test_false_alarms_are_rare(cycle):
    """600 cycles from the belief itself; at a rate of 1 in 500, more than 6 come once in 1000."""
    belief, heats, _, places = cycle
    random = np.random.default_rng(8)
    errors = ERROR**2 * np.eye(belief.count)
    alarms = 0
    for _ in range(600):
        treat, _ = drawn_shop(belief, errors, random)
        alarms += not learn(belief, heats, treat(heats), errors, places).fits
    assert alarms <= 6
