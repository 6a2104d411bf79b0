"""Beams extruded from every ready section, and their faces rolled out flat."""

from collections.abc import Callable

import numpy as np
import pytest
from skfem import Basis, ElementHex1, FacetBasis

from flamefe.basics.errors import MeshError
from flamefe.workpiece import section_shapes as shapes
from flamefe.workpiece.beam_faces import BeamFaces
from flamefe.workpiece.extrude import BEAM_ENDS, extruded, node_areas
from flamefe.workpiece.face_map import FlatFace
from flamefe.workpiece.faces import FACE_SIDES, outward_normals
from flamefe.workpiece.mesh import box_mesh, graded
from flamefe.workpiece.rolled_face import RolledFace
from flamefe.workpiece.section import Section, loop_area
from flamefe.workpiece.section_properties import section_properties
from flamefe.workpiece.through import rows_through

SIZE = {"size": 0.03}
LENGTH = 1.2
SECTIONS: dict[str, Callable[[], Section]] = {
    "I": lambda: shapes.i_section(
        height=0.2, width=0.1, web_thickness=0.006, flange_thickness=0.009, **SIZE
    ),
    "channel": lambda: shapes.channel(
        height=0.2, width=0.075, web_thickness=0.0085, flange_thickness=0.0115, **SIZE
    ),
    "T": lambda: shapes.t_section(
        height=0.1, width=0.12, web_thickness=0.01, flange_thickness=0.012, **SIZE
    ),
    "angle": lambda: shapes.angle(height=0.1, width=0.065, thickness=0.009, **SIZE),
    "box": lambda: shapes.box(
        height=0.3, width=0.2, web_thickness=0.008, flange_thickness=0.012, overhang=0.015, **SIZE
    ),
    "round tube": lambda: shapes.round_tube(outer_diameter=0.1, thickness=0.006, size=0.01),
    "sharp tube": lambda: shapes.rectangular_tube(height=0.1, width=0.06, thickness=0.004, **SIZE),
    "rounded tube": lambda: shapes.rectangular_tube(
        height=0.1, width=0.06, thickness=0.004, outer_radius=0.008, **SIZE
    ),
    "round bar": lambda: shapes.round_bar(diameter=0.04, size=0.01),
    "panel": lambda: shapes.stiffened_panel(
        width=0.6, plate_thickness=0.01, stiffeners=2, stiffener_height=0.08,
        stiffener_thickness=0.006, **SIZE,
    ),
}  # fmt: skip


@pytest.fixture(params=SECTIONS, scope="module")
def section(request: pytest.FixtureRequest) -> Section:
    return SECTIONS[request.param]()


def stations() -> np.ndarray:
    return graded(LENGTH, fine_spans=[(0.5, 0.6)], fine=0.02, coarse=0.2)


def test_volume_is_area_times_length(section: Section) -> None:
    beam = extruded(section, stations())
    area = section_properties(section).area
    volume = Basis(beam.mesh, ElementHex1(), intorder=3).dx.sum()
    assert volume == pytest.approx(area * LENGTH, rel=1e-12)
    assert node_areas(section).sum() == pytest.approx(area, rel=1e-12)
    assert (node_areas(section) > 0.0).all()


def test_faces_cover_the_outside_once_with_their_areas(section: Section) -> None:
    mesh = extruded(section, stations()).mesh
    assert set(mesh.boundaries) == {*section.faces, *BEAM_ENDS}
    everything = np.concatenate(list(mesh.boundaries.values()))
    np.testing.assert_array_equal(np.sort(everything), np.sort(mesh.boundary_facets()))
    for name, edges in section.faces.items():
        lengths = np.linalg.norm(np.diff(section.points[edges], axis=1), axis=2).sum()
        basis = FacetBasis(mesh, ElementHex1(), facets=mesh.boundaries[name], intorder=2)
        assert basis.dx.sum() == pytest.approx(lengths * LENGTH, rel=1e-12), name
    start = mesh.p[0, mesh.facets[:, mesh.boundaries["start"]]]
    assert (start == 0.0).all()


def test_parts_are_their_quads_drawn_out(section: Section) -> None:
    beam = extruded(section, stations())
    volumes = Basis(beam.mesh, ElementHex1(), intorder=3).dx.sum(axis=1)
    areas = np.array([loop_area(section.points[quad]) for quad in section.quads])
    for name, quads in section.parts.items():
        assert volumes[beam.parts[name]].sum() == pytest.approx(areas[quads].sum() * LENGTH)
    numbers = np.sort(np.concatenate(list(beam.parts.values())))
    np.testing.assert_array_equal(numbers, np.arange(beam.mesh.nelements))


