"""Supports and loads: what they carry, when they let go, and what is refused."""

import numpy as np
import pytest

from flamefe.basics.errors import NotConverged, OutOfRange
from flamefe.basics.linear import SOLVERS
from flamefe.straining.equilibrium import Solving
from flamefe.straining.restraint import (
    GRAVITY,
    Load,
    RestraintError,
    TimeLine,
    clamp,
    face_pressure,
    face_traction,
    own_weight,
    rigid_modes,
)


def beam(lab, cells=(20, 2, 2), **metal):
    return lab.box((1.0, 0.04, 0.05), cells, lab.metal(**metal))


def test_own_weight_on_two_supports_against_beam_theory(lab):
    """Mid deflection 5 q L^4 / (384 E I); reactions carry the weight at every moment."""
    body = beam(lab)
    p = body.points
    low = np.abs(p[:, 2]) < 1e-9
    start, end = low & (p[:, 0] < 1e-9), low & (p[:, 0] > 1.0 - 1e-9)
    held = lab.hold(body, x=start, y=(start | end) & (p[:, 1] < 1e-9), z=start | end)
    load = own_weight(body)
    found = lab.march(body, [(0.0, 20.0), (1.0, 20.0)], [held], [load], geometry="small")
    weight = 7850.0 * 1.0 * 0.04 * 0.05 * GRAVITY
    for moment in found:
        assert moment.reaction[:, 2].sum() == pytest.approx(weight, rel=1e-6)
        assert moment.reaction[start, 2].sum() == pytest.approx(weight / 2, rel=1e-3)
    middle = (np.abs(p[:, 0] - 0.5) < 1e-9) & (np.abs(p[:, 2] - 0.025) < 1e-9)
    sag = -found[-1].displacement[middle, 2].mean()
    inertia = 0.04 * 0.05**3 / 12
    assert sag == pytest.approx(5 * weight / (384 * 210e9 * inertia), rel=0.02)


def test_push_is_followed_over_time_and_carries_what_beams_need(lab):
    """A pushed cantilever: force 3 E I d / L^3 at every moment."""
    body = beam(lab)
    push = lab.push(body, "end", 2, [(0.0, 0.0), (2.0, 1e-3)])
    moments = [(0.0, 20.0), (1.0, 20.0), (2.0, 20.0)]
    found = lab.march(body, moments, [clamp(body, "start"), push], geometry="small")
    inertia = 0.04 * 0.05**3 / 12
    end = body.points[:, 0] > 1.0 - 1e-9
    for moment, moved in zip(found, (0.0, 0.5e-3, 1e-3), strict=True):
        assert moment.displacement[end, 2] == pytest.approx(np.full(end.sum(), moved), abs=1e-12)
        force = moment.reaction[end, 2].sum()
        assert force == pytest.approx(3 * 210e9 * inertia * moved, rel=0.02, abs=1e-6)
        assert moment.reaction.sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-3)


def test_released_clamp_leaves_what_a_free_part_has(lab):
    """Elastic, cold again: whatever held it while hot, the part is as it was."""
    body = beam(lab, cells=(8, 2, 2))
    p = body.points
    hot = 20.0 + 200.0 * (p[:, 2] / 0.05)
    free = rigid_modes(body)
    held = [clamp(body, face, released=2.0) for face in ("start", "end")]
    moments = [(0.0, 20.0), (1.0, hot), (2.0, 20.0)]
    found = lab.march(body, moments, held, fallback=free)
    assert np.abs(found[1].reaction).max() > 1e3
    assert found[-1].target.time == 2.0
    assert len(found) == 4, "release is an increment of its own"
    assert np.abs(found[-1].displacement).max() < 1e-9
    assert np.abs(found[-1].stress).max() < 1e-6 * np.abs(found[1].stress).max()


