"""Rests, springs, jacks, suction and strongbacks against beams and bars by closed form."""

import numpy as np
import pytest

from flamefe.basics.errors import NotConverged, OutOfRange
from flamefe.straining.devices import pushers, spreader, strongback
from flamefe.straining.footing import patch_at
from flamefe.straining.restraint import GRAVITY, Load, TimeLine, own_weight, rigid_modes

YOUNG, SHEAR = 210e9, 210e9 / 2.6
WIDTH, DEPTH, LENGTH = 0.04, 0.05, 1.0
INERTIA, AREA = WIDTH * DEPTH**3 / 12, WIDTH * DEPTH
SHEAR_AREA = 5 / 6 * AREA
WEIGHT = 7850.0 * LENGTH * AREA * GRAVITY


def beam(lab, cells=(40, 1, 2), **metal):
    return lab.box((LENGTH, WIDTH, DEPTH), cells, lab.metal(**metal))


def line_rest(lab, body, x, **more):
    """A rest across the whole width under the beam: two or more nodes, equal movement on mean."""
    p = body.points
    nodes = np.flatnonzero((np.abs(p[:, 0] - x) < 1e-9) & (p[:, 2] < 1e-9))
    patches = [patch_at(body, p[node], 1e-4, (0, 0, 1), both=False) for node in nodes]
    return pushers(body, patches, (0, 0, 1), **{"name": f"rest at {x}", **more})


def sideways(lab, body):
    """Holds what frictionless rests leave free: x, y and the turn about z."""
    p = body.points
    low = np.abs(p[:, 2]) < 1e-9
    start, end = low & (p[:, 0] < 1e-9), low & (p[:, 0] > LENGTH - 1e-9)
    near = p[:, 1] < 1e-9
    return lab.hold(body, x=start & near, y=(start | end) & near)


def total(moment):
    return (moment.reaction + moment.gripped).sum(axis=0)


def forces(moment, name):
    return moment.carried[name].forces


@pytest.mark.parametrize("low", [0.0, 2e-5, 1e-3])
@pytest.mark.parametrize("geometry", ["small", "finite"])
def test_three_rests_the_middle_one_low(lab, low, geometry):
    """Timoshenko's beam: R = (mid deflection of two rests - gap) by its flexibility, or none.

    S. P. Timoshenko, Strength of Materials (from memory): 5 q L^4 / (384 E I) + q L^2 / (8 k G A);
    L^3 / (48 E I) + L / (4 k G A).
    """
    body = beam(lab, cells=(80, 1, 4))
    rests = [line_rest(lab, body, x, gap=g) for x, g in ((0, 0), (0.5, low), (1, 0))]
    found = lab.march(
        body, [(0.0, 20.0), (1.0, 20.0)], [sideways(lab, body)], [own_weight(body)],
        devices=rests, geometry=geometry, tolerance=1e-10,
    )  # fmt: skip
    q = WEIGHT / LENGTH
    sag = 5 * q * LENGTH**4 / (384 * YOUNG * INERTIA) + q * LENGTH**2 / (8 * SHEAR * SHEAR_AREA)
    soft = LENGTH**3 / (48 * YOUNG * INERTIA) + LENGTH / (4 * SHEAR * SHEAR_AREA)
    middle = max(sag - low, 0.0) / soft
    for moment in found:
        assert total(moment) == pytest.approx([0, 0, WEIGHT], abs=1e-8 * WEIGHT)
        assert forces(moment, "rest at 0.5").sum() == pytest.approx(middle, rel=0.005)
        assert forces(moment, "rest at 0").sum() == pytest.approx((WEIGHT - middle) / 2, rel=0.005)
        assert moment.carried["rest at 0.5"].touching.all() == (low < sag)
        assert np.abs(moment.reaction).max() < 1e-6 * WEIGHT, "rests without friction"
    p = body.points
    under = (np.abs(p[:, 0] - 0.5) < 1e-9) & (p[:, 2] < 1e-9)
    assert found[-1].displacement[under, 2].mean() == pytest.approx(-min(low, sag), rel=0.005)


