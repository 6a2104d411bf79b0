"""Rule cards: there and back, read by another program, and what they refuse."""

import json
import math
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.special import stdtrit

import flamefe.rules.card_file as card_file
from flamefe.basics.errors import OutOfRange
from flamefe.rules.calibration import calibrate
from flamefe.rules.card import OutsideCard
from flamefe.rules.card_file import CardError, card_document, card_of, read_card, write_card
from flamefe.rules.columns import input_columns, inputs_of_columns
from flamefe.rules.forms import EXPRESSIONS, find_form, form_of
from flamefe.rules.inputs import RuleInputs, with_material
from flamefe.rules.registry import RULES
from flamefe.rules.span import Span, span_of
from flamefe.workpiece.standard import material

COLUMN = "angular change at mid length [deg]"
NAMES = {
    name: getattr(math, name) for name in ("exp", "log", "sqrt", "sin", "cos", "tan", "pi")
} | {"min": min, "max": max}


def rows_of(count=30, noise=0.05, seed=2):
    random = np.random.default_rng(seed)
    rows = []
    for a, b, c, d in random.random((count, 4)):
        row = {
            "part": "plate", "material": "S355", "thickness_mm": 6 + 14 * a,
            "speed_mm_s": 3 + 7 * b, "net_power_kW": 2 + 2 * c, "flame_radius_mm": 10 + 8 * d,
            "width_mm": 200, "length_mm": 400,
        }  # fmt: skip
        heat = row["net_power_kW"] / row["speed_mm_s"] / row["thickness_mm"] ** 2 * 1e3
        row[COLUMN] = 0.08 * heat**0.8 * (1 + noise * random.standard_normal())
        rows.append(row)
    return rows


@pytest.fixture(scope="module")
def card():
    found = calibrate(rows_of(), rule="two layers", simulation_error=0.02)
    return found.card(study="invented", version="0.1.0", date="2024-05-01")


def evaluated(expression, columns, coefficients):
    """An expression as another program would read it."""
    code = expression.replace("^", "**")
    return eval(code, {"__builtins__": {}}, NAMES | columns | coefficients)


INSIDE = {
    "part": "plate", "material": "S355", "thickness_mm": 12, "speed_mm_s": 6, "net_power_kW": 3,
    "flame_radius_mm": 14, "width_mm": 200, "length_mm": 400,
}  # fmt: skip


def test_there_and_back(card, tmp_path):
    file = write_card(card, tmp_path / "wall.json")
    back = read_card(file)
    assert back.coefficients == pytest.approx(card.coefficients, rel=1e-11)
    asked = inputs_of_columns(INSIDE)
    one, other = card.predict(asked), back.predict(asked)
    assert (one.value, one.lower, one.mean_upper) == pytest.approx(
        (other.value, other.lower, other.mean_upper), rel=1e-9
    )
    assert (other.quantity, other.unit, other.level) == (
        "angular change at mid length", "deg", 0.95,
    )  # fmt: skip
    assert card_document(back) == json.loads(file.read_text("utf-8"))
    assert (back.grade, back.verdict, back.provenance) == (
        card.grade, card.verdict, card.provenance,
    )  # fmt: skip
    assert back.hold_out.share == pytest.approx(card.hold_out.share)
    assert len(file.read_text("utf-8")) < 12_000


def test_the_file_keeps_to_its_schema(card):
    schema = json.loads(
        (Path(card_file.__file__).parent / "card.schema.json").read_text(encoding="utf-8")
    )
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(card_document(card), schema)
    few = calibrate(rows_of(6), rule="two layers", coefficients=("factor",)).card()
    jsonschema.validate(card_document(few), schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**card_document(card), "rows": 0}, schema)


