"""Closed-form rules and the engine in the limits where both must agree."""

import math

import numpy as np
import pytest
from skfem import Basis, ElementHex1

import flamefe
from flamefe.basics.table import Table
from flamefe.heating.conduction import Conductor
from flamefe.outcome.beam_distortion import beam_measures
from flamefe.outcome.measure import find_measure
from flamefe.rules.pipe import patch_rotation, patch_shortening, ring_waist
from flamefe.rules.tendon import tendon_force, yielding_half_width
from flamefe.straining.element import StrainOperator
from flamefe.straining.equilibrium import strain_along
from flamefe.straining.restraint import Support, rigid_modes
from flamefe.straining.schedule import targets
from flamefe.straining.solving import Solving
from flamefe.workpiece.body import Body
from flamefe.workpiece.extrude import extruded
from flamefe.workpiece.material import Material
from flamefe.workpiece.mesh import box_mesh, graded
from flamefe.workpiece.section_round import round_tube

E, ALPHA, YIELD, CONDUCTIVITY, RHO, C = 210e9, 12e-6, 355e6, 40.0, 7850.0, 600.0


def constant(value):
    return Table.constant(value, source="test")


METAL = Material(
    name="constant properties",
    density=RHO,
    conductivity=constant(CONDUCTIVITY),
    specific_heat=constant(C),
    thermal_strain=Table(
        temperature_C=(-5980, 6020), values=(-6000 * ALPHA, 6000 * ALPHA), source="test"
    ),
    youngs_modulus=constant(E),
    poisson=constant(0.3),
    yield_stress=constant(YIELD),
    hardening_modulus=constant(0.0),
    heating_limit_C=650,
    heating_limit_source="test",
    source="test",
)


def quadrature_points(body):
    basis = Basis(body.mesh, ElementHex1(), intorder=3)
    return np.asarray(basis.global_coordinates()).reshape(3, -1)


def last_of(body, moments, support, **more):
    plan = targets(points=body.points, moments=moments, supports=[support], loads=[])
    solving = Solving(geometry="small", tolerance=1e-6)
    *_, last = strain_along(body, plan, solving=solving, **more)
    return last


def strip_force(heat, thickness, ratio):
    """Pull of a thin wide plate after a line was heated at once, its sections held plane, N.

    Half of the plate, from the line to 0.3 m; conduction and plasticity by the engine, from the
    exact temperatures after a second (a Gaussian, Carslaw and Jaeger) until all has evened out.
    """
    y = graded(0.3, fine_spans=[(0, 0.035)], fine=0.002, coarse=0.025, growth=1.3)
    body = Body(mesh=box_mesh(np.array([0, 0.02]), y, np.array([0, thickness])), materials=(METAL,))
    count, time = len(body.points), 1.0
    diffusivity = CONDUCTIVITY / (RHO * C)
    spread = 4 * diffusivity * time
    rise = heat / (RHO * C * thickness * math.sqrt(math.pi * spread))
    rise = rise * np.exp(-(body.points[:, 1] ** 2) / spread)
    moments = [(s * time, 20 + s * rise, "") for s in np.linspace(0, 1, 21)]
    conductor, now = Conductor(body, []), 20 + rise
    while time < 600:
        step = time * (ratio - 1)
        now = conductor.step(now, power=np.zeros(count), duration=step).temperature
        time += step
        moments.append((time, now, ""))
    moments += [(time + 50, 20 + 0.5 * (now - 20), ""), (time + 100, np.full(count, 20.0), "")]
    held = np.zeros(body.points.shape, dtype=bool)
    for face, axis in (("start", 0), ("end", 0), ("near", 1), ("bottom", 2)):
        held[body.nodes_of(face), axis] = True
    last = last_of(body, moments, Support(held=held))
    weights = StrainOperator.on(body.mesh).weights
    return 2 * float((last.stress[0] * weights).sum()) / 0.02


@pytest.mark.parametrize("thickness", [0.004, 0.006])
def test_tendon_force_of_a_thin_wide_plate(thickness):
    """F = 0.33544 E alpha q' / (rho c), derived (N. O. Okerblom's factor, from memory): 3 %.

    The error is that of the time steps: half of them, half of it.
    """
    heat = 5e5
    rule = tendon_force(heat, ALPHA, RHO * C, E)
    assert 0.02 < yielding_half_width(heat, ALPHA, RHO * C, E, YIELD, thickness) < 0.05
    coarse, fine = (strip_force(heat, thickness, ratio) for ratio in (1.1, 1.05))
    assert coarse == pytest.approx(rule, rel=0.03)
    assert fine == pytest.approx(rule, rel=0.008)
    assert 0.4 < (rule - fine) / (rule - coarse) < 0.7


