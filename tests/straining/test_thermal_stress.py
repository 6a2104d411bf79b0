"""Thermal stress and thermal bending against benchmarks and closed forms."""

import numpy as np
import pytest
from skfem import MeshHex

from flamefe.basics.table import Table
from flamefe.straining.restraint import Load, rigid_modes
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh


def test_nafems_t1_membrane_with_hot_spot(lab):
    """NAFEMS, The Standard NAFEMS Benchmarks, 1990, test T1: stress beside the spot is 50 MPa.

    Quarter of a 20 x 20 mm membrane, spot of 1 mm radius at alpha T = 1e-3, E = 100 GPa; the
    closed form for a wide plate, E alpha T / 2, says the same.
    """
    ring = []
    radii = np.concatenate(
        ([1.0], 1.0 + np.geomspace(0.02, 1.0, 12), np.geomspace(2.0, 10.0, 13)[1:])
    )
    angles = np.linspace(0, np.pi / 2, 17)
    outer = np.array([[min(1 / abs(np.cos(a)), 1 / abs(np.sin(a))) if 0 < a < np.pi / 2 else 1.0]
                      for a in angles])[:, 0]  # fmt: skip
    for r in radii:
        grow = 1.0 + (outer - 1.0) * ((r - 1.0) / 9.0)
        ring.append(np.column_stack((r * grow * np.cos(angles), r * grow * np.sin(angles))))
    around = np.array(ring)  # (radii, angles, 2)
    square = np.linspace(0, 0.5, 9)
    inner = np.stack(np.meshgrid(square, square, indexing="ij"), axis=-1)

    def bridge(edge, arc):
        share = np.array([0, 0.3, 0.55, 0.75, 0.88, 0.95, 0.98, 1.0])[:, None, None]
        return (1 - share) * edge + share * arc

    first = bridge(inner[-1, :], around[0, :9])
    second = bridge(inner[::-1, -1], around[0, 8:])
    blocks = [around, first, second, inner]
    solid = [
        np.stack([np.concatenate((b, np.full((*b.shape[:2], 1), z)), axis=-1) for z in (0, 0.02)],
                 axis=2) * 1e-3
        for b in blocks
    ]  # fmt: skip
    hot = lab.metal(modulus=100e9, expansion=1e-5)
    cold = lab.metal(modulus=100e9, expansion=0.0)
    body = lab.blocks(solid, (cold, hot), owners=[0, 1, 1, 1])
    held = lab.planes(body)
    last = lab.march(body, [(0.0, 20.0), (1.0, 120.0)], [held], geometry="small")[-1]
    # a thickness away from the spot's edge, where the sheet's two faces are plane again; the
    # closed form falls off as 1 / r^2
    for r in radii[4:9]:
        stress = lab.stress_at(body, last, (r * 1e-3, 0.0, 0.0), owner=0)
        assert stress[1] / 1e6 * r**2 == pytest.approx(50.0, rel=0.03)
        assert stress[0] / 1e6 * r**2 == pytest.approx(-50.0, rel=0.05)


