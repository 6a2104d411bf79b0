"""Whether `flamefe check` says rightly how hot a case gets and how long it computes.

    python benchmarks/how_long.py [--coarse | --stored] [--store] [NAME ...]

Every ready case is run as it is and on a coarse mesh, each in a process of its own, one thread;
beside what was measured stands what the check had said, as a ratio of measured to said.
--coarse: the coarse ones alone. --stored: runs nothing, takes `data/how_long.csv`, which --store
writes.
"""

import argparse
import csv
import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import flamefe
from flamefe.study.case import Case
from flamefe.study.examples import example_names, example_path
from flamefe.study.how_long import MEMORY_SPREAD, SPREAD, how_long
from flamefe.study.parts import body_of, material_of
from flamefe.study.quick_peak import quick_peaks

sys.path.insert(0, str(Path(__file__).parent))
from ready_cases import coarse

STORED = Path(__file__).parent / "data" / "how_long.csv"
COLUMNS = ("case", "mesh", "nodes", "steps", "cpu_s", "peak_MB", "peak_C")
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1")


def case_of(name: str, mesh: str) -> Case:
    """A ready case, as it is or coarse."""
    case = flamefe.load_case(example_path(name))
    return coarse(case) if mesh == "coarse" else case


def measure(name: str, mesh: str) -> dict[str, object]:
    """Run a case in this process; its peak memory is that of the process."""
    started = time.process_time()
    result = flamefe.run(case_of(name, mesh), folder=example_path(name).parent)
    return {
        "case": name,
        "mesh": mesh,
        "nodes": int(result.figures["nodes"]),
        "steps": int(result.figures["heat_steps"]),
        "cpu_s": round(time.process_time() - started, 1),
        "peak_MB": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024),
        "peak_C": " ".join(f"{heat.peak_C:.0f}" for heat in result.heats),
    }


def measured_apart(name: str, mesh: str) -> dict[str, str]:
    """The same in a process of its own."""
    done = subprocess.run(
        [sys.executable, __file__, "--one", mesh, name],
        capture_output=True, text=True, check=True, env={**os.environ, **ONE_THREAD},
    )  # fmt: skip
    return {key: str(value) for key, value in json.loads(done.stdout.splitlines()[-1]).items()}


def stored() -> list[dict[str, str]]:
    """Measured runs as they were stored."""
    with STORED.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def ratios(row: dict[str, str]) -> dict[str, float]:
    """Measured by said: nodes, steps, seconds, memory, and the worst of the heats' rises."""
    case = case_of(row["case"], row["mesh"])
    body, _ = body_of(case, material_of(case), example_path(row["case"]).parent)
    said = how_long(case, body)
    rises = [
        ((float(peak) - heat.ambient_C) / (heat.about_C - heat.ambient_C), heat.factor)
        for peak, heat in zip(row["peak_C"].split(), quick_peaks(case), strict=True)
        if heat is not None
    ]
    return {
        "nodes": float(row["nodes"]) / said.nodes,
        "steps": float(row["steps"]) / said.steps,
        "time": float(row["cpu_s"]) / said.seconds,
        "memory": float(row["peak_MB"]) / said.megabytes,
        "rise": max(rises, key=lambda one: abs(one[0] - 1.0))[0],
        "beyond": float(sum(not 1 / most <= ratio <= most for ratio, most in rises)),
    }


def off(found: dict[str, float]) -> list[str]:
    """What lies farther from what was said than it may."""
    allowed = {"nodes": 1.0, "steps": SPREAD, "time": SPREAD, "memory": MEMORY_SPREAD}
    wrong = [key for key, most in allowed.items() if not 1 / most <= found[key] <= most]
    return [*wrong, *(["rise"] if found["beyond"] else [])]


def main() -> None:
    """Measure or read, print, and fail where something is off."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--coarse", action="store_true", help="coarse meshes alone")
    parser.add_argument("--stored", action="store_true", help="run nothing")
    parser.add_argument("--store", action="store_true", help="keep what was measured")
    parser.add_argument("--one", metavar="MESH", help=argparse.SUPPRESS)
    parser.add_argument("names", nargs="*", help="ready cases; none: all")
    asked = parser.parse_args()
    names = asked.names or list(example_names())
    if asked.one:
        print(json.dumps(measure(names[0], asked.one)))
        return
    meshes = ["coarse"] if asked.coarse else ["coarse", "as it is"]
    rows = (
        [row for row in stored() if row["case"] in names and row["mesh"] in meshes]
        if asked.stored
        else [measured_apart(name, mesh) for mesh in meshes for name in names]
    )
    if asked.store:
        # of the cases that were not measured now the stored rows stay
        fresh = {(row["case"], row["mesh"]): row for row in rows}
        kept = {(row["case"], row["mesh"]): row for row in stored()} | fresh
        with STORED.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
            writer.writeheader()
            writer.writerows(kept.values())
    print("| case | mesh | nodes | CPU s | by said | MB | by said | steps by said | rise by said |")
    print("|---|---|---|---|---|---|---|---|---|")
    wrong = []
    for row in rows:
        found = ratios(row)
        wrong += [f"{row['case']} {row['mesh']}: {what}" for what in off(found)]
        print(
            f"| {row['case']} | {row['mesh']} | {row['nodes']} | {row['cpu_s']} | "
            f"{found['time']:.2f} | {row['peak_MB']} | {found['memory']:.2f} | "
            f"{found['steps']:.2f} | {found['rise']:.2f} |"
        )
    if wrong:
        print("OFF: " + "; ".join(wrong))
        sys.exit(1)


if __name__ == "__main__":
    main()
