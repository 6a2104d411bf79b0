"""Stability of sheets: inertia, buckling by heat, both ways, snap-through, wrong branches."""

from collections.abc import Sequence
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray

from flamefe.basics.errors import OutOfRange
from flamefe.basics.linear import SOLVERS
from flamefe.straining.devices import pushers
from flamefe.straining.element import StrainOperator, green_lagrange_strain
from flamefe.straining.footing import patch_at
from flamefe.straining.moment import Moment
from flamefe.straining.operator import Assembler
from flamefe.straining.plasticity import PointProperties, PointState, respond, tangent
from flamefe.straining.restraint import Load, Support, TimeLine
from flamefe.straining.solving import Solving
from flamefe.straining.stability import look_at, lowest_mode, pulling, slenderness
from flamefe.straining.upright import Upright
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]

BREADTH = 0.02
ALPHA, POISSON, MODULUS = 12e-6, 0.3, 210e9


def _events(moments: Sequence[Moment]) -> list[str]:
    return [event.kind for moment in moments for event in moment.events or ()]


def _column(lab: SimpleNamespace) -> tuple[Body, NDArray[np.bool_]]:
    """A slender column, clamped at its foot and guided at its head."""
    body = lab.box((0.2, 0.01, 0.01), (6, 1, 2), lab.metal(modulus=MODULUS))
    held = np.zeros(body.points.shape, dtype=bool)
    held[body.nodes_of("start")] = True
    held[body.nodes_of("end"), 0] = True
    return body, held


@pytest.mark.parametrize("solver", SOLVERS)
@pytest.mark.parametrize("shortening", [0.0, 5e-3, 3e-2, 1e-1])
def test_negative_eigenvalues_as_of_the_dense_matrix(
    lab: SimpleNamespace, solver: str, shortening: float
) -> None:
    """Of the whole tangent, incompatible modes included, under more and more compression."""
    body, held = _column(lab)
    operator = StrainOperator.on(body.mesh)
    extended = np.zeros((operator.rows, 3))
    extended[: operator.nodes, 0] = -shortening * body.points[:, 0]
    slopes = operator.slopes(extended)
    at = np.full(operator.weights.size, 20.0)
    properties = PointProperties.of(body.materials[0], at, at)
    answer = respond(green_lagrange_strain(slopes), properties, PointState.virgin(at.size))
    look = look_at(operator, Assembler(operator, held, solver), properties, answer, slopes)

    stiffness = operator.stiffness(tangent(properties, answer), slopes, answer.stress)
    full = np.zeros((3 * operator.rows, 3 * operator.rows))
    for number, nodes in enumerate(body.mesh.t.T):
        rows = np.concatenate((nodes, operator.nodes + 3 * number + np.arange(3)))
        dofs = (3 * rows[:, None] + np.arange(3)).reshape(-1)
        full[np.ix_(dofs, dofs)] += stiffness[number]
    free = np.concatenate((~held.reshape(-1), np.ones(3 * (operator.rows - operator.nodes), bool)))
    values = np.linalg.eigvalsh(full[np.ix_(free, free)])
    assert look.negative == np.count_nonzero(values < 0.0)
    assert (look.negative > 0) == (shortening > 4e-3)  # Euler: (pi / 200 * 10)^2 / 12 = 0.2 %

    if look.negative > 0:
        mode = lowest_mode(look.operator, negative=True)
        image = full @ mode.reshape(-1)
        assert mode.reshape(-1) @ image < 0.0
        assert np.abs(mode[: operator.nodes][held]).max() == 0.0
    else:
        mode = lowest_mode(look.operator, negative=False)
        nodal = np.flatnonzero(free[: 3 * operator.nodes])
        inner = np.arange(3 * operator.nodes, 3 * operator.rows)
        joined = full[np.ix_(nodal, inner)] @ np.linalg.inv(full[np.ix_(inner, inner)])
        condensed = full[np.ix_(nodal, nodal)] - joined @ full[np.ix_(inner, nodal)]
        vector = mode.reshape(-1)[nodal]
        quotient = vector @ condensed @ vector / (vector @ vector)
        assert quotient == pytest.approx(np.linalg.eigvalsh(condensed)[0], rel=1e-3)


