"""The fields of a result over time, as files that viewers of finite-element results read."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from xml.sax.saxutils import quoteattr

import meshio
import numpy as np

from flamefe.reporting.atomic import put_text, written_aside
from flamefe.reporting.skin import Array, at_elements, hexes_of
from flamefe.study.result import RunResult

COLLECTION = "fields.pvd"
FRAMES = "fields"
MOST_FRAMES = 400
TO_MM = 1e3
TO_MPA = 1e-6


def write_fields(result: RunResult, folder: Path) -> Path:
    """Write the fields over time: ``fields.pvd`` and a ``.vtu`` file a moment in ``fields/``.

    Lengths are in mm. Each moment holds, at nodes: temperature_C, peak_temperature_C (so far),
    displacement_mm (between straining increments linear in time); at cells, averaged over the
    element: residual_von_mises_MPa and residual_plastic_strain, as the last cycle that has ended
    left them, 0 before the first has. When a run has more than 400 times, those between straining
    increments are thinned out evenly.

    Args:
        result: a finished run.
        folder: existing folder; what an earlier result left there under these names is replaced.

    Returns:
        The collection, which is written last.

    Raises:
        OSError: a file can't be written.
    """
    frames = folder / FRAMES
    if frames.exists():
        shutil.rmtree(frames)
    frames.mkdir()
    hexes = [("hexahedron", hexes_of(result.mesh))]
    points = TO_MM * result.mesh.p.T
    entries = []
    for number, (time, at_points, at_cells) in enumerate(_moments(result)):
        name = f"{FRAMES}/moment_{number:04d}.vtu"
        frame = meshio.Mesh(
            points,
            hexes,
            point_data=at_points,
            cell_data={key: [values] for key, values in at_cells.items()},
        )
        with written_aside(folder / name) as aside:
            meshio.write(aside, frame, file_format="vtu")
        entries.append(f'    <DataSet timestep="{time!r}" part="0" file={quoteattr(name)}/>')
    lines = [
        '<?xml version="1.0"?>',
        '<VTKFile type="Collection" version="0.1" byte_order="LittleEndian">',
        "  <Collection>",
        *entries,
        "  </Collection>",
        "</VTKFile>",
    ]
    return put_text(folder / COLLECTION, "\n".join(lines) + "\n")


def frame_times(heat_times: Array, strain_times: Array, most: int = MOST_FRAMES) -> Array:
    """Times to write: those of straining, and as many of heating as there is room for.

    Example:
        >>> frame_times(np.arange(7.0), np.array([0.0, 6.0]), most=4).tolist()
        [0.0, 1.0, 5.0, 6.0]
    """
    between = np.setdiff1d(heat_times, strain_times)
    room = max(most - len(strain_times), 0)
    if len(between) > room:
        between = between[np.unique(np.linspace(0, len(between) - 1, room).round().astype(int))]
    return np.union1d(strain_times, between)


def _moments(result: RunResult) -> Iterator[tuple[float, dict[str, Array], dict[str, Array]]]:
    """Time, fields at nodes, fields at cells, moment by moment."""
    heat, strain = result.heat, result.strain
    ends = [_residual(result, number) for number in range(len(strain.ends))]
    at_cells = {name: 0.0 * values for name, values in ends[0].items()}
    finished = 0
    for time in frame_times(heat.times, strain.times).tolist():
        while finished < len(ends) and strain.ends[finished].time <= time:
            at_cells = ends[finished]
            finished += 1
        so_far = heat.temperatures[: int(np.searchsorted(heat.times, time, side="right"))]
        displacement = _between(strain.times, strain.displacements, time)
        yield (
            time,
            {
                "temperature_C": _between(heat.times, heat.temperatures, time).astype(np.float32),
                "peak_temperature_C": so_far.max(axis=0).astype(np.float32),
                "displacement_mm": (TO_MM * displacement).astype(np.float32),
            },
            at_cells,
        )


def _residual(result: RunResult, number: int) -> dict[str, Array]:
    state = result.strain.ends[number]
    return {
        "residual_von_mises_MPa": TO_MPA * at_elements(state.mises),
        "residual_plastic_strain": at_elements(state.equivalent_plastic_strain),
    }


def _between(times: Array, values: Array, time: float) -> Array:
    """Values (nt, ...) at ``time``, linear between ``times``, constant outside."""
    after = int(np.clip(np.searchsorted(times, time), 0, len(times) - 1))
    before = max(after - 1, 0)
    width = times[after] - times[before]
    share = min(max((time - times[before]) / width, 0.0), 1.0) if width > 0 else 1.0
    return np.asarray((1.0 - share) * values[before] + share * values[after])
