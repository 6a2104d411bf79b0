"""Fitted flames: how often the intervals hold the truth, and what is said when they can't.

The closed form is a standing flame on a half space, whose surface is insulated elsewhere:

    T(r, t) - T0 = P / (rho c) int_0^t 2 / sqrt(4 pi D s) exp(-r^2 / (R^2 + 4 D s))
                                       / (pi (R^2 + 4 D s)) ds

and at its centre P / (pi^1.5 k R) atan(sqrt(4 D t) / R); after H. S. Carslaw, J. C. Jaeger,
Conduction of Heat in Solids, 2nd ed., Oxford 1959, ch. 10 (superposed point sources; from memory).
"""

from math import pi

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.heating.flame_fit import FitNotConverged, effective_count, fit_parameters

CONDUCTIVITY, DENSITY, HEAT = 40.0, 7850.0, 600.0
DIFFUSIVITY = CONDUCTIVITY / (DENSITY * HEAT)
TRUE = np.array([3.0, 15.0])  # kW, mm
NODES, WEIGHTS = np.polynomial.legendre.leggauss(32)
DISTANCES = (0.0, 0.012, 0.025)
TIMES = np.linspace(1.0, 20.0, 20)
NAMES = ["net power", "flame radius"]


def rise(values, distance, times):
    """Temperature rise, K, of kW and mm at a distance, m, and times, s; integrated over sqrt(s)."""
    power, radius = 1e3 * values[0], 1e-3 * values[1]
    root = 0.5 * np.sqrt(times)[:, None] * (1.0 + NODES)
    spread = radius**2 + 4.0 * DIFFUSIVITY * root**2
    kernel = 4.0 / np.sqrt(4.0 * pi * DIFFUSIVITY) * np.exp(-(distance**2) / spread) / (pi * spread)
    integral = 0.5 * np.sqrt(times) * (kernel @ WEIGHTS)
    return power / (DENSITY * HEAT) * integral


def predict(values):
    return np.concatenate([20.0 + rise(values, distance, TIMES) for distance in DISTANCES])


SERIES = [f"at {1e3 * d:g} mm" for d in DISTANCES for _ in TIMES]


def fit(measured, predicted=predict, start=(2.0, 20.0), **more):
    given = {
        "lower": [0.1, 3.0], "upper": [50.0, 100.0], "names": NAMES, "units": ["kW", "mm"],
        "series": SERIES, **more,
    }  # fmt: skip
    return fit_parameters(predicted, start, temperatures=measured, **given)


def share_within(fits, confidence):
    """How often the true value lies in the interval, for each value."""
    ends = [f.interval(confidence) for f in fits]
    return np.mean([(low <= TRUE) & (high >= TRUE) for low, high in ends], axis=0)


def test_the_closed_form_at_the_centre():
    radius = 1e-3 * TRUE[1]
    exact = (
        1e3 * TRUE[0] / (pi**1.5 * CONDUCTIVITY * radius)
        * np.arctan(np.sqrt(4.0 * DIFFUSIVITY * TIMES) / radius)
    )  # fmt: skip
    assert rise(TRUE, 0.0, TIMES) == pytest.approx(exact, rel=1e-10)


def test_without_noise_the_values_come_back():
    fitted = fit(predict(TRUE))
    assert fitted.values == pytest.approx(TRUE, rel=1e-5)
    assert fitted.rms < 1e-3
    assert fitted.clear
    assert fitted.verdict[0].startswith("The values are told apart; each is known within 0.0")


@pytest.fixture(scope="module")
def noisy_fits():
    chance = np.random.default_rng(20240611)
    exact = predict(TRUE)
    return [fit(exact + chance.normal(0.0, 8.0, exact.size)) for _ in range(300)]


def test_true_values_lie_in_the_intervals_at_the_stated_rate(noisy_fits):
    """300 sets of readings with independent noise: three standard deviations of the binomial."""
    within = share_within(noisy_fits, 0.95)
    assert (within >= 0.91).all(), within
    assert (within <= 0.98).all(), within
    for confidence in (0.68, 0.5):
        within = share_within(noisy_fits, confidence)
        spread = 3.0 * np.sqrt(confidence * (1.0 - confidence) / 300)
        assert (np.abs(within - confidence) < spread).all(), (confidence, within)


