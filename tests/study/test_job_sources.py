"""What heats of a job do, from finished runs and from rule cards."""

import json
from dataclasses import replace

import pytest

import flamefe
from flamefe.outcome.measure import find_measure
from flamefe.planning.defined import problem_of
from flamefe.planning.definition import Definition, DefinitionError
from flamefe.rules.shipped import shipped_card
from flamefe.study.case import Bar, Case, Flame, Jack, Mesh, Rest, Solve, WedgeHeat
from flamefe.study.job_sources import with_sources
from flamefe.study.measuring import rule_inputs
from flamefe.study.parts import material_of

WEDGE = WedgeHeat(
    flame="torch", face="top", both_faces=True, apex_mm=[200, 30], base_mm=[200, 100],
    angle_deg=45, target_C=590,
)  # fmt: skip


def bar(**parts):
    return Case(
        title="a wedge on a flat bar",
        mesh=Mesh(size_at_heat_mm=9, size_away_mm=60, layers=1),
        flames={"torch": Flame(power_kW=1.2, radius_mm=14)},
        **{
            "heats": [WEDGE],
            "solve": Solve(geometry="finite"),
            "workpiece": Bar(length_mm=400, depth_mm=100, thickness_mm=10, material="S355"),
            **parts,
        },
    )


def job(**heats):
    return Definition.model_validate(
        {
            "title": "Girder", "uncertainty_mm": 0.5, "tolerance": {"plus_mm": 3},
            "part": {"kind": "girder", "length_mm": 12000, "measured_at_mm": [6000]},
            "heats": [{"kind": "wedge", "at_mm": [6000], "sides": ["top"], **heats}],
        }
    )  # fmt: skip


def test_a_run_tells_what_a_heat_does(tmp_path):
    result = flamefe.run(bar())
    flamefe.write_result(result, tmp_path / "wedge-result")
    made = with_sources(job(results={"45 deg": "wedge-result"}), tmp_path)
    (heat,) = made.heats
    first = find_measure(result.cycles[0].measures, "closing rotation").value
    assert heat.sizes_mrad["45 deg"] == pytest.approx(abs(first), rel=1e-9)
    assert heat.repeats == [1.0, 0.0]
    assert heat.source == "runs wedge-result"
    (one,) = problem_of(made).library.candidates
    assert 1e3 * one.moves[0] == pytest.approx(-abs(first) * 1e-3 * 12000 / 4)
    told = json.loads((tmp_path / "wedge-result" / "result.json").read_text())
    told["cycles"][0]["heat_check"]["within_limit"] = False
    (tmp_path / "hot.json").write_text(json.dumps(told))
    with pytest.raises(DefinitionError, match="passed its heating limit"):
        with_sources(job(results={"45 deg": "hot.json"}), tmp_path)


@pytest.mark.parametrize(("second", "share"), [(-3.2, 0.6), (-1.5, 0.0)])
def test_a_second_cycle_on_the_same_places_is_a_repeat(tmp_path, second, share):
    wedge = {"kind": "wedge", "apex_mm": [900, 50], "base_mm": [900, 300]}
    result_file(tmp_path, TURNS, heats=[wedge, {**wedge, "cycle": 2}])
    told = json.loads((tmp_path / "result.json").read_text())
    again = {**TURNS, "closing rotation, upright": second}
    measures = [{"name": name, "value": value} for name, value in again.items()]
    told["cycles"].append({"measures": measures, "heat_check": {"within_limit": True}})
    (tmp_path / "result.json").write_text(json.dumps(told))
    (heat,) = with_sources(job(results={"l": "result.json"}), tmp_path).heats
    assert heat.repeats == pytest.approx([1.0, share])
    assert ("counted as nothing" in heat.source) == (share == 0.0)


