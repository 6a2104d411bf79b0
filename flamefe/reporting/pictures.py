"""Pictures of a result: how hot it became, what was upset, and what shape it took."""

import io
from dataclasses import replace
from pathlib import Path

import numpy as np

from flamefe.reporting.asked import extent_mm_of
from flamefe.reporting.drawing import draw
from flamefe.reporting.focus import cut_words, heated_part
from flamefe.reporting.marks import MeshedCase, MeshedPart
from flamefe.reporting.picture_kind import framed, kind_of
from flamefe.reporting.probe import why_no_3d
from flamefe.reporting.scene import Scene, Trail, round_factor, seen_from, side_name, side_with_most
from flamefe.reporting.shape_drawn import initial_mm, laid_over, over_words, with_sections
from flamefe.reporting.skin import Array, Skin, along_face, at_elements, at_nodes, skin_of
from flamefe.reporting.words import number
from flamefe.study.case import AnyHeat
from flamefe.study.case_flames import radius_mm_of
from flamefe.study.case_strokes import paths_of
from flamefe.study.face_maps import face_map_of, on_mesh
from flamefe.study.result import RunResult

TO_MM = 1e3
SHOWN_SHARE_OF_LENGTH = 0.08
NO_DISTORTION = 1e-6  # of the length; less is not enlarged
PLACES_ON_A_PATH = 61


def hottest_picture(result: RunResult, file: str | Path, *, three_d: bool | None = None) -> Path:
    """Draw the temperature at the hottest moment, with the limit as a line.

    Args:
        result: a finished run.
        file: to write, 1400 x 900 dots: .png, or .svg with the PNG in it.
        three_d: whether to draw by VTK; None finds out whether that works here, in a process
            of its own (``why_no_3d``). False draws plainly, without VTK.

    Returns:
        The file.

    Raises:
        NoSuchPicture: the file ends in something else.
        OSError: the file can't be written.

    Example:
        >>> hottest_picture(result, "hottest.png")  # doctest: +SKIP
    """
    return _drawn(hottest_scene(result), file, three_d)


def peak_temperature_picture(
    result: RunResult, file: str | Path, *, three_d: bool | None = None
) -> Path:
    """Draw the highest temperature that each place reached, with the limit as a line.

    Args:
        result: a finished run.
        file: to write, 1400 x 900 dots: .png, or .svg with the PNG in it.
        three_d: whether to draw by VTK; None finds out whether that works here, in a process
            of its own (``why_no_3d``). False draws plainly, without VTK.

    Returns:
        The file.

    Raises:
        NoSuchPicture: the file ends in something else.
        OSError: the file can't be written.

    Example:
        >>> peak_temperature_picture(result, "peak_temperature.png")  # doctest: +SKIP
    """
    return _drawn(peak_scene(result), file, three_d)


def plastic_strain_picture(
    result: RunResult, file: str | Path, *, cycle: int | None = None, three_d: bool | None = None
) -> Path:
    """Draw the equivalent plastic strain at the end of a cycle: where metal was upset.

    Args:
        result: a finished run.
        file: to write, 1400 x 900 dots: .png, or .svg with the PNG in it.
        cycle: which one, from 1; None for the last.
        three_d: as in ``hottest_picture``.

    Returns:
        The file.

    Raises:
        IndexError: there is no such cycle.
        NoSuchPicture: the file ends in something else.
        OSError: the file can't be written.

    Example:
        >>> plastic_strain_picture(result, "plastic_strain.png")  # doctest: +SKIP
    """
    return _drawn(plastic_strain_scene(result, cycle), file, three_d)


