"""Run a problem file through the library's own conduction and equilibrium, and compare.

    python benchmarks/reference_case.py CASE.json [--geometry small|finite]
        [--temperatures FILE.npz] [--out OUT.npz]

With --temperatures the heat part is skipped and straining follows the stored temperatures.
"""

import argparse
import resource
import sys
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

sys.path.insert(0, str(Path(__file__).parent))

from problem import MM, Problem

from flamefe.heating.conduction import Conductor
from flamefe.heating.history import EnergyBalance
from flamefe.heating.surface import Cooling, FacePoints
from flamefe.straining.equilibrium import Solving, strain_along
from flamefe.straining.schedule import targets

Array = NDArray[np.float64]


def heat(problem: Problem) -> tuple[Array, Array, EnergyBalance]:
    """Own temperatures: times (nt,) s, temperatures (nt, n) C, and the energy balance."""
    given = problem.content["heating"]
    mesh = problem.mesh
    cooling = []
    facets = problem.film_facets
    if facets.size:
        cooling.append(
            Cooling(
                face=FacePoints.of(mesh, facets),
                film=float(given["film_W_m2K"]),
                emissivity=float(given.get("emissivity", 0.0)),
                ambient=float(given["ambient_C"]),
            )
        )
    conductor = Conductor(problem.body, cooling)
    now = np.full(mesh.p.shape[1], float(given["initial_C"]))
    times = np.array(given["times_s"], dtype=float)
    result = [now]
    trend: Array | None = None
    supplied = stored = lost = 0.0
    for start, end in pairwise(times):
        span = float(end - start)
        power, held, held_at = np.zeros(now.size), None, None
        if given.get("nodal_power"):
            power = _power(given["nodal_power"], float(end), now.size)
        if given.get("prescribed") and end <= given["prescribed"]["times_s"][-1] * (1.0 + 1e-12):
            held = np.array(given["prescribed"]["nodes"])
            held_at = _prescribed(given["prescribed"], float(end), held.size)
        guess = None if trend is None else now + trend * span
        step = conductor.step(
            now, power=power, duration=span, guess=guess, held=held, held_at=held_at
        )
        trend = (step.temperature - now) / span
        now = step.temperature
        result.append(now)
        supplied += float(power.sum()) * span + step.held
        stored += step.stored
        lost += step.lost
    return times, np.stack(result), EnergyBalance(supplied=supplied, stored=stored, lost=lost)


def _power(given: dict[str, object], time: float, count: int) -> Array:
    times, powers = np.array(given["times_s"]), np.array(given["W"])
    result = np.zeros(count)
    if time <= times[-1] * (1.0 + 1e-12):
        after = int(np.clip(np.searchsorted(times, time), 1, len(times) - 1))
        share = (time - times[after - 1]) / (times[after] - times[after - 1])
        row = (1.0 - share) * powers[after - 1] + share * powers[after]
        np.add.at(result, np.array(given["nodes"]), row)
    return result


def _prescribed(given: dict[str, object], time: float, count: int) -> Array:
    values = np.array(given["C"], dtype=float)
    if values.ndim == 1:
        return np.full(count, np.interp(time, given["times_s"], values))
    return np.array([np.interp(time, given["times_s"], column) for column in values.T])


def strain(problem: Problem, times: Array, temperatures: Array, solving: Solving) -> Array:
    """Displacements (n, 3) m after everything: heating, cooling to 20 C, loads off."""
    last = float(times[-1]) + 1.0
    moments = [(float(t), row, "") for t, row in zip(times, temperatures, strict=True)]
    moments.append((last, np.full(temperatures.shape[1], 20.0), "cold"))
    schedule = targets(
        points=problem.body.points,
        moments=moments,
        supports=[problem.support],
        loads=problem.loads(float(times[0]), last),
    )
    end = None
    for moment in strain_along(problem.body, schedule, solving=solving):
        end = moment.displacement
    assert end is not None
    return end


def compare(problem: Problem, temperatures: Array | None, displacement: Array) -> list[str]:
    """One line for each result in the file."""
    lines = []
    ours = displacement / MM
    for result in problem.content["results"]:
        line = f"{result['by']}, geometry {result['geometry']}:"
        if "U_mm" in result:
            theirs = np.array(result["U_mm"])
            gap = np.linalg.norm(ours - theirs) / np.linalg.norm(theirs)
            line += f" difference in U {100 * gap:.2f} % of its norm;"
        if temperatures is not None and "peak_C" in result:
            peak = np.array(result["peak_C"]) - problem.content["heating"]["initial_C"]
            mine = temperatures.max(axis=0) - problem.content["heating"]["initial_C"]
            line += f" mean peak rise {100 * (mine.mean() / peak.mean() - 1):+.2f} %;"
        if "cpu_s" in result:
            line += f" took {result['cpu_s'][0]:g} + {result['cpu_s'][1]:g} CPU s"
        lines.append(line)
    return lines


def run(
    problem: Problem, geometry: str, stored: str | None = None
) -> tuple[Array, Array, Array, float, float, EnergyBalance | None]:
    """Times, temperatures, displacements (m), CPU seconds of heat and straining, balance."""
    started = time.process_time()
    balance = None
    if stored is None:
        times, temperatures, balance = heat(problem)
    else:
        times, temperatures = problem.stored_temperatures(stored)
    heat_seconds = time.process_time() - started
    started = time.process_time()
    solving = Solving(
        geometry=geometry,
        tolerance=1e-3,
        stress_free_C=float(problem.content["straining"]["reference_C"]),
    )
    displacement = strain(problem, times, temperatures, solving)
    return (
        times, temperatures, displacement, heat_seconds, time.process_time() - started, balance
    )  # fmt: skip


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("case", help="problem file")
    parser.add_argument("--geometry", choices=("small", "finite"), default="small")
    parser.add_argument("--temperatures", help="stored temperatures to strain along")
    parser.add_argument("--out", help="file for T, U and costs (default: CASE-out.npz)")
    asked = parser.parse_args()
    problem = Problem.read(asked.case)
    with threadpool_limits(1):
        times, temperatures, displacement, heat_s, strain_s, balance = run(
            problem, asked.geometry, asked.temperatures
        )
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    out = asked.out or f"{Path(asked.case).stem}-out.npz"
    np.savez_compressed(
        out,
        times_s=times,
        T=temperatures,
        U=displacement / MM,
        cpu_heat_s=heat_s,
        cpu_straining_s=strain_s,
        peak_rss_mb=memory,
    )
    print(f"{problem.content['case']}, geometry {asked.geometry}")
    print(f"  heat {heat_s:.2f} CPU s, straining {strain_s:.2f} CPU s, peak {memory:.0f} MB")
    if balance is not None:
        print(
            f"  energy: supplied {balance.supplied:.0f} J, unaccounted {100 * balance.error:.4f} %"
        )
    own = temperatures if asked.temperatures is None else None
    for line in compare(problem, own, displacement):
        print(f"  {line}")
    print(f"  written: {out}")


if __name__ == "__main__":
    main()
