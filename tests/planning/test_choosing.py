"""Choosing a torch: what the table says must be what a flame does."""

import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.passing import WidePlate, passing
from flamefe.heating.standing import standing
from flamefe.planning.choosing import CLOSE_C, Torch, Wish, choices
from flamefe.reporting.choice_table import choice_text
from flamefe.study.torches import torches_from
from flamefe.workpiece.standard import material

PLATE = WidePlate(material=material("S355"), thickness=0.012)
BOTH = WidePlate(material=material("S355"), thickness=0.012, both_faces=True)
WISH = Wish(target_C=600.0, depth=0.003, limit_C=750.0)


@pytest.fixture(scope="module")
def found():
    return choices(torches_from(["acetylene:500", "acetylene:1250"]), PLATE, WISH)


def flame_named(name):
    (torch,) = torches_from([name.replace(" ", ":").replace(":L/h", "")])
    return torch.flame


def test_every_torch_is_tried_with_every_pattern(found):
    assert len(found) == 2 * 3
    assert {one.pattern for one in found} == {"spot", "line", "band of 40 mm"}


def test_the_speed_that_is_told_reaches_the_target(found):
    for one in found:
        if one.speed is None:
            continue
        weave = 0.04 if one.pattern.startswith("band") else 0.0
        again = passing(flame_named(one.torch), PLATE, speed=one.speed, weave=weave)
        assert again.at(0.003) == pytest.approx(600.0, abs=CLOSE_C)
        assert again.at(0.0) == pytest.approx(one.surface_C)
        # and a faster hand does not reach it
        faster = passing(flame_named(one.torch), PLATE, speed=1.1 * one.speed, weave=weave)
        assert faster.at(0.003) < 600.0 - CLOSE_C


def test_the_time_of_a_spot_reaches_the_target(found):
    for one in found:
        if one.pattern == "spot":
            again = standing(
                flame_named(one.torch), PLATE, longest=one.time, until=2000.0, depth=0.003
            )
            assert again.at(one.time, 0.003) == pytest.approx(600.0, abs=3.0)


def test_good_ones_come_first_and_keep_all_limits(found):
    goodness = [one.good for one in found]
    assert goodness == sorted(goodness, reverse=True)
    assert any(goodness)
    assert not all(goodness)
    for one in found:
        assert one.good == (one.depth_C >= 597.0 and one.surface_C <= 750.0)


def test_gas_and_heat_of_a_metre(found):
    for one in found:
        litres = float(one.torch.split()[1])
        assert 1e3 * one.gas.fuel_volume == pytest.approx(litres / 3600 * one.time)
        assert one.heat == pytest.approx(flame_named(one.torch).power * one.time)


def test_a_larger_nozzle_is_quicker(found):
    lines = {one.torch: one for one in found if one.pattern == "line"}
    small, large = lines["acetylene 500 L/h"], lines["acetylene 1250 L/h"]
    assert large.speed > 1.5 * small.speed
    assert large.surface_C > small.surface_C  # it has less time to go deep


def test_too_weak_and_too_strong_are_told_apart():
    weak = Torch(name="weak", flame=GaussianFlame(power=300.0, radius=0.015))
    strong = Torch(name="strong", flame=GaussianFlame(power=60_000.0, radius=0.015))
    wish = Wish(target_C=600.0, depth=0.0, limit_C=2000.0, bands=(), spots=False, fastest=0.01)
    one, other = choices([weak, strong], PLATE, wish)
    by_name = {one.torch: one, other.torch: other}
    assert not by_name["weak"].reached
    assert "too weak" in by_name["weak"].words
    assert by_name["strong"].overdone
    assert "too strong" in by_name["strong"].words
    assert not by_name["strong"].good
    assert "None does it" in choice_text([by_name["weak"]], PLATE, wish)


def test_slow_choices_are_marked():
    slow = Torch(name="slow", flame=GaussianFlame(power=900.0, radius=0.015))
    wish = Wish(target_C=400.0, depth=0.01, limit_C=900.0, bands=(), spots=False)
    (one,) = choices([slow], PLATE, wish)
    assert one.doubt
    text = choice_text([one], PLATE, wish)
    assert "(?)" in text
    assert "overstates" in text


def test_table_says_what_it_rests_on(found):
    text = choice_text(found, PLATE, WISH)
    assert "uncertain by 30 %" in text
    assert "Local codes and licensed practice decide" in text
    (row,) = (line for line in text.splitlines() if line.startswith("acetylene 500 L/h   line"))
    (line,) = (one for one in found if (one.torch, one.pattern) == ("acetylene 500 L/h", "line"))
    litres = 500 / 3600 * line.time
    assert f"{litres:.0f} + {1.1 * litres:.0f} L" in row
    assert f"{line.surface_C:.0f} C" in row


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: choices([], PLATE, WISH), "no torch"),
        (lambda: Wish(target_C=600, depth=0.02, limit_C=700).within(PLATE), "20 mm in a plate"),
        (lambda: Wish(target_C=20, depth=-1, limit_C=700, slowest=1, fastest=0.1), "20 C.*depth"),
        (lambda: Wish(target_C=600, depth=0.0, limit_C=500), "above the limit of 500 C"),
        (lambda: Wish(target_C=600, depth=0.007, limit_C=700).within(BOTH), "half the thickness"),
        (lambda: torches_from(["coal gas:500"]), "coal gas:500"),
        (lambda: torches_from(["coal:5", "propane:500", "acetylene:x"]), "coal:5.*acetylene:x"),
        (lambda: torches_from(["acetylene"]), "fuel:litres an hour"),
        (lambda: torches_from(["acetylene:5"]), "10 to 100000"),
    ],
)
def test_wishes_that_cannot_be_are_refused(make, told):
    with pytest.raises(OutOfRange, match=told):
        make()
