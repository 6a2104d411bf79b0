"""Ready cross sections: their meshes, parts and faces, and the dimensions they refuse."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.workpiece import section_shapes as shapes
from flamefe.workpiece.section import Section, loop_area, scaled_jacobians

FLANGES = ["top flange", "bottom flange"]
EDGES = [f"{flange} {side} edge" for flange in FLANGES for side in ("left", "right")]
SIZES = {"size": 0.02}
READY: dict[str, tuple[Callable[[], Section], float, list[str], list[str]]] = {
    "flat": (
        lambda: shapes.flat_bar(width=0.1, thickness=0.01, **SIZES),
        0.001, ["bar"], ["top", "bottom", "left edge", "right edge"],
    ),
    "I": (
        lambda: shapes.i_section(
            height=0.3, width=0.15, web_thickness=0.0071, flange_thickness=0.0107, **SIZES
        ),
        2 * 0.15 * 0.0107 + 0.2786 * 0.0071,
        [*FLANGES, "web"],
        [*EDGES, "top of top flange", "underside of top flange left", "web left", "web right",
         "underside of top flange right", "top of bottom flange left",
         "top of bottom flange right", "underside of bottom flange"],
    ),
    "uneven I": (
        lambda: shapes.i_section(
            height=0.3, width=0.15, web_thickness=0.01, flange_thickness=0.01,
            bottom_width=0.2, bottom_flange_thickness=0.02, fine={"web": 0.005}, **SIZES
        ),
        0.15 * 0.01 + 0.2 * 0.02 + 0.27 * 0.01,
        [*FLANGES, "web"],
        [*EDGES, "top of top flange", "underside of top flange left", "web left", "web right",
         "underside of top flange right", "top of bottom flange left",
         "top of bottom flange right", "underside of bottom flange"],
    ),
    "channel": (
        lambda: shapes.channel(
            height=0.2, width=0.075, web_thickness=0.0085, flange_thickness=0.0115, **SIZES
        ),
        2 * 0.075 * 0.0115 + 0.177 * 0.0085,
        [*FLANGES, "web"],
        ["top of top flange", "underside of top flange", "top flange edge", "web inside",
         "web back", "top of bottom flange", "underside of bottom flange", "bottom flange edge"],
    ),
    "T": (
        lambda: shapes.t_section(
            height=0.1, width=0.12, web_thickness=0.01, flange_thickness=0.012, **SIZES
        ),
        0.12 * 0.012 + 0.088 * 0.01,
        ["flange", "web"],
        ["top of flange", "underside of flange left", "underside of flange right",
         "flange left edge", "flange right edge", "web left", "web right", "web tip"],
    ),
    "angle": (
        lambda: shapes.angle(height=0.1, width=0.065, thickness=0.009, **SIZES),
        0.009 * (0.1 + 0.065 - 0.009),
        ["upright leg", "flat leg"],
        ["underside of flat leg", "top of flat leg", "flat leg edge", "back of upright leg",
         "inside of upright leg", "upright leg edge"],
    ),
    "flush box": (
        lambda: shapes.box(
            height=0.3, width=0.2, web_thickness=0.008, flange_thickness=0.012, **SIZES
        ),
        0.3 * 0.2 - 0.276 * 0.184,
        [*FLANGES, "left web", "right web"],
        [*EDGES, "top of top flange", "inside of top flange", "underside of bottom flange",
         "inside of bottom flange", "outside of left web", "inside of left web",
         "outside of right web", "inside of right web"],
    ),
    "box": (
        lambda: shapes.box(
            height=0.3, width=0.2, web_thickness=0.008, flange_thickness=0.012, overhang=0.015,
            **SIZES,
        ),
        2 * (0.2 * 0.012 + 0.276 * 0.008),
        [*FLANGES, "left web", "right web"],
        [*EDGES, "top of top flange", "inside of top flange", "underside of bottom flange",
         "inside of bottom flange", "outside of left web", "inside of left web",
         "outside of right web", "inside of right web", "underside of top flange left",
         "underside of top flange right", "top of bottom flange left",
         "top of bottom flange right"],
    ),
    "round tube": (
        lambda: shapes.round_tube(outer_diameter=0.1016, thickness=0.005, **SIZES),
        np.pi * (0.0508**2 - 0.0458**2), ["wall"], ["outside", "inside"],
    ),
    "round bar": (
        lambda: shapes.round_bar(diameter=0.04, **SIZES),
        np.pi * 0.02**2, ["bar"], ["outside"],
    ),
    "sharp tube": (
        lambda: shapes.rectangular_tube(height=0.1, width=0.06, thickness=0.004, **SIZES),
        0.1 * 0.06 - 0.092 * 0.052,
        ["top wall", "bottom wall", "left wall", "right wall", "corners"],
        [f"{side} {way}" for side in ("top", "bottom", "left", "right")
         for way in ("outside", "inside")],
    ),
    "rounded tube": (
        lambda: shapes.rectangular_tube(
            height=0.1, width=0.06, thickness=0.004, outer_radius=0.008, **SIZES
        ),
        0.1 * 0.06 - 0.092 * 0.052 - (4 - np.pi) * (0.008**2 - 0.004**2),
        ["top wall", "bottom wall", "left wall", "right wall", "corners"],
        [f"{side} {way}" for side in ("top", "bottom", "left", "right", "corners")
         for way in ("outside", "inside")],
    ),
    "panel": (
        lambda: shapes.stiffened_panel(
            width=0.6, plate_thickness=0.01, stiffeners=2, stiffener_height=0.08,
            stiffener_thickness=0.006, spacing=0.3, **SIZES,
        ),
        0.6 * 0.01 + 2 * 0.08 * 0.006,
        ["plate", "stiffener 1", "stiffener 2"],
        ["underside of plate", "top of plate bay 1", "top of plate bay 2", "top of plate bay 3",
         "plate left edge", "plate right edge",
         *(f"stiffener {i} {end}" for i in (1, 2) for end in ("left", "right", "tip"))],
    ),
}  # fmt: skip


def area(section: Section) -> float:
    return sum(loop_area(section.points[quad]) for quad in section.quads)


@pytest.mark.parametrize("shape", READY)
def test_ready_shapes_have_the_area_parts_and_faces_they_promise(shape: str) -> None:
    build, expected, parts, faces = READY[shape]
    section = build()
    assert area(section) == pytest.approx(expected, rel=1e-9)
    assert sorted(section.parts) == sorted(parts)
    assert sorted(section.faces) == sorted(faces)
    assert scaled_jacobians(section.points, section.quads).min() > 0.7
    hollow = shape in ("box", "flush box", "round tube", "sharp tube", "rounded tube")
    assert len(section.loops) == 1 + hollow
    # the material lies to the left of every named edge
    directed = {tuple(edge) for edge in section.boundary.tolist()}
    named = {tuple(edge) for edges in section.faces.values() for edge in edges.tolist()}
    assert named == directed


@pytest.mark.parametrize("shape", READY)
def test_flat_faces_are_flat_and_look_where_their_name_says(shape: str) -> None:
    section = READY[shape][0]()
    for name, edges in section.faces.items():
        if shape.startswith("round ") or name.startswith("corners"):
            continue
        along = section.points[edges[:, 1]] - section.points[edges[:, 0]]
        outward = np.stack([along[:, 1], -along[:, 0]], axis=-1)
        outward /= np.linalg.norm(outward, axis=1, keepdims=True)
        np.testing.assert_allclose(outward, np.tile(outward[0], (len(outward), 1)), atol=1e-9)
        placed = section.points[edges] @ outward[0]
        np.testing.assert_allclose(placed, placed[0, 0], atol=1e-12)
        np.testing.assert_allclose(outward[0], expected_outward(name), atol=1e-9, err_msg=name)


def expected_outward(face: str) -> tuple[float, float]:
    """Where a face looks, read from its name alone, other than the builders do it."""
    inward = face.startswith("inside of") or face.endswith("inside")
    places = {
        "web back": "left", "web inside": "right", "top flange edge": "right",
        "bottom flange edge": "right", "flat leg edge": "right", "upright leg edge": "top",
        "back of upright leg": "left", "inside of upright leg": "right", "web tip": "bottom",
    }  # fmt: skip
    if face in places:
        side = places[face]
        inward = False
    elif face.endswith("tip"):
        side = "top"
    elif face.endswith("edge") or face.startswith(("web", "stiffener")):
        side = "left" if "left" in face else "right"
    elif face.startswith("underside"):
        side = "bottom"
    elif face.startswith("top of"):
        side = "top"
    else:
        side = next(word for word in ("top", "bottom", "left", "right") if word in face)
    y, z = {"left": (-1, 0), "right": (1, 0), "bottom": (0, -1), "top": (0, 1)}[side]
    return (-y, -z) if inward else (y, z)


@pytest.mark.parametrize("shape", READY)
def test_the_origin_is_the_lower_left_corner(shape: str) -> None:
    section = READY[shape][0]()
    slack = 0.03 * section.width if shape.startswith("round ") else 1e-12
    np.testing.assert_allclose(section.points.min(axis=0), 0.0, atol=slack)


@pytest.mark.parametrize("shape", [name for name in READY if name not in ("channel", "angle")])
def test_meshes_of_symmetric_shapes_are_mirrored(shape: str) -> None:
    section = READY[shape][0]()
    points = section.points
    mirrored = points * (-1.0, 1.0) + (points[:, 0].max() + points[:, 0].min(), 0.0)
    gaps = np.linalg.norm(points[:, None] - mirrored[None], axis=-1).min(axis=1)
    assert gaps.max() < 1e-9


def lengths(section: Section, face: str) -> np.ndarray:
    ends = section.points[section.faces[face]]
    return np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)


def test_sizes_layers_and_fine_parts_are_kept() -> None:
    section = shapes.i_section(
        height=0.4, width=0.2, web_thickness=0.012, flange_thickness=0.02, size=0.04,
        thickness_layers=3, fine={"top flange": 0.003},
    )  # fmt: skip
    np.testing.assert_allclose(lengths(section, "top flange left edge"), 0.02 / 3)
    # four layers of 3 mm through the web, so that no flange element is above 3 mm
    assert len(section.faces["top of bottom flange left"]) == 3
    assert len(section.faces["underside of bottom flange"]) == 2 * 3 + 4
    assert lengths(section, "top of top flange").max() <= 0.003 * (1 + 1e-9)
    web = lengths(section, "web left")  # the right-hand side runs up, the left down
    assert web[0] <= 0.003 * (1 + 1e-9)
    assert web.max() <= 0.04 * (1 + 1e-9)
    assert (web[1:] / web[:-1]).max() <= 1.3 * (1 + 1e-9)
    coarse = shapes.i_section(
        height=0.4, width=0.2, web_thickness=0.012, flange_thickness=0.02, size=0.04
    )
    assert len(coarse.quads) < len(section.quads) / 3


def test_a_finer_web_refines_the_flange_beside_it_only() -> None:
    section = shapes.t_section(
        height=0.2, width=0.3, web_thickness=0.01, flange_thickness=0.01, size=0.04,
        fine={"web": 0.005},
    )  # fmt: skip
    right = lengths(section, "underside of flange right")
    assert right.min() <= 0.005 * (1 + 1e-9)
    assert right.max() > 0.02


def test_tube_walls_grow_from_finer_corners() -> None:
    tube = shapes.rectangular_tube(
        height=0.2, width=0.2, thickness=0.01, outer_radius=0.02, size=0.03,
        fine={"corners": 0.004},
    )  # fmt: skip
    assert lengths(tube, "corners outside").max() <= 0.004 * 0.02 / 0.015 * 1.01
    top = lengths(tube, "top outside")
    assert top[[0, -1]].max() <= 0.004 * (1 + 1e-9)
    assert top.max() > 0.012


def test_stiffeners_without_a_spacing_share_the_width_out() -> None:
    panel = shapes.stiffened_panel(
        width=0.9, plate_thickness=0.01, stiffeners=3, stiffener_height=0.05,
        stiffener_thickness=0.01, size=0.05,
    )  # fmt: skip
    for number, middle in enumerate((0.15, 0.45, 0.75), start=1):
        tip = panel.points[panel.faces[f"stiffener {number} tip"]][..., 0]
        assert (tip.min(), tip.max()) == pytest.approx((middle - 0.005, middle + 0.005))


@pytest.mark.parametrize("seed", range(40))
def test_any_allowed_dimensions_give_a_sound_section(seed: int) -> None:
    """The section checks itself; its area must be that of its plates."""
    random = np.random.default_rng(seed)
    height, width = (float(value) for value in random.uniform(0.05, 1.0, 2))
    small = min(height, width)
    web, flange = (float(value) for value in small * random.uniform(0.005, 0.3, 2))
    mesh: dict[str, Any] = {
        "size": float(small * 10 ** random.uniform(-1.2, 0.5)),
        "thickness_layers": int(random.integers(1, 5)),
    }
    plates: dict[str, Any] = {
        "height": height, "width": width, "web_thickness": web, "flange_thickness": flange,
    }  # fmt: skip
    finer = {"top flange": mesh["size"] * float(random.uniform(0.1, 1.0))}
    both = 2 * flange * width + web * (height - 2 * flange)
    assert area(shapes.i_section(**plates, **mesh, fine=finer)) == pytest.approx(both)
    assert area(shapes.channel(**plates, **mesh, fine=finer)) == pytest.approx(both)
    assert area(shapes.t_section(**plates, **mesh)) == pytest.approx(
        flange * width + web * (height - flange)
    )
    spare = 0.5 * width - web
    closed = shapes.box(**plates, **mesh, overhang=float(random.uniform(0.0, 0.9)) * spare)
    assert area(closed) == pytest.approx(both + web * (height - 2 * flange))
    radius = web * float(random.uniform(1.02, 1.5))
    tube = shapes.rectangular_tube(
        height=height, width=width, thickness=web, outer_radius=radius, **mesh
    )
    assert area(tube) == pytest.approx(
        2 * web * (height + width - 2 * web) - (4 - np.pi) * (radius**2 - (radius - web) ** 2)
    )
    ring = shapes.round_tube(outer_diameter=small, thickness=web, **mesh)
    assert area(ring) == pytest.approx(np.pi * web * (small - web))
    assert area(shapes.round_bar(diameter=small, **mesh)) == pytest.approx(np.pi * small**2 / 4)


I = {"height": 0.2, "width": 0.1, "web_thickness": 0.006, "flange_thickness": 0.009, "size": 0.02}  # noqa: E741
PANEL = {
    "width": 0.6, "plate_thickness": 0.01, "stiffeners": 3, "stiffener_height": 0.08,
    "stiffener_thickness": 0.006, "size": 0.02,
}  # fmt: skip


@pytest.mark.parametrize(
    ("build", "given", "words"),
    [
        (shapes.flat_bar, {"width": 0.0, "thickness": 0.01, "size": 0.02}, "width is 0 m"),
        (shapes.flat_bar, {"width": 0.1, "thickness": np.inf, "size": 0.02}, "thickness is inf"),
        (shapes.flat_bar, {"width": 0.1, "thickness": 0.01, "size": 0.0}, "size is 0 m"),
        (shapes.i_section, {**I, "web_thickness": 0.1}, "web_thickness is 0.1 m"),
        (shapes.i_section, {**I, "bottom_width": 0.005}, "width of the flange, 0.005 m"),
        (shapes.i_section, {**I, "bottom_flange_thickness": 0.191}, "leave no web"),
        (shapes.i_section, {**I, "thickness_layers": 0}, "thickness_layers is 0"),
        (shapes.i_section, {**I, "thickness_layers": 1.5}, "thickness_layers is 1.5"),
        (shapes.i_section, {**I, "fine": {"flange": 0.01}}, "the parts are top flange, web"),
        (shapes.i_section, {**I, "fine": {"web": 0.03}}, "at most the size, 0.02 m"),
        (shapes.i_section, {**I, "fine": {"web": np.nan}}, "fine for 'web' is nan"),
        (shapes.channel, {**I, "height": 0.018}, "leave no web"),
        (shapes.channel, {**I, "width": 0.006}, "web_thickness is 0.006 m"),
        (shapes.t_section, {**I, "height": 0.009}, "leave no web"),
        (shapes.angle, {"height": 0.1, "width": 0.01, "thickness": 0.01, "size": 0.02}, "below"),
        (shapes.box, {**I, "overhang": -0.001}, "overhang is -0.001 m"),
        (shapes.box, {**I, "overhang": 0.044}, "take 0.1 m"),
        (shapes.round_tube, {"outer_diameter": 0.1, "thickness": 0.05, "size": 0.01}, "half"),
        (shapes.round_bar, {"diameter": -0.1, "size": 0.01}, "diameter is -0.1 m"),
        (
            shapes.rectangular_tube,
            {"height": 0.1, "width": 0.1, "thickness": 0.05, "size": 0.01}, "two walls take 0.1 m",
        ),
        (
            shapes.rectangular_tube,
            {"height": 0.1, "width": 0.1, "thickness": 0.005, "outer_radius": 0.005,
             "size": 0.01},
            "more than the thickness",
        ),
        (
            shapes.rectangular_tube,
            {"height": 0.1, "width": 0.1, "thickness": 0.005, "outer_radius": 0.05, "size": 0.01},
            "two corners take 0.1 m",
        ),
        (shapes.stiffened_panel, {**PANEL, "stiffeners": 0}, "stiffeners is 0"),
        (shapes.stiffened_panel, {**PANEL, "stiffeners": 2.0}, "stiffeners is 2.0"),
        (shapes.stiffened_panel, {**PANEL, "spacing": 0.3}, "take 0.606 m"),
        (shapes.stiffened_panel, {**PANEL, "spacing": 0.006}, "spacing is 0.006 m"),
        (shapes.stiffened_panel, {**PANEL, "spacing": -1.0}, "spacing is -1 m"),
    ],
)  # fmt: skip
def test_impossible_dimensions_are_refused(
    build: Callable[..., Section], given: dict[str, Any], words: str
) -> None:
    with pytest.raises(OutOfRange, match=words):
        build(**given)


def test_all_faults_of_a_call_are_told_at_once() -> None:
    with pytest.raises(OutOfRange) as caught:
        shapes.i_section(
            height=-0.2, width=0.1, web_thickness=0.2, flange_thickness=0.009, size=0.02,
            thickness_layers=0, fine={"foot": 0.01},
        )  # fmt: skip
    text = str(caught.value)
    for words in ("I section", "height is -0.2", "web_thickness is 0.2", "layers is 0", "'foot'"):
        assert words in text