def test_stations_that_do_not_rise_are_refused() -> None:
    bar = shapes.flat_bar(width=0.1, thickness=0.01, **SIZE)
    for wrong in ([0.0], [0.0, 1.0, 1.0], [0.0, np.nan]):
        with pytest.raises(MeshError, match="rising stations"):
            extruded(bar, wrong)
    named = {"start": bar.faces["top"], **{k: v for k, v in bar.faces.items() if k != "top"}}
    wrong_name = Section(name="x", points=bar.points, quads=bar.quads, parts=bar.parts, faces=named)
    with pytest.raises(MeshError, match="name of an end"):
        extruded(wrong_name, [0.0, 1.0])


def test_faces_roll_out_and_back(section: Section) -> None:
    """Places on facets come back to themselves, normals agree, lengths are kept."""
    mesh = extruded(section, stations()).mesh
    for name in section.faces:
        facets = mesh.boundaries[name]
        face = RolledFace.of_mesh(mesh, facets)
        middles = mesh.p[:, mesh.facets[:, facets]].mean(axis=1).T
        flat = face.back(middles)
        np.testing.assert_allclose(face.place(flat), middles, atol=1e-12)
        np.testing.assert_allclose(face.normal(flat), outward_normals(mesh, facets), atol=1e-9)
        assert face.holds(flat).all()
        # the area on the rolled-out face is that in space
        (low, high), (first, last) = face.span
        covered = FacetBasis(mesh, ElementHex1(), facets=facets, intorder=2).dx.sum()
        gaps = (last - first) - np.linalg.norm(np.diff(face.pieces, axis=1), axis=2).sum()
        assert (high - low) * (last - first - gaps) == pytest.approx(covered, rel=1e-12)
        # u, v and the normal are as right- or left-handed as they say
        step = 1e-7 * (last - first)
        ahead = face.place(flat + np.array([0.0, step])) - face.place(flat)
        turned = np.einsum("ki,ki->k", np.cross([1.0, 0.0, 0.0], ahead), face.normal(flat))
        inside = np.linalg.norm(ahead, axis=1) > 0.999 * step
        assert (np.sign(turned[inside]) == face.handed).all()


def test_the_face_of_a_section_and_of_its_mesh_are_the_same(section: Section) -> None:
    mesh = extruded(section, stations()).mesh
    faces = BeamFaces(section=section, length=LENGTH)
    for name in section.faces:
        drawn, meshed = faces.maps[name], RolledFace.of_mesh(mesh, mesh.boundaries[name])
        assert isinstance(drawn, RolledFace)
        np.testing.assert_allclose(drawn.pieces, meshed.pieces, atol=1e-12)
        assert drawn.handed == meshed.handed
        assert drawn.span[0] == pytest.approx(meshed.span[0])


@pytest.mark.parametrize(
    ("shape", "face", "first", "last"),
    [
        ("I", "web left", (0.047, 0.009), (0.047, 0.191)),
        ("I", "top of top flange", (0.0, 0.2), (0.1, 0.2)),
        ("I", "underside of top flange right", (0.053, 0.191), (0.1, 0.191)),
        ("channel", "web back", (0.0, 0.0), (0.0, 0.2)),
        ("angle", "top of flat leg", (0.009, 0.009), (0.065, 0.009)),
        ("rounded tube", "left outside", (0.0, 0.008), (0.0, 0.092)),
        ("panel", "stiffener 1 tip", (0.147, 0.09), (0.153, 0.09)),
    ],
)
def test_v_runs_to_the_right_or_upwards(
    shape: str, face: str, first: tuple[float, float], last: tuple[float, float]
) -> None:
    rolled = RolledFace.of_section(SECTIONS[shape](), face, length=LENGTH)
    ends = rolled.place([(0.3, 0.0), (0.3, rolled.span[1][1])])
    np.testing.assert_allclose(ends, [(0.3, *first), (0.3, *last)], atol=1e-12)


def test_v_goes_round_a_tube_from_its_lowest_place_over_the_right() -> None:
    tube = SECTIONS["round tube"]()
    for name, radius in (("outside", 0.05), ("inside", 0.044)):
        face = RolledFace.of_section(tube, name, length=LENGTH)
        assert face.period is not None
        assert face.period / face.stretch == pytest.approx(2.0 * np.pi * radius, rel=1e-12)
        grow = np.hypot(*(face.pieces[0, 0] - 0.05)) / radius
        quarters = face.period * np.array([-0.25, 0.0, 0.25, 0.5, 0.75, 1.0])
        places = face.place(np.column_stack((0 * quarters, quarters)))[:, 1:] - 0.05
        r = radius * grow
        expected = [(-r, 0), (0, -r), (r, 0), (0, r), (-r, 0), (0, -r)]
        np.testing.assert_allclose(places, expected, atol=1e-12)


def test_pieces_of_a_face_keep_their_distance() -> None:
    """Rounded corners: v of the second begins one flat wall after the end of the first."""
    face = RolledFace.of_section(SECTIONS["rounded tube"](), "corners outside", length=1.0)
    lengths = np.linalg.norm(np.diff(face.pieces, axis=1)[:, 0], axis=1)
    gaps = face.starts[1:] - (face.starts + lengths)[:-1]
    np.testing.assert_allclose(np.sort(gaps)[-3:], [0.044, 0.044, 0.084], atol=1e-12)
    between = face.starts[np.argmax(gaps) + 1] - 0.02
    assert face.holds([(0.5, between)]).tolist() == [False]


