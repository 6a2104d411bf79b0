"""Case files: TOML to a checked case and back, each fault with its line."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any

import tomlkit
from pydantic import TypeAdapter

from flamefe.study.case import Case, MeshFile, Plate, PointsShape
from flamefe.study.case_rolled import with_dimensions
from flamefe.study.faults import CaseError, Fault, nearest, shown
from flamefe.study.toml_places import Places
from flamefe.study.toml_reading import Reading, read_toml
from flamefe.workpiece.shape import ShapeError, on_panel, read_heights


def load_case(path: str | FilePath) -> Case:
    """Read and check a case file.

    The path of a mesh file in it counts from the folder of the case file.

    Args:
        path: the TOML file, UTF-8.

    Returns:
        The case.

    Raises:
        CaseError: the file can't be read, or has faults; all of them at once, with their lines.

    Example:
        >>> from flamefe.study.examples import example_path
        >>> load_case(example_path("hopper_wall_line")).title
        'Line heat on a hopper wall'
    """
    file = FilePath(path)
    try:
        data = file.read_bytes()
    except (OSError, ValueError) as error:
        raise CaseError([_unreadable(file, error)]) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise CaseError([Fault(
            path=(), given="a character that is not UTF-8", allowed="text in UTF-8",
            advice="Save the file with the encoding UTF-8.", file=file.name, line=line,
        )]) from None  # fmt: skip
    return case_from_text(text, name=file.name, folder=file.parent)


def case_from_text(
    text: str, name: str = "case.toml", *, folder: str | FilePath | None = None
) -> Case:
    """Check the text of a case file.

    Args:
        text: TOML.
        name: what to call it in faults.
        folder: where a mesh file named in it lies; None: the path is left as it is, and nobody
            looks whether the file is there.

    Returns:
        The case.

    Raises:
        CaseError: with all faults at once, in the order of the text.

    Example:
        >>> text = '''
        ... title = "Wall"
        ... heats = [{kind = "spot", flame = "torch", face = "topp", at_mm = [20, 20], time_s = 9}]
        ... [workpiece]
        ... kind = "plate"
        ... length_mm = 400
        ... width = 200
        ... width_mm = 200
        ... thickness_mm = 12
        ... material = "S355"
        ... [flames.torch]
        ... power_kW = 7
        ... radius_mm = 18
        ... '''
        >>> case_from_text(text, "wall.toml")
        Traceback (most recent call last):
        ...
        flamefe.study.faults.CaseError: The case has 2 faults:
        wall.toml, line 3, column 43: heats[0].face (heat 1)
            Given: no face "topp". Allowed: one of "bottom", ... Did you mean "top"?
        wall.toml, line 7, column 1: workpiece.width
            Given: "width", which is not known here. Allowed: ... Did you mean "width_mm"?
    """
    reading = read_toml(text)
    if reading.values is None:
        raise CaseError(replace(fault, file=name) for fault in reading.faults)
    faults: list[Fault] = []
    case: Case | None = None
    try:
        case = Case(**with_dimensions(reading.values))
    except CaseError as error:
        faults += error.faults
    if case is not None and isinstance(case.workpiece, MeshFile) and folder is not None:
        file = FilePath(folder) / case.workpiece.file
        if file.is_file():
            case = replace(case, workpiece=replace(case.workpiece, file=str(file)))
        else:
            faults.append(_no_file(("workpiece", "file"), file))
    shape = None if case is None else case.initial_shape
    if case is not None and isinstance(shape, PointsShape) and folder is not None:
        file = FilePath(folder) / shape.file
        if file.is_file():
            case = replace(case, initial_shape=replace(shape, file=str(file)))
            faults += _heights(case, file)
        else:
            faults.append(_no_file(("initial_shape", "file"), file))
    located = [*with_lines(faults, reading.text, name)]
    if reading.faults:
        located = _without_lost(located, reading, name)
    if located or case is None:
        raise CaseError(located)
    return case


def _heights(case: Case, file: FilePath) -> list[Fault]:
    """What is wrong with the measured heights of a plate."""
    if not isinstance(case.workpiece, Plate):
        return []
    length, width, _ = case.workpiece.size_mm
    try:
        on_panel(read_heights(file), (1e-3 * length, 1e-3 * width), file.name)
    except ShapeError as error:
        return [
            Fault(
                path=("initial_shape", "file"), given=str(error).rstrip("."),
                allowed="heights of this plate",
                advice="Mend the file of measured points, or the size of the plate.",
            )
        ]  # fmt: skip
    return []


def with_lines(faults: Iterable[Fault], text: str, name: str = "case.toml") -> tuple[Fault, ...]:
    """Faults with their places in the text of the case file.

    Args:
        faults: of the case that the text describes.
        text: TOML.
        name: what to call it in faults.
    """
    places = Places(text)
    located = []
    for fault in faults:
        line, column = places.of(fault.path)
        located.append(replace(fault, file=name, line=line, column=column))
    return tuple(located)


def dump_case(case: Case) -> str:
    """Text of a case file that gives the same case again; values of None are left out.

    Example:
        >>> from flamefe.study.case import Clamp, Flame, Plate, SpotHeat
        >>> case = Case(
        ...     title="One spot",
        ...     workpiece=Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355"),
        ...     flames={"torch": Flame(power_kW=7, radius_mm=18)},
        ...     heats=[SpotHeat(flame="torch", face="top", at_mm=[200, 100], time_s=20)],
        ... )
        >>> case_from_text(dump_case(case)) == case
        True
    """
    values = TypeAdapter(Case).dump_python(case, mode="json", exclude_none=True)
    document = tomlkit.document()
    for key, value in values.items():
        tidy = _tidy(value)
        if tidy not in ({}, []):
            document[key] = tidy
    return tomlkit.dumps(document)


def _tidy(value: Any) -> Any:
    """Numbers without needless decimals, empty tables and lists left out of tables."""
    if isinstance(value, Mapping):
        inner = {key: _tidy(item) for key, item in value.items()}
        return {key: item for key, item in inner.items() if item != {} and item != []}
    if isinstance(value, list | tuple):
        return [_tidy(item) for item in value]
    if isinstance(value, str) and "\n" in value:
        return _in_lines(value)
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    return value


def _in_lines(text: str) -> Any:
    """Text of several lines, written as such."""
    safe = text.replace("\\", "\\\\").replace('"', '\\"')
    return tomlkit.value(f'"""\n{safe}"""')


def _without_lost(located: Iterable[Fault], reading: Reading, name: str) -> list[Fault]:
    """Faults of the reading, and those others that don't come from its stand-ins."""
    places = Places(reading.text)
    lost = {places.at(line) for line in reading.lost}
    kept = [
        fault
        for fault in located
        if fault.given.endswith("not known here")
        or not any(fault.path[:end] in lost for end in range(1, len(fault.path) + 1))
    ]
    return kept + [
        replace(fault, file=name, path=places.at(fault.line or 0)) for fault in reading.faults
    ]


def _unreadable(file: FilePath, error: Exception) -> Fault:
    if isinstance(error, FileNotFoundError):
        return replace(_no_file((), file), file=file.name)
    reason = getattr(error, "strerror", None) or "it can't be opened"
    return Fault(
        path=(), given=f"{shown(str(file))}: {reason}", allowed="a TOML file that can be read",
        advice="Check the path and the rights.", file=file.name,
    )  # fmt: skip


def _no_file(path: tuple[str | int, ...], file: FilePath) -> Fault:
    try:
        there = [entry.name for entry in file.parent.iterdir() if entry.is_file()]
    except (OSError, ValueError):
        there = []
    guess = nearest(file.name, there)
    return Fault(
        path=path, given=f"{shown(str(file))}, which is not there",
        allowed="a file that is there",
        advice=f"Did you mean {shown(guess)}?" if guess else "Check the path.",
    )  # fmt: skip
