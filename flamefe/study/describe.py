"""What a case will do, in words, before it is run: heats, how hot, holding, time, warnings.

Nothing is solved but quick models of a wide plate; see `flamefe.study.quick_peak` and
`flamefe.study.how_long` for what the estimates rest on.
"""

import textwrap
from dataclasses import dataclass
from itertools import groupby, islice
from pathlib import Path

import numpy as np

from flamefe.basics.words import number, one_line
from flamefe.rules.registry import rules_for
from flamefe.study.case import Case, cool_to_C
from flamefe.study.case_words import (
    Group,
    alike,
    flame_words,
    heats_words,
    holder_words,
    sized_words,
    where_words,
)
from flamefe.study.cautions import doubts_before
from flamefe.study.holding_check import check_holding
from flamefe.study.how_long import SPREAD, HowLong, how_long
from flamefe.study.measuring import rule_inputs
from flamefe.study.parts import body_of, material_of
from flamefe.study.quick_peak import (
    EDGE_FACTOR,
    FORMULAS,
    LEAST_SHARE,
    PEAK_FACTOR,
    WHOLE,
    QuickPeak,
    quick_peaks,
    share_on_face,
)
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material
from flamefe.workpiece.practice import practice_for

WIDTH = 100
MOST_TOLD = 12


@dataclass(frozen=True, kw_only=True)
class Description:
    """A case in words, before it is run.

    Args:
        title: of the case, in one line.
        nodes: of its mesh.
        peaks: how hot each heat gets, about; None for one that can't be told.
        cost: how long it computes, about.
        expected: warnings that the result will or may hold, in words.
        sections: heading and lines of all that is told.
    """

    title: str
    nodes: int
    peaks: tuple[QuickPeak | None, ...]
    cost: HowLong
    expected: tuple[str, ...]
    sections: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def text(self) -> str:
        """The sections, lines of at most 100 characters."""
        told = []
        for heading, lines in self.sections:
            told += [heading]
            for line in lines:
                told += textwrap.wrap(
                    line, WIDTH, initial_indent="  ", subsequent_indent="      "
                ) or [""]
            told.append("")
        return "\n".join(told[:-1]) + "\n"


def describe(case: Case, folder: str | Path = ".") -> Description:
    """Tell a case in words without solving it.

    Args:
        case: what would be run.
        folder: where a mesh file named in it is looked for.

    Raises:
        CaseError: the case names a face that its mesh file does not have.
        MeshError: the part can't be meshed.

    Example:
        >>> from flamefe.study.casefile import load_case
        >>> from flamefe.study.examples import example_path
        >>> told = describe(load_case(example_path("hopper_wall_line")))
        >>> [heading for heading, _ in told.sections]  # doctest: +NORMALIZE_WHITESPACE
        ['Heats, in this order', 'How hot, about', 'How it is held', 'Loads', 'How long, about',
         'Warnings to expect']
        >>> print(told.sections[0][1][1])
        cycle 1, heat 1: line of 300 mm at 6 mm/s (50 s), "torch" on top, from (50, 100) to (350, \
100) mm; then cools to 60 C, then to the air
    """
    material = material_of(case)
    body, remarks = body_of(case, material, Path(folder))
    check_holding(case, body)
    peaks = quick_peaks(case)
    cost = how_long(case, body)
    expected = (*remarks, *_expected(case, material, body, peaks))
    size = getattr(case.workpiece, "size_mm", None)
    extent = (1e3 * np.ptp(body.points, axis=0)).tolist() if size is None else size
    part = (
        f"{sized_words(case.workpiece, extent)}, {one_line(material.name)}; "
        f"air at {case.surroundings.ambient_C:g} C; {case.solve.geometry} geometry"
    )
    sections = (
        ("Heats, in this order", (part, *_heats(case))),
        ("How hot, about", tuple(_how_hot(case, material, peaks))),
        ("How it is held", tuple(_held(case))),
        ("Loads", tuple(holder_words(load) for load in case.loads) or ("none",)),
        ("How long, about", tuple(_how_long(cost))),
        ("Warnings to expect", expected or ("none that can be told before the run",)),
    )
    return Description(
        title=one_line(case.title),
        nodes=body.points.shape[0],
        peaks=peaks,
        cost=cost,
        expected=expected,
        sections=sections,
    )


