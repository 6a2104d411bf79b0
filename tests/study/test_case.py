"""Cases in Python: checks of one value, and of values against each other."""

import math
import pickle
from dataclasses import FrozenInstanceError, replace
from typing import Any

import numpy as np
import pytest

from flamefe.study.case import (
    Bar,
    Case,
    CaseError,
    Clamp,
    Flame,
    Force,
    Guide,
    InherentStrain,
    Limits,
    LineHeat,
    Mesh,
    MeshFile,
    OwnMaterial,
    OwnWeight,
    Plate,
    Points,
    Pressure,
    Push,
    Solve,
    SpotHeat,
    Surroundings,
    burn_time_s,
    check_faces,
    cool_to_C,
    mesh_plan,
    notes,
    path_length_mm,
)
from flamefe.study.faults import Fault, nearest, shown
from flamefe.workpiece.mesh import plate_mesh
from flamefe.workpiece.standard import material, material_names

PLATE = Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355")
TORCH = Flame(power_kW=7, radius_mm=18)
LINE = LineHeat(flame="torch", face="top", path_mm=[[50, 100], [350, 100]], speed_mm_s=6)
SPOT = SpotHeat(flame="torch", face="top", at_mm=[200, 100], time_s=20)


def case(**parts: Any) -> Case:
    whole = {"title": "t", "workpiece": PLATE, "flames": {"torch": TORCH}, "heats": [LINE]}
    return Case(**{**whole, **parts})


def faults_of(**parts: Any) -> dict[str, Fault]:
    with pytest.raises(CaseError) as caught:
        case(**parts)
    return {fault.place: fault for fault in caught.value.faults}


def test_case_is_frozen_and_replace_checks() -> None:
    made = case()
    with pytest.raises(FrozenInstanceError):
        made.title = "other"  # type: ignore[misc]
    with pytest.raises(CaseError):
        replace(made, heats=[replace(LINE, flame="burner")])
    with pytest.raises(CaseError):
        replace(PLATE, thickness_mm=-1)
    with pytest.raises(CaseError):
        Plate(400, 200, 12, "S355")  # type: ignore[misc]
    assert replace(PLATE, thickness_mm=np.float32(8)).thickness_mm == 8
    assert replace(LINE, path_mm=np.array([[0, 0], [3, 4]])).path_mm == ((0, 0), (3, 4))


def test_case_survives_pickling() -> None:
    assert pickle.loads(pickle.dumps(case())) == case()
    with pytest.raises(CaseError) as caught:
        case(title=3)
    again = pickle.loads(pickle.dumps(caught.value))
    assert again.faults == caught.value.faults


@pytest.mark.parametrize(
    ("make", "low", "high"),
    [
        (lambda v: replace(TORCH, power_kW=v), 1e-6, 200),
        (lambda v: replace(TORCH, radius_mm=v), 1, 200),
        (lambda v: replace(PLATE, length_mm=v), 5, 30_000),
        (lambda v: replace(PLATE, width_mm=v), 5, 10_000),
        (lambda v: replace(PLATE, thickness_mm=v), 0.5, 300),
        (lambda v: replace(LINE, speed_mm_s=v), 0.1, 200),
        (lambda v: replace(SPOT, time_s=v), 0.1, 3600),
        (lambda v: Surroundings(ambient_C=v), -50, 300),
        (lambda v: Surroundings(film_W_m2K=v), 0, 20_000),
        (lambda v: Surroundings(emissivity=v), 0, 1),
        (lambda v: Solve(heat_step_s=v), 0.001, 600),
        (lambda v: Solve(tolerance=v), 1e-8, 0.05),
        (lambda v: Solve(largest_temperature_step_C=v), 1, 500),
        (lambda v: Mesh(size_at_heat_mm=v), 0.2, 1000),
    ],
)
def test_ranges_of_numbers(make: Any, low: float, high: float) -> None:
    make(low)
    make(high)
    below = -1e-9 if low == 1e-6 else low - 1e-9 - 1e-9 * abs(low)
    for bad in (below, high * (1 + 1e-9), math.nan, math.inf, -math.inf, True, "6", [1]):
        with pytest.raises(CaseError) as caught:
            make(bad)
        assert len(caught.value.faults) == 1


