"""A calibration in words: verdict, coefficients with intervals, residuals, what was decided."""

import textwrap

from flamefe.reporting.summary import DISCLAIMER, WIDTH
from flamefe.reporting.words import number, one_line
from flamefe.rules.calibration import Calibration

SCATTER_WORDS = {
    "proportional": "of the value",
    "constant": "everywhere",
    "stated": "times the stated deviations",
}


def calibration_text(found: Calibration, *, table: str = "the table") -> str:
    """Tell a calibration in plain text, each line at most 100 characters.

    In order: what was fitted to what, the verdict, coefficients with intervals, scatter and
    hold-out, residual structure, what was decided on the way, and that it is advice.

    Args:
        found: of `calibrate`.
        table: what to call the table.

    Returns:
        Lines that end in a line end.

    Examples:
        >>> print(calibration_text(found))  # doctest: +SKIP
    """
    rule, unit = found.form.rule, found.form.rule.unit
    rows = len(found.samples.observed)
    lines = _wrapped(f"Calibration of {rule.name!r}: {found.samples.quantity} [{unit}]")
    lines += _wrapped(
        f"from {one_line(table, 60)}, {rows} of {rows + len(found.samples.left_out)} rows"
        f"{', with a prior' if found.prior is not None else ''}",
        "  ",
    )
    lines.append("")
    for sentence in found.verdict:
        lines += _wrapped(sentence)
    lines += ["", f"Coefficients, with {100 * found.level:g} % intervals"]
    lines += _table(_coefficient_rows(found))
    lines += ["", "Formula, in columns of the table"]
    lines += _wrapped(f"{rule.formula}", "  ")
    lines += _wrapped(f"{found.samples.quantity} = {found.form.expression}", "  ")
    lines += ["", "Errors"]
    lines += _wrapped(_scatter_words(found), "  ")
    if found.hold_out is not None:
        unseen = found.hold_out
        lines += _wrapped(
            f"Unseen rows: {number(unseen.error, 3)} {unit} (root mean square), "
            f"{100 * unseen.share:.3g} % of the value; {100 * unseen.inside:.0f} % of them inside "
            f"their intervals; {unseen.folds} parts left out in turn.",
            "  ",
        )
    if found.simulation_error is not None:
        lines += _wrapped(
            f"The simulation's own error by mesh and steps, {100 * found.simulation_error:.2g} % "
            "of the value, is held in the card's intervals.",
            "  ",
        )
    lines += ["", *_wrapped(f"Residuals: {_residual_words(found)}")]
    if found.notes:
        lines += ["", "To know"]
        for note in found.notes:
            lines += _wrapped(f"{note}.", "  ")
    lines += ["", *_wrapped(DISCLAIMER)]
    return "".join(f"{line}\n" for line in lines)


def _coefficient_rows(found: Calibration) -> list[list[str]]:
    rows = []
    ends = {name: (low, high) for name, _, low, high in found.card().intervals()}
    for term, value in zip(found.form.terms, found.fit.coefficients, strict=True):
        name = term.coefficient
        meaning = term.meaning
        if term.kind != "share" and term.group is not None:
            meaning = f"{term.kind} of ({term.group.name}) / {term.reference:g}"
            if term.kind == "exponential":
                meaning = f"exponential of ({term.group.name}) - {term.reference:g}"
        if name in ends:
            low, high = ends[name]
            rows.append([name, number(value), f"{number(low)} to {number(high)}", meaning])
        elif term in found.form.live_terms:
            rows.append([name, number(value), "held", meaning])
    return rows


def _residual_words(found: Calibration) -> str:
    """What the looks at the residuals found; what was found itself stands in the verdict."""
    if not found.structure:
        return "too few rows to look for structure."
    hits = sum(one.found for one in found.structure)
    count, least = len(found.structure), found.structure[0]
    if hits:
        return f"{hits} of {count} looks find structure (see the verdict), p = {least.chance:.1g}."
    return (
        f"{count} looks find no more than chance makes (least p = {least.chance:.2g}, along "
        f"{least.along})."
    )


def _scatter_words(found: Calibration) -> str:
    size = found.fit.scatter
    said = f"{100 * size:.3g} %" if found.scatter == "proportional" else number(size, 3)
    unit = f" {found.form.rule.unit}" if found.scatter == "constant" else ""
    return (
        f"Scatter about the form: {said}{unit} {SCATTER_WORDS[found.scatter]} (one standard "
        f"deviation, {number(found.fit.freedom, 3)} degrees of freedom)."
    )


def _table(rows: list[list[str]]) -> list[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]) - 1)]
    lines = []
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row[:-1], widths, strict=True)]
        head = "  " + "  ".join(cells) + "  "
        lines += textwrap.wrap(
            row[-1],
            WIDTH,
            initial_indent=head,
            subsequent_indent=" " * len(head),
        ) or [head.rstrip()]
    return lines


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + "  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
