"""The law at a point: yield surface, hardening, annealing, consistent tangent."""

import numpy as np
import pytest

from flamefe.straining.plasticity import PointProperties, PointState, respond, tangent


def at(metal, count=1, temperature=20.0):
    return PointProperties.of(metal, np.full(count, temperature), np.full(count, 20.0))


def pull(lab, metal, strains, temperatures=None):
    """Uniaxial stress, MPa, along a path of axial strains, by a free-sided hex."""
    body = lab.box((0.01, 0.01, 0.01), (1, 1, 1), metal)
    times = list(range(len(strains)))
    way = [(float(t), e * 0.01) for t, e in zip(times, strains, strict=True)]
    push = lab.push(body, "end", 0, way)
    if temperatures is None:
        temperatures = [20.0] * len(strains)
    moments = [(float(t), c) for t, c in zip(times, temperatures, strict=True)]
    found = lab.march(body, moments, [lab.planes(body), push], geometry="small")
    return [float(m.stress[0].mean()) / 1e6 for m in found]


def test_yield_surface_holds_and_input_is_left_alone(lab):
    """Random strains: equivalent stress is the hardened yield stress; the old state stays."""
    metal = lab.metal(strength=300e6, hardening=2e9)
    random = np.random.default_rng(0)
    strain = random.normal(0, 5e-3, (6, 200))
    old = PointState.virgin(200)
    answer = respond(strain.copy(), at(metal, 200), old)
    assert not old.plastic_strain.any()
    assert not old.equivalent.any()
    expected = 300e6 + 2e9 * answer.state.equivalent
    yielding = answer.yielding
    assert yielding.size > 100
    assert lab.mises(answer.stress)[yielding] == pytest.approx(expected[yielding], rel=1e-10)
    flow = answer.state.plastic_strain[:3].sum(axis=0)
    assert np.abs(flow).max() < 1e-15, "plastic flow keeps the volume"


@pytest.mark.parametrize("share", [0.0, 0.4, 1.0])
@pytest.mark.parametrize("hardening", [0.0, 3e9])
def test_tangent_is_the_derivative_of_the_stress(lab, share, hardening):
    """Against central differences, from a state that has already yielded."""
    metal = lab.metal(strength=300e6, hardening=hardening, kinematic_share=share)
    random = np.random.default_rng(3)
    first = respond(random.normal(0, 3e-3, (6, 50)), at(metal, 50), PointState.virgin(50)).state
    strain = random.normal(0, 4e-3, (6, 50))
    answer = respond(strain.copy(), at(metal, 50), first)
    exact = tangent(at(metal, 50), answer)
    step = 1e-8
    for j in range(6):
        ahead, behind = strain.copy(), strain.copy()
        ahead[j] += step
        behind[j] -= step
        slope = (
            respond(ahead, at(metal, 50), first).stress
            - respond(behind, at(metal, 50), first).stress
        ) / (2 * step)
        assert pytest.approx(slope, abs=2e-5 * 210e9) == exact[:, :, j].T


# hand-worked: E = 200 GPa, sy = 200 MPa, H = 20 GPa, so the tangent modulus is 200/11 GPa.
# Pull to 2e-3: 200 + 1e-3 * 18.18e3 = 218.18 MPa, plastic strain 0.909e-3; H e = 18.18 MPa.
# Push back: kinematic yields after 400 MPa (at -181.82), isotropic after 436.36 (at -218.18).
@pytest.mark.parametrize(("share", "reverse"), [(0.0, -218.1818), (1.0, -181.8182), (0.5, -200.0)])
def test_reverse_yield_by_kind_of_hardening(lab, share, reverse):
    """Bauschinger: the stress of first reverse yield, and the slope after it; hand-worked."""
    metal = lab.metal(modulus=200e9, strength=200e6, hardening=20e9, kinematic_share=share)
    top = 2e-3
    back = top - (218.1818 - reverse) / 200e3
    strains = [0.0, top, back + 1e-5, back - 1e-4]
    _, at_top, before, after = pull(lab, metal, strains)
    assert at_top == pytest.approx(218.1818, abs=1e-3)
    assert before == pytest.approx(reverse + 2.0, abs=0.01), "still elastic"
    assert after == pytest.approx(reverse - 1e-4 * 200e3 / 11, abs=0.01)


def test_annealing_resets_hardening_but_not_the_shape(lab):
    """Hardened, heated free above the annealing temperature, cooled: it yields like new."""
    metal = lab.metal(
        modulus=200e9, strength=200e6, hardening=20e9, annealing_C=800.0, expansion=0.0
    )
    strains = [0.0, 4e-3, 2.7e-3, 2.7e-3, 2.7e-3, 4.2e-3]
    hot = [20.0, 20.0, 20.0, 900.0, 20.0, 20.0]
    stress = pull(lab, metal, strains, hot)
    kept = pull(lab, metal, strains)
    assert stress[1] == pytest.approx(200 + 3e-3 * 200e3 / 11, abs=1e-3)
    # reloading from an unloaded state: first yield again at 200 MPa, not at what it had hardened to
    slack = stress[4]
    gone = (200.0 - slack) / 200e3
    expected = 200.0 + (1.5e-3 - gone) * 200e3 / 11
    assert stress[5] == pytest.approx(expected, abs=0.05)
    assert kept[5] > stress[5] + 20.0


