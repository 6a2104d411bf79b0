"""Calibration: known coefficients come back at the stated coverage; verdicts can be bad."""

import math
from functools import cache

import numpy as np
import pytest
from scipy import stats
from scipy.special import stdtrit

from flamefe.basics.errors import OutOfRange
from flamefe.rules.calibration import calibrate
from flamefe.rules.columns import TableError, inputs_of_columns
from flamefe.rules.fitting import CalibrationError, Prior, fit_form
from flamefe.rules.forms import find_form, fitted_rules, form_of
from flamefe.rules.hold_out import hold_out
from flamefe.rules.registry import RULES
from flamefe.rules.residuals import structure_in

COLUMN = "angular change at mid length [deg]"
TRUTH = {"factor": 0.25, "heat": -0.30, "depth": 0.8}


@cache
def design(count=24, seed=3):
    """Invented line heats on plates of 6 to 25 mm, scattered over their ranges."""
    unit = np.random.default_rng(seed).random((count, 4))
    return tuple(
        {
            "part": "plate",
            "material": "S355",
            "thickness_mm": round(6 + 19 * a, 2),
            "speed_mm_s": round(3 + 9 * b, 2),
            "net_power_kW": round(2 + 3 * c, 3),
            "flame_radius_mm": round(10 + 10 * d, 2),
        }
        for a, b, c, d in unit
    )


@cache
def prepared(count=24):
    form = find_form("two layers", coefficients=tuple(TRUTH))
    entries = np.array([form.entries(inputs_of_columns(row)) for row in design(count)])
    truth = np.array([TRUTH.get(name, term.start) for name, term in
                      zip(form.names, form.terms, strict=True)])  # fmt: skip
    return form, entries, truth, form.values(truth, entries)


def table(noise=0.08, seed=5, count=24, **more):
    _, _, _, exact = prepared(count)
    random = np.random.default_rng(seed).standard_normal(count)
    return [
        {**row, COLUMN: value * (1 + noise * e), **more}
        for row, value, e in zip(design(count), exact, random, strict=True)
    ]


def bounds(number, level=0.95):
    """Between which a share of sets must lie, but for one try in a thousand."""
    low, high = stats.binom.ppf([0.0005, 0.9995], number, level) / number
    return low, high


@pytest.mark.parametrize("scatter", ["proportional", "constant", "stated"])
def test_intervals_hold_the_truth_as_often_as_they_say(scatter):
    """1000 invented tables of 24 rows: 95 % intervals of coefficients, mean and single heats."""
    form, entries, truth, exact = prepared()
    random = np.random.default_rng(11)
    sizes = random.uniform(0.02, 0.2, len(exact)) if scatter == "stated" else np.ones(len(exact))
    spread = {"proportional": 0.08 * exact, "constant": 0.05, "stated": 1.7 * sizes}[scatter]
    free, new = form.free_mask, 7
    inside = np.zeros(3)
    mean = single = 0
    number = 1000
    scatters = []
    for _ in range(number):
        observed = exact + spread * random.standard_normal(len(exact))
        fit = fit_form(form, entries, observed, scatter=scatter, given=sizes)
        factor = stdtrit(fit.freedom, 0.975)
        half = factor * np.sqrt(np.diag(fit.covariance)[free])
        inside += np.abs(fit.coefficients - truth)[free] <= half
        value, slope = form.gradient(fit.coefficients, entries[new])
        variance = slope @ fit.covariance @ slope
        mean += abs(value - exact[new]) <= factor * math.sqrt(variance)
        own = fit.spreads[new]
        another = exact[new] + np.broadcast_to(spread, exact.shape)[new] * random.standard_normal()
        single += abs(value - another) <= factor * math.sqrt(variance + own**2)
        scatters.append(fit.scatter)
    low, high = bounds(number)
    assert 0.92 < low < 0.95 < high < 0.98  # what is asked of them is not nothing
    for share in (*inside / number, mean / number, single / number):
        assert low <= share <= high
    expected = {"proportional": 0.08, "constant": 0.05, "stated": 1.7}[scatter]
    assert np.sqrt(np.mean(np.square(scatters))) == pytest.approx(expected, rel=0.03)


