"""What a contact thermometer may show some seconds after a place was hottest."""

import numpy as np

from flamefe.reporting.words import one_line
from flamefe.study.face_maps import face_map_of
from flamefe.study.result import RunResult

SOON_S = 1.0
"""Within this of its end a heat counts as over, s."""
ON_FACE = 2e-3
"""Distance from a face within which a node lies on it, m."""
AFTER_S = (2.0, 5.0)
"""How long after the hottest moment it is read, s."""


def thermometer_words(result: RunResult, cycle: int, limit_C: float) -> str:
    """How far the hottest place of a cycle has cooled shortly after, for a surface at its limit.

    A reading taken seconds late lies far below what the metal had. What it may show is scaled
    from the run: reading = ambient + (T(t) - ambient) (limit - ambient) / (peak - ambient).

    Args:
        result: a finished run.
        cycle: number of the cycle.
        limit_C: never to be exceeded.

    Returns:
        A sentence; empty where the run says nothing of it.

    Example:
        >>> thermometer_words(result, 1, 650)  # doctest: +SKIP
    """
    heats = [one for one in result.heats if one.cycle == cycle]
    ambient = result.case.surroundings.ambient_C
    if not heats:
        return ""
    times, fields = result.heat.times, result.heat.temperatures
    start = min(one.start_s for one in heats)
    end = max(one.start_s + one.burned_s for one in heats)
    seen = np.flatnonzero((times >= start) & (times <= end + 1e-9))
    if not len(seen):
        return ""
    row, node = divmod(int(np.argmax(fields[seen])), fields.shape[1])
    hottest = int(seen[row])
    peak = float(fields[hottest, node])
    burning = [(one.start_s, one.start_s + one.burned_s) for one in heats]
    out = min((end for _, end in burning if end >= times[hottest] - 1e-9), default=end)
    if result.heat.logs and out - times[hottest] > SOON_S:
        return ""  # a driven torch goes on beside it: nobody can hold a thermometer there
    if peak - ambient < 1.0 or times[hottest] + AFTER_S[-1] > times[-1]:
        return ""
    later = np.interp(times[hottest] + np.array(AFTER_S), times, fields[:, node])
    may = ambient + (later - ambient) * (limit_C - ambient) / (peak - ambient)
    if may.max() >= limit_C:  # a later heat comes by
        return ""
    two, five = (f"{5 * np.floor(value / 5):.0f}" for value in may)
    return (
        f"on the hottest place, {_place(result, cycle, node)}: not above {two} C {AFTER_S[0]:g} s, "
        f"nor {five} C {AFTER_S[1]:g} s after its hottest moment, else it was above the limit"
    )


def _place(result: RunResult, cycle: int, node: int) -> str:
    """A node in the two coordinates of the heated face on which it lies, else in space, mm."""
    point = np.asarray(result.mesh.p[:, node])[None]
    case = result.case
    for name in dict.fromkeys(heat.face for heat in case.heats if heat.cycle == cycle):
        face = face_map_of(case.workpiece, result.mesh, name)
        flat = face.back(point)
        if float(np.linalg.norm(face.place(flat) - point)) < ON_FACE:
            u, v = 1e3 * flat[0, 0], 1e3 * flat[0, 1] / face.stretch
            return f"({u:.0f}, {v:.0f}) on {one_line(name, 32)}"
    x, y, z = 1e3 * point[0]
    return f"({x:.0f}, {y:.0f}, {z:.0f})"
