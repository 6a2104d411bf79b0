"""The words of the trade, explained; they stand in ``glossary.toml``, a line each."""

import difflib
import tomllib
from functools import cache
from importlib.resources import files

from flamefe.basics.errors import FlamefeError
from flamefe.study.case import case_schema

HEADINGS = {
    "trade": "Words of the trade (common practice, no source)",
    "heats": "Kinds of heats",
    "supports": "Kinds of supports",
    "loads": "Kinds of loads",
    "workpieces": "Kinds of workpieces",
    "measures": "Measures",
    "case": "Tables of a case file",
    "synonyms": "Other words for the same",
}


class UnknownWord(FlamefeError):
    """A word that the glossary does not hold."""


@cache
def glossary() -> dict[str, dict[str, str]]:
    """All words: by section, then by word.

    Example:
        >>> glossary()["trade"]["soft"]
        'so hot that the yield strength has fallen to half of the cold one'
    """
    text = (files("flamefe") / "reporting" / "glossary.toml").read_text("utf-8")
    read: dict[str, dict[str, str]] = tomllib.loads(text)
    return read


@cache
def keys_explained() -> dict[str, tuple[str, ...]]:
    """Keys of a case file and what each table says of them, from the schema.

    Example:
        >>> keys_explained()["power_kW"][0]
        'Heat that the part takes up, kW; or give a nozzle, or hot gas.'
    """
    found: dict[str, dict[str, None]] = {}
    schema = case_schema()
    for made in (schema, *schema["$defs"].values()):
        for key, value in made.get("properties", {}).items():
            said = value.get("description")
            if said and key != "kind":
                found.setdefault(key, {})[said] = None
    return {key: tuple(said) for key, said in found.items()}


def explained(word: str) -> tuple[str, ...]:
    """What a word means: a word of the trade, a kind, a measure or a key of a case file.

    Another word for the same is followed by what it means. A measure is also found by the longest
    word that stands in its name, and several words that are known each are explained in turn.

    Args:
        word: as it stands in a case or a result; capitals don't count.

    Raises:
        UnknownWord: it is not known; the nearest are named.

    Example:
        >>> explained("Wedge")[0][:33]
        'Kinds of heats: wedge: a heat lik'
        >>> [line[:31] for line in explained("vee")]
        ['Other words for the same: vee: ', 'Kinds of heats: wedge: a heat l']
        >>> explained("mean angular change in mrad")[0][:31]
        'Measures: angular change: angle'
    """
    asked = " ".join(word.split()).casefold()
    found = _known(asked)
    alone = [_known(one) for one in asked.split()]
    if not found and all(alone):
        found = [line for lines in alone for line in lines]
    if not found:
        inside = [term for term in glossary()["measures"] if term.casefold() in asked]
        if inside:
            term = max(inside, key=len)
            found = [f"Measures: {term}: {glossary()['measures'][term]}"]
    if not found:
        known = [term for terms in glossary().values() for term in terms]
        near = difflib.get_close_matches(word, [*known, *keys_explained()], n=3, cutoff=0.5)
        guess = f" Near to it: {', '.join(near)}." if near else " flamefe glossary lists all."
        raise UnknownWord(f"The glossary does not hold {word!r}.{guess}")
    return tuple(found)


def _known(asked: str) -> list[str]:
    """What stands in the glossary under this very word, in small letters."""
    found = [
        f"{HEADINGS[section].partition(' (')[0]}: {term}: {meaning}"
        for section, terms in glossary().items()
        for term, meaning in terms.items()
        if term.casefold() == asked
    ]
    found += [
        f"Key of a case file: {key}: {said}"
        for key, told in keys_explained().items()
        for said in told
        if key.casefold() == asked
    ]
    same = [term for word, term in glossary()["synonyms"].items() if word.casefold() == asked]
    return [*found, *(line for term in same for line in _known(term.casefold()))]


def glossary_text() -> str:
    """All words by their sections, a line each.

    Example:
        >>> print(glossary_text().splitlines()[0])
        Words of the trade (common practice, no source)
    """
    lines: list[str] = []
    for section, terms in glossary().items():
        width = max(map(len, terms))
        lines += [HEADINGS[section], *(f"  {term:{width}}  {said}" for term, said in terms.items())]
        lines.append("")
    return "\n".join(lines)