def test_another_program_reads_it(card, tmp_path):
    """Value, interval and hull from the JSON alone: no class of the library is used."""
    document = json.loads(write_card(card, tmp_path / "card.json").read_text("utf-8"))
    asked = inputs_of_columns(INSIDE)
    columns = {k: v for k, v in input_columns(asked).items() if not isinstance(v, str)}
    values = {one["name"]: one["value"] for one in document["coefficients"]}
    value = evaluated(document["expression"], columns, values)
    slopes = []
    for one in document["coefficients"]:
        group = evaluated(one["of"], columns, {})
        if one["kind"] == "share":
            slopes.append(value / values["factor"] * group)  # the only share here
        else:
            slopes.append(value * math.log(group / one["reference"]))
    # the same by differences of the expression
    for name, slope in zip(values, slopes, strict=True):
        up = evaluated(document["expression"], columns, values | {name: values[name] + 1e-6})
        assert slope == pytest.approx((up - value) / 1e-6, rel=1e-4)
    g, covariance = np.array(slopes), np.array(document["covariance"])
    assert document["scatter"]["kind"] == "proportional"
    single = document["scatter"]["value"] * abs(value)
    factor = document["student_factor"]
    assert factor == pytest.approx(stdtrit(document["degrees_of_freedom"], 0.975))
    own = document["simulation_error_share"] * value
    half = factor * math.sqrt(g @ covariance @ g + single**2 + own**2)
    found = card.predict(asked)
    assert found.value == pytest.approx(value, rel=1e-9)
    assert (found.lower, found.upper) == pytest.approx((value - half, value + half), rel=1e-9)
    hull = document["range"]["hull"]
    assert all(hull["logarithmic"])
    points = np.log(np.array(hull["points"]))

    def in_hull(place):
        """Whether a place is a mean of the points with weights from 0 (linear program)."""
        ones = np.ones((1, len(points)))
        goal = [*np.log(place), 1.0]
        got = linprog(np.zeros(len(points)), A_eq=np.vstack((points.T, ones)), b_eq=goal)
        return got.status == 0

    assert in_hull([columns[name] for name in hull["columns"]])
    random = np.random.default_rng(0)
    box = np.array([document["range"]["columns"][name] for name in hull["columns"]])
    agree = outside = 0
    for share in random.random((60, len(box))):
        place = dict(zip(hull["columns"], box[:, 0] + share * np.ptp(box, axis=1), strict=True))
        row = {"part": "plate", "material": "S355", "width_mm": 200, "length_mm": 400, **place}
        said = not card.span.place(inputs_of_columns(row)).reasons
        agree += said == in_hull([place[name] for name in hull["columns"]])
        outside += not said
    assert agree >= 59  # one may lie within the tolerance
    assert outside > 10


def every_input():
    """Inputs of one heat with everything that the expressions name."""
    plate = RuleInputs(
        part="plate", length=0.4, width=0.25, thickness=0.009, peak_C=615.0, flame_radius=0.016,
        speed=0.007, heat_per_length=4.5e5, heated_length=0.31, line_offset=-0.02,
        wedge_angle=0.7, wedge_depth=0.19, wedge_moment_ratio=0.2, wedge_driven=True,
        spot_radius=0.02,
    )  # fmt: skip
    return with_material(plate, material("S355"))


@pytest.mark.parametrize(
    "rule",
    [rule for rule in RULES if (rule.name, rule.quantity) in EXPRESSIONS],
    ids=lambda rule: f"{rule.name}, {rule.quantity}",
)
@pytest.mark.parametrize("peak_C", [300.0, 615.0, 700.0])
def test_expressions_say_what_the_rules_say(rule, peak_C):
    """Base and whole form in columns of a table, against the rule and the form in SI."""
    inputs = replace(every_input(), part=rule.part)
    inputs = with_material(replace(inputs, peak_C=peak_C), material("S355"))
    columns = {k: v for k, v in input_columns(inputs).items() if not isinstance(v, str)}
    form = form_of(rule)
    everything = form.fitting(form.names)
    assert everything.missing(inputs) == ()
    random = np.random.default_rng(5)
    coefficients = form.starts + random.uniform(0.1, 0.4, len(form.names))
    entries = everything.entries(inputs)
    expected = float(everything.values(coefficients, entries))
    named = dict(zip(form.names, coefficients, strict=True))
    assert evaluated(everything.expression, columns, named) == pytest.approx(expected, rel=1e-5)
    # Started as published, the form is the rule.
    start = form.values(form.starts, form.entries(inputs))
    assert start == pytest.approx(rule.evaluate(inputs).value, rel=1e-9)


def test_bases_with_the_wedge_turned_round():
    near = replace(every_input(), part="bar", wedge_base="near")
    form = find_form("published mean of wedge heats")
    value = form.values(form.starts, form.entries(near))
    far = form.values(form.starts, form.entries(replace(near, wedge_base="far")))
    assert value == -far < 0


