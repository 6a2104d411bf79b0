"""A study: a base case, what varies in it, and the runs that follow, all checked beforehand."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import Field

from flamefe.study.case import Case
from flamefe.study.case_part import Lines, Number, WholeNumber, Words, part
from flamefe.study.faults import CaseError, Fault, Path, choose, shown
from flamefe.study.sweep_design import (
    Design,
    DesignPoint,
    design_points,
    grid_size,
    spread_over,
)
from flamefe.study.sweep_factors import Factor, Levels, Range, Spread, below, factor_from
from flamefe.study.sweep_finer import finer_case
from flamefe.study.variation import VariationError, case_with, unknown_places

MOST_RUNS = 20_000


class StudyError(CaseError):
    """A study has faults; all of them are in ``faults``.

    Example:
        >>> fault = Fault(path=("runs",), given="0", allowed="1 or more", advice="Say how many.")
        >>> print(StudyError([fault]))
        The study has 1 fault:
        runs
            Given: 0. Allowed: 1 or more. Say how many.
    """

    def __str__(self) -> str:
        number = len(self.faults)
        head = f"The study has {number} fault{'' if number == 1 else 's'}:"
        return "\n".join([head, *(str(fault) for fault in self.faults)])


@part
class Accuracy:
    """A few runs are repeated on a finer mesh and with shorter steps.

    Args:
        repeat: how many, 1 to 100, spread over the design.
        finer: how many times finer, 1.2 to 3. A repeat costs some ``finer ** 4`` times its run.

    Raises:
        CaseError: a value is out of its range.

    Example:
        >>> Accuracy(repeat=4).finer
        1.5
    """

    repeat: Annotated[
        WholeNumber, Field(ge=1, le=100, description="How many runs are repeated.")
    ] = 4
    finer: Annotated[
        Number, Field(ge=1.2, le=3, description="How many times finer, in space and time.")
    ] = 1.5


@dataclass(frozen=True, kw_only=True)
class PlannedRun:
    """One run of a study, before it is made.

    Args:
        number: from 1, in the order of the design.
        changes: what differs from the base, by place.
        shares: see `DesignPoint`.
        case: the case; None where the values make none.
        fault: why there is none; empty otherwise.
    """

    number: int
    changes: Mapping[str, Any]
    shares: tuple[float, ...] = ()
    case: Case | None = None
    fault: str = ""


@part
class StudyTables:
    """What a study file holds; see `Study`, which has the base case itself.

    Args:
        title, about, design, runs, seed, accuracy, faulty_cases: see `Study`.
        case: name of a ready case, or of a case file.
        factors: by place: a list of values, or a table.

    Raises:
        CaseError: a value is not allowed.

    Example:
        >>> StudyTables(title="Thickness", case="hopper_wall_line", factors={"a": [1]}).design
        'grid'
    """

    title: Annotated[Words, Field(min_length=1, description="What the study is, in one line.")]
    case: Annotated[Words, Field(min_length=1, description="A case file, or a ready case.")]
    factors: Annotated[
        dict[Words, Any], Field(min_length=1, max_length=100, description="What varies, by place.")
    ]
    about: Annotated[Lines, Field(description="Reason, free text.")] = ""
    design: Annotated[Design, Field(description="How runs are chosen.")] = "grid"
    runs: Annotated[
        WholeNumber | None, Field(ge=1, le=MOST_RUNS, description="Number of runs.")
    ] = None
    seed: Annotated[WholeNumber, Field(ge=0, le=2**32 - 1, description="Of random numbers.")] = 1
    accuracy: Annotated[
        Accuracy | None, Field(description="Repeats on a finer mesh and with shorter steps.")
    ] = None
    faulty_cases: Annotated[
        Literal["refuse", "keep"], Field(description="What to do with values that make no case.")
    ] = "refuse"


@part
class Study(StudyTables):
    """A base case, factors and a design.

    Args:
        title: of the study.
        case: the base.
        factors: `Levels`, `Range` or `Spread` by place, written as for a comparison:
            ``"workpiece.thickness_mm"``, ``"heats[].speed_mm_s"``, ``"flames.torch.power_kW"``.
        about: reason, free text.
        design: "grid", "Latin hypercube" or "Sobol"; see `design_points`.
        runs: how many; not for a grid, which has all combinations.
        seed: of the random numbers of the design.
        accuracy: repeats on a finer mesh; None: none, and no error is told.
        faulty_cases: "refuse": nothing is run where values make no case; "keep": such a run is a
            row with its reason.
        folder: where files named in the cases are looked for.

    Raises:
        StudyError: values contradict each other, or a place does not exist in the base.
        CaseError: a value is not allowed.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> study = Study(title="Thickness and speed", case=base, factors={
        ...     "workpiece.thickness_mm": Levels(values=[8, 12]),
        ...     "heats[].speed_mm_s": Range(lowest=4, highest=8, steps=2)})
        >>> [tuple(run.changes.values()) for run in study.planned]
        [(8, 4.0), (8, 8.0), (12, 4.0), (12, 8.0)]
    """

    case: Annotated[Any, Field(description="The base case.")]
    folder: Annotated[str, Field(description="Where files of the cases are.")] = "."

    def __post_init__(self) -> None:
        if not isinstance(self.case, Case):
            raise StudyError([Fault(path=("case",), given=shown(self.case), allowed="a case",
                                    advice="Load it with load_case.")])  # fmt: skip
        faults = contradictions_of(
            {"case": self.case, "factors": self.factors, "design": self.design, "runs": self.runs}
        )
        if faults:
            raise StudyError(faults)

    @cached_property
    def varied(self) -> dict[str, Factor]:
        """The factors, read."""
        return {place: factor_from(given) for place, given in self.factors.items()}

    @property
    def spreads(self) -> bool:
        """Whether all factors are spreads of values that aren't known or kept well."""
        return all(isinstance(factor, Spread) for factor in self.varied.values())

    @cached_property
    def points(self) -> tuple[DesignPoint, ...]:
        """The values of all runs."""
        return design_points(self.varied, self.design, runs=self.runs, seed=self.seed)

    @cached_property
    def planned(self) -> tuple[PlannedRun, ...]:
        """All runs, each case checked; those that make none only where they are kept.

        Raises:
            StudyError: values of some runs make no case.
        """
        made, faulty = [], []
        for number, point in enumerate(self.points, start=1):
            run = PlannedRun(number=number, changes=point.changes, shares=point.shares)
            try:
                case = case_with(self.case, point.changes)
            except VariationError as error:
                faulty.append((run, [Fault(path=("factors",), given=str(error),
                                           allowed="places of the base case",
                                           advice="Change the place.")]))  # fmt: skip
            except CaseError as error:
                faulty.append((run, list(error.faults)))
            else:
                made.append(replace(run, case=case))
                continue
            made.append(replace(run, fault=_in_words(faulty[-1][1])))
        if faulty and self.faulty_cases == "refuse":
            raise StudyError(_gathered(faulty, len(made), tuple(self.factors)))
        return tuple(made)

    @cached_property
    def repeats(self) -> tuple[PlannedRun, ...]:
        """The runs that are repeated, with their finer cases; they keep their numbers.

        Raises:
            StudyError: a finer case can't be.
        """
        if self.accuracy is None:
            return ()
        whole = [run for run in self.planned if run.case is not None]
        points = tuple(self.points[run.number - 1] for run in whole)
        made = []
        for index in spread_over(points, self.accuracy.repeat):
            run = whole[index]
            assert run.case is not None
            try:
                made.append(replace(run, case=finer_case(run.case, self.accuracy.finer)))
            except CaseError as error:
                raise StudyError(
                    Fault(path=("accuracy",), given=f"{one.place}: {one.given}, {self._finer()}",
                          allowed=one.allowed, advice=one.advice)
                    for one in error.faults
                ) from None  # fmt: skip
        return tuple(made)

    def _finer(self) -> str:
        assert self.accuracy is not None
        return f"{self.accuracy.finer:g} times finer"