def test_pulling_is_the_tension_of_any_stress() -> None:
    """Positive semidefinite, and the rest is negative semidefinite."""
    stress = np.random.default_rng(4).normal(size=(6, 40))
    index = np.array(((0, 3, 5), (3, 1, 4), (5, 4, 2)))
    tension = pulling(stress)
    assert np.linalg.eigvalsh(tension[index].transpose(2, 0, 1)).min() > -1e-12
    assert np.linalg.eigvalsh((stress - tension)[index].transpose(2, 0, 1)).max() < 1e-12


def _quarter(lab: SimpleNamespace, side: float, thickness: float, cells: int) -> Body:
    """A quarter of a square plate, its middle at the far end of x and y."""
    half = 0.5 * side
    return lab.box((half, half, thickness), (cells, cells, 2), lab.metal(modulus=MODULUS))


def _simple_edges(lab: SimpleNamespace, body: Body) -> list[Support]:
    """Middle line of two edges held; symmetry about the far ends of x and y."""
    p = body.points
    end, height = p.max(axis=0), p[:, 2].max()
    rim = ((p[:, 0] < 1e-9) | (p[:, 1] < 1e-9)) & (np.abs(p[:, 2] - 0.5 * height) < 1e-9)
    return [
        lab.hold(body, x=rim, y=rim, z=rim),
        lab.hold(body, x=p[:, 0] > end[0] - 1e-9, y=p[:, 1] > end[1] - 1e-9),
    ]


def test_a_plate_buckles_at_the_temperature_of_the_closed_form(lab: SimpleNamespace) -> None:
    """dT = pi^2 h^2 / (12 (1 + nu) alpha) (1/a^2 + 1/b^2), simply supported, edges fixed in plane.

    Source: E. A. Thornton, Thermal buckling of plates and shells, Appl. Mech. Rev. 46 (1993).
    40 elements a side are about 1 % too stiff.
    """
    side, thickness = 0.6, 0.006
    exact = np.pi**2 * thickness**2 / (12.0 * (1.0 + POISSON) * ALPHA) * 2.0 / side**2
    assert exact == pytest.approx(10.54, abs=0.01)
    body = _quarter(lab, side, thickness, 16)
    assert slenderness(body) > 40.0
    shares = (0.5, 0.96, 0.98, 1.0, 1.02, 1.04, 1.06)
    moments = [(0.0, 20.0)] + [(float(s), 20.0 + s * exact) for s in shares]
    found = lab.march(body, moments, _simple_edges(lab, body), tolerance=1e-5)
    first = next(m.target.time for m in found if m.events)
    assert 0.98 <= first <= 1.04
    assert _events(found)[0] == "either way"


def _strip(lab: SimpleNamespace, length: float, thickness: float, rise: float = 0.0) -> Body:
    """Half of a wide strip (no strain along y), bowed by a sine; its middle at the end of x."""
    body = lab.box((0.5 * length, BREADTH, thickness), (20, 1, 2), lab.metal(modulus=MODULUS))
    moved = body.points.copy()
    moved[:, 2] += rise * np.sin(np.pi * moved[:, 0] / length)
    return lab.moved(body, moved)


def _strip_ends(lab: SimpleNamespace, body: Body, flat_thickness: float) -> list[Support]:
    p = body.points
    rim = (p[:, 0] < 1e-9) & (np.abs(p[:, 2] - 0.5 * flat_thickness) < 1e-9)
    middle = p[:, 0] > p[:, 0].max() - 1e-9
    return [lab.hold(body, x=rim | middle, z=rim, y=np.ones(len(p), dtype=bool))]


def test_a_strip_bows_as_deep_as_its_expansion_asks(lab: SimpleNamespace) -> None:
    """pi^2 w^2 / (4 a^2) = (1 + nu) alpha (dT - dT_cr), exact for a shallow sine.

    Source: S. P. Timoshenko, J. M. Gere, Theory of Elastic Stability, McGraw-Hill 1961,
    section 2.12 read with an end movement given by expansion; wide strip.
    """
    length, thickness = 0.4, 0.002
    critical = np.pi**2 * thickness**2 / (12.0 * (1.0 + POISSON) * ALPHA * length**2)
    body = _strip(lab, length, thickness)
    ends = _strip_ends(lab, body, thickness)
    moments = [(0.0, 20.0)] + [(float(s), 20.0 + s * critical) for s in (0.9, 2.0, 4.0, 9.0)]
    found = lab.march(body, moments, ends, tolerance=1e-6, stability="always")
    top = int(np.argmax(body.points[:, 0]))
    assert _events(found) == ["either way"]
    for moment in found[2:]:
        strain = (1.0 + POISSON) * ALPHA * (moment.target.time - 1.0) * critical
        depth = 2.0 * length / np.pi * np.sqrt(strain)
        assert abs(moment.displacement[top, 2]) == pytest.approx(depth, rel=0.02)


