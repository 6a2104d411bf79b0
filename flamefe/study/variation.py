"""Variants of a case: one value changed, or several, each checked like the case itself."""

import itertools
import re
import tomllib
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from typing import Any, get_args

from pydantic import TypeAdapter

from flamefe.basics.errors import FlamefeError
from flamefe.study.case import Case
from flamefe.study.case_rolled import Rolled, with_dimensions
from flamefe.study.faults import CaseError, nearest, shown
from flamefe.study.laying import AnyWorkpiece

MOST_VARIANTS = 500
_PIECE = "workpiece."
_KINDS: dict[str, Any] = {
    made.__dataclass_fields__["kind"].default: made for made in (*get_args(AnyWorkpiece), Rolled)
}

_STEP = re.compile(r"^(?P<name>[^\[\]]+)(?P<places>(\[\d+\])*)$")


class VariationError(FlamefeError, ValueError):
    """A variation that can't be made."""


@dataclass(frozen=True, kw_only=True)
class Variant:
    """A case of a comparison.

    Args:
        name: what it is called.
        changed: what differs from the base, by its place in the case file.
        case: the case; None where the change makes none.
        fault: why there is none; empty otherwise.
    """

    name: str
    changed: Mapping[str, Any]
    case: Case | None
    fault: str = ""


def values_of_case(case: Case) -> dict[str, Any]:
    """A case as the plain tables of its file, with all defaults."""
    made: dict[str, Any] = TypeAdapter(Case).dump_python(case, mode="json", exclude_none=False)
    return made


def varied(case: Case, changes: Mapping[str, Any], *, name: str = "") -> Variant:
    """The case with some values replaced.

    Args:
        case: the base.
        changes: new values by their place, for instance ``"workpiece.thickness_mm"``,
            ``"heats[0].speed_mm_s"``, ``"flames.torch.power_kW"`` or ``"supports"``. The value of
            a key of all heats is ``"heats[].speed_mm_s"``.
        name: of the variant; empty: its changes in words.

    Raises:
        VariationError: a place that a case does not have.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> thin = varied(base, {"workpiece.thickness_mm": 8})
        >>> thin.name, thin.case.workpiece.thickness_mm
        ('workpiece.thickness_mm = 8', 8.0)
        >>> varied(base, {"workpiece.thickness_mm": -8}).case is None
        True
    """
    said = name or ", ".join(f"{place} = {_words(value)}" for place, value in changes.items())
    try:
        return Variant(name=said, changed=dict(changes), case=case_with(case, changes))
    except CaseError as error:
        fault = "; ".join(
            f"{_place(f.path)}: {f.given}, allowed: {f.allowed}" for f in error.faults
        )
        return Variant(name=said, changed=dict(changes), case=None, fault=fault)


def case_with(case: Case, changes: Mapping[str, Any]) -> Case:
    """The case with some values replaced; see `varied`.

    Raises:
        VariationError: a place that a case does not have.
        CaseError: the values make no case.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> case_with(base, {"heats[].speed_mm_s": 8}).heats[0].speed_mm_s
        8.0
    """
    values = deepcopy(values_of_case(case))
    changes = _of_another_kind(values, changes)
    for place, value in changes.items():
        _put(values, place, deepcopy(value))
    return Case(**with_dimensions(_given(values)))


def _of_another_kind(values: dict[str, Any], changes: Mapping[str, Any]) -> Mapping[str, Any]:
    """Put in a workpiece of another kind, where one is asked for; the changes that are left.

    What both kinds know (length, material and the like) stays as it was.
    """
    kind = changes.get(_PIECE + "kind", "rolled" if _PIECE + "designation" in changes else None)
    if kind is None:
        return changes
    named = {
        place.removeprefix(_PIECE): deepcopy(value)
        for place, value in changes.items()
        if place.startswith(_PIECE)
    }
    old = values["workpiece"]
    known = _KINDS[kind].__dataclass_fields__ if kind in _KINDS else {}
    kept = {key: value for key, value in old.items() if key in known and key != "kind"}
    values["workpiece"] = {**kept, "kind": kind, **named}
    return {place: value for place, value in changes.items() if not place.startswith(_PIECE)}


