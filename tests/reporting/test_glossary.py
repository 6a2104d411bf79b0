"""Every kind, measure and key that a user meets is explained."""

from dataclasses import fields
from typing import get_args

import numpy as np
import pytest

from flamefe.outcome.bay_bow import bay_bows
from flamefe.outcome.beam_distortion import beam_measures
from flamefe.outcome.dishing import dishing_measures
from flamefe.outcome.distortion import measure_distortion
from flamefe.outcome.flange_tilt import flange_tilts
from flamefe.reporting.comparison import LIKELY
from flamefe.reporting.glossary import (
    UnknownWord,
    explained,
    glossary,
    glossary_text,
    keys_explained,
)
from flamefe.study.case import Case, case_schema
from flamefe.study.case_holding import Load, Support
from flamefe.study.case_strokes import HEATS
from flamefe.workpiece.mesh import box_mesh


def kinds_in(annotated):
    """Kinds of a union of parts that are told apart by their kind."""
    return [one.kind for one in get_args(get_args(annotated)[0])]


def test_every_kind_of_heat_support_and_load_is_explained():
    assert set(glossary()["heats"]) == {one.kind for one in HEATS}
    assert set(glossary()["supports"]) == set(kinds_in(Support))
    assert set(glossary()["loads"]) == set(kinds_in(Load))


def test_every_kind_of_workpiece_is_explained():
    kinds = case_schema()["properties"]["workpiece"]["discriminator"]["mapping"]
    assert set(glossary()["workpieces"]) == set(kinds)


def test_every_table_of_a_case_is_explained():
    assert list(glossary()["case"]) == [field.name for field in fields(Case)]


@pytest.mark.parametrize("word", ["crayon", "buckle", "hog", "sag", "apex"])
def test_what_a_newcomer_asks_is_explained(word):
    assert explained(word)[0].startswith("Words of the trade")


def test_tolerance_is_that_of_a_shape_first_and_of_forces_too():
    shape, forces = explained("tolerance")
    assert "ISO 13920" in shape
    assert "Unbalanced force" in forces


def test_every_key_of_a_case_is_explained():
    schema = case_schema()
    keys = {key for made in schema["$defs"].values() for key in made.get("properties", {})}
    assert keys - {"kind"} <= set(keys_explained())
    assert all(explained(key) for key in keys - {"kind"})


def test_every_measure_is_explained():
    mesh = box_mesh(np.linspace(0, 0.4, 9), np.linspace(0, 0.2, 5), np.linspace(0, 0.012, 3))
    points = mesh.p.T
    bent = np.zeros_like(points)
    bent[:, 2] = 0.01 * (points[:, 1] - 0.1) ** 2 + 0.01 * points[:, 0] ** 2
    names = set(LIKELY)
    for kind in ("plate", "bar", "mesh file"):
        heated = None if kind == "mesh file" else (0.08, 0.12)
        names |= {m.name for m in measure_distortion(points, bent, kind=kind, heated=heated)}
    areas = np.ones(len(points))
    names |= {m.name for m in beam_measures(points, bent, areas=areas, heated_part=(0.15, 0.25))}
    names |= {m.name for m in dishing_measures(points, bent, 2 * bent)}
    lower = np.flatnonzero(points[:, 2] < 0.001)
    names |= {m.name for m in bay_bows(points, bent, face=lower, lines=(0.05, 0.15))}
    upper = np.flatnonzero(points[:, 2] > 0.011)
    names |= {m.name for m in flange_tilts(points, bent, faces={"top flange": upper})}
    assert len(names) > 25
    for name in names:
        assert explained(name)[0].startswith("Measures: "), name


def test_an_unknown_word_names_the_nearest():
    with pytest.raises(UnknownWord, match="wedge"):
        explained("wedgde")
    with pytest.raises(UnknownWord, match="lists all"):
        explained("qqqqqq")


def test_all_words_are_listed_once():
    text = glossary_text()
    for terms in glossary().values():
        for term, said in terms.items():
            assert f"  {term}" in text
            assert said in text
            assert not said.endswith(".")


@pytest.mark.parametrize(
    ("word", "kind"), [("vee", "wedge"), ("v heat", "wedge"), ("STRIP", "band")]
)
def test_other_words_of_the_trade_are_found(word, kind):
    found = explained(word)
    assert found[-1] == f"Kinds of heats: {kind}: {glossary()['heats'][kind]}"


def test_every_other_word_leads_to_one_that_is_explained():
    own = {term for name, terms in glossary().items() if name != "synonyms" for term in terms}
    assert set(glossary()["synonyms"].values()) <= own
    assert not own & set(glossary()["synonyms"])


def test_several_words_are_explained_in_turn():
    found = explained("camber upset")
    assert [line.partition(": ")[0] for line in found] == ["Measures", "Words of the trade"]
    assert explained("vacuum plate")[0].startswith("Kinds of supports")
