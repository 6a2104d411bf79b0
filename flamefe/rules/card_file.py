"""The file of a rule card: JSON that another program can read without this library.

Format "flamefe rule card", version 2; ``card.schema.json`` beside this file is its JSON schema.

- ``format``, ``format_version``: "flamefe rule card", 2.
- ``rule``: name, quantity, unit, part, ``formula`` in letters, ``source``.
- ``expression``: the whole formula in columns of a table and coefficients, with + - * / ^ ( ), pi
  and exp, log, sqrt, sin, cos, tan, min, max; angles in radians. The name ``rule`` stands in it
  where the rule's own number has no expression and must come from its formula.
- ``coefficients``: a list of name, value, ``lower`` and ``upper`` end at the level, ``fitted``
  (false: held), ``kind``, ``of``, ``reference``, ``meaning``.
- ``covariance``: of the coefficients in that order; 0 where held.
- ``scatter``: ``value`` is the standard deviation of a single heat about the formula; its ``kind``
  "proportional": as a share of the value, else in the unit of the quantity.
- ``degrees_of_freedom``, ``level``, ``student_factor``: of the intervals.
- ``simulation_error_share``: the simulation's own error by its mesh and steps, root mean square;
  null: not known.
- ``range``: ``columns`` holds the least and greatest value by column, ``words`` the words that
  occurred, ``hull`` either ``columns``, ``logarithmic`` (which of them count by their logarithm)
  and ``points`` (inside is what lies in their convex hull), or null (the box alone). What lies
  beyond box or hull by up to 0.5 % of their width counts as inside.
- ``rows``, ``hold_out``, ``residual_structure``, ``grade``, ``verdict``: how good it is.
- ``provenance``: study, versions, date and so on, by name.

Columns are named with their units (see `flamefe.rules.columns`). With B the expression without its
shares (the base, powers and exponentials), the derivative by a coefficient is B times ``of`` for a
*share*, value times ln(of / reference) for a *power*, and value times (of - reference) for an
*exponential*. With g those derivatives, the half width of the interval of a single heat is

    student_factor sqrt( g' covariance g + r^2 + (simulation_error_share value)^2 )

with r = scatter.value, times |value| where the scatter is proportional.

Outside the range the card says nothing. Signs are those of the measures of the same names. The
version number rises when a reader of the old format would misread the new one.
"""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import FlamefeError, OutOfRange
from flamefe.basics.whole_file import put_text
from flamefe.rules.card import HoldOut, RuleCard
from flamefe.rules.columns import COLUMNS
from flamefe.rules.form import Form
from flamefe.rules.forms import find_form
from flamefe.rules.span import Span

Array = NDArray[np.float64]

FORMAT = "flamefe rule card"
VERSION = 2
LARGEST_BYTES = 5_000_000

_FIELDS = {column.name: column.field for column in COLUMNS}


class CardError(FlamefeError, ValueError):
    """A file is no rule card that can be used."""


def write_card(card: RuleCard, file: Path | str) -> Path:
    """Write a card as JSON, whole or not at all.

    Args:
        card: the card.
        file: its path, whose folder must exist.

    Returns:
        The path.

    Raises:
        OSError: the file can't be written.

    Examples:
        >>> write_card.__name__, read_card.__name__  # see `RuleCard` for making one
        ('write_card', 'read_card')
    """
    return put_text(Path(file), card_text(card))


