"""The registry: which rules speak, what they say, and why they don't hold."""

import math
from dataclasses import replace

import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.basics.table import Table
from flamefe.rules.barcycle import restrained_bar_cycle
from flamefe.rules.inputs import RuleInputs, with_material
from flamefe.rules.registry import RULES, applicable, rules_for
from flamefe.rules.value import RuleValue
from flamefe.workpiece.material import Material

SOURCE = "invented for the test"


def table(*points: tuple[float, float]) -> Table:
    warm, values = zip(*points, strict=True)
    return Table(temperature_C=warm, values=values, source=SOURCE)


STEEL = Material(
    name="demo steel",
    family="carbon steel",
    density=7850,
    conductivity=table((20, 50), (820, 26)),
    specific_heat=table((20, 450), (620, 750)),
    thermal_strain=table((20, 0), (120, 1.25e-3), (620, 8.7e-3), (820, 11e-3)),
    youngs_modulus=table((20, 210e9), (120, 210e9), (620, 60e9), (820, 20e9)),
    poisson=table((20, 0.3)),
    yield_stress=table((20, 355e6), (120, 355e6), (620, 100e6), (820, 30e6)),
    hardening_modulus=table((20, 0.0)),
    heating_limit_C=650,
    heating_limit_source=SOURCE,
    source=SOURCE,
)
PLATE = with_material(
    RuleInputs(
        part="plate",
        length=0.4,
        width=0.2,
        thickness=0.012,
        peak_C=640,
        flame_radius=0.018,
        speed=0.006,
        heat_per_length=7000 / 0.006,
        heated_length=0.3,
        line_offset=0.0,
        simulated={
            "angular change at mid length": 1.2,
            "developed width shrinkage at mid length": 0.08,
            "transverse shrinkage at mid length": 0.09,
            "longitudinal shrinkage of the near edge": 0.11,
        },
    ),
    STEEL,
)
WEDGE = with_material(
    RuleInputs(
        part="bar",
        length=0.6,
        width=0.1,
        thickness=0.010,
        peak_C=640,
        wedge_angle=math.radians(45),
        wedge_depth=0.075,
        wedge_driven=True,
        simulated={"closing rotation": 2.4, "shortening": 0.1},
    ),
    STEEL,
)


def said(inputs: RuleInputs, rule: str, quantity: str = "") -> RuleValue:
    found = [
        one for one in rules_for(inputs) if one.rule == rule and quantity in (one.quantity, "")
    ]
    assert len(found) == 1, [one.rule for one in rules_for(inputs)]
    return found[0]


def test_nothing_known_nothing_said():
    assert rules_for(RuleInputs()) == ()
    verdicts = applicable(RuleInputs())
    assert [one.rule for one in verdicts] == [rule.name for rule in RULES]
    for one in verdicts:
        assert not one.holds
        assert one.reasons[0].startswith("needs ")


def test_every_rule_is_distinct_and_tells_its_source():
    keys = [(rule.name, rule.quantity, rule.part) for rule in RULES]
    assert len(set(keys)) == len(keys)
    for rule in RULES:
        assert "derived" in rule.source or "from memory" in rule.source


def test_line_heat_on_a_plate():
    values = rules_for(PLATE)
    assert {one.rule for one in values} == {
        "all heat upset",
        "all heat upset at the face",
        "two layers",
        "Satoh and Terasaki",
        "tendon force",
    }
    bound = said(PLATE, "all heat upset")
    # The demo steel expands most by heat just above 20 C: 12.5e-6 / (7850 x 450) at 20 C.
    assert 0.9 < bound.value / (1e3 * 12.5e-6 / (7850 * 450) * 7000 / 0.006 / 0.012) <= 1.0
    assert bound.upper == bound.value
    assert bound.in_range
    assert bound.ratio == pytest.approx(0.08 / bound.value)
    layers = said(PLATE, "two layers")
    mean = float(STEEL.thermal_strain(600)) / (7850 * float(STEEL.specific_heat.integral(600)))
    assert layers.value == pytest.approx(
        math.degrees(3 * mean * PLATE.heat_per_length / PLATE.thickness**2)
    )
    assert layers.value < 0.5 * said(PLATE, "all heat upset at the face").value
    assert any("too thin" in reason for reason in layers.reasons)
    assert any("isn't small" in reason for reason in said(PLATE, "Satoh and Terasaki").reasons)
    assert any("slender" in reason for reason in said(PLATE, "tendon force").reasons)


