"""Girders and columns: geometry of turns, exact and for small turns."""

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.planning.effect import HeatEffect
from flamefe.planning.members import Column, Girder, axis_places, turned_away
from flamefe.planning.seats import MemberHeat


def wedge(turn, *, side=0.0, extent=0.0, shortening=0.0, twist=0.0):
    return HeatEffect(
        kind="wedge", rotation_y=turn, rotation_z=side, extent=extent, shortening=shortening,
        twist=twist, source="made up",
    )  # fmt: skip


def heats(*given):
    return [
        MemberHeat(name=f"h{i}", effect=effect, station=x) for i, (x, effect) in enumerate(given)
    ]


def test_lean_of_a_column_is_turn_times_lever():
    """Exact for small turns: the top of 20 m moves 3 mrad * 14 m towards the heated side."""
    column = Column(heights=[6.0, 10.0, 20.0])
    one = column.heat("b", wedge(3e-3), height=6.0, towards=np.radians(30.0))
    moved = column.influence([one])[:, 0].reshape(2, 3)
    lever = np.array([0.0, 4.0, 14.0])
    assert moved[0] == pytest.approx(3e-3 * lever * np.cos(np.radians(30.0)))
    assert moved[1] == pytest.approx(3e-3 * lever * np.sin(np.radians(30.0)))


@pytest.mark.parametrize(("towards", "axis", "sign"), [(0, 0, 1), (90, 1, 1), (180, 0, -1)])
def test_the_top_moves_towards_the_heated_side(towards, axis, sign):
    column = Column(heights=[0.0, 8.0])
    one = column.heat("b", wedge(2e-3), height=2.0, towards=np.radians(towards))
    exact = column.deviations([one]).reshape(2, 2)
    assert exact[axis, 1] == pytest.approx(sign * 6.0 * np.sin(2e-3), rel=1e-9)
    assert abs(exact[1 - axis, 1]) < 1e-12


def test_camber_of_even_kinks_is_that_of_the_inscribed_polygon():
    """n equal kinks at the middles of n equal parts: the axis is a polygon about a circle. Its
    middle stands off the chord by the sum of its straight pieces, derived piece by piece."""
    length, count, turn = 30.0, 40, 0.02
    at = (np.arange(count) + 0.5) * length / count
    row = heats(*((x, wedge(turn)) for x in at))
    girder = Girder(length=length, stations=[15.0], measured=("camber",))
    # half the girder from the middle on: pieces turn by turn/2 more each, upwards (top closes)
    pieces = np.diff(np.concatenate(([0.0], at[count // 2 :] - 15.0, [15.0])))
    rise = (pieces * np.sin(turn * np.arange(count // 2 + 1))).sum()
    assert girder.deviations(row)[0] == pytest.approx(-rise, rel=1e-9)
    # small turns: the same without the sines' curvature, and visibly other at 0.8 rad in all
    small = girder.influence(row).sum()
    assert small == pytest.approx(-(pieces * turn * np.arange(count // 2 + 1)).sum(), rel=1e-9)
    assert abs(small / girder.deviations(row)[0] - 1.0) > 0.01


def test_influence_is_the_limit_of_the_exact_shape():
    girder = Girder(length=12.0, stations=np.linspace(0.5, 11.5, 9), supports=(1.0, 10.0))
    row = heats(
        (0.6, wedge(1e-5, side=-2e-5)),
        (5.0, wedge(-3e-5, extent=1.2)),
        (11.0, wedge(0.0, side=1e-5)),
    )
    exact = girder.deviations(row)
    assert np.abs(exact).max() > 5e-5
    # within the spread one the exact shape has 24 kinks, not an arc
    assert girder.influence(row).sum(axis=1) == pytest.approx(exact, rel=1e-6, abs=1e-8)


def test_supports_are_where_the_string_lies():
    girder = Girder(length=12.0, stations=[1.0, 6.0, 10.0, 12.0], supports=(1.0, 10.0))
    change = girder.influence(heats((6.0, wedge(1e-3))))[:4, 0]
    assert change[0] == pytest.approx(0.0, abs=1e-15)
    assert change[2] == pytest.approx(0.0, abs=1e-15)
    assert change[1] == pytest.approx(-1e-3 * 5.0 * 4.0 / 9.0)
    assert change[3] == pytest.approx(1e-3 * (2.0 - 5.0 * 2.0 / 9.0 + 0.0), abs=3e-3)


def test_an_even_spread_over_the_whole_length_is_an_arc():
    """Sag of an arc: phi L / 8 for small turns, R (1 - cos(phi / 2)) exactly."""
    length, turn = 6.0, 0.3
    girder = Girder(length=length, stations=[3.0], measured=("camber",))
    spread = heats((3.0, wedge(turn, extent=length)))
    assert girder.influence(spread)[0, 0] == pytest.approx(-turn * length / 8.0)
    arc = length / turn * (1.0 - np.cos(turn / 2.0))
    assert girder.deviations(spread)[0] == pytest.approx(-arc, rel=2e-3)
    assert turned_away([length], 3.0, length)[0] == pytest.approx(3.0)


def test_shortening_and_twist_add_up_and_shorten_the_chord():
    row = heats((2.0, wedge(0.0, shortening=1e-3, twist=0.01)), (4.0, wedge(0.0, shortening=2e-3)))
    girder = Girder(length=6.0, stations=[3.0])
    assert girder.shortening(row) == pytest.approx(3e-3)
    assert girder.twist(row) == pytest.approx(0.01)
    assert axis_places(np.array([6.0]), row)[0] == pytest.approx([5.997, 0.0, 0.0])


def test_twisted_ends_carry_their_kinks_round():
    """A quarter turn about the axis between two kinks turns the second one's plane: the end goes
    to the side of -y by the second kink where it would have gone up."""
    quarter = heats((1.0, wedge(0.0, twist=0.5)), (1.0, wedge(0.0, twist=0.5)), (2.0, wedge(0.1)))
    end = axis_places(np.array([3.0]), quarter)[0]
    assert end == pytest.approx(
        [2.0 + np.cos(0.1), -np.sin(0.1) * np.sin(1.0), np.sin(0.1) * np.cos(1.0)]
    )


def test_what_lies_off_the_member_is_refused():
    girder = Girder(length=6.0, stations=[3.0])
    with pytest.raises(OutOfRange, match="reaches from 0 to 6 m"):
        girder.influence(heats((6.5, wedge(1e-3))))
    with pytest.raises(OutOfRange, match="A station"):
        Girder(length=6.0, stations=[3000.0])
    with pytest.raises(OutOfRange, match="tenth of the length"):
        Girder(length=6.0, stations=[3.0], supports=(1.0, 1.1))
    with pytest.raises(OutOfRange, match="one height"):
        Column(heights=[0.0])


def test_names_follow_the_deviations():
    girder = Girder(length=6.0, stations=[2.0, 4.0])
    assert girder.names == ("camber at 2 m", "camber at 4 m", "sweep at 2 m", "sweep at 4 m")
    change = girder.influence(heats((3.0, wedge(0.0, side=1e-3))))[:, 0]
    assert change[:2] == pytest.approx([0.0, 0.0])
    assert (change[2:] < 0.0).all()  # the side of large y shortens: the middle goes to -y
