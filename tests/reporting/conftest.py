"""A made-up result: real types, smooth invented fields, no solver behind it."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flamefe.heating.history import EnergyBalance, TemperatureHistory
from flamefe.outcome.limits import check_heat
from flamefe.outcome.measure import Measure
from flamefe.reporting.files import write_result
from flamefe.rules.value import RuleValue
from flamefe.straining.history import Effort, EndState, StrainHistory
from flamefe.study.case import (
    Case,
    Flame,
    Guide,
    HeldLine,
    Jack,
    LineHeat,
    Mesh,
    OwnWeight,
    Plate,
    Points,
    Prices,
    Solve,
    SpotHeat,
)
from flamefe.study.result import CycleOutcome, RunResult
from flamefe.study.run import run
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.standard import material

LENGTH, WIDTH, THICKNESS = 0.4, 0.2, 0.012
LINE = LineHeat(flame="torch", face="top", path_mm=[[50, 100], [350, 100]], speed_mm_s=6)


@pytest.fixture
def make_result() -> Callable[..., RunResult]:
    """Return a function that makes a result; ``hot`` scales how hot it was."""
    return made_up


@pytest.fixture
def result() -> RunResult:
    """Return a result of one cycle, below the heating limit."""
    return made_up()


@pytest.fixture(scope="session")
def real() -> RunResult:
    """Return the result of a small run: two kinds of heats, devices, an overloaded jack."""
    return run(
        Case(
            title="A line and a spot on a gusset",
            about="A gusset of a conveyor frame.\n\nLesson: <b>no</b> & \"yes\".",
            workpiece=Plate(length_mm=120, width_mm=80, thickness_mm=6, material="S355"),
            mesh=Mesh(size_at_heat_mm=8, size_away_mm=25, layers=2),
            flames={
                "small": Flame(fuel="acetylene", consumption_L_h=315),
                "torch": Flame(power_kW=1.5, radius_mm=12),
            },
            heats=[
                HeldLine(
                    name="held", flame="small", face="top", path_mm=[[45, 40], [75, 40]],
                    target_C=500, cool_to_C=150,
                ),
                SpotHeat(flame="torch", face="bottom", at_mm=[60, 40], time_s=6),
            ],
            supports=[
                Guide(face="start"),
                Points(at_mm=[[0, 0, 0], [0, 80, 0]], directions=["z"]),
                Points(at_mm=[[0, 0, 0]], directions=["y"]),
                Jack(
                    at_mm=[110, 40, 0], pushes="z", force_kN=0.2, capacity_kN=0.1,
                    released="after cooling",
                ),
            ],
            loads=[OwnWeight()],
            prices=Prices(acetylene_m3=14, oxygen_m3=4),
            solve=Solve(largest_temperature_step_C=60, tolerance=5e-3),
        )
    )  # fmt: skip


@pytest.fixture(scope="session")
def page_file(real: RunResult, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the page of the small run, with its pictures."""
    page = write_result(real, tmp_path_factory.mktemp("real")).page
    assert page is not None
    return page


def made_up(*, hot: float = 500.0, cycles: int = 1, **changes: Any) -> RunResult:
    case_parts: dict[str, Any] = {"title": "Line heat on a hopper wall", "heats": [LINE]}
    asked = ("title", "about", "heats", "solve", "limits")
    case_parts |= {key: changes.pop(key) for key in asked if key in changes}
    case = Case(
        workpiece=Plate(
            length_mm=1e3 * LENGTH, width_mm=1e3 * WIDTH, thickness_mm=1e3 * THICKNESS,
            material="S355",
        ),
        flames={"torch": Flame(power_kW=7, radius_mm=18)},
        **case_parts,
    )  # fmt: skip
    mesh = box_mesh(np.linspace(0, LENGTH, 17), np.linspace(0, WIDTH, 11), [0.0, 0.006, THICKNESS])
    heat = _heat(mesh.p, hot)
    strain = _strain(mesh, heat.times, cycles)
    outcomes = tuple(
        CycleOutcome(
            cycle=number,
            measures=(
                Measure(name="angular change", value=0.5 * number, unit="deg", meaning="above 0: "
                        "edges rise to the torch"),
                Measure(name="twist", value=-0.01, unit="deg", meaning="end against start"),
            ),
            heat_check=check_heat(heat.times, heat.temperatures, mesh.p.T, limit_C=650,
                                  valid_to_C=1200),
            largest_stress_MPa=float(end.mises.max()) / 1e6,
            largest_plastic_strain=float(end.equivalent_plastic_strain.max()),
        )
        for number, end in enumerate(strain.ends, start=1)
    )  # fmt: skip
    parts: dict[str, Any] = {
        "case": case, "mesh": mesh, "material": material("S355"), "heat": heat, "strain": strain,
        "cycles": outcomes, "rules": (IN_RANGE, OUT_OF_RANGE), "warnings": (),
        "cautions": ("Hot metal burns.",), "figures": {"cpu_s": 1.5}, "versions": {"numpy": "2.0"},
    }  # fmt: skip
    return RunResult(**(parts | changes))


