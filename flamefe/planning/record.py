"""Plans and lessons as a job's file keeps them."""

from typing import Any

import numpy as np

from flamefe.planning.learning import Lesson
from flamefe.planning.plan import CyclePlan
from flamefe.planning.problem import MM, Problem


def plan_data(plan: CyclePlan, problem: Problem) -> dict[str, Any]:
    """A plan as plain data with the trade's units.

    Args:
        plan: of a cycle.
        problem: of its job.
    """
    names = problem.places.names
    heats = [
        {
            "order": place + 1,
            "name": heat.name,
            "repeat": heat.repeat,
            "largest_mm": round(MM * float(part[np.argmax(np.abs(part))]), 3),
        }
        for place, (heat, part) in enumerate(zip(plan.heats, plan.contributions, strict=True))
    ]
    return {
        "heats": heats,
        "expected_mm": dict(zip(names, np.round(MM * plan.after.shape, 3).tolist(), strict=True)),
        "band_mm": dict(zip(names, np.round(MM * plan.band, 3).tolist(), strict=True)),
        "within": round(plan.within, 4),
        "within_now": round(plan.within_now, 4),
        "overcorrected": round(plan.overcorrected, 5),
        "done": plan.done,
        "measure_again": plan.measure_again,
        "reachable": plan.outlook.reachable,
        "why": [*plan.why, *([plan.outlook.why] if plan.outlook.why else [])],
    }


def lesson_data(lesson: Lesson) -> dict[str, Any]:
    """What a measurement taught, as plain data.

    Args:
        lesson: of the measurement.
    """
    belief = lesson.belief
    return {
        "fits": lesson.fits,
        "learnt": lesson.learnt,
        "likelihood": float(f"{lesson.likelihood:.4g}"),
        "why": list(lesson.why),
        "factors": {
            kind.name: [round(float(mean), 4), round(float(unsure), 4)]
            for kind, mean, unsure in zip(
                belief.kinds, belief.factors, belief.factor_deviation, strict=True
            )
        },
    }
