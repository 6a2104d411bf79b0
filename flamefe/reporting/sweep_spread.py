"""Bands of residual distortion: a page to read, and a file for other programs.

The file holds ``format`` "flamefe spread", ``format_version`` 1, ``title``, ``flamefe`` (version),
``level``, ``bands``: by quantity ``unit``, ``simulation`` and ``cards``, each with ``ends`` (lower,
middle, upper), ``doubts`` (half widths of their 95 % intervals), ``deviation`` and ``samples``;
``moved_by`` (rank correlation by place). A card has ``rule``, ``outside`` (share of samples outside
its range), ``runs_inside``, ``runs_met``, ``grade``, ``unseen`` and ``agrees`` (null:
nothing to compare).
"""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from flamefe.reporting.comparison import ADVICE
from flamefe.reporting.sweep_summary import failure_lines, head_lines
from flamefe.reporting.words import number
from flamefe.study.sweep import Sweep
from flamefe.study.sweep_factors import Spread
from flamefe.study.uncertainty import Band, CardBand

FORMAT = "flamefe spread"
VERSION = 1
WHOLE = 0.01
"""Share of samples outside a card's range up to which its band counts as that of all parts."""
MOST_DRIVERS = 4


@dataclass(frozen=True, kw_only=True)
class SpreadOf:
    """All that is told of one quantity.

    Args:
        simulation: its band by simulation.
        cards: its bands by rule cards.
        moved_by: rank correlation with each factor, by place.
        refused: cards that can't tell it, and why.
    """

    simulation: Band
    cards: tuple[CardBand, ...] = ()
    moved_by: tuple[tuple[str, float], ...] = ()
    refused: tuple[str, ...] = ()


def spread_text(sweep: Sweep, found: Sequence[SpreadOf]) -> str:
    """Bands of a study of spreads as a page to read.

    Args:
        sweep: the study.
        found: what is told, a quantity each.

    Returns:
        Lines that end in a line end.
    """
    lines = [*head_lines(sweep, "Spread"), "What scatters"]
    for place, factor in sweep.study.varied.items():
        lines.append(f"  {place}: {_spread_words(factor)}")
    lines.append("")
    for one in found:
        band = one.simulation
        lines.append(
            f"{band.quantity}, {100 * band.level:g} % of parts, {band.unit} (+-: doubt of an end)"
        )
        rows = [("simulation", f"{_ends(band)}, {band.samples} runs")]
        for card in one.cards:
            cut = f", CUT: {100 * card.outside:.0f} % of parts lie outside the card's range"
            rows.append((
                f'card "{card.rule}"',
                f"{_ends(card.band)}, {card.band.samples} samples"
                f"{cut if card.outside > WHOLE else ''}",
            ))  # fmt: skip
        width = max(len(name) for name, _ in rows)
        lines += [f"  {name.ljust(width)}  {words}" for name, words in rows]
        for card in one.cards:
            lines += [f"  {line}" for line in _verdict(card)]
        lines += [f"  {words}" for words in one.refused]
        if one.moved_by:
            moved = ", ".join(
                f"{place} {value:+.2f}" for place, value in one.moved_by[:MOST_DRIVERS]
            )
            lines.append(f"  moved by (rank correlation): {moved}")
        lines.append("")
    lines += failure_lines(sweep)
    lines.append(ADVICE)
    return "".join(f"{line}\n" for line in lines)


def spread_json(sweep: Sweep, found: Sequence[SpreadOf]) -> str:
    """Bands of a study of spreads as the text of a file; see the module."""
    document: dict[str, Any] = {
        "format": FORMAT,
        "format_version": VERSION,
        "title": sweep.study.title,
        "flamefe": sweep.mark,
        "level": found[0].simulation.level if found else None,
        "bands": {
            one.simulation.quantity: {
                "unit": one.simulation.unit,
                "simulation": asdict(one.simulation),
                "cards": [{**asdict(card), "agrees": card.agrees} for card in one.cards],
                "moved_by": dict(one.moved_by),
            }
            for one in found
        },
        "advice": ADVICE,
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _ends(band: Band) -> str:
    low, middle, high = (number(value, 3) for value in band.ends)
    doubts = [f"{doubt:.1g}" for doubt in band.doubts]
    return f"{low} (+-{doubts[0]}) to {high} (+-{doubts[2]}), middle {middle} (+-{doubts[1]})"


def _verdict(card: CardBand) -> list[str]:
    """Whether a card and the runs agree, and where it says nothing."""
    lines = []
    met = f"{card.runs_met} of {card.runs_inside} runs fall into its intervals"
    if card.unseen:
        lines.append(
            f'card "{card.rule}" does not see {", ".join(card.unseen)}: not to be compared'
        )
    elif card.grade == "poor":
        lines.append(f'card "{card.rule}" is poor and claims nothing: not to be compared')
    elif card.agrees is None:
        lines.append(f'card "{card.rule}": too few runs lie within its range to compare')
    elif card.agrees:
        lines.append(f'card "{card.rule}" agrees with the simulation within their doubts; {met}')
    else:
        lines.append(f'card "{card.rule}" DOES NOT AGREE with the simulation; {met}')
    if card.outside > WHOLE:
        lines.append(
            f"its band is that of the other {100 * (1 - card.outside):.0f} % of parts, not of all"
        )
    elif card.outside > 0:
        lines.append(
            f"{100 * card.outside:.2g} % of the samples lie outside the card's range: left out"
        )
    return [*lines, *card.remarks]


def _spread_words(factor: Any) -> str:
    assert isinstance(factor, Spread)
    low, high = factor.at(0.05), factor.at(0.95)
    kind = {
        "normal": "standard deviation", "uniform": "half width", "triangular": "half width",
        "lognormal": "standard deviation upwards",
    }[factor.distribution]  # fmt: skip
    return (
        f"{factor.value:g}, {factor.distribution}, {kind} {factor.width:.3g} "
        f"(90 % from {low:.4g} to {high:.4g})"
    )
