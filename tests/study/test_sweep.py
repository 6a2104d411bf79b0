"""Studies run: side by side, on a cluster, stopped and gone on, with failures as rows."""

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

sys.path.insert(0, str(Path(__file__).parent))

import stand_in_runs
from stand_in_runs import DEADLY, ODD, UNCONVERGED, UNLUCKY

import flamefe.study.sweep_work
from flamefe import cli
from flamefe.basics.errors import NotConverged
from flamefe.reporting.sweep_files import write_study
from flamefe.reporting.sweep_table import TableFormatError, table_csv, writer_for
from flamefe.rules.columns import inputs_of_columns
from flamefe.rules.table_file import read_table
from flamefe.study.case import (
    Case,
    Flame,
    LineHeat,
    Mesh,
    MeshFile,
    OwnWeight,
    Plate,
    Solve,
    SpotHeat,
)
from flamefe.study.run import run
from flamefe.study.run_cache import RunCache
from flamefe.study.run_record import run_key
from flamefe.study.sweep import sweep
from flamefe.study.sweep_cluster import ClusterError
from flamefe.study.sweep_study import Accuracy, Study
from flamefe.study.sweep_work import Job, cost_of_case, packed, work

SPOT = Case(
    title="A spot on a gusset",
    workpiece=Plate(length_mm=60, width_mm=60, thickness_mm=8, material="S355"),
    mesh=Mesh(size_at_heat_mm=10, size_away_mm=20, layers=1),
    flames={"torch": Flame(power_kW=2, radius_mm=15)},
    heats=[SpotHeat(flame="torch", face="top", at_mm=[30, 30], time_s=3)],
    solve=Solve(largest_temperature_step_C=100),
)
SPOT_FILE = """
title = "A spot on a gusset"
workpiece = {kind = "plate", length_mm = 60, width_mm = 60, thickness_mm = 8, material = "S355"}
mesh = {size_at_heat_mm = 10, size_away_mm = 20, layers = 1}
flames = {torch = {power_kW = 2, radius_mm = 15}}
heats = [{kind = "spot", flame = "torch", face = "top", at_mm = [30, 30], time_s = 3}]
solve = {largest_temperature_step_C = 100}
"""
LINE = replace(
    SPOT, heats=[LineHeat(flame="torch", face="top", path_mm=[[20, 30], [40, 30]], speed_mm_s=5)]
)


def study_of(thicknesses, **more):
    factors = {"workpiece.thickness_mm": list(thicknesses)}
    return Study(title="Thickness", case=SPOT, factors=factors, **more)


def rows_of(done):
    return list(csv.DictReader(io.StringIO(table_csv(done))))


@pytest.fixture(scope="module")
def real(tmp_path_factory):
    """A real study in two processes, with a finer repeat."""
    folder = tmp_path_factory.mktemp("real")
    study = Study(
        title="Power and thickness",
        case=LINE,
        factors={"flames.torch.power_kW": [2.5, 3], "workpiece.thickness_mm": [6, 8]},
        accuracy=Accuracy(repeat=1, finer=1.4),
    )
    return sweep(study, folder=folder, jobs=2), folder


def test_runs_are_what_each_case_gives_alone(real):
    done, _ = real
    result = run(done.study.planned[2].case)
    row = done.runs[2].row
    assert row.changed == {"flames.torch.power_kW": 3, "workpiece.thickness_mm": 6}
    assert row.peak_C == pytest.approx(result.heat.peak.max(), rel=1e-9)
    for measure in result.cycles[0].measures:
        assert row.value(measure.name) == pytest.approx(measure.value, rel=1e-6, abs=1e-9)
    assert (done.made, done.failed) == (5, ())


def test_the_table_can_be_calibrated_on(real, tmp_path):
    done, _ = real
    written = write_study(done, tmp_path, table=tmp_path / "more.csv")
    assert [file.name for file in written] == [
        "table.csv", "table.study.json", "repeats.csv", "more.csv", "more.study.json",
    ]  # fmt: skip
    rows = read_table(tmp_path / "table.csv")
    inputs = inputs_of_columns(rows[3])
    assert inputs.thickness == pytest.approx(0.008)
    assert inputs.heat_per_length == pytest.approx(3000 / 0.005)
    name = "angular change at mid length"
    assert inputs.simulated[name] == pytest.approx(done.runs[3].row.value(name))
    assert float(rows[3]["peak_C"]) == pytest.approx(done.runs[3].row.peak_C, rel=1e-12)


