"""Variants run side by side: the same as run alone, failures kept as rows."""

import csv
import io

import pytest

import flamefe.study.compare
from flamefe.basics.errors import NotConverged, OutOfRange
from flamefe.reporting.comparison import (
    comparison_csv,
    comparison_text,
    shown_measures,
    unknown_measures,
)
from flamefe.reporting.comparison_picture import draw_comparison
from flamefe.study.case import Case, Flame, Mesh, Plate, Prices, SpotHeat
from flamefe.study.compare import base_variant, compare
from flamefe.study.run import run
from flamefe.study.variation import grid, varied

CASE = Case(
    title="A spot on a gusset",
    workpiece=Plate(length_mm=60, width_mm=60, thickness_mm=8, material="S355"),
    mesh=Mesh(size_at_heat_mm=10, size_away_mm=20, layers=1),
    flames={"torch": Flame(fuel="acetylene", consumption_L_h=300)},
    heats=[SpotHeat(flame="torch", face="top", at_mm=[30, 30], time_s=4)],
    prices=Prices(acetylene_m3=12, oxygen_m3=3),
)


@pytest.fixture(scope="module")
def rows():
    made = (
        base_variant(CASE),
        *grid(CASE, {"workpiece.thickness_mm": [5, -5]}),
        varied(CASE, {"heats[0].time_s": 12}, name="long"),
    )
    told = []
    found = compare(made, workers=2, told=lambda done, all_: told.append((done, all_)))
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]
    return found


def test_rows_keep_their_order_and_say_what_changed(rows):
    assert [row.name for row in rows] == [
        "as it is", "workpiece.thickness_mm = 5", "workpiece.thickness_mm = -5", "long",
    ]  # fmt: skip
    assert rows[1].changed == {"workpiece.thickness_mm": 5}


def test_a_row_is_what_the_run_alone_gives(rows):
    result = run(CASE)
    assert rows[0].peak_C == pytest.approx(result.heat.peak.max(), rel=1e-9)
    for measure in result.cycles[0].measures:
        assert rows[0].value(measure.name) == pytest.approx(measure.value, rel=1e-6, abs=1e-9)
    assert rows[0].fuel_L == pytest.approx(300 / 3600 * 4)
    assert rows[0].cost == pytest.approx(1e-3 * rows[0].fuel_L * (12 + 1.1 * 3))


def test_bands_are_drawn_where_an_error_is_given(rows, tmp_path):
    plain = draw_comparison("x", rows, tmp_path / "plain.svg").read_text("utf-8")
    banded = draw_comparison("x", rows, tmp_path / "bands.svg", error_share=0.08).read_text("utf-8")
    assert "Bands: 8 % of the value" not in plain
    assert banded.count("<use") > plain.count("<use"), "caps at the ends"
    with pytest.raises(OutOfRange, match="share from 0"):
        draw_comparison("x", rows, tmp_path / "no.svg", error_share=-1.0)


def test_measures_that_no_row_has_are_told(rows):
    assert shown_measures(rows, ["flatness", "dishign"]) == ("flatness",)
    assert shown_measures(rows, ["dishign"]) == shown_measures(rows)
    (said,) = unknown_measures(rows, ["flatness", "flatnes"])
    assert 'No measure "flatnes" here' in said
    assert 'Did you mean "flatness"?' in said


def test_a_variant_that_makes_no_case_is_a_row(rows):
    assert "workpiece.thickness_mm" in rows[2].failed
    assert rows[2].peak_C is None


def test_a_run_that_fails_is_a_row_and_stops_no_other(monkeypatch):
    whole = flamefe.study.compare.run

    def failing(case, **given):
        if case.workpiece.thickness_mm == 5:
            raise NotConverged("it did not settle", [])
        return whole(case, **given)

    monkeypatch.setattr(flamefe.study.compare, "run", failing)
    found = compare(grid(CASE, {"workpiece.thickness_mm": [5, 8]}), workers=1)
    assert found[0].failed == "it did not settle"
    assert found[1].peak_C is not None


def test_hotter_and_thinner_are_told_in_the_table(rows):
    text = comparison_text(CASE.title, rows)
    lines = text.splitlines()
    assert lines[0] == "Comparison: A spot on a gusset"
    assert "FAILED" in next(
        line for line in lines if line.startswith("workpiece.thickness_mm = -5")
    )
    assert "TOO HOT (limit 650 C)" in next(line for line in lines if line.startswith("long"))
    assert "1 of 4 failed." in lines
    assert rows[1].peak_C > rows[0].peak_C


def test_csv_holds_every_number(rows):
    read = list(csv.DictReader(io.StringIO(comparison_csv(rows))))
    assert len(read) == 4
    assert float(read[0]["peak_C"]) == rows[0].peak_C
    assert read[2]["failed"]
    assert read[1]["workpiece.thickness_mm"] == "5"
    for measure in rows[0].measures:
        head = f"{measure.name} [{measure.unit}]" if measure.unit else measure.name
        assert float(read[0][head]) == measure.value


def test_picture_is_drawn_for_few_many_and_failed(rows, tmp_path):
    file = draw_comparison("<b>$x$ & more", rows, tmp_path / "c.png")
    assert file.stat().st_size > 10_000
    draw_comparison("only failures", [rows[2]], tmp_path / "f.svg")
    assert (tmp_path / "f.svg").read_text("utf-8").startswith("<?xml")


def test_measures_asked_for_are_shown(rows):
    assert shown_measures(rows, ["twist", "nonsense"]) == ("twist",)
    assert "flatness" in shown_measures(rows)
    assert "twist" in comparison_text(CASE.title, rows, measures=["twist"])


def test_the_largest_holding_force_is_that_of_a_support():
    held = varied(CASE, {"supports": [{"kind": "clamp", "face": "start"},
                                      {"kind": "clamp", "face": "end"}]}, name="held")  # fmt: skip
    row, free = compare((held, base_variant(CASE)), workers=1)
    result = run(held.case)
    assert row.holding_kN == pytest.approx(max(one.largest_kN for one in result.devices), rel=1e-6)
    assert row.holding_kN > 1.0
    assert free.holding_kN is None
    assert "held kN" in comparison_text("x", [row, free])
