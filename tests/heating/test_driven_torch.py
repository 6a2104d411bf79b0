"""The torch driven by temperature: dwell, speed, limits, and what is said when it can't."""

from dataclasses import replace

import numpy as np
import pytest

import flamefe.heating.drive as drive_module
from flamefe.basics.errors import NotConverged, OutOfRange
from flamefe.basics.table import Table
from flamefe.heating.conduction import Conductor
from flamefe.heating.deposit import Deposit
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.march import collected, heat_along
from flamefe.heating.path import Track
from flamefe.heating.phase import Drive, Rest
from flamefe.heating.probe import FaceProbe
from flamefe.heating.surface import Cooling, FacePoints
from flamefe.heating.trailing import Trailing
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh, graded
from flamefe.workpiece.standard import material


@pytest.fixture(scope="module")
def plate():
    x = np.linspace(0, 0.15, 26)
    y = graded(0.1, fine_spans=[(0.035, 0.065)], fine=0.006, coarse=0.03, growth=1.6)
    mesh = box_mesh(x, y, np.linspace(0, 0.01, 3))
    return Body(mesh=mesh, materials=(material("S355"),))


def drive(body, power=2000.0, radius=0.012, **changes):
    mesh = body.mesh
    z = float(mesh.p[2].max())
    given = {
        "deposits": (
            Deposit(
                flame=GaussianFlame(power=power, radius=radius),
                face=FacePoints.of(mesh, mesh.boundaries["top"], order=5),
            ),
        ),
        "tracks": (Track(points=((0.03, 0.05, z), (0.12, 0.05, z))),),
        "probes": (FaceProbe.of(mesh, mesh.boundaries["top"]),),
        "target": 600.0,
        "name": "line",
        **changes,
    }
    return Drive(**given)


def marched(body, *phases):
    cooling = Cooling(
        face=FacePoints.of(body.mesh, body.mesh.boundary_facets()),
        film=10.0,
        emissivity=0.5,
        ambient=20.0,
    )
    return collected(list(heat_along(Conductor(body, [cooling]), phases, ambient=20.0)))


def test_dwell_against_the_half_space(metal, box):
    """Time to reach the target under a standing flame, constant properties.

    Carslaw & Jaeger 1959: rise in the middle of a Gaussian spot P / (pi^1.5 k R) atan(sqrt(4Dt)/R).
    """
    steel = metal(conductivity=40.0, density=7850.0, specific_heat=600.0)
    x = graded(0.24, fine_spans=[(0.1, 0.14)], fine=0.0025, coarse=0.04, growth=1.5)
    depth = np.concatenate(([0.0], np.geomspace(0.0008, 0.1, 14)))
    body = box(steel, x, x, -depth[::-1])
    power, radius, target = 3000.0, 0.015, 620.0
    torch = drive(
        body,
        power=power,
        radius=radius,
        target=target,
        tracks=(Track(points=((0.12, 0.12, 0.0), (0.121, 0.12, 0.0))),),
        mode="dwell",
        advance=0.001,
        allowed=2.0,
        step=0.2,
    )
    log = marched(body, torch).logs[0]
    dwell = log.times[int(np.argmax(np.array(log.speeds) > 0.0)) - 1]
    diffusivity = 40.0 / (7850.0 * 600.0)
    angle = (target - 20.0) * np.pi**1.5 * 40.0 * radius / power
    exact = (radius * np.tan(angle)) ** 2 / (4.0 * diffusivity)
    assert dwell == pytest.approx(exact, rel=0.06)


