"""From TOML text to values, past lines that can't be read, so that all faults show at once."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from flamefe.study.faults import Fault, shown

MOST_CHARACTERS = 2_000_000
"""A longer text is refused."""
_MOST_SYNTAX_FAULTS = 30

_KEY_LINE = re.compile(r"\s*(?P<key>[A-Za-z0-9_-]+|\"[^\"]*\")(\s*\.\s*[A-Za-z0-9_\"-]+)*\s*=")
_LAST_KEY = re.compile(r"([A-Za-z0-9_-]+)\"?\s*=")
_DECIMAL_COMMA = re.compile(r"=\s*[+-]?\d+,\d+\s*(#.*)?$")
_UNIT_BEHIND = re.compile(r"=\s*[+-]?\d+(\.\d+)?\s*[A-Za-z%°/]")
_UNQUOTED = re.compile(r"=\s*[A-Za-z_]")
_WHERE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What came out of a TOML text.

    Args:
        values: the tables and values; None when the text can't be read at all.
        text: the text with lines that can't be read made empty.
        faults: a fault for each such line.
        lost: the keys of such lines, with their line numbers.
    """

    values: Mapping[str, Any] | None
    text: str
    faults: tuple[Fault, ...]
    lost: tuple[tuple[str, int], ...]


def read_toml(text: str) -> Reading:
    """Read TOML; a line ``key = value`` that can't be read is skipped and becomes a fault.

    Example:
        >>> reading = read_toml('title = "x"\\nspeed = 6,5\\nlayers = 4')
        >>> reading.values, reading.lost
        ({'title': 'x', 'layers': 4}, (('speed', 2),))
        >>> print(reading.faults[0])
        line 2, column 10: the case
            Given: speed = 6,5. Allowed: TOML. Write the decimal sign as a point.
    """
    faults: list[Fault] = []
    lost: list[tuple[str, int]] = []
    if len(text) > MOST_CHARACTERS:
        return Reading(values=None, text="", lost=(), faults=(Fault(
            path=(), given=f"a text of {len(text)} characters",
            allowed=f"up to {MOST_CHARACTERS} characters", advice="Give a case file.", line=1,
        ),))  # fmt: skip
    lines = text.replace("\r\n", "\n").split("\n")
    while True:
        try:
            values = tomllib.loads("\n".join(lines))
        except tomllib.TOMLDecodeError as error:
            first, last, fault = _syntax_fault(str(error), lines)
            faults.append(fault)
            if first is None or len(faults) >= _MOST_SYNTAX_FAULTS:
                return Reading(values=None, text="\n".join(lines), faults=tuple(faults),
                               lost=tuple(lost))  # fmt: skip
            lost += [(key, first + 1) for key in _LAST_KEY.findall(lines[first])[:1]]
            lines[first : last + 1] = [""] * (last + 1 - first)
        except (RecursionError, ValueError) as error:
            deep = isinstance(error, RecursionError)
            fault = Fault(
                path=(), given="brackets nested too deep" if deep else f"{shown(str(error))}",
                allowed="TOML", advice="Take it out.", line=1,
            )  # fmt: skip
            return Reading(values=None, text="\n".join(lines), faults=(*faults, fault),
                           lost=tuple(lost))  # fmt: skip
        else:
            return Reading(values=values, text="\n".join(lines), faults=tuple(faults),
                           lost=tuple(lost))  # fmt: skip


def _syntax_fault(message: str, lines: list[str]) -> tuple[int | None, int, Fault]:
    """First and last line (from 0) to skip, or None when none can be; and the fault."""
    found = _WHERE.search(message)
    what = message[: found.start()] if found else message
    row = int(found[1]) - 1 if found and found[1] else len(lines) - 1
    column = int(found[2]) if found and found[2] else len(lines[row]) + 1
    row = min(row, len(lines) - 1)
    first: int | None = row if _KEY_LINE.match(lines[row]) else None
    last = row
    if what.startswith(("Unclosed array", "Unclosed inline")) or first is None:
        opened = _opened_before(lines, row)
        if opened is not None:
            first, last = opened, max(opened, row - 1)
    line = row if first is None else first
    column = column if line == row else len(lines[line]) - len(lines[line].lstrip()) + 1
    fault = Fault(
        path=(), given=_given(lines[line]), allowed="TOML", line=line + 1, column=column,
        advice=_hint(what, lines[line]),
    )  # fmt: skip
    return first, last, fault


def _opened_before(lines: list[str], row: int) -> int | None:
    """The line with a key whose brackets are still open when ``row`` begins."""
    for number in range(row - 1, -1, -1):
        if lines[number].lstrip().startswith("[") and not lines[number].lstrip().startswith("[["):
            depth_only = _depth(lines[number : row])
            if depth_only <= 0:
                return None
        if _KEY_LINE.match(lines[number]):
            return number if _depth(lines[number:row]) > 0 else None
    return None


def _depth(lines: list[str]) -> int:
    """How many brackets are open after some lines, leaving text in quotes and remarks aside."""
    depth = 0
    for line in lines:
        bare = re.sub(r"\"(?:\\.|[^\"\\])*\"|'[^']*'|#.*", "", line)
        depth += sum(c in "[{" for c in bare) - sum(c in "]}" for c in bare)
    return depth


def _given(line: str) -> str:
    text = shown(line.strip())[1:-1]
    return text or "the end of the text"


def _hint(what: str, line: str) -> str:
    if _DECIMAL_COMMA.search(line):
        return "Write the decimal sign as a point."
    if _UNIT_BEHIND.search(line):
        return "Write the number alone; the unit is in the key."
    if what.startswith("Cannot overwrite"):
        return "This key was given before; keep one of the two."
    if what.startswith("Cannot declare"):
        return "This table was given before; keep one, or use [[...]] for several."
    if what.startswith("Unclosed"):
        return "Close the bracket that is opened here."
    if _UNQUOTED.search(line) or "Illegal character" in what:
        return f'Put text in "quotes". ({what}.)'
    return f"{what}."