def test_nafems_le11_solid_cylinder_taper_sphere(lab):
    """NAFEMS 1990, test LE11: sigma_zz at the inner lower edge is -105 MPa.

    A quarter of the solid of revolution; temperature sqrt(x^2 + y^2) + z, alpha 2.3e-4.
    """
    a45 = np.radians(45.0)
    levels = 10

    # profile of the meridian: outer edge and sphere of radius 1, then the taper, then the cylinder
    def section(u, v):
        """(r, z) at shares u from inside to outside, v from below to the top."""
        middle_in, middle_out = np.array([np.cos(a45), np.sin(a45)]), np.array([1.1062, 1.045])
        if v <= 1.0:
            turn = v * a45
            arc = np.array([np.cos(turn), np.sin(turn)])
            # outside a sphere of radius 1.4 up to (1.2124, 0.7), then the taper
            knee = np.array([1.2124, 0.7])
            lift = np.radians(60.0 * v)
            outer = (
                1.4 * np.array([np.cos(lift), np.sin(lift)])
                if v <= 0.5
                else knee + (middle_out - knee) * (v - 0.5) / 0.5
            )
            return arc + u * (outer - arc)
        if v <= 2.0:
            low_in, low_out = middle_in, middle_out
            high_in, high_out = np.array([0.7071, 1.39]), np.array([1.0, 1.39])
            return (1 - (v - 1)) * (low_in + u * (low_out - low_in)) + (v - 1) * (
                high_in + u * (high_out - high_in)
            )
        low_in, low_out = np.array([0.7071, 1.39]), np.array([1.0, 1.39])
        high_in, high_out = np.array([0.7071, 1.79]), np.array([1.0, 1.79])
        return (3 - v) * (low_in + u * (low_out - low_in)) + (v - 2) * (
            high_in + u * (high_out - high_in)
        )

    us = np.linspace(0, 1, 11) ** 1.3
    vs = np.concatenate((np.linspace(0, 1, 2 * levels + 1), np.linspace(1, 2, 6)[1:],
                         np.linspace(2, 3, 5)[1:]))  # fmt: skip
    turns = np.linspace(0, np.pi / 2, 15)
    flat = np.array([[section(u, v) for v in vs] for u in us])  # (u, v, 2)
    block = np.empty((len(us), len(turns), len(vs), 3))
    for j, turn in enumerate(turns):
        block[:, j, :, 0] = flat[:, :, 0] * np.cos(turn)
        block[:, j, :, 1] = flat[:, :, 0] * np.sin(turn)
        block[:, j, :, 2] = flat[:, :, 1]
    body = lab.blocks([block], (lab.metal(modulus=210e9, expansion=2.3e-4),))
    p = body.points
    flat_ends = (np.abs(p[:, 2]) < 1e-9) | (np.abs(p[:, 2] - 1.79) < 1e-9)
    held = lab.hold(body, x=np.abs(p[:, 0]) < 1e-6, y=np.abs(p[:, 1]) < 1e-6, z=flat_ends)
    temperature = 20.0 + np.hypot(p[:, 0], p[:, 1]) + p[:, 2]
    last = lab.march(body, [(0.0, 20.0), (1.0, temperature)], [held], geometry="small")[-1]
    stress = lab.stress_at(body, last, (1.0, 0.0, 0.0))
    assert stress[2] / 1e6 == pytest.approx(-105.0, rel=0.03)


def test_bimetal_strip(lab):
    """S. Timoshenko, J. Opt. Soc. Am. 11 (1925) 233-255: curvature of a heated bimetal strip.

    Steel 2 mm on aluminium 3 mm, 100 K, narrow strip of Poisson's ratio 0.
    """
    z = np.concatenate((np.linspace(0, 0.002, 3), np.linspace(0.002, 0.005, 4)[1:]))
    mesh = box_mesh(np.linspace(0, 0.2, 21), [0, 0.005], z)
    steel = lab.metal(modulus=210e9, expansion=12e-6, poisson=0.0)
    alloy = lab.metal(modulus=70e9, expansion=23e-6, poisson=0.0)
    owner = (mesh.p[2, mesh.t].mean(axis=0) > 0.002).astype(np.int64)
    body = Body(mesh=mesh, materials=(steel, alloy), owner=owner)
    last = lab.march(body, [(0.0, 20.0), (1.0, 120.0)], [rigid_modes(body)], geometry="small")[-1]
    m, n, h = 2.0 / 3.0, 3.0, 0.005
    ratio = 3 * (1 + m) ** 2 + (1 + m * n) * (m**2 + 1 / (m * n))
    curvature = 6 * (23e-6 - 12e-6) * 100.0 * (1 + m) ** 2 / (h * ratio)
    assert curvature == pytest.approx(0.328358, abs=1e-6)
    p, u = body.points, last.displacement
    line = (np.abs(p[:, 1]) < 1e-9) & (np.abs(p[:, 2]) < 1e-9)
    fit = np.polyfit(p[line, 0], u[line, 2], 2)
    assert abs(2 * fit[0]) == pytest.approx(curvature, rel=0.01)


def plate(lab, thickness, cells=(4, 4, 4)):
    return lab.box((0.1, 0.1, thickness), cells, lab.metal())


def test_free_plate_under_a_gradient_through_its_thickness(lab):
    """B. A. Boley, J. H. Weiner, Theory of Thermal Stresses, 1960: alpha dT / h, no stress."""
    h, rise = 0.012, 300.0
    body = plate(lab, h)
    temperature = 20.0 + rise * (body.points[:, 2] / h)
    moments = [(0.0, 20.0), (1.0, temperature)]
    last = lab.march(body, moments, [rigid_modes(body)], geometry="small")[-1]
    assert np.abs(last.stress).max() < 1e-3 * 210e9 * 12e-6 * rise
    p, u = body.points, last.displacement
    line = (np.abs(p[:, 1]) < 1e-9) & (np.abs(p[:, 2]) < 1e-9)
    curvature = -2 * np.polyfit(p[line, 0], u[line, 2], 2)[0]
    assert curvature == pytest.approx(12e-6 * rise / h, rel=1e-3)