def test_overhanging_beam_lifts_from_its_end_rest(lab):
    """Rests at 0, 0.1 and 0.8 of the length: the first is left, by beam theory's slope and sag.

    Moments over the two that carry: q (0.1 L)^2 / 2 and q (0.2 L)^2 / 2.
    """
    body = beam(lab, cells=(80, 1, 4))
    rests = [line_rest(lab, body, x) for x in (0, 0.1, 0.8)]
    (last,) = lab.march(
        body, [(0.0, 20.0)], [sideways(lab, body)], [own_weight(body)], devices=rests,
        geometry="small",
    )  # fmt: skip
    q, span = WEIGHT / LENGTH, 0.7
    left, right = q * 0.1**2 / 2, q * 0.2**2 / 2
    slope = (q * span**3 / 24 - left * span / 3 - right * span / 6) / (YOUNG * INERTIA)
    lift = 0.1 * slope - q * 0.1**4 / (8 * YOUNG * INERTIA)
    assert forces(last, "rest at 0").tolist() == [0.0, 0.0]
    assert not last.carried["rest at 0"].touching.any()
    assert forces(last, "rest at 0.1").sum() == pytest.approx(WEIGHT * 0.3 / 0.7, rel=1e-6)
    assert forces(last, "rest at 0.8").sum() == pytest.approx(WEIGHT * 0.4 / 0.7, rel=1e-6)
    end = (body.points[:, 0] < 1e-9) & (body.points[:, 2] < 1e-9)
    assert last.displacement[end, 2].mean() == pytest.approx(lift, rel=0.02)


def test_lying_the_other_way_round(lab):
    """Weight upwards, rests that push downwards on the top: the same forces."""
    body = beam(lab)
    patches = [patch_at(body, (x, WIDTH / 2, DEPTH), 0.02, (0, 0, -1), both=False) for x in (0, 1)]
    assert (body.points[np.concatenate([p.nodes for p in patches]), 2] == DEPTH).all()
    rests = pushers(body, patches, (0, 0, -1), name="rests")
    p = body.points
    held = lab.hold(
        body, x=(p[:, 0] < 1e-9) & (p[:, 1] < 1e-9) & (p[:, 2] < 1e-9), y=p[:, 1] < 1e-9
    )
    last = lab.march(
        body, [(0.0, 20.0)], [held], [own_weight(body, (0, 0, 1))], devices=[rests]
    )[-1]  # fmt: skip
    assert forces(last, "rests") == pytest.approx(np.full(2, WEIGHT / 2), rel=1e-6)


def test_part_that_tips_over_its_rests_is_an_error(lab):
    body = beam(lab, cells=(20, 1, 2))
    rests = [line_rest(lab, body, x) for x in (0, 0.4)]
    with pytest.raises(NotConverged, match="lift off"):
        lab.march(body, [(0.0, 20.0)], [sideways(lab, body)], [own_weight(body)], devices=rests)


def bar(lab, **metal):
    metal = {"strength": 355e6, "poisson": 0.0, **metal}
    return lab.box((1.0, 0.01, 0.01), (5, 1, 1), lab.metal(**metal))


def at_end(body, **more):
    """A device on the whole end, pushing back along -x; its mean movement counts."""
    patch = patch_at(body, (1.0, 0.005, 0.005), 0.02, (-1, 0, 0), both=False)
    return pushers(body, [patch], (-1, 0, 0), **{"name": "stop", **more})


def there_and_back(rise, steps=21):
    way = [*np.linspace(0, rise, steps), *np.linspace(rise, 0, steps)[1:]]
    return [(float(i), 20.0 + t) for i, t in enumerate(way)]


@pytest.mark.parametrize("gap", [0.0, 0.4e-3])
def test_bar_against_a_hard_stop_ends_short_and_without_stress(lab, gap):
    """Shorter by L |e_p|, e_p = -(alpha dT - gap / L - s_y / E); the stop took s_y A; derived."""
    body = bar(lab)
    rise = 1.7 * 355e6 / (YOUNG * 12e-6) + gap / 12e-6
    found = lab.march(
        body, there_and_back(rise), [lab.planes(body)], devices=[at_end(body, gap=gap)],
        geometry="small", tolerance=1e-10,
    )  # fmt: skip
    upset = 12e-6 * rise - gap - 355e6 / YOUNG
    end = body.points[:, 0] > 1.0 - 1e-9
    assert upset > 1e-3
    assert found[-1].displacement[end, 0] == pytest.approx(np.full(4, -upset), rel=1e-6)
    assert np.abs(found[-1].stress).max() < 1e-6 * 355e6
    assert forces(found[-1], "stop").tolist() == [0.0]
    assert forces(found[20], "stop") == pytest.approx([355e6 * 1e-4], rel=1e-6)
    for moment in found:
        assert total(moment) == pytest.approx(np.zeros(3), abs=1e-8 * 355e6 * 1e-4)


