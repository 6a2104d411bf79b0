"""What a case asked for, in a few lines."""

from itertools import groupby

from flamefe.reporting.words import number, one_line
from flamefe.study.case import (
    AnyHeat,
    HeldLine,
    LineHeat,
    SpotHeat,
    WedgeHeat,
    base_width_mm,
    burn_time_s,
    path_length_mm,
)
from flamefe.study.result import RunResult
from flamefe.workpiece.faces import FACE_SIDES

MOST_HEATS_TOLD = 6
KINDS = {"plate": "plate", "bar": "bar", "mesh file": "part from a mesh file"}


def asked_lines(result: RunResult) -> list[str]:
    """Tell part, heats, holding and loads of a case, a line each."""
    case = result.case
    size = 1e3 * (result.mesh.p.max(axis=1) - result.mesh.p.min(axis=1))
    lines = [
        f"{KINDS[case.workpiece.kind]} of {size[0]:.4g} x {size[1]:.4g} x {size[2]:.4g} mm, "
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
    lines.append(_holding_words(result))
    return lines


def _kind_of(heat: AnyHeat) -> tuple[object, ...]:
    if isinstance(heat, LineHeat):
        return (heat.kind, heat.flame, heat.face, heat.speed_mm_s)
    if isinstance(heat, SpotHeat):
        return (heat.kind, heat.flame, heat.face, heat.time_s)
    angle = heat.angle_deg if isinstance(heat, WedgeHeat) else 0.0
    return (heat.kind, heat.flame, heat.face, heat.target_C, angle)


def _heats_words(result: RunResult, cycle: int, group: list[tuple[int, AnyHeat]]) -> str:
    first, heat = group[0]
    flame = result.case.flames[heat.flame]
    numbers = f"heat {first}" if len(group) == 1 else f"heats {first} to {group[-1][0]}"
    burner = (
        f'"{one_line(heat.flame)}" ({flame.power_kW:g} kW, radius {flame.radius_mm:g} mm) '
        f"on {one_line(heat.face)}"
    )
    if isinstance(heat, SpotHeat):
        what = f"{'spot' if len(group) == 1 else 'spots'} of {heat.time_s:g} s"
    elif isinstance(heat, WedgeHeat):
        depth = path_length_mm(heat)
        what = (
            f"{'wedge' if len(group) == 1 else 'wedges'} of {heat.angle_deg:g} degrees, "
            f"{number(depth)} mm deep, base {number(base_width_mm(heat))} mm, front held at "
            f"{heat.target_C:g} C{', both faces' if heat.both_faces else ''}"
        )
    elif isinstance(heat, HeldLine):
        long = sum(path_length_mm(one) for _, one in group)
        what = f"line of {number(long)} mm, {heat.manner} at {heat.target_C:g} C"
    else:
        long = sum(path_length_mm(one) for _, one in group)
        time = sum(burn_time_s(one) for _, one in group if isinstance(one, LineHeat))
        what = (
            f"{'line' if len(group) == 1 else 'lines'} of {number(long)} mm at "
            f"{heat.speed_mm_s:g} mm/s ({number(time, 3)} s)"
        )
    return f"cycle {cycle}, {numbers}: {what}, {burner}"


def _holding_words(result: RunResult) -> str:
    case = result.case
    held = [f"{support.kind}{_place_of(support)}" for support in case.supports]
    pulled = [f"{load.kind}{_place_of(load)}" for load in case.loads]
    words = f"held: {', '.join(held) or 'free (rigid movement alone)'}"
    if pulled:
        words += f"; loads: {', '.join(pulled)}"
    if case.inherent_strain:
        words += f"; {len(case.inherent_strain)} boxes of prescribed inherent strain"
    return words


def _place_of(part: object) -> str:
    face = getattr(part, "face", None)
    if face is None:
        return ""
    return f" on {face}" if face in FACE_SIDES else f' on "{one_line(face)}"'
