"""Cases, results and cards at a glance: verdict first, units, and no name taken for markup."""

import io
from dataclasses import replace

import pytest
from rich.console import Console

import flamefe
from flamefe.rules.shipped import shipped_card
from flamefe.study.case import Case, Clamp, Flame, Mesh, Plate, SpotHeat

HOSTILE = "<script>alert('x')</script> [red]a[/red] & <img src=x onerror=y>"
CASE = Case(
    title=HOSTILE,
    workpiece=Plate(length_mm=80, width_mm=60, thickness_mm=8, material="S355"),
    mesh=Mesh(size_at_heat_mm=10, size_away_mm=20, layers=1),
    flames={"torch": Flame(power_kW=2.6, radius_mm=15), "idle": Flame(power_kW=1, radius_mm=15)},
    heats=[SpotHeat(name=HOSTILE, flame="torch", face="top", at_mm=[40, 30], time_s=8)],
    supports=[Clamp(face="start")],
)


def printed(thing):
    stream = io.StringIO()
    Console(file=stream, width=120, no_color=True).print(thing)
    return stream.getvalue()


@pytest.fixture(scope="module")
def result():
    return flamefe.run(CASE)


@pytest.fixture(scope="module")
def things(result):
    named = replace(shipped_card("line heat, angular change"), verdict=(HOSTILE,))
    return {"case": CASE, "result": result, "card": named}


@pytest.mark.parametrize("kind", ["case", "result", "card"])
def test_nothing_in_a_name_is_markup(things, kind):
    made = things[kind]._repr_html_()
    assert "&lt;script&gt;" in made
    assert "<script" not in made
    assert "<img" not in made
    assert "[red]a[/red] &amp;" in made
    told = printed(things[kind])
    assert "[red]a[/red]" in told
    assert "\x1b" not in told


@pytest.mark.parametrize("kind", ["case", "result", "card"])
def test_the_verdict_stands_first(things, kind):
    look = things[kind].glance
    first = look.verdict[0][0].partition(";")[0][:20]
    lines = [line for line in printed(things[kind]).splitlines() if line.strip()]
    assert lines[0].startswith(look.title[:20])
    assert lines[1].startswith(first)
    assert look.html.index("</caption><tr><td colspan") < look.html.index("<th")


def test_a_case_says_that_it_is_not_run(things):
    look = CASE.glance
    assert look.verdict == (("Checked, not run; 2 to look at.", "doubt"),)
    rows = dict(look.rows)
    assert rows["part"] == "plate of 80 x 60 x 8 mm, S355"
    assert rows["held"] == "clamp on start"
    assert ("note", 'The flame "idle" is used by no heat.') in look.rows


def test_a_result_tells_its_numbers_with_units(result):
    rows = dict(result.glance.rows)
    cycle = result.cycles[0]
    assert rows["peak temperature"] == f"{cycle.heat_check.peak_C:.0f} C"
    measure = cycle.measures[0]
    value, unit = rows[measure.name].split()
    assert float(value) == pytest.approx(measure.value, rel=0.01)
    assert unit == measure.unit
    assert result.glance.note.endswith("local codes and licensed practice decide.")


def test_what_is_bad_is_told_as_bad(result):
    cycle = result.cycles[0]
    hot = replace(cycle, heat_check=replace(cycle.heat_check, peak_C=1600.0))
    said = replace(result, cycles=(hot,)).glance.verdict
    assert said[0][0].startswith("MELTED")
    assert said[1][0].startswith("Too hot")
    assert {tone for _, tone in said[:2]} == {"bad"}
    strict = replace(CASE, solve=replace(CASE.solve, tolerance=1e-8))
    said = dict(replace(result, case=strict).glance.verdict)
    assert [tone for words, tone in said.items() if words.startswith("NOT CONVERGED")] == ["bad"]


def test_a_result_is_shown_in_words_not_in_arrays(result):
    assert len(repr(result)) < 200
    assert repr(result).endswith(f"1 cycle, peak {result.cycles[0].heat_check.peak_C:.0f} C>")
    assert str(result) == result.glance.text


def test_the_card_shows_its_range():
    told = printed(shipped_card("line heat, angular change"))
    assert told.splitlines()[0] == "Rule card: two layers (rough)"
    assert "thickness_mm" in told
    assert "local codes" in told