def test_coverage_of_the_published_mean_with_its_two_shares():
    form = find_form("published mean of wedge heats")
    random = np.random.default_rng(2)
    rows = [
        {"part": "bar", "wedge_angle_deg": angle, "peak_C": 640, "yield_stress_MPa": 355,
         "youngs_modulus_GPa": 210, "wedge_moment_ratio": ratio}
        for angle in (20, 30, 45, 60) for ratio in (0, 0.15, 0.3, 0.5)
    ]  # fmt: skip
    entries = np.array([form.entries(inputs_of_columns(row)) for row in rows])
    truth = np.array([0.4, 3.1, 0.0, 0.0, 0.0])
    exact = form.values(truth, entries)
    inside = np.zeros(2)
    number = 400
    for _ in range(number):
        observed = exact * (1 + 0.2 * random.standard_normal(len(exact)))
        fit = fit_form(form, entries, observed, scatter="proportional", given=np.ones(len(exact)))
        half = stdtrit(fit.freedom, 0.975) * np.sqrt(np.diag(fit.covariance)[:2])
        inside += np.abs(fit.coefficients - truth)[:2] <= half
    low, high = bounds(number)
    assert (inside / number >= low).all()
    assert (inside / number <= high).all()


def test_exact_data_give_the_exact_coefficients_and_weights_count():
    form, entries, truth, exact = prepared()
    fit = fit_form(form, entries, exact, scatter="proportional", given=np.ones(len(exact)))
    assert fit.coefficients == pytest.approx(truth, abs=1e-8)
    # Two rows as one of double weight: the same fit.
    one = find_form("two layers", coefficients=("factor",))
    rows = np.column_stack((np.ones(3), np.ones(3), np.zeros((3, 6))))
    twice = fit_form(
        one, rows, np.array([1.0, 2.0, 4.0]), scatter="constant", given=np.array([1, 1, 0.5**0.5])
    )
    assert twice.coefficients[0] == pytest.approx((1 + 2 + 2 * 4) / 4)


def test_agrees_with_linear_regression_of_a_straight_line():
    """factor * x under constant scatter: slope, its deviation and dof of textbook regression."""
    form = find_form("two layers", coefficients=("factor",))
    x = np.linspace(1, 3, 12)
    y = 0.3 * x + 0.05 * np.random.default_rng(4).standard_normal(12)
    rows = np.column_stack((x, np.ones(12), np.zeros((12, 6))))
    fit = fit_form(form, rows, y, scatter="constant", given=np.ones(12))
    slope = (x @ y) / (x @ x)
    s = math.sqrt(((y - slope * x) ** 2).sum() / 11)
    assert fit.coefficients[0] == pytest.approx(slope, rel=1e-10)
    assert math.sqrt(fit.covariance[0, 0]) == pytest.approx(s / math.sqrt(x @ x), rel=1e-8)
    assert (fit.freedom, fit.scatter) == (11, pytest.approx(s, rel=1e-10))


def test_prior_and_rows_weigh_as_bayes_says():
    """One coefficient, known scatter in the limit of many degrees: precision-weighted mean."""
    form = find_form("two layers", coefficients=("factor",))
    rows = np.column_stack((np.ones(400), np.ones(400), np.zeros((400, 6))))
    y = 0.5 + 0.2 * np.random.default_rng(8).standard_normal(400)
    prior = Prior(
        mean=np.array([0.3, *[0.0] * 6]),
        covariance=np.diag([0.01**2, *[0.0] * 6]),
        scatter=0.2,
    )
    fit = fit_form(form, rows, y, scatter="constant", given=np.ones(400), prior=prior)
    of_rows, of_prior = 400 / fit.scatter**2, 1 / 0.01**2
    expected = (of_rows * y.mean() + of_prior * 0.3) / (of_rows + of_prior)
    assert fit.coefficients[0] == pytest.approx(expected, rel=1e-6)
    assert fit.covariance[0, 0] == pytest.approx(1 / (of_rows + of_prior), rel=1e-6)
    assert fit.determined[0] == pytest.approx(of_rows / (of_rows + of_prior), rel=1e-6)


