"""How hot the heats of a case get, about, before anything is solved: quick models of a wide plate.

The part under a heat is taken as a wide plate of its own thickness there, cold before the heat:

- a flame that moves passes over one cross-section, without conduction along its way
  (`flamefe.heating.passing`, the quick source of Rykalin with the material's own tables);
- one that stands is seen in a sector of a round plate (`flamefe.heating.standing`);
- one that is driven by temperature reaches its target, or the shop would not leave it.

The same models choose a torch (`flamefe choose`). Where part of the flame falls beside its face,
all of its power enters what lies on it, so it counts as stronger by as much. Left out are what
edges do besides (a narrow face can't spread heat to its sides), what earlier heats left, webs and
stiffeners behind, and water.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from flamefe.basics.errors import FlamefeError
from flamefe.heating.flame import AbsorbedFlame, Flame, GaussianFlame
from flamefe.heating.passing import WidePlate, passing
from flamefe.heating.standing import standing
from flamefe.study.beam_sections import faces_of_beam, values_of
from flamefe.study.case import AnyHeat, Bar, Case, MeshFile, Plate, mesh_plan
from flamefe.study.case_flames import flame_of, radius_mm_of
from flamefe.study.case_patterns import BandHeat, OvalHeat
from flamefe.study.case_strokes import paths_of, speed_of, target_of
from flamefe.study.parts import MM, material_of
from flamefe.workpiece.faces import FACE_AXES, FACE_SIDES
from flamefe.workpiece.rolled_face import RolledFace
from flamefe.workpiece.through import rows_through

PEAK_FACTOR = 1.25
"""How far the rise of a simulated peak may lie from the estimated one, either way, as a factor."""
DRIVEN_FACTOR = 1.2
"""The same where the torch is driven: nodes beside the reading, and what comes after it."""
WHOLE = 0.9
"""Share of a flame on its face below which its loss over an edge counts."""
EDGE_FACTOR = 1.5
"""How far the rise may lie above the estimated one where less of the flame lies on its face."""
LEAST_SHARE = 0.1
"""Share of a flame on its face below which no peak is told."""

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
        share: of the flame that lies on its face, about, in the middle of its way.
    """

    number: int
    about_C: float
    back_C: float | None
    ambient_C: float
    model: str
    share: float = 1.0

    @property
    def factor(self) -> float:
        """Within which the rise of a simulated peak lies, at least below."""
        return DRIVEN_FACTOR if self.model == "driven" else PEAK_FACTOR

    @property
    def factor_up(self) -> float:
        """The same upwards: more where part of the flame falls beside its face."""
        over_an_edge = self.model != "driven" and self.share < WHOLE
        return EDGE_FACTOR if over_an_edge else self.factor

    @property
    def low_C(self) -> float:
        """Lower end of what a simulation may give, C."""
        return self.ambient_C + (self.about_C - self.ambient_C) / self.factor

    @property
    def high_C(self) -> float:
        """Upper end, C."""
        return self.ambient_C + (self.about_C - self.ambient_C) * self.factor_up


def quick_peaks(case: Case) -> tuple[QuickPeak | None, ...]:
    """How hot each heat of a case gets, about; None for one that can't be told.

    It can't be told of a part from a mesh file, whose thickness is not known, where hardly any of
    the flame lies on its face, nor where the quick model does not hold.

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
        share = share_on_face(case, heat)
        if target is not None:
            driven = QuickPeak(
                number=number,
                about_C=target,
                back_C=None,
                ambient_C=ambient,
                model="driven",
                share=share,
            )
            found.append(driven)
            continue
        thickness = thickness_mm(case, heat)
        speed = speed_of(heat)
        key = (
            heat.flame, thickness, speed, _weave_mm(heat), getattr(heat, "time_s", None),
            heat.both_faces, round(share, 3),
        )  # fmt: skip
        if key not in known:
            told = thickness is not None and share >= LEAST_SHARE
            known[key] = _surface_and_back(case, heat, thickness or 0.0, share) if told else None
        pair = known[key]
        model = "standing" if speed is None else "passing"
        found.append(
            None
            if pair is None
            else QuickPeak(
                number=number,
                about_C=pair[0],
                back_C=pair[1],
                ambient_C=ambient,
                model=model,
                share=share,
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


def _surface_and_back(
    case: Case, heat: AnyHeat, thickness: float, share: float
) -> tuple[float, float] | None:
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
        flame = _stronger(flame_of(case.flames[heat.flame]), share)
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


def share_on_face(case: Case, heat: AnyHeat) -> float:
    """Share of a round flame that lies on its face, about, in the middle of its way.

    The full stated power enters the part also at an edge, so the flame counts as stronger by it.
    1 where it is not known: on a part from a mesh file or a beam's end, and for hot gas.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> case = load_case(example_path("hopper_wall_line"))
        >>> round(share_on_face(case, case.heats[0]), 2)
        1.0
        >>> edge = replace(case.heats[0], face="far", path_mm=[[50, 6], [350, 6]])
        >>> round(share_on_face(case, edge), 2)
        0.36
    """
    flame = case.flames[heat.flame]
    spans = _spans_mm(case, heat)
    if flame.gas_C is not None:
        return 1.0
    radius = radius_mm_of(flame)
    points = [point for path in paths_of(heat) for point in path]
    middle = [0.5 * (min(values) + max(values)) for values in zip(*points, strict=True)]
    share = 1.0
    for place, (low, high) in zip(middle, spans, strict=False):
        share *= 0.5 * (math.erf((place - low) / radius) + math.erf((high - place) / radius))
    return share


def _spans_mm(case: Case, heat: AnyHeat) -> list[tuple[float, float]]:
    """From where to where a heat's face reaches in its two coordinates, mm; none if not known."""
    piece = case.workpiece
    if isinstance(piece, MeshFile):
        return []
    if isinstance(piece, Plate | Bar):
        return [(0.0, float(piece.size_mm[axis])) for axis in FACE_AXES[heat.face]]
    faces = faces_of_beam(values_of(piece))
    face = None if faces is None else faces.maps.get(heat.face)
    if not isinstance(face, RolledFace):
        return []
    long = (face.ends[0] / MM, face.ends[1] / MM)
    if face.period is not None:
        return [long]
    last = float(face.starts[-1] + np.linalg.norm(face.pieces[-1, 1] - face.pieces[-1, 0]))
    return [long, (float(face.starts[0]) / MM, last / MM)]


def _stronger(flame: Flame, share: float) -> Flame:
    """A flame of which only a share falls on the part, with all of its power in that share."""
    if isinstance(flame, GaussianFlame | AbsorbedFlame):
        return replace(flame, power=flame.power / share)
    return flame
