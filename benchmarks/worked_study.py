"""Line heats and wedges by simulation, the rules beside them, and the cards calibrated on them.

    python benchmarks/worked_study.py [--run FOLDER] [--ship]

Without --run the tables of the studies that are stored beside their study files are used. --run
makes the runs (an hour and more; a folder that has some of them goes on) and stores the tables
anew. --ship writes the calibrated cards into the package.

Printed for each study: how the simulated number lies to that of each rule, where the rule says it
holds and where it does not; then each card's coefficients, scatter and hold-out error. The script
ends with an error where a shipped card differs from what its table gives.
"""

import argparse
import json
import math
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from flamefe.reporting.sweep_summary import one_sided_words
from flamefe.rules.calibration import Calibration, calibrate
from flamefe.rules.card_file import write_card
from flamefe.rules.columns import inputs_of_columns
from flamefe.rules.fitting import Scatter
from flamefe.rules.registry import rules_for
from flamefe.rules.shipped import shipped_card, shipped_names
from flamefe.rules.table_file import Rows, read_table

HERE = Path(__file__).parent / "studies"
CARDS = Path(__file__).parents[1] / "flamefe" / "rules" / "cards"


@dataclass(frozen=True, kw_only=True)
class Wish:
    """A card to calibrate.

    Args:
        name: of the card.
        study: file name of the study, without ending.
        rule, quantity: which.
        coefficients: to fit.
        scatter: "proportional" to the value or "constant".
    """

    name: str
    study: str
    rule: str
    quantity: str
    coefficients: tuple[str, ...]
    scatter: Scatter = "proportional"


STUDIES = ("line_heats", "wedge_heats")
WISHES = (
    Wish(
        name="line heat, angular change",
        study="line_heats",
        rule="two layers",
        quantity="angular change at mid length",
        coefficients=("factor", "estimated", "heat", "through"),
    ),
    Wish(
        name="line heat, transverse shrinkage",
        study="line_heats",
        rule="all heat upset",
        quantity="developed width shrinkage at mid length",
        coefficients=("factor", "estimated", "heat"),
        scatter="constant",
    ),
    Wish(
        name="wedge, closing rotation",
        study="wedge_heats",
        rule="published mean of wedge heats",
        quantity="closing rotation",
        coefficients=("free", "jacks", "angle", "depth", "hot"),
        scatter="constant",
    ),
)


def made(study: str, folder: Path) -> None:
    """Make the runs of a study and store its table."""
    # pools spawn processes that import this file; only the parent needs these
    from flamefe.reporting.sweep_files import write_study
    from flamefe.study.study_file import load_study
    from flamefe.study.sweep import sweep

    found = sweep(load_study(HERE / f"{study}.toml"), folder=folder / study)
    write_study(found, folder / study)
    for ending in (".csv", ".study.json"):
        shutil.copyfile(folder / study / f"table{ending}", HERE / f"{study}{ending}")


def rows_of(study: str) -> Rows:
    """The stored table of a study, without the runs that failed."""
    return [row for row in read_table(HERE / f"{study}.csv") if not row.get("failure")]


def _number(cell: object) -> float | None:
    try:
        return float(str(cell))
    except ValueError:
        return None


def beside(rows: Rows) -> list[str]:
    """How simulated numbers lie to those of the rules."""
    ratios: dict[tuple[str, str, bool], list[float]] = {}
    for row in rows:
        for one in rules_for(inputs_of_columns(row)):
            simulated = _number(row.get(f"{one.quantity} [{one.unit}]"))
            if simulated is not None and one.value:
                key = (one.rule, one.quantity, one.in_range)
                ratios.setdefault(key, []).append(simulated / one.value)
    lines = ["| rule | quantity | holds | rows | simulated by rule, median (10 to 90 %) |",
             "|---|---|---|---|---|"]  # fmt: skip
    for (rule, quantity, holds), found in sorted(ratios.items()):
        low, middle, high = np.quantile(found, (0.1, 0.5, 0.9))
        says = "yes" if holds else "no"
        lines.append(
            f"| {rule} | {quantity} | {says} | {len(found)} | {middle:.2f} ({low:.2f} to "
            f"{high:.2f}) |"
        )
    return lines


def errors_of(wish: Wish) -> dict[str, float]:
    """What the study told of its own error by mesh and steps, shares of the value."""
    told = json.loads((HERE / f"{wish.study}.study.json").read_text())["simulation_error"]
    return dict(told.get(wish.quantity, {}))


def fitted(wish: Wish) -> Calibration:
    """Calibrate a rule on its study's table."""
    errors = errors_of(wish)
    return calibrate(
        rows_of(wish.study),
        rule=wish.rule,
        quantity=wish.quantity,
        coefficients=wish.coefficients,
        scatter=wish.scatter,
        simulation_error=errors.get("rms_share"),
        provenance={
            "study": f"benchmarks/studies/{wish.study}.toml",
            **({"mesh error to one side": one_sided_words(errors["bias_share"])} if errors else {}),
        },
    )


def main() -> None:
    """Tables, cards, and whether the shipped cards are those of the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--run", type=Path, help="make the runs in this folder")
    parser.add_argument("--ship", action="store_true", help="write the cards into the package")
    asked = parser.parse_args()
    wrong = []
    for study in STUDIES:
        if asked.run is not None:
            made(study, asked.run)
        rows = rows_of(study)
        print(f"\n{study}: {len(rows)} runs\n")
        print("\n".join(beside(rows)))
    for wish in WISHES:
        found = fitted(wish)
        card = found.card()
        print(f"\n{wish.name} ({wish.rule})")
        for name, value, low, high in card.intervals():
            print(f"  {name}: {value:.3g} ({low:.3g} to {high:.3g})")
        print("  " + "\n  ".join(card.verdict))
        if asked.ship:
            CARDS.mkdir(exist_ok=True)
            write_card(card, CARDS / f"{wish.name.replace(' ', '_')}.json")
        elif wish.name not in shipped_names():
            wrong.append(f"{wish.name} is not shipped")
        else:
            shipped = shipped_card(wish.name).coefficients
            if not all(math.isclose(a, b, rel_tol=1e-6) for a, b in zip(
                shipped, card.coefficients, strict=True
            )):  # fmt: skip
                wrong.append(f"{wish.name}: shipped {shipped}, by its table {card.coefficients}")
    if wrong:
        sys.exit("\n".join(wrong))


if __name__ == "__main__":
    main()
