"""Extruded beams of every section: stiffness by beam theory, wedges of strain by plane sections."""

from collections.abc import Callable
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray
from skfem import Basis, ElementHex1

from flamefe.outcome.beam_distortion import beam_measures
from flamefe.outcome.measure import find_measure
from flamefe.straining.restraint import Load, clamp, rigid_modes
from flamefe.workpiece import section_shapes as shapes
from flamefe.workpiece.body import Body
from flamefe.workpiece.extrude import Beam, extruded
from flamefe.workpiece.mesh import graded
from flamefe.workpiece.section import Section
from flamefe.workpiece.section_properties import section_properties

Array = NDArray[np.float64]

E, NU = 210e9, 0.3
G = E / (2.0 * (1.0 + NU))
SIZE = {"size": 0.025}

# section, direction of the load (0: sideways, 1: upright), in a plane of symmetry so that nothing
# twists, and the share of the area that carries shear. Shear areas: the plates along the load; of
# round sections after G. R. Cowper, J. Appl. Mech. 33 (1966) 335 (from memory).
Case = tuple[Callable[[], Section], int, Callable[[float], float]]
CANTILEVERS: dict[str, Case] = {
    "I upright": (
        lambda: shapes.i_section(
            height=0.2, width=0.1, web_thickness=0.006, flange_thickness=0.009, **SIZE
        ),
        1, lambda area: 0.191 * 0.006,
    ),
    "I sideways": (
        lambda: shapes.i_section(
            height=0.2, width=0.1, web_thickness=0.006, flange_thickness=0.009, **SIZE
        ),
        0, lambda area: 2 * 0.1 * 0.009 * 5 / 6,
    ),
    "channel sideways": (
        lambda: shapes.channel(
            height=0.1, width=0.075, web_thickness=0.0085, flange_thickness=0.0115, **SIZE
        ),
        0, lambda area: 2 * 0.075 * 0.0115 * 5 / 6,
    ),
    "T upright": (
        lambda: shapes.t_section(
            height=0.1, width=0.1, web_thickness=0.01, flange_thickness=0.01, **SIZE
        ),
        1, lambda area: 0.095 * 0.01,
    ),
    "box upright": (
        lambda: shapes.box(
            height=0.2, width=0.12, web_thickness=0.006, flange_thickness=0.008, **SIZE
        ),
        1, lambda area: 2 * 0.192 * 0.006,
    ),
    "round tube": (
        lambda: shapes.round_tube(outer_diameter=0.12, thickness=0.006, size=0.012), 1,
        lambda area: area * 2 * (1 + NU) / (4 + 3 * NU),
    ),
    "round bar": (
        lambda: shapes.round_bar(diameter=0.06, size=0.01), 1,
        lambda area: area * 6 * (1 + NU) / (7 + 6 * NU),
    ),
    "rounded tube": (
        lambda: shapes.rectangular_tube(
            height=0.12, width=0.08, thickness=0.005, outer_radius=0.01, **SIZE
        ),
        1, lambda area: 2 * 0.115 * 0.005,
    ),
    "panel": (
        lambda: shapes.stiffened_panel(
            width=0.2, plate_thickness=0.008, stiffeners=2, stiffener_height=0.08,
            stiffener_thickness=0.008, **SIZE,
        ),
        1, lambda area: 2 * 0.084 * 0.008,
    ),
}  # fmt: skip


def made(lab: SimpleNamespace, section: Section, stations: Array) -> tuple[Body, Beam]:
    beam = extruded(section, stations)
    return Body(mesh=beam.mesh, materials=(lab.metal(modulus=E, poisson=NU),)), beam


@pytest.mark.parametrize("name", CANTILEVERS)
def test_cantilever_bends_as_beam_theory_says(lab: SimpleNamespace, name: str) -> None:
    """Tip load on hexes as long as the beam is deep, ten depths long: bending and shear within 2 %.

    Near the clamp they are short: it keeps the section from changing shape along the first hex.

    Source: S. P. Timoshenko, J. N. Goodier, Theory of Elasticity, 3rd ed. 1970, art. 21: deflection
    P L^3 / (3 E I) + P L / (G A_s).
    """
    build, axis, shear_area = CANTILEVERS[name]
    section = build()
    properties = section_properties(section)
    depth = (section.width, section.height)[axis]
    length = 10.0 * depth
    stations = graded(
        length, fine_spans=[(0.0, 0.2 * depth)], fine=0.2 * depth, coarse=depth, growth=1.5
    )
    body, beam = made(lab, section, stations)
    inertia = (properties.second_moment_z, properties.second_moment_y)[axis]
    pull = np.zeros(3)
    pull[1 + axis] = 1.0 / properties.area
    forces = lab.face_forces(body, "end", lambda x: pull[:, None, None] + 0.0 * x)
    (end,) = lab.march(
        body, [(0.0, 20.0)], [clamp(body, "start")], [Load(forces=forces)], geometry="small"
    )
    tip = body.nodes_of("end")
    weights = beam.areas[tip] / properties.area
    found = weights @ end.displacement[tip, 1 + axis]
    bending = length**3 / (3.0 * E * inertia)
    shear = length / (G * shear_area(properties.area))
    assert shear > 0.005 * bending, f"{depth} m deep: shear is to be seen"
    assert found == pytest.approx(bending + shear, rel=0.02)
    aside = weights @ end.displacement[tip, 2 - axis]
    assert abs(aside) < 1e-3 * found


