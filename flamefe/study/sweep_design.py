"""Designs of studies: which values of the factors make which run."""

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from scipy.stats import qmc

from flamefe.study.sweep_factors import Factor, Levels, Range

Design = Literal["grid", "Latin hypercube", "Sobol"]
"""How the runs lie between the values of the factors."""


@dataclass(frozen=True, kw_only=True)
class DesignPoint:
    """The values of one run.

    Args:
        changes: value by place.
        shares: of the way from the first to the last value, 0 to 1, of each factor that moves
            by itself.
    """

    changes: Mapping[str, Any]
    shares: tuple[float, ...]


def leaders(factors: Mapping[str, Factor]) -> tuple[str, ...]:
    """Places of the factors that move by themselves.

    Example:
        >>> leaders({"a": Levels(values=[1, 2]), "b": Levels(values=[3, 4], tied_to="a")})
        ('a',)
    """
    return tuple(place for place, factor in factors.items() if factor.tied_to is None)


def grid_size(factors: Mapping[str, Factor]) -> int:
    """Number of runs of a grid.

    Example:
        >>> grid_size({"a": Levels(values=[1, 2]), "b": Range(lowest=1, highest=2, steps=4)})
        8
    """
    return math.prod(_steps(factors[place]) for place in leaders(factors))


def design_points(
    factors: Mapping[str, Factor], design: Design, *, runs: int | None = None, seed: int = 1
) -> tuple[DesignPoint, ...]:
    """The runs of a design.

    Args:
        factors: what varies, by place; one that is tied to another moves with it.
        design: "grid": every combination of levels; "Latin hypercube": each factor's way is cut
            into as many equal pieces as there are runs, and each piece is used once; "Sobol": a
            scrambled Sobol sequence, most even where runs are a power of two.
        runs: how many; None: of a grid all.
        seed: of the random numbers; the same seed gives the same runs.

    Returns:
        A point a run. Sources: Latin hypercube, McKay, Beckman and Conover 1979; Sobol, Owen's
        scrambling; both by `scipy.stats.qmc`.

    Example:
        >>> factors = {"workpiece.thickness_mm": Levels(values=[8, 12]),
        ...     "flames.torch.power_kW": Range(lowest=3, highest=5, steps=2)}
        >>> for point in design_points(factors, "grid"):
        ...     print(*point.changes.values())
        8 3.0
        8 5.0
        12 3.0
        12 5.0
        >>> points = design_points(factors, "Latin hypercube", runs=4)
        >>> sorted(point.changes["workpiece.thickness_mm"] for point in points)
        [8, 8, 12, 12]
    """
    moving = leaders(factors)
    if design == "grid":
        levels = [range(_steps(factors[place])) for place in moving]
        return tuple(_level_point(factors, moving, chosen) for chosen in itertools.product(*levels))
    count = runs or 1
    random = np.random.default_rng(seed)
    if design == "Sobol":
        sampler: Any = qmc.Sobol(len(moving), scramble=True, seed=random)
        unit = sampler.random_base2(max(count - 1, 0).bit_length())[:count]
    else:
        unit = qmc.LatinHypercube(len(moving), seed=random).random(count)
    return tuple(_share_point(factors, moving, row.tolist()) for row in unit)


def spread_over(points: "tuple[DesignPoint, ...]", count: int) -> tuple[int, ...]:
    """Numbers of a few points that lie well apart: the middle one first, then always the one
    farthest from those chosen (farthest-first traversal, a maximin choice).

    Args:
        points: of a design.
        count: how many to choose; all where there are fewer.

    Example:
        >>> points = design_points({"a": Range(lowest=0, highest=4, steps=5)}, "grid")
        >>> spread_over(points, 3)
        (2, 0, 4)
    """
    if not points or count < 1:
        return ()
    shares = np.array([point.shares for point in points], dtype=float).reshape(len(points), -1)
    middle = shares.mean(axis=0)
    chosen = [int(((shares - middle) ** 2).sum(axis=1).argmin())]
    while len(chosen) < min(count, len(points)):
        away = np.min([((shares - shares[i]) ** 2).sum(axis=1) for i in chosen], axis=0)
        away[chosen] = -1.0
        chosen.append(int(away.argmax()))
    return tuple(chosen)


def _steps(factor: Factor) -> int:
    return factor.steps if isinstance(factor, Levels | Range) else 1


def _level_point(
    factors: Mapping[str, Factor], moving: tuple[str, ...], chosen: tuple[int, ...]
) -> DesignPoint:
    number = dict(zip(moving, chosen, strict=True))
    share = {
        place: i / (_steps(factors[place]) - 1) if _steps(factors[place]) > 1 else 0.5
        for place, i in number.items()
    }
    changes = {}
    for place, factor in factors.items():
        lead = factor.tied_to or place
        if isinstance(factor, Levels):
            changes[place] = factor.values[min(number[lead], len(factor.values) - 1)]
        else:
            changes[place] = factor.at(share[lead])
    return DesignPoint(changes=changes, shares=tuple(share[place] for place in moving))


def _share_point(
    factors: Mapping[str, Factor], moving: tuple[str, ...], shares: list[float]
) -> DesignPoint:
    share = dict(zip(moving, shares, strict=True))
    return DesignPoint(
        changes={place: one.at(share[one.tied_to or place]) for place, one in factors.items()},
        shares=tuple(shares),
    )
