"""The README is true: what it says to type runs, and prints what it says."""

import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "benchmarks"))

import readme  # noqa: E402

TEXT = (ROOT / "README.md").read_text("utf-8")
EXAMPLES = readme.EXAMPLES.read_text("utf-8")
BLOCKS = [*readme.blocks(TEXT), *readme.blocks(EXAMPLES)]
MOST_LINES = 350
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[-+]\d+)?")


def same_but_for_rounding(written: str, printed: str) -> bool:
    """Words equal, numbers within 2 % or a unit of what is shown: machines round differently."""
    if " ".join(NUMBER.sub("#", written).split()) != " ".join(NUMBER.sub("#", printed).split()):
        return False
    for one, other in zip(NUMBER.findall(written), NUMBER.findall(printed), strict=True):
        a, b = float(one), float(other)
        shown = 10.0 ** -len(one.partition(".")[2]) if "." in one and "e" not in one else 1.0
        if abs(a - b) > max(0.02 * abs(a), 1.5 * shown):
            return False
    return True


@pytest.mark.parametrize(("kind", "body"), BLOCKS, ids=[body.split("\n")[0] for _, body in BLOCKS])
def test_blocks_print_what_they_say(kind, body):
    printed = readme.RUNNERS[kind](body)
    assert len(printed.splitlines()) > len([x for x in body.splitlines() if x[:2] == "$ "])
    assert same_but_for_rounding(body, printed), printed


def test_the_comparison_can_fail():
    assert same_but_for_rounding("peak 634 C", "peak 635 C")
    assert not same_but_for_rounding("peak 634 C", "peak 684 C")
    assert not same_but_for_rounding("peak 634 C", "top 634 C")


def test_first_words_are_the_job():
    """The job in one paragraph stands before everything else."""
    first = next(part for part in TEXT.split("\n\n") if not part.startswith("#"))
    assert first.startswith("A welding engineer")
    assert "never certifies" in first


def test_two_commands_stand_alone():
    """Each of the two lines makes its own environment and needs nothing before it."""
    lines = [line for line in TEXT.splitlines() if line.startswith("python3 -m venv")]
    assert len(lines) == 2
    assert lines[0].endswith("flamefe run hopper_wall_line")
    assert "pytest" in lines[1]
    ci = (ROOT / ".ci" / "run").read_text("utf-8")
    assert "python3 -m venv .*$1" in ci, "continuous integration takes the lines from here"


def test_tables_of_costs_and_accuracy_are_filled_in():
    for pattern in (readme.SPEED, readme.ACCURACY):
        assert pattern.search(TEXT)[0].count("|") > 20


def test_it_is_short_and_in_order():
    assert len(TEXT.splitlines()) < MOST_LINES
    marks = ("A welding engineer", "![", "## Run the main job", "## Run the tests", "## In Python",
             "<!-- accuracy -->", "<!-- speed -->", "## What it can't do yet", "## Changes",
             "## Change a case")  # fmt: skip
    places = [TEXT.index(f"\n{mark}") for mark in marks]
    assert places == sorted(places)


def headings(text):
    """Anchors of a page's headings, as they are linked to."""
    heads = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    return {re.sub(r"[^\w -]", "", head.lower()).replace(" ", "-") for head in heads}


def test_links_lead_somewhere():
    links = re.findall(r"\]\(([^)]+)\)", TEXT)
    assert len(links) > 4
    for link in links:
        file, _, heading = link.partition("#")
        assert (ROOT / file).is_file(), link
        assert not heading or heading in headings((ROOT / file).read_text("utf-8")), link
    for link in re.findall(r"\]\(([^)]+)\)", EXAMPLES):
        assert (ROOT / "notebooks" / link).is_file(), link


def test_the_picture_is_small():
    file = ROOT / "notebooks" / "hopper_wall_line.png"
    assert 10_000 < file.stat().st_size < 150_000
