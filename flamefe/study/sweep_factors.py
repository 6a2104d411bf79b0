"""Factors of a study: what varies from run to run, and between which values."""

import math
from typing import Annotated, Any, Literal

from pydantic import Field
from scipy import stats

from flamefe.study.case_part import Number, WholeNumber, Words, part
from flamefe.study.faults import CaseError, Fault, Path, choose, shown

DIGITS = 6
"""Significant digits of the values drawn from ranges and spreads."""
CUT = 3.0
"""Standard deviations at which normal and lognormal spreads end: no part is infinitely thick."""

_TIED = "Place of the factor that this one moves with."
_PERCENT = 'a number above 0, or per cent of the value such as "10 %"'


@part
class Levels:
    """Values to try, one after the other.

    Args:
        values: of any kind that fits the place: numbers, words, whole tables.
        tied_to: place of the factor that this one moves with: level by level, or by the same
            share of the way; None: it moves by itself.

    Raises:
        CaseError: no value, or too many.

    Example:
        >>> speeds = Levels(values=[4, 6, 8])
        >>> speeds.at(0.0), speeds.at(0.5), speeds.at(1.0), speeds.steps
        (4, 6, 8, 3)
    """

    values: Annotated[
        tuple[Any, ...], Field(min_length=1, max_length=1000, description="Values to try.")
    ]
    tied_to: Annotated[Words | None, Field(description=_TIED)] = None

    @property
    def steps(self) -> int:
        """Number of levels in a grid."""
        return len(self.values)

    def at(self, share: float) -> Any:
        """The value at a share of the way from the first to the last, 0 to 1."""
        return self.values[min(int(share * len(self.values)), len(self.values) - 1)]


@part
class Range:
    """From a lowest to a highest number.

    Args:
        lowest: in the unit of the place.
        highest: in the unit of the place.
        scale: "linear", or "log": the same factor from step to step.
        steps: number of levels in a grid, 2 to 1000; other designs have none.
        tied_to: see `Levels`.

    Raises:
        CaseError: the highest isn't above the lowest, or a log scale reaches 0.

    Example:
        >>> Range(lowest=1, highest=100, scale="log").at(0.5)
        10.0
        >>> [Range(lowest=1, highest=2, steps=3).level(i) for i in range(3)]
        [1.0, 1.5, 2.0]
    """

    lowest: Annotated[Number, Field(description="Lowest value.")]
    highest: Annotated[Number, Field(description="Highest value.")]
    scale: Annotated[
        Literal["linear", "log"], Field(description="How values lie between the two.")
    ] = "linear"
    steps: Annotated[WholeNumber, Field(ge=2, le=1000, description="Levels in a grid.")] = 3
    tied_to: Annotated[Words | None, Field(description=_TIED)] = None

    def __post_init__(self) -> None:
        if self.highest <= self.lowest:
            raise CaseError([
                Fault(path=("highest",), given=f"{self.highest:g}",
                      allowed=f"above the lowest, {self.lowest:g}",
                      advice="Put the smaller one first.")
            ])  # fmt: skip
        if self.scale == "log" and self.lowest <= 0:
            raise CaseError([
                Fault(path=("lowest",), given=f"{self.lowest:g} on a log scale",
                      allowed="above 0", advice='Take a linear scale, or start above 0.')
            ])  # fmt: skip

    def at(self, share: float) -> float:
        """The value at a share of the way from lowest to highest, 0 to 1."""
        if self.scale == "log":
            low, high = math.log(self.lowest), math.log(self.highest)
            return _rounded(math.exp(low + share * (high - low)))
        return _rounded(self.lowest + share * (self.highest - self.lowest))

    def level(self, number: int) -> float:
        """A level of a grid, from 0."""
        return self.at(number / (self.steps - 1))


