"""What a picture's file holds, by its name's end: dots (PNG) or an SVG round them."""

import base64
import html
import struct
from pathlib import Path

from flamefe.basics.errors import OutOfRange
from flamefe.basics.words import one_line

KINDS = ("png", "svg")


class NoSuchPicture(OutOfRange):
    """A file of a kind that no picture can be written as."""


def kind_of(file: str | Path) -> str:
    """Kind of a picture by the end of its file's name: "png", also without one, or "svg".

    Raises:
        NoSuchPicture: it ends in something else.

    Example:
        >>> kind_of("hottest.PNG"), kind_of("shape.svg")
        ('png', 'svg')
    """
    path = Path(file)
    kind = path.suffix.lower().lstrip(".") or "png"
    if kind not in KINDS:
        raise NoSuchPicture(
            f"A picture can't be written as {path.name!r}; give a file that ends in "
            f"{' or '.join('.' + one for one in KINDS)}."
        )
    return kind


def framed(dots: bytes, title: str) -> str:
    """An SVG that holds a PNG in itself, as wide and high as its dots.

    Args:
        dots: the PNG.
        title: what it shows, for those who can't see it.

    Example:
        >>> head = bytes(16) + (2).to_bytes(4, "big") + (1).to_bytes(4, "big")
        >>> print(framed(head, "hot & cold").splitlines()[1])
        <title>hot &amp; cold</title>
    """
    width, height = struct.unpack(">II", dots[16:24])
    data = base64.b64encode(dots).decode("ascii")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" role="img">\n'
        f"<title>{html.escape(one_line(title))}</title>\n"
        f'<image width="{width}" height="{height}" href="data:image/png;base64,{data}"/>\n'
        "</svg>\n"
    )
