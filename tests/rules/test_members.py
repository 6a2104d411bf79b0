"""Frames, wedges in any section, pipes, panels, repeated heats: by hand and by integration."""

import math
from dataclasses import asdict, replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad, solve_bvp

from flamefe.basics.errors import OutOfRange
from flamefe.rules import camber, frame, panel, pipe, wedge, wedge_section
from flamefe.rules.inputs import RuleInputs, with_material
from flamefe.rules.registry import RULES, applicable, find_rule, rules_for, verdict_of
from flamefe.rules.spot import spot_area_loss
from flamefe.workpiece.standard import material

CONSTANT = {"yield_stress": 355e6, "youngs_modulus": 210e9, "expansion": 12e-6}
I_300 = ((0.0, 0.011, 0.15), (0.011, 0.289, 0.007), (0.289, 0.3, 0.15))


def said(inputs, rule, quantity):
    return next(v for v in rules_for(inputs) if (v.rule, v.quantity) == (rule, quantity))


def marched_frame(rise, side, middle, steps=4000):
    """Three bars of unit length, elastic and perfectly plastic, in small steps of temperature.

    Returns:
        Stress of the middle bar and change of length of the frame.
    """
    strength, stiffness, expansion = CONSTANT.values()
    way = np.concatenate((np.linspace(0, rise, steps), np.linspace(rise, 0, steps)))
    plastic = stress = length = 0.0
    for warm in way:
        # 2 A2 E e + A1 E (e - alpha dT - e_p) = 0 for the common strain e.
        push = expansion * warm + plastic
        length = middle * push / (2 * side + middle)
        stress = stiffness * (length - push)
        if abs(stress) > strength:
            stress = math.copysign(strength, stress)
            length = -middle * stress / (2 * side * stiffness)
            plastic = length - expansion * warm - stress / stiffness
    return stress, length


@pytest.mark.parametrize("rise", [100.0, 250.0, 320.0, 700.0])
@pytest.mark.parametrize("side", [1e-4, 3e-4, 9e-4])
def test_three_bar_frame_against_small_steps(rise, side):
    stress, length = marched_frame(rise, side, 2e-4)
    numbers = (*CONSTANT.values(), side, 2e-4)
    assert frame.frame_tension(rise, *numbers) == pytest.approx(stress, abs=2e4)
    assert frame.frame_shortening(1.0, rise, *numbers) == pytest.approx(-length, abs=1e-7)


def test_spring_and_cold_metal_are_in_series():
    """Displacements of a chain heated bar, cold bar, spring under the same force."""
    spring, area, stiffness, length, heated = 40e6, 2e-4, 210e9, 0.5, 0.2
    force = 1e4
    give = force / spring + force * (length - heated) / (stiffness * area)
    own = force * heated / (stiffness * area)
    found = frame.restraint_behind_cold_metal(spring, area, stiffness, length, heated)
    # A held bar presses with b times what rigid walls would make of its free expansion.
    assert found == pytest.approx(own / (own + give), rel=1e-12)
    with pytest.raises(OutOfRange, match="heated length"):
        frame.restraint_behind_cold_metal(spring, area, stiffness, 0.2, 0.5)


@pytest.mark.parametrize(
    ("restraint", "peak", "tension", "upset"),
    # Tables of EN 1993-1-2 (2 % stress), S355, heated between springs; worked by hand.
    [(0.25, 600, 181.2, 3.4518), (0.5, 400, 114.8, 1.0930), (0.75, 300, 164.1, 1.0418)],
)
def test_springs_and_frames_reach_the_tables(restraint, peak, tension, upset):
    steel = material("S355", yield_as="2 % stress")
    side = 2e-4 * restraint / (2 * (1 - restraint))
    inputs = with_material(
        RuleInputs(part="bar", peak_C=peak, section_area=2e-4, side_area=side, heated_length=1.0),
        steel,
    )
    assert said(inputs, "restrained bar, tables", "largest tension along x").value == pytest.approx(
        tension, abs=0.06
    )
    assert said(inputs, "restrained bar, tables", "shortening").value == pytest.approx(
        upset, abs=6e-5
    )
    bar = 210e9 * 2e-4 / 1.0
    sprung = RuleInputs(
        part="bar",
        peak_C=peak,
        length=1.0,
        section_area=2e-4,
        spring_stiffness=bar * restraint / (1 - restraint),
    )
    assert asdict(with_material(sprung, steel).bar_cycle) == pytest.approx(
        asdict(inputs.bar_cycle), rel=1e-9
    )


