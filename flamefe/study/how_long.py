"""How long a case will compute and how much memory it will take, about, before it is run.

From the numbers of nodes and of steps alone, with constants fitted to the measured runs in
`benchmarks/data/how_long.csv` (`python benchmarks/how_long.py` measures again)::

    heating   = A n steps              seconds, n nodes; three times that where the torch is driven
    straining = B n (n / 3000)^0.2 steps      three times that where stability is watched
    memory    = C + D n (+ E n k with k nodes held one by one by a device on a face)

One thread of one machine; another one may be some times quicker or slower.
"""

from dataclasses import dataclass

import numpy as np

from flamefe.straining.solving import Solving
from flamefe.straining.watch import is_watched
from flamefe.study.case import Case, cool_to_C, path_length_mm
from flamefe.study.case_flames import radius_mm_of
from flamefe.study.case_strokes import AnyHeat, paths_of, speed_of, target_of
from flamefe.study.phases import STEP_BY_RADIUS
from flamefe.workpiece.body import Body

SPREAD = 2.0
"""Factor within which measured runs lie about the estimate of time, on the machine they ran on."""
MEMORY_SPREAD = 1.4
"""The same for memory."""

STANDING_STEPS, COOLING_STEPS, DRIVEN_STEPS = 23.0, 38.0, 70.0
"""Steps of a spot, of a cooling to well above the air, and least ones of a driven stroke."""
COLD_STEPS, NEARLY_COLD_K = 16.0, 30.0
"""Further steps of a cooling that ends within so many K of the air."""
DRIVEN_BY_RADIUS = 8.0
"""Steps of a driven stroke for each flame radius of its way."""
HEATING_S, DRIVEN_FACTOR = 4.5e-6, 3.0
STRAINING_S, STRAINING_POWER, WATCHED_FACTOR = 2.0e-5, 0.2, 3.0
USUAL_NODES = 3000.0
MEMORY_MB, MEMORY_NODE_MB, MEMORY_PLACE_MB = 160.0, 0.065, 2.6e-4


@dataclass(frozen=True, kw_only=True)
class HowLong:
    """About how long a case computes, and how much memory it takes.

    Args:
        nodes: of the mesh; each has one unknown temperature and three unknown displacements.
        steps: of time, about.
        seconds: of computing on one core, about.
        megabytes: of memory, about.
        watched: whether it is watched for stability, which takes long.
    """

    nodes: int
    steps: int
    seconds: float
    megabytes: float
    watched: bool

    @property
    def temperatures(self) -> int:
        """Unknown temperatures in a step of the heat conduction."""
        return self.nodes

    @property
    def displacements(self) -> int:
        """Unknown displacements in a step of the straining, before supports take any away."""
        return 3 * self.nodes

    @property
    def seconds_between(self) -> tuple[float, float]:
        """Between which the time lies on the machine that the constants come from, s."""
        return self.seconds / SPREAD, self.seconds * SPREAD


def steps_of(case: Case) -> float:
    """Steps of time that a case takes, about.

    A flame that moves by the clock takes a step for each sixth of its radius; what a torch that
    is driven takes, and a part that cools, is the mean of measured runs.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> round(steps_of(load_case(example_path("hopper_wall_line"))))   # the run takes 139
        138
    """
    return sum(_burning(case, heat) + _cooling(case, heat) for heat in case.heats) or 1.0


def how_long(case: Case, body: Body) -> HowLong:
    """Estimate time and memory of a run.

    Args:
        case: what will be run.
        body: its mesh.

    Example:
        >>> from pathlib import Path
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> from flamefe.study.parts import body_of, material_of
        >>> case = load_case(example_path("hopper_wall_line"))
        >>> body, _ = body_of(case, material_of(case), Path())
        >>> cost = how_long(case, body)
        >>> cost.displacements, bool(5 < cost.seconds < 40)
        (10488, True)
    """
    nodes = body.points.shape[0]
    steps = steps_of(case)
    driven = sum(_burning(case, heat) for heat in case.heats if _is_driven(heat))
    solve = case.solve
    watched = is_watched(body, Solving(geometry=solve.geometry, stability=solve.stability))
    heating = HEATING_S * nodes * (steps + (DRIVEN_FACTOR - 1.0) * driven)
    straining = STRAINING_S * nodes * (nodes / USUAL_NODES) ** STRAINING_POWER * steps
    places = sum(
        np.unique(body.mesh.facets[:, (body.mesh.boundaries or {})[one.face]]).size
        for one in case.supports
        if one.kind in ("rest", "vacuum plate") and getattr(one, "face", None) is not None
    )
    return HowLong(
        nodes=nodes,
        steps=round(steps),
        seconds=heating + straining * (WATCHED_FACTOR if watched else 1.0),
        megabytes=MEMORY_MB + nodes * (MEMORY_NODE_MB + MEMORY_PLACE_MB * places),
        watched=watched,
    )


def _is_driven(heat: AnyHeat) -> bool:
    """Whether its torch moves by temperature, which takes a trial for each step."""
    return target_of(heat) is not None and path_length_mm(heat) > 0.0


def _burning(case: Case, heat: AnyHeat) -> float:
    radius, way, strokes = radius_mm_of(case.flames[heat.flame]), path_length_mm(heat), 1.0
    speed = speed_of(heat)
    if speed is not None:
        stride = STEP_BY_RADIUS * radius
        if case.solve.heat_step_s is not None:
            stride = case.solve.heat_step_s * speed
        return way / stride
    strokes = float(len(paths_of(heat)))
    if way == 0.0:
        return STANDING_STEPS * strokes
    return max(DRIVEN_STEPS * strokes, DRIVEN_BY_RADIUS * way / radius)


def _cooling(case: Case, heat: AnyHeat) -> float:
    nearly_cold = cool_to_C(case, heat) < case.surroundings.ambient_C + NEARLY_COLD_K
    return COOLING_STEPS + (COLD_STEPS if nearly_cold else 0.0)
