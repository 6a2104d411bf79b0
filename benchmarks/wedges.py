"""Wedge heats on a flat bar beside the published mean of measured ones.

    python benchmarks/wedges.py [--coarse] [--json OUT.json]

Flat bar 600 x 100 x 10 mm, S355, both faces heated, wedge depth 3/4; end moments that close the
wedge; the front held at 650 C from apex to base. Nothing is tuned: material from EN 1993-1-2 with
the 0.2 % proof strength, 1 kW absorbed from each torch of 10 mm radius. The mean formula is that
of R. R. Avent and others, J. Struct. Eng. 2000 (from memory); measured heats scatter about it by
some tens of per cent. Perfect confinement: Holt's rule, derived.
"""

import argparse
import json
import math
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from flamefe.heating.conduction import Conductor
from flamefe.heating.deposit import Deposit
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.history import EnergyBalance, TemperatureHistory
from flamefe.heating.march import collected, heat_along
from flamefe.heating.path import Track
from flamefe.heating.phase import Drive, Rest
from flamefe.heating.probe import FaceProbe
from flamefe.heating.surface import Cooling, FacePoints
from flamefe.rules.wedge import (
    confined_rotation,
    published_mean_rotation,
    us_steel_upset_strain,
)
from flamefe.straining.equilibrium import Solving, strain_along
from flamefe.straining.restraint import Load, rigid_modes
from flamefe.straining.schedule import targets
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh, graded
from flamefe.workpiece.standard import YieldAs, material

Array = NDArray[np.float64]

LENGTH, DEPTH, THICKNESS = 0.6, 0.1, 0.01
WEDGE = 0.075
YIELD = 355e6
CURVES_TO_C = 648.0


@dataclass(frozen=True, kw_only=True)
class Wedge:
    """One heat.

    Args:
        angle_deg: opening.
        moment: end moment by the plastic moment, closing.
        target_C: temperature of the front.
        yield_as: which stress counts as yield.
        at_once: the whole wedge is brought to temperature together.
        size: elements at the heat, m.
        radius: of the flames, m.
    """

    angle_deg: float
    moment: float = 0.0
    target_C: float = 650.0
    yield_as: YieldAs = "0.2 % proof strength"
    at_once: bool = False
    size: float = 0.006
    radius: float = 0.010


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What it did, mrad closing; and what the rules say.

    Args:
        wedge: the heat.
        rotation_mrad: simulated, closing above 0.
        mean_mrad: published mean formula.
        confined_mrad: perfect confinement.
        front_C: lowest and highest temperature under the torch on its way.
    """

    wedge: Wedge
    rotation_mrad: float
    mean_mrad: float
    confined_mrad: float
    front_C: tuple[float, float]


def bar(wedge: Wedge) -> Body:
    """The meshed bar; its far edge (+y) is the wedge's base."""
    half = WEDGE * math.tan(math.radians(wedge.angle_deg) / 2) + 0.02
    x = graded(LENGTH, fine_spans=[(LENGTH / 2 - half, LENGTH / 2 + half)], fine=wedge.size,
               coarse=0.03, growth=1.4)  # fmt: skip
    y = graded(DEPTH, fine_spans=[(DEPTH - WEDGE - 0.01, DEPTH)], fine=wedge.size, coarse=0.012,
               growth=1.4)  # fmt: skip
    mesh = box_mesh(x, y, np.linspace(0.0, THICKNESS, 3))
    return Body(mesh=mesh, materials=(material("S355", yield_as=wedge.yield_as),))


def conductor_of(body: Body) -> Conductor:
    """Still air and radiation on every face."""
    face = FacePoints.of(body.mesh, body.mesh.boundary_facets())
    return Conductor(body, [Cooling(face=face, film=15.0, emissivity=0.7, ambient=20.0)])


