"""From a local run to the effect of its heat: on a member by plane sections, on a sheet by sums."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.planning.effect import REPEATS, SCATTER, UNCERTAIN, HeatEffect, SheetEffect
from flamefe.straining.lumps import Lumps, lumps_of
from flamefe.straining.prism import MemberShrinkage, Prism

Array = NDArray[np.float64]

UNKNOWN_REPEAT = (
    "how much a second heat on the same place gives was not simulated; it is taken to give nothing"
)
LARGEST_REPEAT = 1.5


@dataclass(frozen=True, kw_only=True)
class LocalHeat:
    """A heat as a local run saw it.

    Args:
        effect: what it does.
        middle: m, x at which it acts in the run's own member.
    """

    effect: HeatEffect
    middle: float


def member_heat(
    mesh: MeshHex,
    strains: Sequence[Array],
    *,
    kind: str,
    source: str,
    uncertain: float = UNCERTAIN,
    scatter: float = SCATTER,
) -> LocalHeat:
    """Effect of a heat on a prismatic member, and of its repetition, from local runs.

    Args:
        mesh: of the local member, hexes in slices along x, m.
        strains: plastic strain (ne, 8, 6) after the first heat, after a second one on the same
            place, and so on; one at least. The member starts free of plastic strain.
        kind: what this kind of heat is called.
        source: what was run.
        uncertain, scatter: as of a `HeatEffect`.

    Returns:
        Effect of the first heat with the shares that the others gave, and where it acts.

    Raises:
        MeshError: the mesh is no prism.
        OutOfRange: no strain, or one that doesn't fit the mesh.

    Source: `Prism.shrinkage`; exact where supports are statically determinate.

    Example:
        >>> from flamefe.workpiece.mesh import box_mesh
        >>> mesh = box_mesh(np.linspace(0, 0.6, 7), [0, 0.01], np.linspace(0, 0.1, 5))
        >>> strain = np.zeros((24, 8, 6))
        >>> strain[mesh.p[2, mesh.t].mean(axis=0) > 0.075, :, 0] = -1e-3
        >>> heat = member_heat(mesh, [strain, 1.4 * strain], kind="band", source="made up")
        >>> round(1e3 * heat.effect.rotation_y, 6), heat.effect.repeats
        (6.75, (1.0, 0.4))
    """
    if not strains:
        raise OutOfRange("No plastic strain was given; give that after the first heat at least.")
    prism = Prism(mesh)
    states = [prism.shrinkage(strain) for strain in strains]
    first = states[0]
    gains = [
        first,
        *(after.minus(before) for before, after in pairwise(states)),
    ]
    repeats, notes = _shares([_numbers(gain, prism) for gain in gains])
    effect = HeatEffect(
        kind=kind,
        rotation_y=first.rotation_y,
        rotation_z=first.rotation_z,
        shortening=first.shortening,
        twist=first.twist,
        extent=min(first.extent, prism.length),
        uncertain=uncertain,
        scatter=scatter,
        repeats=repeats,
        source=source,
        notes=notes,
    )
    return LocalHeat(effect=effect, middle=first.middle)


def sheet_heat(
    mesh: MeshHex,
    strains: Sequence[Array],
    *,
    middle: tuple[float, float],
    along: tuple[float, float] = (1.0, 0.0),
    face: Literal["top", "bottom"] = "top",
    cell: float | None = None,
    kind: str,
    source: str,
    uncertain: float = UNCERTAIN,
    scatter: float = SCATTER,
) -> SheetEffect:
    """Effect of a heat on a sheet, and of its repetition, from local runs on a flat plate.

    The integrals of the plastic strain, with and without the height above the mid-plane, are
    shared out over a square grid by linear weights, which keep their sums and their first
    moments along and across.

    Args:
        mesh: of the plate: x and y in its plane, z from 0 to its thickness, m.
        strains: plastic strain (ne, 8, 6) after the first heat, the second on the same place, ...
        middle: x and y of the heat's middle, m.
        along: direction of the heat in the plane.
        face: that was heated.
        cell: width of the grid, m; None: half the thickness.
        kind, source, uncertain, scatter: as of a `SheetEffect`.

    Raises:
        OutOfRange: no strain, one that doesn't fit the mesh, or one that is 0 everywhere.

    Example:
        >>> from flamefe.workpiece.mesh import box_mesh
        >>> mesh = box_mesh(np.linspace(0, 0.2, 11), np.linspace(0, 0.2, 11), [0, 0.005, 0.01])
        >>> strain = np.zeros((200, 8, 6))
        >>> strain[mesh.p[2, mesh.t].mean(axis=0) > 0.005, :, :2] = -1e-4
        >>> heat = sheet_heat(mesh, [strain], middle=(0.1, 0.1), kind="all over", source="made up")
        >>> round(1e6 * heat.area_change, 6), round(1e12 * float(heat.bending[:, 0].sum()), 6)
        (-4.0, -50.0)
    """
    if not strains:
        raise OutOfRange("No plastic strain was given; give that after the first heat at least.")
    low, high = float(mesh.p[2].min()), float(mesh.p[2].max())
    thickness = high - low
    grid = _Grid(middle, along, face, 0.5 * (low + high), cell or 0.5 * thickness)
    states = [grid.sums(lumps_of(mesh, strain)) for strain in strains]
    first = states[0]
    if not first.size:
        raise OutOfRange("The local run left no plastic strain; the heat does nothing.")
    totals = [_totals(state, thickness) for state in states]
    gains = [totals[0], *(b - a for a, b in pairwise(totals))]
    repeats, notes = _shares(gains)
    return SheetEffect(
        kind=kind,
        places=first[:, :2],
        membrane=first[:, 2:5],
        bending=first[:, 5:],
        thickness=thickness,
        uncertain=uncertain,
        scatter=scatter,
        repeats=repeats,
        source=source,
        notes=notes,
    )


class _Grid:
    """A square grid in the heat's own frame that takes lumps."""

    def __init__(
        self,
        middle: tuple[float, float],
        along: tuple[float, float],
        face: Literal["top", "bottom"],
        height: float,
        cell: float,
    ) -> None:
        if face not in ("top", "bottom"):
            raise OutOfRange(f'A face called {face!r} was heated; allowed: "top", "bottom".')
        length = float(np.hypot(*along))
        if not (length > 0.0 and cell > 0.0):
            raise OutOfRange("A heat needs a direction in the plane and cells above 0.")
        u = np.array(along) / length
        self.side = 1.0 if face == "top" else -1.0
        self.axes: Array = np.array([u, self.side * np.array([-u[1], u[0]])])
        self.middle = np.array(middle)
        self.height, self.cell = height, cell

    def sums(self, lumps: Lumps) -> Array:
        """(k, 8): u, v, membrane (3), bending (3) of the cells that hold something."""
        place = (lumps.places[:, :2] - self.middle) @ self.axes.T
        lever = self.side * (lumps.places[:, 2] - self.height)
        own = in_plane(lumps.strains, self.axes)
        values = np.concatenate((own, lever[:, None] * own), axis=1)
        number = np.floor(place / self.cell).astype(np.int64)
        share = place / self.cell - number
        cells, parts = [], []
        for i in (0, 1):
            for j in (0, 1):
                weight = np.abs(1 - i - share[:, 0]) * np.abs(1 - j - share[:, 1])
                cells.append(number + np.array((i, j)))
                parts.append(weight[:, None] * values)
        unique, owner = np.unique(np.concatenate(cells), axis=0, return_inverse=True)
        total = np.zeros((len(unique), 6))
        np.add.at(total, owner.reshape(-1), np.concatenate(parts))
        kept = np.any(total != 0.0, axis=1)
        return np.concatenate((self.cell * unique, total), axis=1)[kept]


