"""A job from its definition to its end, in a file that can be taken up anywhere."""

import shutil

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.planning.bays import counted_by_area
from flamefe.planning.belief import first_belief
from flamefe.planning.defined import problem_of
from flamefe.planning.definition import Definition, DefinitionError, read_definition
from flamefe.planning.job import Job
from flamefe.planning.jobfile import JobFileError, create
from flamefe.planning.plan import plan_cycle
from flamefe.planning.problem import data_of, problem_from
from flamefe.planning.standing import JobError
from flamefe.study.job_examples import job_path

FIRST = 1e-3 * np.array([4.3, 8.4, 11.2, 13.3, 14.1, 13.2, 11.6, 8.1, 4.4])


@pytest.fixture(scope="module")
def problem():
    return problem_of(read_definition(job_path("conveyor_girder")))


@pytest.fixture
def job(tmp_path, problem):
    made = Job.start(tmp_path / "girder.job", problem, {"prices": None})
    made.measure(FIRST)
    return made


def named(*cycles):
    return [[(heat.name, heat.repeat) for heat in cycle] for cycle in cycles]


def moved(job, factor):
    heats = job.standing.planned
    return job.standing.belief.shape + factor * sum(heat.moves for heat in heats)


def test_a_job_is_played_to_its_end(job):
    """The true shop gives 0.75 of what is expected; measurements are off by up to 0.3 mm."""
    random = np.random.default_rng(2)
    true = FIRST.copy()
    for _ in range(6):
        plan = job.plan(effort="quick")
        if plan.done:
            break
        true = true + 0.75 * sum(heat.moves for heat in plan.heats)
        job.measure(true + random.uniform(-3e-4, 3e-4, true.size))
    assert plan.done
    assert 1 <= len(job.standing.cycles) <= 4
    assert np.abs(true).max() < 0.003
    assert job.standing.belief.factors[0] == pytest.approx(0.75, abs=0.1)


def test_it_goes_on_elsewhere_just_the_same(job, tmp_path):
    job.plan(effort="quick")
    job.measure(moved(job, 0.8), note="after lunch")
    folder = tmp_path / "other machine"
    folder.mkdir()
    copy = Job(shutil.copy(job.file, folder / "taken over.job"))
    assert copy.standing.belief.mean == pytest.approx(job.standing.belief.mean, abs=1e-15)
    here, there = job.preview(), copy.preview()
    assert [h.name for h in here.heats] == [h.name for h in there.heats]
    assert copy.entries[-1].data["note"] == "after lunch"


def test_every_cut_leaves_a_job_that_goes_on(job, tmp_path):
    job.plan(effort="quick")
    job.measure(moved(job, 0.8))
    whole = job.file.read_bytes()
    last = whole[:-1].rindex(b"\n") + 1
    for end in range(last, len(whole) - 1, 23):
        cut = tmp_path / f"cut{end}.job"
        cut.write_bytes(whole[:end])
        again = Job(cut)
        assert again.torn == end - last
        assert again.standing.planned is not None, "the plan still stands"
        again.measure(moved(again, 0.8))
        assert Job(cut).standing.belief.mean == pytest.approx(job.standing.belief.mean)


def test_heats_that_were_not_given_are_not_learnt_from(job):
    plan = job.plan(effort="quick")
    names = [heat.name for heat in plan.heats]
    given = plan.heats[:2]
    seen = job.standing.belief.shape + 0.9 * sum(heat.moves for heat in given)
    lesson = job.measure(seen, given=names[:2])
    assert lesson.fits
    assert [heat.name for heat in job.standing.cycles[0]] == names[:2]
    with pytest.raises(JobError, match="no heat 'other'"):
        job.measure(seen, given=["other"])