def shape_picture(
    result: RunResult, file: str | Path, *, cycle: int | None = None, three_d: bool | None = None
) -> Path:
    """Draw the shape at the end of a cycle over the shape before, the distortion enlarged.

    The two are laid over one another by what stays clamped for good, without that by the
    best-fitting rigid motion. The factor of enlargement is 1, 2 or 5 times a power of ten, chosen
    so that the largest distortion shows as about 8 % of the part's length; it stands in the title.
    A buckle before the job is enlarged alike.

    Args:
        result: a finished run.
        file: to write, 1400 x 900 dots: .png, or .svg with the PNG in it.
        cycle: which one, from 1; None for the last.
        three_d: as in ``hottest_picture``.

    Returns:
        The file.

    Raises:
        IndexError: there is no such cycle.
        NoSuchPicture: the file ends in something else.
        OSError: the file can't be written.

    Example:
        >>> shape_picture(result, "shape.png")  # doctest: +SKIP
    """
    return _drawn(shape_scene(result, cycle), file, three_d)


def hottest_scene(result: RunResult) -> Scene:
    """What ``hottest_picture`` shows."""
    skin, trails, footnotes = surroundings_of(result)
    check = max((c.heat_check for c in result.cycles), key=lambda c: c.peak_C)
    focus = heated_part(result, trails, check.peak_at_mm)
    x, y, z = check.peak_at_mm
    field = result.heat.temperatures[int(np.argmax(result.heat.temperatures.max(axis=1)))]
    span = (float(field.min()), float(field.max()))
    verdict = "below" if check.within_limit else "ABOVE"
    return Scene(
        title=f"Temperature at the hottest moment, {check.peak_time_s:.4g} s after lighting",
        notes=(
            result.case.title,
            f"Peak {check.peak_C:.0f} °C at ({x:.4g}, {y:.4g}, {z:.4g}) mm, "
            f"{verdict} the limit of {check.limit_C:g} °C  |  {part_words(result)}",
        ),
        points=points_mm(result),
        skin=skin,
        values=field,
        colour_label="temperature (°C)",
        colour_map="inferno",
        span=_opened(span),
        face=side_with_most([trail.face for trail in trails]),
        trails=trails,
        focus=focus,
        size=extent_mm_of(result),
        level=check.limit_C,
        level_label="limit",
        footnotes=(*footnotes, f"{_limit_words(span, check.limit_C)}{cut_words(result, focus)}"),
    )


def peak_scene(result: RunResult) -> Scene:
    """What ``peak_temperature_picture`` shows."""
    skin, trails, footnotes = surroundings_of(result)
    check = max((c.heat_check for c in result.cycles), key=lambda c: c.peak_C)
    focus = heated_part(result, trails, check.peak_at_mm)
    x, y, z = check.peak_at_mm
    span = (float(result.heat.peak.min()), float(result.heat.peak.max()))
    verdict = "below" if check.within_limit else "ABOVE"
    return Scene(
        title="Highest temperature at each place, all heats",
        notes=(
            result.case.title,
            f"Peak {check.peak_C:.0f} °C at ({x:.4g}, {y:.4g}, {z:.4g}) mm, "
            f"{verdict} the limit of {check.limit_C:g} °C  |  {part_words(result)}",
        ),
        points=points_mm(result),
        skin=skin,
        values=result.heat.peak,
        colour_label="temperature (°C)",
        colour_map="inferno",
        span=_opened(span),
        face=side_with_most([trail.face for trail in trails]),
        trails=trails,
        focus=focus,
        size=extent_mm_of(result),
        level=check.limit_C,
        level_label="limit",
        footnotes=(*footnotes, f"{_limit_words(span, check.limit_C)}{cut_words(result, focus)}"),
    )


def plastic_strain_scene(result: RunResult, cycle: int | None = None) -> Scene:
    """What ``plastic_strain_picture`` shows."""
    skin, trails, footnotes = surroundings_of(result)
    position = _position(result, cycle)
    state = result.strain.ends[position]
    strain = 100.0 * at_nodes(result.mesh, at_elements(state.equivalent_plastic_strain))
    focus = heated_part(result, trails, points_mm(result)[int(np.argmax(strain))])
    largest = 100.0 * float(state.equivalent_plastic_strain.max())
    return Scene(
        title=f"Equivalent plastic strain after cycle {result.cycles[position].cycle}",
        notes=(
            result.case.title,
            f"Largest {number(largest, 3)} % at one point inside an element; "
            f"colours are averages at nodes  |  {part_words(result)}",
        ),
        points=points_mm(result),
        skin=skin,
        values=strain,
        colour_label="plastic strain (%)",
        colour_map="viridis",
        span=_opened((0.0, float(strain.max()))),
        face=side_with_most([trail.face for trail in trails]),
        trails=trails,
        focus=focus,
        size=extent_mm_of(result),
        footnotes=(*footnotes, cut_words(result, focus).strip()),
    )


