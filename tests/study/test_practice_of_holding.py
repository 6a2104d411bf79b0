"""What every straightener knows, as qualitative tests (common practice, no source)."""

from functools import cache

import flamefe
from flamefe.study.case import BandHeat, OwnWeight, Rest, WedgeHeat

LENGTH, DEPTH, THICKNESS = 4000.0, 100.0, 10.0


def measured(result: flamefe.RunResult, name: str, cycle: int = -1) -> float:
    return {m.name: m.value for m in result.cycles[cycle].measures}[name]


def wedge(at: float = LENGTH / 2) -> WedgeHeat:
    return WedgeHeat(
        flame="torch", face="top", both_faces=True, apex_mm=[at, 25], base_mm=[at, DEPTH],
        angle_deg=45, target_C=600,
    )  # fmt: skip


def bar(length: float, **parts: object) -> flamefe.Case:
    return flamefe.Case(
        title="a bar of a conveyor frame",
        workpiece=flamefe.Bar(
            length_mm=length, depth_mm=DEPTH, thickness_mm=THICKNESS, material="S355"
        ),
        mesh=flamefe.Mesh(size_at_heat_mm=9, size_away_mm=100, layers=2),
        flames={"torch": flamefe.Flame(power_kW=1.2, radius_mm=18)},
        **parts,
    )


@cache
def hung(how: str) -> flamefe.RunResult:
    """A bar of 4 m, the wedge on its upper edge; resting on edge at its ends, or lying flat."""
    if how == "on edge":
        ends = [[x, 0, THICKNESS / 2] for x in (50, LENGTH - 50)]
        supports, down = [Rest(at_mm=ends, pushes="y", radius_mm=20)], "-y"
    else:
        stations = [50 + i * (LENGTH - 100) / 6 for i in range(7)]
        spread = [[x, y, 0] for x in stations for y in (10, 90)]
        supports, down = [Rest(at_mm=spread, pushes="z", radius_mm=20)], "-z"
    return flamefe.run(
        bar(LENGTH, heats=[wedge()], supports=supports, loads=[OwnWeight(direction=down)])
    )


def test_a_bar_that_hangs_closes_its_wedge_more_than_one_that_lies() -> None:
    """On edge its own weight presses the heated upper side together."""
    hanging, lying = (measured(hung(how), "closing rotation") for how in ("on edge", "flat"))
    assert lying > 0.2
    assert hanging > 1.05 * lying


def test_the_same_heat_a_second_time_gives_less() -> None:
    """A line across a plate, cooled, and the same line again."""
    lines = [
        flamefe.LineHeat(
            flame="torch", face="top", path_mm=[[30, 60], [130, 60]], speed_mm_s=4, cycle=cycle
        )
        for cycle in (1, 2)
    ]
    result = flamefe.run(
        flamefe.Case(
            title="a plate of a hopper",
            workpiece=flamefe.Plate(length_mm=160, width_mm=120, thickness_mm=12, material="S355"),
            mesh=flamefe.Mesh(size_at_heat_mm=9, size_away_mm=30, layers=3),
            flames={"torch": flamefe.Flame(power_kW=4, radius_mm=18)},
            heats=lines,
        )
    )
    first, both = (measured(result, "mean angular change", cycle) for cycle in (0, 1))
    assert first > 0.05
    assert 0.0 < both - first < 0.7 * first


@cache
def banded(held: bool) -> flamefe.RunResult:
    """A band across the whole depth from both sides; held: between two stops while it is hot."""
    stops = [
        Rest(face="start", pushes="x", released="after cooling"),
        Rest(face="end", pushes="-x", released="after cooling"),
    ]
    band = BandHeat(
        flame="torch", face="top", both_faces=True, from_mm=[150, 5], to_mm=[150, 95],
        width_mm=40, target_C=600,
    )  # fmt: skip
    return flamefe.run(bar(300.0, heats=[band], supports=stops if held else []))


def test_a_bar_that_is_not_held_keeps_its_length_and_a_held_one_comes_out_shorter() -> None:
    free, held = (measured(banded(held), "shortening") for held in (False, True))
    assert held > 0.05
    assert abs(free) < 0.25 * held
