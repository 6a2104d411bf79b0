"""One run of a study as a piece of work that any process can do."""

import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

from flamefe.basics.errors import FlamefeError
from flamefe.rules.columns import input_columns
from flamefe.study.case import Case, mesh_plan
from flamefe.study.compare import Row, row_from
from flamefe.study.how_long import steps_of
from flamefe.study.measuring import rule_inputs
from flamefe.study.run import run
from flamefe.study.run_record import RunRecord, engine_mark, named_files, with_files_in
from flamefe.study.variation import values_of_case


@dataclass(frozen=True, kw_only=True)
class Job:
    """A run to be made.

    Args:
        key: see `run_key`.
        case: what is run.
        folder: where files named in it are looked for.
        cost: guessed work, in any unit; the longest jobs are begun first.
        mark: version that must do it.
        files: content of the files that the case names, by table, for a worker that does not
            see them; none: it reads them where they are.
    """

    key: str
    case: Case
    folder: str = "."
    cost: float = 1.0
    mark: str = field(default_factory=engine_mark)
    files: Mapping[str, tuple[str, bytes]] = field(default_factory=dict)


Runner = Callable[[Job], RunRecord]
"""Something that does a job; for other processes it must be a function of a module."""


def cost_of_case(case: Case) -> float:
    """Guessed work of a run: steps times nodes to the power of 1.25.

    Only ratios count: for the order of jobs and the time left.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> fine = replace(base, mesh=replace(base.mesh, layers=12))
        >>> cost_of_case(fine) > 2 * cost_of_case(base)
        True
    """
    plan = mesh_plan(case)
    nodes = 1000.0 if plan is None else float(plan.nodes)
    return float(steps_of(case) * nodes**1.25)


def work(job: Job) -> RunRecord:
    """Make a run; a failure becomes a record with its reason.

    Args:
        job: what to run.

    Returns:
        The record. Failures by named errors of the library last; others (memory, files) don't.

    Example:
        >>> from flamefe.study.case import Flame, Mesh, Plate, SpotHeat
        >>> case = Case(title="a spot",
        ...     workpiece=Plate(length_mm=60, width_mm=60, thickness_mm=8, material="S355"),
        ...     mesh=Mesh(size_at_heat_mm=10, size_away_mm=20, layers=1),
        ...     flames={"torch": Flame(power_kW=2, radius_mm=15)},
        ...     heats=[SpotHeat(flame="torch", face="top", at_mm=[30, 30], time_s=4)])
        >>> record = work(Job(key="a", case=case))
        >>> record.inputs["thickness_mm"], 300 < record.row.peak_C < 600
        (8.0, True)
    """
    if job.mark != engine_mark():
        words = (
            f"this worker has flamefe {engine_mark()}, the study {job.mark}: install the same "
            "version on all workers"
        )
        return lost(job, words)
    alone = threading.current_thread() is threading.main_thread()
    clock = time.process_time if alone else time.thread_time
    started = clock()
    try:
        with _files_at_hand(job) as case:
            result = run(case, folder=job.folder)
        inputs = rule_inputs(case, result.material, result.heat, result.cycles)
    except Exception as error:
        reason = " ".join(str(error).split()) or type(error).__name__
        return lost(
            job,
            reason if isinstance(error, FlamefeError) else f"{type(error).__name__}: {reason}",
            lasting=isinstance(error, FlamefeError),
            cpu_s=clock() - started,
        )
    return RunRecord(
        key=job.key,
        row=row_from(result, "", {}, clock() - started),
        inputs={} if inputs is None else input_columns(inputs),
        figures=result.figures,
        mark=job.mark,
        case=values_of_case(job.case),
    )


def lost(job: Job, reason: str, *, lasting: bool = False, cpu_s: float = 0.0) -> RunRecord:
    """The record of a job that gave no result.

    Args:
        job: what was run.
        reason: why, in words.
        lasting: whether it would fail the same again.
        cpu_s: computing time until then.
    """
    return RunRecord(
        key=job.key,
        row=Row(name="", changed={}, failed=reason, cpu_s=cpu_s),
        lasting=lasting,
        mark=job.mark,
        case=values_of_case(job.case),
    )


def packed(job: Job) -> Job:
    """The job with the content of its files, for a worker elsewhere.

    Args:
        job: what to run; a file that can't be read is left for the worker to miss.
    """
    files = {
        table: (file.name, file.read_bytes())
        for table, _, file in named_files(job.case, job.folder)
        if file.is_file()
    }
    return replace(job, files=files)


@contextmanager
def _files_at_hand(job: Job) -> Iterator[Case]:
    """The case with its files where this process can read them."""
    if not job.files:
        yield job.case
        return
    with tempfile.TemporaryDirectory() as folder:
        names = {}
        for table, (name, content) in job.files.items():
            place = Path(folder) / table / Path(name).name
            place.parent.mkdir()
            place.write_bytes(content)
            names[table] = str(place)
        yield with_files_in(job.case, names)
