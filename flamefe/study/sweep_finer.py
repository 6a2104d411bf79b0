"""The same case on a finer mesh and with shorter steps, to see what the mesh and steps cost."""

import math
from dataclasses import replace

from flamefe.study.case import Case, MeshFile, mesh_plan
from flamefe.study.case_flames import radius_mm_of
from flamefe.study.case_strokes import speed_of, target_of
from flamefe.study.faults import CaseError, Fault
from flamefe.study.phases import LONGEST_DRIVEN_STEP_S, STEP_BY_RADIUS

LEAST_STEP_C = 1.0


def finer_case(case: Case, factor: float) -> Case:
    """The case with elements and steps shorter by a factor in every direction and in time.

    Elements at the heat, away from it and through the thickness; the heat step of moving torches
    and the change of temperature that a step may bring.

    Args:
        case: of a part whose mesh is made from its sizes.
        factor: above 1.

    Raises:
        CaseError: the part comes with its own mesh, or the finer mesh is too large.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> fine = finer_case(base, 2)
        >>> fine.mesh.size_at_heat_mm, fine.solve.heat_step_s, fine.mesh.layers
        (4.5, 0.25, 6)
    """
    plan = mesh_plan(case)
    if plan is None or isinstance(case.workpiece, MeshFile):
        raise CaseError([
            Fault(path=("workpiece",), given="a part with its own mesh",
                  allowed="a part whose mesh follows from [mesh]",
                  advice="Leave the repeats out; a mesh from a file can't be made finer here.")
        ])  # fmt: skip
    step = case.solve.heat_step_s or _usual_step_s(case)
    return replace(
        case,
        mesh=replace(
            case.mesh,
            size_at_heat_mm=plan.size_at_heat_mm / factor,
            size_away_mm=plan.size_away_mm / factor,
            layers=math.ceil(plan.layers * factor - 1e-9),
        ),
        solve=replace(
            case.solve,
            heat_step_s=None if step is None else step / factor,
            largest_temperature_step_C=max(
                case.solve.largest_temperature_step_C / factor, LEAST_STEP_C
            ),
        ),
    )


def _usual_step_s(case: Case) -> float | None:
    """Shortest heat step that is taken where none is given, s; None: steps follow the rise."""
    steps = []
    for heat in case.heats:
        speed = speed_of(heat)
        if target_of(heat) is not None:
            steps.append(LONGEST_DRIVEN_STEP_S)
        elif speed is not None:
            steps.append(STEP_BY_RADIUS * radius_mm_of(case.flames[heat.flame]) / speed)
    return min(steps, default=None)