def test_decisions_are_kept_and_change_what_is_believed(job):
    job.plan(effort="quick")
    lesson = job.measure(moved(job, -1.0))
    assert not lesson.fits
    assert job.standing.belief.factors[0] == 1.0
    job.decide("learn", "it really went that way")
    assert job.standing.belief.factors[0] < 0.5
    job.decide("discard", "measured from the wrong wire")
    assert len(job.standing.steps) == 1
    assert job.standing.planned is None
    (waiting,) = job.standing.unmeasured
    with pytest.raises(JobError, match="measure again"):
        job.plan()
    shape = job.standing.belief.shape + 0.9 * sum(heat.moves for heat in waiting)
    assert job.measure(shape).fits
    assert named(*job.standing.cycles) == named(waiting)
    kinds = [entry.kind for entry in Job(job.file).entries[3:]]
    assert kinds == ["measurement", "decision", "decision", "measurement"]


def test_heats_before_a_discarded_measurement_stay_given(job):
    """Two cycles that act as expected, the measurement between them discarded."""
    job.plan(effort="quick")
    first = job.standing.planned
    job.measure(moved(job, 1.0))
    job.plan(effort="quick")
    second = job.standing.planned
    job.measure(moved(job, 1.0))
    believed = job.standing.belief.factors[0]
    job.decide("discard", measurement=3)
    assert named(*job.standing.cycles) == named(first, second)
    assert named(job.standing.steps[-1].heats) == named((*first, *second))
    assert job.standing.belief.factors[0] == pytest.approx(believed, abs=0.05)


def test_heats_are_corrected_once_after_a_discarded_measurement(job):
    """Six heats, a bad reading, a good one; then it turns out that only five were given."""
    job.plan(effort="quick")
    planned = [heat.name for heat in job.standing.planned]
    good = moved(job, 0.8)
    job.measure(good + 0.02)
    job.decide("discard")
    job.measure(good)
    bad, last = (one.number for one in job.standing.rounds[1:])
    assert job.standing.rounds[-1].heats == ()
    job.decide("discard", measurement=bad, given=planned[1:])
    assert [heat.name for heat in job.standing.cycles[0]] == planned[1:]
    assert len(job.standing.cycles) == 1
    with pytest.raises(JobError, match="discarded already"):
        job.decide("discard", measurement=bad)
    job.decide("leave", measurement=bad)  # the discard is taken back
    assert [step.number for step in job.standing.steps][1:] == [bad, last]
    assert named(*job.standing.cycles) == [[(name, 1.0) for name in planned[1:]]]


def test_a_plan_on_a_discarded_measurement_is_not_taken_for_given(job):
    job.plan(effort="quick")
    planned = [heat.name for heat in job.standing.planned]
    job.decide("discard")
    assert job.standing.stale == 1
    with pytest.raises(JobError, match="measure again"):
        job.plan(instead=True)
    with pytest.raises(JobError, match="Say which of its heats were given"):
        job.measure(FIRST)
    job.measure(FIRST, given=[])
    assert job.standing.given == ()
    assert job.standing.stale is None
    assert {heat.repeat for heat in job.plan(effort="quick").heats} == {1.0}
    job.decide("discard")
    job.measure(FIRST, given=planned[:2])
    assert [heat.name for heat in job.standing.cycles[0]] == planned[:2]


def test_a_later_plan_on_an_earlier_discarded_measurement_is_stale(job):
    job.plan(effort="quick")
    job.measure(moved(job, 0.8))
    number = job.standing.rounds[-1].number
    job.plan(effort="quick")
    job.decide("discard", measurement=number)
    assert job.standing.stale == number
    assert len(job.standing.unmeasured) == 1


def test_what_is_measured_in_python_is_counted_as_the_definition_says(tmp_path):
    """Heights of bays by area; of a ring the circle is fitted out."""
    bays = Job.start(
        tmp_path / "bays.job", problem_of(read_definition(job_path("hopper_wall_bays")))
    )
    heights = 1e-3 * np.array([3.8, -2.5, 0.6, 2.9, 3.6, -1.0])
    bays.measure(heights)
    wanted = counted_by_area(heights, 1.2e-3)
    assert bays.standing.belief.shape == pytest.approx(wanted, abs=1e-4)
    assert bays.problem.shown(bays.standing.belief.shape) == pytest.approx(
        np.abs(heights), abs=2e-4
    )
    ring = Job.start(tmp_path / "ring.job", problem_of(read_definition(job_path("drum_ring"))))
    t = np.radians(ring.reading["deg"])
    oval = 4e-3 * np.cos(2 * t)
    ring.measure(oval + 5e-3 * np.cos(t) + 2e-3)
    assert ring.standing.belief.shape == pytest.approx(oval, abs=1e-6)