def test_unwatched_it_stays_on_the_wrong_branch(lab: SimpleNamespace) -> None:
    """The same strip without the watch: flat, four times beyond buckling, and converged."""
    length, thickness = 0.4, 0.002
    critical = np.pi**2 * thickness**2 / (12.0 * (1.0 + POISSON) * ALPHA * length**2)
    body = _strip(lab, length, thickness)
    ends = _strip_ends(lab, body, thickness)
    moments = [(0.0, 20.0), (1.0, 20.0 + 4.0 * critical)]
    found = lab.march(body, moments, ends, stability="never", tolerance=1e-6)
    assert found[-1].events is None
    middle = Upright.of(body.points)
    assert middle is not None
    assert np.abs(middle.height(found[-1].displacement)).max() < 0.01 * thickness


def test_an_arch_snaps_through_at_its_limit_load(lab: SimpleNamespace) -> None:
    """Shallow sine arch of rise e under q sin(pi x / L), symmetric, ends pinned and fixed.

    With the height a sin(pi x / L), k = pi / L and E' = E / (1 - nu^2)::

        q = E' h k^4 (h^2 (e - a) / 12 + (e^2 - a^2) a / 4), greatest at a^2 = (e^2 - h^2/3) / 3

    Source: Y. C. Fung, A. Kaplan, Buckling of low arches or curved beams of small curvature,
    NACA TN 2840 (1952). After unloading it stays on the other side, and both sides are stable.
    """
    length, thickness = 0.4, 0.002
    rise = 2.0 * thickness
    body = _strip(lab, length, thickness, rise)
    ends = _strip_ends(lab, body, thickness)
    k, stiff = np.pi / length, MODULUS / (1.0 - POISSON**2) * thickness
    a = np.sqrt((rise**2 - thickness**2 / 3.0) / 3.0)
    limit = stiff * k**4 * (thickness**2 * (rise - a) / 12.0 + (rise**2 - a**2) * a / 4.0)
    forces = np.zeros(body.points.shape)
    x = body.points[:, 0]
    columns, inverse = np.unique(np.round(x, 9), return_inverse=True)
    share = np.gradient(columns)
    share[[0, -1]] = 0.5 * (columns[1] - columns[0])
    per_node = share[inverse] / np.bincount(inverse)[inverse]
    forces[:, 2] = -limit * BREADTH * np.sin(k * x) * per_node
    steps = (0.5, 0.9, 0.96, 0.98, 1.0, 1.02, 1.04)
    history = TimeLine(times=(0.0, *steps, 2.0, 3.0), factors=(0.0, *steps, 0.5, 0.0))
    moments = [(t, 20.0) for t in (0.0, *steps, 2.0, 3.0)]
    found = lab.march(
        body, moments, ends, [Load(forces=forces, history=history)], tolerance=1e-6,
        stability="always",
    )  # fmt: skip
    jumps = [m.target.time for m in found if any(e.kind == "jump" for e in m.events or ())]
    assert len(jumps) == 1
    assert 0.98 <= jumps[0] <= 1.04
    top = int(np.argmax(x))
    assert body.points[top, 2] + found[-1].displacement[top, 2] < -0.5 * rise


def _spot(body: Body, peak: float) -> Array:
    away = ((body.points[:, :2] - body.points[:, :2].max(axis=0)) ** 2).sum(axis=1)
    return np.asarray(20.0 + (peak - 20.0) * np.exp(-away / 0.015**2))


