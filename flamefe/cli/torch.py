"""Commands about torches and metal: which torch to take, what it really brings, materials."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, TypeVar

import typer
from rich.console import Console

from flamefe.basics.errors import MaterialError, OutOfRange
from flamefe.basics.writable import check_writable_file
from flamefe.cli.answering import (
    EXIT_CODES,
    CaseArgument,
    TracebackOption,
    answering,
    app,
    load,
    refuse,
    with_places,
)
from flamefe.heating.passing import WidePlate
from flamefe.heating.readings import read_readings
from flamefe.planning.choosing import Wish, choices
from flamefe.reporting.choice_table import choice_text
from flamefe.reporting.fit_picture import draw_fit
from flamefe.reporting.fit_summary import fit_text
from flamefe.reporting.picture_kind import NoSuchPicture, kind_of
from flamefe.reporting.progress import progress_for
from flamefe.study.faults import CaseError
from flamefe.study.torches import torches_from, torches_of
from flamefe.study.trial import fit_flame
from flamefe.workpiece.standard import material, material_names

Made = TypeVar("Made")


def _made(faults: list[str], make: Callable[[], Made]) -> Made | None:
    """What ``make`` gives; None, and a fault more, where it can't be."""
    try:
        return make()
    except (OutOfRange, MaterialError) as error:
        faults.append(str(error))
        return None


@app.command(epilog=EXIT_CODES)
def choose(
    thickness_mm: Annotated[float, typer.Option(help="Of the plate, mm.")],
    target_C: Annotated[float, typer.Option("--target-C", help="To be reached, C.")],
    depth_mm: Annotated[float, typer.Option(help="How deep, mm below the heated face.")] = 0.0,
    material_name: Annotated[
        str, typer.Option("--material", help="A ready material (see: flamefe materials).")
    ] = "S355",
    limit_C: Annotated[
        float | None,
        typer.Option("--limit-C", help="For the surface, C.  [default: the material's own]"),
    ] = None,
    torch: Annotated[
        list[str] | None,
        typer.Option(help="fuel:litres an hour, once for each.  [default: acetylene of all sizes]"),
    ] = None,
    flames_of: Annotated[
        str | None, typer.Option(metavar="CASE", help="Take the flames of a case instead.")
    ] = None,
    band_mm: Annotated[
        list[float] | None, typer.Option(help="Width of a woven band, mm, once for each.")
    ] = None,
    fastest_mm_s: Annotated[float, typer.Option(help="Of the hand, mm/s.")] = 30.0,
    both_faces: Annotated[bool, typer.Option("--both-faces", help="Heat both faces.")] = False,
    show_traceback: TracebackOption = False,
) -> None:
    """Tell which torch, pattern and speed bring a plate to a temperature at a depth."""
    with answering(show_traceback):
        faults: list[str] = []
        metal = _made(faults, lambda: material(material_name)) or material("S355")
        plate = _made(
            faults,
            lambda: WidePlate(material=metal, thickness=1e-3 * thickness_mm, both_faces=both_faces),
        )
        wish = _made(
            faults,
            lambda: Wish(
                target_C=target_C,
                depth=1e-3 * depth_mm,
                limit_C=metal.heating_limit_C if limit_C is None else limit_C,
                fastest=1e-3 * fastest_mm_s,
                bands=tuple(1e-3 * width for width in band_mm or [40.0]),
            ),
        )
        if plate is not None and wish is not None:
            _made(faults, lambda: wish.within(plate))
        hand = () if flames_of is not None else _made(faults, lambda: torches_from(torch or []))
        if faults or plate is None or wish is None:
            refuse(" ".join(faults))
        hand = hand or torches_of(load(flames_of or "")[0].flames)
        typer.echo(choice_text(choices(hand, plate, wish), plate, wish), nl=False)


@app.command(epilog=EXIT_CODES)
def fit(
    case: CaseArgument,
    readings: Annotated[
        Path | None,
        typer.Argument(
            help="Thermocouple readings of the trial (CSV).  [default: CSV of the case's name]"
        ),
    ] = None,
    hot_gas: Annotated[
        bool,
        typer.Option("--hot-gas", help="Fit film and gas temperature, not power and radius."),
    ] = False,
    picture: Annotated[
        Path | None, typer.Option(help="PNG or SVG to draw: measured against simulated.")
    ] = None,
    show_traceback: TracebackOption = False,
) -> None:
    """Fit the flame of a case to the thermocouples of a trial with one timed heat.

    The CSV has the columns x_mm, y_mm, z_mm, time_s (since the torch was lit), temperature_C and,
    if you like, thermocouple (a name) and deviation_K.
    """
    with answering(show_traceback):
        loaded, file = load(case)
        table = readings or file.with_suffix(".csv")
        if not table.is_file():
            refuse(f"There are no readings in {table}; give a CSV of the trial's thermocouples.")
        if picture is not None:
            try:
                kind_of(check_writable_file(picture))
            except NoSuchPicture as error:
                refuse(str(error))
        read = read_readings(table)
        progress = progress_for(Console(stderr=True))
        try:
            fitted = fit_flame(
                loaded, read, model="hot gas" if hot_gas else None, progress=progress
            )
        except BaseException as problem:
            progress.stop()
            if isinstance(problem, CaseError):
                raise with_places(problem, file) from None
            raise
        progress.finish()
        typer.echo(fit_text(fitted), nl=False)
        if picture is not None:
            picture.parent.mkdir(parents=True, exist_ok=True)
            typer.echo(f"Written to {draw_fit(fitted, picture)}")


@app.command()
def materials() -> None:
    """List the ready materials."""
    with answering(False):
        head = ("name", "yield MPa", "heat to C", "tables to C", "family")
        rows = [head]
        sources: dict[str, list[str]] = {}
        for name in material_names():
            made = material(name)
            cold = f"{float(made.yield_stress(20.0)) / 1e6:.0f}"
            limits = (f"{made.heating_limit_C:g}", f"{made.valid_to_C:g}")
            rows.append((name, cold, *limits, made.family))
            sources.setdefault(made.heating_limit_source, []).append(name)
        widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
        for row in rows:
            cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=True)]
            typer.echo("  ".join(cells).rstrip())
        typer.echo("\nWhere the heating limits come from:")
        for source, names in sources.items():
            typer.echo(f"  {', '.join(names)}: {source}")
        typer.echo("\nThe local code and the part's own certificate decide.")