def test_repeats_follow_what_was_given(job):
    plan = job.plan(effort="quick")
    job.measure(moved(job, 0.4))
    again = job.preview()
    had = {heat.place for heat in plan.heats}
    assert all(heat.repeat == (0.6 if heat.place in had else 1.0) for heat in again.heats)


def test_what_cannot_be_is_refused_and_not_written(job, tmp_path, problem):
    entries = len(Job(job.file).entries)
    for values, told in (([1.0], "1 values for 9"), ([np.nan] * 9, "not numbers")):
        with pytest.raises(OutOfRange, match=told):
            job.measure(values)
    with pytest.raises(OutOfRange, match="above 0"):
        job.measure(FIRST, uncertainty=np.zeros(9))
    with pytest.raises(JobError, match="teaches nothing"):
        job.decide("learn")
    with pytest.raises(JobError, match="no measurement 77"):
        job.decide("discard", measurement=77)
    assert len(Job(job.file).entries) == entries
    fresh = Job.start(tmp_path / "fresh.job", problem)
    with pytest.raises(JobError, match="Nothing was measured"):
        fresh.plan()
    create(tmp_path / "empty.job", {"title": "x"})
    with pytest.raises(JobFileError, match="tells no job"):
        Job(tmp_path / "empty.job")


def test_a_problem_comes_back_from_its_data(problem):
    again = problem_from(data_of(problem))
    assert again.rules == problem.rules
    assert again.library.kinds == problem.library.kinds
    for one, other in zip(again.library.candidates, problem.library.candidates, strict=True):
        assert (one.name, one.place) == (other.name, other.place)
        assert one.moves == pytest.approx(other.moves, abs=1e-9)
        assert one.position == pytest.approx(other.position)


BASE = {
    "title": "t", "uncertainty_mm": 0.5, "tolerance": {"plus_mm": 3},
    "part": {"kind": "girder", "length_mm": 12000, "measured_at_mm": [3000, 6000]},
    "heats": [{"kind": "wedge", "sizes_mrad": {"l": 2}, "at_mm": [6000]}],
}  # fmt: skip


def moves_of(**change):
    made = problem_of(Definition.model_validate({**BASE, **change}))
    return {one.name: 1e3 * one.moves for one in made.library.candidates}


def test_moves_have_the_signs_of_the_trade():
    """Heat the side that is too long; against geometry by hand."""
    found = moves_of()
    assert found["wedge l top 6000 mm"] == pytest.approx([-3.0, -6.0])
    assert found["wedge l bottom 6000 mm"] == pytest.approx([3.0, 6.0])
    both = moves_of(part={**BASE["part"], "measured": ["camber", "sweep"]})
    assert both["wedge l far 6000 mm"] == pytest.approx([0, 0, -3.0, -6.0])
    assert both["wedge l near 6000 mm"] == pytest.approx([0, 0, 3.0, 6.0])
    column = moves_of(
        part={"kind": "column", "height_mm": 9000, "measured_at_mm": [5000, 9000]},
        heats=[{"kind": "band", "sizes_mrad": {"l": 2}, "at_mm": [3000]}],
    )
    assert column["band l +X 3000 mm"] == pytest.approx([4.0, 12.0, 0.0, 0.0])
    assert column["band l -Y 3000 mm"] == pytest.approx([0.0, 0.0, -4.0, -12.0])
    ring = moves_of(
        part={"kind": "ring", "radius_mm": 500, "measured_at_deg": [*range(0, 360, 15)]},
        heats=[{"kind": "line", "sizes_mrad": {"l": 10}, "at_deg": [0]}],
    )
    n = np.arange(2, 4000)
    t = np.radians(range(0, 360, 15))
    waves = (np.cos(np.outer(t, n)) / (n**2 - 1)).sum(axis=1)
    circle = np.column_stack((np.ones(t.size), np.cos(t), np.sin(t)))
    waves -= circle @ np.linalg.lstsq(circle, waves, rcond=None)[0]
    flat = -500 * 0.01 / np.pi * waves
    assert ring["line l outside 0 deg"] == pytest.approx(flat, abs=1e-3)
    assert ring["line l inside 0 deg"] == pytest.approx(-flat, abs=1e-3)


