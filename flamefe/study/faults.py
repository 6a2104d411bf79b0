"""What is wrong with a case: each fault with its place, what was given, what is allowed."""

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from flamefe.basics.errors import FlamefeError

Path = tuple[str | int, ...]

_ONE_OF_A_LIST = {
    "heats": "heat",
    "supports": "support",
    "loads": "load",
    "inherent_strain": "box",
}


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One thing in a case that can't be used.

    Args:
        path: where in the case, as keys and list positions (from 0).
        given: what stands there, or what it leads to.
        allowed: what may stand there.
        advice: what to do about it.
        file: name of the case file; empty for a case made in Python.
        line: line in that file, from 1; None when there is no file.
        column: character in that line, from 1; None when there is no file.

    Example:
        >>> fault = Fault(path=("heats", 1, "speed_mm_s"), given="-3", allowed="0.1 to 200",
        ...               advice="Give the flame's speed in mm/s.", file="wall.toml", line=12,
        ...               column=1)
        >>> fault.place
        'heats[1].speed_mm_s'
        >>> print(fault)
        wall.toml, line 12, column 1: heats[1].speed_mm_s (heat 2)
            Given: -3. Allowed: 0.1 to 200. Give the flame's speed in mm/s.
    """

    path: Path
    given: str
    allowed: str
    advice: str
    file: str = ""
    line: int | None = None
    column: int | None = None

    @property
    def place(self) -> str:
        """The path in words: keys joined by points, list positions (from 0) in brackets."""
        words = ""
        for step in self.path:
            if isinstance(step, int):
                words += f"[{step}]"
            else:
                name = step if _is_bare(step) else shown(step)
                words += f".{name}" if words else name
        return words or ("this line" if self.line is not None else "the case")

    def __str__(self) -> str:
        where = [shown_plain(self.file)] if self.file else []
        if self.line is not None:
            where.append(f"line {self.line}")
            if self.column is not None:
                where.append(f"column {self.column}")
        ahead = ", ".join(where) + ": " if where else ""
        return (
            f"{ahead}{self.place}{self._counted()}\n"
            f"    Given: {self.given}. Allowed: {self.allowed}. {self.advice}"
        )

    def _counted(self) -> str:
        """Number of the heat, support, load or box as people count, from 1."""
        if len(self.path) > 1 and isinstance(self.path[1], int):
            word = _ONE_OF_A_LIST.get(str(self.path[0]))
            if word:
                return f" ({word} {self.path[1] + 1})"
        return ""


class CaseError(FlamefeError):
    """A case has faults; all of them are in ``faults``, in the order of the file.

    List positions in a fault's place count from 0, as in Python; beside them stands the number
    as people count ("heat 2").

    Example:
        >>> from flamefe.study.case import Flame
        >>> try:
        ...     Flame(power_kW=-7, radius_mm=18)
        ... except CaseError as error:
        ...     print(len(error.faults), error.faults[0].path)
        1 ('power_kW',)
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(
            sorted(faults, key=lambda f: (f.line or 0, f.column or 0))
        )
        super().__init__(self.faults)

    def __str__(self) -> str:
        number = len(self.faults)
        head = f"The case has {number} fault{'' if number == 1 else 's'}:"
        return "\n".join([head, *(str(fault) for fault in self.faults)])


_MOST_COMPARED = 500


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that is most like ``word``, or None when none is alike.

    Units at the end and upper or lower case don't count much.

    Example:
        >>> nearest("speed", ["power_kW", "speed_mm_s"])
        'speed_mm_s'
        >>> nearest("s335", ["S235", "S355", "5083-O"])
        'S355'
        >>> nearest("colour", ["power_kW", "speed_mm_s"]) is None
        True
    """
    by_small = {name.lower(): name for name in list(known)[:_MOST_COMPARED]}
    small = word.lower()[:100]
    found = difflib.get_close_matches(small, by_small, n=1, cutoff=0.55)
    if found:
        return by_small[found[0]]
    stem = small.split("_")[0]
    starts = [name for key, name in by_small.items() if len(stem) > 2 and key.startswith(stem)]
    return starts[0] if len(starts) == 1 else None


def choose(word: str, known: Iterable[str]) -> tuple[str, str]:
    """What is allowed and what to do for a word that isn't one of the known ones."""
    words = sorted(known)
    guess = nearest(word, words)
    allowed = ("one of " if len(words) > 1 else "") + ", ".join(shown(w) for w in words[:20])
    if len(words) > 20:
        allowed += f" and {len(words) - 20} more"
    advice = f"Did you mean {shown(guess)}?" if guess else "Use one of these."
    return (allowed, advice) if words else ("none is defined", "Define it, or leave this out.")


def shown(value: Any) -> str:
    """A value as one short line of plain text: nothing in it is obeyed, big things are named.

    Example:
        >>> shown("S355"), shown(True), shown([1, 2]), shown({"a": 1}), shown(float("nan"))
        ('"S355"', 'true', '[1, 2]', 'a table', 'nan')
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{shown_plain(value)}"'
    if isinstance(value, int):
        return str(value) if abs(value) < 10**20 else "a whole number of more than 20 digits"
    if isinstance(value, float):
        return f"{value:g}"
    if value is None:
        return "nothing"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        if len(value) <= 8 and all(isinstance(v, int | float | str) for v in value):
            return "[" + ", ".join(shown(v) for v in value) + "]"
        return f"a list of {len(value)}"
    return f"a {type(value).__name__}"


def shown_plain(text: str) -> str:
    """Text in one line of at most 80 characters; what can't be printed is shown as an escape."""
    cut = text if len(text) <= 80 else text[:77] + "..."
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in cut)


def _is_bare(key: str) -> bool:
    return bool(key) and len(key) < 80 and all(c.isalnum() or c in "_-" for c in key)
