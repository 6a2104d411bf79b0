"""The words: verdict first, honest about every doubt, safe with any title."""

import dataclasses

import pytest
from rich.console import Console

from flamefe.outcome.measure import Measure
from flamefe.reporting.summary import DISCLAIMER, WIDTH, summary_rich, summary_text
from flamefe.reporting.words import number, one_line
from flamefe.rules.value import RuleValue
from flamefe.study.case import SpotHeat
from flamefe.study.heat_outcomes import HeatOutcome, shallow_words

HOSTILE = "[bold red]<script>alert(1)</script> $\\frac{1 %s {0} " + "long " * 25


def words_of(text):
    return " ".join(text.split())


def test_a_sound_result(result):
    text = summary_text(result)
    lines = text.splitlines()
    assert lines[0] == "Line heat on a hopper wall"
    assert lines[1].startswith("Peak 520 C")
    assert "Converged" in text
    assert "angular change" in text
    assert "edges rise to the torch" in text
    assert "OUT OF RANGE: 12 mm is above" in words_of(text)
    assert "ratio 0.25" in text
    assert "0.14 % unaccounted for" in words_of(text)
    assert "561 nodes, 320 elements" in text
    assert "Hot metal burns." in text
    assert DISCLAIMER in words_of(text)
    assert len(lines) <= 45
    assert max(map(len, lines)) <= WIDTH


def test_too_hot_and_beyond_the_tables_comes_first(make_result):
    text = words_of(summary_text(make_result(hot=1250.0)))
    assert "Too hot: 1270 C" in text[:80]
    assert "extrapolated" in text[:400]


def test_not_converged_is_said_loudly(make_result):
    result = make_result()
    effort = dataclasses.replace(result.strain.effort, worst_residual=0.02)
    text = summary_text(make_result(strain=dataclasses.replace(result.strain, effort=effort)))
    assert "NOT CONVERGED" in text
    assert "Converged:" not in text


def test_energy_that_does_not_add_up_is_flagged(make_result):
    result = make_result()
    energy = dataclasses.replace(result.heat.energy, lost=300e3)
    text = summary_text(make_result(heat=dataclasses.replace(result.heat, energy=energy)))
    assert "TOO MUCH" in text
    assert "TOO MUCH" not in summary_text(result)


@pytest.mark.parametrize(
    ("bounds", "words"),
    [
        ({}, "1.5 deg"),
        ({"upper": 1.5}, "1.5 deg (that or less)"),
        ({"lower": 1.5}, "1.5 deg (that or more)"),
        ({"lower": 1.0, "upper": 2.0}, "1.5 deg (1 to 2)"),
        ({"upper": 2.0}, "1.5 deg (to 2)"),
    ],
)
def test_bounds_of_rules_in_words(make_result, bounds, words):
    rule = RuleValue(
        rule="angle", quantity="angular change", value=1.5, unit="deg", in_range=True,
        formula="t = b q", source="invented for tests", **bounds,
    )  # fmt: skip
    assert f"angular change: angle {words}\n" in summary_text(make_result(rules=(rule,)))


def test_flame_beside_the_part_is_told(make_result):
    result = make_result()
    heat = dataclasses.replace(result.heat, footprint_on_part=0.62)
    assert "only 62 %" in summary_text(make_result(heat=heat))
    assert "footprint" not in summary_text(result)


def test_a_thickness_of_the_mesh_has_no_more_figures_than_are_meant(make_result):
    one = HeatOutcome(
        number=1, name="oval", cycle=1, kind="oval", dimensions=(), start_s=0.0, burned_s=50.0,
        net_kJ=None, gas=None, cost=None, depth_mm=1.3, deepest_mm=2.0, soft_depth_mm=2.0,
        soft_deepest_mm=3.0, soft_above_C=513.0, thickness_mm=7.10506, both_faces=False,
        peak_C=600.0,
    )  # fmt: skip
    text = summary_text(dataclasses.replace(make_result(), heats=(one,)))
    assert "of 7.11 mm deep" in words_of(text)
    assert "1.3 of 7.11 mm deep" in shallow_words([one])[0]


def test_warnings_are_counted_above_and_told_below(make_result):
    text = summary_text(make_result(warnings=("coarse mesh", "buckling not looked for")))
    assert "2 warnings below" in text
    assert text.index("To doubt") < text.index("coarse mesh")


def test_cycles_stand_beside_each_other(make_result):
    text = summary_text(make_result(cycles=2))
    assert "0.5 |     1 deg" in text


def test_signs_are_told_shortly_and_noise_is_zero(make_result):
    result = make_result()
    measures = (
        Measure(
            name="camber", value=-0.63, unit="mm",
            meaning="distance from the chord; positive when the middle rises",
        ),
        Measure(name="camber in mrad", value=1.0, unit="mrad", meaning="the same"),
        Measure(name="twist", value=-3e-12, unit="deg", meaning="turn; positive about +x"),
        Measure(name="largest von Mises stress", value=300.0, unit="MPa", meaning="so it is"),
    )  # fmt: skip
    cycle = dataclasses.replace(result.cycles[0], measures=measures)
    lines = summary_text(dataclasses.replace(result, cycles=(cycle,))).splitlines()
    told = [" ".join(line.split()) for line in lines]
    assert "camber -0.63 mm +: middle rises" in told
    assert "twist 0 deg +: about +x" in told
    assert sum("von Mises" in line for line in told) == 1
    assert not any("mrad" in line for line in told)


def test_spots_and_many_heats_are_told_briefly(make_result):
    spots = [
        SpotHeat(flame="torch", face="top", at_mm=[40 + 3 * i, 100], time_s=5 + i % 2)
        for i in range(90)
    ]
    text = summary_text(make_result(heats=spots))
    assert "spot of 5 s" in text
    assert "90 heats in all" in text
    alike = [SpotHeat(flame="torch", face="top", at_mm=[40 + 3 * i, 100], time_s=5)
             for i in range(90)]  # fmt: skip
    assert "heats 1 to 90: spots of 5 s" in summary_text(make_result(heats=alike))


def test_hostile_titles_are_only_words(make_result):
    result = make_result(title=HOSTILE)
    text = summary_text(result)
    assert text.startswith("[bold red]<script>")
    assert max(map(len, text.splitlines())) <= WIDTH
    console = Console(record=True, width=200, force_terminal=True)
    with console.capture() as shown:
        console.print(summary_rich(result), soft_wrap=True)
    assert "[bold red]<script>" in shown.get()


def test_words_from_elsewhere_cannot_steer_a_terminal(make_result):
    text = summary_text(make_result(warnings=("beware \x1b[2Jof\r\nthis\x07",)))
    assert not any(ord(c) < 32 and c != "\n" for c in text)


@pytest.mark.parametrize(
    ("value", "expected"),
    [(0.5, "0.5"), (123456.0, "123456"), (1e-7, "1e-07"), (-3.14159, "-3.14"), (1e12, "1e+12")],
)
def test_numbers(value, expected):
    assert number(value, 3) == expected


def test_one_line_takes_out_what_steers():
    assert one_line("a\u202eb\x00c\u200bd") == "abcd"
