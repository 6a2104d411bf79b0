"""Shapes integrate to 1; hot gas follows closed forms; far fields agree."""

import numpy as np
import pytest
from scipy.special import erfc, erfcx

from flamefe.basics.errors import OutOfRange
from flamefe.heating.conduction import Conductor
from flamefe.heating.deposit import Deposit
from flamefe.heating.flame import AbsorbedFlame, GaussianFlame, HotGasFlame
from flamefe.heating.march import collected, heat_along
from flamefe.heating.path import TorchPath, Track
from flamefe.heating.phase import Burn, Rest
from flamefe.heating.shape import ByRadius, Gaussian, Ring, Rows, Twin
from flamefe.heating.surface import Cooling, FacePoints, GasFilm
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.meshfile import from_meshio_order
from flamefe.workpiece.standard import material

SHAPES = [
    Gaussian(radius=0.012),
    Ring(radius=0.02, width=0.006),
    Rows(rows=2, jets=4, pitch=0.009, row_distance=0.012, jet_radius=0.006),
    Twin(head=Gaussian(radius=0.01), distance=0.05),
    Twin(head=Ring(radius=0.012, width=0.005), distance=0.05, behind=True),
    ByRadius(radii=(0.0, 0.01, 0.03), values=(3.0, 2.0, 0.0)),
]


@pytest.mark.parametrize("shape", SHAPES, ids=lambda s: type(s).__name__)
def test_density_integrates_to_one_on_the_plane(shape):
    """To 0.1 % by a fine midpoint rule over ten sizes."""
    grid = (np.arange(-400, 400) + 0.5) * 0.0003
    along, across = np.meshgrid(grid, grid, indexing="ij")
    assert shape.density(along, across).sum() * 0.0003**2 == pytest.approx(1.0, abs=1e-3)
    assert shape.size > 0.0


def half_pipe(radius, length, cells):
    """Outer wall of a half pipe, 10 mm thick, as hexes."""
    r = np.array([radius - 0.01, radius])
    turn = np.linspace(0.0, np.pi, cells)
    x = np.linspace(0.0, length, cells)
    nodes, number = [], {}
    for i, one in enumerate(x):
        for j, angle in enumerate(turn):
            for k, rr in enumerate(r):
                number[i, j, k] = len(nodes)
                nodes.append((one, -rr * np.cos(angle), rr * np.sin(angle)))
    hexes = []
    for i in range(cells - 1):
        for j in range(cells - 1):
            hexes.append([number[i, j, 0], number[i + 1, j, 0], number[i + 1, j + 1, 0],
                          number[i, j + 1, 0], number[i, j, 1], number[i + 1, j, 1],
                          number[i + 1, j + 1, 1], number[i, j + 1, 1]])  # fmt: skip
    return from_meshio_order(np.array(nodes), np.array(hexes))


@pytest.mark.parametrize("shape", SHAPES[:3], ids=lambda s: type(s).__name__)
@pytest.mark.parametrize("curved", [False, True])
def test_stated_power_enters_flat_and_curved_faces(shape, curved):
    """Nodal powers sum to the stated power within 0.1 %, moving and standing."""
    if curved:
        mesh = half_pipe(0.15, 0.4, 60)
        middle = (0.2, 0.0, 0.15)
        corners = mesh.p[:, mesh.facets]
        outer = np.flatnonzero(
            (np.hypot(corners[1], corners[2]) > 0.149).all(axis=0) & (mesh.f2t[1] < 0)
        )
        end = (0.24, 0.0, 0.15)
    else:
        steel = material("S355")
        body = Body(mesh=_plate_mesh(), materials=(steel,))
        mesh, middle, end = body.mesh, (0.2, 0.1, 0.01), (0.24, 0.1, 0.01)
        outer = mesh.boundaries["top"]
    face = FacePoints.of(mesh, outer, order=5)
    flame = AbsorbedFlame(power=5000.0, shape=shape)
    for path in (
        TorchPath.standing(middle, duration=10.0),
        TorchPath.moving([middle, end], speed=0.004),
    ):
        powers, landed, film = Deposit(flame=flame, path=path, face=face).over(0.0, 5.0)
        assert powers.sum() == pytest.approx(5000.0, rel=1e-3)
        assert landed == pytest.approx(1.0, abs=0.03)
        assert film is None


