"""Bars that can't expand: Satoh's bar by constants and by the Eurocode's tables, springs, frames.

K. Satoh's restrained bar: heated while held, it upsets; cooled, it pulls. Expected values are
derived from elastic, perfectly plastic law in one dimension (hand-worked for each row).
"""

import numpy as np
import pytest

from flamefe.basics.table import Table
from flamefe.straining.element import StrainOperator
from flamefe.straining.restraint import Load
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh

COLD = 20.0


def uniaxial(lab, body, *, far_held=True):
    """Both ends held along x, free sideways."""
    p = body.points
    low = np.abs(p) < 1e-9
    ends = low[:, 0] | (np.abs(p[:, 0] - p[:, 0].max()) < 1e-9) if far_held else low[:, 0]
    return lab.hold(body, x=ends, y=low[:, 1], z=low[:, 2])


def cycle(lab, body, peak, steps=24, support=None, tolerance=1e-6):
    """Heat evenly to ``peak`` and cool again; the moments."""
    way = np.concatenate((np.linspace(COLD, peak, steps), np.linspace(peak, COLD, steps)[1:]))
    support = uniaxial(lab, body) if support is None else support
    return lab.march(body, list(enumerate(way)), [support], geometry="small", tolerance=tolerance)


def held_bar(lab, material):
    return lab.box((0.1, 0.01, 0.01), (2, 1, 1), material)


# yield MPa, E GPa, alpha 1e-6: temperature rise to first yield, and to full reverse yield
CONSTANT = [
    (235, 210, 12, 93.3), (355, 210, 12, 140.9), (460, 210, 12, 182.5), (690, 210, 12, 273.8),
    (210, 200, 16.5, 63.6), (260, 70, 23, 161.5), (125, 70, 23, 77.6),
]  # fmt: skip


@pytest.mark.parametrize(("strength", "modulus", "alpha", "first"), CONSTANT)
@pytest.mark.parametrize("share", [0.9, 1.5, 2.5])
def test_bar_by_constants(lab, strength, modulus, alpha, first, share):
    """Residual stress min(sy, E alpha dT - sy); none below first yield. Satoh's bar."""
    metal = lab.metal(modulus=modulus * 1e9, expansion=alpha * 1e-6, strength=strength * 1e6)
    body = held_bar(lab, metal)
    rise = share * strength / (modulus * 1e3 * alpha * 1e-6)
    assert rise == pytest.approx(share * first, rel=2e-3)
    last = cycle(lab, body, COLD + rise)[-1]
    expected = min(strength, max(share - 1.0, 0.0) * strength) * 1e6
    assert last.stress[0] == pytest.approx(np.full(16, expected), abs=1e-4 * strength * 1e6)


# EN 1993-1-2:2005 table 3.1 (kE, ky), yield at the 2 % stress, elongation 3.4.1.1
TABLE_C = (20, 100, 200, 300, 400, 500, 600, 700, 800)
KY = (1, 1, 1, 1, 1, 0.78, 0.47, 0.23, 0.11)
KP = (1, 1, 0.807, 0.613, 0.42, 0.36, 0.18, 0.075, 0.05)
KE = (1, 1, 0.9, 0.8, 0.7, 0.6, 0.31, 0.13, 0.09)


def eurocode_steel(lab, strength=355e6, factors=KY):
    """Elastic, perfectly plastic by the Eurocode's tables."""
    pairs = list(zip(TABLE_C, factors, strict=True))
    metal = lab.metal(
        modulus=[(t, 210e9 * k) for t, k in zip(TABLE_C, KE, strict=True)],
        strength=[(t, strength * k) for t, k in pairs],
    )
    knots = np.arange(20.0, 751.0, 1.0)
    values = 1.2e-5 * knots + 0.4e-8 * knots**2 - 2.416e-4
    values[0] = 0.0
    strain = Table(temperature_C=tuple(knots), values=tuple(values), source="EN 1993-1-2")
    return type(metal)(**{**public(metal), "thermal_strain": strain})


def public(metal):
    """A material's own arguments."""
    names = metal.__dataclass_fields__
    return {name: getattr(metal, name) for name in names}


