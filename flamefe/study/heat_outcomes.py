"""What each heat took and how deep it went."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flamefe.heating.history import TemperatureHistory
from flamefe.heating.nozzle import GasUse
from flamefe.heating.overlap import within
from flamefe.heating.pattern import Dimension
from flamefe.outcome.columns import Columns, depth_reached
from flamefe.study.beam_columns import columns_below
from flamefe.study.beam_sections import AnyBeam
from flamefe.study.case import AnyHeat, Bar, Case, MeshFile, Plate, mesh_plan
from flamefe.study.case_flames import nozzle_of, power_kW_of, radius_mm_of
from flamefe.study.case_strokes import pattern_of, target_of
from flamefe.study.face_maps import face_map_of
from flamefe.study.phases import heat_name
from flamefe.workpiece.body import Body
from flamefe.workpiece.faces import FACE_SIDES
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]

NEAR_TARGET_C = 25.0
"""Metal this close to the target counts as having reached it, K."""
SOFT_SHARE = 0.5
"""Metal counts as soft where its yield strength has fallen to this share of the cold one."""
BESIDE = (0.1, 0.3, 0.6, 1.0)
"""How far beside the torch's way the depth is looked at, by the flame's radius: no farther than
the nearest nodes need."""
SHALLOW = 0.25
"""Share of the thickness under which a target counts as reached on the surface only."""


@dataclass(frozen=True, kw_only=True)
class HeatOutcome:
    """What one heat took and how deep it went.

    Args:
        number: from 1.
        name: what it is called.
        cycle: its cycle.
        kind: its pattern.
        dimensions: by which the shop lays it out.
        start_s, burned_s: when its flame was lit, and how long it burned.
        net_kJ: heat stated to enter the part, of all its flames; None for hot gas.
        gas: fuel and oxygen; None where no nozzle is given.
        cost: of both gases; None where a price is missing.
        depth_mm: median depth under the torch's way that came within 25 K of the target; None
            where it was driven by time, or the depth can't be told.
        deepest_mm: the greatest such depth.
        soft_depth_mm: median depth that became soft; None where it can't be told.
        soft_deepest_mm: the greatest such depth.
        soft_above_C: where the yield strength has fallen to half of the cold one.
        thickness_mm: of the part there; None where it can't be told.
        both_faces: whether it was heated from both sides at once.
        peak_C: highest temperature of the part while it burned.
    """

    number: int
    name: str
    cycle: int
    kind: str
    dimensions: tuple[Dimension, ...]
    start_s: float
    burned_s: float
    net_kJ: float | None
    gas: GasUse | None
    cost: float | None
    depth_mm: float | None
    deepest_mm: float | None
    soft_depth_mm: float | None
    soft_deepest_mm: float | None
    soft_above_C: float
    thickness_mm: float | None
    both_faces: bool
    peak_C: float

    @property
    def words(self) -> str:
        """Pattern and dimensions in a line."""
        parts = [f"{name} {value:.4g} {unit}".rstrip() for name, value, unit in self.dimensions]
        return f"{self.kind}: {', '.join(parts)}" if parts else self.kind


def heat_outcomes(
    case: Case, body: Body, material: Material, heat: TemperatureHistory
) -> tuple[HeatOutcome, ...]:
    """Outcome of each heat of a case, in order."""
    soft = soft_above(material)
    spans = iter(span for span in heat.spans if span.burning)
    columns: dict[int, Columns | None] = {}
    result = []
    for number, asked in enumerate(case.heats):
        pattern = pattern_of(asked)
        strokes = [next(spans) for _ in pattern.strokes]
        burned = sum(span.end - span.start for span in strokes)
        times = (heat.times >= strokes[0].start) & (heat.times <= strokes[-1].end)
        peaks = np.asarray(heat.temperatures[times].max(axis=0))
        depths = _Depths.of(case, body, asked, columns)
        target = target_of(asked)
        flame = case.flames[asked.flame]
        flames = 2 if asked.both_faces else 1
        power = power_kW_of(flame)
        gas = _gas(case, asked, burned)
        near: tuple[float | None, float | None] = (None, None)
        softened: tuple[float | None, float | None] = (None, None)
        if depths is not None:
            softened = depths.to(peaks, soft)
            if target is not None:
                near = depths.to(peaks, target - NEAR_TARGET_C)
        result.append(
            HeatOutcome(
                number=number + 1,
                name=heat_name(asked, number),
                cycle=asked.cycle,
                kind=pattern.kind,
                dimensions=pattern.dimensions,
                start_s=strokes[0].start,
                burned_s=burned,
                net_kJ=None if power is None else power * flames * burned,
                gas=gas,
                cost=_cost(case, gas),
                depth_mm=near[0],
                deepest_mm=near[1],
                soft_depth_mm=softened[0],
                soft_deepest_mm=softened[1],
                soft_above_C=soft,
                thickness_mm=None if depths is None else depths.thickness_mm,
                both_faces=asked.both_faces,
                peak_C=float(peaks.max()),
            )
        )
    return tuple(result)


def soft_above(material: Material) -> float:
    """Temperature at which the yield strength has fallen to half of the cold one, C.

    Example:
        >>> from flamefe.workpiece.standard import material
        >>> round(soft_above(material("S355")))
        513
    """
    grid = np.linspace(20.0, material.valid_to_C, 2000)
    cold = float(material.yield_stress(20.0))
    below = np.flatnonzero(np.asarray(material.yield_stress(grid)) <= SOFT_SHARE * cold)
    return float(grid[below[0]]) if below.size else float(material.valid_to_C)


def gas_of(outcomes: Sequence[HeatOutcome]) -> tuple[GasUse, ...]:
    """Gas of several heats, a sum for each fuel; heats without a nozzle are left out."""
    sums: dict[str, GasUse] = {}
    for one in outcomes:
        if one.gas is not None:
            before = sums.get(one.gas.fuel)
            sums[one.gas.fuel] = one.gas if before is None else before + one.gas
    return tuple(sums.values())


def cost_of(outcomes: Sequence[HeatOutcome]) -> float | None:
    """Price of the gas of several heats; None where a price or a nozzle is missing."""
    costs = [one.cost for one in outcomes if one.cost is not None]
    return sum(costs) if costs and len(costs) == len(outcomes) else None


def shallow_words(outcomes: Sequence[HeatOutcome]) -> list[str]:
    """Heats whose target was reached on the surface only, in words."""
    said = []
    for one in outcomes:
        more = "" if one.both_faces else ", or heat both faces"
        if one.depth_mm is None or not one.thickness_mm:
            continue
        if (one.deepest_mm or 0.0) > 0.0 and one.depth_mm < SHALLOW * one.thickness_mm:
            said.append(
                f"{one.name}: the target is reached on the surface only, within "
                f"{NEAR_TARGET_C:g} K of it to {one.depth_mm:.1f} of {one.thickness_mm:.3g} mm "
                f"deep in the middle of the places along the way, {one.deepest_mm:.1f} at most "
                f"(soft, above {one.soft_above_C:.0f} C, to {one.soft_depth_mm or 0:.1f} mm). That "
                "bends the part towards the torch; to shrink it through its thickness go slower "
                f"with a smaller flame{more}."
            )
    return said


def _gas(case: Case, heat: AnyHeat, burned: float) -> GasUse | None:
    nozzle = nozzle_of(case.flames[heat.flame])
    if nozzle is None:
        return None
    use = nozzle.gas(burned)
    return use + use if heat.both_faces else use


def _cost(case: Case, gas: GasUse | None) -> float | None:
    if gas is None:
        return None
    fuel, oxygen = case.prices.of(gas.fuel), case.prices.oxygen_m3
    if fuel is None or oxygen is None:
        return None
    return gas.cost(fuel_price=fuel, oxygen_price=oxygen)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Depths:
    """Columns of nodes under the way of one heat."""

    columns: Columns
    chosen: NDArray[np.bool_]
    from_end: bool
    thickness_mm: float

    @classmethod
    def of(
        cls, case: Case, body: Body, heat: AnyHeat, known: dict[int, Columns | None]
    ) -> "_Depths | None":
        piece = case.workpiece
        if isinstance(piece, MeshFile):
            return None
        if not isinstance(piece, Plate | Bar):
            return cls._of_beam(case, piece, body, heat)
        axis, side = FACE_SIDES[heat.face]
        if axis not in known:
            known[axis] = Columns.of(body.points, axis)
        columns = known[axis]
        if columns is None:
            return None
        radius = radius_mm_of(case.flames[heat.flame]) * 1e-3
        for share in BESIDE:
            chosen = within(pattern_of(heat), share * radius, columns.places)
            if chosen.any():
                break
        else:
            return None
        return cls(
            columns=columns,
            chosen=chosen,
            from_end=side > 0,
            thickness_mm=round(1e3 * float(np.ptp(body.points[:, axis])), 6),
        )

    @classmethod
    def _of_beam(cls, case: Case, piece: AnyBeam, body: Body, heat: AnyHeat) -> "_Depths | None":
        plan = mesh_plan(case)
        assert plan is not None
        assert plan.beam is not None
        columns = columns_below(piece, plan.beam, body, [heat.face])
        if columns is None:
            return None
        radius = radius_mm_of(case.flames[heat.flame]) * 1e-3
        face = face_map_of(piece, body.mesh, heat.face)
        round_it = 0.0 if face.period is None else face.period / face.stretch
        pattern = pattern_of(heat)
        for share in BESIDE:
            chosen = np.zeros(len(columns.places), dtype=bool)
            for turns in (-1, 0, 1) if round_it else (0,):
                shifted = columns.places + np.array([0.0, turns * round_it])
                chosen |= within(pattern, share * radius, shifted)
            if chosen.any():
                break
        else:
            return None
        deep = np.maximum.reduceat(columns.along, columns.starts)[chosen]
        return cls(
            columns=columns,
            chosen=chosen,
            from_end=False,
            thickness_mm=round(1e3 * float(np.median(deep)), 6),
        )

    def to(self, peaks: Array, level: float) -> tuple[float, float]:
        """Median and greatest depth that reached a temperature, mm."""
        depth, greatest, _ = depth_reached(
            self.columns, peaks, self.chosen, from_end=self.from_end, level=level
        )
        return 1e3 * depth, 1e3 * greatest
