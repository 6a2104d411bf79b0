"""Flames, water and readings on curved walls and thin plates, through the face rolled out flat."""

import numpy as np
import pytest

from flamefe.basics.table import Table
from flamefe.heating.conduction import Conductor
from flamefe.heating.deposit import Deposit
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.march import collected, heat_along
from flamefe.heating.path import Pose, TorchPath, Track
from flamefe.heating.phase import Burn, Drive, Rest
from flamefe.heating.probe import FaceProbe
from flamefe.heating.surface import Cooling, FacePoints
from flamefe.heating.trailing import Trailing
from flamefe.workpiece.body import Body
from flamefe.workpiece.extrude import extruded
from flamefe.workpiece.mesh import graded
from flamefe.workpiece.rolled_face import RolledFace
from flamefe.workpiece.section_shapes import i_section, round_tube
from flamefe.workpiece.standard import material

RADIUS, WALL, FLAME = 0.06, 0.005, 0.012
POWER = 1800.0


@pytest.fixture(scope="module")
def tube() -> Body:
    """120 mm tube, 5 mm wall: 96 edges round it."""
    section = round_tube(outer_diameter=2 * RADIUS, thickness=WALL, size=0.004)
    x = graded(0.4, fine_spans=[(0.16, 0.24)], fine=0.004, coarse=0.03)
    return Body(mesh=extruded(section, x).mesh, materials=(material("S355"),))


def wall(body: Body, name: str = "outside") -> RolledFace:
    return RolledFace.of_mesh(body.mesh, body.mesh.boundaries[name])


def flat(body: Body, name: str = "outside") -> FacePoints:
    points = FacePoints.of(body.mesh, body.mesh.boundaries[name], order=5)
    return points.rolled_out(wall(body, name))


def pose(u: float, v: float, way: tuple[float, float] = (1.0, 0.0), width: float = 0.0) -> Pose:
    return Pose(np.array([[u, v, 0.0]]), np.array([[*way, 0.0]]), np.array([width]))


def torch(body: Body, name: str = "outside") -> Deposit:
    return Deposit(flame=GaussianFlame(power=POWER, radius=FLAME), face=flat(body, name))


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 0.73, 0.999])
def test_power_on_a_curved_wall_is_the_stated_one(tube: Body, share: float) -> None:
    """Of itself, without being scaled to it, to 0.1 %, wherever round the tube the torch stands.

    2.5 points an edge and a flame of three edges: the quadrature is good to much less.
    """
    period = wall(tube).period
    assert period is not None
    bathing = torch(tube).at(pose(0.2, share * period), whole=False)
    assert bathing.powers.sum() == pytest.approx(POWER, rel=1e-3)
    assert torch(tube).at(pose(0.2, share * period)).powers.sum() == pytest.approx(POWER, rel=1e-12)


def test_power_woven_round_the_wall(tube: Body) -> None:
    """Woven over 40 mm along the tube while it goes round."""
    bathing = torch(tube).at(pose(0.2, 0.1, (0.0, 1.0), 0.04), whole=False)
    assert bathing.powers.sum() == pytest.approx(POWER, rel=1e-3)
    weights = bathing.powers / bathing.powers.sum()
    spread = np.sqrt(weights @ (tube.points[:, 0] - 0.2) ** 2)
    # a pendulum of amplitude a has the variance a^2 / 2, the flame R^2 / 2
    assert spread == pytest.approx(np.sqrt(0.5 * 0.02**2 + 0.5 * FLAME**2), rel=0.02)


