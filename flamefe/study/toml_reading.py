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
_LOST = '"this line could not be read"'
_HEADER_LINE = re.compile(r"\s*(?P<open>\[\[?)\s*(?P<key>[^\[\]=#]+?)\s*\]?\]?\s*(#.*)?$")
_DECIMAL_COMMA = re.compile(r"=\s*[+-]?\d+,\d+\s*(#.*)?$")
_UNIT_BEHIND = re.compile(r"=\s*[+-]?\d+(\.\d+)?\s*[A-Za-z%°/]")
_UNQUOTED = re.compile(r"=\s*[A-Za-z_]")
_WHERE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What came out of a TOML text.

    Args:
        values: the tables and values; None when the text can't be read at all.
        text: the text with a stand-in for the value in each line that can't be read.
        faults: a fault for each such line.
        lost: numbers of the lines with a stand-in.
    """

    values: Mapping[str, Any] | None
    text: str
    faults: tuple[Fault, ...]
    lost: tuple[int, ...]


def read_toml(text: str) -> Reading:
    """Read TOML; where the value of a line can't be read, a text stands in, and it is a fault.

    Example:
        >>> reading = read_toml('title = "x"\\nspeed = 6,5\\nlayers = 4')
        >>> reading.values["layers"], reading.lost
        (4, (2,))
        >>> print(reading.faults[0])
        line 2, column 10: this line
            Given: speed = 6,5. Allowed: a line that TOML allows. Write the decimal sign as a point.
    """
    faults: list[Fault] = []
    lost: list[int] = []
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
            _stand_in(lines, first, last, lost, twice=str(error).startswith("Cannot"))
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


def _stand_in(lines: list[str], first: int, last: int, lost: list[int], *, twice: bool) -> None:
    """Put a text in place of the value; make the line empty where that didn't or won't help.

    A table's header gets the brackets that it lacks.
    """
    header = _HEADER_LINE.match(lines[first])
    if header:
        lines[first] = f"{header['open']}{header['key']}{']' * len(header['open'])}"
        return
    key = _KEY_LINE.match(lines[first])
    lines[first : last + 1] = [""] * (last + 1 - first)
    if key and not twice and first + 1 not in lost:
        lines[first] = f"{key[0]} {_LOST}"
        lost.append(first + 1)


def _syntax_fault(message: str, lines: list[str]) -> tuple[int | None, int, Fault]:
    """First and last line (from 0) to skip, or None when none can be; and the fault."""
    found = _WHERE.search(message)
    what = message[: found.start()] if found else message
    row = int(found[1]) - 1 if found and found[1] else len(lines) - 1
    column = int(found[2]) if found and found[2] else len(lines[row]) + 1
    row = min(row, len(lines) - 1)
    header = _HEADER_LINE.match(lines[row])
    mended = header and lines[row].count("]") != lines[row].count("[")
    first: int | None = row if _KEY_LINE.match(lines[row]) or mended else None
    last = row
    if what.startswith(("Unclosed array", "Unclosed inline")) or first is None:
        opened = _opened_before(lines, row)
        if opened is not None:
            first, last = opened, max(opened, row - 1)
    line = row if first is None else first
    column = column if line == row else len(lines[line]) - len(lines[line].lstrip()) + 1
    fault = Fault(
        path=(), given=_given(lines[line]), allowed="a line that TOML allows", line=line + 1,
        column=column,
        advice=_hint(what, lines[line]),
    )  # fmt: skip
    return first, last, fault


def _opened_before(lines: list[str], row: int) -> int | None:
    """The line with a key whose brackets are still open when ``row`` begins."""
    for number in range(row - 1, -1, -1):
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
    if _HEADER_LINE.match(line) and line.count("[") != line.count("]"):
        return "Close as many brackets as are opened."
    if what.startswith("Unclosed"):
        return "Close the bracket that is opened here."
    if _UNQUOTED.search(line) or "Illegal character" in what:
        return f'Put text in "quotes". ({what}.)'
    return f"{what}."
