"""How hot the heats of a case get, about, before anything is solved: quick models of a wide plate.

The part under a heat is taken as a wide plate of its own thickness there, cold before the heat:

- a flame that moves passes over one cross-section, without conduction along its way
  (`flamefe.heating.passing`, the quick source of Rykalin with the material's own tables);
- one that stands is seen in a sector of a round plate (`flamefe.heating.standing`);
- one that is driven by temperature reaches its target, or the shop would not leave it.

The same models choose a torch (`flamefe choose`). Left out are edges but for the share of the
flame that falls beside the part, what earlier heats left, webs and stiffeners behind, and water.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from flamefe.basics.errors import FlamefeError
from flamefe.heating.flame import AbsorbedFlame, Flame, GaussianFlame
from flamefe.heating.passing import WidePlate, passing
from flamefe.heating.standing import standing
from flamefe.study.case import AnyHeat, Bar, Case, MeshFile, Plate, mesh_plan
from flamefe.study.case_flames import flame_of, radius_mm_of
from flamefe.study.case_patterns import BandHeat, OvalHeat
from flamefe.study.case_strokes import paths_of, speed_of, target_of
from flamefe.study.parts import MM, material_of
from flamefe.workpiece.faces import FACE_AXES, FACE_SIDES
from flamefe.workpiece.through import rows_through

PEAK_FACTOR = 1.25
"""How far the rise of a simulated peak may lie from the estimated one, either way, as a factor."""
DRIVEN_FACTOR = 1.2
"""The same where the torch is driven: nodes beside the reading, and what comes after it."""
LEAST_SHARE = 0.5
"""Least share of a flame that counts as falling on the part beside an edge."""

FORMULAS = {
    "passing": "one cross-section of a wide plate that the flame passes, no conduction along it",
    "standing": "a flame that stands on a wide round plate",
    "driven": "the torch is driven to it",
}


@dataclass(frozen=True, kw_only=True)
class QuickPeak:
    """How hot one heat gets, about.

    Args:
        number: of the heat, from 1.
        about_C: highest temperature of the surface, C.
        back_C: of the face behind, C; None where it is not told.
        ambient_C: of the cold part.
        model: "passing", "standing" or "driven".
    """

    number: int
    about_C: float
    back_C: float | None
    ambient_C: float
    model: str

    @property
    def factor(self) -> float:
        """Within which the rise of a simulated peak lies."""
        return DRIVEN_FACTOR if self.model == "driven" else PEAK_FACTOR

    @property
    def low_C(self) -> float:
        """Lower end of what a simulation may give, C."""
        return self.ambient_C + (self.about_C - self.ambient_C) / self.factor

    @property
    def high_C(self) -> float:
        """Upper end, C."""
        return self.ambient_C + (self.about_C - self.ambient_C) * self.factor


def quick_peaks(case: Case) -> tuple[QuickPeak | None, ...]:
    """How hot each heat of a case gets, about; None for one that can't be told.

    It can't be told of a part from a mesh file, whose thickness is not known, nor where the quick
    model does not hold.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> (peak,) = quick_peaks(load_case(example_path("hopper_wall_line")))
        >>> peak.model, bool(550 < peak.about_C < 700)
        ('passing', True)
    """
    known: dict[tuple[object, ...], tuple[float, float] | None] = {}
    found: list[QuickPeak | None] = []
    ambient = case.surroundings.ambient_C
    for number, heat in enumerate(case.heats, start=1):
        target = target_of(heat)
        if target is not None:
            found.append(
                QuickPeak(
                    number=number, about_C=target, back_C=None, ambient_C=ambient, model="driven"
                )
            )
            continue
        thickness = thickness_mm(case, heat)
        speed = speed_of(heat)
        key = (
            heat.flame, thickness, speed, _weave_mm(heat), getattr(heat, "time_s", None),
            heat.both_faces, round(share_on_part(case, heat), 3),
        )  # fmt: skip
        if key not in known:
            known[key] = None if thickness is None else _surface_and_back(case, heat, thickness)
        pair = known[key]
        model = "standing" if speed is None else "passing"
        found.append(
            None
            if pair is None
            else QuickPeak(
                number=number, about_C=pair[0], back_C=pair[1], ambient_C=ambient, model=model
            )
        )
    return tuple(found)


def thickness_mm(case: Case, heat: AnyHeat) -> float | None:
    """Thickness of the part below a heat's face, mm; None for a part from a mesh file.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> case = load_case(example_path("hopper_wall_line"))
        >>> thickness_mm(case, case.heats[0])
        12.0
    """
    piece = case.workpiece
    if isinstance(piece, MeshFile):
        return None
    if isinstance(piece, Plate | Bar):
        return float(piece.size_mm[FACE_SIDES[heat.face][0]])
    plan = mesh_plan(case)
    if plan is None or plan.beam is None:
        return None
    if heat.face not in plan.beam.section.faces:
        return float(piece.size_mm[0])  # an end of the beam
    rows = rows_through(plan.beam.section, heat.face)
    steps = np.linalg.norm(np.diff(plan.beam.section.points[rows], axis=1), axis=2)
    return round(float(np.median(steps.sum(axis=1))) / MM, 6)


def _surface_and_back(case: Case, heat: AnyHeat, thickness: float) -> tuple[float, float] | None:
    """Highest temperatures of the heated face and of the one behind, C."""
    air = case.surroundings
    try:
        plate = WidePlate(
            material=material_of(case),
            thickness=thickness * MM,
            ambient=air.ambient_C,
            emissivity=air.emissivity,
            both_faces=heat.both_faces,
            **({"film": air.film_W_m2K} if air.air == "given" else {}),
        )
        flame = _stronger(flame_of(case.flames[heat.flame]), share_on_part(case, heat))
        speed = speed_of(heat)
        if speed is not None:
            peaks = passing(flame, plate, speed=speed * MM, weave=_weave_mm(heat) * MM)
            return peaks.at(0.0), peaks.at(plate.thickness)
        time = float(getattr(heat, "time_s", None) or 0.0)
        stand = standing(flame, plate, longest=time, until=math.inf, depth=0.0)
        return stand.at(time, 0.0), stand.at(time, plate.thickness)
    except FlamefeError:
        return None


def _weave_mm(heat: AnyHeat) -> float:
    """Width over which the torch is woven, mm; of an oval in the mean."""
    if isinstance(heat, BandHeat):
        return heat.width_mm if heat.manner == "weave" else 0.0
    return 0.25 * math.pi * heat.width_mm if isinstance(heat, OvalHeat) else 0.0


def share_on_part(case: Case, heat: AnyHeat) -> float:
    """Share of a round flame that falls on the face of a plate or bar, in the middle of its way.

    The full stated power enters the part also at an edge, so the flame counts as stronger by it.
    """
    piece = case.workpiece
    flame = case.flames[heat.flame]
    if not isinstance(piece, Plate | Bar) or flame.gas_C is not None:
        return 1.0
    sides = [piece.size_mm[axis] for axis in FACE_AXES[heat.face]]
    radius = radius_mm_of(flame)
    points = [point for path in paths_of(heat) for point in path]
    middle = [0.5 * (min(values) + max(values)) for values in zip(*points, strict=True)]
    share = 1.0
    for place, side in zip(middle, sides, strict=True):
        share *= 0.5 * (math.erf(place / radius) + math.erf((side - place) / radius))
    return max(share, LEAST_SHARE)


def _stronger(flame: Flame, share: float) -> Flame:
    """A flame of which only a share falls on the part, with all of its power in that share."""
    if isinstance(flame, GaussianFlame | AbsorbedFlame):
        return replace(flame, power=flame.power / share)
    return flame
