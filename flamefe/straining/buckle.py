"""A buckle that stands under stress: a flat sheet with too much area between its edges."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import FlamefeError, NotConverged, OutOfRange
from flamefe.straining.element import StrainOperator
from flamefe.straining.equilibrium import strain_along
from flamefe.straining.moment import Moment
from flamefe.straining.schedule import Target
from flamefe.straining.solving import Solving
from flamefe.straining.stability import farthest
from flamefe.straining.upright import Upright
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]

CLOSE = 2e-3
"""Error of the height, by the height asked for, that counts as met."""
STANDS = 0.2
"""Height, by the one asked for, from which a sheet counts as buckled."""
MOST_TRIES = 40
LARGEST_STRAIN = 0.05


class NoBuckle(FlamefeError, ValueError):
    """The sheet, held as it is, has no stable buckle of the shape and height asked for."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Buckle:
    """A sheet in its stressed, buckled shape.

    Args:
        start: (rows, 3) m, extended displacements from the flat sheet.
        inherent_strain: (6, np), the excess of area as a uniform strain in the plane.
        strain: that strain, in each direction.
        height: (n,) m, of the mid-surface.
        difference: m, largest distance of the height from the shape asked for.
    """

    start: Array
    inherent_strain: Array
    strain: float
    height: Array
    difference: float


def stressed_buckle(
    body: Body, shape: Array, held: NDArray[np.bool_], *, solving: Solving | None = None
) -> Buckle:
    """Find the uniform strain in the plane that makes a flat sheet buckle to a height.

    The excess of area that welding or a hit left in a panel is taken as an inherent strain e,
    equal in both directions of its plane: the sheet would like to be larger than its frame, so
    it bulges, in equilibrium. Above its critical value e grows with the square of the height, so
    two tries and a secant on the squared height find it. The shape is the sheet's own; what is
    asked for only says which one, and how high.

    First guess, from the area that a shape w(x, y) needs more than its plane::

        2 e A = 1/2 integral of |grad w|^2 dA

    Args:
        body: a flat sheet, elastic while it buckles.
        shape: (n,) m, height asked for at each node.
        held: (n, 3), what holds the sheet flat at its edges.
        solving: as for ``strain_along``.

    Returns:
        Buckle: start, inherent strain and the height reached.

    Raises:
        NoBuckle: nothing keeps the sheet from growing, or the shape is not stable.
        OutOfRange: the shape is flat, or the body is no sheet.

    Source of the excess of area: J. M. Gere, S. P. Timoshenko, Theory of Elastic Stability,
    McGraw-Hill 1961, section 8.1 (stretching of the middle surface by small deflections).
    """
    upright = Upright.of(body.points)
    if upright is None:
        raise OutOfRange(
            "A stressed buckle needs a sheet of even columns that lies across an axis."
        )
    asked = float(np.abs(shape).max())
    if not asked > 0.0:
        raise OutOfRange("The initial shape is flat; a stressed buckle needs a height.")
    search = _Search(body, upright, shape, held, solving or Solving())
    strain, moment = search.run(asked)
    settled = _settled(search, moment, strain)
    height = upright.height(settled.displacement, held)
    return Buckle(
        start=settled.extended,
        inherent_strain=search.inherent(strain),
        strain=strain,
        height=height,
        difference=float(np.abs(height - shape).max()),
    )