def test_a_table_of_heats_serves_for_any_part(tmp_path):
    (tmp_path / "heats.csv").write_text(
        "heat,kind,size,place,side,x_mm,y_mm,z_mm,bay 1,bay 2\n"
        "s1,spot,30,p1,front,100,0,0,-1.5,0.2\ns2,spot,30,p2,front,400,0,0,0.2,-1.4\n"
    )
    made = Definition.model_validate(
        {**BASE, "part": {"kind": "table", "file": "heats.csv"}, "heats": [{"kind": "spot"}]}
    )
    problem = problem_of(made, tmp_path)
    assert problem.places.names == ("bay 1", "bay 2")
    assert problem.library.candidates[1].moves.tolist() == pytest.approx([2e-4, -1.4e-3])
    (tmp_path / "heats.csv").write_text("heat,kind\ns1,spot\n")
    with pytest.raises(DefinitionError, match="lacks size, place"):
        problem_of(made, tmp_path)


def test_tolerance_by_class():
    problem = problem_of(Definition.model_validate({**BASE, "tolerance": {"shape_class": "F"}}))
    assert problem.places.half.tolist() == [0.010, 0.010]  # ISO 13920, F, up to 12000 mm


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"tolerance": {}}, "plus_mm or shape_class"),
        ({"heats": [{"kind": "w", "at_mm": [6000]}]}, "no size"),
        ({"heats": [{"kind": "w", "sizes_mrad": {"l": 1}}]}, "stand nowhere"),
        ({"heats": [{**BASE["heats"][0], "sides": ["left"]}]}, "on side 'left'"),
        ({"heats": [{**BASE["heats"][0], "nozzle": "coal:5"}]}, "'coal:5'"),
    ],
)
def test_definitions_that_contradict_themselves_are_refused(change, told):
    with pytest.raises(DefinitionError, match=told):
        problem_of(Definition.model_validate({**BASE, **change}))


def test_faults_of_a_file_are_named(tmp_path):
    file = tmp_path / "job.toml"
    file.write_text('title = "x"\ncolour = 1\n[tolerance]\nplus_mm = -3\n')
    with pytest.raises(DefinitionError) as error:
        read_definition(file)
    for word in ("colour", "tolerance.plus_mm", "part", "uncertainty_mm"):
        assert word in str(error.value)
    assert "\n" not in str(error.value)
    file.write_text("title = ")
    with pytest.raises(DefinitionError, match="no TOML"):
        read_definition(file)


def changed(name, **rules):
    told = read_definition(job_path(name)).model_dump()
    told["rules"].update(rules)
    return told


@pytest.mark.parametrize(
    ("name", "rules", "words"),
    [
        ("conveyor_girder", {"forbidden": [{"from_mm": 6300, "to_mm": 5700}]}, "smaller one first"),
        ("conveyor_girder", {"forbidden": [{"from_mm": 5.7, "to_mm": 6.3}]}, "check its unit"),
        ("conveyor_girder", {"forbidden": [{"from_mm": 5700}]}, "give from_mm and to_mm"),
        ("conveyor_girder", {"forbidden": [{"from_deg": 10, "to_deg": 20}]}, "needs from_mm"),
        ("conveyor_girder", {"forbidden_places": ["middle"]}, "places are called top 900 mm"),
        ("drum_ring", {"forbidden": [{"from_mm": -200, "to_mm": 200}]}, "needs from_deg"),
        ("drum_ring", {"forbidden": [{"from_deg": 1, "to_deg": 2}]}, "holds no place"),
    ],
)
def test_a_stretch_that_must_not_be_heated_is_kept_or_refused(name, rules, words):
    with pytest.raises((DefinitionError, ValueError), match=words):
        problem_of(Definition.model_validate(changed(name, **rules)))


