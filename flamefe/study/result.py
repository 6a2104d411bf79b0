"""What a run hands back: inputs, histories, measures, rules, and how far to trust them."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex

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
from flamefe.workpiece.material import Material

Array = NDArray[np.float64]


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


@dataclass(frozen=True, kw_only=True)
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
