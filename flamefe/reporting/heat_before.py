"""What to look at before the torch is lit: which side is too long, how the part lies."""

from collections.abc import Sequence

import numpy as np

from flamefe.reporting.marks import MeshedCase
from flamefe.reporting.words import one_line
from flamefe.study.case import AnyHeat, SineShape, WedgeHeat
from flamefe.study.face_maps import face_map_of

DOWN = -0.7
"""Upright part of the direction in which a face looks, below which it looks down."""
MOST_FACES = 3
SHORT = (
    "The heated side (of a wedge its base) must be the one that is too long, bulged out. If it is "
    "the hollow one: STOP."
)
"""The same in a sentence, where room is short."""


def before_lighting(part: MeshedCase, heats: Sequence[AnyHeat]) -> tuple[str, ...]:
    """What a foreman checks on the cold part (common practice, no source).

    A heat shortens the side on which it burns; a wedge that goes through shortens most at its
    base.

    Args:
        part: a case and its mesh.
        heats: of the cycle.

    Example:
        >>> from skfem import MeshHex
        >>> from flamefe.reporting.heat_sheet import Meshed
        >>> from flamefe.study.case import Case, Flame, Plate, SpotHeat
        >>> spot = SpotHeat(flame="t", face="top", at_mm=[60, 50], time_s=9)
        >>> case = Case(title="a spot", flames={"t": Flame(power_kW=3, radius_mm=15)},
        ...     workpiece=Plate(length_mm=120, width_mm=100, thickness_mm=6, material="S355"),
        ...     heats=[spot])
        >>> before_lighting(Meshed(case=case, mesh=MeshHex()), case.heats)[0][:48]
        'String or straight edge on the cold part: where '
    """
    case = part.case
    said = []
    alone = [one for one in heats if not one.both_faces]
    webs = [one.face for one in alone if one.face.startswith("web ")]
    faces = list(dict.fromkeys(one.face for one in alone if one.face not in webs))
    if webs:
        said.append(
            "A heat on one side of a web folds it towards the torch: of an upper flange the edge "
            "on the torch's side comes down, of a lower one it goes up. Level across the flange: "
            "is it tilted the other way before? If not: STOP."
        )
    if faces:
        named = ", ".join(f'"{one_line(name, 32)}"' for name in faces[:MOST_FACES])
        said.append(
            f"String or straight edge on the cold part: where {named} is heated it must be too "
            "long (bulged out); heat shortens the side it burns on. If it is hollow there: STOP."
        )
    through = [one for one in heats if one.both_faces]
    if any(isinstance(one, WedgeHeat) for one in through):
        said.append(
            "A wedge shortens most at its base: the base must stand at the edge that is too long "
            "(bulged out). If it is the hollow edge: STOP."
        )
    elif through:
        said.append("Heat through both sides shortens the part there, and bends it little.")
    if isinstance(case.initial_shape, SineShape):
        height = case.initial_shape.height_mm
        side = "top" if height > 0 else "bottom"
        said.append(
            f"Computed for a bulge of {abs(height):g} mm towards the {side} before the job."
        )
    down = [name for name in dict.fromkeys(one.face for one in alone) if _looks_down(part, name)]
    if down:
        said.append(
            f'"{one_line(down[0], 32)}" looks down as it is drawn: if the part is turned over for '
            "heating, turn it back to measure, the signs hold for it as drawn."
        )
    return tuple(said)


def _looks_down(part: MeshedCase, name: str) -> bool:
    face = face_map_of(part.case.workpiece, part.mesh, name)
    if face.period is not None:
        return False
    middle = np.mean(np.array(face.span), axis=1)[None]
    return bool(face.normal(middle)[0][2] < DOWN)
