"""Notebooks are short, hold their outputs, and name no machine."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

FOLDER = Path(__file__).parents[1] / "notebooks"
FILES = sorted(FOLDER.glob("*.ipynb"))
MOST_LINES = 30
MOST_BYTES = 600_000
NUMBER = re.compile(
    r"(?<![\w.])(\d+(?:\.\d+)?) (?=(?:C|K|mm|mm/s|mrad|kN|kPa|MPa|degrees|s|%)\b|%)"
)
"""A number with a unit, as text says it."""
SIMULATING = [file for file in FILES if file.stem != "calibrated_rule"]
"""Notebooks that compute what they speak of; the other one tells of a stored study."""


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_notebook_is_short_and_was_run(file: Path) -> None:
    cells = json.loads(file.read_text(encoding="utf-8"))["cells"]
    code = [cell for cell in cells if cell["cell_type"] == "code"]
    lines = [line for cell in code for line in "".join(cell["source"]).splitlines() if line.strip()]
    assert 0 < len(lines) < MOST_LINES
    assert all(cell["execution_count"] for cell in code)
    kinds = [out["output_type"] for cell in code for out in cell["outputs"]]
    assert kinds
    assert "error" not in kinds
    words = "".join("".join(c["source"]) for c in cells if c["cell_type"] == "markdown")
    assert "local codes and licensed practice decide" in words
    assert str(Path.home()) not in file.read_text(encoding="utf-8")


def test_there_are_notebooks() -> None:
    assert len(SIMULATING) >= 4


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_notebook_shows_pictures_and_stays_small(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    assert "image/png" in text
    assert len(text) < MOST_BYTES
    for place in ("/tmp/", "/home/", "/root/", str(FOLDER.parent)):
        assert place not in text


def unfounded(cells: list[dict[str, Any]]) -> list[str]:
    """Numbers with units in the text that stand neither in the code nor in what it printed."""
    code = [cell for cell in cells if cell["cell_type"] == "code"]
    known = " ".join("".join(cell["source"]) for cell in code)
    for out in (out for cell in code for out in cell["outputs"]):
        known += " ".join(
            ["".join(out.get("text", "")), "".join(out.get("data", {}).get("text/html", ""))]
        )
    words = "\n\n".join("".join(c["source"]) for c in cells if c["cell_type"] == "markdown")
    told = [
        number
        for part in words.split("\n\n")
        if "by hand" not in part
        for number in NUMBER.findall(part)
    ]
    return [one for one in told if not re.search(rf"(?<![\d.]){re.escape(one)}(?![\d.]*\d)", known)]


@pytest.mark.parametrize("file", SIMULATING, ids=lambda file: file.stem)
def test_numbers_in_the_text_are_those_of_the_run(file: Path) -> None:
    assert unfounded(json.loads(file.read_text(encoding="utf-8"))["cells"]) == []


def test_a_number_from_nowhere_is_found() -> None:
    cells = [
        {"cell_type": "code", "source": "x = 12", "outputs": [{"text": "up to 3.9 mm"}]},
        {"cell_type": "markdown", "source": "From 12 mm it goes up to 3.8 mm, not 3.9 mm."},
    ]
    assert unfounded(cells) == ["3.8"]
