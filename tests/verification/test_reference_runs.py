"""The engine against stored runs of an independent FE solver.

Source: own runs of CalculiX 2.20 (general-purpose FE solver), see benchmarks/data/README.md. Its
quadratic elements are the reference; its hex8 element averages temperature and is low in thermal
bending.
"""

import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest

BENCHMARKS = Path(__file__).parents[2] / "benchmarks"
sys.path.insert(0, str(BENCHMARKS))

import reference_case  # noqa: E402
from problem import MM, Problem, material_of  # noqa: E402

from flamefe.heating.conduction import Conductor  # noqa: E402
from flamefe.heating.surface import Cooling, FacePoints  # noqa: E402
from flamefe.straining.equilibrium import Solving, strain_along  # noqa: E402
from flamefe.straining.restraint import Support  # noqa: E402
from flamefe.straining.schedule import targets  # noqa: E402
from flamefe.workpiece.body import Body  # noqa: E402
from flamefe.workpiece.mesh import box_mesh  # noqa: E402

DATA = BENCHMARKS / "data"


@cache
def problem(name):
    return Problem.read(DATA / f"{name}.json")


def result_of(name, geometry):
    return next(
        result
        for result in problem(name).content["results"]
        if "quadratic" in result["by"] and result["geometry"] == geometry
    )


def difference(name, geometry, displacement):
    theirs = np.array(result_of(name, geometry)["U_mm"]) * MM
    return np.linalg.norm(displacement - theirs) / np.linalg.norm(theirs)


@cache
def strained_along_stored(name, geometry):
    stored = DATA / result_of(name, geometry)["temperatures"]
    return reference_case.run(problem(name), geometry, str(stored))[2]


@cache
def own_chain():
    return reference_case.run(problem("R3coarse"), "small")


def end_rotation(name, displacement):
    """Rotation of the bar's end face, rad, from a line fitted through its nodes."""
    points = problem(name).body.points
    end = points[:, 0] > points[:, 0].max() - 1e-6
    return np.polyfit(points[end, 1], displacement[end, 0], 1)[0]


def test_axially_held_bar_follows_the_exact_curve_at_every_temperature():
    """R1: stress within 1 MPa of the law integrated in one dimension."""
    given = problem("R1").content
    exact = np.array(next(r for r in given["results"] if r["by"] == "exact")["stress_MPa"])
    mesh = box_mesh(np.linspace(0, 0.1, 3), [0, 0.01], [0, 0.01])
    body = Body(mesh=mesh, materials=(material_of(given["material"]),))
    points = body.points
    held = np.zeros(points.shape, dtype=bool)
    held[(points[:, 0] < 1e-9) | (points[:, 0] > 0.1 - 1e-9), 0] = True
    held[points[:, 1] < 1e-9, 1] = True
    held[points[:, 2] < 1e-9, 2] = True
    moments = [
        (float(i), np.full(len(points), float(t)), "") for i, t in enumerate(given["temperature_C"])
    ]
    schedule = targets(points=points, moments=moments, supports=[Support(held=held)])
    solving = Solving(geometry="small", tolerance=1e-6)
    stress = [m.stress[0].mean() / 1e6 for m in strain_along(body, schedule, solving=solving)]
    assert len(stress) == len(exact)
    np.testing.assert_allclose(stress, exact, atol=1.0)


def test_line_heat_small_strain_along_stored_temperatures():
    """Within 2.5 % of the quadratic mesh in the norm of the displacements."""
    found = difference("R3coarse", "small", strained_along_stored("R3coarse", "small"))
    assert found < 0.025


def test_line_heat_finite_geometry_along_stored_temperatures():
    """Within 3 % of the quadratic finite-geometry run."""
    found = difference("R3coarse", "finite", strained_along_stored("R3coarse", "finite"))
    assert found < 0.03


def test_geometry_matters_on_a_12_mm_plate():
    """The finite run differs from the small one by far more than either from its reference."""
    small = strained_along_stored("R3coarse", "small")
    finite = strained_along_stored("R3coarse", "finite")
    assert np.linalg.norm(finite - small) > 0.15 * np.linalg.norm(small)


