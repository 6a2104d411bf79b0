"""Equilibrium is found the same way whatever the tolerance, the solver, and the cuts on the way."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from flamefe.basics.errors import NotConverged
from flamefe.basics.linear import SOLVERS
from flamefe.straining import equilibrium
from flamefe.straining.moment import Moment
from flamefe.straining.plasticity import PointAnswer, respond
from flamefe.straining.restraint import face_traction, rigid_modes
from flamefe.workpiece.body import Body
from flamefe.workpiece.standard import material

Array = NDArray[np.float64]


def spot_on_plate(lab: SimpleNamespace) -> tuple[Body, list[tuple[float, Array]]]:
    """A small S355 plate heated from its top to 650 C and cooled; given temperatures."""
    body = lab.box((0.08, 0.08, 0.006), (8, 8, 2), material("S355"))
    x, y, z = body.points.T
    shape = np.exp(-((x - 0.04) ** 2 + (y - 0.03) ** 2) / 0.015**2) * (0.3 + 0.7 * z / 0.006)
    levels = [*np.linspace(0.0, 630.0, 8), *np.linspace(630.0, 0.0, 8)[1:]]
    return body, [(float(i), 20.0 + level * shape) for i, level in enumerate(levels)]


def dished(lab: SimpleNamespace, **solving: Any) -> Moment:
    """The plate after it has cooled; it stands free."""
    body, moments = spot_on_plate(lab)
    return lab.march(body, moments, [rigid_modes(body)], **solving)[-1]


@pytest.fixture(scope="module")
def exact(lab: SimpleNamespace) -> Moment:
    """The dished plate, to a residual of 1e-8."""
    return dished(lab, tolerance=1e-8)


@pytest.mark.parametrize("solver", SOLVERS)
@pytest.mark.parametrize("tolerance", [1e-3, 3e-4, 1e-5])
def test_answer_by_tolerance(
    lab: SimpleNamespace, exact: Moment, solver: str, tolerance: float
) -> None:
    """Residual shape of a heated plate: it is as far from the exact one as the tolerance at most.

    Found here, no source; a stiff plate. Softer parts: the growth of a bow below.
    """
    end = dished(lab, tolerance=tolerance, solver=solver)
    size = abs(exact.displacement).max()
    assert size > 5e-5
    assert abs(end.displacement - exact.displacement).max() < tolerance * size
    assert end.residual < tolerance


@pytest.mark.parametrize("solver", SOLVERS)
def test_answer_by_solver(lab: SimpleNamespace, exact: Moment, solver: str) -> None:
    """The linear solver is only a means: with a tight tolerance, the same to 1e-6."""
    end = dished(lab, tolerance=1e-8, solver=solver)
    gap = abs(end.displacement - exact.displacement).max()
    assert gap < 1e-6 * abs(exact.displacement).max()
    assert abs(end.stress - exact.stress).max() < 1e-5 * abs(exact.stress).max()


def test_a_cut_step_is_two_half_steps(
    lab: SimpleNamespace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An increment that fails once (no number comes back) is done in halves, nothing is lost.

    Compared with the march that is asked for both halves; plastic, so the way matters.
    """
    body = lab.box((0.04, 0.01, 0.01), (4, 1, 2), lab.metal(strength=200e6, hardening=2e9))
    hot = 20.0 + 300.0 * (body.points[:, 2] / 0.01) ** 2
    end = 60.0 + 0.2 * hot
    held = [lab.hold(body, x=np.isin(body.points[:, 0], (0.0, 0.04))), rigid_modes(body)]

    def run(moments: list[tuple[float, Any]]) -> list[Moment]:
        return lab.march(body, moments, held, geometry="small", tolerance=1e-9)

    halves = run([(0.0, 20.0), (1.0, hot), (1.5, 0.5 * (hot + end)), (2.0, end)])
    whole = run([(0.0, 20.0), (1.0, hot), (2.0, end)])
    calls: list[float] = []

    def failing(strain: Array, *others: Any) -> PointAnswer:
        return respond(strain * (np.nan if calls and calls.pop() else 1.0), *others)

    monkeypatch.setattr(equilibrium, "respond", failing)
    moments: list[Moment] = []
    plan = equilibrium.strain_along(
        body,
        (m.target for m in whole),
        solving=equilibrium.Solving(geometry="small", tolerance=1e-9),
    )
    for number, moment in enumerate(plan):
        moments.append(moment)
        if number == 1:
            calls.append(1.0)  # the next call fails, once
    assert [m.cut_backs for m in moments] == [0, 0, 1]
    np.testing.assert_allclose(
        moments[-1].state.plastic_strain, halves[-1].state.plastic_strain, atol=1e-9
    )
    np.testing.assert_allclose(moments[-1].displacement, halves[-1].displacement, atol=1e-11)
    assert abs(halves[-1].state.accumulated).max() > 1e-4


