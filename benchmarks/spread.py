"""Do a rule card and the simulation tell the same band of residual distortion?

    python benchmarks/spread.py [--coarse] [--folder FOLDER] [--json OUT.json]

Two jobs, each with coarse meshes, the same for card and band: a line heat on a plate whose power,
flame radius and yield strength scatter (angular change, two-layer rule), and a bar heated from both
sides between a clamp and a spring whose power and stiffness scatter (shortening, bar against a
spring).
For each a study of Sobol points over a range makes a rule card; then a study of the spread makes
a band by simulation, and the card another from 2000 samples. --coarse makes few runs. With
--folder finished runs are kept there.
"""

import argparse
import json
import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path

from flamefe.reporting.sweep_files import write_study
from flamefe.reporting.sweep_spread import SpreadOf, spread_text
from flamefe.rules.calibration import calibrate
from flamefe.rules.table_file import read_table
from flamefe.study.study_file import study_from_text
from flamefe.study.sweep import Sweep, sweep
from flamefe.study.uncertainty import card_band, drivers, simulated_band

PLATE = """
title = "A line on a plate of a platform"
workpiece = {kind = "plate", length_mm = 160, width_mm = 140, thickness_mm = 12, material = "own"}
materials = {own = {base = "S355", yield_strength_MPa = 355}}
mesh = {size_at_heat_mm = 8, size_away_mm = 25, layers = 3}
flames = {torch = {power_kW = 4, radius_mm = 15}}
solve = {largest_temperature_step_C = 60}
[[heats]]
kind = "line"
flame = "torch"
face = "top"
path_mm = [[20, 70], [140, 70]]
speed_mm_s = 6
"""
BAR = """
title = "Torches from both sides on a bar in a frame"
workpiece = {kind = "bar", length_mm = 120, depth_mm = 24, thickness_mm = 12, material = "S355"}
mesh = {size_at_heat_mm = 8, size_away_mm = 16, layers = 2}
flames = {torch = {power_kW = 1.1, radius_mm = 20}}
solve = {largest_temperature_step_C = 60}
[[heats]]
kind = "spot"
flame = "torch"
face = "top"
both_faces = true
at_mm = [60, 12]
time_s = 20
[[supports]]
kind = "clamp"
face = "start"
released = "after cooling"
[[supports]]
kind = "spring"
face = "end"
direction = "x"
stiffness_kN_mm = 300
released = "after cooling"
"""


@dataclass(frozen=True, kw_only=True)
class Job:
    """A case, the ranges of its card and the spreads of its band, as lines of a study file."""

    name: str
    case: str
    rule: str
    quantity: str
    coefficients: tuple[str, ...]
    ranges: str
    spreads: str


JOBS = (
    Job(
        name="plate",
        case=PLATE,
        rule="two layers",
        quantity="angular change at mid length",
        coefficients=("factor", "estimated", "heat", "depth"),
        ranges='"flames.torch.power_kW" = {lowest = 3.4, highest = 5}\n'
        '"flames.torch.radius_mm" = {lowest = 13, highest = 17}\n'
        '"materials.own.yield_strength_MPa" = {lowest = 290, highest = 430}\n',
        spreads='"flames.torch.power_kW" = {value = 4.2, spread = "5 %"}\n'
        '"flames.torch.radius_mm" = {value = 15, spread = 0.4}\n'
        '"materials.own.yield_strength_MPa" = {value = 360, spread = 18}\n',
    ),
    Job(
        name="bar",
        case=BAR,
        rule="bar against a spring",
        quantity="shortening",
        coefficients=("factor",),
        ranges='"flames.torch.power_kW" = {lowest = 1.0, highest = 1.2}\n'
        '"supports[1].stiffness_kN_mm" = {lowest = 240, highest = 380, scale = "log"}\n',
        spreads='"flames.torch.power_kW" = {value = 1.1, spread = 0.03}\n'
        '"supports[1].stiffness_kN_mm" = {value = 300, spread = "7 %", '
        'distribution = "lognormal"}\n',
    ),
)


def swept(job: Job, factors: str, design: str, runs: int, folder: Path) -> Sweep:
    """Make a study of a job."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "case.toml").write_text(job.case, encoding="utf-8")
    text = f'title = "{job.name}"\ncase = "case.toml"\ndesign = "{design}"\nruns = {runs}\n'
    study = study_from_text(f"{text}[factors]\n{factors}", folder=folder)
    done = sweep(study, folder=folder / "out")
    write_study(done, folder / "out")
    return done


def told(job: Job, folder: Path, coarse: bool) -> dict[str, object]:
    """Make the card and both bands, print them and hand back the figures."""
    card_runs, band_runs = (16, 12) if coarse else (64, 48)
    swept(job, job.ranges, "Sobol", card_runs, folder / "card")
    fitted = calibrate(
        read_table(folder / "card" / "out" / "table.csv"),
        rule=job.rule,
        quantity=job.quantity,
        coefficients=job.coefficients,
    )
    card = fitted.card()
    share = float("nan") if card.hold_out is None else card.hold_out.share
    print(
        f'Card "{card.rule}" from {card.rows} runs: {card.grade}, unseen rows {100 * share:.1f} %'
    )
    done = swept(job, job.spreads, "Latin hypercube", band_runs, folder / "band")
    found = card_band(done, card)
    band = simulated_band(done, job.quantity)
    one = SpreadOf(simulation=band, cards=(found,), moved_by=drivers(done, job.quantity))
    print(spread_text(done, [one]))
    return {"job": job.name, "grade": card.grade, "hold_out_share": share,
            "simulation": asdict(band), "card": asdict(found),
            "agrees": found.agrees}  # fmt: skip


def main() -> None:
    """Print both bands of each job."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--coarse", action="store_true")
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = asked.folder or Path(name)
        found = [told(job, folder / job.name, asked.coarse) for job in JOBS]
    if asked.json is not None:
        asked.json.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