@pytest.mark.parametrize(
    ("peak", "stress", "plastic"),
    [(200, 92.4, -0.4401e-3), (250, 214.1, -1.0196e-3), (300, 337.1, -1.6053e-3),
     (400, 355.0, -1.6905e-3), (600, 355.0, -1.6905e-3)],
)  # fmt: skip
def test_bar_by_eurocode_tables(lab, peak, stress, plastic):
    """S355 by EN 1993-1-2 with the 2 % stress: residual stress and plastic strain, derived."""
    last = cycle(lab, held_bar(lab, eurocode_steel(lab)), peak, steps=2 * peak // 10)[-1]
    assert last.stress[0].mean() / 1e6 == pytest.approx(stress, abs=0.3)
    assert last.state.plastic_strain[0].mean() == pytest.approx(plastic, abs=2e-6)


@pytest.mark.parametrize(("peak", "stress"), [(150, 8.5), (200, 168.5), (250, 335.2), (300, 355.0)])
def test_bar_with_yield_at_the_proportional_limit(lab, peak, stress):
    """S355 with kp of EN 1993-1-2, derived."""
    steel = eurocode_steel(lab, factors=KP)
    last = cycle(lab, held_bar(lab, steel), peak, steps=2 * peak // 10)[-1]
    assert last.stress[0].mean() / 1e6 == pytest.approx(stress, abs=0.3)


@pytest.mark.parametrize(
    ("strength", "first"), [(235, 110.3), (355, 161.5), (460, 210.6), (690, 342.5)]
)
def test_first_yield_on_heating_by_tables(lab, strength, first):
    """No plastic strain just below, some just above the derived temperature."""
    steel = eurocode_steel(lab, strength * 1e6)
    for peak, yields in ((first - 0.4, False), (first + 0.4, True)):
        hot = cycle(lab, held_bar(lab, steel), peak, steps=30)[29]
        assert (np.abs(hot.state.plastic_strain).max() > 0.0) == yields


def spring_and_bar(lab, steel, restraint):
    """A bar and, behind it, an elastic bar without expansion: b = ks / (ks + E A / L).

    The spring is short and soft, so that it does not hinder the bar's thickness where they meet.
    """
    x = [0.0, 0.9, 0.98, 1.0, 1.002, 1.004]
    mesh = box_mesh(x, [0, 0.01], [0, 0.01])
    stiff = 210e9 * restraint / (1.0 - restraint) * 0.004
    spring = lab.metal(modulus=stiff, expansion=0.0, poisson=0.0)
    owner = (mesh.p[0, mesh.t].mean(axis=0) > 1.0).astype(np.int64)
    return Body(mesh=mesh, materials=(steel, spring), owner=owner)


@pytest.mark.parametrize(
    ("restraint", "peak", "stress", "plastic"),
    [
        (0.25, 400, 0.0, 0.0), (0.25, 600, 181.2, -3.4518e-3),
        (0.5, 300, 0.0, 0.0), (0.5, 400, 114.8, -1.0930e-3), (0.5, 600, 355.0, -3.3810e-3),
        (0.75, 300, 164.1, -1.0418e-3), (0.75, 400, 349.6, -2.2199e-3),
        (0.75, 600, 355.0, -2.2540e-3),
    ],
)  # fmt: skip
def test_spring_restraint_by_tables(lab, restraint, peak, stress, plastic):
    """S355 by EN 1993-1-2 between a spring and a wall; derived."""
    steel = type(eurocode_steel(lab))(
        **{**public(eurocode_steel(lab)), "poisson": Table.constant(0.0, source="test")}
    )
    body = spring_and_bar(lab, steel, restraint)
    last = cycle(lab, body, peak, steps=2 * peak // 10)[-1]
    bar = np.repeat(body.owner == 0, 8)
    volume = np.repeat([0.9, 0.08, 0.02, 0, 0], 8)[: bar.size][bar]
    pulled = np.average(last.stress[0, bar], weights=volume)
    upset = np.average(last.state.plastic_strain[0, bar], weights=volume)
    assert pulled / 1e6 == pytest.approx(stress, abs=0.5)
    assert upset == pytest.approx(plastic, abs=4e-6)


@pytest.mark.parametrize("broad", [1.0, 2.0])
@pytest.mark.parametrize("share", [0.95, 1.5, 1.9, 2.5])
def test_three_bar_frame(lab, broad, share):
    """Rigid heads: the middle bar is restrained by b = 2 A2 / (2 A2 + A1); constants, derived.

    First yield at s_y / (b E alpha); then plastic strain -(alpha dT - s_y / (b E)), and cold
    min(s_y, b E alpha dT - s_y). A wall is one head; the other, ten thousand times as stiff as
    the bars, hinders their thickness, too, which is felt over a bar's depth: 1.5 % of s_y.
    """
    strength, young, alpha = 355e6, 210e9, 12e-6
    side = 0.01 * broad
    along = np.array([0, 0.6, 0.8, 0.9, 0.95, 0.97, 0.98, 0.985, 0.99, 0.995, 1.0])
    places = [(0.0, side), (side + 0.02, side + 0.03), (side + 0.05, 2 * side + 0.05)]
    bars = [np.stack(np.meshgrid(along, y, [0, 0.01], indexing="ij"), axis=-1) for y in places]
    across = np.array(places).reshape(-1)
    bars.append(np.stack(np.meshgrid([1.0, 1.1], across, [0, 0.01], indexing="ij"), axis=-1))
    cold = lab.metal(strength=strength, expansion=0.0)
    hot = lab.metal(strength=strength, expansion=alpha)
    head = lab.metal(modulus=1e4 * young, expansion=0.0)
    body = lab.blocks(bars, (cold, hot, head), owners=[0, 1, 0, 2])
    restraint = 2 * side / (2 * side + 0.01)
    rise = share * strength / (restraint * young * alpha)
    low = np.abs(body.points) < 1e-9
    held = lab.hold(body, x=low[:, 0], y=low[:, 0] & low[:, 1], z=low[:, 2])
    found = cycle(lab, body, COLD + rise, steps=21, support=held, tolerance=3e-4)
    middle = np.repeat(body.owner == 1, 8)
    share_of = StrainOperator.on(body.mesh).weights[middle]
    left = np.average(found[-1].stress[0, middle], weights=share_of)
    upset = np.average(found[20].state.plastic_strain[0, middle], weights=share_of)
    expected = min(strength, max(share - 1.0, 0.0) * strength)
    assert left == pytest.approx(expected, abs=0.015 * strength)
    yielded = max(alpha * rise - strength / (restraint * young), 0.0)
    assert upset == pytest.approx(-yielded, abs=0.02 * strength / young)


@pytest.mark.parametrize("restraint", [0.5, 1.0])
def test_restraint_that_only_pushes_leaves_the_bar_short(lab, restraint):
    """A jack, taken away at the peak: no stress is left, the bar is short by L |e_p|. Derived.

    e_p = -(alpha dT - s_y / (b E)) with b = ks / (ks + E A / L); 1 %: the spring's soft end.
    """
    metal = lab.metal(strength=355e6, poisson=0.0)
    if restraint == 1.0:
        body = lab.box((1.0, 0.01, 0.01), (5, 1, 1), metal)
    else:
        body = spring_and_bar(lab, metal, restraint)
    p = body.points
    rise = 1.7 * 355e6 / (restraint * 210e9 * 12e-6)
    jack = lab.hold(body, x=p[:, 0] > p[:, 0].max() - 1e-9, released=20.0)
    way = [*np.linspace(0, rise, 21), *np.linspace(rise, 0, 11)[1:]]
    moments = [(float(i), COLD + t) for i, t in enumerate(way)]
    last = lab.march(body, moments, [lab.planes(body), jack], geometry="small", tolerance=1e-6)[-1]
    upset = 12e-6 * rise - 355e6 / (restraint * 210e9)
    end = np.abs(p[:, 0] - 1.0) < 1e-9
    assert upset > 1e-3
    assert last.displacement[end, 0].mean() == pytest.approx(-upset, rel=0.01)
    assert np.abs(last.stress[0, :16]).max() < 0.005 * 355e6, "but for where the spring begins"


def test_loaded_cold_and_unloaded_hot_leaves_nothing(lab):
    """Total form: with E(T) an elastic bar loaded cold, unloaded hot and cooled has no stress."""
    body = lab.box((0.1, 0.01, 0.01), (2, 1, 1), lab.metal(modulus=[(20, 210e9), (620, 65e9)]))
    pull = np.zeros(body.points.shape)
    pull += lab.face_forces(body, "end", lambda x: np.stack([x[0] * 0 + 1e8, x[0] * 0, x[0] * 0]))
    moments = [(0.0, 20.0), (1.0, 620.0), (2.0, 20.0)]
    load = Load(forces=pull, released=1.0)
    support = uniaxial(lab, body, far_held=False)
    last = lab.march(body, moments, [support], [load], geometry="small")[-1]
    assert np.abs(last.stress).max() < 1e-3 * 1e8
    assert np.abs(last.displacement).max() < 1e-10
