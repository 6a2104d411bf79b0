"""Every ready case, run on a mesh as coarse as its flame allows.

    python benchmarks/ready_cases.py [NAME ...]

Two run side by side. A case passes that gets hot, closes its energy to 1 %, balances its forces,
yields somewhere and ends every cycle; what it gives is printed beside its cost.
"""

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import flamefe
from flamefe.study.case import Case, Mesh
from flamefe.study.case_flames import radius_mm_of
from flamefe.study.examples import example_names, example_path

TOLERANCE = 3e-3
HOT_C, WORST_ENERGY, LEAST_YIELD = 250.0, 0.01, 1e-4


def coarse(case: Case) -> Case:
    """The case with elements as large as its flames allow, and long steps."""
    fine = 0.65 * min(radius_mm_of(flame) for flame in case.flames.values())
    away = max(4 * fine, max(case.workpiece.size_mm) / 12)
    mesh = Mesh(size_at_heat_mm=fine, size_away_mm=away, layers=min(case.mesh.layers or 2, 2))
    solve = replace(case.solve, largest_temperature_step_C=120, tolerance=TOLERANCE)
    return replace(case, mesh=mesh, solve=solve)


def tried(name: str) -> tuple[str, bool]:
    """A line about one case, and whether it passes."""
    case = coarse(flamefe.load_case(example_path(name)))
    started = time.process_time()
    result = flamefe.run(case, folder=example_path(name).parent)
    seconds = time.process_time() - started
    peak, energy = float(result.heat.peak.max()), result.heat.energy.error
    yielded = max(float(end.equivalent_plastic_strain.max()) for end in result.strain.ends)
    residual = result.strain.effort.worst_residual
    good = (
        peak > HOT_C
        and energy < WORST_ENERGY
        and residual <= TOLERANCE
        and yielded > LEAST_YIELD
        and len(result.cycles) == max(heat.cycle for heat in case.heats)
    )
    return (
        f"{'ok  ' if good else 'WRONG'} {name:22} {seconds:5.0f} CPU s, peak {peak:.0f} C, plastic "
        f"strain {100 * yielded:.2f} %, energy off {100 * energy:.2g} %, forces {residual:.1e}",
        good,
    )


def main() -> None:
    """Run the cases named, or all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", help="ready cases; none: all")
    names = parser.parse_args().names or list(example_names())
    with ProcessPoolExecutor(2) as pool:
        found = list(pool.map(tried, names))
    print("\n".join(line for line, _ in found))
    if not all(good for _, good in found):
        sys.exit(1)


if __name__ == "__main__":
    main()
