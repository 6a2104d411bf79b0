"""What equilibrium must reach, moment by moment: temperature, loads, and what is held."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from flamefe.straining.devices import Device, stacked
from flamefe.straining.restraint import (
    SHORTEST_LEVER,
    Load,
    RestraintError,
    Support,
    holds_rigid_body,
    steadied_by_corners,
)

Array = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class Target:
    """A moment at which the part must be in equilibrium.

    Args:
        time: s.
        temperature: (n,) C.
        force: (n, 3) N, given loads.
        held: (n, 3) bool.
        displacement: (n, 3) m where held; NaN: held where it is when first held.
        name: given where the state is kept (the end of a cycle).
        jump: something other than temperature changes at once here.
        devices: what else holds the part, at places of its skin.
        supports: what holds it.
    """

    time: float
    temperature: Array
    force: Array
    held: BoolArray
    displacement: Array
    name: str = ""
    jump: bool = False
    devices: tuple[Device, ...] = ()
    supports: tuple[Support, ...] = ()


def targets(
    *,
    points: Array,
    moments: Sequence[tuple[float, Array, str]],
    supports: Sequence[Support],
    loads: Sequence[Load] = (),
    fallback: Support | None = None,
    devices: Sequence[Device] = (),
    steadied: bool = False,
) -> Iterator[Target]:
    """Lay out the targets of a job.

    A support that is fitted at a moment holds from there on, where the part then is. A load or
    support that is released at a moment is still there in that moment's equilibrium; then it is
    taken off in an increment of its own, at the same time. A state with a name is kept after that.

    Args:
        points: (n, 3) m, to see whether the part is held.
        moments: (time s, temperature (n,) C, name or "") in rising order; the first is the start.
        supports: what holds the part.
        loads: what pulls on it.
        fallback: takes over where the release of supports leaves the part loose. While devices
            hold the part, only as much is held at its corners as they leave free.
        devices: what holds the part at places of its skin.
        steadied: the fallback is there from the start: devices without friction leave the part
            free to slide, which no load on it resists.

    Yields:
        Target: the first brings the loads on at the start temperature.

    Raises:
        RestraintError: at some moment the part is not held against every shift and turn.
    """
    checked: set[bytes] = set()
    completed: dict[bytes, BoolArray] = {}

    def target(time: float, temperature: Array, name: str, after: bool, jump: bool) -> Target:
        held = np.zeros(points.shape, dtype=bool)
        where = np.full(points.shape, np.nan)
        force = np.zeros(points.shape)
        holding: list[Support] = []
        for support in supports:
            gone = support.released <= time if after else support.released < time
            if support.fitted >= time or gone:
                continue
            holding.append(support)
            held |= support.held
            if support.push is not None:
                moved = support.push * support.history.at(time)
                where[support.held] = moved[support.held]
        acting = tuple(
            device
            for device in devices
            if device.fitted < time
            and not (device.released <= time if after else device.released < time)
        )
        for load in loads:
            gone = load.released <= time if after else load.released < time
            if load.applied <= time and not gone:
                force = force + load.forces * load.history.at(time)
        # a jack of given force holds nothing where it is
        holding_devices = [device for device in acting if (device.least < device.most).any()]
        rows = stacked(holding_devices) if holding_devices else None
        key = held.tobytes() + repr([id(device) for device in acting]).encode()
        loose = (
            after
            or steadied
            or any(part.released < time for group in (supports, devices) for part in group)
        )
        if fallback is not None and loose:
            if key not in completed:
                completed[key] = _completed(points, held, rows, fallback.held)
            held = completed[key]
        if key not in checked:
            checked.add(key)
            if not holds_rigid_body(points, held, rows):
                raise RestraintError(
                    f"At {time:g} s the part is not held against every shift and turn: the "
                    "supports given leave it free to move as a whole. Hold more directions, or "
                    "give no supports at all (then just the rigid-body modes are held)."
                )
        return Target(
            time=time,
            temperature=temperature,
            force=force,
            held=held,
            displacement=where,
            name=name,
            jump=jump,
            devices=acting,
            supports=tuple(holding),
        )

    ends = {part.released for group in (supports, loads, devices) for part in group}
    for number, (time, temperature, name) in enumerate(moments):
        released = time in ends
        before = moments[number - 1][0] if number else -float("inf")
        comes = any(before < load.applied <= time for load in loads) or any(
            before <= device.fitted < time for device in devices
        )
        yield target(time, temperature, "" if released else name, False, number == 0 or comes)
        if released:
            yield target(time, temperature, name, True, True)


def _completed(
    points: Array, held: BoolArray, rows: csr_matrix | None, spare: BoolArray
) -> BoolArray:
    """What is held, with all that is spare or, beside devices, no more than the part needs."""
    if rows is None:
        return held if holds_rigid_body(points, held) else held | spare
    if holds_rigid_body(points, held, rows, least=SHORTEST_LEVER):
        return held
    return steadied_by_corners(points, held, rows)
