"""result.json: valid against its schema, and true to the result."""

import dataclasses
import json

import jsonschema
import numpy as np
import pytest

from flamefe.reporting.document import plain, result_document, result_schema


def check(document):
    jsonschema.Draft202012Validator.check_schema(result_schema())
    jsonschema.validate(document, result_schema())


@pytest.mark.parametrize("cycles", [1, 2])
def test_document_is_valid_and_survives_json(make_result, cycles):
    result = make_result(hot=900.0, cycles=cycles)
    text = json.dumps(result_document(result), allow_nan=False)
    document = json.loads(text)
    check(document)
    assert [cycle["cycle"] for cycle in document["cycles"]] == list(range(1, cycles + 1))
    assert document["case"]["heats"][0]["path_mm"] == [[50, 100], [350, 100]]
    assert document["case"]["workpiece"]["thickness_mm"] == 12
    assert document["cycles"][0]["heat_check"]["within_limit"] is False
    assert document["cycles"][0]["measures"][0]["unit"] == "deg"
    assert document["energy"]["error"] == pytest.approx(0.5 / 350)
    assert document["rules"][1]["ratio"] == pytest.approx(1.12 / 1.5)
    assert document["rules"][1]["reasons"]
    assert document["mesh"]["box_mm"][1] == pytest.approx([400, 200, 12])
    assert document["mesh"]["longest_edge_mm"] == pytest.approx(25)
    assert document["steps"]["heat_times"] == len(result.heat.times)


def test_numbers_that_are_not_finite_become_null(make_result):
    result = make_result()
    effort = dataclasses.replace(result.strain.effort, worst_residual=float("nan"))
    document = result_document(
        make_result(
            strain=dataclasses.replace(result.strain, effort=effort),
            figures={"cpu_s": float("inf")},
        )
    )
    assert document["convergence"]["worst_residual"] is None
    assert document["figures"]["cpu_s"] is None
    json.dumps(document, allow_nan=False)
    check(document)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("schema_version",), "2"),
        (("energy", "supplied_J"), "350 kJ"),
        (("cycles",), []),
        (("mesh", "nodes"), 0),
        (("unknown",), 1),
    ],
)
def test_schema_refuses_what_is_wrong(result, path, value):
    document = result_document(result)
    place = document
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    with pytest.raises(jsonschema.ValidationError):
        check(document)


def test_plain_takes_arrays_and_unknown_things():
    assert plain(np.array([[1.0, np.nan]])) == [[1.0, None]]
    assert plain({1: np.bool_(True)}) == {"1": True}
