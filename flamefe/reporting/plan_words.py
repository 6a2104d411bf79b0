"""Words that all texts about plans share: millimetres, shares, tables, cautions."""

from collections.abc import Sequence
from textwrap import wrap

from flamefe.basics.errors import FlamefeError
from flamefe.planning.problem import Problem
from flamefe.reporting.words import one_line
from flamefe.study.cautions import PRACTICE, cautions_about
from flamefe.workpiece.standard import material

MM = 1e3
WIDTH = 100
ASSUMED = "S355"


def millimetre(value: float, digits: int = 1) -> str:
    """A length with its sign, in mm.

    Args:
        value: m.
        digits: behind the point.

    Example:
        >>> millimetre(0.00123), millimetre(-0.00001), millimetre(-0.002, 2)
        ('+1.2', '0.0', '-2.00')
    """
    rounded = round(MM * value, digits)
    return f"{rounded:+.{digits}f}" if rounded else f"{0.0:.{digits}f}"


def percent(share: float) -> str:
    """A probability in words, never as a certainty that draws can't tell.

    Args:
        share: 0 to 1.

    Example:
        >>> percent(0.934), percent(0.0), percent(1.0), percent(0.004)
        ('93 %', 'under 0.1 %', 'over 99.9 %', '0.4 %')
    """
    if share < 0.001:
        return "under 0.1 %"
    if share > 0.999:
        return "over 99.9 %"
    if share > 0.99:
        return f"{100 * share:.1f} %"
    return f"{100 * share:.2g} %"


def table(rows: Sequence[Sequence[str]], indent: str = "  ") -> list[str]:
    """Rows as lines with their cells under each other.

    Args:
        rows: the first is the head.
        indent: before each line.

    Example:
        >>> table([("a", "b"), ("1", "22")])
        ['  a  b', '  1  22']
    """
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        (indent + "  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True))).rstrip()
        for row in rows
    ]


def folded(text: str, indent: str = "  ") -> list[str]:
    """A text as lines that are not too long, the later ones indented more.

    Args:
        text: one paragraph.
        indent: before the first line.
    """
    return wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent + "    ")


def caution_lines(problem: Problem) -> list[str]:
    """What can hurt someone, or the part, in the job.

    Args:
        problem: the job.
    """
    held = any(kind.device for kind in problem.library.kinds)
    try:
        metal = material(problem.material)
        said = list(cautions_about(metal, held=held, loaded=True))
    except FlamefeError:
        said = [
            text if not text.startswith("Heating limit") else _unknown(problem)
            for text in cautions_about(material(ASSUMED), held=held, loaded=True)
        ]
    said.insert(
        -1,
        "Overcorrection: a heat can't be taken back; when one looks stronger than planned, stop, "
        "let it cool and measure.",
    )
    assert said[-1].endswith(PRACTICE)
    return ["Cautions", *(line for text in said for line in folded(text))]


def _unknown(problem: Problem) -> str:
    named = f" of {one_line(problem.material)}" if problem.material else ""
    return (
        f"Heating limit: the limit{named} is not known here; take that of your code and of the "
        "steel's certificate, and check the surface with a crayon or a thermometer."
    )
