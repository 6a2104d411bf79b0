"""How sure a run can be: numbers that the README has, and no more than is known."""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest

from flamefe.reporting.page import page_text
from flamefe.reporting.sure import LINE_HEAT, input_words, mesh_words
from flamefe.study.case import HeldLine, Mesh
from flamefe.study.variation import case_with

ROOT = Path(__file__).parents[2]


def test_measured_error_is_that_of_the_table_and_its_problem():
    table = (ROOT / "README.md").read_text("utf-8")
    row = f"| {LINE_HEAT.problem} | displacements | {LINE_HEAT.displacements_percent:.1f} % |"
    assert row in table
    row = f"| {LINE_HEAT.problem} | mean rise to the peak | {LINE_HEAT.rise_percent:+.1f} % |"
    assert row in table
    problem = json.loads((ROOT / "benchmarks/data/R3coarse.json").read_text("utf-8"))
    nodes = np.array(problem["mesh"]["nodes"])
    assert len(np.unique(nodes[:, 2])) == LINE_HEAT.layers + 1
    assert "Gaussian radius 18 mm" in problem["what"]
    longest = np.diff(np.unique(nodes[:, 0])).max() / 18.0
    assert longest == pytest.approx(LINE_HEAT.element_by_radius, abs=0.005)


def with_mesh(result, **sizes):
    return dataclasses.replace(result, case=dataclasses.replace(result.case, mesh=Mesh(**sizes)))


def test_a_coarser_mesh_than_was_measured_says_so(result):
    fine = " ".join(mesh_words(with_mesh(result, size_at_heat_mm=9, layers=3)))
    assert "One run does not show its own error" in fine
    assert "Here: 9 mm, 0.5 flame radii, in 3 layers." in fine
    assert "--vary mesh.size_at_heat_mm=9,6 " in fine
    assert "about 0.8 to 2 times what has changed" in fine
    coarse = " ".join(mesh_words(with_mesh(result, size_at_heat_mm=11, layers=1)))
    assert "in 1 layer: longer elements and fewer layers than there, so a larger error" in coarse


def test_the_comparison_that_is_proposed_can_be_made(result):
    assert case_with(result.case, {"mesh.size_at_heat_mm": 6.0}).mesh.size_at_heat_mm == 6.0


def test_ten_per_cent_of_power_moves_the_rise_by_as_much(make_result):
    said = input_words(make_result(hot=600.0))  # 620 C in air of 20 C
    assert "flamefe spread" in said[0]
    assert "620 C to about 560 or 680 C, above the limit of 650 C (first order" in said[1]
    assert "above the limit" not in input_words(make_result(hot=500.0))[1]
    held = HeldLine(flame="torch", face="top", path_mm=[[50, 100], [350, 100]], target_C=600)
    assert "driven by temperature" in input_words(make_result(heats=[held]))[1]


def test_page_says_how_sure(result):
    text = page_text(result, charts=False)
    sure = text[text.index('id="sure"') :]
    assert "Error by mesh and steps" in sure
    assert "is not computed here" in sure