def test_a_card_is_asked_about_a_case(tmp_path):
    pressed = bar(
        workpiece=Bar(length_mm=600, depth_mm=100, thickness_mm=10, material="S355"),
        heats=[replace(WEDGE, apex_mm=[300, 30], base_mm=[300, 100], target_C=600)],
        supports=[
            Rest(at_mm=[[20, 0, 5], [580, 0, 5]], pushes="y", released="after cooling"),
            Jack(at_mm=[300, 100, 5], radius_mm=20, pushes="-y", force_kN=6,
                 released="after cooling"),
        ],
    )  # fmt: skip
    (tmp_path / "wedge.toml").write_text(flamefe.dump_case(pressed))
    name = "wedge, closing rotation"
    made = with_sources(job(card=name, cases={"45 deg": "wedge.toml"}, peak_C=635), tmp_path)
    asked = rule_inputs(pressed, material_of(pressed), peak_C=635)
    said = shipped_card(name).predict(asked)
    assert made.heats[0].sizes_mrad["45 deg"] == pytest.approx(said.value)
    assert 0.05 <= made.heats[0].uncertain <= 0.6
    with pytest.raises(DefinitionError, match="outside its range"):
        with_sources(job(card=name, cases={"45 deg": "wedge.toml"}, peak_C=800), tmp_path)


@pytest.mark.parametrize(
    ("heats", "told"),
    [
        ({"results": {"l": "none"}}, "no result of a finished run"),
        ({"results": {"l": "none"}, "sizes_mrad": {"l": 1}}, "give one of sizes_mrad"),
        ({"card": "wedge, closing rotation"}, "needs cases"),
        ({"card": "no such card", "cases": {"l": "x.toml"}}, "can't be read"),
        ({"card": "wedge, closing rotation", "cases": {"l": "x.toml"}}, "x.toml"),
    ],
)
def test_a_source_that_tells_nothing_is_refused(heats, told, tmp_path):
    with pytest.raises(DefinitionError, match=told):
        with_sources(job(**heats), tmp_path)


def result_file(folder, turns, **parts):
    """A result.json with what is read of it."""
    case = {
        "workpiece": {"kind": "I beam", "height_mm": 400, "width_mm": 200},
        "heats": [{"kind": "wedge", "apex_mm": [900, 50], "base_mm": [900, 300]}],
        **parts,
    }
    measures = [{"name": name, "value": value} for name, value in turns.items()]
    told = {"case": case, "cycles": [{"measures": measures, "heat_check": {"within_limit": True}}]}
    (folder / "result.json").write_text(json.dumps(told))


TURNS = {"closing rotation, upright": -2.0, "closing rotation, sideways": 0.1}


@pytest.mark.parametrize(
    ("turns", "parts", "part", "told"),
    [
        ({**TURNS, "closing rotation, sideways": 6.7}, {}, {}, "2 mrad upright and by 6.7"),
        (TURNS, {"heats": [{"at_mm": [900, 5]}, {"at_mm": [1900, 5]}]}, {}, "1000 mm apart"),
        (TURNS, {}, {"depth_mm": 120}, "the job's has 120 mm"),
        ({"twist": 1.0}, {}, {}, "it has no turn"),
    ],
)
def test_a_run_of_something_else_is_refused(tmp_path, turns, parts, part, told):
    result_file(tmp_path, turns, **parts)
    made = job(results={"l": "result.json"}).model_dump()
    made["part"].update(part)
    with pytest.raises(DefinitionError, match=told):
        with_sources(Definition.model_validate(made), tmp_path)


def test_a_heat_with_its_band_is_one(tmp_path):
    band = {"kind": "band", "from_mm": [900, 5], "to_mm": [900, 195]}
    wedge = {"kind": "wedge", "apex_mm": [900, 50], "base_mm": [900, 300]}
    result_file(tmp_path, TURNS, heats=[wedge, band])
    made = with_sources(job(results={"l": "result.json"}), tmp_path)
    assert made.heats[0].sizes_mrad == {"l": 2.0}
