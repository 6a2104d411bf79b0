"""A sheet of A4 paper on which words, lines and tables are put in millimetres."""

import io
import warnings
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from flamefe.reporting.charts import INK, PALE

WIDTH, HEIGHT = 210.0, 297.0
"""A4, mm."""
INCH = 25.4
SMALLEST_PT = 7.0
"""No word on paper is smaller."""
LEADING = 1.22
"""Distance of lines, by the height of the letters' body."""


class Box(NamedTuple):
    """A rectangle on the paper, mm from its lower left corner."""

    left: float
    low: float
    right: float
    high: float

    def grown(self, by: float) -> "Box":
        """The rectangle with a margin round it."""
        return Box(self.left - by, self.low - by, self.right + by, self.high + by)

    def meets(self, other: "Box") -> bool:
        """Whether two rectangles overlap.

        Example:
            >>> Box(0, 0, 10, 10).meets(Box(9, 9, 20, 20)), Box(0, 0, 1, 1).meets(Box(1, 0, 2, 1))
            (True, False)
        """
        across = self.left < other.right and other.left < self.right
        return across and self.low < other.high and other.low < self.high


class Paper:
    """An empty A4 page; all places and lengths are mm from its lower left corner.

    Example:
        >>> page = Paper()
        >>> page.text(20, 280, "Heat sheet", size=12)
        >>> page.figure.get_size_inches().round(2).tolist()
        [8.27, 11.69]
    """

    def __init__(self) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.figure: Any = Figure(figsize=(WIDTH / INCH, HEIGHT / INCH), dpi=200, facecolor="white")
        FigureCanvasAgg(self.figure)
        self.axes: Any = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_axis_off()
        self.axes.set_xlim(0.0, WIDTH)
        self.axes.set_ylim(0.0, HEIGHT)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = SMALLEST_PT,
        bold: bool = False,
        colour: str = INK,
        align: str = "left",
        upright: str = "baseline",
        turned: float = 0.0,
        halo: bool = False,
    ) -> None:
        """Put one line of words; nothing in it is taken for mathematics.

        Args:
            x, y: where, mm.
            words: on one line.
            size: pt, at least 7.
            bold: whether in bold letters.
            colour: of the letters.
            align: "left", "center" or "right" of x.
            upright: "baseline", "center", "top" or "bottom" at y.
            turned: by how many degrees, counterclockwise.
            halo: whether the paper shows white round the letters.
        """
        effects = []
        if halo:
            from matplotlib.patheffects import withStroke

            effects = [withStroke(linewidth=2.2, foreground="white")]
        self.axes.text(
            x, y, words, fontsize=max(size, SMALLEST_PT), weight="bold" if bold else "normal",
            color=colour, ha=align, va=upright, rotation=turned, rotation_mode="anchor",
            parse_math=False, path_effects=effects, zorder=9,
        )  # fmt: skip

    def line(
        self,
        places: Sequence[tuple[float, float]],
        *,
        width: float = 0.35,
        colour: str = INK,
        style: Any = "-",
        over: float = 3.0,
    ) -> None:
        """Draw a line through places; its width in pt."""
        x, y = zip(*places, strict=True)
        self.axes.plot(
            x, y, color=colour, lw=width, ls=style, zorder=over, solid_capstyle="butt",
            solid_joinstyle="miter",
        )  # fmt: skip

    def shape(
        self,
        places: Sequence[tuple[float, float]],
        *,
        fill: str | None = None,
        edge: str | None = INK,
        width: float = 0.6,
        style: Any = "-",
        alpha: float | None = None,
        hatch: str | None = None,
        over: float = 2.0,
    ) -> None:
        """Draw a closed shape."""
        from matplotlib.patches import Polygon

        self.axes.add_patch(
            Polygon(
                list(places), closed=True, fc=fill or "none", ec=edge or "none", lw=width,
                ls=style, alpha=alpha, hatch=hatch, zorder=over,
            )
        )  # fmt: skip

    def rectangle(self, box: Box, **look: Any) -> None:
        """Draw a rectangle; looks as of ``shape``."""
        left, low, right, high = box
        self.shape([(left, low), (right, low), (right, high), (left, high)], **look)

    def arrow(
        self,
        tail: tuple[float, float],
        tip: tuple[float, float],
        *,
        width: float = 0.8,
        colour: str = INK,
        head: float = 7.0,
        ends: str = "-|>",
        over: float = 5.0,
    ) -> None:
        """Draw an arrow from its tail to its tip; "<|-|>" has two heads."""
        from matplotlib.patches import FancyArrowPatch

        self.axes.add_patch(
            FancyArrowPatch(
                tail, tip, arrowstyle=ends, color=colour, lw=width, mutation_scale=head,
                shrinkA=0.0, shrinkB=0.0, zorder=over,
            )
        )  # fmt: skip