def test_faults_of_parts_and_contradictions_come_together() -> None:
    found = faults_of(
        workpiece={"kind": "plate", "length_mm": 400, "width_mm": 200, "thickness": 12,
                   "material": "S355X"},
        heats=[{"kind": "line", "flame": "burner", "face": "top", "path_mm": [[50, 300], [1, 1]]}],
        supports=[Clamp(face="left")],
        speed=3,
    )  # fmt: skip
    assert set(found) == {
        "workpiece.thickness", "workpiece.thickness_mm", "workpiece.material", "heats[0].flame",
        "heats[0].path_mm[0]", "heats[0].speed_mm_s", "supports[0].face", "speed",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("face", "point", "words"),
    [
        ("top", [401, 100], "1 mm beyond x = 400"),
        ("bottom", [-2, 203], "2 mm before x = 0 and 3 mm beyond y = 200"),
        ("near", [10, 13], "1 mm beyond z = 12"),
        ("far", [410, 12], "10 mm beyond x = 400"),
        ("start", [210, 0], "10 mm beyond y = 200"),
        ("end", [0, -0.5], "0.5 mm before z = 0"),
    ],
)
def test_flame_that_leaves_the_part(face: str, point: list[float], words: str) -> None:
    found = faults_of(heats=[replace(SPOT, face=face, at_mm=point)])
    assert list(found) == ["heats[0].at_mm"]
    assert words in found["heats[0].at_mm"].given


def test_flame_may_stand_on_the_very_edge() -> None:
    for face, ends in (("top", (400, 200)), ("near", (400, 12)), ("end", (200, 12))):
        case(heats=[replace(SPOT, face=face, at_mm=p) for p in ((0, 0), ends)])


def test_path_on_a_bar_counts_its_depth() -> None:
    bar = Bar(length_mm=400, depth_mm=60, thickness_mm=10, material="S235")
    found = faults_of(workpiece=bar)
    assert "40 mm beyond y = 60" in found["heats[0].path_mm[0]"].given
    assert set(found) == {"heats[0].path_mm[0]", "heats[0].path_mm[1]"}


@pytest.mark.parametrize("path", [[[1, 1]], [[1, 1], [1, 1]], [[0, 0], [5, 5], [5, 5]], []])
def test_path_needs_a_length(path: list[list[float]]) -> None:
    with pytest.raises(CaseError, match="path_mm"):
        replace(LINE, path_mm=path)


def test_unknown_names_get_the_nearest() -> None:
    assert '"torch"' in faults_of(heats=[replace(LINE, flame="troch")])["heats[0].flame"].advice
    assert '"top"' in faults_of(heats=[replace(LINE, face="Top ")])["heats[0].face"].advice
    found = faults_of(workpiece=replace(PLATE, material="s 355"))["workpiece.material"]
    assert '"S355"' in found.advice
    found = faults_of(supports=[Guide(face="botom")])["supports[0].face"]
    assert '"bottom"' in found.advice


def test_every_ready_material_can_be_named() -> None:
    for name in material_names():
        case(workpiece=replace(PLATE, material=name), limits=Limits(temperature_C=140))


@pytest.mark.parametrize(
    ("cycles", "bad"),
    [((1, 1, 2), None), ((1, 2, 3), None), ((2,), 0), ((1, 3), 1), ((1, 2, 1), 2), ((1, 1, 4), 2)],
)
def test_cycles_are_numbered_in_rising_order(cycles: tuple[int, ...], bad: int | None) -> None:
    heats = [replace(LINE, cycle=number) for number in cycles]
    if bad is None:
        assert len(case(heats=heats).heats) == len(cycles)
    else:
        assert list(faults_of(heats=heats)) == [f"heats[{bad}].cycle"]


def test_cooling_between_heats() -> None:
    for ambient, cool_to, good in ((20, 20.1, True), (20, 20, False), (30, 25, False)):
        parts = {"surroundings": Surroundings(ambient_C=ambient),
                 "heats": [replace(LINE, cool_to_C=cool_to)]}  # fmt: skip
        if good:
            assert cool_to_C(case(**parts), case(**parts).heats[0]) == cool_to
        else:
            assert list(faults_of(**parts)) == ["heats[0].cool_to_C"]
    assert cool_to_C(case(), LINE) == 30
    assert list(faults_of(heats=[replace(LINE, cool_to_C=651)])) == ["heats[0].cool_to_C"]
    case(heats=[replace(LINE, cool_to_C=649)])
    found = faults_of(heats=[replace(LINE, cool_to_C=510)], limits=Limits(temperature_C=500))
    assert "500" in found["heats[0].cool_to_C"].given


