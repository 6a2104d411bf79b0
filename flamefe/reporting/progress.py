"""Progress of a run on a terminal, and in a pipe."""

import time
from collections.abc import Callable
from typing import IO

from rich.console import Console
from rich.progress import (
    BarColumn,
    TaskID,
    TaskProgressColumn,
    TextColumn,
    TimeElapsedColumn,
    TimeRemainingColumn,
)
from rich.progress import Progress as RichProgress

from flamefe.reporting.words import one_line

SHARE_BETWEEN_LINES = 0.1
SECONDS_BETWEEN_LINES = 2.0
SECONDS_OF_SILENCE = 30.0


class LineProgress:
    """Plain lines for a pipe or a log: seldom, whole, and each of use alone.

    A stage writes a line when it begins, each 10 % (and at least 2 s apart), after 30 s of
    silence, and when it ends; never a control character.

    Args:
        stream: where the lines go.
        clock: gives seconds; for tests.

    Example:
        >>> import io
        >>> out = io.StringIO()
        >>> lines = LineProgress(out, clock=iter([0.0, 3.0, 4.0]).__next__)
        >>> lines.stage("heating", 10.0); lines.update(5.0); lines.finish()
        >>> print(out.getvalue(), end="")
        heating: started
        heating: 50 %, 3 s so far, about 3 s left
        heating: done in 4 s
    """

    def __init__(self, stream: IO[str], *, clock: Callable[[], float] = time.monotonic) -> None:
        self._stream = stream
        self._clock = clock
        self._name: str | None = None
        self._total = 1.0
        self._began = self._last_time = self._last_share = 0.0

    def stage(self, name: str, total: float) -> None:
        """Begin a stage that is complete at ``total``."""
        self.finish()
        self._name = one_line(name)
        self._total = total
        self._began = self._last_time = self._clock()
        self._last_share = 0.0
        self._write(f"{self._name}: started")

    def update(self, done: float) -> None:
        """Tell how much of the stage is done; writes a line when one is due."""
        if self._name is None:
            return
        now = self._clock()
        share = min(max(done / self._total, 0.0), 1.0) if self._total > 0 else 1.0
        silence = now - self._last_time
        moved = share - self._last_share >= SHARE_BETWEEN_LINES
        if share >= 1.0 or not (
            (moved and silence >= SECONDS_BETWEEN_LINES) or silence >= SECONDS_OF_SILENCE
        ):
            return
        self._last_time, self._last_share = now, share
        spent = now - self._began
        left = f", about {_span(spent * (1 - share) / share)} left" if share > 0 else ""
        self._write(f"{self._name}: {100 * share:.0f} %, {_span(spent)} so far{left}")

    def finish(self) -> None:
        """End the stage that runs, with a line."""
        if self._name is not None:
            self._write(f"{self._name}: done in {_span(self._clock() - self._began)}")
            self._name = None

    def stop(self) -> None:
        """Break off: the stage that runs is told as stopped."""
        if self._name is not None:
            self._write(f"{self._name}: stopped after {_span(self._clock() - self._began)}")
            self._name = None

    def _write(self, line: str) -> None:
        self._stream.write(line + "\n")
        self._stream.flush()


class TerminalProgress:
    """A bar for each stage on a terminal, with percent, time so far and time left.

    Args:
        console: where to draw.
    """

    def __init__(self, console: Console) -> None:
        self._bars = RichProgress(
            TextColumn("{task.description}", markup=False),
            BarColumn(),
            TaskProgressColumn(),
            TimeElapsedColumn(),
            TimeRemainingColumn(),
            console=console,
        )
        self._task: TaskID | None = None
        self._total = 1.0

    def stage(self, name: str, total: float) -> None:
        """Begin a stage that is complete at ``total``."""
        self._complete()
        self._total = total if total > 0 else 1.0
        self._bars.start()
        self._task = self._bars.add_task(one_line(name), total=self._total)

    def update(self, done: float) -> None:
        """Move the bar of the stage that runs."""
        if self._task is not None:
            self._bars.update(self._task, completed=min(max(done, 0.0), self._total))

    def finish(self) -> None:
        """Complete the last bar and leave the terminal as it was."""
        self._complete()
        self._bars.stop()

    def stop(self) -> None:
        """Leave the terminal as it was; the stage that ran stays incomplete."""
        self._task = None
        self._bars.stop()

    def _complete(self) -> None:
        if self._task is not None:
            self._bars.update(self._task, completed=self._total)
            self._task = None


def progress_for(console: Console) -> TerminalProgress | LineProgress:
    """Return bars when ``console`` is a terminal, plain lines otherwise."""
    if console.is_terminal:
        return TerminalProgress(console)
    return LineProgress(console.file)


def _span(seconds: float) -> str:
    whole = round(seconds)
    if whole < 120:
        return f"{whole} s"
    minutes, rest = divmod(whole, 60)
    if minutes < 120:
        return f"{minutes} min {rest} s"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min"
