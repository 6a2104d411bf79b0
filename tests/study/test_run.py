"""From a case to a result: order, carrying over, release, warnings, cautions."""

from dataclasses import replace

import meshio
import numpy as np
import pytest

import flamefe
from flamefe.outcome.measure import find_measure
from flamefe.study.case import (
    Case,
    Flame,
    Force,
    Guide,
    InherentStrain,
    Limits,
    LineHeat,
    Mesh,
    Plate,
    SpotHeat,
)
from flamefe.study.faults import CaseError
from flamefe.study.run import run
from flamefe.workpiece.mesh import plate_mesh
from flamefe.workpiece.meshfile import to_meshio_order

SPOT = SpotHeat(flame="torch", face="top", at_mm=[40, 30], time_s=8, cool_to_C=60)


def small_case(**changes):
    given = {
        "title": "a spot on a gusset of a conveyor frame",
        "workpiece": Plate(length_mm=80, width_mm=60, thickness_mm=8, material="S355"),
        "mesh": Mesh(size_at_heat_mm=8, size_away_mm=12, layers=2),
        "flames": {"torch": Flame(power_kW=2.2, radius_mm=15)},
        "heats": [SPOT],
    }
    return Case(**{**given, **changes})


def value(result, name, cycle=1):
    return find_measure(result.cycles[cycle - 1].measures, name).value


@pytest.fixture(scope="module")
def one_spot():
    return run(small_case())


def test_histories_fit_together(one_spot):
    assert np.array_equal(one_spot.heat.times, one_spot.strain.times)
    assert one_spot.heat.times[0] == 0.0
    assert (np.diff(one_spot.heat.times) > 0).all()
    assert len(one_spot.strain.ends) == len(one_spot.cycles) == 1
    assert one_spot.strain.ends[0].time == one_spot.heat.times[-1]
    nodes = one_spot.mesh.p.shape[1]
    assert one_spot.strain.displacements.shape == (len(one_spot.heat.times), nodes, 3)


def test_energy_is_closed_to_half_a_percent(one_spot):
    energy = one_spot.heat.energy
    assert energy.supplied == pytest.approx(2200.0 * 8.0)
    assert energy.error < 0.005
    assert energy.lost == pytest.approx(energy.supplied, rel=0.005), "the part ends cold"


def test_part_ends_cold_and_strained(one_spot):
    assert np.ptp(one_spot.heat.temperatures[-1]) == 0.0
    assert 400.0 < one_spot.cycles[0].heat_check.peak_C < 900.0
    assert one_spot.cycles[0].largest_plastic_strain > 1e-3
    assert one_spot.strain.effort.worst_residual <= one_spot.case.solve.tolerance


def test_free_part_carries_no_support_force(one_spot):
    """Rigid-body supports carry nothing: forces in a free part balance by themselves."""
    yield_force = 355e6 * 0.06 * 0.008
    assert np.abs(one_spot.strain.reactions).max() < 1e-3 * yield_force


def test_top_spot_in_the_middle_bends_towards_the_torch_and_shrinks(one_spot):
    assert value(one_spot, "edge rise at mid length") > 0.0
    assert value(one_spot, "mean transverse shrinkage") > 0.0
    assert abs(value(one_spot, "twist")) < 0.01 * abs(
        value(one_spot, "angular change at mid length")
    )


def test_second_cycle_starts_from_what_the_first_left(one_spot):
    """The first cycle repeats exactly; a second heat on the same place gives less."""
    twice = run(small_case(heats=[SPOT, replace(SPOT, cycle=2)]))
    assert len(twice.cycles) == 2
    first = value(twice, "mean transverse shrinkage", 1)
    assert first == pytest.approx(value(one_spot, "mean transverse shrinkage"), rel=1e-6)
    second = value(twice, "mean transverse shrinkage", 2) - first
    assert 0.0 < second < first
    ends = twice.strain.ends
    assert (ends[1].equivalent_plastic_strain >= ends[0].equivalent_plastic_strain - 1e-12).all()


def test_two_heats_in_one_cycle_wait_for_the_stated_temperature():
    case = small_case(heats=[replace(SPOT, at_mm=[25, 30]), replace(SPOT, at_mm=[55, 30])])
    result = run(case)
    assert len(result.cycles) == 1
    hottest = result.heat.temperatures.max(axis=1)
    waiting = [h for h in hottest if 50.0 < h <= 60.0]
    assert waiting, "the part must fall to 60 C before the second heat"
    assert np.count_nonzero(np.diff(np.sign(hottest - 300.0))) == 4, "hot twice, cold twice"


def test_released_clamp_lets_go_and_leaves_another_shape():
    ends = ("start", "end")
    clamps = [flamefe.Clamp(face=face, released="after cooling") for face in ends]
    held = run(small_case(supports=clamps))
    assert np.abs(held.strain.reactions[-1]).max() < 1e-3 * 355e6 * 0.06 * 0.008
    kept = run(small_case(supports=[flamefe.Clamp(face="start"), flamefe.Clamp(face="end")]))
    assert value(kept, "longitudinal shrinkage of the line") == pytest.approx(0.0, abs=1e-3)
    assert value(held, "longitudinal shrinkage of the line") > 0.01
    assert kept.strain.ends[0].mises.max() > 0.5 * 355e6
    free = run(small_case())
    assert value(held, "longitudinal shrinkage of the line") > value(
        free, "longitudinal shrinkage of the line"
    ), "metal that can't expand upsets more"


