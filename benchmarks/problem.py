"""A whole problem from a JSON file: mesh, material, heating, restraint, and others' results.

The format is described in ``data/README.md``. Lengths there are mm, stresses MPa.
"""

import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from skfem import MeshHex

from flamefe.basics.table import Table
from flamefe.straining.restraint import NEVER, Load, Support
from flamefe.workpiece.body import Body
from flamefe.workpiece.faces import facets_of_quads
from flamefe.workpiece.material import Material
from flamefe.workpiece.meshfile import from_meshio_order

Array = NDArray[np.float64]

MM = 1e-3
MPA = 1e6


@dataclass(frozen=True, kw_only=True)
class Problem:
    """A problem file, read.

    Args:
        path: of the file.
        content: what stands in it.
    """

    path: Path
    content: dict[str, Any]

    @classmethod
    def read(cls, path: str | Path) -> "Problem":
        """Read a problem file; its results' temperature files lie beside it."""
        place = Path(path)
        return cls(path=place, content=json.loads(place.read_text("utf-8")))

    @cached_property
    def mesh(self) -> MeshHex:
        """The hexes, m, nodes numbered as in the file."""
        mesh = self.content["mesh"]
        return from_meshio_order(np.array(mesh["nodes"]) * MM, np.array(mesh["hexes"]))

    @cached_property
    def material(self) -> Material:
        """The material, SI."""
        return material_of(self.content["material"])

    @cached_property
    def body(self) -> Body:
        """Mesh and material."""
        return Body(mesh=self.mesh, materials=(self.material,))

    @property
    def film_facets(self) -> NDArray[np.int64]:
        """Facets that lose heat."""
        quads = self.content["heating"]["film_quads"]
        if not quads:
            return np.zeros(0, dtype=np.int64)
        return np.asarray(facets_of_quads(self.mesh, np.array(quads)))

    @property
    def support(self) -> Support:
        """Fixed degrees of freedom."""
        held = np.zeros((self.mesh.p.shape[1], 3), dtype=bool)
        for node, axis in self.content["straining"]["fixed"]:
            held[node, axis] = True
        return Support(held=held, name="fixed degrees of freedom")

    def loads(self, start: float, end: float) -> list[Load]:
        """Loads, on from ``start`` s; those that are removed are taken off after ``end`` s."""
        result = []
        for given in self.content["straining"].get("loads", []):
            forces = np.zeros((self.mesh.p.shape[1], 3))
            np.add.at(forces[:, given["axis"]], given["nodes"], given["N"])
            applied, removed = given.get("applied"), given.get("removed", "never")
            if isinstance(removed, str):
                removed = NEVER if removed in ("", "never") else end
            result.append(
                Load(
                    forces=forces,
                    applied=float(applied) if isinstance(applied, int | float) else start,
                    released=NEVER if removed is None else float(removed),
                    name=given.get("name", "load"),
                )
            )
        return result

    def stored_temperatures(self, path: str | Path | None = None) -> tuple[Array, Array]:
        """Times (nt,) s and nodal temperatures (nt, n) C of a stored file."""
        with np.load(path or self.path) as stored:
            return np.asarray(stored["times_s"]), np.asarray(stored["T_C"])


def material_of(given: dict[str, Any]) -> Material:
    """Material from its tables, mm, MPa, C; secant expansion becomes thermal strain."""

    def table(name: str, scale: float = 1.0) -> Table:
        pairs = given[name]
        if not isinstance(pairs, list):
            return Table.constant(float(pairs) * scale, source="problem file")
        return Table(
            temperature_C=tuple(float(t) for t, _ in pairs),
            values=tuple(float(v) * scale for _, v in pairs),
            source="problem file",
        )

    secant = table("secant_expansion_per_C_ref20")
    # the secant coefficient is linear between its points, the strain quadratic: sample it finely
    first, last = min(-50.0, secant.temperature_C[0]), max(1500.0, secant.temperature_C[-1])
    knots = np.unique(np.concatenate((np.arange(first, last, 2.0), secant.temperature_C, [20.0])))
    strain = secant(knots) * (knots - 20.0)
    unknown = Table.constant(1.0, source="not given, not used")
    return Material(
        name="problem file",
        density=float(given.get("density_kg_m3", 7850.0)),
        conductivity=table("conductivity_W_mK") if "conductivity_W_mK" in given else unknown,
        specific_heat=table("specific_heat_J_kgK") if "specific_heat_J_kgK" in given else unknown,
        thermal_strain=Table(
            temperature_C=tuple(knots), values=tuple(strain), source="problem file"
        ),
        youngs_modulus=table("youngs_modulus_MPa", MPA),
        poisson=table("poisson"),
        yield_stress=table("yield_MPa", MPA),
        hardening_modulus=table("hardening_modulus_MPa", MPA),
        heating_limit_C=1500.0,
        heating_limit_source="none: a benchmark",
        source="problem file",
    )
