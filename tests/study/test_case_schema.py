"""The schema that is shipped: equal to the classes, true to the files."""

import json
import tomllib
from importlib.resources import files
from typing import Any

import jsonschema
import pytest

from flamefe.study.case import Case, case_schema
from flamefe.study.casefile import dump_case, load_case
from flamefe.study.examples import example_names, example_path
from flamefe.study.faults import CaseError

CHECK = jsonschema.Draft202012Validator(case_schema())


def every(node: Any) -> list[dict[str, Any]]:
    if isinstance(node, dict):
        return [node, *(found for value in node.values() for found in every(value))]
    return [found for value in node for found in every(value)] if isinstance(node, list) else []


def test_shipped_schema_is_that_of_the_classes() -> None:
    shipped = json.loads((files("flamefe.study") / "case.schema.json").read_text("utf-8"))
    assert shipped == case_schema()


def test_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(case_schema())


@pytest.mark.parametrize("name", example_names())
def test_examples_agree_with_the_schema(name: str) -> None:
    CHECK.validate(tomllib.loads(example_path(name).read_text("utf-8")))
    CHECK.validate(tomllib.loads(dump_case(load_case(example_path(name)))))


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("title",), 3),
        (("workpiece", "kind"), "sphere"),
        (("workpiece", "thickness_mm"), 0),
        (("workpiece", "colour"), "blue"),
        (("flames", "torch", "power_kW"), "7"),
        (("flames", "torch", "power_kW"), 0),
        (("heats", 0, "speed_mm_s"), 500),
        (("heats", 0, "path_mm"), [[1, 2]]),
        (("heats", 0, "path_mm"), [[1, 2, 3], [4, 5, 6]]),
        (("heats", 0, "kind"), "spot"),
        (("mesh", "layers"), 2.5),
    ],
)
def test_schema_and_classes_refuse_the_same(path: tuple[Any, ...], value: Any) -> None:
    values = tomllib.loads(example_path("hopper_wall_line").read_text("utf-8"))
    inner = values
    for step in path[:-1]:
        inner = inner[step]
    inner[path[-1]] = value
    assert not CHECK.is_valid(values)
    with pytest.raises(CaseError):
        Case(**values)


def test_every_field_is_explained() -> None:
    schema = case_schema()
    for owner in (schema, *schema["$defs"].values()):
        assert owner["description"]
        for name, field in owner["properties"].items():
            assert field.get("description"), (owner["title"], name)
    assert all("title" not in node or node["title"] != "Kind" for node in every(schema))


def test_unknown_example_names_the_nearest() -> None:
    with pytest.raises(CaseError, match='Did you mean "hopper_wall_line"'):
        example_path("hoper_wall_line.toml")