def test_stop_that_is_never_reached_changes_nothing(lab):
    body = bar(lab)
    heats = there_and_back(150.0, steps=5)
    free = lab.march(body, heats, [lab.planes(body)])
    held = lab.march(body, heats, [lab.planes(body)], devices=[at_end(body, gap=0.01)])
    for one, other in zip(free, held, strict=True):
        assert other.displacement == pytest.approx(one.displacement, abs=1e-12)
        assert forces(other, "stop").tolist() == [0.0]


@pytest.mark.parametrize(("restraint", "share"), [(0.25, 0.9), (0.5, 1.6), (0.75, 2.4)])
@pytest.mark.parametrize("fastened", [True, False])
def test_spring_fixture_restrains_a_bar(lab, restraint, share, fastened):
    """b = ks / (ks + E A / L): first yield at s_y / (b E alpha), cold min(s_y, b E alpha dT - s_y).

    A spring that only pushes leaves no stress, and the bar short by L |e_p|. Derived.
    """
    body = bar(lab)
    stiffness = YOUNG * 1e-4 * restraint / (1.0 - restraint)
    rise = share * 355e6 / (restraint * YOUNG * 12e-6)
    spring = at_end(body, stiffness=stiffness, least=-np.inf if fastened else 0.0)
    found = lab.march(
        body, there_and_back(rise), [lab.planes(body)], devices=[spring], geometry="small"
    )
    hot, cold = found[20], found[-1]
    assert hot.stress[0] == pytest.approx(np.full(40, -min(share, 1.0) * 355e6), rel=1e-5)
    upset = max(12e-6 * rise - 355e6 / (restraint * YOUNG), 0.0)
    left = min(355e6, max(share - 1.0, 0.0) * 355e6) if fastened else 0.0
    assert cold.stress[0] == pytest.approx(np.full(40, left), abs=1e-4 * 355e6)
    assert forces(cold, "stop") == pytest.approx([-left * 1e-4], abs=1.0)
    if not fastened:
        end = body.points[:, 0] > 1.0 - 1e-9
        assert cold.displacement[end, 0] == pytest.approx(np.full(4, -upset), abs=1e-8)


@pytest.mark.parametrize("gap", [-0.3e-3, 0.3e-3])
def test_jack_between_two_places_of_the_part(lab, gap):
    """Between both ends of a bar: force (-gap - stretch) / (L / E A + 1 / k), never pulling."""
    body = bar(lab, strength=1e10)
    ends = [patch_at(body, (x, 0.005, 0.005), 0.02, (1, 0, 0), both=True) for x in (1.0, 0.0)]
    jack = spreader(body, *ends, (1, 0, 0), name="jack", gap=gap, stiffness=4e7)
    moments = [(0.0, 20.0), (1.0, -30.0), (2.0, 70.0)]
    found = lab.march(body, moments, [rigid_modes(body)], devices=[jack], geometry="small")
    soft = 1.0 / (YOUNG * 1e-4) + 1.0 / 4e7
    for moment, rise in zip(found, (0.0, -50.0, 50.0), strict=True):
        expected = max(-gap - 12e-6 * rise, 0.0) / soft
        assert forces(moment, "jack") == pytest.approx([expected, -expected], rel=1e-6, abs=1e-3)
        assert moment.stress[0] == pytest.approx(np.full(40, expected / 1e-4), rel=1e-5, abs=10.0)
        assert np.abs(moment.reaction).max() < 1e-3
        assert total(moment) == pytest.approx(np.zeros(3), abs=1e-3)


def test_jack_of_given_force_follows_the_part(lab):
    """Two ends pushed apart by 3 kN, whatever the temperature."""
    body = bar(lab, strength=1e10)
    ends = [patch_at(body, (x, 0.005, 0.005), 0.02, (1, 0, 0), both=True) for x in (1.0, 0.0)]
    jack = spreader(body, *ends, (1, 0, 0), name="jack", least=3e3, most=3e3, released=2.0)
    moments = [(0.0, 20.0), (1.0, -80.0), (2.0, 120.0), (3.0, 20.0)]
    found = lab.march(body, moments, [rigid_modes(body)], devices=[jack], geometry="small")
    for moment, pull in zip(found, (3e7, 3e7, 3e7, 0.0, 0.0), strict=True):
        assert moment.stress[0] == pytest.approx(np.full(40, pull), rel=1e-6, abs=10.0)
    assert [("jack" in moment.carried) for moment in found] == [True, True, True, False, False]


