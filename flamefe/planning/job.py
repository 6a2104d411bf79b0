"""A job from its first measurement to its end, kept in a file that is only ever added to."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.basics.errors import FlamefeError, OutOfRange
from flamefe.outcome.survey_checks import OTHER_UNIT, STANDS_OFF
from flamefe.planning.belief import error_covariance
from flamefe.planning.candidate import heats_given
from flamefe.planning.jobfile import Entry, JobFileError, append, create, read
from flamefe.planning.learning import Lesson
from flamefe.planning.plan import CyclePlan, Effort, plan_cycle
from flamefe.planning.problem import MM, Problem, data_of, millimetres, problem_from
from flamefe.planning.reading import as_deviations, doubts_of, refuse_impossible
from flamefe.planning.record import lesson_data, plan_data
from flamefe.planning.standing import Decision, JobError, Standing, named_heats, replayed

Array = NDArray[np.float64]


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
            self._standing = replayed(self.problem, self.entries)
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
        the measurement (``standing.doubts``) and told again with each plan; nothing is learnt
        from such a measurement unless that is decided (``decide``).

        Args:
            deviation: (n,) m, as measured: offsets, deviations of radii, heights.
            uncertainty: (n,) m standard deviations or (n, n) m2; None: as the job says.
            given: names of the heats that were really given since the last measurement; None: as
                planned.
            note: anything to remember.
            doubts: what looked wrong when it was read, besides what is found here.

        Returns:
            What it taught; None for the first measurement.

        Raises:
            OutOfRange: a wrong number of values, values that are none, or larger than can be.
            JobError: heats that the job does not know; an open plan that rests on a discarded
                measurement, where ``given`` must say what became of it.
        """
        if self.standing.stale is not None and given is None:
            raise JobError(
                f"A plan of {len(self.standing.planned or ())} heats stands that rests on "
                f"measurement {self.standing.stale}, which was discarded. Say which of its heats "
                'were given: skipped "all", numbers, or "none".'
            )
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
            named_heats(self.problem, given, self.standing.given)
        if note:
            data["note"] = note
        # what was doubted when it was read is not doubted twice
        told_of = {one.partition(":")[0] for one in doubts if STANDS_OFF in one}
        unit_doubted = any(OTHER_UNIT in one for one in doubts)
        found = tuple(
            one
            for one in found
            if one.partition(":")[0] not in told_of and not (unit_doubted and OTHER_UNIT in one)
        )
        if found or doubts:
            data["doubts"] = list(dict.fromkeys((*doubts, *found)))
        tried = Entry(number=len(self.entries), kind="measurement", time="", data=data, check="")
        after = replayed(self.problem, (*self.entries, tried))
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
        if self.standing.stale is not None:
            raise JobError(
                f"A plan of {open_ones} heats stands that rests on measurement "
                f"{self.standing.stale}, which was discarded: measure again before anything is "
                "planned, and say which of its heats were given."
            )
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
                wait for another measurement. "learn" and "leave" take a discard back.
            because: reason, for the record.
            measurement: number of its entry; None: the last one.
            given: names of the heats that were really given between it and the measurement
                before it; None: as it stands.

        Raises:
            JobError: there is no such measurement, it is discarded already, a first one is to be
                learnt from, or heats that the job does not know.
        """
        if what not in ("learn", "leave", "discard"):
            raise JobError(f"A decision {what!r}; allowed: learn, leave, discard.")
        if given is not None:
            named_heats(self.problem, given, ())
        rounds = {one.number: one for one in self.standing.rounds}
        number = max(rounds, default=None) if measurement is None else measurement
        if number is None or number not in rounds:
            known = ", ".join(map(str, rounds)) or "none yet"
            raise JobError(f"There is no measurement {number} to decide about; there are: {known}.")
        first = next((step.number for step in self.standing.steps if step.lesson is None), None)
        if what == "discard" and rounds[number].discarded and given is None:
            raise JobError(
                f"Measurement {number} is discarded already; name another by its number."
            )
        if number == first and what != "discard":
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