def test_small_strain_is_set_beside_the_chord():
    small = replace(PLATE, geometry="small")
    one = said(small, "all heat upset")
    assert one.quantity == "transverse shrinkage at mid length"
    assert one.simulated == 0.09


def test_line_heat_where_the_rules_hold():
    wide = replace(
        PLATE, width=1.2, thickness=0.030, flame_radius=0.006, speed=0.02, heat_per_length=1e6
    )
    assert said(wide, "two layers").in_range
    assert said(wide, "Satoh and Terasaki").in_range
    thin = replace(wide, thickness=0.006, heat_per_length=2e5, length=2.4, heated_length=2.4)
    short = replace(thin, length=0.3, heated_length=0.3)
    assert any("ends count" in reason for reason in said(short, "tendon force").reasons)
    assert said(thin, "tendon force").reasons == ()
    off = replace(thin, line_offset=0.3)
    assert said(off, "tendon force").value == pytest.approx(
        said(thin, "tendon force").value * (1 - 6 * 0.3 / 1.2)
    )


@pytest.mark.parametrize(
    ("change", "rule", "words"),
    [
        ({"peak_C": 150.0}, "two layers", "first yields"),
        ({"peak_C": None}, "two layers", "isn't known"),
        ({"speed": None}, "two layers", "isn't known"),
        ({"family": "aluminium"}, "Satoh and Terasaki", "carbon steel"),
        ({"flame_radius": None}, "Satoh and Terasaki", "isn't known"),
        ({"thickness": 0.060}, "tendon force", "isn't thin"),
        ({"speed": 0.0002}, "tendon force", "slow"),
        ({"flame_radius": 0.100}, "tendon force", "isn't a line"),
        ({"line_offset": 0.09}, "tendon force", "builds up at the edge"),
    ],
)
def test_why_a_line_rule_does_not_hold(change, rule, words):
    one = said(replace(PLATE, **change), rule)
    assert not one.in_range
    assert any(words in reason for reason in one.reasons), one.reasons


def test_line_along_the_edge_of_a_bar():
    bar = replace(PLATE, part="bar", width=0.3, line_offset=0.15, thickness=0.01, speed=0.02)
    bar = replace(bar, heat_per_length=1e5, flame_radius=0.004)
    camber = said(bar, "tendon force", "camber")
    short = said(bar, "tendon force", "shortening")
    assert camber.value < 0 < short.value
    other = said(replace(bar, line_offset=-0.15), "tendon force", "camber")
    assert other.value == pytest.approx(-camber.value)
    # f = e A / I x dL (2 L - Lh) / 8, whatever the force.
    lever = 0.15 * 0.3 * 0.01 / (0.01 * 0.3**3 / 12)
    assert -camber.value == pytest.approx(short.value * lever * (2 * 0.4 - 0.3) / 8)
    assert not any("edge" in reason for reason in camber.reasons)


def test_wedge_heat():
    mean = said(WEDGE, "published mean of wedge heats")
    assert mean.in_range
    assert mean.lower == pytest.approx(mean.value / 2)
    assert mean.upper == pytest.approx(mean.value * 2)
    upset = float(STEEL.thermal_strain(640)) - float(
        STEEL.yield_stress(640) / STEEL.youngs_modulus(640)
    )
    half = math.tan(math.radians(22.5))
    confined = said(WEDGE, "perfect confinement")
    assert confined.value == pytest.approx(2e3 * upset * half)
    plane = said(WEDGE, "plane sections", "closing rotation")
    assert plane.value == pytest.approx(1e3 * upset * half * 1.6875)
    assert said(WEDGE, "plane sections", "shortening").ratio == pytest.approx(
        0.1 / (1e3 * upset * half * 0.5625 * 0.1)
    )


