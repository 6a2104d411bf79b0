"""Named errors and warnings: each says what was given, what is allowed and what to do."""

from collections.abc import Sequence
from dataclasses import dataclass


class FlamefeError(Exception):
    """Base of every error that the library raises on purpose."""


class FlamefeWarning(UserWarning):
    """Base of every warning that the library gives on purpose."""


class ExtrapolationWarning(FlamefeWarning):
    """A value was asked for outside the range its source covers."""


class OutOfRange(FlamefeError, ValueError):
    """An input lies outside what is allowed."""


class MaterialError(FlamefeError, ValueError):
    """A material is unknown or its tables contradict each other."""


class MeshError(FlamefeError, ValueError):
    """A mesh can't be built, read or used."""


class EnergyImbalance(FlamefeError):
    """Heat supplied, stored and lost differ by more than the allowed share."""


@dataclass(frozen=True, kw_only=True)
class Attempt:
    """One try at an increment: its length, and the residual after each iteration."""

    time_s: float
    step_s: float
    residuals: tuple[float, ...]


class NotConverged(FlamefeError):
    """An increment did not converge, even after its step was cut as often as allowed.

    ``history`` holds every try with its residuals, newest last.
    """

    def __init__(self, message: str, history: Sequence[Attempt] = ()) -> None:
        super().__init__(message)
        self.history = tuple(history)
