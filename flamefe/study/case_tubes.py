"""Boxes, tubes, round bars and stiffened panels in a case, by their dimensions."""

from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_beams import LENGTH, MATERIAL, Length, Size, Thickness
from flamefe.study.case_part import Name, Number, WholeNumber, part


@part
class BoxBeam:
    """A box welded of two webs between two flanges.

    Faces, beside "start" and "end": "top of top flange", "inside of top flange", "underside of
    bottom flange", "inside of bottom flange", "outside of left web", "inside of left web"
    (right alike), "top flange left edge" and so on; with an overhang also "underside of top
    flange left", "top of bottom flange left" and so on. For axes and coordinates on faces see
    ``BeamFaces`` and ``RolledFace``.

    Args:
        kind: "box".
        length_mm: along x, mm, 5 to 30 000.
        height_mm: height over both flanges, mm, 5 to 5000.
        width_mm: width of the flanges, mm, 5 to 5000.
        web_thickness_mm: thickness of the webs, mm, 0.5 to 300.
        flange_thickness_mm: thickness of the flanges, mm, 0.5 to 300.
        overhang_mm: from the outside of a web to the flange's edge, mm.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> BoxBeam(length_mm=4000, height_mm=300, width_mm=200, web_thickness_mm=8,
        ...         flange_thickness_mm=12, material="S355").size_mm
        (4000.0, 200.0, 300.0)
    """

    kind: Annotated[
        Literal["box"], Field(description="A box welded of two webs between two flanges.")
    ] = "box"
    length_mm: Annotated[Length, Field(description=LENGTH)]
    height_mm: Annotated[Size, Field(description="Height over both flanges, mm.")]
    width_mm: Annotated[Size, Field(description="Width of the flanges, mm.")]
    web_thickness_mm: Annotated[Thickness, Field(description="Thickness of the webs, mm.")]
    flange_thickness_mm: Annotated[Thickness, Field(description="Thickness of the flanges, mm.")]
    overhang_mm: Annotated[
        Annotated[Number, Field(ge=0, le=2000)],
        Field(description="From the outside of a web to the flange's edge, mm."),
    ] = 0.0
    material: Annotated[Name, Field(description=MATERIAL)]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, self.width_mm, self.height_mm)


@part
class RoundTube:
    """A round tube or pipe.

    Faces, beside "start" and "end": "outside", "inside". For axes and coordinates on faces see
    ``BeamFaces`` and ``RolledFace``.

    Args:
        kind: "round tube".
        length_mm: along x, mm, 5 to 30 000.
        outer_diameter_mm: outer diameter, mm, 5 to 5000.
        thickness_mm: thickness of the wall, mm, 0.5 to 300.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> RoundTube(length_mm=3000, outer_diameter_mm=114.3, thickness_mm=6.3,
        ...           material="S235").size_mm
        (3000.0, 114.3, 114.3)
    """

    kind: Annotated[Literal["round tube"], Field(description="A round tube or pipe.")] = (
        "round tube"
    )
    length_mm: Annotated[Length, Field(description=LENGTH)]
    outer_diameter_mm: Annotated[Size, Field(description="Outer diameter, mm.")]
    thickness_mm: Annotated[Thickness, Field(description="Thickness of the wall, mm.")]
    material: Annotated[Name, Field(description=MATERIAL)]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, self.outer_diameter_mm, self.outer_diameter_mm)


