"""Runs with devices: what practice knows, what statics allows, what is told of each."""

import dataclasses
import json
from functools import cache
from typing import Any

import jsonschema
import numpy as np
import pytest

import flamefe
from flamefe.reporting.document import result_document, result_schema
from flamefe.reporting.held import device_words
from flamefe.straining.element import StrainOperator
from flamefe.straining.restraint import GRAVITY
from flamefe.study.case import (
    Ballast,
    Force,
    Guide,
    Jack,
    Points,
    PressedSpot,
    Rest,
    Spring,
    Strongback,
    Template,
    Traction,
    VacuumPlate,
    WedgeHeat,
)
from flamefe.study.casefile import load_case
from flamefe.study.cautions import cautions_for
from flamefe.study.examples import example_path
from flamefe.study.parts import material_of

SPAN, DEPTH, THICKNESS = 560.0, 100.0, 10.0
BEHIND = Rest(at_mm=[[20, 0, 5], [580, 0, 5]], pushes="y", capacity_kN=15)


def bar(**parts: Any) -> flamefe.Case:
    """A wedge heat on a bar; the base lies on the far edge, so it closes towards +y."""
    return flamefe.Case(
        title="a wedge on a bar",
        workpiece=flamefe.Bar(length_mm=600, depth_mm=DEPTH, thickness_mm=10, material="S355"),
        mesh=flamefe.Mesh(size_at_heat_mm=9, size_away_mm=40, layers=2),
        flames={"torch": flamefe.Flame(power_kW=1.2, radius_mm=18)},
        heats=[
            WedgeHeat(
                flame="torch", face="top", both_faces=True, apex_mm=[300, 25],
                base_mm=[300, 100], angle_deg=45, target_C=600,
            )
        ],
        **parts,
    )  # fmt: skip


@cache
def wedge(kind: str) -> flamefe.RunResult:
    place: dict[str, Any] = {"at_mm": [300, 100, 5], "radius_mm": 20, "pushes": "-y"}
    jacks = {
        "free": [],
        "screwed": [BEHIND, Jack(**place, gap_mm=-0.3, released="after cooling", capacity_kN=10)],
        "hot": [BEHIND, Jack(**place, gap_mm=-0.3, released="hot")],
        "hydraulic": [BEHIND, Jack(**place, force_kN=12, released="after cooling")],
    }
    return flamefe.run(bar(supports=jacks[kind]))


def closing(result: flamefe.RunResult) -> float:
    measures = {m.name: m.value for m in result.cycles[-1].measures}
    return measures["closing rotation"]


def test_jack_that_stays_in_contact_lets_a_wedge_close_further():
    """Common practice, no source; force never above what carries the whole section to yield."""
    free, screwed, hydraulic = (wedge(kind) for kind in ("free", "screwed", "hydraulic"))
    assert closing(screwed) > 1.5 * closing(free) > 0.0
    assert closing(hydraulic) > 1.5 * closing(free)
    jack = screwed.devices[1]
    most = 355.0 * THICKNESS * DEPTH**2 / 4.0 * 4.0 / SPAN * 1e-3  # kN: plastic moment, mid load
    assert 10.0 < jack.largest_kN < most
    assert hydraulic.devices[1].force_kN[:-1] == pytest.approx(
        np.full(len(hydraulic.devices[1].times_s) - 1, 12.0)
    )
    assert hydraulic.devices[1].steady
    assert "12 kN throughout" in device_words(hydraulic.devices[1])


@pytest.mark.parametrize("kind", ["screwed", "hydraulic", "hot"])
def test_rests_carry_what_the_jack_pushes_at_every_moment(kind):
    result = wedge(kind)
    rests, jack = (np.array(one.force_kN) for one in result.devices)
    assert rests == pytest.approx(jack, abs=1e-3 * jack.max())
    assert rests.min() > -1e-4 * jack.max(), "a rest never pulls"
    assert np.abs(result.strain.reactions).max() < 1e-3 * 1e3 * jack.max()


def test_what_a_jack_carried_is_told():
    result = wedge("screwed")
    jack = result.devices[1]
    (release,) = wedge("hydraulic").devices[1].released
    assert release == (wedge("hydraulic").strain.times[-1], pytest.approx(12.0))
    assert all(force < 1e-6 for _, force in jack.released), "the bar has closed away from it"
    assert jack.overloaded
    assert jack.final_kN == 0.0
    assert any("Support 2 (jack) is overloaded" in text for text in result.warnings)
    text = flamefe.summary_text(result)
    assert "support 2 (jack): up to" in text
    assert "OVERLOADED" in text
    assert "screwed in 0.3 mm, released after cooling" in text
    assert not wedge("hydraulic").devices[1].overloaded
    assert any("12 kN" in t for t in wedge("hydraulic").cautions if "Force at release" in t)
    document = json.loads(json.dumps(result_document(result)))
    jsonschema.validate(document, result_schema())
    told = document["devices"][1]
    assert len(told["force_kN"]) == len(told["times_s"]) == len(told["force_on_part_kN"])
    assert len(told["times_s"]) == len(result.strain.times) + 1, "the release shows twice"