def text_width(words: str, size: float, *, bold: bool = False) -> float:
    """Width of a line of words, mm.

    Example:
        >>> 10 < text_width("heat sheet", 8) < 20
        True
    """
    parts = words.split(" ")
    spaces = (len(parts) - 1) * _width(" ", bold)
    return (sum(_width(part, bold) for part in parts) + spaces) * size


def text_height(size: float) -> float:
    """Distance from line to line, mm.

    Example:
        >>> round(text_height(7.0), 2)
        3.01
    """
    return LEADING * size * INCH / 72.0


def wrapped(words: str, width: float, size: float, *, bold: bool = False) -> list[str]:
    """Words as lines that are no wider than ``width`` mm; a word that is wider is cut apart.

    Lines are broken at plain spaces alone.

    Example:
        >>> wrapped("one two three", 12, 8)
        ['one two', 'three']
    """
    lines = [""]
    for word in _pieces(words, width, size, bold):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if lines[-1] and text_width(longer, size, bold=bold) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def fitted(words: str, width: float, size: float, *, bold: bool = False) -> str:
    """Words on one line that is no wider than ``width`` mm; what is too long ends in "...".

    Example:
        >>> fitted("a very long title", 16, 8)
        'a very lo...'
    """
    if text_width(words, size, bold=bold) <= width:
        return words
    few, many = 0, len(words)
    while few < many:
        middle = (few + many + 1) // 2
        if text_width(words[:middle].rstrip() + "...", size, bold=bold) <= width:
            few = middle
        else:
            many = middle - 1
    return words[:few].rstrip() + "..."


def _pieces(words: str, width: float, size: float, bold: bool) -> list[str]:
    result = []
    for word in filter(None, words.split(" ")):
        while text_width(word, size, bold=bold) > width and len(word) > 1:
            few = max(1, len(fitted(word, width, size, bold=bold)) - 3)
            result.append(word[:few])
            word = word[few:]
        result.append(word)
    return result


@lru_cache(maxsize=20_000)
def _width(words: str, bold: bool) -> float:
    """Width of words in letters of 1 pt, mm."""
    large = 72.0
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")
        across, _, _ = _pen().get_text_width_height_descent(words, _letters(bold), ismath=False)
    return float(across) * INCH / 72.0 / large


@lru_cache(maxsize=2)
def _letters(bold: bool) -> Any:
    from matplotlib.font_manager import FontProperties

    return FontProperties(size=72.0, weight="bold" if bold else "normal")


@lru_cache(maxsize=1)
def _pen() -> Any:
    from matplotlib.backends.backend_agg import RendererAgg

    agg: Any = RendererAgg
    return agg(10, 10, 72.0)


def as_paper(pages: Sequence[Paper], kind: str) -> bytes:
    """Pages as "pdf" (all of them), "svg" or "png" (the first).

    In SVG the letters are drawn as shapes, so that they stand where they were put whatever fonts
    the reader has; in PDF they stay text.

    Example:
        >>> as_paper([Paper()], "pdf")[:5]
        b'%PDF-'
    """
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    put = io.BytesIO()
    look: dict[Any, Any] = {"svg.fonttype": "path", "svg.hashsalt": "flamefe", "pdf.fonttype": 42}
    with rc_context(look), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")  # a script without a font
        if kind == "pdf":
            nothing = {"CreationDate": None, "Creator": None, "Producer": None}
            with PdfPages(put, metadata=nothing) as book:
                for page in pages:
                    book.savefig(page.figure)
        else:
            fixed = {"svg": {"Date": None, "Creator": None}, "png": {"Software": None}}[kind]
            pages[0].figure.savefig(put, format=kind, metadata=fixed)
    return put.getvalue()


def rule(paper: Paper, left: float, right: float, y: float, *, strong: bool = False) -> None:
    """A thin line across the paper.

    Example:
        >>> rule(Paper(), 10, 200, 150)
    """
    paper.line(
        [(left, y), (right, y)], width=0.8 if strong else 0.3, colour=INK if strong else PALE
    )
