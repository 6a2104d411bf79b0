"""What can hurt someone, said with every result; and what to doubt in its numbers."""

import numpy as np
from skfem import MeshHex

from flamefe.heating.history import TemperatureHistory
from flamefe.straining.history import StrainHistory
from flamefe.study.case import Bar, Case, Force, Plate, Points, Push, VacuumPlate, notes
from flamefe.study.sheet_words import sheet_doubts, sheet_words
from flamefe.workpiece.material import Material
from flamefe.workpiece.meshcheck import mesh_summary
from flamefe.workpiece.practice import practice_for

GOOD_BALANCE = 0.005
"""Share of the heat that may be unaccounted for without a word."""
LARGEST_SMALL_STRAIN = 0.05
"""Equivalent plastic strain up to which a law for small strain is meant."""
NEAR_MM = 0.5
"""A node within this distance of a point is at it."""
SOFT_PLATE = 0.05
"""Loss of bending stiffness by coarse elements that is worth a word."""
COLD_SPILL = 0.02
"""Dip below ambient, by the rise above it, that a mesh fine enough for the flame stays under."""
WHOLE_FOOTPRINT = 0.9
"""Share of the flame on its face below which its loss over the edge is worth a word."""

SUCTION = (
    "Vacuum plate: its seals must bear the heat that comes through the sheet, or lie away from the "
    "heated place; watch the gauge, when suction fails the sheet springs. The heat that the plate "
    "draws off is not in the calculation."
)
"""Common practice, no source."""
PRACTICE = (
    "This is advice from a calculation, not an approval: local codes and licensed practice decide."
)


def cautions_for(case: Case, material: Material) -> tuple[str, ...]:
    """Cautions for a job, common practice (no source) unless a source is named.

    Example:
        >>> from flamefe.study.case import InherentStrain, Plate
        >>> from flamefe.workpiece.standard import material
        >>> case = Case(title="demo",
        ...     workpiece=Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S690QL"),
        ...     inherent_strain=[InherentStrain(from_mm=[0, 0, 0], to_mm=[400, 200, 6],
        ...                                     strain=[0.001, 0, 0, 0, 0, 0])])
        >>> [text.split(":")[0] for text in cautions_for(case, material("S690QL"))]
        ['Fire and gas', 'Hot metal', 'Coatings and hollow parts', 'Heating limit', \
'Quenched and tempered steel', 'Practice']
    """
    found = cautions_about(material, held=bool(case.supports), loaded=bool(case.loads))
    if case.heats and any(isinstance(one, VacuumPlate) for one in case.supports):
        found = (*found[:-1], SUCTION, found[-1])
    return found


def cautions_about(material: Material, *, held: bool, loaded: bool) -> tuple[str, ...]:
    """Cautions for heating a material, common practice (no source) unless a source is named.

    Args:
        material: that is heated.
        held: whether devices hold the part while it is hot.
        loaded: whether it carries a load while it is hot.

    Example:
        >>> from flamefe.workpiece.standard import material
        >>> [text.split(":")[0] for text in cautions_about(material("S355"), held=True,
        ...                                                loaded=False)][-2:]
        ['Stored force', 'Practice']
    """
    said = [
        "Fire and gas: check hoses, flashback arrestors and ventilation, clear away what burns, "
        "keep an extinguisher and a fire watch.",
        "Hot metal: heated parts look cold long before they are; mark them and keep people away "
        "until they have cooled.",
        "Coatings and hollow parts: remove zinc and paint from the heated place (fumes, metal "
        "embrittlement by liquid zinc) and vent closed hollow sections before heating.",
        f"Heating limit: keep the surface at or below {material.heating_limit_C:g} C "
        f"({material.heating_limit_source}) and check it with a crayon or a thermometer.",
    ]
    if material.family == "quenched and tempered steel":
        said.append(
            "Quenched and tempered steel: above its tempering temperature it loses strength for "
            "good and nothing on the surface shows it; do not quench it with water."
        )
    if material.family == "aluminium":
        said.append(
            "Aluminium: it does not change colour before it melts, and hardened tempers soften "
            "for good well below that; check the temperature all the time."
        )
    if held:
        said.append(
            "Stored force: what holds the part carries load hot and cold; release it slowly, from "
            "a place where neither the part nor the device can hit anyone."
        )
    if loaded:
        said.append(
            "Falling parts: hot metal carries less than cold; secure the part against dropping "
            "and keep out from under it."
        )
    said.append(f"Practice: {PRACTICE}")
    return tuple(said)


def history_times(case: Case) -> tuple[float, ...]:
    """Times at which the histories of pushes and loads have a point, rising, s."""
    times = {t for s in case.supports if isinstance(s, Push) for t, _ in s.displacement_mm}
    times |= {t for load in case.loads for t, _ in getattr(load, "history", None) or ()}
    return tuple(sorted(times))


def _holding_warnings(case: Case, mesh: MeshHex, end: float) -> list[str]:
    """What to doubt in how the part is held and loaded."""
    said = []
    late = [t for t in history_times(case) if t > end]
    if late:
        said.append(
            f"A history of a push or load runs until {late[-1]:g} s, but the job ends at "
            f"{end:g} s; what comes after that is not in the result."
        )
    return [*said, *_loose_words(case), *_point_words(case, mesh)]


