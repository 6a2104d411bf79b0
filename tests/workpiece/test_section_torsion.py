"""St Venant's torsion constant of cross sections against closed forms."""

from collections.abc import Callable
from dataclasses import replace
from math import pi, tanh

import numpy as np
import pytest

from flamefe.basics.errors import NotConverged, OutOfRange
from flamefe.workpiece import section_shapes as shapes
from flamefe.workpiece.section import Section
from flamefe.workpiece.section_properties import torsion

PLATES = {"height": 0.2, "width": 0.1, "web_thickness": 0.008, "flange_thickness": 0.012}


def rectangle_torsion(long: float, short: float) -> float:
    """Saint-Venant's series: Timoshenko and Goodier, Theory of Elasticity (from memory)."""
    odd = range(1, 60, 2)
    series = sum(tanh(n * pi * long / (2 * short)) / n**5 for n in odd)
    return long * short**3 / 3 * (1 - 192 / pi**5 * short / long * series)


@pytest.mark.parametrize("ratio", [1.0, 2.0, 5.0, 20.0])
def test_torsion_of_a_rectangle_by_its_series(ratio: float) -> None:
    section = shapes.flat_bar(width=0.01 * ratio, thickness=0.01, size=0.005)
    wanted = rectangle_torsion(0.01 * ratio, 0.01)
    found = torsion(section, tolerance=1e-3)
    assert found.lower * (1 - 1e-9) <= wanted <= found.upper * (1 + 1e-9)
    assert found.constant == pytest.approx(wanted, rel=5e-4)


def test_torsion_of_round_shapes_converges_to_the_polar_moment() -> None:
    bar, tube = pi * 0.05**4 / 32, pi * (0.1**4 - 0.084**4) / 32
    errors = []
    for around in (16, 32, 64):
        size = (1 + 1e-9) / around
        solid = shapes.round_bar(diameter=0.05, size=pi * 0.05 * size)
        hollow = shapes.round_tube(outer_diameter=0.1, thickness=0.008, size=pi * 0.1 * size)
        errors.append(
            [abs(torsion(solid, tolerance=1e-3).constant / bar - 1.0),
             abs(torsion(hollow, tolerance=1e-3).constant / tube - 1.0)]
        )  # fmt: skip
    assert (np.array(errors[0]) < 0.02).all()
    assert (np.array(errors[1]) < 0.4 * np.array(errors[0])).all()
    assert (np.array(errors[2]) < 1.5e-3).all()


def test_bounds_of_a_round_shape_close_in_without_the_mesh_being_changed() -> None:
    tube = shapes.round_tube(outer_diameter=0.1, thickness=0.008, size=0.01)
    loose, close = torsion(tube, tolerance=0.05), torsion(tube, tolerance=2e-4)
    assert loose.refinements < close.refinements
    assert loose.lower <= close.lower <= close.upper <= loose.upper


@pytest.mark.parametrize(
    ("build", "plates"),
    [
        (
            lambda: shapes.i_section(**PLATES, size=0.02),
            [(0.1, 0.012), (0.1, 0.012), (0.176, 0.008)],
        ),
        (
            lambda: shapes.channel(**PLATES, size=0.02),
            [(0.096, 0.012), (0.096, 0.012), (0.188, 0.008)],
        ),
        (lambda: shapes.t_section(**PLATES, size=0.02), [(0.1, 0.012), (0.188, 0.008)]),
        (
            lambda: shapes.angle(height=0.1, width=0.065, thickness=0.009, size=0.01),
            [(0.0605, 0.009), (0.0955, 0.009)],
        ),
        (
            lambda: shapes.stiffened_panel(
                width=0.6,
                plate_thickness=0.01,
                stiffeners=2,
                spacing=0.3,
                stiffener_height=0.1,
                stiffener_thickness=0.008,
                size=0.05,
            ),
            [(0.6, 0.01), (0.1, 0.008), (0.1, 0.008)],
        ),
    ],
    ids=["I", "channel", "T", "angle", "panel"],
)
def test_torsion_of_thin_open_shapes_is_about_a_third_of_b_t_cubed(
    build: Callable[[], Section], plates: list[tuple[float, float]]
) -> None:
    """The edges take 0.63 t off each free length, the junctions add to it: within 6 %."""
    found = torsion(build())
    assert found.constant == pytest.approx(sum(b * t**3 for b, t in plates) / 3, rel=0.06)


