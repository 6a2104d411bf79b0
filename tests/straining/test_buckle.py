"""Stressed buckles: the height is met, in equilibrium, and what can't stand is refused."""

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.straining.buckle import NoBuckle, stressed_buckle
from flamefe.straining.restraint import Support, rigid_modes
from flamefe.straining.solving import Solving
from flamefe.straining.upright import Upright
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]

CLOSE = Solving(tolerance=1e-5)


def _panel(lab: SimpleNamespace, cells: int = 10) -> tuple[Body, Support]:
    """200 x 200 x 1 mm with clamped edges."""
    body = lab.box((0.2, 0.2, 0.001), (cells, cells, 2), lab.metal())
    held = np.zeros(body.points.shape, dtype=bool)
    for face in ("start", "end", "near", "far"):
        held[body.nodes_of(face)] = True
    return body, Support(held=held)


def _half_wave(body: Body) -> Array:
    x, y = body.points[:, 0], body.points[:, 1]
    return np.asarray(np.sin(np.pi * x / 0.2) * np.sin(np.pi * y / 0.2))


@pytest.mark.parametrize("height", [-2e-3, 3e-3])
def test_the_height_is_met_and_stays(lab: SimpleNamespace, height: float) -> None:
    """Either side; a march that starts there finds it in equilibrium and stable."""
    body, edges = _panel(lab)
    buckle = stressed_buckle(body, height * _half_wave(body), edges.held, solving=CLOSE)
    middle = int(np.argmax(_half_wave(body)))
    assert buckle.height[middle] == pytest.approx(height, rel=2e-3)
    assert np.abs(buckle.inherent_strain[2:]).max() == 0.0
    assert (buckle.inherent_strain[:2] == buckle.strain).all()

    found = lab.march(
        body, [(0.0, 20.0), (1.0, 20.0)], [edges], inherent=buckle.inherent_strain,
        start=buckle.start, tolerance=1e-4,
    )  # fmt: skip
    moved = found[-1].displacement - buckle.start[: len(body.points)]
    assert np.abs(moved).max() < 1e-2 * abs(height)
    assert found[-1].events == ()


def test_strain_is_that_of_the_closed_form(lab: SimpleNamespace) -> None:
    """Simply supported square, edges straight and fixed across, one term of the series::

        e = pi^2 h^2 / (6 (1 + nu) a^2) + (3 - nu) / 16 (pi w / a)^2

    Good up to about w = h; beyond that the shape is no longer one sine.

    Source: S. P. Timoshenko, J. M. Gere, Theory of Elastic Stability, McGraw-Hill 1961,
    section 9.13 (large deflections of buckled plates, from memory; here equal in both directions).
    """
    side, thickness, poisson = 0.2, 0.001, 0.3
    body = lab.box((side / 2, side / 2, thickness), (16, 16, 2), lab.metal(poisson=poisson))
    p, end = body.points, side / 2 - 1e-9
    line = np.abs(p[:, 2] - thickness / 2) < 1e-9
    left, near = (p[:, 0] < 1e-9) & line, (p[:, 1] < 1e-9) & line
    hold = lab.hold(body, x=left | (p[:, 0] > end), y=near | (p[:, 1] > end), z=left | near)
    critical = np.pi**2 * thickness**2 / (6.0 * (1.0 + poisson) * side**2)
    for height in (0.3e-3, 1e-3):
        buckle = stressed_buckle(body, height * _half_wave(body), hold.held, solving=CLOSE)
        exact = critical + (3.0 - poisson) / 16.0 * (np.pi * height / side) ** 2
        assert buckle.strain == pytest.approx(exact, rel=0.03)


def test_what_cannot_stand_is_refused(lab: SimpleNamespace) -> None:
    body, edges = _panel(lab, cells=6)
    with pytest.raises(NoBuckle, match="nothing keeps its edges"):
        stressed_buckle(body, 3e-3 * _half_wave(body), rigid_modes(body).held, solving=CLOSE)
    with pytest.raises(OutOfRange, match="is flat"):
        stressed_buckle(body, 0.0 * _half_wave(body), edges.held)
    x, y = body.points[:, 0], body.points[:, 1]
    waves = 1e-3 * np.sin(3 * np.pi * x / 0.2) * np.sin(3 * np.pi * y / 0.2)
    with pytest.raises(NoBuckle):
        stressed_buckle(body, waves, edges.held, solving=CLOSE)


def test_height_counts_from_what_is_held(lab: SimpleNamespace) -> None:
    body, edges = _panel(lab, cells=4)
    upright = Upright.of(body.points)
    assert upright is not None
    tilted = np.zeros(body.points.shape)
    tilted[:, 2] = 1e-3 * _half_wave(body) + 0.01 * body.points[:, 0] - 0.02 * body.points[:, 1]
    found = upright.height(tilted, edges.held)
    np.testing.assert_allclose(found, 1e-3 * _half_wave(body), atol=1e-12)
    assert Upright.of(body.points * [1.0, 0.01, 1.0]) is None
