"""What the heat of a finished run does to a whole workpiece: its effect, to be carried over."""

from dataclasses import replace
from typing import Literal

import numpy as np

from flamefe.basics.errors import OutOfRange
from flamefe.planning.effect import SCATTER, UNCERTAIN, SheetEffect
from flamefe.planning.local_heats import LocalHeat, member_heat, sheet_heat
from flamefe.study.case import MeshFile, Plate
from flamefe.study.case_strokes import AnyHeat, outline_of, path_of
from flamefe.study.result import RunResult

MM = 1e-3


def member_effect(
    result: RunResult,
    *,
    kind: str,
    uncertain: float = UNCERTAIN,
    scatter: float = SCATTER,
) -> LocalHeat:
    """Effect of a run's heat on a prismatic member of the same section, of any length.

    Cycles after the first must repeat the same heats on the same places: they tell how much a
    second heat still gives.

    Args:
        result: a run on a bar or beam, long enough that its ends don't feel the heat: about once
            the height of the section on both sides.
        kind: what this kind of heat is called.
        uncertain, scatter: as of a `HeatEffect`.

    Returns:
        The effect (rotation_y: towards the top +z, rotation_z: towards large y) and the station
        where it acts.

    Raises:
        OutOfRange: cycles that differ, or no heat.
        MeshError: the part is no prism.

    Example:
        >>> from flamefe.study.case import Bar, Case, Flame, Mesh, SpotHeat, Solve
        >>> from flamefe.study.run import run
        >>> case = Case(title="a spot on a bar",
        ...     workpiece=Bar(length_mm=160, depth_mm=40, thickness_mm=10, material="S355"),
        ...     mesh=Mesh(size_at_heat_mm=10, size_away_mm=20, layers=2),
        ...     flames={"small": Flame(power_kW=3, radius_mm=16)},
        ...     heats=[SpotHeat(flame="small", face="top", at_mm=[80, 20], time_s=10)],
        ...     solve=Solve(geometry="small"))
        >>> heat = member_effect(run(case), kind="spot")
        >>> heat.effect.rotation_y > 0.0, round(heat.middle, 3)
        (True, 0.08)
    """
    heats = _heats_of(result)
    if isinstance(result.case.workpiece, Plate):
        notes: tuple[str, ...] = ("the run's part is a plate; it counts as a member along x",)
    else:
        notes = ()
    heat = member_heat(
        result.mesh,
        [end.plastic_strain for end in result.strain.ends],
        kind=kind,
        source=_source(result, heats),
        uncertain=uncertain,
        scatter=scatter,
    )
    x = result.mesh.p[0]
    room = min(heat.middle - float(x.min()), float(x.max()) - heat.middle)
    size = float(np.ptp(result.mesh.p[1:], axis=1).max())
    if room < 0.5 * heat.effect.extent + size:
        notes += (
            f"the heat lies {1e3 * room:.0f} mm from an end of the run's part, whose section is "
            f"{1e3 * size:.0f} mm high: a free end near by changes what a heat does",
        )
    effect = replace(heat.effect, notes=(*heat.effect.notes, *notes))
    return replace(heat, effect=effect)


def sheet_effect(
    result: RunResult,
    *,
    kind: str,
    uncertain: float = UNCERTAIN,
    scatter: float = SCATTER,
) -> SheetEffect:
    """Effect of a run's heat on a sheet of the same thickness, of any shape.

    The heat's own frame has its origin in the middle of its outline; u runs along the path of the
    first heat (along x for a spot). Cycles after the first must repeat the same heats.

    Args:
        result: a run on a plate, whose edges lie about as far from the heat as what it yields.
        kind: what this kind of heat is called.
        uncertain, scatter: as of a `SheetEffect`.

    Raises:
        OutOfRange: the part is no plate, heats on several or other faces than "top" and
            "bottom", cycles that differ, or a heat that left no plastic strain.

    Example:
        >>> from flamefe.study.case import Case, Flame, Mesh, Plate, SpotHeat, Solve
        >>> from flamefe.study.run import run
        >>> case = Case(title="a spot",
        ...     workpiece=Plate(length_mm=120, width_mm=120, thickness_mm=8, material="S355"),
        ...     mesh=Mesh(size_at_heat_mm=10, size_away_mm=20, layers=2),
        ...     flames={"small": Flame(power_kW=3, radius_mm=16)},
        ...     heats=[SpotHeat(flame="small", face="top", at_mm=[60, 60], time_s=8)],
        ...     solve=Solve(geometry="small"))
        >>> sheet_effect(run(case), kind="spot").area_change < 0.0
        True
    """
    heats = _heats_of(result)
    if not isinstance(result.case.workpiece, Plate) or result.initial_shape is not None:
        raise OutOfRange(
            "The effect on a sheet is read from a run on a flat plate; run the heat on one (kind "
            '"plate", no initial shape), or take its effect on a member.'
        )
    faces = {heat.face for heat in heats}
    if len(faces) != 1 or not faces <= {"top", "bottom"}:
        raise OutOfRange(
            f"Heats on the faces {', '.join(sorted(faces))}; for one effect on a sheet they must "
            "lie on one of its faces, top or bottom."
        )
    face: Literal["top", "bottom"] = "top" if "top" in faces else "bottom"
    points = MM * np.array([point for heat in heats for point in outline_of(heat)])
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    path = np.array(path_of(heats[0]))
    way = path[-1] - path[0]
    if float(np.hypot(*way)) == 0.0:
        way = np.array([1.0, 0.0])
    return sheet_heat(
        result.mesh,
        [end.plastic_strain for end in result.strain.ends],
        middle=(float(middle[0]), float(middle[1])),
        along=(float(way[0]), float(way[1])),
        face=face,
        kind=kind,
        source=_source(result, heats),
        uncertain=uncertain,
        scatter=scatter,
    )


def _heats_of(result: RunResult) -> list[AnyHeat]:
    """Heats of the first cycle; all cycles must have the same."""
    heats = result.case.heats
    cycles = sorted({heat.cycle for heat in heats})
    if not cycles:
        raise OutOfRange("The run has no heat, so there is no effect of one to carry over.")
    rounds = [[heat for heat in heats if heat.cycle == cycle] for cycle in cycles]
    said = [[_what(heat) for heat in one] for one in rounds]
    if any(one != said[0] for one in said[1:]):
        raise OutOfRange(
            "The run's cycles have different heats. To learn what a repeated heat gives, each "
            "cycle must have the same ones; to learn of one heat, run it alone."
        )
    return rounds[0]


def _what(heat: AnyHeat) -> tuple[str, ...]:
    """A heat without its name and cycle."""
    return tuple(
        f"{key}={value}"
        for key, value in sorted(vars(heat).items())
        if key not in ("name", "cycle")
    )


def _source(result: RunResult, heats: list[AnyHeat]) -> str:
    case = result.case
    piece = case.workpiece
    kinds = ", ".join(dict.fromkeys(heat.kind for heat in heats))
    what = "mesh file" if isinstance(piece, MeshFile) else piece.kind
    return f'run "{case.title}": {kinds} on a {what} of {result.material.name}'