def test_clamp_released_hot_lets_the_part_go(lab):
    """Released while hot it stands free at once, without stress from the clamps."""
    body = beam(lab, cells=(8, 2, 2))
    held = [clamp(body, face, released=1.0) for face in ("start", "end")]
    moments = [(0.0, 20.0), (1.0, 120.0)]
    found = lab.march(body, moments, held, fallback=rigid_modes(body), geometry="small")
    assert np.abs(found[-2].stress[0]).mean() > 0.9 * 210e9 * 12e-6 * 100
    assert np.abs(found[-1].stress).max() < 1e-5 * 210e9 * 12e-6 * 100
    grown = np.ptp((body.points + found[-1].displacement)[:, 0])
    assert grown == pytest.approx(1.0 + 12e-4, rel=1e-6)


def test_support_fitted_later_holds_the_part_where_it_is(lab):
    """Fitted hot, it keeps the part's length while it cools: tension of E alpha dT."""
    body = lab.box((0.1, 0.01, 0.01), (4, 1, 1), lab.metal(poisson=0.0))
    low = np.abs(body.points) < 1e-9
    always = lab.hold(body, x=low[:, 0], y=low[:, 1], z=low[:, 2])
    late = clamp(body, "end", axes=(0,), fitted=1.0)
    found = lab.march(
        body, [(0.0, 20.0), (1.0, 120.0), (2.0, 20.0)], [always, late], geometry="small"
    )
    assert np.abs(found[1].stress).max() < 1.0
    assert found[2].stress[0] == pytest.approx(np.full(32, 210e9 * 12e-6 * 100), rel=1e-6)


def test_loads_follow_their_history_and_balance(lab):
    body = beam(lab, cells=(6, 2, 2))
    pull = face_traction(
        body, "end", (1e6, 0.0, 0.0), history=TimeLine(times=(0.0, 2.0), factors=(0.0, 1.0))
    )
    press = face_pressure(body, "top", 1e4, released=1.0)
    moments = [(0.0, 20.0), (1.0, 20.0), (2.0, 20.0)]
    found = lab.march(body, moments, [clamp(body, "start")], [pull, press], geometry="small")
    area, top = 0.04 * 0.05, 0.04 * 1.0
    expected = [(0.0, 1e4), (0.5, 1e4), (0.5, 0.0), (1.0, 0.0)]
    for moment, (share, pressed) in zip(found, expected, strict=True):
        total = moment.reaction.sum(axis=0)
        assert total[0] == pytest.approx(-share * 1e6 * area, abs=0.1)
        assert total[2] == pytest.approx(pressed * top, abs=0.1)


def test_loose_part_is_refused(lab):
    body = beam(lab, cells=(4, 1, 1))
    with pytest.raises(RestraintError, match="free to move"):
        lab.march(body, [(0.0, 20.0)], [clamp(body, "bottom", axes=(2,))])


def test_unknown_face_is_refused_with_what_there_is(lab):
    with pytest.raises(OutOfRange, match="top"):
        clamp(beam(lab, cells=(2, 1, 1)), "roof")


def test_no_equilibrium_above_the_limit_load_is_a_named_error(lab):
    """Perfectly plastic bar under 1.2 times its strength: an error with its history, no answer."""
    body = lab.box((0.1, 0.01, 0.01), (2, 1, 1), lab.metal(strength=200e6))
    pull = face_traction(body, "end", (240e6, 0.0, 0.0))
    with pytest.raises(NotConverged, match="cut") as caught:
        lab.march(body, [(0.0, 20.0)], [lab.planes(body)], [pull], geometry="small")
    assert len(caught.value.history) > 3
    assert all(len(attempt.residuals) > 1 for attempt in caught.value.history)


def test_below_the_limit_load_it_is_found(lab):
    body = lab.box((0.1, 0.01, 0.01), (2, 1, 1), lab.metal(strength=200e6, hardening=1e9))
    pull = face_traction(body, "end", (220e6, 0.0, 0.0))
    last = lab.march(body, [(0.0, 20.0)], [lab.planes(body)], [pull], geometry="small")[-1]
    assert last.state.equivalent == pytest.approx(np.full(16, 20e6 / 1e9), rel=1e-5)