def unknown_places(case: Case, changes: Mapping[str, Any]) -> dict[str, str]:
    """Places that the case does not have, with what is wrong, in words.

    Args:
        case: the base.
        changes: values by place; later places may lie in what earlier ones put there.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> list(unknown_places(base, {"workpiece.thicknes_mm": 8, "heats[0].speed_mm_s": 5}))
        ['workpiece.thicknes_mm']
    """
    values = deepcopy(values_of_case(case))
    found = {}
    for place, value in _of_another_kind(values, changes).items():
        try:
            _put(values, place, deepcopy(value))
        except VariationError as error:
            found[place] = str(error)
    return found


def grid(case: Case, levels: Mapping[str, Sequence[Any]]) -> tuple[Variant, ...]:
    """Every combination of values at some places.

    Args:
        case: the base.
        levels: values to try, by place.

    Raises:
        VariationError: a place that a case does not have, no value, or more than 500 variants.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> made = grid(base, {"heats[0].speed_mm_s": [5, 6], "workpiece.thickness_mm": [10, 12]})
        >>> len(made), made[-1].name
        (4, 'heats[0].speed_mm_s = 6, workpiece.thickness_mm = 12')
    """
    count = 1
    for place, values in levels.items():
        if not values:
            raise VariationError(f"No value is given for {place}; give one or more.")
        count *= len(values)
    if count > MOST_VARIANTS:
        raise VariationError(f"{count} variants; allowed: up to {MOST_VARIANTS}.")
    return tuple(
        varied(case, dict(zip(levels, combination, strict=True)))
        for combination in itertools.product(*levels.values())
    )


