"""The clock of a march: growth, cuts and landing on a time."""

from math import inf

import pytest

from flamefe.basics.clock import Clock


def _clock(**changes: float) -> Clock:
    return Clock(**{"step": 2.0, "longest": 10.0, "allowed": 30.0} | changes)


@pytest.mark.parametrize(
    ("change", "step"),
    [
        (30.0, 2.0),  # just what is allowed
        (60.0, 1.0),
        (20.0, 3.0),  # growth of 1.5
        (1.0, 3.0),
        (0.0, 3.0),
        (100.0, 0.6),
        (1e6, 0.4),  # never below a fifth at once
        (inf, 0.4),
    ],
)
def test_next_step_follows_the_change(change: float, step: float) -> None:
    after = _clock().after(change=change)
    assert after.step == pytest.approx(step)
    assert after.time == 2.0


def test_no_step_is_longer_than_the_longest() -> None:
    clock = _clock()
    for _ in range(20):
        clock = clock.after(change=0.0)
    assert clock.step == 10.0


def test_growth_is_its_own() -> None:
    assert _clock(growth=4.0).after(change=1.0).step == 8.0


def test_a_steady_rate_is_stepped_at_the_allowed_change() -> None:
    """Change in proportion to the step: the steps settle where they bring what is allowed."""
    clock = _clock(step=0.01)
    for _ in range(30):
        clock = clock.after(change=12.0 * clock.step)
    assert 12.0 * clock.step == pytest.approx(30.0)


def test_a_cut_halves_the_step_and_keeps_the_time() -> None:
    clock = _clock(time=5.0).cut().cut()
    assert (clock.time, clock.step) == (5.0, 0.5)


@pytest.mark.parametrize("left", [0.3, 1.999, 2.0, 2.0000001, 3.9, 4.0, 4.1, 97.0])
def test_steps_fit_the_time_left(left: float) -> None:
    """As many even steps as needed, none more than 0.2 % longer than asked."""
    clock = _clock(time=1.0).until(1.0 + left)
    pieces = left / clock.step
    assert pieces == pytest.approx(round(pieces), abs=1e-6)
    assert clock.step <= 2.0 * 1.002
    assert clock.step > 0.66 * min(left, 2.0)


def test_marching_lands_on_the_end() -> None:
    """With the steps fitted anew each time, whatever the rate of change is."""
    clock, count = _clock(step=0.7, longest=0.7), 0
    while clock.time < 10.0 * (1 - 1e-9):
        clock = clock.until(10.0)
        clock = clock.after(change=clock.step * ((count * 37) % 90))
        count += 1
    assert clock.time == pytest.approx(10.0, abs=1e-9)