def test_spread_of_the_fits_is_the_stated_one(noisy_fits):
    logs = np.log([f.values for f in noisy_fits])
    stated = np.mean([f.covariance for f in noisy_fits], axis=0)
    assert np.cov(logs.T) == pytest.approx(stated, rel=0.3)
    assert logs.mean(axis=0) == pytest.approx(np.log(TRUE), abs=3 * np.sqrt(stated[0, 0] / 300))


def test_noise_is_found_from_the_residuals(noisy_fits):
    assert np.mean([f.rms for f in noisy_fits]) == pytest.approx(8.0, rel=0.03)
    counts = [f.independent for f in noisy_fits]
    assert np.mean(np.array(counts) == 60.0) > 0.9  # taken for correlated once in twenty times


def hanging_together(chance, size, keeps=0.8):
    """Noise of which each reading keeps a share of the one before."""
    noise = chance.normal(0.0, 1.0, size)
    for i in range(1, size):
        noise[i] = keeps * noise[i - 1] + np.sqrt(1.0 - keeps**2) * noise[i]
    return noise


def test_noise_that_hangs_together_widens_the_intervals():
    """With 100 readings a thermocouple that each keep 0.8 of the error before.

    Taken for independent, the 95 % intervals would hold the truth in less than two of three sets;
    counted by what they are worth, in nine of ten or more.
    """
    times = np.linspace(0.5, 20.0, 100)
    series = [str(d) for d in DISTANCES for _ in times]

    def predicted(values):
        return np.concatenate([20.0 + rise(values, d, times) for d in DISTANCES])

    chance, exact = np.random.default_rng(7), predicted(TRUE)
    fits = [
        fit(exact + 8.0 * np.concatenate([hanging_together(chance, 100) for _ in DISTANCES]),
            predicted, series=series)
        for _ in range(150)
    ]  # fmt: skip
    counted = share_within(fits, 0.95)
    assert (counted >= 0.88).all(), counted
    naive = []
    for f in fits:
        half = 1.968 * np.sqrt(np.diag(f.covariance) * f.independent / 300.0)
        naive.append(np.abs(np.log(f.values / TRUE)) <= half)
    assert (np.mean(naive, axis=0) < 0.67).all(), np.mean(naive, axis=0)
    assert 300 / 14 < np.mean([f.independent for f in fits]) < 300 / 5  # 1 + 2 * 0.8 / 0.2 = 9
    assert any("hang together" in words for words in fits[0].verdict)


def test_a_thermocouple_that_is_off_by_the_same_all_along_counts_once():
    series = [name for name in "ABCD" for _ in range(50)]
    errors = np.repeat([3.0, -2.0, 1.0, -2.5], 50)
    assert effective_count(errors, series) < 8
    assert effective_count(np.zeros(200), series) == 200


def test_far_from_the_flame_only_the_power_is_known():
    """Far off and late, a wide flame and a narrow one warm the part nearly alike."""

    def predicted(values):
        return 20.0 + rise(values, 0.08, np.linspace(30.0, 120.0, 40))

    noise = np.random.default_rng(3).normal(0.0, 1.5, 40)
    fitted = fit(predicted(TRUE) + noise, predicted, series=None)
    assert not fitted.clear
    assert not fitted.told_apart
    assert fitted.upper[1] / fitted.lower[1] > 2.0
    assert "net power and the flame radius can't be told apart" in fitted.verdict[0]
    assert (fitted.lower <= TRUE).all()
    assert (fitted.upper >= TRUE).all()