def card_text(card: RuleCard) -> str:
    """The card as the text of its file."""
    return json.dumps(card_document(card), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def card_document(card: RuleCard) -> dict[str, Any]:
    """The card as the plain tables of its file."""
    rule, form = card.form.rule, card.form
    live = [i for i, term in enumerate(form.terms) if term in form.live_terms]
    ends = {name: (low, high) for name, _, low, high in card.intervals()}
    coefficients = []
    for i in live:
        term = form.terms[i]
        low, high = ends.get(term.coefficient, (None, None))
        coefficients.append(
            {
                "name": term.coefficient,
                "value": _exact(card.coefficients[i]),
                "lower": None if low is None else _short(low),
                "upper": None if high is None else _short(high),
                "fitted": term.coefficient in form.free,
                "kind": term.kind,
                "of": "1" if term.group is None else term.group.expression,
                "reference": term.reference,
                "meaning": term.meaning or (term.group.name if term.group else ""),
            }
        )
    span = card.span
    hull = None
    if span.hull_fields:
        points = [[_short(x) for x in point] for point in span.hull_points]
        hull = {
            "columns": list(span.hull_columns),
            "logarithmic": list(span.hull_logarithmic),
            "points": points,
        }
    return {
        "format": FORMAT,
        "format_version": VERSION,
        "rule": {
            "name": rule.name,
            "quantity": card.quantity,
            "unit": rule.unit,
            "part": rule.part,
            "formula": rule.formula,
            "source": rule.source,
        },
        "expression": form.expression,
        "coefficients": coefficients,
        "covariance": [[_exact(card.covariance[i, j]) for j in live] for i in live],
        "scatter": {"kind": card.scatter, "value": _exact(card.spread)},
        "degrees_of_freedom": _exact(card.freedom),
        "level": card.level,
        "student_factor": _short(card.student_factor),
        "simulation_error_share": card.simulation_error,
        "range": {
            "columns": {
                name: [_short(low), _short(high)]
                for name, low, high in zip(span.columns, span.low, span.high, strict=True)
            },
            "words": {name: list(words) for name, words in span.words},
            "hull": hull,
        },
        "rows": card.rows,
        "hold_out": None
        if card.hold_out is None
        else {
            "error": _short(card.hold_out.error),
            "share": _short(card.hold_out.share),
            "inside": _short(card.hold_out.inside),
            "folds": card.hold_out.folds,
        },
        "residual_structure": list(card.structure),
        "grade": card.grade,
        "verdict": list(card.verdict),
        "provenance": dict(card.provenance),
    }


def read_card(file: Path | str) -> RuleCard:
    """Read a card from its file.

    Args:
        file: JSON as `write_card` writes it.

    Raises:
        CardError: it is no rule card, of a newer format, damaged, or made for another version of
            the rule's formula.
        OSError: the file can't be read.

    Examples:
        >>> read_card("no_such_card.json")
        Traceback (most recent call last):
        ...
        FileNotFoundError: [Errno 2] No such file or directory: 'no_such_card.json'
    """
    path = Path(file)
    if path.stat().st_size > LARGEST_BYTES:
        raise CardError(f"{path} is larger than {LARGEST_BYTES // 1_000_000} MB, so no rule card.")
    try:
        document = json.loads(path.read_text(encoding="utf-8-sig"))
    except (json.JSONDecodeError, UnicodeDecodeError) as error:
        raise CardError(f"{path} is no rule card: {error}.") from None
    try:
        return card_of(document)
    except CardError as error:
        raise CardError(f"{path}: {error}") from None


def card_of(document: Any) -> RuleCard:
    """A card from the plain tables of its file; the inverse of `card_document`.

    Raises:
        CardError: see `read_card`.
    """
    if not isinstance(document, Mapping) or document.get("format") != FORMAT:
        raise CardError(f"This is no rule card; it must be a table with format = {FORMAT!r}.")
    version = document.get("format_version")
    if version != VERSION:
        raise CardError(
            f"The card has format version {version}; this library reads version {VERSION}. "
            "Update the library, or calibrate again."
        )
    try:
        return _card_of(document)
    except KeyError as error:
        raise CardError(f"The card lacks {error}; calibrate again or restore the file.") from None
    except (TypeError, ValueError, AttributeError, IndexError) as error:
        if isinstance(error, CardError):
            raise
        raise CardError(f"The card is damaged: {error}") from None


def _card_of(document: Mapping[str, Any]) -> RuleCard:
    said = document["rule"]
    try:
        form = find_form(said["name"], said["quantity"])
    except OutOfRange as error:
        raise CardError(str(error)) from None
    form, coefficients, covariance = _numbers(form, document)
    if form.expression != document["expression"] or form.rule.unit != said["unit"]:
        raise CardError(
            f"The formula of {said['name']!r} has changed since the card was written; calibrate "
            "again."
        )
    unseen = document["hold_out"]
    card = RuleCard(
        form=form,
        quantity=said["quantity"],
        coefficients=coefficients,
        covariance=covariance,
        scatter=document["scatter"]["kind"],
        spread=float(document["scatter"]["value"]),
        freedom=float(document["degrees_of_freedom"]),
        span=_span(document["range"]),
        rows=int(document["rows"]),
        level=float(document["level"]),
        hold_out=None if unseen is None else HoldOut(**unseen),
        structure=tuple(document["residual_structure"]),
        grade=document["grade"],
        verdict=tuple(document["verdict"]),
        simulation_error=document["simulation_error_share"],
        provenance=document["provenance"],
    )
    _check_own(card, document)
    return card


def _check_own(card: RuleCard, document: Mapping[str, Any]) -> None:
    """Numbers that the file tells twice must agree: a card that was changed by hand lies."""
    twice = [("student_factor", card.student_factor, document["student_factor"])]
    listed = {one["name"]: one for one in document["coefficients"]}
    for name, _, low, high in card.intervals():
        if name in listed:
            twice.append((f"lower end of {name}", low, listed[name]["lower"]))
            twice.append((f"upper end of {name}", high, listed[name]["upper"]))
    for what, own, told in twice:
        if not abs(own - float(told)) <= 1e-6 * max(abs(own), 1e-6):
            raise CardError(
                f"The card is damaged or was changed by hand: its {what} is {told:g}, by its other "
                f"numbers {own:g}. Restore the file or calibrate again."
            )
    again = card_document(card)["range"]["hull"]
    hull = document["range"]["hull"]
    if (again is None) != (hull is None) or (
        hull is not None and list(hull["logarithmic"]) != list(again["logarithmic"])
    ):
        raise CardError("The card's hull is damaged; restore the file or calibrate again.")


def _numbers(form: Form, document: Mapping[str, Any]) -> tuple[Form, Array, Array]:
    """The form with the card's coefficients free or held, their values and covariance."""
    listed = document["coefficients"]
    names = [one["name"] for one in listed]
    values, places = form.starts * 0.0, []
    for one in listed:
        if one["name"] not in form.names:
            raise CardError(
                f"Rule {form.rule.name!r} has no coefficient {one['name']!r} (any more); "
                "calibrate again."
            )
        places.append(form.names.index(one["name"]))
        values[places[-1]] = float(one["value"])
    listed_covariance = np.array(document["covariance"], dtype=float)
    if listed_covariance.shape != (len(places), len(places)):
        raise CardError(
            f"The covariance must be a square of {len(places)} numbers, as there are coefficients."
        )
    covariance = np.zeros((len(values), len(values)))
    covariance[np.ix_(places, places)] = listed_covariance
    free = [name for name, one in zip(names, listed, strict=True) if one["fitted"]]
    held = form.fitting(free)
    fixed = np.where(held.free_mask, form.starts, values)
    return held.starting_at(fixed), values, covariance


def _span(said: Mapping[str, Any]) -> Span:
    columns = said["columns"]
    unknown = [name for name in columns if name not in _FIELDS]
    if unknown:
        raise CardError(f"The card's range has unknown columns: {', '.join(unknown)}.")
    hull = said["hull"] or {"columns": [], "points": []}
    ends = np.array([*columns.values()], dtype=float).reshape(-1, 2)
    if not np.isfinite(ends).all() or (ends[:, 0] > ends[:, 1]).any():
        raise CardError("The card's range needs one least and one greatest value, both finite.")
    if any(isinstance(words, str) for words in said["words"].values()):
        raise CardError("The card's range has words that are no list.")
    points = np.array(hull["points"], dtype=float)
    if points.size and points.shape[1:] != (len(hull["columns"]),):
        raise CardError("The points of the card's hull are not as many numbers as it has columns.")
    return Span(
        fields=tuple(_FIELDS[name] for name in columns),
        low=np.array([low for low, _ in columns.values()], dtype=float),
        high=np.array([high for _, high in columns.values()], dtype=float),
        words=tuple((name, tuple(words)) for name, words in said["words"].items()),
        hull_fields=tuple(_FIELDS[name] for name in hull["columns"]),
        hull_points=np.array(hull["points"], dtype=float),
    )


def _exact(number: float) -> float:
    return float(f"{float(number):.12g}")


def _short(number: float) -> float:
    return float(f"{float(number):.10g}")
