"""Everything public is documented, typed and shown at work."""

import importlib
import inspect
import pkgutil
from importlib import metadata

import pytest
from typer.testing import CliRunner

import flamefe
from flamefe import cli

MODULES = [
    info.name
    for info in pkgutil.walk_packages(flamefe.__path__, "flamefe.")
    if not info.name.endswith("__main__")
]


def public_of(module_name):
    module = importlib.import_module(module_name)
    for name, thing in vars(module).items():
        if name.startswith("_") or getattr(thing, "__module__", None) != module_name:
            continue
        if inspect.isfunction(thing) or inspect.isclass(thing):
            yield name, thing


@pytest.mark.parametrize("module_name", MODULES)
def test_everything_public_has_a_docstring_and_types(module_name):
    module = importlib.import_module(module_name)
    assert (module.__doc__ or "").strip(), f"{module_name} does not say what it is for"
    for name, thing in public_of(module_name):
        assert (thing.__doc__ or "").strip(), f"{module_name}.{name} is not documented"
        members = [thing] if inspect.isfunction(thing) else [
            member for key, member in vars(thing).items()
            if inspect.isfunction(member) and not key.startswith("_")
        ]  # fmt: skip
        for member in members:
            assert (member.__doc__ or "").strip(), f"{module_name}.{name}: {member.__qualname__}"
            hints = inspect.signature(member)
            assert hints.return_annotation is not inspect.Signature.empty, member.__qualname__
            for label, parameter in hints.parameters.items():
                typed = parameter.annotation is not inspect.Parameter.empty
                assert typed or label in ("self", "cls"), f"{member.__qualname__}: {label}"


def test_the_front_door_is_small_and_complete():
    assert 20 <= len(flamefe.__all__) <= 32
    assert sorted(flamefe.__all__) == flamefe.__all__
    for name in flamefe.__all__:
        assert (getattr(flamefe, name).__doc__ or "").strip(), name


def test_the_version_is_the_one_that_the_command_tells():
    assert flamefe.__version__ == metadata.version("flamefe")
    assert CliRunner().invoke(cli.app, ["--version"]).output == f"flamefe {flamefe.__version__}\n"


def test_front_door_names_show_an_example():
    without = [
        name for name in flamefe.__all__ if ">>>" not in (getattr(flamefe, name).__doc__ or "")
    ]
    assert without == [], f"no doctest in: {without}"