def test_loose_supports_are_refused_before_solving(monkeypatch):
    monkeypatch.setattr("flamefe.study.run.heat_along", lambda *a, **k: pytest.fail("solved"))
    with pytest.raises(CaseError, match="free to move"):
        run(small_case(supports=[Guide(face="bottom")]))


def test_push_bends_the_part_elastically_and_springs_back():
    """0.2 mm at the free end of a clamped strip stays elastic and is gone after release."""
    case = small_case(
        supports=[
            flamefe.Clamp(face="start"),
            flamefe.Push(
                face="end", direction="z", displacement_mm=[[1, 0.02]], released="after cooling"
            ),
        ],
        flames={"torch": Flame(power_kW=0.05, radius_mm=15)},
    )
    result = run(case)
    end = result.mesh.p[0] > 0.0799
    hot = result.strain.displacements[-2][end, 2]
    assert hot == pytest.approx(0.02e-3, rel=1e-6)
    assert np.abs(result.strain.displacements[-1][end, 2]).max() < 1e-3 * 0.02e-3


def test_own_weight_is_carried_by_the_supports():
    case = small_case(
        supports=[flamefe.Clamp(face="start")],
        loads=[flamefe.OwnWeight()],
        flames={"torch": Flame(power_kW=0.05, radius_mm=15)},
    )
    result = run(case)
    weight = 7850.0 * 0.08 * 0.06 * 0.008 * 9.80665
    assert result.strain.reactions[-1] == pytest.approx([0.0, 0.0, weight], abs=0.02 * weight)
    assert any(text.startswith("Falling parts") for text in result.cautions)
    assert any(text.startswith("Stored force") for text in result.cautions)


def test_box_of_inherent_strain_bends_as_plane_sections_say():
    """phi = int e z dV / I over a free strip (exact: plane sections, derived)."""
    shrink = -0.001
    case = small_case(
        workpiece=Plate(length_mm=200, width_mm=20, thickness_mm=10, material="S355"),
        mesh=Mesh(size_at_heat_mm=10, size_away_mm=10, layers=4),
        heats=[],
        flames={},
        inherent_strain=[
            InherentStrain(from_mm=[60, 0, 5], to_mm=[140, 20, 10], strain=[shrink, 0, 0, 0, 0, 0])
        ],
        solve=flamefe.Solve(geometry="small", tolerance=1e-6),
    )
    result = run(case)
    moved = result.strain.ends[0].displacement
    points = result.mesh.p.T

    def turn(x):
        face = np.abs(points[:, 0] - x) < 1e-9
        return np.polyfit(points[face, 2], moved[face, 0], 1)[0]

    inertia_by_width = 0.01**3 / 12
    expected = shrink * 0.08 * (0.005 * 0.0025) / inertia_by_width
    assert turn(0.2) - turn(0.0) == pytest.approx(expected, rel=0.01)


def test_too_hot_extrapolated_and_edge_are_said():
    case = small_case(
        flames={"torch": Flame(power_kW=12, radius_mm=15)},
        heats=[replace(SPOT, at_mm=[40, 8], time_s=6)],
    )
    result = run(case)
    assert not result.cycles[0].heat_check.within_limit
    text = " ".join(result.warnings)
    assert "Extrapolated" in text
    assert "of the flame lay on the part" in text


def test_limit_of_the_case_counts():
    result = run(small_case(limits=Limits(temperature_C=300)))
    check = result.cycles[0].heat_check
    assert check.limit_C == 300.0
    assert not check.within_limit
    assert check.time_above_s > 0.0


def test_rules_stand_beside_a_line_heat():
    case = small_case(
        workpiece=Plate(length_mm=120, width_mm=90, thickness_mm=8, material="S355"),
        heats=[LineHeat(flame="torch", face="top", path_mm=[[20, 45], [100, 45]], speed_mm_s=6)],
        mesh=Mesh(size_at_heat_mm=10, size_away_mm=20, layers=2),
    )
    result = run(case)
    rules = {rule.rule: rule for rule in result.rules}
    bound = rules["all heat upset at the face"]
    assert 0.0 < bound.ratio < 1.0, "no heat shrinks more than all of it turned into upset"
    two_layers = rules["two layers"]
    # Vollertsen 1994: 3 alpha q' / (rho c h^2), q' = 2200 W / 6 mm/s, here within the material's
    # mean values
    assert two_layers.value == pytest.approx(np.degrees(
        3 * two_layers_ratio(result) * (2200 / 0.006) / 0.008**2), rel=0.02)  # fmt: skip


def two_layers_ratio(result):
    """alpha / (rho c), means from 20 to 600 C, straight from the material's tables."""
    steel = result.material
    alpha = float(steel.thermal_strain(600.0)) / 580.0
    return alpha / (steel.density * float(steel.specific_heat.integral(600.0)) / 580.0)