def _heats(case: Case) -> list[str]:
    groups = alike(case.heats)
    lines = []
    for cycle, group in groups[:MOST_TOLD]:
        places = [where_words(heat) for _, heat in group[:MOST_TOLD]]
        more = " ..." if len(group) > MOST_TOLD else ""
        where = f"{'; '.join(places)}{more} mm"
        lines.append(f"{heats_words(cycle, group)}, {where}; {_after(case, group)}")
    if len(groups) > MOST_TOLD:
        lines.append(f"... {len(case.heats)} heats in all")
    used = dict.fromkeys(heat.flame for heat in case.heats)
    return [*lines, *(flame_words(name, case.flames[name]) for name in used)] or [
        "nothing is heated"
    ]


def _after(case: Case, group: Group) -> str:
    """What follows on a group of heats: waiting, or the end of a cycle."""
    number_, heat = group[-1]
    last = number_ == len(case.heats) or case.heats[number_].cycle != heat.cycle
    wait = f"cools to {cool_to_C(case, heat):g} C"
    each = "each " if len(group) > 1 else ""
    return f"then {each}{wait}, then to the air" if last else f"then {each}{wait}"


def _how_hot(case: Case, material: Material, peaks: tuple[QuickPeak | None, ...]) -> list[str]:
    if not case.heats:
        return ["nothing is heated"]
    limit = _limit(case, material)
    shares = [share_on_face(case, heat) for heat in case.heats]
    told = [_peak_words(peak, share) for peak, share in zip(peaks, shares, strict=True)]
    told_of = groupby(enumerate(told, start=1), key=lambda item: item[1])
    lines = []
    for words, group in islice(told_of, MOST_TOLD):
        first, *others = [number_ for number_, _ in group]
        numbers = f"heats {first} to {others[-1]}" if others else f"heat {first}"
        lines.append(f"{numbers}: {words}; limit {limit:g} C")
    models = [peak.model for peak in peaks if peak is not None]
    rests_on = "; ".join(FORMULAS[model] for model in dict.fromkeys(models) if model != "driven")
    if rests_on:
        lines.append(
            f"Rough: {rests_on}; earlier heats, what lies behind and edges, but for the share of "
            "the flame beside them, are left out. A run's rise lies within a factor of "
            f"{PEAK_FACTOR:g} of it on the ready cases, up to {EDGE_FACTOR:g} above at an edge."
        )
    return lines


def _peak_words(peak: QuickPeak | None, share: float) -> str:
    on_face = f"only about {100 * share:.0f} % of the flame lies on its face"
    if peak is None:
        return f"can't be told before the run{f': {on_face}' if share < LEAST_SHARE else ''}"
    if peak.model == "driven":
        return (
            f"the torch is driven to {peak.about_C:g} C, and its speed found as it goes; a node "
            f"beside the reading may pass that, up to {_tens(peak.high_C)} C"
        )
    behind = "" if peak.back_C is None else f", {_tens(peak.back_C)} C on the face behind"
    return (
        f"about {_tens(peak.about_C)} C on the surface ({_tens(peak.low_C)} to "
        f"{_tens(peak.high_C)}){behind}"
        f"{f'; {on_face}, which takes all its power' if share < WHOLE else ''}"
    )


def _tens(degrees: float) -> str:
    return f"{10 * round(degrees / 10):.0f}"