def test_outside_it_refuses_or_widens_and_says_so(card):
    inside = inputs_of_columns(INSIDE)
    thick = replace(inside, thickness=0.030)
    with pytest.raises(OutsideCard, match=r"thickness_mm is 30, the table had .*widen") as told:
        card.predict(thick)
    assert told.value.reasons
    wide, true = card.predict(thick, outside="widen"), card.predict(inside)
    assert not wide.in_range
    assert "OUT OF RANGE" in str(wide)
    share = (wide.upper - wide.value) / wide.value
    assert share > 3 * (true.upper - true.value) / true.value
    further = card.predict(replace(inside, thickness=0.040), outside="widen")
    assert (further.upper - further.value) / further.value > share
    stainless = with_material(replace(inside, peak_C=None), material("1.4301"))
    with pytest.raises(OutsideCard, match="family is stainless"):
        card.predict(stainless)
    bare = replace(inside, width=None)
    assert card.predict(bare).in_range
    assert any("width_mm isn't known" in one for one in card.predict(bare).unchecked)
    with pytest.raises(OutOfRange, match="needs speed"):
        card.predict(replace(inside, speed=None))


def test_corners_that_no_row_was_near_are_outside():
    rows = [
        RuleInputs(thickness=h, speed=v)
        for h, v in ((0.006, 0.003), (0.006, 0.006), (0.02, 0.003), (0.012, 0.004))
    ]
    span = span_of(rows, ("thickness", "speed", "width"))
    assert span.fields == ("thickness", "speed")
    assert span.hull_points.tolist() == [[6, 3], [6, 6], [20, 3]]
    corner = span.place(RuleInputs(thickness=0.018, speed=0.0055))
    assert "near this corner" in corner.reasons[0]
    assert 0.3 < corner.distance < 0.7
    assert span.place(RuleInputs(thickness=0.02, speed=0.003)).distance == 0
    line = span_of(rows[:2], ("thickness", "speed"))
    assert line.hull_fields == ()
    diagonal = span_of([rows[1], rows[2]], ("thickness", "speed"))
    assert diagonal.place(RuleInputs(thickness=0.0109545, speed=0.0042426)).distance == 0
    assert diagonal.place(RuleInputs(thickness=0.011, speed=0.005)).distance > 0.1
    assert line.place(RuleInputs(thickness=0.006, speed=0.005)).distance == 0
    assert line.place(RuleInputs(thickness=0.0061, speed=0.005)).distance == pytest.approx(1 / 60)


def test_products_of_inputs_do_not_bend_the_hull():
    """At a given power the heat per length is power by speed: what lies between rows is inside."""
    rows = [
        inputs_of_columns({**INSIDE, "thickness_mm": h, "speed_mm_s": v})
        for h in (8, 12, 15) for v in (4, 6, 9)
    ]  # fmt: skip
    span = span_of(rows, ("heat_per_length", "thickness", "speed"))
    between = inputs_of_columns({**INSIDE, "thickness_mm": 10, "speed_mm_s": 7.3})
    assert span.place(between).reasons == ()
    # Another power makes another product, though each input lies in its range.
    odd = replace(between, heat_per_length=1.2 * between.heat_per_length)
    assert "near this corner" in span.place(odd).reasons[0]


def test_intervals_follow_the_level(card):
    asked = inputs_of_columns(INSIDE)
    half = {
        level: card.predict(asked, level=level).upper - card.predict(asked).value
        for level in (0.5, 0.95, 0.99)
    }
    assert half[0.5] < half[0.95] < half[0.99]
    with pytest.raises(OutOfRange, match="level"):
        card.predict(asked, level=1.0)


def test_the_mesh_error_is_in_the_interval(card):
    asked = inputs_of_columns(INSIDE)
    without = replace(card, simulation_error=None).predict(asked)
    with_it = replace(card, simulation_error=0.5).predict(asked)
    assert with_it.mean_upper - with_it.value > 0.5 * with_it.value
    assert without.upper - without.value < with_it.upper - with_it.value


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"format": "something"}, "no rule card"),
        ({"format_version": 1}, "format version 1"),
        ({"expression": "factor * 3"}, "has changed"),
        ({"coefficients": []}, "square of 0"),
        ({"covariance": [[1.0]]}, "square of 3"),
        ({"scatter": {"kind": "wild", "value": 0.1}}, "scatter 'wild'"),
        ({"grade": "splendid"}, "grade 'splendid'"),
        ({"simulation_error_share": -0.1}, "at least 0"),
        ({"range": {"columns": {"speed": [1, 2]}, "words": {}, "hull": None}}, "unknown columns"),
        (
            {"range": {"columns": {"speed_mm_s": [math.nan, 2]}, "words": {}, "hull": None}},
            "one least and one greatest",
        ),
        ({"rule": {"name": "three layers", "quantity": "x"}}, "no rule 'three layers'"),
        ({"range": {}}, "lacks"),
        ({"scatter": {"kind": "proportional"}}, "lacks 'value'"),
        ({"degrees_of_freedom": -1}, "freedom"),
        ({"hold_out": {"error": 1}}, "damaged"),
    ],
)
def test_damaged_cards_are_refused(card, change, words):
    with pytest.raises(CardError, match=words):
        card_of({**card_document(card), **change})


