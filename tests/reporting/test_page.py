"""The page: whole, honest, small, safe, and saying the same words as the summary."""

import base64
import dataclasses
import hashlib
import json
import re
import zlib
from html.parser import HTMLParser

import numpy as np
import pytest
from numpy.testing import assert_allclose

from flamefe.outcome.columns import Columns
from flamefe.outcome.practice import against_practice
from flamefe.outcome.tolerance import ShapeFinding
from flamefe.reporting import page
from flamefe.reporting.asked import asked_lines
from flamefe.reporting.document import result_document
from flamefe.reporting.files import write_result
from flamefe.reporting.gas import gas_words
from flamefe.reporting.page import page_text, write_page
from flamefe.reporting.page_model import MOST_VALUES, frame_times, model_of, page_skin
from flamefe.reporting.page_signs import sign_of
from flamefe.reporting.page_verdict import answers, headline
from flamefe.reporting.summary import (
    DISCLAIMER,
    MeasureRow,
    device_lines,
    measure_rows,
    run_lines,
    summary_text,
)
from flamefe.reporting.verdict import converged_line, doubt_lines, heat_lines, power_to_limit
from flamefe.reporting.words import number
from flamefe.study.case import HeldLine, Limits
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.practice import practice_for

MOST_BYTES = 5_000_000
VOID = {"meta", "link", "img", "br", "input"}
HOSTILE = "</script><script>alert(1)</script><img src=x onerror='alert(2)'>\"&{{ 7*7 }} עברית 😀 "
HOSTILE += "W" * (200 - len(HOSTILE))


