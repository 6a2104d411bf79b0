"""Single heats by the engine: the hidden truth of the virtual workshop.

    python benchmarks/workshop_runs.py [--processes 2] [--check]

One heat each on a short piece of what the workshop's jobs are made of, given twice on the same
place with full cooling in between:

- girder: a wedge through the web of an I section with a band over its flange;
- column: a line across one side of a square tube;
- ring: a line along the wall of a hoop;
- panel: a spot on the sheet of a bay.

Each by the temperature under the torch (net power of the flame by -30, 0 and +30 %, temperature by
-50, 0 and +50 K, yield strength by -15, 0 and +20 %), free and held (girder and column by jacks
that press the heated side together until it is cold, the panel by its edges, which its stiffeners
keep in place; a hoop is not held); all but the wedge also by the clock, at the speed or time that
the nominal flame needs. What stands in `data/workshop_runs.json` was made by this script; a run
that is in there already is left out. --check makes the nominal ones again and compares.

The meshes are coarse: hexes of half the flame's radius. The truth of a workshop that is played
must be physical in how it answers to flame, temperature, steel and holding, not exact.
"""

import argparse
import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from time import process_time
from typing import Any

from threadpoolctl import threadpool_limits

from flamefe.basics.errors import FlamefeError
from flamefe.planning.rings import strip_effect
from flamefe.study.case import Case, Flame, Guide, Mesh, OwnMaterial, Plate, Solve, SpotHeat
from flamefe.study.case_beams import IBeam
from flamefe.study.case_devices import Jack, Rest
from flamefe.study.case_heats import HeldLine, LineHeat, WedgeHeat
from flamefe.study.case_holding import Points
from flamefe.study.case_patterns import BandHeat
from flamefe.study.case_tubes import RectangularTube
from flamefe.study.heat_effects import member_effect, sheet_effect
from flamefe.study.run import run

FILE = Path(__file__).parent / "data" / "workshop_runs.json"
POWERS, COLDER, STRENGTHS = (0.7, 1.0, 1.3), (-50.0, 0.0, 50.0), (0.85, 1.0, 1.2)
CLOCK_POWERS = (0.7, 0.85, 1.0, 1.15, 1.3)
LINE = 0.16
"""Length of the ring's line, which is the height of the hoop, m."""


@dataclass(frozen=True, kw_only=True)
class Given:
    """What a run was given.

    Args:
        part: "girder", "column", "ring" or "panel".
        by: "temperature" or "clock".
        held: whether devices hold the part.
        power: net power by its nominal one.
        warmer: temperature under the torch less its nominal one, K.
        strength: yield strength by that of S355.
    """

    part: str
    by: str
    held: bool
    power: float
    warmer: float
    strength: float


def wanted() -> Iterator[Given]:
    """Every run of the table: power by temperature, and strength at their middle."""
    for part in ("girder", "column", "ring", "panel"):
        for held in (False, True) if part != "ring" else (False,):
            for power in POWERS:
                for warmer in COLDER:
                    yield Given(
                        part=part, by="temperature", held=held, power=power, warmer=warmer,
                        strength=1.0,
                    )  # fmt: skip
            for strength in STRENGTHS[::2]:
                yield Given(
                    part=part, by="temperature", held=held, power=1.0, warmer=0.0,
                    strength=strength,
                )  # fmt: skip
        if part == "girder":
            continue
        for held in (False, True) if part != "ring" else (False,):
            for power in CLOCK_POWERS:
                yield Given(part=part, by="clock", held=held, power=power, warmer=0.0, strength=1.0)
            for strength in STRENGTHS[::2]:
                yield Given(
                    part=part, by="clock", held=held, power=1.0, warmer=0.0, strength=strength
                )


def case_of(given: Given) -> Case:
    """The case of a run."""
    makers = {"girder": girder, "column": column, "ring": ring, "panel": panel}
    workpiece, size, layers, flame, target, heats, supports = makers[given.part](given)
    return Case(
        title=f"{given.part}, one heat",
        workpiece=workpiece,
        materials={
            "steel": OwnMaterial(base="S355", yield_strength_MPa=355.0 * given.strength)
        },
        mesh=Mesh(size_at_heat_mm=size, layers=layers),
        flames={"torch": Flame(power_kW=flame[0] * given.power, radius_mm=flame[1])},
        heats=[heat for cycle in (1, 2) for heat in heats(target + given.warmer, cycle)],
        supports=supports,
        solve=Solve(geometry="small"),
    )  # fmt: skip


