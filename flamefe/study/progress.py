"""How a long run tells how far it is."""

from typing import Protocol


class Progress(Protocol):
    """Something that is told of stages and how much of each is done.

    Beginning a stage ends the one before. ``done`` and ``total`` are in the stage's own measure
    (seconds of the job, increments); only their quotient counts.
    """

    def stage(self, name: str, total: float) -> None:
        """Begin a stage that is complete at ``total``."""

    def update(self, done: float) -> None:
        """Tell how much of the stage is done, counted from its beginning."""

    def finish(self) -> None:
        """End the last stage."""


class Silent:
    """Progress that nobody listens to.

    Example:
        >>> quiet = Silent()
        >>> quiet.stage("heating", 10.0), quiet.update(5.0), quiet.finish()
        (None, None, None)
    """

    def stage(self, name: str, total: float) -> None:
        """Begin a stage; says nothing."""

    def update(self, done: float) -> None:
        """Take note of progress; says nothing."""

    def finish(self) -> None:
        """End the last stage; says nothing."""
