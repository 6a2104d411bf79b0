"""What heats of a job do, taken from finished runs or from rule cards instead of typed numbers."""

import json
from collections.abc import Mapping, Sequence
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

BAR_ROTATION = "closing rotation"
ROTATIONS = (BAR_ROTATION, f"{BAR_ROTATION}, upright", f"{BAR_ROTATION}, sideways")
PLACES = ("at_mm", "apex_mm", "base_mm", "from_mm", "to_mm", "path_mm", "centre_mm")
NEAR = 1.5
"""Distance along the member, by its depth, up to which heats count as one."""
ALIKE = 0.03
"""Share by which depths of a run and of the job may differ."""
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
    same section: its first cycle is one heat (a wedge with its band, say), a later cycle on the
    same places a repeat. The turn is that about the axis that the sides ask for.
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
        found = {
            size: _of_run(folder / name, kind, heats, definition)
            for size, name in heats.results.items()
        }
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


def _of_run(place: Path, kind: str, asked: Heats, definition: Definition) -> _Told:
    """The rotation of a run's first cycle, and what later ones on the same places gave."""
    file = place / "result.json" if place.is_dir() else place
    try:
        result = json.loads(file.read_text(encoding="utf-8"))
        cycles = result["cycles"]
        measures = [{m["name"]: m["value"] for m in one["measures"]} for one in cycles]
        hot = [not one["heat_check"]["within_limit"] for one in cycles]
        heats, piece = result["case"]["heats"], result["case"]["workpiece"]
    except (OSError, ValueError, KeyError, TypeError):
        refuse_definition(f"{kind}: {file} is no result of a finished run")
    if any(hot):
        refuse_definition(f"{kind}: the run in {place} passed its heating limit")
    way = _way(asked, definition, kind)
    if not measures or not any(name in measures[0] for name in ROTATIONS):
        refuse_definition(f"{kind}: the run in {place} is none of a bar or beam; it has no turn")
    name = BAR_ROTATION if BAR_ROTATION in measures[0] else f"{BAR_ROTATION}, {way}"
    turns = [one[name] for one in measures]
    others = [abs(measures[0][one]) for one in ROTATIONS if one in measures[0] and one != name]
    if max(others, default=0.0) > ASKEW * abs(turns[0]):
        refuse_definition(
            f"{kind}: the run in {place} turns the member by {abs(turns[0]):.3g} mrad {way} and by "
            f"{max(others):.3g} the other way; a size can hold one of them only"
        )
    if abs(turns[0]) < LEAST_MRAD:
        refuse_definition(f"{kind}: the run in {place} turns the member by hardly anything")
    _one_place(heats, piece, place, kind)
    _same_section(piece, definition, way, place, kind)
    gains = _repeats(turns, heats)
    weak = [] if gains is None else [gain for gain in gains if gain < 0.0]
    note = f"a repeat gave {100 * weak[0]:.0f} % of the first, counted as nothing" if weak else ""
    return _Told(
        mrad=abs(turns[0]),
        shortening_mm=float(measures[0].get("shortening along the axis", 0.0)),
        repeats=None if gains is None else tuple(round(min(max(g, 0.0), 1.5), 3) for g in gains),
        note=note,
    )


def _way(asked: Heats, definition: Definition, kind: str) -> str:
    """About which axis heats on the sides that are asked for turn a girder."""
    if not isinstance(definition.part, GirderPart):
        return "upright"
    measured = definition.part.measured
    sides = set(asked.sides) or {
        *(("top", "bottom") if "camber" in measured else ()),
        *(("far", "near") if "sweep" in measured else ()),
    }
    if sides <= {"top", "bottom"}:
        return "upright"
    if sides <= {"far", "near"}:
        return "sideways"
    refuse_definition(
        f"{kind}: a run tells of one axis; give sides, top and bottom apart from far and near"
    )


def _one_place(
    heats: Sequence[Mapping[str, Any]], piece: Mapping[str, Any], place: Path, kind: str
) -> None:
    """Refuse a first cycle whose heats lie apart along the member."""
    stations = []
    for one in heats:
        if int(one.get("cycle", 1)) == 1:
            points = [one[key] for key in PLACES if one.get(key)]
            flat = [p for each in points for p in (each if isinstance(each[0], list) else [each])]
            stations += [sum(p[0] for p in flat) / len(flat)] if flat else []
    apart = max(stations, default=0.0) - min(stations, default=0.0)
    if apart > NEAR * _depth(piece):
        refuse_definition(
            f"{kind}: the heats of the first cycle of the run in {place} lie {apart:.0f} mm apart; "
            "run one of them alone"
        )


def _same_section(
    piece: Mapping[str, Any], definition: Definition, way: str, place: Path, kind: str
) -> None:
    """Refuse a run on a member of another depth than the job's."""
    part = definition.part
    told = 0.0
    if isinstance(part, GirderPart):
        told = part.depth_mm if way == "upright" else part.width_mm
    elif isinstance(part, ColumnPart):
        told = part.width_mm
    there = _depth(piece) if way == "upright" else float(piece.get("width_mm") or 0.0)
    if told > 0.0 and there > 0.0 and abs(there / told - 1.0) > ALIKE:
        refuse_definition(
            f"{kind}: the run in {place} is one of a member {there:g} mm deep, the job's has "
            f"{told:g} mm; take a run on the same section"
        )


def _depth(piece: Mapping[str, Any]) -> float:
    names = ("height_mm", "depth_mm", "outer_diameter_mm", "width_mm")
    return float(next((piece[name] for name in names if piece.get(name)), 0.0))


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