def pressed(length: float, across: list[float], height: float, force: float) -> list[Any]:
    """Rests below and jacks above the webs that bend the middle: its top is pressed together."""
    middle = 0.5 * length
    y = across[0]
    return [
        Rest(at_mm=[[x, web, 0] for x in (15, length - 15) for web in across], radius_mm=14),
        Points(at_mm=[[0, y, 0]], directions=["x", "y"]),
        Points(at_mm=[[length, y, 0]], directions=["y"]),
        Points(at_mm=[[0, y, height]], directions=["y"]),
        *(
            Jack(
                at_mm=[at, web, height], pushes="-z", force_kN=force, radius_mm=14,
                released="after cooling",
            )
            for at in (middle - 90, middle + 90)
            for web in across
        ),
    ]  # fmt: skip


def girder(given: Given) -> tuple[Any, ...]:
    """A wedge in the web with a band over the flange."""
    length, width, height = 560.0, 82.0, 160.0
    middle = 0.5 * length

    def heats(target: float, cycle: int) -> list[Any]:
        return [
            WedgeHeat(
                flame="torch", face="web left", both_faces=True, apex_mm=[middle, 40],
                base_mm=[middle, 142], angle_deg=25, target_C=target, cool_to_C=300, cycle=cycle,
            ),
            BandHeat(
                flame="torch", face="top of top flange", from_mm=[middle, 4],
                to_mm=[middle, width - 4], width_mm=42, target_C=target, cycle=cycle,
            ),
        ]  # fmt: skip

    piece = IBeam(
        length_mm=length, height_mm=height, width_mm=width, web_thickness_mm=6,
        flange_thickness_mm=8, material="steel",
    )  # fmt: skip
    hold = pressed(length, [0.5 * width], height, 30.0) if given.held else []
    return piece, 12.0, 1, (1.5, 18.0), 600.0, heats, hold


def column(given: Given) -> tuple[Any, ...]:
    """A line across one side of a square tube."""
    length, width = 600.0, 100.0
    middle = 0.5 * length

    def heats(target: float, cycle: int) -> list[Any]:
        path = [[middle, 8], [middle, width - 8]]
        if given.by == "clock":
            return [
                LineHeat(
                    flame="torch", face="top outside", path_mm=path, speed_mm_s=2.4, cycle=cycle
                )
            ]
        return [
            HeldLine(flame="torch", face="top outside", path_mm=path, target_C=target, cycle=cycle)
        ]

    piece = RectangularTube(
        length_mm=length, height_mm=width, width_mm=width, thickness_mm=6, material="steel"
    )
    hold = pressed(length, [6.0, width - 6.0], width, 8.0) if given.held else []
    return piece, 9.0, 1, (1.8, 18.0), 600.0, heats, hold


def ring(given: Given) -> tuple[Any, ...]:
    """A line along the wall of a hoop; so short a piece of it counts as flat."""

    def heats(target: float, cycle: int) -> list[Any]:
        path = [[70, 90], [70 + 1e3 * LINE, 90]]
        if given.by == "clock":
            return [LineHeat(flame="torch", face="top", path_mm=path, speed_mm_s=4.2, cycle=cycle)]
        return [HeldLine(flame="torch", face="top", path_mm=path, target_C=target, cycle=cycle)]

    piece = Plate(length_mm=300, width_mm=180, thickness_mm=12, material="steel")
    return piece, 9.0, 2, (3.4, 18.0), 580.0, heats, []