@pytest.mark.parametrize("count", [3, 6])
def test_few_rows_with_a_prior_hold_what_they_say(count):
    """Shops drawn from the prior: intervals hold their true coefficients at least 95 %."""
    form, entries, truth, _ = prepared()
    random = np.random.default_rng(count)
    sd = np.where(form.free_mask, 0.2, 0.0)
    sd[0] = 0.3 * truth[0]
    free = form.free_mask
    prior = Prior(mean=truth, covariance=np.diag(sd**2), scatter=0.1)
    number, inside = 400, np.zeros(3)
    for _ in range(number):
        shop = truth + sd * random.standard_normal(len(sd))
        rows = entries[random.choice(len(entries), count, replace=False)]
        observed = form.values(shop, rows) * (1 + 0.1 * random.standard_normal(count))
        fit = fit_form(
            form, rows, observed, scatter="proportional", given=np.ones(count), prior=prior
        )
        half = stdtrit(fit.freedom, 0.975) * np.sqrt(np.diag(fit.covariance)[free])
        inside += np.abs(fit.coefficients - shop)[free] <= half
        assert (np.diag(fit.covariance)[free] < sd[free] ** 2).all()
    # Pooled scatter with few rows makes them a little wide, never narrow.
    assert (inside / number >= bounds(number)[0]).all(), inside / number


def test_whole_calibration_of_a_good_table():
    found = calibrate(table(), rule="two layers", provenance={"study": "invented"})
    for name, value, low, high in found.card().intervals():
        assert low < value < high
        assert abs(value - TRUTH[name]) < 2 * (high - low)
    assert found.fit.scatter == pytest.approx(0.08, rel=0.35)
    assert found.hold_out.share == pytest.approx(0.08, rel=0.5)
    assert found.grade == "good", found.verdict
    assert found.verdict[0].startswith("Good inside its range, not outside")
    assert "thickness_mm 6" in found.verdict[-1]
    assert found.provenance == {"study": "invented"}


def test_coverage_through_the_front_door():
    """The whole way, cells and all, for many tables."""
    inside = unseen = 0
    number = 60
    for seed in range(number):
        found = calibrate(table(seed=seed), rule="two layers")
        for name, _, low, high in found.card().intervals():
            inside += low <= TRUTH[name] <= high
        unseen += found.hold_out.inside * 24
    # Three coefficients a table are correlated, so the bound is that of one each.
    low, high = bounds(number)
    assert low <= inside / (3 * number) <= high
    assert 0.93 <= unseen / (24 * number) <= 0.97


def test_hold_out_error_is_that_of_new_rows():
    form, entries, _, exact = prepared()
    random = np.random.default_rng(21)
    shares, new = [], []
    for _ in range(40):
        noise = 1 + 0.08 * random.standard_normal((2, len(exact)))
        ones = np.ones(len(exact))
        seen = hold_out(form, entries, exact * noise[0], scatter="proportional", given=ones,
                        prior=None, folds=10, level=0.95)  # fmt: skip
        fit = fit_form(form, entries, exact * noise[0], scatter="proportional", given=ones)
        new.append(np.mean((exact * noise[1] / fit.values - 1) ** 2))
        shares.append(seen.share**2)
    assert math.sqrt(np.mean(shares)) == pytest.approx(math.sqrt(np.mean(new)), rel=0.08)


