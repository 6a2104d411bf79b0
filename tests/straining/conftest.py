"""Small parts and short marches for the tests of straining, handed out as fixtures."""

from collections.abc import Callable, Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from skfem import Basis, ElementHex1, FacetBasis, MeshHex

from flamefe.basics.table import Table
from flamefe.straining.devices import Device
from flamefe.straining.equilibrium import strain_along
from flamefe.straining.moment import Moment
from flamefe.straining.restraint import Load, Support, TimeLine
from flamefe.straining.schedule import targets
from flamefe.straining.solving import Solving
from flamefe.workpiece.body import Body
from flamefe.workpiece.faces import named_sides
from flamefe.workpiece.material import Material
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.meshfile import from_meshio_order

Array = NDArray[np.float64]

UNBREAKABLE = 1e10
"""Yield stress of a material that is meant to stay elastic, Pa."""


def _table(value: float | Sequence[tuple[float, float]]) -> Table:
    if isinstance(value, int | float):
        return Table.constant(float(value), source="test")
    temperatures, values = zip(*value, strict=True)
    return Table(temperature_C=temperatures, values=values, source="test")


def _metal(
    *,
    modulus: float | Sequence[tuple[float, float]] = 210e9,
    poisson: float = 0.3,
    expansion: float = 12e-6,
    strength: float | Sequence[tuple[float, float]] = UNBREAKABLE,
    hardening: float | Sequence[tuple[float, float]] = 0.0,
    kinematic_share: float = 0.0,
    annealing_C: float | None = None,
    density: float = 7850.0,
) -> Material:
    """A metal with one number, or (temperature C, value) pairs, a property; SI."""
    return Material(
        name="test metal",
        density=density,
        conductivity=_table(50.0),
        specific_heat=_table(500.0),
        thermal_strain=_table([(-1980.0, -2000.0 * expansion), (2020.0, 2000.0 * expansion)]),
        youngs_modulus=_table(modulus),
        poisson=_table(poisson),
        yield_stress=_table(strength),
        hardening_modulus=_table(hardening),
        kinematic_share=kinematic_share,
        annealing_C=annealing_C,
        heating_limit_C=650.0,
        heating_limit_source="test",
        source="test",
    )


def _box(
    size: tuple[float, float, float],
    cells: tuple[int, int, int],
    material: Material,
    **more: Any,
) -> Body:
    """A box of equal hexes from the origin, m."""
    axes = [np.linspace(0.0, s, n + 1) for s, n in zip(size, cells, strict=True)]
    return Body(mesh=box_mesh(*axes), materials=(material,), **more)


def _moved(body: Body, points: Array) -> Body:
    """The same part with its nodes at ``points`` (n, 3), faces kept."""
    mesh = MeshHex(np.ascontiguousarray(points.T), body.mesh.t)
    mesh = mesh.with_boundaries(body.mesh.boundaries)
    return Body(mesh=mesh, materials=body.materials, owner=body.owner)


def _shaken(body: Body, share: float, seed: int = 1) -> Body:
    """Nodes moved at random by up to ``share`` of a hex's edge; those on a face stay on it."""
    p = body.points.copy()
    random = np.random.default_rng(seed)
    for axis in range(3):
        levels = np.unique(np.round(p[:, axis], 12))
        edge = np.diff(levels).min()
        inner = (p[:, axis] > levels[0] + 1e-9) & (p[:, axis] < levels[-1] - 1e-9)
        p[inner, axis] += share * edge * random.uniform(-1.0, 1.0, inner.sum())
    return _moved(body, p)


