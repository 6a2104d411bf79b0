"""Patch tests: a distorted mesh gives a constant state exactly, elastic, plastic, turned.

The state of constant strain is the exact solution, so what is allowed is only the residual at
which equilibrium stops: 1e-10 of the stress forces; a hex that fails the patch test misses by
per cent. Source of the test: O. C. Zienkiewicz, R. L. Taylor, The Finite Element Method, volume 1,
ch. 11 (the patch test); of the correction that lets incompatible modes pass: Taylor, Beresford and
Wilson 1976.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray

from flamefe.straining.element import StrainOperator, green_lagrange_strain
from flamefe.straining.equilibrium import Solving, strain_along
from flamefe.straining.plasticity import PointProperties, tangent
from flamefe.straining.restraint import Load, Support, TimeLine, rigid_modes
from flamefe.straining.schedule import targets
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]

COMPONENTS = ("xx", "yy", "zz", "xy", "yz", "zx")


def patch(lab: SimpleNamespace, **properties: object) -> Body:
    """A 3 x 3 x 3 block, its nodes moved by up to 0.3 of an edge, on faces within the face."""
    body = lab.box((0.03, 0.045, 0.024), (3, 3, 3), lab.metal(**properties))
    return lab.shaken(body, 0.3)


def outside(body: Body) -> NDArray[np.bool_]:
    """Which nodes lie on the surface."""
    mask = np.zeros(body.points.shape[0], dtype=bool)
    mask[body.mesh.boundary_nodes()] = True
    return mask


def driven(lab: SimpleNamespace, body: Body, gradient: Array) -> Support:
    """The surface moved by u = gradient x."""
    skin = outside(body)
    return lab.hold(body, x=skin, y=skin, z=skin, push=body.points @ gradient.T)


def gradient_of(component: int, size: float) -> Array:
    """Symmetric displacement gradient of one strain component (shear doubled)."""
    j, k = ((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (2, 0))[component]
    gradient = np.zeros((3, 3))
    gradient[j, k] += 0.5 * size
    gradient[k, j] += 0.5 * size
    return gradient


@pytest.mark.parametrize("component", range(6), ids=COMPONENTS)
def test_constant_strain_elastic(lab: SimpleNamespace, component: int) -> None:
    body = patch(lab)
    gradient = gradient_of(component, 1e-3)
    (end,) = lab.march(
        body, [(0.0, 20.0)], [driven(lab, body, gradient)], geometry="small", tolerance=1e-11
    )
    at = PointProperties.of(body.materials[0], np.full(1, 20.0), np.full(1, 20.0))
    expected = tangent(at)[0] @ (1e-3 * np.eye(6)[component])
    np.testing.assert_allclose(end.stress, expected[:, None].repeat(216, 1), atol=1e-2)  # of 2e8
    np.testing.assert_allclose(end.displacement, body.points @ gradient.T, atol=1e-14)


@pytest.mark.parametrize("geometry", ["small", "finite"])
def test_free_heating_gives_no_stress(lab: SimpleNamespace, geometry: str) -> None:
    """Uniform heat, held at rigid modes only: every length grows by alpha dT, no stress."""
    body = patch(lab)
    end = lab.march(body, [(0.0, 20.0), (1.0, 620.0)], [rigid_modes(body)], geometry=geometry)[-1]
    assert abs(end.stress).max() < 1.0  # Pa; held it would be E alpha dT = 1.5e9
    moved = body.points + end.displacement
    for i, j in ((0, 63), (7, 50), (21, 42)):
        before = np.linalg.norm(body.points[i] - body.points[j])
        after = np.linalg.norm(moved[i] - moved[j])
        assert after / before - 1.0 == pytest.approx(7.2e-3, rel=1e-8)


def test_uniform_pull_past_yield(lab: SimpleNamespace) -> None:
    """Uniaxial stress s past yield on a distorted mesh: e = s/E + (s - s_y)/H, and back.

    Linear hardening by hand; laterally -nu s/E - half the plastic strain.
    """
    body = patch(lab, strength=300e6, hardening=2e9)
    load = lab.face_forces(body, "end", lambda x: np.stack([0 * x[0] + 320e6, 0 * x[0], 0 * x[0]]))
    pull = Load(forces=load, history=TimeLine(times=(0.0, 1.0, 2.0), factors=(0.5, 1.0, 0.0)))
    moments = lab.march(
        body, [(0.0, 20.0), (1.0, 20.0), (2.0, 20.0)], [lab.planes(body)], [pull],
        geometry="small", tolerance=1e-10,
    )  # fmt: skip
    plastic = 20e6 / 2e9
    for moment, stress, along in (
        (moments[0], 160e6, 0.0),
        (moments[1], 320e6, plastic),
        (moments[2], 0.0, plastic),
    ):
        across = -0.3 * stress / 210e9 - 0.5 * along
        stretch = np.array([stress / 210e9 + along, across, across])
        np.testing.assert_allclose(moment.displacement, body.points * stretch, atol=1e-11)
        np.testing.assert_allclose(moment.stress[0], stress, atol=1.0)
        np.testing.assert_allclose(moment.stress[1:], 0.0, atol=1.0)
        np.testing.assert_allclose(moment.state.accumulated, along, atol=1e-9)


def test_uniform_shear_past_yield(lab: SimpleNamespace) -> None:
    """Simple shear g past yield, plastic part p = (G g - k)/(G + H/3), k = s_y / sqrt 3.

    Source: R. Hill, The Mathematical Theory of Plasticity, Oxford 1950 (Mises: yield in shear is
    1/sqrt 3 of that in tension); linear hardening by hand.
    """
    body = patch(lab, strength=300e6, hardening=3e9)
    (end,) = lab.march(
        body, [(0.0, 20.0)], [driven(lab, body, np.array([[0, 0.01, 0], [0, 0, 0], [0, 0, 0]]))],
        geometry="small", tolerance=1e-11,
    )  # fmt: skip
    shear = 210e9 / 2.6
    slip = (shear * 0.01 - 300e6 / np.sqrt(3.0)) / (shear + 1e9)
    np.testing.assert_allclose(end.stress[3], shear * (0.01 - slip), rtol=1e-8)
    np.testing.assert_allclose(end.state.plastic_strain[3], slip, rtol=1e-8)
    np.testing.assert_allclose(np.delete(end.stress, 3, axis=0), 0.0, atol=1.0)
    np.testing.assert_allclose(end.displacement[:, 0], 0.01 * body.points[:, 1], atol=1e-13)


def test_constant_large_strain(lab: SimpleNamespace) -> None:
    """A large homogeneous deformation F: S = C : E everywhere, face forces F S N A, by hand."""
    body = patch(lab, strength=1e12)
    gradient = np.array([[0.05, 0.12, -0.03], [-0.02, 0.04, 0.08], [0.06, -0.05, -0.06]])
    turn = np.eye(3) + gradient
    (end,) = lab.march(body, [(0.0, 20.0)], [driven(lab, body, gradient)], tolerance=1e-10)
    green = 0.5 * (turn.T @ turn - np.eye(3))
    at = PointProperties.of(body.materials[0], np.full(1, 20.0), np.full(1, 20.0))
    doubled = np.array([*np.diag(green), 2 * green[0, 1], 2 * green[1, 2], 2 * green[2, 0]])
    expected = tangent(at)[0] @ doubled
    np.testing.assert_allclose(end.stress, expected[:, None].repeat(216, 1), rtol=1e-7)
    s = expected
    second = np.array([[s[0], s[3], s[5]], [s[3], s[1], s[4]], [s[5], s[4], s[2]]])
    # virtual work of the support forces on the field x_axis / size: F S N A of that cut
    size = body.points.max(axis=0)
    for axis in range(3):
        others = [size[i] for i in range(3) if i != axis]
        normal = np.eye(3)[axis]
        area = np.prod(others)
        work = (end.reaction * (body.points[:, [axis]] / size[axis])).sum(axis=0)
        np.testing.assert_allclose(work, turn @ second @ normal * area, rtol=1e-7)


def test_quarter_turn_gives_no_stress(lab: SimpleNamespace) -> None:
    """A rigid turn of 90 degrees of a distorted mesh: no strain, stress or force, to round-off."""
    body = patch(lab)
    operator = StrainOperator.on(body.mesh)
    axis = np.array([1.0, 2.0, -1.0]) / np.sqrt(6.0)
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    turn = np.eye(3) + cross + cross @ cross  # Rodrigues' formula at 90 degrees
    extended = np.zeros((operator.rows, 3))
    extended[: operator.nodes] = body.points @ (turn - np.eye(3)).T
    strain = green_lagrange_strain(operator.slopes(extended))
    assert abs(strain).max() < 1e-13


def test_part_follows_a_turned_face(lab: SimpleNamespace) -> None:
    """One face is turned by 90 degrees in steps of 10; the rest follows by itself, unstressed."""
    body = patch(lab)
    points, face = body.points, body.nodes_of("start")
    held = np.zeros(points.shape, dtype=bool)
    held[face] = True
    (still,) = targets(
        points=points, moments=[(0.0, np.full(64, 20.0), "")], supports=[Support(held=held)]
    )
    schedule = []
    for angle in range(0, 91, 10):
        c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        turn = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        where = np.where(held, points @ (turn - np.eye(3)).T, np.nan)
        schedule.append(replace(still, time=float(angle), displacement=where))
    end = list(strain_along(body, schedule, solving=Solving(tolerance=1e-6)))[-1]
    np.testing.assert_allclose(end.displacement, points @ (turn - np.eye(3)).T, atol=1e-9)
    assert abs(end.stress).max() < 1e4  # Pa: 5e-8 of E; a linear strain would be 1 x E
