"""Tables against temperature: value, slope and integral against numerical ones."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from flamefe.basics.errors import MaterialError
from flamefe.basics.table import Table


def some_table(seed: int) -> Table:
    random = np.random.default_rng(seed)
    number = int(random.integers(2, 12))
    temperatures = np.cumsum(random.uniform(5.0, 150.0, number)) + random.uniform(-200.0, 60.0)
    return Table(
        temperature_C=tuple(temperatures), values=tuple(random.normal(size=number)), source="drawn"
    )


@pytest.mark.parametrize("seed", range(20))
def test_integral_is_the_area_from_20_C(seed: int) -> None:
    table = some_table(seed)
    for t in (-300.0, 0.0, 20.0, 133.0, 700.0, 2000.0):
        breaks = [x for x in table.temperature_C if min(20.0, t) < x < max(20.0, t)]
        edges = [20.0, *(breaks if t > 20.0 else breaks[::-1]), t]
        area = sum(quad(table, a, b)[0] for a, b in pairwise(edges))
        assert table.integral(t) == pytest.approx(area, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_slope_is_the_derivative_between_points(seed: int) -> None:
    table = some_table(seed)
    x = np.array([-500.0, *table.temperature_C, 5000.0])
    middle = 0.5 * (x[1:] + x[:-1])
    step = 1e-3
    numerical = (table(middle + step) - table(middle - step)) / (2 * step)
    np.testing.assert_allclose(table.slope(middle), numerical, atol=1e-9)
    of_integral = (table.integral(middle + step) - table.integral(middle - step)) / (2 * step)
    np.testing.assert_allclose(of_integral, table(middle), rtol=1e-5, atol=1e-6)


def test_points_are_hit_and_ends_held() -> None:
    table = some_table(3)
    np.testing.assert_allclose(table(table.temperature_C), table.values)
    assert table(-1e4) == table.values[0]
    assert table(1e4) == table.values[-1]
    assert table.slope(-1e4) == 0.0
    assert table.slope(1e4) == 0.0


def test_shapes_are_kept() -> None:
    for table in (some_table(1), Table.constant(2.0, source="one")):
        for t in (5.0, np.full((3,), 5.0), np.full((4, 2), 5.0), np.empty((0,))):
            assert table(t).shape == np.shape(t)
            assert table.slope(t).shape == np.shape(t)
            assert table.integral(t).shape == np.shape(t)


def test_a_single_point_is_a_constant() -> None:
    table = Table(temperature_C=(300.0,), values=(4.0,), source="one point")
    assert table(-50.0) == table(900.0) == 4.0
    assert table.slope(300.0) == 0.0
    assert table.integral(70.0) == pytest.approx(200.0)
    assert table.integral(-30.0) == pytest.approx(-200.0)


def test_scaling_scales_everything() -> None:
    table = some_table(5)
    scaled = table.scaled(-2.5)
    t = np.linspace(-300, 1500, 50)
    np.testing.assert_allclose(scaled(t), -2.5 * table(t))
    np.testing.assert_allclose(scaled.integral(t), -2.5 * table.integral(t))
    assert scaled.source == table.source


def test_equal_tables_are_equal_and_hashable() -> None:
    assert some_table(4) == some_table(4)
    assert some_table(4) != some_table(5)
    assert hash(some_table(4)) == hash(some_table(4))


@pytest.mark.parametrize(
    ("temperatures", "values", "text"),
    [
        ((), (), "at least one"),
        ((20, 30), (1,), "2 temperatures and 1 values"),
        ((20, 20), (1, 2), "rise from point to point; they don't at 20 C"),
        ((20, 100, 50), (1, 2, 3), "at 50 C"),
        ((20, 100), (1, np.inf), "not finite"),
        ((np.nan,), (1,), "not finite"),
    ],
)
def test_broken_tables_are_refused(
    temperatures: tuple[float, ...], values: tuple[float, ...], text: str
) -> None:
    with pytest.raises(MaterialError, match=text):
        Table(temperature_C=temperatures, values=values, source="broken")
