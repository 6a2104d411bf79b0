"""Values of a case that can each be right but can't be right together."""

import math
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from flamefe.study.beam_sections import dimension_faults
from flamefe.study.case_draft import Read
from flamefe.study.case_extent import outside, ranges, reach_of
from flamefe.study.case_flames import radius_in
from flamefe.study.case_materials import heatable, material_faults
from flamefe.study.case_mesh import (
    LARGEST_SIZE_BY_RADIUS,
    MOST_NODES,
    path_in,
    plan_of,
    smallest_radius,
)
from flamefe.study.case_strokes import heat_in, length_of, path_length_mm
from flamefe.study.faults import Fault, Path, choose, shown
from flamefe.study.heat_contradictions import heat_faults
from flamefe.study.holding_contradictions import holding_faults
from flamefe.study.laying import faces_known
from flamefe.study.shape_contradictions import shape_faults

MOST_HEAT_STEPS = 50_000
"""A case with more time steps under flames than this is refused."""

Draft = Mapping[str, Any]


def contradictions(draft: Draft) -> list[Fault]:
    """All contradictions among the values of a case that could be read.

    Args:
        draft: from ``draft_of``.

    Returns:
        One fault a contradiction, without file and line.
    """
    faults: list[Fault] = []
    for check in (
        dimension_faults, material_faults, _nothing_to_do, _flames_known, heat_faults,
        _faces_of_heats, _paths_on_face, _targets, _cycles, _cooling,
        _limit, _heat_steps, _sizes, holding_faults, shape_faults,
    ):  # fmt: skip
        faults += check(draft)
    return faults


def named(index: int, heat: Read) -> str:
    """A heat in words: its number from 1 and its name."""
    name = heat.get("name")
    return f"heat {index + 1}" + (f" ({shown(name)})" if name else "")


def _nothing_to_do(draft: Draft) -> Iterator[Fault]:
    asked = ("heats", "supports", "loads", "inherent_strain")
    if all(draft[name] is not None and not len(draft[name]) for name in asked):
        yield Fault(
            path=("heats",), given="no heat, support, load or inherent strain",
            allowed="at least one", advice="Add a [[heats]] table.",
        )  # fmt: skip


def _flames_known(draft: Draft) -> Iterator[Fault]:
    if draft["flames"] is None:
        return
    for i, heat in enumerate(draft["heats"] or ()):
        if "flame" in heat and heat["flame"] not in draft["flames"]:
            allowed, advice = choose(heat["flame"], draft["flames"])
            yield Fault(
                path=("heats", i, "flame"), given=f"{shown(heat['flame'])}, which is not defined",
                allowed=allowed, advice=f"{advice} Or define it as [flames.NAME].",
            )  # fmt: skip


def _faces_of_heats(draft: Draft) -> Iterator[Fault]:
    faces = faces_known(draft["workpiece"])
    for i, heat in enumerate(draft["heats"] or ()):
        if faces is not None and "face" in heat and heat["face"] not in faces:
            yield unknown_face(("heats", i, "face"), heat["face"], faces)


def unknown_face(path: Path, face: str, faces: Collection[str]) -> Fault:
    """The fault of a face that doesn't exist."""
    allowed, advice = choose(face, faces)
    return Fault(path=path, given=f"no face {shown(face)}", allowed=allowed, advice=advice)


_PLACES: dict[str, Path] = {
    "line": ("path_mm",),
    "held line": ("path_mm",),
    "spot": ("at_mm",),
    "wedge": ("base_mm",),
    "spot field": ("to_mm",),
    "band": ("to_mm",),
    "oval": ("to_mm",),
    "ring": ("ring_mm",),
}
"""Where the place of a heat is given, by its kind."""