def test_structure_is_found_where_it_is_and_seldom_where_it_is_not():
    form, entries, _, exact = prepared()
    random = np.random.default_rng(6)
    columns = {
        name: np.array([float(row[name]) for row in design()])
        for name in ("thickness_mm", "speed_mm_s", "flame_radius_mm")
    }
    alarms = 0
    number = 400
    for _ in range(number):
        observed = exact * (1 + 0.08 * random.standard_normal(len(exact)))
        fit = fit_form(form, entries, observed, scatter="proportional", given=np.ones(len(exact)))
        looks = structure_in((observed - fit.values) / fit.spreads, fit.values, columns)
        alarms += any(one.found for one in looks)
    assert alarms / number < 0.04
    missed = calibrate(table(noise=0.03), rule="two layers", coefficients=("factor",))
    found = [one for one in missed.structure if one.found]
    assert found
    assert missed.grade != "good"
    assert any("not chance" in sentence for sentence in missed.verdict)


def test_a_kind_of_scatter_that_does_not_fit_is_told():
    _, _, _, exact = prepared(60)
    noise = 0.15 * exact * np.random.default_rng(1).standard_normal(60)
    rows = [{**row, COLUMN: v} for row, v in zip(design(60), exact + noise, strict=True)]
    found = calibrate(rows, rule="two layers", scatter="constant")
    assert any(one.found and one.what == "size" for one in found.structure)


def test_what_does_not_vary_is_left_alone_and_said():
    rows = [{**row, "flame_radius_mm": 15, "speed_mm_s": 6, "thickness_mm": 12, COLUMN: v}
            for row, v in zip(design(), np.linspace(0.5, 0.9, 24), strict=True)]  # fmt: skip
    found = calibrate(rows, rule="two layers")
    assert found.form.free == ("factor", "heat")
    assert any("depth is left at 0" in note for note in found.notes)


def test_prior_from_a_table_and_few_measured_rows():
    """A shop whose torch brings 30 % more than the simulations say, by four heats."""
    simulated = table(noise=0.04, seed=1)
    shop = [{**row, COLUMN: 1.3 * row[COLUMN]} for row in table(noise=0.06, seed=2)[:4]]
    alone = calibrate(simulated, rule="two layers")
    found = calibrate(shop, rule="two layers", prior=simulated)
    by_card = calibrate(shop, rule="two layers", prior=alone.card())
    assert by_card.fit.coefficients == pytest.approx(found.fit.coefficients, rel=1e-6)
    value, low, high = found.card().intervals()[0][1:]
    assert low < 1.3 * TRUTH["factor"] < high
    assert value > 1.15 * alone.fit.coefficients[0]
    # The powers stay near the prior, and the range is the prior's.
    assert found.fit.coefficients[3] == pytest.approx(TRUTH["heat"], abs=0.3)
    assert found.span is not None
    assert found.span.low.tolist() == alone.span.low.tolist()
    assert "and a prior" in found.verdict[0]
    held = calibrate(shop, rule="two layers", prior=alone, coefficients=("factor",))
    assert held.fit.coefficients[1:] == pytest.approx(alone.fit.coefficients[1:])
    sure = calibrate(
        shop, rule="two layers", prior=alone, doubts={"factor": 1e-4, "heat": 1e-4, "depth": 1e-4}
    )
    moved = abs(sure.fit.coefficients - alone.fit.coefficients)
    assert (moved < 0.2 * abs(found.fit.coefficients - alone.fit.coefficients).max()).all()


def test_one_measured_row_moves_the_prior_no_further_than_it_may():
    shop = table(noise=0.0)[:1]
    shop[0][COLUMN] *= 1.5
    found = calibrate(shop, rule="two layers", prior=table(noise=0.04, seed=1))
    assert TRUTH["factor"] < found.fit.coefficients[0] < 1.5 * TRUTH["factor"]
    assert found.hold_out is None
    assert found.grade == "poor"
    assert "too few" in found.verdict[0]


