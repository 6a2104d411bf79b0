"""A result as numbers and words that any program can read."""

import dataclasses
import json
import math
from datetime import UTC, datetime
from importlib import metadata, resources
from typing import Any

import numpy as np

from flamefe.outcome.limits import HeatCheck
from flamefe.reporting.gas import (
    flame_documents,
    gas_document,
    heat_document,
)
from flamefe.rules.value import RuleValue
from flamefe.study.case_strokes import paths_of
from flamefe.study.device_outcomes import DeviceOutcome
from flamefe.study.heat_outcomes import cost_of, gas_of
from flamefe.study.result import CycleOutcome, RunResult
from flamefe.workpiece.meshcheck import mesh_summary

SCHEMA_VERSION = "1"
TO_MM = 1e3


def result_document(result: RunResult) -> dict[str, Any]:
    """Put a result into plain dicts, lists, texts and numbers, as ``result_schema`` describes.

    Units stand in the names, or in a ``unit`` beside a value. There is no NaN or infinity: a
    number that is not finite, which a finished run should not hold, becomes None.

    Args:
        result: a finished run.

    Returns:
        What ``json.dumps`` takes.

    Example:
        >>> result_document(result)["schema_version"]  # doctest: +SKIP
        '1'
    """
    return {
        "schema_version": SCHEMA_VERSION,
        "program": {"name": "flamefe", "version": metadata.version("flamefe")},
        "written": datetime.now(UTC).isoformat(timespec="seconds"),
        "case": plain(dataclasses.asdict(result.case)),
        "material": {
            "name": result.material.name,
            "family": result.material.family,
            "source": result.material.source,
            "heating_limit_C": result.material.heating_limit_C,
            "heating_limit_source": result.material.heating_limit_source,
            "heating_limit_reason": result.material.heating_limit_reason,
            "valid_to_C": result.material.valid_to_C,
        },
        "mesh": _mesh(result),
        "steps": _steps(result),
        "torches": [
            {
                "name": log.name,
                "target_C": plain(log.target),
                "burned_s": plain(sum(log.durations)),
                "times_s": [plain(v) for v in log.times],
                "way_mm": [plain(1e3 * v) for v in log.runs],
                "speed_mm_s": [plain(1e3 * v) for v in log.speeds],
                "surface_C": [plain(v) for v in log.readings],
                "notes": list(log.notes),
            }
            for log in result.heat.logs
        ],
        "flames": plain(flame_documents(result)),
        "heats": [
            {
                **plain(heat_document(one)),
                "face": result.case.heats[one.number - 1].face,
                "ways_mm": plain(paths_of(result.case.heats[one.number - 1])),
            }
            for one in result.heats
        ],
        "gas": {
            "by_fuel": [plain(gas_document(use)) for use in gas_of(result.heats)],
            "cost": plain(cost_of(result.heats)),
            "currency": result.case.prices.currency,
        },
        "energy": {
            "supplied_J": plain(result.heat.energy.supplied),
            "stored_J": plain(result.heat.energy.stored),
            "lost_J": plain(result.heat.energy.lost),
            "to_water_J": plain(result.heat.energy.water),
            "error": plain(result.heat.energy.error),
            "footprint_on_part": plain(result.heat.footprint_on_part),
        },
        "convergence": {
            **plain(dataclasses.asdict(result.strain.effort)),
            "tolerance": plain(result.case.solve.tolerance),
        },
        "supports": {
            "largest_force_N": plain(np.abs(result.strain.reactions).max(initial=0.0)),
            "final_force_N": plain(result.strain.reactions[-1]),
        },
        "devices": [_device(device) for device in result.devices],
        "cycles": [_cycle(cycle) for cycle in result.cycles],
        "rules": [_rule(rule) for rule in result.rules],
        "warnings": list(result.warnings),
        "cautions": list(result.cautions),
        "figures": plain(result.figures),
        "versions": plain(result.versions),
    }


def result_schema() -> dict[str, Any]:
    """JSON schema (2020-12) of ``result_document`` and of the file result.json.

    Example:
        >>> result_schema()["properties"]["schema_version"]["const"]
        '1'
    """
    text = resources.files("flamefe.reporting").joinpath("result.schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def plain(value: Any) -> Any:
    """Turn NumPy values and tuples into what JSON knows; a number that is not finite into None.

    Example:
        >>> plain({"a": np.float64(2.0), "b": (np.int64(1), float("nan"))})
        {'a': 2.0, 'b': [1, None]}
    """
    if isinstance(value, np.ndarray | np.generic):
        value = value.tolist()
    if isinstance(value, dict):
        return {str(key): plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [plain(part) for part in value]
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int | str):
        return value
    return str(value)


def _mesh(result: RunResult) -> dict[str, Any]:
    summary = mesh_summary(result.mesh)
    return {
        "nodes": int(result.mesh.p.shape[1]),
        "condensed_nodes": int(result.figures.get("condensed_nodes", 0.0)),
        "elements": int(result.mesh.nelements),
        "shortest_edge_mm": TO_MM * summary.smallest_edge,
        "longest_edge_mm": TO_MM * summary.largest_edge,
        "box_mm": plain(TO_MM * np.stack((result.mesh.p.min(axis=1), result.mesh.p.max(axis=1)))),
    }


def _steps(result: RunResult) -> dict[str, Any]:
    heat_steps = np.diff(result.heat.times)
    return {
        "heat_times": len(result.heat.times),
        "straining_times": len(result.strain.times),
        "shortest_heat_step_s": plain(heat_steps.min()) if heat_steps.size else None,
        "longest_heat_step_s": plain(heat_steps.max()) if heat_steps.size else None,
        "end_s": plain(result.heat.times[-1]),
    }


def _cycle(cycle: CycleOutcome) -> dict[str, Any]:
    return {
        "cycle": cycle.cycle,
        "measures": [plain(dataclasses.asdict(measure)) for measure in cycle.measures],
        "heat_check": _heat_check(cycle.heat_check),
        "largest_stress_MPa": plain(cycle.largest_stress_MPa),
        "largest_plastic_strain": plain(cycle.largest_plastic_strain),
        "practice": [
            {**plain(dataclasses.asdict(finding)), "margin_C": plain(finding.margin_C)}
            for finding in cycle.practice
        ],
        "shape": [
            {**plain(dataclasses.asdict(finding)), "within": finding.within}
            for finding in cycle.shape
        ],
        "acting": plain(dataclasses.asdict(cycle.acting)),
    }


def _device(device: DeviceOutcome) -> dict[str, Any]:
    worst = device.bearing
    return {
        **plain(dataclasses.asdict(device)),
        "released": [{"time_s": plain(t), "force_kN": plain(f)} for t, f in device.released],
        "overloaded": device.overloaded,
        "steady": device.steady,
        "bearing": None
        if worst is None
        else {**plain(dataclasses.asdict(worst)), "share": plain(worst.share)},
    }


def _heat_check(check: HeatCheck) -> dict[str, Any]:
    return {
        **plain(dataclasses.asdict(check)),
        "within_limit": check.within_limit,
        "within_tables": check.within_tables,
        "verdict": check.verdict,
    }


def _rule(rule: RuleValue) -> dict[str, Any]:
    return {**plain(dataclasses.asdict(rule)), "ratio": plain(rule.ratio)}