def test_files_that_are_no_cards(tmp_path):
    file = tmp_path / "card.json"
    file.write_text("{not json", encoding="utf-8")
    with pytest.raises(CardError, match=r"card\.json is no rule card"):
        read_card(file)
    file.write_text("[1, 2]", encoding="utf-8")
    with pytest.raises(CardError, match="must be a table"):
        read_card(file)
    with pytest.raises(OSError, match="absent"):
        read_card(tmp_path / "absent.json")


def test_a_failed_write_leaves_the_old_card(card, tmp_path, monkeypatch):
    file = write_card(card, tmp_path / "card.json")
    before = file.read_text("utf-8")
    monkeypatch.setattr(Path, "replace", lambda *_: (_ for _ in ()).throw(OSError("disk full")))
    with pytest.raises(OSError, match="disk full"):
        write_card(replace(card, rows=99), file)
    assert file.read_text("utf-8") == before
    assert [one.name for one in tmp_path.iterdir()] == ["card.json"]


def test_contradictions_are_refused(card):
    with pytest.raises(OutOfRange, match="negative variance"):
        replace(card, covariance=-card.covariance)
    with pytest.raises(OutOfRange, match="not finite"):
        replace(card, coefficients=card.coefficients * np.nan)
    with pytest.raises(OutOfRange, match="no rule inputs"):
        Span(fields=("speed_mm_s",), low=np.zeros(1), high=np.ones(1))
    with pytest.raises(OutOfRange, match="one least and one greatest"):
        Span(fields=("speed",), low=np.ones(1), high=np.zeros(1))


def test_a_notebook_shows_it(card):
    html = card._repr_html_()
    assert html.startswith("<table>")
    assert "licensed practice" in html
    hostile = replace(card, verdict=("<script>alert(1)</script>",))._repr_html_()
    assert "<script>" not in hostile


def test_a_card_with_a_prior_goes_there_and_back(tmp_path):
    """Coefficients that stay at the prior's value are held in the file."""
    prior = calibrate(rows_of(), rule="two layers")
    shop = [{**row, COLUMN: 1.2 * row[COLUMN]} for row in rows_of(5, seed=9)]
    card = calibrate(shop, rule="two layers", prior=prior, coefficients=("factor",)).card()
    document = card_document(card)
    assert [one["fitted"] for one in document["coefficients"]] == [True, False, False]
    back = read_card(write_card(card, tmp_path / "shop.json"))
    asked = inputs_of_columns(INSIDE)
    assert back.predict(asked).upper == pytest.approx(card.predict(asked).upper, rel=1e-9)
    assert back.form.free == ("factor",)


def test_cards_changed_by_hand_are_refused(card):
    document = json.loads(json.dumps(card_document(card)))
    for change in (
        lambda d: d["coefficients"][0].update(value=30.0),
        lambda d: d.update(student_factor=99.0),
        lambda d: d["range"]["columns"].update(thickness_mm=[6.0, math.inf]),
        lambda d: d["range"]["words"].update(part="plate"),
        lambda d: d["range"]["hull"].update(columns=d["range"]["hull"]["columns"][:1]),
        lambda d: d["range"]["hull"].update(logarithmic=[False, False, False]),
    ):
        changed = json.loads(json.dumps(document))
        change(changed)
        with pytest.raises(CardError):
            card_of(changed)
    assert card_of(document).coefficients == pytest.approx(card.coefficients)


def test_what_was_not_checked_is_said(card):
    asked = {name: cell for name, cell in INSIDE.items() if name != "width_mm"}
    said = card.predict(inputs_of_columns(asked))
    assert "RANGE NOT CHECKED" in str(said)
    assert "NOT CHECKED" not in str(card.predict(inputs_of_columns(INSIDE)))
    with pytest.raises(OutOfRange, match="outside is 'foo'"):
        card.predict(inputs_of_columns(INSIDE), outside="foo")
