"""From pydantic's errors to faults, with the JSON schema telling what is allowed."""

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from flamefe.study.faults import Fault, Path, choose, shown

Schema = Mapping[str, Any]

_NAME = "a name of 1 to 64 letters, digits, spaces, points, _ - +"


def faults_from(error: ValidationError, schema: Schema) -> list[Fault]:
    """Faults for all errors that pydantic found.

    Args:
        error: from a check of a case or of a part of one.
        schema: JSON schema of what was checked.

    Returns:
        One fault an error, without file and line.
    """
    items = error.errors(include_url=False)
    inner = {item["loc"][:end] for item in items for end in range(len(item["loc"]))}
    return [
        _fault(dict(item), schema)
        for item in items
        if not (item["type"] == "too_short" and item["loc"] in inner)
    ]


def _fault(item: dict[str, Any], schema: Schema) -> Fault:
    loc = tuple(item["loc"])
    kind, value = item["type"], item["input"]
    context = item.get("ctx") or {}
    path, here, above = _walk(schema, loc)
    if kind == "flamefe":
        given, allowed, advice = (str(context[k]) for k in ("given", "allowed", "advice"))
    elif kind in ("missing", "missing_argument", "missing_keyword_only_argument"):
        given, allowed, advice = _missing(path, here, above)
        if path and isinstance(path[-1], int):
            path = path[:-1]
    elif kind in ("unexpected_keyword_argument", "extra_forbidden"):
        allowed, advice = choose(str(path[-1]), above.get("properties", {}))
        given = f"{shown(str(path[-1]))}, which is not known here"
        allowed = allowed.replace('"', "")
    elif kind in ("union_tag_invalid", "union_tag_not_found"):
        tags = list(here.get("discriminator", {}).get("mapping", {}))
        if path == ("workpiece",):
            tags.append("rolled")  # stands for a beam of its dimensions
        wrong = str(context.get("tag", ""))
        allowed, advice = choose(wrong, tags)
        if kind == "union_tag_invalid":
            given = f"kind = {shown(wrong)}"
            path = (*path, "kind")
        elif isinstance(value, Mapping):
            given = "no kind"
            advice = 'Say which kind it is, for instance kind = "' + tags[0] + '".'
        else:
            given, allowed, advice = shown(value), "a table with a kind", "Give a table here."
    elif kind == "literal_error" and isinstance(value, str):
        given = shown(value)
        allowed, advice = choose(value, [str(v) for v in _choices(here)])
    elif loc and loc[-1] == "[key]":
        given, allowed = f"the name {shown(value)}", _NAME
        advice = "Choose a plain name."
    else:
        given, allowed = _typed(value), _allowed(here)
        advice = _advice(value, here, path)
    return Fault(path=path, given=given, allowed=allowed, advice=advice)


def _walk(schema: Schema, loc: tuple[str | int, ...]) -> tuple[Path, Schema, Schema]:
    """Path without the kinds that pydantic puts in, the schema there and the one above it."""
    path: list[str | int] = []
    above: Schema = {}
    here = _resolved(schema, schema)
    for step in loc:
        if step == "[key]":
            continue
        mapping = here.get("discriminator", {}).get("mapping", {})
        if step in mapping:
            here = _resolved(schema, {"$ref": mapping[step]})
            continue
        above = here
        path.append(step)
        if isinstance(step, int):
            places = here.get("prefixItems", [])
            inner = places[step] if step < len(places) else here.get("items", {})
        else:
            patterns = here.get("patternProperties", {}).values()
            others = next(iter(patterns), here.get("additionalProperties", {}))
            inner = here.get("properties", {}).get(step, others)
        here = _resolved(schema, inner if isinstance(inner, Mapping) else {})
    return tuple(path), here, above


def _resolved(root: Schema, node: Schema) -> Schema:
    """A schema with its reference followed and "or nothing" left out; outer words win."""
    words = {k: node[k] for k in ("description",) if k in node}
    while True:
        if "$ref" in node:
            node = root["$defs"][node["$ref"].rsplit("/", 1)[1]]
        elif "anyOf" in node:
            node = next(n for n in node["anyOf"] if n.get("type") != "null")
        else:
            return {**node, **words}


def _missing(path: Path, here: Schema, above: Schema) -> tuple[str, str, str]:
    if path and isinstance(path[-1], int):
        number = len(above.get("prefixItems", []))
        return f"a list of {path[-1]}", f"a list of {number}", "Give the numbers that are missing."
    name = path[-1] if path else "value"
    about = here.get("description", "")
    return "nothing", _allowed(here), f"Add {name}: {about}" if about else f"Add {name}."


def _choices(here: Schema) -> list[Any]:
    return [here["const"]] if "const" in here else list(here.get("enum", []))


def _allowed(here: Schema) -> str:
    """What a schema allows, in words."""
    choices = _choices(here)
    if choices:
        return ("one of " if len(choices) > 1 else "") + ", ".join(shown(c) for c in choices)
    kind = here.get("type")
    if kind in ("number", "integer"):
        return ("a whole number" if kind == "integer" else "a number") + _span(here)
    if "pattern" in here:
        return _NAME
    if kind == "string":
        longest = here.get("maxLength")
        return "text" + (f" of at most {longest} characters" if longest else "")
    if kind == "array":
        if "prefixItems" in here:
            return f"a list of {len(here['prefixItems'])}"
        least, most = here.get("minItems"), here.get("maxItems")
        if least:
            return f"a list of {least} to {most}" if most else f"a list of {least} or more"
        return f"a list of up to {most}" if most else "a list"
    if "discriminator" in here:
        return "a table with a kind"
    return "a table" if kind == "object" else "another value"


def _span(here: Schema) -> str:
    low, high = here.get("minimum"), here.get("maximum")
    above, below = here.get("exclusiveMinimum"), here.get("exclusiveMaximum")
    if low is not None and high is not None:
        return f" from {low:g} to {high:g}"
    parts = []
    if low is not None or above is not None:
        parts.append(f"from {low:g}" if low is not None else f"above {above:g}")
    if high is not None or below is not None:
        parts.append(f"up to {high:g}" if high is not None else f"below {below:g}")
    return " " + " and ".join(parts) if parts else ", finite"


def _typed(value: Any) -> str:
    text = shown(value)
    return f"{text} (text)" if isinstance(value, str) else text


def _advice(value: Any, here: Schema, path: Path) -> str:
    name = str(path[-1]) if path else ""
    about = here.get("description", "")
    wants_number = here.get("type") in ("number", "integer")
    if wants_number and isinstance(value, str):
        return "Give the number alone, without quotes and without a unit." + _said(about)
    if here.get("type") == "array" and isinstance(value, Mapping):
        return f"Write [[{name}]] with double brackets, once for each."
    wants_table = here.get("type") == "object" or "discriminator" in here
    if wants_table and isinstance(value, list | tuple):
        return f"Write [{name}] with single brackets, once."
    if wants_table and path and path[0] in ("flames", "materials"):
        return f"Give each a name, as [{path[0]}.NAME], with its values below."
    if here.get("type") == "string" and not isinstance(value, str):
        return 'Put text in "quotes".' + _said(about)
    return f"Meaning: {about}" if about and name else about or "Give a value that is allowed."


def _said(about: str) -> str:
    return f" {about}" if about else ""
