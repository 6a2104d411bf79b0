"""Ready cases that come with the package."""

import atexit
from contextlib import ExitStack
from importlib.resources import as_file, files
from pathlib import Path

from flamefe.study.faults import CaseError, Fault, choose, shown

_OPEN = ExitStack()
atexit.register(_OPEN.close)


def example_names() -> tuple[str, ...]:
    """Names of the ready cases.

    Example:
        >>> "hopper_wall_line" in example_names()
        True
    """
    folder = files("flamefe") / "examples"
    names = (entry.name for entry in folder.iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def example_path(name: str) -> Path:
    """Path of a ready case's file.

    Args:
        name: one of ``example_names()``, with or without ".toml".

    Raises:
        CaseError: there is no such case; it names the nearest.

    Example:
        >>> example_path("hopper_wall_line").name
        'hopper_wall_line.toml'
    """
    stem = name.removesuffix(".toml")
    if stem not in example_names():
        allowed, advice = choose(stem, example_names())
        raise CaseError([
            Fault(path=(), given=f"no ready case {shown(stem)}", allowed=allowed, advice=advice)
        ])  # fmt: skip
    return _OPEN.enter_context(as_file(files("flamefe") / "examples" / f"{stem}.toml"))
