"""Plastic flow keeps the volume: no locking at the limit load of a thick tube.

Source: R. Hill, The Mathematical Theory of Plasticity, Oxford 1950, ch. V (thick tube under inner
pressure, plane strain): the pressure tends to 2/sqrt 3 s_y ln(b/a).
"""

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray

from flamefe.straining.element import StrainOperator
from flamefe.straining.restraint import TimeLine

Array = NDArray[np.float64]

STRENGTH, E = 250e6, 200e9
INNER, OUTER, LENGTH = 0.05, 0.10, 0.01


def pressures(lab: SimpleNamespace, number: int, steps: int = 8) -> Array:
    """Inner pressure by the limit, while the bore is widened to eight times its yield strain."""
    radii = np.geomspace(INNER, OUTER, number + 1)
    angles = np.linspace(0.0, np.pi / 2.0, number + 1)
    r, turn, z = np.meshgrid(radii, angles, [0.0, LENGTH], indexing="ij")
    part = np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=-1)
    body = lab.blocks([part], (lab.metal(strength=STRENGTH, modulus=E),))
    p = body.points
    radius = np.hypot(p[:, 0], p[:, 1])
    outward = np.stack([p[:, 0], p[:, 1], 0.0 * radius], axis=1) / radius[:, None]
    bore = radius < INNER * (1.0 + 1e-6)
    cuts = lab.hold(body, x=p[:, 0] < 1e-9, y=p[:, 1] < 1e-9, z=radius > 0.0)
    wider = lab.hold(
        body, x=bore, y=bore, push=outward * INNER * 8.0 * STRENGTH / E,
        history=TimeLine(times=(0.0, 1.0), factors=(0.0, 1.0)),
    )  # fmt: skip
    moments = lab.march(
        body, [(i / steps, 20.0) for i in range(steps + 1)], [cuts, wider], geometry="small",
        tolerance=1e-5,
    )  # fmt: skip
    # a pressure on chords that span 2 d each pulls outward with cos d of it
    half = np.pi / 4.0 / number
    area = 2.0 * INNER * np.sin(half) * np.cos(half) * number * LENGTH
    limit = 2.0 / np.sqrt(3.0) * STRENGTH * np.log(OUTER / INNER)
    return np.array([(m.reaction * outward)[bore].sum() / area / limit for m in moments])


def test_limit_pressure_of_a_thick_tube(lab: SimpleNamespace) -> None:
    """0.5 %: six hexes of 15 degrees; the polygon makes 0.2 %. Then no more than 0.1 % rise."""
    found = pressures(lab, 6)
    assert (np.diff(found) > 0.0).all()
    assert found[-1] == pytest.approx(1.0, abs=5e-3)
    assert found[-1] - found[-3] < 1e-3


def test_without_modes_the_tube_locks(
    lab: SimpleNamespace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same with the modes held at zero (plain hex of 8 points): too strong, and still rising.

    This shows that the test above can fail.
    """
    plain_stiffness, plain_forces = StrainOperator.stiffness, StrainOperator.forces

    def stiffness(self: StrainOperator, *given: Array, **more: Array) -> Array:
        result = plain_stiffness(self, *given, **more)
        result[:, 24:, :] = result[:, :, 24:] = 0.0
        result[:, 24:, 24:] = 1e9 * np.eye(9)
        return result

    def forces(self: StrainOperator, *given: Array) -> Array:
        result = plain_forces(self, *given)
        result[self.nodes :] = 0.0
        return result

    free = pressures(lab, 4)
    monkeypatch.setattr(StrainOperator, "stiffness", stiffness)
    monkeypatch.setattr(StrainOperator, "forces", forces)
    locked = pressures(lab, 4)
    assert locked[-1] > 1.03
    assert locked[-1] - locked[-3] > 10.0 * (free[-1] - free[-3])
