"""What a picture shows, apart from how it is drawn."""

from dataclasses import dataclass

import numpy as np

from flamefe.reporting.room import Room, beside
from flamefe.reporting.sight import clear_way
from flamefe.reporting.skin import Array, Skin, facing, level_lines
from flamefe.workpiece.faces import FACE_AXES, FACE_SIDES

VIEWS: dict[str, tuple[float, float, float]] = {
    "top": (-0.30, -0.75, 0.85),
    "bottom": (-0.30, -0.75, -0.85),
    "near": (-0.35, -0.90, 0.40),
    "far": (0.35, 0.90, 0.40),
    "start": (-0.90, -0.40, 0.40),
    "end": (0.90, -0.40, 0.40),
}
"""For each face the direction from the part to the viewer who looks at it."""


DIMENSION_SIZE = 12.0
"""Of the font of dimensions, points."""
WORDS_FITTED = 3
"""How often the view is widened for words that then take less of it."""


@dataclass(frozen=True, kw_only=True)
class Trail:
    """Where a torch went.

    Args:
        number: place in the order of heats, from 1.
        face: side of the part on which it burnt.
        points: (np, 3) mm; one point for a torch that stood.
        radius: of the flame, mm.
        name: of the face in the mesh.
        flat: (nf, 2) m, its way on that face rolled out.
    """

    number: int
    face: str
    points: Array
    radius: float
    name: str
    flat: Array


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A part coloured by a field, with what is drawn around it; lengths in mm.

    Args:
        title: first line, what is shown.
        notes: lines below it.
        points: (n, 3) where the nodes are drawn.
        skin: outer quads and sharp edges.
        values: (n,) the field.
        colour_label: name and unit of the field.
        colour_map: name of a matplotlib colour map.
        span: field values at the ends of the colour bar.
        face: side that the viewer looks at.
        edge_colour: of the sharp edges.
        before: (n, 3) nodes of a pale outline; None for none.
        trails: torch paths.
        level: field value of a line to draw; None for none.
        level_label: what that line is.
        footnotes: what the lines mean.
        focus: lowest and highest corner, mm, of what is to fill the picture; None for all.
        size: of the part along x, y and z as it was given, mm, for the words of its dimensions;
            None: as it is drawn.
    """

    title: str
    notes: tuple[str, ...]
    points: Array
    skin: Skin
    values: Array
    colour_label: str
    colour_map: str
    span: tuple[float, float]
    face: str
    edge_colour: str = "#5a5a5a"
    before: Array | None = None
    trails: tuple[Trail, ...] = ()
    level: float | None = None
    level_label: str = ""
    footnotes: tuple[str, ...] = ()
    focus: tuple[Array, Array] | None = None
    size: tuple[float, float, float] | None = None

    @property
    def box(self) -> tuple[Array, Array]:
        """Lowest and highest corner of the undistorted part, mm."""
        nodes = self.points if self.before is None else self.before
        return nodes.min(axis=0), nodes.max(axis=0)

    def shows(self, place: Array) -> bool:
        """Whether a place (3,), mm, is in what fills the picture."""
        if self.focus is None:
            return True
        low, high = self.focus
        return bool((place >= low - 1.0).all() and (place <= high + 1.0).all())

    def level_pieces(self, view: "View") -> Array:
        """Pieces of the level line on sides that face the viewer, (ns, 2, 3) mm."""
        if self.level is None:
            return np.zeros((0, 2, 3))
        seen = self.skin.quads[facing(self.points, self.skin.quads, view.towards)]
        return level_lines(self.points, seen, self.values, self.level)


@dataclass(frozen=True, kw_only=True)
class View:
    """A parallel projection: part coordinates to the plane of the picture.

    Args:
        right, up, towards: (3,) unit vectors of the picture in the part's axes.
        low, high: (2,) corners of the picture, mm in its plane.
    """

    right: Array
    up: Array
    towards: Array
    low: Array
    high: Array

    def flat(self, points: Array) -> Array:
        """Project (..., 3) points to (..., 2) in the picture."""
        return np.stack((points @ self.right, points @ self.up), axis=-1)

    def depth(self, points: Array) -> Array:
        """Nearness of (..., 3) points to the viewer, (...)."""
        return np.asarray(points @ self.towards)

    @property
    def centre(self) -> Array:
        """The part's point (3,) in the middle of the picture."""
        across, upwards = 0.5 * (self.low + self.high)
        return np.asarray(across * self.right + upwards * self.up)