def _plate_mesh():
    return box_mesh(np.linspace(0, 0.4, 81), np.linspace(0, 0.2, 41), [0.0, 0.01])


def test_gas_over_a_lumped_block(metal, box):
    """Film over all faces of a small block: exp(-h A t / (rho c V)), Incropera & DeWitt, ch. 5."""
    steel = metal(conductivity=400.0, density=7850.0, specific_heat=500.0)
    body = box(steel, [0, 0.01, 0.02], [0, 0.01, 0.02], [0, 0.01, 0.02])
    face = FacePoints.of(body.mesh, body.mesh.boundary_facets())
    k = len(face.areas)
    gas = GasFilm(face=face, coefficient=np.full(k, 200.0), gas=np.full(k, 1500.0))
    now, step = np.full(27, 20.0), 0.05
    conductor = Conductor(body)
    for _ in range(400):
        now = conductor.step(now, power=np.zeros(27), duration=step, also=[gas]).temperature
    rate = 200.0 * 6.0 / (7850.0 * 500.0 * 0.02)
    exact = 1500.0 - 1480.0 * np.exp(-rate * 20.0)
    assert now.mean() == pytest.approx(exact, abs=0.005 * 1480)


def test_gas_over_a_half_space(metal, box):
    """Surface under a film: 1 - exp(h^2 D t / k^2) erfc(h sqrt(D t) / k), Carslaw & Jaeger 1959."""
    steel = metal(conductivity=40.0, density=7850.0, specific_heat=600.0)
    depth = np.concatenate(([0.0], np.geomspace(0.0005, 0.2, 40)))
    body = box(steel, [0, 0.01], [0, 0.01], -depth[::-1])
    top = body.mesh.boundaries["top"]
    face = FacePoints.of(body.mesh, top)
    k = len(face.areas)
    gas = GasFilm(face=face, coefficient=np.full(k, 600.0), gas=np.full(k, 2020.0))
    now = np.full(body.points.shape[0], 20.0)
    conductor = Conductor(body)
    for _ in range(400):
        now = conductor.step(now, power=np.zeros(now.size), duration=0.05, also=[gas]).temperature
    diffusivity = 40.0 / (7850.0 * 600.0)
    ratio = 600.0 * np.sqrt(diffusivity * 20.0) / 40.0
    exact = 20.0 + 2000.0 * (1.0 - erfcx(ratio))
    assert erfcx(ratio) == pytest.approx(np.exp(ratio**2) * erfc(ratio))
    surface = now[np.abs(body.points[:, 2]) < 1e-9].mean()
    assert surface == pytest.approx(exact, abs=0.01 * (exact - 20.0))


def spot_history(flame, seconds=10.0):
    """Spot on a 10 mm plate, insulated, then evened out."""
    mesh = _small_plate()
    body = Body(mesh=mesh, materials=(material("S355"),))
    face = FacePoints.of(mesh, mesh.boundaries["top"], order=5)
    path = TorchPath.standing((0.1, 0.1, 0.01), duration=seconds)
    deposit = Deposit(flame=flame, path=path, face=face)
    cooling = Cooling(
        face=FacePoints.of(mesh, mesh.boundary_facets()), film=10.0, emissivity=0.5, ambient=20.0
    )
    phases = [Burn(deposits=(deposit,), step=0.25, name="spot"),
              Rest(until=150.0, cold=False, name="rest")]  # fmt: skip
    return body, collected(list(heat_along(Conductor(body, [cooling]), phases, ambient=20.0)))


def _small_plate():
    x = np.concatenate((np.linspace(0, 0.06, 7), np.linspace(0.06, 0.14, 17)[1:],
                        np.linspace(0.14, 0.2, 7)[1:]))  # fmt: skip
    return box_mesh(x, x, np.linspace(0, 0.01, 4))


def test_gas_limits_itself_and_balances():
    """Energy closes; the power falls as the surface heats up; it never passes the gas."""
    flame = HotGasFlame(coefficient=900.0, radius=0.02, gas_C=2000.0)
    _, history = spot_history(flame)
    assert history.energy.error < 0.005
    mean_power = history.energy.supplied / 10.0
    assert 0.5 * flame.cold_power(20.0) < mean_power < 0.97 * flame.cold_power(20.0)
    assert history.peak.max() < 2000.0


