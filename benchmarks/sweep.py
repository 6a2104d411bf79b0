"""Whether a study uses all cores: wall time by computing time a core.

    python benchmarks/sweep.py [--runs 200] [--jobs N] [--coarse] [--strict] [--json OUT.json]

Runs a study of many small runs in an empty folder, so that nothing is there from before. The ratio
is wall time by (CPU time of all processes / cores); starting the processes and writing the table
are part of both. 1 is the best there is; at most 1.15 is claimed. Where others use the machine
too, wall time holds their share: the idle time of the cores, which is told where the system counts
it, is what the study left unused. --coarse makes 24 runs, whose starting weighs more, and only
prints; --strict ends with an error where the claim is missed.
"""

import argparse
import json
import os
import resource
import sys
import tempfile
import time
from pathlib import Path

from flamefe.reporting.sweep_files import write_study
from flamefe.study.study_file import study_from_text
from flamefe.study.sweep import sweep
from flamefe.study.sweep_pool import cores

CLAIM = 1.15
COARSE_RUNS = 24
CASE = """
title = "A spot on a gusset of a conveyor frame"
workpiece = {kind = "plate", length_mm = 80, width_mm = 60, thickness_mm = 8, material = "S355"}
mesh = {size_at_heat_mm = 8, size_away_mm = 16, layers = 2}
flames = {torch = {power_kW = 2, radius_mm = 15}}
heats = [{kind = "spot", flame = "torch", face = "top", at_mm = [40, 30], time_s = 5}]
solve = {largest_temperature_step_C = 60}
"""
STUDY = """
title = "Spots on gussets"
case = "spot.toml"
design = "Latin hypercube"
runs = RUNS
[factors]
"workpiece.thickness_mm" = {lowest = 6, highest = 12}
"flames.torch.power_kW" = {lowest = 1.5, highest = 2.5}
"heats[].time_s" = {lowest = 3, highest = 8}
"""


def cpu_s() -> float:
    """CPU time of this process and of its children that have ended."""
    usage = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in usage)


def idle_s() -> float | None:
    """Idle time of all cores since the machine was started; None where it isn't told."""
    try:
        first = Path("/proc/stat").read_text(encoding="ascii").splitlines()[0].split()
    except OSError:
        return None
    return (float(first[4]) + float(first[5])) / os.sysconf("SC_CLK_TCK")


def measured(runs: int, jobs: int) -> dict[str, float | None]:
    """Make the study and tell what it took."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "spot.toml").write_text(CASE, encoding="utf-8")
        load, idle, cpu, wall = os.getloadavg()[0], idle_s(), cpu_s(), time.monotonic()
        study = study_from_text(STUDY.replace("RUNS", str(runs)), folder=folder)
        done = sweep(study, folder=folder / "out", jobs=jobs)
        write_study(done, folder / "out")
        wall, cpu = time.monotonic() - wall, cpu_s() - cpu
        after = idle_s()
        if done.failed:
            raise RuntimeError(f"{len(done.failed)} runs failed: {done.failed[0].row.failed}")
    left = None if idle is None or after is None else max(after - idle, 0.0)
    machine = os.cpu_count() or jobs
    return {
        "runs": runs,
        "jobs": jobs,
        "wall_s": wall,
        "cpu_s": cpu,
        "cpu_of_runs_s": done.cpu_s,
        "ratio": wall / (cpu / jobs),
        "load_before": load,
        "idle_share": None if left is None else left / (machine * wall),
        "others_cpu_s": None if left is None else max(machine * wall - left - cpu, 0.0),
    }


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--jobs", type=int, default=min(cores(), 2))
    parser.add_argument("--coarse", action="store_true")
    parser.add_argument("--strict", action="store_true")
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    found = measured(COARSE_RUNS if asked.coarse else asked.runs, asked.jobs)
    print(
        f"{found['runs']} runs in {found['jobs']} processes: wall {found['wall_s']:.1f} s, CPU "
        f"{found['cpu_s']:.1f} s, {found['cpu_of_runs_s']:.1f} s of it in the runs"
    )
    print(f"wall by CPU a core: {found['ratio']:.3f} (claimed for 200 runs: at most {CLAIM})")
    print(f"load of the machine before: {found['load_before']:.1f}")
    if found["idle_share"] is not None:
        print(
            f"cores idle {100 * found['idle_share']:.1f} % of the time; "
            f"others used {found['others_cpu_s']:.1f} s of CPU"
        )
    if asked.json is not None:
        asked.json.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    if asked.strict and found["ratio"] > CLAIM:
        sys.exit(f"missed: {found['ratio']:.3f} is above {CLAIM}")


if __name__ == "__main__":
    main()