def test_wedge_open_to_the_near_side_turns_the_sign():
    far = said(WEDGE, "published mean of wedge heats")
    near = said(replace(WEDGE, wedge_base="near"), "published mean of wedge heats")
    assert (near.value, near.lower, near.upper) == (-far.value, -far.upper, -far.lower)
    bound = said(replace(WEDGE, wedge_base="near"), "perfect confinement")
    assert (bound.lower, bound.upper) == (bound.value, None)
    assert bound.value < 0


@pytest.mark.parametrize(
    ("change", "rule", "words"),
    [
        ({"peak_C": 720.0}, "published mean of wedge heats", "outside the rule's"),
        ({"wedge_angle": 0.2}, "published mean of wedge heats", "outside 20 to 82"),
        ({"wedge_depth": 0.03}, "published mean of wedge heats", "less than half"),
        ({"wedge_moment_ratio": 0.7}, "published mean of wedge heats", "moment ratio"),
        ({"wedge_driven": False}, "published mean of wedge heats", "all at once"),
        ({"wedge_driven": None}, "published mean of wedge heats", "isn't known"),
        ({"family": "stainless steel"}, "published mean of wedge heats", "carbon steel"),
        ({"wedge_moment_ratio": 0.3}, "perfect confinement", "isn't a bound"),
        ({"peak_C": 120.0}, "perfect confinement", "first yields"),
    ],
)
def test_why_a_wedge_rule_does_not_hold(change, rule, words):
    one = said(replace(WEDGE, **change), rule)
    assert not one.in_range
    assert any(words in reason for reason in one.reasons), one.reasons


def test_restrained_bar():
    bar = RuleInputs(
        part="bar",
        peak_C=320,
        restraint=0.75,
        heated_length=0.5,
        simulated={"largest tension along x": 200.0},
    )
    filled = with_material(bar, STEEL)
    exact = restrained_bar_cycle(
        320,
        thermal_strain=STEEL.thermal_strain,
        youngs_modulus=STEEL.youngs_modulus,
        yield_stress=STEEL.yield_stress,
        restraint=0.75,
    )
    tables = said(filled, "restrained bar, tables", "largest tension along x")
    assert tables.value == pytest.approx(exact.residual_stress / 1e6)
    assert tables.ratio == pytest.approx(200 / tables.value)
    assert said(filled, "restrained bar, tables", "shortening").value == pytest.approx(
        -500 * exact.plastic_strain
    )
    constant = said(filled, "restrained bar, constant properties", "largest tension along x")
    assert any("isn't constant" in reason for reason in constant.reasons)
    one_sided = with_material(replace(bar, one_sided=True), STEEL)
    assert said(one_sided, "restrained bar, tables", "largest tension along x").value == 0.0
    assert said(one_sided, "restrained bar, tables", "largest tension along x").ratio is None
    assert (
        said(one_sided, "restrained bar, tables", "shortening").value
        >= said(filled, "restrained bar, tables", "shortening").value
    )


def test_spot():
    mild = with_material(RuleInputs(thickness=0.003, spot_radius=0.015, peak_C=200), STEEL)
    tension = said(mild, "hot spot", "residual tension in the spot")
    assert tension.in_range
    hot = replace(mild, peak_C=640, hot_yield_stress=90e6)
    area = said(hot, "hot spot", "loss of area")
    assert area.value > 0
    assert any("isn't constant" in reason for reason in area.reasons)
    hot_tension = said(hot, "hot spot", "residual tension in the spot")
    assert hot_tension.value <= 355
    assert any("yields again" in reason for reason in hot_tension.reasons)
    thick = replace(mild, thickness=0.012)
    assert any("isn't thin" in r for r in said(thick, "hot spot", "loss of area").reasons)


