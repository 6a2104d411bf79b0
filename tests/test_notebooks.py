"""Notebooks are short, hold their outputs, and name no machine."""

import json
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[1] / "notebooks"
FILES = sorted(FOLDER.glob("*.ipynb"))
MOST_LINES = 30


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
    assert FILES
