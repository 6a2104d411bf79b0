"""Study files: TOML to a checked study, each fault with its line.

The keys are those of `Study`. ``case`` names a ready case or a case file beside the study file;
``[factors]`` has a place in quotes for each factor, with a list of values or a table::

    title = "Thickness and speed"
    case = "hopper_wall_line"
    design = "Latin hypercube"     # or "grid", "Sobol"
    runs = 32                      # not with a grid
    seed = 1

    [factors]
    "workpiece.thickness_mm" = [8, 12, 16]
    "heats[].speed_mm_s" = {lowest = 4, highest = 8}
    "flames.torch.power_kW" = {lowest = 2, highest = 6, scale = "log"}
    "flames.torch.radius_mm" = {lowest = 14, highest = 22, tied_to = "flames.torch.power_kW"}

    [accuracy]
    repeat = 4
    finer = 1.5

Where a value is known with a doubt, its spread stands there instead::

    "flames.torch.power_kW" = {value = 4, spread = "10 %"}
    "materials.own.yield_strength_MPa" = {value = 400, spread = 25, distribution = "normal"}
"""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any

from flamefe.study.case import Case
from flamefe.study.casefile import load_case, with_lines
from flamefe.study.examples import example_names, example_path
from flamefe.study.faults import CaseError, Fault, choose, shown
from flamefe.study.sweep_study import Study, StudyError, StudyTables, contradictions_of
from flamefe.study.toml_reading import read_toml


def load_study(path: str | FilePath) -> Study:
    """Read and check a study file and every case that follows from it.

    Args:
        path: the TOML file, UTF-8.

    Returns:
        The study, with all its runs planned.

    Raises:
        StudyError: the file can't be read, or has faults; all of them at once, with their lines.

    Example:
        >>> load_study("no_such_study.toml")
        Traceback (most recent call last):
        ...
        flamefe.study.sweep_study.StudyError: The study has 1 fault:
        no_such_study.toml: the case
            Given: "no_such_study.toml", which can't be read. Allowed: a study file in UTF-8. ...
    """
    file = FilePath(path)
    try:
        text = file.read_text(encoding="utf-8-sig")
    except (OSError, ValueError):
        raise StudyError([Fault(
            path=(), given=f"{shown(str(file))}, which can't be read",
            allowed="a study file in UTF-8", advice="Check the path.", file=file.name,
        )]) from None  # fmt: skip
    return study_from_text(text, file.name, folder=file.parent)


def study_from_text(text: str, name: str = "study.toml", *, folder: str | FilePath = ".") -> Study:
    """Check the text of a study file and every case that follows from it.

    Args:
        text: TOML.
        name: what to call it in faults.
        folder: where case files named in it lie.

    Raises:
        StudyError: with all faults at once, those of the base case file among them.

    Example:
        >>> text = '''
        ... title = "Thickness"
        ... case = "hopper_wall_line"
        ... [factors]
        ... "workpiece.thicknes_mm" = [8, 12]
        ... "heats[].speed_mm_s" = {lowest = 8, highest = 4}
        ... '''
        >>> study_from_text(text)
        Traceback (most recent call last):
        ...
        flamefe.study.sweep_study.StudyError: The study has 2 faults:
        study.toml, line 5, column 1: factors."workpiece.thicknes_mm"
            Given: "workpiece.thicknes_mm". Allowed: a place of the base case. ...
        study.toml, line 6, column 37: factors."heats[].speed_mm_s".highest
            Given: 4. Allowed: above the lowest, 8. Put the smaller one first.
    """
    reading = read_toml(text)
    faults = [replace(fault, file=name) for fault in reading.faults]
    if reading.values is None or faults:
        raise StudyError(faults)
    given = dict(reading.values)
    case, file, others = _base(given.get("case"), FilePath(folder))
    found = [*_own_faults(given, case), *(one for one in others if not one.file)]
    others = [one for one in others if one.file]
    if not found and not others:
        try:
            study = Study(**{**given, "case": case, "folder": str(file.parent)})
            _ = study.planned, study.repeats
            return study
        except StudyError as error:
            found += error.faults
    raise StudyError([*with_lines(found, reading.text, name), *others])


def _own_faults(given: Mapping[str, Any], case: Case | None) -> list[Fault]:
    """Faults of the study file itself, as far as they can be told."""
    faults: list[Fault] = []
    try:
        StudyTables(**given)
    except CaseError as error:
        faults += error.faults
    wrong = {one.path[0] for one in faults if one.path}
    usual: dict[str, Any] = {"case": case, "factors": {}, "design": "grid", "runs": None}
    sound = {key: value for key, value in ({**usual, **given, "case": case}).items()
             if key in usual and key not in wrong}  # fmt: skip
    return faults + contradictions_of(sound)


def _base(asked: Any, folder: FilePath) -> tuple[Case | None, FilePath, list[Fault]]:
    """The base case and its file, or faults; those within a case file name it."""
    if not isinstance(asked, str) or not asked:
        return None, folder, []  # told with the other keys
    file = folder / asked
    if not file.is_file():
        if asked not in example_names():
            allowed, advice = choose(asked, example_names())
            return None, file, [Fault(
                path=("case",), given=f"{shown(asked)}, which is neither a file nor a ready case",
                allowed=f"a case file, or {allowed}", advice=advice,
            )]  # fmt: skip
        file = example_path(asked)
    try:
        return load_case(file), file, []
    except CaseError as error:
        return None, file, [replace(one, file=one.file or file.name) for one in error.faults]