def test_material_without_a_peak_gives_no_hot_numbers():
    filled = with_material(RuleInputs(restraint=1.0), STEEL)
    assert filled.hot_yield_stress is None
    assert filled.held_upset is None
    assert filled.bar_cycle is None
    # Linear specific heat: 450 + 0.5 (T - 20), so its mean to 600 C is 595.
    assert filled.volumetric_heat == pytest.approx(7850 * 595)
    assert filled.diffusivity == pytest.approx((50 - 0.03 * 290) / (7850 * 595))


@pytest.mark.parametrize(
    "wrong",
    [
        {"thickness": 0.0},
        {"heat_per_length": -1.0},
        {"peak_C": float("nan")},
        {"restraint": 1.5},
        {"poisson": -0.1},
    ],
)
def test_impossible_inputs_are_refused(wrong):
    with pytest.raises(OutOfRange):
        RuleInputs(**wrong)


@pytest.mark.parametrize(
    "wrong",
    [
        {"value": float("inf")},
        {"lower": 2.0, "upper": 1.0},
        {"in_range": False},
        {"reasons": ("out",)},
    ],
)
def test_rule_values_that_contradict_themselves_are_refused(wrong):
    right = {
        "rule": "demo",
        "quantity": "camber",
        "value": 1.0,
        "unit": "mm",
        "in_range": True,
        "formula": "f",
        "source": SOURCE,
    }
    RuleValue(**right)
    with pytest.raises(OutOfRange):
        RuleValue(**{**right, **wrong})


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ({"wedge_angle": math.pi}, "below pi"),
        ({"wedge_angle": math.radians(200)}, "180 degrees"),
        ({"heat_count": 2.5}, "whole ones"),
        ({"heat_rotation": 4.0}, "wrong unit"),
        ({"length": 0.3, "heated_length": 0.9}, "longer than the part"),
        ({"width": 1.0, "line_offset": 0.6}, "beside the part"),
        ({"section_strips": ((0.0, 0.1, 0.01), (0.05, 0.2, 0.1))}, "overlap between 50 and 100"),
        ({"section_strips": ((0.0, 0.01, 0.1), (0.28, 0.29, 0.1))}, "gap between 10 and 280"),
        ({"poisson": 0.7}, "below 0.5"),
    ],
)
def test_numbers_that_no_part_has_are_refused(numbers, words):
    with pytest.raises(OutOfRange, match=words):
        RuleInputs(**numbers)


def test_a_wedge_deeper_than_its_bar_or_wide_open_is_out_of_range():
    bar = RuleInputs(
        part="bar", wedge_angle=math.radians(45), wedge_depth=0.15, width=0.1, held_upset=7e-3,
        peak_C=650.0, yield_stress=355e6, youngs_modulus=210e9, expansion=14e-6,
        family="carbon steel", wedge_driven=True,
    )  # fmt: skip
    for rule in ("perfect confinement", "plane sections", "published mean of wedge heats"):
        one = next(v for v in rules_for(bar) if v.rule == rule)
        assert any("deeper than the bar" in reason for reason in one.reasons), rule
    open_wide = replace(bar, wedge_depth=0.08, wedge_angle=math.radians(120))
    one = next(v for v in rules_for(open_wide) if v.rule == "perfect confinement")
    assert any("more than 90" in reason for reason in one.reasons)


def test_a_rule_that_the_numbers_make_impossible_stops_no_other():
    bar = RuleInputs(part="bar", wedge_angle=1.0, held_upset=7e-3, peak_C=0.0,
                     yield_stress=355e6, youngs_modulus=210e9)  # fmt: skip
    assert "perfect confinement" in [one.rule for one in rules_for(bar)]
    assert any("0" in r for one in applicable(bar) for r in one.reasons if "peak" in r)
    tiny = replace(PLATE, thickness=1e-300)
    assert all(math.isfinite(one.value) for one in rules_for(tiny))
