"""Reactions that are told, against statics: resultants, stations, release, what balances."""

from typing import Any

import numpy as np
import pytest

import flamefe
from flamefe.study.case import (
    Ballast,
    Clamp,
    Force,
    Jack,
    Points,
    Rest,
    SpotHeat,
    Strongback,
)

LENGTH, DEPTH = 600.0, 60.0


def bar(supports: list[Any], *, size: float = 30.0, **parts: Any) -> flamefe.RunResult:
    """A bar of 600 x 60 x 20 mm, cold but for the heats given."""
    return flamefe.run(
        flamefe.Case(
            title="a bar",
            workpiece=flamefe.Bar(
                length_mm=LENGTH, depth_mm=DEPTH, thickness_mm=20, material="S355"
            ),
            mesh=flamefe.Mesh(size_away_mm=size, layers=2),
            supports=supports,
            **parts,
        )
    )


def test_clamp_of_a_cantilever_carries_the_force_and_its_moment():
    """Statics: the force at the tip, and force times length about the clamped face."""
    result = bar(
        [Clamp(face="start", capacity_kN=1)],
        loads=[Force(at_mm=[600, 30, 10], force_N=[0, -300, 0])],
    )
    (clamp,) = result.devices
    assert clamp.largest_kN == pytest.approx(0.3, rel=1e-6)
    assert clamp.force_on_part_kN[-1] == pytest.approx((0.0, 0.3, 0.0), abs=1e-6)
    assert clamp.centre_mm == pytest.approx((0.0, 30.0, 10.0))
    assert clamp.moment_on_part_kNm[-1] == pytest.approx((0.0, 0.0, 0.18), abs=1e-6)
    assert clamp.turning_kNm == pytest.approx(0.18, rel=1e-5)
    assert not clamp.overloaded
    assert "0.3 kN and 0.18 kN m throughout" in flamefe.summary_text(result)


@pytest.mark.parametrize("size", [30.0, 70.0])
def test_resultants_of_all_that_holds_balance_the_loads_at_every_moment(size):
    loads = [flamefe.OwnWeight(direction="-y"), Ballast(at_mm=[410, 60, 10], mass_kg=80,
                                                        direction="-y")]  # fmt: skip
    holds = [
        Clamp(face="start"),
        Rest(at_mm=[[487, 0, 10]], pushes="y"),
        Jack(at_mm=[260, 0, 10], pushes="y", force_kN=0.4),
    ]
    result = bar(holds, size=size, loads=loads)
    mass = 7850 * 0.6 * 0.06 * 0.02
    weight, ballast = 9.80665e-3 * mass, 9.80665e-3 * 80
    forces = np.array([one.force_on_part_kN for one in result.devices])  # (3, nd, 3)
    assert forces.sum(axis=0)[:, 1] == pytest.approx(weight + ballast, rel=1e-6)
    about_start = sum(
        np.array(one.moment_on_part_kNm)[:, 2]
        + 1e-3 * np.cross(one.centre_mm, np.array(one.force_on_part_kN))[:, 2]
        for one in result.devices
    )
    loaded = weight * 0.3 + ballast * 0.41
    assert about_start == pytest.approx(loaded, rel=1e-4)
    rest = result.devices[1]
    assert rest.centre_mm is not None
    assert rest.largest_kN > 0.0


@pytest.mark.parametrize("size", [25.0, 60.0, 90.0])
def test_rests_and_ballast_act_where_they_are_named_whatever_the_mesh(size):
    """Statics of a beam on two rests at 80 and 470 mm with ballast at 333 mm."""
    below = Rest(at_mm=[[80, 0, 10], [470, 0, 10]], pushes="y", radius_mm=5)
    result = bar(
        [below], size=size, loads=[Ballast(at_mm=[333, 60, 10], mass_kg=100, direction="-y")]
    )
    (history,) = result.strain.devices
    assert history.places is not None
    load = 100 * 9.80665
    second = load * (333 - 80) / (470 - 80)
    assert history.places.forces[-1] == pytest.approx([load - second, second], rel=1e-4)