def test_properties_of_two_materials_are_kept_apart(lab):
    """Merged properties give each point its own material's."""
    soft, hard = lab.metal(strength=100e6), lab.metal(strength=500e6, hardening=1e9)
    owner = np.array([0, 1, 0, 1])
    merged = PointProperties.chosen([at(soft, 4), at(hard, 4)], owner)
    assert merged.yield_stress.tolist() == [100e6, 500e6, 100e6, 500e6]
    assert merged.isotropic.tolist() == [0.0, 1e9, 0.0, 1e9]


@pytest.mark.parametrize("share", [0.3, 1.0])
def test_yield_surface_follows_the_back_stress(lab, share):
    """Kinematic part: the surface, of radius s_y + (1 - share) H e, stands about the back stress.

    Over twenty random steps at random temperatures; states that are passed in are not changed.
    Back stress 2/3 share H times the plastic strain (Prager), Simo and Hughes 1998, box 3.2.
    """
    metal = lab.metal(
        strength=[(20, 300e6), (620, 100e6)], modulus=[(20, 210e9), (620, 65e9)],
        hardening=[(20, 4e9), (620, 1e9)], kinematic_share=share,
    )  # fmt: skip
    random = np.random.default_rng(8)
    state = PointState.virgin(60)
    strain = np.zeros((6, 60))
    for _ in range(20):
        strain = strain + random.normal(0, 2e-3, (6, 60))
        here = PointProperties.of(metal, random.uniform(20, 620, 60), np.full(60, 20.0))
        kept = [np.array(part) for part in vars(state).values()]
        given = strain.copy()
        answer = respond(given, here, state)
        assert np.array_equal(given, strain)
        for part, before in zip(vars(state).values(), kept, strict=True):
            assert np.array_equal(part, before)
        state = answer.state
        back = 2 / 3 * here.kinematic * state.plastic_strain
        back[3:] *= 0.5
        radius = lab.mises(answer.stress - back)
        limit = here.yield_stress + here.isotropic * state.equivalent
        assert (radius <= limit * (1 + 1e-9)).all()
        yields = answer.yielding
        assert radius[yields] == pytest.approx(limit[yields], rel=1e-9)
        assert yields.size > 20
    assert state.accumulated == pytest.approx(state.equivalent)


def test_strain_cycles_of_growing_and_settled_stress(lab):
    """Strain between +-3e-3 six times, E = 200 GPa, s_y = 200 MPa, H = 20 GPa, by hand.

    Kinematic: every half cycle ends at +-(s_y + E_t (3e-3 - s_y/E)) = 236.36 MPa, E_t = E/11.
    Isotropic: each half cycle adds to the yield stress until the
    elastic range spans the cycle: stress grows towards E 3e-3 = 600 MPa and is never above it.
    """
    turns = [0.0] + [3e-3, -3e-3] * 6
    kinematic = lab.metal(modulus=200e9, strength=200e6, hardening=20e9, kinematic_share=1.0)
    isotropic = lab.metal(modulus=200e9, strength=200e6, hardening=20e9)
    level = 200.0 + 200e3 / 11 * 2e-3
    assert np.abs(pull(lab, kinematic, turns)[1:]) == pytest.approx(np.full(12, level), abs=1e-3)
    # by hand: each reversal starts at the last yield stress y and adds (6e-3 E - 2 y) H / (E + H)
    expected = [level]
    for _ in range(11):
        expected.append(expected[-1] + (6e-3 * 200e3 - 2 * expected[-1]) / 11)
    assert np.abs(pull(lab, isotropic, turns)[1:]) == pytest.approx(expected, abs=1e-2)
    assert expected[0] < expected[-1] < 600.0


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_annealing_forgets_every_kind_of_hardening(lab, share):
    """Above 800 C in one hot step: yields again at its virgin stress both ways; shape stays."""
    metal = lab.metal(
        modulus=200e9, strength=200e6, hardening=20e9, annealing_C=800.0, expansion=0.0,
        kinematic_share=share,
    )  # fmt: skip
    top, plastic = 4e-3, 3e-3 / 1.1
    strains = [0.0, top, plastic, plastic, plastic, plastic + 0.99e-3, plastic - 1.5e-3]
    hot = [20.0, 20.0, 20.0, 850.0, 20.0, 20.0, 20.0]
    stress = pull(lab, metal, strains, hot)
    assert stress[1] == pytest.approx(200 + 3e-3 * 200e3 / 11, abs=1e-3)
    assert stress[2:5] == pytest.approx([0.0, 0.0, 0.0], abs=1e-3)
    assert stress[5] == pytest.approx(198.0, abs=1e-3)
    assert stress[6] == pytest.approx(-200.0 - 0.5e-3 * 200e3 / 11, abs=1e-3)


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_what_yields_while_annealing_stays_soft(lab, share):
    """Stretched past yield at 850 C, where hardening is lost at once: virgin when it is cold."""
    metal = lab.metal(
        modulus=200e9, strength=200e6, hardening=20e9, annealing_C=800.0, expansion=0.0,
        kinematic_share=share,
    )  # fmt: skip
    plastic = 3e-3 / 1.1
    strains = [0.0, 0.0, 4e-3, plastic, plastic + 2e-3]
    stress = pull(lab, metal, strains, [20.0, 850.0, 850.0, 20.0, 20.0])
    assert stress[2] == pytest.approx(200 + 3e-3 * 200e3 / 11, abs=1e-3)
    assert stress[3] == pytest.approx(0.0, abs=1e-3)
    assert stress[4] == pytest.approx(200 + 1e-3 * 200e3 / 11, abs=1e-3)
