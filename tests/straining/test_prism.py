"""Plane sections against the elastic solve: exact for any inherent strain in any section."""

import numpy as np
import pytest

from flamefe.basics.errors import MeshError, OutOfRange
from flamefe.straining.elastic import ElasticPart
from flamefe.straining.prism import Prism
from flamefe.workpiece.body import Body
from flamefe.workpiece.extrude import Beam, extruded
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.section_shapes import angle, flat_bar
from flamefe.workpiece.standard import material

LENGTH = 0.9
SECTIONS = {
    "flat bar": flat_bar(width=0.1, thickness=0.03, size=0.02, thickness_layers=2),
    "angle": angle(height=0.1, width=0.08, thickness=0.012, size=0.025, thickness_layers=2),
}


def ends_of(beam: Beam, movement: np.ndarray) -> np.ndarray:
    """Difference between the ends of (shift, slope in z, slope in y, twist) of plane sections."""
    points, found = beam.mesh.p.T, []
    for x in (0.0, LENGTH):
        nodes = np.flatnonzero(np.isclose(points[:, 0], x))
        share = beam.areas[nodes] / beam.areas[nodes].sum()
        away = points[nodes, 1:] - share @ points[nodes, 1:]
        modes = np.column_stack((np.ones(len(nodes)), away[:, 1], away[:, 0]))
        plane = np.linalg.solve(
            modes.T @ (share[:, None] * modes), modes.T @ (share * movement[nodes, 0])
        )
        moved = movement[nodes, 1:] - share @ movement[nodes, 1:]
        turn = (share * (away[:, 0] * moved[:, 1] - away[:, 1] * moved[:, 0])).sum()
        found.append(np.append(plane, turn / (share * (away**2).sum(axis=1)).sum()))
    return found[1] - found[0]


@pytest.mark.parametrize("name", SECTIONS)
def test_turn_shortening_and_twist_of_any_inherent_strain(name):
    """Maysel's theorem with the stress of an end moment, an end force and a torque (see the tests
    of inherent strain). The exact value is the elastic solve on the same mesh."""
    beam = extruded(SECTIONS[name], np.linspace(0.0, LENGTH, 31))
    prism = Prism(beam.mesh)
    x, y, z = prism.places.transpose(2, 0, 1)
    near = np.exp(-(((x - 0.45) / 0.05) ** 2))
    strain = np.zeros((*x.shape, 6))
    strain[..., 0] = -3e-3 * near * (z > z.mean()) - 20e-3 * near * (y - y.mean()) ** 2 / 0.01
    strain[..., 1] = strain[..., 2] = -0.5 * strain[..., 0]
    strain[..., 3] = -0.05 * near * (z - z.mean())
    strain[..., 5] = 0.1 * near * (y - y.mean())
    found = prism.shrinkage(strain)
    body = Body(mesh=beam.mesh, materials=(material("S355"),))
    movement = ElasticPart(body).movement_by(np.ascontiguousarray(strain.reshape(-1, 6).T))
    shift, slope_z, slope_y, twist = ends_of(beam, movement)
    assert found.shortening == pytest.approx(-shift, rel=1e-5)
    assert found.rotation_y == pytest.approx(-slope_z, rel=1e-5)
    assert found.rotation_z == pytest.approx(-slope_y, rel=1e-5, abs=1e-9)
    assert found.twist == pytest.approx(twist, rel=1e-4)
    assert abs(found.twist) > 1e-3
    assert found.middle == pytest.approx(0.45, abs=1e-4)


def test_properties_of_an_angle_are_those_of_its_rectangles():
    prism = Prism(extruded(SECTIONS["angle"], [0.0, 0.5, 1.0]).mesh)
    parts = [(0.08, 0.012, 0.04, 0.006), (0.012, 0.088, 0.006, 0.056)]  # width, height, y, z
    area = sum(w * h for w, h, _, _ in parts)
    y, z = (sum(w * h * p[i] for w, h, *p in parts) / area for i in (0, 1))
    upright = sum(w * h**3 / 12 + w * h * (c - z) ** 2 for w, h, _, c in parts)
    mixed = sum(w * h * (b - y) * (c - z) for w, h, b, c in parts)
    assert prism.area == pytest.approx(area, rel=1e-9)
    assert prism.second_moments[0, 0] == pytest.approx(upright, rel=1e-9)
    assert prism.second_moments[0, 1] == pytest.approx(mixed, rel=1e-9)


def test_wedge_on_a_bar_has_its_closed_form():
    """phi = e tan(half angle) (6 r^2 - 4 r^3), shortening e tan(half angle) r^2 W: derived from
    plane sections. The wedge is followed by quadrature points only to their spacing."""
    width, share, half, upset = 0.1, 0.75, np.radians(22.5), 7e-3
    mesh = box_mesh(np.linspace(0, 0.4, 161), [0.0, 0.01], np.linspace(0, width, 81))
    prism = Prism(mesh)
    x, _, z = prism.places.transpose(2, 0, 1)
    depth = z - width * (1 - share)
    strain = np.zeros((*x.shape, 6))
    strain[(depth > 0) & (np.abs(x - 0.2) < depth * np.tan(half)), 0] = -upset
    found = prism.shrinkage(strain)
    size = upset * np.tan(half)
    assert found.rotation_y == pytest.approx(size * (6 * share**2 - 4 * share**3), rel=5e-3)
    assert found.shortening == pytest.approx(size * share**2 * width, rel=5e-3)


def test_what_is_no_prism_is_refused():
    mesh = box_mesh(np.linspace(0, 1, 3), np.linspace(0, 0.2, 3), np.linspace(0, 0.2, 3))
    moved = np.array(mesh.p)
    moved[1, np.isclose(moved[0], 0.5)] *= 1.1
    with pytest.raises(MeshError, match="no prism"):
        Prism(type(mesh)(moved, mesh.t))
    with pytest.raises(OutOfRange, match="needed"):
        Prism(mesh).shrinkage(np.zeros((3, 8, 6)))
