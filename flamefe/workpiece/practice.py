"""What practice allows a kind of metal: how hot, for how long, how deep, and whether with water."""

from dataclasses import dataclass

_CEN = "CEN/TR 10347:2006 chapter 6, flame straightening (from memory, uncertain)"
_WATER = "IACS Recommendation 47, water just after heating below 650 C (from memory)"
SHORT_S = 120.0
"""What counts as short heating, s. The report's own wording is not remembered: no source."""


@dataclass(frozen=True, kw_only=True)
class HeatingPractice:
    """Limits for a kind of metal by how deep and how long it is heated.

    Args:
        short_C: short heating of the surface alone, C.
        through_C: short heating through the full section, C.
        long_C: longer heating, C.
        source: of these.
        water: whether it may be cooled with water.
        water_below_C: surface temperature below which water may start, C.
        water_reason: why, or why not.
        known: False where nothing is known of the kind.
        melts_C: about where it begins to melt, C (from memory).

    Example:
        >>> practice_for("quenched and tempered steel").water
        False
    """

    short_C: float | None
    through_C: float | None
    long_C: float | None
    source: str
    water: bool = True
    water_below_C: float | None = None
    water_reason: str = ""
    known: bool = True
    melts_C: float | None = None


_PRACTICE = {
    "carbon steel": HeatingPractice(
        melts_C=1450.0,
        short_C=900.0, through_C=700.0, long_C=650.0, source=_CEN, water_below_C=650.0,
        water_reason=_WATER,
    ),
    "fine-grain steel": HeatingPractice(
        melts_C=1450.0,
        short_C=900.0, through_C=700.0, long_C=650.0, source=_CEN, water_below_C=650.0,
        water_reason=_WATER,
    ),
    "thermomechanical steel": HeatingPractice(
        melts_C=1450.0,
        short_C=900.0, through_C=700.0, long_C=650.0, source=_CEN, water_below_C=650.0,
        water_reason=_WATER,
    ),
    "strong thermomechanical steel": HeatingPractice(
        melts_C=1450.0,
        short_C=900.0, through_C=600.0, long_C=550.0, source=_CEN, water_below_C=550.0,
        water_reason="no faster than its rolling did it; common practice, no source",
    ),
    "quenched and tempered steel": HeatingPractice(
        melts_C=1450.0,
        short_C=550.0, through_C=550.0, long_C=550.0,
        source="20 to 30 K below the tempering temperature, usually 550 C: " + _CEN,
        water=False,
        water_reason="water may harden and crack a quenched and tempered steel; common practice, "
        "no source",
    ),
    "stainless steel": HeatingPractice(
        melts_C=1400.0,
        short_C=700.0, through_C=650.0, long_C=650.0,
        source="austenitic grades, quickly and without zinc nearby: " + _CEN,
        water_reason="quick cooling keeps its resistance to corrosion; common practice, no source",
    ),
    "aluminium": HeatingPractice(
        melts_C=575.0,
        short_C=None, through_C=None, long_C=None,
        source="by its temper, see the material's own limit",
        water_reason="common practice, no source",
    ),
}  # fmt: skip
_UNKNOWN = HeatingPractice(
    short_C=None, through_C=None, long_C=None, source="nothing known of this kind", known=False
)


def practice_for(family: str) -> HeatingPractice:
    """Practice for a kind of metal, as a material's ``family`` tells it.

    Args:
        family: for instance "carbon steel"; of another kind nothing is known.

    Example:
        >>> practice_for("thermomechanical steel").through_C, practice_for("brass").known
        (700.0, False)
    """
    return _PRACTICE.get(family, _UNKNOWN)
