"""Rolled beams by designation, with the dimensions that a package of profiles knows."""

import importlib
import json
import math
from typing import Any

import jsonschema
import pytest

from flamefe.study.beam_sections import section_of, values_of
from flamefe.study.case import Angle, CaseError, Channel, IBeam, case_schema
from flamefe.study.case_rolled import Rolled, rolled_beam
from flamefe.study.casefile import case_from_text, dump_case
from flamefe.workpiece.section_properties import section_properties

TEXT = """\
title = "A rail of a conveyor frame"
about = "Why: a try."
loads = [{kind = "own weight"}]
[workpiece]
kind = "rolled"
designation = "DESIGNATION"
length_mm = 2000
material = "S355"
"""


def read(designation: str) -> Any:
    return case_from_text(TEXT.replace("DESIGNATION", designation), "rail.toml")


@pytest.fixture
def profiles() -> Any:
    return pytest.importorskip(
        "structuralcodes.geometry.profiles", reason="the extra 'sections' is not installed"
    )


def test_a_designation_stands_for_its_dimensions(profiles: Any) -> None:
    """EN 10365: IPE 200 is 200 x 100 x 5.6 x 8.5 mm, HEA 160 152 x 160 x 6 x 9 (from memory)."""
    case = read("ipe 200")
    assert case.workpiece == IBeam(
        length_mm=2000, height_mm=200, width_mm=100, web_thickness_mm=5.6,
        flange_thickness_mm=8.5, material="S355",
    )  # fmt: skip
    assert case.about == "Why: a try.\nipe 200, taken without its root fillets."
    assert case_from_text(dump_case(case)) == case
    wide = read("HEA-160").workpiece
    assert (wide.height_mm, wide.width_mm) == (152, 160)
    assert isinstance(read("UPE 120").workpiece, Channel)
    leg = read("L 120x80x8").workpiece
    assert isinstance(leg, Angle)
    assert (leg.height_mm, leg.width_mm, leg.thickness_mm) == (120, 80, 8)
    assert "parallel flanges" in read("UPN 200").about


@pytest.mark.parametrize("name", ["IPE 200", "IPE 400", "HEB 200", "HEA 300", "UPE 200"])
def test_meshed_area_and_moment_are_the_packages_but_for_the_root_fillets(
    profiles: Any, name: str
) -> None:
    """The package's outline has the fillets: (4 - pi) r2 in all of an I, half of it of a channel.

    About y they sit at the flanges; their moment is taken at their centroid.
    """
    beam = rolled_beam(Rolled(designation=name, length_mm=1000, material="S355"))
    found = section_properties(section_of(values_of(beam), size=0.01))
    series = {"IP": "IPE", "HE": "HE", "UP": "UPE"}[name[:2]]
    theirs = getattr(profiles, series)(name.replace(" ", ""))
    radius, corners = theirs.r, 2 if series == "UPE" else 4
    area = corners * (1 - math.pi / 4) * radius**2
    away = radius * (10 - 3 * math.pi) / (12 - 3 * math.pi)
    arm = theirs.h / 2 - theirs.tf - away
    assert 1e6 * found.area + area == pytest.approx(theirs.A, rel=0.003)
    assert 1e12 * found.second_moment_y + area * arm**2 == pytest.approx(theirs.Iy, rel=0.005)
    assert 1e6 * found.area < 0.98 * theirs.A, "without them it is short: the check can fail"


def test_unknown_ones_are_told_with_what_is_near(profiles: Any) -> None:
    with pytest.raises(CaseError) as caught:
        read("IPE 205")
    assert "IPE200" in str(caught.value), "the next sizes of its own series"
    assert "IPE220" in str(caught.value)
    assert "rail.toml, line 6" in str(caught.value)


def test_without_the_package_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> Any:
        raise ImportError(name)

    monkeypatch.setattr(importlib, "import_module", missing)
    with pytest.raises(CaseError, match=r"pip install .*flamefe\[sections\]"):
        read("IPE 200")


def test_the_schema_knows_rolled_beams() -> None:
    schema = json.loads(json.dumps(case_schema()))
    piece = {"kind": "rolled", "designation": "IPE 200", "length_mm": 2000, "material": "S355"}
    case = {"title": "a rail", "workpiece": piece}
    jsonschema.validate(case, schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**case, "workpiece": {**piece, "height_mm": 200}}, schema)