def test_a_failed_try_is_cut_and_gives_the_same_answer(lab, monkeypatch):
    """With few iterations allowed, increments are cut; the answer stays."""
    metal = {"strength": 250e6, "hardening": 2e9}
    body = beam(lab, cells=(8, 2, 2), **metal)
    push = lab.push(body, "end", 2, [(0.0, 0.0), (1.0, 0.02)])
    moments = [(0.0, 20.0), (1.0, 20.0)]
    supports = [clamp(body, "start"), push]
    whole = lab.march(body, moments, supports, tolerance=1e-7)[-1]
    cut = lab.march(body, moments, supports, tolerance=1e-7, most_iterations=9, most_cuts=12)[-1]
    assert cut.cut_backs > 0
    assert whole.cut_backs == 0
    gap = np.abs(cut.displacement - whole.displacement).max()
    assert gap < 0.01 * np.abs(whole.displacement).max(), "path-dependent, but close"


def test_every_solver_gives_the_same_answer(lab):
    body = beam(lab, cells=(6, 2, 2), strength=250e6, hardening=2e9)
    push = lab.push(body, "end", 2, [(0.0, 0.0), (1.0, 0.01)])
    ends = [
        lab.march(body, [(0.0, 20.0), (1.0, 20.0)], [clamp(body, "start"), push],
                  tolerance=1e-9, solver=solver)[-1].displacement
        for solver in SOLVERS
    ]  # fmt: skip
    for other in ends[1:]:
        assert other == pytest.approx(ends[0], abs=1e-6 * np.abs(ends[0]).max())
    assert "scipy" in SOLVERS


@pytest.mark.parametrize("bad", [{"geometry": "large"}, {"tolerance": 0.0}, {"tolerance": 1.0}])
def test_impossible_settings_are_refused(bad):
    with pytest.raises(OutOfRange):
        Solving(**bad)


def test_weight_turns_with_its_direction(lab):
    body = beam(lab, cells=(2, 1, 1))
    assert own_weight(body, (0, 1, 0)).forces.sum(axis=0) == pytest.approx(
        [0, body.mass * GRAVITY, 0]
    )
    with pytest.raises(OutOfRange):
        own_weight(body, (0, 0, 0))


def test_forces_are_checked_for_their_history():
    with pytest.raises(OutOfRange, match="rise"):
        TimeLine(times=(1.0, 1.0), factors=(0.0, 1.0))
    assert Load(forces=np.zeros((1, 3))).history.at(5.0) == 1.0


def test_forces_and_moments_balance_at_every_moment(lab):
    """Weight, pull and pressure that come and go on a hot, yielding, clamped bar: sums vanish.

    Finite geometry: moments are taken on the deformed part. To 1e-5 of the loads' own.
    """
    body = beam(lab, cells=(10, 2, 2), strength=[(20, 250e6), (620, 80e6)], hardening=1e9)
    p = body.points
    loads = [
        own_weight(body, (0.0, 0.6, -0.8)),
        face_traction(body, "end", (2e6, 0, 0), history=TimeLine(times=(1, 3), factors=(0, 1))),
        face_pressure(body, "top", 2e4, released=2.0),
        Load(forces=face_traction(body, "near", (0, 0, 3e4)).forces, applied=2.5),
    ]
    supports = [clamp(body, "start"), clamp(body, "end", axes=(0, 2), released=3.0)]
    hot = 20.0 + 500.0 * np.exp(-(((p[:, 0] - 0.4) / 0.1) ** 2))
    moments = [(0.0, 20.0), (1.0, hot), (2.0, hot), (3.0, 20.0), (4.0, 20.0)]
    found = lab.march(body, moments, supports, loads, tolerance=1e-7)
    assert len(found) == 7
    assert found[-1].state.accumulated.max() > 1e-3
    seen = set()
    for moment in found:
        given = moment.target.force
        where = p + moment.displacement
        size = np.abs(given).sum()
        seen.add(round(size, 3))
        assert (given + moment.reaction).sum(axis=0) == pytest.approx([0, 0, 0], abs=1e-5 * size)
        turning = np.cross(where, given + moment.reaction).sum(axis=0)
        assert turning == pytest.approx([0, 0, 0], abs=1e-5 * size)
        assert not moment.reaction[~moment.target.held].any()
    assert len(seen) == 4, "the loads do change"
    end = body.nodes_of("end")
    assert np.abs(found[-3].reaction[end]).max() > 1.0
    assert not found[-1].reaction[end].any()


