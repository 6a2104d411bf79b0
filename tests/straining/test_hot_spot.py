"""A hot spot in a wide thin plate, elastic and past yield.

Elastic: closed form (see the membrane of NAFEMS). Past yield: no published values. The figures
below come from an independent one-dimensional axisymmetric program for plane stress with the Mises
condition (319 elements of two nodes, free edge at 61.5 radii). With Tresca's condition the same
program gives the closed form p = s_y/2 (1 + ln m), which can be worked out by hand.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from flamefe.workpiece.body import Body

E, EXPANSION, STRENGTH, RADIUS = 210e9, 12e-6, 355e6, 0.01


def spot_in_plate(lab: SimpleNamespace) -> Body:
    """A quarter: the spot, and a plate of 60 radii which does not expand; very thin.

    Very thin and very fine at the rim, since in plane stress spot and ring thicken each its own
    way: the row of hexes at the rim, which can not, must carry nothing.
    """
    across, finest = 4, 0.002
    radii = 1.0 + np.append(0.0, np.geomspace(finest, 59.0, 30))
    flat = lab.quarter_disc(1.0, across, finest)
    for angle in lab.octants(across):
        rim = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        flat.append(rim[None] * radii[:, None, None])
    parts = [RADIUS * lab.thick(face, 0.002) for face in flat]
    spot = lab.metal(strength=STRENGTH, expansion=EXPANSION)
    plate = lab.metal(strength=STRENGTH, expansion=0.0)
    return lab.blocks(parts, (spot, plate), (0, 0, 0, 1, 1))


@pytest.mark.parametrize(
    ("rise", "pressure", "left", "growth", "shrinkage"),
    [
        # m = E alpha dT / s_y; MPa; residual MPa; rim's u / a when hot; plastic strain in plane
        # (m = 1.5 unloads elastically: residual m s_y / 2 - p)
        (0.99, 0.99 * 177.5, 0.0, 0.99 * 1.0990e-3, 0.0),
        (1.5, 258.1, 266.25 - 258.1, 1.6755e-3, 0.0),
        (2.0, 313.2, 41.7, 2.3369e-3, 0.0),
        (4.0, 355.0, 276.0, None, -2.434e-3),
    ],
    ids=["elastic", "1.5", "2", "4"],
)
def test_hot_spot(
    lab: SimpleNamespace,
    rise: float,
    pressure: float,
    left: float,
    growth: float | None,
    shrinkage: float,
) -> None:
    """1 %: of the values; for the residual stress, 1 % of the yield stress."""
    body = spot_in_plate(lab)
    hot_C = 20.0 + rise * STRENGTH / (E * EXPANSION)
    steps = 24
    way = [*np.linspace(20.0, hot_C, steps + 1), *np.linspace(hot_C, 20.0, steps + 1)[1:]]
    moments = lab.march(
        body, [(float(i), t) for i, t in enumerate(way)], [lab.planes(body)], geometry="small",
        tolerance=1e-5,
    )  # fmt: skip
    hot, cold = moments[steps], moments[-1]

    def middle(moment: object) -> float:
        return float(lab.stress_at(body, moment, (0.0, 0.0, 0.0))[:2].mean()) / 1e6

    assert -middle(hot) == pytest.approx(pressure, rel=0.01)
    assert middle(cold) == pytest.approx(left, rel=0.01, abs=0.01 * STRENGTH / 1e6)
    rim = int(np.argmin(abs(body.points - np.array([RADIUS, 0.0, 0.0])).sum(axis=1)))
    if growth is not None:
        assert hot.displacement[rim, 0] / RADIUS == pytest.approx(growth, rel=0.01)
    inner = np.unique(np.argsort(np.hypot(*lab.places(body)[:2]))[:32] // 8)
    near = hot.state.plastic_strain.reshape(6, -1, 8)[:2, inner]
    assert near.mean() == pytest.approx(shrinkage, rel=0.01, abs=1e-6)
