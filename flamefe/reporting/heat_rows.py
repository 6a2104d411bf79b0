"""Heats of a cycle as the rows of a heat sheet: alike ones together, each with its place."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from flamefe.heating.history import TorchLog
from flamefe.reporting.words import number, one_line
from flamefe.study.case import (
    AnyHeat,
    Case,
    HeldLine,
    LineHeat,
    RingHeat,
    SpotField,
    SpotHeat,
    WedgeHeat,
    base_width_mm,
    burn_time_s,
    cool_to_C,
    path_length_mm,
)
from flamefe.study.case_strokes import paths_of, pattern_of, speed_of, target_of
from flamefe.study.heat_outcomes import HeatOutcome
from flamefe.study.laying import laid_on

MM = 1e-3
LONGEST_NAME = 32
MOST_NAMES = 4
MOST_SINGLE = 4
MOST_POINTS = 8


@dataclass(frozen=True, kw_only=True)
class HeatRow:
    """Heats that are made alike.

    Args:
        numbers: of them, "1-3, 7".
        what: pattern and sizes, and what they are called.
        face: on which they burn.
        places: of each, in the face's two coordinates, mm, with its number where there are several.
        torch: name of the flame.
        drive: how the torch is moved.
        target_C: under the torch; None: driven by time.
        predicted: burning time and highest temperature by the run; empty: not computed.
        wait: what to wait for before the next heat.
    """

    numbers: str
    what: str
    face: str
    places: tuple[str, ...]
    torch: str
    drive: str
    target_C: float | None
    predicted: str
    wait: str


def heat_rows(
    case: Case,
    cycle: int,
    outcomes: Sequence[HeatOutcome] = (),
    logs: Sequence[TorchLog] = (),
) -> tuple[HeatRow, ...]:
    """Rows of a cycle, by the first heat of each.

    Args:
        case: the case.
        cycle: its number.
        outcomes: of the heats of a finished run; none: not computed.
        logs: how the torch was driven in it.

    Example:
        >>> from flamefe.study.case import Flame, Plate
        >>> spots = [SpotHeat(flame="t", face="top", at_mm=[x, 50], time_s=9) for x in (40, 80)]
        >>> case = Case(title="two spots", heats=spots, flames={"t": Flame(power_kW=3,
        ...     radius_mm=15)}, workpiece=Plate(length_mm=120, width_mm=100, thickness_mm=6,
        ...     material="S355"))
        >>> [(row.numbers, row.places, row.drive) for row in heat_rows(case, 1)]
        [('1-2', ('1: (40, 50)', '2: (80, 50)'), 'stand 9 s')]
    """
    numbered = [(i, one) for i, one in enumerate(case.heats, start=1) if one.cycle == cycle]
    last = numbered[-1][0] if numbered else 0
    groups: dict[tuple[Any, ...], list[tuple[int, AnyHeat]]] = {}
    for number_, heat in numbered:
        key = (
            heat.kind, heat.flame, heat.face, heat.both_faces, drive_words(heat),
            target_of(heat), getattr(heat, "water", None),
            _wait(case, heat, last=number_ == last),
        )  # fmt: skip
        groups.setdefault(key, []).append((number_, heat))
    # the last heat waits for more than the others; where that is all, it joins them
    return tuple(_row(case, group, last, outcomes, logs) for group in _joined(groups))


def _joined(
    groups: dict[tuple[Any, ...], list[tuple[int, AnyHeat]]],
) -> list[list[tuple[int, AnyHeat]]]:
    """Groups that differ only in what comes after the last heat, together."""
    made: dict[tuple[Any, ...], list[tuple[int, AnyHeat]]] = {}
    for key, group in groups.items():
        if key[-1] == AFTER_LAST:
            alike = [other for other in made if other[:-1] == key[:-1]]
            if alike:
                made[alike[-1]] += group
                continue
        made[key] = group
    return list(made.values())


AFTER_LAST = "last of the cycle: let it cool fully"


def _row(
    case: Case,
    group: Sequence[tuple[int, AnyHeat]],
    last: int,
    outcomes: Sequence[HeatOutcome],
    logs: Sequence[TorchLog],
) -> HeatRow:
    first, heat = group[0]
    alone = len(group) == 1
    sizes = {size_words(one) for _, one in group}
    shared = len(sizes) == 1
    places = []
    for number_, one in group:
        size = "" if shared else f" {size_words(one)}"
        found = [*place_words(one), *_across(case, one)]
        if alone:
            places += found
        else:
            places.append(f"{number_}: {', '.join(found)}{size}")
    waits = _wait(case, heat, last=first == last)
    if any(number_ == last for number_, _ in group) and not alone:
        waits += f"; after {last}: let it cool fully"
    done = [one for one in outcomes if one.number in {n for n, _ in group}]
    return HeatRow(
        numbers=ranges([n for n, _ in group]),
        what=_what(group, shared),
        face=face_words(case, heat),
        places=tuple(places),
        torch=one_line(heat.flame, LONGEST_NAME),
        drive=drive_words(heat),
        target_C=target_of(heat),
        predicted=_predicted(done, [one for _, one in group], logs),
        wait=waits,
    )


def _what(group: Sequence[tuple[int, AnyHeat]], shared: bool) -> str:
    heat = group[0][1]
    kind = pattern_of(heat).kind
    words = f"{kind} {size_words(heat)}".strip() if shared else f"{kind}s, sizes with the places"
    names = list(dict.fromkeys(one_line(one.name, LONGEST_NAME) for _, one in group if one.name))
    if names and names != [kind] and names != [heat.kind]:
        more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
        quoted = ", ".join(f'"{name}"' for name in names[:MOST_NAMES])
        words = f"{words}: {quoted}{more}"
    return words


def size_words(heat: AnyHeat) -> str:
    """Sizes of a heat's pattern, mm, in a few words.

    Example:
        >>> size_words(WedgeHeat(flame="t", face="top", apex_mm=[0, 0], base_mm=[0, 50],
        ...                      angle_deg=90, target_C=600))
        '50 deep, base 100 (90 deg)'
    """
    if isinstance(heat, WedgeHeat):
        deep = pattern_of(heat).dimensions[0].value
        return f"{deep:.4g} deep, base {base_width_mm(heat):.0f} ({heat.angle_deg:g} deg)"
    if isinstance(heat, SpotHeat):
        return ""
    parts = {one.name: one for one in pattern_of(heat).dimensions}
    if isinstance(heat, LineHeat | HeldLine):
        return f"{parts['length'].value:.4g} long"
    if isinstance(heat, SpotField):
        return f"({len(paths_of(heat))} spots)"
    if isinstance(heat, RingHeat):
        return f"radius {heat.ring_mm:g}"
    long, wide = parts["length"].value, parts["width"].value
    words = f"{long:.4g} long, {wide:.4g} wide"
    if "passes" in parts:
        words += f", {parts['passes'].value:g} passes {parts['pass spacing'].value:.4g} apart"
    return words


def place_words(heat: AnyHeat) -> list[str]:
    """Where a heat is, in its face's two coordinates, mm: several texts for a field of spots.

    Example:
        >>> place_words(LineHeat(flame="t", face="top", path_mm=[[50, 100], [350, 100]],
        ...                      speed_mm_s=6))
        ['from (50, 100) to (350, 100)']
    """
    if isinstance(heat, SpotHeat):
        return [_point(heat.at_mm)]
    if isinstance(heat, SpotField):
        places = [points[0] for points in paths_of(heat)]
        return [f"{i}: {_point(place)}" for i, place in enumerate(places, start=1)]
    if isinstance(heat, WedgeHeat):
        return [f"apex {_point(heat.apex_mm)} to base {_point(heat.base_mm)}"]
    if isinstance(heat, RingHeat):
        way = "against" if heat.back else "with"
        return [
            f"centre {_point(heat.centre_mm)}, from {heat.start_deg:g} deg, {way} the turn from "
            "the first coordinate to the second"
        ]
    if isinstance(heat, LineHeat | HeldLine):
        points = heat.path_mm
        told = [_point(point) for point in points]
        if len(told) > MOST_POINTS:
            told = [*told[: MOST_POINTS - 1], f"... {len(told) - MOST_POINTS} more ...", told[-1]]
        return [f"from {' to '.join(told)}"]
    return [f"from {_point(heat.from_mm)} to {_point(heat.to_mm)}"]


def _point(place: tuple[float, float]) -> str:
    return f"({place[0]:.5g}, {place[1]:.5g})"


def face_words(case: Case, heat: AnyHeat) -> str:
    """The face of a heat, and the one across from it where both are heated at once."""
    names = [one_line(laid.face, LONGEST_NAME) for laid in laid_on(case.workpiece, heat)]
    return names[0] if len(names) == 1 else f"BOTH SIDES at once: {names[0]} and {names[1]}"


def _across(case: Case, heat: AnyHeat) -> list[str]:
    """Where a heat of both sides lies on the other one, where its numbers there are others."""
    laid = laid_on(case.workpiece, heat)[1:]
    if not laid or (laid[0].offset == 0.0 and laid[0].scale == 1.0):
        return []

    def moved(place: tuple[float, float]) -> tuple[float, float]:
        ((u, v),) = laid[0].points(((MM * place[0], MM * place[1]),))
        return u / MM, v / MM

    places: dict[str, Any] = {
        name: [moved(point) for point in value] if isinstance(value[0], list | tuple)
        else moved(value)
        for name in ("at_mm", "apex_mm", "base_mm", "from_mm", "to_mm", "path_mm", "centre_mm")
        if (value := getattr(heat, name, None))
    }  # fmt: skip
    if isinstance(heat, SpotField | RingHeat) or not places:
        shift = laid[0].offset / MM
        told = f"{shift:+.4g}" if laid[0].scale > 0.0 else f"is {shift:.4g} less this one"
        return [f"on the other side: second number {told}"]
    return [f"on the other side: {', '.join(place_words(replace(heat, **places)))}"]


def drive_words(heat: AnyHeat) -> str:
    """How the torch of a heat is moved.

    Example:
        >>> drive_words(SpotHeat(flame="t", face="top", at_mm=[10, 10], target_C=600))
        'stand until 600 C, 120 s at most'
    """
    speed, target = speed_of(heat), target_of(heat)
    longest = getattr(heat, "longest_dwell_s", 120.0)
    if isinstance(heat, SpotHeat | SpotField):
        each = "each: " if isinstance(heat, SpotField) else ""
        stand = f"stand {heat.time_s:g} s" if target is None else f"stand until {target:g} C"
        words = f"{each}{stand}" + ("" if target is None else f", {longest:g} s at most")
        if isinstance(heat, SpotField):
            between = heat.between_C
            after = "at once" if between is None else f"below {between:g} C"
            words += f"; next spot {after}"
        return words
    if speed is not None:
        time = burn_time_s(heat)
        words = f"{speed:g} mm/s ({number(time, 3)} s)"
    elif isinstance(heat, HeldLine) and heat.manner == "dwell":
        words = f"stand until {target:g} C, go on by {heat.advance_mm:g} mm, stand again"
    else:
        words = f"go as fast as {target:g} C under the torch allows"
    if isinstance(heat, WedgeHeat):
        words += ", from the apex, swinging over the growing width"
    elif heat.kind in ("band", "oval") and getattr(heat, "manner", "weave") == "weave":
        words += ", swinging over the width"
    water = getattr(heat, "water", None)
    if water is not None:
        words += (
            f"; WATER {water.distance_mm:g} mm behind the torch, spray of {water.radius_mm:g} mm "
            "radius"
        )
    return words


def _wait(case: Case, heat: AnyHeat, *, last: bool) -> str:
    return AFTER_LAST if last else f"next heat: hottest place below {cool_to_C(case, heat):g} C"


def _predicted(
    done: Sequence[HeatOutcome], heats: Sequence[AnyHeat], logs: Sequence[TorchLog]
) -> str:
    """Burning time, stand and mean speed where the torch is driven by temperature, and peak."""
    if not done:
        return ""
    each = " each" if len(done) > 1 else ""
    words = f"{_span([one.burned_s for one in done])} s{each}"
    ways = [path_length_mm(heat) for heat in heats]
    if target_of(heats[0]) is not None and min(ways) > 0.0:
        stands = [_first_stand(one.name, logs) for one in done]
        moving = [one.burned_s - stood for one, stood in zip(done, stands, strict=True)]
        speeds = [way / max(time, 1e-3) for way, time in zip(ways, moving, strict=True)]
        stand = f"stand {_span(stands)} s at the start, then " if max(stands) >= 1.0 else ""
        words += f" ({stand}mean {_span(speeds)} mm/s)"
    return f"{words}, hottest {_span([one.peak_C for one in done])} C"


def _first_stand(name: str, logs: Sequence[TorchLog]) -> float:
    """How long a driven torch stood before it first moved, s, all strokes of a heat together."""
    own = [log for log in logs if log.name == name or log.name.startswith(f"{name}, ")]
    return sum(log.stands[0] for log in own if log.stands and log.speeds[0] == 0.0)


def _span(values: Sequence[float]) -> str:
    low, high = (f"{v:.0f}" if v >= 10.0 else f"{v:.2g}" for v in (min(values), max(values)))
    return low if low == high else f"{low} to {high}"


def ranges(numbers: Sequence[int]) -> str:
    """Numbers as a short text.

    Example:
        >>> ranges([1, 2, 3, 7])
        '1-3, 7'
        >>> ranges([1, 3, 5, 7, 9, 11])
        '1, 3 ... 11'
    """
    steps = {b - a for a, b in pairwise(sorted(set(numbers)))}
    if len(numbers) > MOST_SINGLE and len(steps) == 1 and steps != {1}:
        first, second, *_, last = sorted(set(numbers))
        return f"{first}, {second} ... {last}"
    runs: list[list[int]] = []
    for value in sorted(set(numbers)):
        if runs and value == runs[-1][1] + 1:
            runs[-1][1] = value
        else:
            runs.append([value, value])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)