class Tree(HTMLParser):
    """Tags with their attributes, the text of each kind of place, and whether tags are closed."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.open, self.texts, self.scripts = [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "script":
            self.scripts.append((dict(attrs), ""))

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] == "script":
            self.scripts[-1] = (self.scripts[-1][0], self.scripts[-1][1] + data)
        elif not self.open or self.open[-1] != "style":
            self.texts.append(data)

    @property
    def words(self):
        return " ".join(" ".join(self.texts).split())

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]


def flat(text):
    return " ".join(str(text).split())


@pytest.fixture
def whole(page_file):
    return page_file.read_text("utf-8")


def test_every_run_leaves_a_page_that_is_whole(whole):
    tree = Tree(whole)
    assert tree.open == []
    assert tree.all("html") == [{"lang": "en"}]
    assert [attrs["id"] for attrs in tree.all("section")] == [
        "verdict", "asked", "happens", "remains", "forces", "sure", "cautions", "sheets",
    ]  # fmt: skip
    ids = [attrs["id"] for _, attrs in tree.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    for _, attrs in tree.tags:
        for key in ("aria-labelledby", "aria-describedby", "for"):
            assert key not in attrs or attrs[key] in ids
        if attrs.get("href", "").startswith("#"):
            assert attrs["href"][1:] in ids
    pictures = tree.all("img")
    assert len(pictures) == 9  # four pictures, the charts that apply and the heat sheet
    for attrs in pictures:
        assert len(attrs["alt"]) > 20
        assert attrs["src"].startswith("data:image/")
    assert len(whole.encode()) < MOST_BYTES


def test_nothing_is_loaded_and_only_our_scripts_may_run(whole):
    tree = Tree(whole)
    for tag, attrs in tree.tags:
        assert not any(name.startswith("on") for name in attrs), tag
        for name in ("src", "href", "srcset", "action", "data", "poster"):
            value = attrs.get(name) or ""
            assert value == "" or value.startswith(("#", "data:")), (tag, value[:80])
    assert "url(" not in whole.split("</style>")[0]
    assert "@import" not in whole.split("</style>")[0]
    policy = next(a["content"] for a in tree.all("meta") if a.get("http-equiv"))
    assert policy.startswith("default-src 'none'; img-src data:;")
    allowed = set(re.findall(r"'sha256-([^']+)'", policy))
    running = [text for attrs, text in tree.scripts if attrs.get("type") != "application/json"]
    hashes = {base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in running}
    assert len(running) == 2
    assert hashes == allowed
    assert "MIT License" in running[0][:400]


def test_page_says_the_words_of_the_summary(whole, real):
    words = Tree(whole).words
    told = [line.text for line in (*heat_lines(real), converged_line(real), *doubt_lines(real))]
    told += [*asked_lines(real), *gas_words(real), *real.warnings, *real.cautions, DISCLAIMER]
    told += [line.text for line in (*device_lines(real), *run_lines(real))]
    for text in told:
        assert flat(text) in words
    assert words.index("Verdict ✗ Not as it stands: too hot") < words.index("What was asked")
    assert "support 4 (jack) is overloaded" in words.split("What was asked")[0]
    assert "price of  is" not in whole


def test_numbers_of_the_table_are_those_of_result_json(whole, real):
    document = json.loads(json.dumps(result_document(real)))
    cycle = document["cycles"][-1]
    cells = re.findall(r'<th scope="row">(.*?)</th>.*?<td class="number">(.*?)</td>', whole, re.S)
    shown = dict(cells)
    assert shown["peak temperature"] == f"{cycle['heat_check']['peak_C']:.0f}"
    kept = [m for m in cycle["measures"] if not m["name"].endswith("in mrad")]
    assert len(shown) == len(kept) + 2
    for measure in kept:
        value = measure["value"]
        assert shown[measure["name"]] == (number(value, 3) if abs(value) >= 5e-5 else "0")
    classes = {one["measure"]: one["kept"] for one in cycle["shape"]}
    assert classes["flatness"] == "E"
    assert "sweep in the plane" in classes
    for name in classes:
        row = whole.split(f'<th scope="row">{name}</th>')[1].split("</tr>")[0]
        assert "<td>E</td>" in row
    jack = document["devices"][3]
    assert f"{number(jack['largest_kN'], 3)} kN throughout" in whole


def test_hostile_words_stay_words(make_result):
    text = page_text(make_result(title=HOSTILE, about=HOSTILE * 3))
    tree = Tree(text)
    assert tree.open == []
    assert len(tree.scripts) == 3
    assert not [attrs for attrs in tree.all("img") if "onerror" in attrs]
    assert flat(HOSTILE) in tree.words
    head = re.sub(r"\d+-\d+-\d+ \d+:\d+ UTC", "", tree.words.split("Verdict")[0])
    assert "UTC" not in head
    assert "49" not in head, "nothing is worked out"


def test_what_is_not_there_is_left_out(make_result):
    result = make_result(rules=(), warnings=())
    tree = Tree(page_text(result, charts=False))
    assert [attrs["id"] for attrs in tree.all("section")] == [
        "verdict", "asked", "happens", "remains", "sure", "cautions",
    ]  # fmt: skip
    assert tree.all("img") == []
    links = [a["href"] for a in tree.all("a")]
    assert "#rules" not in links
    assert "#forces" not in links
    assert "Held force" not in tree.words
    assert "warned of? ✓ No" in tree.words


def test_one_chart_that_fails_does_not_cost_the_page(result, monkeypatch, tmp_path):
    def dies(_):
        raise RuntimeError("no ink")

    monkeypatch.setitem(page.CHARTS, "history", dies)
    monkeypatch.setattr(page, "model_of", dies)
    tree = Tree(write_page(result, tmp_path / "a.html").read_text("utf-8"))
    assert "The chart 'history' could not be drawn: no ink." in tree.words
    assert "The view that can be turned could not be drawn: no ink." in tree.words
    assert tree.scripts == []
    assert len(tree.all("img")) == 2


def test_a_page_that_fails_costs_no_result(result, monkeypatch, tmp_path):
    def dies(*_, **__):
        raise RuntimeError("no paper")

    monkeypatch.setattr("flamefe.reporting.files.page_text", dies)
    written = write_result(result, tmp_path, pictures=False)
    assert written.page is None
    assert written.notes == ("report.html could not be made: no paper.",)
    assert "no paper" in written.summary.read_text("utf-8")


def test_verdict_by_what_was_found(make_result, real):
    good = answers(make_result(rules=()))
    assert headline(good).tone == "good"
    assert [one.question for one in good] == [
        "Too hot?", "Converged?", "Extrapolated, or warned of?",
    ]  # fmt: skip
    doubtful = answers(make_result(warnings=("The mesh is coarse.",)))
    assert headline(doubtful).text == "Within the limits used here; to doubt: 1 warning."
    hot = answers(make_result(hot=900.0))
    assert headline(hot).text == "Not as it stands: too hot, 270 K above the limit."
    near = answers(make_result(hot=625.0))[0]  # 645 C, 5 K below the limit
    assert near.short.startswith("Only 5 K below the limit; a flame under 1 % stronger")
    assert near.tone == "doubt"
    forces = answers(real)[1]
    assert (forces.question, forces.tone) == ("Held force too high?", "bad")
    weak = dataclasses.replace(real.devices[3], capacity_kN=None)
    unknown = dataclasses.replace(real, devices=(*real.devices[:3], weak))
    assert answers(unknown)[1].short.startswith("Not judged, no capacity is given; at most 0.2 kN")
    strong = dataclasses.replace(real.devices[3], capacity_kN=0.8)
    kept = dataclasses.replace(real, devices=(*real.devices[:3], strong))
    assert answers(kept)[1].short == "No, at most 25 % of what may be carried"


def test_rules_out_of_range_make_no_run_doubtful(make_result):
    found = answers(make_result())
    assert headline(found).tone == "good"
    assert (found[-1].short, found[-1].tone) == ("Rules of thumb alone", "plain")
    said = [line.text for line in found[-1].lines]
    assert said[0].startswith("1 of 2 rules of thumb used out of their range")
    text = summary_text(make_result())
    assert "To doubt" not in text
    assert text.index("Rules of thumb beside") < text.index("1 of 2 rules of thumb used out")


def test_no_answer_says_the_opposite_of_the_headline(make_result):
    """Near its limit a run is to doubt, and no other answer says that nothing is."""
    found = answers(make_result(hot=625.0, rules=()))
    assert headline(found).tone == "doubt"
    assert all("doubt" not in one.question and one.short != "Nothing" for one in found)
    assert "no part of this" in found[-1].lines[-1].text


def test_how_little_more_power_reaches_the_limit(make_result):
    near = make_result(hot=600.0)  # 620 C: 30 K of a rise of 600 K are left
    assert power_to_limit(near) == pytest.approx(0.05)
    assert answers(near)[0].short == (
        "No, 30 K below the limit; a flame about 5 % stronger reaches it"
    )
    assert "A flame about 5 % stronger reaches the limit, if rises grow" in summary_text(near)
    assert "stronger" not in summary_text(make_result(hot=300.0))  # farther than is worth a word
    assert power_to_limit(make_result(hot=700.0)) is None
    held = HeldLine(flame="torch", face="top", path_mm=[[50, 100], [350, 100]], target_C=600)
    assert power_to_limit(make_result(hot=600.0, heats=[held])) is None


def test_practice_that_is_kept_is_no_leave_to_go_higher(make_result):
    result = make_result()
    heat = result.heat
    kept = against_practice(
        practice_for("carbon steel"), heat.times, heat.temperatures, Columns.of(result.mesh.p.T, 2)
    )
    cycle = dataclasses.replace(result.cycles[0], practice=kept)
    line = heat_lines(dataclasses.replace(result, cycles=(cycle,)))[-1]
    assert "the surface reached 520 C, where its bound for short heating is 900 C" in line.text
    assert "nowhere above 650 C" in line.text
    assert line.text.endswith("The limit of 650 C above stays the one that counts.")


def test_tolerance_is_judged_where_it_is_asked_for(make_result):
    result = make_result(limits=Limits(shape_class="E"))
    assert answers(result)[1].short == "Not judged, class E of ISO 13920"
    cycle = dataclasses.replace(result.cycles[-1], shape=(bent(1.5),))
    fine = dataclasses.replace(result, cycles=(cycle,))
    answer = answers(fine)[1]
    assert (answer.question, answer.tone) == ("Within the tolerance asked for?", "good")
    assert "bow 1.5 mm, 2 mm allowed over 600 mm comes nearest" in answer.lines[0].text
    cycle = dataclasses.replace(cycle, shape=(bent(1.5), bent(2.2)))
    bad = dataclasses.replace(result, cycles=(cycle,))
    assert headline(answers(bad)).text == "Not as it stands: not within class E of ISO 13920."
    assert "NOT WITHIN class E of ISO 13920" in summary_text(bad)
    words = Tree(page_text(bad, charts=False)).words
    assert "bow 2.2 mm, 2 mm allowed over 600 mm, the part taken as straight" in words
    assert len(answers(make_result())) == 3


def bent(deviation):
    return ShapeFinding(
        measure="bow", deviation_mm=deviation, length_mm=600, kept="F", asked="E", allowed_mm=2.0,
        from_straight=True,
    )  # fmt: skip


def test_signs_are_drawn_for_what_has_one(real):
    drawn = {row.name: sign_of(row) for row in measure_rows(real)}
    assert drawn["camber of the line"].axis == "torch"
    assert drawn["sweep in the plane"].axis == "+y"
    assert drawn["flatness"].kind == "band"
    assert drawn["largest von Mises stress"].kind == ""
    bay = MeasureRow(
        name="bow of bay 2", values=("1",), unit="mm",
        sign="+: middle lies towards the stiffeners (+z)",
    )  # fmt: skip
    assert (sign_of(bay).kind, sign_of(bay).axis) == ("arc", "+z")


def unpacked(text, kind):
    return np.frombuffer(zlib.decompress(base64.b64decode(text)), dtype=kind)


def test_packed_part_is_the_part(real):
    model = json.loads(json.dumps(model_of(real)))
    nodes, times = model["nodes"], np.array(model["times"])
    points = unpacked(model["points"], "<u2").reshape(nodes, 3) / 65535 * model["size"]
    points += model["low"]
    skin = page_skin(real)
    exact = 1e3 * real.mesh.p.T[skin.nodes]
    assert_allclose(points, exact, atol=model["size"] / 65535)
    triangles = np.cumsum(unpacked(model["triangles"], "<i4")).reshape(-1, 3)
    assert_allclose(triangles, skin.triangles)
    a, b, c = (exact[triangles[:, i]] for i in range(3))
    volume = np.einsum("ti,ti->t", a, np.cross(b, c)).sum() / 6.0
    assert volume == pytest.approx(120 * 80 * 6, rel=1e-9)  # closed and outward

    heat = np.cumsum(unpacked(model["temperatures"], "<u1").reshape(len(times), nodes), axis=0)
    heat = (heat % 256) * model["step_C"] + model["coldest_C"]
    at = [int(np.abs(real.heat.times - time).argmin()) for time in times]
    assert_allclose(real.heat.times[at], times, rtol=1e-5)
    assert_allclose(heat, real.heat.temperatures[at][:, skin.nodes], atol=0.51 * model["step_C"])
    assert max(model["hottest"]) == pytest.approx(real.heat.peak.max(), abs=0.06)
    assert len(times) <= 52

    moves = np.cumsum(
        unpacked(model["moves"], "<i2").reshape(len(times), nodes, 3).astype(int), axis=0
    )
    moved = moves * model["largest_move"] / 2047
    left = 1e3 * real.strain.ends[-1].displacement[skin.nodes]
    shift = left - moved[-1]
    turn = np.linalg.lstsq(np.c_[exact - exact.mean(axis=0), np.ones(nodes)], shift, rcond=None)[0]
    rest = shift - np.c_[exact - exact.mean(axis=0), np.ones(nodes)] @ turn
    assert np.abs(rest).max() < 2 * model["largest_move"] / 2047  # rigid but for rounding
    assert_allclose(turn[:3] + turn[:3].T, 0.0, atol=1e-5)
    stress = model["fields"][3]
    assert stress["name"].startswith("von Mises stress after cycle 1")
    assert set(model["maps"]) == {"inferno", "cividis", "viridis"}


@pytest.mark.parametrize("peak", [632.458, 631.55])
def test_hottest_place_is_told_as_in_the_verdict(make_result, peak):
    """Not rounded twice: 632.458 is 632, and not 632.5 and then 633."""
    result = make_result()
    heat = result.heat
    grown = (heat.temperatures - 20.0) * (peak - 20.0) / (heat.peak.max() - 20.0) + 20.0
    result = dataclasses.replace(result, heat=dataclasses.replace(heat, temperatures=grown))
    assert max(model_of(result)["hottest"]) == pytest.approx(peak, abs=1e-9)


def test_a_huge_part_is_thinned_and_says_so(make_result):
    """A skin of 90 000 nodes still makes a page for a mail."""
    huge = finer(make_result(), (300, 150))
    skin = page_skin(huge)
    assert skin.thinned
    assert len(skin.nodes) <= 1.05 * 40_000
    exact = 1e3 * huge.mesh.p.T[skin.nodes]
    a, b, c = (exact[skin.triangles[:, i]] for i in range(3))
    volume = np.einsum("ti,ti->t", a, np.cross(b, c)).sum() / 6.0
    assert volume == pytest.approx(400 * 200 * 12, rel=0.01)
    text = page_text(huge, charts=False)
    assert len(text.encode()) < MOST_BYTES - 1_200_000  # room for pictures and charts
    assert "Its surface is thinned" in Tree(text).words
    assert len(frame_times(huge, len(skin.nodes))) * len(skin.nodes) < 1.2 * MOST_VALUES


def finer(result, cells):
    """The same made-up result on a finer mesh of one layer."""
    x, y = np.linspace(0, 0.4, cells[0] + 1), np.linspace(0, 0.2, cells[1] + 1)
    mesh = box_mesh(x, y, [0.0, 0.012])
    distance = np.hypot(
        mesh.p[0][None] - 0.05 - 0.006 * result.heat.times[:, None], mesh.p[1] - 0.1
    )
    temperatures = 20.0 + 500.0 * np.exp(-((distance / 0.02) ** 2))
    end = result.strain.ends[0]
    bent = np.stack([0 * mesh.p[0], 0 * mesh.p[0], 1e-3 * np.sin(20 * mesh.p[0])], axis=1)
    zeros = np.zeros((mesh.nelements, 8))
    new_end = dataclasses.replace(
        end, displacement=bent, stress=np.zeros((mesh.nelements, 8, 6)),
        plastic_strain=np.zeros((mesh.nelements, 8, 6)), equivalent_plastic_strain=zeros,
    )  # fmt: skip
    share = np.linspace(0.0, 1.0, len(result.strain.times))
    return dataclasses.replace(
        result,
        mesh=mesh,
        heat=dataclasses.replace(result.heat, temperatures=temperatures),
        strain=dataclasses.replace(
            result.strain, displacements=share[:, None, None] * bent, ends=(new_end,)
        ),
    )
