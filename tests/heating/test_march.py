"""The march through burns and rests: steps, waits, failures, and the history that comes of it."""

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from flamefe.basics.errors import Attempt, EnergyImbalance, NotConverged, OutOfRange
from flamefe.heating.conduction import Conductor, HeatStep
from flamefe.heating.deposit import Deposit
from flamefe.heating.flame import GaussianFlame
from flamefe.heating.history import EnergyBalance, TemperatureHistory
from flamefe.heating.march import HeatMoment, NeverCools, collected, heat_along
from flamefe.heating.path import TorchPath
from flamefe.heating.phase import Burn, Rest
from flamefe.heating.surface import Cooling, FacePoints
from flamefe.workpiece.body import Body
from flamefe.workpiece.material import Material
from flamefe.workpiece.standard import material

Array = NDArray[np.float64]
Metal = Callable[..., Material]
Box = Callable[..., Body]
Phases = list[Burn | Rest]
AMBIENT, HEIGHT, SPEED, RADIUS = 20.0, 0.01, 0.010, 0.012


@pytest.fixture(scope="module")
def plate(box: Box) -> Body:
    return box(
        material("S355"),
        np.linspace(0.0, 0.12, 16),
        np.linspace(0.0, 0.06, 9),
        [0.0, 0.005, HEIGHT],
    )


def _conductor(plate: Body, *, film: float = 40.0) -> Conductor:
    faces = FacePoints.of(plate.mesh, plate.mesh.boundary_facets())
    return Conductor(plate, [Cooling(face=faces, film=film, emissivity=0.7, ambient=AMBIENT)])


def _deposit(plate: Body, path: TorchPath, power: float = 2500.0) -> Deposit:
    top = FacePoints.of(plate.mesh, plate.mesh.boundaries["top"], order=5)
    return Deposit(flame=GaussianFlame(power=power, radius=RADIUS), path=path, face=top)


def _line(plate: Body, *, y: float = 0.03, step: float = 0.2, power: float = 2500.0) -> Burn:
    path = TorchPath.moving([(0.03, y, HEIGHT), (0.09, y, HEIGHT)], speed=SPEED)
    return Burn(deposits=(_deposit(plate, path, power),), step=step, name=f"line at {y:g}")


def _spot(plate: Body, *, duration: float = 8.0, power: float = 2000.0) -> Burn:
    path = TorchPath.standing((0.06, 0.03, HEIGHT), duration=duration)
    return Burn(deposits=(_deposit(plate, path, power),), step=None, name="spot")


def test_several_heats_with_rests_between(plate: Body) -> None:
    """Each rest ends once the hottest node is at its temperature, and not far below it.

    Far: a step of a rest should bring at most a tenth of the excess over ambient, half as much
    again at worst.
    """
    phases: Phases = [
        _line(plate, y=0.02),
        Rest(until=120.0, cold=False, name="first rest"),
        _spot(plate),
        Rest(until=60.0, cold=False, name="second rest"),
        _line(plate, y=0.04),
        Rest(until=90.0, cold=True, name="last rest"),
    ]
    moments = list(heat_along(_conductor(plate), phases, ambient=AMBIENT))
    names = [m.phase for m in moments]
    order = [name for name, before in zip(names, ["", *names], strict=False) if name != before]
    assert order == ["start", *(phase.name for phase in phases)]
    for phase in phases:
        mine = [m for m in moments if m.phase == phase.name and not m.cold]
        if isinstance(phase, Rest):
            ends = [float(m.temperature.max()) for m in mine]
            assert ends[-1] <= phase.until
            assert all(end > phase.until for end in ends[:-1])
            assert ends[-1] > phase.until - 0.15 * (ends[-2] - AMBIENT)
            assert sum(m.supplied for m in mine) == 0.0
        else:
            assert phase.duration == pytest.approx(
                mine[-1].time - moments[moments.index(mine[0]) - 1].time, rel=1e-9
            )
            stated = phase.deposits[0].flame.power * phase.duration
            assert sum(m.supplied for m in mine) == pytest.approx(stated, rel=1e-9)
    history = collected(moments)
    assert (np.diff(history.times) > 0.0).all()
    assert history.energy.error < 5e-5
    assert history.cold == (len(moments) - 1,)
    # cold again, the part has lost all that was supplied
    assert history.energy.stored == pytest.approx(0.0, abs=1e-6 * history.energy.supplied)
    assert history.energy.lost == pytest.approx(history.energy.supplied, rel=5e-5)
    assert (history.temperatures[-1] == AMBIENT).all()


