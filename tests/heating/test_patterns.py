"""Patterns: where the torch goes, in which order, and which heats lie on one another."""

import math
from itertools import pairwise

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.heating.overlap import overlapping_spots, overlaps, within
from flamefe.heating.pattern import Stroke, band, line, oval, ring, wedge
from flamefe.heating.pattern_spots import spot, spot_field


def places(pattern):
    return [stroke.points[0] for stroke in pattern.strokes]


@pytest.mark.parametrize("arrangement", ["square", "staggered"])
@pytest.mark.parametrize("order", ["outside in", "inside out", "rows", "symmetric"])
def test_every_order_has_the_same_spots(arrangement, order):
    made = spot_field((0, 0), (0.4, 0.3), spacing=0.1, arrangement=arrangement, order=order)
    rows = spot_field((0, 0), (0.4, 0.3), spacing=0.1, arrangement=arrangement, order="rows")
    assert sorted(places(made)) == sorted(places(rows))
    assert len(set(places(made))) == len(made.strokes)
    nearest = min(math.dist(a, b) for i, a in enumerate(places(made)) for b in places(made)[:i])
    assert 0.05 < nearest <= 0.1 + 1e-12
    assert [d.value for d in made.dimensions if d.name == "spots"] == [len(made.strokes)]


def test_square_field_reaches_its_corners_and_keeps_the_spacing():
    made = spot_field((0.1, 0.1), (0.5, 0.3), spacing=0.1, arrangement="square")
    assert len(made.strokes) == 5 * 3
    corners = {(0.1, 0.1), (0.5, 0.1), (0.1, 0.3), (0.5, 0.3)}
    assert corners <= {(round(u, 9), round(v, 9)) for u, v in places(made)}


def test_outside_in_never_goes_outwards():
    made = spot_field((0, 0), (0.4, 0.4), spacing=0.1, arrangement="square", order="outside in")
    rings = [round(max(abs(u - 0.2), abs(v - 0.2)), 9) for u, v in places(made)]
    assert rings == sorted(rings, reverse=True)
    assert rings[0] == 0.2
    assert rings[-1] == 0.0
    back = spot_field((0, 0), (0.4, 0.4), spacing=0.1, arrangement="square", order="inside out")
    assert places(back) == places(made)[::-1]


def test_symmetric_order_goes_to_the_opposite_place_each_time():
    made = places(
        spot_field((0, 0), (0.4, 0.4), spacing=0.1, arrangement="square", order="symmetric")
    )
    for one, other in zip(made[0:24:2], made[1:24:2], strict=True):
        assert other == pytest.approx((0.4 - one[0], 0.4 - one[1]))
    # so that after each pair as much is heated on one side as on the other
    for count in range(2, 25, 2):
        assert np.mean(made[:count], axis=0) == pytest.approx([0.2, 0.2])


def test_rows_run_to_and_fro():
    made = places(spot_field((0, 0), (0.2, 0.2), spacing=0.1, arrangement="square", order="rows"))
    assert all(math.dist(a, b) == pytest.approx(0.1) for a, b in pairwise(made))


def test_a_row_of_spots():
    made = spot_field((0.1, 0.2), (0.5, 0.2), spacing=0.15)
    assert len(made.strokes) == 4
    assert {v for _, v in places(made)} == {0.2}
    upright = spot_field((0.1, 0.1), (0.1, 0.5), spacing=0.15)
    assert {round(u, 9) for u, _ in places(upright)} == {0.1}


def test_band_in_passes_covers_its_width_evenly():
    made = band((0.0, 0.1), (0.3, 0.1), width=0.06, manner="passes", passes=4)
    offsets = [stroke.points[0][1] for stroke in made.strokes]
    assert offsets == pytest.approx([0.0775, 0.0925, 0.1075, 0.1225])
    assert made.strokes[1].points[0][0] == 0.3  # runs back
    same = band((0.0, 0.1), (0.3, 0.1), width=0.06, manner="passes", passes=4, alternate=False)
    assert {stroke.points[0][0] for stroke in same.strokes} == {0.0}


def test_areas_of_woven_patterns():
    """The strip swept by the weave has the area that its name promises."""

    def area(stroke):
        run = np.concatenate(
            ([0.0], np.cumsum([math.dist(a, b) for a, b in pairwise(stroke.points)]))
        )
        return np.trapezoid(stroke.widths, run)

    (oval_stroke,) = oval((0, 0), (0.1, 0), width=0.04).strokes
    assert area(oval_stroke) == pytest.approx(math.pi * 0.05 * 0.02, rel=0.01)
    (wedge_stroke,) = wedge((0, 0), (0, 0.075), angle_deg=45).strokes
    assert area(wedge_stroke) == pytest.approx(0.075**2 * math.tan(math.radians(22.5)), rel=1e-9)
    (band_stroke,) = band((0, 0), (0.3, 0), width=0.05).strokes
    assert area(band_stroke) == pytest.approx(0.3 * 0.05)


