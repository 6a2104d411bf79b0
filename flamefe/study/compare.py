"""Variants of a case run side by side, each kept as a row: what came out, or why nothing did."""

import os
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from flamefe.outcome.measure import Measure
from flamefe.study.case import Case
from flamefe.study.heat_outcomes import cost_of, gas_of
from flamefe.study.result import RunResult
from flamefe.study.run import run
from flamefe.study.variation import Variant


@dataclass(frozen=True, kw_only=True)
class Row:
    """What one variant came to.

    Args:
        name: of the variant.
        changed: what differs from the base.
        failed: why there is no result; empty where there is one.
        measures: distortion after the last cycle.
        peak_C, limit_C: highest temperature, and the limit.
        holding_kN: largest force that one support or device had to carry, at one of its places
            where it has several; None where nothing holds.
        overloaded: supports that carry more than they may.
        dented: supports that overstress the part's skin.
        acting: what still acted when it was measured.
        stress_MPa: largest von Mises residual stress.
        burned_s, job_s: burning time; time until the part is cold.
        fuel_L, oxygen_L: gas; None where no nozzle is given.
        cost: of the gas; None where prices are missing.
        cpu_s: computing time.
        warnings: what to doubt.
    """

    name: str
    changed: Mapping[str, Any]
    failed: str = ""
    measures: tuple[Measure, ...] = ()
    peak_C: float | None = None
    limit_C: float | None = None
    holding_kN: float | None = None
    overloaded: tuple[str, ...] = ()
    dented: tuple[str, ...] = ()
    acting: tuple[str, ...] = ()
    stress_MPa: float | None = None
    burned_s: float | None = None
    job_s: float | None = None
    fuel_L: float | None = None
    oxygen_L: float | None = None
    cost: float | None = None
    cpu_s: float = 0.0
    warnings: tuple[str, ...] = ()

    def value(self, name: str) -> float | None:
        """Value of a measure by its name; None where there is none."""
        return next((m.value for m in self.measures if m.name == name), None)

    @property
    def too_hot(self) -> bool:
        """Whether it passed the limit."""
        hot = self.peak_C is not None and self.limit_C is not None
        return hot and self.peak_C > self.limit_C  # type: ignore[operator]


def compare(
    variants: Sequence[Variant],
    *,
    folder: str | Path = ".",
    workers: int | None = None,
    told: Callable[[int, int], None] | None = None,
) -> tuple[Row, ...]:
    """Run variants side by side, in as many processes as there are cores.

    Args:
        variants: to run; one without a case becomes a row with its fault.
        folder: where mesh files named in the cases are looked for.
        workers: processes; None: as many as cores; 1: in this process.
        told: is called with how many are done and how many there are.

    Returns:
        A row a variant, in their order; one that fails says why and stops no other.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> from flamefe.study.variation import varied
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> rows = compare([varied(base, {"workpiece.thickness_mm": 0})], workers=1)
        >>> rows[0].failed.startswith("workpiece.thickness_mm")
        True
    """
    rows: list[Row | None] = [None] * len(variants)
    running = _rows(variants, str(folder), _workers(workers, len(variants)))
    for done, (index, row) in enumerate(running, start=1):
        rows[index] = row
        if told is not None:
            told(done, len(variants))
    return tuple(row for row in rows if row is not None)


def _workers(asked: int | None, count: int) -> int:
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return max(1, min(asked or cores or 1, count))


def _rows(variants: Sequence[Variant], folder: str, workers: int) -> Iterator[tuple[int, Row]]:
    jobs = []
    for index, variant in enumerate(variants):
        if variant.case is None:
            failed = Row(name=variant.name, changed=variant.changed, failed=variant.fault)
            yield index, failed
        else:
            jobs.append((index, variant))
    if workers == 1 or len(jobs) < 2:
        for index, variant in jobs:
            yield index, row_of(variant, folder)
        return
    # a fresh interpreter a worker: no threads or locks are inherited half-way
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        waiting: dict[Future[Row], int] = {}
        try:
            waiting = {pool.submit(row_of, variant, folder): index for index, variant in jobs}
            left = set(waiting)
            while left:
                finished, left = wait(left, return_when=FIRST_COMPLETED)
                for future in finished:
                    yield waiting[future], _kept(future, variants[waiting[future]])
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _kept(future: Future[Row], variant: Variant) -> Row:
    try:
        return future.result()
    except Exception as error:  # a worker that died, for instance of too little memory
        reason = f"{type(error).__name__}: {error}"
        return Row(name=variant.name, changed=variant.changed, failed=reason)


def row_of(variant: Variant, folder: str = ".") -> Row:
    """Run one variant; a failure becomes a row with its reason.

    Args:
        variant: with a case.
        folder: where a mesh file named in it is looked for.
    """
    assert variant.case is not None
    started = time.process_time()
    try:
        result = run(variant.case, folder=folder)
    except Exception as error:
        reason = " ".join(str(error).split()) or type(error).__name__
        return Row(
            name=variant.name,
            changed=variant.changed,
            failed=reason,
            cpu_s=time.process_time() - started,
        )
    return row_from(result, variant.name, variant.changed, time.process_time() - started)


def row_from(result: RunResult, name: str, changed: Mapping[str, Any], cpu_s: float) -> Row:
    """A row from a finished run."""
    last = result.cycles[-1]
    hottest = max(result.cycles, key=lambda cycle: cycle.heat_check.peak_C).heat_check
    told = bool(result.heats) and all(one.gas is not None for one in result.heats)
    gas = gas_of(result.heats) if told else ()
    return Row(
        name=name,
        changed=changed,
        measures=last.measures,
        peak_C=hottest.peak_C,
        limit_C=hottest.limit_C,
        holding_kN=max((one.against_capacity_kN for one in result.devices), default=None),
        overloaded=tuple(one.name for one in result.devices if one.overloaded),
        dented=tuple(
            one.name
            for one in result.devices
            if one.bearing is not None and one.bearing.share > 1.0
        ),
        acting=last.acting.names,
        stress_MPa=last.largest_stress_MPa,
        burned_s=sum(one.burned_s for one in result.heats),
        job_s=float(result.heat.times[-1]),
        fuel_L=1e3 * sum(use.fuel_volume for use in gas) if told else None,
        oxygen_L=1e3 * sum(use.oxygen_volume for use in gas) if told else None,
        cost=cost_of(result.heats),
        cpu_s=cpu_s,
        warnings=result.warnings,
    )


def base_variant(case: Case) -> Variant:
    """The base itself as a variant."""
    return Variant(name="as it is", changed={}, case=case)
