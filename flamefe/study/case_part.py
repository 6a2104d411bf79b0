"""What all parts of a case have in common: how they check themselves, and kinds of values."""

from collections.abc import Mapping
from itertools import pairwise
from typing import Annotated, Any, Literal, TypeVar, dataclass_transform

import numpy as np
from pydantic import (
    AfterValidator,
    AllowInfNan,
    ConfigDict,
    Field,
    Strict,
    TypeAdapter,
    ValidationError,
)
from pydantic.dataclasses import dataclass as pydantic_dataclass
from pydantic_core import ArgsKwargs, PydanticCustomError

from flamefe.study.case_reading import faults_from
from flamefe.study.faults import CaseError

Kind = TypeVar("Kind")
First = TypeVar("First")
Second = TypeVar("Second")


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(Field,))
def part(cls: type[Kind]) -> type[Kind]:
    """Make a frozen, keyword-only dataclass that checks itself and raises CaseError.

    ``dataclasses.replace`` on it gives a checked copy. Unknown keys are refused. A static method
    ``faults_between`` of the class adds the contradictions among values that could be read.
    """
    made: Any = pydantic_dataclass(config=ConfigDict(extra="forbid"), frozen=True, kw_only=True)(
        cls
    )

    def __init__(self: Any, /, *args: Any, **given: Any) -> None:
        values = {name: plain(value) for name, value in given.items()}
        try:
            made.__pydantic_validator__.validate_python(
                ArgsKwargs(args, values), self_instance=self
            )
        except ValidationError as error:
            faults = faults_from(error, schema_of(made))
            between = getattr(made, "faults_between", None)
            raise CaseError(faults + (between(values) if between else [])) from None

    made.__init__ = __init__
    return made  # type: ignore[no-any-return]


def schema_of(cls: Any) -> dict[str, Any]:
    """JSON schema of a part's class."""
    return TypeAdapter(cls).json_schema()


def plain(value: Any) -> Any:
    """NumPy's numbers and arrays, also inside lists, as Python's; all else as it is."""
    if isinstance(value, np.generic | np.ndarray):
        return value.tolist()
    if type(value) in (list, tuple):
        return [plain(item) for item in value]
    return value


def _printable(text: str) -> str:
    if not all(c.isprintable() for c in text):
        raise refusal(
            "text with a character that can't be printed", "printable text in one line",
            "Take out control characters and line ends.",
        )  # fmt: skip
    return text


def _printable_lines(text: str) -> str:
    if not all(c.isprintable() or c in "\n\t" for c in text):
        raise refusal(
            "text with a character that can't be printed", "printable text, line ends, tabs",
            "Take out control characters.",
        )  # fmt: skip
    return text


def _rising(pairs: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    for (before, _), (after, _) in pairwise(pairs):
        if after <= before:
            raise refusal(
                f"{after:g} after {before:g} as first number of a pair",
                "first numbers that rise from pair to pair",
                "Put the pairs in rising order, each first number once.",
            )
    return pairs


def _moving(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    for number, (before, after) in enumerate(pairwise(points), start=1):
        if before == after:
            raise refusal(
                f"points {number} and {number + 1} at the same place "
                f"({before[0]:g}, {before[1]:g}), a piece of no length",
                "points that each lie away from the one before",
                'Take one of them out; for a flame that stands use kind = "spot".',
            )
    return points


def refusal(given: str, allowed: str, advice: str) -> PydanticCustomError:
    """An error from a field's own check, in a fault's three parts."""
    context = {"given": given, "allowed": allowed, "advice": advice}
    return PydanticCustomError("flamefe", "{given}; allowed: {allowed}", context)


Number = Annotated[float, Strict(), AllowInfNan(False)]
"""A finite number; text and true/false are not taken for numbers."""
WholeNumber = Annotated[int, Strict()]
"""A whole number."""
Words = Annotated[str, Strict(), Field(max_length=200), AfterValidator(_printable)]
"""One line of text."""
Lines = Annotated[str, Strict(), Field(max_length=20_000), AfterValidator(_printable_lines)]
"""Text of several lines."""
Name = Annotated[str, Strict(), Field(max_length=64, pattern=r"^[\w][\w .+-]*$")]
"""A name: letters, digits, and _ - + . or spaces after the first."""
RisingPairs = Annotated[
    tuple[tuple[First, Second], ...],
    Field(min_length=1, max_length=10_000),
    AfterValidator(_rising),
]
"""One pair or more, the first value rising from pair to pair."""
Coordinate = Annotated[Number, Field(ge=-100_000, le=100_000)]
"""A coordinate, mm."""
Point = tuple[Coordinate, Coordinate, Coordinate]
"""x, y, z in the part's axes, mm."""
FacePoint = tuple[Coordinate, Coordinate]
"""A point in a face's own two coordinates, mm."""
MovingPath = Annotated[
    tuple[FacePoint, ...], Field(min_length=2, max_length=10_000), AfterValidator(_moving)
]
"""Two or more points of a path, none at the place of the one before."""
Moment = Annotated[Number, Field(ge=0, le=1e7)]
"""A time since the start of the job, s."""
Fitted = Literal["before heating", "hot"]
"""When a support is fitted."""
Released = Literal["never", "hot", "after cooling"]
"""When a support or load is taken away."""
Axis = Literal["x", "y", "z"]
"""A direction, either way."""
SignedAxis = Literal["x", "-x", "y", "-y", "z", "-z"]
"""A direction, one way."""


def fields_of(cls: Any) -> Mapping[str, Any]:
    """The fields of a part's class, by name."""
    fields: Mapping[str, Any] = cls.__pydantic_fields__
    return fields
