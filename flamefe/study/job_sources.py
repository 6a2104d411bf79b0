"""What heats of a job do, taken from finished runs or from rule cards instead of typed numbers."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from flamefe.basics.errors import FlamefeError
from flamefe.planning.definition import (
    ColumnPart,
    Definition,
    GirderPart,
    Heats,
    RingPart,
    refuse_definition,
)
from flamefe.rules.card import RuleCard
from flamefe.rules.card_file import read_card
from flamefe.rules.shipped import shipped_card, shipped_names
from flamefe.study.casefile import load_case
from flamefe.study.measuring import rule_inputs
from flamefe.study.parts import material_of
from flamefe.study.quick_peak import quick_peaks

ROTATIONS = ("closing rotation", "closing rotation, upright", "closing rotation, sideways")
ASKEW = 0.3
"""Share of a run's rotation that it may have about the other axis."""
LEAST_MRAD = 0.01


@dataclass(frozen=True, kw_only=True)
class _Told:
    """What a source says of one size.

    Args:
        mrad: rotation that closes the heated side.
        shortening_mm: of the part; 0: not told.
        uncertain: standard deviation by the rotation; None: not told.
        repeats: shares of a first heat that further ones gave; None: not told.
        note: to be said beside the source.
    """

    mrad: float
    shortening_mm: float = 0.0
    uncertain: float | None = None
    repeats: tuple[float, ...] | None = None
    note: str = ""


def with_sources(definition: Definition, folder: Path = Path()) -> Definition:
    """A definition whose heats have the numbers of the runs and cards that it names.

    ``results`` names for each size a folder (or result.json) of a finished run on a member of the
    same section: its first cycle is one heat, a later cycle on the same places a repeat.
    ``card`` with ``cases`` asks a rule card (of the package by its name, or a file) about the
    first heat of each case, at ``peak_C``; without that at its target, which the hottest place of a
    driven heat passes by some tens of kelvins, or at what a quick estimate says.

    Args:
        definition: as read.
        folder: where its files lie.

    Raises:
        DefinitionError: a file that is missing or says nothing of a rotation, a run above its
            heating limit, a card asked outside its range.

    Example:
        >>> made = Definition.model_validate({
        ...     "title": "Girder", "uncertainty_mm": 0.5, "tolerance": {"plus_mm": 3},
        ...     "part": {"kind": "girder", "length_mm": 12000, "measured_at_mm": [6000]},
        ...     "heats": [{"kind": "wedge", "sizes_mrad": {"45 deg": 2}, "at_mm": [6000]}]})
        >>> with_sources(made) == made
        True
    """
    heats = [
        _told(one, definition, folder) if one.results or one.card or one.cases else one
        for one in definition.heats
    ]
    return definition.model_copy(update={"heats": heats})


def _told(heats: Heats, definition: Definition, folder: Path) -> Heats:
    kind = f"heats of kind {heats.kind!r}"
    if not isinstance(definition.part, GirderPart | ColumnPart | RingPart):
        refuse_definition(f"{kind}: results and cards speak of members and rings only")
    ways = [bool(heats.sizes_mrad), bool(heats.results), bool(heats.card or heats.cases)]
    if sum(ways) != 1:
        refuse_definition(f"{kind}: give one of sizes_mrad, results, or card with cases")
    if heats.results:
        found = {size: _of_run(folder / name, kind) for size, name in heats.results.items()}
        source = f"runs {', '.join(heats.results.values())}"
    else:
        if not (heats.card and heats.cases):
            refuse_definition(f"{kind}: a card needs cases, a case file for each size")
        card = _card(heats.card, folder, kind)
        found = {
            size: _of_card(card, folder / name, heats.peak_C, kind)
            for size, name in heats.cases.items()
        }
        source = f"rule card {heats.card}"
    whole = sum(one.mrad for one in found.values())
    changes: dict[str, Any] = {
        "sizes_mrad": {size: one.mrad for size, one in found.items()},
        "shortening_mm": sum(one.shortening_mm for one in found.values()) / whole,
        "source": "; ".join(
            [heats.source or source, *dict.fromkeys(one.note for one in found.values() if one.note)]
        ),
        "results": {}, "cases": {}, "card": "",
    }  # fmt: skip
    if "shortening_mm" in heats.model_fields_set:
        del changes["shortening_mm"]
    unsure = [one.uncertain for one in found.values() if one.uncertain is not None]
    if unsure and "uncertain" not in heats.model_fields_set:
        changes["uncertain"] = max(unsure)
    repeats = [one.repeats for one in found.values() if one.repeats is not None]
    if repeats and "repeats" not in heats.model_fields_set:
        changes["repeats"] = list(min(repeats, key=sum))
    return heats.model_copy(update=changes)


