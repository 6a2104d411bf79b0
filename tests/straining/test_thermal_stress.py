"""Thermal stress and thermal bending against benchmarks and closed forms."""

import numpy as np
import pytest
from skfem import MeshHex

from flamefe.basics.table import Table
from flamefe.straining.restraint import Load, rigid_modes
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh


@pytest.mark.parametrize(
    ("width", "across", "poisson"), [(0.005, 1, 0.0), (0.005, 2, 0.3), (0.2, 10, 0.3)]
)
def test_bimetal_strip(lab, width, across, poisson):
    """S. Timoshenko, J. Opt. Soc. Am. 11 (1925) 233-255: curvature of a heated bimetal strip.

    Steel 2 mm on aluminium 3 mm, one hex each, 100 K: 0.328358 1/m; on supports 200 mm apart
    1.6418 mm. As a wide plate E / (1 - nu) stands for both E: the same curvature, both ways.
    0.1 %: exact but for the ends, whose stress dies away within some thicknesses.
    """
    mesh = box_mesh(np.linspace(0, 0.2, 21), np.linspace(0, width, across + 1), [0.0, 0.002, 0.005])
    steel = lab.metal(modulus=210e9, expansion=12e-6, poisson=poisson)
    alloy = lab.metal(modulus=70e9, expansion=23e-6, poisson=poisson)
    owner = (mesh.p[2, mesh.t].mean(axis=0) > 0.002).astype(np.int64)
    body = Body(mesh=mesh, materials=(steel, alloy), owner=owner)
    last = lab.march(body, [(0.0, 20.0), (1.0, 120.0)], [rigid_modes(body)], geometry="small")[-1]
    m, n, h = 2.0 / 3.0, 3.0, 0.005
    ratio = 3 * (1 + m) ** 2 + (1 + m * n) * (m**2 + 1 / (m * n))
    curvature = 6 * (23e-6 - 12e-6) * 100.0 * (1 + m) ** 2 / (h * ratio)
    assert curvature == pytest.approx(0.328358, abs=1e-6)
    p, u = body.points, last.displacement
    y = np.unique(p[:, 1])[across // 2]
    line = np.flatnonzero((np.abs(p[:, 1] - y) < 1e-9) & (np.abs(p[:, 2] - 0.002) < 1e-9))
    line = line[np.argsort(p[line, 0])]
    inner = line[4:-4]
    fit = np.polyfit(p[inner, 0], u[inner, 2], 2)
    assert -2 * fit[0] == pytest.approx(curvature, rel=1e-3)
    rise = u[line[10], 2] - 0.5 * (u[line[0], 2] + u[line[-1], 2])
    assert rise == pytest.approx(1.6418e-3, rel=1e-3)


def plate(lab, thickness, cells=(4, 4, 4)):
    return lab.box((0.1, 0.1, thickness), cells, lab.metal())


def test_free_plate_under_a_gradient_through_its_thickness(lab):
    """B. A. Boley, J. H. Weiner, Theory of Thermal Stresses, 1960: alpha dT / h, no stress."""
    h, rise = 0.012, 300.0
    body = plate(lab, h)
    temperature = 20.0 + rise * (body.points[:, 2] / h)
    moments = [(0.0, 20.0), (1.0, temperature)]
    last = lab.march(body, moments, [rigid_modes(body)], geometry="small")[-1]
    assert np.abs(last.stress).max() < 1e-6 * 210e9 * 12e-6 * rise
    p, u = body.points, last.displacement
    line = (np.abs(p[:, 1]) < 1e-9) & (np.abs(p[:, 2]) < 1e-9)
    curvature = -2 * np.polyfit(p[line, 0], u[line, 2], 2)[0]
    assert curvature == pytest.approx(12e-6 * rise / h, rel=1e-6)


def test_clamped_plate_under_a_gradient_through_its_thickness(lab):
    """Boley & Weiner 1960: edges clamped, sigma_max = E alpha dT / (2 (1 - nu)) = 540 MPa.

    With it an edge moment E alpha dT h^2 / (12 (1 - nu)) = 12.96 kN m a metre of edge. Exact.
    """
    h, rise = 0.012, 300.0
    body = plate(lab, h)
    p = body.points
    temperature = 20.0 + rise * (p[:, 2] / h - 0.5)
    edge = (np.abs(p[:, :2] * (0.1 - p[:, :2])) < 1e-12).any(axis=1)
    held = lab.hold(body, x=edge, y=edge, z=edge & (np.abs(p[:, 2]) < 1e-9))
    last = lab.march(body, [(0.0, 20.0), (1.0, temperature)], [held], geometry="small")[-1]
    stress = lab.stress_at(body, last, (0.05, 0.05, h))
    assert stress[0] / 1e6 == pytest.approx(-540.0, rel=1e-6)
    assert stress[1] / 1e6 == pytest.approx(-540.0, rel=1e-6)
    start = body.nodes_of("start")
    moment = (last.reaction[start, 0] * (p[start, 2] - h / 2)).sum() / 0.1
    assert abs(moment) / 1e3 == pytest.approx(12.96, rel=1e-6)


@pytest.mark.parametrize("rise", [2000.0])
def test_heated_strip_curls_through_a_large_angle(lab, rise):
    """A strip under a gradient curls to the radius h / (alpha dT), without stress, by 60 deg."""
    h, length = 0.002, 0.0582
    metal = lab.metal(poisson=0.0, expansion=18e-6)
    body = lab.box((length, 0.002, h), (24, 1, 2), metal)
    p = body.points
    low = p[:, 0] < 1e-9
    held = lab.hold(body, x=low, y=low & (p[:, 1] < 1e-9), z=low & (np.abs(p[:, 2] - h / 2) < 1e-9))
    profile = rise * (p[:, 2] / h - 0.5)
    moments = [(float(i), 20.0 + profile * i / 12) for i in range(13)]
    last = lab.march(body, moments, [held], geometry="finite", tolerance=1e-6)[-1]
    radius = h / (18e-6 * rise)
    angle = length / radius
    assert np.degrees(angle) > 59.0
    middle = np.abs(p[:, 2] - h / 2) < 1e-9
    tip = middle & (p[:, 0] > length - 1e-9)
    place = (p + last.displacement)[tip].mean(axis=0)
    assert place[0] == pytest.approx(radius * np.sin(angle), rel=0.005)
    down = h / 2 - place[2]
    assert down == pytest.approx(radius * (1 - np.cos(angle)), rel=0.01)


def test_buckling_of_a_heated_plate(lab):
    """Simply supported, held in its plane: pi^2 h^2 / (12 (1+nu) alpha) (1/a^2 + 1/b^2).

    S. P. Timoshenko, J. M. Gere, Theory of Elastic Stability, 1961, by in-plane stress
    E alpha dT / (1 - nu). Under a small lateral load the deflection below the onset grows as
    1 / (1 - dT / dT_cr) (R. V. Southwell 1932): the onset is read from that growth.
    """
    a, h, alpha = 0.6, 0.006, 12e-6
    critical = np.pi**2 * h**2 / (12 * 1.3 * alpha) * 2 / a**2
    assert critical == pytest.approx(10.54, abs=0.01)
    body = lab.box((a / 2, a / 2, h), (8, 8, 2), lab.metal())
    p = body.points
    mid = np.abs(p[:, 2] - h / 2) < 1e-9
    sides = (p[:, 0] < 1e-9) | (p[:, 1] < 1e-9)
    held = lab.hold(
        body,
        x=(p[:, 0] > a / 2 - 1e-9) | (mid & (p[:, 0] < 1e-9)),
        y=(p[:, 1] > a / 2 - 1e-9) | (mid & (p[:, 1] < 1e-9)),
        z=mid & sides,
    )
    push = lab.face_forces(body, "top", lambda x: np.stack([0 * x[0], 0 * x[0], 0 * x[0] + 2.0]))
    shares = (0.0, 0.3, 0.6)
    moments = [(float(i), 20.0 + s * critical) for i, s in enumerate(shares)]
    found = lab.march(body, moments, [held], [Load(forces=push)], geometry="finite")
    centre = (p[:, 0] > a / 2 - 1e-9) & (p[:, 1] > a / 2 - 1e-9) & mid
    rise = [float(m.displacement[centre, 2].mean()) for m in found]
    assert rise[-1] < 0.05 * h, "small against the thickness, or the growth is no longer this"
    for share, value in zip(shares[1:], rise[1:], strict=True):
        onset = share * critical / (1.0 - rise[0] / value)
        assert onset == pytest.approx(critical, rel=0.05)


def test_rigid_body_supports_of_a_free_heated_part_carry_nothing(lab):
    body = plate(lab, 0.012)
    temperature = 20.0 + 3000.0 * body.points[:, 0] ** 2 * 30.0
    last = lab.march(body, [(0.0, 20.0), (1.0, temperature)], [rigid_modes(body)])[-1]
    assert np.abs(last.stress).max() > 1e6
    assert np.abs(last.reaction).max() < 1e-6 * np.abs(last.stress).max() * 0.1 * 0.012


def test_free_expansion_by_table_is_exact_in_finite_geometry(lab):
    """600 K on a free cube: every length grows by exactly the table's strain."""
    strain = Table(temperature_C=(20.0, 620.0), values=(0.0, 8.6e-3), source="test")
    metal = lab.metal()
    names = metal.__dataclass_fields__
    metal = type(metal)(**{**{n: getattr(metal, n) for n in names}, "thermal_strain": strain})
    body = Body(mesh=MeshHex().refined(1), materials=(metal,))
    last = lab.march(body, [(0.0, 20.0), (1.0, 620.0)], [rigid_modes(body)])[-1]
    moved = body.points + last.displacement
    assert np.ptp(moved, axis=0) == pytest.approx([1.0086] * 3, rel=1e-9)
