"""A case: everything that a run needs to know, checked before anything is solved.

The units stand in the names. The same names hold in a case file.
"""

from collections.abc import Collection, Mapping
from dataclasses import fields
from typing import Annotated, Any

from pydantic import Field
from rich.console import Group

from flamefe.basics.glance import Glance
from flamefe.study.case_beams import Angle, Channel, IBeam, Tee
from flamefe.study.case_devices import (
    Ballast,
    Jack,
    PressedSpot,
    Rest,
    Spring,
    Strongback,
    Template,
    VacuumPlate,
)
from flamefe.study.case_draft import draft_of
from flamefe.study.case_flames import Flame, radius_mm_of
from flamefe.study.case_heats import (
    HeldLine,
    LineHeat,
    SpotHeat,
    Water,
    WedgeHeat,
    base_width_mm,
)
from flamefe.study.case_holding import (
    Clamp,
    Force,
    Guide,
    InherentStrain,
    Load,
    OwnWeight,
    Points,
    Pressure,
    Push,
    Support,
    Traction,
)
from flamefe.study.case_materials import family_of, heatable
from flamefe.study.case_mesh import MeshPlan, plan_of
from flamefe.study.case_part import Lines, Name, Words, part, schema_of
from flamefe.study.case_patterns import BandHeat, OvalHeat, RingHeat, SpotField
from flamefe.study.case_remarks import (
    flame_remarks,
    idle_remarks,
    overlap_remarks,
    spray_remarks,
    water_remarks,
)
from flamefe.study.case_rolled import Rolled
from flamefe.study.case_shape import InitialShape, PointsShape, SineShape
from flamefe.study.case_solve import Limits, Prices, Solve
from flamefe.study.case_strokes import (
    AnyHeat,
    Heat,
    burn_time_s,
    length_of,
    outline_of,
    path_length_mm,
    path_of,
)
from flamefe.study.case_tubes import BoxBeam, Panel, RectangularTube, RoundBar, RoundTube
from flamefe.study.case_words import case_glance
from flamefe.study.case_workpiece import (
    Bar,
    MaterialTables,
    Mesh,
    MeshFile,
    OwnMaterial,
    Plate,
    Surroundings,
)
from flamefe.study.contradictions import contradictions, unknown_face
from flamefe.study.faults import CaseError, Fault
from flamefe.study.holding_contradictions import face_faults
from flamefe.study.laying import AnyWorkpiece
from flamefe.workpiece.practice import practice_for

__all__ = [
    "Angle",
    "AnyHeat",
    "Ballast",
    "BandHeat",
    "Bar",
    "BoxBeam",
    "Case",
    "CaseError",
    "Channel",
    "Clamp",
    "Fault",
    "Flame",
    "Force",
    "Guide",
    "Heat",
    "HeldLine",
    "IBeam",
    "InherentStrain",
    "Jack",
    "Limits",
    "LineHeat",
    "Load",
    "MaterialTables",
    "Mesh",
    "MeshFile",
    "MeshPlan",
    "OvalHeat",
    "OwnMaterial",
    "OwnWeight",
    "Panel",
    "Plate",
    "Points",
    "PointsShape",
    "PressedSpot",
    "Pressure",
    "Prices",
    "Push",
    "RectangularTube",
    "Rest",
    "RingHeat",
    "RoundBar",
    "RoundTube",
    "SineShape",
    "Solve",
    "SpotField",
    "SpotHeat",
    "Spring",
    "Strongback",
    "Support",
    "Surroundings",
    "Tee",
    "Template",
    "Traction",
    "VacuumPlate",
    "Water",
    "WedgeHeat",
    "Workpiece",
    "base_width_mm",
    "burn_time_s",
    "case_schema",
    "check_faces",
    "cool_to_C",
    "length_of",
    "mesh_plan",
    "notes",
    "outline_of",
    "path_length_mm",
    "path_of",
]

Workpiece = Annotated[AnyWorkpiece, Field(discriminator="kind")]
"""A workpiece of any kind."""


