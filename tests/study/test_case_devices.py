"""Devices in case files: what is accepted, and every fault of their places, times and forces."""

from typing import Any

import pytest

import flamefe
from flamefe.study.case import (
    Ballast,
    Case,
    Clamp,
    IBeam,
    InherentStrain,
    Jack,
    LineHeat,
    Plate,
    PressedSpot,
    Push,
    Rest,
    Spring,
    Strongback,
    Template,
    VacuumPlate,
)
from flamefe.study.case_flames import Flame
from flamefe.study.casefile import case_from_text, dump_case
from flamefe.study.faults import CaseError, Fault

PLATE = Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355")
LINE = LineHeat(flame="torch", face="top", path_mm=[[50, 100], [350, 100]], speed_mm_s=6)
FLAMES = {"torch": Flame(power_kW=7, radius_mm=18)}


def case(**parts: Any) -> Case:
    heats = parts.pop("heats", [LINE])
    flames = FLAMES if heats else {}
    return Case(title="Wall", workpiece=PLATE, flames=flames, heats=heats, **parts)


def faults_of(*supports: Any, **parts: Any) -> dict[str, Fault]:
    with pytest.raises(CaseError) as caught:
        case(supports=supports, **parts)
    return {fault.place: fault for fault in caught.value.faults}


EVERY = [
    Rest(at_mm=[[20, 20, 0], [380, 20, 0], [200, 180, 0]], capacity_kN=5),
    Rest(face="bottom", gap_mm=0.1, stiffness_kN_mm=100, released="hot"),
    Spring(face="end", direction="x", stiffness_kN_mm=50),
    Spring(at_mm=[[0, 100, 6]], direction="y", stiffness_kN_mm=5, fitted="hot"),
    Jack(at_mm=[200, 0, 6], pushes="y", force_kN=4),
    Jack(face="far", pushes="-y", gap_mm=-0.2, stiffness_kN_mm=80, released="after cooling"),
    Jack(at_mm=[400, 100, 6], against_mm=[0, 100, 6]),
    VacuumPlate(face="bottom", suction_kPa=80),
    Template(face="bottom", holes_mm=[[200, 100, 30]], holds="inside holes"),
    Strongback(at_mm=[[50, 50, 0], [200, 50, 0], [350, 50, 0]], direction="z", stiffness_kN_mm=20),
    PressedSpot(face="bottom", at_mm=[200, 100], radius_mm=40),
]
LOADS = [
    Ballast(mass_kg=20, face="top"),
    Ballast(mass_kg=5, at_mm=[200, 100, 12], released="hot"),
]


def test_every_kind_survives_writing_and_reading() -> None:
    made = case(supports=EVERY, loads=LOADS)
    again = case_from_text(dump_case(made))
    assert again == made
    assert [support.kind for support in again.supports] == [support.kind for support in EVERY]


def test_all_faults_of_devices_come_at_once() -> None:
    found = faults_of(
        Rest(),
        Rest(at_mm=[[0, 0, 0]], face="bottom"),
        Rest(face="top"),
        Rest(at_mm=[[0, 0, 0], [0, 250, 0]]),
        Jack(at_mm=[0, 0, 0]),
        Jack(at_mm=[0, 0, 0], against_mm=[400, 0, 0], pushes="x"),
        Jack(at_mm=[0, 0, 0], against_mm=[0, 0, 0]),
        Jack(face="far", against_mm=[0, 0, 0]),
        Jack(at_mm=[0, 0, 0], pushes="y", force_kN=2, gap_mm=1, stiffness_kN_mm=3),
        Template(face="bottom", holes_mm=[[200, 100, 10], [500, 100, 10]]),
        PressedSpot(face="bottom", at_mm=[200, -5], radius_mm=10, fitted="hot"),
        Strongback(at_mm=[[0, 0, 0], [200, 90, 0], [400, 0, 0]], direction="x", stiffness_kN_mm=1),
        Clamp(face="start", fitted="hot", released="hot"),
        Push(face="start", direction="x", displacement_mm=[[1, 1]]),
        VacuumPlate(face="under", suction_kPa=80),
        loads=[Ballast(mass_kg=1), Ballast(mass_kg=1, face="bottom")],
    )
    assert set(found) == {
        "supports[0]", "supports[1].face", "supports[2].pushes", "supports[3].at_mm[1]",
        "supports[4]", "supports[5].pushes", "supports[6].against_mm", "supports[7].against_mm",
        "supports[8].gap_mm", "supports[8].stiffness_kN_mm",
        "supports[9].holes_mm[1]", "supports[10].at_mm", "supports[10].released",
        "supports[11].at_mm[1]", "supports[11].direction", "supports[12].released",
        "supports[13].face", "supports[14].face", "loads[0]", "loads[1].direction",
    }  # fmt: skip
    assert "bottom" in found["supports[14].face"].allowed
    assert found["supports[2].pushes"].allowed == '"-z"'


def test_hot_needs_a_heat() -> None:
    box = InherentStrain(from_mm=[0, 0, 6], to_mm=[400, 200, 12], strain=[-1e-3, 0, 0, 0, 0, 0])
    found = faults_of(
        Rest(face="bottom", released="hot"), Clamp(face="start", fitted="hot"),
        PressedSpot(face="bottom", at_mm=[200, 100], radius_mm=10),
        heats=[], inherent_strain=[box],
    )  # fmt: skip
    assert set(found) == {"supports[0].released", "supports[1].fitted"}


@pytest.mark.parametrize(
    ("make", "name", "value"),
    [
        (lambda v: VacuumPlate(face="bottom", suction_kPa=v), "suction_kPa", 120),
        (lambda v: Rest(at_mm=[[0, 0, 0]], gap_mm=v), "gap_mm", -1),
        (lambda v: Spring(face="end", direction="x", stiffness_kN_mm=v), "stiffness_kN_mm", 0),
        (lambda v: Jack(face="end", pushes="x", force_kN=v), "force_kN", -3),
        (lambda v: Rest(face="bottom", pushes=v), "pushes", "up"),
        (lambda v: Ballast(mass_kg=v, face="top"), "mass_kg", 0),
        (lambda v: Rest(face="bottom", released=v), "released", "cold"),
    ],
)
def test_values_out_of_range(make: Any, name: str, value: Any) -> None:
    with pytest.raises(CaseError) as caught:
        make(value)
    assert [fault.path for fault in caught.value.faults] == [(name,)]


def test_lines_of_a_file_are_told() -> None:
    text = dump_case(case()) + '[[supports]]\nkind = "jack"\nat_mm = [0, 0, 0]\nforce_kN = -1\n'
    with pytest.raises(CaseError) as caught:
        case_from_text(text, "wall.toml")
    assert {fault.place for fault in caught.value.faults} == {"supports[0]", "supports[0].force_kN"}
    assert all(fault.line is not None for fault in caught.value.faults)


def test_a_device_off_the_skin_is_refused_before_solving() -> None:
    """A rest named in the middle of a beam's height would silently sit under its flange."""
    case = flamefe.Case(
        title="a rest in the air",
        workpiece=IBeam(length_mm=500, height_mm=200, width_mm=100, web_thickness_mm=8,
                        flange_thickness_mm=10, material="S355"),
        mesh=flamefe.Mesh(size_away_mm=100, layers=1),
        supports=[Rest(at_mm=[[100, 50, 100], [400, 50, 0]])],
        loads=[flamefe.OwnWeight()],
    )  # fmt: skip
    with pytest.raises(CaseError, match="100 mm off the skin"):
        flamefe.run(case)