def test_heat_step_against_burning_time() -> None:
    case(heats=[LINE, SPOT], solve=Solve(heat_step_s=20))
    found = faults_of(heats=[LINE, replace(SPOT, name="last")], solve=Solve(heat_step_s=20.1))
    assert list(found) == ["solve.heat_step_s"]
    assert 'heat 2 ("last")' in found["solve.heat_step_s"].given
    assert found["solve.heat_step_s"].allowed == "up to 20 s"
    found = faults_of(heats=[replace(SPOT, time_s=3600)], solve=Solve(heat_step_s=0.001))
    assert "3600000 steps" in found["solve.heat_step_s"].given


def test_limit_against_the_tables() -> None:
    for name in ("S355", "5083-O"):
        end = material(name).valid_to_C
        workpiece = replace(PLATE, material=name)
        case(workpiece=workpiece, limits=Limits(temperature_C=end))
        found = faults_of(workpiece=workpiece, limits=Limits(temperature_C=end + 1))
        assert list(found) == ["limits.temperature_C"]
    warm = Surroundings(ambient_C=100)
    found = faults_of(surroundings=warm, limits=Limits(temperature_C=100))
    assert list(found) == ["limits.temperature_C"]


def test_size_at_heat_must_see_the_flame() -> None:
    case(mesh=Mesh(size_at_heat_mm=12))
    found = faults_of(mesh=Mesh(size_at_heat_mm=12.01))
    assert list(found) == ["mesh.size_at_heat_mm"]
    small = {"torch": TORCH, "small": Flame(power_kW=1, radius_mm=6)}
    case(flames=small, mesh=Mesh(size_at_heat_mm=12))  # the small flame is not in use
    heats = [LINE, replace(SPOT, flame="small")]
    assert list(faults_of(flames=small, heats=heats, mesh=Mesh(size_at_heat_mm=12)))
    found = faults_of(mesh=Mesh(size_at_heat_mm=6, size_away_mm=5))
    assert list(found) == ["mesh.size_away_mm"]


def test_mesh_plan_counts_the_nodes_of_the_mesh_that_is_made() -> None:
    far = replace(SPOT, face="far", at_mm=[300, 6])
    for mesh in (Mesh(), Mesh(size_at_heat_mm=9, size_away_mm=25, layers=3)):
        made = case(mesh=mesh, heats=[LINE, far])
        plan = mesh_plan(made)
        assert plan is not None
        real = plate_mesh(
            0.4, 0.2, 0.012, heated={"top": [np.array(LINE.path_mm) / 1e3],
                                     "far": [np.array([far.at_mm]) / 1e3]},
            reach=plan.reach_mm / 1e3, size_at_heat=plan.size_at_heat_mm / 1e3,
            size_away=plan.size_away_mm / 1e3, layers=plan.layers,
        )  # fmt: skip
        assert plan.nodes == real.p.shape[1]


def test_absurd_meshes_are_refused_with_the_estimate() -> None:
    big = replace(PLATE, length_mm=30_000, width_mm=10_000)
    found = faults_of(workpiece=big, mesh=Mesh(size_at_heat_mm=6, size_away_mm=6, layers=40))
    assert "nodes" in found["mesh.size_at_heat_mm"].given
    found = faults_of(mesh=Mesh(size_at_heat_mm=0.5))
    assert "up to 400000 nodes" in found["mesh.size_at_heat_mm"].allowed


def test_histories_must_rise() -> None:
    for pairs in ([[5, 1], [5, 2]], [[5, 1], [4, 2]], [[-1, 0]], [], [[1, 2, 3]]):
        with pytest.raises(CaseError, match="displacement_mm"):
            Push(face="end", direction="z", displacement_mm=pairs)
        with pytest.raises(CaseError, match="history"):
            OwnWeight(history=pairs)


