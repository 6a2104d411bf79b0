"""What a case asked for, in a few lines."""

from itertools import groupby

import numpy as np

from flamefe.reporting.held import holder_words
from flamefe.reporting.words import number, one_line
from flamefe.study.beam_sections import faces_of_beam, values_of
from flamefe.study.case import (
    AnyHeat,
    Bar,
    Flame,
    HeldLine,
    LineHeat,
    MeshFile,
    Plate,
    SpotField,
    SpotHeat,
    WedgeHeat,
    base_width_mm,
    burn_time_s,
    path_length_mm,
)
from flamefe.study.case_flames import nozzle_of, power_kW_of, radius_mm_of
from flamefe.study.case_strokes import paths_of, pattern_of, speed_of, target_of
from flamefe.study.laying import AnyWorkpiece
from flamefe.study.result import RunResult

MOST_HEATS_TOLD = 6
MOST_PLACES = 24
KINDS = {"mesh file": "part from a mesh file"}


def asked_lines(result: RunResult) -> list[str]:
    """Tell part, heats, holding and loads of a case, a line each."""
    case = result.case
    size = extent_mm_of(result)
    lines = [
        f"{_kind(case.workpiece)} of {size[0]:.4g} x {size[1]:.4g} x {size[2]:.4g} mm, "
        f"{one_line(result.material.name)}; air at {case.surroundings.ambient_C:g} C; "
        f"{case.solve.geometry} geometry"
    ]
    alike = groupby(
        enumerate(case.heats, start=1), key=lambda item: (item[1].cycle, _kind_of(item[1]))
    )
    groups = [(cycle, list(group)) for (cycle, _), group in alike]
    lines += [_heats_words(result, cycle, group) for cycle, group in groups[:MOST_HEATS_TOLD]]
    if len(groups) > MOST_HEATS_TOLD:
        lines.append(f"... {len(case.heats)} heats in all")
    used = dict.fromkeys(heat.flame for heat in case.heats)
    lines += [flame_words(name, case.flames[name]) for name in used]
    lines.append(_holding_words(result))
    return lines


def extent_mm_of(result: RunResult) -> tuple[float, float, float]:
    """Extent of the part along x, y and z, mm, as it was given; of a mesh file as it is meshed."""
    piece = result.case.workpiece
    if not isinstance(piece, MeshFile):
        return piece.size_mm
    x, y, z = (float(side) for side in 1e3 * np.ptp(result.mesh.p, axis=1))
    return x, y, z


def _kind(piece: AnyWorkpiece) -> str:
    """What a workpiece is, with the section of a beam."""
    kind = KINDS.get(piece.kind, piece.kind)
    if isinstance(piece, Plate | Bar | MeshFile):
        return kind
    faces = faces_of_beam(values_of(piece))
    return kind if faces is None else f"{kind} ({faces.section.name})"


def _kind_of(heat: AnyHeat) -> tuple[object, ...]:
    angle = heat.angle_deg if isinstance(heat, WedgeHeat) else 0.0
    size = "" if isinstance(heat, LineHeat | HeldLine | SpotHeat) else pattern_of(heat).words
    return (
        heat.kind, heat.flame, heat.face, heat.both_faces, speed_of(heat), target_of(heat),
        getattr(heat, "time_s", None), angle, size, getattr(heat, "water", None),
    )  # fmt: skip


def _heats_words(result: RunResult, cycle: int, group: list[tuple[int, AnyHeat]]) -> str:
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


def _holding_words(result: RunResult) -> str:
    case = result.case
    held = [holder_words(support) for support in case.supports]
    pulled = [holder_words(load) for load in case.loads]
    words = f"held: {'; '.join(held) or 'free (rigid movement alone)'}"
    if pulled:
        words += f"; loads: {'; '.join(pulled)}"
    if case.inherent_strain:
        words += f"; {len(case.inherent_strain)} boxes of prescribed inherent strain"
    return words
