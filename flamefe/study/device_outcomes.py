"""What each support and device had to carry, and whether it or the part was overstressed."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.heating.history import TemperatureHistory
from flamefe.straining.history import DeviceHistory, StrainHistory
from flamefe.study.case import Case
from flamefe.study.case_devices import Rest, Spring, Strongback
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]

TO_KN = 1e-3
SMALL_KN = 1e-3
"""Force below which nothing is said, kN."""
STEADY = 0.98
"""Least force, by the largest, of what counts as a force that does not change."""
TURNING = ("clamp", "guide", "push")
"""Kinds of supports that hold the turn of a face."""
FEWEST_PRESSED = 60
"""Nodes under a pressed spot from which its force settles."""
DRAGGED = 0.01
"""Force where no support of the case's holds, by the largest of a device, that is worth a word."""


@dataclass(frozen=True, kw_only=True)
class Bearing:
    """The worst mean pressure of a device on the part's skin.

    Args:
        pressure_MPa: force by the area of the place.
        yield_MPa: yield stress of the part there, as hot as it then was.
        temperature_C: of the place.
        time_s: when.
    """

    pressure_MPa: float
    yield_MPa: float
    temperature_C: float
    time_s: float

    @property
    def share(self) -> float:
        """Pressure by yield stress; above 1 a dent is likely."""
        return self.pressure_MPa / self.yield_MPa


@dataclass(frozen=True, kw_only=True)
class DeviceOutcome:
    """What one support or device did.

    Args:
        name: "support 2 (jack)".
        kind: of it.
        times_s: when the forces are known; twice the same where it is fitted or released.
        force_kN: at these times: what it pushes less what it pulls, in its direction; of a jack
            between two places what it pushes at one of them, of a strongback what it pushes on one
            side; of a clamp, guide or push the size of the resultant; of points the largest force
            at one; of a template or pressed spot the larger of what its two plates push.
        largest_kN: the largest of these, by size.
        largest_at_s: when.
        hottest_then_C: the part's hottest place at that moment.
        pulls_kN: the largest pull; 0 for what only pushes. Of a spring: the largest force
            against its direction.
        final_kN: what it carries at the end of the job.
        released: (time s, kN that it carried just before) of each release.
        lifted_at_s: when a place that touched first came apart; None: never.
        lost_at_s: when suction was first lost; None: never.
        lost_share: share of its places that lost it.
        capacity_kN: what it may carry: at one place, or in all; None: not given.
        against_capacity_kN: the largest force that this is compared with: at one place where it
            has several by name, else in all.
        bearing: worst pressure on the skin; None where it isn't known.
        force_on_part_kN: (x, y, z) of the resultant on the part, at each of the times.
        moment_on_part_kNm: (x, y, z) of its moment about ``centre_mm``, at each of the times.
        centre_mm: the middle of the nodes it holds.
    """

    name: str
    kind: str
    times_s: tuple[float, ...]
    force_kN: tuple[float, ...]
    largest_kN: float
    largest_at_s: float
    hottest_then_C: float
    pulls_kN: float
    final_kN: float
    released: tuple[tuple[float, float], ...] = ()
    lifted_at_s: float | None = None
    lost_at_s: float | None = None
    lost_share: float = 0.0
    capacity_kN: float | None = None
    against_capacity_kN: float = 0.0
    bearing: Bearing | None = None
    force_on_part_kN: tuple[tuple[float, float, float], ...] = ()
    moment_on_part_kNm: tuple[tuple[float, float, float], ...] = ()
    centre_mm: tuple[float, float, float] | None = None

    @property
    def steady(self) -> bool:
        """Whether it carries the same all the time that it carries anything."""
        loaded = [abs(force) for force in self.force_kN if abs(force) > SMALL_KN]
        return bool(loaded) and min(loaded) >= STEADY * max(loaded)

    @property
    def at_one_place(self) -> bool:
        """Whether its capacity counts for the force at one of its places."""
        return self.against_capacity_kN < self.largest_kN * (1.0 - 1e-6)

    @property
    def turning_kNm(self) -> float:
        """Largest moment of a clamp, or of what else holds a face; 0 of other kinds."""
        if self.kind not in TURNING:
            return 0.0
        return max((float(np.linalg.norm(m)) for m in self.moment_on_part_kNm), default=0.0)

    @property
    def overloaded(self) -> bool:
        """Whether it carries more than it may."""
        return self.capacity_kN is not None and self.against_capacity_kN > self.capacity_kN


def device_outcomes(
    case: Case, material: Material, heat: TemperatureHistory, strain: StrainHistory
) -> tuple[DeviceOutcome, ...]:
    """What each of the case's supports did, in their order.

    Args:
        case: the case.
        material: what the part is made of.
        heat, strain: the histories.
    """
    known = {history.name: history for history in strain.devices}
    result = []
    for number, support in enumerate(case.supports, start=1):
        history = known.get(f"support {number} ({support.kind})")
        if history is None:
            continue
        one_place = isinstance(support, Rest | Spring) and support.at_mm is not None
        result.append(
            _outcome(
                history,
                support.kind,
                material,
                heat,
                capacity=support.capacity_kN,
                one_place=one_place or isinstance(support, Strongback),
            )
        )
    return tuple(result)