@part
class Case:
    """All of a case. Each part is checked for itself and all parts against each other.

    Without supports only the part's movement as a rigid body is held, at three points, so that
    it deforms freely. With supports the engine checks, before it solves, that together they stop
    every movement as a rigid body, and refuses otherwise.

    Args:
        title: one line, 1 to 200 characters.
        about: reason and lesson, free text of up to 20 000 characters.
        workpiece: plate, bar, beam, pipe, panel or mesh file.
        mesh: how fine it is divided.
        initial_shape: of a plate, its buckle before the job; None: flat.
        materials: own materials, by name.
        surroundings: air round it.
        flames: by name.
        heats: in the order in which they are made, their cycles 1, 2, ... in rising order.
        supports: what holds it; none: free.
        loads: what acts on it.
        inherent_strain: permanent strains in boxes.
        solve: how it is solved.
        limits: what it should not exceed.
        prices: of gases.

    Raises:
        CaseError: with every fault and contradiction at once.

    Example:
        >>> case = Case(
        ...     title="Line heat on a hopper wall",
        ...     workpiece=Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355"),
        ...     flames={"torch": Flame(power_kW=7, radius_mm=18)},
        ...     heats=[LineHeat(flame="torch", face="top", path_mm=[[50, 100], [350, 100]],
        ...                     speed_mm_s=6)],
        ... )
        >>> case.heats[0].speed_mm_s, mesh_plan(case).size_at_heat_mm
        (6.0, 6.0)
        >>> from dataclasses import replace
        >>> replace(case, flames={"burner": Flame(power_kW=7, radius_mm=18)})
        Traceback (most recent call last):
        ...
        flamefe.study.faults.CaseError: The case has 1 fault:
        heats[0].flame (heat 1)
            Given: "torch", which is not defined. Allowed: "burner". Use one of these. Or ...
    """

    title: Annotated[Words, Field(min_length=1, description="What the case is, in one line.")]
    about: Annotated[Lines, Field(description="Reason and lesson, free text.")] = ""
    workpiece: Annotated[Workpiece, Field(description="What is heated.")]
    mesh: Annotated[Mesh, Field(description="How fine it is divided.")] = Mesh()
    initial_shape: Annotated[
        InitialShape | None, Field(description="Buckle of a plate before the job.")
    ] = None
    materials: Annotated[
        dict[Name, OwnMaterial],
        Field(default_factory=dict, max_length=100, description="Own materials by name."),
    ]
    surroundings: Annotated[Surroundings, Field(description="Air round it.")] = Surroundings()
    flames: Annotated[
        dict[Name, Flame],
        Field(default_factory=dict, max_length=200, description="Flames by name."),
    ]
    heats: Annotated[
        tuple[Heat, ...], Field(max_length=2000, description="Heats in their order.")
    ] = ()
    supports: Annotated[
        tuple[Support, ...], Field(max_length=500, description="What holds it.")
    ] = ()
    loads: Annotated[tuple[Load, ...], Field(max_length=500, description="What acts on it.")] = ()
    inherent_strain: Annotated[
        tuple[InherentStrain, ...], Field(max_length=500, description="Permanent strains in boxes.")
    ] = ()
    solve: Annotated[Solve, Field(description="How it is solved.")] = Solve()
    limits: Annotated[Limits, Field(description="What it should not exceed.")] = Limits()
    prices: Annotated[Prices, Field(description="Prices of gases.")] = Prices()

    def __post_init__(self) -> None:
        faults = contradictions(draft_of(_parts(self)))
        if faults:
            raise CaseError(faults)

    @property
    def glance(self) -> Glance:
        """Its parts in a short table."""
        plan = mesh_plan(self)
        return case_glance(
            self.title, self.workpiece, self.heats, self.flames, self.supports, self.loads,
            None if plan is None else plan.nodes, notes(self),
        )  # fmt: skip

    def __rich__(self) -> Group:
        """For a terminal: a short table."""
        return self.glance.rich

    def _repr_html_(self) -> str:
        """For notebooks: a short table."""
        return self.glance.html

    @staticmethod
    def faults_between(given: Mapping[str, Any]) -> list[Fault]:
        """Contradictions among values of which some have faults of their own."""
        return contradictions(draft_of(given))


def _parts(case: Case) -> dict[str, Any]:
    return {field.name: getattr(case, field.name) for field in fields(case)}


def mesh_plan(case: Case) -> MeshPlan | None:
    """Sizes of the mesh with their defaults, and its number of nodes; None for a mesh file."""
    return plan_of(draft_of(_parts(case)))


def cool_to_C(case: Case, heat: AnyHeat) -> float:
    """Temperature to which the part's hottest place must fall before the next heat, C."""
    return heat.cool_to_C if heat.cool_to_C is not None else case.surroundings.ambient_C + 10.0