def test_two_values_that_act_as_one_are_said_to_be():
    """Power and a second factor on it: only their product is known, within the noise."""

    def predicted(values):
        return 20.0 + rise((values[0] * values[1], 15.0), 0.0, TIMES)

    noise = np.random.default_rng(5).normal(0.0, 4.0, TIMES.size)
    fitted = fit(
        20.0 + rise(TRUE, 0.0, TIMES) + noise, predicted, start=(2.0, 0.7), lower=[0.1, 0.1],
        upper=[30.0, 10.0], names=["power", "share"], units=["kW", "1"], series=None,
    )  # fmt: skip
    assert not fitted.told_apart
    assert fitted.correlation[0, 1] < -0.99
    assert fitted.values.prod() == pytest.approx(3.0, rel=0.02)
    assert "power x share^1," in fitted.verdict[0]
    assert fitted.upper[0] / fitted.lower[0] > 100.0


def test_a_value_that_nothing_depends_on_is_left_open():
    fitted = fit(
        predict(TRUE) + np.random.default_rng(2).normal(0.0, 5.0, 60),
        lambda values: predict(values[:2]), start=(2.0, 20.0, 1.0), lower=[0.1, 3.0, 0.1],
        upper=[50.0, 100.0, 10.0], names=[*NAMES, "colour"], units=["kW", "mm", "1"],
    )  # fmt: skip
    assert any("colour open" in words for words in fitted.verdict)
    assert fitted.upper[0] < 1.2 * fitted.values[0]


def test_a_bound_that_was_hit_is_said():
    fitted = fit(predict(TRUE), upper=[50.0, 12.0], start=(2.0, 10.0))
    assert fitted.at_bound == ("flame radius",)
    assert any("edge" in words for words in fitted.verdict)
    assert not fitted.clear


def test_stated_deviations_are_weights():
    """A thermocouple stated to be bad does no harm; one that isn't pulls the values off."""
    chance = np.random.default_rng(11)
    noise = chance.normal(0.0, 2.0, 60)
    noise[40:] += 150.0
    sigma = np.repeat([2.0, 2.0, 200.0], 20)
    weighed, alike = fit(predict(TRUE) + noise, sigma=sigma), fit(predict(TRUE) + noise)
    assert weighed.values == pytest.approx(TRUE, rel=0.02)
    assert abs(alike.values[1] / TRUE[1] - 1.0) > 0.2
    assert weighed.rms_by_deviation == pytest.approx(0.9, abs=0.3)
    assert alike.rms_by_deviation is None


def test_the_same_from_far_starts():
    measured = predict(TRUE) + np.random.default_rng(4).normal(0.0, 5.0, 60)
    found = [fit(measured, start=start).values for start in ((0.3, 60.0), (30.0, 5.0), (3.0, 15.0))]
    assert found[0] == pytest.approx(found[2], rel=1e-3)
    assert found[1] == pytest.approx(found[2], rel=1e-3)


def test_every_simulation_is_in_the_history_and_none_is_made_twice():
    calls = []

    def counted(values):
        calls.append(tuple(values))
        return predict(values)

    fitted = fit(predict(TRUE), counted)
    assert len(calls) == len(set(calls)) == len(fitted.trials)
    assert len(calls) < 40
    assert fitted.trials[-1].rms > fitted.rms  # the last were for the derivatives
    assert min(trial.rms for trial in fitted.trials) == pytest.approx(fitted.rms)


def test_a_fit_that_does_not_settle_is_an_error_with_its_history():
    with pytest.raises(FitNotConverged, match="within 2 corrections") as caught:
        fit(predict(TRUE), start=(40.0, 90.0), most=2)
    assert len(caught.value.history) >= 4
    assert caught.value.history[0].values == pytest.approx((40.0, 90.0))
    with pytest.raises(FitNotConverged, match="not finite"):
        fit(predict(TRUE), lambda values: np.full(60, np.nan))


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"lower": [0.1]}, "as many bounds"),
        ({"start": (100.0, 20.0)}, "net power starts at 100"),
        ({"lower": [0.0, 3.0]}, "0 < lower"),
        ({"confidence": 95.0}, "confidence is 95"),
        ({"sigma": np.zeros(60)}, "above 0"),
    ],
)
def test_inputs_that_do_not_fit_together_are_refused(wrong, words):
    with np.errstate(divide="ignore"), pytest.raises(OutOfRange, match=words):
        fit(predict(TRUE), **wrong)
