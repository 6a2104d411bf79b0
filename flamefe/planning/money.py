"""Time, gas and money of a job, with their spread, beside an alternative that the user prices."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field, model_validator

from flamefe.basics.errors import OutOfRange
from flamefe.planning.belief import Belief, error_covariance
from flamefe.planning.candidate import HeatKind
from flamefe.planning.problem import Problem
from flamefe.planning.workshop import Played, drawn_shop, play

Array = NDArray[np.float64]
Amount = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
SEED = 77
LITRES = 1e3
HOUR = 3600.0


class Alternative(BaseModel):
    """Another way to get a good part, as the user prices it: press, cut and reweld, a new part.

    Args:
        name: of the way.
        low, likely, high: cost, with its range; a triangular distribution is taken.

    Example:
        >>> Alternative(name="new part", low=2000, likely=2400, high=3500).likely
        2400.0
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    name: str
    low: Amount
    likely: Amount
    high: Amount

    @model_validator(mode="after")
    def _ordered(self) -> "Alternative":
        if not self.low <= self.likely <= self.high:
            raise ValueError(
                f"costs of {self.low:g}, {self.likely:g} and {self.high:g}; needed: low <= likely "
                "<= high"
            )
        return self


class Prices(BaseModel):
    """The user's prices; nothing here has a default that means money.

    Args:
        currency: in words.
        people: at the job all the time.
        hour: of one person.
        fuel_m3, oxygen_m3: gas.
        cycle: fixed cost of a cycle, such as a crane.
        cycle_min: minutes of a cycle besides the heats: setting up, cooling to the end, measuring.
        heat_min: minutes of handling a heat besides torch and wait.
        wait_busy: share of the waits for cooling in which the people can do nothing else.
        spread: standard deviation of all times and prices together, a share.
        alternatives: other ways, priced by the user.

    Example:
        >>> Prices(currency="EUR", hour=60, fuel_m3=25, oxygen_m3=6).people
        2.0
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    currency: str
    people: Amount = 2.0
    hour: Amount
    fuel_m3: Amount = 0.0
    oxygen_m3: Amount = 0.0
    cycle: Amount = 0.0
    cycle_min: Amount = 30.0
    heat_min: Amount = 5.0
    wait_busy: Annotated[float, Field(ge=0.0, le=1.0)] = 1.0
    spread: Annotated[float, Field(ge=0.0, le=0.5)] = 0.1
    alternatives: list[Alternative] = Field(default_factory=list)


FREE = Prices(currency="", hour=0.0)
"""Where no prices are given: the usual minutes for cycles and handling, and no money."""


@dataclass(frozen=True, kw_only=True)
class Spread:
    """A quantity with its spread.

    Args:
        name, unit: of the quantity.
        middle: median; low, high: 10 and 90 % of the plays lie below.
    """

    name: str
    unit: str
    middle: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """What the rest of a job takes.

    Args:
        plays: number of jobs that were played.
        finished: share of them that ended within tolerance.
        rows: cycles, heats, hours; gas where a nozzle is given; money where prices are.
        currency: of the money.
        against: name of each alternative, its likely cost, and the probability that the flame
            costs less, a play that doesn't finish counted as dearer.
    """

    plays: int
    finished: float
    rows: tuple[Spread, ...]
    currency: str
    against: tuple[tuple[str, float, float], ...]


def estimate(
    problem: Problem,
    belief: Belief,
    prices: Prices | None,
    given: Mapping[str, int] | None = None,
    plays: int = 40,
) -> Estimate:
    """Play the rest of the job many times against parts and shops drawn from the belief.

    Args:
        problem: the job.
        belief: now.
        prices: the user's; None: no money is told, times are those of ``FREE``.
        given: number of heats that each place had so far.
        plays: number of jobs.

    Raises:
        OutOfRange: fewer than 10 plays.
    """
    priced = prices is not None
    prices = prices or FREE
    if plays < 10:
        raise OutOfRange(f"{plays} plays tell no spread; take 10 or more.")
    errors = error_covariance(problem.uncertainty, len(problem.places.names))
    random = np.random.default_rng(SEED)
    played, ends = [], []
    for _ in range(plays):
        treat, truth = drawn_shop(belief, errors, random)
        one = play(belief, problem.places, problem.library, problem.rules, treat, errors, given)
        played.append(one)
        ends.append(not bool((problem.places.outside(truth()) > 0.0).any()))
    kinds = {kind.name: kind for kind in problem.library.kinds}
    table = np.array([_amounts(one, kinds, prices) for one in played])
    good = np.array(ends)
    off = np.maximum(1.0 + prices.spread * random.standard_normal(plays), 0.2)
    gas = any(kind.fuel_L > 0.0 or kind.oxygen_L > 0.0 for kind in kinds.values())
    hours, money = table[:, 4] * off, table[:, 7] * off
    rows = (
        _spread("cycles", "", table[:, 0]),
        _spread("heats", "", table[:, 1]),
        _spread("torch", "h", table[:, 2]),
        _spread("waits for cooling", "h", table[:, 3]),
        _spread("whole time", "h", hours),
        *([_spread("fuel", "m3", table[:, 5])] if gas else []),
        *([_spread("oxygen", "m3", table[:, 6])] if gas else []),
        *([_spread("cost", prices.currency, money)] if priced else []),
    )
    against = []
    for other in prices.alternatives:
        cost = _triangular(other, random, plays)
        against.append((other.name, other.likely, float(np.mean(good & (money < cost)))))
    return Estimate(
        plays=plays,
        finished=float(good.mean()),
        rows=rows,
        currency=prices.currency,
        against=tuple(against),
    )


def _triangular(other: Alternative, random: np.random.Generator, plays: int) -> Array:
    if other.high <= other.low:
        return np.full(plays, other.likely)
    return random.triangular(other.low, other.likely, other.high, size=plays)


def _amounts(one: Played, kinds: Mapping[str, HeatKind], prices: Prices) -> tuple[float, ...]:
    """Cycles, heats, hours of torch, of waiting and in all, m3 of fuel and oxygen, money."""
    heats = [kinds[heat.kind] for cycle in one.cycles for heat in cycle]
    torch = sum(kind.torch_s for kind in heats) / HOUR
    waits = sum(kind.wait_s for kind in heats) / HOUR
    fuel = sum(kind.fuel_L for kind in heats) / LITRES
    oxygen = sum(kind.oxygen_L for kind in heats) / LITRES
    other = (len(one.cycles) * prices.cycle_min + len(heats) * prices.heat_min) / 60.0
    whole = torch + waits + other
    busy = torch + prices.wait_busy * waits + other
    money = busy * prices.people * prices.hour + len(one.cycles) * prices.cycle
    money += fuel * prices.fuel_m3 + oxygen * prices.oxygen_m3
    return (len(one.cycles), len(heats), torch, waits, whole, fuel, oxygen, money)


def _spread(name: str, unit: str, values: Sequence[float] | Array) -> Spread:
    low, middle, high = np.quantile(np.asarray(values, float), [0.1, 0.5, 0.9])
    return Spread(name=name, unit=unit, middle=float(middle), low=float(low), high=float(high))