def test_parquet_holds_the_same_as_csv(real, tmp_path):
    pytest.importorskip("pyarrow")
    done, _ = real
    writer_for(Path("x.parquet"))(done, tmp_path / "x.parquet")
    for one, other in zip(read_table(tmp_path / "x.parquet"), rows_of(done), strict=True):
        assert list(one) == list(other)
        for name, cell in one.items():
            if cell is None:
                assert other[name] == ""
            elif isinstance(cell, float):
                assert float(other[name]) == cell
            else:
                assert other[name] == str(cell)


def test_parquet_without_its_package_is_refused_before_anything_runs(monkeypatch):
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(TableFormatError, match=r"flamefe\[parquet\]"):
        writer_for(Path("x.parquet"))
    with pytest.raises(TableFormatError, match=r"\.csv or \.parquet"):
        writer_for(Path("x.xlsx"))


def test_the_finer_repeat_is_finer_and_its_error_is_told(real, tmp_path):
    done, folder = real
    (repeat,) = done.repeats
    assert repeat.finer > 1.2
    error = next(e for e in done.errors if e.quantity == "angular change at mid length")
    coarse, fine = repeat.coarse.value(error.quantity), repeat.fine.value(error.quantity)
    assert coarse != fine
    assert error.rms_share > abs(coarse - fine) / abs(coarse)
    write_study(done, tmp_path)
    document = json.loads((tmp_path / "table.study.json").read_text("utf-8"))
    told = document["simulation_error"][error.quantity]
    assert told["rms_share"] == error.rms_share
    assert len(RunCache(folder / "runs").keys()) == 5


def test_what_is_there_is_not_run_again_and_more_runs_are_added(real):
    done, folder = real
    study = replace(done.study, factors={**done.study.factors, "workpiece.thickness_mm": [6, 8, 9]})
    with_more = sweep(study, folder=folder, jobs=1, runner=stand_in_runs.quick)
    assert [run.there_before for run in with_more.runs] == [True, True, False] * 2
    assert with_more.runs[1].row.measures == done.runs[1].row.measures


def test_the_key_tells_everything_that_matters(tmp_path):
    key = run_key(SPOT)
    assert run_key(replace(SPOT, title="y", about="z")) == key
    assert run_key(replace(SPOT, solve=Solve(tolerance=1e-4))) != key
    assert run_key(replace(SPOT, mesh=replace(SPOT.mesh, layers=2))) != key
    piece = MeshFile(file="part.msh", unit_mm=1.0, material="S355")
    case = Case(title="x", workpiece=piece, loads=[OwnWeight()])
    (tmp_path / "part.msh").write_bytes(b"one")
    first = run_key(case, tmp_path)
    (tmp_path / "part.msh").write_bytes(b"two")
    assert run_key(case, tmp_path) != first
    moved = tmp_path / "moved"
    moved.mkdir()
    (moved / "part.msh").write_bytes(b"one")
    assert run_key(case, moved) == first


def test_failures_are_rows_and_only_lasting_ones_are_kept(tmp_path):
    study = study_of([8, UNCONVERGED, UNLUCKY])
    for made in (3, 1):  # the second time only what failed by chance
        done = sweep(study, folder=tmp_path, jobs=1, runner=stand_in_runs.quick)
        assert done.made == made
        assert [run.row.failed for run in done.runs] == [
            "", "it did not settle", "MemoryError: none left",
        ]  # fmt: skip
    rows = rows_of(done)
    assert rows[1]["failed"] == "it did not settle"
    assert rows[1]["camber [mm]"] == ""
    assert rows[1]["workpiece.thickness_mm"] == "14.0"