@pytest.mark.parametrize(
    ("change", "more", "error", "words"),
    [
        ({COLUMN: None}, {}, CalibrationError, "No row of the table can be used"),
        ({"thickness_mm": "thick"}, {}, TableError, "Row 1: Column 'thickness_mm'"),
        ({"thickness_mm": -3}, {}, TableError, "Row 1: Rule input thickness"),
        ({"material": ""}, {}, CalibrationError, "most often: needs expansion"),
        ({"part": "bar"}, {}, CalibrationError, "needs a plate"),
        ({"deviation": 0}, {}, TableError, "above 0"),
        ({"deviation": 0.1, "weight": 1}, {}, TableError, "keep one"),
        ({}, {"rule": "two layer"}, OutOfRange, "There is no rule"),
        ({}, {"coefficients": ("speed",)}, OutOfRange, "it has 'factor'"),
        ({}, {"quantity": "twist"}, OutOfRange, "doesn't give 'twist'"),
        ({}, {"scatter": "stated"}, CalibrationError, "needs a deviation"),
        ({}, {"doubts": {"speed": 1}, "prior": "same"}, CalibrationError, "no coefficient 'speed'"),
        ({}, {"doubts": {"heat": 0}, "prior": "same"}, CalibrationError, "above 0"),
    ],
)
def test_what_is_wrong_with_a_table_is_said(change, more, error, words):
    rows = [{**row, **change} for row in table()]
    if more.get("prior") == "same":
        more = {**more, "prior": table()}
    with pytest.raises(error, match=words):
        calibrate(rows, **{"rule": "two layers", **more})


def test_a_column_in_another_unit_is_refused():
    rows = [{**row, "angular change at mid length [mrad]": row[COLUMN]} for row in table()]
    for row in rows:
        del row[COLUMN]
    with pytest.raises(CalibrationError, match="gives deg; convert"):
        calibrate(rows, rule="two layers")
    with pytest.raises(CalibrationError, match="no column"):
        calibrate(rows, rule="Satoh and Terasaki")


def test_too_few_rows_and_rows_that_go_together():
    with pytest.raises(CalibrationError, match="too few for 3"):
        calibrate(table()[:4], rule="two layers")
    tied = [
        {**row, "flame_radius_mm": row["thickness_mm"], "speed_mm_s": 6.0, "net_power_kW": 3}
        for row in table()
    ]
    # Heat by h^2 and flame radius by h: with R = h the latter is constant, depth goes with heat.
    with pytest.raises(CalibrationError, match="tell the coefficients apart"):
        calibrate(tied, rule="two layers")


def test_rows_that_failed_are_left_out_and_counted():
    rows = table()
    rows[3] = {**rows[3], COLUMN: "", "failed": "no mesh"}
    rows[7] = {**rows[7], "thickness_mm": None}
    found = calibrate(rows, rule="two layers")
    assert found.samples.left_out == (
        (4, f"no {COLUMN}"),
        (8, "needs thickness"),
    )
    assert found.notes[0].startswith("2 rows left out")
    assert 4 not in found.samples.numbers
    assert len(found.samples.numbers) == 22


def test_scatter_is_as_stated_where_deviations_stand():
    rows = [{**row, "deviation": 0.05} for row in table()]
    assert calibrate(rows, rule="two layers").scatter == "stated"
    assert calibrate(rows, rule="two layers", scatter="constant").scatter == "constant"
    rows[2]["deviation"] = ""
    with pytest.raises(TableError, match="Only 23 of 24 rows"):
        calibrate(rows, rule="two layers")


def test_a_further_coefficient_that_helps_is_named():
    found = calibrate(table(noise=0.03), rule="two layers", coefficients=("factor", "heat"))
    assert any(note.startswith("fitting depth as well would") for note in found.notes), found.notes
    good = calibrate(table(noise=0.03), rule="two layers")
    assert not any("as well would" in note for note in good.notes)


