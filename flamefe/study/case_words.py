"""What the parts of a case are, in the trade's words: part, heats, flames, what holds and pulls."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from flamefe.basics.glance import Glance
from flamefe.basics.words import number, one_line
from flamefe.study.beam_sections import faces_of_beam, values_of
from flamefe.study.case_flames import Flame, nozzle_of, power_kW_of, radius_mm_of
from flamefe.study.case_heats import HeldLine, LineHeat, SpotHeat, WedgeHeat, base_width_mm
from flamefe.study.case_patterns import BandHeat, OvalHeat, RingHeat, SpotField
from flamefe.study.case_strokes import (
    AnyHeat,
    burn_time_s,
    path_length_mm,
    paths_of,
    pattern_of,
    speed_of,
    target_of,
)
from flamefe.study.case_workpiece import Bar, MeshFile, Plate
from flamefe.study.laying import AnyWorkpiece
from flamefe.workpiece.faces import FACE_SIDES

MOST_PLACES = 24
MOST_ROWS = 8
"""Heats, flames, supports or loads that a glance at a case shows."""
KINDS = {"mesh file": "part from a mesh file"}

Group = list[tuple[int, AnyHeat]]
"""Heats with their numbers from 1."""


def alike(heats: Sequence[AnyHeat]) -> list[tuple[int, Group]]:
    """Heats of one cycle that follow one another and differ by their places alone.

    Returns:
        Cycle and numbered heats of each group, in order.

    Example:
        >>> spot = {"flame": "torch", "face": "top", "time_s": 9}
        >>> heats = [SpotHeat(at_mm=[x, 50], **spot) for x in (50, 100)]
        >>> [(cycle, len(group)) for cycle, group in alike(heats)]
        [(1, 2)]
    """
    found = groupby(enumerate(heats, start=1), key=lambda item: (item[1].cycle, _kind_of(item[1])))
    return [(cycle, list(group)) for (cycle, _), group in found]


def case_glance(
    title: str,
    piece: AnyWorkpiece,
    heats: Sequence[AnyHeat],
    flames: Mapping[str, Flame],
    held: Sequence[Any],
    loads: Sequence[Any],
    nodes: int | None,
    remarks: Sequence[str],
) -> Glance:
    """A case at a glance: that it is checked and not run, then its parts.

    Args:
        title, piece, heats, flames: of the case.
        held, loads: its supports and loads.
        nodes: of its mesh; None: not known.
        remarks: what is of no effect or worth a second look.
    """
    sized = sized_words(piece, getattr(piece, "size_mm", None))
    rows = [("part", f"{sized}, {piece.material}")]
    groups = alike(heats)
    rows += [("heat", heats_words(cycle, group)) for cycle, group in groups[:MOST_ROWS]]
    if len(groups) > MOST_ROWS:
        rows.append(("...", f"{len(heats)} heats in all"))
    used = dict.fromkeys(heat.flame for heat in heats)
    rows += [("flame", flame_words(name, flames[name])) for name in list(used)[:MOST_ROWS]]
    rows += [("held", holder_words(one)) for one in held[:MOST_ROWS]] or [("held", "by nothing")]
    rows += [("load", holder_words(one)) for one in loads[:MOST_ROWS]]
    if nodes is not None:
        rows.append(("mesh", f"{nodes} nodes"))
    rows += [("note", words) for words in remarks]
    worth = f"; {len(remarks)} to look at" if remarks else ""
    return Glance(
        title=title,
        verdict=((f"Checked, not run{worth}.", "doubt" if remarks else "good"),),
        rows=tuple(rows),
    )


def part_words(piece: AnyWorkpiece) -> str:
    """What a workpiece is, with the section of a beam.

    Example:
        >>> part_words(Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355"))
        'plate'
    """
    kind = KINDS.get(piece.kind, piece.kind)
    if isinstance(piece, Plate | Bar | MeshFile):
        return kind
    faces = faces_of_beam(values_of(piece))
    return kind if faces is None else f"{kind} ({faces.section.name})"


def sized_words(piece: AnyWorkpiece, size_mm: Sequence[float] | None) -> str:
    """What a workpiece is, with its sizes told once: of a beam section and length, else the
    extent.

    Args:
        piece: the workpiece.
        size_mm: its extent along x, y and z; None: not known.

    Example:
        >>> plate = Plate(length_mm=400, width_mm=200, thickness_mm=12, material="S355")
        >>> sized_words(plate, plate.size_mm)
        'plate of 400 x 200 x 12 mm'
        >>> from flamefe.study.case_tubes import RoundTube
        >>> pipe = RoundTube(length_mm=2000, outer_diameter_mm=168.3, thickness_mm=7.1,
        ...                  material="S355")
        >>> sized_words(pipe, pipe.size_mm)
        'round tube 168.3 x 7.1 mm, 2000 mm long'
    """
    if size_mm is None:
        return part_words(piece)
    faces = None if isinstance(piece, Plate | Bar | MeshFile) else faces_of_beam(values_of(piece))
    if faces is None:
        return f"{part_words(piece)} of {' x '.join(f'{side:.4g}' for side in size_mm)} mm"
    name, kind = faces.section.name, KINDS.get(piece.kind, piece.kind)
    told = name if name.startswith(kind) else part_words(piece)
    return f"{told}, {size_mm[0]:.4g} mm long"


def _kind_of(heat: AnyHeat) -> tuple[object, ...]:
    angle = heat.angle_deg if isinstance(heat, WedgeHeat) else 0.0
    size = "" if isinstance(heat, LineHeat | HeldLine | SpotHeat) else pattern_of(heat).words
    return (
        heat.kind, heat.flame, heat.face, heat.both_faces, speed_of(heat), target_of(heat),
        getattr(heat, "time_s", None), angle, size, getattr(heat, "water", None),
    )  # fmt: skip


def heats_words(cycle: int, group: Group) -> str:
    """A group of `alike` heats in a line.

    Example:
        >>> line = LineHeat(flame="torch", face="top", path_mm=[[50, 9], [350, 9]], speed_mm_s=6)
        >>> heats_words(1, [(1, line)])
        'cycle 1, heat 1: line of 300 mm at 6 mm/s (50 s), "torch" on top'
    """
    first, heat = group[0]
    numbers = f"heat {first}" if len(group) == 1 else f"heats {first} to {group[-1][0]}"
    burner = f'"{one_line(heat.flame)}" on {one_line(heat.face)}'
    if heat.both_faces:
        burner += " and its opposite"
    if getattr(heat, "water", None) is not None:
        burner += ", water behind it"
    if isinstance(heat, SpotHeat):
        what = f"{'spot' if len(group) == 1 else 'spots'} {_until(heat)}"
    elif isinstance(heat, WedgeHeat):
        depth = path_length_mm(heat)
        what = (
            f"{'wedge' if len(group) == 1 else 'wedges'} of {heat.angle_deg:g} degrees, "
            f"{number(depth)} mm deep, base {number(base_width_mm(heat))} mm, front held at "
            f"{heat.target_C:g} C"
        )
    elif isinstance(heat, HeldLine):
        long = sum(path_length_mm(one) for _, one in group)
        what = f"line of {number(long)} mm, {heat.manner} at {heat.target_C:g} C"
    elif not isinstance(heat, LineHeat):
        if isinstance(heat, SpotField):
            driven = f"each {_until(heat)}, {_places(heat)}"
        else:
            speed = speed_of(heat)
            driven = f"held at {heat.target_C:g} C" if speed is None else f"at {speed:g} mm/s"
        what = f"{pattern_of(heat).words}; {driven}"
    else:
        long = sum(path_length_mm(one) for _, one in group)
        time = sum(burn_time_s(one) or 0.0 for _, one in group)
        what = (
            f"{'line' if len(group) == 1 else 'lines'} of {number(long)} mm at "
            f"{heat.speed_mm_s:g} mm/s ({number(time, 3)} s)"
        )
    return f"cycle {cycle}, {numbers}: {what}, {burner}"


def where_words(heat: AnyHeat) -> str:
    """Where on its face a heat lies, in the face's two coordinates, mm.

    Example:
        >>> where_words(SpotHeat(flame="torch", face="top", at_mm=[200, 100], time_s=9))
        'at (200, 100)'
    """
    if isinstance(heat, SpotField):
        return f"between {_point(heat.from_mm)} and {_point(heat.to_mm)}"
    if isinstance(heat, RingHeat):
        return f"round {_point(heat.centre_mm)}"
    if isinstance(heat, WedgeHeat):
        return f"apex {_point(heat.apex_mm)}, base {_point(heat.base_mm)}"
    if isinstance(heat, BandHeat | OvalHeat):
        return f"from {_point(heat.from_mm)} to {_point(heat.to_mm)}"
    points = (heat.at_mm,) if isinstance(heat, SpotHeat) else heat.path_mm
    if len(points) == 1:
        return f"at {_point(points[0])}"
    via = f" over {len(points) - 2} more points" if len(points) > 2 else ""
    return f"from {_point(points[0])} to {_point(points[-1])}{via}"


def _point(point: Sequence[float]) -> str:
    return f"({', '.join(f'{value:.4g}' for value in point)})"


def _places(heat: SpotField) -> str:
    """Where the spots lie, in their order, mm."""
    places = [points[0] for points in paths_of(heat)]
    told = ", ".join(f"({u:.4g}, {v:.4g})" for u, v in places[:MOST_PLACES])
    return f"in order at {told}{' ...' if len(places) > MOST_PLACES else ''}"


def _until(heat: SpotHeat | SpotField) -> str:
    return f"until {heat.target_C:g} C" if heat.time_s is None else f"of {heat.time_s:g} s"


def flame_words(name: str, flame: Flame) -> str:
    """A flame in words, with the efficiency and radius that are used and where they come from."""
    radius = radius_mm_of(flame)
    nozzle, power = nozzle_of(flame), power_kW_of(flame)
    head = "" if flame.head == "single" else f", {flame.head}"
    said = f'flame "{one_line(name)}"{head}: '
    if nozzle is None and power is None:
        return (
            f"{said}hot gas of {flame.gas_C:g} C, {flame.film_W_m2K:g} W/(m2 K) on its axis, "
            f"radius {number(radius)} mm"
        )
    if nozzle is None:
        return f"{said}{power:g} kW into the part (given), radius {number(radius)} mm"
    low, high = (1e-3 * value for value in nozzle.net_range)
    band = f" ({number(low, 2)} to {number(high, 2)})" if high > low else ""
    usual = [
        what
        for what, given in (("efficiency", flame.efficiency), ("radius", flame.radius_mm))
        if given is None
    ]
    return (
        f"{said}{nozzle.fuel.name} {flame.consumption_L_h:g} L/h, "
        f"{number(1e-3 * nozzle.gross_power)} kW gross, "
        f"efficiency {number(nozzle.share.value, 2)}, "
        f"{number(1e-3 * nozzle.net_power, 2)}{band} kW into the part, radius "
        f"{number(radius, 3)} mm"
        + (f"; {' and '.join(usual)} by default, from memory and uncertain" if usual else "")
    )


def holder_words(part: Any) -> str:
    """A support or load as it was asked for: kind, place, size, times."""
    words = str(part.kind) + _place_of(part)
    for name, unit in (
        ("force_kN", "kN"), ("suction_kPa", "kPa"), ("stiffness_kN_mm", "kN/mm"),
        ("mass_kg", "kg"),
    ):  # fmt: skip
        value = getattr(part, name, None)
        if value is not None:
            words += f", {value:g} {unit}"
    gap = getattr(part, "gap_mm", 0.0)
    if gap:
        words += f", gap {gap:g} mm" if gap > 0 else f", screwed in {-gap:g} mm"
    if getattr(part, "fitted", "before heating") == "hot":
        words += ", fitted hot"
    if part.released != "never":
        words += f", released {part.released}"
    return words


def _place_of(part: Any) -> str:
    face = getattr(part, "face", None)
    if face is not None:
        return f" on {face}" if face in FACE_SIDES else f' on "{one_line(face)}"'
    points = getattr(part, "at_mm", None)
    many = len(points) if points and not isinstance(points[0], float) else 1
    return f" at {many} places" if many > 1 else ""