def shape_scene(result: RunResult, cycle: int | None = None) -> Scene:
    """What ``shape_picture`` shows."""
    skin, trails, footnotes = surroundings_of(result)
    position = _position(result, cycle)
    start, buckle = points_mm(result), initial_mm(result)
    distortion = laid_over(result, TO_MM * result.strain.ends[position].displacement)
    size = np.linalg.norm(distortion, axis=1)
    largest = float(size.max())
    buckled = result.initial_shape is not None
    factor = factor_for(start, _largest_drawn(distortion, buckle))
    before = start + (factor - 1.0) * buckle
    what = "distortion and buckle before" if buckled else "distortion"
    return Scene(
        title=f"Shape after cycle {result.cycles[position].cycle}, "
        f"{what} drawn {factor:g} times {'their' if buckled else 'its'} size",
        notes=(
            result.case.title,
            f"Largest distortion {number(largest, 3)} mm, laid over the shape before "
            f"(dashed) {over_words(result)}  |  {part_words(result)}",
        ),
        points=before + factor * distortion,
        skin=with_sections(result, skin),
        values=size,
        colour_label="distortion (mm)",
        colour_map="cividis",
        span=_opened((0.0, largest)),
        face=side_with_most([trail.face for trail in trails]),
        edge_colour="black",
        before=before,
        size=extent_mm_of(result),
        trails=tuple(
            _carried(result, trail, (factor - 1.0) * buckle + factor * distortion)
            for trail in trails
        ),
        footnotes=(
            *footnotes,
            f"Dashed grey: edges{' and two lines across the buckle' if buckled else ''} of the "
            "part before.",
        ),
    )


def shape_factor(result: RunResult) -> float:
    """How many times its size the last cycle's distortion is drawn; 1 where there is none."""
    moved = laid_over(result, TO_MM * result.strain.ends[-1].displacement)
    return factor_for(points_mm(result), _largest_drawn(moved, initial_mm(result)))


def _largest_drawn(distortion: Array, buckle: Array) -> float:
    """The largest way from the flat part, before or after, mm; without a buckle the largest
    distortion."""
    after = np.linalg.norm(buckle + distortion, axis=1).max()
    return float(max(np.linalg.norm(buckle, axis=1).max(), after))


def factor_for(points: Array, largest: float) -> float:
    """How many times its size a distortion is drawn, so that it shows as 8 % of the length.

    Args:
        points: (n, 3) mm, the nodes before.
        largest: the largest distortion, mm.

    Example:
        >>> factor_for(np.array([[0.0, 0, 0], [400.0, 0, 0]]), 0.35)
        100.0
    """
    length = float(np.ptp(points, axis=0).max())
    seen = largest > NO_DISTORTION * length
    return round_factor(SHOWN_SHARE_OF_LENGTH * length / largest) if seen else 1.0


def _drawn(scene: Scene, file: str | Path, three_d: bool | None) -> Path:
    path = Path(file)
    kind = kind_of(path)
    dots = io.BytesIO()
    draw(scene, dots, three_d=why_no_3d() is None if three_d is None else three_d)
    if kind == "svg":
        path.write_text(framed(dots.getvalue(), scene.title), encoding="utf-8", newline="\n")
    else:
        path.write_bytes(dots.getvalue())
    return path


def points_mm(result: MeshedCase) -> Array:
    """Where the nodes are at the start of the job, (n, 3) mm."""
    return np.asarray(TO_MM * result.mesh.p.T)