def driven(wedge: Wedge, body: Body) -> TemperatureHistory:
    """From apex to base, the front held at the target."""
    mesh = body.mesh
    shares = np.linspace(0.0, 1.0, 13)
    base = 2.0 * WEDGE * math.tan(math.radians(wedge.angle_deg) / 2.0)
    deposits, tracks, probes = [], [], []
    for face, z in (("top", THICKNESS), ("bottom", 0.0)):
        facets = mesh.boundaries[face]
        flame = GaussianFlame(power=1000.0, radius=wedge.radius)
        deposits.append(Deposit(flame=flame, face=FacePoints.of(mesh, facets, order=5)))
        way = [(LENGTH / 2, float(DEPTH - WEDGE + s * WEDGE), z) for s in shares]
        tracks.append(Track(points=tuple(way), widths=tuple(float(s * base) for s in shares)))
        probes.append(FaceProbe.of(mesh, facets))
    drive = Drive(
        deposits=tuple(deposits),
        tracks=tuple(tracks),
        probes=tuple(probes),
        target=wedge.target_C,
        fastest=0.02,
        longest_dwell=300.0,
        name="wedge",
    )
    rest = Rest(until=60.0, cold=True, name="cooling")
    return collected(list(heat_along(conductor_of(body), [drive, rest], ambient=20.0)))


def at_once(wedge: Wedge, body: Body) -> TemperatureHistory:
    """The whole wedge raised to the target within a minute, then left to cool."""
    p, conductor = body.points, conductor_of(body)
    below = p[:, 1] - (DEPTH - WEDGE)
    half = np.tan(np.radians(wedge.angle_deg) / 2.0) * np.maximum(below, 0.0)
    held = np.flatnonzero((below >= -1e-9) & (np.abs(p[:, 0] - LENGTH / 2) <= half + 1e-9))
    now, time = np.full(len(p), 20.0), 0.0
    times, rows, energy = [0.0], [now], np.zeros(3)
    for step in range(60):
        level = 20.0 + (wedge.target_C - 20.0) * (step + 1) / 60.0
        taken = conductor.step(now, power=np.zeros(len(p)), duration=1.0, held=held,
                               held_at=np.full(held.size, level))  # fmt: skip
        now, time = taken.temperature, time + 1.0
        times.append(time)
        rows.append(now)
        energy += (taken.held, taken.stored, taken.lost)
    span = 1.0
    while now.max() > 60.0:
        taken = conductor.step(now, power=np.zeros(len(p)), duration=span)
        change = float(np.abs(taken.temperature - now).max())
        now, time = taken.temperature, time + span
        times.append(time)
        rows.append(now)
        allowed = min(30.0, 0.1 * (float(now.max()) - 20.0))
        span = min(span * min(max(allowed / change, 0.2), 1.5), 600.0)
    times.append(time + 3600.0)
    rows.append(np.full(len(p), 20.0))
    return TemperatureHistory(
        times=np.array(times),
        temperatures=np.stack(rows),
        energy=EnergyBalance(supplied=energy[0], stored=energy[1], lost=energy[2]),
        cold=(len(times) - 1,),
    )


def end_moment(body: Body, moment: float) -> Array:
    """Nodal forces (n, 3) N of a moment N m on both ends that shortens the far edge."""
    inertia = THICKNESS * DEPTH**3 / 12.0
    forces = np.zeros(body.points.shape)
    for face, sign in (("start", -1.0), ("end", 1.0)):
        points = FacePoints.of(body.mesh, body.mesh.boundaries[face])
        stress = -moment * (points.points[:, 1] - DEPTH / 2.0) / inertia
        forces[:, 0] += sign * points.gather(stress)
    return forces


def rotation(wedge: Wedge, *, geometry: str = "finite") -> Outcome:
    """Run one heat."""
    body = bar(wedge)
    history = at_once(wedge, body) if wedge.at_once else driven(wedge, body)
    loads = []
    if wedge.moment:
        plastic = YIELD * THICKNESS * DEPTH**2 / 4.0
        forces = end_moment(body, wedge.moment * plastic)
        loads.append(Load(forces=forces, released=float(history.times[-1])))
    moments = [(float(t), row, "") for t, row in zip(history.times, history.temperatures,
                                                     strict=True)]  # fmt: skip
    schedule = targets(
        points=body.points, moments=moments, supports=[rigid_modes(body)], loads=loads
    )
    last = None
    for moment in strain_along(body, schedule, solving=Solving(geometry=geometry, tolerance=1e-3)):
        last = moment
    assert last is not None

    def turn(x: float) -> float:
        face = np.abs(body.points[:, 0] - x) < 1e-9
        return float(np.polyfit(body.points[face, 1], last.displacement[face, 0], 1)[0])

    angle = math.radians(wedge.angle_deg)
    # the curves of the formula end at 1200 F
    upset = us_steel_upset_strain(min(wedge.target_C, CURVES_TO_C), YIELD)
    read = history.logs[0].on_the_way() if history.logs else history.temperatures.max(axis=1)
    return Outcome(
        wedge=wedge,
        rotation_mrad=1e3 * (turn(0.0) - turn(LENGTH)),
        mean_mrad=1e3 * published_mean_rotation(angle, upset, wedge.moment),
        confined_mrad=1e3 * confined_rotation(angle, upset),
        front_C=(float(read.min()), float(read.max())),
    )


