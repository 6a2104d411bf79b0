"""What a rule card costs and how often its intervals hold, in numbers.

    python benchmarks/rule_card.py [--coarse] [--json OUT.json]

Cost: one answer with its interval, beside one call of the rule alone, one call of SciPy's t
distribution, and one coarse simulation of the same heat. Coverage: invented tables of 24 line
heats whose coefficients are known are fitted over and over; how often do the 95 % intervals hold
the coefficients, the mean and a further single heat (1000 tables; --coarse: 200)?
"""

import argparse
import json
import math
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy import stats
from threadpoolctl import threadpool_limits

import flamefe
from flamefe.rules.calibration import calibrate
from flamefe.rules.columns import inputs_of_columns
from flamefe.rules.fitting import fit_form
from flamefe.rules.forms import find_form

COLUMN = "angular change at mid length [deg]"
TRUTH = {"factor": 0.25, "heat": -0.3, "depth": 0.8}
SCATTER = 0.08
ROWS = 24


def heats() -> list[dict[str, object]]:
    """Invented line heats on plates of 6 to 25 mm."""
    unit = np.random.default_rng(3).random((ROWS, 4))
    return [
        {
            "part": "plate",
            "material": "S355",
            "thickness_mm": 6 + 19 * a,
            "speed_mm_s": 3 + 9 * b,
            "net_power_kW": 2 + 3 * c,
            "flame_radius_mm": 10 + 10 * d,
        }
        for a, b, c, d in unit
    ]


def microseconds(call: Callable[[], object], number: int = 3000) -> float:
    """Best of five means, us."""
    best = math.inf
    for _ in range(5):
        start = time.perf_counter()
        for _ in range(number):
            call()
        best = min(best, (time.perf_counter() - start) / number)
    return 1e6 * best


def coarse_simulation() -> float:
    """CPU time of one coarse line heat, us."""
    case = flamefe.Case(
        title="Line heat on a hopper wall",
        workpiece=flamefe.Plate(length_mm=200, width_mm=160, thickness_mm=12, material="S355"),
        mesh=flamefe.Mesh(size_at_heat_mm=9, size_away_mm=30, layers=2),
        flames={"torch": flamefe.Flame(power_kW=3, radius_mm=15)},
        heats=[
            flamefe.LineHeat(flame="torch", face="top", path_mm=[[20, 80], [180, 80]], speed_mm_s=6)
        ],
    )
    start = time.process_time()
    flamefe.run(case)
    return 1e6 * (time.process_time() - start)


def costs() -> dict[str, float]:
    """Each by its name, us."""
    form = find_form("two layers", coefficients=tuple(TRUTH))
    rows = heats()
    truth = np.array([TRUTH.get(name, 0.0) for name in form.names])
    random = np.random.default_rng(1)
    for row in rows:
        exact = float(form.values(truth, form.entries(inputs_of_columns(row))))
        row[COLUMN] = exact * (1 + SCATTER * random.standard_normal())
    card = calibrate(rows, rule="two layers").card()
    asked = inputs_of_columns({k: v for k, v in rows[0].items() if k != COLUMN})
    return {
        "card, value and interval": microseconds(lambda: card.predict(asked)),
        "rule alone": microseconds(lambda: form.rule.evaluate(asked)),
        "one quantile of SciPy's t": microseconds(lambda: stats.t.ppf(0.975, 21), 500),
        "one coarse simulation": coarse_simulation(),
    }


def coverage(tables: int) -> dict[str, float]:
    """Share of tables whose 95 % interval holds the truth, by what it is of."""
    form = find_form("two layers", coefficients=tuple(TRUTH))
    entries = np.array([form.entries(inputs_of_columns(row)) for row in heats()])
    truth = np.array([TRUTH.get(name, 0.0) for name in form.names])
    exact = form.values(truth, entries)
    random = np.random.default_rng(11)
    hits = dict.fromkeys([*TRUTH, "mean", "single heat"], 0)
    for _ in range(tables):
        observed = exact * (1 + SCATTER * random.standard_normal(ROWS))
        fit = fit_form(form, entries, observed, scatter="proportional", given=np.ones(ROWS))
        factor = float(stats.t.ppf(0.975, fit.freedom))
        for name in TRUTH:
            i = form.names.index(name)
            half = factor * math.sqrt(fit.covariance[i, i])
            hits[name] += abs(fit.coefficients[i] - truth[i]) <= half
        value, slope = form.gradient(fit.coefficients, entries[7])
        variance = float(slope @ fit.covariance @ slope)
        hits["mean"] += abs(float(value) - exact[7]) <= factor * math.sqrt(variance)
        another = exact[7] * (1 + SCATTER * random.standard_normal())
        half = factor * math.sqrt(variance + fit.spreads[7] ** 2)
        hits["single heat"] += abs(float(value) - another) <= half
    return {name: count / tables for name, count in hits.items()}


def main() -> None:
    """Print both tables; with --json also keep the numbers."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--coarse", action="store_true", help="fewer tables")
    parser.add_argument("--json", type=Path, help="where to keep the numbers")
    asked = parser.parse_args()
    tables = 200 if asked.coarse else 1000
    with threadpool_limits(1):
        cost, held = costs(), coverage(tables)
    own = cost["card, value and interval"]
    print("| what | us | times a card's answer |\n|---|---|---|")
    for name, spent in cost.items():
        print(f"| {name} | {spent:.3g} | {spent / own:.3g} |")
    print(f"\n95 % intervals that hold the truth, of {tables} invented tables of {ROWS} heats:\n")
    print("| of | share |\n|---|---|")
    for name, share in held.items():
        print(f"| {name} | {100 * share:.1f} % |")
    if asked.json is not None:
        asked.json.write_text(json.dumps({"cost_us": cost, "coverage": held}, indent=2) + "\n")


if __name__ == "__main__":
    main()
