"""A small girder with wedges, as numbers."""

import numpy as np
import pytest

from flamefe.planning.candidate import Candidate, HeatKind, Library
from flamefe.planning.effect import HeatEffect
from flamefe.planning.members import Girder
from flamefe.planning.seats import MemberHeat


def _girder_library(
    *, length=12.0, count=5, stations=5, sizes=(("s", 1e-3), ("l", 2e-3)), kinds=None, sides=None
):
    kinds = kinds or (HeatKind(name="wedge"),)
    x = np.linspace(0.0, length, count + 2)[1:-1]
    girder = Girder(length=length, stations=x, measured=("camber",))
    heats = []
    for kind in kinds:
        for s in np.linspace(0.08 * length, 0.92 * length, stations):
            for side in sides or ("top", "bottom"):
                z = 0.3 if side == "top" else -0.3
                for size, turn in sizes:
                    effect = HeatEffect(kind=kind.name, rotation_y=turn, source="made up").on(side)
                    heat = MemberHeat(name="w", effect=effect, station=float(s))
                    heats.append(
                        Candidate(
                            name=f"{kind.name} {size} {side} {s:.2f}",
                            kind=kind.name,
                            size=size,
                            place=f"{kind.name} {side} {s:.2f}",
                            side=side,
                            position=(float(s), 0.0, z),
                            moves=girder.influence([heat])[:, 0],
                        )
                    )
    return x, Library(kinds=tuple(kinds), candidates=tuple(heats))


@pytest.fixture(scope="session")
def girder_library():
    """Makes places (n,) m and a library of wedges on a girder."""
    return _girder_library
