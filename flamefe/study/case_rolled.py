"""Rolled beams by their designation (EN 10365 and others), through a package of profiles.

Dimensions come from ``structuralcodes`` (fib-international, Apache-2.0), which is optional:
``pip install flamefe[sections]``.
"""

import importlib
import re
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Annotated, Any, Literal

from pydantic import Field

from flamefe.study.case_beams import LENGTH, MATERIAL, Angle, Channel, IBeam, Length
from flamefe.study.case_part import Name, Words, part
from flamefe.study.faults import CaseError, Fault

PACKAGE = "structuralcodes.geometry.profiles"
I_BEAMS = ("IPE", "HE", "HD", "HP", "IPN", "UB", "UBP", "UC", "W")
CHANNELS = ("UPE", "UPN", "U")
ANGLES = ("L", "LI")
TAPERED = ("IPN", "UPN", "U")
"""Series whose flanges taper; they are taken with their mean thickness."""


@part
class Rolled:
    """A rolled beam by its designation; in a case file it stands for the beam of its dimensions.

    Root fillets are left out, which takes some 2 to 6 % of the area, and tapered flanges are
    taken as parallel.

    Args:
        kind: "rolled".
        designation: as "IPE 200", "HEA 160", "UPE 120", "L 80x80x8"; blanks don't count.
        length_mm: along x, mm, 5 to 30 000.
        material: a ready material or one of the case's own.

    Raises:
        CaseError: a value is missing or out of its range.

    Example:
        >>> Rolled(designation="IPE 200", length_mm=3000, material="S355").length_mm
        3000.0
    """

    kind: Annotated[Literal["rolled"], Field(description="A rolled beam by designation.")] = (
        "rolled"
    )
    designation: Annotated[Words, Field(description='As "IPE 200", "HEA 160" or "L 80x80x8".')]
    length_mm: Annotated[Length, Field(description=LENGTH)]
    material: Annotated[Name, Field(description=MATERIAL)]


_SERIES = re.compile(r"^(?P<series>[A-Z]+)(?P<size>\d+(\.\d+)?)")


def rolled_beam(rolled: Rolled) -> IBeam | Channel | Angle:
    """The beam of the dimensions that a designation stands for, sharp-cornered.

    Args:
        rolled: designation, length and material.

    Returns:
        Beam with the profile's height, width and thicknesses.

    Raises:
        CaseError: the designation isn't known, or the package of profiles is not installed.

    Source: EN 10365:2017 for IPE, HE, HD, HP, UPE and the like, by way of the package.

    Example:
        >>> rolled_beam(Rolled(designation="IPE 200", length_mm=3000,
        ...                    material="S355"))  # doctest: +SKIP
        IBeam(kind='I beam', length_mm=3000.0, height_mm=200.0, width_mm=100.0, ...)
    """
    try:
        profiles = importlib.import_module(PACKAGE)
    except ImportError:
        raise CaseError([_fault(
            rolled.designation, "dimensions, or designations with the extra package",
            'Install it with: pip install "flamefe[sections]"; or give the beam by its dimensions.',
        )]) from None  # fmt: skip
    wanted = _plain(rolled.designation)
    known: dict[str, tuple[str, str]] = {}
    for series in (*I_BEAMS, *CHANNELS, *ANGLES):
        for name in getattr(profiles, series).profiles():
            known[_plain(name)] = series, name
    if wanted not in known:
        near = _nearest(wanted, known)
        advice = f"Did you mean {', '.join(known[one][1] for one in near)}? " if near else ""
        raise CaseError([_fault(
            rolled.designation, f"a profile of the series {', '.join((*I_BEAMS, *CHANNELS))}, L",
            advice + "Or give the beam by its dimensions.",
        )])  # fmt: skip
    series, name = known[wanted]
    sizes: Mapping[str, float] = getattr(profiles, series).parameters[name]
    shared: dict[str, Any] = {"length_mm": rolled.length_mm, "material": rolled.material,
                              "height_mm": sizes["h"], "width_mm": sizes["b"]}  # fmt: skip
    if series in ANGLES:
        return Angle(**shared, thickness_mm=sizes["t"])
    shared |= {"web_thickness_mm": sizes["tw"], "flange_thickness_mm": sizes["tf"]}
    return IBeam(**shared) if series in I_BEAMS else Channel(**shared)


def with_dimensions(values: Mapping[str, Any]) -> Mapping[str, Any]:
    """Values of a case file, a rolled beam in it replaced by one of its dimensions.

    The case's ``about`` says so.

    Args:
        values: of the case file.

    Raises:
        CaseError: the designation can't be used.

    Example:
        >>> with_dimensions({"title": "no beam"})
        {'title': 'no beam'}
    """
    piece = values.get("workpiece")
    if not isinstance(piece, Mapping) or piece.get("kind") != "rolled":
        return values
    try:
        beam = rolled_beam(Rolled(**piece))
    except CaseError as error:
        raise CaseError(
            Fault(path=("workpiece", *fault.path), given=fault.given, allowed=fault.allowed,
                  advice=fault.advice) for fault in error.faults
        ) from None  # fmt: skip
    note = f"{piece['designation']}, taken without its root fillets"
    if _plain(piece["designation"]).startswith(TAPERED):
        note += " and with parallel flanges"
    about = values.get("about", "")
    dimensions = {name: value for name, value in vars(beam).items() if value is not None}
    return {**values, "about": f"{about}\n{note}.".strip(), "workpiece": dimensions}


def _plain(designation: str) -> str:
    return re.sub(r"[\s_-]", "", designation).upper().replace("×", "X")


def _nearest(wanted: str, known: Iterable[str]) -> list[str]:
    """The sizes of its own series next to a designation, or what is spelled like it."""
    parts = _SERIES.match(wanted)
    if parts is not None:
        series, size = parts["series"], float(parts["size"])
        sizes = {one: match for one in known if (match := _SERIES.match(one)) is not None}
        own = [one for one, match in sizes.items() if match["series"] == series]
        if own:
            away = {one: abs(float(sizes[one]["size"]) - size) for one in own}
            return sorted(sorted(own, key=lambda one: (away[one], len(one)))[:3])
    return get_close_matches(wanted, list(known), n=3, cutoff=0.6)


def _fault(given: str, allowed: str, advice: str) -> Fault:
    return Fault(path=("designation",), given=f'"{given}"', allowed=allowed, advice=advice)
