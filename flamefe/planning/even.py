"""Heats that all do the same, spread evenly over the places that could have them."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from flamefe.planning.candidate import Library
from flamefe.planning.limits import Allowed

Array = NDArray[np.float64]
MOST_SWAPS = 200


def spread_evenly(
    chosen: Sequence[int], library: Library, allowed: Allowed, repeats: Array
) -> tuple[int, ...]:
    """The same number of heats of each kind, size and effect, spread evenly (common practice, no
    source).

    To a plan all spots of a bay are equal; side by side they would warp it. Of each group of
    heats that move every place alike those are taken that leave no place of the group far from a
    heat: the sum of the squared distances from each place to its nearest heat is made small by
    swaps.

    Args:
        chosen: indices of a plan.
        library: heats that could be given.
        allowed: which may be chosen together.
        repeats: (m,) share of a first heat that each gives now.

    Example:
        >>> from flamefe.planning.candidate import Candidate, HeatKind
        >>> from flamefe.planning.limits import CycleRules, allowed_in
        >>> heats = tuple(Candidate(name=f"s{x}", kind="spot", size="", place=f"{x}", side="",
        ...     position=(float(x), 0.0, 0.0), moves=np.array([-1e-3])) for x in range(9))
        >>> library = Library(kinds=(HeatKind(name="spot"),), candidates=heats)
        >>> allowed = allowed_in(library, CycleRules(), {}, np.array([0.01]), np.array([0.003]))
        >>> spread_evenly([0, 1, 2], library, allowed, np.ones(9))
        (1, 4, 7)
    """
    groups: dict[tuple[str, str, bytes, float], list[int]] = {}
    for i, one in enumerate(library.candidates):
        if not allowed.reasons[i]:
            key = (one.kind, one.size, np.round(one.moves, 12).tobytes(), float(repeats[i]))
            groups.setdefault(key, []).append(i)
    positions = np.array([one.position for one in library.candidates]).reshape(-1, 3)
    final = list(chosen)
    for members in groups.values():
        own = [i for i in final if i in members]
        if not own or len(own) == len(members):
            continue
        others = [i for i in final if i not in members]
        spread = _spread(own, members, others, allowed.excludes, positions)
        final = [i for i in final if i not in own] + spread
    return tuple(sorted(final))


def _spread(
    own: list[int],
    members: list[int],
    others: list[int],
    excludes: NDArray[np.bool_],
    positions: Array,
) -> list[int]:
    """Better places by swaps, from the heats as they are and from the farthest ones."""
    here = positions[members]
    apart = np.sum((here[:, None, :] - here[None, :, :]) ** 2, axis=2)
    row = {i: k for k, i in enumerate(members)}
    free = [i for i in members if not excludes[i, others].any()]

    def far(heats: list[int]) -> float:
        return float(apart[:, [row[i] for i in heats]].min(axis=1).sum())

    outer: list[int] = []
    while len(outer) < len(own):
        left = [i for i in free if not excludes[i, outer].any() and i not in outer]
        if not left:
            break
        chosen = [row[i] for i in outer]
        reach = apart[:, chosen].min(axis=1) if outer else apart.sum(axis=1)
        outer.append(left[int(np.argmax([reach[row[i]] for i in left]))])
    starts = [list(own), *([outer] if len(outer) == len(own) else [])]
    return min((_swapped(start, free, excludes, far) for start in starts), key=far)


def _swapped(
    start: list[int],
    free: list[int],
    excludes: NDArray[np.bool_],
    far: Callable[[list[int]], float],
) -> list[int]:
    """Swap one heat at a time for a better place, the best swap first."""
    now, best = start, far(start)
    for _ in range(MOST_SWAPS):
        found = (best - 1e-12, now)
        for place in range(len(now)):
            rest = now[:place] + now[place + 1 :]
            for i in free:
                if i in now or excludes[i, rest].any():
                    continue
                value = far([*rest, i])
                if value < found[0] - 1e-12:
                    found = (value, [*rest, i])
        if found[1] is now:
            break
        best, now = found
    return now