def test_suction_lets_go_at_its_limit_and_for_good(lab):
    """A cantilever's end on a suction cup of 500 N, pulled by up to 700 N; F L^3 / (3 E I) after.

    With shear: L / (k G A) more.
    """
    body = beam(lab, cells=(40, 1, 4))
    p = body.points
    clamped = lab.hold(body, **dict.fromkeys("xyz", p[:, 0] < 1e-9))
    foot = patch_at(body, (1.0, WIDTH / 2, 0.0), 0.021, (0, 0, 1), both=False)
    cup = pushers(body, [foot], (0, 0, 1), name="cup", least=-500.0, leak=1e-4)
    pull = np.zeros(p.shape)
    pull[foot.nodes, 2] = foot.shares
    times = (0.0, 7.0, 14.0)
    load = Load(forces=pull, history=TimeLine(times=times, factors=(0.0, 700.0, 0.0)))
    moments = [(t, 20.0) for t in np.arange(0.0, 14.5, 0.5)]
    found = lab.march(body, moments, [clamped], [load], devices=[cup], geometry="small")
    soft = LENGTH**3 / (3 * YOUNG * INERTIA) + LENGTH / (SHEAR * SHEAR_AREA)
    for moment in found:
        applied = load.history.at(moment.target.time)
        lift = foot.shares @ moment.displacement[foot.nodes, 2]
        held = moment.target.time <= 5.0
        assert moment.carried["cup"].lost.all() != held
        assert forces(moment, "cup") == pytest.approx([-applied if held else 0.0], abs=1e-3)
        assert lift == pytest.approx(0.0 if held else soft * applied, rel=0.02, abs=1e-9)
        assert total(moment)[2] == pytest.approx(-applied, abs=1e-5)


def test_suction_pulls_on_while_the_lift_is_small(lab):
    """Below the lift at which air gets in, the cup keeps pulling with its limit."""
    body = beam(lab, cells=(40, 1, 4))
    p = body.points
    clamped = lab.hold(body, **dict.fromkeys("xyz", p[:, 0] < 1e-9))
    foot = patch_at(body, (1.0, WIDTH / 2, 0.0), 0.021, (0, 0, 1), both=False)
    cup = pushers(body, [foot], (0, 0, 1), name="cup", least=-500.0, leak=5e-3)
    pull = np.zeros(p.shape)
    pull[foot.nodes, 2] = 700.0 * foot.shares
    (last,) = lab.march(
        body, [(0.0, 20.0)], [clamped], [Load(forces=pull)], devices=[cup], geometry="small"
    )
    soft = LENGTH**3 / (3 * YOUNG * INERTIA) + LENGTH / (SHEAR * SHEAR_AREA)
    assert forces(last, "cup") == pytest.approx([-500.0])
    assert foot.shares @ last.displacement[foot.nodes, 2] == pytest.approx(200 * soft, rel=0.02)


def test_strongback_holds_what_departs_from_a_straight_line(lab):
    """Three clamps of stiffness k on a loaded beam: 2 k / 3 times the sag at the middle, derived.

    (One clamp in the middle, two at the ends: 1 / k + 1 / (2 k).)
    """
    body = beam(lab)
    p = body.points
    mid = lambda x: (np.abs(p[:, 0] - x) < 1e-9) & (p[:, 2] < 1e-9)  # noqa: E731
    held = lab.hold(body, x=mid(0) & (p[:, 1] < 1e-9), y=(mid(0) | mid(1)) & (p[:, 1] < 1e-9),
                    z=mid(0) | mid(1))  # fmt: skip
    places = [patch_at(body, (x, WIDTH / 2, DEPTH), 0.021, (0, 0, -1), both=False)
              for x in (0, 0.5, 1)]  # fmt: skip
    stiffness = 3e6
    back = strongback(body, places, (0, 0, 1), name="strongback", stiffness=stiffness)
    push = np.zeros(p.shape)
    push[places[1].nodes, 2] = -2000.0 * places[1].shares
    (last,) = lab.march(
        body, [(0.0, 20.0)], [held], [Load(forces=push)], devices=[back], geometry="small"
    )
    moved = [patch.shares @ last.displacement[patch.nodes, 2] for patch in places]
    sag = 0.5 * (moved[0] + moved[2]) - moved[1]
    soft = LENGTH**3 / (48 * YOUNG * INERTIA) + LENGTH / (4 * SHEAR * SHEAR_AREA)
    carried = 2000.0 / (1.0 + 1.5 / stiffness / soft)
    f = 2.0 / 3.0 * stiffness * sag
    assert forces(last, "strongback") == pytest.approx([-f / 2, f, -f / 2], rel=1e-6)
    assert f == pytest.approx(carried, rel=0.02)
    assert last.gripped.sum(axis=0) == pytest.approx(np.zeros(3), abs=1e-6)


