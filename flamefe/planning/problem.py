"""A job as numbers: what is measured, what may be heated, under which rules; and as plain data."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.planning.bays import heights_by_area
from flamefe.planning.candidate import Candidate, HeatKind, Library
from flamefe.planning.limits import Box, CycleRules
from flamefe.planning.places import Places

Array = NDArray[np.float64]
MM = 1e3
DIGITS = 6


@dataclass(frozen=True, kw_only=True, eq=False)
class Problem:
    """What stays the same through a job.

    Args:
        title: of the job.
        places: measuring places with tolerances.
        library: heats that could be given.
        rules: of the trade.
        uncertainty: (n,) m, standard uncertainty of a measurement where none is told.
        common: standard deviation of what all kinds of heats share before anything is learnt.
        meaning: what a positive deviation means.
        material: name of the ready material, for its heating limit; "": not told.
        middle: m, middle of the part for the order of heats; None: of all candidates.
        reading: how the part is measured, as plain data, see ``reading_of``; None: values are
            deviations as they stand.
        by_area: whether deviations are heights of bays counted by area (``counted_by_area``).

    Raises:
        OutOfRange: numbers that don't fit each other.

    Example:
        >>> from flamefe.planning.places import places_of
        >>> heat = Candidate(name="w", kind="wedge", size="", place="2 m", side="top",
        ...                  position=(2.0, 0.0, 0.0), moves=np.array([-1e-3]))
        >>> problem = Problem(title="Girder", places=places_of(["middle"], 0.003),
        ...     library=Library(kinds=(HeatKind(name="wedge"),), candidates=(heat,)),
        ...     rules=CycleRules(), uncertainty=np.array([5e-4]))
        >>> again = problem_from(data_of(problem))
        >>> again.library.candidates[0].moves.tolist(), again.rules == problem.rules
        ([-0.001], True)
    """

    title: str
    places: Places
    library: Library
    rules: CycleRules
    uncertainty: Array
    common: float = 0.2
    meaning: str = ""
    material: str = ""
    middle: tuple[float, float, float] | None = None
    by_area: bool = False
    reading: Mapping[str, Any] | None = None

    def __post_init__(self) -> None:
        count = len(self.places.names)
        if self.uncertainty.shape != (count,) or not bool(np.all(self.uncertainty > 0.0)):
            raise OutOfRange("A measurement needs a standard uncertainty above 0 for every place.")
        wrong = [one.name for one in self.library.candidates if one.moves.size != count]
        if wrong:
            raise OutOfRange(f"Heat {wrong[0]!r} moves another number of places than {count}.")
        if not 0.0 <= self.common <= 0.6:
            raise OutOfRange(f"A common uncertainty of {self.common:g}; allowed: 0 to 0.6.")

    def shown(self, deviations: Array) -> Array:
        """(n,) m, deviations as they are measured: of bays the heights, flat ones 0.

        Args:
            deviations: (n,) m, as the job counts them.
        """
        return heights_by_area(deviations, self.places.upper) if self.by_area else deviations

    def shown_error(self, deviations: Array, errors: Array) -> Array:
        """(n,) m, standard deviations of what is ``shown``.

        Args:
            deviations: (n,) m, as the job counts them.
            errors: (n,) m, their standard deviations.
        """
        if not self.by_area:
            return errors
        return self.shown(deviations + errors) - self.shown(deviations)


def millimetres(values: Array) -> list[float]:
    """Metres as millimetres, rounded to a millionth.

    Args:
        values: (n,) m.

    Example:
        >>> millimetres(np.array([0.0012345]))
        [1.2345]
    """
    return [float(value) for value in np.round(MM * np.asarray(values), DIGITS)]


def data_of(problem: Problem) -> dict[str, Any]:
    """The problem as plain data with the trade's units, for a job file.

    Args:
        problem: the problem.
    """
    rules = problem.rules
    return {
        "title": problem.title,
        "meaning": problem.meaning,
        "material": problem.material,
        "common": problem.common,
        "by_area": problem.by_area,
        "reading": None if problem.reading is None else dict(problem.reading),
        "middle_mm": None if problem.middle is None else millimetres(np.array(problem.middle)),
        "places": [
            {"name": name, "lower_mm": low, "upper_mm": high, "uncertainty_mm": error}
            for name, low, high, error in zip(
                problem.places.names,
                millimetres(problem.places.lower),
                millimetres(problem.places.upper),
                millimetres(problem.uncertainty),
                strict=True,
            )
        ],
        "rules": {
            **{
                one.name: getattr(rules, one.name)
                for one in fields(CycleRules)
                if one.name not in ("spacing", "forbidden", "forbidden_places", "devices")
            },
            "spacing_mm": MM * rules.spacing,
            "forbidden": [
                {"from_mm": _ends(box.lowest), "to_mm": _ends(box.highest), "reason": box.reason}
                for box in rules.forbidden
            ],
            "forbidden_places": list(rules.forbidden_places),
            "devices": dict(rules.devices),
        },
        "kinds": [asdict(kind) for kind in problem.library.kinds],
        "heats": [
            {
                "name": one.name,
                "kind": one.kind,
                "size": one.size,
                "place": one.place,
                "side": one.side,
                "position_mm": millimetres(np.array(one.position)),
                "moves_mm": millimetres(one.moves),
            }
            for one in problem.library.candidates
        ],
    }


def problem_from(data: Mapping[str, Any]) -> Problem:
    """The problem of a job file's data.

    Args:
        data: as ``data_of`` makes it.

    Raises:
        OutOfRange: data that contradict each other.
        KeyError, TypeError: data of another form.
    """
    rows = data["places"]
    places = Places(
        names=tuple(row["name"] for row in rows),
        lower=np.array([row["lower_mm"] for row in rows]) / MM,
        upper=np.array([row["upper_mm"] for row in rows]) / MM,
    )
    given = dict(data["rules"])
    rules = CycleRules(
        spacing=given.pop("spacing_mm") / MM,
        forbidden=tuple(
            Box(lowest=_metres(b["from_mm"]), highest=_metres(b["to_mm"]), reason=b["reason"])
            for b in given.pop("forbidden")
        ),
        forbidden_places=tuple(given.pop("forbidden_places")),
        devices=dict(given.pop("devices")),
        **given,
    )
    kinds = tuple(HeatKind(**{**kind, "repeats": tuple(kind["repeats"])}) for kind in data["kinds"])
    heats = tuple(
        Candidate(
            name=one["name"],
            kind=one["kind"],
            size=one["size"],
            place=one["place"],
            side=one["side"],
            position=_metres(one["position_mm"]),
            moves=np.array(one["moves_mm"], float) / MM,
        )
        for one in data["heats"]
    )
    middle = data["middle_mm"]
    return Problem(
        title=data["title"],
        places=places,
        library=Library(kinds=kinds, candidates=heats),
        rules=rules,
        uncertainty=np.array([row["uncertainty_mm"] for row in rows]) / MM,
        common=data["common"],
        meaning=data["meaning"],
        material=data["material"],
        middle=None if middle is None else _metres(middle),
        by_area=bool(data.get("by_area", False)),
        reading=data.get("reading"),
    )


def _metres(values: Any) -> tuple[float, float, float]:
    x, y, z = (np.inf if one == "end" else -np.inf if one == "begin" else one for one in values)
    return (float(x) / MM, float(y) / MM, float(z) / MM)


def _ends(values: tuple[float, float, float]) -> list[float | str]:
    """mm; what has no end as a word, since JSON knows no infinity."""
    return [
        ("end" if one > 0 else "begin") if np.isinf(one) else round(MM * one, DIGITS)
        for one in values
    ]
