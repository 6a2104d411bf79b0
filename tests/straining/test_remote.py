"""What is far from the heat, condensed once: the same answer as when all is solved."""

from functools import partial

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from flamefe.straining.devices import pushers
from flamefe.straining.equilibrium import strain_along
from flamefe.straining.footing import patch_at
from flamefe.straining.moment import Moment
from flamefe.straining.remote import (
    Remote,
    RemoteYields,
    far_hexes,
    part_of,
    remote_of,
    touched,
    unchanged_up_to,
)
from flamefe.straining.restraint import NEVER, Load, own_weight, rigid_modes
from flamefe.straining.schedule import targets
from flamefe.straining.solving import Solving
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.standard import material

LENGTH, WIDTH, DEPTH = 2.0, 0.05, 0.1


@pytest.fixture(scope="module")
def bar() -> Body:
    x = np.unique(np.concatenate((np.linspace(0, LENGTH, 21), np.linspace(0.9, 1.1, 9))))
    mesh = box_mesh(x, np.linspace(0, WIDTH, 3), np.linspace(0, DEPTH, 5))
    return Body(mesh=mesh, materials=(material("S355"),))


def heated(body: Body, top: float) -> np.ndarray:
    """A hot stripe across the top at mid length, warm for some way."""
    x, _, z = body.points.T
    return np.asarray(20.0 + top * np.exp(-(((x - 1.0) / 0.04) ** 2)) * (z / DEPTH) ** 4)


def plan(body: Body, push: float = 0.0, top: float = 700.0):  # type: ignore[no-untyped-def]
    """A heat on a bar on two rests near its ends, under its own weight and a push on its end."""
    cold = np.full(body.points.shape[0], 20.0)
    warm, hot = heated(body, 0.4 * top), heated(body, top)
    late = 20.0 + 10.0 * np.exp(-(((body.points[:, 0] - 1.0) / 0.5) ** 2))
    rests = [
        pushers(
            body,
            [patch_at(body, (x, 0.0, 0.0), 0.001, (0, 0, 1), both=False),
             patch_at(body, (x, WIDTH, 0.0), 0.001, (0, 0, 1), both=False)],
            (0, 0, 1), name=f"rest at {x:g}",
        )
        for x in (0.1, 1.9)
    ]  # fmt: skip
    force = np.zeros_like(body.points)
    force[np.isclose(body.points[:, 0], 0.5) & np.isclose(body.points[:, 2], DEPTH), 2] = -push
    moments = [(0.0, cold, ""), (1.0, warm, ""), (2.0, hot, ""), (3.0, warm, ""),
               (4.0, late, ""), (5.0, cold, "end")]  # fmt: skip
    loads = [own_weight(body), Load(name="push", forces=force)]
    schedule = partial(
        targets, points=body.points, moments=moments, supports=[], devices=rests,
        loads=loads, fallback=rigid_modes(body), steadied=True,
    )  # fmt: skip
    return schedule, hot


def marched(body: Body, schedule, solving: Solving, remote: Remote | None) -> list[Moment]:  # type: ignore[no-untyped-def]
    return list(strain_along(body, schedule(), solving=solving, remote=remote))


@pytest.mark.parametrize("geometry", ["finite", "small"])
def test_condensing_changes_nothing_but_the_cost(bar: Body, geometry: str) -> None:
    """The same movements, forces and stresses at every moment.

    With finite geometry a piece bends by itself without the second-order terms: 1e-4.
    """
    solving = Solving(tolerance=1e-6, geometry=geometry)
    schedule, hot = plan(bar, push=2000.0)
    remote = remote_of(bar, peak=hot, kept=touched(schedule()), solving=solving)
    assert remote is not None
    assert remote.slaves.mean() > 0.5
    plain = marched(bar, schedule, solving, None)
    condensed = marched(bar, schedule, solving, remote)
    largest = max(abs(moment.displacement).max() for moment in plain)
    bent, close = 0.0, 1e-4 if geometry == "finite" else 1e-5
    for one, other in zip(plain, condensed, strict=True):
        assert abs(one.displacement - other.displacement).max() < close * largest
        for name, carried in one.carried.items():
            assert other.carried[name].forces == pytest.approx(carried.forces, abs=2.0)
        assert abs(one.stress - other.stress).max() < 1e5  # Pa
        assert abs(one.reaction - other.reaction).max() < 0.2  # N, of some 2000
        bent = max(bent, float(abs(one.state.accumulated - other.state.accumulated).max()))
    assert plain[-1].state.accumulated.max() > 1e-3
    assert bent < 1e-6


