"""Distortion of a part of any shape: what can be said without knowing what it is."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from flamefe.outcome.line import chord_length, developed_length, sagitta
from flamefe.outcome.measure import Measure
from flamefe.outcome.rigid import checked_shape, without_rigid_motion

Array = NDArray[np.float64]

TO_MM = 1e3
SLABS = 21
END = 0.01
AS_GOOD = 1.05


def part_measures(points: ArrayLike, displacements: ArrayLike) -> tuple[Measure, ...]:
    """Distortion of a part of any shape, in mm, from its nodes alone.

    Rigid motion is taken out first (`without_rigid_motion`); rotations may be large. The part's
    own axes are x, y, z sorted by the part's extents (long, wide, thin) when the box along them
    is nearly the smallest, otherwise the principal axes of the cloud of nodes. They form a
    right-handed set, and each points to the positive side of the coordinate axis nearest to it
    (the thin one to whichever side makes the set right-handed).

    ::

        wide ^      o--o--o             camber > 0: the middle of the line of section means lies
             |   o    |     o           on the wide axis's positive side of the chord
             | o------+-------o
             +--> long                  (thin axis towards the reader)

        thin ^      o--o--o             sweep > 0: the middle lies on the thin axis's positive
             |   o    |     o           side of the chord
             | o------+-------o
             +--> long                  (wide axis away from the reader)

    A section's mean is the mean of its nodes, taken over 21 slabs along the long axis and over the
    last 1 % at both ends; where the mesh is finer on one side, the line lies nearer to that side,
    before and after alike, and an end that isn't square has few nodes to speak for it. Changes
    are against the shape before, so a part that was not straight gives zero when it stays as it
    was.

    Args:
        points: (n, 3) m, before.
        displacements: (n, 3) m.

    Returns:
        Measures; find one by name with `find_measure`.

    Raises:
        OutOfRange: shapes don't fit or a number is not finite.

    Examples:
        A strip that lost 0.1 % of its length:

        >>> from flamefe.outcome.measure import find_measure
        >>> grid = np.meshgrid(np.linspace(0, 1, 41), [0, 0.05], [0, 0.01])
        >>> points = np.array(grid).reshape(3, -1).T
        >>> found = part_measures(points, points * [-0.001, 0, 0])
        >>> print(find_measure(found, "shortening"))
        shortening 1 mm
    """
    before, moved = checked_shape(points, displacements)
    left = without_rigid_motion(before, moved)
    after = before + left
    axes = _own_axes(before)
    off_plane = left @ axes[2]
    line, bent = _section_means(before, after, axes[0])
    growth = np.ptp(after, axis=0) - np.ptp(before, axis=0)
    straight = "the straight line through its ends"
    named = [
        Measure(
            name="flatness",
            value=TO_MM * float(np.ptp(off_plane)),
            unit="mm",
            meaning=f"width of the band of movements across the part (along {_words(axes[2])}) "
            "against the shape before; never below 0",
        ),
        Measure(
            name="shortening",
            value=TO_MM * (chord_length(line) - chord_length(bent)),
            unit="mm",
            meaning=f"loss of straight length along the part's long axis ({_words(axes[0])}), "
            "between the means of its ends; positive = shorter",
        ),
        Measure(
            name="shortening along the axis",
            value=TO_MM * (developed_length(line) - developed_length(bent)),
            unit="mm",
            meaning="loss of length along the line of section means; positive = shorter",
        ),
        Measure(
            name="camber",
            value=TO_MM * (sagitta(bent, axes[1]) - sagitta(line, axes[1])),
            unit="mm",
            meaning=f"distance of the middle of the line of section means from {straight}, "
            f"change; positive along {_words(axes[1])}",
        ),
        Measure(
            name="sweep",
            value=TO_MM * (sagitta(bent, axes[2]) - sagitta(line, axes[2])),
            unit="mm",
            meaning=f"distance of the middle of the line of section means from {straight}, "
            f"change; positive along {_words(axes[2])}",
        ),
    ]
    for letter, value in zip("xyz", growth, strict=True):
        named.append(
            Measure(
                name=f"change of extent in {letter}",
                value=TO_MM * float(value),
                unit="mm",
                meaning=f"growth of the bounding box along {letter}; positive = larger",
            )
        )
    return tuple(named)


def _own_axes(points: Array) -> Array:
    """Long, wide and thin axis of the part as rows, right-handed, (3, 3)."""
    centred = points - points.mean(axis=0)
    _, _, principal = np.linalg.svd(centred, full_matrices=False)
    chosen = np.eye(3)
    if np.prod(np.ptp(points, axis=0)) > AS_GOOD * np.prod(np.ptp(centred @ principal.T, axis=0)):
        chosen = principal
    extents = np.round(np.ptp(centred @ chosen.T, axis=0), 12)
    axes = chosen[np.argsort(-extents, kind="stable")]
    for axis in axes[:2]:
        axis *= np.sign(axis[np.argmax(np.abs(axis))])
    axes[2] = np.cross(axes[0], axes[1])
    return np.asarray(axes)


def _section_means(before: Array, after: Array, axis: Array) -> tuple[Array, Array]:
    """Means of the nodes in slabs along ``axis``, before and after, (m, 3) each."""
    along = before @ axis
    share = (along - along.min()) / np.ptp(along)
    slab = np.digitize(share + 1e-9, (END, *np.linspace(0, 1, SLABS + 1)[1:-1], 1 - END))
    used = np.unique(slab)
    return (
        np.array([before[slab == number].mean(axis=0) for number in used]),
        np.array([after[slab == number].mean(axis=0) for number in used]),
    )


def _words(axis: Array) -> str:
    """A direction as +x, -z ... or as its three components."""
    for number, letter in enumerate("xyz"):
        if abs(axis[number]) > 1 - 1e-9:
            return ("+" if axis[number] > 0 else "-") + letter
    return "(" + ", ".join(f"{value:.3f}" for value in axis) + ")"
