"""Parts of the virtual workshop: what the planner knows of them, and what their heats truly do.

The planner's library comes from the nominal runs alone (nominal flame, temperature and steel, free
and held). The truth is read between all the runs of `data/workshop_runs.json`, and has its own
geometry.
"""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RegularGridInterpolator

from flamefe.planning.bays import ROOM, counted_by_area, moved_by_area
from flamefe.planning.candidate import Candidate, HeatKind, Library
from flamefe.planning.effect import HeatEffect
from flamefe.planning.limits import CycleRules
from flamefe.planning.members import Column, Girder
from flamefe.planning.places import Places, places_of
from flamefe.planning.rings import Ring
from flamefe.planning.seats import MemberHeat

Array = NDArray[np.float64]
RUNS = Path(__file__).parent / "data" / "workshop_runs.json"
NUMBERS = ("turn_mrad", "shortening_mm", "area_mm2", "repeat")
SPREAD_OF_KINK = 0.3
MISPLACED = 0.02
LIMIT = 0.01
"""Probability of overcorrection that a plan may not exceed."""
OWN = 0.1
THICK, SIDE = 0.004, 0.4
"""Sheet and sides of a bay, m."""
NEXT_BAY = 0.02
"""Share of the area that a heat takes off its bay which comes out in each bay beside it: what the
planner thinks; truly it is drawn from 0 to twice that."""


@dataclass(frozen=True, kw_only=True)
class State:
    """What a shop does that the planner does not know.

    Args:
        power: net power of the flame by its nominal one.
        warmer: temperature under the torch less the asked one, K; without meaning by the clock.
        strength: yield strength by that of S355.
    """

    power: float = 1.0
    warmer: float = 0.0
    strength: float = 1.0


class Runs:
    """Effects of single heats between the runs of the table.

    Linear in power and temperature, times the ratio by which the strength changes the nominal
    effect. Outside the table's span it ends with an error.

    Args:
        part: "girder", "column", "ring" or "panel".
        by: "temperature" or "clock".
        held: whether devices hold the part.
    """

    def __init__(self, part: str, by: str, held: bool) -> None:
        every = json.loads(RUNS.read_text("utf-8"))["runs"]
        rows = [r for r in every if (r["part"], r["by"], r["held"]) == (part, by, held)]
        plain = [r for r in rows if r["strength"] == 1.0]
        powers = sorted({r["power"] for r in plain})
        warmer = sorted({r["warmer"] for r in plain})
        if len(plain) != len(powers) * len(warmer):
            raise ValueError(f"The table of runs has holes for {part}, {by}, held: {held}.")
        found = {(r["power"], r["warmer"]): r for r in plain}
        nominal = found[1.0, 0.0]
        grid = np.array(
            [
                [[found[p, w].get(name, 0.0) for name in NUMBERS] for w in (*warmer, *warmer)]
                if len(warmer) == 1
                else [[found[p, w].get(name, 0.0) for name in NUMBERS] for w in warmer]
                for p in powers
            ]
        )
        axes = (powers, warmer if len(warmer) > 1 else [-1e3, 1e3])
        self._effects = RegularGridInterpolator(axes, grid)
        middle = [r for r in rows if r["power"] == 1.0 and r["warmer"] == 0.0]
        middle.sort(key=lambda r: r["strength"])
        main = "area_mm2" if part == "panel" else "turn_mrad"
        ratios = [[r["strength"], r[main] / nominal[main]] for r in middle]
        ratios_again = [r["repeat"] / max(nominal["repeat"], 1e-9) for r in middle]
        self._strength = np.array(ratios).T
        self._again = np.array(ratios_again)

    def of(self, state: State) -> dict[str, float]:
        """turn_mrad, shortening_mm, area_mm2 and repeat of a heat."""
        strengths, ratios = self._strength
        if not strengths[0] <= state.strength <= strengths[-1]:
            raise ValueError(f"A strength of {state.strength:g} lies outside the table.")
        values = self._effects([[state.power, state.warmer]])[0]
        scale = np.append(
            np.full(3, np.interp(state.strength, strengths, ratios)),
            np.interp(state.strength, strengths, self._again),
        )
        return dict(zip(NUMBERS, (float(value) for value in values * scale), strict=True))


@cache
def runs(part: str, by: str, held: bool) -> Runs:
    """The runs of a kind of heat, read once."""
    return Runs(part, by, held)


