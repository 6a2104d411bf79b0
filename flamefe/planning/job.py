"""A job from its first measurement to its end, kept in a file that is only ever added to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import FlamefeError, OutOfRange
from flamefe.planning.belief import Belief, error_covariance, first_belief
from flamefe.planning.candidate import Heat, heat_from, heats_given
from flamefe.planning.jobfile import Entry, JobFileError, append, create, read
from flamefe.planning.learning import Choice, Lesson, learn
from flamefe.planning.plan import CyclePlan, Effort, plan_cycle
from flamefe.planning.problem import MM, Problem, data_of, millimetres, problem_from

Array = NDArray[np.float64]
Decision = Literal["learn", "leave", "discard"]


class JobError(FlamefeError, ValueError):
    """Something that can't be done with a job as it stands."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Step:
    """A measurement that counts.

    Args:
        number: of its entry.
        heats: that were given since the measurement before it.
        measured: (n,) m.
        lesson: what it taught; None for the first.
    """

    number: int
    heats: tuple[Heat, ...]
    measured: Array
    lesson: Lesson | None


@dataclass(frozen=True, kw_only=True, eq=False)
class Standing:
    """Where a job stands, as its entries tell.

    Args:
        belief: now; None before the first measurement.
        steps: measurements that count.
        planned: heats of a plan that no measurement has followed yet; None: there is no such plan.
        cycles: heats of each cycle that was measured.
    """

    belief: Belief | None
    steps: tuple[Step, ...]
    planned: tuple[Heat, ...] | None
    cycles: tuple[tuple[Heat, ...], ...]