def test_spring_rule_is_dispatched_both_ways():
    sprung = RuleInputs(
        part="bar", peak_C=320.0, length=0.5, section_area=2e-4, spring_stiffness=252e6, **CONSTANT
    )
    # b = 0.75; b E alpha dT - sy = 0.75 x 210e3 x 12e-6 x 300 - 355 = 212 MPa.
    rule = "bar against a spring"
    assert said(sprung, rule, "largest tension along x").value == pytest.approx(212.0)
    upset = 12e-6 * 300 - 355e6 / (0.75 * 210e9)
    assert said(sprung, rule, "shortening").value == pytest.approx(500 * upset)
    stopped = replace(sprung, one_sided=True, peak_C=620.0)
    assert said(stopped, rule, "largest tension along x").value == 0.0
    full = 12e-6 * 600 - 355e6 / (0.75 * 210e9)
    assert said(stopped, rule, "shortening").value == pytest.approx(500 * full)
    held = said(replace(sprung, peak_C=620.0), rule, "shortening")
    assert held.value == pytest.approx(500 * 355e6 / (0.75 * 210e9))


def test_weak_side_bars_are_told():
    inputs = RuleInputs(peak_C=320.0, section_area=2e-4, side_area=0.9e-4, **CONSTANT)
    one = said(inputs, "three-bar frame", "largest tension along x")
    assert any("yield before the middle" in reason for reason in one.reasons)


@pytest.mark.parametrize("ratio", [0.5, 2 / 3, 0.75, 1.0])
@pytest.mark.parametrize("base", ["far", "near"])
def test_a_rectangle_is_the_plane_section_wedge(ratio, base):
    angle, upset, depth = math.radians(45), 7.355e-3, 0.1
    strips = [(0.3, 0.34, 0.01), (0.34, 0.4, 0.01)]
    turn = wedge_section.section_wedge_rotation(strips, angle, upset, ratio * depth, base)
    short = wedge_section.section_wedge_shortening(strips, angle, upset, ratio * depth, base)
    assert turn == pytest.approx(wedge.plane_section_rotation(angle, upset, ratio), rel=1e-9)
    assert short == pytest.approx(
        wedge.plane_section_shortening(angle, upset, ratio, depth), rel=1e-9
    )


@pytest.mark.parametrize("base", ["far", "near"])
@pytest.mark.parametrize("depth", [0.008, 0.12, 0.3])
def test_any_section_by_integration(base, depth):
    """A lopsided section by quadrature; derived, phi = int b u* (z - zc) dz / I."""
    strips = ((0.0, 0.02, 0.3), (0.02, 0.289, 0.007), (0.289, 0.3, 0.1))
    angle, upset = math.radians(30), 5e-3
    breaks = sorted({z for low, high, _ in strips for z in (low, high)})

    def wide(z):
        return next(w for low, high, w in strips if low <= z <= high)

    def over(what):
        return quad(what, 0.0, 0.3, points=[*breaks[1:-1], apex], limit=200)[0]

    apex = 0.3 - depth if base == "far" else depth
    area, first = over(wide), over(lambda z: wide(z) * z)
    middle = first / area
    second = over(lambda z: wide(z) * (z - middle) ** 2)

    def taken(z):
        inside = max(z - apex, 0.0) if base == "far" else max(apex - z, 0.0)
        return wide(z) * upset * 2 * math.tan(angle / 2) * inside

    sign = 1 if base == "far" else -1
    assert wedge_section.section_wedge_rotation(strips, angle, upset, depth, base) == pytest.approx(
        sign * over(lambda z: taken(z) * (z - middle)) / second, rel=1e-6
    )
    assert wedge_section.section_wedge_shortening(
        strips, angle, upset, depth, base
    ) == pytest.approx(over(taken) / area, rel=1e-6)


def test_section_rule_has_the_sign_of_the_measure():
    inputs = RuleInputs(
        section_strips=I_300,
        wedge_angle=math.radians(30),
        wedge_depth=0.289,
        held_upset=7e-3,
        peak_C=650.0,
        **CONSTANT,
    )
    rule = "plane sections, any section"
    far = said(inputs, rule, "closing rotation")
    near = said(replace(inputs, wedge_base="near"), rule, "closing rotation")
    assert far.in_range
    assert near.value == pytest.approx(-far.value)
    assert (near.lower, near.upper) == (near.value, None)
    deep = replace(inputs, wedge_depth=0.4)
    assert all(one.rule != rule for one in rules_for(deep))
    assert any("deeper than the section" in r for one in applicable(deep) for r in one.reasons)


