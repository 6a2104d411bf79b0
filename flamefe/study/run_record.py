"""What is kept of one run of a study, and the key that says which run it was."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

import flamefe.basics
from flamefe.study.case import Case, MeshFile, PointsShape, mesh_plan
from flamefe.study.compare import Row
from flamefe.study.variation import values_of_case

FORMAT = "flamefe run record 1"
ENGINE = ("basics", "workpiece", "heating", "straining", "outcome", "rules", "study")
"""Rooms whose sources decide what a run gives."""

_ASIDE = ("title", "about")
_ROW: TypeAdapter[Row] = TypeAdapter(Row)


@dataclass(frozen=True, kw_only=True)
class RunRecord:
    """One finished run.

    Args:
        key: see `run_key`.
        row: what came out, or why nothing did; without name and changes, which are the study's.
        inputs: rule inputs in trade units, by column; see `flamefe.rules.columns`.
        figures: numbers about the run itself, by name.
        lasting: whether it would come out the same again: True for results and for failures by
            a named error of the library; False where a process died, memory ran out or a file
            could not be read, which is tried again.
        mark: version that made it.
        case: what was run, as in a case file.

    Example:
        >>> record = RunRecord(key="ab", row=Row(name="", changed={}, failed="it never cools"))
        >>> RunRecord.from_json(record.to_json()) == record
        True
    """

    key: str
    row: Row
    inputs: Mapping[str, float | str] = field(default_factory=dict)
    figures: Mapping[str, float] = field(default_factory=dict)
    lasting: bool = True
    mark: str = ""
    case: Mapping[str, Any] = field(default_factory=dict)

    def to_json(self) -> str:
        """The record as text; numbers keep all their digits."""
        return json.dumps(
            {
                "format": FORMAT,
                "key": self.key,
                "mark": self.mark,
                "lasting": self.lasting,
                "row": _ROW.dump_python(self.row, mode="json"),
                "inputs": dict(self.inputs),
                "figures": dict(self.figures),
                "case": dict(self.case),
            },
            indent=1,
            allow_nan=False,
        )

    @classmethod
    def from_json(cls, text: str) -> "RunRecord":
        """The record of a text.

        Raises:
            ValueError: it is no whole record of this format.
        """
        read = json.loads(text)
        if not isinstance(read, dict) or read.pop("format", None) != FORMAT:
            raise ValueError(f"not a {FORMAT!r}")
        try:
            return cls(**{**read, "row": _ROW.validate_python(read["row"])})
        except (KeyError, TypeError) as error:
            raise ValueError(f"not a whole {FORMAT!r}: {error}") from None


@lru_cache(maxsize=1)
def engine_mark() -> str:
    """Version of the library, with a digest of the sources of its engine.

    Example:
        >>> engine_mark().startswith(version("flamefe") + "+")
        True
    """
    root = Path(flamefe.basics.__file__).parents[1]
    digest = hashlib.sha256()
    for room in ENGINE:
        for file in sorted((root / room).rglob("*")):
            if file.suffix in (".py", ".toml"):
                digest.update(file.relative_to(root).as_posix().encode())
                digest.update(file.read_bytes())
    return f"{version('flamefe')}+{digest.hexdigest()[:8]}"


def run_key(case: Case, folder: str | Path = ".") -> str:
    """Name of a run: a digest of the case, its mesh, the files that it names and the version.

    Title and free text don't count, nor does where the files lie.

    Args:
        case: what is run.
        folder: where files named in it are looked for.

    Returns:
        32 hexadecimal digits.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> run_key(base) == run_key(replace(base, title="Another name"))
        True
        >>> run_key(base) == run_key(replace(base, mesh=replace(base.mesh, layers=9)))
        False
    """
    values = values_of_case(case)
    plan = mesh_plan(case)
    files = {}
    for table, key, file in named_files(case, folder):
        values[table][key] = ""
        digest = hashlib.sha256(file.read_bytes()) if file.is_file() else hashlib.sha256(b"-")
        files[table] = digest.hexdigest()
    content = {
        "case": {key: value for key, value in values.items() if key not in _ASIDE},
        "mesh": None
        if plan is None
        else [plan.size_at_heat_mm, plan.size_away_mm, plan.reach_mm, plan.layers, plan.nodes],
        "files": files,
        "mark": engine_mark(),
    }
    text = json.dumps(content, sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def named_files(case: Case, folder: str | Path = ".") -> tuple[tuple[str, str, Path], ...]:
    """Files that a case names: table, key and path of each.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> named_files(load_case(example_path("hopper_wall_line")))
        ()
    """
    found = []
    if isinstance(case.workpiece, MeshFile):
        found.append(("workpiece", "file", Path(folder) / case.workpiece.file))
    if isinstance(case.initial_shape, PointsShape):
        found.append(("initial_shape", "file", Path(folder) / case.initial_shape.file))
    return tuple(found)


def with_files_in(case: Case, names: Mapping[str, str]) -> Case:
    """The case with other paths for the files that it names.

    Args:
        case: what is run.
        names: path by table, as `named_files` names them.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> with_files_in(base, {}) == base
        True
    """
    piece, shape = case.workpiece, case.initial_shape
    if isinstance(piece, MeshFile) and "workpiece" in names:
        case = replace(case, workpiece=replace(piece, file=names["workpiece"]))
    if isinstance(shape, PointsShape) and "initial_shape" in names:
        case = replace(case, initial_shape=replace(shape, file=names["initial_shape"]))
    return case