def test_two_supports_must_not_prescribe_the_same_movement() -> None:
    push = Push(face="end", direction="z", displacement_mm=[[1, 1]])
    case(supports=[Clamp(face="start"), push, replace(push, direction="y")])
    case(supports=[Clamp(face="start"), Guide(face="start")])
    for others in ([Clamp(face="end"), push], [push, Clamp(face="end")], [push, push],
                   [Guide(face="end"), replace(push, direction="x")]):  # fmt: skip
        assert "supports[1].face" in faults_of(supports=others)


def test_points_and_boxes_off_the_part() -> None:
    found = faults_of(
        supports=[Points(at_mm=[[0, 0, 0], [0, 0, 13]], directions=["z"])],
        loads=[Force(at_mm=[400, 200, -1], force_N=[0, 0, 1]), Pressure(face="up", pressure_kPa=1)],
        inherent_strain=[
            InherentStrain(from_mm=[0, 0, 12], to_mm=[9, 9, 15], strain=[0] * 6),
            InherentStrain(from_mm=[0, 0, 5], to_mm=[9, 0, 5], strain=[0] * 6),
            InherentStrain(from_mm=[-5, -5, 6], to_mm=[900, 900, 60], strain=[-0.001] + [0] * 5),
        ],
    )
    assert set(found) == {
        "supports[0].at_mm[1]", "loads[0].at_mm", "loads[1].face", "inherent_strain[0]",
        "inherent_strain[1].to_mm",
    }  # fmt: skip
    assert "y and z" in found["inherent_strain[1].to_mm"].given


def test_case_without_anything_to_do() -> None:
    assert list(faults_of(heats=[])) == ["heats"]
    case(heats=[], flames={}, loads=[OwnWeight()])


def test_faces_of_a_mesh_file_are_checked_when_known() -> None:
    made = case(
        workpiece=MeshFile(file="part.msh", material="S355"),
        supports=[Clamp(face="bolts"), Guide(face="bolts"), Clamp(face="bolt")],
        loads=[Pressure(face="skin", pressure_kPa=1)],
    )
    found = {f.place: f for f in check_faces(made, ["top", "skin2"], ["bolts"])}
    assert set(found) == {"supports[1].face", "supports[2].face", "loads[0].face"}
    assert "no normal" in found["supports[1].face"].given
    assert '"bolts"' in found["supports[2].face"].advice
    assert [f.place for f in check_faces(made, ["skin"], ["bolts", "bolt"])] == [
        "heats[0].face",
        "supports[1].face",
    ]
    assert mesh_plan(made) is None


def test_notes_are_no_faults() -> None:
    assert notes(case()) == ()
    flames = {"torch": TORCH, "spare": TORCH}
    materials = {"mill plate": OwnMaterial(base="S355")}
    said = notes(case(flames=flames, materials=materials, solve=Solve(heat_step_s=2)))
    assert len(said) == 3
    assert "spare" in said[0]
    assert "mill plate" in said[1]
    assert "0.67 flame radii" in said[2]
    assert "coarse" in notes(case(mesh=Mesh(size_at_heat_mm=11)))[0]
    assert "above" in notes(case(limits=Limits(temperature_C=700)))[0]


def test_where_a_flame_is_when() -> None:
    bent = replace(LINE, path_mm=[[0, 0], [30, 40], [30, 100]], speed_mm_s=10)
    assert path_length_mm(bent) == 110
    assert burn_time_s(bent) == 11
    assert path_length_mm(SPOT) == 0
    assert burn_time_s(SPOT) == 20


def test_values_are_shown_without_being_obeyed() -> None:
    assert shown("\x1b[2J" + "x" * 200).isprintable()
    assert len(shown("x" * 10_000)) < 100
    assert shown([[1]] * 20) == "a list of 20"
    deep: list[Any] = []
    for _ in range(5000):
        deep = [deep]
    assert shown(deep) == "a list of 1"


def test_nearest_words() -> None:
    assert nearest("thickness", ["thickness_mm", "length_mm"]) == "thickness_mm"
    assert nearest("POWER_kw", ["power_kW"]) == "power_kW"
    assert nearest("", ["power_kW"]) is None
    assert nearest("x", []) is None
