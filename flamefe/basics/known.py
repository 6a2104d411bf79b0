"""A number and where it comes from."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Known:
    """A number with its source and, where it is uncertain, the range it may lie in.

    Args:
        value: in the unit that the place where it stands tells.
        source: publication, or "from memory", or "given by the user".
        low, high: the range; None where none is stated.

    Example:
        >>> Known(value=0.4, source="from memory", low=0.28, high=0.52).spread
        '0.4 (0.28 to 0.52)'
    """

    value: float
    source: str
    low: float | None = None
    high: float | None = None

    @property
    def spread(self) -> str:
        """The number with its range, in words."""
        if self.low is None or self.high is None:
            return f"{self.value:.3g}"
        return f"{self.value:.3g} ({self.low:.3g} to {self.high:.3g})"
