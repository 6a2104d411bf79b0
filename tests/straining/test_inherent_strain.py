"""Inherent strain in part of a member: rotation, shortening, area and deflection by reciprocity.

Source: V. M. Maysel's theorem, see B. A. Boley, J. H. Weiner, Theory of Thermal Stresses, Wiley
1960, ch. 8: the displacement that a strain e* causes where a force P would act is
(1 / P) int sigma^P : e* dV, with sigma^P the elastic stress of that force. For a beam's end moment
sigma^P is M z / I, hence the rotation int e* z dV / I, whatever the shape of the strained part.

All are exact in small geometry and for these hexes (they hold pure bending and pure tension
exactly, and a Galerkin solution is reciprocal), so what is allowed is the residual: 1e-6.
"""

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray

from flamefe.straining.element import StrainOperator
from flamefe.straining.restraint import Load, clamp, rigid_modes
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]

LENGTH, WIDTH, HEIGHT = 0.6, 0.02, 0.1


def strained_beam(lab: SimpleNamespace, share: float) -> tuple[Body, Array]:
    """A flat bar with a wedge of contraction, 60 mm wide at the top, over ``share`` of the depth.

    Returns:
        The bar and its inherent strain (6, ne * 8): 0.4 % contraction along, half of that back
        across.
    """
    body = lab.box((LENGTH, WIDTH, HEIGHT), (40, 2, 12), lab.metal())
    x, _, z = lab.places(body)
    depth = np.clip((z - HEIGHT * (1.0 - share)) / (HEIGHT * share), 0.0, 1.0)
    inside = (depth > 0.0) & (abs(x - 0.22) < 0.03 * depth)
    strain = np.zeros((6, x.size))
    strain[0, inside], strain[1:3, inside] = -4e-3, 2e-3
    return body, strain


@pytest.mark.parametrize("share", [0.5, 2.0 / 3.0, 1.0])
def test_wedge_in_a_free_beam(lab: SimpleNamespace, share: float) -> None:
    """Rotation of the ends int e z dV / I, shortening int e dV / A."""
    body, inherent = strained_beam(lab, share)
    (end,) = lab.march(
        body, [(0.0, 20.0)], [rigid_modes(body)], inherent=inherent, geometry="small",
        tolerance=1e-9,
    )  # fmt: skip
    area, inertia = WIDTH * HEIGHT, WIDTH * HEIGHT**3 / 12.0
    volume = StrainOperator.on(body.mesh).weights
    lever = lab.places(body)[2] - HEIGHT / 2.0
    # the mean turn and shift of an end are those on which an end moment, an end force would work
    bend, pull = (
        lab.face_forces(body, "end", work) - lab.face_forces(body, "start", work)
        for work in (
            lambda x: np.stack([(x[2] - HEIGHT / 2.0) / inertia, 0 * x[0], 0 * x[0]]),
            lambda x: np.stack([0 * x[0] + 1.0 / area, 0 * x[0], 0 * x[0]]),
        )
    )
    rotation = (bend * end.displacement).sum()
    shortening = -(pull * end.displacement).sum()
    assert rotation == pytest.approx((inherent[0] * lever * volume).sum() / inertia, rel=1e-6)
    assert shortening == pytest.approx(-(inherent[0] * volume).sum() / area, rel=1e-6)
    assert abs(end.stress).max() > 50e6  # not a case without any stress
    assert abs(end.reaction).max() < 1e-3  # N


def test_wedge_against_its_closed_form(lab: SimpleNamespace) -> None:
    """Full depth: 2 e tan(half angle), and e tan(half angle) times the depth at the centroid.

    Derived from plane sections, a wedge of 60 mm on a depth of 100 mm. 3 %: quadrature points
    find the sloping sides of the wedge to a few per cent only.
    """
    body, inherent = strained_beam(lab, 1.0)
    (end,) = lab.march(
        body, [(0.0, 20.0)], [rigid_modes(body)], inherent=inherent, geometry="small"
    )
    turns, shifts = [], []
    for face in ("start", "end"):
        nodes = body.nodes_of(face)
        slope, shift = np.polyfit(
            body.points[nodes, 2] - HEIGHT / 2.0, end.displacement[nodes, 0], 1
        )
        turns.append(slope)
        shifts.append(shift)
    tangent = 0.03 / HEIGHT
    assert turns[0] - turns[1] == pytest.approx(2.0 * 4e-3 * tangent, rel=0.03)
    assert shifts[0] - shifts[1] == pytest.approx(4e-3 * tangent * HEIGHT, rel=0.03)


def test_area_of_a_plate_with_shrunk_spots(lab: SimpleNamespace) -> None:
    """However it is distributed: change of area = int (e_x + e_y) dV / h (reciprocity).

    The virtual load is an even pull on all four edges, whose stress is the same everywhere.
    """
    side, thick = 0.2, 0.004
    body = lab.box((side, side, thick), (24, 24, 1), lab.metal())
    x, y, _ = lab.places(body)
    inherent = np.zeros((6, x.size))
    for a, b, radius in ((0.05, 0.06, 0.015), (0.14, 0.11, 0.03)):
        inherent[:2, np.hypot(x - a, y - b) < radius] = -3e-3
    inherent[2] = -inherent[0] - inherent[1]
    (end,) = lab.march(
        body, [(0.0, 20.0)], [rigid_modes(body)], inherent=inherent, geometry="small",
        tolerance=1e-9,
    )  # fmt: skip
    outward = sum(
        sign * lab.face_forces(body, face, lambda q, i=axis: np.eye(3)[i][:, None, None] + 0 * q)
        for face, axis, sign in (("start", 0, -1), ("end", 0, 1), ("near", 1, -1), ("far", 1, 1))
    )
    growth = (outward * end.displacement).sum() / thick
    volume = StrainOperator.on(body.mesh).weights
    expected = ((inherent[0] + inherent[1]) * volume).sum() / thick
    assert expected == pytest.approx(-6e-3 * np.pi * (0.015**2 + 0.03**2), rel=0.05)
    assert growth == pytest.approx(expected, rel=1e-6)


def test_deflection_anywhere_by_reciprocity(lab: SimpleNamespace) -> None:
    """Maysel: u of one node in one direction = int sigma of a unit force there : e* dV.

    A distorted, clamped block of no special shape, with strain of all six components.
    """
    body = lab.shaken(lab.box((0.2, 0.06, 0.03), (8, 3, 2), lab.metal()), 0.3)
    support = clamp(body, "start")
    inherent = np.random.default_rng(5).normal(0.0, 1e-3, (6, body.mesh.nelements * 8))
    (strained,) = lab.march(
        body, [(0.0, 20.0)], [support], inherent=inherent, geometry="small", tolerance=1e-10
    )
    volume = StrainOperator.on(body.mesh).weights
    for node, axis in ((int(np.argmax(body.points.sum(axis=1))), 2), (40, 1)):
        force = np.zeros(body.points.shape)
        force[node, axis] = 1e3
        (pulled,) = lab.march(
            body, [(0.0, 20.0)], [support], [Load(forces=force)], geometry="small",
            tolerance=1e-10,
        )  # fmt: skip
        work = (pulled.stress * inherent * volume).sum()
        assert strained.displacement[node, axis] * 1e3 == pytest.approx(work, rel=1e-5)