@pytest.mark.parametrize("outline", ["even", "oval"])
@pytest.mark.parametrize("degrees", [40, 90, 200, 360])
def test_pipe_by_integration(outline, degrees):
    """The upset summed over the wall with its lever, in polar coordinates."""
    outer, wall, width, upset = 0.1, 0.012, 0.05, 4e-3
    half = math.radians(degrees) / 2
    radii = np.linspace(outer - wall, outer, 401)
    angles = half * np.sin(np.linspace(-math.pi / 2, math.pi / 2, 4001))
    shape = np.sqrt(np.clip(1 - (angles / half) ** 2, 0, 1)) if outline == "oval" else 1.0
    ring = np.trapezoid(shape * np.cos(angles) * np.ones_like(angles), angles)
    share = np.trapezoid(shape * np.ones_like(angles), angles)
    moment = upset * width * ring * np.trapezoid(radii**2, radii)
    volume = upset * width * share * np.trapezoid(radii, radii)
    second = np.trapezoid(radii**3, radii) * math.pi
    area = 2 * math.pi * np.trapezoid(radii, radii)
    arc = math.radians(degrees)
    found = pipe.patch_rotation(2 * outer, wall, width, arc, upset, outline)
    assert found == pytest.approx(moment / second, rel=1e-4, abs=1e-9)
    assert pipe.patch_shortening(width, arc, upset, outline) == pytest.approx(
        volume / area, rel=1e-4
    )


def test_waist_of_a_ring_against_the_shell_equation():
    """D w'''' + (E h / R^2) w = E h e* / R inside the ring, solved numerically over half the pipe.

    Axisymmetric bending of a cylinder, S. Timoshenko, S. Woinowsky-Krieger, Theory of Plates and
    Shells, 2nd ed., art. 114 (from memory).
    """
    diameter, wall, width, upset, nu = 0.2191, 0.008, 0.06, 5e-3, 0.3
    radius = (diameter - wall) / 2
    fourth = 12 * (1 - nu**2) / (radius * wall) ** 2

    def slopes(x, y):
        # A smooth step of 0.2 mm stands for the ring's edge.
        inside = 0.5 * (1 - np.tanh((x - width / 2) / 2e-4))
        return np.array([y[1], y[2], y[3], fourth * (upset * radius * inside - y[0])])

    def ends(a, b):
        return np.array([a[1], a[3], b[0], b[1]])

    x = np.unique(np.concatenate((np.linspace(0, 0.4, 401), np.linspace(0.028, 0.032, 401))))
    found = solve_bvp(slopes, ends, x, np.zeros((4, x.size)), tol=1e-6, max_nodes=20000)
    assert found.success
    assert pipe.ring_waist(diameter, wall, width, upset, nu) == pytest.approx(
        found.sol(0.0)[0], rel=1e-3
    )


def test_pipe_rules_are_dispatched_with_their_reasons():
    oval = RuleInputs(
        pipe_diameter=0.2191,
        thickness=0.008,
        heat_width=0.04,
        heat_arc=math.radians(60),
        heat_outline="oval",
        held_upset=5e-3,
        peak_C=650.0,
        poisson=0.3,
        **CONSTANT,
    )
    turn = said(oval, "inherent strain on a pipe", "closing rotation")
    assert turn.in_range
    assert turn.upper == turn.value == pytest.approx(0.479, abs=5e-4)
    waist = said(oval, "ring on a pipe", "loss of radius at the ring")
    assert any("all round" in reason for reason in waist.reasons)
    ring = replace(oval, heat_arc=2 * math.pi, heat_outline="even")
    assert said(ring, "ring on a pipe", "loss of radius at the ring").in_range
    assert said(ring, "inherent strain on a pipe", "closing rotation").value == pytest.approx(0)
    thick = replace(ring, thickness=0.03)
    assert any(
        "thick" in r for r in said(thick, "ring on a pipe", "loss of radius at the ring").reasons
    )
    solid = replace(oval, thickness=0.12)
    assert any("outer diameter" in r for one in applicable(solid) for r in one.reasons)


def test_spots_of_a_panel():
    """600 x 600 mm, 6 mm deep, 30 mm spots at 650 C: 13 to 14 (derived, worked by hand)."""
    upset = 9.25e-3 - math.e * 355e6 / 210e9
    each = spot_area_loss(0.015, upset)
    assert panel.spots_to_flatten(0.006, 0.6, 0.6, each) == 14
    assert panel.depth_after_spots(0.006, 0.6, 0.6, 13 * each) > 0
    assert panel.depth_after_spots(0.006, 0.6, 0.6, 14 * each) == 0
    # Area left follows the square of the depth.
    left = panel.depth_after_spots(0.006, 0.6, 0.6, 5 * each)
    assert (left / 0.006) ** 2 == pytest.approx(1 - 5 * each / 88.8264e-6, rel=1e-5)
    with pytest.raises(OutOfRange, match="at least 0"):
        panel.depth_after_spots(0.006, 0.6, 0.6, -1e-6)


