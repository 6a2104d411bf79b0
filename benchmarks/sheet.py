"""Spot heats on thin sheet, free and held: what they shrink, and what becomes of a buckle.

    python benchmarks/sheet.py [--coarse] [--json OUT.json]

Panel 400 x 400 x 2 mm, S355 (EN 1993-1-2, 0.2 % proof strength), its edges clamped. A spot of
radius 15 mm is heated from above to 685 C in 10 s; the power that does it is found first. "Held"
means a patch of 60 mm radius round the spot whose underside can move neither up nor down from
where it is until the spot has cooled to 30 C. The buckled panel has too much area between its
edges: a uniform strain in its plane makes it stand 4 mm out in the middle, under stress.

Shrinkage of the area is minus the integral of the plastic strain in the plane, over the thickness.
Every state is checked for stability; what was seen is printed.
"""

import argparse
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementHex1, MeshHex
from threadpoolctl import threadpool_limits

from flamefe.heating.conduction import Conductor
from flamefe.heating.deposit import Deposit
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.march import HeatMoment, heat_along
from flamefe.heating.path import TorchPath
from flamefe.heating.pattern_spots import spot_field
from flamefe.heating.phase import Burn, Phase, Rest
from flamefe.heating.surface import Cooling, FacePoints
from flamefe.straining.buckle import Buckle, stressed_buckle
from flamefe.straining.equilibrium import strain_along
from flamefe.straining.moment import Moment
from flamefe.straining.restraint import Support
from flamefe.straining.schedule import targets
from flamefe.straining.solving import Solving
from flamefe.straining.upright import Upright
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh, graded
from flamefe.workpiece.standard import material

Array = NDArray[np.float64]
Place = tuple[float, float]

WIDTH, THICKNESS, RADIUS = 0.4, 0.002, 0.015
PEAK_C, BURN_S, COOL_TO_C = 685.0, 10.0, 30.0
PATCH = 0.06
MIDDLE: Place = (0.2, 0.2)
IMPERFECTION = 1e-4
BUCKLE = 4e-3
SOLVING = Solving(tolerance=1e-3)


