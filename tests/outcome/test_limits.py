"""Heat check, tolerance classes and residual stress in numbers."""

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.limits import HeatCheck, check_heat
from flamefe.outcome.measure import find_measure
from flamefe.outcome.residual import residual_stress_measures
from flamefe.outcome.tolerance import iso_13920_class, iso_13920_limit_mm
from flamefe.straining.history import EndState


def test_peak_place_moment_and_time_above():
    """Two humps of one node add up; another node is hotter for a shorter time."""
    times = [0.0, 10.0, 20.0, 30.0, 50.0, 60.0]
    slow = [20.0, 700.0, 600.0, 700.0, 700.0, 20.0]
    brief = [20.0, 900.0, 20.0, 20.0, 20.0, 20.0]
    points = [[0.0, 0.0, 0.0], [0.1, 0.02, 0.012]]
    found = check_heat(times, np.column_stack((slow, brief)), points, limit_C=650, valid_to_C=1200)
    assert found.peak_C == 900.0
    assert found.peak_at_mm == pytest.approx((100, 20, 12))
    assert found.peak_time_s == 10.0
    first_hump = 10 * 50 / 680 + 10 * 50 / 100
    second_hump = 10 * 50 / 100 + 20 + 10 * 50 / 680
    assert found.time_above_s == pytest.approx(first_hump + second_hump)
    assert found.time_above_at_mm == (0.0, 0.0, 0.0)
    assert not found.within_limit
    assert found.margin_C == -250.0
    assert "Too hot: 900 C at (100, 20, 12) mm, 250 K above" in found.verdict


def test_just_at_the_limit_is_within_it():
    found = check_heat(
        [0, 1, 2], [[20.0], [650.0], [650.0]], [[0, 0, 0]], limit_C=650, valid_to_C=600
    )
    assert found.within_limit
    assert found.time_above_s == 0.0
    assert found.time_above_at_mm is None
    assert "local code" in found.verdict
    assert not found.within_tables
    assert "extrapolated" in found.verdict


@pytest.mark.parametrize(
    ("times", "temperatures", "points"),
    [
        ([0, 1], [[20.0], [np.nan]], [[0, 0, 0]]),
        ([0, 0], [[20.0], [20.0]], [[0, 0, 0]]),
        ([0, 1], [[20.0], [20.0]], [[0, 0, 0], [1, 0, 0]]),
        ([], np.empty((0, 1)), [[0, 0, 0]]),
    ],
)
def test_bad_histories_are_refused(times, temperatures, points):
    with pytest.raises(OutOfRange):
        check_heat(times, temperatures, points, limit_C=650, valid_to_C=1200)


def test_check_refuses_numbers_that_are_none():
    with pytest.raises(OutOfRange):
        HeatCheck(
            limit_C=650,
            valid_to_C=1200,
            peak_C=float("nan"),
            peak_at_mm=(0, 0, 0),
            peak_time_s=0,
            time_above_s=0,
        )


@pytest.mark.parametrize(
    ("shape_class", "length_mm", "limit_mm"),
    # ISO 13920, straightness, flatness and parallelism (a public copy of its table).
    [
        ("E", 120, 0.5),
        ("E", 120.1, 1),
        ("E", 1000, 1.5),
        ("F", 2000, 4.5),
        ("F", 8000, 8),
        ("G", 4000, 11),
        ("G", 12000, 20),
        ("H", 400, 5),
        ("H", 20000, 40),
    ],
)
def test_iso_13920(shape_class, length_mm, limit_mm):
    assert iso_13920_limit_mm(shape_class, length_mm) == limit_mm
    assert iso_13920_class(-limit_mm, length_mm) == shape_class
    assert iso_13920_class(limit_mm + 0.01, length_mm) != shape_class


def test_iso_13920_out_of_reach():
    assert iso_13920_class(100.0, 500) is None
    with pytest.raises(OutOfRange, match="30 mm"):
        iso_13920_class(1.0, 30)
    with pytest.raises(OutOfRange, match="unknown"):
        iso_13920_limit_mm("A", 500)
    with pytest.raises(OutOfRange, match="finite"):
        iso_13920_class(float("nan"), 500)


def test_residual_stress_of_pure_shear_and_pressure():
    stress = np.zeros((2, 8, 6))
    stress[0, :, 3] = 100e6
    stress[1, :, :3] = -50e6
    state = EndState(
        name="cold",
        time=1.0,
        displacement=np.zeros((12, 3)),
        stress=stress,
        plastic_strain=0 * stress,
        equivalent_plastic_strain=np.zeros((2, 8)),
    )
    found = residual_stress_measures(state)
    mises = find_measure(found, "largest von Mises stress")
    assert mises.value == pytest.approx(100 * np.sqrt(3))
    assert mises.unit == "MPa"
    assert find_measure(found, "largest tension along x").value == 0
    assert find_measure(found, "largest compression along x").value == pytest.approx(50)


def test_a_measure_that_is_not_there():
    with pytest.raises(OutOfRange, match="there are: none"):
        find_measure((), "twist")
