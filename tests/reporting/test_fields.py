"""The fields over time, read back by an independent reader."""

import numpy as np
import pyvista
from numpy.testing import assert_allclose

from flamefe.reporting.fields import FRAMES, write_fields


def test_viewers_read_times_and_fields(make_result, tmp_path):
    result = make_result(cycles=2)
    reader = pyvista.get_reader(str(write_fields(result, tmp_path)))
    assert_allclose(reader.time_values, result.heat.times)

    for time in result.strain.times:
        reader.set_active_time_value(float(time))
        grid = reader.read()[0]
        row = int(np.searchsorted(result.heat.times, time))
        assert_allclose(grid.points, 1e3 * result.mesh.p.T, atol=1e-6)
        assert_allclose(grid["temperature_C"], result.heat.temperatures[row], rtol=1e-6)
        moved = result.strain.displacements[int(np.searchsorted(result.strain.times, time))]
        assert_allclose(grid["displacement_mm"], 1e3 * moved, rtol=1e-5, atol=1e-7)
    volume = grid.compute_cell_sizes()["Volume"]
    assert (volume > 0).all()
    assert_allclose(volume.sum(), 400 * 200 * 12)
    assert_allclose(grid["peak_temperature_C"], result.heat.peak, rtol=1e-6)
    last = result.strain.ends[-1]
    assert_allclose(grid.cell_data["residual_von_mises_MPa"], last.mises.mean(axis=1) / 1e6)
    assert_allclose(
        grid.cell_data["residual_plastic_strain"], last.equivalent_plastic_strain.mean(axis=1)
    )


def test_residual_fields_are_those_of_the_last_cycle_that_ended(make_result, tmp_path):
    result = make_result(cycles=2)
    reader = pyvista.get_reader(str(write_fields(result, tmp_path)))
    first, second = result.strain.ends
    for time, expected in (
        (0.0, 0.0 * first.mises),
        (first.time, first.mises),
        (second.time, second.mises),
    ):
        reader.set_active_time_value(time)
        values = reader.read()[0].cell_data["residual_von_mises_MPa"]
        assert_allclose(values, expected.mean(axis=1) / 1e6)
    assert first.mises.max() < second.mises.max()


def test_displacement_between_increments_is_linear_in_time(result, tmp_path):
    reader = pyvista.get_reader(str(write_fields(result, tmp_path)))
    before, after = result.strain.times[:2]
    between = [t for t in result.heat.times if before < t < after]
    assert between
    share = (between[0] - before) / (after - before)
    moved = result.strain.displacements
    reader.set_active_time_value(float(between[0]))
    expected = 1e3 * ((1 - share) * moved[0] + share * moved[1])
    assert_allclose(reader.read()[0]["displacement_mm"], expected, rtol=1e-5, atol=1e-7)


def test_moments_of_an_earlier_result_do_not_stay(result, tmp_path):
    stale = tmp_path / FRAMES
    stale.mkdir()
    (stale / "moment_9999.vtu").write_text("old")
    write_fields(result, tmp_path)
    names = sorted(file.name for file in stale.iterdir())
    assert len(names) == len(result.heat.times)
    assert "moment_9999.vtu" not in names


def test_a_part_that_was_never_heated_has_one_temperature_and_two_moments(make_result, tmp_path):
    heated = make_result()
    heat = type(heated.heat)(
        times=np.array([0.0]),
        temperatures=heated.heat.temperatures[:1],
        energy=heated.heat.energy,
    )
    strain = type(heated.strain)(
        times=np.array([0.0, 1.0]),
        displacements=heated.strain.displacements[[0, -1]],
        ends=heated.strain.ends,
        effort=heated.strain.effort,
        reactions=np.zeros((2, 3)),
    )
    file = write_fields(make_result(heat=heat, strain=strain), tmp_path)
    assert pyvista.get_reader(str(file)).time_values == [0.0, 1.0]
