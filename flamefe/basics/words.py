"""Texts from outside made fit for one line, and numbers made fit for reading."""

import unicodedata


def one_line(text: object, longest: int = 100) -> str:
    """Return ``text`` on one line, without control characters, at most ``longest`` long.

    Args:
        text: anything a case file may hold as a title or name.
        longest: allowed length; a longer text ends in "...".

    Example:
        >>> one_line("a  title\\nwith \\x1b[31mtricks")
        'a title with [31mtricks'
        >>> one_line("x" * 50, longest=10)
        'xxxxxxx...'
    """
    spaced = " ".join(str(text).split())
    clean = "".join(c for c in spaced if unicodedata.category(c)[0] != "C")
    return clean if len(clean) <= longest else clean[: longest - 3].rstrip() + "..."


def number(value: float | None, digits: int = 4) -> str:
    """Return ``value`` with so many significant digits, never as 1e+03.

    Example:
        >>> number(0.00012345), number(12345.6), number(-0.0), number(None)
        ('0.0001234', '12346', '0', '-')
    """
    if value is None:
        return "-"
    if value == 0:
        return "0"
    if 10 ** (digits - 1) <= abs(value) < 1e9:
        return f"{value:.0f}"
    return f"{value:.{digits}g}"