def test_the_time_to_cold_is_three_time_constants(plate: Body, metal: Metal, box: Box) -> None:
    """A lump of known time constant: h A / (rho c V) gives the wait after the last rest."""
    side = np.linspace(0.0, 0.02, 3)
    block = box(metal(conductivity=400.0, density=7850.0, specific_heat=600.0), side, side, side)
    faces = FacePoints.of(block.mesh, block.mesh.boundary_facets())
    conductor = Conductor(block, [Cooling(face=faces, film=20.0, emissivity=0.0, ambient=AMBIENT)])
    top = FacePoints.of(block.mesh, block.mesh.boundaries["top"])
    deposit = Deposit(
        flame=GaussianFlame(power=100.0, radius=0.01),
        path=TorchPath.standing((0.01, 0.01, 0.02), duration=20.0),
        face=top,
    )
    phases: Phases = [
        Burn(deposits=(deposit,), step=None, name="heat"),
        Rest(until=30.0, cold=True, name="rest"),
    ]
    *_, before, cold = heat_along(conductor, phases, ambient=AMBIENT)
    constant = 7850.0 * 600.0 * 0.02**3 / (20.0 * 6.0 * 0.02**2)
    assert cold.cold
    assert not before.cold
    assert cold.time - before.time == pytest.approx(3.0 * constant, rel=1e-3)
    assert before.temperature.max() <= 30.0


def test_each_cycle_ends_cold(plate: Body) -> None:
    phases: Phases = [
        _spot(plate, duration=4.0),
        Rest(until=100.0, cold=True, name="end of cycle 1"),
        _spot(plate, duration=4.0),
        Rest(until=100.0, cold=True, name="end of cycle 2"),
    ]
    history = collected(list(heat_along(_conductor(plate), phases, ambient=AMBIENT)))
    assert len(history.cold) == 2
    for i in history.cold:
        assert (history.temperatures[i] == AMBIENT).all()
    first, second = (history.temperatures[a:b] for a, b in pairwise((0, *history.cold)))
    # both cycles are alike: same flame, same start
    assert second.max() == pytest.approx(first.max(), rel=0.02)


def test_standing_flame_steps_follow_the_rise(plate: Body) -> None:
    """No step of a spot brings more than half as much again as allowed, after the first ones.

    The first step is a hundredth of the burning time, the longest a tenth of it.
    """
    for allowed in (15.0, 40.0):
        moments = list(
            heat_along(_conductor(plate), [_spot(plate)], ambient=AMBIENT, allowed_change=allowed)
        )
        steps = np.diff([m.time for m in moments])
        changes = [float(np.abs(b.temperature - a.temperature).max()) for a, b in pairwise(moments)]
        assert steps[0] == pytest.approx(0.08)
        assert steps.max() <= 0.8 * 1.001
        assert max(changes[1:]) < 1.5 * allowed
        assert moments[-1].time == pytest.approx(8.0)


def test_line_steps_are_as_asked(plate: Body) -> None:
    """None is longer than the step, and they end with the torch."""
    for step in (0.2, 0.35, 100.0):
        moments = list(heat_along(_conductor(plate), [_line(plate, step=step)], ambient=AMBIENT))
        steps = np.diff([m.time for m in moments])
        assert steps.max() <= min(step, 6.0) * 1.002
        assert moments[-1].time == pytest.approx(6.0)


def test_allowed_change_controls_the_error(plate: Body) -> None:
    """The highest temperature with steps of 30 K, the default, is within 1 % of that with 4 K.

    On the rise at half time, where steps are shortened most, the coarser one is the colder one,
    as backward Euler must be.
    """

    def hottest(allowed: float) -> tuple[Array, Array]:
        moments = list(
            heat_along(
                _conductor(plate),
                [_spot(plate, power=1500.0)],
                ambient=AMBIENT,
                allowed_change=allowed,
            )
        )
        times = np.array([m.time for m in moments])
        return times, np.array([float(m.temperature.max()) for m in moments])

    (usual_times, usual), (times, fine) = hottest(30.0), hottest(4.0)
    assert len(times) > 2.5 * len(usual_times)
    assert usual[-1] - AMBIENT == pytest.approx(fine[-1] - AMBIENT, rel=0.01)
    early = (usual_times > 0.5) & (usual_times < 4.0)
    gap = usual[early] - np.interp(usual_times[early], times, fine)
    assert (gap < 0.0).all()
    assert (gap > -0.025 * usual[early]).all()


