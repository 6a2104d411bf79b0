"""What a cross section knows of itself and what it refuses."""

from typing import Any

import numpy as np
import pytest

from flamefe.basics.errors import MeshError
from flamefe.workpiece.section import Section, loop_area

SQUARE: dict[str, Any] = {
    "name": "two quads",
    "points": [(0, 0), (1, 0), (2, 0), (0, 1), (1, 1), (2, 1)],
    "quads": [(0, 1, 4, 3), (1, 2, 5, 4)],
    "parts": {"a": [0], "b": [1]},
    "faces": {"below": [(0, 1), (1, 2)], "above": [(5, 4), (4, 3)], "ends": [(2, 5), (3, 0)]},
}


def changed(**fields: Any) -> Section:
    return Section(**{**SQUARE, **fields})


def test_a_sound_section_passes_and_knows_its_edges() -> None:
    section = changed()
    assert section.width, section.height == (2.0, 1.0)
    assert {tuple(edge) for edge in section.boundary.tolist()} == {
        (0, 1), (1, 2), (2, 5), (5, 4), (4, 3), (3, 0),
    }  # fmt: skip
    (outer,) = section.loops
    assert loop_area(section.points[outer]) == pytest.approx(2.0)


def test_nothing_of_a_section_can_be_changed() -> None:
    given = np.array(SQUARE["points"], dtype=float)
    section = changed(points=given)
    given[0] = 9.0
    assert section.points[0].tolist() == [0.0, 0.0]
    for array in (section.points, section.quads, section.parts["a"], section.faces["ends"]):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0
    with pytest.raises(AttributeError):
        section.name = "other"  # type: ignore[misc]


WIDER = [*SQUARE["points"], (3, 0), (3, 1), (1, 2), (1, 0.5), (1, 0), (1, 1)]


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"points": [(0, 0, 0)] * 6}, "points have the shape"),
        ({"points": [(np.nan, 0), *SQUARE["points"][1:]]}, "finite"),
        ({"quads": []}, "quads have the shape"),
        ({"quads": [(0, 1, 4)]}, "quads have the shape"),
        ({"quads": [(0, 1, 4, 3), (1, 2, 6, 4)]}, "numbers 0 to 5"),
        ({"quads": [(0, 1, 4, 3), (1, 2, 5.5, 4)]}, "whole numbers"),
        ({"parts": {"a": [0], "b": [2]}}, "part 'b' speaks of 2 to 2"),
        ({"parts": {"a": [0], "b": [-1]}}, "numbers 0 to 1"),
        ({"parts": {"a": [0], "b": []}}, "part 'b' has the shape"),
        ({"faces": {**SQUARE["faces"], "ends": [2, 5]}}, "face 'ends' has the shape"),
        ({"points": [*SQUARE["points"], (5, 5)]}, "1 points belong to no quad"),
        ({"quads": [(0, 1, 4, 3), (1, 4, 5, 2)]}, "the first is 1"),
        ({"quads": [(0, 1, 4, 3), (1, 5, 2, 4)]}, "not counter-clockwise"),
        ({"points": [(0, 0), (1, 0), (2, 0), (0, 1), (1, 0), (2, 1)]}, "folded, flat"),
        ({"quads": [(0, 1, 4, 3), (1, 2, 5, 4), (0, 1, 5, 3)]}, "lie on each other"),
        ({"parts": {"a": [0]}}, "1 quads are in no part, the first is 1"),
        ({"parts": {"a": [0, 1], "b": [1]}}, "in more than one part, the first is 1"),
        ({"faces": {"below": [(0, 1), (1, 2)], "ends": [(2, 5), (3, 0)]}}, "2 boundary edges"),
        ({"faces": {**SQUARE["faces"], "more": [(1, 0)]}}, "more than one face"),
        ({"faces": {**SQUARE["faces"], "more": [(1, 4)]}}, "'more' are not on the boundary"),
    ],
)  # fmt: skip
def test_a_faulty_section_is_refused(fields: dict[str, Any], words: str) -> None:
    with pytest.raises(MeshError, match=words):
        changed(**fields)


def bare(points: list[Any], quads: list[Any]) -> Section:
    return Section(name="x", points=points, quads=quads, parts={}, faces={})  # type: ignore[arg-type]


def test_quads_that_touch_at_a_point_or_not_at_all_are_refused() -> None:
    corners = [(0, 0), (1, 0), (1, 1), (0, 1)]
    with pytest.raises(MeshError, match=r"touch at a mere point near y = 1000, z = 1000 mm"):
        bare([*corners, (2, 1), (2, 2), (1, 2)], [(0, 1, 2, 3), (2, 4, 5, 6)])
    with pytest.raises(MeshError, match="2 loose pieces"):
        bare([*corners, (2, 0), (3, 0), (3, 1), (2, 1)], [(0, 1, 2, 3), (4, 5, 6, 7)])


def test_meshes_that_do_not_match_are_refused() -> None:
    """A node in the middle of a neighbour's edge; and a crack with the same nodes twice."""
    tall = [(0, 0), (1, 0), (1, 2), (0, 2), (2, 0), (2, 1), (2, 2), (1, 1)]
    with pytest.raises(MeshError, match=r"does not match near y = 1000, z = 1000 mm"):
        bare(tall, [(0, 1, 2, 3), (1, 4, 5, 7), (7, 5, 6, 2)])
    twice = [(0, 0), (1, 0), (2, 0), (0, 1), (1, 1), (2, 1), (0, 2), (1, 2), (2, 2), (1, 0)]
    with pytest.raises(MeshError, match=r"does not match near y = 1000, z = 0 mm"):
        bare(twice, [(0, 1, 4, 3), (9, 2, 5, 4), (3, 4, 7, 6), (4, 5, 8, 7)])


def test_several_faults_are_told_together() -> None:
    with pytest.raises(MeshError) as caught:
        changed(points=[*SQUARE["points"], (5, 5)], parts={"a": [0]})
    assert "belong to no quad" in str(caught.value)
    assert "in no part" in str(caught.value)
