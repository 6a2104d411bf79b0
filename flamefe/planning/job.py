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
from flamefe.planning.reading import as_deviations, doubts_of, refuse_impossible
from flamefe.planning.record import lesson_data, plan_data

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
        unmeasured: heats of each cycle that was given, whose measurement was discarded.
        doubts: what looked wrong in the last measurement.
        read: (n,) m, its values as they were read; None: as they are counted.
    """

    belief: Belief | None
    steps: tuple[Step, ...]
    planned: tuple[Heat, ...] | None
    cycles: tuple[tuple[Heat, ...], ...]
    unmeasured: tuple[tuple[Heat, ...], ...] = ()
    doubts: tuple[str, ...] = ()
    read: Array | None = None

    @property
    def given(self) -> tuple[tuple[Heat, ...], ...]:
        """Heats of each cycle that was given, measured or not."""
        return (*self.cycles, *self.unmeasured)


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
    def reading(self) -> Mapping[str, Any] | None:
        """How the part is measured, see ``reading_of``; None: values are deviations."""
        if self.problem.reading is not None:
            return self.problem.reading
        told: Mapping[str, Any] | None = self.more.get("reading")
        return told

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
        doubts: Sequence[str] = (),
    ) -> Lesson | None:
        """Enter a measurement of all places.

        Of a ring the best-fitting circle, of a panel the best-fitting plane is fitted out; heights
        of bays are counted by area, as the job's definition says. What looks wrong is kept with
        the measurement (``standing.doubts``) and told again with each plan.

        Args:
            deviation: (n,) m, as measured: offsets, deviations of radii, heights.
            uncertainty: (n,) m standard deviations or (n, n) m2; None: as the job says.
            given: names of the heats that were really given; None: as planned.
            note: anything to remember.
            doubts: what looked wrong when it was read, besides what is found here.

        Returns:
            What it taught; None for the first measurement.

        Raises:
            OutOfRange: a wrong number of values, values that are none, or larger than can be.
            JobError: heats that the job does not know.
        """
        values = np.asarray(deviation, float)
        count = len(self.problem.places.names)
        if values.shape != (count,):
            raise OutOfRange(f"A measurement of {values.size} values for {count} places.")
        if not np.isfinite(values).all():
            raise OutOfRange("A measurement holds values that are not numbers.")
        told = None if uncertainty is None else np.asarray(uncertainty, float)
        spread = error_covariance(self.problem.uncertainty if told is None else told, count)
        refuse_impossible(values, self.reading)
        names = self.problem.places.names
        found = doubts_of(values, np.sqrt(np.diag(spread)), names, self.reading)
        counted, unsure = as_deviations(
            values, told, float(self.problem.uncertainty.min()), self.reading
        )
        data: dict[str, Any] = {"deviation_mm": dict(zip(names, millimetres(counted), strict=True))}
        if not np.array_equal(counted, values):
            data["read_mm"] = dict(zip(names, millimetres(values), strict=True))
        if unsure is not None:
            scale = MM if unsure.ndim == 1 else MM**2
            data["uncertainty_mm"] = (scale * unsure).tolist()
        if given is not None:
            data["given"] = list(given)
            _named(self.problem, given, self.standing.given)
        if note:
            data["note"] = note
        if found or doubts:
            data["doubts"] = list(dict.fromkeys((*doubts, *found)))
        tried = Entry(number=len(self.entries), kind="measurement", time="", data=data, check="")
        after = _replayed(self.problem, (*self.entries, tried))
        lesson = after.steps[-1].lesson
        if lesson is not None:
            data["learnt"] = lesson_data(lesson)
        self._add("measurement", data)
        return self.standing.steps[-1].lesson

    def plan(
        self, effort: Effort = "thorough", seconds: float = 4.0, *, instead: bool = False
    ) -> CyclePlan:
        """Plan the next cycle and enter the plan.

        Args:
            effort, seconds: as ``plan_cycle``.
            instead: whether it may take the place of a plan of which no heat was given.

        Raises:
            JobError: nothing was measured yet, or not since heats were given or planned.
        """
        open_ones = len(self.standing.planned or ())
        if open_ones and not instead:
            raise JobError(
                f"A plan of {open_ones} heats stands that no measurement has followed. Measure "
                "after it, saying which of its heats were skipped; only if none was given, plan "
                "instead of it (--instead)."
            )
        made = self.preview(effort, seconds)
        self._add("plan", plan_data(made, self.problem))
        return made

    def preview(self, effort: Effort = "quick", seconds: float = 4.0) -> CyclePlan:
        """Plan the next cycle without entering it.

        Args:
            effort, seconds: as ``plan_cycle``.

        Raises:
            JobError: nothing was measured yet, or heats were given whose measurement was
                discarded.
        """
        standing = self.standing
        if standing.belief is None:
            raise JobError("Nothing was measured yet; enter a measurement first.")
        if standing.unmeasured:
            raise JobError(
                f"{sum(map(len, standing.unmeasured))} heats were given and the measurement after "
                "them was discarded: measure again before anything is planned."
            )
        return plan_cycle(
            standing.belief,
            self.problem.places,
            self.problem.library,
            self.problem.rules,
            heats_given(standing.given),
            effort=effort,
            seconds=seconds,
            centre=self.problem.middle,
        )

    def decide(
        self,
        what: Decision,
        because: str = "",
        measurement: int | None = None,
        given: Sequence[str] | None = None,
    ) -> None:
        """Overrule what was made of a measurement.

        Args:
            what: "learn" from it although it didn't fit, "leave" the factors as they were, or
                "discard" it as if it had never been taken: the heats before it stay given, and
                wait for another measurement.
            because: reason, for the record.
            measurement: number of its entry; None: the last one that counts.
            given: names of the heats that were really given before it; None: as it stands.

        Raises:
            JobError: there is no such measurement, a first one is not to be discarded, or heats
                that the job does not know.
        """
        if given is not None:
            _named(self.problem, given, ())
        steps = {step.number: step for step in self.standing.steps}
        number = max(steps, default=None) if measurement is None else measurement
        if number is None or number not in steps:
            raise JobError(f"There is no measurement {number} to decide about.")
        if steps[number].lesson is None and what != "discard":
            raise JobError("The first measurement teaches nothing; it can only be discarded.")
        data: dict[str, Any] = {"what": what, "measurement": number, "because": because}
        if given is not None:
            data["given"] = list(given)
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
    said: dict[int, Decision] = {}
    corrected: dict[int, list[str]] = {}
    for entry in entries:
        if entry.kind == "decision":
            said[entry.data["measurement"]] = entry.data["what"]
            if "given" in entry.data:
                corrected[entry.data["measurement"]] = entry.data["given"]
    standing = Standing(belief=None, steps=(), planned=None, cycles=())
    for entry in entries:
        if entry.kind == "plan":
            names = [row["name"] for row in entry.data["heats"]]
            heats = _named(problem, names, standing.given)
            standing = replace(standing, planned=heats)
        elif entry.kind == "measurement":
            told = corrected.get(entry.number, entry.data.get("given"))
            heats = standing.planned or ()
            if told is not None:
                heats = _named(problem, told, standing.given)
            if said.get(entry.number) != "discard":
                standing = _measured(problem, standing, entry, said.get(entry.number), heats)
            elif heats:
                # what was given stays given, whatever became of its measurement
                standing = replace(standing, planned=None, unmeasured=(*standing.unmeasured, heats))
    return standing


def _measured(
    problem: Problem,
    standing: Standing,
    entry: Entry,
    said: Decision | None,
    last: tuple[Heat, ...],
) -> Standing:
    """Where the job stands after a measurement, with the heats of the cycle just before it."""
    count = len(problem.places.names)
    measured = np.array([entry.data["deviation_mm"][name] for name in problem.places.names]) / MM
    covariance = _errors(problem, entry, count)
    since = (*standing.unmeasured, *([last] if last else []))
    heats = tuple(heat for cycle in since for heat in cycle)
    if standing.belief is None:
        belief = first_belief(problem.library.kinds, measured, covariance, problem.common)
        lesson = None
    else:
        choice: Choice = said if said in ("learn", "leave") else "as it fits"
        lesson = learn(standing.belief, heats, measured, covariance, problem.places, choice)
        if not lesson.fits and standing.doubts:
            before = (f"the measurement before was in doubt ({one})" for one in standing.doubts)
            lesson = replace(lesson, why=(*lesson.why, *before))
        belief = lesson.belief
    step = Step(number=entry.number, heats=heats, measured=measured, lesson=lesson)
    return Standing(
        belief=belief,
        steps=(*standing.steps, step),
        planned=None,
        cycles=(*standing.cycles, *since),
        doubts=tuple(entry.data.get("doubts", ())),
        read=None
        if "read_mm" not in entry.data
        else np.array([entry.data["read_mm"][name] for name in problem.places.names]) / MM,
    )


def _errors(problem: Problem, entry: Entry, count: int) -> Array:
    told = entry.data.get("uncertainty_mm")
    if told is None:
        return error_covariance(problem.uncertainty, count)
    values = np.array(told, float)
    return error_covariance(values / (MM if values.ndim == 1 else MM**2), count)