def _of_run(place: Path, kind: str) -> _Told:
    """The rotation of a run's first cycle, and what later ones on the same places gave."""
    file = place / "result.json" if place.is_dir() else place
    try:
        result = json.loads(file.read_text(encoding="utf-8"))
        cycles = result["cycles"]
        measures = [{m["name"]: m["value"] for m in one["measures"]} for one in cycles]
        hot = [not one["heat_check"]["within_limit"] for one in cycles]
        heats = result["case"]["heats"]
    except (OSError, ValueError, KeyError, TypeError):
        refuse_definition(f"{kind}: {file} is no result of a finished run")
    if any(hot):
        refuse_definition(f"{kind}: the run in {place} passed its heating limit")
    turns = [[one[name] for name in ROTATIONS if name in one] for one in measures]
    if not turns or not turns[0]:
        refuse_definition(f"{kind}: the run in {place} is none of a bar or beam; it has no turn")
    ordered = sorted(map(abs, turns[0]))
    if len(ordered) > 1 and ordered[-2] > ASKEW * ordered[-1]:
        refuse_definition(
            f"{kind}: the run in {place} turns the member by {turns[0][0]:.3g} mrad upright and "
            f"{turns[0][1]:.3g} sideways; a size can hold one of them only"
        )
    if ordered[-1] < LEAST_MRAD:
        refuse_definition(f"{kind}: the run in {place} turns the member by hardly anything")
    main = max(range(len(turns[0])), key=lambda i: abs(turns[0][i]))
    gains = _repeats([one[main] for one in turns], heats)
    weak = [] if gains is None else [gain for gain in gains if gain < 0.0]
    note = f"a repeat gave {100 * weak[0]:.0f} % of the first, counted as nothing" if weak else ""
    return _Told(
        mrad=ordered[-1],
        shortening_mm=float(measures[0].get("shortening along the axis", 0.0)),
        repeats=None if gains is None else tuple(round(min(max(g, 0.0), 1.5), 3) for g in gains),
        note=note,
    )


def _repeats(turns: list[float], heats: list[Mapping[str, Any]]) -> tuple[float, ...] | None:
    """Shares of the first cycle that later ones gave; None where they heated other places."""
    numbers = sorted({int(one.get("cycle", 1)) for one in heats})
    made = [
        [{k: v for k, v in one.items() if k not in ("cycle", "name")} for one in heats
         if int(one.get("cycle", 1)) == number]
        for number in numbers
    ]  # fmt: skip
    if len(turns) < 2 or len(turns) != len(made) or any(one != made[0] for one in made):
        return None
    gains = [turns[0], *(after - before for before, after in pairwise(turns))]
    return tuple(gain / turns[0] for gain in gains)


def _card(name: str, folder: Path, kind: str) -> RuleCard:
    try:
        return shipped_card(name) if name in shipped_names() else read_card(folder / name)
    except (OSError, FlamefeError) as error:
        refuse_definition(f"{kind}: the card {name!r} can't be read ({error})")


def _of_card(card: RuleCard, file: Path, peak_C: float | None, kind: str) -> _Told:
    try:
        case = load_case(file)
    except (OSError, FlamefeError) as error:
        refuse_definition(f"{kind}: {error}")
    if peak_C is None and case.heats:
        quick = quick_peaks(case)[0]
        peak_C = None if quick is None else quick.about_C
    inputs = rule_inputs(case, material_of(case), peak_C=peak_C)
    if inputs is None or card.unit != "mrad":
        refuse_definition(
            f"{kind}: {card.quantity} of {file.name} is no rotation; a card of a closing rotation "
            "and a case of a bar are needed"
        )
    try:
        said = card.predict(inputs, level=0.9)
    except FlamefeError as error:
        refuse_definition(f"{kind}, {file.name}: {error}")
    if said.value < LEAST_MRAD:
        refuse_definition(f"{kind}, {file.name}: the card says {said.value:.3g} mrad")
    # half of a 90 % interval is 1.645 standard deviations
    spread = 0.5 * (said.upper - said.lower) / 1.645 / said.value
    return _Told(mrad=said.value, uncertain=min(max(spread, 0.05), 0.6))