def _held(case: Case) -> list[str]:
    if not case.supports:
        return ["by nothing: free, only its movement as a rigid body is held"]
    lines = []
    for support in case.supports:
        places = getattr(support, "at_mm", None)
        where = ""
        if places:
            several = places if isinstance(places[0], tuple) else (places,)
            shown = [f"({', '.join(f'{v:.4g}' for v in place)})" for place in several[:MOST_TOLD]]
            where = f", at {' '.join(shown)}{' ...' if len(several) > MOST_TOLD else ''} mm"
        stays = ", never released" if support.released == "never" else ""
        lines.append(f"{holder_words(support)}{stays}{where}")
    return lines


def _how_long(cost: HowLong) -> list[str]:
    low, high = (_time(value) for value in cost.seconds_between)
    watched = "; its stability is watched, which takes three times as long" if cost.watched else ""
    return [
        f"{_time(cost.seconds)} of computing ({low} to {high}) on one core, "
        f"{_tens(cost.megabytes)} MB of memory{watched}",
        f"{cost.nodes} nodes: {cost.temperatures} unknown temperatures and {cost.displacements} "
        f"unknown displacements, in some {_tens(cost.steps)} steps",
        f"Fitted to runs of one machine, within a factor of {SPREAD:g}; another may be quicker "
        "or slower.",
    ]


def _time(seconds: float) -> str:
    """A time about, in its usual unit."""
    if seconds < 90:
        return f"{number(seconds, 2)} s"
    return f"{number(seconds / 60, 2)} min" if seconds < 5400 else f"{number(seconds / 3600, 2)} h"


def _limit(case: Case, material: Material) -> float:
    given = case.limits.temperature_C
    return material.heating_limit_C if given is None else given


def _expected(
    case: Case, material: Material, body: Body, peaks: tuple[QuickPeak | None, ...]
) -> list[str]:
    """Warnings that the result will or may hold."""
    said = list(doubts_before(case, body.mesh))
    known = [peak for peak in peaks if peak is not None]
    if known:
        hottest = max(known, key=lambda peak: peak.high_C)
        said += _hot_words(material, hottest, _limit(case, material))
    off = [
        f"{i}: about {100 * share:.0f} % on its face"
        for i, heat in enumerate(case.heats, start=1)
        if (share := share_on_face(case, heat)) < WHOLE
    ]
    if off:
        said.append(
            f"At an edge part of the flame falls beside it (heat {', '.join(off[:6])}); its "
            "full stated power is put in nonetheless, so less will reach a real part there."
        )
    first = peaks[0] if peaks else None
    inputs = rule_inputs(case, material, peak_C=None if first is None else first.about_C)
    if inputs is not None:
        out = [rule.rule for rule in rules_for(inputs) if not rule.in_range]
        if out:
            names = ", ".join(dict.fromkeys(out))
            said.append(f"Rules of thumb out of their range here: {names}.")
    return said


def _hot_words(material: Material, peak: QuickPeak, limit: float) -> list[str]:
    said = []
    about, most = f"about {_tens(peak.about_C)} C", f"up to {_tens(peak.high_C)} C"
    if peak.about_C > limit:
        said.append(f"Too hot: {about} by the estimate, the limit is {limit:g} C.")
    elif peak.high_C > limit:
        said.append(f"Perhaps too hot: {most} by the estimate, the limit is {limit:g} C.")
    melts = practice_for(material.family).melts_C
    if melts is not None and peak.high_C > melts:
        said.append(f"It may melt: {most} by the estimate, {material.family} from {melts:g} C on.")
    if peak.high_C > material.valid_to_C:
        said.append(
            f"Perhaps extrapolated: the tables of {material.name} hold up to "
            f"{material.valid_to_C:g} C."
        )
    if material.annealing_C is not None and peak.high_C > material.annealing_C:
        said.append(
            f"Perhaps above {material.annealing_C:g} C, where hardening is lost in the model; "
            "phase changes and their strains are not in it."
        )
    return said
