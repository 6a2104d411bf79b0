"""Torches at hand, from words or from a case's flames."""

from collections.abc import Mapping, Sequence

from flamefe.basics.errors import OutOfRange
from flamefe.planning.choosing import Torch
from flamefe.study.case_flames import Flame, flame_of, nozzle_of
from flamefe.study.faults import CaseError

SIZES_L_H = (300, 500, 800, 1250, 1800, 2600)
"""Nozzles that are tried where none is named: usual sizes for acetylene (from memory)."""


def torches_of(flames: Mapping[str, Flame]) -> tuple[Torch, ...]:
    """Torches from a case's flames.

    Raises:
        CaseError: a flame that can't be.

    Example:
        >>> [torch.name for torch in torches_of({"small": Flame(power_kW=3, radius_mm=15)})]
        ['small']
    """
    return tuple(
        Torch(name=name, flame=flame_of(flame), nozzle=nozzle_of(flame))
        for name, flame in flames.items()
    )


def torches_from(words: Sequence[str]) -> tuple[Torch, ...]:
    """Torches from words like "acetylene:1000" (fuel and litres an hour).

    Args:
        words: one a torch; none: usual sizes for acetylene.

    Raises:
        OutOfRange: words of another form, an unknown fuel, or a consumption out of range.

    Example:
        >>> [torch.name for torch in torches_from(["propane:600"])]
        ['propane 600 L/h']
    """
    asked = list(words) or [f"acetylene:{size}" for size in SIZES_L_H]
    flames: dict[str, Flame] = {}
    faults: list[str] = []
    for word in asked:
        gas, _, consumption = word.rpartition(":")
        try:
            litres = float(consumption)
            flames[f"{gas} {litres:g} L/h"] = Flame(fuel=gas, consumption_L_h=litres)  # type: ignore[arg-type]
        except (ValueError, CaseError) as error:
            reason = f" ({error.faults[0].given})" if isinstance(error, CaseError) else ""
            faults.append(f"{word!r}{reason}")
    if faults:
        raise OutOfRange(
            f"A torch is given as {' and as '.join(faults)}; allowed: fuel:litres an hour, with "
            "acetylene, propane, propylene, natural gas or hydrogen and 10 to 100000, for "
            "instance acetylene:1000."
        )
    return torches_of(flames)