@dataclass(frozen=True, kw_only=True)
class Fineness:
    """How finely a panel is divided.

    Args:
        at_heat, away: largest elements, m.
        change: C, largest change of temperature in a step.
    """

    at_heat: float = 0.005
    away: float = 0.02
    change: float = 30.0


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What one run did.

    Args:
        name: which.
        shrinkage_mm2: loss of area.
        before_mm, hot_mm, after_mm: height of the middle at the start, at most, and cold.
        band_before_mm, band_after_mm: highest over lowest place of the mid-surface.
        events: what the watch over stability saw.
        solves, factorisations: cost.
    """

    name: str
    shrinkage_mm2: float
    before_mm: float
    hot_mm: float
    after_mm: float
    band_before_mm: float
    band_after_mm: float
    events: tuple[str, ...]
    solves: int
    factorisations: int


def panel(spots: Sequence[Place], fineness: Fineness, imperfection: float = 0.0) -> Body:
    """The meshed panel, two layers, fine at the spots; bowed by a half wave each way."""
    reach = 1.3 * RADIUS
    x, y = (
        graded(
            WIDTH,
            fine_spans=[(s[axis] - reach, s[axis] + reach) for s in spots],
            fine=fineness.at_heat,
            coarse=fineness.away,
            growth=1.4,
        )
        for axis in (0, 1)
    )
    mesh = box_mesh(x, y, np.linspace(0.0, THICKNESS, 3))
    points = mesh.p.copy()
    points[2] += imperfection * half_wave(points.T)
    bowed = MeshHex(points, mesh.t).with_boundaries(mesh.boundaries)
    return Body(mesh=bowed, materials=(material("S355"),))


def half_wave(points: Array) -> Array:
    """One half sine wave along x and y, (n,), 1 in the middle."""
    shape = np.sin(np.pi * points[:, 0] / WIDTH) * np.sin(np.pi * points[:, 1] / WIDTH)
    return np.asarray(shape)


def edges(body: Body) -> Support:
    """All four edges clamped."""
    held = np.zeros(body.points.shape, dtype=bool)
    for face in ("start", "end", "near", "far"):
        held[body.nodes_of(face)] = True
    return Support(held=held, name="edges")


def patch(body: Body, at: Place, fitted: float, released: float) -> Support:
    """The underside round a place, held across the panel."""
    below = body.nodes_of("bottom")
    away = np.hypot(*(body.points[below, :2] - np.asarray(at)).T)
    held = np.zeros(body.points.shape, dtype=bool)
    held[below[away < PATCH], 2] = True
    return Support(held=held, fitted=fitted, released=released, name="patch")


def heated(body: Body, spots: Sequence[Place], power: float, change: float) -> list[HeatMoment]:
    """Spot after spot, each cooled to 30 C; at last the panel is cold."""
    every = FacePoints.of(body.mesh, body.mesh.boundary_facets())
    conductor = Conductor(body, [Cooling(face=every, film=15.0, emissivity=0.7, ambient=20.0)])
    top = FacePoints.of(body.mesh, (body.mesh.boundaries or {})["top"], order=5)
    phases: list[Phase] = []
    for number, (x, y) in enumerate(spots, start=1):
        deposit = Deposit(
            flame=GaussianFlame(power=power, radius=RADIUS),
            face=top,
            path=TorchPath.standing((x, y, THICKNESS), duration=BURN_S),
        )
        phases.append(Burn(deposits=(deposit,), step=None, name=f"spot {number}"))
        last = number == len(spots)
        phases.append(Rest(until=COOL_TO_C, cold=last, name=f"rest {number}"))
    return list(heat_along(conductor, phases, ambient=20.0, allowed_change=change))


def power_for_peak(fineness: Fineness) -> float:
    """Absorbed power, W, that brings a spot to its peak temperature."""
    body, power = panel([MIDDLE], fineness), 715.0
    for _ in range(3):
        peak = max(
            float(m.temperature.max()) for m in heated(body, [MIDDLE], power, fineness.change)
        )
        power *= 1.0 + 0.8 * (PEAK_C - peak) / (PEAK_C - 20.0)
    return power


def shrinkage(body: Body, moment: Moment) -> float:
    """Loss of area, m2."""
    volumes = Basis(body.mesh, ElementHex1(), intorder=3).dx.reshape(-1)
    plane = moment.state.plastic_strain[:2].sum(axis=0)
    return -float(plane @ volumes) / THICKNESS


def work(
    name: str,
    body: Body,
    spots: Sequence[Place],
    heat: Sequence[HeatMoment],
    *,
    held: bool,
    buckle: Buckle | None = None,
) -> Outcome:
    """Strain a panel along its temperatures."""
    supports = [edges(body)]
    if held:
        ends = [max(m.time for m in heat if m.phase == f"rest {n}") for n in range(1, len(spots))]
        ends.append(heat[-1].time)
        starts = [-np.inf, *ends[:-1]]
        supports += [
            patch(body, at, start, end) for at, start, end in zip(spots, starts, ends, strict=True)
        ]
    moments = [(m.time, m.temperature, "") for m in heat]
    moments[-1] = (*moments[-1][:2], "cold")
    upright = Upright.of(body.points)
    assert upright is not None
    middle = int(np.argmin(((body.points[:, :2] - np.asarray(MIDDLE)) ** 2).sum(axis=1)))
    rim = supports[0].held
    first = np.zeros(body.points.shape) if buckle is None else buckle.start[: len(body.points)]
    before = upright.height(first, rim)
    hot = abs(float(before[middle]))
    events: list[str] = []
    solves = factorisations = 0
    last: Moment | None = None
    for moment in strain_along(
        body,
        targets(points=body.points, moments=moments, supports=supports),
        solving=SOLVING,
        inherent_strain=None if buckle is None else buckle.inherent_strain,
        start=None if buckle is None else buckle.start,
    ):
        hot = max(hot, abs(float(upright.height(moment.displacement, rim)[middle])))
        events += [event.words for event in moment.events or ()]
        solves, factorisations = solves + moment.solves, factorisations + moment.factorisations
        last = moment
    assert last is not None
    after = upright.height(last.displacement, rim)
    return Outcome(
        name=name,
        shrinkage_mm2=1e6 * shrinkage(body, last),
        before_mm=1e3 * float(before[middle]),
        hot_mm=1e3 * hot,
        after_mm=1e3 * float(after[middle]),
        band_before_mm=1e3 * float(np.ptp(before)),
        band_after_mm=1e3 * float(np.ptp(after)),
        events=tuple(events),
        solves=solves,
        factorisations=factorisations,
    )


def outcomes(*, coarse: bool) -> list[Outcome]:
    """All runs."""
    fineness = Fineness(at_heat=0.0065, change=60.0) if coarse else Fineness()
    power = power_for_peak(fineness)
    found = []
    flat = panel([MIDDLE], fineness, IMPERFECTION)
    heat = heated(flat, [MIDDLE], power, fineness.change)
    for held in (False, True):
        found.append(work(f"flat, {_how(held)} spot", flat, [MIDDLE], heat, held=held))
    sheet = panel([MIDDLE], fineness)
    wish = BUCKLE * half_wave(sheet.points)
    close = replace(SOLVING, tolerance=1e-4)
    buckle = stressed_buckle(sheet, wish, edges(sheet).held, solving=close)
    for held in (False, True):
        name = f"4 mm buckle, {_how(held)} middle spot"
        found.append(work(name, sheet, [MIDDLE], heat, held=held, buckle=buckle))
    field = spot_field((0.1, 0.1), (0.3, 0.3), spacing=0.1, arrangement="square")
    spots = [stroke.points[0] for stroke in field.strokes]
    sheet = panel(spots, replace(fineness, away=0.025))
    wish = BUCKLE * half_wave(sheet.points)
    buckle = stressed_buckle(sheet, wish, edges(sheet).held, solving=close)
    heat = heated(sheet, spots, power, fineness.change)
    for held in (True,) if coarse else (True, False):
        name = f"4 mm buckle, nine {_how(held)} spots, outside to middle"
        found.append(work(name, sheet, spots, heat, held=held, buckle=buckle))
    return found


def _how(held: bool) -> str:
    return "held" if held else "free"


def lines(found: Sequence[Outcome]) -> list[str]:
    """Table and figures in Markdown."""
    result = [
        "| run | shrinkage mm2 | middle before, at most, after mm | band before, after mm "
        "| solves, factorisations |",
        "|---|---|---|---|---|",
    ]
    for row in found:
        result.append(
            f"| {row.name} | {row.shrinkage_mm2:.2f} "
            f"| {row.before_mm:.2f}, {row.hot_mm:.2f}, {row.after_mm:.2f} "
            f"| {row.band_before_mm:.2f}, {row.band_after_mm:.2f} "
            f"| {row.solves}, {row.factorisations} |"
        )
    result += ["", *(f"- {check}" for check in checks(found)), ""]
    for row in found:
        result += [f"- {row.name}: {words}" for words in row.events]
    return result


def checks(found: Sequence[Outcome]) -> list[str]:
    """The three figures."""
    free, held, worse, better, nine = found[:5]
    ratio = held.shrinkage_mm2 / free.shrinkage_mm2
    return [
        f"held flat while hot shrinks {ratio:.2f} times what a free spot does (1.8 wanted)",
        f"nine held spots take a stressed buckle from {nine.band_before_mm:.2f} to "
        f"{nine.band_after_mm:.2f} mm (below 0.5 wanted)",
        f"a free middle spot takes it from {worse.before_mm:.2f} to {worse.after_mm:.2f} mm "
        f"(worse wanted), a held one to {better.after_mm:.2f} mm",
    ]


def main() -> None:
    """Print the table; with --json also keep the numbers."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--coarse", action="store_true", help="quicker, on a coarser mesh")
    parser.add_argument("--json", type=Path, help="where to keep the numbers")
    asked = parser.parse_args()
    with threadpool_limits(1):
        found = outcomes(coarse=asked.coarse)
    print("\n".join(lines(found)))
    if asked.json is not None:
        asked.json.write_text(json.dumps([asdict(row) for row in found], indent=2) + "\n")


if __name__ == "__main__":
    main()