class Stubborn(Conductor):
    """Converges only in steps that are short enough."""

    longest = 0.06
    tries: list[float]

    def step(self, temperature: Array, **how: Any) -> HeatStep:
        duration = float(how["duration"])
        self.tries.append(duration)
        if duration > self.longest:
            raise NotConverged(
                "forced", [Attempt(time_s=0.0, step_s=duration, residuals=(1.0, 1.0))]
            )
        return super().step(temperature, **how)


def _stubborn(plate: Body, longest: float) -> Stubborn:
    plain = _conductor(plate)
    stubborn = Stubborn(plate, plain.cooling)
    stubborn.longest, stubborn.tries = longest, []
    return stubborn


def test_steps_are_cut_where_they_fail(plate: Body) -> None:
    """0.2 s fails down to 0.05 s, which works; heat and time are still complete."""
    stubborn = _stubborn(plate, 0.06)
    moments = list(heat_along(stubborn, [_line(plate)], ambient=AMBIENT))
    assert stubborn.tries[:3] == pytest.approx([0.2, 0.1, 0.05])
    assert max(np.diff([m.time for m in moments])) <= 0.06
    assert moments[-1].time == pytest.approx(6.0)
    energy = collected(moments).energy
    assert energy.supplied == pytest.approx(2500.0 * 6.0, rel=1e-9)
    assert energy.error < 5e-5


def test_cut_steps_grow_again(plate: Body) -> None:
    """After trouble at the start only, the steps return to the asked length."""
    stubborn = _stubborn(plate, 0.06)
    steps = []
    last = 0.0
    for moment in heat_along(stubborn, [_line(plate)], ambient=AMBIENT):
        if moment.time > 0.5:
            stubborn.longest = 1.0
        steps.append(moment.time - last)
        last = moment.time
    assert steps[-1] == pytest.approx(0.2, rel=0.05)


def test_a_step_that_never_converges_is_an_error(plate: Body) -> None:
    """After six cuts the failure is passed on, with its residuals."""
    stubborn = _stubborn(plate, 0.0)
    with pytest.raises(NotConverged) as caught:
        list(heat_along(stubborn, [_line(plate)], ambient=AMBIENT))
    assert len(stubborn.tries) == 7
    assert stubborn.tries[-1] == pytest.approx(0.2 / 64)
    assert caught.value.history[-1].residuals == (1.0, 1.0)


