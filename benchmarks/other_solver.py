"""Run a problem file again in CalculiX (general-purpose FE solver), where it is installed.

The deck is uncoupled, as the stored runs are: first heat (DC3D8 or DC3D20), then straining along
those temperatures (C3D8I or C3D20R), one increment a listed time. Nodal powers of the file become
a flux on the heated face, linear between its corner nodes, then consistent nodal powers of the
element at hand. Units of the decks: mm, N, s, tonne, mW.
"""

import os
import resource
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from problem import Problem
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]

EDGES = ((0, 1), (1, 2), (2, 3), (3, 0), (4, 5), (5, 6), (6, 7), (7, 4),
         (0, 4), (1, 5), (2, 6), (3, 7))  # fmt: skip
"""Mid-side nodes of a 20-node hex, in the deck's order."""
FACES = ((0, 1, 2, 3), (4, 7, 6, 5), (0, 4, 5, 1), (1, 5, 6, 2), (2, 6, 7, 3), (3, 7, 4, 0))
"""Faces 1 to 6 of a hex in the deck's numbering."""


def installed() -> bool:
    """Whether the solver is there."""
    return shutil.which("ccx") is not None


def rerun(problem: Problem, mesh: str) -> float:
    """CPU seconds of heat and straining together, one thread.

    Args:
        problem: what to run.
        mesh: "hex8" or "quadratic".
    """
    deck = _Deck(problem, quadratic=mesh == "quadratic")
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        for name in ("heat", "strain"):
            lines = deck.heat() if name == "heat" else deck.strain(_temperatures(place))
            (place / f"{name}.inp").write_text("\n".join(lines) + "\n")
            done = subprocess.run(
                ["ccx", name],
                cwd=place,
                env={**os.environ, "OMP_NUM_THREADS": "1"},
                capture_output=True,
                text=True,
                check=False,
            )
            if "Job finished" not in done.stdout:
                raise RuntimeError(f"ccx {name} failed:\n{done.stdout[-2000:]}")
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return (after.ru_utime + after.ru_stime) - (before.ru_utime + before.ru_stime)


def _temperatures(folder: Path) -> list[list[str]]:
    """Nodal temperatures of each step of the heat run, as "node, value" lines."""
    steps: list[list[str]] = []
    inside = False
    with (folder / "heat.frd").open() as lines:
        for line in lines:
            if line.startswith(" -4  NDTEMP"):
                inside = True
                steps.append([])
            elif line.startswith(" -3"):
                inside = False
            elif inside and line.startswith(" -1"):
                steps[-1].append(f"{line[3:13].strip()}, {line[13:25].strip()}")
    return steps


