"""Shapes before and after: laid over by what holds the part, with the buckle it had."""

import base64
import dataclasses
import json
import zlib

import numpy as np
import pytest
from numpy.testing import assert_allclose

from flamefe.outcome.rigid import without_rigid_motion
from flamefe.reporting.page_model import model_of, page_skin
from flamefe.reporting.pictures import shape_factor, shape_scene
from flamefe.study.case import Clamp


def clamped(result, **changes):
    supports = [Clamp(face="start", **changes)]
    case = dataclasses.replace(result.case, supports=supports)
    return dataclasses.replace(result, case=case)


def buckled(result, height=2e-4):
    """The part with a buckle of one half wave each way, which is 0 along its edges."""
    x, y, _ = result.mesh.p
    initial = np.zeros((x.size, 3))
    initial[:, 2] = height * np.sin(np.pi * x / x.max()) * np.sin(np.pi * y / y.max())
    mesh = type(result.mesh)(
        result.mesh.p + initial.T, result.mesh.t, _boundaries=result.mesh.boundaries
    )
    return dataclasses.replace(result, mesh=mesh, initial_shape=initial)


def moved_mm(result):
    return 1e3 * result.strain.ends[-1].displacement


def test_what_stays_clamped_is_not_moved_by_the_drawing(result):
    held = clamped(result)
    scene = shape_scene(held)
    factor = shape_factor(held)
    assert_allclose(scene.points - scene.before, factor * moved_mm(held), atol=1e-9)
    assert "(dashed) by what stays clamped" in scene.notes[1]
    distortion = model_of(held)["fields"][1]
    assert distortion["high"] == pytest.approx(np.linalg.norm(moved_mm(held), axis=1).max())


@pytest.mark.parametrize("changes", [{"released": "after cooling"}, {"fitted": "hot"}])
def test_a_clamp_that_lets_go_or_comes_late_is_no_reference(result, changes):
    free = clamped(result, **changes)
    scene = shape_scene(free)
    fitted = without_rigid_motion(scene.before, moved_mm(free))
    assert_allclose(scene.points - scene.before, shape_factor(free) * fitted, atol=1e-9)
    assert "by best fit" in scene.notes[1]


def test_a_buckle_is_drawn_before_and_enlarged_like_the_rest(result):
    part = clamped(buckled(result))
    scene, factor = shape_scene(part), shape_factor(part)
    assert f"distortion and buckle before drawn {factor:g} times their size" in scene.title
    flat = 1e3 * (part.mesh.p.T - part.initial_shape)
    assert_allclose(scene.before, flat + factor * 1e3 * part.initial_shape, atol=1e-9)
    assert_allclose(scene.points - scene.before, factor * moved_mm(part), atol=1e-9)
    top = scene.before[scene.skin.edges][:, :, 2].max()
    assert top == pytest.approx(12.0 + factor * 0.2)  # a dashed line goes over the highest place
    assert len(scene.skin.edges) == len(scene.skin.edge_quads)
    on_edges = scene.skin.quads[scene.skin.edge_quads]  # both ends of an edge are in both quads
    for side in (0, 1):
        quads = on_edges[:, side]
        ends = scene.skin.edges
        assert all((quads == ends[:, [end]]).any(axis=1).all() for end in (0, 1))


def unpacked(text, kind):
    return np.frombuffer(zlib.decompress(base64.b64decode(text)), dtype=kind)


def test_page_has_the_buckle(result):
    part = clamped(buckled(result))
    model = json.loads(json.dumps(model_of(part)))
    nodes = page_skin(part).nodes
    step = model["largest_move"] / 2047
    found = np.cumsum(unpacked(model["buckle"], "<i2").astype(np.int64)).reshape(-1, 3) * step
    assert_allclose(found, 1e3 * part.initial_shape[nodes], atol=step)
    points = unpacked(model["points"], "<u2").reshape(-1, 3) / 65535 * model["size"]
    flat = 1e3 * (part.mesh.p.T - part.initial_shape)[nodes]
    assert_allclose(points + model["low"], flat, atol=model["size"] / 65535)
    assert model_of(result)["buckle"] is None