def test_small_and_finite_geometry_differ_but_not_wildly(one_spot):
    small = run(small_case(solve=flamefe.Solve(geometry="small")))
    a = value(small, "angular change at mid length")
    b = value(one_spot, "angular change at mid length")
    assert a != b
    assert abs(a - b) < 0.3 * abs(b)


def test_mesh_file_gives_what_the_plate_gives(tmp_path, one_spot):
    """The same mesh read from a file: same displacements."""
    mesh = one_spot.mesh
    path = tmp_path / "gusset.vtu"
    meshio.write(path, meshio.Mesh(mesh.p.T * 1e3, [("hexahedron", to_meshio_order(mesh))]))
    case = small_case(workpiece=flamefe.MeshFile(file="gusset.vtu", material="S355"), mesh=Mesh())
    result = run(case, folder=tmp_path)
    there = one_spot.strain.ends[0].displacement
    # coordinates in mm and back differ in the last digit; increments converge to 1e-3
    allowed = one_spot.case.solve.tolerance * np.abs(there).max()
    assert result.strain.ends[0].displacement == pytest.approx(there, abs=allowed)


def test_own_material_is_what_the_run_uses():
    own = flamefe.OwnMaterial(base="S355", yield_strength_MPa=460, heating_limit_C=500)
    case = small_case(
        workpiece=Plate(length_mm=80, width_mm=60, thickness_mm=8, material="mill plate"),
        materials={"mill plate": own},
    )
    result = run(case)
    assert float(result.material.yield_stress(20.0)) == pytest.approx(460e6)
    assert result.cycles[0].heat_check.limit_C == 500.0


def test_two_percent_stress_upsets_less_than_proof_strength(one_spot):
    own = flamefe.OwnMaterial(base="S355", yield_as="2 % stress")
    case = small_case(
        workpiece=Plate(length_mm=80, width_mm=60, thickness_mm=8, material="by ky"),
        materials={"by ky": own},
    )
    assert value(run(case), "mean transverse shrinkage") < value(
        one_spot, "mean transverse shrinkage"
    )


def test_progress_is_told_and_ends(one_spot):
    class Listener:
        def __init__(self):
            self.said = []

        def stage(self, name, total):
            self.said.append((name, total))

        def update(self, done):
            self.said.append(done)

        def finish(self):
            self.said.append("end")

    heard = Listener()
    run(small_case(), progress=heard)
    stages = [entry for entry in heard.said if isinstance(entry, tuple)]
    assert [name for name, _ in stages] == ["heating", "straining"]
    assert heard.said[-1] == "end"
    middle = heard.said.index(stages[1])
    for part, (_, total) in (
        (heard.said[1:middle], stages[0]),
        (heard.said[middle + 1 : -1], stages[1]),
    ):
        assert part == sorted(part)
        assert part[-1] == pytest.approx(total)


def test_plate_mesh_of_a_case_is_graded_to_its_path(one_spot):
    same = plate_mesh(0.08, 0.06, 0.008, heated={"top": [[(0.04, 0.03)]]}, reach=0.03,
                      size_at_heat=0.008, size_away=0.012, layers=2)  # fmt: skip
    assert one_spot.mesh.p.shape == same.p.shape


BENT = Plate(length_mm=200, width_mm=40, thickness_mm=8, material="S355")


def push_case(history, **changes):
    push = flamefe.Push(face="end", direction="z", displacement_mm=history, **changes)
    return small_case(
        workpiece=BENT,
        mesh=Mesh(size_at_heat_mm=10, size_away_mm=10, layers=2),
        heats=[],
        flames={},
        supports=[flamefe.Clamp(face="start"), push],
    )


def test_push_without_heats_lasts_to_the_end_of_its_history():
    result = run(push_case([[0, 0], [10, -1]]))
    end = result.mesh.p[0] > 0.1999
    assert result.strain.times[-1] == 10.0
    assert result.strain.displacements[-1][end, 2] == pytest.approx(-1e-3, rel=1e-6)


def test_short_pulse_between_steps_is_not_missed():
    """A blow that comes and goes within the job leaves plastic strain."""
    result = run(push_case([[0, 0], [3, 0], [3.5, -25], [4, 0], [600, 0]]))
    assert 3.5 in result.strain.times
    assert result.cycles[0].largest_plastic_strain > 1e-3


def test_release_after_cooling_works_without_heats():
    result = run(push_case([[0, 0], [10, -0.2]], released="after cooling"))
    assert np.abs(result.strain.displacements[-1]).max() < 1e-6


def test_loads_without_supports_and_far_points_are_said():
    force = Force(at_mm=[103, 20, 4], force_N=[0, 0, -10])
    case = small_case(
        workpiece=BENT, mesh=Mesh(size_at_heat_mm=10, size_away_mm=10, layers=2), heats=[],
        flames={}, loads=[force],
    )  # fmt: skip
    text = " ".join(run(case).warnings)
    assert "not supported" in text
    assert "3.0 mm from the nearest node" in text