ANGLES = (20.0, 30.0, 45.0, 60.0)
MOMENTS = (0.0, 1.0 / 6.0, 1.0 / 3.0)


def main_rows() -> list[Wedge]:
    """Angles and moments of the table."""
    return [Wedge(angle_deg=a, moment=m) for a in ANGLES for m in MOMENTS]


def other_rows() -> list[Wedge]:
    """What else decides: order of heating, yield curve, temperature."""
    base = Wedge(angle_deg=45.0)
    return [
        base,
        replace(base, at_once=True),
        replace(base, yield_as="2 % stress"),
        replace(base, target_C=550.0),
        replace(base, target_C=750.0),
        replace(base, size=0.0045),
        replace(base, radius=0.006, size=0.004),
        replace(base, moment=1.0 / 3.0, at_once=True),
    ]


def remark(outcome: Outcome) -> str:
    """What is known of why a row lies more than half off the mean."""
    ratio = outcome.rotation_mrad / outcome.mean_mrad
    if ratio < 0.5:
        return (
            "low: only the cold metal beside the front holds it, and the broader the flame the "
            "less it does; a flame of 6 mm radius gives half as much again (last table)"
        )
    if ratio > 1.5:
        return "high: not explained"
    return ""


def lines(outcomes: list[Outcome]) -> list[str]:
    """Table in Markdown."""
    result = [
        "| angle | moment / Mp | heated | yield | flame, element mm | front C | rotation mrad "
        "| mean formula | ratio | perfect confinement |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    for one in outcomes:
        wedge = one.wedge
        low, high = one.front_C
        how = "at once" if wedge.at_once else f"apex to base, {wedge.target_C:g} C"
        front = "-" if wedge.at_once else f"{low:.0f} to {high:.0f}"
        result.append(
            f"| {wedge.angle_deg:g} | {wedge.moment:.3f} | {how} | {wedge.yield_as} | "
            f"{1e3 * wedge.radius:g}, {1e3 * wedge.size:g} | {front} | "
            f"{one.rotation_mrad:.2f} | {one.mean_mrad:.2f} | "
            f"{one.rotation_mrad / one.mean_mrad:.2f} | {one.confined_mrad:.2f} |"
        )
    return result


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--coarse", action="store_true", help="three rows of the table only")
    parser.add_argument("--json", help="write the figures to this file")
    asked = parser.parse_args()
    rows = main_rows()
    if asked.coarse:
        rows = [rows[3], rows[6], rows[7]]
    with threadpool_limits(1):
        outcomes = [rotation(row) for row in rows]
        others = [] if asked.coarse else [rotation(row) for row in other_rows()]
    print("\n".join(lines(outcomes)))
    errors = [abs(one.rotation_mrad / one.mean_mrad - 1.0) for one in outcomes]
    print(f"\nmean absolute error against the mean formula {100 * np.mean(errors):.0f} %, "
          f"largest {100 * max(errors):.0f} %")  # fmt: skip
    for one in outcomes:
        if remark(one):
            print(f"- {one.wedge.angle_deg:g} degrees, {one.wedge.moment:.3f}: {remark(one)}")
    if others:
        print()
        print("\n".join(lines(others)))
    if asked.json:
        figures = [asdict(one) for one in (*outcomes, *others)]
        Path(asked.json).write_text(json.dumps(figures, indent=2) + "\n")


if __name__ == "__main__":
    main()
