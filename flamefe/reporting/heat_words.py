"""What a heat sheet says in words: torch and gas, temperatures and how to check them, restraint."""

from collections.abc import Iterator, Sequence
from typing import Any

from flamefe.reporting.heat_rows import ranges
from flamefe.reporting.words import number, one_line
from flamefe.study.case import AnyHeat, Case, OwnWeight, cool_to_C
from flamefe.study.case_flames import nozzle_of, power_kW_of, radius_mm_of
from flamefe.study.case_strokes import target_of
from flamefe.study.device_outcomes import DeviceOutcome
from flamefe.study.heat_outcomes import HeatOutcome, gas_of
from flamefe.workpiece.faces import FACE_SIDES
from flamefe.workpiece.material import Material

LITRES = 1e3
HOUR = 3600.0
MOST_PLACES = 12
SMALL_KN = 0.01
MOST_HOLDERS = 8
NEAR_K = 25.0
"""Between target and limit, K: closer than this a crayon hardly tells them apart."""
GLOWS_C = 500.0
"""Steel begins to glow at about this temperature (from memory)."""
DARK_RED_C = 600.0
"""Steel is dark red from about this temperature on (from memory)."""


def limit_of(case: Case, material: Material) -> tuple[float, str]:
    """Temperature never to be exceeded, C, and where it comes from."""
    asked = case.limits.temperature_C
    if asked is None:
        return material.heating_limit_C, material.heating_limit_source
    own = material.heating_limit_C
    if asked > own:
        return asked, f"set in the case, ABOVE the material's own {own:g} C: have it approved"
    return asked, "set in the case"


def torch_lines(
    case: Case, heats: Sequence[AnyHeat], outcomes: Sequence[HeatOutcome] = ()
) -> tuple[str, ...]:
    """Torch, nozzle and gas of each flame that is used.

    Args:
        case: the case.
        heats: of the cycle.
        outcomes: of them, after a run.
    """
    said = []
    for name in dict.fromkeys(heat.flame for heat in heats):
        flame = case.flames[name]
        head = "" if flame.head == "single" else f"{flame.head} head, "
        two = any(heat.flame == name and heat.both_faces for heat in heats)
        pair = "TWO alike, one a side; each: " if two else ""
        words = f'"{one_line(name, 32)}": {pair}{head}'
        nozzle, power = nozzle_of(flame), power_kW_of(flame)
        if nozzle is not None:
            use = nozzle.gas(HOUR)
            words += (
                f"{use.fuel} {number(LITRES * use.fuel_volume, 4)} L/h, oxygen "
                f"{number(LITRES * use.oxygen_volume, 4)} L/h, neutral flame; "
                f"{number(power, 2)} kW into the part"
            )
        elif power is not None:
            words += (
                f"{power:g} kW into the part; set: fuel ______ L/h, oxygen ______ L/h, "
                "nozzle ______"
            )
        else:
            words += f"hot gas of {flame.gas_C:g} C, {flame.film_W_m2K:g} W/(m2 K)"
        said.append(f"{words}; flame radius {number(radius_mm_of(flame), 3)} mm")
    uses = gas_of(outcomes)
    for use in uses:
        said.append(
            f"Predicted for this cycle: {number(LITRES * use.fuel_volume, 3)} L of {use.fuel}, "
            f"{number(LITRES * use.oxygen_volume, 3)} L of oxygen"
        )
    return tuple(said)


