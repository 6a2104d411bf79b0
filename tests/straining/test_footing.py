"""Where devices stand: the resultant at the place itself, on any mesh and skin."""

import numpy as np
import pytest
from skfem import MeshHex

from flamefe.straining.footing import patch_at
from flamefe.workpiece.body import Body
from flamefe.workpiece.standard import material

STEEL = (material("S355"),)


def skewed() -> Body:
    """Hexes that are neither boxes nor alike; the faces of the box stay flat."""
    mesh = MeshHex.init_tensor(*(np.linspace(0, 1, n) for n in (5, 4, 3)))
    p = mesh.p.copy()
    bump = 0.05 * np.sin(np.pi * p[0]) * np.sin(np.pi * p[1])
    p[0] += bump * (1 - p[2])
    p[1] -= bump
    return Body(mesh=MeshHex(p, mesh.t), materials=STEEL)


def about(body: Body, patch) -> np.ndarray:
    return patch.shares @ body.points[patch.nodes]


@pytest.mark.parametrize("place", [(0.37, 0.61), (0.5, 0.5), (0.0, 0.42), (1.0, 1.0), (0.98, 0.3)])
@pytest.mark.parametrize("radius", [1e-4, 0.05, 0.3])
def test_resultant_acts_at_the_place(place, radius):
    body = skewed()
    below = patch_at(body, (*place, 0.0), radius, (0, 0, 1), both=False)
    assert about(body, below) == pytest.approx((*place, 0.0), abs=1e-9)
    assert below.shares.sum() == pytest.approx(1.0)
    assert (below.shares > 0.0).all()
    assert 0.0 < below.area <= np.pi * radius**2 * (1 + 1e-9)


def test_area_is_what_stands_on_the_skin():
    body = skewed()
    disc = np.pi * 0.1**2
    for place, share in (((0.5, 0.5), 1.0), ((0.0, 0.5), 0.5), ((0.0, 0.0), 0.25)):
        patch = patch_at(body, (*place, 0.0), 0.1, (0, 0, 1), both=False)
        assert patch.area == pytest.approx(share * disc, rel=0.1)


def test_wide_foot_of_a_thin_plate_stays_on_its_own_skin():
    mesh = MeshHex.init_tensor(np.linspace(0, 1, 9), np.linspace(0, 1, 9), np.array([0, 0.002]))
    body = Body(mesh=mesh, materials=STEEL)
    for side, level in ((0.0, 0.0), (0.002, 0.002)):
        patch = patch_at(body, (0.4, 0.4, side), 0.2, (0, 0, 1), both=True)
        assert body.points[patch.nodes, 2] == pytest.approx(level)


def test_distances_of_a_place_in_the_air_are_told():
    body = Body(mesh=MeshHex().refined(2), materials=STEEL)
    patch = patch_at(body, (0.5, 0.5, -0.02), 0.1, (0, 0, 1), both=False)
    assert (patch.off, patch.beside) == pytest.approx((0.02, 0.0), abs=1e-9)
    patch = patch_at(body, (-0.03, 0.5, 0.0), 0.1, (0, 0, 1), both=False)
    assert (patch.off, patch.beside) == pytest.approx((0.0, 0.03), abs=1e-9)


def test_the_skin_nearest_along_the_push_is_taken():
    """Two plates one above the other, as the flanges of a beam: both have skins that face down."""
    one = MeshHex.init_tensor(np.linspace(0, 1, 5), np.linspace(0, 1, 5), np.array([0, 0.1]))
    both = Body(mesh=one + one.translated((0, 0, 0.5)), materials=STEEL)
    for level in (0.0, 0.5):
        patch = patch_at(both, (0.3, 0.7, level), 0.15, (0, 0, 1), both=False)
        assert both.points[patch.nodes, 2] == pytest.approx(level)
        assert about(both, patch) == pytest.approx((0.3, 0.7, level), abs=1e-9)
