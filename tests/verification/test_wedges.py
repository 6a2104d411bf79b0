"""Wedge heats on a flat bar: what must hold whatever the torch, and the size of the rotation.

The published mean rotation (R. R. Avent and others, J. Struct. Eng. 2000, from memory) is a mean of
heats that scatter by some tens of per cent; the whole table is in benchmarks/wedges.py.
"""

import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import wedges

BASE = wedges.Wedge(angle_deg=45.0, size=0.009)


@cache
def outcome(wedge):
    return wedges.rotation(wedge)


def closing(**changes):
    return outcome(replace(BASE, **changes)).rotation_mrad


def test_front_is_held_within_25_degrees_on_its_way():
    low, high = outcome(BASE).front_C
    assert 620.0 < low < 650.0 < high < 685.0


def test_free_bar_closes_but_never_as_if_perfectly_confined():
    for angle in (30.0, 45.0):
        one = outcome(replace(BASE, angle_deg=angle))
        assert 0.0 < one.rotation_mrad < one.confined_mrad


def test_rises_with_angle_temperature_and_moment():
    assert closing() > closing(angle_deg=30.0)
    assert closing(target_C=700.0) > closing()
    assert closing(moment=1.0 / 6.0) > closing()


def test_under_a_moment_it_is_what_was_measured():
    """45 degrees, a sixth of the plastic moment: within half of the published mean."""
    one = outcome(replace(BASE, moment=1.0 / 6.0))
    assert 0.5 < one.rotation_mrad / one.mean_mrad < 1.5
