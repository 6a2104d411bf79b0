"""The command that explains words."""

from typing import Annotated

import typer

from flamefe.cli.answering import answering, app, refuse
from flamefe.reporting.glossary import UnknownWord, explained, glossary_text


@app.command()
def glossary(
    word: Annotated[
        list[str] | None,
        typer.Argument(help="Word, kind, measure or key of a case file.  [default: list all]"),
    ] = None,
) -> None:
    """Explain the trade's words, the kinds and keys of a case file, and the measures."""
    with answering(False):
        if not word:
            typer.echo(glossary_text(), nl=False)
            return
        try:
            lines = explained(" ".join(word))
        except UnknownWord as error:
            refuse(str(error))
        for line in lines:
            typer.echo(line)