def surroundings_of(result: MeshedCase) -> tuple[Skin, tuple[Trail, ...], tuple[str, ...]]:
    """Skin, torch paths, and words that explain them."""
    heats = result.case.heats
    trails = tuple(
        _trail(result, stroke if len(heats) == 1 else number, heat, points)
        for number, heat in enumerate(heats, start=1)
        for stroke, points in enumerate(paths_of(heat), start=1)
    )
    return skin_of(result.mesh), trails, _trail_words(trails)


def _trail_words(trails: tuple[Trail, ...]) -> tuple[str, ...]:
    """What the white lines mean, as far as there are any."""
    if not trails:
        return ()
    shown = side_with_most([trail.face for trail in trails])
    words = []
    if any(len(trail.points) > 1 for trail in trails):
        words.append("White line: path of the torch")
    if any(len(trail.points) == 1 for trail in trails):
        words.append("White ring: radius of a flame that stood")
    words.append("numbers: order of heats")
    if not all(seen_from(trail.face, shown) for trail in trails):
        words.append("dashed: on a side turned away")
    return (f"{'; '.join(words)}.",)


def _trail(
    result: MeshedCase, order: int, heat: AnyHeat, path: tuple[tuple[float, float], ...]
) -> Trail:
    """One way of the torch in a heat, put on the face that it burns on."""
    face = face_map_of(result.case.workpiece, result.mesh, heat.face)
    flat = np.array(on_mesh(face, tuple((u / TO_MM, v / TO_MM) for u, v in path)))
    normal = face.normal(flat).mean(axis=0)
    across = int(np.argmax(np.abs(normal)))
    return Trail(
        number=order,
        face=side_name(across, normal[across]),
        points=TO_MM * face.along(flat),
        radius=radius_mm_of(result.case.flames[heat.flame]),
        name=heat.face,
        flat=flat,
    )


def _carried(result: RunResult, trail: Trail, moved: Array) -> Trail:
    """A torch path that goes along with the face it lies on."""
    mesh, where = result.mesh, trail.flat
    face = face_map_of(result.case.workpiece, mesh, trail.name)
    if len(where) > 1:
        share = np.linspace(0.0, len(where) - 1.0, PLACES_ON_A_PATH)
        turns = np.arange(len(where))
        where = np.stack([np.interp(share, turns, where[:, i]) for i in range(2)], axis=1)
    quads = mesh.facets[:, np.asarray(mesh.boundaries[trail.name])].T
    triangles = np.concatenate((quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]))
    corners = face.back(mesh.p.T[triangles.ravel()]).reshape(*triangles.shape, 2)
    if face.period is not None:  # triangles across the seam
        turns = np.round((corners[:, :, 1] - corners[:, :1, 1]) / face.period)
        corners[:, :, 1] -= face.period * turns
        where[:, 1] = np.mod(where[:, 1], face.period)
    shift = along_face(corners, moved[triangles], where)
    return replace(trail, points=TO_MM * face.place(where) + shift)


def _limit_words(span: tuple[float, float], limit: float) -> str:
    reached = span[0] < limit < span[1]
    return "Light blue line: heating limit." if reached else f"No place reached {limit:g} °C."


def part_words(result: MeshedPart) -> str:
    """Size and material of the part."""
    size = extent_mm_of(result)
    return f"{size[0]:.4g} x {size[1]:.4g} x {size[2]:.4g} mm, {result.material.name}"


def _position(result: RunResult, cycle: int | None) -> int:
    if cycle is None:
        return len(result.cycles) - 1
    for position, outcome in enumerate(result.cycles):
        if outcome.cycle == cycle:
            return position
    numbers = ", ".join(str(outcome.cycle) for outcome in result.cycles)
    raise IndexError(f"There is no cycle {cycle}; this run has cycle {numbers}.")


def _opened(span: tuple[float, float]) -> tuple[float, float]:
    """A span of colours that is never empty."""
    low, high = span
    return (low, high) if high > low else (low, low + 1.0)