def test_speed_holds_the_target_on_the_way(plate):
    """After the first dwell the reading stays at the target within what is allowed."""
    history = marched(plate, drive(plate, step=1.0))
    log = history.logs[0]
    speeds = np.array(log.speeds)
    assert speeds[0] == 0.0, "it stands until the target is reached"
    moving = log.on_the_way()
    middle = moving[len(moving) // 5 : -len(moving) // 5]
    assert np.abs(middle - 600.0).max() < 25.0
    assert log.runs[-1] == pytest.approx(0.09)
    assert (np.diff(log.runs) >= 0.0).all()
    assert history.energy.error < 0.005
    assert history.peak.max() < 600.0 + 60.0
    assert log.notes == ()


def test_more_power_goes_faster_and_ends_sooner(plate):
    weak = marched(plate, drive(plate, power=1500.0, step=1.0)).logs[0]
    strong = marched(plate, drive(plate, power=2500.0, step=1.0)).logs[0]
    assert strong.times[-1] < 0.7 * weak.times[-1]


def test_dwell_and_advance_reaches_the_target_each_time(plate):
    log = marched(plate, drive(plate, mode="dwell", advance=0.02, fastest=0.04, step=1.0)).logs[0]
    readings, speeds = np.array(log.readings), np.array(log.speeds)
    starts = np.flatnonzero((speeds[1:] > 0.0) & (speeds[:-1] == 0.0))
    assert len(starts) >= 4
    assert readings[starts] == pytest.approx(np.full(len(starts), 600.0), abs=6.0)


def test_target_out_of_reach_is_said_and_the_torch_moves_on(plate):
    """A flame too weak for the plate: a note after the longest dwell; the heat still ends."""
    log = marched(plate, drive(plate, power=250.0, longest_dwell=15.0, step=3.0)).logs[0]
    assert any("not reached within the longest stand" in note for note in log.notes)
    assert log.runs[-1] == pytest.approx(0.09)
    assert max(log.readings) < 600.0


def test_too_strong_a_flame_is_said(plate):
    """The hand can't go fast enough: the overshoot is told."""
    log = marched(plate, drive(plate, power=9000.0, fastest=0.004, step=0.5)).logs[0]
    assert any("overshot" in note for note in log.notes)
    assert max(log.speeds) <= 0.004 + 1e-12


def test_water_behind_the_torch_cools_the_back_face(plate):
    """Trailing water: less heat at the back, its share in the balance, energy closed."""
    mesh = plate.mesh
    water = Trailing(
        face=FacePoints.of(mesh, mesh.boundaries["top"]),
        distance=0.05,
        radius=0.025,
        film=Table(temperature_C=(20, 100, 200, 600), values=(3e3, 9e3, 6e3, 2e3), source="test"),
    )
    torch = drive(plate, step=1.0, slowest=0.001)
    dry = marched(plate, torch, Rest(until=100.0, cold=False, name="rest"))
    wet = marched(plate, replace(torch, trailing=water), Rest(until=100.0, cold=False, name="r"))
    p = plate.points
    back = (p[:, 2] < 1e-9) & (np.abs(p[:, 1] - 0.05) < 0.011)
    at = min(dry.logs[0].times[-1], wet.logs[0].times[-1])
    assert wet.at(at)[back].mean() < dry.at(at)[back].mean() - 5.0
    assert wet.energy.error < 0.005
    assert wet.energy.lost > 0.0


@pytest.mark.parametrize(
    "bad",
    [
        {"mode": "guess"},
        {"slowest": 0.02, "fastest": 0.01},
        {"mode": "dwell", "advance": 0.0},
        {"allowed": 0.0},
        {"tracks": ()},
    ],
)
def test_contradicting_limits_are_refused(plate, bad):
    with pytest.raises(OutOfRange):
        drive(plate, **bad)


def test_probe_reads_a_linear_field_exactly(plate):
    """Anywhere on a flat face, and nothing off it."""
    probe = FaceProbe.of(plate.mesh, plate.mesh.boundaries["top"])
    field = 20.0 + 1e3 * plate.points[:, 0] - 500.0 * plate.points[:, 1]
    places = np.array([[0.1234, 0.0456, 0.01], [0.0, 0.1, 0.01], [0.3, 0.05, 0.01]])
    read = probe.at(field, places)
    assert read[:2] == pytest.approx([20 + 123.4 - 22.8, 20 - 50.0])
    assert np.isnan(read[2])


def test_a_step_that_fails_is_taken_in_halves(monkeypatch):
    """The balance of the whole is kept however often a step must be cut."""
    mesh = box_mesh(np.linspace(0, 0.1, 6), np.linspace(0, 0.08, 5), [0.0, 0.008])
    body = Body(mesh=mesh, materials=(material("S355"),))
    conductor = Conductor(body)
    whole = Conductor.step
    longest = 0.3

    def stubborn(self, temperature, **given):
        if given["duration"] > longest:
            raise NotConverged("too long", [])
        return whole(self, temperature, **given)

    monkeypatch.setattr(Conductor, "step", stubborn)
    now = np.full(body.points.shape[0], 20.0)
    power = np.full_like(now, 2.0)
    torch = object.__new__(drive_module._Torch)
    torch.conductor, torch.guess = conductor, None
    step = torch._stepped(now, power, 1.0, [])
    assert step.stored == pytest.approx(power.sum() * 1.0, rel=1e-4)
    longest = 1e-3
    with pytest.raises(NotConverged):
        torch._stepped(now, power, 1.0, [])