def test_turning_as_a_whole_gives_no_force(bar: Body) -> None:
    """A frame goes along, so a turn of 20 degrees strains nothing."""
    solving = Solving()
    kept = np.zeros(bar.points.shape[0], dtype=bool)
    remote = remote_of(bar, peak=heated(bar, 700.0), kept=kept, solving=solving)
    assert remote is not None
    loads = remote.loads(np.full(kept.size, 20.0), np.zeros_like(bar.points))
    turned = Rotation.from_euler("xyz", (5.0, 20.0, -10.0), degrees=True).apply(bar.points)
    moved = turned + np.array((0.1, 0.2, -0.3)) - bar.points
    kept_only = np.where(remote.slaves[:, None], 0.0, moved)
    stretched = 1e-3 * bar.points
    unit = abs(remote.forces(np.where(remote.slaves[:, None], 0.0, stretched), loads)).max()
    assert abs(remote.forces(kept_only, loads)).max() < 1e-7 * unit
    found, stress = remote.recover(kept_only, loads)
    assert found == pytest.approx(moved, abs=1e-9)
    assert abs(stress).max() < 1e3


def test_even_warmth_of_what_is_condensed_is_free_expansion(bar: Body) -> None:
    solving = Solving()
    kept = np.zeros(bar.points.shape[0], dtype=bool)
    remote = remote_of(bar, peak=heated(bar, 700.0), kept=kept, solving=solving)
    assert remote is not None
    loads = remote.loads(np.full(kept.size, 80.0), np.zeros_like(bar.points))
    strain = float(bar.materials[0].thermal_strain(80.0))
    grown = strain * bar.points
    boundary = np.where(remote.slaves[:, None], 0.0, grown)
    found, stress = remote.recover(boundary, loads)
    assert found == pytest.approx(grown, abs=1e-9)
    assert abs(stress).max() < 1e3


def test_yielding_far_from_the_heat_is_an_error_not_silence(bar: Body) -> None:
    solving = Solving(tolerance=1e-4)
    schedule, hot = plan(bar, push=60_000.0)
    remote = remote_of(bar, peak=hot, kept=touched(schedule()), solving=solving)
    assert remote is not None
    with pytest.raises(RemoteYields):
        marched(bar, schedule, solving, remote)


def test_what_is_near_to_heat_is_not_condensed(bar: Body) -> None:
    """Within half of the second largest extent of what gets too hot for a constant stiffness."""
    assert unchanged_up_to(bar, 20.0) == 100.0
    hot = heated(bar, 700.0)
    far = far_hexes(bar, hot, cold=20.0)
    reach = bar.points[hot > 100.0, 0]
    ends = bar.points[:, 0][bar.mesh.t[:, far]]
    assert ((ends <= reach.min() - 0.05 + 1e-9) | (ends >= reach.max() + 0.05 - 1e-9)).all()
    assert part_of(bar, far).mesh.t.shape[1] == far.sum()


def test_a_short_part_is_not_condensed() -> None:
    mesh = box_mesh(np.linspace(0, 0.3, 7), np.linspace(0, 0.2, 5), np.linspace(0, 0.01, 2))
    plate = Body(mesh=mesh, materials=(material("S355"),))
    hot = 20.0 + 600.0 * np.exp(-(((plate.points[:, 0] - 0.15) / 0.05) ** 2))
    kept = np.zeros(hot.size, dtype=bool)
    assert remote_of(plate, peak=hot, kept=kept, solving=Solving()) is None


def test_touched_nodes_are_those_of_rests_and_of_what_is_steadied(bar: Body) -> None:
    schedule, _ = plan(bar)
    found = touched(schedule())
    rests = np.isin(np.round(bar.points[:, 0], 6), (0.1, 1.9)) & (bar.points[:, 2] == 0.0)
    rests &= bar.points[:, 1] != WIDTH / 2
    assert found[rests].all()
    assert 0 < found.sum() - rests.sum() <= 6
    assert NEVER > 5.0
