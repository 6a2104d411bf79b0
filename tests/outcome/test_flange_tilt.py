"""Tilt of a beam's flange against its ends."""

import numpy as np
import pytest

from flamefe.basics.errors import OutOfRange
from flamefe.outcome.flange_tilt import FLANGE_FACES, flange_tilts
from flamefe.study.case_beams import Channel, IBeam, Tee
from flamefe.workpiece.extrude import extruded
from flamefe.workpiece.section_shapes import i_section


def beam():
    section = i_section(
        height=0.2, width=0.12, web_thickness=0.008, flange_thickness=0.012, size=0.03
    )
    return extruded(section, np.linspace(0.0, 0.8, 9)).mesh


def nodes(mesh, face):
    return np.unique(mesh.facets[:, mesh.boundaries[face]])


def faces(mesh):
    return {name: nodes(mesh, FLANGE_FACES[name]) for name in ("top flange", "bottom flange")}


def test_a_folded_web_tilts_its_flange_alone():
    mesh = beam()
    points = mesh.p.T
    x, y, z = mesh.p
    angle = 0.004 * np.sin(np.pi * x / 0.8) * (z > 0.187)
    moved = np.column_stack((0 * x, -angle * (z - 0.188), angle * (y - 0.06)))
    (top,) = flange_tilts(points, moved, faces=faces(mesh))
    assert top.name == "tilt of the top flange"
    assert top.value == pytest.approx(0.004 * 120, rel=0.01)
    assert "at x = 400 mm" in top.meaning


def test_ends_that_tilt_alike_take_nothing_from_it():
    """A heat as long as the beam: its flange tilts all along, against the lower one."""
    mesh = beam()
    x, y, z = mesh.p
    angle = 0.004 * (z > 0.187)
    moved = np.column_stack((0 * x, -angle * (z - 0.188), angle * (y - 0.06)))
    (top,) = flange_tilts(mesh.p.T, moved, faces=faces(mesh))
    assert top.value == pytest.approx(0.004 * 120, rel=0.01)
    single = {"flange": faces(mesh)["top flange"]}
    (alone,) = flange_tilts(mesh.p.T, moved, faces=single)
    assert "against its ends" in alone.meaning
    assert alone.value == pytest.approx(0.0, abs=0.01)


def test_an_evenly_twisted_and_turned_beam_has_no_tilt():
    mesh = beam()
    x, y, z = mesh.p
    angle = 0.01 * x + 0.002
    moved = np.column_stack((0 * x, -angle * (z - 0.1), angle * (y - 0.06)))
    assert all(abs(one.value) < 0.002 for one in flange_tilts(mesh.p.T, moved, faces=faces(mesh)))


def test_a_tilt_is_positive_where_the_side_of_large_y_rises():
    mesh = beam()
    x, y, z = mesh.p
    moved = np.zeros((len(x), 3))
    moved[:, 2] = -0.001 * (y - 0.06) / 0.12 * (np.abs(x - 0.4) < 0.01) * (z > 0.187)
    assert flange_tilts(mesh.p.T, moved, faces=faces(mesh))[0].value < -0.9


def test_a_flange_of_one_station_is_refused():
    points = np.array([[0, 0, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1]], dtype=float)
    with pytest.raises(OutOfRange, match="two stations"):
        flange_tilts(points, 0 * points, faces={"flange": [0, 1]})


def test_faces_are_those_of_beams():
    for piece in (Channel, IBeam, Tee):
        assert any(face in (piece.__doc__ or "") for face in FLANGE_FACES.values())
