"""Building stones of cross sections: meshed blocks, welded together; faults of dimensions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from flamefe.basics.errors import OutOfRange
from flamefe.workpiece.mesh import graded
from flamefe.workpiece.section import Section

Array = NDArray[np.float64]
Indices = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Meshing:
    """How fine a section is meshed.

    Args:
        size: target edge length along plates, m.
        layers: element layers through each plate, at least.
        fine: edge length along some parts, m, at most ``size``.

    Example:
        >>> meshing = Meshing(size=0.02, layers=2, fine={"flange": 0.004})
        >>> len(meshing.across(0.0, 0.012)) - 1, len(meshing.across(0.0, 0.012, "flange")) - 1
        (2, 3)
    """

    size: float
    layers: int
    fine: Mapping[str, float] = field(default_factory=dict)

    def of(self, part: str) -> float:
        """Edge length along a part, m."""
        return self.fine.get(part, self.size)

    def across(self, start: float, stop: float, *joined: str) -> Array:
        """Coordinates through a plate, m: no layer is thicker than the edges of parts it joins."""
        size = min(map(self.of, joined), default=self.size)
        layers = max(self.layers, int(np.ceil((stop - start) / size - 1e-9)))
        return np.linspace(start, stop, layers + 1)

    def along(self, start: float, stop: float, part: str, *, beside: Sequence[str] = ()) -> Array:
        """Coordinates along a part, m; they grow from the edge length of a finer part beside it.

        Args:
            start, stop: ends of the stretch, m.
            part: its name.
            beside: names of the parts at its start and at its end.
        """
        size = self.of(part)
        ends = zip((0.0, stop - start), (self.of(name) for name in beside), strict=False)
        finer = [(place, other) for place, other in ends if other < size]
        fine = min([size, *(other for _, other in finer)])
        spans = [(place, place) for place, _ in finer]
        nodes = start + graded(stop - start, fine_spans=spans, fine=fine, coarse=size)
        nodes[-1] = stop
        return np.asarray(nodes)


class Faults:
    """Collects what is wrong with the dimensions of a shape, to tell it all at once.

    Example:
        >>> faults = Faults("round bar")
        >>> faults.positive(diameter=-0.1)
        >>> faults.tell()
        Traceback (most recent call last):
        ...
        flamefe.basics.errors.OutOfRange: The dimensions of the round bar don't go together:
        - diameter is -0.1 m; give a finite length above 0
    """

    def __init__(self, what: str) -> None:
        self.what = what
        self.found: list[str] = []

    def positive(self, **lengths: float) -> None:
        """Each length must be finite and above 0."""
        for name, length in lengths.items():
            if not (np.isfinite(length) and length > 0.0):
                self.found.append(f"{name} is {length:g} m; give a finite length above 0")

    def unless(self, sound: bool, text: str) -> None:
        """Note a fault unless a condition holds."""
        if not sound:
            self.found.append(text)

    def web_fits(self, web_thickness: float, flange_width: float) -> None:
        """A web (m) must be thinner than its flange is wide (m)."""
        self.unless(
            not reaches(web_thickness, flange_width),
            f"web_thickness is {web_thickness:g} m; it must be below the width of the flange, "
            f"{flange_width:g} m: give a thinner web or a wider flange",
        )

    def flanges_fit(self, height: float, taken: float) -> None:
        """Flanges that take some height (m) must leave some for the web."""
        self.unless(
            not reaches(taken, height),
            f"the flanges take {taken:g} m of the height, {height:g} m, and leave no web: "
            "give thinner flanges or more height",
        )

    def meshing(
        self, size: float, layers: int, fine: Mapping[str, float] | None, parts: Sequence[str]
    ) -> Meshing:
        """The meshing wanted; its faults join the others."""
        self.positive(size=size)
        self.unless(
            isinstance(layers, int | np.integer) and layers >= 1,
            f"thickness_layers is {layers}; give a whole number, 1 or more",
        )
        for part, length in (fine or {}).items():
            self.unless(
                part in parts, f"fine names the part {part!r}; the parts are {', '.join(parts)}"
            )
            self.unless(
                bool(0.0 < length <= size),
                f"fine for {part!r} is {length:g} m; it must be above 0 and at most the size, "
                f"{size:g} m",
            )
        return Meshing(size=size, layers=layers, fine=dict(fine or {}))

    def tell(self) -> None:
        """Raise what was found.

        Raises:
            OutOfRange: with every fault, if there is one.
        """
        if self.found:
            raise OutOfRange(
                f"The dimensions of the {self.what} don't go together:\n- "
                + "\n- ".join(self.found)
            )


def reaches(taken: float, limit: float) -> bool:
    """Whether a length leaves less than a millionth of a limit free.

    Example:
        >>> reaches(0.3, 0.1 + 0.2), reaches(0.29, 0.3)
        (True, False)
    """
    return taken >= limit * (1.0 - 1e-6)


@dataclass(frozen=True, kw_only=True, eq=False)
class Block:
    """A piece meshed by a grid of its own, with a face name for each side on the boundary.

    Args:
        part: name of the part it belongs to.
        grid: (ni, nj, 2) nodes, m, the turn from i to j being counter-clockwise.
        below, right, above, left: names of the faces at first j, last i, last j, first i; None
            where the side is inside the section.
    """

    part: str
    grid: Array
    below: str | None = None
    right: str | None = None
    above: str | None = None
    left: str | None = None


def in_mm(*lengths: float) -> str:
    """Lengths in m as a trade designation.

    Example:
        >>> in_mm(0.2, 0.1, 0.0056)
        '200 x 100 x 5.6 mm'
    """
    return " x ".join(f"{round(length * 1e3, 6):g}" for length in lengths) + " mm"


def rectangle(part: str, y: Array, z: Array, **sides: str | None) -> Block:
    """A block from coordinates along y and z, m; sides as in ``Block``.

    Example:
        >>> rectangle("bar", np.array([0.0, 0.1]), np.array([0.0, 0.01, 0.02])).grid.shape
        (2, 3, 2)
    """
    return Block(part=part, grid=np.stack(np.meshgrid(y, z, indexing="ij"), axis=-1), **sides)


def welded(name: str, blocks: Sequence[Block]) -> Section:
    """One section from blocks; nodes that meet become one.

    Args:
        name: of the section.
        blocks: which fit node to node where they touch.

    Returns:
        The section, its parts and faces in the order of the blocks.

    Raises:
        MeshError: the blocks don't fit together.

    Example:
        >>> left = rectangle("a", np.array([0.0, 1.0]), np.array([0.0, 1.0]), below="b",
        ...                  above="t", left="l")
        >>> right = rectangle("a", np.array([1.0, 2.0]), np.array([0.0, 1.0]), below="b",
        ...                   above="t", right="r")
        >>> section = welded("two", [left, right])
        >>> len(section.points), {name: len(edges) for name, edges in section.faces.items()}
        (6, {'b': 2, 't': 2, 'l': 1, 'r': 1})
    """
    points: list[Array] = []
    quads: list[Indices] = []
    parts: dict[str, list[Indices]] = {}
    faces: dict[str, list[Indices]] = {}
    nodes_before = quads_before = 0
    for block in blocks:
        ni, nj = block.grid.shape[:2]
        n = nodes_before + np.arange(ni * nj).reshape(ni, nj)
        cells = np.stack([n[:-1, :-1], n[1:, :-1], n[1:, 1:], n[:-1, 1:]], axis=-1).reshape(-1, 4)
        points.append(block.grid.reshape(-1, 2))
        quads.append(cells)
        parts.setdefault(block.part, []).append(quads_before + np.arange(len(cells)))
        sides = (
            (block.below, n[:, 0]),
            (block.above, n[::-1, -1]),
            (block.left, n[0, ::-1]),
            (block.right, n[-1, :]),
        )
        for face, line in sides:
            if face is not None:
                faces.setdefault(face, []).append(np.stack([line[:-1], line[1:]], axis=-1))
        nodes_before += ni * nj
        quads_before += len(cells)
    everywhere = np.concatenate(points)
    owner, first = _meeting(everywhere)
    return Section(
        name=name,
        points=everywhere[first],
        quads=owner[np.concatenate(quads)],
        parts={part: np.concatenate(found) for part, found in parts.items()},
        faces={face: owner[np.concatenate(found)] for face, found in faces.items()},
    )


def _meeting(points: Array) -> tuple[Indices, Indices]:
    """For each point the number of the node it becomes, and the first point of each node."""
    tolerance = 1e-9 * float(np.ptp(points, axis=0).max())
    pairs = cKDTree(points).query_pairs(tolerance, output_type="ndarray")
    links = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(points),) * 2)
    owner = connected_components(links, directed=False)[1]
    _, first = np.unique(owner, return_index=True)
    return np.asarray(owner, dtype=np.int64), np.asarray(first, dtype=np.int64)


@dataclass(frozen=True, kw_only=True)
class Upright:
    """A plate that stands on, or hangs from, a lying plate.

    Args:
        part: its name.
        across: its nodes through the thickness, along y, rising, m.
    """

    part: str
    across: Array


def lying_plate(
    part: str,
    meshing: Meshing,
    *,
    span: tuple[float, float],
    heights: Array,
    uprights: Sequence[Upright],
    carrying: str,
    plain_face: str,
    bay_faces: Sequence[str | None],
    left: str,
    right: str,
) -> list[Block]:
    """Blocks of a flat plate along y with upright plates on one of its sides.

    Args:
        part: its name.
        meshing: how fine.
        span: from and to along y, m.
        heights: its nodes through the thickness, along z, m.
        uprights: the plates that join it, from left to right.
        carrying: "above" or "below", the side on which they stand.
        plain_face: name of the other side.
        bay_faces: names of the stretches between the uprights, one more than these; a stretch
            without length needs none.
        left, right: names of the edges.

    Returns:
        Blocks for ``welded``.
    """
    other = "below" if carrying == "above" else "above"
    bounds = [span[0], *(y for upright in uprights for y in upright.across[[0, -1]]), span[1]]
    names = ["", *(upright.part for upright in uprights), ""]
    lines: list[tuple[Array, str | None]] = []
    for bay, face in enumerate(bay_faces):
        start, stop = bounds[2 * bay], bounds[2 * bay + 1]
        if stop - start > 1e-9 * (span[1] - span[0]):
            beside = [names[bay], names[bay + 1]]
            lines.append((meshing.along(start, stop, part, beside=beside), face))
        if bay < len(uprights):
            lines.append((uprights[bay].across, None))
    blocks = []
    for number, (y, face) in enumerate(lines):
        sides = {other: plain_face, carrying: face}
        if number == 0:
            sides["left"] = left
        if number == len(lines) - 1:
            sides["right"] = right
        blocks.append(rectangle(part, y, heights, **sides))
    return blocks


def arc(middle: tuple[float, float], radius: float, angles: Array) -> Array:
    """Points on a circle, (number of angles, 2) m, at angles in rad from y towards z.

    Example:
        >>> arc((0.0, 0.0), 2.0, np.array([0.0])).tolist()
        [[2.0, 0.0]]
    """
    turned = np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    return np.asarray(np.asarray(middle) + radius * turned)


def mapped(inner: Array, outer: Array, shares: Array) -> Array:
    """Grid between two lines of nodes: i from the inner to the outer line, j along them.

    Args:
        inner, outer: (nj, 2) m.
        shares: (ni,) way from inner (0) to outer (1).

    Example:
        >>> mapped(np.zeros((3, 2)), np.ones((3, 2)), np.array([0.0, 0.5, 1.0])).shape
        (3, 3, 2)
    """
    s = shares[:, None, None]
    return np.asarray((1.0 - s) * inner[None] + s * outer[None])
