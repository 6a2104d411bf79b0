"""Stand-ins for a run, for tests of what happens round it; importable by other processes."""

import os
import signal
import time
from pathlib import Path

from flamefe.basics.errors import NotConverged
from flamefe.outcome.measure import Measure
from flamefe.study.compare import Row
from flamefe.study.run_record import RunRecord
from flamefe.study.sweep_work import lost, work

DEADLY, UNCONVERGED, UNLUCKY, ODD = 13.0, 14.0, 15.0, 16.0
"""Thicknesses at which a run kills its process, fails for good, fails by chance, or raises."""


def quick(job):
    """A run whose camber is its thickness."""
    thickness = job.case.workpiece.thickness_mm
    if thickness == DEADLY:
        os.kill(os.getpid(), signal.SIGKILL)
    if thickness == UNCONVERGED:
        return lost(job, str(NotConverged("it did not settle")), lasting=True)
    if thickness == UNLUCKY:
        return lost(job, "MemoryError: none left")
    if thickness == ODD:
        raise RuntimeError("odd")
    measure = Measure(name="camber", value=thickness, unit="mm", meaning="+: up")
    return RunRecord(
        key=job.key,
        row=Row(name="", changed={}, measures=(measure,), peak_C=500.0, limit_C=650.0),
        figures={"hexes": 100.0 / job.case.mesh.size_at_heat_mm**3},
        mark=job.mark,
    )


def written_down(job):
    """A real run that leaves its key in a file, one line a run."""
    with Path(os.environ["FLAMEFE_TEST_RUNS"]).open("a") as file:
        file.write(f"{job.key}\n")
    return work(job)


def slow(job):
    """As quick, but half a second long."""
    time.sleep(0.5)
    return quick(job)