def test_rest_that_is_left_shows_on_a_coarse_mesh():
    """Ballast on the overhang: beyond the second rest, so the first one is left."""
    rests = Rest(at_mm=[[10, 0, 10], [200, 0, 10], [330, 0, 10]], pushes="y", radius_mm=5)
    result = bar([rests], size=90, loads=[Ballast(at_mm=[300, 60, 10], mass_kg=50, direction="-y")])
    (history,) = result.strain.devices
    assert history.places is not None
    first, second, third = history.places.forces[-1]
    assert first == pytest.approx(0.0, abs=1e-3)
    share = (300 - 200) / 130
    assert [second, third] == pytest.approx(
        [50 * 9.80665 * (1 - share), 50 * 9.80665 * share], rel=1e-4
    )


GIRDER = flamefe.IBeam(
    length_mm=800,
    height_mm=160,
    width_mm=82,
    web_thickness_mm=6,
    flange_thickness_mm=8,
    material="S355",
)


@pytest.mark.parametrize(
    ("place", "pushes", "word"),
    [
        ([400, 20, 60], "z", "mm off"),
        ([400, 20, 80], "y", "mm off"),
        ([400, 70, 0], "x", "mm off"),
    ],
)
def test_places_in_the_air_between_the_flanges_are_refused(place, pushes, word):
    case = flamefe.Case(
        title="a girder",
        workpiece=GIRDER,
        mesh=flamefe.Mesh(size_away_mm=80, layers=1),
        supports=[Clamp(face="start"), Rest(at_mm=[place], pushes=pushes, radius_mm=60)],
    )
    with pytest.raises(flamefe.basics.errors.FlamefeError, match=word):
        flamefe.run(case)
    weighed = flamefe.Case(
        title="a girder",
        workpiece=GIRDER,
        mesh=flamefe.Mesh(size_away_mm=80, layers=1),
        supports=[Clamp(face="start")],
        loads=[Ballast(at_mm=place, mass_kg=5, direction=pushes, radius_mm=60)],
    )
    with pytest.raises(flamefe.basics.errors.FlamefeError, match=word):
        flamefe.run(weighed)


def test_jack_between_two_places_carries_its_force_once():
    """Set between the flanges: both get the same force, and it balances in itself."""
    jack = Jack(at_mm=[400, 20, 152], against_mm=[400, 20, 8], force_kN=6, capacity_kN=8)
    case = flamefe.Case(
        title="a girder",
        workpiece=GIRDER,
        mesh=flamefe.Mesh(size_away_mm=80, layers=1),
        supports=[jack],
    )
    (one,) = flamefe.run(case).devices
    assert one.largest_kN == pytest.approx(6.0, rel=1e-9)
    assert one.against_capacity_kN == pytest.approx(6.0, rel=1e-9)
    assert not one.overloaded
    assert one.steady
    assert np.array(one.force_kN) == pytest.approx(np.full(len(one.force_kN), 6.0))
    assert np.abs(one.force_on_part_kN).max() < 1e-9, "it balances in itself"
    assert one.pulls_kN == 0.0


def hot_bar(supports: list[Any], **parts: Any) -> flamefe.RunResult:
    return bar(
        supports,
        flames={"torch": flamefe.Flame(power_kW=3, radius_mm=18)},
        heats=[SpotHeat(flame="torch", face="top", at_mm=[300, 45], time_s=12)],
        **parts,
    )


def test_force_at_release_counts_as_carried():
    """Both ends clamped while the spot shrinks: the pull is greatest when all is cold."""
    holds = [
        Clamp(face="start"),
        flamefe.study.case.Spring(
            face="end",
            direction="x",
            stiffness_kN_mm=200,
            released="after cooling",
            capacity_kN=0.1,
        ),
    ]
    spring = hot_bar(holds).devices[1]
    ((time, force),) = spring.released
    at_release = [abs(f) for t, f in zip(spring.times_s, spring.force_kN, strict=True) if t == time]
    assert at_release[0] == pytest.approx(force)
    assert at_release[-1] == 0.0
    assert spring.largest_kN >= force > 0.1
    assert spring.against_capacity_kN >= force
    assert spring.overloaded


def test_strongback_shows_what_it_pushes_over_time():
    back = Strongback(
        at_mm=[[40, 30, 0], [300, 30, 0], [560, 30, 0]], direction="z", stiffness_kN_mm=40
    )
    one = hot_bar([back]).devices[0]
    assert max(one.force_kN) == pytest.approx(one.largest_kN)
    assert one.largest_kN > 0.05
    assert np.abs(one.force_on_part_kN).max() < 1e-6 * one.largest_kN