def test_named_errors_last_and_others_do_not(monkeypatch):
    for error, lasting in ((NotConverged("stuck"), True), (MemoryError(), False)):

        def failing(case, error=error, **given):
            raise error

        monkeypatch.setattr(flamefe.study.sweep_work, "run", failing)
        record = work(Job(key="a", case=SPOT))
        assert record.lasting == lasting
        assert record.row.failed in ("stuck", "MemoryError: MemoryError")


def test_another_version_is_refused_and_not_kept():
    record = work(Job(key="a", case=SPOT, mark="0.0.0+0"))
    assert "install the same version" in record.row.failed
    assert not record.lasting


def test_values_that_make_no_case_are_rows_where_they_are_kept(tmp_path):
    study = study_of([8, -1], faulty_cases="keep")
    done = sweep(study, folder=tmp_path, jobs=1, runner=stand_in_runs.quick)
    assert done.runs[1].row.failed.startswith("workpiece.thickness_mm: -1")
    assert done.made == 1


def test_equal_cases_are_run_once(tmp_path):
    done = sweep(study_of([8, 8.0]), folder=tmp_path, jobs=1, runner=stand_in_runs.quick)
    assert done.made == 1
    assert done.runs[0].row.measures == done.runs[1].row.measures


def test_a_process_that_dies_takes_no_other_run_with_it(tmp_path):
    study = study_of([5, DEADLY, 6, 7, ODD, 9])
    done = sweep(study, folder=tmp_path, jobs=2, runner=stand_in_runs.quick)
    assert [run.row.value("camber") for run in done.runs] == [5, None, 6, 7, None, 9]
    assert "process died" in done.runs[1].row.failed
    assert done.runs[4].row.failed == "RuntimeError: odd"
    assert len(RunCache(tmp_path / "runs").keys()) == 4


def test_the_longest_runs_come_first_and_progress_counts_work(tmp_path):
    order, told = [], []

    def noting(job):
        order.append(job.case.mesh.layers)
        return stand_in_runs.quick(job)

    class Told:
        def stage(self, name, total):
            told.append((name, total))

        def update(self, done):
            told.append(done)

        def finish(self):
            told.append("end")

    study = Study(title="x", case=SPOT, factors={"mesh.layers": [2, 6, 4]})
    sweep(study, folder=tmp_path, jobs=1, runner=noting, progress=Told())
    assert order == [6, 4, 2]
    costs = [cost_of_case(run.case) for run in study.planned]
    assert told[0] == ("3 runs", pytest.approx(sum(costs)))
    assert told[1:-1] == pytest.approx([costs[1], costs[1] + costs[2], sum(costs)])


def test_a_damaged_file_is_run_again(tmp_path):
    study = study_of([8])
    done = sweep(study, folder=tmp_path, jobs=1, runner=stand_in_runs.quick)
    file = tmp_path / "runs" / f"{done.runs[0].key}.json"
    file.write_text(file.read_text("utf-8")[:-40], encoding="utf-8")
    assert sweep(study, folder=tmp_path, jobs=1, runner=stand_in_runs.quick).made == 1


def test_files_travel_with_a_job(tmp_path):
    meshes = Path(__file__).parents[1] / "workpiece" / "meshes"
    mesh = tmp_path / "part.msh"
    mesh.write_bytes((meshes / "slanted_41.msh").read_bytes())
    case = Case(title="x", workpiece=MeshFile(file=str(mesh), unit_mm=1.0, material="S355"),
                loads=[OwnWeight()])  # fmt: skip
    job = packed(Job(key="a", case=case))
    here = work(Job(key="a", case=case))
    mesh.unlink()
    there = work(job)
    assert here.row.failed == there.row.failed
    assert here.row.measures == there.row.measures
    assert there.case["workpiece"]["file"] == str(mesh)


