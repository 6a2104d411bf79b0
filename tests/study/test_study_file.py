"""Study files: what varies, how runs are chosen, and every fault at once with its line."""

import numpy as np
import pytest
from scipy import stats

from flamefe.study.casefile import load_case
from flamefe.study.examples import example_path
from flamefe.study.faults import CaseError
from flamefe.study.study_file import load_study, study_from_text
from flamefe.study.sweep_design import design_points, spread_over
from flamefe.study.sweep_factors import Levels, Range, Spread
from flamefe.study.sweep_finer import finer_case
from flamefe.study.sweep_study import Accuracy, Study, StudyError

HEAD = 'title = "x"\ncase = "hopper_wall_line"\n'


@pytest.fixture(scope="module")
def base():
    return load_case(example_path("hopper_wall_line"))


def faults_of(text):
    with pytest.raises(StudyError) as caught:
        study_from_text(text)
    return caught.value.faults


def test_a_grid_has_every_combination_with_tied_factors_beside(base):
    study = Study(
        title="x",
        case=base,
        factors={
            "workpiece.thickness_mm": [8, 12],
            "flames.torch.power_kW": {"lowest": 2, "highest": 8, "scale": "log", "steps": 3},
            "flames.torch.radius_mm": {
                "lowest": 14, "highest": 20, "tied_to": "flames.torch.power_kW",
            },
            "mesh.layers": {"values": [4, 6], "tied_to": "workpiece.thickness_mm"},
        },
    )  # fmt: skip
    assert [tuple(point.changes.values()) for point in study.points] == [
        (8, 2, 14, 4), (8, 4, 17, 4), (8, 8, 20, 4), (12, 2, 14, 6), (12, 4, 17, 6), (12, 8, 20, 6),
    ]  # fmt: skip
    case = study.planned[4].case
    assert (case.workpiece.thickness_mm, case.flames["torch"].power_kW) == (12, 4)
    assert (case.flames["torch"].radius_mm, case.mesh.layers) == (17, 6)


@pytest.mark.parametrize("design", ["Latin hypercube", "Sobol"])
def test_each_factor_is_covered_evenly_and_the_seed_decides(design):
    factors = {"a": Range(lowest=0, highest=1), "b": Range(lowest=1, highest=100, scale="log")}
    points = design_points(factors, design, runs=16, seed=5)
    for place, lowest, highest in (("a", 0, 1), ("b", 0, 2)):
        values = np.array([point.changes[place] for point in points])
        values = np.log10(values) if place == "b" else values
        pieces = np.floor(16 * (values - lowest) / (highest - lowest)).astype(int)
        assert sorted(pieces) == list(range(16))
    again = design_points(factors, design, runs=16, seed=5)
    other = design_points(factors, design, runs=16, seed=6)
    assert [p.changes for p in points] == [p.changes for p in again]
    assert [p.changes for p in points] != [p.changes for p in other]


def test_tied_factors_keep_the_same_share_between_grid_points():
    factors = {"a": Range(lowest=0, highest=1), "b": Range(lowest=10, highest=30, tied_to="a")}
    for point in design_points(factors, "Sobol", runs=8):
        assert point.changes["b"] == pytest.approx(10 + 20 * point.changes["a"], abs=1e-4)


@pytest.mark.parametrize(
    ("spread", "mean", "deviation"),
    [
        (Spread(value=5, spread=0.5), 5, 0.5),
        (Spread(value=5, spread="10 %", distribution="uniform"), 5, 0.5 / 3**0.5),
        (Spread(value=5, spread=0.5, distribution="triangular"), 5, 0.5 / 6**0.5),
    ],
)
def test_spreads_have_the_moments_of_their_distribution(spread, mean, deviation):
    shares = (np.arange(2000) + 0.5) / 2000
    values = np.array([spread.at(share) for share in shares])
    assert values.mean() == pytest.approx(mean, rel=1e-4)
    assert values.std() == pytest.approx(deviation, rel=0.02)  # normal: cut at three sigma


def test_a_lognormal_spread_is_a_factor_up_and_down():
    spread = Spread(value=5, spread="20 %", distribution="lognormal")
    up, down = (spread.at(stats.norm.cdf(sigma)) for sigma in (1, -1))
    assert spread.at(0.5) == pytest.approx(5)
    assert up == pytest.approx(6, rel=2e-3)
    assert up * down == pytest.approx(25, rel=2e-3)
    assert spread.at(0.0) > 0


def test_few_points_are_chosen_far_apart():
    factors = {"a": Range(lowest=0, highest=1, steps=5), "b": Range(lowest=0, highest=1, steps=5)}
    points = design_points(factors, "grid")
    chosen = [points[i].shares for i in spread_over(points, 5)]
    assert set(chosen) == {(0.5, 0.5), (0, 0), (0, 1), (1, 0), (1, 1)}
    assert len(spread_over(points, 99)) == 25


def test_all_faults_of_a_file_are_told_with_their_lines():
    faults = faults_of(
        'titel = "x"\n'
        'case = "hopper_wall_line"\n'
        'design = "sobol"\n'
        'runs = "4"\n'
        "[factors]\n"
        '"workpiece.thicknes_mm" = [8, 12]\n'
        '"workpiece.length_mm" = 7\n'
        '"heats[].speed_mm_s" = {lowest = 8, highest = 4}\n'
        '"flames.torch.power_kW" = {value = 4, spread = "x"}\n'
        '"flames.torch.radius_mm" = {lowest = 14, highest = 19, tied_to = "flames.torch.power"}\n'
        "[accuracy]\n"
        "repeat = 0\n"
    )
    told = {(fault.line, fault.path[-1]) for fault in faults}
    assert told == {
        (1, "title"), (1, "titel"), (3, "design"), (4, "runs"), (6, "workpiece.thicknes_mm"),
        (7, "workpiece.length_mm"), (8, "highest"), (9, "spread"), (10, "tied_to"), (12, "repeat"),
    }  # fmt: skip
    assert all(fault.file == "study.toml" for fault in faults)
    advice = next(fault.advice for fault in faults if fault.line == 6)
    assert 'Did you mean "thickness_mm"' in advice