def test_close_to_the_limit_and_beyond_it(lab: SimpleNamespace) -> None:
    """A perfectly plastic strip in plane strain: 0.99 of 2/sqrt 3 s_y is carried, 1.01 is not.

    Source: R. Hill, The Mathematical Theory of Plasticity, Oxford 1950 (plane strain: the strength
    is 2/sqrt 3 of that in tension). The error says when, and holds each try's residuals.
    """
    body = lab.box((0.04, 0.02, 0.02), (3, 2, 2), lab.metal(strength=200e6))
    wide = lab.hold(body, y=body.points[:, 1] > -1.0)
    limit = 2.0 / np.sqrt(3.0) * 200e6

    def pulled(share: float) -> list[Moment]:
        load = face_traction(body, "end", (share * limit, 0.0, 0.0))
        return lab.march(
            body, [(0.0, 20.0)], [lab.planes(body), wide], [load], geometry="small",
            tolerance=1e-6,
        )  # fmt: skip

    np.testing.assert_allclose(pulled(0.99)[0].stress[0], 0.99 * limit, rtol=1e-4)
    with pytest.raises(NotConverged, match="0 s") as caught:
        pulled(1.01)
    tries = caught.value.history
    assert len(tries) > 8
    assert all(attempt.residuals[-1] > 1e-6 for attempt in tries)


def bowed_plate(lab: SimpleNamespace, bow: float) -> tuple[Body, list[Any], float]:
    """A quarter of a hinged plate 600 x 600 x 6 mm with a bow; held in its plane; dT_cr."""
    side, thick = 0.6, 0.006
    flat = lab.box((side / 2, side / 2, thick), (8, 8, 2), lab.metal(strength=355e6))
    p = flat.points.copy()
    x0, y0 = p[:, 0] < 1e-9, p[:, 1] < 1e-9
    x1, y1 = p[:, 0] > side / 2 - 1e-9, p[:, 1] > side / 2 - 1e-9
    middle = abs(p[:, 2] - thick / 2) < 1e-9
    p[:, 2] += bow * np.sin(np.pi * p[:, 0] / side) * np.sin(np.pi * p[:, 1] / side)
    body = lab.moved(flat, p)
    held = lab.hold(body, x=x1 | (middle & x0), y=y1 | (middle & y0), z=middle & (x0 | y0))
    return body, [held], np.pi**2 * thick**2 / (12.0 * 1.3 * 12e-6) * 2.0 / side**2


@pytest.mark.parametrize(("tolerance", "steps"), [(1e-3, 1), (3e-4, 1), (3e-4, 5)])
def test_growth_of_a_bow_past_buckling(lab: SimpleNamespace, tolerance: float, steps: int) -> None:
    """A plate bowed by a tenth of its thickness, heated to twice its buckling temperature.

    The deflection at once and in steps, tolerant and exact, elastic: the same to 2 %.
    """
    body, held, critical = bowed_plate(lab, 0.6e-3)
    middle = np.argmin(((body.points[:, :2] - 0.3) ** 2).sum(axis=1))

    def rise(tolerance: float, steps: int) -> Array:
        levels = [0.0]
        for share in (0.5, 0.8, 1.0, 1.5, 2.0):
            levels += list(np.linspace(levels[-1], share, steps + 1)[1:])
        moments = [(float(i), 20.0 + level * critical) for i, level in enumerate(levels)]
        found = lab.march(body, moments, held, tolerance=tolerance)[::steps]
        return np.array([m.displacement[middle, 2] for m in found])

    tight = rise(1e-7, 1)
    assert tight[-1] > 0.5 * 0.006
    np.testing.assert_allclose(rise(tolerance, steps)[1:], tight[1:], rtol=0.02)