def test_points_are_told_point_by_point():
    """Four points hold a cantilever's end: each takes a share of the couple."""
    places = [[0, 0, 0], [0, 0, 20], [0, 60, 0], [0, 60, 20]]
    result = bar(
        [Points(at_mm=places, directions=["x", "y", "z"])],
        loads=[Force(at_mm=[600, 30, 10], force_N=[0, -300, 0])],
    )
    (one,) = result.devices
    couple = 300 * 0.6 / 0.06 / 2 * 1e-3  # kN at each of two points of an edge
    assert couple < one.largest_kN < 1.15 * couple, "with its share of the shear"
    assert one.force_on_part_kN[-1] == pytest.approx((0.0, 0.3, 0.0), abs=1e-6)


@pytest.mark.parametrize(
    "support",
    [
        Jack(at_mm=[400, 20, 160], against_mm=[400, 20, 0], force_kN=6),
        Rest(face="web left", pushes="z"),
        Jack(face="web left", pushes="-x", force_kN=1),
    ],
)
def test_what_would_pull_or_slide_is_refused(support):
    """A jack outside both flanges, a rest and a jack that push along the web."""
    case = flamefe.Case(
        title="a girder",
        workpiece=GIRDER,
        mesh=flamefe.Mesh(size_away_mm=80, layers=1),
        supports=[Clamp(face="start"), support],
    )
    with pytest.raises(flamefe.basics.errors.FlamefeError, match=r"off the skin|along it or away"):
        flamefe.run(case)


def test_distortion_tells_what_still_acts():
    result = bar(
        [Rest(at_mm=[[0, 0, 10], [600, 0, 10]], pushes="y")],
        loads=[flamefe.OwnWeight(direction="-y")],
    )
    acting = result.cycles[-1].acting
    sag = np.linalg.norm(result.strain.displacements[0], axis=1).max() * 1e3
    assert acting.names == ("load 1 (own weight)",)
    assert acting.bent_mm == pytest.approx(sag)
    assert "Measured under load 1 (own weight): what springs back" in flamefe.summary_text(result)
    free = bar([Rest(at_mm=[[0, 0, 10], [600, 0, 10]], pushes="y")],
               loads=[flamefe.OwnWeight(direction="-y", released="after cooling")])  # fmt: skip
    assert free.cycles[-1].acting.names == ()
    assert "springs back" not in flamefe.summary_text(free)


def faults_of(**parts: Any) -> str:
    with pytest.raises(flamefe.CaseError) as told:
        flamefe.Case(
            title="a bar",
            workpiece=flamefe.Bar(
                length_mm=LENGTH, depth_mm=DEPTH, thickness_mm=20, material="S355"
            ),
            **parts,
        )
    return str(told.value)


def test_contradictions_of_weight_and_release():
    rest = Rest(at_mm=[[0, 0, 10], [600, 0, 10]], pushes="y", released="after cooling")
    weight = flamefe.OwnWeight(direction="-y")
    said = faults_of(supports=[rest], loads=[weight])
    assert "loads[0].released" in said
    assert "all supports leave" in said
    gone = flamefe.OwnWeight(direction="-y", released="after cooling")
    assert "once more" in faults_of(supports=[rest], loads=[gone, gone])
    flamefe.Case(
        title="a bar",
        workpiece=flamefe.Bar(length_mm=LENGTH, depth_mm=DEPTH, thickness_mm=20, material="S355"),
        supports=[rest],
        loads=[gone],
    )


def test_clamps_that_stay_are_told_as_acting():
    stays = hot_bar([Clamp(face="start"), Clamp(face="end")])
    names = stays.cycles[-1].acting.names
    assert [name.split(",")[0] for name in names] == ["support 1 (clamp)", "support 2 (clamp)"]
    assert all(name.endswith(" kN") for name in names)
    assert hot_bar([]).cycles[-1].acting.names == (), "nothing was asked for"
    one = hot_bar([Clamp(face="start")])
    assert one.cycles[-1].acting.names == (), "a clamp that only keeps the part in place"