def panel(given: Given) -> tuple[Any, ...]:
    """A spot on a sheet."""

    def heats(target: float, cycle: int) -> list[Any]:
        if given.by == "clock":
            return [SpotHeat(flame="torch", face="top", at_mm=[80, 80], time_s=6.5, cycle=cycle)]
        return [SpotHeat(flame="torch", face="top", at_mm=[80, 80], target_C=target, cycle=cycle)]

    piece = Plate(length_mm=160, width_mm=160, thickness_mm=4, material="steel")
    faces = ("start", "end", "near", "far")
    hold: list[Any] = []
    if given.held:
        hold = [Guide(face=face, released="after cooling") for face in faces]
        hold.append(Points(at_mm=[[0, 0, 0], [160, 0, 0], [0, 160, 0]], directions=["z"]))
    return piece, 8.0, 2, (1.7, 16.0), 600.0, heats, hold


def made(given: Given) -> dict[str, Any]:
    """A row of the table.

    turn_mrad: of the part towards the heated side; shortening_mm: at the centroid; area_mm2: taken
    off a sheet; repeat: share of that which the second heat on the place gave.
    """
    start = process_time()
    with threadpool_limits(1):
        result = run(case_of(given))
    found: dict[str, float] = {}
    if given.part in ("girder", "column"):
        effect = member_effect(result, kind="heat").effect
        repeat, extent = effect.repeats[1], effect.extent
    else:
        sheet = sheet_effect(result, kind="heat")
        effect = strip_effect(sheet, width=LINE)
        repeat, extent = sheet.repeats[1], effect.extent
        found["area_mm2"] = round(-1e6 * sheet.area_change, 4)
    if given.part != "panel":
        found["turn_mrad"] = round(1e3 * effect.rotation_y, 5)
        found["shortening_mm"] = round(1e3 * effect.shortening, 6)
    return {
        **asdict(given),
        **found,
        "repeat": repeat,
        "extent_mm": round(1e3 * extent, 1),
        "peak_C": round(float(result.heat.temperatures.max()), 1),
        "hexes": int(result.mesh.t.shape[1]),
        "heat_steps": int(result.heat.times.size),
        "straining_increments": int(result.strain.times.size),
        "cpu_s": round(process_time() - start, 1),
    }


def key(row: dict[str, Any]) -> tuple[Any, ...]:
    """What tells runs apart."""
    return tuple(row[name] for name in Given.__annotations__)


def kept() -> list[dict[str, Any]]:
    """Rows of the stored table."""
    return list(json.loads(FILE.read_text("utf-8"))["runs"]) if FILE.exists() else []


def store(rows: list[dict[str, Any]]) -> None:
    """Write the table with where it comes from."""
    order = {key(asdict(one)): number for number, one in enumerate(wanted())}
    rows = sorted(rows, key=lambda row: order.get(key(row), len(order)))
    about = {
        "made_by": "benchmarks/workshop_runs.py, which holds the cases",
        "flamefe": version("flamefe"),
        "material": "S355 of the package, its yield curve times strength; small geometry",
        "cpu_s": round(sum(row["cpu_s"] for row in rows), 1),
    }
    lines = ",\n  ".join(json.dumps(row) for row in rows)
    FILE.write_text(f'{{"about": {json.dumps(about, indent=1)},\n "runs": [\n  {lines}\n]}}\n')


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--check", action="store_true", help="make the nominal runs again")
    asked = parser.parse_args()
    rows = kept()
    there = {key(row): row for row in rows}
    todo = [one for one in wanted() if key(asdict(one)) not in there]
    if asked.check:
        todo = [one for one in wanted() if one.power == one.strength == 1.0 and one.warmer == 0.0]
    worst = 0.0
    with ProcessPoolExecutor(asked.processes, mp_context=get_context("spawn")) as pool:
        waiting = {pool.submit(made, one): one for one in todo}
        for done in as_completed(waiting):
            given = waiting[done]
            try:
                row = done.result()
            except FlamefeError as error:
                print(f"FAILED {given}: {error}", flush=True)
                continue
            print(row, flush=True)
            if asked.check:
                name = "area_mm2" if given.part == "panel" else "turn_mrad"
                worst = max(worst, abs(row[name] / there[key(row)][name] - 1.0))
            else:
                rows.append(row)
                store(rows)
    if asked.check:
        print(f"largest difference from the stored nominal runs: {100 * worst:.3f} %")
        if worst > 0.02:
            raise SystemExit(1)


if __name__ == "__main__":
    main()