@pytest.mark.parametrize("geometry", ["small", "finite"])
def test_released_while_unevenly_hot_equals_never_held(lab, geometry):
    """Elastic: a cantilever whose far end was clamped while it was heated, then let go."""
    body = beam(lab, cells=(10, 2, 2))
    p = body.points
    hot = 20.0 + 300.0 * (p[:, 2] / 0.05) ** 2 * p[:, 0] + 100.0 * p[:, 1] / 0.04
    start = clamp(body, "start")
    moments = [(0.0, 20.0), (1.0, hot)]
    free = lab.march(body, moments, [start], geometry=geometry)[-1]
    held = lab.march(body, moments, [start, clamp(body, "end", released=1.0)], geometry=geometry)
    assert np.abs(held[-2].reaction[body.nodes_of("end")]).max() > 1e4
    assert np.abs(free.stress).max() > 50e6
    assert (
        np.abs(held[-1].displacement - free.displacement).max()
        < 1e-6 * np.abs(free.displacement).max()
    )
    assert np.abs(held[-1].stress - free.stress).max() < 1e-5 * np.abs(free.stress).max()


def test_guide_holds_across_a_face_and_lets_it_slide(lab):
    """Both ends guided along x, heated: E alpha dT along; across it grows by (1 + nu) alpha dT."""
    body = lab.box((0.2, 0.03, 0.01), (4, 2, 1), lab.metal())
    guides = [clamp(body, face, axes=(0,)) for face in ("start", "end")]
    last = lab.march(
        body, [(0.0, 20.0), (1.0, 70.0)], [*guides, lab.planes(body, "yz")], geometry="small"
    )[-1]
    assert last.stress[0] == pytest.approx(np.full(64, -210e9 * 12e-6 * 50), rel=1e-8)
    assert np.abs(last.stress[1:]).max() < 1.0
    across = 1.3 * 12e-6 * 50
    assert last.displacement[:, 1:] == pytest.approx(body.points[:, 1:] * across, abs=1e-12)
    ends = last.reaction[body.nodes_of("start"), 0].sum()
    assert ends == pytest.approx(210e9 * 12e-6 * 50 * 3e-4, rel=1e-8)


def test_a_load_that_went_leaves_an_elastic_part_as_it_was(lab):
    body = beam(lab, cells=(8, 2, 2))
    press = face_pressure(body, "top", 5e4, released=1.0)
    moments = [(0.0, 20.0), (1.0, 20.0), (2.0, 20.0)]
    found = lab.march(body, moments, [clamp(body, "start")], [press])
    assert np.abs(found[0].displacement).max() > 1e-4
    assert np.abs(found[-1].displacement).max() < 1e-9
    assert not found[-1].target.force.any()


@pytest.mark.parametrize("missing", ["x", "y", "z", "turn"])
def test_every_loose_way_is_refused(lab, missing):
    """One missing direction, or a line of held nodes about which the part can turn."""
    body = beam(lab, cells=(4, 2, 2))
    p = body.points
    low = np.abs(p) < 1e-9
    if missing == "turn":
        line = low[:, 0] & low[:, 2]
        support = lab.hold(body, x=line, y=line, z=line)
    else:
        support = lab.planes(body, "xyz".replace(missing, ""))
    with pytest.raises(RestraintError, match="not held"):
        lab.march(body, [(0.0, 20.0)], [support])


def test_part_left_loose_by_a_release_is_refused(lab):
    """Without something to fall back on; the message says when."""
    body = beam(lab, cells=(4, 2, 2))
    held = [clamp(body, "start", released=1.0)]
    with pytest.raises(RestraintError, match="At 1 s"):
        lab.march(body, [(0.0, 20.0), (1.0, 20.0)], held)