def test_real_failure_names_the_step_and_keeps_residuals(
    plate: Body, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With linear solves that give nothing, the corrections run out."""
    monkeypatch.setattr(
        "flamefe.heating.conduction.cg", lambda matrix, b, **_: (np.zeros_like(b), 1)
    )
    n = len(plate.points)
    with pytest.raises(NotConverged, match="did not converge within a step of 3 s") as caught:
        _conductor(plate).step(np.full(n, 500.0), power=np.zeros(n), duration=3.0)
    attempt = caught.value.history[-1]
    assert attempt.step_s == 3.0
    assert len(attempt.residuals) > 10
    assert np.ptp(attempt.residuals) == 0.0


def test_an_insulated_part_never_cools(plate: Body) -> None:
    phases: Phases = [_spot(plate, duration=3.0), Rest(until=30.0, cold=False, name="the rest")]
    with pytest.raises(NeverCools, match=r"the rest: .* does not reach 30 C"):
        list(heat_along(Conductor(plate), phases, ambient=AMBIENT))


def test_a_part_can_not_cool_below_ambient(plate: Body) -> None:
    phases: Phases = [
        _spot(plate, duration=3.0),
        Rest(until=AMBIENT - 5.0, cold=False, name="the rest"),
    ]
    with pytest.raises(NeverCools, match="does not reach 15 C"):
        list(heat_along(_conductor(plate), phases, ambient=AMBIENT))


def test_a_flame_that_leaves_stops_the_march(plate: Body) -> None:
    path = TorchPath.moving([(0.09, 0.03, HEIGHT), (0.2, 0.03, HEIGHT)], speed=SPEED)
    burn = Burn(deposits=(_deposit(plate, path),), step=0.2, name="line")
    with pytest.raises(OutOfRange, match="left the part"):
        list(heat_along(_conductor(plate), [burn], ambient=AMBIENT))


def test_uniform_and_insulated_stays_uniform(plate: Body) -> None:
    """No source, no loss: nothing changes, in steps short and long."""
    conductor = Conductor(plate)
    n = len(plate.points)
    for level in (20.0, 734.0, 900.0):
        for duration in (1e-3, 1.0, 3600.0):
            step = conductor.step(np.full(n, level), power=np.zeros(n), duration=duration)
            np.testing.assert_allclose(step.temperature, level, rtol=1e-12)
            assert step.stored == pytest.approx(0.0, abs=1e-6)


def test_at_ambient_nothing_is_lost(plate: Body) -> None:
    conductor = _conductor(plate)
    n = len(plate.points)
    step = conductor.step(np.full(n, AMBIENT), power=np.zeros(n), duration=100.0)
    np.testing.assert_allclose(step.temperature, AMBIENT, rtol=1e-12)
    assert step.lost == pytest.approx(0.0, abs=1e-9)


def test_insulated_heat_evens_out_to_its_mean(metal: Metal, box: Box) -> None:
    """A hot half and a cold half with constant properties end at the mean, within 1e-6 K.

    At the end nothing flows but rounding errors, which must not count as unbalanced power.
    """
    line = np.linspace(0.0, 0.1, 11)
    bar = box(metal(conductivity=40.0, density=7850.0, specific_heat=600.0), line, [0.0, 0.01],
              [0.0, 0.01])  # fmt: skip
    temperature = np.where(bar.points[:, 0] < 0.0501, 700.0, 100.0)
    conductor = Conductor(bar, tolerance=1e-9)
    mean = 20.0 + conductor.enthalpy(temperature) / (7850.0 * 600.0 * 1e-5)
    for _ in range(8):
        temperature = conductor.step(
            temperature, power=np.zeros(temperature.size), duration=1e5
        ).temperature
    np.testing.assert_allclose(temperature, mean, atol=1e-6)


def test_imbalance_is_refused() -> None:
    """More than 2 % of the heat unaccounted for is an error, less is not."""

    def moments(lost: float) -> list[HeatMoment]:
        field = np.full(8, 20.0)
        return [
            HeatMoment(time=0.0, temperature=field, phase="start"),
            HeatMoment(
                time=1.0, temperature=field + 1.0, phase="heat", supplied=100.0, stored=80.0,
                lost=lost, footprint=0.7,
            ),
        ]  # fmt: skip

    history = collected(moments(18.5))
    assert history.energy.error == pytest.approx(0.015)
    assert history.footprint_on_part == 0.7
    with pytest.raises(EnergyImbalance, match=r"3\.0 % of the heat"):
        collected(moments(17.0))


def test_history_between_and_beyond_its_times() -> None:
    """Linear between stored times, held outside them; the peak is each node's own."""
    history = TemperatureHistory(
        times=np.array([0.0, 2.0, 6.0]),
        temperatures=np.array([[20.0, 20.0], [120.0, 40.0], [80.0, 60.0]]),
        energy=EnergyBalance(supplied=1.0, stored=1.0, lost=0.0),
    )
    assert history.peak.tolist() == [120.0, 60.0]
    for time, expected in (
        (0.0, (20.0, 20.0)), (0.5, (45.0, 25.0)), (2.0, (120.0, 40.0)), (5.0, (90.0, 55.0)),
        (6.0, (80.0, 60.0)), (-3.0, (20.0, 20.0)), (99.0, (80.0, 60.0)),
    ):  # fmt: skip
        assert history.at(time) == pytest.approx(expected)


def test_energy_balance_error() -> None:
    """Share of the largest of the three; a balance of nothing has no error."""
    assert EnergyBalance(supplied=0.0, stored=0.0, lost=0.0).error == 0.0
    assert EnergyBalance(supplied=0.0, stored=-50.0, lost=50.0).error == 0.0
    assert EnergyBalance(supplied=100.0, stored=60.0, lost=30.0).error == pytest.approx(0.1)
    assert EnergyBalance(supplied=0.0, stored=-50.0, lost=40.0).error == pytest.approx(0.2)