def test_released_hot_means_at_the_end_of_the_last_burn():
    result = wedge("hot")
    burnt = [span.end for span in result.heat.spans if span.burning][-1]
    jack = result.devices[1]
    assert [time for time, _ in jack.released] in ([], [burnt])
    after = np.array(jack.times_s) >= burnt
    after[np.argmax(after)] = False  # of the two entries at the release, the one before it
    assert np.abs(np.array(jack.force_kN)[after]).max() == 0.0
    assert np.array(jack.force_kN)[~after].max() > 1.0


def sheet(**parts: Any) -> flamefe.Case:
    return flamefe.Case(
        title="a spot on a sheet",
        workpiece=flamefe.Plate(length_mm=240, width_mm=240, thickness_mm=4, material="S355"),
        mesh=flamefe.Mesh(size_at_heat_mm=8, size_away_mm=30, layers=2),
        flames={"torch": flamefe.Flame(power_kW=2, radius_mm=16)},
        heats=[flamefe.SpotHeat(flame="torch", face="top", at_mm=[120, 120], time_s=5)],
        **parts,
    )


@cache
def spot(kind: str) -> flamefe.RunResult:
    supports = {
        "free": [],
        "template": [Template(face="bottom", holes_mm=[[120, 120, 40]], released="after cooling")],
        "pressed": [
            PressedSpot(face="bottom", at_mm=[120, 120], radius_mm=50, released="after cooling")
        ],
        "vacuum": [VacuumPlate(face="bottom", suction_kPa=80, released="after cooling")],
        "weak": [VacuumPlate(face="bottom", suction_kPa=2, leak_mm=0, released="after cooling")],
    }
    return flamefe.run(sheet(supports=supports[kind]))


def shrinkage(result: flamefe.RunResult) -> float:
    """Plastic loss of area, mean over the thickness, mm2."""
    weights = StrainOperator.on(result.mesh).weights.reshape(-1, 8)
    plastic = result.strain.ends[-1].plastic_strain
    return float(-1e6 * (weights * (plastic[..., 0] + plastic[..., 1])).sum() / 4e-3)


def dishing(result: flamefe.RunResult) -> float:
    return float(np.ptp(result.strain.ends[-1].displacement[:, 2]))


@pytest.mark.parametrize("kind", ["template", "pressed", "vacuum"])
def test_held_spot_shrinks_more_and_leaves_the_sheet_flatter(kind):
    """Common practice, no source."""
    free, held = spot("free"), spot(kind)
    assert shrinkage(held) > 1.005 * shrinkage(free) > 0.0
    assert dishing(held) < 0.85 * dishing(free)


def test_vacuum_plate_never_pulls_harder_than_its_suction():
    strong, weak = spot("vacuum"), spot("weak")
    for result, suction in ((strong, 80e3), (weak, 2e3)):
        (history,) = result.strain.devices
        assert history.places is not None
        least = (history.places.forces / history.places.areas).min()
        assert -suction * (1 + 1e-6) <= least < 0.0
    assert strong.devices[0].lost_at_s is None
    assert weak.devices[0].lost_share > 0.5
    assert dishing(weak) > 2.0 * dishing(strong)
    assert any("lost its suction" in text for text in weak.warnings)
    assert "suction lost at" in flamefe.summary_text(weak)


def cold(**parts: Any) -> flamefe.RunResult:
    """No heat: the forces of devices on an elastic plate of 7.536 kg."""
    return flamefe.run(
        flamefe.Case(
            title="a plate at rest",
            workpiece=flamefe.Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355"),
            mesh=flamefe.Mesh(size_away_mm=40, layers=1),
            **parts,
        )
    )


MASS = 7850 * 0.4 * 0.2 * 0.012


def test_weight_and_ballast_on_rests_either_way_round():
    weight = flamefe.OwnWeight()
    below = Rest(at_mm=[[0, 0, 0], [0, 200, 0], [400, 80, 0]])
    result = cold(supports=[below], loads=[weight, Ballast(mass_kg=30, face="top")])
    (rests,) = result.strain.devices
    assert rests.places is not None
    expected = (MASS + 30) * GRAVITY
    stand = 1e3 * result.mesh.p[:, rests.places.nodes].T
    assert stand == pytest.approx(np.array(below.at_mm))
    assert rests.places.forces[-1] == pytest.approx(expected * np.array([0.2, 0.3, 0.5]), rel=1e-4)
    assert rests.signed[-1] == pytest.approx(expected, rel=1e-8)
    assert result.warnings == () or "held at its corners" not in " ".join(result.warnings)

    above = Rest(at_mm=[[20, 20, 12], [20, 180, 12], [380, 100, 12]], pushes="-z")
    turned = cold(supports=[above], loads=[flamefe.OwnWeight(direction="z")])
    assert turned.strain.devices[0].signed[-1] == pytest.approx(MASS * GRAVITY, rel=1e-8)