def test_every_case_is_checked_and_its_faults_lead_to_their_factor():
    faults = faults_of(
        HEAD + "[factors]\n"
        '"workpiece.thickness_mm" = {lowest = 0.1, highest = 60, steps = 4}\n'
        '"workpiece.width_mm" = [50, 200]\n'
        '"heats[].speed_mm_s" = [8, -2]\n'
    )
    lines = [fault.line for fault in faults]
    assert {4, 6} <= set(lines)  # thickness and speed at fault by themselves
    assert 3 in lines  # a line beyond a narrow plate is a matter of all
    thick = next(fault for fault in faults if fault.line == 4)
    assert "in 4 of 16 runs, first in run 1 (workpiece.thickness_mm = 0.1" in thick.given


def test_faulty_cases_are_kept_as_runs_where_that_is_asked():
    text = HEAD + 'faulty_cases = "keep"\n[factors]\n"workpiece.thickness_mm" = [0.1, 12]\n'
    planned = study_from_text(text).planned
    assert planned[0].case is None
    assert planned[0].fault.startswith("workpiece.thickness_mm: 0.1")
    assert planned[1].case is not None


@pytest.mark.parametrize(
    ("text", "path", "told"),
    [
        ('design = "Sobol"\n[factors]\n"mesh.layers" = [4]\n', "runs", "how many runs"),
        ('runs = 8\n[factors]\n"mesh.layers" = [4]\n', "runs", "every combination"),
        ('[factors]\n"mesh.layers" = {value = 4, spread = 1}\n', "mesh.layers", "levels or a"),
        ('[factors]\n"mesh.layers" = {steps = 4}\n', "mesh.layers", "lowest and highest"),
        ("[factors]\n", "factors", ""),
        ('[factors]\n"a[" = [1]\n', "a[", "no place in a case"),
        ('[factors]\n"mesh.layers" = [4]\n"mesh.size_at_heat_mm" = '
         '{values = [5, 6], tied_to = "mesh.layers"}\n', "mesh.size_at_heat_mm", "as many"),
        ('[factors]\n"mesh.layers" = {lowest = 0, highest = 4, scale = "log"}\n', "lowest",
         "above 0"),
        ('[factors]\n"mesh.layers" = [4]\n[accuracy]\nfiner = 9\n', "finer", "1.2 to 3"),
        ('[factors]\n"mesh.size_at_heat_mm" = [2]\n[accuracy]\nfiner = 3\n', "accuracy",
         "3 times finer"),
        ('[factors]\n"mesh.layers" = {lowest = 1, highest = 9, steps = 200}\n'
         '"mesh.size_at_heat_mm" = {lowest = 1, highest = 9, steps = 200}\n', "factors",
         "up to 20000"),
    ],
)  # fmt: skip
def test_what_a_study_may_not_hold(text, path, told):
    faults = faults_of(HEAD + text)
    assert [fault.path[-1] for fault in faults] == [path]
    assert told in str(faults[0])


def test_faults_of_the_base_case_name_its_own_file(tmp_path):
    (tmp_path / "wall.toml").write_text('title = "x"\n[workpiece]\nkind = "plat"\n')
    file = tmp_path / "study.toml"
    file.write_text('title = "x"\ncase = "wall.toml"\nrun = 3\n[factors]\n"a.b" = [1]\n')
    with pytest.raises(StudyError) as caught:
        load_study(file)
    assert {fault.file for fault in caught.value.faults} == {"study.toml", "wall.toml"}


def test_a_case_that_is_not_there_and_a_text_that_is_no_toml(tmp_path):
    faults = faults_of('title = "x"\ncase = "hopper_wal_line"\n[factors]\n"mesh.layers" = [1]\n')
    assert [(fault.line, fault.advice) for fault in faults] == [
        (2, 'Did you mean "hopper_wall_line"?')
    ]
    assert faults_of("title = 'x\n")[0].line in (1, 2)
    with pytest.raises(StudyError, match="can't be read"):
        load_study(tmp_path / "none.toml")


def test_a_finer_case_is_finer_everywhere(base):
    fine = finer_case(base, 1.5)
    assert fine.mesh.size_at_heat_mm == pytest.approx(base.mesh.size_at_heat_mm / 1.5)
    assert fine.solve.largest_temperature_step_C == 20
    # a sixth of the radius of travel, by 1.5
    assert fine.solve.heat_step_s == pytest.approx(18 / 6 / 6 / 1.5)
    spots = load_case(example_path("deck_spot_field"))
    assert finer_case(spots, 2).solve.heat_step_s in (None, 1.0)


def test_a_study_in_python_is_checked_too(base):
    with pytest.raises(StudyError, match="no place in the case"):
        Study(title="x", case=base, factors={"workpiece.thick": Levels(values=[1])})
    with pytest.raises(StudyError, match="a case"):
        Study(title="x", case="hopper_wall_line", factors={"mesh.layers": [1]})
    with pytest.raises(CaseError, match="title"):
        Study(title="", case=base, factors={"mesh.layers": [1]})
    study = Study(title="x", case=base, factors={"mesh.layers": [2, 3, 4]}, accuracy=Accuracy())
    assert [run.number for run in study.repeats] == [2, 1, 3]
