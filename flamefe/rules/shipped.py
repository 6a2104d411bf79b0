"""Rule cards that come with the package, calibrated by the studies in ``benchmarks/studies``."""

import json
from importlib.resources import files

from flamefe.basics.errors import OutOfRange
from flamefe.rules.card import RuleCard
from flamefe.rules.card_file import card_of

FOLDER = "cards"


def shipped_names() -> tuple[str, ...]:
    """Names of the cards that come with the package.

    Example:
        >>> "line heat, angular change" in shipped_names()
        True
    """
    folder = files("flamefe.rules") / FOLDER
    names = (entry.name for entry in folder.iterdir() if entry.name.endswith(".json"))
    return tuple(sorted(name.removesuffix(".json").replace("_", " ") for name in names))


def shipped_card(name: str) -> RuleCard:
    """A card that comes with the package.

    It speaks of simulated heats of the stated flame on S355; a shop's own heats make it its own
    (``flamefe calibrate shop.csv --rule NAME --prior CARD``).

    Args:
        name: one of `shipped_names`.

    Raises:
        OutOfRange: there is no such card.

    Example:
        >>> shipped_card("line heat, angular change").quantity
        'angular change at mid length'
    """
    if name not in shipped_names():
        raise OutOfRange(
            f"There is no card {name!r}; there are: {', '.join(shipped_names()) or 'none'}."
        )
    file = files("flamefe.rules") / FOLDER / f"{name.replace(' ', '_')}.json"
    return card_of(json.loads(file.read_text(encoding="utf-8")))
