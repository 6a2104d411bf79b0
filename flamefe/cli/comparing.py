"""Commands that set cases side by side."""

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from flamefe.basics.writable import check_writable_file
from flamefe.cli.answering import (
    EXIT_CODES,
    FAILED,
    CaseArgument,
    TracebackOption,
    answering,
    app,
    load,
    refuse,
)
from flamefe.reporting.comparison import comparison_csv, comparison_text, unknown_measures
from flamefe.reporting.comparison_picture import draw_comparison
from flamefe.reporting.progress import progress_for
from flamefe.study.compare import base_variant
from flamefe.study.compare import compare as compare_variants
from flamefe.study.variation import Variant, VariationError, grid, level_of, variants_in


@app.command(epilog=EXIT_CODES)
def compare(
    case: CaseArgument,
    vary: Annotated[
        list[str] | None,
        typer.Option(
            help="place=value,value; once for each place, all combinations are run. "
            "For instance workpiece.thickness_mm=8,10,12 or heats[].speed_mm_s=4,6."
        ),
    ] = None,
    variants: Annotated[
        Path | None,
        typer.Option(help="TOML file with a table [NAME] for each variant and what it changes."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(help="Where to write NAME.csv and NAME.png.  [default: CASE-comparison]"),
    ] = None,
    measure: Annotated[
        list[str] | None, typer.Option(help="Measure to show, once for each.")
    ] = None,
    workers: Annotated[
        int | None, typer.Option(min=1, max=256, help="Runs at a time.  [default: the cores]")
    ] = None,
    mesh_error_percent: Annotated[
        float,
        typer.Option(min=0, max=100, help="Error by mesh and steps to draw at the bars' ends, %."),
    ] = 0.0,
    no_picture: Annotated[bool, typer.Option("--no-picture", help="Draw nothing.")] = False,
    show_traceback: TracebackOption = False,
) -> None:
    """Run a case under several restraints, flames, materials or sizes and set them side by side."""
    with answering(show_traceback):
        base, file = load(case)
        try:
            made: tuple[Variant, ...] = ()
            if variants is not None:
                made += variants_in(_text_of(variants), base)
            if vary:
                made += grid(base, dict(level_of(words) for words in vary))
        except VariationError as error:
            refuse(str(error))
        if not made:
            refuse("Nothing to compare: give --vary place=value,value or --variants FILE.")
        target = out if out is not None else Path(f"{file.stem}-comparison")
        table = check_writable_file(target.with_name(target.name + ".csv"))
        picture = check_writable_file(target.with_name(target.name + ".png"))
        if variants is not None and not vary:
            made = (base_variant(base), *made)
        progress = progress_for(Console(stderr=True))
        progress.stage("comparing", float(len(made)))
        try:
            rows = compare_variants(
                made,
                folder=file.parent,
                workers=workers,
                told=lambda done, _: progress.update(float(done)),
            )
        except BaseException:
            progress.stop()
            raise
        progress.finish()
        typer.echo(comparison_text(base.title, rows, measures=measure or ()), nl=False)
        for words in unknown_measures(rows, measure or ()):
            typer.echo(words, err=True)
        target.parent.mkdir(parents=True, exist_ok=True)
        table.write_text(comparison_csv(rows), encoding="utf-8")
        written = [str(table)]
        if not no_picture:
            draw_comparison(
                base.title, rows, picture, measures=measure or (),
                error_share=0.01 * mesh_error_percent,
            )  # fmt: skip
            written.append(str(picture))
        typer.echo(f"Written: {', '.join(written)}")
        if all(row.failed for row in rows):
            raise typer.Exit(FAILED)


def _text_of(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise VariationError(f"{file} can't be read as text in UTF-8: {error}.") from None
