"""Faces of beams rolled out flat: station along the beam, length along the section's outline."""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray
from skfem import MeshHex

from flamefe.basics.errors import MeshError
from flamefe.workpiece.face_map import OVERRUN, between, points_of
from flamefe.workpiece.faces import outward_normals
from flamefe.workpiece.section import Section, loop_area

Array = NDArray[np.float64]
Indices = NDArray[np.int64]

ALIKE = 1e-6
"""Edges and radii of a closed line that differ by no more than this share are those of a circle."""


@dataclass(frozen=True, kw_only=True, eq=False)
class RolledFace:
    """A face of a beam: u is the station along x, v the length along the section's outline.

    v starts at 0 and runs

    - on an open face from its end of lowest y towards that of highest y, where these lie further
      apart than in height, else from its lower end upwards;
    - on a closed one (a tube) from its lowest place counter-clockwise, seen by someone who stands
      beyond the end and looks back along the beam: over the right side (large y), the top and the
      left side. It comes round after the circumference;
    - on one of several pieces (the rounded corners of a tube) likewise counter-clockwise, the
      straight distance between pieces counted.

    Args:
        ends: from where to where u runs, m.
        pieces: (k, 2, 2), from and to (y, z) of the edges in the order of v, m.
        starts: (k,), v where each begins, m.
        period: v after which a closed face comes round, m; None: open.
        stretch: circumference of the meshed polygon over that of the circle of the same area.
        handed: 1 where u, v and the outward normal are right-handed, else -1.

    Example:
        >>> from flamefe.workpiece.section_shapes import round_tube
        >>> tube = round_tube(outer_diameter=0.1, thickness=0.005, size=0.005)
        >>> wall = RolledFace.of_section(tube, "outside", length=2.0)
        >>> [round(float(c), 4) for c in wall.place([(0.5, 0.5 * wall.period)])[0]]   # the top
        [0.5, 0.05, 0.1]
        >>> round(wall.period / wall.stretch, 6)    # pi D
        0.314159
    """

    ends: tuple[float, float]
    pieces: Array
    starts: Array
    period: float | None
    stretch: float
    handed: float
    _lengths: Array = field(init=False, repr=False)

    def __post_init__(self) -> None:
        lengths = np.linalg.norm(self.pieces[:, 1] - self.pieces[:, 0], axis=1)
        object.__setattr__(self, "_lengths", lengths)

    @classmethod
    def of_section(cls, section: Section, face: str, *, length: float) -> "RolledFace":
        """Face of a section drawn out from x = 0 to a length, m.

        Raises:
            MeshError: the section has no such face.
        """
        if face not in section.faces:
            raise MeshError(
                f"The section {section.name!r} has no face {face!r}; it has "
                f"{', '.join(section.faces)}."
            )
        known = {frozenset(edge): edge for edge in map(tuple, section.boundary.tolist())}
        directed = [known[frozenset(edge)] for edge in section.faces[face].tolist()]
        return cls._of(section.points[np.array(directed)], (0.0, length))

    @classmethod
    def of_mesh(cls, mesh: MeshHex, facets: Indices) -> "RolledFace":
        """Face of an extruded mesh from the facets that make it up.

        Raises:
            MeshError: the facets have no edge at the start of the beam.
        """
        chosen = np.asarray(facets)
        corners = mesh.p.T[mesh.facets[:, chosen].T]
        low, high = float(mesh.p[0].min()), float(mesh.p[0].max())
        first = corners[..., 0] < low + 1e-9 * (high - low)
        here = first.sum(axis=1) == 2
        if not here.any():
            raise MeshError("The face has no edge at the start of the part; it is no beam's face.")
        edges = corners[here][first[here]].reshape(-1, 2, 3)[:, :, 1:]
        normals = outward_normals(mesh, chosen[here])[:, 1:]
        ahead = edges[:, 1] - edges[:, 0]
        wrong = ahead[:, 1] * normals[:, 0] - ahead[:, 0] * normals[:, 1] < 0.0
        edges[wrong] = edges[wrong][:, ::-1]
        return cls._of(edges, (low, high))

    @classmethod
    def _of(cls, edges: Array, ends: tuple[float, float]) -> "RolledFace":
        """From edges (k, 2, 2) with the material to the left of each."""
        runs = _runs(edges)
        closed = len(runs) == 1 and bool(_meet(runs[0][-1, 1], runs[0][0, 0], edges))
        if closed:
            (run,) = runs
            turning = loop_area(run[:, 0])  # above 0: an outside, counter-clockwise already
            if turning < 0.0:
                run = run[::-1, ::-1]
            y, z = run[:, 0].T
            lowest = np.lexsort((np.abs(y - y.mean()), _grained(z)))
            run = np.roll(run, -int(lowest[0]), axis=0)
            lengths = np.linalg.norm(run[:, 1] - run[:, 0], axis=1)
            return cls(
                ends=ends,
                pieces=run,
                starts=np.concatenate(([0.0], np.cumsum(lengths)[:-1])),
                period=float(lengths.sum()),
                stretch=_stretch(run),
                handed=1.0 if turning < 0.0 else -1.0,
            )
        if len(runs) == 1:
            (run,) = runs
            way = run[-1, 1] - run[0, 0]
            axis = 0 if abs(way[0]) >= abs(way[1]) else 1
            backwards = bool(way[axis] < 0.0)
            ordered = [run[::-1, ::-1] if backwards else run]
        else:
            backwards, ordered = _round(runs)
        starts, at, before = [], 0.0, None
        for run in ordered:
            at += 0.0 if before is None else float(np.linalg.norm(run[0, 0] - before))
            lengths = np.linalg.norm(run[:, 1] - run[:, 0], axis=1)
            starts.append(at + np.concatenate(([0.0], np.cumsum(lengths)[:-1])))
            at, before = at + float(lengths.sum()), run[-1, 1]
        return cls(
            ends=ends,
            pieces=np.concatenate(ordered),
            starts=np.concatenate(starts),
            period=None,
            stretch=1.0,
            handed=1.0 if backwards else -1.0,
        )

    @property
    def span(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """From where to where u and v of the face's mesh run, m."""
        return self.ends, (0.0, float(self.starts[-1] + self._lengths[-1]))

    def place(self, uv: ArrayLike) -> Array:
        """Places in space (k, 3) m of points (k, 2) m of the face.

        A point beyond an open face lies straight on from its last edge.
        """
        points = points_of(uv)
        piece, share = self._found(points[:, 1])
        from_, to = self.pieces[piece, 0], self.pieces[piece, 1]
        return np.column_stack((points[:, 0], from_ + share[:, None] * (to - from_)))

    def normal(self, uv: ArrayLike) -> Array:
        """Outward unit normals (k, 3) at points (k, 2) m of the face."""
        piece, _ = self._found(points_of(uv)[:, 1])
        way = (self.pieces[piece, 1] - self.pieces[piece, 0]) / self._lengths[piece][:, None]
        across = self.handed * way
        return np.column_stack((np.zeros(len(way)), -across[:, 1], across[:, 0]))

    def back(self, places: ArrayLike) -> Array:
        """Points of the face (k, 2) m nearest to places in space (k, 3) m."""
        where = np.asarray(places, dtype=float)
        from_, way = self.pieces[:, 0], self.pieces[:, 1] - self.pieces[:, 0]
        nearest = np.full(len(where), np.inf)
        v = np.zeros(len(where))
        for start, ahead, length, at in zip(from_, way, self._lengths, self.starts, strict=True):
            offset = where[:, 1:] - start
            share = np.clip(offset @ ahead / length**2, 0.0, 1.0)
            apart = np.linalg.norm(offset - share[:, None] * ahead, axis=1)
            better = apart < nearest - OVERRUN * length
            nearest[better], v[better] = apart[better], at + share[better] * length
        return np.column_stack((where[:, 0], v))

    def holds(self, uv: ArrayLike) -> NDArray[np.bool_]:
        """Which points (k, 2) m lie on the face and not beyond or between its pieces, (k,)."""
        points = points_of(uv)
        _, share = self._found(points[:, 1])
        on = (share > -ALIKE) & (share < 1.0 + ALIKE)
        return np.asarray(on & between(points[:, :1], (self.ends,)))

    def along(self, uv: ArrayLike) -> Array:
        """A polyline of the face (k, 2) m as one in space (m, 3) m that does not leave it.

        It gets a point wherever it crosses from one edge of the section's mesh to the next one
        that lies at an angle, so its chords lie in the mesh's surface.
        """
        points = points_of(uv)
        corners = self._corners()
        result = [points[:1]]
        for before, after in pairwise(points):
            low, high = sorted((before[1], after[1]))
            inner = corners
            if self.period is not None:
                turns = np.arange(np.floor(low / self.period), np.ceil(high / self.period) + 1)
                inner = (corners + self.period * turns[:, None]).ravel()
            inner = inner[(inner > low) & (inner < high)]
            if after[1] < before[1]:
                inner = inner[::-1]
            if inner.size:
                share = (inner - before[1]) / (after[1] - before[1])
                result.append(before + share[:, None] * (after - before))
            result.append(after[None])
        return self.place(np.concatenate(result))

    def _found(self, v: Array) -> tuple[Indices, Array]:
        """Edge on which each v lies, and how far along it."""
        where = v if self.period is None else np.mod(v, self.period)
        piece = np.clip(np.searchsorted(self.starts, where, side="right") - 1, 0, None)
        return piece, (where - self.starts[piece]) / self._lengths[piece]

    @property
    def bends(self) -> bool:
        """Whether the face is anything but one flat plane."""
        return self.period is not None or bool(self._corners().size)

    def _corners(self) -> Array:
        """v at which the outline turns, rising."""
        way = (self.pieces[:, 1] - self.pieces[:, 0]) / self._lengths[:, None]
        before = np.roll(way, 1, axis=0)
        turned = np.linalg.norm(way - before, axis=1) > ALIKE
        if self.period is None:
            turned[0] = False
        return np.asarray(self.starts[turned])


def _grained(values: Array) -> Array:
    """Numbers without the noise of rounding."""
    return np.round(values / (1e-9 * max(float(np.ptp(values)), 1e-12))) * 1.0


def _meet(one: Array, other: Array, edges: Array) -> bool:
    size = float(np.ptp(edges.reshape(-1, 2), axis=0).max())
    return float(np.linalg.norm(one - other)) < 1e-8 * size


def _runs(edges: Array) -> list[Array]:
    """Edges put in order, end to start, as one or several unbroken lines."""
    grain = 1e-8 * float(np.ptp(edges.reshape(-1, 2), axis=0).max())
    keys = np.round(edges / grain).astype(np.int64)
    by_start = {tuple(key): i for i, key in enumerate(keys[:, 0].tolist())}
    reached = {tuple(key) for key in keys[:, 1].tolist()}
    heads = [i for i, key in enumerate(keys[:, 0].tolist()) if tuple(key) not in reached] or [0]
    runs = []
    for head in heads:
        order, following = [head], by_start.get(tuple(keys[head, 1].tolist()))
        while following is not None and following != head:
            order.append(following)
            following = by_start.get(tuple(keys[following, 1].tolist()))
        runs.append(edges[order])
    if sum(map(len, runs)) != len(edges):
        raise MeshError("A face of the section is made of several closed lines; name each apart.")
    return runs


def _round(runs: list[Array]) -> tuple[bool, list[Array]]:
    """Several lines counter-clockwise about their middle, the lowest left one first.

    Also whether they had to be turned for that.
    """
    middles = np.array([run.mean(axis=(0, 1)) for run in runs])
    centre = middles.mean(axis=0)
    angles = np.arctan2(middles[:, 1] - centre[1], middles[:, 0] - centre[0])
    ordered, backwards = [], False
    for i in np.argsort(np.mod(angles + np.pi, 2.0 * np.pi)):
        run = runs[i]
        offset, ahead = run[:, 0] - centre, run[:, 1] - run[:, 0]
        clockwise = bool((offset[:, 0] * ahead[:, 1] - offset[:, 1] * ahead[:, 0]).sum() < 0.0)
        ordered.append(run[::-1, ::-1] if clockwise else run)
        backwards = backwards or clockwise
    return backwards, ordered


def _stretch(run: Array) -> float:
    """Length of a closed line over that of the circle it stands for; 1 for any other line."""
    corners = run[:, 0]
    lengths = np.linalg.norm(run[:, 1] - run[:, 0], axis=1)
    radii = np.linalg.norm(corners - corners.mean(axis=0), axis=1)
    if max(np.ptp(lengths) / lengths.mean(), np.ptp(radii) / radii.mean()) > ALIKE or len(run) < 12:
        return 1.0
    return float(lengths.sum() / (2.0 * np.sqrt(np.pi * abs(loop_area(corners)))))