def test_device_fitted_hot_and_released_cold(lab):
    """A rigid fastening fitted hot: it pulls E A alpha dT when cold; released, nothing is left."""
    body = bar(lab, strength=1e10)
    fixture = at_end(body, least=-np.inf, fitted=1.0, released=2.0, name="fixture")
    moments = [(0.0, 20.0), (1.0, 120.0), (2.0, 20.0), (3.0, 20.0)]
    found = lab.march(body, moments, [lab.planes(body)], devices=[fixture], geometry="small")
    assert [("fixture" in moment.carried) for moment in found] == [False, False, True, False, False]
    assert forces(found[2], "fixture") == pytest.approx([-YOUNG * 12e-6 * 100 * 1e-4], rel=1e-6)
    for moment in found[3:]:
        assert np.abs(moment.displacement).max() < 1e-9
        assert np.abs(moment.stress).max() < 10.0


def test_rests_alone_are_steadied_where_they_leave_the_part_free(lab):
    """Three rests and the weight; the part may slide, so that is held, and carries nothing."""
    body = beam(lab, cells=(20, 2, 2))
    places = [(0.1, 0.0, 0.0), (0.1, WIDTH, 0.0), (0.9, WIDTH / 2, 0.0)]
    patches = [patch_at(body, place, 1e-3, (0, 0, 1), both=False) for place in places]
    rests = pushers(body, patches, (0, 0, 1), name="rests")
    hot = 20.0 + 100.0 * body.points[:, 2] / DEPTH
    found = lab.march(
        body, [(0.0, 20.0), (1.0, hot)], [], [own_weight(body)], devices=[rests],
        fallback=rigid_modes(body), steadied=True,
    )  # fmt: skip
    for moment in found:
        assert moment.target.held.sum() == 3
        assert forces(moment, "rests") == pytest.approx(
            [WEIGHT / 4, WEIGHT / 4, WEIGHT / 2], rel=1e-4
        )
        assert np.abs(moment.reaction).max() < 1e-6 * WEIGHT


def test_device_that_no_skin_faces_and_wrong_numbers_are_refused(lab):
    body = beam(lab, cells=(4, 1, 1))
    turned = np.array([1.0, 1.0, 1.0]) / np.sqrt(3.0)
    foot = patch_at(body, (0, 0, 0), 0.01, (0, 0, 1), both=False)
    with pytest.raises(OutOfRange, match="above 0"):
        pushers(body, [foot], turned, name="rest", stiffness=0.0)
    with pytest.raises(OutOfRange, match="least force"):
        pushers(body, [foot], turned, name="rest", least=2.0, most=1.0)
    with pytest.raises(OutOfRange, match="3 or more"):
        strongback(body, [foot, foot], (0, 0, 1), name="strongback", stiffness=1.0)
    with pytest.raises(OutOfRange, match="the same"):
        strongback(body, [foot] * 3, (0, 0, 1), name="strongback", stiffness=1.0)


def test_a_bar_between_points_off_its_axis_is_kept_from_rolling(lab):
    """Rests and a jack of given force some millimetres off each other: it would roll away.

    Statics: each rest carries half of the jack's force.
    """
    body = lab.box((0.6, 0.1, 0.01), (12, 4, 3), lab.metal())
    rests = [
        pushers(body, [patch_at(body, (x, 0.0, 0.005), 0.001, (0, 1, 0), both=False)],
                (0, 1, 0), name=f"rest at {x}")
        for x in (0.0, 0.6)
    ]  # fmt: skip
    place = patch_at(body, (0.3, 0.1, 0.005), 0.02, (0, -1, 0), both=False)
    jack = pushers(body, [place], (0, -1, 0), name="jack", least=6e3, most=6e3)
    last = lab.march(
        body, [(0.0, 20.0)], [], devices=[*rests, jack], steadied=True, fallback=rigid_modes(body)
    )[-1]
    for rest in rests:
        assert last.carried[rest.name].forces.sum() == pytest.approx(3e3, rel=1e-3)
