"""Beams of open cross section in a case: I, channel, T and angle by their dimensions."""

from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_part import Name, Number, part

LENGTH = "Length along x, mm."
MATERIAL = "Name of a ready material or of one of the case's own."

Length = Annotated[Number, Field(ge=5, le=30_000)]
"""Length of a beam, mm."""
Size = Annotated[Number, Field(ge=5, le=5000)]
"""Height, width or diameter of a section, mm."""
Thickness = Annotated[Number, Field(ge=0.5, le=300)]
"""Of a plate, leg or wall, mm."""


@part
class IBeam:
    """An I or H beam, rolled or welded, its two flanges alike or not.

    Faces, beside "start" and "end": "top of top flange", "underside of top flange left" and
    "... right", "top of bottom flange left" and "... right", "underside of bottom flange", "web
    left", "web right", "top flange left edge" and so on. For axes and coordinates on faces see
    ``BeamFaces`` and ``RolledFace``.

    Args:
        kind: "I beam".
        length_mm: along x, mm, 5 to 30 000.
        height_mm: height over both flanges, mm, 5 to 5000.
        width_mm: width of the top flange, mm, 5 to 5000.
        web_thickness_mm: thickness of the web, mm, 0.5 to 300.
        flange_thickness_mm: thickness of the top flange, mm, 0.5 to 300.
        bottom_width_mm: width of the bottom flange, mm, 5 to 5000; else as the top one.
        bottom_flange_thickness_mm: thickness of the bottom flange, mm, 0.5 to 300; else as
            the top one.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> IBeam(length_mm=6000, height_mm=300, width_mm=150, web_thickness_mm=7.1,
        ...       flange_thickness_mm=10.7, material="S355").size_mm
        (6000.0, 150.0, 300.0)
    """

    kind: Annotated[Literal["I beam"], Field(description="An I or H beam.")] = "I beam"
    length_mm: Annotated[Length, Field(description=LENGTH)]
    height_mm: Annotated[Size, Field(description="Height over both flanges, mm.")]
    width_mm: Annotated[Size, Field(description="Width of the top flange, mm.")]
    web_thickness_mm: Annotated[Thickness, Field(description="Thickness of the web, mm.")]
    flange_thickness_mm: Annotated[Thickness, Field(description="Thickness of the top flange, mm.")]
    bottom_width_mm: Annotated[
        Size | None, Field(description="Width of the bottom flange, mm; else as the top one.")
    ] = None
    bottom_flange_thickness_mm: Annotated[
        Thickness | None,
        Field(description="Thickness of the bottom flange, mm; else as the top one."),
    ] = None
    material: Annotated[Name, Field(description=MATERIAL)]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, max(self.width_mm, self.bottom_width_mm or 0.0), self.height_mm)


@part
class Channel:
    """A channel; its flanges point to the right (large y).

    Faces, beside "start" and "end": "top of top flange", "underside of top flange", "top flange
    edge", "web inside", "web back", "top of bottom flange", "underside of bottom flange",
    "bottom flange edge". For axes and coordinates on faces see ``BeamFaces`` and
    ``RolledFace``.

    Args:
        kind: "channel".
        length_mm: along x, mm, 5 to 30 000.
        height_mm: height over both flanges, mm, 5 to 5000.
        width_mm: width of the flanges from the back of the web, mm, 5 to 5000.
        web_thickness_mm: thickness of the web, mm, 0.5 to 300.
        flange_thickness_mm: thickness of the flanges, mm, 0.5 to 300.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> Channel(length_mm=3000, height_mm=200, width_mm=75, web_thickness_mm=8.5,
        ...         flange_thickness_mm=11.5, material="S235").size_mm
        (3000.0, 75.0, 200.0)
    """

    kind: Annotated[Literal["channel"], Field(description="A channel.")] = "channel"
    length_mm: Annotated[Length, Field(description=LENGTH)]
    height_mm: Annotated[Size, Field(description="Height over both flanges, mm.")]
    width_mm: Annotated[
        Size, Field(description="Width of the flanges from the back of the web, mm.")
    ]
    web_thickness_mm: Annotated[Thickness, Field(description="Thickness of the web, mm.")]
    flange_thickness_mm: Annotated[Thickness, Field(description="Thickness of the flanges, mm.")]
    material: Annotated[Name, Field(description=MATERIAL)]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, self.width_mm, self.height_mm)


@part
class Tee:
    """A T, its flange on top.

    Faces, beside "start" and "end": "top of flange", "underside of flange left" and "...
    right", "flange left edge", "flange right edge", "web left", "web right", "web tip". For
    axes and coordinates on faces see ``BeamFaces`` and ``RolledFace``.

    Args:
        kind: "T beam".
        length_mm: along x, mm, 5 to 30 000.
        height_mm: height from the web's tip to the top of the flange, mm, 5 to 5000.
        width_mm: width of the flange, mm, 5 to 5000.
        web_thickness_mm: thickness of the web, mm, 0.5 to 300.
        flange_thickness_mm: thickness of the flange, mm, 0.5 to 300.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> Tee(length_mm=2000, height_mm=100, width_mm=100, web_thickness_mm=11,
        ...     flange_thickness_mm=11, material="S235").size_mm
        (2000.0, 100.0, 100.0)
    """

    kind: Annotated[Literal["T beam"], Field(description="A T.")] = "T beam"
    length_mm: Annotated[Length, Field(description=LENGTH)]
    height_mm: Annotated[
        Size, Field(description="Height from the web's tip to the top of the flange, mm.")
    ]
    width_mm: Annotated[Size, Field(description="Width of the flange, mm.")]
    web_thickness_mm: Annotated[Thickness, Field(description="Thickness of the web, mm.")]
    flange_thickness_mm: Annotated[Thickness, Field(description="Thickness of the flange, mm.")]
    material: Annotated[Name, Field(description=MATERIAL)]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, self.width_mm, self.height_mm)


@part
class Angle:
    """An angle, its heel in the lower left corner.

    Faces, beside "start" and "end": "underside of flat leg", "top of flat leg", "flat leg
    edge", "back of upright leg", "inside of upright leg", "upright leg edge". For axes and
    coordinates on faces see ``BeamFaces`` and ``RolledFace``.

    Args:
        kind: "angle".
        length_mm: along x, mm, 5 to 30 000.
        height_mm: height of the upright leg from the heel, mm, 5 to 5000.
        width_mm: width of the flat leg from the heel, mm, 5 to 5000.
        thickness_mm: thickness of both legs, mm, 0.5 to 300.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> Angle(length_mm=2000, height_mm=100, width_mm=65, thickness_mm=9,
        ...       material="S235").size_mm
        (2000.0, 65.0, 100.0)
    """

    kind: Annotated[Literal["angle"], Field(description="An angle.")] = "angle"
    length_mm: Annotated[Length, Field(description=LENGTH)]
    height_mm: Annotated[Size, Field(description="Height of the upright leg from the heel, mm.")]
    width_mm: Annotated[Size, Field(description="Width of the flat leg from the heel, mm.")]
    thickness_mm: Annotated[Thickness, Field(description="Thickness of both legs, mm.")]
    material: Annotated[Name, Field(description=MATERIAL)]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, self.width_mm, self.height_mm)
