"""A cluster that goes away, or never was: one line, and what was finished is kept."""

import os
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import stand_in_runs

from flamefe.study.case import Case, Mesh, OwnWeight, Plate
from flamefe.study.run_cache import RunCache
from flamefe.study.sweep import sweep
from flamefe.study.sweep_cluster import ClusterError
from flamefe.study.sweep_study import Study

CASE = Case(
    title="A plate",
    workpiece=Plate(length_mm=60, width_mm=60, thickness_mm=8, material="S355"),
    mesh=Mesh(size_at_heat_mm=10, size_away_mm=20, layers=1),
    loads=[OwnWeight()],
)
CLUSTER = """
import sys
from distributed import LocalCluster
if __name__ == "__main__":
    with LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, protocol="tcp",
        dashboard_address=None, scheduler_port=0, worker_dashboard_address=None,
    ) as cluster:
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()
"""


def study(count: int) -> Study:
    levels = [5.0 + 0.1 * i for i in range(count)]
    return Study(title="Thickness", case=CASE, factors={"workpiece.thickness_mm": levels})


def test_a_scheduler_that_is_lost_is_told_in_a_line_and_finished_runs_are_kept(tmp_path, capfd):
    pytest.importorskip("distributed")
    script = tmp_path / "cluster.py"
    script.write_text(CLUSTER, "utf-8")
    paths = os.pathsep.join([str(Path(__file__).parent), os.environ.get("PYTHONPATH", "")])
    server = subprocess.Popen(
        [sys.executable, str(script)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": paths},
    )  # fmt: skip
    try:
        assert server.stdout is not None
        address = server.stdout.readline().strip()
        folder = tmp_path / "sweep"

        def kill_when_some_are_done() -> None:
            while len(list((folder / "runs").glob("*.json"))) < 2:
                time.sleep(0.05)
            server.kill()

        killer = threading.Thread(target=kill_when_some_are_done, daemon=True)
        killer.start()
        with pytest.raises(ClusterError, match="Finished runs are kept"):
            sweep(study(40), folder=folder, scheduler=address, runner=stand_in_runs.slow)
        kept = len(RunCache(folder / "runs").keys())
        assert 2 <= kept < 40
        there = sweep(study(kept), folder=folder, jobs=1, runner=stand_in_runs.quick)
        assert sum(run.there_before for run in there.runs) > 0
    finally:
        server.kill()
        server.wait()
    assert "Traceback" not in capfd.readouterr().err


@pytest.mark.parametrize("address", ["foo", "the big one", "tcp://", "http://127.0.0.1:80", ""])
def test_what_is_no_address_is_told_at_once(address, tmp_path):
    pytest.importorskip("distributed")
    with pytest.raises(ClusterError, match="is no address of a scheduler"):
        sweep(study(2), folder=tmp_path, scheduler=address, runner=stand_in_runs.quick)


def test_a_closed_port_is_told_at_once(tmp_path):
    pytest.importorskip("distributed")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with pytest.raises(ClusterError, match="No scheduler answers"):
        sweep(study(2), folder=tmp_path, scheduler=f"127.0.0.1:{port}", runner=stand_in_runs.quick)
