"""Buckled plates in cases: shapes, states, supports, what is said, and what is refused."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flamefe.outcome.measure import find_measure
from flamefe.straining.buckle import NoBuckle
from flamefe.study.case import (
    Case,
    CaseError,
    Clamp,
    Flame,
    Guide,
    Mesh,
    Plate,
    PointsShape,
    SineShape,
    Solve,
    SpotHeat,
)
from flamefe.study.casefile import case_from_text, dump_case
from flamefe.study.result import RunResult
from flamefe.study.run import run

EDGES = [Clamp(face=face) for face in ("start", "end", "near", "far")]
HELD_DOWN = Guide(face="bottom", released="after cooling")


def _case(**more: Any) -> Case:
    """A panel of 240 x 240 x 2 mm with one spot in its middle, coarse."""
    given: dict[str, Any] = {
        "title": "hopper panel",
        "workpiece": Plate(length_mm=240, width_mm=240, thickness_mm=2, material="S355"),
        "mesh": Mesh(size_at_heat_mm=10, size_away_mm=30, layers=2),
        "flames": {"small": Flame(power_kW=0.7, radius_mm=15)},
        "heats": [SpotHeat(flame="small", face="top", at_mm=[120, 120], time_s=10)],
        "supports": EDGES,
        "solve": Solve(largest_temperature_step_C=120),
    }
    return Case(**{**given, **more})


def _value(result: RunResult, name: str) -> float:
    return find_measure(result.cycles[-1].measures, name).value


@pytest.fixture(scope="module")
def stressed() -> dict[str, RunResult]:
    shape = SineShape(height_mm=3, state="stressed")
    return {
        "free": run(_case(initial_shape=shape)),
        "held": run(_case(initial_shape=shape, supports=[*EDGES, HELD_DOWN])),
    }


def test_a_stressed_buckle_starts_at_its_height(stressed: dict[str, RunResult]) -> None:
    """Results count from the buckled shape; the mesh shows it; nothing moves before the heat."""
    for result in stressed.values():
        assert _value(result, "dishing before the job") == pytest.approx(3.0, rel=0.01)
        names = [one.name for one in result.cycles[-1].measures if "flatness" in one.name]
        assert names == ["flatness before the job", "flatness of the panel"]  # no third
        assert result.mesh.p[2].max() == pytest.approx(0.005, abs=3e-5)
        assert result.initial_shape is not None
        assert np.abs(result.strain.displacements[0]).max() < 5e-5
        assert result.strain.watched
        change = _value(result, "dishing") - _value(result, "dishing before the job")
        assert _value(result, "change of dishing") == pytest.approx(change, abs=0.05)


def test_held_it_comes_nearer_to_flat_than_free(stressed: dict[str, RunResult]) -> None:
    """A free spot in the middle of a buckle does not help, a held one does."""
    assert _value(stressed["free"], "change of dishing") > -0.05
    assert _value(stressed["held"], "change of dishing") < -0.4


def test_what_the_shape_is_is_said(stressed: dict[str, RunResult]) -> None:
    words = " ".join(stressed["held"].warnings)
    assert "stands under an excess of" in words
    assert "can pop it through" in words


def test_a_measured_shape_is_formed(tmp_path: Path) -> None:
    """Stress-free; the file lies beside the case file, and the case can be written and read."""
    rows = [
        f"{x},{y},{-2 * np.sin(np.pi * x / 240) * np.sin(np.pi * y / 240):.4f}"
        for x in range(0, 241, 40)
        for y in range(0, 241, 40)
    ]
    (tmp_path / "panel.csv").write_text("x_mm,y_mm,z_mm\n" + "\n".join(rows) + "\n")
    shape = PointsShape(file="panel.csv", accuracy_mm=0.02)
    text = dump_case(_case(initial_shape=shape, heats=[SpotHeat(
        flame="small", face="top", at_mm=[120, 120], time_s=0.5)]))  # fmt: skip
    case = case_from_text(text, folder=tmp_path)
    result = run(case)
    assert _value(result, "dishing before the job") == pytest.approx(-2.0, abs=0.06)
    assert _value(result, "dishing") == pytest.approx(-2.0, abs=0.2)
    assert any("smooth surface" in words for words in result.warnings)
    (tmp_path / "panel.csv").unlink()
    with pytest.raises(CaseError, match="not there"):
        case_from_text(text, folder=tmp_path)


def test_flat_sheets_and_unwatched_ones_are_doubted() -> None:
    brief = [SpotHeat(flame="small", face="top", at_mm=[120, 120], time_s=0.5)]
    flat = run(_case(heats=brief))
    assert any("perfectly flat, and no real one is" in words for words in flat.warnings)
    blind = run(_case(heats=brief, solve=Solve(stability="never", largest_temperature_step_C=120)))
    assert any("Stability was not checked, as asked" in words for words in blind.warnings)
    assert flat.strain.watched
    assert not blind.strain.watched
    small = run(_case(heats=brief, solve=Solve(geometry="small", largest_temperature_step_C=120)))
    assert any("in small geometry nothing buckles" in words for words in small.warnings)


def test_stressed_without_held_edges_is_refused() -> None:
    corners = [Clamp(face="start")]
    with pytest.raises(NoBuckle):
        run(_case(initial_shape=SineShape(height_mm=3, state="stressed"), supports=corners))


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"initial_shape": {"kind": "sine", "height_mm": 0}}, "any height but 0"),
        ({"initial_shape": {"kind": "sine", "height_mm": 20}}, "a twentieth of the half wave"),
        ({"initial_shape": {"kind": "sine", "height_mm": 3, "waves": [0, 1]}}, "1"),
        (
            {
                "initial_shape": {"kind": "sine", "height_mm": 3, "state": "stressed"},
                "supports": [],
            },
            "without a support that stays",
        ),
        (
            {"initial_shape": {"kind": "sine", "height_mm": 3}, "solve": {"geometry": "small"}},
            "carries by its shape",
        ),
        ({"solve": {"geometry": "small", "stability": "always"}}, "knows of buckling"),
    ],
)
def test_what_does_not_fit_is_refused(more: dict[str, Any], words: str) -> None:
    with pytest.raises(CaseError, match=words):
        _case(**more)


@pytest.mark.parametrize("height", [0.9, 0.95, 1.0, -1.0, 3.0])
def test_every_sheet_that_stands_both_ways_says_so(height: float) -> None:
    """Hardly heated, so it stays the symmetric sheet that it was: it can pop to the other side."""
    case = _case(
        initial_shape=SineShape(height_mm=height, state="stressed"),
        mesh=Mesh(size_at_heat_mm=10, size_away_mm=24, layers=1),
        flames={"small": Flame(power_kW=0.05, radius_mm=15)},
        heats=[SpotHeat(flame="small", face="top", at_mm=[120, 120], time_s=1)],
    )
    result = run(case)
    assert any("also on the other side" in text for text in result.warnings)
    assert _value(result, "dishing") == pytest.approx(height, rel=0.05)
