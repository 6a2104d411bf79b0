"""The order of the heats of a cycle on the floor."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from flamefe.planning.candidate import Heat
from flamefe.planning.limits import Sequence_

Array = NDArray[np.float64]


def in_order(heats: Sequence[Heat], rule: Sequence_, centre: Sequence[float]) -> tuple[Heat, ...]:
    """Heats in the order in which they are to be given.

    "outside to middle": by falling distance from the middle; "middle to outside": by rising
    distance; "symmetric": alternately on both sides of the middle along the longest extent of
    the heats, from outside; "largest first": by what they move.

    Args:
        heats: of one cycle.
        rule: of the trade.
        centre: m, the middle of the part.

    Example:
        >>> heats = [Heat(name=str(x), kind="spot", size="", place=str(x), side="",
        ...               position=(float(x), 0.0, 0.0), moves=np.array([-1e-3])) for x in range(5)]
        >>> [heat.name for heat in in_order(heats, "symmetric", (2.0, 0.0, 0.0))]
        ['0', '4', '1', '3', '2']
        >>> [heat.name for heat in in_order(heats, "middle to outside", (2.0, 0.0, 0.0))]
        ['2', '1', '3', '0', '4']
    """
    if not heats:
        return ()
    middle = np.asarray(centre, float)
    positions = np.array([heat.position for heat in heats])
    away = np.round(np.linalg.norm(positions - middle, axis=1), 6)
    axis = int(np.argmax(np.ptp(positions, axis=0)))
    along = positions[:, axis] - middle[axis]
    moved = np.array([float(np.abs(heat.moves).max()) for heat in heats])
    index = range(len(heats))
    if rule == "largest first":
        order = sorted(index, key=lambda i: (-moved[i], along[i]))
    elif rule == "middle to outside":
        order = sorted(index, key=lambda i: (away[i], along[i]))
    elif rule == "outside to middle":
        order = sorted(index, key=lambda i: (-away[i], along[i]))
    else:
        order = _alternating(along, away)
    return tuple(heats[i] for i in order)


def _alternating(along: Array, away: Array) -> list[int]:
    """One from each side in turn, the outermost first."""
    first = sorted(np.flatnonzero(along < 0.0).tolist(), key=lambda i: -away[i])
    second = sorted(np.flatnonzero(along >= 0.0).tolist(), key=lambda i: -away[i])
    if len(second) > len(first) + 1:
        first, second = second, first
    order: list[int] = []
    while first or second:
        if first:
            order.append(first.pop(0))
        if second:
            order.append(second.pop(0))
    return order
