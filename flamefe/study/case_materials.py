"""Which materials a case can name, and how hot they may be made."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from flamefe.study.case_draft import Read
from flamefe.study.case_part import fields_of
from flamefe.study.case_workpiece import MaterialTables
from flamefe.study.faults import Fault, choose, shown

READY = ("S235", "S355", "S460", "S690QL", "1.4301", "6082-T6", "5083-O")
"""Names of the ready materials."""
STRUCTURAL = ("S235", "S355", "S460")
"""Ready structural steels, for which both stresses at temperature are known."""


@dataclass(frozen=True, kw_only=True)
class Heatable:
    """How hot a material may be made.

    Args:
        heating_limit_C: it should not exceed, C; None: not known.
        valid_to_C: its tables hold up to, C; None: not known.
    """

    heating_limit_C: float | None
    valid_to_C: float | None


def heatable(name: str | None, materials: Mapping[str, Read] | None) -> Heatable:
    """How hot the material of that name may be made, as far as it is known.

    Args:
        name: a ready material or one of the case's own.
        materials: what could be read of the case's own.
    """
    own = (materials or {}).get(name or "")
    if own is None:
        return Heatable(heating_limit_C=None, valid_to_C=1200.0 if name in READY else None)
    base = heatable(own["base"], None) if own.get("base") else heatable(None, None)
    return Heatable(
        heating_limit_C=own.get("heating_limit_C") or base.heating_limit_C,
        valid_to_C=own.get("valid_to_C") or base.valid_to_C or 1200.0,
    )


def material_faults(draft: Mapping[str, Any]) -> Iterator[Fault]:
    """Faults of the materials: unknown, half given, or at odds with themselves."""
    materials: Mapping[str, Read] | None = draft["materials"]
    wanted = (draft["workpiece"] or {}).get("material")
    if wanted is not None and materials is not None and wanted not in {*READY, *materials}:
        allowed, advice = choose(wanted, [*READY, *materials])
        yield Fault(
            path=("workpiece", "material"), given=shown(wanted), allowed=allowed,
            advice=f"{advice} Or define it as [materials.NAME].",
        )  # fmt: skip
    for name, own in (materials or {}).items():
        yield from _own_faults(name, own)


def _own_faults(name: str, own: Read) -> Iterator[Fault]:
    def fault(key: str, given: str, allowed: str, advice: str) -> Fault:
        path = ("materials", name, *key.split(".")) if key else ("materials", name)
        return Fault(path=path, given=given, allowed=allowed, advice=advice)

    if name in READY:
        yield fault("", f"the name {shown(name)} of a ready material", "a name of its own",
                    f'Rename it and start it with base = "{name}".')  # fmt: skip
    base = own.get("base")
    if base is not None and base not in READY:
        allowed, advice = choose(base, READY)
        yield fault("base", shown(base), allowed, advice)
    tables = _tables(own)
    if "base" in own and base is None:
        yield from _whole_faults(fault, own, tables)
    yield from _hardening_faults(fault, own)
    yield from _yield_faults(fault, own, base, tables)
    strain = tables.get("thermal_strain")
    if strain and abs(at_20 := _between(strain, 20.0)) > 1e-5:
        yield fault("tables.thermal_strain", f"{at_20:g} at 20 C", "0 at 20 C",
                    "Take the strain at 20 C off every value.")  # fmt: skip
    limit = own.get("heating_limit_C")
    valid = heatable(name, {name: own}).valid_to_C
    if limit is not None and valid is not None and limit > valid:
        yield fault(
            "heating_limit_C", f"{limit:g} C", f"at most {valid:g} C, where its tables end",
            "Lower the limit, or give tables that reach further and valid_to_C.",
        )  # fmt: skip


def _tables(own: Read) -> Mapping[str, Any]:
    tables = own.get("tables")
    if isinstance(tables, MaterialTables):
        return {key: getattr(tables, key) for key in fields_of(MaterialTables)}
    return tables or {}


def _whole_faults(fault: Any, own: Read, tables: Mapping[str, Any]) -> Iterator[Fault]:
    for key in ("density_kg_m3", "heating_limit_C"):
        if key in own and own[key] is None:
            yield fault(key, "nothing, and no base", "a number",
                        f"Add {key}, or start from a ready material with base.")  # fmt: skip
    for key in fields_of(MaterialTables):
        if key in tables and tables[key] is None:
            yield fault(f"tables.{key}", "nothing, and no base", "pairs of temperature and value",
                        f"Add {key}, or start from a ready material with base.")  # fmt: skip


def _hardening_faults(fault: Any, own: Read) -> Iterator[Fault]:
    if "hardening" not in own or "kinematic_share" not in own:
        return
    mixed, share = own["hardening"] == "mixed", own["kinematic_share"]
    if mixed and share is None:
        yield fault("kinematic_share", "nothing", "a number from 0 to 1 with mixed hardening",
                    "Add the kinematic share of the hardening.")  # fmt: skip
    if not mixed and share is not None:
        yield fault("kinematic_share", f"{share:g}", 'a share only with hardening = "mixed"',
                    'Take it out, or set hardening = "mixed".')  # fmt: skip


def _yield_faults(fault: Any, own: Read, base: str | None, tables: Mapping[str, Any]) -> Iterator[Fault]:
    curve = tables.get("yield_MPa") is not None
    if own.get("yield_as") == "2 % stress" and base is not None and base not in STRUCTURAL:
        yield fault("yield_as", '"2 % stress"', f"only with the bases {', '.join(STRUCTURAL)}",
                    'Use "0.2 % proof strength" or another base.')  # fmt: skip
    for key in ("yield_as", "yield_strength_MPa"):
        if own.get(key) is None:
            continue
        if curve:
            yield fault(key, f"{key} beside tables.yield_MPa", "one of the two",
                        f"Take out {key} or the table: the table is the whole curve.")  # fmt: skip
        elif "base" in own and base is None:
            yield fault(key, f"{key} without a base", f"{key} with a base, whose curve it changes",
                        "Add a base, or give the curve as tables.yield_MPa.")  # fmt: skip


def _between(pairs: tuple[tuple[float, float], ...], at: float) -> float:
    if at <= pairs[0][0]:
        return pairs[0][1]
    for (x0, y0), (x1, y1) in pairwise(pairs):
        if at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return pairs[-1][1]