def _paths_on_face(draft: Draft) -> Iterator[Fault]:
    for i, heat in enumerate(draft["heats"] or ()):
        face, points = heat.get("face"), path_in(heat)
        reach = reach_of(draft["workpiece"] or {}, face)
        if reach is None or points is None:
            continue
        key = _PLACES[heat["kind"]]
        for number, point in enumerate(points):
            words = outside(point, *reach)
            if not words:
                continue
            where = key + ((number,) if key == ("path_mm",) else ())
            if heat["kind"] == "wedge" and number == 0:
                where = ("apex_mm",)
            yield Fault(
                path=("heats", i, *where),
                given=f"({point[0]:g}, {point[1]:g}), where the flame of {named(i, heat)} leaves "
                f"the face {face} by {words}",
                allowed=ranges(*reach),
                advice="Move the point onto the face, or take another face.",
            )
            if key in (("to_mm",), ("ring_mm",)):
                break


def _targets(draft: Draft) -> Iterator[Fault]:
    """A target that is no heating, and a wedge without depth."""
    ambient = (draft["surroundings"] or {}).get("ambient_C")
    for i, heat in enumerate(draft["heats"] or ()):
        target, cool_to = heat.get("target_C"), heat.get("cool_to_C")
        least = max((v for v in (ambient, cool_to) if v is not None), default=None)
        if target is not None and least is not None and target <= least:
            yield Fault(
                path=("heats", i, "target_C"),
                given=f"{target:g} C, not above what {named(i, heat)} starts or ends at",
                allowed=f"above {least:g} C",
                advice="Give the temperature to hold under the torch.",
            )  # fmt: skip
        if {"apex_mm", "base_mm"} <= set(heat) and math.dist(heat["apex_mm"], heat["base_mm"]) < 1:
            yield Fault(
                path=("heats", i, "base_mm"), given="a wedge that is less than 1 mm deep",
                allowed="1 mm or more from apex to base",
                advice="Move the base away from the apex.",
            )  # fmt: skip


def _cycles(draft: Draft) -> Iterator[Fault]:
    before = 0
    for i, heat in enumerate(draft["heats"] or ()):
        cycle = heat.get("cycle")
        if cycle is None:
            return
        allowed = [1] if before == 0 else [before, before + 1]
        if cycle not in allowed:
            yield Fault(
                path=("heats", i, "cycle"),
                given=f"{cycle}" + (f" after {before}" if before else " for the first heat"),
                allowed=" or ".join(str(n) for n in allowed),
                advice="Put the heats in the order of their cycles, numbered 1, 2, 3 ...",
            )
        before = max(before, cycle)


def _cooling(draft: Draft) -> Iterator[Fault]:
    ambient = (draft["surroundings"] or {}).get("ambient_C")
    limit = _limit_C(draft)
    for i, heat in enumerate(draft["heats"] or ()):
        cool_to = heat.get("cool_to_C")
        if cool_to is None:
            continue
        path = ("heats", i, "cool_to_C")
        if ambient is not None and cool_to <= ambient:
            yield Fault(
                path=path, given=f"{cool_to:g} C, which the part never falls to in air of "
                f"{ambient:g} C", allowed=f"above {ambient:g} C",
                advice="Give at least 5 to 10 K more than ambient, or leave it out.",
            )  # fmt: skip
        elif limit is not None and cool_to > limit:
            yield Fault(
                path=path, given=f"{cool_to:g} C, above the heating limit of {limit:g} C",
                allowed=f"up to {limit:g} C", advice="Let the part cool further.",
            )  # fmt: skip


def _limit_C(draft: Draft) -> float | None:
    """The temperature limit that is known: the case's, else that of an own material."""
    given: float | None = (draft["limits"] or {}).get("temperature_C")
    material = heatable((draft["workpiece"] or {}).get("material"), draft["materials"])
    return given if given is not None else material.heating_limit_C


def _limit(draft: Draft) -> Iterator[Fault]:
    limit = (draft["limits"] or {}).get("temperature_C")
    if limit is None:
        return
    name = (draft["workpiece"] or {}).get("material")
    valid = heatable(name, draft["materials"]).valid_to_C
    if valid is not None and limit > valid:
        yield Fault(
            path=("limits", "temperature_C"),
            given=f"{limit:g} C, above {valid:g} C, where the tables of {shown(name)} end",
            allowed=f"up to {valid:g} C",
            advice="Lower the limit, or define a material whose tables reach further.",
        )
    ambient = (draft["surroundings"] or {}).get("ambient_C")
    if ambient is not None and limit <= ambient:
        yield Fault(
            path=("limits", "temperature_C"), given=f"{limit:g} C, not above ambient",
            allowed=f"above {ambient:g} C", advice="Give the highest temperature that is allowed.",
        )  # fmt: skip