def contradictions_of(given: Mapping[str, Any]) -> list[Fault]:
    """Faults between the values of a study, as far as they are given.

    Args:
        given: base case, factors, design and runs, by these names; only those that could be read.
    """
    case, design = given.get("case"), given.get("design")
    faults: list[Fault] = []
    read: dict[str, Factor] = {}
    for place, one in given.get("factors", {}).items():
        try:
            read[place] = factor_from(one)
        except CaseError as error:
            faults += below(error, ("factors", place))
    whole = not faults
    if isinstance(case, Case):
        first = {place: factor.at(0.5) for place, factor in read.items()}
        for place, words in unknown_places(case, first).items():
            faults.append(Fault(path=("factors", place), given=shown(place),
                                allowed="a place of the base case", advice=words))  # fmt: skip
    for place, factor in read.items():
        faults += _tie_faults(place, factor, read, design, tuple(given["factors"]))
    if "design" in given and "runs" in given:
        faults += _count_faults(read if whole else {}, design, given["runs"])
    return faults


def _tie_faults(
    place: str,
    factor: Factor,
    read: Mapping[str, Factor],
    design: Any,
    places: tuple[str, ...],
) -> list[Fault]:
    path: Path = ("factors", place)
    if design == "grid" and isinstance(factor, Spread):
        return [Fault(path=path, given="a spread in a grid", allowed="levels or a range",
                      advice='Take the design "Latin hypercube" or "Sobol".')]  # fmt: skip
    if factor.tied_to is None:
        return []
    lead = read.get(factor.tied_to)
    if lead is None and factor.tied_to in places:
        return []  # it has a fault of its own
    if lead is None or lead.tied_to is not None or factor.tied_to == place:
        free = [name for name, one in read.items() if one.tied_to is None and name != place]
        allowed, advice = choose(factor.tied_to, free)
        return [Fault(path=(*path, "tied_to"), given=shown(factor.tied_to),
                      allowed=f"a factor that moves by itself: {allowed}",
                      advice=advice)]  # fmt: skip
    if (
        isinstance(factor, Levels)
        and isinstance(lead, Levels | Range)
        and (design == "grid" or isinstance(lead, Levels))
        and factor.steps != lead.steps
    ):
        return [Fault(path=path, given=f"{factor.steps} values",
                      allowed=f"{lead.steps}, as many as {factor.tied_to} has",
                      advice="Give a value for each.")]  # fmt: skip
    return []


