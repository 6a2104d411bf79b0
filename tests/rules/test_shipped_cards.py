"""The cards that come with the package say what the heats say that they were fitted to."""

from pathlib import Path

import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.rules.card import OutsideCard
from flamefe.rules.columns import inputs_of_columns
from flamefe.rules.shipped import shipped_card, shipped_names
from flamefe.rules.table_file import read_table

STUDIES = Path(__file__).parents[2] / "benchmarks" / "studies"
OF = {
    "line heat, angular change": "line_heats",
    "line heat, transverse shrinkage": "line_heats",
    "wedge, closing rotation": "wedge_heats",
}


def test_every_card_has_its_study() -> None:
    assert set(shipped_names()) == set(OF)


@pytest.mark.parametrize("name", OF)
def test_its_heats_lie_in_its_intervals(name: str) -> None:
    """At least 26 of 32 at a stated 95 %: by chance fewer come once in ten thousand times."""
    card = shipped_card(name)
    inside = 0
    rows = read_table(STUDIES / f"{OF[name]}.csv")
    for row in rows:
        told = card.predict(inputs_of_columns(row))
        inside += told.lower <= float(row[f"{card.quantity} [{card.unit}]"]) <= told.upper
    assert len(rows) == 32
    assert inside >= 26
    assert card.grade in ("good", "rough")
    assert card.hold_out is not None


def test_a_card_refuses_what_its_study_had_not() -> None:
    card = shipped_card("line heat, angular change")
    row = dict(read_table(STUDIES / "line_heats.csv")[0]) | {"thickness_mm": "60"}
    with pytest.raises(OutsideCard, match="thickness_mm"):
        card.predict(inputs_of_columns(row))


def test_unknown_cards_are_told() -> None:
    with pytest.raises(OutOfRange, match="wedge, closing rotation"):
        shipped_card("tendon")