def test_panel_rules_and_spots_that_are_too_cool():
    inputs = RuleInputs(
        length=0.6,
        width=0.6,
        thickness=0.003,
        buckle_depth=0.006,
        spot_radius=0.015,
        spot_count=7,
        peak_C=20 + 9.25e-3 / 12e-6,
        hot_yield_stress=355e6,
        **CONSTANT,
    )
    needed = said(inputs, "area bookkeeping", "spots to flatten the panel")
    assert needed.in_range
    assert needed.value == pytest.approx(13.5, abs=0.05)
    assert said(inputs, "area bookkeeping", "dishing").value == pytest.approx(
        6 * math.sqrt(1 - 7 / needed.value), rel=1e-9
    )
    cool = said(replace(inputs, peak_C=300.0), "area bookkeeping", "spots to flatten the panel")
    assert cool.value == 1e6
    assert not cool.in_range


def test_camber_of_a_chain_by_rotating_vectors():
    turns, places, length = [0.3, -0.1, 0.2], [0.4, 1.1, 1.5], 2.0
    walk = [0j]
    steps, heading, done = np.linspace(0, length, 200_001), 0.0, 0
    for one, other in pairwise(steps):
        while done < 3 and places[done] <= one + 1e-12:
            heading += turns[done]
            done += 1
        walk.append(walk[-1] + (other - one) * np.exp(1j * heading))
    chord = walk[-1]
    across = (walk[100_000] * np.conj(chord)).imag / abs(chord)
    # positive to the left of the way from start to end, which is the far side
    assert camber.camber_of_rotations(turns, places, length) == pytest.approx(across, rel=1e-6)
    shuffled = camber.camber_of_rotations(
        [turns[i] for i in (2, 0, 1)], [places[i] for i in (2, 0, 1)], length
    )
    assert shuffled == pytest.approx(across, rel=1e-6)


def test_camber_of_equal_heats():
    # One heat in the middle: exactly L/2 sin(phi/2); many small ones: an arc, kappa L^2 / 8.
    assert camber.camber_of_equal_heats(0.2, 1, 0.5, 2.0) == pytest.approx(-math.sin(0.1))
    phi, length = 1e-4, 6.0
    arc = camber.camber_of_equal_heats(phi, 600, 0.01, length)
    assert arc == pytest.approx(-600 * phi / length * length**2 / 8, rel=2e-3)
    assert camber.camber_of_equal_heats(-phi, 2, 2.0, length) == pytest.approx(
        phi * (2 * length / 4 - 2.0 * 4 / 8), rel=1e-6
    )
    assert camber.heats_for_camber(0.012, 0.0025, 0.5, 6.0) == 4
    with pytest.raises(OutOfRange, match="at most"):
        camber.heats_for_camber(1.0, 0.0025, 0.5, 6.0)
    with pytest.raises(OutOfRange, match="fewer"):
        camber.camber_of_equal_heats(0.01, 20, 0.5, 6.0)
    with pytest.raises(OutOfRange, match="on the bar"):
        camber.camber_of_rotations([0.1], [7.0], 6.0)
    with pytest.raises(OutOfRange, match="one station"):
        camber.camber_of_rotations([0.1], [], 6.0)


def test_repeated_heats_too_close_are_told():
    inputs = RuleInputs(
        part="bar", length=6.0, width=0.3, heat_count=3, heat_spacing=0.5, heat_rotation=0.0025
    )
    one = said(inputs, "repeated heats", "camber")
    assert one.in_range
    assert one.value == pytest.approx(-10.0, abs=1e-3)
    close = said(replace(inputs, heat_spacing=0.2), "repeated heats", "camber")
    assert any("change one another" in reason for reason in close.reasons)


def test_applicable_says_what_the_dispatch_says():
    inputs = with_material(
        RuleInputs(
            part="bar", length=0.6, width=0.1, thickness=0.01, peak_C=640,
            wedge_angle=math.radians(45), wedge_depth=0.075, wedge_driven=False,
        ),
        material("S355"),
    )  # fmt: skip
    found = applicable(inputs)
    assert len(found) == len(RULES)
    speaking = {(v.rule, v.quantity): v for v in rules_for(inputs)}
    for verdict in found:
        value = speaking.get((verdict.rule, verdict.quantity))
        if value is None:
            assert verdict.reasons[0].startswith("needs ")
        else:
            assert (verdict.holds, verdict.reasons) == (value.in_range, value.reasons)
    mean = verdict_of(find_rule("published mean of wedge heats"), inputs)
    assert "all at once" in str(mean)


def test_rules_are_found_by_name():
    assert find_rule("tendon force", "shortening").part == "bar"
    with pytest.raises(OutOfRange, match="no rule 'tendon'"):
        find_rule("tendon")
    with pytest.raises(OutOfRange, match="doesn't give 'twist'"):
        find_rule("tendon force", "twist")
