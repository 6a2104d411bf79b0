"""Jobs done by the workers of a Dask cluster that is already there (extra ``cluster``)."""

import importlib
import logging
import socket
from collections.abc import Generator, Sequence
from typing import Any
from urllib.parse import urlsplit

from flamefe.basics.errors import FlamefeError
from flamefe.study.run_cache import RunCache
from flamefe.study.run_record import RunRecord
from flamefe.study.sweep_work import Job, Runner, lost, packed

PATIENCE_S = 10
"""How long a scheduler may take to answer."""
SCHEMES = ("tcp", "tls", "ws", "wss")
GONE = ("FutureCancelledError", "CancelledError", "CommClosedError", "FuturesCancelledError")
"""Errors, by their names in the package, of a scheduler that is lost."""
LOST = (
    "The scheduler at {address!r} was lost. Finished runs are kept: start it again, and the same "
    "command goes on where it was."
)


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
    answering(address)
    quiet = [logging.getLogger(name) for name in ("distributed", "asyncio", "tornado")]
    levels = [logger.level for logger in quiet]
    for logger in quiet:  # what they tell of a lost scheduler is told here in one line
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield from _done(dask, jobs, runner, cache, address)
    finally:
        for logger, level in zip(quiet, levels, strict=True):
            logger.setLevel(level)


def answering(address: str) -> None:
    """Make sure that something answers at an address, before any work is sent there.

    Args:
        address: "tcp://host:port", or "host:port".

    Raises:
        ClusterError: the address has another form, or nothing answers.

    Example:
        >>> answering("the big one")
        Traceback (most recent call last):
        ...
        flamefe.study.sweep_cluster.ClusterError: 'the big one' is no address of a scheduler; give \
the one that it told when it was started, such as tcp://192.0.2.7:8786.
    """
    parts = urlsplit(address if "://" in address else f"tcp://{address}")
    try:
        host, port = parts.hostname, parts.port
    except ValueError:
        host = port = None
    if not host or port is None or parts.scheme not in SCHEMES or any(c.isspace() for c in address):
        raise ClusterError(
            f"{address!r} is no address of a scheduler; give the one that it told when it was "
            "started, such as tcp://192.0.2.7:8786."
        )
    try:
        socket.create_connection((host, port), timeout=PATIENCE_S).close()
    except OSError as error:
        raise ClusterError(
            f"No scheduler answers at {address!r} ({error}); give the address that the scheduler "
            "told when it was started, such as tcp://192.0.2.7:8786."
        ) from None


def _done(
    dask: Any, jobs: Sequence[Job], runner: Runner, cache: RunCache, address: str
) -> Generator[RunRecord, None, None]:
    try:
        client = dask.Client(address, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise ClusterError(
            f"What answers at {address!r} is no scheduler of this kind ({type(error).__name__}); "
            "give the address that the scheduler told when it was started."
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
                if future.cancelled() or client.status != "running":
                    raise ClusterError(LOST.format(address=address))
                if trouble is None:
                    record: RunRecord = future.result()
                    if record.lasting:
                        cache.put(record)
                    yield record
                else:
                    yield lost(job, f"{type(trouble).__name__}: {trouble}")
                future.release()
        except BaseException as error:
            if type(error).__name__ in GONE:
                raise ClusterError(LOST.format(address=address)) from None
            if client.status == "running":
                client.cancel(list(given))
            raise