def test_a_line_round_a_tube_never_leaves_the_surface() -> None:
    """A ring and a spiral over the seam: every chord lies in the wall of the mesh."""
    face = RolledFace.of_section(SECTIONS["round tube"](), "outside", length=LENGTH)
    assert face.period is not None
    for line in ([(0.3, 0.0), (0.3, face.period)], [(0.2, 1.3 * face.period), (0.9, -0.4)]):
        path = face.along(line)
        middles = 0.5 * (path[1:] + path[:-1])
        np.testing.assert_allclose(face.place(face.back(middles)), middles, atol=1e-12)
        run = np.linalg.norm(np.diff(path, axis=0), axis=1).sum()
        assert run == pytest.approx(np.hypot(*np.subtract(line[1], line[0])), rel=1e-12)
    flat = RolledFace.of_section(SECTIONS["I"](), "web left", length=LENGTH)
    assert len(flat.along([(0.1, 0.02), (0.9, 0.1)])) == 2


def test_six_faces_of_a_box_by_the_same_interface() -> None:
    mesh = box_mesh([0, 0.4], [0, 0.2], [0, 0.012])
    for name in FACE_SIDES:
        face = FlatFace.of_box(name, mesh.p.min(axis=1), mesh.p.max(axis=1))
        facets = mesh.boundaries[name]
        middle = mesh.p[:, mesh.facets[:, facets]].mean(axis=1).T
        flat = face.back(middle)
        np.testing.assert_allclose(face.place(flat), middle, atol=1e-15)
        np.testing.assert_allclose(face.normal(flat), outward_normals(mesh, facets), atol=1e-12)
        ahead = [face.place(flat + step) - face.place(flat) for step in ([1e-3, 0], [0, 1e-3])]
        turned = (np.cross(*ahead) * face.normal(flat)).sum()
        assert np.sign(turned) == face.handed
        assert face.holds(flat).all()
        assert not face.holds(flat + 1.0).any()


@pytest.mark.parametrize(
    ("shape", "face", "v", "other", "there"),
    [
        ("I", "web left", (0.05, 0.1), "web right", (0.05, 0.1)),
        ("I", "top of top flange", (0.06, 0.09), "underside of top flange right", (0.007, 0.037)),
        (
            "I",
            "underside of bottom flange",
            (0.01, 0.04),
            "top of bottom flange left",
            (0.01, 0.04),
        ),
        ("channel", "web inside", (0.0, 0.1), "web back", (0.0115, 0.1115)),
        ("box", "inside of top flange", (0.0, 0.1), "top of top flange", (0.023, 0.123)),
        ("round tube", "outside", (0.0, 0.1), "inside", (0.0, 0.088)),
        ("panel", "top of plate bay 2", (0.1, 0.2), "underside of plate", (0.253, 0.353)),
    ],
)
def test_what_lies_across(
    shape: str, face: str, v: tuple[float, float], other: str, there: tuple[float, float]
) -> None:
    found = BeamFaces(section=SECTIONS[shape](), length=LENGTH).across(face, *v)
    assert found is not None
    assert found.face == other
    np.testing.assert_allclose(found.offset + found.scale * np.array(v), there, atol=1e-9)


@pytest.mark.parametrize(
    ("shape", "face", "v"),
    [
        ("I", "top of top flange", (0.02, 0.09)),  # the web stands in between
        ("I", "top of top flange", (0.05, 0.05)),  # straight over the web
        ("box", "top of top flange", (0.0, 0.2)),
        ("T", "web tip", (0.005, 0.005)),
        ("round bar", "outside", (0.0, 0.02)),
        ("rounded tube", "corners outside", (0.0, 0.005)),
        ("panel", "underside of plate", (0.1, 0.2)),
    ],
)
def test_nothing_lies_across_where_the_plate_is_joined(
    shape: str, face: str, v: tuple[float, float]
) -> None:
    assert BeamFaces(section=SECTIONS[shape](), length=LENGTH).across(face, *v) is None


def test_rows_through_a_plate_end_on_its_other_side() -> None:
    section = shapes.channel(
        height=0.2, width=0.075, web_thickness=0.0085, flange_thickness=0.0115, size=0.02,
        thickness_layers=3,
    )  # fmt: skip
    points = section.points
    rows = rows_through(section, "web back")
    np.testing.assert_allclose(points[rows[:, 0], 0], 0.0)
    np.testing.assert_allclose(points[rows[:, -1], 0], 0.0085)
    assert rows.shape[1] == 4
    top = rows_through(section, "top of top flange")
    np.testing.assert_allclose(points[top[:, 0], 1] - points[top[:, -1], 1], 0.0115)
    with pytest.raises(MeshError, match="no face"):
        rows_through(section, "lid")