def test_a_flame_on_the_outside_heats_neither_the_inside_nor_the_far_side(tube: Body) -> None:
    """Straight across, where a flat flame would shine through, there is nothing."""
    period = wall(tube).period
    assert period is not None
    powers = torch(tube).at(pose(0.2, 0.5 * period)).powers  # on top
    heated = powers > 1e-12 * powers.max()
    outside = np.zeros(powers.size, dtype=bool)
    outside[tube.nodes_of("outside")] = True
    assert not (heated & ~outside).any()
    heights = tube.points[:, 2]
    assert powers[heights < RADIUS].sum() < 1e-9 * POWER
    turned = np.arccos(np.clip((heights - RADIUS) / RADIUS, -1.0, 1.0))
    around = np.sqrt(powers @ (RADIUS * turned) ** 2 / powers.sum())
    along = np.sqrt(powers @ (tube.points[:, 0] - 0.2) ** 2 / powers.sum())
    assert around == pytest.approx(FLAME / np.sqrt(2.0), rel=0.02)
    assert along == pytest.approx(FLAME / np.sqrt(2.0), rel=0.02)


def test_a_flame_on_one_face_of_a_thin_web_heats_only_that_face() -> None:
    """6 mm web, flame of 12 mm: nodes of the other side, of flanges and edges get nothing."""
    section = i_section(
        height=0.2, width=0.1, web_thickness=0.006, flange_thickness=0.009, size=0.02,
        fine={"web": 0.005},
    )  # fmt: skip
    x = graded(0.3, fine_spans=[(0.1, 0.2)], fine=0.005, coarse=0.03)
    body = Body(mesh=extruded(section, x).mesh, materials=(material("S355"),))
    powers = torch(body, "web left").at(pose(0.15, 0.09), whole=False).powers
    assert powers.sum() == pytest.approx(POWER, rel=1e-3)
    on_web = np.zeros(powers.size, dtype=bool)
    on_web[body.nodes_of("web left")] = True
    assert powers[~on_web].max() == 0.0
    assert (powers @ body.points)[2] / powers.sum() == pytest.approx(0.009 + 0.09, abs=1e-4)
    lost = torch(body, "web left").at(pose(0.15, 0.0), whole=False).powers.sum()
    assert lost == pytest.approx(0.5 * POWER, rel=0.01), "what passes the web's edge by is lost"


def test_probe_reads_a_curved_wall_across_its_seam(tube: Body) -> None:
    """Nodal values that are linear along and round the wall are read exactly, NaN off its ends."""
    face = wall(tube)
    assert face.period is not None
    probe = FaceProbe.rolled_out(tube.mesh, tube.mesh.boundaries["outside"], face)
    field = 300.0 + 1000.0 * tube.points[:, 0] + 2000.0 * tube.points[:, 1]
    v = face.period * np.array([-0.01, 0.0, 0.003, 0.31, 0.9999, 1.2])
    places = np.column_stack((np.full(v.size, 0.21), v))
    read = probe.at(field, np.column_stack((places, 0.0 * v)))
    expected = 300.0 + face.place(places) @ [1000.0, 2000.0, 0.0]
    np.testing.assert_allclose(read, expected, rtol=1e-9)
    off = probe.at(field, np.array([[-0.01, 0.1, 0.0], [0.41, 0.1, 0.0]]))
    assert np.isnan(off).all()


def test_probe_finds_the_hottest_place_under_a_torch_at_the_seam(tube: Body) -> None:
    """The lowest place of the tube is the seam; a hot spot 5 mm beyond it is under the torch."""
    face = wall(tube)
    assert face.period is not None
    probe = FaceProbe.rolled_out(tube.mesh, tube.mesh.boundaries["outside"], face)
    uv = face.back(tube.points)
    beyond = np.mod(uv[:, 1] - (face.period - 0.005) + 0.5 * face.period, face.period)
    beyond -= 0.5 * face.period
    field = 20.0 + 600.0 * np.exp(-((uv[:, 0] - 0.2) ** 2 + beyond**2) / 0.008**2)
    here = Track(points=((0.2, 0.0, 0.0), (0.2, 0.1, 0.0))).at(0.0)
    assert probe.under(field, here, FLAME) == pytest.approx(field.max(), rel=0.02)
    away = Track(points=((0.2, 0.05, 0.0), (0.2, 0.1, 0.0))).at(0.0)
    assert probe.under(field, away, FLAME) < 60.0


