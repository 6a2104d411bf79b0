"""The part of a case that says what is heated: shape, mesh, own materials, surroundings."""

from typing import Annotated, Literal

from pydantic import Field

from flamefe.study.case_part import Name, Number, RisingPairs, WholeNumber, Words, part

Celsius = Annotated[Number, Field(ge=-200, le=3000)]
"""A temperature at which a property is given, C."""
Positive = Annotated[Number, Field(gt=0)]
"""A number above 0."""


@part
class Plate:
    """A flat plate: x along its length, y along its width, z through its thickness.

    Its origin is a corner of the face "bottom" (z = 0). Faces: top, bottom (z), start, end (x),
    near, far (y).

    Args:
        kind: "plate".
        length_mm: along x, mm, 5 to 30 000.
        width_mm: along y, mm, 5 to 10 000.
        thickness_mm: along z, mm, 0.5 to 300.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355").size_mm
        (400.0, 200.0, 12.0)
    """

    kind: Annotated[Literal["plate"], Field(description="A flat plate.")] = "plate"
    length_mm: Annotated[Number, Field(ge=5, le=30_000, description="Length along x, mm.")]
    width_mm: Annotated[Number, Field(ge=5, le=10_000, description="Width along y, mm.")]
    thickness_mm: Annotated[Number, Field(ge=0.5, le=300, description="Thickness along z, mm.")]
    material: Annotated[
        Name, Field(description="Name of a ready material or of one of the case's own.")
    ]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, self.width_mm, self.thickness_mm)


