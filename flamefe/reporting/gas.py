"""Gas, burning time and depth of each heat, in words and numbers."""

import dataclasses
from typing import Any

from flamefe.heating.nozzle import GasUse, Nozzle
from flamefe.reporting.words import number, one_line
from flamefe.study.case_flames import nozzle_of, power_kW_of, radius_mm_of
from flamefe.study.heat_outcomes import HeatOutcome, cost_of, gas_of
from flamefe.study.result import RunResult

MOST_HEATS = 6
LITRES = 1e3


def gas_words(result: RunResult) -> list[str]:
    """Burning time, gas, cost and depth of each heat, and of the whole job."""
    said = [_heat_words(result, one) for one in result.heats[:MOST_HEATS]]
    if len(result.heats) > MOST_HEATS:
        said.append(f"... {len(result.heats)} heats in all")
    burned = sum(one.burned_s for one in result.heats)
    uses = gas_of(result.heats)
    if uses:
        parts = [_gas_words(use) for use in uses]
        said.append(f"the job: {number(burned, 3)} s of burning, {'; '.join(parts)}{_job(result)}")
    elif result.heats:
        said.append(f"the job: {number(burned, 3)} s of burning; gas not told, no nozzle is given")
    return said


def heat_document(one: HeatOutcome) -> dict[str, Any]:
    """A heat as plain numbers."""
    made = {field.name: getattr(one, field.name) for field in dataclasses.fields(one)}
    made["dimensions"] = [
        {"name": name, "value": value, "unit": unit} for name, value, unit in one.dimensions
    ]
    made["gas"] = None if one.gas is None else gas_document(one.gas)
    return made


def gas_document(use: GasUse) -> dict[str, Any]:
    """Gas as plain numbers."""
    return {
        "fuel": use.fuel,
        "burning_s": use.burning,
        "fuel_L": LITRES * use.fuel_volume,
        "fuel_kg": use.fuel_mass,
        "oxygen_L": LITRES * use.oxygen_volume,
    }


def flame_documents(result: RunResult) -> list[dict[str, Any]]:
    """The flames that were used, with efficiency, radius and where these come from."""
    used = dict.fromkeys(heat.flame for heat in result.case.heats)
    return [_flame(result, name) for name in used]


def _flame(result: RunResult, name: str) -> dict[str, Any]:
    flame = result.case.flames[name]
    nozzle = nozzle_of(flame)
    return {
        "name": name,
        "net_kW": power_kW_of(flame),
        "radius_mm": radius_mm_of(flame),
        "nozzle": None if nozzle is None else _nozzle(nozzle),
    }


def _nozzle(nozzle: Nozzle) -> dict[str, Any]:
    low, high = nozzle.net_range
    return {
        "fuel": nozzle.fuel.name,
        "heating_value_MJ_m3": 1e-6 * nozzle.fuel.heating_value,
        "oxygen_by_fuel": nozzle.fuel.oxygen.value,
        "oxygen_source": nozzle.fuel.oxygen.source,
        "flame_C": nozzle.fuel.flame_C.value,
        "flame_source": nozzle.fuel.flame_C.source,
        "primary_share": nozzle.fuel.primary_share,
        "primary_source": nozzle.fuel.primary.source,
        "gross_kW": 1e-3 * nozzle.gross_power,
        "efficiency": nozzle.share.value,
        "efficiency_source": nozzle.share.source,
        "net_low_kW": 1e-3 * low,
        "net_high_kW": 1e-3 * high,
        "radius_source": nozzle.flame_radius.source,
        "extrapolated": nozzle.extrapolated,
    }


def _heat_words(result: RunResult, one: HeatOutcome) -> str:
    words = f"{one_line(one.name)}: burned {number(one.burned_s, 3)} s"
    if one.gas is not None:
        words += f", {_gas_words(one.gas)}"
    if one.cost is not None:
        words += f", {number(one.cost, 3)} {one_line(result.case.prices.currency)}"
    if one.thickness_mm is not None:
        deep = f"{number(one.thickness_mm, 3)} mm deep"
        if one.depth_mm is not None:
            words += (
                f"; within 25 K of the target to {one.depth_mm:.1f} (at most "
                f"{one.deepest_mm or 0.0:.1f}) of {deep}"
            )
        words += (
            f"; soft (above {one.soft_above_C:.0f} C, half of the cold yield) to "
            f"{one.soft_depth_mm or 0.0:.1f} (at most {one.soft_deepest_mm or 0.0:.1f})"
        )
        words += "" if one.depth_mm is not None else f" of {deep}"
    return words


def _gas_words(use: GasUse) -> str:
    return (
        f"{number(LITRES * use.fuel_volume, 3)} L ({number(use.fuel_mass, 2)} kg) of {use.fuel} "
        f"and {number(LITRES * use.oxygen_volume, 3)} L of oxygen"
    )


def _job(result: RunResult) -> str:
    cost = cost_of(result.heats)
    if cost is None:
        prices = result.case.prices
        fuels = {one.gas.fuel for one in result.heats if one.gas is not None}
        missing = [gas for gas in ("oxygen", *sorted(fuels)) if prices.of(gas) is None]
        some = 0 < len(missing) <= len(fuels)
        return f"; no cost: the price of {' and '.join(missing)} is missing" if some else ""
    return f"; gas for {number(cost, 3)} {one_line(result.case.prices.currency)}"