def test_torsion_of_thin_closed_shapes_by_bredt() -> None:
    """J = 4 A^2 / sum (s / t), A within the middle lines; better the thinner the wall."""
    flush = {"height": 0.3, "width": 0.2}
    errors = []
    for share in (1.0, 0.25):
        web, flange = 0.008 * share, 0.012 * share
        section = shapes.box(**flush, web_thickness=web, flange_thickness=flange, size=0.02)
        high, wide = 0.3 - flange, 0.2 - web
        bredt = 4 * (high * wide) ** 2 / (2 * high / web + 2 * wide / flange)
        errors.append(torsion(section).constant / bredt - 1.0)
    assert abs(errors[0]) < 0.03
    assert abs(errors[1]) < 0.008
    tube = shapes.rectangular_tube(
        height=0.1, width=0.06, thickness=0.003, outer_radius=0.006, size=0.01
    )
    radius = 0.0045
    around = 2 * (0.097 + 0.057) - (8 - 2 * pi) * radius
    within = 0.097 * 0.057 - (4 - pi) * radius**2
    assert torsion(tube).constant == pytest.approx(4 * within**2 * 0.003 / around, rel=0.01)


def test_a_slit_takes_the_torsional_stiffness_away() -> None:
    """The hole counts: the same tube cut open all along is two hundred times softer."""
    tube = shapes.round_tube(outer_diameter=0.1, thickness=0.004, size=0.01)
    shut = torsion(tube)
    points, quads = tube.points, tube.quads.copy()
    seam = np.flatnonzero((np.abs(points[:, 1] - 0.05) < 1e-9) & (points[:, 0] > 0.05))
    below = points[quads].mean(axis=1)[:, 1] < 0.05
    opened = dict(zip(seam.tolist(), range(len(points), len(points) + len(seam)), strict=True))
    for row in np.flatnonzero(below):
        quads[row] = [opened.get(node, node) for node in quads[row].tolist()]
    moved = np.concatenate([points, points[seam] - (0.0, 1e-4)])
    lips = [np.stack([seam[:-1], seam[1:]], axis=-1)]
    lips += [np.stack([row[:-1], row[1:]], axis=-1) for row in [np.array(list(opened.values()))]]
    faces = {name: follow(edges, quads, opened) for name, edges in tube.faces.items()}
    slit = replace(tube, points=moved, quads=quads, faces={**faces, "lips": np.concatenate(lips)})
    assert len(slit.loops) == 1
    opened_up = torsion(slit).constant
    assert opened_up == pytest.approx(pi * 0.096 * 0.004**3 / 3, rel=0.04)
    assert shut.constant / opened_up > 200


def follow(edges: np.ndarray, quads: np.ndarray, opened: dict[int, int]) -> np.ndarray:
    """Edges whose quad got the new nodes get them too."""
    around = {
        (int(a), int(b)) for quad in quads for a, b in zip(quad, np.roll(quad, -1), strict=True)
    }
    kept = []
    for a, b in edges.tolist():
        options = [(a, b), (opened.get(a, a), b), (a, opened.get(b, b))]
        kept.append(next(pair for pair in options if pair in around))
    return np.array(kept)


def test_torsion_that_can_not_be_settled_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("flamefe.workpiece.section_properties.LARGEST_TORSION_PROBLEM", 1000)
    section = shapes.i_section(**PLATES, size=0.02)
    with pytest.raises(NotConverged, match=r"lies between .* further apart than .* 0\.0001"):
        torsion(section, tolerance=1e-4)
    with pytest.raises(OutOfRange, match="tolerance"):
        torsion(section, tolerance=0.0)
