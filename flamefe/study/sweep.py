"""A study run: as many runs at a time as there are cores or workers, none of them twice."""

import time
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from flamefe.study.compare import Row
from flamefe.study.progress import Progress, Silent
from flamefe.study.run_cache import RunCache
from flamefe.study.run_record import RunRecord, engine_mark, run_key
from flamefe.study.sweep_accuracy import MeshError, Repeat, how_much_finer, mesh_errors
from flamefe.study.sweep_cluster import done_on_cluster
from flamefe.study.sweep_pool import done_locally
from flamefe.study.sweep_study import PlannedRun, Study
from flamefe.study.sweep_work import Job, Runner, cost_of_case, work

RUNS = "runs"
"""Folder within a study's folder in which finished runs are kept."""


@dataclass(frozen=True, kw_only=True)
class SweepRun:
    """One run of a finished study.

    Args:
        number: from 1, in the order of the design.
        shares: see `DesignPoint`.
        row: what changed and what came out, or why nothing did.
        inputs: rule inputs in trade units, by column.
        figures: numbers about the run itself.
        key: name of the run's file; empty where the values made no case.
        there_before: whether it was finished before this sweep began.
    """

    number: int
    shares: tuple[float, ...]
    row: Row
    inputs: Mapping[str, float | str]
    figures: Mapping[str, float]
    key: str = ""
    there_before: bool = False


@dataclass(frozen=True, kw_only=True)
class Sweep:
    """A study with all that came out of it.

    Args:
        study: what was asked.
        runs: in the order of the design.
        repeats: a few of them again on a finer mesh.
        errors: estimated error of each quantity by mesh and steps; none without repeats.
        made: runs and repeats that were made now; the others were there before.
        wall_s: time that it took.
        mark: version of the library.

    Example:
        >>> sorted(Sweep.__dataclass_fields__)
        ['errors', 'made', 'mark', 'repeats', 'runs', 'study', 'wall_s']
    """

    study: Study
    runs: tuple[SweepRun, ...]
    repeats: tuple[Repeat, ...]
    errors: tuple[MeshError, ...]
    made: int
    wall_s: float
    mark: str

    @property
    def rows(self) -> tuple[Row, ...]:
        """What each run came to."""
        return tuple(run.row for run in self.runs)

    @property
    def failed(self) -> tuple[SweepRun, ...]:
        """Runs without a result."""
        return tuple(run for run in self.runs if run.row.failed)

    @property
    def cpu_s(self) -> float:
        """Computing time of all runs and repeats, whenever they were made."""
        return sum(row.cpu_s for row in (*self.rows, *(one.fine for one in self.repeats)))


def sweep(
    study: Study,
    *,
    folder: str | Path,
    jobs: int | None = None,
    scheduler: str | None = None,
    progress: Progress | None = None,
    runner: Runner = work,
) -> Sweep:
    """Run a study.

    Finished runs are kept in ``folder / "runs"`` by a digest of case, mesh, files and version.
    What is there already is not run again, so a study that was stopped, or got more runs, goes on
    where it was.

    Args:
        study: what to run; all its cases are checked first.
        folder: where finished runs are kept; is made where it isn't there.
        jobs: processes on this computer; None: as many as cores; 1: in this process.
        scheduler: address of the scheduler of a Dask cluster whose workers do the runs instead.
        progress: is told how far the whole study is.
        runner: does one job; for other processes it must be a function of a module.

    Returns:
        A run for each point of the design; one that fails says why and stops no other.

    Raises:
        StudyError: values of some runs make no case, and they are not to be kept.
        ClusterError: the cluster can't be used.

    Example:
        >>> import tempfile
        >>> from flamefe.study.case import Case, Flame, Mesh, Plate, SpotHeat
        >>> base = Case(title="a spot",
        ...     workpiece=Plate(length_mm=60, width_mm=60, thickness_mm=8, material="S355"),
        ...     mesh=Mesh(size_at_heat_mm=10, size_away_mm=20, layers=1),
        ...     flames={"torch": Flame(power_kW=2, radius_mm=15)},
        ...     heats=[SpotHeat(flame="torch", face="top", at_mm=[30, 30], time_s=4)])
        >>> study = Study(title="Power", case=base, factors={"flames.torch.power_kW": [1.5, 2]})
        >>> done = sweep(study, folder=tempfile.mkdtemp(), jobs=1)
        >>> done.runs[0].row.peak_C < done.runs[1].row.peak_C, done.made
        (True, 2)
    """
    begun = time.monotonic()
    told = progress or Silent()
    planned, repeats = study.planned, study.repeats
    keys = [_key(run, study) for run in planned]
    fine_keys = [_key(run, study) for run in repeats]
    cache = RunCache(Path(folder) / RUNS)
    cache.tidy()
    found: dict[str, RunRecord] = {}
    wanted: dict[str, Job] = {}
    for run, key in zip((*planned, *repeats), (*keys, *fine_keys), strict=True):
        if run.case is None or key in found or key in wanted:
            continue
        kept = cache.get(key)
        if kept is not None:
            found[key] = kept
        else:
            cost = cost_of_case(run.case)
            wanted[key] = Job(key=key, case=run.case, folder=study.folder, cost=cost)
    before = frozenset(found)
    _make(wanted, found, cache, told, jobs, scheduler, runner)
    runs = tuple(
        _run(run, found.get(key), key, key in before)
        for run, key in zip(planned, keys, strict=True)
    )
    pairs = tuple(
        _repeat(runs[run.number - 1], found[key])
        for run, key in zip(repeats, fine_keys, strict=True)
    )
    return Sweep(
        study=study,
        runs=runs,
        repeats=pairs,
        errors=mesh_errors(pairs, [run.row for run in runs]),
        made=len(wanted),
        wall_s=time.monotonic() - begun,
        mark=engine_mark(),
    )


def _key(run: PlannedRun, study: Study) -> str:
    return "" if run.case is None else run_key(run.case, study.folder)


def _make(
    wanted: Mapping[str, Job],
    found: dict[str, RunRecord],
    cache: RunCache,
    told: Progress,
    jobs: int | None,
    scheduler: str | None,
    runner: Runner,
) -> None:
    """Do what isn't there yet, longest first."""
    if not wanted:
        return
    order = sorted(wanted.values(), key=lambda job: -job.cost)
    there = f" ({len(found)} more are there from before)" if found else ""
    told.stage(f"{len(order)} run{'' if len(order) == 1 else 's'}{there}", _cost(order))
    running = (
        done_locally(order, runner, cache, workers=jobs)
        if scheduler is None
        else done_on_cluster(order, runner, cache, address=scheduler)
    )
    done = 0.0
    with closing(running):
        for record in running:
            found[record.key] = record
            done += wanted[record.key].cost
            told.update(done)
    told.finish()


def _cost(jobs: Sequence[Job]) -> float:
    return sum(job.cost for job in jobs)


def _run(run: PlannedRun, record: RunRecord | None, key: str, before: bool) -> SweepRun:
    name = f"run {run.number}"
    if record is None:
        row = Row(name=name, changed=run.changes, failed=run.fault)
        return SweepRun(number=run.number, shares=run.shares, row=row, inputs={}, figures={})
    return SweepRun(
        number=run.number,
        shares=run.shares,
        row=replace(record.row, name=name, changed=run.changes),
        inputs=record.inputs,
        figures=record.figures,
        key=key,
        there_before=before,
    )


def _repeat(run: SweepRun, fine: RunRecord) -> Repeat:
    return Repeat(
        run=run.number,
        finer=how_much_finer(run.figures, fine.figures),
        coarse=run.row,
        fine=fine.row,
    )
