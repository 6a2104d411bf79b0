"""One way to all distortion measures: by the kind of part."""

from typing import Literal

from numpy.typing import ArrayLike

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.bar_distortion import bar_measures
from flamefe.outcome.measure import Measure
from flamefe.outcome.part_distortion import part_measures
from flamefe.outcome.plate_distortion import plate_measures

PartKind = Literal["plate", "bar", "mesh file"]


def measure_distortion(
    points: ArrayLike,
    displacements: ArrayLike,
    *,
    kind: PartKind,
    heated: tuple[float, float] | None = None,
    line_along: Literal["x", "y"] = "x",
    torch_face: Literal["top", "bottom"] = "top",
) -> tuple[Measure, ...]:
    """Distortion of a part, in the trade's units.

    Signs are drawn in `plate_measures`, `bar_measures` and `part_measures`.

    Args:
        points: (n, 3) m, before.
        displacements: (n, 3) m; rigid motion is taken out.
        kind: "plate", "bar" or "mesh file" (any shape).
        heated: of a plate, the heated strip across its line; of a bar, the heated part along its
            length; m. None: the middle half. Not used for any other shape.
        line_along: of a plate, the axis along which the heated line runs.
        torch_face: of a plate, the heated face.

    Raises:
        OutOfRange: the kind is unknown, or see the function of the kind.

    Examples:
        >>> import numpy as np
        >>> corners = np.array(np.meshgrid([0, 0.4], [0, 0.2], [0, 0.01])).reshape(3, -1).T
        >>> found = measure_distortion(corners, 0 * corners, kind="plate")
        >>> max(abs(measure.value) for measure in found) < 1e-9
        True
    """
    if kind == "plate":
        return plate_measures(
            points,
            displacements,
            heated_strip=heated,
            line_along=line_along,
            torch_face=torch_face,
        )
    if kind == "bar":
        return bar_measures(points, displacements, heated_part=heated)
    if kind == "mesh file":
        return part_measures(points, displacements)
    raise OutOfRange(f"A part of kind {kind!r} is unknown; use plate, bar or mesh file.")
