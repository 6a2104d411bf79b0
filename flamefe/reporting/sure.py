"""How sure a run can be: what it does not show of itself, what is known, and how to find out."""

from dataclasses import dataclass

from flamefe.reporting.verdict import peak_by_power
from flamefe.reporting.words import number
from flamefe.study.case import mesh_plan
from flamefe.study.case_flames import radius_mm_of
from flamefe.study.result import RunResult

FINER = 1.5
"""By how much finer a second run is proposed."""
POWER_SHARE = 0.1
"""Change of power whose effect on the peak is told."""
ROUNDED = 1e-3


@dataclass(frozen=True, kw_only=True)
class MeasuredError:
    """How near the engine came to quadratic elements of another solver on one problem.

    Args:
        problem: as the README's table of accuracy names it.
        element_by_radius: longest element under the flame, by the flame's radius.
        layers: of elements through the thickness.
        displacements_percent: difference in displacements.
        rise_percent: difference in the mean rise to the peak.
    """

    problem: str
    element_by_radius: float
    layers: int
    displacements_percent: float
    rise_percent: float


LINE_HEAT = MeasuredError(
    problem="line heat on 12 mm, heat and straining together", element_by_radius=0.56, layers=3,
    displacements_percent=2.2, rise_percent=1.1,
)  # fmt: skip


def mesh_words(result: RunResult) -> tuple[str, ...]:
    """What is known of the error by mesh and steps, and how to check it."""
    known = LINE_HEAT
    said = [
        "One run does not show its own error by mesh and steps.",
        f"Measured on one problem ({known.problem}; README, How far to trust it): elements of "
        f"{known.element_by_radius:g} flame radii in {known.layers} layers came within "
        f"{known.displacements_percent:g} % in displacements and {known.rise_percent:g} % in the "
        "mean rise to the peak of another solver's quadratic elements, same division. "
        "That table has no other part or way of holding that was computed whole.",
    ]
    plan = mesh_plan(result.case)
    used = [radius_mm_of(result.case.flames[heat.flame]) for heat in result.case.heats]
    if plan is None or not used:
        said.append("To check it: run the case once more on a finer mesh and compare.")
        return tuple(said)
    fine = plan.size_at_heat_mm
    share = fine / min(used)
    layers = "1 layer" if plan.layers == 1 else f"{plan.layers} layers"
    here = f"Here: {number(fine, 3)} mm, {number(share, 2)} flame radii, in {layers}"
    coarser = [
        words
        for words, worse in (
            ("longer elements", share > known.element_by_radius + ROUNDED),
            ("fewer layers", plan.layers < known.layers),
        )
        if worse
    ]
    if coarser:
        here += f": {' and '.join(coarser)} than there, so a larger error must be expected"
    said.append(f"{here}.")
    said.append(
        "To check it: flamefe compare case.toml --vary mesh.size_at_heat_mm="
        f"{number(fine, 3)},{number(fine / FINER, 2)} (case.toml beside this page); likewise "
        "mesh.layers. The finer run's error is then about "
        f"{1.0 / (FINER**2 - 1.0):.1g} to {1.0 / (FINER - 1.0):.1g} times what has changed (if it "
        "falls with the square of the element's size, or with the size)."
    )
    return tuple(said)


def input_words(result: RunResult) -> tuple[str, ...]:
    """That the spread of inputs is not computed, what computes it, and the effect of power."""
    said = [
        "The spread of inputs (power, flame radius, yield, stiffness of what holds) is not "
        "computed here: flamefe spread STUDY.toml does it, from a value and a spread of each."
    ]
    if not result.case.heats:
        return tuple(said)
    check = max((one.heat_check for one in result.cycles), key=lambda one: one.peak_C)
    if not peak_by_power(result):
        said.append(
            "The hottest heat is driven by temperature, or by hot gas: another power changes how "
            "long it takes rather than its peak; how well the temperature is read changes the peak."
        )
        return tuple(said)
    change = POWER_SHARE * (check.peak_C - result.case.surroundings.ambient_C)
    low, high = check.peak_C - change, check.peak_C + change
    over = f", above the limit of {check.limit_C:g} C" if high > check.limit_C else ""
    said.append(
        f"{100 * POWER_SHARE:g} % less or more power alone brings the peak of {check.peak_C:.0f} C "
        f"to about {low:.0f} or {high:.0f} C{over} (first order: rises grow with power)."
    )
    return tuple(said)