class Job:
    """A job in a file.

    Everything that is known is in the file; every method that adds to it returns when the entry
    is on the disk. A job is opened again anywhere with ``Job(file)``.

    Args:
        file: a job file.

    Raises:
        JobFileError: it is missing, damaged or no job file.

    Example:
        >>> import tempfile
        >>> from flamefe.planning.candidate import Candidate, HeatKind, Library
        >>> from flamefe.planning.limits import CycleRules
        >>> from flamefe.planning.places import places_of
        >>> heats = tuple(Candidate(name=f"wedge {x} m", kind="wedge", size="45 deg",
        ...     place=f"{x} m", side="top", position=(float(x), 0.0, 0.0), moves=np.array([-2e-3]))
        ...     for x in range(1, 10))
        >>> problem = Problem(title="Girder", places=places_of(["middle"], 0.003),
        ...     library=Library(kinds=(HeatKind(name="wedge"),), candidates=heats),
        ...     rules=CycleRules(), uncertainty=np.array([5e-4]))
        >>> job = Job.start(Path(tempfile.mkdtemp()) / "girder.job", problem)
        >>> job.measure([0.014])
        >>> plan = job.plan(effort="quick")
        >>> job.measure([0.0075]).fits
        True
        >>> Job(job.file).standing.belief.factors.round(1).tolist()
        [0.9]
    """

    def __init__(self, file: Path | str) -> None:
        self.file = Path(file)
        found = read(self.file)
        self.torn = found.torn
        self.entries: tuple[Entry, ...] = found.entries
        try:
            self.problem = problem_from(found.entries[0].data["problem"])
        except (KeyError, TypeError, FlamefeError) as error:
            raise JobFileError(f"{self.file}: its first line tells no job ({error}).") from None
        self._standing: Standing | None = None

    @classmethod
    def start(
        cls, file: Path | str, problem: Problem, more: Mapping[str, Any] | None = None
    ) -> "Job":
        """Begin a job in a new file.

        Args:
            file: that must not be there yet.
            problem: what stays the same.
            more: further plain data to keep with it, such as prices.

        Raises:
            JobFileError: the file is there already.
        """
        create(Path(file), {"title": problem.title, **(more or {}), "problem": data_of(problem)})
        return cls(file)

    @property
    def more(self) -> Mapping[str, Any]:
        """Further data that was kept at the start."""
        return self.entries[0].data

    @property
    def standing(self) -> Standing:
        """Where the job stands."""
        if self._standing is None:
            self._standing = _replayed(self.problem, self.entries)
        return self._standing

    def measure(
        self,
        deviation: ArrayLike,
        uncertainty: ArrayLike | None = None,
        given: Sequence[str] | None = None,
        note: str = "",
    ) -> Lesson | None:
        """Enter a measurement of all places.

        Args:
            deviation: (n,) m.
            uncertainty: (n,) m standard deviations or (n, n) m2; None: as the job says.
            given: names of the heats that were really given; None: as planned.
            note: anything to remember.

        Returns:
            What it taught; None for the first measurement.

        Raises:
            OutOfRange: a wrong number of values, or values that are none.
            JobError: heats that the job does not know.
        """
        values = np.asarray(deviation, float)
        count = len(self.problem.places.names)
        if values.shape != (count,):
            raise OutOfRange(f"A measurement of {values.size} values for {count} places.")
        if not np.isfinite(values).all():
            raise OutOfRange("A measurement holds values that are not numbers.")
        data: dict[str, Any] = {
            "deviation_mm": dict(zip(self.problem.places.names, millimetres(values), strict=True))
        }
        if uncertainty is not None:
            error_covariance(np.asarray(uncertainty, float), count)
            scale = MM if np.ndim(uncertainty) == 1 else MM**2
            data["uncertainty_mm"] = (scale * np.asarray(uncertainty, float)).tolist()
        if given is not None:
            data["given"] = list(given)
            _named(self.problem, given, self.standing.cycles)
        if note:
            data["note"] = note
        tried = Entry(number=len(self.entries), kind="measurement", time="", data=data, check="")
        after = _replayed(self.problem, (*self.entries, tried))
        lesson = after.steps[-1].lesson
        if lesson is not None:
            data["learnt"] = _lesson_data(lesson)
        self._add("measurement", data)
        return self.standing.steps[-1].lesson

    def plan(self, effort: Effort = "thorough", seconds: float = 4.0) -> CyclePlan:
        """Plan the next cycle and enter the plan.

        Args:
            effort, seconds: as ``plan_cycle``.

        Raises:
            JobError: nothing was measured yet.
        """
        made = self.preview(effort, seconds)
        self._add("plan", plan_data(made, self.problem))
        return made

    def preview(self, effort: Effort = "quick", seconds: float = 4.0) -> CyclePlan:
        """Plan the next cycle without entering it.

        Args:
            effort, seconds: as ``plan_cycle``.

        Raises:
            JobError: nothing was measured yet.
        """
        standing = self.standing
        if standing.belief is None:
            raise JobError("Nothing was measured yet; enter a measurement first.")
        return plan_cycle(
            standing.belief,
            self.problem.places,
            self.problem.library,
            self.problem.rules,
            heats_given(standing.cycles),
            effort=effort,
            seconds=seconds,
            centre=self.problem.middle,
        )

    def decide(self, what: Decision, because: str = "", measurement: int | None = None) -> None:
        """Overrule what was made of a measurement.

        Args:
            what: "learn" from it although it didn't fit, "leave" the factors as they were, or
                "discard" it as if it had never been taken.
            because: reason, for the record.
            measurement: number of its entry; None: the last one that counts.

        Raises:
            JobError: there is no such measurement, or a first one is not to be discarded.
        """
        steps = {step.number: step for step in self.standing.steps}
        number = max(steps, default=None) if measurement is None else measurement
        if number is None or number not in steps:
            raise JobError(f"There is no measurement {number} to decide about.")
        if steps[number].lesson is None and what != "discard":
            raise JobError("The first measurement teaches nothing; it can only be discarded.")
        data = {"what": what, "measurement": number, "because": because}
        self._add("decision", data)

    def note(self, text: str) -> None:
        """Enter a remark.

        Args:
            text: anything.
        """
        self._add("note", {"text": text})

    def _add(self, kind: str, data: Mapping[str, Any]) -> None:
        entry = append(self.file, kind, data, after=len(self.entries))
        self.entries = (*self.entries, entry)
        self.torn = 0
        self._standing = None


