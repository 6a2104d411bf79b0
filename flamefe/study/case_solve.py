"""The part of a case that says how it is solved and judged."""

from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_part import Number, Words, part


@part
class Solve:
    """How finely and closely the case is solved.

    Args:
        geometry: "finite" (equilibrium on the deformed shape) or "small".
        tolerance: unbalanced force over acting force at which an increment counts as solved,
            1e-8 to 0.05.
        stability: "auto" watches whether a part that can buckle is in a stable state, at each
            step; "always" watches every part; "never" none, and says so.
        far_field: "condensed" where that pays: what is far from the heats, cold and elastic, is
            solved once and carried along; "solved": it is solved at every step.
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
    stability: Annotated[
        Literal["auto", "always", "never"],
        Field(description="Whether it is checked that the part's state is stable."),
    ] = "auto"
    far_field: Annotated[
        Literal["condensed", "solved"],
        Field(description="What is far from the heats: solved once where that pays, or always."),
    ] = "condensed"
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
        shape_class: class of ISO 13920, "E" (finest) to "H", that straightness and flatness are
            to keep to after the job; None: not asked for.
        quench_reason: why water may be used where practice forbids it for the material; it is
            said with every result. Empty: such water is refused.

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
    shape_class: Annotated[
        Literal["E", "F", "G", "H"] | None,
        Field(description="Class of ISO 13920 that straightness and flatness are to keep to."),
    ] = None
    quench_reason: Annotated[
        Words, Field(description="Why water is used although practice forbids it.")
    ] = ""


_PRICE = "Price of a cubic metre at 15 C and 1013 mbar."


@part
class Prices:
    """Prices of gases by m3 at 15 C and 1013 mbar, in one currency; None: not known.

    Args:
        currency: what to call it.
        oxygen_m3, acetylene_m3, propane_m3, propylene_m3, natural_gas_m3, hydrogen_m3: by m3.

    Raises:
        CaseError: a value is out of its range.

    Example:
        >>> Prices(oxygen_m3=2.5, propane_m3=6).currency
        'EUR'
    """

    currency: Annotated[Words, Field(description="What to call it.")] = "EUR"
    oxygen_m3: Annotated[Number | None, Field(ge=0, le=1e6, description=_PRICE)] = None
    acetylene_m3: Annotated[Number | None, Field(ge=0, le=1e6, description=_PRICE)] = None
    propane_m3: Annotated[Number | None, Field(ge=0, le=1e6, description=_PRICE)] = None
    propylene_m3: Annotated[Number | None, Field(ge=0, le=1e6, description=_PRICE)] = None
    natural_gas_m3: Annotated[Number | None, Field(ge=0, le=1e6, description=_PRICE)] = None
    hydrogen_m3: Annotated[Number | None, Field(ge=0, le=1e6, description=_PRICE)] = None

    def of(self, fuel: str) -> float | None:
        """Price of a fuel by m3."""
        price: float | None = getattr(self, f"{fuel.replace(' ', '_')}_m3")
        return price