@dataclass(frozen=True, kw_only=True, eq=False)
class Part:
    """A part to be straightened, as the planner knows it, and what its heats truly do.

    Args:
        kind: "girder", "column", "ring" or "panel".
        by: "temperature" or "clock".
        places, library, rules: of the job.
        deviation: (n,) m, true deviation before the job.
        measuring: m, standard uncertainty of the instrument.
        true_form: m moved by an effect of 1 rad (of a panel 1 m2), by candidate, shape, chance.
        along: coordinate of a heat along the part, 0 to 1.
        held: which kinds of heats are given to a held part.
        aim: what the usual rule aims at; None: the middle of the tolerance.
    """

    kind: str
    by: str
    places: Places
    library: Library
    rules: CycleRules
    deviation: Array
    measuring: float
    true_form: Callable[[Candidate, Array, np.random.Generator], Array]
    along: Callable[[Candidate], float]
    held: dict[str, bool] = field(default_factory=dict)
    aim: Array | None = None

    @property
    def heights(self) -> bool:
        """Whether deviations count by area, so that heights are measured."""
        return self.kind == "panel"

    def truth(self, kind: str, state: State) -> dict[str, float]:
        """What the runs say of a kind of heat in a shop."""
        return runs(self.kind, self.by, self.held[kind]).of(state)

    def factor(self, kind: str, state: State) -> float:
        """True effect of a kind of heat by the nominal one."""
        name = "area_mm2" if self.kind == "panel" else "turn_mrad"
        return self.truth(kind, state)[name] / self.truth(kind, State())[name]


def string_offsets(x: Array, kink: float, length: float) -> Array:
    """The truth's own geometry: offsets from a string by a kink of one radian, m."""
    return np.asarray(np.where(x <= kink, x * (length - kink), kink * (length - x)) / length)


def plumb_offsets(z: Array, kink: float) -> Array:
    """Offsets from a plumb line by a kink of one radian, m."""
    return np.maximum(z - kink, 0.0)


def radial_offsets(angles: Array, kink: float, radius: float) -> Array:
    """Radii of a ring by a kink of one radian, by its first 60 waves, m."""
    n = np.arange(2, 62)[:, None]
    return np.asarray(radius / np.pi * (np.cos(n * (angles - kink)) / (n**2 - 1)).sum(axis=0))


def nominal_effect(part: str, by: str, held: bool, kind: str) -> HeatEffect:
    """What the planner takes a heat for: the nominal run."""
    found = runs(part, by, held).of(State())
    return HeatEffect(
        kind=kind,
        rotation_y=1e-3 * found["turn_mrad"],
        uncertain=OWN,
        repeats=(1.0, round(found["repeat"], 3)),
        source="nominal run of benchmarks/workshop_runs.py",
    )


def kinds_of(effects: Sequence[HeatEffect], held: dict[str, bool]) -> tuple[HeatKind, ...]:
    """Kinds of heats; those on a held part need a set of jacks."""
    return tuple(
        HeatKind(
            name=one.kind,
            uncertain=OWN,
            scatter=0.18,
            day=0.08,
            repeats=one.repeats,
            device="jacks" if held[one.kind] and len(effects) > 1 else "",
        )
        for one in effects
    )