def _blocks(
    parts: Sequence[Array],
    materials: tuple[Material, ...],
    owners: Sequence[int] | None = None,
) -> Body:
    """A part from blocks of points (ni, nj, nk, 3), right-handed in i, j, k; ends are merged."""
    points, hexes, owner, start = [], [], [], 0
    for index, part in enumerate(parts):
        ni, nj, nk = part.shape[:3]
        number = start + np.arange(ni * nj * nk).reshape(ni, nj, nk)
        a, b = number[:, :, :-1], number[:, :, 1:]
        corners = [
            level[i : ni - 1 + i, j : nj - 1 + j]
            for level in (a, b)
            for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))
        ]
        hexes.append(np.stack(corners, axis=-1).reshape(-1, 8))
        points.append(part.reshape(-1, 3))
        owner.append(np.full(len(hexes[-1]), 0 if owners is None else owners[index]))
        start += part.shape[0] * part.shape[1] * part.shape[2]
    p = np.concatenate(points)
    grain = 1e-7 * np.ptp(p, axis=0).max()
    _, first, merged = np.unique(
        np.round(p / grain).astype(np.int64), axis=0, return_index=True, return_inverse=True
    )
    mesh = from_meshio_order(p[first], merged.reshape(-1)[np.concatenate(hexes)])
    return Body(
        mesh=mesh.with_boundaries(named_sides(mesh)),
        materials=materials,
        owner=None if owners is None else np.concatenate(owner).astype(np.int64),
    )


def _ruled(start: Array, end: Array, shares: Array) -> Array:
    """Rows of points between two curves of points, (shares, points, 2)."""
    s = shares[:, None, None]
    return start[None] * (1.0 - s) + end[None] * s


def _octants(across: int) -> tuple[Array, Array]:
    """Angles of the nodes on the lower and on the upper half of a quarter turn."""
    angle = np.linspace(0.0, 0.25 * np.pi, across + 1)
    return angle, 0.25 * np.pi + angle


def _quarter_disc(radius: float, across: int, finest: float) -> list[Array]:
    """Flat blocks of a quarter disc: a square core and two rings, fine at the rim."""
    core = 0.5 * radius
    low, high = _octants(across)
    grid = core * np.tan(low)
    shares = np.append(1.0 - np.geomspace(1.0, finest / core, across + 1), 1.0)
    squares = (
        np.stack([core + 0.0 * low, grid], axis=1),
        np.stack([core / np.tan(high), core + 0.0 * high], axis=1),
    )
    rings = [
        _ruled(square, radius * np.stack([np.cos(angle), np.sin(angle)], axis=1), shares)
        for square, angle in zip(squares, (low, high), strict=True)
    ]
    return [np.stack(np.meshgrid(grid, grid, indexing="ij"), axis=-1), *rings]


def _thick(face: Array, thickness: float) -> Array:
    """One layer of points (ni, nj, 2, 3) on a flat block (ni, nj, 2)."""
    both = np.repeat(face[:, :, None, :], 2, axis=2)
    height = np.broadcast_to(np.array([[0.0], [thickness]]), (*face.shape[:2], 2, 1))
    return np.concatenate([both, height], axis=-1)


def _hold(
    body: Body,
    *,
    x: NDArray[np.bool_] | None = None,
    y: NDArray[np.bool_] | None = None,
    z: NDArray[np.bool_] | None = None,
    **more: Any,
) -> Support:
    """Hold x, y and z of the nodes told by masks (n,)."""
    held = np.zeros(body.points.shape, dtype=bool)
    for axis, mask in enumerate((x, y, z)):
        if mask is not None:
            held[mask, axis] = True
    return Support(held=held, **more)


def _planes(body: Body, axes: str = "xyz") -> Support:
    """Symmetry planes at the lowest x, y and z: their normal displacement is held."""
    p = body.points
    low = np.abs(p - p.min(axis=0)) < 1e-9 * np.ptp(p)
    masks = {axis: low[:, "xyz".index(axis)] for axis in axes}
    return _hold(body, **masks)


def _push(
    body: Body, face: str, axis: int, points: Sequence[tuple[float, float]], **more: Any
) -> Support:
    """Push a face along an axis: displacement in m against time in s."""
    held = np.zeros(body.points.shape, dtype=bool)
    held[body.nodes_of(face), axis] = True
    times, values = zip(*points, strict=True)
    return Support(
        held=held,
        push=held.astype(float),
        history=TimeLine(times=times, factors=values),
        **more,
    )


