"""The part of a case that says how a plate is shaped before the job: a buckle."""

from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_part import Number, WholeNumber, Words, part

State = Literal["stress-free", "stressed"]

_STATE = (
    "Whether the sheet was formed like this (stress-free) or bulges because it has too much area "
    "between its edges (stressed)."
)
_Waves = Annotated[WholeNumber, Field(ge=1, le=20)]


@part
class SineShape:
    """A buckle of half sine waves, 0 along the edges of the plate.

    Args:
        kind: "sine".
        height_mm: of its highest place, mm, -500 to 500, not 0; above 0 towards the top face.
        waves: half waves along x and y, 1 to 20 each.
        state: "stress-free": the plate was formed like this; "stressed": it bulges because it has
            too much area between its edges, in equilibrium with its supports that are never
            released. The height is then met, the shape is the plate's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> SineShape(height_mm=4).waves
        (1, 1)
    """

    kind: Annotated[Literal["sine"], Field(description="A buckle of half sine waves.")] = "sine"
    height_mm: Annotated[
        Number,
        Field(ge=-500, le=500, description="Height of its highest place, mm; + towards the top."),
    ]
    waves: Annotated[
        tuple[_Waves, _Waves], Field(description="Half waves along x and along y.")
    ] = (1, 1)
    state: Annotated[State, Field(description=_STATE)] = "stress-free"


@part
class PointsShape:
    """Measured heights of the plate's surface, fitted smoothly.

    Args:
        kind: "points".
        file: CSV with the columns x_mm, y_mm, z_mm; z from the flat shape, above 0 towards the
            top face; in a case file from the folder of the case file.
        accuracy_mm: root mean square by which the smooth surface may miss the heights, mm,
            0.001 to 50.
        state: as of a sine shape; with "stressed" the greatest height is met.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> PointsShape(file="panel.csv").accuracy_mm
        0.1
    """

    kind: Annotated[Literal["points"], Field(description="Measured heights.")] = "points"
    file: Annotated[
        Words,
        Field(min_length=1, max_length=1000, description="CSV file with x_mm, y_mm, z_mm."),
    ]
    accuracy_mm: Annotated[
        Number, Field(ge=0.001, le=50, description="How closely the heights are followed, mm.")
    ] = 0.1
    state: Annotated[State, Field(description=_STATE)] = "stress-free"


InitialShape = Annotated[SineShape | PointsShape, Field(discriminator="kind")]
"""An initial shape of any kind."""