IN_RANGE = RuleValue(
    rule="energy bound", quantity="transverse shrinkage", value=0.2, unit="mm", simulated=0.05,
    in_range=True, formula="S = a q / (c h)", source="derived",
)  # fmt: skip
OUT_OF_RANGE = RuleValue(
    rule="angle by energy", quantity="angular change", value=1.5, unit="deg", lower=1.0, upper=2.0,
    simulated=1.12, in_range=False, reasons=("12 mm is above the 10 mm it was fitted to",),
    formula="t = b q / h2", source="invented for tests",
)  # fmt: skip


def _heat(nodes: np.ndarray, hot: float) -> TemperatureHistory:
    times = np.concatenate((np.linspace(0.0, 50.0, 21), [100.0, 1000.0, 4000.0]))
    rows = []
    for time in times:
        torch = 0.05 + 0.006 * min(time, 50.0)
        away = (nodes[0] - torch) ** 2 + (nodes[1] - WIDTH / 2) ** 2
        fading = 0.0 if time == 0 else float(np.exp(-max(time - 50.0, 0.0) / 50.0))
        rows.append(20.0 + hot * fading * np.exp(-away / 0.02**2 - (THICKNESS - nodes[2]) / 0.02))
    return TemperatureHistory(
        times=times, temperatures=np.array(rows), cold=(23,),
        energy=EnergyBalance(supplied=350e3, stored=1e3, lost=348.5e3),
    )  # fmt: skip


def _strain(mesh: Any, heat_times: np.ndarray, cycles: int) -> StrainHistory:
    x, y, _ = mesh.p
    bent = 0.001 * np.abs(y - WIDTH / 2) / (WIDTH / 2) - 0.0005 * (2 * x / LENGTH - 1) ** 2
    final = np.stack((-0.0002 * x / LENGTH, 0.002 * (WIDTH / 2 - y), bent), axis=1)
    times = heat_times[::3] if heat_times[::3][-1] == heat_times[-1] else np.append(
        heat_times[::3], heat_times[-1]
    )  # fmt: skip
    share = np.minimum(times / 100.0, 1.0)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    upset = 0.01 * np.exp(-(((middle[1] - WIDTH / 2) / 0.03) ** 2) - (THICKNESS - middle[2]) / 0.01)
    points = upset[:, None] * np.linspace(0.9, 1.1, 8)
    stress = np.zeros((mesh.nelements, 8, 6))
    stress[..., 0] = 2e10 * points
    ends = tuple(
        EndState(
            name=f"end of cycle {number}", time=float(times[-1 - (cycles - number)]),
            displacement=final, stress=number * stress, plastic_strain=0 * stress,
            equivalent_plastic_strain=number * points,
        )
        for number in range(1, cycles + 1)
    )  # fmt: skip
    return StrainHistory(
        times=times, displacements=share[:, None, None] * final, ends=ends,
        effort=Effort(increments=8, solves=80, factorisations=2, cut_backs=0, worst_residual=5e-4),
        reactions=np.zeros((len(times), 3)),
    )  # fmt: skip
