"""Film coefficients against a textbook example, formulas by hand, and common sense."""

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.heating.air import blown_air, sprayed_water, still_air


def test_upright_face_against_a_textbook_example():
    """A glass door 0.71 m high at 232 C in air of 23 C: 7.0 W/(m2 K).

    F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, example 9.2 (from
    memory).
    """
    film = still_air("upright", 0.71, ambient_C=23.0)
    assert float(film(232.0)) == pytest.approx(7.0, rel=0.04)


def test_level_faces_by_hand():
    """McAdams with air at 400 K: nu 26.41e-6 m2/s, k 0.0338 W/(m K), Pr 0.690 (from memory)."""
    size, ambient, surface = 0.1, 26.85, 226.85
    rayleigh = 9.80665 / 400.0 * 200.0 * size**3 / 26.41e-6**2 * 0.690
    assert 1e5 < rayleigh < 1e7
    up = 0.54 * rayleigh**0.25 * 0.0338 / size
    down = 0.27 * rayleigh**0.25 * 0.0338 / size
    assert float(still_air("up", size, ambient_C=ambient)(surface)) == pytest.approx(up, rel=0.03)
    found = float(still_air("down", size, ambient_C=ambient)(surface))
    assert found == pytest.approx(down, rel=0.03)


def test_blown_air_by_hand():
    """Laminar plate, Nu = 0.664 Re^(1/2) Pr^(1/3), air at 350 K: nu 20.92e-6, k 0.0300, Pr 0.700
    (from memory)."""
    film = blown_air(5.0, 0.3, ambient_C=26.85)
    expected = 0.664 * np.sqrt(5.0 * 0.3 / 20.92e-6) * 0.700 ** (1 / 3) * 0.0300 / 0.3
    assert float(film(126.85)) == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("surface", [50.0, 200.0, 600.0])
def test_orientation_and_wind_rank_as_they_should(surface):
    up, down = still_air("up", 0.1)(surface), still_air("down", 0.1)(surface)
    assert 1.0 < down < up < 15.0
    assert still_air("upright", 0.2)(surface) > down
    assert blown_air(10.0, 0.2)(surface) > blown_air(3.0, 0.2)(surface) > up


def test_water_is_best_between_boiling_and_the_film_of_steam():
    film = sprayed_water()
    values = film(np.array([20.0, 150.0, 600.0]))
    assert values[1] > 5 * values[0] > 0
    assert values[1] > 5 * values[2]
    assert values[2] > 20 * still_air("up", 0.1)(600.0)


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: still_air("up", 0.0), "a face of 0 m"),
        (lambda: still_air("up", 1.0, ambient_C=300.0), "air at 300 C"),
        (lambda: blown_air(0.0, 1.0), "blown at 0 m/s"),
    ],
)
def test_impossible_air_is_refused(make, told):
    with pytest.raises(OutOfRange, match=told):
        make()
