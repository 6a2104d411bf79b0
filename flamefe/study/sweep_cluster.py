"""Jobs done by the workers of a Dask cluster that is already there (extra ``cluster``)."""

import importlib
from collections.abc import Generator, Sequence
from typing import Any

from flamefe.basics.errors import FlamefeError
from flamefe.study.run_cache import RunCache
from flamefe.study.run_record import RunRecord
from flamefe.study.sweep_work import Job, Runner, lost, packed

PATIENCE_S = 20
"""How long a scheduler may take to answer."""


class ClusterError(FlamefeError):
    """A cluster can't be used."""


def distributed() -> Any:
    """The package that talks to a cluster.

    Raises:
        ClusterError: it is not installed.
    """
    try:
        return importlib.import_module("distributed")
    except ImportError:
        raise ClusterError(
            "--scheduler needs the package distributed, which is not installed; install it with "
            "pip install 'flamefe[cluster]', or leave --scheduler out."
        ) from None


def done_on_cluster(
    jobs: Sequence[Job], runner: Runner, cache: RunCache, *, address: str
) -> Generator[RunRecord, None, None]:
    """Do jobs on the workers of a cluster; this process keeps the finished runs.

    Files that cases name travel with their jobs. A job whose worker is lost is done by another;
    one that loses several is given up.

    Args:
        jobs: longest first.
        runner: does a job; its module must be importable on the workers.
        cache: where finished runs are kept.
        address: of the scheduler, such as "tcp://192.0.2.7:8786".

    Yields:
        A record a job, as they finish.

    Raises:
        ClusterError: there is no scheduler at the address, or the extra is not installed.
    """
    dask = distributed()
    try:
        client = dask.Client(address, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise ClusterError(
            f"No scheduler answers at {address!r} ({type(error).__name__}: {error}); give the "
            "address that the scheduler told when it was started, such as tcp://192.0.2.7:8786."
        ) from None
    with client:
        given = {
            client.submit(
                runner, packed(job), key=f"flamefe-{job.key}", priority=len(jobs) - i, pure=True
            ): job
            for i, job in enumerate(jobs)
        }
        try:
            for future in dask.as_completed(list(given), loop=client.loop):
                job = given.pop(future)
                trouble = future.exception()
                if trouble is None:
                    record: RunRecord = future.result()
                    if record.lasting:
                        cache.put(record)
                    yield record
                else:
                    yield lost(job, f"{type(trouble).__name__}: {trouble}")
                future.release()
        except BaseException:
            client.cancel(list(given))
            raise