def check_faces(
    case: Case, face_names: Collection[str], node_set_names: Collection[str] = ()
) -> tuple[Fault, ...]:
    """Faults of a case whose faces and node sets become known when its mesh is read.

    Heats, guides, pressures and tractions need a face; clamps and pushes take either.

    Args:
        case: the case.
        face_names: names of the mesh's faces.
        node_set_names: names of its node sets.

    Returns:
        A fault for each name that the mesh doesn't have.
    """
    draft = draft_of(_parts(case))
    faults = [
        unknown_face(("heats", i, "face"), heat.face, face_names)
        for i, heat in enumerate(case.heats)
        if heat.face not in face_names
    ]
    return (*faults, *face_faults(draft, face_names, node_set_names))


def notes(case: Case) -> tuple[str, ...]:
    """What in a case is of no effect or worth a second look, in words; nothing of it is a fault."""
    said = []
    used = {heat.flame for heat in case.heats}
    for name in case.flames:
        if name not in used:
            said.append(f'The flame "{name}" is used by no heat.')
    for name in case.materials:
        if name != case.workpiece.material:
            said.append(f'The material "{name}" is not used.')
    if isinstance(case.workpiece, MeshFile) and case.mesh != Mesh():
        said.append("The sizes under mesh have no effect on a part from a mesh file.")
    step = case.solve.heat_step_s
    for number, heat in enumerate(case.heats, start=1):
        if step is not None and isinstance(heat, LineHeat):
            radii = step * heat.speed_mm_s / radius_mm_of(case.flames[heat.flame])
            if radii > 1 / 3 + 1e-9:
                said.append(
                    f"Heat {number} moves {radii:.2g} flame radii in a heat step of {step:g} s; "
                    "above a third the answer is some per cent low."
                )
    plan = mesh_plan(case)
    radii_used = [radius_mm_of(case.flames[name]) for name in used]
    if plan is not None and radii_used and plan.size_at_heat_mm > 0.5 * min(radii_used) + 1e-9:
        said.append(
            f"Elements of {plan.size_at_heat_mm:g} mm at the heat are more than half of the flame "
            f"radius of {min(radii_used):g} mm: expect a coarse answer."
        )
    limit = case.limits.temperature_C
    drafted = draft_of(_parts(case))["materials"]
    own = heatable(case.workpiece.material, drafted).heating_limit_C
    if limit is not None and own is not None and limit > own:
        said.append(f"The limit of {limit:g} C is above the material's own of {own:g} C.")
    family = family_of(case.workpiece.material, drafted)
    said += overlap_remarks(case.heats, case.flames, case.workpiece)
    said += flame_remarks({name: case.flames[name] for name in case.flames if name in used})
    said += water_remarks(case.heats, practice_for(family), family, case.limits.quench_reason)
    said += spray_remarks(case.heats, case.flames)
    said += idle_remarks(case.surroundings, case.limits, case.heats, limit or own)
    return tuple(said)


def _untitled(schema: Any) -> Any:
    """A schema without the titles that only say a key once more."""
    if isinstance(schema, dict):
        return {
            key: _untitled(value)
            for key, value in schema.items()
            if not (key == "title" and isinstance(value, str))
        }
    return [_untitled(item) for item in schema] if isinstance(schema, list) else schema


def case_schema() -> dict[str, Any]:
    """JSON schema of a case file, for editors and other checkers.

    It tells types, ranges and kinds; contradictions between values only ``Case`` finds.

    Example:
        >>> case_schema()["properties"]["title"]["description"]
        'What the case is, in one line.'
    """
    schema = schema_of(Case)
    piece = schema["properties"]["workpiece"]
    piece["discriminator"]["mapping"]["rolled"] = "#/$defs/Rolled"
    piece["oneOf"].append({"$ref": "#/$defs/Rolled"})
    schema["$defs"]["Rolled"] = schema_of(Rolled)
    for made in (schema, *schema["$defs"].values()):
        made["description"] = str(made.get("description", "")).split("\n\n")[0].strip()
        kind = made.get("properties", {}).get("kind", {})
        if "const" in kind:
            made["required"] = ["kind", *made.get("required", [])]
    schema["properties"] = _untitled(schema["properties"])
    for made in schema["$defs"].values():
        made["properties"] = _untitled(made["properties"])
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
