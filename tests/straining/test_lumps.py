"""Lumps of shrinkage on coarse meshes: nothing of their forces and moments is lost."""

import numpy as np
import pytest
from skfem import MeshHex

from flamefe.basics.errors import OutOfRange
from flamefe.straining.carrier import Carrier
from flamefe.straining.elastic import ElasticPart
from flamefe.straining.lumps import Lumps, lumps_of
from flamefe.straining.restraint import RestraintError, Support
from flamefe.straining.wall import Wall
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.standard import material

SIZE = (0.6, 0.4, 0.01)


def shaken_plate(cells, share=0.2, layers=1):
    """A plate of distorted hexes."""
    axes = [np.linspace(0, s, n + 1) for s, n in zip(SIZE, (*cells, layers), strict=True)]
    mesh = box_mesh(*axes)
    points = np.array(mesh.p)
    random = np.random.default_rng(4)
    for axis in (0, 1):
        step = SIZE[axis] / cells[axis]
        inner = (points[axis] > 1e-9) & (points[axis] < SIZE[axis] - 1e-9)
        points[axis, inner] += share * step * random.uniform(-1, 1, inner.sum())
    return MeshHex(points, mesh.t)


@pytest.fixture(scope="module")
def lumps():
    random = np.random.default_rng(7)
    places = random.uniform(0.02, 0.98, (300, 3)) * SIZE
    return Lumps(places=places, strains=1e-9 * random.normal(-1.0, 1.0, (300, 6)))


@pytest.mark.parametrize("cells", [(2, 2), (5, 3), (13, 9)])
@pytest.mark.parametrize("shared", [False, True])
def test_forces_and_moments_are_exact_whatever_the_mesh(lumps, cells, shared):
    """Zeroth and first moments in all directions to rounding (1e-12), on distorted hexes too."""
    mesh = shaken_plate(cells, share=0.2)
    normals = np.array([0.0, 0.0, 1.0]) if shared else None
    field = Carrier(mesh).spread(lumps, normals=normals)
    carried = lumps_of(mesh, field.T.reshape(-1, 8, 6))
    size = np.abs(lumps.strains).sum(axis=0)
    assert np.abs(carried.total - lumps.total).max() < 1e-12 * size.max()
    for axis in range(3):
        lever = np.eye(3)[axis]
        off = carried.moment(lever) - lumps.moment(lever)
        assert np.abs(off).max() < 1e-12 * size.max() * SIZE[axis]


def test_the_inherent_strain_is_not_smeared_beyond_the_hexes_that_share_it():
    """One lump touches one hex, or four when it is shared: the test above could not fail on a
    map that spreads everything over the whole plate."""
    mesh = shaken_plate((6, 4), share=0.0)
    lump = Lumps(places=[[0.27, 0.13, 0.004]], strains=[[-1e-9, 0, 0, 0, 0, 0]])
    carrier = Carrier(mesh)
    for normals, count in ((None, 1), (np.array([0.0, 0, 1]), 4)):
        field = carrier.spread(lump, normals=normals).reshape(6, -1, 8)
        assert int(np.any(field != 0, axis=(0, 2)).sum()) == count


def test_a_lump_does_the_work_of_its_place():
    """Deflections by a lump on a coarse and on a fine mesh: a strip bent by one kink."""
    ends = []
    for cells in ((6, 2), (12, 2), (24, 4)):
        mesh = shaken_plate(cells, share=0.0)
        part = ElasticPart(Body(mesh=mesh, materials=(material("S355"),)))
        y = (np.arange(8) + 0.5) * SIZE[1] / 8
        high, low = (
            np.column_stack((0.233 + 0 * y, y, 0.005 + h + 0 * y)) for h in (0.002, -0.002)
        )
        bent = np.zeros((8, 6))
        bent[:, 0] = -1e-9
        heat = Lumps(places=np.concatenate((high, low)), strains=np.concatenate((bent, -bent)))
        u = part.movement(heat, normals=np.array([0.0, 0.0, 1.0]))
        marks = np.array([[0.0, 0.2, 0.005], [0.5, 0.2, 0.005], [0.6, 0.2, 0.005]])
        z = part.at(marks).moved(u)[:, 2]
        ends.append(z[0] + (z[2] - z[0]) * 0.5 / 0.6 - z[1])
    turn = 12.0 * 8 * 2e-9 * 0.002 / (SIZE[1] * SIZE[2] ** 3)
    exact = turn * 0.233 * 0.1 / 0.6
    assert ends == pytest.approx([exact] * 3, rel=0.02)


def test_places_off_the_part_are_refused(lumps):
    carrier = Carrier(shaken_plate((4, 3)))
    off = Lumps(places=[[0.7, 0.1, 0.0]], strains=np.zeros((1, 6)))
    with pytest.raises(OutOfRange, match="1 places of heat lie off the workpiece"):
        carrier.spread(off)
    hexes, local = carrier.find(lumps.places)
    assert hexes.shape == (300,)
    assert local.min() >= 0.0
    assert local.max() <= 1.0


def test_a_loose_part_is_refused():
    mesh = shaken_plate((3, 2))
    body = Body(mesh=mesh, materials=(material("S355"),))
    with pytest.raises(RestraintError, match="not held"):
        ElasticPart(body, Support(held=np.zeros((mesh.p.shape[1], 3), dtype=bool)))


def test_the_wall_is_found_on_both_sides_and_over_a_stiffener():
    mesh = box_mesh(np.linspace(0, 1, 3), np.linspace(0, 1, 3), [0.0, 0.01, 0.11])
    keep = mesh.p[2, mesh.t].max(axis=0) < 0.05
    keep |= mesh.p[0, mesh.t].max(axis=0) < 0.6  # the upper half stands on one side only
    wall = Wall(mesh.restrict(np.flatnonzero(keep)))
    places = np.array([[0.25, 0.5, 0.003], [0.75, 0.5, 0.003]])
    down = np.tile([0.0, 0.0, -1.0], (2, 1))
    middles = wall.middles(places, down, 0.01)
    assert middles[:, 2] == pytest.approx([0.005, 0.005])
    with pytest.raises(OutOfRange, match="no face"):
        wall.middles(np.array([[2.0, 0.5, 0.0]]), down[:1], 0.01)


def test_a_heat_for_another_thickness_is_refused():
    plate = box_mesh(np.linspace(0, 1, 3), np.linspace(0, 1, 3), [0.0, 0.012])
    up = np.array([[0.0, 0.0, 1.0]])
    with pytest.raises(OutOfRange, match="12 mm thick where a heat stands whose effect was"):
        Wall(plate).middles(np.array([[0.3, 0.3, 0.006]]), up, 0.008)
    with pytest.raises(OutOfRange, match="found on 20 mm"):
        Wall(plate).middles(np.array([[0.3, 0.3, 0.006]]), up, 0.02)