def test_clamped_plate_under_a_gradient_through_its_thickness(lab):
    """Boley & Weiner 1960: edges clamped, sigma_max = E alpha dT / (2 (1 - nu)) = 540 MPa."""
    h, rise = 0.012, 300.0
    body = plate(lab, h)
    p = body.points
    temperature = 20.0 + rise * (p[:, 2] / h - 0.5)
    edge = (np.abs(p[:, :2] * (0.1 - p[:, :2])) < 1e-12).any(axis=1)
    held = lab.hold(body, x=edge, y=edge, z=edge & (np.abs(p[:, 2]) < 1e-9))
    last = lab.march(body, [(0.0, 20.0), (1.0, temperature)], [held], geometry="small")[-1]
    stress = lab.stress_at(body, last, (0.05, 0.05, h))
    assert stress[0] / 1e6 == pytest.approx(-540.0, rel=0.01)
    assert stress[1] / 1e6 == pytest.approx(-540.0, rel=0.01)


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


@pytest.mark.parametrize(
    ("ratio", "pressure", "residual"),
    [(1.0, 177.5, 0.0), (1.5, 258.1, None), (2.0, 313.2, 41.7), (4.0, 355.0, 276.0)],
)
def test_elastic_plastic_hot_spot(lab, ratio, pressure, residual):
    """Hot disc in a wide cold plate, plane stress, von Mises; m = E alpha dT / sy.

    Stress in the spot hot, and tension left when cold. Derived: independent axisymmetric
    finite elements of 319 nodes (von Mises); by Tresca in closed form p = sy/2 (1 + ln m).
    """
    strength = 355e6
    rise = ratio * strength / (210e9 * 12e-6)
    radii = np.concatenate(([1.0], 1.0 + np.geomspace(0.015, 1.0, 22), np.geomspace(2, 60, 20)[1:]))
    spot, plate_metal = lab.metal(strength=strength), lab.metal(strength=strength, expansion=0.0)
    quarter = _quarter_disc(lab, radii, spot, plate_metal)
    held = lab.planes(quarter)
    way = [*np.linspace(0, rise, 17), *np.linspace(rise, 0, 17)[1:]]
    moments = [(float(i), 20.0 + t) for i, t in enumerate(way)]
    found = lab.march(quarter, moments, [held], geometry="small", tolerance=1e-5)
    inside = np.repeat(np.hypot(*quarter.points[quarter.mesh.t][..., :2].mean(axis=0).T) < 5e-3, 8)
    hot, cold = found[16], found[-1]
    assert -hot.stress[0, inside].mean() / 1e6 == pytest.approx(pressure, rel=0.01)
    assert -hot.stress[1, inside].mean() / 1e6 == pytest.approx(pressure, rel=0.01)
    if residual is not None:
        assert cold.stress[0, inside].mean() / 1e6 == pytest.approx(residual, rel=0.03, abs=1.0)


def _quarter_disc(lab, radii, spot, around):
    """Quarter of a disc of outer radius ``radii[-1]`` cm, 0.1 mm thick; spot within 1 cm."""
    angles = np.linspace(0, np.pi / 2, 17)
    ring = np.array([[(r * np.cos(t), r * np.sin(t)) for t in angles] for r in radii])
    half = len(angles) // 2
    square = np.linspace(0, 0.5, half + 1)
    inner = np.stack(np.meshgrid(square, square, indexing="ij"), axis=-1)
    share = np.array([0, 0.3, 0.55, 0.75, 0.88, 0.95, 0.985, 1.0])[:, None, None]
    first = (1 - share) * inner[-1, :] + share * ring[0, : half + 1]
    second = (1 - share) * inner[::-1, -1] + share * ring[0, half:]
    solid = [
        np.stack([np.concatenate((b, np.full((*b.shape[:2], 1), z)), axis=-1) for z in (0, 0.01)],
                 axis=2) * 1e-2
        for b in (ring, first, second, inner)
    ]  # fmt: skip
    return lab.blocks(solid, (around, spot), owners=[0, 1, 1, 1])


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
