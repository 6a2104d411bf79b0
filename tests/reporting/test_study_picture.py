"""The picture of many heats: each rule and the card against the outcome."""

from pathlib import Path

import numpy as np
import pytest

from flamefe.reporting.study_picture import study_picture
from flamefe.rules.shipped import shipped_card
from flamefe.rules.table_file import read_table

STUDIES = Path(__file__).parents[2] / "benchmarks" / "studies"


@pytest.mark.parametrize(
    ("name", "table", "against", "rules"),
    [
        ("line heat, angular change", "line_heats.csv", "", {"two layers"}),
        ("line heat, transverse shrinkage", "line_heats.csv", "speed_mm_s", {"Satoh and Terasaki"}),
        ("wedge, closing rotation", "wedge_heats.csv", "peak_C", {"perfect confinement"}),
    ],
)
def test_every_heat_and_rule_is_drawn(name, table, against, rules, tmp_path):
    rows, card = read_table(STUDIES / table), shipped_card(name)
    chart = study_picture(rows, card, tmp_path / "study.svg", against=against)
    assert (tmp_path / "study.svg").read_text("utf-8").startswith("<?xml")
    left, right = chart.figure.axes
    labels = {text.get_text() for text in chart.figure.legends[0].get_texts()}
    assert rules <= labels
    assert "card, 95 % of heats" in labels
    dots = [line for line in right.lines if line.get_marker() == "o"]
    assert len(dots) > 0.8 * len(rows)
    ratios = np.array([line.get_ydata()[0] for line in dots])
    assert 0.8 < np.median(ratios) < 1.25
    assert rules <= {name for name in labels if name in chart.words}
    assert right.get_xlabel() == (against or "thickness_mm")
    assert "came out" in left.get_xlabel()


def test_rows_without_an_outcome_are_left_out(tmp_path):
    rows = [dict(row) for row in read_table(STUDIES / "line_heats.csv")]
    card = shipped_card("line heat, angular change")
    rows[3]["angular change at mid length [deg]"] = ""
    chart = study_picture(rows, card)
    squares = next(line for line in chart.figure.axes[0].lines if line.get_marker() == "s")
    assert len(squares.get_xdata()) == len(rows) - 1