def temperature_lines(
    case: Case,
    material: Material,
    heats: Sequence[AnyHeat],
    peak_C: float | None = None,
    thermometer: str = "",
) -> tuple[tuple[str, str], ...]:
    """Target, limit, how to check them and what to wait for, each with its heading.

    How to check is common practice, no source; colours of glowing steel are from memory.

    Args:
        case, material: what is heated.
        heats: of the cycle.
        peak_C: predicted highest temperature; None: not computed.
        thermometer: what it may show some seconds later, by the run; empty: not computed.
    """
    limit, source = limit_of(case, material)
    targets = sorted({t for t in map(target_of, heats) if t is not None})
    predicted = "not computed" if peak_C is None else f"{peak_C:.0f} C at the hottest place"
    said = []
    if targets:
        told = " and ".join(f"{t:g} C" for t in targets[:4])
        said.append(("Target", f"{told} at the surface under the torch"))
    else:
        said.append(("Target", "none set, the torch goes by time"))
    said.append(("Predicted", predicted))
    own = source == material.heating_limit_source  # its source stands among the cautions
    said.append(("NEVER EXCEED", f"{limit:g} C" + ("" if own else f" ({source})")))
    said.append(("Check", _check(material, targets, limit)))
    if thermometer:
        said.append(("Thermometer", thermometer))
    waits = sorted({cool_to_C(case, heat) for heat in heats[:-1]})
    if waits:
        until = f"is below {waits[0]:g} C (see heats)"
        if len(waits) > 1:
            until = f"is as cold as told beside each heat ({waits[0]:g} or {waits[-1]:g} C)"
            if len(waits) > 2:
                until = f"is as cold as told beside each heat ({waits[0]:g} to {waits[-1]:g} C)"
        said.append(("Wait", f"before each next heat until the hottest place {until}"))
    return tuple(said)


def _check(material: Material, targets: Sequence[float], limit: float) -> str:
    """How a shop checks the temperature: common practice, no source."""
    words = "temperature crayons just behind the flame: "
    if targets:
        words += f"one for {targets[-1]:g} C must melt, one for {limit:g} C must not; "
        if 0 <= limit - targets[-1] < NEAR_K:
            words += f"they are only {limit - targets[-1]:g} K apart, take care; "
    else:
        words += f"one for {limit:g} C must not melt; "
    words += "a contact thermometer at once only, in seconds the surface falls by 100 K"
    if material.family == "aluminium":
        return words + ". It does NOT glow before it melts"
    if limit >= GLOWS_C and "steel" in material.family:
        glow = "dull red, just seen, 500 to 550 C, "
        brighter = "dark red 600 to 650 C, cherry red 750 C"
        glow += brighter if limit >= DARK_RED_C else "any brighter is too hot"
        return words + f". Colour in the shade, roughly: {glow}"
    return words + ". At these temperatures steel does not glow" * ("steel" in material.family)


def alerts_before(case: Case, material: Material, heats: Sequence[AnyHeat]) -> tuple[str, ...]:
    """What is wrong with a cycle before anything is computed.

    Example:
        >>> from flamefe.study.case import Flame, Plate, SpotHeat
        >>> from flamefe.workpiece.standard import material
        >>> case = Case(title="hot", flames={"t": Flame(power_kW=3, radius_mm=15)},
        ...     heats=[SpotHeat(flame="t", face="top", at_mm=[60, 50], target_C=800)],
        ...     workpiece=Plate(length_mm=120, width_mm=100, thickness_mm=6, material="S355"))
        >>> alerts_before(case, material("S355"), case.heats)
        ('Target of 800 C is above the limit of 650 C (heat 1)',)
    """
    limit, _ = limit_of(case, material)
    hot: dict[float, list[int]] = {}
    for heat in heats:
        target = target_of(heat)
        if target is not None and target > limit:
            hot.setdefault(target, []).append(case.heats.index(heat) + 1)
    return tuple(
        f"Target of {target:g} C is above the limit of {limit:g} C "
        f"(heat{'s' * (len(numbers) > 1)} {ranges(numbers)})"
        for target, numbers in hot.items()
    )


RELEASES = {
    "never": "stays on, also while measuring",
    "hot": "RELEASE right after the last heat, still hot",
    "after cooling": "RELEASE when all of it is cold, before measuring",
}
"""When a support is released, for the shop."""


def holding_lines(case: Case, outcomes: Sequence[DeviceOutcome] = ()) -> tuple[str, ...]:
    """Supports and loads: what, where, how strong, when fitted and when released.

    Args:
        case: the case.
        outcomes: what each support had to carry, after a run.

    Example:
        >>> from flamefe.study.case import Clamp, Plate
        >>> case = Case(title="held", supports=[Clamp(face="start", released="after cooling")],
        ...     workpiece=Plate(length_mm=120, width_mm=100, thickness_mm=6, material="S355"))
        >>> print(holding_lines(case)[0])
        S1 clamp: all over face "start"; fit before lighting; RELEASE when all of it is \
cold, before measuring
    """
    said = list(_supports(case, outcomes))
    said += [f"L{i} {_load(one)}" for i, one in enumerate(case.loads, start=1)]
    if not case.supports:
        said.insert(0, "Not held: lay it so that it can move freely every way, and can't fall.")
    if len(said) > MOST_HOLDERS:
        left = len(said) - MOST_HOLDERS + 1
        said = [*said[: MOST_HOLDERS - 1], f"... and {left} more, see the case file"]
    return tuple(said)


