"""Effects of local runs carried over to larger parts, against full runs of several heats.

Coarse meshes: what counts is that the parts shrink alike, not how much.
"""

import numpy as np
import pytest
from skfem import ElementHex1, FacetBasis

from flamefe.basics.errors import OutOfRange
from flamefe.planning.elastic_sheet import ElasticSheet
from flamefe.planning.members import Girder
from flamefe.planning.seats import MemberHeat, seated, together
from flamefe.straining.prism import Prism
from flamefe.study.case import Bar, Case, Flame, LineHeat, Mesh, Plate, Solve, SpotHeat
from flamefe.study.heat_effects import member_effect, sheet_effect
from flamefe.study.run import run
from flamefe.workpiece.body import Body
from flamefe.workpiece.mesh import box_mesh
from flamefe.workpiece.standard import material

WITHIN = 0.05
DEPTH, THICK = 0.06, 0.01


def bar_of(length_mm, stations_mm, cycles=(), tolerance=1e-3):
    """A flat bar with lines across half of its depth, on one face."""
    heats = [
        LineHeat(
            flame="torch", face="top", path_mm=[[x, 26], [x, 58]], speed_mm_s=4,
            cycle=cycles[i] if cycles else 1,
        )
        for i, x in enumerate(stations_mm)
    ]  # fmt: skip
    return Case(
        title="lines across a bar",
        workpiece=Bar(
            length_mm=length_mm, depth_mm=1e3 * DEPTH, thickness_mm=1e3 * THICK, material="S355"
        ),
        mesh=Mesh(size_at_heat_mm=9, size_away_mm=30, layers=2),
        flames={"torch": Flame(power_kW=2.6, radius_mm=16)},
        heats=heats,
        solve=Solve(geometry="small", tolerance=tolerance, largest_temperature_step_C=50),
    )


def plate_of(length_mm, width_mm, spots_mm):
    heats = [SpotHeat(flame="torch", face="top", at_mm=list(at), time_s=13) for at in spots_mm]
    return Case(
        title="spots on a plate",
        workpiece=Plate(length_mm=length_mm, width_mm=width_mm, thickness_mm=10, material="S355"),
        mesh=Mesh(size_at_heat_mm=10, size_away_mm=30, layers=2),
        flames={"torch": Flame(power_kW=2.8, radius_mm=16)},
        heats=heats,
        solve=Solve(geometry="small", largest_temperature_step_C=50),
    )


def end_planes(mesh, movement):
    """Turn of the end against the start about y and z, and shortening: those on which an end
    moment M z / I and an end force would work, integrated over the faces."""
    found = []
    for name in ("start", "end"):
        basis = FacetBasis(mesh, ElementHex1(), facets=mesh.boundaries[name], intorder=4)
        _, y, z = np.asarray(basis.global_coordinates())
        along, area = np.asarray(basis.interpolate(movement[:, 0])), basis.dx
        y, z = (lever - (lever * area).sum() / area.sum() for lever in (y, z))
        turns = [(along * lever * area).sum() / (lever**2 * area).sum() for lever in (z, y)]
        found.append([*turns, (along * area).sum() / area.sum()])
    return tuple(start - end for start, end in zip(*found, strict=True))


@pytest.fixture(scope="module")
def local():
    """One heat on a short bar, and again on the same place."""
    result = run(bar_of(260, [130, 130], cycles=[1, 2], tolerance=1e-6))
    return result, member_effect(result, kind="line across")


def test_rotation_of_a_run_follows_from_its_plastic_strain(local):
    """Exact: the run's own ends turn by int e z dV / I, to 1e-6 (the run's own tolerance)."""
    result, heat = local
    end = result.strain.ends[0]
    up, side, shift = end_planes(result.mesh, end.displacement)
    shrunk = Prism(result.mesh).shrinkage(end.plastic_strain)
    assert shrunk.rotation_y == pytest.approx(up, rel=1e-6)
    assert shrunk.rotation_z == pytest.approx(side, rel=1e-6)
    assert shrunk.shortening == pytest.approx(shift, rel=1e-6, abs=1e-10)
    assert abs(up) > 5e-4
    assert heat.effect.rotation_y == shrunk.rotation_y
    assert heat.middle == pytest.approx(0.13, abs=1e-3)


