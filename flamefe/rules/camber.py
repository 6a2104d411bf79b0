"""Camber by several heats along a bar: exact geometry of a chain of straight pieces.

::

           o-----o                each heat turns the axis by phi; between heats it is straight
        o'         'o
      o               o           camber: distance of the middle of the axis from the chord
     start  - chord -  end

A rotation above 0 closes the far side, and the camber is then below 0 (the middle moves to the
near side), the signs of the bar's measures.
"""

import math
from collections.abc import Sequence

from flamefe.basics.errors import OutOfRange
from flamefe.rules.given import need_positive

SOURCE = "derived: exact geometry of straight pieces of constant length"
MOST_HEATS = 10_000


def camber_of_rotations(
    rotations: Sequence[float], stations: Sequence[float], length: float
) -> float:
    """Distance of the middle of a kinked axis from the chord through its ends, m.

    For one rotation in the middle it is -L/2 sin(phi/2), about -phi L / 4.

    Args:
        rotations: phi of each heat, rad, either sign; positive closes the far side.
        stations: where each heat stands along the bar, m from its start, 0 to L.
        length: L along the axis, m.

    Raises:
        OutOfRange: not as many stations as rotations, one isn't on the bar, or the length isn't
            positive.

    Range: rotations of any size; heats that don't change one another.
    Source: see ``SOURCE``.

    Examples:
        4 mrad in the middle of 0.6 m, mm:

        >>> round(camber_of_rotations([0.004], [0.3], 0.6) * 1e3, 4)
        -0.6
    """
    need_positive(length=length)
    if len(rotations) != len(stations):
        raise OutOfRange(
            f"{len(rotations)} rotations and {len(stations)} stations; give one station a heat."
        )
    for station in stations:
        if not 0 <= station <= length:
            raise OutOfRange(
                f"A heat stands at {station:g} m, it must lie on the bar, 0 to {length:g} m."
            )
    order = sorted(range(len(stations)), key=lambda i: stations[i])
    knots = [(stations[i], rotations[i]) for i in order]
    x = y = heading = done = 0.0
    middle = (0.0, 0.0)
    for station, turn in (*knots, (length, 0.0)):
        if done <= length / 2 <= station:
            ahead = length / 2 - done
            middle = (x + ahead * math.cos(heading), y + ahead * math.sin(heading))
        x += (station - done) * math.cos(heading)
        y += (station - done) * math.sin(heading)
        heading, done = heading + turn, station
    chord = math.hypot(x, y)
    if chord < 1e-9 * length:
        raise OutOfRange("The bar is bent round until its ends meet; there is no chord.")
    return (middle[1] * x - middle[0] * y) / chord


def stations_about_middle(count: int, spacing: float, length: float) -> tuple[float, ...]:
    """Stations of equal heats, evenly about the middle of the length, m.

    Args:
        count: number of heats, at least 1.
        spacing: from one to the next, m.
        length: of the bar, m.

    Raises:
        OutOfRange: there is no heat, or they don't fit on the bar.

    Examples:
        >>> stations_about_middle(3, 0.5, 2.0)
        (0.5, 1.0, 1.5)
    """
    need_positive(spacing=spacing, length=length)
    if not 1 <= count <= MOST_HEATS:
        raise OutOfRange(f"{count} heats; allowed: 1 to {MOST_HEATS}.")
    reach = (count - 1) * spacing
    if reach > length * (1 + 1e-9):
        raise OutOfRange(
            f"{count} heats every {1e3 * spacing:g} mm take {1e3 * reach:g} mm, more than the "
            f"bar of {1e3 * length:g} mm; set them closer or take fewer."
        )
    first = max((length - reach) / 2, 0.0)
    return tuple(min(first + i * spacing, length) for i in range(count))


def camber_of_equal_heats(rotation: float, count: int, spacing: float, length: float) -> float:
    """Camber by n equal heats evenly about the middle of the length, m.

    About -phi (n L / 4 - s (n^2 - 1) / 8) for an odd number n, - phi (n L / 4 - s n^2 / 8) for an
    even one, spaced by s; computed exactly.

    Args:
        rotation: phi of each, rad; positive closes the far side.
        count: n.
        spacing: s, m.
        length: L, m.

    Raises:
        OutOfRange: see `stations_about_middle`.

    Range: heats that don't change one another: a spacing of at least the bar's depth (chosen
    here); heating the same place again gives less.
    Source: see ``SOURCE``.

    Examples:
        Three heats of 2.5 mrad, 0.5 m apart, on 6 m, mm:

        >>> round(camber_of_equal_heats(0.0025, 3, 0.5, 6.0) * 1e3, 2)
        -10.0
    """
    stations = stations_about_middle(count, spacing, length)
    return camber_of_rotations([rotation] * count, stations, length)


def heats_for_camber(camber: float, rotation: float, spacing: float, length: float) -> int:
    """Fewest equal heats about the middle that make at least a camber, by size.

    Args:
        camber: wanted, m, either sign.
        rotation: phi of each, rad, either sign.
        spacing: s, m.
        length: L, m.

    Raises:
        OutOfRange: the heats that fit on the bar don't make it.

    Range and source: as for `camber_of_equal_heats`; a first guess, measure and count again.

    Examples:
        >>> heats_for_camber(0.012, 0.0025, 0.5, 6.0)
        4
    """
    need_positive(camber=abs(camber), rotation=abs(rotation), spacing=spacing, length=length)
    fit = min(int(length / spacing * (1 + 1e-9)) + 1, MOST_HEATS)
    most = 0.0
    for count in range(1, fit + 1):
        made = abs(camber_of_equal_heats(rotation, count, spacing, length))
        if made >= abs(camber) * (1 - 1e-6):
            return count
        most = max(most, made)
    raise OutOfRange(
        f"Heats of {1e3 * abs(rotation):g} mrad every {1e3 * spacing:g} mm make at most "
        f"{1e3 * most:.3g} mm on this bar, not {1e3 * abs(camber):g} mm; make each stronger or set "
        "them closer, or heat in several rounds."
    )