class _Deck:
    """The two input decks of a problem."""

    def __init__(self, problem: Problem, *, quadratic: bool) -> None:
        self.given: dict[str, Any] = problem.content
        self.quadratic = quadratic
        self.points = np.array(self.given["mesh"]["nodes"], dtype=float)
        self.hexes = np.array(self.given["mesh"]["hexes"])
        self.corners = len(self.points)
        self.middle: dict[tuple[int, int], int] = {}
        if quadratic:
            places = []
            extra = np.empty((len(self.hexes), 12), dtype=int)
            for e, corner in enumerate(self.hexes):
                for k, (a, b) in enumerate(EDGES):
                    key = _edge(corner[a], corner[b])
                    if key not in self.middle:
                        self.middle[key] = self.corners + len(places)
                        places.append(0.5 * (self.points[key[0]] + self.points[key[1]]))
                    extra[e, k] = self.middle[key]
            self.elements = np.hstack((self.hexes, extra))
            self.nodes = np.vstack((self.points, places))
        else:
            self.elements, self.nodes = self.hexes, self.points
        self.times = [float(t) for t in self.given["heating"]["times_s"]]

    def heat(self) -> Iterator[str]:
        """Deck of the conduction."""
        heating = self.given["heating"]
        yield from self._mesh("DC3D20" if self.quadratic else "DC3D8")
        yield "*INITIAL CONDITIONS, TYPE=TEMPERATURE"
        yield f"ALL, {heating['initial_C']}"
        yield "*PHYSICAL CONSTANTS, ABSOLUTE ZERO=-273.15, STEFAN BOLTZMANN=5.669E-11"
        power = self._powers() if heating.get("nodal_power") else None
        for number, (start, end) in enumerate(pairwise(self.times)):
            yield "*STEP"
            yield "*HEAT TRANSFER, DIRECT"
            yield f"{end - start:.9g}, {end - start:.9g}"
            if power is not None:
                yield "*CFLUX, OP=NEW"
                for node, value in zip(*power(end), strict=True):
                    yield f"{node + 1}, , {value:.9g}"
            if heating.get("prescribed"):
                yield "*BOUNDARY, OP=NEW"
                prescribed = heating["prescribed"]
                if end <= prescribed["times_s"][-1] * (1 + 1e-12):
                    at = np.interp(end, prescribed["times_s"], prescribed["C"])
                    for node in self._with_middles(prescribed["nodes"]):
                        yield f"{node + 1}, 11, 11, {at:.9g}"
            if number == 0:
                yield "*FILM"
                film = float(heating["film_W_m2K"]) * 1e-3
                for element, face in self._faces(heating["film_quads"]):
                    yield f"{element + 1}, F{face + 1}, {heating['ambient_C']}, {film:.9g}"
                yield "*NODE FILE"
                yield "NT"
            yield "*END STEP"

    def strain(self, temperatures: list[list[str]]) -> Iterator[str]:
        """Deck of the straining, along ``temperatures``: for each step a line a node."""
        straining = self.given["straining"]
        yield from self._mesh("C3D20R" if self.quadratic else "C3D8I")
        yield "*INITIAL CONDITIONS, TYPE=TEMPERATURE"
        yield f"ALL, {straining['reference_C']}"
        yield "*BOUNDARY"
        by_axis: dict[int, list[int]] = {}
        for node, axis in straining["fixed"]:
            by_axis.setdefault(axis, []).append(node)
        for axis, nodes in by_axis.items():
            for node in self._with_middles(nodes):
                yield f"{node + 1}, {axis + 1}, {axis + 1}, 0."
        if len(temperatures) != len(self.times) - 1:
            raise RuntimeError(f"{len(temperatures)} heat steps came back of {len(self.times) - 1}")
        for lines in temperatures:
            yield "*STEP"
            yield "*STATIC, DIRECT"
            yield "1., 1."
            yield "*TEMPERATURE"
            yield from lines
            yield "*END STEP"
        yield "*STEP"
        yield "*STATIC, DIRECT"
        yield "1., 1."
        yield "*TEMPERATURE"
        yield f"ALL, {straining['reference_C']}"
        yield "*NODE FILE"
        yield "U"
        yield "*END STEP"

    def _mesh(self, kind: str) -> Iterator[str]:
        yield "*NODE, NSET=ALL"
        for number, (x, y, z) in enumerate(self.nodes, start=1):
            yield f"{number}, {x:.9g}, {y:.9g}, {z:.9g}"
        yield f"*ELEMENT, TYPE={kind}, ELSET=PART"
        for number, nodes in enumerate(self.elements, start=1):
            text = [str(node + 1) for node in nodes]
            yield f"{number}, " + ", ".join(text[:10]) + ("," if len(text) > 10 else "")
            if len(text) > 10:
                yield ", ".join(text[10:])
        yield from self._material()
        yield "*SOLID SECTION, ELSET=PART, MATERIAL=METAL"

    def _material(self) -> Iterator[str]:
        given = self.given["material"]
        yield "*MATERIAL, NAME=METAL"
        yield "*DENSITY"
        yield f"{given['density_kg_m3'] * 1e-12:.9g}"
        yield "*CONDUCTIVITY"
        for t, v in given["conductivity_W_mK"]:
            yield f"{v:.9g}, {t}"
        yield "*SPECIFIC HEAT"
        for t, v in given["specific_heat_J_kgK"]:
            yield f"{v * 1e6:.9g}, {t}"
        yield "*ELASTIC"
        for t, v in given["youngs_modulus_MPa"]:
            yield f"{v:.9g}, {given['poisson']}, {t}"
        yield f"*EXPANSION, ZERO={self.given['straining']['reference_C']}"
        for t, v in given["secant_expansion_per_C_ref20"]:
            yield f"{v:.9g}, {t}"
        yield "*PLASTIC"
        for (t, v), (_, h) in zip(given["yield_MPa"], given["hardening_modulus_MPa"], strict=True):
            yield f"{v:.9g}, 0., {t}"
            yield f"{v + h:.9g}, 1., {t}"

    def _with_middles(self, nodes: list[int]) -> list[int]:
        """Nodes, and the mid-side nodes of edges that lie between two of them."""
        chosen = set(nodes)
        between = [m for (a, b), m in self.middle.items() if a in chosen and b in chosen]
        return sorted(chosen) + between

    def _faces(self, quads: list[list[int]]) -> list[tuple[int, int]]:
        wanted = {tuple(sorted(quad)) for quad in quads}
        return [
            (element, face)
            for element, corner in enumerate(self.hexes)
            for face, local in enumerate(FACES)
            if tuple(sorted(corner[list(local)])) in wanted
        ]

    def _powers(self) -> Any:
        """A function of time that gives heated nodes and their powers, mW."""
        given = self.given["heating"]["nodal_power"]
        heated, stored = np.array(given["nodes"]), np.array(given["W"])
        moments = np.array(given["times_s"])

        def at(time: float) -> Array:
            if time > moments[-1] * (1 + 1e-12):
                return np.zeros(heated.size)
            return np.array([np.interp(time, moments, column) for column in stored.T])

        if not self.quadratic:
            return lambda time: (heated, 1e3 * at(time))
        inside = set(heated.tolist())
        quads = [
            corner[list(local)]
            for element, local in self._outer(inside)
            for corner in [self.hexes[element]]
        ]
        flux, spread = _face_matrices(self.nodes, np.array(quads), self.middle)

        def consistent(time: float) -> tuple[IntArray, Array]:
            right = np.zeros(len(self.nodes))
            right[heated] = at(time)
            kept = np.unique(np.array(quads))
            density = np.zeros(len(self.nodes))
            density[kept] = spsolve(flux[kept][:, kept].tocsc(), right[kept])
            powers = spread @ density
            nodes = np.flatnonzero(powers)
            return nodes, 1e3 * powers[nodes]

        return consistent

    def _outer(self, inside: set[int]) -> list[tuple[int, tuple[int, ...]]]:
        count: dict[tuple[int, ...], int] = {}
        found: dict[tuple[int, ...], tuple[int, tuple[int, ...]]] = {}
        for element, corner in enumerate(self.hexes):
            for local in FACES:
                key = tuple(sorted(corner[list(local)].tolist()))
                count[key] = count.get(key, 0) + 1
                found[key] = (element, local)
        return [found[key] for key, n in count.items() if n == 1 and inside.issuperset(key)]