def _loose_words(case: Case) -> list[str]:
    """Loads without supports."""
    if case.loads and not case.supports:
        return [
            "The part is loaded but not supported: what the loads do not balance among themselves "
            "is carried at the three points that hold the rigid movement. Give it supports."
        ]
    return []


def _point_words(case: Case, mesh: MeshHex) -> list[str]:
    """Points of forces and supports that lie off the nodes."""
    said = []
    places = [load.at_mm for load in case.loads if isinstance(load, Force)]
    places += [place for s in case.supports if isinstance(s, Points) for place in s.at_mm]
    for place in places:
        away = float(np.sqrt(((1e3 * mesh.p.T - np.asarray(place)) ** 2).sum(axis=1).min()))
        if away > NEAR_MM:
            x, y, z = place
            said.append(
                f"The point ({x:g}, {y:g}, {z:g}) mm of a force or support lies {away:.1f} mm from "
                "the nearest node, where it is taken; make the mesh finer or move the point."
            )
    return said


def warnings_for(
    case: Case,
    material: Material,
    mesh: MeshHex,
    heat: TemperatureHistory,
    strain: StrainHistory,
) -> tuple[str, ...]:
    """What to doubt in a result, in words.

    Args:
        case: what was asked.
        material: its material.
        mesh: its mesh.
        heat, strain: the histories.
    """
    said = list(notes(case))
    said += [note for log in heat.logs for note in log.notes]
    said += _holding_warnings(case, mesh, float(strain.times[-1]))
    hottest = float(heat.peak.max())
    if hottest > material.valid_to_C:
        said.append(
            f"Extrapolated: the part reached {hottest:.0f} C, but the tables of {material.name} "
            f"hold up to {material.valid_to_C:g} C; above that the last value was kept."
        )
    if heat.energy.error > GOOD_BALANCE:
        said.append(
            f"{100 * heat.energy.error:.1f} % of the heat is unaccounted for "
            f"(at most {100 * GOOD_BALANCE:g} % is usual); try smaller heat steps."
        )
    ambient = case.surroundings.ambient_C
    dip = ambient - float(heat.temperatures.min())
    if dip > max(COLD_SPILL * (hottest - ambient), 1.0):
        said.append(
            f"The temperature dips {dip:.0f} K below ambient beside the flame: the mesh is too "
            "coarse there for so quick a heat; make size_at_heat_mm smaller or take more layers."
        )
    practice = practice_for(material.family)
    below = practice.water_below_C
    wet = any(getattr(one, "water", None) is not None for one in case.heats)
    if wet and below is not None and hottest > below:
        said.append(
            f"The part reached {hottest:.0f} C with water behind the torch; water is meant for "
            f"surfaces heated to at most {below:g} C ({practice.water_reason})."
        )
    if heat.footprint_on_part < WHOLE_FOOTPRINT:
        said.append(
            f"At an edge only {100 * heat.footprint_on_part:.0f} % of the flame lay on the part; "
            "the full stated power was still put in, so less will reach a real part there."
        )
    strained = max((float(end.equivalent_plastic_strain.max()) for end in strain.ends), default=0.0)
    if strained > LARGEST_SMALL_STRAIN:
        said.append(
            f"Plastic strain reached {100 * strained:.1f} %; the law is meant for small strain "
            f"(up to about {100 * LARGEST_SMALL_STRAIN:g} %)."
        )
    if material.annealing_C is not None and hottest > material.annealing_C:
        said.append(
            f"Above {material.annealing_C:g} C hardening is lost in the model; phase changes and "
            "their strains are not in it."
        )
    said += sheet_words(case, strain)
    said += _soft_words(case, mesh)
    return tuple(dict.fromkeys(said))


def doubts_before(case: Case, mesh: MeshHex) -> tuple[str, ...]:
    """What to doubt in a case that can be told before it is run, in words.

    Args:
        case: what is asked.
        mesh: its mesh.

    Example:
        >>> from flamefe.study.case import OwnWeight
        >>> from flamefe.workpiece.mesh import box_mesh
        >>> sheet = Case(title="demo", loads=[OwnWeight()],
        ...     workpiece=Plate(length_mm=400, width_mm=200, thickness_mm=2, material="S355"))
        >>> mesh = box_mesh(np.linspace(0, 0.4, 21), np.linspace(0, 0.2, 11), [0.0, 0.002])
        >>> for doubt in doubts_before(sheet, mesh):
        ...     print(doubt[:62])
        The part is loaded but not supported: what the loads do not ba
        A panel 200 mm wide and 2 mm thick is taken as perfectly flat,
        Elements of 20 mm are long for a part so thin: as a plate it m
    """
    said = [*notes(case), *_loose_words(case), *_point_words(case, mesh)]
    return tuple(dict.fromkeys([*said, *sheet_doubts(case), *_soft_words(case, mesh)]))


def _soft_words(case: Case, mesh: MeshHex) -> list[str]:
    """Elements that are long for a plate so thin."""
    said: list[str] = []
    piece = case.workpiece
    if isinstance(piece, Plate | Bar):
        side = min(piece.length_mm, piece.width_mm if isinstance(piece, Plate) else piece.depth_mm)
        coarse = mesh_summary(mesh).largest_edge * 1e3
        lost = 0.15 * coarse**2 / (side * piece.thickness_mm)
        if lost > SOFT_PLATE:
            said.append(
                f"Elements of {coarse:.0f} mm are long for a part so thin: as a plate it may come "
                f"out some {100 * lost:.0f} % too soft; make size_away_mm smaller."
            )
    return said