def test_a_study_that_was_killed_goes_on_and_repeats_nothing(tmp_path, monkeypatch):
    psutil = pytest.importorskip("psutil")
    (tmp_path / "spot.toml").write_text(SPOT_FILE, encoding="utf-8")
    (tmp_path / "study.toml").write_text(
        'title = "Thickness"\ncase = "spot.toml"\n[factors]\n'
        '"workpiece.thickness_mm" = {lowest = 5, highest = 16, steps = 12}\n',
        encoding="utf-8",
    )
    words = [sys.executable, "-m", "flamefe", "sweep", "study.toml", "--jobs", "2"]
    runs = tmp_path / "study-sweep" / "runs"
    with subprocess.Popen(words, cwd=tmp_path, stderr=subprocess.DEVNULL) as process:
        until(lambda: len(list(runs.glob("[0-9a-f]*.json"))) >= 3)
        workers = psutil.Process(process.pid).children(recursive=True)
        os.kill(process.pid, signal.SIGKILL)
    _, alive = psutil.wait_procs(workers, timeout=20)
    assert not alive, "processes went on after the study was killed"
    there = {file: file.stat().st_mtime_ns for file in runs.glob("[0-9a-f]*.json")}
    assert 3 <= len(there) < 12
    monkeypatch.chdir(tmp_path)
    again = CliRunner().invoke(cli.app, ["sweep", "study.toml", "--jobs", "1"])
    assert again.exit_code == 0, again.output
    assert f"none failed; {12 - len(there)} made now" in again.stdout
    assert f"{12 - len(there)} runs ({len(there)} more are there from before)" in again.stderr
    after = {file: file.stat().st_mtime_ns for file in runs.glob("[0-9a-f]*.json")}
    assert len(after) == 12
    assert there.items() <= after.items()
    table = read_table(tmp_path / "study-sweep" / "table.csv")
    assert [float(row["workpiece.thickness_mm"]) for row in table] == list(range(5, 17))
    assert not any(row["failed"] for row in table)


def until(condition, seconds=120.0):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "nothing happened for too long"
        time.sleep(0.02)


def test_the_same_study_runs_on_a_cluster(real, tmp_path, monkeypatch):
    distributed = pytest.importorskip("distributed")
    done, _ = real
    noted = tmp_path / "noted"
    monkeypatch.setenv("FLAMEFE_TEST_RUNS", str(noted))
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(Path(__file__).parent), *sys.path]))
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", protocol="tcp://",
        dashboard_address=None, scheduler_port=0, worker_dashboard_address=None,
    ) as cluster:  # fmt: skip
        address = cluster.scheduler_address
        assert address.startswith("tcp://127.0.0.1:")
        with distributed.Client(address, set_as_default=False) as client:
            client.wait_for_workers(2)
            processes = set(client.run(os.getpid).values())
        assert len(processes) == 2
        assert os.getpid() not in processes
        study = replace(done.study, accuracy=None)
        there = sweep(study, folder=tmp_path, scheduler=address, runner=stand_in_runs.written_down)
        assert len(noted.read_text().splitlines()) == there.made == 4
        again = sweep(study, folder=tmp_path, scheduler=address, runner=stand_in_runs.written_down)
        assert again.made == 0
        lost = sweep(
            study_of([UNLUCKY, ODD, 7]), folder=tmp_path, scheduler=address,
            runner=stand_in_runs.quick,
        )  # fmt: skip
    for one, other in zip(there.runs, done.runs, strict=True):
        assert one.key == other.key
        assert one.inputs == other.inputs
        assert [m.value for m in one.row.measures] == pytest.approx(
            [m.value for m in other.row.measures], rel=1e-6, abs=1e-9
        )
    assert [bool(run.row.failed) for run in lost.runs] == [True, True, False]
    assert lost.runs[1].row.failed == "RuntimeError: odd"


def test_a_cluster_that_does_not_answer_is_told(tmp_path, monkeypatch):
    pytest.importorskip("distributed")
    monkeypatch.setattr("flamefe.study.sweep_cluster.PATIENCE_S", 0.3)
    with pytest.raises(ClusterError, match="No scheduler answers"):
        sweep(study_of([8]), folder=tmp_path, scheduler="tcp://127.0.0.1:9")


def test_a_cluster_without_its_package_is_told(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(ClusterError, match=r"flamefe\[cluster\]"):
        sweep(study_of([8]), folder=tmp_path, scheduler="tcp://127.0.0.1:9")
