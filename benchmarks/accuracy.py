"""How near the engine comes to stored runs of an independent solver: the README's table.

    python benchmarks/accuracy.py

Displacements are compared in their norm over all nodes, after everything is cold; the reference is
CalculiX 2.20 (general-purpose FE solver) on quadratic elements, see `data/README.md`.
`tests/verification` holds each of these to a bound.
"""

from pathlib import Path

import numpy as np
import reference_case
from problem import MM, Problem

DATA = Path(__file__).parent / "data"


def difference(name: str, geometry: str, stored: bool) -> tuple[float, float | None]:
    """Norm of the difference in displacements, and of the mean peak rise with own temperatures."""
    problem = Problem.read(DATA / f"{name}.json")
    theirs = next(
        one
        for one in problem.content["results"]
        if "quadratic" in one["by"] and one["geometry"] == geometry
    )
    file = str(DATA / theirs["temperatures"]) if stored else None
    _, temperatures, moved, *_ = reference_case.run(problem, geometry, file)
    reference = np.array(theirs["U_mm"]) * MM
    gap = float(np.linalg.norm(moved - reference) / np.linalg.norm(reference))
    if stored:
        return gap, None
    start = problem.content["heating"]["initial_C"]
    rise = np.array(theirs["peak_C"]) - start
    return gap, float((temperatures.max(axis=0) - start).mean() / rise.mean() - 1.0)


def main() -> None:
    """Run and print."""
    print("| problem | what is compared | difference |")
    print("|---|---|---|")
    for name, geometry, words in (
        ("R3coarse", "small", "line heat on 12 mm, small geometry"),
        ("R3coarse", "finite", "line heat on 12 mm, finite geometry"),
        ("W1_free", "small", "wedge at once in a free bar"),
    ):
        gap, _ = difference(name, geometry, True)
        print(f"| {words} | displacements along the other's temperatures | {100 * gap:.1f} % |")
    gap, rise = difference("R3coarse", "small", False)
    whole = "line heat on 12 mm, heat and straining together"
    print(f"| {whole} | displacements | {100 * gap:.1f} % |")
    assert rise is not None
    print(f"| {whole} | mean rise to the peak | {100 * rise:+.1f} % |")


if __name__ == "__main__":
    main()