def test_an_angle_bends_out_of_the_plane_of_its_moment(lab: SimpleNamespace) -> None:
    """End moment about y on an unequal angle: curvatures by both moments of area and their product.

    Source: W. D. Pilkey, Analysis and Design of Elastic Beams, Wiley 2002, ch. 1 (from memory):
    stress M (I_z z - I_yz y) / (I_y I_z - I_yz^2). Quadratic displacements lie in the element.
    """
    section = shapes.angle(height=0.1, width=0.065, thickness=0.009, **SIZE)
    p = section_properties(section)
    length = 0.8
    body, _ = made(lab, section, np.linspace(0.0, length, 9))
    cy, cz = p.centroid
    product = p.second_moment_y * p.second_moment_z - p.product_moment**2
    bend_z, bend_y = p.second_moment_z / product, -p.product_moment / product

    def pull(x: Array) -> Array:
        stress = bend_z * (x[2] - cz) + bend_y * (x[1] - cy)
        return np.stack([stress, 0.0 * stress, 0.0 * stress])

    forces = lab.face_forces(body, "end", pull) - lab.face_forces(body, "start", pull)
    (end,) = lab.march(
        body, [(0.0, 20.0)], [rigid_modes(body)], [Load(forces=forces)], geometry="small"
    )
    found = beam_measures(
        body.points, end.displacement, areas=extruded(section, np.linspace(0.0, length, 9)).areas
    )
    arc = length**2 / (8.0 * E) * 1e3  # mm of sagitta by curvature times E
    # a moment that pulls the top is one that lengthens it: the middle rises
    assert find_measure(found, "camber").value == pytest.approx(arc * bend_z, rel=1e-5)
    assert find_measure(found, "sweep").value == pytest.approx(arc * bend_y, rel=1e-5)
    assert abs(bend_y) > 0.3 * bend_z, "it is not bent in one plane"


def wedge_strain(body: Body, apex: float, base: float, tangent: float, amount: float) -> Array:
    """Contraction along x in a wedge that opens upwards, (6, ne * 8).

    At each height a hex gets the share of its length that lies in the wedge, so that the integral
    along the beam is right whatever the mesh; the wedge is as wide as 2 tangent (z - apex).
    """
    basis = Basis(body.mesh, ElementHex1(), intorder=3)
    z = np.asarray(basis.global_coordinates())[2]
    x = body.points[body.mesh.t, 0]
    low, high = x.min(axis=0)[:, None], x.max(axis=0)[:, None]
    middle = 0.5 * body.points[:, 0].max()
    half = np.where(z <= base, tangent * np.clip(z - apex, 0.0, None), 0.0)
    inside = np.clip(np.minimum(high, middle + half) - np.maximum(low, middle - half), 0.0, None)
    strain = np.zeros((6, z.size))
    strain[0] = -amount * (inside / (high - low)).ravel()
    return strain


@pytest.mark.parametrize("share", [0.5, 2.0 / 3.0, 0.75, 1.0])
def test_wedge_of_part_of_the_depth_by_plane_sections(lab: SimpleNamespace, share: float) -> None:
    """A flat bar on edge, a wedge over a share r of its depth W: to a thousandth.

    Derived: u*(z) = e 2 tan(half angle) (z - z_apex); rotation int u* z dA / I
    = e tan (6 r^2 - 4 r^3), shortening int u* dA / A = e tan r^2 W.
    """
    depth, amount, tangent = 0.1, 7.355e-3, np.tan(np.radians(22.5))
    section = shapes.flat_bar(width=0.01, thickness=depth, size=0.005, thickness_layers=24)
    stations = graded(0.8, fine_spans=[(0.35, 0.45)], fine=0.008, coarse=0.05)
    body, beam = made(lab, section, stations)
    inherent = wedge_strain(body, depth * (1.0 - share), depth, tangent, amount)
    (end,) = lab.march(
        body, [(0.0, 20.0)], [rigid_modes(body)], inherent=inherent, geometry="small"
    )
    found = beam_measures(
        body.points, end.displacement, areas=beam.areas, heated_part=(0.355, 0.445)
    )
    rotation = 1e3 * amount * tangent * (6.0 * share**2 - 4.0 * share**3)
    shortening = 1e3 * amount * tangent * share**2 * depth
    assert find_measure(found, "closing rotation, upright").value == pytest.approx(
        rotation, rel=1e-3
    )
    assert find_measure(found, "shortening").value == pytest.approx(shortening, rel=1e-3)
    assert find_measure(found, "camber").value < 0.0, "the top closes, the middle sags"
    assert abs(find_measure(found, "closing rotation, sideways").value) < 1e-6