def _count_faults(read: Mapping[str, Factor], design: Any, runs: Any) -> list[Fault]:
    if design != "grid" and runs is None:
        return [Fault(path=("runs",), given="nothing", allowed=f"a whole number up to {MOST_RUNS}",
                      advice="Say how many runs to make, for instance runs = 32.")]  # fmt: skip
    if design == "grid" and runs is not None:
        return [Fault(path=("runs",), given=f"{shown(runs)} with a grid",
                      allowed="nothing: a grid has every combination of its levels",
                      advice='Leave it out, or take the design "Latin hypercube".')]  # fmt: skip
    if design == "grid" and grid_size(read) > MOST_RUNS:
        return [Fault(path=("factors",), given=f"{grid_size(read)} runs",
                      allowed=f"up to {MOST_RUNS}",
                      advice='Give fewer levels, or design = "Latin hypercube".')]  # fmt: skip
    return []


def _in_words(faults: list[Fault]) -> str:
    return "; ".join(f"{one.place}: {one.given}, allowed: {one.allowed}" for one in faults)


def _gathered(
    faulty: list[tuple[PlannedRun, list[Fault]]], count: int, places: tuple[str, ...]
) -> list[Fault]:
    """One fault for each kind of fault, at the factor that it comes from."""
    kinds: dict[tuple[Path, str, str], list[tuple[PlannedRun, Fault]]] = {}
    for run, faults in faulty:
        for one in faults:
            kinds.setdefault((_source(one, places), one.place, one.allowed), []).append((run, one))
    found = []
    for (path, place, allowed), met in kinds.items():
        run, one = met[0]
        values = ", ".join(f"{name} = {shown(value)}" for name, value in run.changes.items())
        runs = len({id(other) for other, _ in met})
        found.append(Fault(
            path=path, allowed=allowed,
            given=f"{place}: {one.given}, in {runs} of {count} runs, first in run {run.number} "
            f"({values})",
            advice=f'{one.advice} Or keep such runs as rows with faulty_cases = "keep".',
        ))  # fmt: skip
    return found


def _source(fault: Fault, places: tuple[str, ...]) -> Path:
    """The factor that a fault of a case comes from; all of them where none is named."""
    plain = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in fault.path)
    plain = plain.lstrip(".")
    for place in places:
        tried = place
        if place.startswith("heats[]") and plain.startswith("heats["):
            tried = place.replace("heats[]", plain[: plain.index("]") + 1], 1)
        if plain == tried or plain.startswith((f"{tried}.", f"{tried}[")):
            return ("factors", place)
    return ("factors",)
