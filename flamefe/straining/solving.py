"""How equilibrium is found: the choices, checked."""

from dataclasses import dataclass

from flamefe.basics.errors import OutOfRange


@dataclass(frozen=True, kw_only=True)
class Solving:
    """How equilibrium is found.

    Args:
        geometry: "finite" (Green-Lagrange strain, forces on the deformed part) or "small".
        tolerance: residual force by the size of the stress forces at which an increment counts
            as converged.
        stress_free_C: temperature at which the part is free of thermal strain.
        most_iterations: iterations of one try.
        most_cuts: how often an increment may be halved.
        patience: iterations after which the next increment gets a fresh factorisation.
        memory: depth of Anderson mixing.
        solver: linear solver; the fastest installed one by default.
        stability: "auto" watches over parts that can buckle (finite geometry only), "always"
            over every part, "never" over none.
    """

    geometry: str = "finite"
    tolerance: float = 3e-4
    stress_free_C: float = 20.0
    most_iterations: int = 60
    most_cuts: int = 8
    patience: int = 10
    memory: int = 10
    solver: str | None = None
    stability: str = "auto"

    def __post_init__(self) -> None:
        if self.geometry not in ("finite", "small"):
            raise OutOfRange(f'Geometry is {self.geometry!r}; allowed: "finite", "small".')
        if self.stability not in ("auto", "always", "never"):
            raise OutOfRange(
                f'Stability is {self.stability!r}; allowed: "auto", "always", "never".'
            )
        if self.stability == "always" and self.geometry == "small":
            raise OutOfRange(
                'Stability can be watched in finite geometry only; take geometry = "finite".'
            )
        if not 0.0 < self.tolerance <= 0.05:
            raise OutOfRange(
                f"The tolerance is {self.tolerance:g}; allowed: above 0, up to 0.05 "
                "(0.0003 is usual)."
            )


USUAL, CAREFUL = 20, 3
"""Iterations after which a slow try gets a fresh operator: at first, and at every second try."""
SETTLED = 0.05
"""Last step of an iteration, by the increment's largest displacement, that counts as at rest."""
STILL = 1e-4
"""The same by the part's largest displacement."""

GAVE_UP = (
    "No equilibrium was found at {time:g} s, even after the step was cut {cuts} times. The part "
    "may be carried past its strength, buckle, tip over or lift off its rests, or be pulled off "
    "its vacuum plate there. Look at its rests and loads first; then try smaller heat steps, a "
    "finer mesh at the heat or less load."
)