def test_poor_and_rough_are_said():
    wild = calibrate(table(noise=0.5, seed=9), rule="two layers", coefficients=("factor",))
    assert wild.grade == "poor"
    assert wild.verdict[0].startswith("Poor")
    rough = calibrate(table(noise=0.18, seed=3), rule="two layers")
    assert rough.grade == "rough"


def test_every_rule_has_a_form_that_starts_as_the_rule_stands():
    for rule in RULES:
        form = form_of(rule)
        assert form.free
        starts = dict(zip(form.names, form.starts, strict=True))
        assert starts.pop("factor", 1.0) == 1.0
        if rule.name == "published mean of wedge heats":
            assert (starts.pop("free"), starts.pop("jacks")) == (0.6, 2.0)
        assert set(starts.values()) <= {0.0}
    assert {rule.name for rule in fitted_rules()} >= {"two layers", "tendon force", "hot spot"}


def test_a_wrong_sign_or_unit_of_a_whole_table_is_poor():
    turned = [{**row, COLUMN: -row[COLUMN]} for row in table()]
    found = calibrate(turned, rule="two layers")
    assert found.grade == "poor"
    assert any("other way than the rule" in line for line in found.verdict)
    metres = [{**row, "thickness_mm": row["thickness_mm"] / 1000} for row in table()]
    found = calibrate(metres, rule="two layers", coefficients=("factor",))
    assert found.grade == "poor"
    assert any("wrong unit" in line for line in found.verdict)


def test_the_simulations_own_error_is_in_the_verdict():
    grades = {
        share: calibrate(table(noise=0.03), rule="two layers", simulation_error=share).grade
        for share in (None, 0.02, 0.2, 1.0)
    }
    assert grades == {None: "good", 0.02: "good", 0.2: "rough", 1.0: "poor"}


def test_a_row_far_off_is_named():
    rows = table(noise=0.03, count=30)
    assert not any("Row " in line for line in calibrate(rows, rule="two layers").verdict)
    rows[4] = {**rows[4], COLUMN: 3 * rows[4][COLUMN]}
    found = calibrate(rows, rule="two layers")
    assert any("Row 5 lies" in line for line in found.verdict)
    assert found.grade != "good"


def test_rows_that_repeat_are_told():
    rows = table(count=20)
    assert not any("last figure" in note for note in calibrate(rows, rule="two layers").notes)
    found = calibrate([*rows, rows[2]], rule="two layers")
    assert any("rows 3 and 21 are the same" in note for note in found.notes)


def test_rows_against_the_prior_and_beyond_it_are_told():
    before = calibrate(table(noise=0.03), rule="two layers", simulation_error=0.06)
    few = table(noise=0.03, seed=9)[:5]
    calm = calibrate(few, rule="two layers", prior=before)
    assert calm.simulation_error == 0.06, "what the prior does not know stays unknown"
    assert not any("deviations from the prior" in line for line in calm.verdict)
    turned = [{**row, COLUMN: -row[COLUMN]} for row in few]
    against = calibrate(turned, rule="two layers", prior=before)
    assert against.grade == "poor"
    assert any("deviations from the prior" in line for line in against.verdict)
    thick = [{**row, "thickness_mm": row["thickness_mm"] + 30} for row in few]
    beyond = calibrate(thick, rule="two layers", prior=before)
    assert beyond.grade == "poor"
    assert any("5 of 5 rows lie outside the prior's range" in line for line in beyond.verdict)


def test_a_constant_scatter_says_what_it_does_not_tell():
    found = calibrate(table(noise=0.05), rule="two layers", scatter="constant")
    assert any(" deg, " in line for line in found.verdict[:1]), "the error in the unit"
    wide = [{**row, COLUMN: row[COLUMN] + 0.2 * (-1) ** i} for i, row in enumerate(table())]
    lost = calibrate(wide, rule="two layers", scatter="constant")
    assert any("reaches beyond 0" in line for line in lost.verdict)
    assert lost.grade != "good"