@pytest.mark.parametrize("share", [0.5, 0.75, 1.0])
def test_wedge_through_a_web_with_a_band_on_its_flange(lab: SimpleNamespace, share: float) -> None:
    """An I-beam: rotation int b u* (z - z_c) dz / I, shortening int b u* dz / A: within 1 %.

    The wedge goes through the web and opens to the top flange, all of which shrinks over the
    wedge's width there. Derived from plane sections for any section of width b(z).
    """
    height, thick = 0.2, 0.01
    section = shapes.i_section(
        height=height, width=0.1, web_thickness=0.008, flange_thickness=thick, size=0.025,
        fine={"web": 0.0075},
    )  # fmt: skip
    p = section_properties(section)
    stations = graded(2.0, fine_spans=[(0.9, 1.1)], fine=0.015, coarse=0.1)
    body, beam = made(lab, section, stations)
    amount, tangent, top = 5e-3, np.tan(np.radians(15.0)), height - thick
    apex = top - share * (height - 2.0 * thick)
    inherent = wedge_strain(body, apex, top, tangent, amount)
    basis = Basis(body.mesh, ElementHex1(), intorder=3)
    z = np.asarray(basis.global_coordinates())[2].ravel()
    x = body.points[body.mesh.t, 0]
    low, high, half = x.min(axis=0)[:, None], x.max(axis=0)[:, None], tangent * (top - apex)
    band = np.clip(np.minimum(high, 1.0 + half) - np.maximum(low, 1.0 - half), 0.0, None)
    flange = np.repeat(band / (high - low), 8)
    inherent[0, z > top] = -amount * flange[z > top]
    (end,) = lab.march(
        body, [(0.0, 20.0)], [rigid_modes(body)], inherent=inherent, geometry="small"
    )
    found = beam_measures(body.points, end.displacement, areas=beam.areas, heated_part=(0.9, 1.1))
    heights = np.linspace(apex, top, 4001)
    width = 2.0 * tangent * (heights - apex) * 0.008
    lever = heights - p.centroid[1]
    area = np.trapezoid(width, heights) + 2.0 * half * 0.1 * thick
    moment = np.trapezoid(width * lever, heights) + 2.0 * half * 0.1 * thick * (
        height - 0.5 * thick - p.centroid[1]
    )
    assert find_measure(found, "closing rotation, upright").value == pytest.approx(
        1e3 * amount * moment / p.second_moment_y, rel=0.01
    )
    assert find_measure(found, "shortening").value == pytest.approx(
        1e3 * amount * area / p.area, rel=0.01
    )


def test_measures_of_a_beam_that_is_moved_and_twisted(lab: SimpleNamespace) -> None:
    """Rigid motion, however large, changes nothing; a turn of each section about x is twist."""
    section = shapes.channel(
        height=0.1, width=0.06, web_thickness=0.008, flange_thickness=0.01, size=0.02
    )
    body, beam = made(lab, section, np.linspace(0.0, 1.0, 11))
    cy, cz = section_properties(section).centroid
    turn = np.radians(3.0) * body.points[:, 0]
    y, z = body.points[:, 1] - cy, body.points[:, 2] - cz
    moved = np.column_stack(
        (0.0 * y, y * np.cos(turn) - z * np.sin(turn) - y, y * np.sin(turn) + z * np.cos(turn) - z)
    )
    c, s = np.cos(1.1), np.sin(1.1)
    swung = np.array([(c, -s, 0.0), (s, c, 0.0), (0.0, 0.0, 1.0)])
    carried = (body.points + moved) @ swung.T + [3.0, -2.0, 1.0] - body.points
    for displacement in (moved, carried):
        found = beam_measures(body.points, displacement, areas=beam.areas)
        assert find_measure(found, "twist").value == pytest.approx(3.0, rel=1e-6)
        for name in ("camber", "sweep", "shortening", "distortion of a section"):
            assert abs(find_measure(found, name).value) < 1e-6, name