def view_of(scene: Scene, *, width_to_height: float, width_in: float = 11.0) -> View:
    """Choose the projection that shows all of ``scene`` with a margin, and the words of its
    dimensions.

    Args:
        scene: what is to be seen.
        width_to_height: of the picture.
        width_in: of the picture, inches: words take more of a small one.
    """
    towards = np.asarray(VIEWS[scene.face], dtype=float)
    towards /= np.linalg.norm(towards)
    if scene.trails:
        places = np.concatenate([trail.points for trail in scene.trails])
        towards = clear_way(towards, places, scene.points, scene.skin.quads)
    right = np.cross((0.0, 0.0, 1.0), towards)
    right /= np.linalg.norm(right)
    up = np.cross(towards, right)
    dimensions = dimension_lines(scene, right, up)
    lines = [ends for ends, _ in dimensions]
    parts = [scene.points] if scene.focus is None else [corners(*scene.focus)]
    if scene.before is not None and scene.focus is None:
        parts.append(scene.before)
    nodes = np.concatenate([*parts, *lines])
    flat = np.stack((nodes @ right, nodes @ up), axis=1)
    low, high = flat.min(axis=0), flat.max(axis=0)
    ends = [(np.stack((line @ right, line @ up), axis=1), text) for line, text in dimensions]
    for _ in range(WORDS_FITTED):
        size = (high - low) * 1.10
        size = np.maximum(size, (size[1] * width_to_height, size[0] / width_to_height))
        middle = 0.5 * (low + high)
        room = Room(
            low=middle - 0.5 * size, high=middle + 0.5 * size, point=float(size[0]) / 72 / width_in
        )
        for line, text in ends:
            for place in beside(line[0], line[1], text, DIMENSION_SIZE, room)[:1]:
                discs = room.words(place, text, DIMENSION_SIZE)
                low = np.minimum(low, discs.middles.min(axis=0) - discs.radius)
                high = np.maximum(high, discs.middles.max(axis=0) + discs.radius)
    return View(
        right=right, up=up, towards=towards, low=middle - 0.5 * size, high=middle + 0.5 * size
    )


def dimension_lines(scene: Scene, right: Array, up: Array) -> list[tuple[Array, str]]:
    """Dimension lines beside the part, along the axes of the face that is looked at.

    Each lies where it crosses no part of the picture of the part, as low as can be.

    Args:
        scene: what is seen.
        right, up: (3,) unit vectors of the picture.

    Returns:
        For each line its two ends (2, 3), mm, and its text; a line that finds no place is left
        out.
    """
    low, high = scene.box
    outline = np.stack((corners(low, high) @ right, corners(low, high) @ up), axis=1)
    near, far = scene.box if scene.focus is None else scene.focus
    normal, _ = FACE_SIDES[scene.face]
    gap = 0.06 * float((far - near)[list(FACE_AXES[scene.face])].max())
    lines = []
    for axis, other in (FACE_AXES[scene.face], FACE_AXES[scene.face][::-1]):
        places = []
        for outside in (near[other] - gap, far[other] + gap):
            for level in (low[normal], high[normal]):
                ends = np.empty((2, 3))
                ends[:, axis] = near[axis], far[axis]
                ends[:, other], ends[:, normal] = outside, level
                flat = np.stack((ends @ right, ends @ up), axis=1)
                along = flat[1] - flat[0]
                aside = (outline - flat[0]) @ np.array([-along[1], along[0]])
                if (aside > 0).all() or (aside < 0).all():
                    places.append((float(flat[:, 1].mean()), ends))
        if places:
            ends = min(places, key=lambda place: place[0])[1]
            lines.append((ends, _length_words(scene, axis)))
    return lines


def _length_words(scene: Scene, axis: int) -> str:
    """The part's size along an axis, or between which places of it a picture is cut."""
    name = "xyz"[axis]
    low, high = (float(corner[axis]) for corner in scene.box)
    if scene.focus is not None:
        start, end = (float(corner[axis]) for corner in scene.focus)
        if end - start < (1.0 - 1e-6) * (high - low):
            return f"{name}  {start:.4g} to {end:.4g} mm"
    return f"{name}  {high - low if scene.size is None else scene.size[axis]:.4g} mm"


def corners(low: Array, high: Array) -> Array:
    """The eight corners of a box, (8, 3)."""
    pick = np.array(np.meshgrid((0, 1), (0, 1), (0, 1))).reshape(3, 8).T
    return np.where(pick == 0, low, high)


def side_name(axis: int, side: float) -> str:
    """Name of the side of a part that looks along an axis, forwards (above 0) or backwards.

    Example:
        >>> side_name(2, 1.0), side_name(1, -0.9)
        ('top', 'near')
    """
    wanted = (axis, 1 if side > 0 else -1)
    return next(name for name, key in FACE_SIDES.items() if key == wanted)


def seen_from(face: str, viewed: str) -> bool:
    """Tell whether a side faces the viewer who looks at the side ``viewed``.

    Example:
        >>> seen_from("top", "top"), seen_from("near", "top"), seen_from("far", "top")
        (True, True, False)
    """
    axis, side = FACE_SIDES[face]
    return side * VIEWS[viewed][axis] > 0


def round_factor(value: float) -> float:
    """Round to the nearest of 1, 2, 5 times a power of ten, by ratio.

    Example:
        >>> round_factor(37.0), round_factor(0.7), round_factor(120.0)
        (50.0, 0.5, 100.0)
    """
    power = 10.0 ** np.floor(np.log10(value))
    choices = power * np.array([1.0, 2.0, 5.0, 10.0])
    return float(choices[np.argmin(np.abs(np.log(choices / value)))])


def side_with_most(faces: list[str]) -> str:
    """Return the side with most heats, the first of them in a tie; "top" for none.

    Example:
        >>> side_with_most(["bottom", "top", "bottom"]), side_with_most([])
        ('bottom', 'top')
    """
    known = [face for face in faces if face in FACE_SIDES]
    return max(known, key=known.count) if known else "top"
