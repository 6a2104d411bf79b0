"""Jobs done by the local cores: one process a core, started once, longest job first."""

import os
import signal
import threading
from collections import deque
from collections.abc import Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from functools import partial
from multiprocessing import get_context
from multiprocessing.connection import Connection

from flamefe.study.run_cache import RunCache
from flamefe.study.run_record import RunRecord
from flamefe.study.sweep_work import Job, Runner, lost

THREADS = (
    "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS", "NUMEXPR_NUM_THREADS", "RAYON_NUM_THREADS",
)  # fmt: skip
"""What tells libraries of linear algebra, when they are loaded, how many threads to take."""
AHEAD = 2
"""Jobs that are given out for each process: the one it does, and the next."""
DIED = "its process died: it was killed, or memory ran out"


def cores() -> int:
    """Number of cores that this process may use.

    Example:
        >>> cores() >= 1
        True
    """
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def done_locally(
    jobs: Sequence[Job], runner: Runner, cache: RunCache, *, workers: int | None = None
) -> Generator[RunRecord, None, None]:
    """Do jobs in processes of this computer; each keeps its own finished runs.

    A process that dies takes no other job with it: those that were given out are done again, one
    at a time, and only the one that kills its process again is lost. Processes end at once when
    this one is killed or the iteration is given up.

    Args:
        jobs: longest first.
        runner: does a job.
        cache: where finished runs are kept before they are handed back.
        workers: processes; None: as many as cores; 1: in this process.

    Yields:
        A record a job, as they finish.
    """
    if workers == 1:
        for job in jobs:
            yield _kept(runner, cache, job)
        return
    count = max(1, min(workers or cores(), len(jobs)))
    waiting = deque(jobs)
    while waiting:
        suspects = yield from _shared_out(waiting, runner, cache, count)
        doubtful: deque[Job] = deque()
        for job in suspects:
            kept = cache.get(job.key)  # it may have been done just before
            if kept is None:
                doubtful.append(job)
            else:
                yield kept
        while doubtful:
            for job in (yield from _shared_out(doubtful, runner, cache, 1, ahead=1)):
                yield lost(job, DIED)


def _shared_out(
    waiting: deque[Job], runner: Runner, cache: RunCache, workers: int, *, ahead: int = AHEAD
) -> Generator[RunRecord, None, list[Job]]:
    """Do jobs side by side; returns those that were under way when a process died."""
    with _pool(workers) as pool:
        given: dict[Future[RunRecord], Job] = {}
        while waiting or given:
            try:
                while waiting and len(given) < ahead * workers:
                    given[pool.submit(partial(_kept, runner, cache), waiting[0])] = waiting[0]
                    waiting.popleft()
            except BrokenProcessPool:
                break
            finished, _ = wait(given, return_when=FIRST_COMPLETED)
            for future in finished:
                error = future.exception()
                if isinstance(error, BrokenProcessPool):
                    continue
                job = given.pop(future)
                if error is None:
                    yield future.result()
                else:
                    yield lost(job, f"{type(error).__name__}: {error}")
            if any(future in given for future in finished):
                break
        return list(given.values())


def _kept(runner: Runner, cache: RunCache, job: Job) -> RunRecord:
    """Do a job and keep what came out, unless it may come out otherwise the next time."""
    record = runner(job)
    if record.lasting:
        cache.put(record)
    return record


@contextmanager
def _pool(workers: int) -> Iterator[ProcessPoolExecutor]:
    """Processes with one thread each, which end with this one."""
    context = get_context("spawn")
    reader, writer = context.Pipe(duplex=False)
    pool = ProcessPoolExecutor(workers, mp_context=context, initializer=_begin, initargs=(reader,))
    try:
        with _one_thread_each():
            yield pool
        pool.shutdown()
    except BaseException:
        writer.close()  # what is running ends now
        pool.shutdown(cancel_futures=True)
        raise
    finally:
        writer.close()
        reader.close()


@contextmanager
def _one_thread_each() -> Iterator[None]:
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _begin(lifeline: Connection) -> None:
    """What a process does first: leave Ctrl-C to its parent, and end when the parent does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(lifeline,), daemon=True).start()


def _end_with(lifeline: Connection) -> None:
    """End this process when the other end of the line is closed, however that came about."""
    with suppress(OSError, EOFError):
        lifeline.poll(None)
    os._exit(1)