def _supports(case: Case, outcomes: Sequence[DeviceOutcome]) -> Iterator[str]:
    groups: dict[tuple[str, str, str], list[tuple[int, Any]]] = {}
    known = {one.name: one for one in outcomes}
    for i, one in enumerate(case.supports, start=1):
        when = "right after the last heat, hot" if _fitted_hot(one) else "before lighting"
        words = f"fit {when}; {RELEASES[one.released]}"
        found = known.get(f"support {i} ({one.kind})")
        if found is not None:
            much = f"up to {number(found.largest_kN, 2)} kN"
            words += f"; predicted {much if found.largest_kN >= SMALL_KN else 'hardly any force'}"
            if found.overloaded:
                words += " - OVERLOADED, DO NOT USE"
        groups.setdefault((_face(one), _sizes(one), words), []).append((i, one))
    for (face, sizes, words), members in groups.items():
        places = [place for _, one in members for place in _places(one)]
        parts = [part for part in (face, _told(places), sizes) if part]
        kind = members[0][1].kind
        what = f"{kind}: {', '.join(parts)}" if parts else kind
        yield f"S{ranges([i for i, _ in members])} {what}; {words}"


def _fitted_hot(one: Any) -> bool:
    return getattr(one, "fitted", "before heating") == "hot"


def _face(one: Any) -> str:
    face = getattr(one, "face", None)
    if face is None:
        return ""
    words = f'face "{one_line(face, 32)}"' if face in FACE_SIDES else one_line(face, 32)
    return words if _places(one) else f"all over {words}"


def _places(one: Any) -> list[Sequence[float]]:
    places: Any = getattr(one, "at_mm", None)
    if not places:
        return []
    return [places] if isinstance(places[0], int | float) else list(places)


def _told(places: Sequence[Sequence[float]]) -> str:
    """Places in a line."""
    if not places:
        return ""
    told = ", ".join(_place(place) for place in places[:MOST_PLACES])
    return f"at {told}" + (f" ... ({len(places)} in all)" if len(places) > MOST_PLACES else "")


def _sizes(one: Any) -> str:
    """Direction and sizes of a support or load."""
    parts = []
    against = getattr(one, "against_mm", None)
    if against:
        parts.append(f"against {_place(against)}")
    way = getattr(one, "pushes", None) or getattr(one, "direction", None)
    if isinstance(way, str):
        parts.append(f"pushes along {way}")
    held = getattr(one, "directions", None)
    if held:
        parts.append(f"held along {', '.join(held)}")
    for name, words in (
        ("force_kN", "{} kN"), ("suction_kPa", "{} kPa suction"), ("mass_kg", "{} kg"),
        ("stiffness_kN_mm", "{} kN/mm"), ("pressure_kPa", "{} kPa"),
        ("capacity_kN", "may carry {} kN"),
    ):  # fmt: skip
        value = getattr(one, name, None)
        if value is not None:
            parts.append(words.format(f"{value:g}"))
    force = getattr(one, "force_N", None)
    if force:
        parts.append(f"{_place(force)} N")
    gap = getattr(one, "gap_mm", 0.0)
    if gap:
        parts.append(f"gap {gap:g} mm" if gap > 0 else f"screwed in {-gap:g} mm")
    return ", ".join(parts)


def _place(place: Sequence[float]) -> str:
    return f"({', '.join(f'{value:.5g}' for value in place)})"


def _load(one: Any) -> str:
    """A load, and until when it acts."""
    if isinstance(one, OwnWeight):
        words = f"own weight acts along {one.direction}: lay it that way down"
        return words if one.released == "never" else f"{words}, but not while measuring"
    parts = [part for part in (_face(one), _told(_places(one)), _sizes(one)) if part]
    return f"{one.kind}: {', '.join(parts)}; {LOADED[one.released]}"


LOADED = {
    "never": "stays on, also while measuring",
    "hot": "take off right after the last heat, still hot",
    "after cooling": "take off when all of it is cold, before measuring",
}
"""When a load is taken off, for the shop."""