def test_an_arc_of_a_ring_is_not_heated():
    zone = {"from_deg": 340, "to_deg": 30, "reason": "door"}
    problem = problem_of(Definition.model_validate(changed("drum_ring", forbidden=[zone])))
    shut = set(problem.rules.forbidden_places)
    assert "outside 0 deg" in shut
    assert "outside 22.5 deg" in shut
    assert not any("90 deg" in name for name in shut)
    belief = first_belief(
        problem.library.kinds, 4e-3 * np.cos(2 * np.radians(problem.reading["deg"])),
        np.full(len(problem.places.names), 3e-4),
    )  # fmt: skip
    plan = plan_cycle(belief, problem.places, problem.library, problem.rules, effort="quick")
    assert plan.heats
    assert not {heat.place for heat in plan.heats} & shut


def test_places_in_metres_are_refused():
    told = changed("conveyor_girder")
    told["part"]["measured_at_mm"] = [1.2, 2.4, 6, 9.6]
    with pytest.raises(ValueError, match="look like metres"):
        Definition.model_validate(told)
    told = changed("conveyor_girder")
    told["heats"][0]["from_mm"], told["heats"][0]["to_mm"] = 0.6, 11.4
    with pytest.raises(ValueError, match="look like metres"):
        Definition.model_validate(told)


def test_nothing_is_learnt_from_a_measurement_in_doubt(job):
    job.plan(effort="quick")
    seen = moved(job, 0.8)
    seen[4] += 0.03
    lesson = job.measure(seen)
    assert job.standing.doubts
    assert not lesson.learnt
    assert job.standing.belief.factors[0] == pytest.approx(1.0)
    job.decide("learn", "it was read twice")
    assert job.standing.steps[-1].lesson.learnt


@pytest.mark.parametrize(
    ("name", "error", "shape"),
    [
        ("drum_ring", 3e-4, lambda x: 9e-3 * np.cos(2 * np.radians(x[:, 0]))),
        ("platform_panel", 3e-4, lambda x: 9e-3 * ((x[:, 1] - 600) / 600) ** 2),
        ("hopper_apron", 5e-4, lambda x: -5e-3 * ((x[:, 1] - 400) / 400) ** 2),
        ("conveyor_girder", 4e-4, lambda x: 14e-3 * np.sin(np.pi * x[:, 0] / 12000)),
    ],
)
def test_honest_cycles_are_learnt_from_whatever_is_fitted_out(tmp_path, name, error, shape):
    """Heats of 0.9 of what is expected, 15 % scatter, readings with their stated error."""
    told = read_definition(job_path(name))
    problem = problem_of(told)
    part = told.part
    at = part.measured_at_deg if hasattr(part, "measured_at_deg") else part.measured_at_mm
    places = np.array(at, float).reshape(len(at), -1)
    random = np.random.default_rng(5)
    factors = []
    for number in range(3):
        job = Job.start(tmp_path / f"{number}.job", problem)
        job.measure(shape(places) + random.normal(0, error, len(places)))
        plan = job.plan(effort="quick")
        moved = sum(0.9 * (1 + 0.15 * random.normal()) * heat.moves for heat in plan.heats)
        lesson = job.measure(shape(places) + moved + random.normal(0, error, len(places)))
        assert lesson.fits, (number, lesson.likelihood, lesson.why)
        factors.append(lesson.belief.factors[0])
    assert np.mean(factors) == pytest.approx(0.9, abs=0.1)


def test_a_decision_that_is_none_is_refused(job):
    with pytest.raises(JobError, match="allowed: learn, leave, discard"):
        job.decide("forget")
