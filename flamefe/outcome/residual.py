"""Residual stress in a few numbers."""

from flamefe.outcome.measure import Measure
from flamefe.straining.history import EndState

TO_MPA = 1e-6


def residual_stress_measures(state: EndState) -> tuple[Measure, ...]:
    """Largest stresses that a cycle left behind, over all quadrature points, MPa.

    Peaks at quadrature points depend on the mesh, most of all at clamps and sharp heat; use them
    to compare runs on like meshes.

    Args:
        state: end of a cycle; stress (ne, 8, 6) Pa, order xx, yy, zz, xy, yz, zx.

    Returns:
        Largest tension along x and y, largest compression along x, largest von Mises stress,
        MPa; find one by name with `find_measure`.

    Examples:
        >>> import numpy as np
        >>> stress = np.zeros((1, 8, 6))
        >>> stress[0, 0, 0], stress[0, 1, 0] = 200e6, -120e6
        >>> state = EndState(name="cold", time=0.0, displacement=np.zeros((8, 3)), stress=stress,
        ...     plastic_strain=0 * stress, equivalent_plastic_strain=np.zeros((1, 8)))
        >>> for measure in residual_stress_measures(state):
        ...     print(measure)
        largest tension along x 200 MPa
        largest tension along y 0 MPa
        largest compression along x 120 MPa
        largest von Mises stress 200 MPa
    """
    along_x, along_y = state.stress[..., 0], state.stress[..., 1]
    at_points = "at a quadrature point"
    return (
        _stress("largest tension along x", along_x.max(), f"greatest tension {at_points}"),
        _stress("largest tension along y", along_y.max(), f"greatest tension {at_points}"),
        _stress("largest compression along x", -along_x.min(), f"greatest compression {at_points}"),
        _stress(
            "largest von Mises stress",
            state.mises.max(),
            f"greatest equivalent stress {at_points}; never below 0",
        ),
    )


def _stress(name: str, value: float, what: str) -> Measure:
    floor = max(float(value), 0.0)
    return Measure(
        name=name,
        value=TO_MPA * floor,
        unit="MPa",
        meaning=what if "never" in what else f"{what}; 0 when there is none",
    )
