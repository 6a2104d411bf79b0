"""Heat sheets on paper: one A4 page, nothing cut, nothing on top of anything, whatever is asked."""

import base64
import dataclasses
import re
import xml.etree.ElementTree as ElementTree
from itertools import combinations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image
from pypdf import PdfReader

from flamefe.reporting.files import write_result
from flamefe.reporting.heat_files import NoSuchSheet, clear_sheets, write_sheets
from flamefe.reporting.heat_labels import spread
from flamefe.reporting.heat_page import heat_page
from flamefe.reporting.heat_sheet import case_sheets, result_sheets
from flamefe.reporting.page import MOST_SHEET_BYTES, page_text
from flamefe.reporting.paper import (
    HEIGHT,
    SMALLEST_PT,
    WIDTH,
    Paper,
    as_paper,
    text_width,
    wrapped,
)
from flamefe.study.case import (
    BandHeat,
    Case,
    Clamp,
    Flame,
    IBeam,
    Jack,
    LineHeat,
    Mesh,
    OvalHeat,
    OwnWeight,
    Plate,
    Points,
    Rest,
    RingHeat,
    RoundTube,
    SpotField,
    SpotHeat,
    WedgeHeat,
)
from flamefe.study.casefile import load_case
from flamefe.study.examples import example_names, example_path

EDGE = 5.0
"""White rim of the page, mm."""
HOSTILE = '<b>$x_1$</b> & "q" \\frac{1}{2} {{7*7}} ]]> --> עברית 😀 钢 %s '
FLAMES = {
    "torch": Flame(power_kW=3, radius_mm=20),
    "nozzle": Flame(fuel="propane", consumption_L_h=500),
}
COARSE = Mesh(size_at_heat_mm=13, size_away_mm=120, layers=1)


def plate(**sizes):
    given = {"length_mm": 1200, "width_mm": 800, "thickness_mm": 8, "material": "S355"}
    return Plate(**(given | sizes))