class _Search:
    """Tries of one uniform strain after the other, each from the shape found before."""

    def __init__(
        self, body: Body, upright: Upright, shape: Array, held: NDArray[np.bool_], solving: Solving
    ) -> None:
        self.body, self.upright, self.shape, self.held = body, upright, shape, held
        self.solving = replace(solving, stability="never", most_cuts=1)
        self.points = 8 * body.mesh.t.shape[1]
        rows = body.points.shape[0] + 3 * body.mesh.t.shape[1]
        self.guess = np.zeros((rows, 3))
        self.guess[: shape.size, upright.axis] = np.where(held[:, upright.axis], 0.0, shape)
        operator = StrainOperator.on(body.mesh)
        slope = operator.at_nodes(operator.slopes(self.guess)[:, upright.axis])
        for along in np.delete(np.arange(3), upright.axis):  # columns stay square: u = - z grad w
            turned = np.where(held[:, along], 0.0, -upright.above * slope[along])
            self.guess[: shape.size, along] = turned
        self.top = int(np.argmax(np.abs(shape)))

    def inherent(self, strain: float) -> Array:
        """The strain in both directions of the plane at every point, (6, np)."""
        result = np.zeros((6, self.points))
        result[np.delete(np.arange(3), self.upright.axis)] = strain
        return result

    def target(self) -> Target:
        """The cold sheet in its frame."""
        count = self.body.points.shape[0]
        return Target(
            time=0.0,
            temperature=np.full(count, self.solving.stress_free_C),
            force=np.zeros((count, 3)),
            held=self.held,
            displacement=np.where(self.held, 0.0, np.nan),
            jump=True,
        )

    def at(self, strain: float, guess: Array) -> tuple[Moment, float] | None:
        """State under a strain and its signed height at the place asked to be highest.

        None: the search from this guess found no equilibrium.
        """
        try:
            moment = self.once(strain, guess, self.solving)
        except NotConverged:
            return None
        height = self.upright.height(moment.displacement, self.held)
        return moment, float(height[self.top] * np.sign(self.shape[self.top]))

    def once(self, strain: float, start: Array, solving: Solving) -> Moment:
        """Equilibrium under a strain from a start."""
        march = strain_along(
            self.body,
            [self.target()],
            solving=solving,
            inherent_strain=self.inherent(strain),
            start=start,
        )
        return next(iter(march))

    def first(self) -> float:
        """Strain by the area that the shape needs."""
        columns, first = np.unique(self.upright.column, return_index=True)
        x, y = self.upright.plane[first].T
        across, along = np.unique(np.round(x, 9)), np.unique(np.round(y, 9))
        if across.size * along.size != columns.size:
            size = np.ptp(x) * np.ptp(y)
            return float(np.abs(self.shape).max() ** 2 * np.pi**2 / 8.0 / size)
        order = np.lexsort((y, x))
        height = self.shape[first][order].reshape(across.size, along.size)
        slope = np.gradient(height, across, along)
        square = np.trapezoid(np.trapezoid(slope[0] ** 2 + slope[1] ** 2, along, axis=1), across)
        return float(0.25 * square / (np.ptp(x) * np.ptp(y)))

    def run(self, asked: float) -> tuple[float, Moment]:
        """The strain by its states: below it is flat, above the squared height grows with it."""
        good: list[_Standing] = []
        flat, strain, guess, lost = 0.0, self.first(), self.guess, 0
        for _ in range(MOST_TRIES):
            found = self.at(strain, guess)
            if found is not None and abs(found[1] - asked) <= CLOSE * asked:
                return strain, found[0]
            if found is not None and found[1] >= STANDS * asked:
                good.append(_Standing(strain=strain, height=found[1], moment=found[0]))
                lost = 0
            elif good and strain > min(one.strain for one in good):
                lost += 1  # it stands here, too, but the guess was led elsewhere
            else:
                flat = max(flat, strain)
            if not good:
                strain *= 1.5
                if strain > LARGEST_STRAIN:
                    break
                continue
            nearest = min(good, key=lambda one: abs(one.height**2 - asked**2))
            aim = nearest.strain + _step(good, nearest, flat, asked)
            strain = nearest.strain + 0.5**lost * (max(aim, 0.5 * (flat + nearest.strain))
                                                   - nearest.strain)  # fmt: skip
            rise = (strain - nearest.strain) / max(abs(aim - nearest.strain), 1e-300)
            square = nearest.height**2 + abs(rise) * (asked**2 - nearest.height**2)
            guess = nearest.moment.extended * np.sqrt(max(square, 0.0)) / nearest.height
            guess[: self.shape.size][self.held] = 0.0
        raise NoBuckle((_UNFOUND if good else _NONE).format(asked=1e3 * asked))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Standing:
    """A buckled state under a strain, and its height, m."""

    strain: float
    height: float
    moment: Moment


def _step(good: Sequence[_Standing], nearest: _Standing, flat: float, asked: float) -> float:
    """From the nearest state's strain to the one that is asked for; a quarter of it at most."""
    missing = asked**2 - nearest.height**2
    others = [one for one in good if one is not nearest]
    other = min(others, key=lambda one: abs(one.strain - nearest.strain), default=None)
    rate = (nearest.strain - flat) / nearest.height**2
    if other is not None and abs(other.height**2 - nearest.height**2) > 1e-6 * asked**2:
        secant = (other.strain - nearest.strain) / (other.height**2 - nearest.height**2)
        rate = secant if secant > 0.0 else rate
    most = 0.25 * nearest.strain
    return float(np.clip(rate * missing, -most, most))


def _settled(search: _Search, moment: Moment, strain: float) -> Moment:
    """The state once more under watch: it must stay where it is."""
    watched = replace(search.solving, stability="always")
    top = float(np.abs(search.shape).max())
    try:
        found = search.once(strain, moment.extended, watched)
    except NotConverged:
        raise NoBuckle(_LEAVES.format(asked=1e3 * top)) from None
    if farthest(found.displacement - moment.displacement) > 0.05 * top:
        raise NoBuckle(_LEAVES.format(asked=1e3 * top))
    return found


_NONE = (
    "No uniform strain in the plane makes this sheet buckle to {asked:g} mm: nothing keeps its "
    "edges from moving apart, or something holds its middle. Hold its edges in their plane (clamps "
    'released "never"), or give the initial shape as "stress-free".'
)
_UNFOUND = (
    "The sheet stands buckled when it is held like this, but the strain at which it stands "
    "{asked:g} mm high was not found. Ask for a height some per cent off, or for a finer mesh "
    "(size_away_mm)."
)
_LEAVES = (
    "A stressed buckle of {asked:g} mm in the shape asked for is not stable: held like this the "
    'sheet pops into another one. Ask for fewer waves, or for a "stress-free" shape.'
)