@part
class Spread:
    """A value that isn't known well, or isn't kept well: how it scatters.

    ==============  ======================  ==================================================
    distribution    value is                spread is
    ==============  ======================  ==================================================
    "normal"        the mean                one standard deviation
    "uniform"       the middle              half the width
    "triangular"    the most likely, middle half the width
    "lognormal"     the median              what one standard deviation upwards adds
    ==============  ======================  ==================================================

    Normal and lognormal spreads are cut at three standard deviations.

    Args:
        value: in the unit of the place.
        spread: in the same unit, or as text in per cent of the value, such as "10 %".
        distribution: see above.
        tied_to: see `Levels`; the two then lie at the same share of their spreads.

    Raises:
        CaseError: a spread that isn't above 0, or a lognormal one of a value that isn't.

    Example:
        >>> power = Spread(value=4, spread="10 %")
        >>> power.at(0.5), power.at(0.0), power.at(1.0)
        (4.0, 2.8, 5.2)
        >>> Spread(value=100, spread=10, distribution="uniform").at(0.75)
        105.0
    """

    value: Annotated[Number, Field(description="Middle of the spread.")]
    spread: Annotated[Any, Field(description=f"How far it scatters: {_PERCENT}.")]
    distribution: Annotated[
        Literal["normal", "uniform", "triangular", "lognormal"],
        Field(description="How it scatters."),
    ] = "normal"
    tied_to: Annotated[Words | None, Field(description=_TIED)] = None

    def __post_init__(self) -> None:
        width = _width(self.spread, self.value)
        if width is None or not width > 0:
            raise CaseError([
                Fault(path=("spread",), given=shown(self.spread), allowed=_PERCENT,
                      advice="Say how far the value scatters.")
            ])  # fmt: skip
        if self.distribution == "lognormal" and self.value <= 0:
            raise CaseError([
                Fault(path=("value",), given=f"{self.value:g} with a lognormal spread",
                      allowed="above 0", advice="Take another distribution.")
            ])  # fmt: skip

    @property
    def width(self) -> float:
        """The spread in the unit of the place."""
        width = _width(self.spread, self.value)
        assert width is not None
        return width

    def at(self, share: float) -> float:
        """The value below which a share of all lies, 0 to 1."""
        if self.distribution == "uniform":
            return _rounded(self.value + (2 * share - 1) * self.width)
        if self.distribution == "triangular":
            low = stats.triang.ppf(share, 0.5, loc=-1, scale=2)
            return _rounded(self.value + float(low) * self.width)
        sigmas = float(stats.truncnorm.ppf(share, -CUT, CUT))
        if self.distribution == "lognormal":
            return _rounded(self.value * (1 + self.width / self.value) ** sigmas)
        return _rounded(self.value + sigmas * self.width)


Factor = Levels | Range | Spread
"""What varies from run to run."""


def factor_from(given: Any) -> Factor:
    """A factor as a study file gives it: a list of values, or a table.

    Raises:
        CaseError: it is neither, or has faults.

    Example:
        >>> factor_from([4, 6]).values, factor_from({"lowest": 4, "highest": 6}).at(0.5)
        ((4, 6), 5.0)
        >>> factor_from({"value": 4, "spread": "5 %"}).width
        0.2
    """
    if isinstance(given, Levels | Range | Spread):
        return given
    if isinstance(given, list | tuple):
        return Levels(values=tuple(given))
    if isinstance(given, dict):
        values: dict[str, Any] = {str(key): value for key, value in given.items()}
        if "values" in values:
            return Levels(**values)
        if values.keys() & {"lowest", "highest"}:
            return Range(**values)
        if values.keys() & {"value", "spread"}:
            return Spread(**values)
        known = ("values", "lowest", "highest", "value", "spread")
        wrong = next(iter(given), None)
        advice = "Say which." if wrong is None else choose(str(wrong), known)[1]
    else:
        advice = "Put a single value into brackets, [...]."
    raise CaseError([
        Fault(path=(), given=shown(given), advice=advice,
              allowed="a list of values, a table with lowest and highest, or one with value and "
              "spread")
    ])  # fmt: skip


def below(faults: CaseError, path: Path) -> list[Fault]:
    """Faults of a part with the place of the part ahead of theirs.

    Example:
        >>> try:
        ...     Range(lowest=2, highest=1)
        ... except CaseError as error:
        ...     print(below(error, ("factors", "mesh.layers"))[0].place)
        factors."mesh.layers".highest
    """
    return [
        Fault(path=(*path, *fault.path), given=fault.given, allowed=fault.allowed,
              advice=fault.advice)
        for fault in faults.faults
    ]  # fmt: skip


def _rounded(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")


def _width(spread: Any, value: float) -> float | None:
    """A spread in the unit of the value; None where it can't be read."""
    if isinstance(spread, int | float) and not isinstance(spread, bool):
        return float(spread) if math.isfinite(spread) else None
    if not isinstance(spread, str):
        return None
    words = spread.strip()
    if not words.endswith("%"):
        return None
    try:
        share = float(words[:-1]) / 100
    except ValueError:
        return None
    return share * abs(value) if math.isfinite(share) else None