def marched(body: Body, *phases: Burn | Drive | Rest) -> object:
    skin = FacePoints.of(body.mesh, body.mesh.boundary_facets())
    cooling = Cooling(face=skin, film=10.0, emissivity=0.5, ambient=20.0)
    return collected(list(heat_along(Conductor(body, [cooling]), phases, ambient=20.0)))


@pytest.fixture(scope="module")
def coarse() -> Body:
    section = round_tube(outer_diameter=0.08, thickness=0.004, size=0.008, thickness_layers=1)
    x = graded(0.2, fine_spans=[(0.08, 0.12)], fine=0.008, coarse=0.03)
    return Body(mesh=extruded(section, x).mesh, materials=(material("S355"),))


def test_a_ring_round_a_pipe_heats_it_evenly_and_closes(coarse: Body) -> None:
    """Once round at a speed, over the seam: energy is the stated, the seam gets what others get."""
    face = wall(coarse)
    assert face.period is not None
    flame = GaussianFlame(power=1500.0, radius=0.016)
    path = TorchPath.moving([(0.1, 0.0, 0.0), (0.1, face.period, 0.0)], speed=0.02)
    deposit = Deposit(flame=flame, path=path, face=flat(coarse))
    history = marched(
        coarse, Burn(deposits=(deposit,), step=0.25, name="ring"),
        Rest(until=400.0, cold=False, name="rest"),
    )  # fmt: skip
    energy = history.energy  # type: ignore[attr-defined]
    assert energy.supplied == pytest.approx(1500.0 * path.duration, rel=1e-9)
    assert energy.error < 1e-3
    middle = np.abs(coarse.points[:, 0] - 0.1) < 0.005
    on = np.intersect1d(np.flatnonzero(middle), coarse.nodes_of("outside"))
    peak = history.peak[on]  # type: ignore[attr-defined]
    turn = np.mod(np.arctan2(coarse.points[on, 2] - 0.04, coarse.points[on, 1] - 0.04), 2 * np.pi)
    far = (turn > 0.1) & (turn < np.pi)  # neither beginning nor end, which lie at the bottom
    assert np.ptp(peak[far]) < 0.06 * (peak[far].mean() - 20.0)


def test_a_torch_is_held_at_a_temperature_round_a_pipe(coarse: Body) -> None:
    """Driven across the seam, the reading keeps to the target; water follows on the wall."""
    face = wall(coarse)
    assert face.period is not None
    ends = ((0.1, -0.03, 0.0), (0.1, 0.05, 0.0))
    drive = Drive(
        deposits=(Deposit(flame=GaussianFlame(power=1500.0, radius=0.016), face=flat(coarse)),),
        tracks=(Track(points=ends),),
        probes=(FaceProbe.rolled_out(coarse.mesh, coarse.mesh.boundaries["outside"], face),),
        target=500.0,
        name="held",
    )
    history = marched(coarse, drive, Rest(until=300.0, cold=False, name="rest"))
    (log,) = history.logs  # type: ignore[attr-defined]
    assert log.runs[-1] == pytest.approx(0.08)
    readings = np.array(log.readings)[np.array(log.runs) > 0.016]
    assert np.abs(readings - 500.0).max() < 25.0


def test_water_behind_the_torch_wets_the_wall_across_the_seam(coarse: Body) -> None:
    """The torch 10 mm past the seam, the spray 20 mm behind it: on the other side of the seam."""
    face = wall(coarse)
    assert face.period is not None
    spray = Trailing(
        face=flat(coarse), distance=0.02, radius=0.006, film=Table.constant(3000.0, source="test")
    )
    film = spray.behind(pose(0.1, 0.01, (0.0, 1.0)))
    wettest = film.face.points[np.argmax(film.coefficient)]
    assert wettest[1] == pytest.approx(face.period - 0.01, abs=0.004)
