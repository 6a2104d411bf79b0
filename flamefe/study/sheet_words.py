"""What to doubt in a sheet that can buckle, and what the watch over its stability saw."""

from flamefe.straining.history import StrainHistory
from flamefe.straining.stability import SLENDER
from flamefe.study.case import Bar, Case, Plate


def sheet_words(case: Case, strain: StrainHistory) -> list[str]:
    """Warnings, in words."""
    return [*(event.words for event in strain.events), *sheet_doubts(case)]


def sheet_doubts(case: Case) -> list[str]:
    """What to doubt in a sheet before it is run, in words."""
    said: list[str] = []
    piece = case.workpiece
    if not isinstance(piece, Plate | Bar):
        if case.solve.stability == "never":
            said.append(f"{_NEVER} {_WRONG}")
        return said
    side = min(piece.length_mm, piece.width_mm if isinstance(piece, Plate) else piece.depth_mm)
    slender = side > SLENDER * piece.thickness_mm
    panel = f"A panel {side:g} mm wide and {piece.thickness_mm:g} mm thick"
    if slender and case.solve.geometry == "small":
        said.append(
            f"{panel} may buckle while it is hot, but in small geometry nothing buckles in the "
            'run; take geometry = "finite".'
        )
    elif case.solve.stability == "never":
        said.append(f"{_NEVER} {panel} may buckle while it is hot. {_WRONG}" if slender else _NEVER)
    elif slender and case.initial_shape is None:
        said.append(
            f"{panel} is taken as perfectly flat, and no real one is. Give it an initial_shape: "
            "which way it pops out, and when, depends on it."
        )
    return said


_NEVER = 'Stability was not checked, as asked (stability = "never").'
_WRONG = (
    "The run follows one equilibrium and does not test whether it is stable: it may stay flat "
    "where a real sheet pops out, and shrink twice as much, with nothing in the result to show it."
)
