"""What a contact thermometer may show some seconds after a place was hottest."""

import numpy as np

from flamefe.study.result import RunResult

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
    if peak - ambient < 1.0 or times[hottest] + AFTER_S[-1] > times[-1]:
        return ""
    later = np.interp(times[hottest] + np.array(AFTER_S), times, fields[:, node])
    may = ambient + (later - ambient) * (limit_C - ambient) / (peak - ambient)
    if may.max() >= limit_C:  # a later heat comes by
        return ""
    x, y, z = 1e3 * result.mesh.p[:, node]
    two, five = (f"{5 * np.floor(value / 5):.0f}" for value in may)
    return (
        f"on the hottest place ({x:.0f}, {y:.0f}, {z:.0f}): not above {two} C {AFTER_S[0]:g} s, "
        f"nor {five} C {AFTER_S[1]:g} s after its hottest moment, else it was above the limit"
    )