def test_a_second_heat_on_the_same_place_gives_less(local):
    """As runs show, and as is known (CTE Magazine 2015: a full heat along the same line gives no
    useful further gain)."""
    _, heat = local
    assert heat.effect.repeats[0] == 1.0
    assert 0.0 <= heat.effect.repeats[1] < 0.5
    again = MemberHeat(name="b", effect=heat.effect, station=0.3, side="top")
    found = together([MemberHeat(name="a", effect=heat.effect, station=0.3, side="top"), again])
    assert found.shares[1] == pytest.approx(heat.effect.repeats[1])
    assert 'run "lines across a bar"' in found.notes[0]


def test_two_and_three_heats_on_a_longer_bar(local):
    _, heat = local
    result = run(bar_of(620, [150, 310, 470]))
    up, side, _ = end_planes(result.mesh, result.strain.ends[-1].displacement)
    row = [
        MemberHeat(name=f"h{i}", effect=heat.effect, station=x)
        for i, x in enumerate((0.15, 0.31, 0.47))
    ]
    assert 3 * heat.effect.rotation_y == pytest.approx(up, rel=WITHIN)
    assert 3 * heat.effect.rotation_z == pytest.approx(side, rel=WITHIN)
    girder = Girder(length=0.62, stations=[0.15, 0.31, 0.47])
    predicted = girder.deviations(row)
    axis = np.array([mid_axis(result, x) for x in (0.0, 0.15, 0.31, 0.47, 0.62)])
    chord = axis[0] + (axis[-1] - axis[0]) * np.array([0.15, 0.31, 0.47])[:, None] / 0.62
    sag = axis[1:-1] - chord
    # the bar's depth lies along y: camber of the member is upright, sweep sideways
    assert predicted[:3] == pytest.approx(sag[:, 1], rel=WITHIN)
    assert predicted[3:] == pytest.approx(sag[:, 0], rel=WITHIN)


def mid_axis(result, x):
    """Movement of the section at x along y and z: mean over its depth at mid-thickness."""
    body = Body(mesh=result.mesh, materials=(result.material,))
    y = np.linspace(0.0, DEPTH, 13)
    places = np.column_stack((np.full(13, x), y, np.full(13, 0.5 * THICK)))
    sheet = ElasticSheet(body, places, (0, 0, 1))
    moved = sheet.watched.moved(result.strain.ends[-1].displacement)
    return np.array([moved[:, 1].mean(), moved[:, 2].mean()])


def test_two_spots_on_a_larger_plate():
    """One spot on a cut of 190 mm; two of them on a plate of 340 x 200 mm, shape at 45 places."""
    effect = sheet_effect(run(plate_of(190, 190, [(95, 95)])), kind="spot")
    spots = [(100, 100), (240, 100)]
    result = run(plate_of(340, 200, spots))
    gx, gy = (g.ravel() for g in np.meshgrid(np.linspace(0, 0.34, 9), np.linspace(0, 0.2, 5)))
    places = np.column_stack((gx, gy, 0.0 * gx))
    modes = np.column_stack((np.ones(gx.size), gx, gy))

    def shape(values):
        return values - modes @ np.linalg.lstsq(modes, values, rcond=None)[0]

    full = ElasticSheet(Body(mesh=result.mesh, materials=(result.material,)), places, (0, 0, 1))
    wanted = shape(full.at_places(result.strain.ends[-1].displacement))
    coarse = box_mesh(np.linspace(0, 0.34, 35), np.linspace(0, 0.2, 21), [0, 0.01])
    sheet = ElasticSheet(Body(mesh=coarse, materials=(material("S355"),)), places, (0, 0, 1))
    row = [
        seated(effect, f"s{i}", (x / 1e3, y / 1e3), middle=0.005) for i, (x, y) in enumerate(spots)
    ]
    found = shape(sheet.after(row))
    assert np.linalg.norm(found - wanted) < WITHIN * np.linalg.norm(wanted)
    assert np.abs(found - wanted).max() < WITHIN * np.ptp(wanted)


def test_runs_that_tell_no_single_effect_are_refused(local):
    result, _ = local
    with pytest.raises(OutOfRange, match="flat plate"):
        sheet_effect(result, kind="line")
    other = bar_of(260, [130, 90], cycles=[1, 2])
    with pytest.raises(OutOfRange, match="different heats"):
        member_effect(type(result)(**{**vars(result), "case": other}), kind="line")
