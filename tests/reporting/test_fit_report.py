"""A fitted flame in words and as a picture; made from a closed form, so that nothing is solved."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.image import imread

from flamefe.heating.flame_fit import fit_parameters
from flamefe.heating.history import EnergyBalance
from flamefe.heating.readings import Readings
from flamefe.reporting.fit_picture import draw_fit
from flamefe.reporting.fit_summary import fit_text
from flamefe.reporting.picture_kind import NoSuchPicture
from flamefe.study.case import Case, Flame, Plate, SpotHeat
from flamefe.study.trial import TrialFit

TIMES = np.linspace(1.0, 20.0, 20)


def curve(values, distance, times):
    """Temperature of a made-up thermocouple: rises with power, the later the farther it is."""
    return 20.0 + 100.0 * values[0] * (1.0 - np.exp(-times / (values[1] * (1.0 + distance))))


def trial(count=3, title="trial on a platform's offcut", called="TC", **changes):
    names = [f"{called} {i + 1}" for i in range(count)]
    places = np.array([[0.03 + 0.002 * i, 0.03, 0.0] for i in range(count)])
    noise = np.random.default_rng(1).normal(0.0, 2.0, count * TIMES.size)

    def predict(values):
        return np.concatenate([curve(values, i, TIMES) for i in range(count)])

    fitted = fit_parameters(
        predict, [2.0, 10.0], lower=[0.1, 1.0], upper=[50.0, 100.0],
        names=["net power", "flame radius"], units=["kW", "mm"],
        temperatures=predict([3.0, 8.0]) + noise, series=[n for n in names for _ in TIMES],
    )  # fmt: skip
    fine = np.linspace(0.0, 20.0, 41)
    case = Case(
        title=title,
        workpiece=Plate(length_mm=60, width_mm=60, thickness_mm=8, material="S355"),
        flames={"torch": Flame(power_kW=2, radius_mm=10)},
        heats=[SpotHeat(flame="torch", face="top", at_mm=[30, 30], time_s=8)],
    )
    given = {
        "case": case,
        "model": "absorbed",
        "readings": Readings(
            places=np.repeat(places, TIMES.size, axis=0),
            times=np.tile(TIMES, count),
            temperatures=predict([3.0, 8.0]) + noise,
            labels=tuple(name for name in names for _ in TIMES),
        ),
        "fitted": fitted,
        "radius_mm": float(fitted.values[1]),
        "times": fine,
        "curves": np.column_stack([curve(fitted.values, i, fine) for i in range(count)]),
        "put_out": 8.0,
        "energy": EnergyBalance(supplied=1000.0, stored=900.0, lost=99.0),
        "remarks": ("Thermocouple TC 9 may be broken.",),
    }
    return TrialFit(**{**given, **changes})


def test_values_with_intervals_residuals_and_advice():
    made = trial()
    text = fit_text(made)
    assert all(len(line) <= 100 for line in text.splitlines())
    low, high = made.fitted.lower[0], made.fitted.upper[0]
    power = next(line for line in text.splitlines() if line.startswith("  net power"))
    assert f"{made.fitted.values[0]:.4g} kW" in power
    assert f"{low:.4g} to {high:.4g}" in power
    assert "start 2" in power
    assert "Values, with 95 % intervals" in text
    assert made.fitted.verdict[0] in text
    assert f"All together rms {made.fitted.rms:.3g} K" in text
    assert text.count("rms") == 4
    assert "60 readings of 3 thermocouples from 1 to 20 s" in " ".join(text.split())
    assert "within 0.1 %" in text
    assert "TC 9 may be broken" in text
    assert "local codes" in text
    assert "noise" in text
    assert "efficiency" not in text


def test_the_largest_residual_is_told_with_its_sign_and_time():
    made = trial(1)
    row = int(np.abs(made.fitted.residuals).argmax())
    words = f"largest {made.fitted.residuals[row]:+.2g} K at {TIMES[row]:.3g} s"
    assert words in fit_text(made)


def test_efficiency_of_a_nozzle_and_what_can_not_be():
    made = trial()
    for litres, more in ((1000, False), (100, True)):
        flame = Flame(fuel="acetylene", consumption_L_h=litres)
        text = fit_text(replace(made, case=replace(made.case, flames={"torch": flame})))
        assert "efficiency" in text
        assert ("MORE THAN THE GAS HOLDS" in text) is more


def test_hot_gas_names_the_radius_that_was_held():
    assert "held flame radius of 12.5 mm" in fit_text(trial(model="hot gas", radius_mm=12.5))


def test_many_thermocouples_and_odd_words_keep_their_lines():
    odd = "[red]$x$ \x1b[31m 漢字 "
    text = fit_text(trial(30, title="[red]$x$ 漢字 " * 8, called=odd))
    assert all(len(line) <= 100 for line in text.splitlines())
    assert "the first 12 of 30 thermocouples are shown" in text
    assert "\x1b" not in text


def drawn(folder, made):
    file = draw_fit(made, folder / "fit.png")
    assert [path.name for path in folder.iterdir()] == ["fit.png"]
    picture = imread(file)[..., :3]
    assert picture.shape == (900, 1400, 3)
    return picture


def test_the_picture_shows_both_panels_and_reads_in_grey(tmp_path):
    picture = drawn(tmp_path, trial())
    grey = picture.mean(axis=2)
    upper, lower = grey[150:560, 100:1070], grey[620:790, 100:1070]
    assert (upper < 0.35).mean() > 0.005
    assert (lower < 0.35).mean() > 0.005
    assert len(np.unique((10 * grey[grey < 0.8]).astype(int))) >= 6  # dark and pale marks
    assert grey[:, 1390:].min() == 1.0  # nothing runs off the edge
    assert grey[895:].min() == 1.0


def test_the_picture_changes_with_what_was_measured(tmp_path):
    made = trial()
    moved = replace(made, curves=made.curves + 20.0)
    folders = [tmp_path / name for name in "ab"]
    for folder in folders:
        folder.mkdir()
    assert (drawn(folders[0], made) != drawn(folders[1], moved)).mean() > 0.001


@pytest.mark.parametrize("count", [1, 8, 12])
def test_any_number_of_thermocouples(tmp_path, count):
    drawn(tmp_path, trial(count, title="100 % of $5 _under_ ^up 漢字", called="$x^ \x1b[31m 漢"))


def test_a_folder_that_is_not_there_is_an_error(tmp_path):
    with pytest.raises(OSError, match="fit"):
        draw_fit(trial(), tmp_path / "none" / "fit.png")


def test_the_file_holds_what_its_name_says(tmp_path):
    assert "<svg" in draw_fit(trial(), tmp_path / "fit.svg").read_text("utf-8")
    with pytest.raises(NoSuchPicture, match="ends in"):
        draw_fit(trial(), tmp_path / "fit.jpg")
