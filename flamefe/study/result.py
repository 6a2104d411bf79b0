"""What a run hands back: inputs, histories, measures, rules, and how far to trust them."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from rich.console import Group
from skfem import MeshHex

from flamefe.basics.glance import Glance, Tone
from flamefe.basics.words import number, one_line
from flamefe.heating.history import TemperatureHistory
from flamefe.outcome.limits import HeatCheck
from flamefe.outcome.measure import Measure
from flamefe.outcome.practice import Finding
from flamefe.outcome.tolerance import ShapeFinding
from flamefe.rules.value import RuleValue
from flamefe.straining.history import StrainHistory
from flamefe.study.acting import NOTHING, Acting
from flamefe.study.case import Case
from flamefe.study.device_outcomes import DeviceOutcome
from flamefe.study.heat_outcomes import HeatOutcome
from flamefe.study.verdict_words import converged_words, doubt_words, melted_words, rules_words
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]

MOST_MEASURES = 8
ADVICE = "Advice from a calculation, not an approval: local codes and licensed practice decide."


@dataclass(frozen=True, kw_only=True)
class CycleOutcome:
    """What one cycle left behind.

    Args:
        cycle: its number, from 1.
        measures: distortion since the start of the job, trade units.
        heat_check: peak temperature and time above the limit in this cycle.
        largest_stress_MPa: greatest von Mises residual stress at a quadrature point.
        largest_plastic_strain: greatest equivalent plastic strain at a quadrature point.
        practice: its temperatures against practice for this kind of metal.
        shape: straightness and flatness by the classes of ISO 13920.
        acting: what still acted on the part while it was measured.
    """

    cycle: int
    measures: tuple[Measure, ...]
    heat_check: HeatCheck
    largest_stress_MPa: float
    largest_plastic_strain: float
    practice: tuple[Finding, ...] = ()
    shape: tuple[ShapeFinding, ...] = ()
    acting: Acting = NOTHING


@dataclass(frozen=True, kw_only=True, repr=False)
class RunResult:
    """A finished run.

    Args:
        case: what was asked.
        mesh: hexes with named faces, m, as the part stands at the start of the job.
        material: what the part is made of.
        heat: temperatures over time.
        strain: displacements over time, stress and plastic strain at each cycle's end.
        cycles: outcome of each cycle, in order.
        rules: closed-form rules on the same inputs.
        heats: what each heat took and how deep it went.
        devices: what each support had to carry.
        warnings: what to doubt, in plain words.
        cautions: what can hurt someone.
        figures: numbers about the run itself (CPU seconds, solves, mesh sizes), by name.
        initial_shape: (n, 3) m, from the flat part to its shape at the start; None: flat.
        versions: library and platform versions, by name.

    Example:
        >>> sorted(field for field in RunResult.__dataclass_fields__ if field.startswith("c"))
        ['case', 'cautions', 'cycles']
    """

    case: Case
    mesh: MeshHex
    material: Material
    heat: TemperatureHistory
    strain: StrainHistory
    cycles: tuple[CycleOutcome, ...]
    rules: tuple[RuleValue, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    heats: tuple[HeatOutcome, ...] = ()
    devices: tuple[DeviceOutcome, ...] = ()
    initial_shape: Array | None = None
    figures: dict[str, float] = field(default_factory=dict)
    versions: dict[str, str] = field(default_factory=dict)

    @property
    def glance(self) -> Glance:
        """The verdict, and the first measures of the last cycle with their units."""
        last = self.cycles[-1]
        said: list[tuple[str, Tone]] = [
            (words, "bad" if bad else "good") for words, bad in self._verdict()
        ]
        doubts, rules = doubt_words(self.warnings), rules_words(self.rules)
        if doubts is not None:
            said.append((doubts, "doubt"))
        if rules is not None:
            said.append((rules, "plain"))
        named = [one for one in last.measures if not one.name.endswith(" in mrad")]
        rows = [("peak temperature", f"{_hottest(self.cycles).peak_C:.0f} C")]
        rows += [(one.name, f"{number(one.value, 3)} {one.unit}") for one in named[:MOST_MEASURES]]
        if len(named) > MOST_MEASURES:
            rows.append(("...", f"{len(named)} measures in all; print(summary_text(result))"))
        rows += [("warning", words) for words in self.warnings]
        return Glance(
            title=self.case.title,
            verdict=tuple(said),
            rows=tuple(rows),
            note=ADVICE,
        )

    def _verdict(self) -> Iterator[tuple[str, bool]]:
        """Sentences, each with whether it is bad."""
        hottest = _hottest(self.cycles)
        melted = melted_words(hottest.peak_C, self.material.family)
        if melted is not None:
            yield melted, True
        yield hottest.verdict, not (hottest.within_limit and hottest.within_tables)
        for finding in dict.fromkeys(one for cycle in self.cycles for one in cycle.practice):
            if not finding.within:
                yield f"Beyond practice for {self.material.family}: {finding.words}.", True
        judged = [one for one in self.cycles[-1].shape if one.allowed_mm is not None]
        beyond = [one.measure for one in judged if not one.within]
        if judged:
            named = f"class {self.case.limits.shape_class} of ISO 13920"
            kept = f"Within {named}." if not beyond else f"NOT WITHIN {named}: {', '.join(beyond)}."
            yield kept, bool(beyond)
        worst, allowed = self.strain.effort.worst_residual, self.case.solve.tolerance
        yield converged_words(worst, allowed), worst > allowed

    def __repr__(self) -> str:
        title = one_line(self.case.title)
        cycles = f"{len(self.cycles)} cycle{'s' * (len(self.cycles) > 1)}"
        return f"<RunResult of {title!r}: {cycles}, peak {_hottest(self.cycles).peak_C:.0f} C>"

    def __str__(self) -> str:
        return self.glance.text

    def __rich__(self) -> Group:
        """For a terminal: verdict, then a short table."""
        return self.glance.rich

    def _repr_html_(self) -> str:
        """For notebooks: verdict, then a short table."""
        return self.glance.html


def _hottest(cycles: tuple[CycleOutcome, ...]) -> HeatCheck:
    return max((cycle.heat_check for cycle in cycles), key=lambda check: check.peak_C)