def variants_in(text: str, case: Case) -> tuple[Variant, ...]:
    """Variants of a file: tables named ``[NAME]``, each with the values that it changes.

    In a variant's table whole parts of a case may stand (``supports = [...]``, a table
    ``[NAME.workpiece]`` with some of its values), or places in quotes
    (``"heats[0].speed_mm_s" = 4``).

    Args:
        text: TOML.
        case: the base.

    Returns:
        The variants, in order; one that changes a place that a case does not have, or makes no
        case, says so in its ``fault``.

    Raises:
        VariationError: not TOML, or no table.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> base = load_case(example_path("hopper_wall_line"))
        >>> text = '''
        ... [free]
        ... [clamped]
        ... supports = [{kind = "clamp", face = "start"}]
        ... '''
        >>> [variant.name for variant in variants_in(text, base)]
        ['free', 'clamped']
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise VariationError(f"The file of variants is not TOML: {error}.") from None
    if not tables or not all(isinstance(table, Mapping) for table in tables.values()):
        raise VariationError(
            "A file of variants holds tables, one a variant, for instance [clamped] with "
            'supports = [{kind = "clamp", face = "start"}].'
        )
    if len(tables) > MOST_VARIANTS:
        raise VariationError(f"{len(tables)} variants; allowed: up to {MOST_VARIANTS}.")
    return tuple(_row(case, _flat(table), name) for name, table in tables.items())


def _row(case: Case, changes: Mapping[str, Any], name: str) -> Variant:
    """A variant of a file; one with a fault of its own stops no other."""
    try:
        return varied(case, changes, name=name)
    except VariationError as error:
        return Variant(name=name, changed=dict(changes), case=None, fault=str(error))


def level_of(words: str) -> tuple[str, list[Any]]:
    """A place and the values to try from words like ``workpiece.thickness_mm=8,10,12``.

    Values are read as TOML where they can be, else as text.

    Raises:
        VariationError: words of another form.

    Example:
        >>> level_of("workpiece.material=S235,S355"), level_of("heats[0].speed_mm_s=4,6.5")
        (('workpiece.material', ['S235', 'S355']), ('heats[0].speed_mm_s', [4, 6.5]))
    """
    place, sign, values = words.partition("=")
    if not sign or not place.strip() or not values.strip():
        raise VariationError(
            f"What to vary is given as {words!r}; allowed: place=value,value, for instance "
            "workpiece.thickness_mm=8,10,12."
        )
    try:
        read = tomllib.loads(f"values = [{values}]")["values"]
    except tomllib.TOMLDecodeError:
        read = [_one(word.strip()) for word in values.split(",")]
    return place.strip(), read


def _one(word: str) -> Any:
    try:
        return tomllib.loads(f"value = {word}")["value"]
    except tomllib.TOMLDecodeError:
        return word


def _flat(table: Mapping[str, Any], above: str = "") -> dict[str, Any]:
    """Values by place; a table within a variant changes only what it names."""
    flat: dict[str, Any] = {}
    for key, value in table.items():
        place = f"{above}.{key}" if above else key
        if isinstance(value, Mapping) and value and not place.startswith("flames."):
            flat |= _flat(value, place)
        elif isinstance(value, Mapping) and value:
            flat |= {f"{place}.{inner}": part for inner, part in value.items()}
        else:
            flat[place] = value
    return flat


def _put(values: dict[str, Any], place: str, value: Any) -> None:
    """Replace what stands at a place."""
    everywhere = re.match(r"^heats\[\]\.(.+)$", place)
    if everywhere:
        for number in range(len(values["heats"])):
            _put(values, f"heats[{number}].{everywhere[1]}", value)
        return
    here: Any = values
    steps = _steps(place)
    for step in steps[:-1]:
        here = _into(here, step, place)
    last = steps[-1]
    if isinstance(last, int):
        _into(here, last, place)
    elif not isinstance(here, dict) or (last not in here and not _free(steps)):
        raise VariationError(_unknown(place, last, here))
    here[last] = value


def _free(steps: Sequence[str | int]) -> bool:
    """Whether names at this place are the user's own."""
    return len(steps) == 2 and steps[0] in ("flames", "materials")


def _into(here: Any, step: str | int, place: str) -> Any:
    if isinstance(step, int):
        if not isinstance(here, list) or step >= len(here):
            count = len(here) if isinstance(here, list) else 0
            raise VariationError(
                f"{place} does not exist: there are {count} there, counted from 0."
            )
        return here[step]
    if not isinstance(here, dict) or step not in here:
        raise VariationError(_unknown(place, step, here))
    return here[step]


def _unknown(place: str, step: str | int, here: Any) -> str:
    names = list(here) if isinstance(here, dict) else []
    guess = nearest(str(step), names)
    hint = f" Did you mean {shown(guess)}?" if guess else ""
    allowed = ", ".join(names) or "nothing"
    return f"{place} is no place in the case: {shown(str(step))}; allowed: {allowed}.{hint}"


def _steps(place: str) -> list[str | int]:
    steps: list[str | int] = []
    for part in place.split("."):
        match = _STEP.match(part.strip())
        if match is None:
            raise VariationError(
                f"{place!r} is no place in a case; write it like heats[0].speed_mm_s."
            )
        steps.append(match["name"])
        steps += [int(number) for number in re.findall(r"\d+", match["places"])]
    return steps


def _given(values: Mapping[str, Any]) -> dict[str, Any]:
    """Without what is None, so that a part of another kind has no keys of the old one."""
    return {key: _bare(value) for key, value in values.items() if value is not None}


def _bare(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _bare(item) for key, item in value.items() if item is not None}
    return [_bare(item) for item in value] if isinstance(value, list) else value


def _place(path: Sequence[str | int]) -> str:
    return "".join(f"[{p}]" if isinstance(p, int) else f".{p}" for p in path).lstrip(".")


def _words(value: Any) -> str:
    text = value if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else None
    return text if text is not None else str(value)
