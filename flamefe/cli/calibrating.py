"""Commands about rules: fit a rule's coefficients to a table, list the rules, ask a card."""

from datetime import date
from importlib import metadata
from pathlib import Path
from typing import Annotated, Any

import typer

from flamefe.basics.errors import OutOfRange
from flamefe.basics.writable import check_writable_file
from flamefe.cli.answering import EXIT_CODES, TracebackOption, answering, app, refuse
from flamefe.reporting.calibration_summary import calibration_text
from flamefe.reporting.sweep_summary import SummaryError, one_sided_words, read_summary
from flamefe.rules.calibration import calibrate as fit_rule
from flamefe.rules.card import RuleCard
from flamefe.rules.card_file import CardError, read_card, write_card
from flamefe.rules.columns import COLUMNS, TableError
from flamefe.rules.fitting import CalibrationError, Scatter
from flamefe.rules.forms import form_of
from flamefe.rules.registry import RULES, find_rule
from flamefe.rules.table_file import Rows, read_table

SCATTERS: tuple[Scatter, ...] = ("proportional", "constant", "stated")


@app.command(epilog=EXIT_CODES)
def calibrate(
    table: Annotated[Path, typer.Argument(help="Table of heats, CSV or Parquet; a row a heat.")],
    rule: Annotated[str, typer.Option(help="Name of the rule; see: flamefe rules.")],
    quantity: Annotated[
        str | None, typer.Option(help="What to fit, where the rule gives several.")
    ] = None,
    coefficient: Annotated[
        list[str] | None,
        typer.Option(help="Coefficient to fit, once for each.  [default: the rule's own]"),
    ] = None,
    scatter: Annotated[
        str | None,
        typer.Option(help="proportional, constant or stated.  [default: by the table]"),
    ] = None,
    prior: Annotated[
        Path | None,
        typer.Option(help="Table of simulations, or a card, for few measured rows."),
    ] = None,
    doubt: Annotated[
        list[str] | None,
        typer.Option(help="coefficient=number: how far the shop may lie from the prior."),
    ] = None,
    mesh_error_percent: Annotated[
        float | None,
        typer.Option(
            min=0,
            max=100,
            help="The simulations' own error, % of the value.  "
            "[default: what a study told beside its table]",
        ),
    ] = None,
    card: Annotated[Path | None, typer.Option(help="Where to write the rule card (JSON).")] = None,
    about: Annotated[str | None, typer.Option(help="Where the table comes from.")] = None,
    show_traceback: TracebackOption = False,
) -> None:
    """Fit a rule's coefficients to simulated or measured heats and say how far to trust them."""
    with answering(show_traceback):
        if scatter is not None and scatter not in SCATTERS:
            refuse(f"--scatter is {scatter!r}; give {', '.join(SCATTERS)}.")
        if card is not None:
            check_writable_file(card)
        kind: Scatter | None = next((one for one in SCATTERS if one == scatter), None)
        doubts = dict(_doubt(words) for words in doubt or ())
        try:
            summary = read_summary(table)
            found = fit_rule(
                _rows(table),
                rule=rule,
                quantity=quantity,
                coefficients=coefficient or None,
                scatter=kind,
                prior=None if prior is None else _prior(prior),
                doubts=doubts,
                simulation_error=_own_error(summary, rule, quantity)
                if mesh_error_percent is None
                else 0.01 * mesh_error_percent,
                provenance={
                    "table": table.name,
                    **_study_of(summary),
                    **_one_sided(summary, rule, quantity),
                    **({} if prior is None else {"prior": prior.name}),
                    **({} if about is None else {"about": about}),
                    "flamefe": metadata.version("flamefe"),
                    "date": date.today().isoformat(),
                },
            )
        except (CalibrationError, TableError, CardError, SummaryError, OutOfRange) as error:
            refuse(str(error))
        typer.echo(calibration_text(found, table=table.name), nl=False)
        if card is not None:
            card.parent.mkdir(parents=True, exist_ok=True)
            write_card(found.card(), card)
            typer.echo(f"Written: {card}")


@app.command(name="rules", epilog=EXIT_CODES)
def list_rules(
    name: Annotated[str | None, typer.Argument(help="Tell all about this rule.")] = None,
) -> None:
    """List the closed-form rules, what they give and which coefficients can be fitted."""
    if name is not None:
        _tell(name)
        return
    heads = ("rule", "gives", "coefficients")
    lines = [
        (rule.name, f"{rule.quantity} [{rule.unit}]", ", ".join(form_of(rule).names))
        for rule in RULES
    ]
    widths = [max(len(line[i]) for line in (heads, *lines)) for i in (0, 1)]
    for rule, gives, coefficients in (heads, *lines):
        typer.echo(f"{rule.ljust(widths[0])}  {gives.ljust(widths[1])}  {coefficients}")
    typer.echo("\nFormula, needs and source of one: flamefe rules NAME")


def _tell(name: str) -> None:
    """Formula, needs, coefficients and source of the rules of a name."""
    named = [rule for rule in RULES if rule.name == name]
    if not named:
        try:
            find_rule(name)
        except OutOfRange as error:
            refuse(str(error))
    columns = {column.field: column.name for column in COLUMNS}
    for rule in named:
        form = form_of(rule)
        needs = [columns.get(need, "bar_...") for need in form.needs]
        part = [] if rule.part is None else [f"part = {rule.part}"]
        typer.echo(f"{rule.name}: {rule.quantity} [{rule.unit}]")
        typer.echo(f"  formula       {rule.formula}")
        typer.echo(f"  columns       {', '.join((*part, *needs))}")
        typer.echo(f"  coefficients  {', '.join(form.names)} (fitted: {', '.join(form.free)})")
        typer.echo(f"  source        {rule.source}")


def _own_error(summary: dict[str, Any] | None, rule: str, quantity: str | None) -> float | None:
    """The error by mesh and steps that a study told beside its table, a share of the value."""
    if summary is None:
        return None
    asked = find_rule(rule, quantity)
    errors = summary["simulation_error"]
    names = (quantity, asked.quantity, asked.small_quantity)
    return next((float(errors[name]["rms_share"]) for name in names if name in errors), None)


def _one_sided(
    summary: dict[str, Any] | None, rule: str, quantity: str | None
) -> dict[str, str | float]:
    """How far coarse runs lie to one side of finer ones, for the card."""
    if summary is None:
        return {}
    asked = find_rule(rule, quantity)
    errors = summary["simulation_error"]
    for name in (quantity, asked.quantity, asked.small_quantity):
        if name in errors:
            return {"mesh error to one side": one_sided_words(errors[name]["bias_share"])}
    return {}


def _study_of(summary: dict[str, Any] | None) -> dict[str, str | float]:
    """Where a table of a study comes from, for the card."""
    if summary is None:
        return {}
    return {
        "study": str(summary["title"]),
        "study design": f"{summary['design']}, {summary['runs']} runs, {summary['failed']} failed",
        "simulated by": f"flamefe {summary['flamefe']}",
    }


def _rows(path: Path) -> Rows:
    try:
        return read_table(path)
    except OSError as error:
        refuse(f"{path}: {error.strerror or error}")


def _prior(path: Path) -> Rows | RuleCard:
    if path.suffix != ".json":
        return _rows(path)
    try:
        return read_card(path)
    except OSError as error:
        refuse(f"{path}: {error.strerror or error}")


def _doubt(words: str) -> tuple[str, float]:
    name, mark, figure = words.partition("=")
    try:
        if mark:
            return name.strip(), float(figure)
    except ValueError:
        pass
    refuse(f"--doubt {words!r}: write coefficient=number, for instance factor=0.3.")