def test_table_carries_a_plate_that_lies_on_it():
    result = cold(supports=[Rest(face="bottom")], loads=[flamefe.OwnWeight()])
    (table,) = result.strain.devices
    assert table.places is not None
    assert table.places.forces[-1].min() >= 0.0
    assert table.signed[-1] == pytest.approx(MASS * GRAVITY, rel=1e-8)


def test_weight_off_its_rests_is_an_error_that_says_so():
    rests = Rest(at_mm=[[20, 20, 0], [20, 180, 0], [120, 100, 0]])
    with pytest.raises(flamefe.basics.errors.NotConverged, match="lift off its rests"):
        cold(supports=[rests], loads=[flamefe.OwnWeight()])


def test_spring_and_strongback_in_a_case():
    """A face held by a spring takes the force; a strongback's forces balance."""
    pull = Traction(face="end", traction_kPa=[10_000, 0, 0])
    supports = [
        Guide(face="near"), Guide(face="bottom"),
        Spring(face="start", direction="x", stiffness_kN_mm=50, capacity_kN=10),
    ]  # fmt: skip
    result = cold(supports=supports, loads=[pull])
    spring = result.devices[2]
    assert spring.force_kN[-1] == pytest.approx(-24.0, rel=1e-6)
    assert spring.pulls_kN == pytest.approx(24.0, rel=1e-6)
    assert spring.overloaded
    start = np.abs(result.mesh.p[0]) < 1e-9
    moved = 1e3 * result.strain.displacements[-1][start, 0].mean()
    assert moved == pytest.approx(24.0 / 50.0, rel=0.01)

    back = Strongback(
        at_mm=[[20, 100, 0], [200, 100, 0], [380, 100, 0]], direction="z", stiffness_kN_mm=30
    )
    ends = Points(at_mm=[[0, 0, 0], [0, 200, 0], [400, 0, 0]], directions=["x", "y", "z"])
    held = cold(supports=[ends, back], loads=[Force(at_mm=[200, 100, 12],
                                                            force_N=[0, 0, -3000])])  # fmt: skip
    forces = held.strain.devices[1].places.forces[-1]
    assert forces.sum() == pytest.approx(0.0, abs=1e-9 * np.abs(forces).max())
    assert forces[1] > 100.0


def test_two_cycles_fit_and_release_twice():
    heats = [
        flamefe.SpotHeat(flame="torch", face="top", at_mm=[60, 30], time_s=4, cycle=cycle)
        for cycle in (1, 2)
    ]
    result = flamefe.run(
        flamefe.Case(
            title="twice",
            workpiece=flamefe.Plate(length_mm=120, width_mm=60, thickness_mm=8, material="S355"),
            mesh=flamefe.Mesh(size_at_heat_mm=8, size_away_mm=20, layers=2),
            flames={"torch": flamefe.Flame(power_kW=2.2, radius_mm=16)},
            heats=heats,
            supports=[
                Spring(face="start", direction="x", stiffness_kN_mm=1000, released="after cooling"),
                Spring(
                    face="end", direction="x", stiffness_kN_mm=1000, fitted="hot",
                    released="after cooling",
                ),
            ],
        )
    )  # fmt: skip
    for device in result.devices:
        assert [time for time, _ in device.released] == [end.time for end in result.strain.ends]
    hot = [span.end for span in result.heat.spans if span.burning]
    second = np.array(result.devices[1].force_kN)
    times = np.array(result.devices[1].times_s)
    assert np.abs(second[times <= hot[0]]).max() == 0.0
    assert second[times == result.strain.ends[0].time][-1] == 0.0
    assert second.max() > 1.0, "what is fastened hot pulls the end outwards when it cools"
    assert second.min() > -0.1 * second.max()


def test_a_vacuum_plate_under_a_heat_is_cautioned():
    case = load_case(example_path("hopper_sheet_vacuum"))
    said = cautions_for(case, material_of(case))
    assert sum(text.startswith("Vacuum plate: its seals") for text in said) == 1
    assert said[-1].startswith("Practice")
    cold = dataclasses.replace(case, supports=case.supports[:-1])
    assert not any("Vacuum" in text for text in cautions_for(cold, material_of(cold)))
