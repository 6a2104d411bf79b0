"""Bars that can't expand: Satoh's bar by constants and by the Eurocode's tables, springs, lifts.

K. Satoh's restrained bar: heated while held, it upsets; cooled, it pulls. Expected values are
derived from elastic, perfectly plastic law in one dimension (hand-worked for each row).
"""

import numpy as np
import pytest

from flamefe.basics.table import Table
from flamefe.straining.restraint import GRAVITY, Load
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh

COLD = 20.0


def uniaxial(lab, body, *, far_held=True):
    """Both ends held along x, free sideways."""
    p = body.points
    low = np.abs(p) < 1e-9
    ends = low[:, 0] | (np.abs(p[:, 0] - p[:, 0].max()) < 1e-9) if far_held else low[:, 0]
    return lab.hold(body, x=ends, y=low[:, 1], z=low[:, 2])


def cycle(lab, body, peak, steps=24, support=None):
    """Heat evenly to ``peak`` and cool again; the moments."""
    way = np.concatenate((np.linspace(COLD, peak, steps), np.linspace(peak, COLD, steps)[1:]))
    support = uniaxial(lab, body) if support is None else support
    return lab.march(body, list(enumerate(way)), [support], geometry="small", tolerance=1e-6)


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


def test_three_bar_frame(lab):
    """Rigid heads: the middle bar is restrained by b = 2 A2 / (2 A2 + A1); constants, derived.

    Three bars of equal length and area on one held and one moving head; only the middle is hot.
    """
    steel = lab.metal(strength=355e6, poisson=0.0)
    bars = []
    for place in (0.0, 0.03, 0.06):
        axes = np.linspace(0, 1.0, 4), place + np.array([0, 0.01]), np.array([0, 0.01])
        bars.append(np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1))
    beam = 1e5  # a head that hardly gives: stiffer than the bars by this
    head = np.stack(
        np.meshgrid([1.0, 1.1], np.linspace(0, 0.07, 8), [0, 0.01], indexing="ij"), axis=-1
    )
    stiff = lab.metal(modulus=210e9 * beam, poisson=0.0)
    body = lab.blocks([*bars, head], (steel, stiff), owners=[0, 0, 0, 1])
    p = body.points
    low = np.abs(p) < 1e-9
    middle = (p[:, 1] > 0.029) & (p[:, 1] < 0.041) & (p[:, 0] < 1.0 - 1e-9)
    rise = 300.0
    way = [*np.linspace(0, rise, 31), *np.linspace(rise, 0, 31)[1:]]
    moments = [(float(i), COLD + t * middle) for i, t in enumerate(way)]
    held = lab.hold(body, x=low[:, 0], y=low[:, 0] & low[:, 1], z=low[:, 2])
    last = lab.march(body, moments, [held], geometry="small")[-1]
    place = lab.places(body)
    inside = (place[1] > 0.03) & (place[1] < 0.04) & (place[0] < 1.0)
    # the heated length ends a third of the way short of the head: temperature falls to it there
    hot = rise * (2.0 / 3.0 + 0.5 / 3.0)
    restraint = 2.0 / 3.0
    assert inside.any()
    expected = min(355.0, restraint * 210e3 * 12e-6 * hot - 355.0)
    assert expected > 50.0
    assert last.stress[0, inside].mean() / 1e6 == pytest.approx(expected, rel=0.05)


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


def test_rod_of_10_mm_lifts_two_tonnes(lab):
    """Common practice, no source: a hot rod, held while it cools, lifts a load of about 2 t.

    A rod of S355, 10 x 10 mm and 1 m long, is hot when a load of 2000 kg is hung on it, which
    rests on the ground until the rod has pulled it up. Cooling, the rod lifts the load by some
    millimetres; held at both ends instead, it pulls harder than the load weighs.
    """
    steel = eurocode_steel(lab)
    body = lab.box((1.0, 0.01, 0.01), (6, 1, 1), steel)
    weight = 2000.0 * GRAVITY
    area = 0.01 * 0.01
    down = np.zeros(body.points.shape)
    down += lab.face_forces(
        body, "end", lambda x: np.stack([x[0] * 0 + weight / area, x[0] * 0, x[0] * 0])
    )
    held = cycle(lab, body, 600.0, steps=60)[-1]
    assert held.stress[0].mean() * area > weight

    # heated free to 600 C; there the ground (a held end) takes the load until the rod carries it
    p = body.points
    top = uniaxial(lab, body, far_held=False)
    ground = lab.hold(body, x=np.abs(p[:, 0] - 1.0) < 1e-9, fitted=30.0, released=45.0)
    heating = [(float(t), c) for t, c in zip(range(31), np.linspace(20, 600, 31), strict=True)]
    cooling = [
        (30.0 + t, c) for t, c in zip(range(1, 31), np.linspace(600, 20, 31)[1:], strict=True)
    ]
    load = Load(forces=down, applied=30.5)
    moments = lab.march(body, heating + cooling, [top, ground], [load], geometry="small")
    end = np.abs(p[:, 0] - 1.0) < 1e-9
    at_ground = moments[30].displacement[end, 0].mean()
    lift = at_ground - moments[-1].displacement[end, 0].mean()
    assert at_ground > 7e-3, "hot, it hangs lower by its expansion"
    assert 3e-3 < lift < 9e-3
    assert moments[-1].stress[0].mean() * area == pytest.approx(weight, rel=1e-3)