def _outcome(
    history: DeviceHistory,
    kind: str,
    material: Material,
    heat: TemperatureHistory,
    *,
    capacity: float | None,
    one_place: bool,
) -> DeviceOutcome:
    carried, places, times = history.carried, history.places, history.times
    worst = int(np.argmax(carried >= (1.0 - 1e-6) * carried.max()))
    compared = carried.max()
    if one_place and places is not None:
        compared = np.abs(places.forces).max()
    lifted = lost = None
    lost_share = 0.0
    if places is not None:
        apart = places.touching[:-1] & ~places.touching[1:] & history.fitted[1:, None]
        lifted = _first(times[1:], np.asarray(apart.any(axis=1)))
        lost = _first(times, np.asarray(places.lost.any(axis=1)))
        lost_share = float(places.lost.any(axis=0).mean())
    return DeviceOutcome(
        name=history.name,
        kind=kind,
        times_s=tuple(float(t) for t in times),
        force_kN=tuple(float(f) for f in TO_KN * history.signed),
        largest_kN=TO_KN * float(carried.max()),
        largest_at_s=float(times[worst]),
        hottest_then_C=float(heat.at(float(times[worst])).max()),
        pulls_kN=TO_KN * float(history.pulls.max()),
        final_kN=TO_KN * float(carried[-1]),
        released=tuple((one.time, TO_KN * one.force) for one in history.releases),
        lifted_at_s=lifted,
        lost_at_s=lost,
        lost_share=lost_share,
        capacity_kN=capacity,
        against_capacity_kN=TO_KN * float(compared),
        bearing=_bearing(history, material, heat),
        force_on_part_kN=_vectors(history.force),
        moment_on_part_kNm=_vectors(history.moment),
        centre_mm=_vector(1e3 * history.centre),
    )


def _vectors(values: Array) -> tuple[tuple[float, float, float], ...]:
    return tuple(_vector(TO_KN * value) for value in values)


def _vector(value: Array) -> tuple[float, float, float]:
    x, y, z = (float(v) for v in value)
    return x, y, z


def _first(times: Array, when: NDArray[np.bool_]) -> float | None:
    return float(times[int(np.argmax(when))]) if when.any() else None


def _bearing(
    history: DeviceHistory, material: Material, heat: TemperatureHistory
) -> Bearing | None:
    places, times = history.places, history.times
    if places is None or not (places.areas > 0.0).all():
        return None
    pressure = np.abs(places.forces) / places.areas
    hot = np.array([heat.at(float(time))[places.nodes] for time in times])
    strength = material.yield_stress(hot.reshape(-1)).reshape(hot.shape)
    moment, place = np.unravel_index(int(np.argmax(pressure / strength)), pressure.shape)
    return Bearing(
        pressure_MPa=1e-6 * float(pressure[moment, place]),
        yield_MPa=1e-6 * float(strength[moment, place]),
        temperature_C=float(hot[moment, place]),
        time_s=float(times[moment]),
    )


def device_warnings(outcomes: Sequence[DeviceOutcome], strain: StrainHistory) -> tuple[str, ...]:
    """What is overstressed, has let go or is held where no support was given, in words.

    Example:
        >>> jack = DeviceOutcome(name="support 1 (jack)", kind="jack", times_s=(0.0,),
        ...     force_kN=(12.0,), largest_kN=12.0, largest_at_s=0.0, hottest_then_C=20.0,
        ...     pulls_kN=0.0, final_kN=12.0, capacity_kN=10.0, against_capacity_kN=12.0)
        >>> from types import SimpleNamespace
        >>> strain = SimpleNamespace(unclaimed=np.zeros(1), devices=())
        >>> device_warnings([jack], strain)[0].split(";")[0]
        'Support 1 (jack) is overloaded: 12 kN'
    """
    said = []
    for one in outcomes:
        name = one.name[0].upper() + one.name[1:]
        if one.overloaded:
            said.append(
                f"{name} is overloaded: {one.against_capacity_kN:.4g} kN"
                f"{' at one place' if one.at_one_place else ''}; it may carry "
                f"{one.capacity_kN:g} kN{' there' if one.at_one_place else ''}. "
                "Take a stronger one, more of them, or push less."
            )
        worst = one.bearing
        if worst is not None and worst.share > 1.0:
            said.append(
                f"{name} overstresses the part: {worst.pressure_MPa:.3g} MPa on its skin at "
                f"{worst.time_s:.4g} s, where at {worst.temperature_C:.0f} C it yields at "
                f"{worst.yield_MPa:.3g} MPa; a dent is likely. Take a larger foot, or put it "
                "farther from the heat."
            )
        if one.lost_at_s is not None:
            said.append(
                f"{name} lost its suction at {100 * one.lost_share:.0f} % of its places, from "
                f"{one.lost_at_s:.4g} s on. A real plate may then let go altogether."
            )
    for history in strain.devices:
        if "(pressed spot)" in history.name and history.nodes < FEWEST_PRESSED:
            said.append(
                f"{history.name[0].upper()}{history.name[1:]} holds {history.nodes} nodes only, so "
                "its force hangs on the mesh by some tens of per cent; make the elements there a "
                "fifth of its radius."
            )
    largest = max((one.largest_kN for one in outcomes), default=0.0)
    dragged = TO_KN * float(np.max(strain.unclaimed, initial=0.0))
    if dragged > DRAGGED * largest and dragged > SMALL_KN:
        said.append(
            f"The supports leave the part free to slide or turn, so it is held at its corners, "
            f"too; these had to carry up to {dragged:.3g} kN. Add supports that take this force."
        )
    return tuple(said)


def stored_force(outcomes: Sequence[DeviceOutcome]) -> tuple[str, ...]:
    """A caution about force that is set free when devices are taken away; none without force."""
    held = [
        f"{one.name} {force:.3g} kN"
        for one in outcomes
        for _, force in one.released
        if force > SMALL_KN
    ]
    held += [
        f"{one.name} {one.final_kN:.3g} kN at the end"
        for one in outcomes
        if one.final_kN > SMALL_KN and one.kind != "rest"
    ]
    if not held:
        return ()
    return (
        "Force at release: "
        + ", ".join(dict.fromkeys(held))
        + "; slacken it step by step, and expect the part to spring.",
    )
