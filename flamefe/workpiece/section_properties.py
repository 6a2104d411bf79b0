"""Area, second moments, plastic moduli and torsion constant of a cross section, from its mesh."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.sparse import csc_matrix, csr_matrix, tril
from skfem import Basis, ElementQuad2, LinearForm, MeshQuad
from skfem.models.poisson import laplace, unit_load

from flamefe.basics.errors import NotConverged, OutOfRange
from flamefe.basics.linear import Factoriser
from flamefe.workpiece.section import Section, boundary_loops, loop_area

Array = NDArray[np.float64]

LARGEST_TORSION_PROBLEM = 200_000  # unknowns


@dataclass(frozen=True, kw_only=True)
class SectionProperties:
    """What a cross section brings to bending and torsion; axes y to the side, z up.

    Args:
        area: m2.
        centroid: its y and z in the section's own axes, m.
        second_moment_y: integral of z^2 about the centroid (bending up and down), m4.
        second_moment_z: integral of y^2 (bending to the side), m4.
        product_moment: integral of y z, m4; 0 with an axis of symmetry along y or z.
        principal_moments: the largest and the smallest second moment of all axes, m4.
        principal_angle: from the y axis, counter-clockwise, to the axis of the largest second
            moment, rad, above -pi/2, at most pi/2; 0 where all axes are alike.
        plastic_modulus_y: integral of the distance from the line along y that halves the area, m3.
        plastic_modulus_z: the same with a line along z, m3.
        plastic_axis_y: height z of the first line, m.
        plastic_axis_z: place y of the second line, m.
        torsion: the torsion constant and its bounds.
    """

    area: float
    centroid: tuple[float, float]
    second_moment_y: float
    second_moment_z: float
    product_moment: float
    principal_moments: tuple[float, float]
    principal_angle: float
    plastic_modulus_y: float
    plastic_modulus_z: float
    plastic_axis_y: float
    plastic_axis_z: float
    torsion: "Torsion"


@dataclass(frozen=True, kw_only=True)
class Torsion:
    """St Venant's torsion constant of the meshed shape, between two bounds, m4.

    Args:
        lower: from the stress function.
        upper: from the warping.
        refinements: how often the mesh was halved in both directions to bring them together.
    """

    lower: float
    upper: float
    refinements: int

    @property
    def constant(self) -> float:
        """The middle between the bounds, m4."""
        return 0.5 * (self.lower + self.upper)


def section_properties(section: Section, *, torsion_tolerance: float = 0.01) -> SectionProperties:
    """All properties of a cross section, those without torsion exact for its straight-edged mesh.

    Formulas: A = int dA; centroid = int (y, z) dA / A; I_y = int z^2 dA, I_z = int y^2 dA,
    I_yz = int y z dA about the centroid; the principal moments are the eigenvalues of
    ((I_y, -I_yz), (-I_yz, I_z)), whose eigenvectors are the axes; plastic modulus
    W = int |z - z_h| dA with z_h the height that halves the area. The plastic moduli hold for
    bending with the neutral axis along y or z; of shapes without an axis of symmetry (an angle) a
    moment about y turns the plastic neutral axis, and these moduli are then upper bounds.

    Args:
        section: the cross section.
        torsion_tolerance: allowed gap between the bounds of the torsion constant, as a share.

    Returns:
        The properties.

    Raises:
        OutOfRange: a tolerance that is not above 0.
        NotConverged: the torsion bounds did not come that close.

    Source: W. D. Pilkey, Analysis and Design of Elastic Beams, Wiley 2002 (from memory).

    Example:
        >>> from flamefe.workpiece.section_shapes import flat_bar
        >>> bar = section_properties(flat_bar(width=0.1, thickness=0.02, size=0.01))
        >>> round(bar.area, 9), round(bar.second_moment_y * 1e8, 6), bar.plastic_modulus_y * 1e6
        (0.002, 6.666667, 10.0)
        >>> round(bar.torsion.constant * 1e8, 1)       # 0.291 b t^3 for b = 5 t
        23.3
    """
    triangles = _triangles(section)
    areas = _areas(triangles)
    area = float(areas.sum())
    centroid = areas @ triangles.mean(axis=1) / area
    # exact for squares: the mean over the middles of the three edges
    middles = 0.5 * (triangles + np.roll(triangles, -1, axis=1)) - centroid
    moments = np.einsum("t,tei,tej->ij", areas / 3.0, middles, middles)
    values, angle = _principal(moments[1, 1], moments[0, 0], moments[0, 1])
    halving_z, modulus_y = _plastic(triangles[..., 1], areas)
    halving_y, modulus_z = _plastic(triangles[..., 0], areas)
    return SectionProperties(
        area=area,
        centroid=(float(centroid[0]), float(centroid[1])),
        second_moment_y=float(moments[1, 1]),
        second_moment_z=float(moments[0, 0]),
        product_moment=float(moments[0, 1]),
        principal_moments=values,
        principal_angle=angle,
        plastic_modulus_y=modulus_y,
        plastic_modulus_z=modulus_z,
        plastic_axis_y=halving_z,
        plastic_axis_z=halving_y,
        torsion=torsion(section, tolerance=torsion_tolerance),
    )


def torsion(section: Section, *, tolerance: float = 0.01) -> Torsion:
    """St Venant's torsion constant, with bounds from two dual finite element solutions.

    Formulas: from above, J = min over w of int (w_y - z)^2 + (w_z + y)^2 dA with w the warping
    (unit twist); from below, J = max over p of 4 (int p dA + sum p_k A_k) - int |grad p|^2 dA with
    p Prandtl's stress function, 0 on the outer edge and p_k on the edge of each hole of area A_k.
    Nine-node quadrilaterals on the section's mesh, which is halved until the bounds agree.

    Args:
        section: the cross section.
        tolerance: allowed gap between the bounds as a share of the constant, above 0.

    Returns:
        The bounds, m4; they hold for the meshed shape, whose circles are polygons.

    Raises:
        OutOfRange: a tolerance that is not above 0.
        NotConverged: the bounds did not come that close within 200 000 unknowns.

    Source: S. P. Timoshenko, J. N. Goodier, Theory of Elasticity, McGraw-Hill, chapter on
    torsion; for the two bounds E. Trefftz, Proc. 2nd Int. Congr. Appl. Mech., Zurich 1926
    (both from memory).

    Example:
        >>> from flamefe.workpiece.section_shapes import flat_bar
        >>> square = torsion(flat_bar(width=0.1, thickness=0.1, size=0.025), tolerance=1e-3)
        >>> round(square.constant / 0.1**4, 3)
        0.141
    """
    if not (np.isfinite(tolerance) and tolerance > 0.0):
        raise OutOfRange(f"The tolerance of the torsion constant is {tolerance:g}; give a share "
                         "above 0, for instance 0.01.")  # fmt: skip
    mesh = MeshQuad((section.points - section.points.mean(axis=0)).T, section.quads.T)
    refinements = 0
    while True:
        lower, upper = _torsion_bounds(mesh)
        if upper - lower <= tolerance * 0.5 * (upper + lower):
            return Torsion(lower=lower, upper=upper, refinements=refinements)
        if 16 * mesh.nelements > LARGEST_TORSION_PROBLEM:
            raise NotConverged(
                f"The torsion constant of {section.name!r} lies between {lower:.6g} and "
                f"{upper:.6g} m4, further apart than the allowed share {tolerance:g}; "
                "give a wider tolerance, or a section whose elements are less slender."
            )
        mesh = mesh.refined()
        refinements += 1


def _torsion_bounds(mesh: MeshQuad) -> tuple[float, float]:
    basis = Basis(mesh, ElementQuad2())
    stiffness = laplace.assemble(basis)
    area_load = unit_load.assemble(basis)
    return (
        _from_stress_function(mesh, basis, stiffness, area_load),
        _from_warping(basis, stiffness),
    )


def _from_warping(basis: Basis, stiffness: csr_matrix) -> float:
    """The polar moment less what warping takes off it; one node is held, the rest is free."""
    y, z = np.asarray(basis.global_coordinates())
    polar = float(np.sum((y**2 + z**2) * basis.dx))
    load = LinearForm(lambda v, w: w.x[1] * v.grad[0] - w.x[0] * v.grad[1]).assemble(basis)
    free = csc_matrix(stiffness)[1:, 1:]
    warping = Factoriser().factor(tril(free, format="csc")).solve(load[1:])
    return polar - float(load[1:] @ warping)


def _from_stress_function(
    mesh: MeshQuad, basis: Basis, stiffness: csr_matrix, area_load: Array
) -> float:
    """Twice the volume under the membrane, which is level over each hole."""
    points, number = mesh.p.T, basis.N
    loops = boundary_loops(points, mesh.t.T)
    target = np.full(number, -1)
    facet_of = {pair: i for i, pair in enumerate(map(tuple, np.sort(mesh.facets.T, axis=1)))}
    on_edge = np.zeros(number, dtype=bool)
    hole_areas = []
    for hole, loop in enumerate(loops):
        pairs = np.sort(np.stack([loop, np.roll(loop, -1)], axis=1), axis=1)
        facets = [facet_of[pair] for pair in map(tuple, pairs)]
        dofs = np.concatenate([basis.nodal_dofs[0, loop], basis.facet_dofs[0, facets]])
        on_edge[dofs] = True
        target[dofs] = hole - 1
        hole_areas.append(-loop_area(points[loop]))
    inside = np.flatnonzero(~on_edge)
    holes = len(loops) - 1
    target[inside] = holes + np.arange(inside.size)
    kept = np.flatnonzero(target >= 0)
    size = holes + inside.size
    tie = csr_matrix((np.ones(kept.size), (kept, target[kept])), shape=(number, size))
    load = 2.0 * (tie.T @ area_load)
    load[:holes] += 2.0 * np.array(hole_areas[1:])
    tied = csc_matrix(tie.T @ stiffness @ tie)
    tied.sort_indices()
    return float(load @ Factoriser().factor(tril(tied, format="csc")).solve(load))


def _triangles(section: Section) -> Array:
    """The quads cut in two, (2 m, 3, 2)."""
    corners = section.points[section.quads]
    return np.concatenate([corners[:, [0, 1, 2]], corners[:, [0, 2, 3]]])


def _areas(triangles: Array) -> Array:
    first, second = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    return np.asarray(0.5 * (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]))


def _principal(about_y: float, about_z: float, product: float) -> tuple[tuple[float, float], float]:
    spread = np.hypot(0.5 * (about_y - about_z), product)
    mean = 0.5 * (about_y + about_z)
    angle = 0.0
    if spread > 1e-9 * mean:
        angle = 0.5 * float(np.arctan2(-2.0 * product, about_y - about_z))
    return (float(mean + spread), float(mean - spread)), angle


def _plastic(heights: Array, areas: Array) -> tuple[float, float]:
    """Height that halves the area of triangles, (t, 3), and the integral of the distance to it."""

    def surplus(level: float) -> float:
        return float(np.sum(areas * (2.0 * _above(heights - level)[0] - 1.0)))

    low, high = float(heights.min()), float(heights.max())
    half = float(brentq(surplus, low, high, xtol=1e-13 * (high - low)))
    offset = heights - half
    whole = areas @ offset.mean(axis=1)
    return half, float(2.0 * (areas @ _above(offset)[1]) - whole)


def _above(values: Array) -> tuple[Array, Array]:
    """Of a linear function on triangles: share of the area where it is above 0, and the mean over
    the whole triangle of its positive part.

    With one corner a above 0 the share is a^2 / ((a - b) (a - c)) and the mean a / 3 of it; with
    one corner below 0 the same holds for the negative part.
    """
    c, b, a = np.sort(values, axis=1).T

    def tip(top: Array, middle: Array, bottom: Array) -> Array:
        product = (top - middle) * (top - bottom)
        return np.asarray(np.divide(top**2, product, out=np.zeros_like(top), where=product > 0.0))

    upper, lower = tip(a, b, c), tip(-c, -b, -a)
    share = np.select([c >= 0.0, b >= 0.0, a > 0.0], [np.ones_like(a), 1.0 - lower, upper], 0.0)
    mean = (a + b + c) / 3.0
    part = np.select(
        [c >= 0.0, b >= 0.0, a > 0.0], [mean, mean - lower * c / 3.0, upper * a / 3.0], 0.0
    )
    return share, part