def test_a_hot_spot_pushes_out_only_under_watch(lab: SimpleNamespace) -> None:
    """A perfectly flat panel, hot through its thickness: flat it shrinks more."""
    metal = lab.metal(modulus=MODULUS, strength=[(20.0, 355e6), (700.0, 60e6)], hardening=2e9)
    body = lab.box((0.12, 0.12, 0.002), (14, 14, 2), metal)
    p, end = body.points, 0.12 - 1e-9
    rim = (p[:, 0] < 1e-9) | (p[:, 1] < 1e-9)
    held = [lab.hold(body, x=rim, y=rim, z=rim), lab.hold(body, x=p[:, 0] > end, y=p[:, 1] > end)]
    peaks = (150.0, 300.0, 450.0, 600.0, 450.0, 300.0, 150.0, 20.0)
    moments = [(0.0, 20.0)] + [(float(n), _spot(body, t)) for n, t in enumerate(peaks, start=1)]
    weights = StrainOperator.on(body.mesh).weights
    shrunk = {}
    for stability in ("auto", "never"):
        found = lab.march(body, moments, held, tolerance=1e-4, stability=stability)
        kinds = _events(found)
        assert kinds[:1] == (["either way"] if stability == "auto" else [])
        shrunk[stability] = -float(found[-1].state.plastic_strain[:2].sum(axis=0) @ weights)
        out = np.abs(found[4].displacement[:, 2]).max()
        assert (out > 0.001) == (stability == "auto")
    assert shrunk["never"] > 1.05 * shrunk["auto"] > 0.0


def test_stout_parts_are_not_watched(lab: SimpleNamespace) -> None:
    """A plate of 400 x 200 x 12 mm; unless it is asked for, and then nothing changes but cost."""
    body = lab.box((0.4, 0.2, 0.012), (4, 3, 1), lab.metal(modulus=MODULUS))
    assert slenderness(body) < 40.0
    held = [lab.planes(body)]
    moments = [(0.0, 20.0), (1.0, 120.0)]
    plain = lab.march(body, moments, held)[-1]
    watched = lab.march(body, moments, held, stability="always")[-1]
    assert plain.events is None
    assert watched.events == ()
    np.testing.assert_allclose(watched.displacement, plain.displacement, atol=1e-9)


def test_wrong_choices_are_refused() -> None:
    with pytest.raises(OutOfRange, match="Stability is 'perhaps'"):
        Solving(stability="perhaps")
    with pytest.raises(OutOfRange, match="finite geometry only"):
        Solving(stability="always", geometry="small")


def test_both_sides_of_a_buckle_are_told(lab: SimpleNamespace) -> None:
    """A bowed strip is stable on both sides; one bowed just a little by its form is not."""
    length, thickness = 0.4, 0.002
    critical = np.pi**2 * thickness**2 / (12.0 * (1.0 + POISSON) * ALPHA * length**2)
    for rise, heat, kinds in ((0.02, 4.0, ["other side"]), (1.0, 0.0, [])):
        body = _strip(lab, length, thickness, rise * thickness)
        ends = _strip_ends(lab, body, thickness)
        found = lab.march(
            body, [(0.0, 20.0), (1.0, 20.0 + heat * critical)], ends, tolerance=1e-5,
            stability="always", name="end",
        )  # fmt: skip
        assert _events(found) == kinds


def test_what_a_device_holds_does_not_buckle(lab: SimpleNamespace) -> None:
    """A strip held in its middle, too, buckles at four times the heat; with one-sided rests below
    the same until it lifts off.
    """
    length, thickness = 0.4, 0.002
    critical = np.pi**2 * thickness**2 / (12.0 * (1.0 + POISSON) * ALPHA * length**2)
    body = lab.box((length, thickness, thickness), (32, 1, 2), lab.metal(modulus=MODULUS))
    p = body.points
    line = np.abs(p[:, 2] - 0.5 * thickness) < 1e-9
    rim = ((p[:, 0] < 1e-9) | (p[:, 0] > length - 1e-9)) & line
    ends = [lab.hold(body, x=rim, z=rim, y=np.ones(len(p), dtype=bool))]
    middle = np.flatnonzero((np.abs(p[:, 0] - 0.5 * length) < 1e-9) & (p[:, 2] < 1e-9))
    patches = [patch_at(body, p[node], 1e-4, (0, 0, 1), both=False) for node in middle]
    held = pushers(body, patches, (0, 0, 1), name="holds both ways", least=-np.inf)
    shares = (0.9, 1.5, 3.0, 3.8, 4.3)
    moments = [(0.0, 20.0)] + [(float(s), 20.0 + s * critical) for s in shares]
    found = lab.march(body, moments, ends, devices=[held], tolerance=1e-5, stability="always")
    first = next(m.target.time for m in found if m.events)
    assert first == 4.3
    assert np.abs(found[-2].displacement[:, 2]).max() < 0.05 * thickness
