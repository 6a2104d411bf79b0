"""Which materials a case can name, how hot they may be made, and what own ones must hold."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from flamefe.basics.errors import MaterialError
from flamefe.study.case_draft import Read
from flamefe.study.case_part import fields_of
from flamefe.study.case_workpiece import MaterialTables
from flamefe.study.faults import Fault, choose, shown
from flamefe.workpiece.own import own_table
from flamefe.workpiece.standard import material, material_names

Say = Callable[[str, str, str, str], Fault]


@dataclass(frozen=True, kw_only=True)
class Heatable:
    """How hot a material may be made.

    Args:
        heating_limit_C: it should not exceed, C; None: not known.
        valid_to_C: its tables hold up to, C; None: not known.
    """

    heating_limit_C: float | None
    valid_to_C: float | None


@cache
def _ready(name: str | None) -> Heatable:
    if name not in material_names():
        return Heatable(heating_limit_C=None, valid_to_C=None)
    made = material(name)
    return Heatable(heating_limit_C=made.heating_limit_C, valid_to_C=made.valid_to_C)


def heatable(name: str | None, materials: Mapping[str, Read] | None) -> Heatable:
    """How hot the material of that name may be made, as far as it is known.

    Tables of more than one pair end an own material's range where they end.

    Args:
        name: a ready material or one of the case's own.
        materials: what could be read of the case's own.
    """
    own = (materials or {}).get(name or "")
    if own is None:
        return _ready(name)
    base = _ready(own.get("base"))
    ends = [pairs[-1][0] for pairs in tables_of(own).values() if pairs and len(pairs) > 1]
    return Heatable(
        heating_limit_C=own.get("heating_limit_C") or base.heating_limit_C,
        valid_to_C=min([base.valid_to_C or 1200.0, *ends]),
    )


def family_of(name: str | None, materials: Mapping[str, Read] | None) -> str:
    """Kind of the material of that name; "other" where it is not known.

    Args:
        name: a ready material or one of the case's own.
        materials: what could be read of the case's own.
    """
    own = (materials or {}).get(name or "")
    base = name if own is None else own.get("base")
    return _family(base) if base in material_names() else "other"


@cache
def _family(name: str) -> str:
    return material(name).family


def tables_of(own: Read) -> Mapping[str, Any]:
    """Tables of an own material that could be read, by name."""
    tables = own.get("tables")
    if isinstance(tables, MaterialTables):
        return {key: getattr(tables, key) for key in fields_of(MaterialTables)}
    return tables or {}


def material_faults(draft: Mapping[str, Any]) -> Iterator[Fault]:
    """Faults of the materials: unknown, half given, or at odds with themselves."""
    materials: Mapping[str, Read] | None = draft["materials"]
    wanted = (draft["workpiece"] or {}).get("material")
    known = [*material_names(), *(materials or {})]
    if wanted is not None and materials is not None and wanted not in known:
        allowed, advice = choose(wanted, known)
        yield Fault(
            path=("workpiece", "material"), given=f"{shown(wanted)}, which is not known",
            allowed=allowed, advice=f"{advice} Or define it as [materials.NAME].",
        )  # fmt: skip
    for name, own in (materials or {}).items():
        yield from _own_faults(name, own)


def _own_faults(name: str, own: Read) -> Iterator[Fault]:
    def say(key: str, given: str, allowed: str, advice: str) -> Fault:
        path = ("materials", name, *(key.split(".") if key else ()))
        return Fault(path=path, given=given, allowed=allowed, advice=advice)

    if name in material_names():
        yield say("", f"the name {shown(name)} of a ready material", "a name of its own",
                  f"Rename it, and start it with base = {shown(name)}.")  # fmt: skip
    base = own.get("base")
    if base is not None and base not in material_names():
        allowed, advice = choose(base, material_names())
        yield say("base", shown(base), allowed, advice)
    if "base" in own and base is None:
        yield from _whole_faults(say, own)
    if own.get("kinematic_share") is not None and own.get("hardening", "mixed") != "mixed":
        yield say("kinematic_share", f"{own['kinematic_share']:g}",
                  'a share only with hardening = "mixed"',
                  'Take it out, or set hardening = "mixed".')  # fmt: skip
    yield from _yield_faults(say, own, base)
    yield from _table_faults(say, own)
    limit, valid = own.get("heating_limit_C"), heatable(name, {name: own}).valid_to_C
    if limit is not None and valid is not None and limit > valid:
        yield say("heating_limit_C", f"{limit:g} C, above {valid:g} C, where its tables end",
                  f"up to {valid:g} C",
                  "Lower the limit, or give tables that reach further.")  # fmt: skip


def _whole_faults(say: Say, own: Read) -> Iterator[Fault]:
    """What a material without a base lacks; its hardening modulus may be left out."""
    tables = tables_of(own)
    numbers = ("density_kg_m3", "heating_limit_C")
    missing: list[str] = [key for key in numbers if key in own and own[key] is None]
    missing += [
        f"tables.{key}"
        for key in fields_of(MaterialTables)
        if key in tables and tables[key] is None and key != "hardening_modulus_GPa"
    ]
    for key in missing:
        wanted = "pairs of temperature and value" if key.startswith("tables.") else "a number"
        yield say(key, "nothing, and no base", wanted,
                  f"Add {key}, or start from a ready material with base.")  # fmt: skip


def _yield_faults(say: Say, own: Read, base: str | None) -> Iterator[Fault]:
    curve = tables_of(own).get("yield_MPa") is not None
    two_percent = own.get("yield_as") == "2 % stress"
    if two_percent and base in material_names() and not _has_2_percent(base):
        yield say("yield_as", '"2 % stress"', "it only with a base of structural steel",
                  'Use "0.2 % proof strength", or another base.')  # fmt: skip
    for key in ("yield_as", "yield_strength_MPa"):
        if own.get(key) is None:
            continue
        if curve:
            yield say(key, f"{key} beside tables.yield_MPa", "one of the two",
                      f"Take out {key} or the table: the table is the whole curve.")  # fmt: skip
        elif "base" in own and base is None:
            yield say(key, f"{key} without a base", f"{key} with a base, whose curve it changes",
                      "Add a base, or give the curve as tables.yield_MPa.")  # fmt: skip


def _has_2_percent(base: str | None) -> bool:
    try:
        material(base or "", yield_as="2 % stress")
    except MaterialError:
        return False
    return True


def _table_faults(say: Say, own: Read) -> Iterator[Fault]:
    """Tables with numbers that are not plausible in the unit of their name."""
    for key, pairs in tables_of(own).items():
        if pairs is None:
            continue
        try:
            own_table(key, pairs)
        except MaterialError as error:
            given, _, advice = str(error).removeprefix(f"Table {key}: ").partition(". ")
            yield say(f"tables.{key}", given.removesuffix("."),
                      "numbers that a metal has in the unit of the name",
                      advice or "Check the unit and the numbers.")  # fmt: skip
