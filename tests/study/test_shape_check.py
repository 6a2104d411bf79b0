"""Straightness and flatness against ISO 13920: which measures, over which length."""

import pytest

from flamefe.outcome.measure import Measure
from flamefe.study.case import Case, Flame, Limits, LineHeat, Plate, SineShape
from flamefe.study.shape_check import shape_findings

SIZE = (600.0, 300.0, 10.0)


def plate(way, **parts):
    return Case(
        title="a line",
        workpiece=Plate(length_mm=600, width_mm=300, thickness_mm=10, material="S355"),
        flames={"torch": Flame(power_kW=5, radius_mm=18)},
        heats=[LineHeat(flame="torch", face="top", path_mm=way, speed_mm_s=6)],
        **parts,
    )


def found(case, *pairs):
    measures = [
        Measure(name=name, value=value, unit=unit, meaning="so") for name, value, unit in pairs
    ]
    return {one.measure: one for one in shape_findings(case, measures, 1, SIZE)}


def test_lines_count_over_their_own_length_and_planes_over_the_longer_side():
    """Limits of ISO 13920: to 400 mm E 1, F 1.5; to 1000 mm E 1.5, F 3 (see its module)."""
    pairs = [("bow of the near edge", -1.4, "mm"), ("flatness", 1.4, "mm"), ("twist", 1.0, "deg")]
    along = found(plate([[100, 150], [500, 150]], limits=Limits(shape_class="E")), *pairs)
    assert {name: (one.length_mm, one.kept, one.within) for name, one in along.items()} == {
        "bow of the near edge": (600, "E", True), "flatness": (600, "E", True),
    }  # fmt: skip
    across = found(plate([[300, 50], [300, 250]], limits=Limits(shape_class="E")), *pairs)
    bow = across["bow of the near edge"]
    assert (bow.length_mm, bow.kept, bow.allowed_mm, bow.within) == (300, "F", 1.0, False)
    assert across["flatness"].length_mm == 600


def test_a_part_that_was_not_straight_is_judged_as_it_then_is():
    case = plate([[100, 150], [500, 150]], initial_shape=SineShape(height_mm=3))
    judged = found(
        case, ("bow of the near edge", 0.1, "mm"), ("flatness", 0.1, "mm"),
        ("flatness of the panel", 9.5, "mm"), ("flatness before the job", 3.0, "mm"),
    )  # fmt: skip
    assert list(judged) == ["flatness of the panel"]
    one = judged["flatness of the panel"]
    assert one.kept is None
    assert not one.from_straight
    assert one.within  # nothing was asked for


def test_a_class_that_there_is_not_is_refused():
    with pytest.raises(Exception, match="shape_class"):
        Limits(shape_class="A")
