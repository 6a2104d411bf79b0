"""A thing at a glance: verdict first, then a short table, for terminals and notebooks."""

import html
from dataclasses import dataclass
from typing import Literal

from rich.console import Group
from rich.table import Table
from rich.text import Text

from flamefe.basics.words import one_line

Tone = Literal["plain", "good", "doubt", "bad"]
STYLES: dict[Tone, str] = {"plain": "", "good": "green", "doubt": "yellow", "bad": "bold red"}
COLOURS: dict[Tone, str] = {
    "plain": "inherit", "good": "#1b7837", "doubt": "#9a6700", "bad": "#b2182b"
}  # fmt: skip
LONGEST = 400
"""Characters of one cell or line."""


@dataclass(frozen=True, kw_only=True)
class Glance:
    """What a short look at a thing tells.

    Names from outside may hold anything: nothing in them is taken for markup, and control
    characters are left out.

    Args:
        title: what it is.
        verdict: sentences that stand first, each with its tone.
        rows: (what, value with its unit) of the table.
        note: last line.

    Example:
        >>> look = Glance(title="<b>wall</b>", verdict=(("Too hot.", "bad"),),
        ...               rows=(("peak", "702 C"),), note="Advice only.")
        >>> look.html[:38]
        '<table><caption>&lt;b&gt;wall&lt;/b&gt'
        >>> print(look.text)
        <b>wall</b>
        Too hot.
        peak  702 C
        Advice only.
    """

    title: str
    verdict: tuple[tuple[str, Tone], ...] = ()
    rows: tuple[tuple[str, str], ...] = ()
    note: str = ""

    @property
    def text(self) -> str:
        """Plain lines."""
        width = max((len(_clean(head)) for head, _ in self.rows), default=0)
        told = [_clean(self.title), *(_clean(words) for words, _ in self.verdict)]
        told += [f"{_clean(head).ljust(width)}  {_clean(value)}" for head, value in self.rows]
        return "\n".join([*told, *([_clean(self.note)] if self.note else [])])

    @property
    def rich(self) -> Group:
        """The same for a terminal, coloured."""
        table = Table(show_header=False, box=None, pad_edge=False)
        for head, value in self.rows:
            table.add_row(Text(_clean(head)), Text(_clean(value)))
        return Group(
            Text(_clean(self.title), style="bold"),
            *(Text(_clean(words), style=STYLES[tone]) for words, tone in self.verdict),
            *([table] if self.rows else []),
            *([Text(_clean(self.note), style="dim")] if self.note else []),
        )

    @property
    def html(self) -> str:
        """The same as a table for notebooks, every text escaped."""
        said = "".join(
            f'<tr><td colspan="2" style="text-align:left;color:{COLOURS[tone]}">'
            f"<b>{_escaped(words)}</b></td></tr>"
            for words, tone in self.verdict
        )
        rows = "".join(
            f'<tr><th style="text-align:left">{_escaped(head)}</th>'
            f'<td style="text-align:left">{_escaped(value)}</td></tr>'
            for head, value in self.rows
        )
        note = f"<p>{_escaped(self.note)}</p>" if self.note else ""
        return f"<table><caption>{_escaped(self.title)}</caption>{said}{rows}</table>{note}"


def _clean(text: str) -> str:
    return one_line(text, LONGEST)


def _escaped(text: str) -> str:
    return html.escape(_clean(text))
