"""The part of a case that says how it is solved and judged."""

from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_part import Number, part


@part
class Solve:
    """How finely and closely the case is solved.

    Args:
        geometry: "finite" (equilibrium on the deformed shape) or "small".
        tolerance: unbalanced force over acting force at which an increment counts as solved,
            1e-8 to 0.05.
        heat_step_s: time step while a flame burns, s, 0.001 to 600; None: a sixth of the flame
            radius of travel.
        largest_temperature_step_C: largest change of temperature in one step, K, 1 to 500.

    Raises:
        CaseError: a value is not allowed.

    Example:
        >>> Solve().geometry
        'finite'
    """

    geometry: Annotated[
        Literal["finite", "small"],
        Field(description="Equilibrium on the deformed (finite) or first shape (small)."),
    ] = "finite"
    tolerance: Annotated[
        Number, Field(ge=1e-8, le=0.05, description="Unbalanced force over acting force.")
    ] = 1e-3
    heat_step_s: Annotated[
        Number | None,
        Field(ge=0.001, le=600, description="Time step while a flame burns, s."),
    ] = None
    largest_temperature_step_C: Annotated[
        Number, Field(ge=1, le=500, description="Largest change of temperature in a step, K.")
    ] = 30.0


@part
class Limits:
    """What the part should not exceed.

    Args:
        temperature_C: highest temperature, C, 50 to 3000; None: the material's heating limit.

    Raises:
        CaseError: a value is out of its range.

    Example:
        >>> Limits(temperature_C=600).temperature_C
        600.0
    """

    temperature_C: Annotated[
        Number | None,
        Field(ge=50, le=3000, description="Highest temperature that is allowed, C."),
    ] = None