def test_same_power_gives_the_same_far_field():
    """Gas, and absorbed flux of the same mean power and radius: alike three radii away."""
    gas = HotGasFlame(coefficient=900.0, radius=0.02, gas_C=2000.0)
    body, one = spot_history(gas)
    flux = GaussianFlame(power=one.energy.supplied / 10.0, radius=0.02)
    _, other = spot_history(flux)
    away = np.hypot(body.points[:, 0] - 0.1, body.points[:, 1] - 0.1) > 0.06
    a, b = one.at(20.0)[away] - 20.0, other.at(20.0)[away] - 20.0
    assert np.abs(a - b).max() < 0.05 * b.max()
    near = ~away
    assert np.abs(one.at(10.0)[near] - other.at(10.0)[near]).max() > 3.0, "near, they differ"


def test_twin_on_both_faces_heats_through():
    """Half the power on each face leaves no difference between the faces (symmetry)."""
    mesh = _small_plate()
    body = Body(mesh=mesh, materials=(material("S355"),))
    deposits = tuple(
        Deposit(
            flame=GaussianFlame(power=1500.0, radius=0.02),
            path=TorchPath.standing((0.1, 0.1, z), duration=5.0),
            face=FacePoints.of(mesh, mesh.boundaries[face], order=5),
        )
        for face, z in (("top", 0.01), ("bottom", 0.0))
    )
    burn = Burn(deposits=deposits, step=0.5, name="twin")
    moments = list(heat_along(Conductor(body), [burn], ambient=20.0))
    assert sum(m.supplied for m in moments) == pytest.approx(15000.0)
    end = moments[-1].temperature
    p = body.points
    top = np.lexsort((p[p[:, 2] > 0.0099, 1], p[p[:, 2] > 0.0099, 0]))
    low = np.lexsort((p[p[:, 2] < 1e-6, 1], p[p[:, 2] < 1e-6, 0]))
    gap = end[p[:, 2] > 0.0099][top] - end[p[:, 2] < 1e-6][low]
    assert np.abs(gap).max() < 0.1


def test_woven_flame_covers_its_width():
    """A woven flame's heat lies within its width and one radius, evenly left and right."""
    mesh = _plate_mesh()
    face = FacePoints.of(mesh, mesh.boundaries["top"], order=5)
    deposit = Deposit(flame=GaussianFlame(power=3000.0, radius=0.008), face=face)
    track = Track(points=((0.1, 0.1, 0.01), (0.3, 0.1, 0.01)), widths=(0.0, 0.08))
    for run, width in ((0.05, 0.02), (0.15, 0.06)):
        powers, _, _ = deposit.at(track.at(np.array([run])))
        y = mesh.p[1] - 0.1
        assert powers.sum() == pytest.approx(3000.0)
        assert (powers * y).sum() == pytest.approx(0.0, abs=1e-6)
        outside = np.abs(y) > width / 2 + 0.02
        assert powers[outside].sum() < 0.01 * 3000.0
        spread = np.sqrt((powers * y**2).sum() / 3000.0)
        # a pendulum's swing has a variance of w^2 / 8, the flame itself R^2 / 2 across
        assert spread == pytest.approx(np.sqrt(width**2 / 8 + 0.008**2 / 2), rel=0.05)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Gaussian(radius=0.0),
        lambda: Ring(radius=0.02, width=-1.0),
        lambda: Rows(rows=0, jets=3, pitch=0.01, jet_radius=0.01),
        lambda: ByRadius(radii=(0.0, 0.02), values=(0.0, 0.0)),
        lambda: ByRadius(radii=(0.01, 0.02), values=(1.0, 0.0)),
        lambda: HotGasFlame(coefficient=500.0, radius=0.02, gas_C=50.0),
        lambda: Track(points=((0, 0, 0), (0, 0, 0))),
        lambda: Track(points=((0, 0, 0), (1, 0, 0)), widths=(1.0,)),
    ],
)
def test_impossible_flames_and_tracks_are_refused(make):
    with pytest.raises(OutOfRange):
        make()