def in_plane(strains: Array, axes: Array) -> Array:
    """Strains (k, 3) e_uu, e_vv, g_uv along two axes of the x-y plane.

    Args:
        strains: (k, 6), order xx, yy, zz, xy, yz, zx, shear doubled.
        axes: (2, 2), unit vectors u and v.

    Example:
        >>> turned = np.array([[0.0, 1.0], [-1.0, 0.0]])
        >>> in_plane(np.array([[1.0, 2.0, 0, 0.5, 0, 0]]), turned).tolist()
        [[2.0, 1.0, -0.5]]
    """
    xx, yy, xy = strains[:, 0], strains[:, 1], 0.5 * strains[:, 3]
    (a, b), (c, d) = axes
    return np.column_stack(
        (
            a * a * xx + b * b * yy + 2.0 * a * b * xy,
            c * c * xx + d * d * yy + 2.0 * c * d * xy,
            2.0 * (a * c * xx + b * d * yy + (a * d + b * c) * xy),
        )
    )


def _totals(sums: Array, thickness: float) -> Array:
    """What a sheet sees of a heat as a whole, in one unit (m3)."""
    if not sums.size:
        return np.zeros(6)
    scale = np.concatenate((np.ones(3), np.full(3, 6.0 / thickness)))
    return np.asarray(sums[:, 2:].sum(axis=0) * scale)


def _numbers(shrinkage: MemberShrinkage, prism: Prism) -> Array:
    """What a member sees of a heat, in one unit (m)."""
    size = np.sqrt(prism.area)
    turns = size * np.array([shrinkage.rotation_y, shrinkage.rotation_z, shrinkage.twist])
    return np.append(turns, shrinkage.shortening)


def _shares(gains: Sequence[Array]) -> tuple[tuple[float, ...], tuple[str, ...]]:
    """Shares of the first gain that lies in each, and what is to be said."""
    first = gains[0]
    size = float(first @ first)
    if len(gains) == 1 or size == 0.0:
        return REPEATS, (UNKNOWN_REPEAT,)
    shares, notes = [1.0], []
    for number, gain in enumerate(gains[1:], start=2):
        share = float(gain @ first) / size
        if not 0.0 <= share <= LARGEST_REPEAT:
            notes.append(
                f"heat {number} on the same place gave {100 * share:.0f} % of the first; "
                f"counted as {100 * min(max(share, 0.0), LARGEST_REPEAT):.0f} %"
            )
        shares.append(round(min(max(share, 0.0), LARGEST_REPEAT), 6))
    return tuple(shares), tuple(notes)