@part
class Bar:
    """A flat bar: x along its length, y along its depth, z through its thickness.

    Faces as of a plate; near and far are the bar's narrow edges.

    Args:
        kind: "bar".
        length_mm: along x, mm, 5 to 30 000.
        depth_mm: along y, mm, 5 to 2000.
        thickness_mm: along z, mm, 0.5 to 300.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> Bar(length_mm=600, depth_mm=100, thickness_mm=10, material="S235").size_mm
        (600.0, 100.0, 10.0)
    """

    kind: Annotated[Literal["bar"], Field(description="A flat bar.")] = "bar"
    length_mm: Annotated[Number, Field(ge=5, le=30_000, description="Length along x, mm.")]
    depth_mm: Annotated[Number, Field(ge=5, le=2000, description="Depth along y, mm.")]
    thickness_mm: Annotated[Number, Field(ge=0.5, le=300, description="Thickness along z, mm.")]
    material: Annotated[
        Name, Field(description="Name of a ready material or of one of the case's own.")
    ]

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Extent along x, y and z, mm."""
        return (self.length_mm, self.depth_mm, self.thickness_mm)


@part
class MeshFile:
    """A part of any shape, read from a file of hexahedra with named faces and node sets.

    Args:
        kind: "mesh file".
        file: path of the file; in a case file from the folder of the case file.
        unit_mm: size of one unit of length of the file, mm, 0.001 to 1000.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> MeshFile(file="chute.msh", material="S355").unit_mm
        1.0
    """

    kind: Annotated[Literal["mesh file"], Field(description="A part from a mesh file.")] = (
        "mesh file"
    )
    file: Annotated[
        Words, Field(min_length=1, max_length=1000, description="Path of the mesh file.")
    ]
    unit_mm: Annotated[
        Number, Field(ge=0.001, le=1000, description="Size of a unit of length of the file, mm.")
    ] = 1.0
    material: Annotated[
        Name, Field(description="Name of a ready material or of one of the case's own.")
    ]


@part
class Mesh:
    """How fine the part is divided; of no effect on a part from a mesh file.

    Args:
        size_at_heat_mm: largest element where the flame goes, mm, 0.2 to 1000; None: a third of
            the smallest radius of the flames in use.
        size_away_mm: largest element elsewhere, mm, 0.2 to 1000; None: four times the size at
            the heat.
        layers: element layers through the thickness, 1 to 40; None: so many that they are no
            thicker than the size at the heat, 2 to 16, for 5 mm and more at least 4.

    Raises:
        CaseError: a value is out of its range.

    Example:
        >>> Mesh(size_at_heat_mm=6, layers=5).layers
        5
    """

    size_at_heat_mm: Annotated[
        Number | None,
        Field(
            ge=0.2, le=1000,
            description="Largest element where the flame goes, mm; "
            "else a third of the smallest flame radius.",
        ),
    ] = None  # fmt: skip
    size_away_mm: Annotated[
        Number | None,
        Field(
            ge=0.2, le=1000,
            description="Largest element away from the flame, mm; "
            "else four times the size at the heat.",
        ),
    ] = None  # fmt: skip
    layers: Annotated[
        WholeNumber | None,
        Field(
            ge=1, le=40,
            description="Element layers through the thickness; else no thicker than the size at "
            "the heat.",
        ),
    ] = None  # fmt: skip


@part
class MaterialTables:
    """Properties of a metal against temperature, each as pairs of temperature (C) and value.

    Temperatures rise from pair to pair, lie between -200 and 3000 C and start at 100 C or below;
    between pairs a property runs straight, outside them it stays constant; a single pair is a
    constant. None: as in the base. A case refuses numbers that no metal has in these units.

    Args:
        conductivity_W_mK: W/(m K), at 20 C 2 to 450, up to 450.
        specific_heat_J_kgK: J/(kg K), at 20 C 100 to 3000, up to 50 000.
        thermal_strain: strain, 0 at 20 C, -0.06 to 0.06.
        youngs_modulus_GPa: GPa, at 20 C 10 to 500, up to 500.
        poisson: Poisson's ratio, 0 up to below 0.5.
        yield_MPa: yield stress, MPa, at 20 C 5 to 3000, up to 3000.
        hardening_modulus_GPa: slope of the yield stress by plastic strain, GPa, 0 to 50; without
            a base and without this a hundredth of Young's modulus.

    Raises:
        CaseError: a table doesn't rise, or a value is out of its range.

    Example:
        >>> MaterialTables(yield_MPa=[[20, 380], [650, 110]]).yield_MPa
        ((20.0, 380.0), (650.0, 110.0))
    """

    conductivity_W_mK: Annotated[
        RisingPairs[Celsius, Positive] | None,
        Field(description="Pairs of temperature, C, and conductivity, W/(m K)."),
    ] = None
    specific_heat_J_kgK: Annotated[
        RisingPairs[Celsius, Positive] | None,
        Field(description="Pairs of temperature, C, and specific heat, J/(kg K)."),
    ] = None
    thermal_strain: Annotated[
        RisingPairs[Celsius, Number] | None,
        Field(description="Pairs of temperature, C, and thermal strain, 0 at 20 C."),
    ] = None
    youngs_modulus_GPa: Annotated[
        RisingPairs[Celsius, Positive] | None,
        Field(description="Pairs of temperature, C, and Young's modulus, GPa."),
    ] = None
    poisson: Annotated[
        RisingPairs[Celsius, Annotated[Number, Field(ge=0, lt=0.5)]] | None,
        Field(description="Pairs of temperature, C, and Poisson's ratio."),
    ] = None
    yield_MPa: Annotated[
        RisingPairs[Celsius, Positive] | None,
        Field(description="Pairs of temperature, C, and yield stress, MPa."),
    ] = None
    hardening_modulus_GPa: Annotated[
        RisingPairs[Celsius, Annotated[Number, Field(ge=0)]] | None,
        Field(description="Pairs of temperature, C, and hardening modulus, GPa."),
    ] = None


@part
class OwnMaterial:
    """A material of the case's own: a ready one with changes, or all of it.

    Without a base it needs ``density_kg_m3``, ``heating_limit_C`` and every table but that of
    the hardening modulus. Its range ends where its shortest table of more than one pair ends.

    Args:
        base: ready material to start from; None: none.
        yield_as: "0.2 % proof strength" or "2 % stress": which stress at temperature counts as
            yield; "2 % stress" for a base of structural steel only; None: the proof strength.
        yield_strength_MPa: cold yield strength, MPa, 5 to 3000; scales the base's yield curve.
        hardening: "isotropic", "kinematic" or "mixed"; None: as in the base, or isotropic.
        kinematic_share: kinematic part of mixed hardening, 0 to 1; None: a half.
        annealing_C: temperature above which hardening is lost, C, 100 to 2000; None: as in the
            base, or never.
        heating_limit_C: temperature it should not exceed under the flame, C, 50 to 2000.
        density_kg_m3: kg/m3, 500 to 25 000; None: as in the base.
        tables: properties that replace those of the base.

    Raises:
        CaseError: a value is out of its range.

    Example:
        >>> OwnMaterial(base="S355", yield_strength_MPa=380).tables.yield_MPa is None
        True
    """

    base: Annotated[Name | None, Field(description="Ready material to start from.")] = None
    yield_as: Annotated[
        Literal["0.2 % proof strength", "2 % stress"] | None,
        Field(description="Which stress at temperature counts as yield."),
    ] = None
    yield_strength_MPa: Annotated[
        Number | None,
        Field(ge=5, le=3000, description="Cold yield strength, MPa; scales the yield curve."),
    ] = None
    hardening: Annotated[
        Literal["isotropic", "kinematic", "mixed"] | None, Field(description="Kind of hardening.")
    ] = None
    kinematic_share: Annotated[
        Number | None, Field(ge=0, le=1, description="Kinematic part of mixed hardening, 0 to 1.")
    ] = None
    annealing_C: Annotated[
        Number | None,
        Field(ge=100, le=2000, description="Temperature above which hardening is lost, C."),
    ] = None
    heating_limit_C: Annotated[
        Number | None,
        Field(ge=50, le=2000, description="Temperature it should not exceed when heated, C."),
    ] = None
    density_kg_m3: Annotated[
        Number | None, Field(ge=500, le=25_000, description="Density, kg/m3.")
    ] = None
    tables: Annotated[
        MaterialTables, Field(description="Properties that replace those of the base.")
    ] = MaterialTables()


@part
class Surroundings:
    """Air round the part.

    Args:
        ambient_C: temperature of the air and of the part at the start, C, -50 to 300.
        film_W_m2K: film coefficient on every free face, W/(m2 K), 0 to 20 000; with "given" air.
        emissivity: of every free face, 0 to 1.
        air: "given" (the film coefficient above), "still" (natural convection by the way each
            face looks) or "blown" (along every face).
        air_speed_m_s: of blown air, m/s, 0.1 to 60.
        up: which axis of the part points up: "+x", "-x", "+y", "-y", "+z" or "-z"; for still air.

    Raises:
        CaseError: a value is out of its range.

    Example:
        >>> Surroundings().ambient_C
        20.0
    """

    ambient_C: Annotated[
        Number, Field(ge=-50, le=300, description="Temperature of the air and the cold part, C.")
    ] = 20.0
    film_W_m2K: Annotated[
        Number, Field(ge=0, le=20_000, description="Film coefficient on free faces, W/(m2 K).")
    ] = 15.0
    emissivity: Annotated[
        Number, Field(ge=0, le=1, description="Emissivity of free faces, 0 to 1.")
    ] = 0.7
    air: Annotated[
        Literal["given", "still", "blown"],
        Field(description="Film coefficient given, of still air, or of blown air."),
    ] = "given"
    air_speed_m_s: Annotated[
        Number, Field(ge=0.1, le=60, description="Speed of blown air, m/s.")
    ] = 3.0
    up: Annotated[
        Literal["+x", "-x", "+y", "-y", "+z", "-z"],
        Field(description="Axis of the part that points up, for still air."),
    ] = "+z"
