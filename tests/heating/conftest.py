"""Materials and bodies for the heat tests."""

from collections.abc import Callable

import pytest
from numpy.typing import ArrayLike

from flamefe.basics.table import Table
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material
from flamefe.workpiece.mesh import box_mesh


def _constant(value: float) -> Table:
    return Table.constant(value, source="the test")


def _table(value: float | Table) -> Table:
    return value if isinstance(value, Table) else _constant(value)


def conductor_of_heat(
    *, conductivity: float | Table, density: float, specific_heat: float | Table
) -> Material:
    """Make a material of which only the three heat properties matter."""
    return Material(
        name="test metal",
        density=density,
        conductivity=_table(conductivity),
        specific_heat=_table(specific_heat),
        thermal_strain=_constant(0.0),
        youngs_modulus=_constant(210e9),
        poisson=_constant(0.3),
        yield_stress=_constant(355e6),
        hardening_modulus=_constant(0.0),
        heating_limit_C=1e4,
        heating_limit_source="the test",
        source="the test",
    )


def box_of(material: Material, x: ArrayLike, y: ArrayLike, z: ArrayLike) -> Body:
    """Make a box with the given coordinates along its axes."""
    return Body(mesh=box_mesh(x, y, z), materials=(material,))


@pytest.fixture(scope="session")
def metal() -> Callable[..., Material]:
    """Return a maker of materials: metal(conductivity=, density=, specific_heat=)."""
    return conductor_of_heat


@pytest.fixture(scope="session")
def box() -> Callable[..., Body]:
    """Return a maker of boxes: box(material, x, y, z)."""
    return box_of
