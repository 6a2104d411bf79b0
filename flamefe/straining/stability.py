"""Whether an equilibrium is stable: the watch over sheets that can buckle.

A quasi-Newton iteration finds an equilibrium; it does not ask whether the part would stay there.
A flat sheet that is heated has one equilibrium in which it stays flat, and beyond its buckling
temperature that one is unstable. The watch factors the consistent tangent (plastic and geometric)
at each increment's end and counts its negative pivots; by Sylvester's law of inertia they are as
many as its negative eigenvalues. With one or more the state is not accepted.

Source: R. Hill, A general theory of uniqueness and stability in elastic-plastic solids,
J. Mech. Phys. Solids 6 (1958) 236-249 (the tangent of plastic loading decides); K.-J. Bathe,
Finite Element Procedures, Prentice Hall 1996, section 8.2 (counting by factoring).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import LinearOperator, eigsh
from skfem import Basis, ElementHex1, FacetBasis

from flamefe.straining.element import StrainOperator
from flamefe.straining.operator import Assembler, CondensedOperator
from flamefe.straining.plasticity import PointAnswer, PointProperties, tangent
from flamefe.workpiece.body import Body

Array = NDArray[np.float64]

SLENDER = 40.0
"""Second largest extent of a part by its wall thickness above which it is watched."""


@dataclass(frozen=True, kw_only=True)
class Event:
    """Something that the watch saw.

    Args:
        kind: "jump": the part jumped within an increment that was cut as far as allowed;
            "kick": the state was unstable and had just one stable one beside it;
            "either way": it had one on each side and could have gone to either;
            "other side": the part is stable where it is, and also on the other side;
            "not told": no equilibrium was found on the other side, stable or not.
        time: s.
        moved: m, largest displacement: of the jump, of the kick, between the two sides.
    """

    kind: Literal["jump", "kick", "either way", "other side", "not told"]
    time: float
    moved: float

    @property
    def words(self) -> str:
        """The event in a sentence or two."""
        return _WORDS[self.kind].format(time=self.time, moved=1e3 * self.moved)


_WORDS = {
    "jump": "At {time:.4g} s the part jumped by {moved:.2g} mm (snap-through). The run goes on "
    "from where it came to rest; what a real part does while it swings is not in it.",
    "kick": "At {time:.4g} s the part was unstable and was led along its lowest mode to the one "
    "stable shape beside it, {moved:.2g} mm away.",
    "either way": "At {time:.4g} s the part can pop either way: the two stable shapes lie "
    "{moved:.2g} mm apart, and nothing in the case tells which one a real part takes. "
    "The run went on with one of them.",
    "other side": "At {time:.4g} s the part is stable where it is and also on the other side, "
    "{moved:.2g} mm away: a push can pop it through.",
    "not told": "At {time:.4g} s the part is stable where it is; whether it would also stay on the "
    "other side when it is pushed there could not be told.",
}


@dataclass(frozen=True, kw_only=True, eq=False)
class Look:
    """The tangent of a state, factored.

    Args:
        negative: how many negative eigenvalues it has.
        operator: the factor, with the incompatible modes condensed.
    """

    negative: int
    operator: CondensedOperator


def look_at(
    operator: StrainOperator,
    assembler: Assembler,
    properties: PointProperties,
    answer: PointAnswer,
    slopes: Array,
    brace: Array | None = None,
) -> Look:
    """Factor the consistent tangent, plastic and geometric, of a state of finite geometry.

    The negative eigenvalues of the whole tangent are those of the incompatible modes' blocks and
    those of the condensed matrix together (additivity of inertia, E. V. Haynsworth, Linear
    Algebra Appl. 1 (1968) 73-81).

    Args:
        operator: of the mesh.
        assembler: of the free unknowns.
        properties: at the state's temperature.
        answer: of the law at the points.
        slopes: (3, 3, np) displacement gradient.
        brace: (m,) N/m, stiffness of the places of devices as they touch now; None: no devices.

    Raises:
        SingularOperator: the tangent is singular.
    """
    stiffness = operator.stiffness(tangent(properties, answer), slopes, answer.stress)
    condensed = assembler.condense(stiffness, careful=True, brace=brace)
    negative = condensed.factor.negative_pivots
    assert negative is not None
    try:
        np.linalg.cholesky(condensed.inverse)
    except np.linalg.LinAlgError:
        block = 0.5 * (condensed.inverse + condensed.inverse.transpose(0, 2, 1))
        negative += int(np.count_nonzero(np.linalg.eigvalsh(block) < 0.0))
    return Look(negative=negative, operator=condensed)


def lowest_mode(operator: CondensedOperator, *, negative: bool) -> Array:
    """Mode (rows, 3) of the lowest eigenvalue, or of the negative one nearest to zero.

    Found by Lanczos steps through the factor; the largest nodal displacement is 1.

    Args:
        operator: a factored tangent.
        negative: whether it has a negative eigenvalue, of which the mode is wanted.
    """
    size = operator.free.size
    through = LinearOperator((size, size), matvec=operator.factor.solve, dtype=float)
    start = np.random.default_rng(0).normal(size=size)
    which = "SA" if negative else "LA"
    if size < 4:
        _, vectors = np.linalg.eigh(operator.factor.solve(np.eye(size)))
        vector = vectors[:, 0 if negative else -1]
    else:
        _, vectors = eigsh(through, k=1, which=which, v0=start, tol=1e-4)
        vector = vectors[:, 0]
    mode = np.zeros((operator.nodes + operator.lift.shape[0] // 3, 3))
    nodal = np.zeros(3 * operator.nodes)
    nodal[operator.free] = vector
    mode[: operator.nodes] = nodal.reshape(-1, 3)
    mode[operator.nodes :] = -(operator.lift @ nodal).reshape(-1, 3)
    return np.asarray(mode / farthest(mode[: operator.nodes]))


def wall_thickness(body: Body) -> float:
    """Twice the volume by the surface, m: for a sheet of any shape about its thickness."""
    facets = FacetBasis(body.mesh, ElementHex1(), facets=body.mesh.boundary_facets(), intorder=2)
    volume = float(Basis(body.mesh, ElementHex1(), intorder=2).dx.sum())
    return 2.0 * volume / float(facets.dx.sum())


def slenderness(body: Body) -> float:
    """Second largest extent by the wall thickness.

    Example:
        >>> from flamefe.workpiece.mesh import box_mesh
        >>> from flamefe.workpiece.standard import material
        >>> axes = np.linspace(0, 0.4, 5), np.linspace(0, 0.2, 3), np.linspace(0, 0.002, 2)
        >>> sheet = Body(mesh=box_mesh(*axes), materials=(material("S355"),))
        >>> round(slenderness(sheet), 1)
        101.5
    """
    extents = np.sort(np.ptp(body.points, axis=0))
    return float(extents[1]) / wall_thickness(body)


def farthest(moved: Array) -> float:
    """Length of the longest of the rows (n, 3)."""
    return float(np.sqrt((moved**2).sum(axis=1).max()))


def pulling(stress: Array) -> Array:
    """The tension in a stress: its principal values above zero, (6, np) Pa.

    Its geometric stiffness keeps an operator positive.

    Example:
        >>> pulling(np.array([[2.0], [-3.0], [0.0], [0.0], [0.0], [0.0]]))[:, 0].tolist()
        [2.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    """
    values, vectors = np.linalg.eigh(stress[_TENSOR].transpose(2, 0, 1))
    kept = np.einsum("nik,nk,njk->ijn", vectors, np.maximum(values, 0.0), vectors)
    return np.stack([kept[0, 0], kept[1, 1], kept[2, 2], kept[0, 1], kept[1, 2], kept[2, 0]])


_TENSOR = np.array(((0, 3, 5), (3, 1, 4), (5, 4, 2)))