def test_ring_is_closed_and_goes_either_way():
    there = ring((0.1, 0.2), radius=0.05, start_deg=90).strokes[0]
    back = ring((0.1, 0.2), radius=0.05, start_deg=90, way=-1).strokes[0]
    assert there.points[0] == there.points[-1] == pytest.approx((0.1, 0.25))
    assert there.points[1][0] < 0.1 < back.points[1][0]
    assert there.length == pytest.approx(math.tau * 0.05, rel=2e-3)


def test_wedge_dimensions_for_the_shop():
    made = wedge((0.3, 0.025), (0.3, 0.1), angle_deg=60)
    assert {d.name: round(d.value, 1) for d in made.dimensions} == {
        "depth": 75.0,
        "base": 86.6,
        "angle": 60,
    }
    assert made.words == "wedge: depth 75 mm, base 86.6 mm, angle 60 degrees"


def test_outline_shows_the_ends_of_the_weave():
    stroke = Stroke(points=((0.0, 0.0), (0.1, 0.0)), widths=(0.02, 0.04))
    ends = [(0.0, -0.01), (0.0, 0.01), (0.1, -0.02), (0.1, 0.02)]
    assert np.allclose(sorted(stroke.outline), ends)


def test_repeated_overlapping_and_separate_heats():
    here = line([(0.1, 0.1), (0.3, 0.1)])
    beside = line([(0.1, 0.13), (0.3, 0.13)])
    far = line([(0.1, 0.3), (0.3, 0.3)])
    found = overlaps([here, line([(0.3, 0.1), (0.1, 0.1)]), beside, far], [0.02] * 4)
    pairs = {(o.first, o.second): o for o in found}
    assert set(pairs) == {(0, 1), (0, 2), (1, 2)}
    assert pairs[0, 1].share == pytest.approx(1.0)
    assert pairs[0, 1].repeated
    # strips of half width 20 mm, 30 mm apart: 10 of 40 mm lie on both
    assert pairs[0, 2].share == pytest.approx(0.25, abs=0.03)
    assert not pairs[0, 2].repeated


def test_spots_on_one_another_by_two_circles():
    """Two circles of radius R at a distance d share 2 R^2 acos(d/2R) - d/2 sqrt(4R^2 - d^2)."""
    r, d = 0.02, 0.02
    both = 2 * r**2 * math.acos(d / (2 * r)) - 0.5 * d * math.sqrt(4 * r**2 - d**2)
    (found,) = overlaps([spot((0.1, 0.1)), spot((0.1 + d, 0.1))], [r, r])
    assert found.share == pytest.approx(both / (math.pi * r**2), rel=0.01)
    close = spot_field((0, 0), (0.1, 0), spacing=0.02)
    assert len(overlapping_spots(close, r)) == 5
    assert not overlapping_spots(close, 0.005)


def test_wedge_covers_its_base_and_not_the_flanks_of_its_apex():
    made = wedge((0.3, 0.025), (0.3, 0.1), angle_deg=45)
    inside = within(made, 0.005, np.array([[0.3, 0.06], [0.325, 0.1], [0.325, 0.03]]))
    assert inside.tolist() == [True, True, False]


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: line([(0, 0)]), "at least two points"),
        (lambda: band((0, 0), (0, 0), width=0.1), "0 mm long"),
        (lambda: band((0, 0), (1, 0), width=0.1, manner="passes", passes=1), "1 passes"),
        (lambda: oval((0, 0), (0.1, 0), width=0.2), "no more than its length"),
        (lambda: ring((0, 0), radius=0.0), "radius of 0 mm"),
        (lambda: wedge((0, 0), (0, 0), angle_deg=45), "0 mm deep"),
        (lambda: spot_field((0, 0), (0, 0), spacing=0.1), "one side at least"),
        (lambda: spot_field((0, 0), (10, 10), spacing=0.01), "up to 2000"),
        (lambda: Stroke(points=((0, 0), (0, 0))), "two equal points"),
        (lambda: Stroke(points=((0, 0), (1, 0)), widths=(1.0,)), "as many widths"),
    ],
)
def test_impossible_patterns_are_refused(make, told):
    with pytest.raises(OutOfRange, match=told):
        make()
