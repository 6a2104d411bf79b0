"""A buckle that stands under stress: a flat sheet with too much area between its edges."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from flamefe.basics.errors import FlamefeError, NotConverged, OutOfRange
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
MOST_TRIES = 30
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

    def at(self, strain: float) -> tuple[Moment, float]:
        """State under a strain and its signed height at the place asked to be highest."""
        try:
            moment = self.once(strain, self.guess, self.solving)
        except NotConverged:
            raise NoBuckle(_NONE.format(asked=1e3 * np.abs(self.shape).max())) from None
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
        """Secant on the squared height."""
        low: tuple[float, float] | None = None
        strain = self.first()
        for _ in range(MOST_TRIES):
            moment, height = self.at(strain)
            if abs(height - asked) <= CLOSE * asked:
                return strain, moment
            here = (strain, height**2)
            if height < 0.2 * asked:  # fell back to flat: below the critical strain
                strain, low = 1.5 * strain, None
            else:
                self.guess = moment.extended * (asked / height)
                self.guess[: self.shape.size][self.held] = 0.0
                if low is None or abs(here[1] - low[1]) < 1e-6 * asked**2:
                    strain *= 1.0 + 0.5 * np.clip((asked / height) ** 2 - 1.0, -0.5, 0.5)
                else:
                    rate = (here[0] - low[0]) / (here[1] - low[1])
                    strain += float(np.clip(rate * (asked**2 - here[1]), -0.5 * strain, strain))
                low = here
            if strain > LARGEST_STRAIN:
                break
        raise NoBuckle(_NONE.format(asked=1e3 * asked))


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
_LEAVES = (
    "A stressed buckle of {asked:g} mm in the shape asked for is not stable: held like this the "
    'sheet pops into another one. Ask for fewer waves, or for a "stress-free" shape.'
)