@part
class RectangularTube:
    """A square or rectangular tube.

    Faces, beside "start" and "end": "top outside", "top inside" and alike for bottom, left and
    right; with rounded corners also "corners outside", "corners inside". For axes and
    coordinates on faces see ``BeamFaces`` and ``RolledFace``.

    Args:
        kind: "rectangular tube".
        length_mm: along x, mm, 5 to 30 000.
        height_mm: height outside, mm, 5 to 5000.
        width_mm: width outside, mm, 5 to 5000.
        thickness_mm: thickness of the wall, mm, 0.5 to 300.
        outer_radius_mm: outer radius of the corners, mm; 0: sharp.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> RectangularTube(length_mm=2500, height_mm=100, width_mm=60, thickness_mm=4,
        ...                 outer_radius_mm=8, material="S355").size_mm
        (2500.0, 60.0, 100.0)
    """

    kind: Annotated[
        Literal["rectangular tube"], Field(description="A square or rectangular tube.")
    ] = "rectangular tube"
    length_mm: Annotated[Length, Field(description=LENGTH)]
    height_mm: Annotated[Size, Field(description="Height outside, mm.")]
    width_mm: Annotated[Size, Field(description="Width outside, mm.")]
    thickness_mm: Annotated[Thickness, Field(description="Thickness of the wall, mm.")]
    outer_radius_mm: Annotated[
        Annotated[Number, Field(ge=0, le=500)],
        Field(description="Outer radius of the corners, mm; 0: sharp."),
    ] = 0.0
    material: Annotated[Name, Field(description=MATERIAL)]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, self.width_mm, self.height_mm)


@part
class RoundBar:
    """A round bar or shaft.

    Faces, beside "start" and "end": "outside". For axes and coordinates on faces see
    ``BeamFaces`` and ``RolledFace``.

    Args:
        kind: "round bar".
        length_mm: along x, mm, 5 to 30 000.
        diameter_mm: diameter, mm, 5 to 5000.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> RoundBar(length_mm=1500, diameter_mm=60, material="S355").size_mm
        (1500.0, 60.0, 60.0)
    """

    kind: Annotated[Literal["round bar"], Field(description="A round bar or shaft.")] = "round bar"
    length_mm: Annotated[Length, Field(description=LENGTH)]
    diameter_mm: Annotated[Size, Field(description="Diameter, mm.")]
    material: Annotated[Name, Field(description=MATERIAL)]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, self.diameter_mm, self.diameter_mm)


@part
class Panel:
    """A plate with flat stiffeners standing on it along its length.

    Faces, beside "start" and "end": "underside of plate", "top of plate bay 1" (left of the
    first stiffener), "... bay 2", ..., "plate left edge", "plate right edge", "stiffener 1
    left", "stiffener 1 right", "stiffener 1 tip". For axes and coordinates on faces see
    ``BeamFaces`` and ``RolledFace``.

    Args:
        kind: "panel".
        length_mm: along x, mm, 5 to 30 000.
        width_mm: width of the plate, mm, 5 to 5000.
        plate_thickness_mm: thickness of the plate, mm, 0.5 to 300.
        stiffeners: number of stiffeners.
        stiffener_height_mm: height of the stiffeners above the plate, mm.
        stiffener_thickness_mm: thickness of the stiffeners, mm, 0.5 to 300.
        spacing_mm: between the middles of neighbouring stiffeners, mm, 5 to 5000; else
            shared out evenly.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> Panel(length_mm=2000, width_mm=1200, plate_thickness_mm=8, stiffeners=3,
        ...       stiffener_height_mm=80, stiffener_thickness_mm=8, material="S355").size_mm
        (2000.0, 1200.0, 88.0)
    """

    kind: Annotated[
        Literal["panel"],
        Field(description="A plate with flat stiffeners standing on it along its length."),
    ] = "panel"
    length_mm: Annotated[Length, Field(description=LENGTH)]
    width_mm: Annotated[Size, Field(description="Width of the plate, mm.")]
    plate_thickness_mm: Annotated[Thickness, Field(description="Thickness of the plate, mm.")]
    stiffeners: Annotated[
        Annotated[WholeNumber, Field(ge=1, le=30)], Field(description="Number of stiffeners.")
    ]
    stiffener_height_mm: Annotated[
        Annotated[Number, Field(ge=2, le=2000)],
        Field(description="Height of the stiffeners above the plate, mm."),
    ]
    stiffener_thickness_mm: Annotated[
        Thickness, Field(description="Thickness of the stiffeners, mm.")
    ]
    spacing_mm: Annotated[
        Size | None,
        Field(
            description="Between middles of neighbouring stiffeners, mm; else shared out evenly."
        ),
    ] = None
    material: Annotated[Name, Field(description=MATERIAL)]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, self.width_mm, self.plate_thickness_mm + self.stiffener_height_mm)
