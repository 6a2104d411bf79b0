"""What a case asked for, in a few lines."""

import numpy as np

from flamefe.basics.words import one_line
from flamefe.reporting.marks import MeshedCase
from flamefe.study.case import MeshFile
from flamefe.study.case_words import alike, flame_words, heats_words, holder_words, sized_words
from flamefe.study.result import RunResult

MOST_HEATS_TOLD = 6


def asked_lines(result: RunResult) -> list[str]:
    """Tell part, heats, holding and loads of a case, a line each."""
    case = result.case
    lines = [
        f"{sized_words(case.workpiece, extent_mm_of(result))}, "
        f"{one_line(result.material.name)}; air at {case.surroundings.ambient_C:g} C; "
        f"{case.solve.geometry} geometry"
    ]
    groups = alike(case.heats)
    lines += [heats_words(cycle, group) for cycle, group in groups[:MOST_HEATS_TOLD]]
    if len(groups) > MOST_HEATS_TOLD:
        lines.append(f"... {len(case.heats)} heats in all")
    used = dict.fromkeys(heat.flame for heat in case.heats)
    lines += [flame_words(name, case.flames[name]) for name in used]
    lines.append(_holding_words(result))
    return lines


def extent_mm_of(result: MeshedCase) -> tuple[float, float, float]:
    """Extent of the part along x, y and z, mm, as it was given; of a mesh file as it is meshed."""
    piece = result.case.workpiece
    if not isinstance(piece, MeshFile):
        return piece.size_mm
    x, y, z = (float(side) for side in 1e3 * np.ptp(result.mesh.p, axis=1))
    return x, y, z


def _holding_words(result: RunResult) -> str:
    case = result.case
    held = [holder_words(support) for support in case.supports]
    pulled = [holder_words(load) for load in case.loads]
    words = f"held: {'; '.join(held) or 'free (rigid movement alone)'}"
    if pulled:
        words += f"; loads: {'; '.join(pulled)}"
    if case.inherent_strain:
        words += f"; {len(case.inherent_strain)} boxes of prescribed inherent strain"
    return words