def _edge(a: int, b: int) -> tuple[int, int]:
    return (int(a), int(b)) if a < b else (int(b), int(a))


def _face_matrices(
    nodes: Array, quads: IntArray, middle: dict[tuple[int, int], int]
) -> tuple[Any, Any]:
    """Mass of linear shapes on quads, and linear shapes against 8-node shapes, sparse (n, n)."""
    root = np.sqrt(0.6)
    gauss = [(-root, 5 / 9), (0.0, 8 / 9), (root, 5 / 9)]
    corner = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)], dtype=float)
    mass, cross = ([], [], []), ([], [], [])
    for quad in quads:
        ids = [*quad, *(middle[_edge(quad[k], quad[(k + 1) % 4])] for k in range(4))]
        linear_part, cross_part = np.zeros((4, 4)), np.zeros((8, 4))
        for s, ws in gauss:
            for t, wt in gauss:
                linear = 0.25 * (1 + corner[:, 0] * s) * (1 + corner[:, 1] * t)
                ds = 0.25 * corner[:, 0] * (1 + corner[:, 1] * t)
                dt = 0.25 * corner[:, 1] * (1 + corner[:, 0] * s)
                area = np.linalg.norm(np.cross(ds @ nodes[quad], dt @ nodes[quad])) * ws * wt
                edge = 0.5 * np.array(
                    [(1 - s * s) * (1 - t), (1 + s) * (1 - t * t),
                     (1 - s * s) * (1 + t), (1 - s) * (1 - t * t)]
                )  # fmt: skip
                shapes = np.concatenate((linear, edge))
                for k in range(4):
                    shapes[k] -= 0.5 * (edge[k] + edge[k - 1])
                linear_part += area * np.outer(linear, linear)
                cross_part += area * np.outer(shapes, linear)
        for store, part, rows in ((mass, linear_part, quad), (cross, cross_part, ids)):
            for i, row in enumerate(rows):
                for j, column in enumerate(quad):
                    store[0].append(int(row))
                    store[1].append(int(column))
                    store[2].append(part[i, j])
    shape = (len(nodes), len(nodes))
    return (
        coo_matrix((mass[2], (mass[0], mass[1])), shape=shape).tocsr(),
        coo_matrix((cross[2], (cross[0], cross[1])), shape=shape).tocsr(),
    )
