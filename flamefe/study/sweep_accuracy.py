"""How far a study's numbers are off because of its mesh and steps, from a few finer repeats.

    error = (value - finer value) r^p / (r^p - 1),  p = 2

Richardson's extrapolation with r how much finer the repeat really was (cube root of the numbers of
elements) and p = 2, the order of the elements. The steps of time, which a repeat shortens as well,
are of first order but weigh less: on line heats with elements of a half and a third of the flame's
radius this told errors of 27 and 6 % (against the limit of still finer meshes) 1.2 times too large.
Source: P. J. Roache,
Verification and Validation in Computational Science and Engineering, Hermosa 1998, ch. 5.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from flamefe.study.compare import Row

ORDER = 2.0
LEAST_FINER = 1.05
"""A repeat whose elements are less than this much smaller says nothing."""
SMALL = 0.05
"""Values below this share of the study's largest count as this share: nearly nothing has no
relative error."""
NOTHING = 1e-6
"""mm, deg, MPa: quantities that stay below in all runs, for instance by symmetry, have no error."""


@dataclass(frozen=True, kw_only=True)
class Repeat:
    """A run and its repeat on a finer mesh.

    Args:
        run: number of the run in the study.
        finer: how many times finer it really was; None: one of the two gave no result.
        coarse: outcome of the run itself.
        fine: outcome of the repeat.
    """

    run: int
    finer: float | None
    coarse: Row
    fine: Row


@dataclass(frozen=True, kw_only=True)
class MeshError:
    """Estimated error of one quantity by mesh and steps.

    Args:
        quantity: name of the measure.
        unit: its unit.
        rms_share: root mean square of the errors by their values.
        worst_share: largest of them.
        rms: root mean square of the errors, in the unit.
        bias_share: mean of the errors by their values; above 0: too large.
        repeats: number of runs that it comes from.

    Example:
        >>> print(MeshError(quantity="camber", unit="mm", rms_share=0.02, worst_share=0.03,
        ...     rms=0.01, bias_share=-0.02, repeats=4))
        camber: 2 % (worst 3 %, mean -2 %), 0.01 mm, from 4 runs
    """

    quantity: str
    unit: str
    rms_share: float
    worst_share: float
    rms: float
    bias_share: float
    repeats: int

    def __str__(self) -> str:
        shares = (
            f"{100 * self.rms_share:.2g} % (worst {100 * self.worst_share:.2g} %, "
            f"mean {100 * self.bias_share:+.2g} %)"
        )
        return (
            f"{self.quantity}: {shares}, {self.rms:.2g} {self.unit}, from {self.repeats} "
            f"run{'' if self.repeats == 1 else 's'}"
        )


def how_much_finer(coarse: Mapping[str, float], fine: Mapping[str, float]) -> float | None:
    """How many times smaller the elements of a repeat are, from the figures of both runs.

    Example:
        >>> how_much_finer({"hexes": 100}, {"hexes": 800})
        2.0
        >>> how_much_finer({"hexes": 100}, {"hexes": 100}) is None
        True
    """
    if not (coarse.get("hexes") and fine.get("hexes")):
        return None
    finer = round((fine["hexes"] / coarse["hexes"]) ** (1 / 3), 6)
    return finer if finer >= LEAST_FINER else None


def mesh_errors(repeats: Sequence[Repeat], rows: Sequence[Row]) -> tuple[MeshError, ...]:
    """Error of each quantity by mesh and steps.

    Args:
        repeats: a few runs with their finer repeats; those without a result are left out.
        rows: all runs of the study, which tell how large each quantity gets.

    Returns:
        An error for each quantity that isn't zero in all runs.

    Example:
        >>> from flamefe.outcome.measure import Measure
        >>> def row(value):
        ...     return Row(name="", changed={}, measures=(Measure(name="camber", value=value,
        ...         unit="mm", meaning="towards the torch"),))
        >>> found = mesh_errors([Repeat(run=1, finer=2.0, coarse=row(1.02), fine=row(1.005))],
        ...     [row(1.02)])
        >>> print(found[0])
        camber: 2 % (worst 2 %, mean +2 %), 0.02 mm, from 1 run
    """
    sizes: dict[tuple[str, str], float] = {}
    for row in rows:
        for measure in row.measures:
            key = (measure.name, measure.unit)
            sizes[key] = max(sizes.get(key, 0.0), abs(measure.value))
    found = []
    for (name, unit), size in sizes.items():
        errors, shares = [], []
        for repeat in repeats:
            coarse, fine = repeat.coarse.value(name), repeat.fine.value(name)
            if repeat.finer is None or coarse is None or fine is None or size <= NOTHING:
                continue
            power = repeat.finer**ORDER
            error = (coarse - fine) * power / (power - 1.0)
            errors.append(error)
            shares.append(error / max(abs(coarse), SMALL * size))
        if errors:
            found.append(MeshError(
                quantity=name, unit=unit, rms_share=_rms(shares),
                worst_share=max(abs(one) for one in shares), rms=_rms(errors),
                bias_share=sum(shares) / len(shares), repeats=len(errors),
            ))  # fmt: skip
    return tuple(found)


def _rms(values: Sequence[float]) -> float:
    return math.sqrt(sum(value**2 for value in values) / len(values))