def test_wedge_brought_to_heat_at_once_in_a_free_bar():
    """W1 free: within 3 % in the norm; the end's rotation within 0.05 mrad."""
    found = strained_along_stored("W1_free", "small")
    assert difference("W1_free", "small", found) < 0.03
    theirs = np.array(result_of("W1_free", "small")["U_mm"]) * MM
    gap = end_rotation("W1_free", found) - end_rotation("W1_free", theirs)
    assert abs(gap) < 0.05e-3


def test_wedge_under_an_end_moment_that_is_taken_off():
    """W1 held: the end's rotation within 0.05 mrad."""
    found = strained_along_stored("W1_held", "small")
    theirs = np.array(result_of("W1_held", "small")["U_mm"]) * MM
    gap = end_rotation("W1_held", found) - end_rotation("W1_held", theirs)
    assert abs(gap) < 0.05e-3
    free = end_rotation("W1_free", strained_along_stored("W1_free", "small"))
    assert end_rotation("W1_held", found) < free - 0.1e-3, "the moment must close the wedge"


def test_own_temperatures_are_a_little_hotter():
    """Mean peak rise within 4 % of the quadratic run, and on the hotter side.

    That solver multiplies the specific heat at a step's end with the temperature change and so
    stores too little heat while steel passes its peak of specific heat; by enthalpy it is hotter.
    """
    temperatures = own_chain()[1]
    start = problem("R3coarse").content["heating"]["initial_C"]
    theirs = np.array(result_of("R3coarse", "small")["peak_C"]) - start
    ratio = (temperatures.max(axis=0) - start).mean() / theirs.mean()
    assert 1.0 < ratio < 1.04


def test_stored_temperatures_lack_heat_that_own_ones_keep():
    """After 50 s of burning: enthalpy in the plate plus loss from its faces is what went in."""
    given = problem("R3coarse")
    times, temperatures, _, _, _, balance = own_chain()
    face = FacePoints.of(given.mesh, given.film_facets)
    film = given.content["heating"]["film_W_m2K"]
    conductor = Conductor(given.body, [Cooling(face=face, film=film, emissivity=0, ambient=20)])
    burning = 0.5 * 7000.0 * 50.0  # half the plate, half the flame

    def content(times, temperatures):
        last = np.searchsorted(times, 50.0)
        losses = [conductor.loss(row) for row in temperatures[1 : last + 1]]
        lost = float(np.dot(losses, np.diff(times[: last + 1])))
        return (conductor.enthalpy(temperatures[last]) + lost) / burning

    with np.load(DATA / "R3_coarse_T_hex8.npz") as stored:  # linear elements, like ours
        theirs = content(stored["times_s"], stored["T_C"])
    assert content(times, temperatures) == pytest.approx(1.0, abs=1e-3)
    assert 0.97 < theirs < 0.99
    assert balance.error < 0.005


def test_whole_chain_with_own_temperatures():
    """Heat and straining together within 8 % of the quadratic run in the displacements."""
    assert difference("R3coarse", "small", own_chain()[2]) < 0.08


@pytest.mark.parametrize("geometry", ["small", "finite"])
def test_runner_writes_what_it_promises(geometry, tmp_path, monkeypatch, capsys):
    """T, U in the file's node order and the costs are in the output file."""
    out = tmp_path / "out.npz"
    stored = DATA / result_of("W1_free", "small")["temperatures"]
    monkeypatch.setattr(
        "sys.argv",
        ["reference_case.py", str(DATA / "W1_free.json"), "--geometry", geometry,
         "--temperatures", str(stored), "--out", str(out)],
    )  # fmt: skip
    reference_case.main()
    nodes = len(problem("W1_free").content["mesh"]["nodes"])
    with np.load(out) as written:
        assert written["T"].shape[1] == nodes
        assert written["U"].shape == (nodes, 3)
        assert written["cpu_straining_s"] > 0.0
        assert written["peak_rss_mb"] > 10.0
        assert "cpu_heat_s" in written
    for result in problem("W1_free").content["results"]:
        assert result["by"] in capsys.readouterr().out