def _march(
    body: Body,
    moments: Sequence[tuple[float, float | Array]],
    supports: Sequence[Support],
    loads: Sequence[Load] = (),
    *,
    fallback: Support | None = None,
    inherent: Array | None = None,
    devices: Sequence[Device] = (),
    steadied: bool = False,
    start: Array | None = None,
    name: str = "",
    **solving: Any,
) -> list[Moment]:
    """Every converged moment; temperatures may be one number for all nodes; the last is named."""
    count = body.points.shape[0]
    laid_out = [
        (time, np.broadcast_to(np.asarray(temperature, dtype=float), (count,)).copy(), "")
        for time, temperature in moments
    ]
    laid_out[-1] = (*laid_out[-1][:2], name)
    plan = targets(
        points=body.points, moments=laid_out, supports=supports, loads=loads, fallback=fallback,
        devices=devices, steadied=steadied,
    )  # fmt: skip
    options = {"tolerance": 1e-8, **solving}
    solved = Solving(**options)
    return list(strain_along(body, plan, solving=solved, inherent_strain=inherent, start=start))


def _places(body: Body) -> Array:
    """Quadrature points, (3, ne * 8) m."""
    basis = Basis(body.mesh, ElementHex1(), intorder=3)
    return np.asarray(basis.global_coordinates()).reshape(3, -1)


def _stress_at(body: Body, moment: Moment, point: Sequence[float], owner: int = 0) -> Array:
    """Stress (6,) at a node: extrapolated in each hex of a material that meets there; mean."""
    node = int(np.argmin(((body.points - np.asarray(point)) ** 2).sum(axis=1)))
    basis = Basis(body.mesh, ElementHex1(), intorder=3)

    def trilinear(x: Array) -> Array:
        return np.stack(
            [x[0] ** i * x[1] ** j * x[2] ** k for i in (0, 1) for j in (0, 1) for k in (0, 1)]
        )

    fit = np.linalg.inv(trilinear(basis.X).T)
    values = []
    for corner, hexa in np.argwhere(body.mesh.t == node):
        if body.owner is not None and body.owner[hexa] != owner:
            continue
        reference = basis.elem.doflocs[corner]
        inside = moment.stress.reshape(6, -1, 8)[:, hexa]
        values.append(inside @ (trilinear(reference[:, None])[:, 0] @ fit))
    return np.mean(values, axis=0)


def _face_forces(body: Body, face: str, traction: Callable[[Array], Array]) -> Array:
    """Consistent nodal forces (n, 3) N of a traction (3, ...) Pa given at places (3, ...) m."""
    facets = (body.mesh.boundaries or {})[face]
    basis = FacetBasis(body.mesh, ElementHex1(), facets=facets, intorder=4)
    pull = traction(np.asarray(basis.global_coordinates()))
    forces = np.zeros(body.points.shape)
    corners = body.mesh.t[:, basis.tind]
    for a in range(8):
        weight = np.broadcast_to(basis.basis[a][0], basis.dx.shape) * basis.dx
        for i in range(3):
            np.add.at(forces[:, i], corners[a], (weight * pull[i]).sum(axis=1))
    return forces


def _mises(stress: Array) -> Array:
    """Equivalent stress (n,) of (6, n)."""
    s = stress
    normal = (s[0] - s[1]) ** 2 + (s[1] - s[2]) ** 2 + (s[2] - s[0]) ** 2
    return np.sqrt(0.5 * normal + 3.0 * (s[3] ** 2 + s[4] ** 2 + s[5] ** 2))


@pytest.fixture(scope="session")
def lab() -> SimpleNamespace:
    """Helpers: see the functions of the same names above."""
    return SimpleNamespace(
        metal=_metal,
        box=_box,
        moved=_moved,
        shaken=_shaken,
        blocks=_blocks,
        ruled=_ruled,
        octants=_octants,
        quarter_disc=_quarter_disc,
        thick=_thick,
        hold=_hold,
        planes=_planes,
        push=_push,
        march=_march,
        places=_places,
        stress_at=_stress_at,
        face_forces=_face_forces,
        mises=_mises,
        table=_table,
    )
