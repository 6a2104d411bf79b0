"""Where a job stands: its entries gone through from the first to the last."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import FlamefeError
from flamefe.planning.belief import Belief, error_covariance, first_belief
from flamefe.planning.candidate import Heat, heat_from, heats_given
from flamefe.planning.jobfile import Entry
from flamefe.planning.learning import Choice, Lesson, learn
from flamefe.planning.problem import MM, Problem

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


@dataclass(frozen=True, kw_only=True)
class Round:
    """A measurement, whether it counts or not, with the heats given just before it.

    Args:
        number: of its entry.
        heats: given since the measurement before it, that one discarded or not.
        discarded: whether it does not count.
        planned: the heats of the plan before it, given or not.
    """

    number: int
    heats: tuple[Heat, ...]
    discarded: bool
    planned: tuple[Heat, ...] = ()


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
        rounds: all measurements, those that were discarded too.
        stale: number of the discarded measurement that the open plan rests on; None: it rests on
            one that counts, or there is no open plan.
    """

    belief: Belief | None
    steps: tuple[Step, ...]
    planned: tuple[Heat, ...] | None
    cycles: tuple[tuple[Heat, ...], ...]
    unmeasured: tuple[tuple[Heat, ...], ...] = ()
    doubts: tuple[str, ...] = ()
    read: Array | None = None
    rounds: tuple[Round, ...] = ()
    stale: int | None = None

    @property
    def given(self) -> tuple[tuple[Heat, ...], ...]:
        """Heats of each cycle that was given, measured or not."""
        return (*self.cycles, *self.unmeasured)


def named_heats(
    problem: Problem, names: Sequence[str], cycles: Sequence[Sequence[Heat]]
) -> tuple[Heat, ...]:
    """Heats by name, with the repeats that the cycles before leave them.

    Args:
        problem: of the job.
        names: of heats of its library.
        cycles: heats given before.

    Raises:
        JobError: a name that the job does not know.
    """
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


def replayed(problem: Problem, entries: Sequence[Entry]) -> Standing:
    """Go through the entries of a job from the first to the last.

    Args:
        problem: of the job.
        entries: of its file.
    """
    said: dict[int, Decision] = {}
    corrected: dict[int, list[str]] = {}
    for entry in entries:
        if entry.kind == "decision":
            said[entry.data["measurement"]] = entry.data["what"]
            if "given" in entry.data:
                corrected[entry.data["measurement"]] = entry.data["given"]
    standing = Standing(belief=None, steps=(), planned=None, cycles=())
    rests_on: int | None = None
    for entry in entries:
        if entry.kind == "plan":
            names = [row["name"] for row in entry.data["heats"]]
            heats = named_heats(problem, names, standing.given)
            rests_on = standing.rounds[-1].number if standing.rounds else None
            standing = replace(standing, planned=heats)
        elif entry.kind == "measurement":
            told = corrected.get(entry.number, entry.data.get("given"))
            heats = standing.planned or ()
            if told is not None:
                heats = named_heats(problem, told, standing.given)
            away = said.get(entry.number) == "discard"
            made = Round(
                number=entry.number,
                heats=heats,
                discarded=away,
                planned=standing.planned or (),
            )
            rounds = (*standing.rounds, made)
            if not away:
                standing = _measured(problem, standing, entry, said.get(entry.number), heats)
            elif heats:
                # what was given stays given, whatever became of its measurement
                standing = replace(standing, unmeasured=(*standing.unmeasured, heats))
            standing = replace(standing, planned=None, rounds=rounds)
    if standing.planned and any(one.discarded for one in standing.rounds if one.number == rests_on):
        standing = replace(standing, stale=rests_on)
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
        choice: Choice = "leave" if entry.data.get("doubts") else "as it fits"
        if said in ("learn", "leave"):
            choice = said
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