def burn_time_of(heat: Read) -> float | None:
    """How long a heat's flame burns, s; None when a value that it needs can't be read."""
    if heat.get("kind") == "line":
        path, speed = heat.get("path_mm"), heat.get("speed_mm_s")
        return None if path is None or speed is None else length_of(path) / speed
    if heat.get("speed_mm_s") is not None:
        read = heat_in(heat)
        return None if read is None else path_length_mm(read) / heat["speed_mm_s"]
    return heat.get("time_s")


def _heat_steps(draft: Draft) -> Iterator[Fault]:
    solve = draft["solve"]
    if solve is None or "heat_step_s" not in solve:
        return
    step, steps = solve["heat_step_s"], 0.0
    flames = draft["flames"] or {}
    too_short = []
    for i, heat in enumerate(draft["heats"] or ()):
        burn = burn_time_of(heat)
        if burn is None:
            continue
        if step is None:
            radius = radius_in(flames.get(heat.get("flame"), {}))
            if radius is not None and heat.get("speed_mm_s") is not None:
                read = heat_in(heat)
                steps += 0 if read is None else 6 * path_length_mm(read) / radius
            continue
        steps += burn / step
        if step > burn * (1 + 1e-9):
            too_short.append((burn, named(i, heat)))
    if too_short:
        burn, words = min(too_short)
        yield Fault(
            path=("solve", "heat_step_s"),
            given=f"{step:g} s, longer than {words} burns", allowed=f"up to {burn:g} s",
            advice="Shorten the step: a sixth of the flame radius of travel is fine enough.",
        )  # fmt: skip
    if steps > MOST_HEAT_STEPS:
        yield Fault(
            path=("solve", "heat_step_s"),
            given=f"{'nothing' if step is None else f'{step:g} s'}, about {steps:.0f} steps",
            allowed=f"up to {MOST_HEAT_STEPS} steps in all heats",
            advice="Lengthen the step, or divide the job into several cases.",
        )


def _sizes(draft: Draft) -> Iterator[Fault]:
    mesh, radius = draft["mesh"], smallest_radius(draft)
    if mesh is None or (draft["workpiece"] or {}).get("kind") == "mesh file":
        return
    fine, coarse = mesh.get("size_at_heat_mm"), mesh.get("size_away_mm")
    if fine is not None and radius is not None and fine > LARGEST_SIZE_BY_RADIUS * radius + 1e-9:
        most = LARGEST_SIZE_BY_RADIUS * radius
        yield Fault(
            path=("mesh", "size_at_heat_mm"),
            given=f"{fine:g} mm, too coarse to see a flame of radius {radius:g} mm",
            allowed=f"up to {most:.4g} mm, two thirds of the radius",
            advice=f"A third of the radius ({radius / 3:.3g} mm) gives a good answer.",
        )
    least = fine if fine is not None else radius / 3 if radius is not None else None
    if coarse is not None and least is not None and coarse < least:
        yield Fault(
            path=("mesh", "size_away_mm"),
            given=f"{coarse:g} mm, finer than the {least:.3g} mm at the heat",
            allowed=f"{least:.3g} mm or more",
            advice="Elements away from the flame may be larger, not smaller.",
        )
    plan = plan_of(draft)
    if plan is not None and plan.nodes > MOST_NODES:
        place = "size_at_heat_mm" if fine is not None else "layers" if coarse is None else None
        yield Fault(
            path=("mesh", place or "size_away_mm"),
            given=f"elements of {plan.size_at_heat_mm:.3g} mm at the heat and "
            f"{plan.size_away_mm:.3g} mm away in {plan.layers} layers, about "
            f"{plan.nodes:,} nodes".replace(",", " "),
            allowed=f"up to {MOST_NODES} nodes",
            advice="Use larger elements or fewer layers, or cut the part to the heated region.",
        )