def spots(number, a_row, pitch):
    return [
        SpotHeat(flame="nozzle", face="top", target_C=600,
                 at_mm=[100 + pitch * (i % a_row), 100 + pitch * (i // a_row)])
        for i in range(number)
    ]  # fmt: skip


def job(heats, *, title="A job", piece=None, **more):
    return Case(
        title=title, workpiece=piece or plate(), mesh=COARSE, flames=FLAMES, heats=heats, **more
    )


def crowded_girder():
    """Forty heats of two kinds along 24 m, seven supports, a steel with many cautions."""
    heats = []
    for i in range(20):
        x = 1000 + 1100 * i
        heats.append(WedgeHeat(flame="torch", face="web left", both_faces=True, apex_mm=[x, 100],
                               base_mm=[x, 400], angle_deg=20 + i % 5, target_C=540,
                               cool_to_C=200))  # fmt: skip
        heats.append(BandHeat(flame="nozzle", face="top of top flange", from_mm=[x, 20],
                              to_mm=[x, 180], width_mm=90, target_C=540, cool_to_C=99))  # fmt: skip
    girder = IBeam(length_mm=24000, height_mm=500, width_mm=200, web_thickness_mm=10,
                   flange_thickness_mm=16, material="S690QL")  # fmt: skip
    held = [
        Rest(at_mm=[[500 + i * 5000, 50, 0], [500 + i * 5000, 150, 0]], capacity_kN=20)
        for i in range(5)
    ]
    held.append(Jack(at_mm=[12000, 100, 0], pushes="z", force_kN=12, released="after cooling"))
    return job(heats, piece=girder, supports=held, loads=[OwnWeight()])


def all_kinds():
    """Every kind of heat on four faces of a plate."""
    here = {"flame": "nozzle", "face": "top"}
    return job(
        [
            LineHeat(path_mm=[[50, 50], [350, 50], [350, 90]], speed_mm_s=5, **here),
            BandHeat(from_mm=[50, 200], to_mm=[350, 200], width_mm=60, manner="passes", passes=4,
                     target_C=500, **here),
            OvalHeat(flame="torch", face="bottom", from_mm=[400, 100], to_mm=[500, 200],
                     width_mm=40, speed_mm_s=2),
            RingHeat(flame="torch", face="bottom", centre_mm=[200, 200], ring_mm=60, target_C=500),
            SpotField(from_mm=[400, 250], to_mm=[560, 370], spacing_mm=60, time_s=4, **here),
            SpotHeat(flame="torch", face="far", at_mm=[300, 4], time_s=5),
            LineHeat(flame="torch", face="end", path_mm=[[100, 4], [300, 4]], speed_mm_s=5),
        ],
        piece=plate(length_mm=600, width_mm=400), supports=[Clamp(face="start")],
    )  # fmt: skip


def hostile():
    return job(
        [
            LineHeat(name=(HOSTILE * 9)[:200], flame="torch", face="top", speed_mm_s=5,
                     path_mm=[[50, 50], [350, 50], [350, 250], [60, 60]]),
            RingHeat(name="W" * 200, flame="torch", face="top", centre_mm=[200, 150], ring_mm=60,
                     target_C=700),
        ],
        title=(HOSTILE * 9)[:200],
        piece=plate(length_mm=400, width_mm=300),
    )  # fmt: skip


def seam_of_a_pipe():
    return job(
        [
            LineHeat(flame="torch", face="inside", path_mm=[[1000, 200], [1400, 200]],
                     speed_mm_s=5),
            LineHeat(flame="torch", face="outside", both_faces=True,
                     path_mm=[[1000, 1500], [1000, 1700]], speed_mm_s=5),
        ],
        piece=RoundTube(length_mm=3000, outer_diameter_mm=500, thickness_mm=10, material="S355"),
    )  # fmt: skip


def field_on_both_sides():
    field = SpotField(
        flame="nozzle", face="bottom", both_faces=True, from_mm=[100, 100], to_mm=[1100, 700],
        spacing_mm=110, target_C=600, between_C=80,
    )  # fmt: skip
    return job([field])


def many_holders():
    """Sixty supports of which each stands elsewhere, released at three moments."""
    held = [
        Points(at_mm=[[100 + 7 * i, 11 * i, 0]], directions=["z"],
               released=["hot", "never", "after cooling"][i % 3])
        for i in range(60)
    ]  # fmt: skip
    return job(spots(3, 3, 200), supports=held)


CASES = {
    **{name: lambda name=name: load_case(example_path(name)) for name in example_names()},
    "60 spots": lambda: job(spots(60, 10, 105)),
    "400 spots": lambda: job(spots(400, 20, 30)),
    "84 spots of a field": field_on_both_sides,
    "crowded girder": crowded_girder,
    "all kinds": all_kinds,
    "hostile": hostile,
    "seam": seam_of_a_pipe,
    "many holders": many_holders,
}


def faults_of(page):
    """Words that leave the page, are too small, or stand on other words."""
    renderer = page.figure.canvas.get_renderer()
    scale = 25.4 / page.figure.dpi
    placed, found = [], []
    for text in page.axes.texts:
        if not text.get_text().strip():
            continue
        box = text.get_window_extent(renderer)
        sides = np.array([box.x0, box.y0, box.x1, box.y1]) * scale
        placed.append((sides, text.get_text()))
        if sides.min() < EDGE or sides[2] > WIDTH - EDGE or sides[3] > HEIGHT - EDGE:
            found.append(f"cut: {text.get_text()}")
        if text.get_fontsize() < SMALLEST_PT:
            found.append(f"too small: {text.get_text()}")
    for (one, words), (other, others) in combinations(placed, 2):
        across = min(one[2], other[2]) - max(one[0], other[0])
        high = min(one[3], other[3]) - max(one[1], other[1])
        if across > 0.2 and high > 0.35:
            found.append(f"{words!r} on {others!r}")
    return found


@pytest.mark.filterwarnings("ignore:Glyph")
@pytest.mark.parametrize("name", CASES)
def test_nothing_is_cut_or_stands_on_anything(name):
    for sheet in case_sheets(CASES[name]()):
        page = heat_page(sheet)
        assert faults_of(page) == []
        words = " ".join(text.get_text() for text in page.axes.texts)
        assert "NEVER EXCEED" in words
        for caution in sheet.cautions:  # none is ever cut
            assert " ".join(caution.split()) in " ".join(words.replace("•", " ").split())


def test_the_check_for_overlaps_can_fail():
    page = Paper()
    page.text(50, 50, "one word")
    page.text(52, 51, "another")
    page.text(1, 100, "cut")
    assert len(faults_of(page)) == 2


@pytest.mark.filterwarnings("ignore:Glyph")
def test_what_has_no_room_is_said():
    (sheet,) = case_sheets(all_kinds())
    words = " ".join(text.get_text() for text in heat_page(sheet).axes.texts)
    assert "NOT DRAWN" in words
    (many,) = case_sheets(job(spots(400, 20, 30)))
    words = " ".join(text.get_text() for text in heat_page(many).axes.texts)
    told = int(re.search(r"and (\d+) more as drawn", words.replace("\u00a0", " "))[1])
    assert 100 < told < 399
    assert "numbers left out" in words


def test_all_places_of_sixty_spots_are_told_and_numbered():
    (sheet,) = case_sheets(job(spots(60, 10, 105)))
    page = heat_page(sheet)
    words = [text.get_text().replace("\u00a0", " ") for text in page.axes.texts]
    for number, heat in enumerate(job(spots(60, 10, 105)).heats, start=1):
        assert str(number) in words
        assert f"{number}: ({heat.at_mm[0]:g}, {heat.at_mm[1]:g})" in " ".join(words)


@pytest.fixture(scope="module")
def two_cycles():
    return case_sheets(load_case(example_path("hopper_two_cycles")))


def test_folder_gets_pdf_and_svg_of_each_cycle(two_cycles, tmp_path):
    files = write_sheets(two_cycles, tmp_path / "sheets")
    names = [f"sheet_cycle_{n}.{kind}" for n in (1, 2) for kind in ("pdf", "svg")]
    assert [file.name for file in files] == names
    for file in files[::2]:
        (page,) = PdfReader(file).pages
        assert_allclose([float(x) * 25.4 / 72 for x in page.mediabox[2:]], [210, 297], atol=0.1)
    root = ElementTree.parse(files[1]).getroot()
    assert root.tag.endswith("svg")
    assert_allclose([float(root.get(k)[:-2]) / 72 * 25.4 for k in ("width", "height")],
                    [210, 297], atol=0.1)  # fmt: skip
    (tmp_path / "sheets" / "sheet_cycle_mine.pdf").write_text("keep")
    clear_sheets(tmp_path / "sheets")
    assert [file.name for file in (tmp_path / "sheets").iterdir()] == ["sheet_cycle_mine.pdf"]


def test_one_pdf_has_a_page_a_cycle_and_its_words_can_be_searched(two_cycles, tmp_path):
    (file,) = write_sheets(two_cycles, tmp_path / "both.pdf")
    pages = PdfReader(file).pages
    assert len(pages) == 2
    text = pages[1].extract_text()
    assert "cycle 2 of 2" in text
    assert "NEVER EXCEED" in text


def test_files_that_can_not_hold_it_are_refused(two_cycles, tmp_path):
    with pytest.raises(NoSuchSheet, match="2 cycles"):
        write_sheets(two_cycles, tmp_path / "a.svg")
    with pytest.raises(NoSuchSheet, match=r"\.pdf"):
        write_sheets(two_cycles, tmp_path / "a.docx")
    assert list(tmp_path.iterdir()) == []
    (file,) = write_sheets(two_cycles[:1], tmp_path / "a.png")
    with Image.open(file) as picture:
        assert (np.asarray(picture.convert("L")) < 200).mean() > 0.01


@pytest.mark.filterwarnings("ignore:Glyph")
def test_hostile_names_stay_words(tmp_path):
    (svg,) = write_sheets(case_sheets(hostile()), tmp_path / "hostile.svg")
    root = ElementTree.parse(svg).getroot()  # well-formed: no name became markup
    kinds = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert kinds <= {"svg", "metadata", "RDF", "Work", "type", "format", "defs", "style", "g",
                     "path", "use", "clipPath", "rect", "pattern", "title", "creator",
                     "Agent"}  # fmt: skip
    links = [value for element in root.iter() for key, value in element.items() if "href" in key]
    assert len(links) > 100
    assert all(value.startswith("#") for value in links)  # it loads nothing
    (pdf,) = write_sheets(case_sheets(hostile()), tmp_path / "hostile.pdf")
    (page,) = PdfReader(pdf).pages
    assert "$x_1$" in page.extract_text()  # not taken for mathematics


def test_sheets_of_a_run_lie_in_its_folder_and_page(real, page_file):
    folder = page_file.parent
    assert {"sheet_cycle_1.pdf", "sheet_cycle_1.svg"} <= {file.name for file in folder.iterdir()}
    text = page_file.read_text("utf-8")
    body = base64.b64encode((folder / "sheet_cycle_1.svg").read_bytes()).decode()
    assert f"data:image/svg+xml;base64,{body}" in text
    assert page_file.stat().st_size < 5_000_000
    assert "Heat sheet, cycle 1 of 1" in text  # for those who can't see it
    (sheet,) = result_sheets(real)
    assert faults_of(heat_page(sheet)) == []
    shown = [text.get_text() for text in heat_page(sheet).axes.texts]
    assert sheet.measures[0].predicted in shown
    assert any("OVERLOADED" in words for words in shown)


def test_warnings_are_told_by_whole_sentences(real):
    long = "The first says a thing or two about it. " + "The second goes on " * 20 + "and ends."
    (sheet,) = result_sheets(dataclasses.replace(real, warnings=(long,)))
    words = " ".join(text.get_text() for text in heat_page(sheet).axes.texts)
    assert "The first says a thing or two about it. (more in the report)" in words
    assert "The second" not in words


def test_a_page_takes_only_so_many_sheets(result, tmp_path):
    files = {}
    for number in range(4):
        file = tmp_path / f"{number}.svg"
        file.write_bytes(b"<svg>" + bytes(MOST_SHEET_BYTES // 3) + b"</svg>")
        files[file] = f"words {number}"
    text = page_text(result, charts=False, sheets=files)
    assert "The first 2 of 4 are shown here" in text
    assert "words 1" in text
    assert "words 2" not in text
    assert 'id="sheets"' not in page_text(result, charts=False)


def test_a_sheet_that_fails_costs_no_result(result, tmp_path, monkeypatch):
    def dies(*_):
        raise RuntimeError("no\nroom")

    monkeypatch.setattr("flamefe.reporting.files.PICTURES", {})
    monkeypatch.setattr("flamefe.reporting.files.heat_page", dies)
    written = write_result(result, tmp_path)
    assert written.sheets == ()
    assert "The heat sheets could not be made: no room." in written.notes
    assert written.page is not None


def test_words_are_measured_as_they_are_drawn():
    page = Paper()
    for bold in (False, True):
        page.text(20, 100, "Measure before lighting", size=9, bold=bold)
        box = page.axes.texts[-1].get_window_extent(page.figure.canvas.get_renderer())
        drawn = box.width * 25.4 / page.figure.dpi
        assert_allclose(text_width("Measure before lighting", 9, bold=bold), drawn, rtol=0.02)
    assert all(text_width(line, 8) <= 20 for line in wrapped("W" * 60 + " and more", 20, 8))
    assert "".join(wrapped("W" * 60, 20, 8)) == "W" * 60


def test_labels_are_spread_within_their_room():
    moved = spread([1.0, 1.1, 1.2, 5.0, 9.9, 10.0], 1.5, 0.0, 10.0)
    assert (np.diff(moved) >= 1.5 - 1e-9).all()
    assert moved[0] >= 0.0
    assert moved[-1] <= 10.0
    assert moved[3] == 5.0


def test_the_same_sheet_gives_the_same_file(two_cycles):
    one, two = (as_paper([heat_page(two_cycles[0])], "svg") for _ in range(2))
    assert one == two
