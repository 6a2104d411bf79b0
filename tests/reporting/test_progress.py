"""Progress in a pipe and on a terminal."""

import io

import pytest
from rich.console import Console

from flamefe.reporting.progress import LineProgress, TerminalProgress, progress_for


class Clock:
    """A clock that is set by hand."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock():
    return Clock()


def march(progress, clock, seconds, steps):
    progress.stage("heating", 1.0)
    for step in range(1, steps + 1):
        clock.now += seconds / steps
        progress.update(step / steps)


@pytest.mark.parametrize(("seconds", "most"), [(1.0, 2), (10.0, 6), (100.0, 11), (3600.0, 122)])
def test_lines_are_few_and_end_with_the_stage(clock, seconds, most):
    out = io.StringIO()
    progress = LineProgress(out, clock=clock)
    march(progress, clock, seconds, 1000)
    progress.finish()
    lines = out.getvalue().splitlines()
    assert lines[0] == "heating: started"
    assert 2 <= len(lines) <= most
    assert lines[-1].startswith("heating: done in")
    assert "\r" not in out.getvalue()
    assert "\x1b" not in out.getvalue()


def test_time_left_is_by_rule_of_three(clock):
    out = io.StringIO()
    progress = LineProgress(out, clock=clock)
    progress.stage("straining", 200.0)
    clock.now = 60.0
    progress.update(50.0)
    assert out.getvalue().splitlines()[1:] == ["straining: 25 %, 60 s so far, about 3 min 0 s left"]


def test_a_stage_that_never_moves_still_gives_a_sign(clock):
    out = io.StringIO()
    progress = LineProgress(out, clock=clock)
    progress.stage("straining", 10.0)
    clock.now = 40.0
    progress.update(0.0)
    assert out.getvalue().splitlines()[1:] == ["straining: 0 %, 40 s so far"]


def test_next_stage_ends_the_one_before_and_stopping_is_said(clock):
    out = io.StringIO()
    progress = LineProgress(out, clock=clock)
    progress.update(3.0)
    progress.stage("heating", 0.0)
    progress.update(1.0)
    progress.stage("straining\nof\x1b[2J it", 10.0)
    progress.stop()
    progress.stop()
    assert out.getvalue().splitlines() == [
        "heating: started",
        "heating: done in 0 s",
        "straining of[2J it: started",
        "straining of[2J it: stopped after 0 s",
    ]


def test_bars_on_a_terminal_lines_in_a_pipe():
    pipe = io.StringIO()
    assert isinstance(progress_for(Console(file=pipe)), LineProgress)
    screen = io.StringIO()
    bars = progress_for(Console(file=screen, force_terminal=True, width=80))
    assert isinstance(bars, TerminalProgress)
    bars.stage("[red]heating", 10.0)
    bars.update(4.0)
    bars.stage("straining", 0.0)
    bars.finish()
    assert "[red]heating" in screen.getvalue()
    assert "100%" in screen.getvalue()
    assert "progress.percentage" not in screen.getvalue()
    bars.stop()
