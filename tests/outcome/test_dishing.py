"""Dishing against the flat panel: signs, tilt, and what changed."""

import numpy as np
import pytest

from flamefe.outcome.dishing import dishing_measures


def _panel() -> tuple[np.ndarray, np.ndarray]:
    grid = np.meshgrid(np.linspace(0, 0.4, 9), np.linspace(0, 0.3, 7), [0, 0.001, 0.002])
    points = np.array(grid).reshape(3, -1).T
    bulge = np.zeros_like(points)
    bulge[:, 2] = np.sin(np.pi * points[:, 0] / 0.4) * np.sin(np.pi * points[:, 1] / 0.3)
    return points, bulge


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_dishing_is_signed_and_blind_to_tilt(sign: float) -> None:
    points, bulge = _panel()
    tilt = np.zeros_like(points)
    tilt[:, 2] = 0.002 + 0.01 * points[:, 0] - 0.003 * points[:, 1]
    found = {
        m.name: m.value
        for m in dishing_measures(points, sign * 4e-3 * bulge, sign * 1e-3 * bulge + tilt)
    }
    assert found["dishing before the job"] == pytest.approx(sign * 4.0, rel=1e-6)
    assert found["dishing"] == pytest.approx(sign * 1.0, rel=1e-3)
    assert found["change of dishing"] == pytest.approx(-3.0, rel=1e-3)
    assert found["flatness before the job"] == pytest.approx(4.0, rel=1e-6)
    assert found["flatness of the panel"] == pytest.approx(1.0, rel=1e-3)


def test_popping_through_is_more_than_becoming_flat() -> None:
    points, bulge = _panel()
    found = {m.name: m.value for m in dishing_measures(points, 2e-3 * bulge, -1e-3 * bulge)}
    assert found["dishing"] == pytest.approx(-1.0, rel=1e-6)
    assert found["change of dishing"] == pytest.approx(-3.0, rel=1e-6)