def girder(random: np.random.Generator, by: str) -> Part:
    """A girder of 8 to 30 m with camber and a second wave; wedges from either side."""
    length = random.uniform(8.0, 30.0)
    count = int(min(15, max(7, length // 1.5)))
    x = np.linspace(0.0, length, count + 2)[1:-1]
    tolerance = random.uniform(0.25e-3, 0.4e-3) * length
    sag = random.uniform(2.5, 6.0) * tolerance
    deviation = sag * np.sin(np.pi * x / length)
    deviation += random.uniform(-0.25, 0.25) * sag * np.sin(2.0 * np.pi * x / length)
    deviation *= random.choice([-1.0, 1.0])
    spacing = max(0.6, length / 24.0)
    piece = Girder(length=length, stations=x, measured=("camber",))
    held = {"wedge": False, "wedge, pressed": True}
    effects = [nominal_effect("girder", by, how, kind) for kind, how in held.items()]
    heats = []
    for s in np.arange(spacing, length - 0.5 * spacing, spacing):
        for side, z in (("top", 0.08), ("bottom", -0.08)):
            for effect in effects:
                heat = MemberHeat(name=effect.kind, effect=effect.on(side), station=float(s))
                heats.append(
                    Candidate(
                        name=f"{effect.kind} {side} {s:.2f} m",
                        kind=effect.kind,
                        size="25 deg",
                        place=f"{side} {s:.2f} m",
                        side=side,
                        position=(float(s), 0.0, z),
                        moves=piece.influence([heat])[:, 0],
                    )
                )

    def true_form(one: Candidate, shape: Array, chance: np.random.Generator) -> Array:
        station = float(np.clip(one.position[0] + chance.normal(0.0, MISPLACED), 0.0, length))
        spread = np.clip(station + SPREAD_OF_KINK * np.array([-0.4, 0.0, 0.4]), 0.0, length)
        form = np.mean([string_offsets(x, float(s), length) for s in spread], axis=0)
        return np.asarray(-form if one.side == "top" else form)

    return Part(
        kind="girder",
        by=by,
        places=places_of([f"{s:.2f} m" for s in x], tolerance),
        library=Library(kinds=kinds_of(effects, held), candidates=tuple(heats)),
        rules=CycleRules(
            overcorrection=LIMIT, most_heats=12, spacing=spacing, most_at_a_place=2,
            devices={"jacks": 9},
        ),
        deviation=deviation,
        measuring=0.1 * tolerance,
        true_form=true_form,
        along=lambda heat: heat.position[0] / length,
        held=held,
    )  # fmt: skip


def column(random: np.random.Generator, by: str) -> Part:
    """A column or tall tube of 4 to 9 m that leans; lines on the long side."""
    height = random.uniform(4.0, 9.0)
    z = np.linspace(height / 6.0, height, 6)
    tolerance = height * random.uniform(0.0012, 0.002)
    lean = random.uniform(3.0, 7.0) * tolerance * random.choice([-1.0, 1.0])
    kink = random.uniform(0.05, 0.4) * height
    deviation = lean * plumb_offsets(z, kink) / (height - kink)
    piece = Column(heights=z, height=height)
    held = {"line": False, "line, pressed": True}
    effects = [nominal_effect("column", by, how, kind) for kind, how in held.items()]
    heats = []
    for s in np.arange(0.3, 0.75 * height, 0.3):
        for side, towards in (("east", 0.0), ("west", np.pi)):
            for effect in effects:
                heat = piece.heat(effect.kind, effect, height=float(s), towards=towards)
                heats.append(
                    Candidate(
                        name=f"{effect.kind} {side} {s:.1f} m",
                        kind=effect.kind,
                        size="one pass",
                        place=f"{side} {s:.1f} m",
                        side=side,
                        position=(0.05 if side == "east" else -0.05, 0.0, float(s)),
                        moves=piece.influence([heat])[: z.size, 0],
                    )
                )

    def true_form(one: Candidate, shape: Array, chance: np.random.Generator) -> Array:
        station = max(0.0, one.position[2] + chance.normal(0.0, MISPLACED))
        form = plumb_offsets(z, station)
        return np.asarray(form if one.side == "east" else -form)

    return Part(
        kind="column",
        by=by,
        places=places_of([f"{s:.1f} m" for s in z], tolerance),
        library=Library(kinds=kinds_of(effects, held), candidates=tuple(heats)),
        rules=CycleRules(
            overcorrection=LIMIT, most_heats=10, spacing=0.3, sequence="largest first",
            devices={"jacks": 8},
        ),
        deviation=deviation,
        measuring=0.1 * tolerance,
        true_form=true_form,
        along=lambda heat: heat.position[2] / height,
        held=held,
    )  # fmt: skip


def ring(random: np.random.Generator, by: str) -> Part:
    """A hoop of 1.6 to 3 m diameter, oval with a third wave; lines outside or inside."""
    radius = random.uniform(0.8, 1.5)
    angles = np.linspace(0.0, 2.0 * np.pi, 16, endpoint=False)
    tolerance = radius * random.uniform(0.002, 0.003)
    size_of = random.uniform(2.5, 5.0) * tolerance
    turn = random.uniform(0.0, 2.0 * np.pi)
    deviation = size_of * np.cos(2.0 * (angles - turn))
    deviation += random.uniform(0.1, 0.35) * size_of * np.cos(3.0 * angles - turn)
    sizes = {"half the height": 0.5, "all the height": 1.0}
    piece = Ring(radius=radius, angles=angles, thickness=0.012)
    nominal = nominal_effect("ring", by, False, "line")
    heats = []
    for index in range(32):
        angle = 2.0 * np.pi * index / 32
        for side, face in (("outside", "top"), ("inside", "bottom")):
            for size, share in sizes.items():
                heat = piece.heat(size, nominal.scaled(share).on(face), angle=angle)
                heats.append(
                    Candidate(
                        name=f"line {size} {side} {index * 11.25:g} deg",
                        kind="line",
                        size=size,
                        place=f"{side} {index * 11.25:g} deg",
                        side=side,
                        position=(radius * np.cos(angle), radius * np.sin(angle), 0.0),
                        moves=piece.influence([heat])[:, 0],
                    )
                )

    def true_form(one: Candidate, shape: Array, chance: np.random.Generator) -> Array:
        at = float(np.arctan2(one.position[1], one.position[0]))
        at += float(chance.normal(0.0, MISPLACED)) / radius
        sign = -1.0 if one.side == "outside" else 1.0
        return np.asarray(sign * sizes[one.size] * radial_offsets(angles, at, radius))

    return Part(
        kind="ring",
        by=by,
        places=places_of([f"{np.degrees(a):g} deg" for a in angles], tolerance),
        library=Library(kinds=kinds_of([nominal], {"line": False}), candidates=tuple(heats)),
        rules=CycleRules(
            overcorrection=LIMIT, most_heats=12, spacing=0.3 * radius, sequence="symmetric"
        ),
        deviation=deviation,
        measuring=0.1 * tolerance,
        true_form=true_form,
        along=lambda heat: float(np.arctan2(heat.position[1], heat.position[0])) / (2.0 * np.pi),
        held={"line": False},
    )


def panel(random: np.random.Generator, by: str) -> Part:
    """A stiffened panel of 2 x 4 bays that dish; spots in the bays, 5 x 5 places each."""
    rows, columns, across = 2, 4, 5
    bays = [(i, j) for i in range(rows) for j in range(columns)]
    tolerance = random.uniform(1.0e-3, 1.5e-3)
    heights = np.array([random.uniform(0.3, 4.0) * tolerance for _ in bays])
    nominal = runs("panel", by, True).of(State())
    taken = 1e-6 * nominal["area_mm2"]
    (step,) = moved_by_area((SIDE, SIDE), -taken, tolerance)
    heats, where = [], {}
    pitch = SIDE / across
    for place, (i, j) in enumerate(bays):
        x0, y0 = SIDE * j, SIDE * i
        for a in range(across):
            for b in range(across):
                name = f"spot bay {place + 1} at {a + 1}{b + 1}"
                away = np.array([abs(p - i) + abs(q - j) for p, q in bays])
                moves = step * np.select([away == 0, away == 1], [1.0, -NEXT_BAY], 0.0)
                where[name] = place
                heats.append(
                    Candidate(
                        name=name,
                        kind="spot",
                        size="30 mm",
                        place=name.removeprefix("spot "),
                        side="side that stands out",
                        position=(x0 + pitch * (b + 0.5), y0 + pitch * (a + 0.5), 0.0),
                        moves=moves,
                    )
                )

    def true_form(one: Candidate, shape: Array, chance: np.random.Generator) -> Array:
        """Area leaves a bay; some of it comes out in the bays beside it."""
        row, col = bays[where[one.name]]
        away = np.array([abs(i - row) + abs(j - col) for i, j in bays])
        out = chance.uniform(0.0, 2.0 * NEXT_BAY)
        share = np.select([away == 0, away == 1], [-1.0, out], 0.0)
        return np.asarray(moved_by_area((SIDE, SIDE), 1.0, tolerance) * share)

    effect = HeatEffect(
        kind="spot",
        uncertain=OWN,
        repeats=(1.0, round(nominal["repeat"], 3)),
        source="nominal run",
    )
    return Part(
        kind="panel",
        by=by,
        places=places_of([f"bay {k + 1}" for k in range(len(bays))], tolerance, ROOM * tolerance),
        aim=np.zeros(len(bays)),
        library=Library(kinds=kinds_of([effect], {"spot": True}), candidates=tuple(heats)),
        rules=CycleRules(overcorrection=LIMIT, most_heats=48, spacing=0.075, most_at_a_place=1),
        deviation=counted_by_area(heights, tolerance),
        measuring=0.1 * tolerance,
        true_form=true_form,
        along=lambda heat: heat.position[0] / (SIDE * columns),
        held={"spot": True},
    )


MAKERS = {"girder": girder, "column": column, "ring": ring, "panel": panel}