def test_wedge_by_plane_sections_with_the_engines_own_inherent_strain():
    """phi = int e* lever dV / I and d = int e* dV / A with the plastic strain of a real heat: 1 %.

    Derived (plane sections; reciprocity with an end moment's stress).
    """
    length, depth, thickness = 0.3, 0.06, 0.006
    case = flamefe.Case(
        title="Wedge on a flat bar of a conveyor frame",
        workpiece=flamefe.Bar(length_mm=300, depth_mm=60, thickness_mm=6, material="S355"),
        mesh=flamefe.Mesh(size_at_heat_mm=5.3, size_away_mm=30, layers=1),
        flames={"torch": flamefe.Flame(power_kW=0.6, radius_mm=8)},
        heats=[
            flamefe.WedgeHeat(
                flame="torch",
                face="top",
                both_faces=True,
                apex_mm=[1e3 * length / 2, 15],
                base_mm=[1e3 * length / 2, 60],
                angle_deg=40,
                target_C=600,
            )
        ],
        solve=flamefe.Solve(geometry="small"),
    )
    result = flamefe.run(case)
    body = Body(mesh=result.mesh, materials=(result.material,))
    lever = quadrature_points(body)[1] - depth / 2
    weights = StrainOperator.on(result.mesh).weights.ravel()
    strain = result.strain.ends[-1].plastic_strain[:, :, 0].ravel()
    turn = -1e3 * (strain * lever * weights).sum() / (thickness * depth**3 / 12)
    short = -1e3 * (strain * weights).sum() / (thickness * depth)
    measures = result.cycles[0].measures
    found = find_measure(measures, "closing rotation").value
    assert found > 0.2  # mrad: it did close
    assert found == pytest.approx(turn, rel=0.01)
    assert find_measure(measures, "shortening").value == pytest.approx(short, rel=0.01)


@pytest.fixture(scope="module")
def tube():
    """101.6 x 4 mm, 24 hexes round it, fine in the middle."""
    section = round_tube(outer_diameter=0.1016, thickness=0.004, size=0.0133)
    stations = graded(0.5, fine_spans=[(0.21, 0.29)], fine=0.004, coarse=0.03, growth=1.4)
    beam = extruded(section, stations)
    return Body(mesh=beam.mesh, materials=(METAL,)), beam


def shrunk_tube(tube, low, high, inside, around=0.0, along=0.0):
    """The tube after its wall shrank between two stations where ``inside`` of the angle holds."""
    body, _ = tube
    x, y, z = quadrature_points(body)
    middle = body.points[:, 1:].mean(axis=0)
    angle = np.arctan2(y - middle[0], z - middle[1])
    # Whole hexes: the angle of a hex is that of its middle.
    of_hex = np.arctan2(
        np.sin(angle).reshape(-1, 8).mean(axis=1), np.cos(angle).reshape(-1, 8).mean(axis=1)
    )
    station = x.reshape(-1, 8).mean(axis=1)
    chosen = np.repeat((station > low) & (station < high) & inside(of_hex), 8)
    strain = np.zeros((6, x.size))
    strain[0] = -along * chosen
    cosine, sine = np.cos(angle), np.sin(angle)  # round the tube: (cos, -sin) in y, z
    strain[1] = -around * cosine**2 * chosen
    strain[2] = -around * sine**2 * chosen
    strain[4] = 2 * around * cosine * sine * chosen
    moments = [(0.0, np.full(len(body.points), 20.0), "")]
    return last_of(body, moments, rigid_modes(body), inherent_strain=strain)


def test_patch_on_a_pipe(tube):
    """A quarter of the circumference shrinks by 0.1 %: rotation and shortening, derived; 1 %."""
    body, beam = tube
    x = np.unique(np.round(body.points[:, 0], 9))
    low, high = x[np.searchsorted(x, 0.23)], x[np.searchsorted(x, 0.27)]
    end = shrunk_tube(tube, low, high, lambda a: np.abs(a) < math.pi / 4, along=1e-3)
    found = beam_measures(body.points, end.displacement, areas=beam.areas, heated_part=(0.15, 0.35))
    arc, width = math.pi / 2, float(high - low)
    assert find_measure(found, "closing rotation, upright").value == pytest.approx(
        1e3 * patch_rotation(0.1016, 0.004, width, arc, 1e-3), rel=0.01
    )
    assert find_measure(found, "shortening").value == pytest.approx(
        1e3 * patch_shortening(width, arc, 1e-3), rel=0.01
    )


def test_waist_of_a_ring_on_a_pipe(tube):
    """A ring shrinks by 0.1 % round the pipe: loss of radius at its middle, shell theory; 3 %."""
    body, _ = tube
    x = np.unique(np.round(body.points[:, 0], 9))
    low, high = x[np.searchsorted(x, 0.235)], x[np.searchsorted(x, 0.265)]
    end = shrunk_tube(tube, low, high, lambda a: np.abs(a) < 4, around=1e-3)
    middle = body.points[:, 1:].mean(axis=0)
    outward = body.points[:, 1:] - middle
    outward /= np.linalg.norm(outward, axis=1)[:, None]
    moved = (end.displacement[:, 1:] * outward).sum(axis=1)
    at = np.abs(body.points[:, 0] - (low + high) / 2)
    ring = at <= at.min() + 1e-6
    away = np.abs(body.points[:, 0] - 0.05) < 0.02
    waist = -(moved[ring].mean() - moved[away].mean())
    assert waist == pytest.approx(ring_waist(0.1016, 0.004, float(high - low), 1e-3, 0.3), rel=0.03)
