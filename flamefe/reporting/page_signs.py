"""Which small drawing shows the positive direction of a measure."""

import re
from dataclasses import dataclass

from flamefe.reporting.summary import MeasureRow

_AXIS = re.compile(r"\(\+([xyz])\)|large ([xyz])|along ([xyz])\b")
_KINDS: tuple[tuple[str, str], ...] = (
    ("peak temperature", "heat"),
    ("angular change", "angle"),
    ("edge rise", "angle"),
    ("closing rotation", "closing"),
    ("tilt of the", ""),
    ("twist", "twist"),
    ("change of dishing", ""),
    ("dishing", "dishing"),
    ("flatness", "band"),
    ("distortion of a section", ""),
    ("width shrinkage", "narrower"),
    ("transverse shrinkage", "narrower"),
    ("shrinkage", "shorter"),
    ("shortening", "shorter"),
    ("change of extent", "longer"),
    ("camber", "arc"),
    ("sweep", "arc"),
    ("bow of bay", "arc"),
    ("bow", "arc"),
    ("largest tension", "tension"),
    ("largest compression", "compression"),
)


@dataclass(frozen=True, kw_only=True)
class Sign:
    """A small drawing of what a positive value means.

    Args:
        kind: which drawing; empty for none.
        axis: "+y" and the like, the direction in which its arrow points; "torch" when it points
            to the torch; empty for neither.
    """

    kind: str
    axis: str


def sign_of(row: MeasureRow) -> Sign:
    """The drawing for a measure.

    Example:
        >>> sign_of(MeasureRow(name="sweep", values=("1",), unit="mm",
        ...                    sign="+: middle lies on the far side (+y)"))
        Sign(kind='arc', axis='+y')
        >>> sign_of(MeasureRow(name="bow", values=("1",), unit="mm", sign="never below 0")).kind
        'band'
    """
    kind = next((drawn for start, drawn in _KINDS if start in row.name), "")
    if kind == "arc" and row.sign.startswith("never below"):
        kind = "band"
    found = _AXIS.search(row.sign)
    axis = "+" + next(letter for letter in found.groups() if letter) if found else ""
    if "torch" in row.sign:
        axis = "torch"
    if kind == "dishing":
        axis = "top"
    return Sign(kind=kind, axis=axis if kind in ("arc", "closing", "dishing", "angle") else "")
