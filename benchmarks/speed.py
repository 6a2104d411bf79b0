"""Cost of the engine beside another solver's on the same problems, as ratios of CPU time.

    python benchmarks/speed.py [--coarse] [--stored] [--strict] [--json OUT.json]

Each problem runs in a process of its own on one thread. The other solver runs the same problem in
the same run where it is installed (a quarter of an hour); elsewhere, or with --stored, the figures
stored with the problem are used and marked as stored. --coarse leaves out the largest problem;
--strict ends with an error where a claim is missed.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

from other_solver import installed, rerun  # noqa: E402
from problem import Problem  # noqa: E402


@dataclass(frozen=True, kw_only=True)
class Race:
    """One problem, and whose result it is compared with.

    Args:
        name: of the problem.
        file: of the problem.
        mesh: "quadratic" or "hex8", the other solver's mesh.
        aim: how many times cheaper this library should be.
    """

    name: str
    file: str
    mesh: str
    aim: float


RACES = (
    Race(name="line heat, coarse", file="R3coarse.json", mesh="quadratic", aim=40.0),
    Race(name="wedge at once", file="W1_free.json", mesh="quadratic", aim=15.0),
    Race(name="line heat, base", file="R3base.json", mesh="hex8", aim=8.0),
)
MOST_MEMORY_MB = 600.0


@dataclass(frozen=True, kw_only=True)
class Figure:
    """What a race cost.

    Args:
        name, other: the race, and what it is compared with.
        cpu_s, wall_s, memory_mb: this library.
        other_cpu_s: the other solver.
        stored: the other solver's figure was stored, not measured now.
        ratio: other by this.
        aim: what the ratio should reach.
        burn_s: how long the flame burns in reality; None where nothing burns.
    """

    name: str
    other: str
    cpu_s: float
    wall_s: float
    memory_mb: float
    other_cpu_s: float
    stored: bool
    ratio: float
    aim: float
    burn_s: float | None


def race(given: Race, *, again: bool) -> Figure:
    """Run one problem and set its cost beside the other solver's."""
    path = HERE / "data" / given.file
    problem = Problem.read(path)
    single = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out.npz"
        started = time.perf_counter()
        subprocess.run(
            [sys.executable, str(HERE / "reference_case.py"), str(path), "--out", str(out)],
            check=True,
            env={**os.environ, **single},
            stdout=subprocess.DEVNULL,
        )
        wall = time.perf_counter() - started
        with np.load(out) as written:
            cpu = float(written["cpu_heat_s"] + written["cpu_straining_s"])
            memory = float(written["peak_rss_mb"])
    stored = next(
        result
        for result in problem.content["results"]
        if given.mesh in result["by"] and result["geometry"] == "small"
    )
    other = rerun(problem, given.mesh) if again else float(sum(stored["cpu_s"]))
    power = problem.content["heating"].get("nodal_power")
    return Figure(
        name=given.name,
        other=stored["by"],
        cpu_s=cpu,
        wall_s=wall,
        memory_mb=memory,
        other_cpu_s=other,
        stored=not again,
        ratio=other / cpu,
        aim=given.aim,
        burn_s=float(power["times_s"][-1]) if power else None,
    )


def lines(figures: list[Figure]) -> list[str]:
    """The table in Markdown."""
    result = [
        "| problem | flamefe CPU s | other solver | its CPU s | times cheaper | peak MB |",
        "|---|---|---|---|---|---|",
    ]
    for figure in figures:
        kept = " (stored)" if figure.stored else ""
        result.append(
            f"| {figure.name} | {figure.cpu_s:.1f} | {figure.other} | "
            f"{figure.other_cpu_s:.0f}{kept} | {figure.ratio:.0f} | {figure.memory_mb:.0f} |"
        )
    return result


def misses(figures: list[Figure]) -> list[str]:
    """Claims that these figures do not bear out."""
    result = []
    for figure in figures:
        if figure.ratio < figure.aim:
            result.append(f"{figure.name}: {figure.ratio:.1f} times cheaper, aim {figure.aim:g}")
        if figure.memory_mb > MOST_MEMORY_MB:
            result.append(f"{figure.name}: {figure.memory_mb:.0f} MB, aim {MOST_MEMORY_MB:g}")
        if figure.burn_s is not None and "coarse" in figure.name and figure.wall_s > figure.burn_s:
            result.append(
                f"{figure.name}: {figure.wall_s:.0f} s, the flame burns {figure.burn_s:.0f} s"
            )
    return result


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--coarse", action="store_true", help="leave out the largest problem")
    parser.add_argument("--stored", action="store_true", help="use the other's stored figures")
    parser.add_argument("--strict", action="store_true", help="a missed claim is an error")
    parser.add_argument("--json", help="write the figures to this file")
    asked = parser.parse_args()
    again = installed() and not asked.stored
    chosen = [r for r in RACES if not (asked.coarse and "base" in r.name)]
    figures = [race(given, again=again) for given in chosen]
    print("\n".join(lines(figures)))
    for figure in figures:
        if figure.burn_s is not None:
            print(
                f"{figure.name}: {figure.wall_s:.0f} s of wall time for a flame that burns "
                f"{figure.burn_s:.0f} s"
            )
    if asked.json:
        Path(asked.json).write_text(json.dumps([asdict(f) for f in figures], indent=2) + "\n")
    missed = misses(figures)
    for miss in missed:
        print(f"MISSED: {miss}")
    raise SystemExit(1 if missed and asked.strict else 0)


if __name__ == "__main__":
    main()