def plan_data(plan: CyclePlan, problem: Problem) -> dict[str, Any]:
    """A plan as plain data with the trade's units.

    Args:
        plan: of a cycle.
        problem: of its job.
    """
    names = problem.places.names
    heats = [
        {
            "order": place + 1,
            "name": heat.name,
            "repeat": heat.repeat,
            "largest_mm": round(MM * float(part[np.argmax(np.abs(part))]), 3),
        }
        for place, (heat, part) in enumerate(zip(plan.heats, plan.contributions, strict=True))
    ]
    return {
        "heats": heats,
        "expected_mm": dict(zip(names, np.round(MM * plan.after.shape, 3).tolist(), strict=True)),
        "band_mm": dict(zip(names, np.round(MM * plan.band, 3).tolist(), strict=True)),
        "within": round(plan.within, 4),
        "within_now": round(plan.within_now, 4),
        "overcorrected": round(plan.overcorrected, 5),
        "done": plan.done,
        "measure_again": plan.measure_again,
        "reachable": plan.outlook.reachable,
        "why": [*plan.why, *([plan.outlook.why] if plan.outlook.why else [])],
    }


def _lesson_data(lesson: Lesson) -> dict[str, Any]:
    belief = lesson.belief
    return {
        "fits": lesson.fits,
        "learnt": lesson.learnt,
        "likelihood": float(f"{lesson.likelihood:.4g}"),
        "why": list(lesson.why),
        "factors": {
            kind.name: [round(float(mean), 4), round(float(unsure), 4)]
            for kind, mean, unsure in zip(
                belief.kinds, belief.factors, belief.factor_deviation, strict=True
            )
        },
    }


def _named(
    problem: Problem, names: Sequence[str], cycles: Sequence[Sequence[Heat]]
) -> tuple[Heat, ...]:
    """Heats by name, with the repeats that the cycles before leave them."""
    known = {one.name: index for index, one in enumerate(problem.library.candidates)}
    missing = [name for name in names if name not in known]
    if missing:
        raise JobError(f"The job knows no heat {missing[0]!r}; see the plan for the names.")
    had = heats_given(cycles)
    made = []
    for name in names:
        one = problem.library.candidates[known[name]]
        turn = had.get(one.place, 0)
        made.append(heat_from(one, problem.library.kind(one.kind).repeat(turn)))
        had[one.place] = turn + 1
    return tuple(made)


def _replayed(problem: Problem, entries: Sequence[Entry]) -> Standing:
    """Go through the entries from the first to the last."""
    said: dict[int, Decision] = {
        entry.data["measurement"]: entry.data["what"]
        for entry in entries
        if entry.kind == "decision"
    }
    standing = Standing(belief=None, steps=(), planned=None, cycles=())
    for entry in entries:
        if entry.kind == "plan":
            names = [row["name"] for row in entry.data["heats"]]
            heats = _named(problem, names, standing.cycles)
            standing = replace(standing, planned=heats)
        elif entry.kind == "measurement" and said.get(entry.number) != "discard":
            standing = _measured(problem, standing, entry, said.get(entry.number))
    return standing


def _measured(
    problem: Problem, standing: Standing, entry: Entry, said: Decision | None
) -> Standing:
    """Where the job stands after a measurement."""
    count = len(problem.places.names)
    measured = np.array([entry.data["deviation_mm"][name] for name in problem.places.names]) / MM
    covariance = _errors(problem, entry, count)
    if standing.belief is None:
        belief = first_belief(problem.library.kinds, measured, covariance, problem.common)
        step = Step(number=entry.number, heats=(), measured=measured, lesson=None)
        return replace(standing, belief=belief, steps=(*standing.steps, step))
    heats = standing.planned or ()
    if "given" in entry.data:
        heats = _named(problem, entry.data["given"], standing.cycles)
    choice: Choice = said if said in ("learn", "leave") else "as it fits"
    lesson = learn(standing.belief, heats, measured, covariance, problem.places, choice)
    step = Step(number=entry.number, heats=heats, measured=measured, lesson=lesson)
    return Standing(
        belief=lesson.belief,
        steps=(*standing.steps, step),
        planned=None,
        cycles=(*standing.cycles, heats) if heats else standing.cycles,
    )


def _errors(problem: Problem, entry: Entry, count: int) -> Array:
    told = entry.data.get("uncertainty_mm")
    if told is None:
        return error_covariance(problem.uncertainty, count)
    values = np.array(told, float)
    return error_covariance(values / (MM if values.ndim == 1 else MM**2), count)
